"""Open lays of published garment sets, against the general nesting library called bare at equal time.

Run as ``python -m benchmarks.lay.open FOLDER``, FOLDER holding the sets (one JSON file each, as published
with the library's method) and ``best_known.csv`` with the shortest published lengths. Both sides get the same
time and both cores, one after the other by turns, so that what else the machine does falls on both alike.
"""

import argparse
import csv
import json
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import geometric_mean, median

import numpy as np
import spyrrow

from benchmarks.table import Row, markdown
from likesewn.lay.nest import Part, faults, nest

__all__ = ["SETS", "compare", "read_set"]

SETS = ("albano", "dagli", "marques", "shirts", "swim", "trousers", "mao")
"""The sets that are garments."""

CLOTH = 1500.0
"""Width, mm, that every set is scaled to, so that the tolerance of the check is one of cloth."""

EACH, ALL = 1.00, 0.985
"""Bars: greatest ratio on each set, and over all."""


@dataclass(frozen=True, slots=True)
class Runs:
    """Lengths over the best published one, by seed."""

    ours: tuple[float, ...]
    bare: tuple[float, ...]

    @property
    def ratio(self) -> float:
        return median(self.ours) / median(self.bare)


def read_set(folder: Path, name: str) -> tuple[list[Part], float, float]:
    """Return the parts of a set scaled to ``CLOTH``, the scale, and the best published length, unscaled."""
    described = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))
    scale = CLOTH / described["strip_height"]
    parts: list[Part] = []
    for item in described["items"]:
        outline = np.array(item["shape"]["data"], dtype=float)
        if np.array_equal(outline[0], outline[-1]):
            outline = outline[:-1]
        parts.append(Part(outline * scale, item["demand"], tuple(item["allowed_orientations"])))
    with (folder / "best_known.csv").open(encoding="utf-8", newline="") as table:
        best = {row["instance"]: float(row["record_length"]) for row in csv.DictReader(table)}
    return parts, scale, best[name]


def bare(parts: Sequence[Part], seconds: int, seed: int) -> float:
    """Return the length that the library called with its own settings finds, mm."""
    items = [
        spyrrow.Item(str(i), [tuple(p) for p in part.outline.tolist()], part.copies, list(part.turns))
        for i, part in enumerate(parts)
    ]
    config = spyrrow.StripPackingConfig(total_computation_time=seconds, seed=seed)
    return spyrrow.StripPackingInstance("", CLOTH, items).solve(config).width


def compare(folder: Path, names: Sequence[str], seconds: int, seeds: int) -> dict[str, Runs]:
    """Lay each set with each seed by both; every lay of ours is checked from scratch."""
    done: dict[str, Runs] = {}
    for name in names:
        parts, scale, best = read_set(folder, name)
        ours: list[float] = []
        theirs: list[float] = []
        for seed in range(seeds):
            theirs.append(bare(parts, seconds, seed) / scale / best)
            lay = nest(parts, CLOTH, seconds=seconds, seed=10 * seed, clock=time.monotonic)
            wrong = faults(lay, parts, CLOTH)
            if wrong:
                raise RuntimeError(f"{name}, seed {seed}: {wrong}")
            ours.append(lay.length / scale / best)
        done[name] = Runs(tuple(ours), tuple(theirs))
        print(
            f"{name}: ours {' '.join(f'{v:.4f}' for v in ours)}; bare {' '.join(f'{v:.4f}' for v in theirs)}",
            flush=True,
        )
    return done


def rows(done: dict[str, Runs]) -> list[Row]:
    """Return the table: medians over the best published length, and their ratios."""
    table = [
        Row(
            name,
            f"{median(runs.ours):.4f} ({min(runs.ours):.4f} to {max(runs.ours):.4f})",
            "spyrrow bare",
            f"{median(runs.bare):.4f} ({min(runs.bare):.4f} to {max(runs.bare):.4f})",
            f"{runs.ratio:.4f}",
            f"at most {EACH:.2f}",
            "yes" if runs.ratio <= EACH else "no",
        )
        for name, runs in done.items()
    ]
    over_all = geometric_mean(runs.ratio for runs in done.values())
    means = [geometric_mean(median(getattr(r, side)) for r in done.values()) for side in ("ours", "bare")]
    met = "yes" if over_all <= ALL else "no"
    last = Row(
        "all", f"{means[0]:.4f}", "spyrrow bare", f"{means[1]:.4f}", f"{over_all:.4f}", f"at most {ALL}", met
    )
    return [*table, last]


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.lay.open", description=__doc__)
    parser.add_argument("folder", type=Path, help="folder with the published sets")
    parser.add_argument("--seconds", type=int, default=10, help="time for each lay")
    parser.add_argument("--seeds", type=int, default=5, help="lays of each set")
    parser.add_argument("--sets", nargs="+", choices=SETS, default=SETS, help="sets to lay")
    given = parser.parse_args()
    if not (given.folder / "best_known.csv").is_file():
        print(f"Skipped: {given.folder} does not hold the published sets.")
        return
    print(f"Lengths over the best published ones; {given.seconds} s on both cores; medians.\n")
    print("\n" + markdown(rows(compare(given.folder, given.sets, given.seconds, given.seeds))))


if __name__ == "__main__":
    main()
