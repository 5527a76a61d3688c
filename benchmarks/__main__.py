"""Run every benchmark and print one table; ``--write FILE --date DATE`` keeps it too."""

import argparse
import os
import platform
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import scipy

from benchmarks.drawing import drawing_speed
from benchmarks.lengths import curve_lengths
from benchmarks.library import shelf_and_saves
from benchmarks.making import make_cold
from benchmarks.photographs import rectify_speed
from benchmarks.table import Row, markdown
from benchmarks.truing import against_slsqp, growth
from benchmarks.workbench import workbench

ABOUT = """# Benchmarks

Speed is judged as a ratio to a named baseline that runs beside it. Make this page anew with
`python -m benchmarks --write docs/benchmarks.md`.
"""


RUNS = (
    against_slsqp,
    growth,
    curve_lengths,
    make_cold,
    rectify_speed,
    shelf_and_saves,
    drawing_speed,
    workbench,
)


def main() -> None:
    """Run the benchmarks."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--write", type=Path, metavar="FILE", help="write the table to this file too")
    parser.add_argument("--date", default=f"{datetime.now(UTC):%Y-%m-%d}", help="date to write on it")
    given = parser.parse_args()
    rows: list[Row] = []
    remarks: list[str] = []
    for run in RUNS:
        more, said = run()
        rows += more
        remarks += said
    machine = (
        f"Run on {given.date}: Python {platform.python_version()}, NumPy {np.__version__}, "
        f"SciPy {scipy.__version__}, {os.cpu_count()} cores, {platform.machine()}. Times are medians."
    )
    notes = "\n".join(f"- {remark}" for remark in remarks)
    text = f"{machine}\n\n{markdown(rows)}\n\n{notes}\n"
    print(text)
    if given.write:
        given.write.write_text(f"{ABOUT}\n{text}", encoding="utf-8")


if __name__ == "__main__":
    main()
