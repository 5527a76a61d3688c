"""Folded lays of thirty garments, against the row lay, against open lays of the library, and against an
exhaustive search.

Run as ``python -m benchmarks.lay.folded``; ``--seconds`` is the time of each search, on one core, and
``--exhaust`` how long the exhaustive search may take on each lay.
"""

import argparse
import math
import resource
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from statistics import geometric_mean, median

import numpy as np
import spyrrow

from benchmarks.lay.garments import garments
from likesewn.cut import CutList
from likesewn.garment import Cloth
from likesewn.lay import FOLDINGS, Choices, Effort, alike_pairs
from likesewn.lay.board import Board, Spot, Turn
from likesewn.lay.folds import fold_cloth
from likesewn.lay.job import Found
from likesewn.lay.keepout import grown
from likesewn.lay.laying import best_lay, task_of
from likesewn.lay.rows import Rows
from likesewn.lay.search import ORDERS, Search
from likesewn.lay.shapes import shape_of
from likesewn.lay.ways import HALF_GAP, Unit, Way, ways

WIDTH = 1460.0
"""Usable width of the cloth, mm: 150 cm as labelled, selvages off."""

EXHAUSTED = {"folded": 2.0, "folded twice": 4.0}
"""Foldings that are exhausted, and the width of the cloth over its width as it lies."""

NARROW = 1.15
"""Width of the cloth as it lies over the widest outline, for the exhaustive search."""

DROPS = 4000
"""Outlines that the row lay drops, as the plain lay did that came before this search."""

NEAR = 0.1
"""Gain below which the exhaustive search does not care, mm."""


def searched(
    cuts: CutList,
    folding: str,
    seconds: float,
    pairs: Sequence[tuple[str, str]] = (),
    width: float = WIDTH,
) -> Found:
    """Return what the search finds, leaving out no lay for pieces that it turns round."""
    cloth = Cloth(width, folding)
    effort = Effort(steps=10**9, seconds=seconds, clock=time.monotonic)
    return best_lay(task_of("main", cloth, cuts.pieces, Choices(pairs=pairs)), folding, effort)


def row_lay(choices: Sequence[Sequence[Way]], width: float, folding: str, depth: float) -> float:
    """Return the length of the plain row lay: orders to start from, then one outline moved at a time, mm."""
    rows = Rows(fold_cloth(Cloth(width, folding), folding, depth))
    left, best = DROPS, np.inf
    leading: list[Unit] = []

    def attempt(units: list[Unit]) -> bool:
        nonlocal left, best
        shorter = False
        for rule in (0, 1):
            left -= sum(len(unit.lies) for unit in units)
            laid = rows.lay([Turn(unit, rule=rule) for unit in units], within=best)
            if left > 0 and laid is not None and laid.length < best - 1e-3:
                best, shorter = laid.length, True
        return shorter

    for choice in product(*choices):
        units = [unit for way in choice for unit in way]
        for order in ORDERS:
            ordered = sorted(units, key=order)
            if attempt(ordered):
                leading = ordered
    while left > 0:
        better = next((moved for moved in moves(leading) if left > 0 and attempt(moved)), None)
        if better is None:
            break
        leading = better
    return float(best) * (2 if folding == "crosswise" else 1)


def moves(units: list[Unit]) -> Iterator[list[Unit]]:
    """Yield the orders in which one unit has moved to another place."""
    for i, unit in enumerate(units):
        rest = [*units[:i], *units[i + 1 :]]
        for j in range(len(units)):
            if j != i:
                yield [*rest[:j], unit, *rest[j:]]


def bare(cuts: CutList, seconds: int) -> float:
    """Return the length of the same pieces opened out and laid open by the library called bare, mm."""
    items: list[spyrrow.Item] = []
    for piece in cuts.pieces:
        shape = shape_of(piece)
        outline = grown(shape.whole, HALF_GAP)
        pairs = shape.copies // 2 if shape.half is None else 0
        for name, points, copies in (
            (piece.name, outline, shape.copies - pairs),
            (f"{piece.name} mirrored", outline * np.array([1, -1]), pairs),
        ):
            if copies:
                items.append(
                    spyrrow.Item(name, [(float(x), float(y)) for x, y in points], copies, [0.0, 180.0])
                )
    instance = spyrrow.StripPackingInstance("garment", strip_height=WIDTH + 2 * HALF_GAP, items=items)
    config = spyrrow.StripPackingConfig(total_computation_time=max(seconds, 1), num_workers=1, seed=1)
    return float(instance.solve(config).width) - 2 * HALF_GAP


@dataclass
class Exhaust:
    """Every order, way to cut, attitude and row 2 mm apart, each outline as near to the start as it goes.

    A lay whose outlines have all been pushed towards the start is met by laying them in the order in which
    they hold one another up; so the shortest lay with its outlines in these rows is found.
    """

    board: Board
    best: float
    until: float
    complete: bool = True

    def run(self, choices: Sequence[Sequence[Way]]) -> float:
        for choice in product(*choices):
            units = [unit for way in choice for unit in way]
            self._below(units, [])
        return self.best

    def _below(self, rest: list[Unit], spots: list[Spot]) -> None:
        if time.perf_counter() > self.until:
            self.complete = False
            return
        if any(min(lie.length for lie in unit.lies) >= self.best - NEAR for unit in rest):
            return
        tried: set[int] = set()
        for i, unit in enumerate(rest):
            if id(unit) in tried:
                continue
            tried.add(id(unit))
            others = [*rest[:i], *rest[i + 1 :]]
            for lie in unit.lies:
                x = self.board.drop(lie, spots)
                end = x + lie.length
                if not others:
                    self.best = min(self.best, max(float(end.min()), *(spot.end for spot in spots)))
                    continue
                for at in np.flatnonzero(end < self.best - NEAR):
                    spot = Spot(unit, lie, float(x[at]), float(lie.starts[at]))
                    self._below(others, [*spots, spot])


def choices_of(cuts: CutList, folding: str, depth: float) -> list[list[Way]]:
    folded = fold_cloth(Cloth(WIDTH, folding), folding, depth)
    return [list(ways(shape_of(piece), folded)) for piece in cuts.pieces]


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.lay.folded", description=__doc__)
    parser.add_argument("--seconds", type=float, default=2.0, help="time of each search")
    parser.add_argument("--exhaust", type=float, default=60.0, help="time of each exhaustive search")
    parser.add_argument("--garments", type=int, default=30, help="how many of the garments to lay")
    given = parser.parse_args()
    made = dict(list(garments().items())[: given.garments])
    ours: dict[tuple[str, str], float] = {}
    rows: dict[tuple[str, str], float] = {}
    together: dict[str, float] = {}
    library = {name: bare(cuts, round(given.seconds)) for name, cuts in made.items()}
    for name, cuts in made.items():
        for folding in FOLDINGS:
            found = searched(cuts, folding, given.seconds)
            if not math.isfinite(found.length):
                continue
            ours[name, folding] = found.length
            rows[name, folding] = row_lay(choices_of(cuts, folding, found.depth), WIDTH, folding, found.depth)
            if folding == "folded twice":
                pairs = alike_pairs(cuts)
                together[name] = searched(cuts, folding, given.seconds, pairs).length / rows[name, folding]
    print(f"{len(made)} garments, {given.seconds:g} s each on one core, cloth {WIDTH:g} mm wide.\n")
    print("| Folding | Lays | Over the row lay: mean | worst | Over the library's open lay: median | best |")
    print("|---|---|---|---|---|---|")
    for folding in FOLDINGS:
        own = [name for name in made if (name, folding) in ours]
        if not own:
            continue
        by_row = [ours[name, folding] / rows[name, folding] for name in own]
        by_open = [ours[name, folding] / library[name] for name in own]
        print(
            f"| {folding} | {len(own)} | {geometric_mean(by_row):.3f} | {max(by_row):.3f}"
            f" | {median(by_open):.3f} | {min(by_open):.3f} |"
        )
    print(
        f"| folded twice, pieces cut together | {len(together)} | {geometric_mean(together.values()):.3f}"
        f" | {max(together.values()):.3f} | | |"
    )
    best = [min(ours[name, f] for f in FOLDINGS if (name, f) in ours) / library[name] for name in made]
    print(f"\nBest folding over the library's open lay: median {median(best):.3f}, worst {max(best):.3f}.\n")
    exhausted(made, given.exhaust)
    first_plans(made)


def small_sets(made: dict[str, CutList]) -> Iterator[CutList]:
    """Yield sets of three and of five pieces, of which one at most lies free of the folds."""
    all_cuts = list(made.values())
    for number, cuts in enumerate(all_cuts[::3]):
        plain = tuple(piece for piece in cuts.pieces if piece.on_fold)
        yield replace(cuts, pieces=plain)
        child = all_cuts[number % 3].pieces
        more = tuple(
            replace(piece, name=f"small {piece.name}")
            for piece in child
            if piece.copies == 1 and piece.on_fold
        )
        yield replace(cuts, pieces=(*plain, *more))


def exhausted(made: dict[str, CutList], seconds: float) -> None:
    """Print how near the lays come to what an exhaustive search finds, where it comes to its end.

    The exhaustive search begins with the lay found as the one to beat.
    """
    gaps: dict[tuple[str, int], list[float]] = {}
    given_up = 0
    for cuts in small_sets(made):
        shapes = [shape_of(piece) for piece in cuts.pieces]
        widest = max(float(np.ptp(shape.whole[:, 1])) / 2 for shape in shapes)
        for folding, share in EXHAUSTED.items():
            width = round(widest * share * NARROW)
            found = searched(cuts, folding, 2.0, width=width)
            if not math.isfinite(found.length):
                continue
            folded = fold_cloth(Cloth(width, folding), folding)
            choices = [list(ways(shape, folded)) for shape in shapes]
            search = Exhaust(Board(folded), found.length, time.perf_counter() + seconds)
            least = search.run(choices)
            if search.complete:
                gaps.setdefault((folding, len(shapes)), []).append(found.length / least)
            else:
                given_up += 1
    print("| Folding | Pieces | Exhausted | Ours over the exhaustive search: median | worst |")
    print("|---|---|---|---|---|")
    for (folding, count), ratios in sorted(gaps.items()):
        print(f"| {folding} | {count} | {len(ratios)} | {median(ratios):.4f} | {max(ratios):.4f} |")
    print(f"\n{given_up} searches did not come to their end in {seconds:g} s and are left out.\n", flush=True)


def first_plans(made: dict[str, CutList]) -> None:
    """Print how long first plans take, and the memory used."""
    took: list[float] = []
    for cuts in list(made.values())[:10]:
        for folding in FOLDINGS:
            begun = time.perf_counter()
            depth = 300.0 if folding == "part fold" else 0.0
            found = choices_of(cuts, folding, depth)
            if all(found):
                Search(Board(fold_cloth(Cloth(WIDTH, folding), folding, depth)), found).first()
                took.append(time.perf_counter() - begun)
    many = [piece for cuts in list(made.values())[:10] for piece in cuts.pieces]
    begun = time.perf_counter()
    for folding in ("open", "folded"):
        folded = fold_cloth(Cloth(WIDTH, folding), folding)
        Search(Board(folded), [ways(shape_of(piece), folded) for piece in many]).first()
    forty = (time.perf_counter() - begun) / 2
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(
        f"First plan of a four-piece top: median {median(took):.3f} s, longest {max(took):.3f} s;"
        f" of {len(many)} pieces: {forty:.2f} s. Memory at most {peak:.0f} MB."
    )


if __name__ == "__main__":
    main()
