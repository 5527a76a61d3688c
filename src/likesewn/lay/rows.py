"""A plain lay: pieces go down one after another, each as near to the cloth's start as it will go.

Each outline drops along the cloth until it meets those that already lie, at the place across the cloth where
it lands nearest to the start. That gives rows whose edges interlock a little; nothing is slipped into a gap
left behind. Several orders are tried, then the best of them is bettered by moving one outline at a time to
another place in the order. The search counts its steps and stops after ``MOST_DROPS``, so that it gives the
same plan on every machine. It makes no claim to be the shortest; the plan's ``bound_mm`` says what no lay can
go below.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice, product

import numpy as np
from numpy.typing import NDArray

from likesewn.cut.cutlist import CutList, CutPiece
from likesewn.errors import InputError, Problem
from likesewn.garment import Cloth, Finding
from likesewn.lay import remarks
from likesewn.lay.buy import buy_length
from likesewn.lay.plan import FOLDINGS, WIDE_CLOTH, Placed, Plan
from likesewn.lay.profile import COLUMN, drop, raise_front
from likesewn.lay.shapes import Shape, shape_of
from likesewn.lay.ways import PLANNED, Folded, Lie, Unit, ways

Array = NDArray[np.float64]

__all__ = ["lay"]

MOST_DROPS = 4000
"""Outlines dropped before the search gives what it has. More is slower and seldom shorter by over 1 cm."""

FEW_DROPS = 1000
"""The same for a folding that is only compared with; on a four-piece top it loses nothing."""

WORTH_TURNING = 10.0
"""What turning pieces upside down must save, mm, unless less cloth is bought: cloth often shades a little one
way, so that one way up is the safer choice (common practice, no source)."""

MOST_CHOICES = 16
"""Ways to cut all pieces that are tried in full; beyond it, one piece at a time leaves its first way."""

ORDERS: tuple[Callable[[Unit], float], ...] = (
    lambda unit: (not unit.on_fold) * 1e6 - unit.lies[0].profile.length,
    lambda unit: -unit.lies[0].profile.length,
    lambda unit: -len(unit.lies[0].profile.least),
    lambda unit: -len(unit.lies[0].profile.least) * unit.lies[0].profile.length,
)
"""Orders to start from: on the fold first, longest first, widest first, largest first."""


@dataclass(frozen=True, slots=True)
class Buying:
    """How the cloth is bought: see ``lay``."""

    unit: str
    shrinkage: float
    compare: bool

    def length(self, length_mm: float) -> float:
        """Return the length to buy for a lay, mm."""
        return buy_length(length_mm, self.unit, self.shrinkage)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where one unit came to lie: its attitude, the x of its start and its first column."""

    unit: Unit
    lie: Lie
    x: float
    start: int


@dataclass(slots=True)
class Search:
    """The state of one search: the best lay found and the steps left."""

    cloth: Folded
    drops_left: int
    length: float = math.inf
    spots: tuple[Spot, ...] = field(default=())

    def attempt(self, units: Sequence[Unit]) -> bool:
        """Lay ``units`` in this order, towards either side; keep and return True where that is shorter."""
        shorter = False
        for far in (False, True):
            spots = self._dropped(units, far=far)
            if spots:
                self.spots = spots
                self.length = max(spot.x + spot.lie.profile.length for spot in spots)
                shorter = True
        return shorter

    def _dropped(self, units: Sequence[Unit], *, far: bool) -> tuple[Spot, ...]:
        """Drop units in order; empty as soon as the lay is no shorter than the best, or steps run out."""
        front: Array = np.zeros(self.cloth.columns)
        spots: list[Spot] = []
        for unit in units:
            best: tuple[float, float] | None = None
            chosen: Spot | None = None
            raised = front
            for lie in unit.lies:
                if self.drops_left <= 0:
                    return ()
                self.drops_left -= 1
                x = drop(front, lie.profile, lie.starts)
                at = len(x) - 1 - int(np.argmin(x[::-1])) if far else int(np.argmin(x))
                spot = Spot(unit, lie, float(x[at]), int(lie.starts[at]))
                after = raise_front(front, lie.profile, spot.start, spot.x)
                score = (spot.x + lie.profile.length, float(after.sum()))
                if best is None or score < best:
                    best, chosen, raised = score, spot, after
            if best is None or chosen is None or best[0] >= self.length - 1e-3:
                return ()
            spots.append(chosen)
            front = raised
        return tuple(spots)


def lay(
    cut_list: CutList,
    cloths: Mapping[str, Cloth],
    *,
    unit: str = "cm",
    rule_mm: float | None = None,
    shrinkage: float = 0.0,
    compare: bool = True,
) -> tuple[Plan, ...]:
    """Lay the pieces of a cut list, one plan for each cloth that they are cut from.

    Args:
        cut_list: What to cut.
        cloths: Cloths by name. A cloth that pieces ask for and that is not among them is taken to be
            ``Cloth()``, with a finding.
        unit: Unit for lengths in findings and for the length to buy.
        rule_mm: Length by the trade's rule, mm (see ``length_rule``); kept where all pieces come from
            one wide cloth.
        shrinkage: Share of its length that the cloth loses in its first wash.
        compare: Whether to try other foldings too and say what they would save; without it the search
            is shorter as well.

    Returns:
        Plans in the order in which the cut list first names their cloths. A piece that does not fit is a
        finding of weight STOP in a plan that places nothing.

    Raises:
        InputError: When a cloth's width or folding cannot be used.
    """
    names = list(dict.fromkeys(piece.cloth for piece in cut_list.pieces))
    problems = [problem for name in names for problem in _problems(name, cloths.get(name, Cloth()))]
    if problems:
        raise InputError(*problems)
    plans: list[Plan] = []
    for name in names:
        pieces = [piece for piece in cut_list.pieces if piece.cloth == name]
        cloth = cloths.get(name, Cloth())
        rule = rule_mm if len(names) == 1 and cloth.width_mm >= WIDE_CLOTH else None
        notes = [] if name in cloths else [remarks.cloth_assumed(name, cloth, unit)]
        buying = Buying(unit, shrinkage, compare)
        plans.append(_plan(name, cloth, pieces, buying, notes=notes, rule_mm=rule))
    return tuple(plans)


def _problems(name: str, cloth: Cloth) -> Iterator[Problem]:
    if not (math.isfinite(cloth.width_mm) and cloth.width_mm > 0):
        yield Problem(
            "the cloth has no usable width",
            found=f"{cloth.width_mm} mm",
            key=f"cloth.{name}.width",
            allowed="a length of more than 0",
            todo="Measure the cloth from selvage to selvage, selvages left out.",
        )
    if cloth.folding not in FOLDINGS:
        yield Problem(
            "the cloth cannot be folded like that",
            found=cloth.folding,
            key=f"cloth.{name}.folding",
            allowed=", ".join(FOLDINGS),
        )


def _plan(
    name: str,
    cloth: Cloth,
    pieces: Sequence[CutPiece],
    buying: Buying,
    *,
    notes: list[Finding],
    rule_mm: float | None,
) -> Plan:
    folding = cloth.folding
    if folding not in PLANNED:
        notes.append(remarks.not_planned(name, folding))
        folding = "folded"
    shapes = [shape_of(piece) for piece in pieces]
    folded = Folded.of(cloth.width_mm, folding, nap=cloth.nap)
    choices = [ways(shape, folded) for shape in shapes]
    stops = [
        remarks.too_wide(shape, cloth, folded, buying.unit)
        for shape, found in zip(shapes, choices, strict=True)
        if not found
    ]
    area = sum(shape.area_mm2 * shape.copies for shape in shapes)
    bound = area / cloth.width_mm
    if stops:
        return Plan(
            cloth_name=name,
            cloth=cloth,
            folding=folding,
            width_mm=folded.width,
            length_mm=0.0,
            buy_mm=0.0,
            layers=folded.layers,
            placed=(),
            used_fraction=0.0,
            bound_mm=bound,
            findings=(*notes, *stops),
            rule_mm=rule_mm,
        )
    best = _searched(choices, folded, MOST_DROPS if buying.compare else FEW_DROPS)
    buy = buying.length(best.length)
    if any(spot.lie.turned for spot in best.spots):
        one_way = replace(folded, nap=True)
        straight = _searched([ways(shape, one_way) for shape in shapes], one_way, FEW_DROPS)
        if buying.length(straight.length) <= buy and straight.length < best.length + WORTH_TURNING:
            best = straight
    titles = {shape.piece: shape.title for shape in shapes}
    single = [spot.unit.piece for spot in best.spots if spot.unit.layers < folded.layers]
    notes += [remarks.one_layer(titles[name]) for name in dict.fromkeys(single)]
    if buying.compare:
        notes += _saving(shapes, cloth, folding, buy, buying)
    notes.append(remarks.plain(name))
    return Plan(
        cloth_name=name,
        cloth=cloth,
        folding=folding,
        width_mm=folded.width,
        length_mm=best.length,
        buy_mm=buy,
        layers=folded.layers,
        placed=_placed(best.spots, shapes),
        used_fraction=bound / best.length,
        bound_mm=bound,
        findings=tuple(notes),
        rule_mm=rule_mm,
    )


def _searched(choices: Sequence[tuple[tuple[Unit, ...], ...]], cloth: Folded, drops: int) -> Search:
    """Return the best lay over several ways to cut the pieces and orders to lay them in."""
    search = Search(cloth, drops)
    leading: list[Unit] = []
    for choice in _choices(choices):
        units = [unit for way in choice for unit in way]
        for order in ORDERS:
            ordered = sorted(units, key=order)
            if search.attempt(ordered):
                leading = ordered
    if not leading:
        # More pieces than steps: one lay without a limit is always to be had.
        search.drops_left = sum(len(unit.lies) for way in choices for unit in way[0]) * 2
        search.attempt(sorted((unit for way in choices for unit in way[0]), key=ORDERS[0]))
        return search
    while search.drops_left > 0:
        better = next((moved for moved in _moves(leading) if search.attempt(moved)), None)
        if better is None:
            break
        leading = better
    return search


def _choices(choices: Sequence[tuple[tuple[Unit, ...], ...]]) -> Iterator[tuple[tuple[Unit, ...], ...]]:
    """Yield combinations of one way for each piece."""
    if math.prod(len(found) for found in choices) <= MOST_CHOICES:
        yield from product(*choices)
        return
    first = tuple(found[0] for found in choices)
    yield first
    for i, found in enumerate(choices):
        for way in islice(found, 1, None):
            yield (*first[:i], way, *first[i + 1 :])


def _moves(units: Sequence[Unit]) -> Iterator[list[Unit]]:
    """Yield the orders in which one unit has moved to another place."""
    for i, unit in enumerate(units):
        rest = [*units[:i], *units[i + 1 :]]
        for j in range(len(units)):
            if j != i:
                yield [*rest[:j], unit, *rest[j:]]


def _placed(spots: Sequence[Spot], shapes: Sequence[Shape]) -> tuple[Placed, ...]:
    """Return the outlines where they came to lie, piece by piece."""
    placed: list[Placed] = []
    for shape in shapes:
        copy = 1
        own = [spot for spot in spots if spot.unit.piece == shape.piece]
        for spot in sorted(own, key=lambda spot: (spot.x, spot.start)):
            one = Placed(
                piece=shape.piece,
                copy=copy,
                outline=spot.lie.outline + np.array([spot.x, spot.start * COLUMN]),
                turned=spot.lie.turned,
                mirrored=spot.lie.mirrored,
                on_fold=spot.unit.on_fold,
                layers=spot.unit.layers,
            )
            copy += one.copies
            placed.append(one)
    return tuple(placed)


def _saving(
    shapes: Sequence[Shape], cloth: Cloth, folding: str, buy: float, buying: Buying
) -> Iterator[Finding]:
    """Yield a note for the folding that would need least cloth, where that is less than this one."""
    lengths: dict[str, float] = {}
    for other in PLANNED:
        folded = Folded.of(cloth.width_mm, other, nap=cloth.nap)
        choices = [ways(shape, folded) for shape in shapes]
        if other != folding and all(choices):
            lengths[other] = buying.length(_searched(choices, folded, FEW_DROPS).length)
    other = min(lengths, key=lengths.__getitem__, default="")
    if other and lengths[other] < buy - 1:
        yield remarks.folding_saves(other, lengths[other], buy, buying.unit)
