"""The whole job from a cold start."""

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from benchmarks.samples import TOP
from benchmarks.table import Row
from likesewn.garment import new_garment

__all__ = ["make_cold"]

GIVEN = {"body_length": "66", "chest_width": "52", "sleeve_length": "59"}

IMPORTS = "import numpy, scipy.sparse, shapely, reportlab"

RUNS = 5


def _took(compiled: Path, *arguments: str) -> float:
    """Time a process whose modules are kept compiled in a folder, as those of an installation are."""
    of_its_own = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    env = of_its_own | {"PYTHONPYCACHEPREFIX": str(compiled)}
    start = time.perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True, env=env)
    return time.perf_counter() - start


def make_cold() -> tuple[list[Row], list[str]]:
    """Time ``make`` in a process of its own; return rows and remarks."""
    text = new_garment(TOP, name="Throwing top")
    for key, value in GIVEN.items():
        text = text.replace(f'\n{key} = ""', f"\n{key} = {value}")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "top.toml"
        file.write_text(text, encoding="utf-8")
        ours: list[float] = []
        base: list[float] = []
        out, compiled = Path(folder), Path(folder) / "compiled"
        for run in range(RUNS + 1):
            out = Path(folder) / f"out{run}"
            whole = _took(compiled, "-m", "likesewn.cli", "make", str(file), "--out", str(out))
            took = whole, _took(compiled, "-c", IMPORTS)
            if run:  # the first run of each compiles what it imports and fills the disk's cache
                ours.append(took[0])
                base.append(took[1])
        written = sorted(path.name for path in out.iterdir())
    made, started = median(ours), median(base)
    row = Row(
        "`make`, cold, everything written",
        f"{made:.2f} s",
        f"python -c '{IMPORTS}'",
        f"{started:.2f} s",
        f"{made / started:.1f} : 1",
        "at most 3 s",
        "yes" if made <= 3.0 else "no",
    )
    remark = (
        f"`make` wrote {', '.join(written)}. Python's modules are compiled beforehand, as when installed."
    )
    return [row], [remark]
