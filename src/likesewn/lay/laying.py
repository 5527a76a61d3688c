"""Laying a cut list on its cloths: one plan for each cloth, with what is worth saying about it."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from likesewn.cut.cutlist import CutList, CutPiece
from likesewn.errors import InputError
from likesewn.garment import Cloth, Finding
from likesewn.garment.matching import MatchPoint
from likesewn.lay import remarks
from likesewn.lay.board import Board, Layout, Tables
from likesewn.lay.buy import buy_length
from likesewn.lay.choices import Choices
from likesewn.lay.cloth import cloth_problems, measured
from likesewn.lay.effort import QUICK, Effort
from likesewn.lay.folds import Folded, fold_cloth
from likesewn.lay.job import Found, Job, side_by_side
from likesewn.lay.matching import AGREE, Marks, marks_of, matches_of
from likesewn.lay.plan import WIDE_CLOTH, Placed, Plan
from likesewn.lay.search import spots_in_order
from likesewn.lay.shapes import Shape, shape_of
from likesewn.lay.ways import PLANNED, Lie, Unit, Way, together, ways

__all__ = ["Task", "best_lay", "lay", "task_of"]

WORTH_TURNING = 10.0
"""What turning pieces upside down must save, mm, unless less cloth is bought: cloth often shades a little one
way, so that one way up is the safer choice (common practice, no source)."""

COMPARING = 12
"""Steps of the search for a folding that is only compared with."""

MOST_DEPTHS = 3
"""Depths of a part fold that are tried."""


@dataclass(frozen=True, slots=True)
class Buying:
    """How the cloth is bought: see ``lay``."""

    unit: str
    shrinkage: float

    def length(self, length_mm: float) -> float:
        """Return the length to buy for a lay, mm."""
        return buy_length(length_mm, self.unit, self.shrinkage)


@dataclass(frozen=True, slots=True)
class Task:
    """What is laid on one cloth.

    Attributes:
        name: Name of the cloth.
        cloth: The cloth.
        shapes: What is cut from it.
        pairs: Names of pieces that can be cut together.
        leans: Angles off the grain by piece, degrees.
        buying: How it is bought.
        tables: Keep-outs worked out before.
        marks: Where stripes are matched.
    """

    name: str
    cloth: Cloth
    shapes: tuple[Shape, ...]
    pairs: tuple[tuple[str, str], ...]
    leans: Mapping[str, Sequence[float]]
    buying: Buying
    tables: Tables
    marks: Marks = field(default_factory=Marks)

    @property
    def area(self) -> float:
        """Area of all copies, mm2."""
        return sum(shape.area_mm2 * shape.copies for shape in self.shapes)


def lay(
    cut_list: CutList,
    cloths: Mapping[str, Cloth],
    choices: Choices | None = None,
    *,
    rule_mm: float | None = None,
    compare: bool = True,
    tables: Tables | None = None,
) -> tuple[Plan, ...]:
    """Lay the pieces of a cut list, one plan for each cloth that they are cut from.

    Args:
        cut_list: What to cut.
        cloths: Cloths by name. A cloth that pieces ask for and that is not among them is taken to be
            ``Cloth()``, with a finding.
        choices: What is chosen for the lay; None for a quick search, on the grain, in centimetres.
        rule_mm: Length by the trade's rule, mm (see ``length_rule``); kept where all pieces come from
            one wide cloth.
        compare: Whether to try other foldings too and say what they would save.
        tables: What was worked out in laying the same pieces before, to be used again and added to.

    Returns:
        Plans in the order in which the cut list first names their cloths. A piece that does not fit is a
        finding of weight STOP in a plan that places nothing.

    Raises:
        InputError: When a cloth cannot be used as it is described.
    """
    choices = choices or Choices()
    names = list(dict.fromkeys(piece.cloth for piece in cut_list.pieces))
    found = [p for name in names for p in cloth_problems(name, cloths.get(name, Cloth()), choices.unit)]
    if found:
        raise InputError(*map(choices.placed, found))
    known = tables or Tables()
    plans: list[Plan] = []
    for name in names:
        cloth = cloths.get(name, Cloth())
        pieces = [piece for piece in cut_list.pieces if piece.cloth == name]
        task = task_of(name, cloth, pieces, choices, tables=known)
        rule = rule_mm if len(names) == 1 and task.cloth.width_mm >= WIDE_CLOTH else None
        notes = [] if name in cloths else [remarks.cloth_assumed(name, cloth, choices.unit)]
        plans.append(_plan(task, choices.effort, compare=compare, notes=notes, rule_mm=rule))
    return tuple(plans)


def task_of(
    name: str,
    cloth: Cloth,
    pieces: Sequence[CutPiece],
    choices: Choices,
    *,
    tables: Tables | None = None,
) -> Task:
    """Return what is to be laid on one cloth; arguments as for ``lay``."""
    cloth = measured(cloth)
    return Task(
        name=name,
        cloth=cloth,
        shapes=tuple(shape_of(piece) for piece in pieces),
        pairs=tuple(choices.pairs),
        leans=choices.leans,
        buying=Buying(choices.unit, cloth.shrinkage or choices.shrinkage),
        tables=tables or Tables(),
        marks=_marks(cloth, pieces, choices.points),
    )


def _marks(cloth: Cloth, pieces: Sequence[CutPiece], points: Sequence[MatchPoint]) -> Marks:
    if not cloth.repeat_along_mm or not cloth.match:
        return Marks()
    by_name = {point.name: point for point in points}
    wanted = [by_name[name] for name in cloth.match if name in by_name]
    return marks_of(matches_of(pieces, wanted), cloth.repeat_along_mm)


def _plan(task: Task, effort: Effort, *, compare: bool, notes: list[Finding], rule_mm: float | None) -> Plan:
    cloth, unit = task.cloth, task.buying.unit
    bound = task.area / cloth.width_mm
    found = best_lay(task, cloth.folding, effort)
    if found.layout is None:
        return _stopped(task, found, notes, rule_mm)
    buy = task.buying.length(found.length)
    if any(spot.lie.turned == 180 for spot in found.layout.spots) and not cloth.nap:
        one_way = replace(task, cloth=replace(cloth, nap=True))
        straight = best_lay(one_way, cloth.folding, _brief(effort))
        if (
            straight.layout is not None
            and task.buying.length(straight.length) <= buy
            and straight.length < found.length + WORTH_TURNING
        ):
            found = replace(straight, steps=found.steps)
    layout = found.layout
    if layout is None:
        raise AssertionError("a lay that fits was taken for one that does not")
    titles = {shape.piece: shape.title for shape in task.shapes}
    placed = _placed(layout, task.shapes)
    notes += _about_layers(placed, found.folded, titles)
    notes += _about_matching(task, found.length, effort)
    if compare:
        notes += remarks.other_foldings(task.buying.length(found.length), _compared(task, effort), unit)
    notes += remarks.left_over(placed, found.folded, layout.length, unit)
    notes.append(
        remarks.how_near(task.name, found.length, bound, unit, quick=effort.quick, outlines=len(placed))
    )
    return Plan(
        cloth_name=task.name,
        cloth=cloth,
        folding=cloth.folding,
        width_mm=found.folded.width,
        length_mm=found.length,
        buy_mm=task.buying.length(found.length),
        layers=found.folded.count,
        placed=placed,
        used_fraction=bound / found.length,
        bound_mm=bound,
        findings=tuple(notes),
        rule_mm=rule_mm,
        fold_depth_mm=found.depth,
        steps=found.steps,
    )


def _brief(effort: Effort) -> Effort:
    """Return an effort of the same seed that is over in a fraction of a second."""
    return Effort(steps=min(effort.steps, QUICK), seed=effort.seed)


def _stopped(task: Task, found: Found, notes: list[Finding], rule_mm: float | None) -> Plan:
    """Return the plan that says why nothing is placed."""
    cloth, unit = task.cloth, task.buying.unit
    stops: list[Finding] = []
    if cloth.folding == "crosswise" and cloth.nap:
        stops.append(remarks.crosswise_nap(task.name))
    if found.misfits:
        stops += [remarks.too_wide(shape, cloth, found.folded, unit) for shape in found.misfits]
    elif found.homeless:
        stops = [remarks.no_place(shape, cloth, unit) for shape in found.homeless]
    elif not stops:
        stops = [remarks.too_short(task.name, cloth, found.wanted, unit)]
    return Plan(
        cloth_name=task.name,
        cloth=cloth,
        folding=cloth.folding,
        width_mm=found.folded.width,
        length_mm=0.0,
        buy_mm=0.0,
        layers=found.folded.count,
        placed=(),
        used_fraction=0.0,
        bound_mm=task.area / cloth.width_mm,
        findings=(*notes, *stops),
        rule_mm=rule_mm,
    )


def best_lay(task: Task, folding: str, effort: Effort) -> Found:
    """Return the best lay found on the cloth folded in this way."""
    if folding != "part fold":
        return _searched(task, fold_cloth(task.cloth, folding), effort)
    depths = _depths(task)
    each = replace(effort, steps=max(effort.steps // len(depths), 1))
    if effort.seconds is not None:
        each = replace(each, seconds=effort.seconds / len(depths))
    tried = [
        replace(_searched(task, fold_cloth(task.cloth, folding, depth), each), depth=depth)
        for depth in depths
    ]
    return min(tried, key=lambda found: (found.length, found.wanted))


def _depths(task: Task) -> tuple[float, ...]:
    """Return depths for a part fold: as deep as the widest half, or the next ones where those fit too."""
    cloth = task.cloth
    most = cloth.width_mm / 2
    if cloth.fold_depth_mm is not None:
        return (min(cloth.fold_depth_mm, most),)
    halves = [
        -float(shape.half[:, 1].min()) for shape in task.shapes if shape.half is not None and shape.on_fold
    ]
    found = sorted({min(half + 1e-6, most) for half in halves}, reverse=True)
    distinct = [depth for i, depth in enumerate(found) if i == 0 or found[i - 1] - depth > 1]
    return tuple(distinct[:MOST_DEPTHS]) or (most,)


def _searched(task: Task, folded: Folded, effort: Effort) -> Found:
    choices = [ways(shape, folded, task.leans.get(shape.piece, ())) for shape in task.shapes]
    choices = [
        [_matched(way, shape, task, folded) for way in found]
        for shape, found in zip(task.shapes, choices, strict=True)
    ]
    choices = [[way for way in found if all(unit.lies for unit in way)] for found in choices]
    misfits = tuple(shape for shape, found in zip(task.shapes, choices, strict=True) if not found)
    if misfits:
        return Found(folded, None, misfits)
    if folded.crosswise and task.cloth.nap:
        return Found(folded, None)
    homeless = _homeless(task, folded, choices)
    if homeless:
        return Found(folded, None, homeless=homeless)
    items = _items(task, folded, choices)
    job = Job(task.cloth, folded, items, task.marks.repeat)
    if effort.cores > 1 and effort.seconds is not None and not job.nests:
        return side_by_side(job, effort)
    return job.done(effort, task.tables)


def _homeless(task: Task, folded: Folded, choices: Sequence[Sequence[Way]]) -> tuple[Shape, ...]:
    """Return the pieces that find no place on the cloth even by themselves, for its flaws and edges."""
    if not any(folded.blocked):
        return ()
    board = Board(folded, math.inf if task.cloth.length_mm is None else task.cloth.length_mm / folded.stretch)
    return tuple(
        shape
        for shape, found in zip(task.shapes, choices, strict=True)
        if not any(
            all(any(np.isfinite(board.drop(lie, ())).any() for lie in unit.lies) for unit in way)
            for way in found
        )
    )


def _matched(way: Way, shape: Shape, task: Task, folded: Folded) -> Way:
    """Return a way with its lies held to the repeat: one way up, marked, and on the middle of a stripe."""
    cloth, mark = task.cloth, task.marks.marks.get(shape.piece)
    centred = cloth.repeat_across_mm and shape.on_fold
    if mark is None and not centred:
        return way
    units: list[Unit] = []
    for unit in way:
        lies = unit.lies
        if mark is not None:
            lies = tuple(replace(lie, mark=mark) for lie in lies if lie.turned == 0)
        if centred and not unit.on_fold:
            # Folded cloth is taken to be folded on the middle of a stripe.
            stripe = cloth.stripe_mm if not folded.folds else 0.0
            lies = tuple(_centred(lie, stripe, cloth.repeat_across_mm) for lie in lies)
            lies = tuple(lie for lie in lies if len(lie.starts))
        units.append(Unit(unit.members, lies))
    return tuple(units)


def _centred(lie: Lie, stripe: float, repeat: float) -> Lie:
    """Return a lie with those shifts alone that bring its middle on a stripe."""
    middle = float(lie.outline[:, 1].max()) / 2
    shifts: list[float] = []
    for low, high in lie.rooms:
        first = math.ceil((low + middle - stripe) / repeat - 1e-9)
        last = math.floor((high + middle - stripe) / repeat + 1e-9)
        shifts += [stripe + repeat * k - middle for k in range(first, last + 1)]
    return replace(lie, rooms=tuple((y, y) for y in shifts), starts=np.array(shifts))


def _items(task: Task, folded: Folded, choices: Sequence[Sequence[Way]]) -> list[list[Way]]:
    """Return what is to be cut, pieces that can be cut together as one item with both ways."""
    by_name = {shape.piece: (shape, list(found)) for shape, found in zip(task.shapes, choices, strict=True)}
    items: list[list[Way]] = []
    for pair in task.pairs:
        if not all(name in by_name and by_name[name][0].copies == 1 for name in pair):
            continue
        both = together([by_name[name][0] for name in pair], folded)
        if both is not None:
            both = _marked_together(both, pair, task.marks)
        if both is None:
            continue
        apart = [(*one, *other) for one in by_name[pair[0]][1] for other in by_name[pair[1]][1]]
        items.append([(both,), *apart])
        for name in pair:
            del by_name[name]
    return items + [found for _, found in by_name.values()]


def _marked_together(unit: Unit, pair: tuple[str, str], marks: Marks) -> Unit | None:
    """Return a unit of two pieces with its mark; None where the two cannot both be matched."""
    known = [marks.marks[name] for name in pair if name in marks.marks]
    if not known:
        return unit
    lies: list[Lie] = []
    for lie in unit.lies:
        lines = [
            (marks.marks[name][0], float(outline[:, 0].min()) + marks.marks[name][1])
            for name, outline in zip(pair, lie.members, strict=True)
            if name in marks.marks
        ]
        apart = max(line[1] for line in lines) - min(line[1] for line in lines)
        if lie.turned == 0 and apart <= AGREE:
            lies.append(replace(lie, mark=lines[0]))
    return Unit(unit.members, tuple(lies)) if lies else None


def _placed(layout: Layout, shapes: Sequence[Shape]) -> tuple[Placed, ...]:
    """Return the outlines where they came to lie, in the order to cut them in."""
    copies = dict.fromkeys((shape.piece for shape in shapes), 1)
    placed: list[Placed] = []
    for spot in spots_in_order(layout):
        names = [member.piece for member in spot.unit.members]
        for member, outline in zip(spot.unit.members, spot.lie.members, strict=True):
            one = Placed(
                piece=member.piece,
                copy=copies[member.piece],
                outline=outline + np.array([spot.x, spot.y]),
                turned=_whole(spot.lie.turned),
                mirrored=spot.lie.mirrored,
                on_fold=member.on_fold,
                layers=len(member.layers),
                top=member.layers[0],
                along_with=next((name for name in names if name != member.piece), ""),
            )
            copies[member.piece] += one.copies
            placed.append(one)
    return tuple(placed)


def _whole(degrees: float) -> float:
    """Return whole degrees as a whole number, so that they read as such."""
    return round(degrees) if degrees == round(degrees) else degrees


def _about_layers(placed: Sequence[Placed], folded: Folded, titles: Mapping[str, str]) -> Iterator[Finding]:
    said: set[tuple[str, int]] = set()
    for one in placed:
        if one.along_with:
            if one.top == 1:
                yield remarks.cut_together(titles[one.piece], titles[one.along_with])
            continue
        under = _layers_under(one, folded)
        if one.layers < under and (one.piece, one.layers) not in said:
            said.add((one.piece, one.layers))
            yield remarks.fewer_layers(titles[one.piece], one, under)


def _about_matching(task: Task, length: float, effort: Effort) -> Iterator[Finding]:
    """Yield what matching the stripes costs, and what could not be matched."""
    cloth = task.cloth
    if not task.marks.marks and not cloth.repeat_across_mm:
        return
    free = replace(task, marks=Marks(), cloth=replace(cloth, repeat_across_mm=0.0))
    without = best_lay(free, cloth.folding, _brief(effort)).length
    yield remarks.matched(task.name, cloth, length, without, task.buying.unit)
    for name in task.marks.unmet:
        yield remarks.unmatched(task.name, name)


def _layers_under(one: Placed, folded: Folded) -> int:
    """Return how many layers there are where an outline lies."""
    low, high = float(one.outline[:, 1].min()), float(one.outline[:, 1].max())
    return sum(any(a < high - 1 and b > low + 1 for a, b in layer.spans) for layer in folded.layers)


def _compared(task: Task, effort: Effort) -> dict[str, float]:
    """Return the length to buy, mm, with the cloth folded in other ways that take the pieces."""
    lengths: dict[str, float] = {}
    quick = replace(_brief(effort), steps=COMPARING)
    for other in PLANNED:
        if other == task.cloth.folding:
            continue
        found = best_lay(task, other, quick)
        if found.layout is not None:
            lengths[other] = task.buying.length(found.length)
    return lengths
