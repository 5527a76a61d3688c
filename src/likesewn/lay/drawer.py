"""A drawer of cloth: does a garment fit on a cloth, what would make it fit, which cloths would do?"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np
import shapely

from likesewn.cut.cutlist import CutList
from likesewn.errors import InputError
from likesewn.garment import Cloth, Finding, Weight
from likesewn.lay.choices import Choices
from likesewn.lay.cloth import cloth_problems, measured
from likesewn.lay.effort import Effort
from likesewn.lay.laying import Task, best_lay, lay, task_of
from likesewn.lay.plan import Plan
from likesewn.lay.remarks import folding_words
from likesewn.lay.shapes import Shape
from likesewn.lay.ways import PLANNED, least_width
from likesewn.units import format_length

__all__ = ["Fit", "fit_on", "which_cloths"]

TRIAL = Effort(steps=40, enough=True)
"""How hard each remedy is tried."""

SHORTEN = 10.0
"""Steps in which a piece is shortened, mm."""

MOST_SHORTER = 0.4
"""Share of its length that a piece may lose and still count as the same garment."""

PIECED = (40.0, 80.0, 120.0)
"""Widths of the corners that are cut off and pieced on, mm."""

PIECING_ALLOWANCE = 10.0
"""Allowance at the seam of a piecing, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Whether a garment fits on a cloth.

    Attributes:
        name: Name of the cloth.
        cloth: The cloth.
        plan: Its plan; one that is stopped says why it does not fit.
        remedies: What would make it fit, the smallest change first; empty where it fits.
    """

    name: str
    cloth: Cloth
    plan: Plan
    remedies: tuple[Finding, ...] = ()

    @property
    def fits(self) -> bool:
        """True when every piece has its place."""
        return not self.plan.stopped

    @property
    def spare_mm(self) -> float | None:
        """Length of cloth that stays whole, mm; None where the lay does not fit or cloth is to be bought."""
        there = self.cloth.length_mm
        return None if there is None or not self.fits else there - self.plan.length_mm


def fit_on(cut_list: CutList, name: str, cloth: Cloth, choices: Choices | None = None) -> Fit:
    """Return whether the whole garment can be cut from one cloth, and if not, what would make it fit.

    Args:
        cut_list: The garment; every piece of it is laid on this cloth.
        name: Name of the cloth.
        cloth: The cloth, with what is in hand of it.
        choices: What is chosen for the lay; None as for ``lay``.

    Raises:
        InputError: When the cloth cannot be used as it is described.
    """
    pieces = [replace(piece, cloth=name) for piece in cut_list.pieces]
    choices = choices or Choices()
    (plan,) = lay(replace(cut_list, pieces=tuple(pieces)), {name: cloth}, choices, compare=False)
    cloth = measured(cloth)
    if not plan.stopped:
        return Fit(name, cloth, plan)
    return Fit(name, cloth, plan, tuple(_remedies(task_of(name, cloth, pieces, choices))))


def which_cloths(
    cut_list: CutList, cloths: Mapping[str, Cloth], choices: Choices | None = None
) -> tuple[Fit, ...]:
    """Return for each cloth whether the garment fits, those that leave least over first, then the others.

    Args:
        cut_list: The garment.
        cloths: Cloths by name.
        choices: What is chosen for the lay; None as for ``lay``.

    Raises:
        InputError: When a cloth cannot be used as it is described; all such are told.
    """
    choices = choices or Choices()
    problems = [p for name, cloth in cloths.items() for p in cloth_problems(name, cloth, choices.unit)]
    if problems:
        raise InputError(*map(choices.placed, problems))
    fits = [fit_on(cut_list, name, cloth, choices) for name, cloth in cloths.items()]

    def rank(fit: Fit) -> tuple[bool, float]:
        spare = fit.spare_mm
        return not fit.fits, fit.plan.buy_mm if spare is None else spare * fit.cloth.width_mm

    return tuple(sorted(fits, key=rank))


def _remedies(task: Task) -> Iterator[Finding]:
    """Yield what would make the pieces fit, the smallest change first."""
    cloth, unit = task.cloth, task.buying.unit
    for folding in PLANNED:
        if folding != cloth.folding and best_lay(task, folding, TRIAL).layout is not None:
            yield _remedy(
                task, f"It fits with the cloth {folding_words(folding)}.", f'Write folding = "{folding}".'
            )
    for shape in sorted(task.shapes, key=lambda s: s.area_mm2 * s.copies):
        rest = replace(task, shapes=tuple(s for s in task.shapes if s is not shape))
        if rest.shapes and best_lay(rest, cloth.folding, TRIAL).layout is not None:
            yield _remedy(
                task,
                f"It fits without the {shape.title.lower()}.",
                f"Cut the {shape.title.lower()} from another cloth.",
            )
            break
    yield from _shorter(task, unit)
    yield from _pieced(task, unit)


def _remedy(task: Task, message: str, todo: str, amount: float | None = None) -> Finding:
    return Finding(
        code="would-fit",
        weight=Weight.NOTE,
        where=f"cloth {task.name}",
        message=message,
        amount=amount,
        unit="mm" if amount is not None else "",
        todo=todo,
    )


def _shorter(task: Task, unit: str) -> Iterator[Finding]:
    """Yield by how much each piece, or pair of pieces that belong together, would have to be shorter."""
    paired = {name for pair in task.pairs for name in pair}
    groups = [*task.pairs, *((shape.piece,) for shape in task.shapes if shape.piece not in paired)]
    for group in groups:
        own = [shape for shape in task.shapes if shape.piece in group]
        if not own:
            continue
        most = int(MOST_SHORTER * min(float(np.ptp(shape.whole[:, 0])) for shape in own) / SHORTEN)

        def fits(steps: int, names: tuple[str, ...] = group) -> bool:
            cut = tuple(_cut_short(s, steps * SHORTEN) if s.piece in names else s for s in task.shapes)
            return best_lay(replace(task, shapes=cut), task.cloth.folding, TRIAL).layout is not None

        if most < 1 or not fits(most):
            continue
        low, high = 0, most
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if fits(middle) else (middle, high)
        titles = " and ".join(shape.title.lower() for shape in own)
        amount = high * SHORTEN
        yield _remedy(
            task,
            f"It fits with the {titles} {format_length(amount, unit)} shorter.",
            f"Shorten the {titles}.",
            amount,
        )


def _cut_short(shape: Shape, by: float) -> Shape:
    """Return a piece that ends ``by`` mm earlier at its lower end."""
    end = float(shape.whole[:, 0].max()) - by

    def cut(outline: np.ndarray) -> np.ndarray:
        low, high = float(outline[:, 1].min()) - 1, float(outline[:, 1].max()) + 1
        return _largest(shapely.Polygon(outline).intersection(shapely.box(-1, low, end, high)))

    whole = cut(shape.whole)
    half = None if shape.half is None else cut(shape.half)
    return replace(shape, whole=whole, half=half, area_mm2=float(shapely.Polygon(whole).area))


def _largest(shape: shapely.Geometry) -> np.ndarray:
    parts = [part for part in shapely.get_parts(shape) if isinstance(part, shapely.Polygon)]
    return np.asarray(max(parts, key=lambda part: part.area).exterior.coords)[:-1]


def _pieced(task: Task, unit: str) -> Iterator[Finding]:
    """Yield which pieces could be made narrower by piecing on their outer corners, and by how much."""
    widest = sorted(
        (s for s in task.shapes if s.half is not None), key=lambda s: -float(np.ptp(s.whole[:, 1]))
    )
    too_wide = [s for s in widest if least_width(s, task.cloth.folding) > task.cloth.width_mm]
    own = too_wide or widest[:1]
    for width in PIECED:
        parts = [_in_pieces(shape, width) for shape in own]
        made = tuple(part for pair in parts if pair is not None for part in pair)
        if len(made) < 2 * len(own) or not own:
            return
        others = tuple(s for s in task.shapes if s not in own)
        if best_lay(replace(task, shapes=(*others, *made)), task.cloth.folding, TRIAL).layout is not None:
            titles = " and ".join(shape.title.lower() for shape in own)
            yield _remedy(
                task,
                f"It fits with the outer {format_length(width, unit)} of the {titles} on either side"
                " cut apart and pieced on.",
                f"Piece the {titles} at the outer corners, with a seam along the grain.",
                width,
            )
            return


def _in_pieces(shape: Shape, width: float) -> tuple[Shape, Shape] | None:
    """Return a piece without its outer corners, and the corners; None where it is hardly wider than they."""
    if shape.half is None:
        return None
    across = -float(shape.half[:, 1].min())
    if across < 2.5 * width:
        return None
    line, add = across - width, PIECING_ALLOWANCE
    whole = shapely.Polygon(shape.whole)
    left, low, right, high = whole.bounds
    middle = (low + high) / 2
    half = shapely.Polygon(shape.half)
    main_whole = _largest(
        whole.intersection(shapely.box(left, middle - line - add, right, middle + line + add))
    )
    main_half = _largest(half.intersection(shapely.box(left, -line - add, right, 0)))
    corner = _largest(half.intersection(shapely.box(left, -across - 1, right, -line + add)))
    main = replace(
        shape,
        whole=main_whole - main_whole.min(axis=0),
        half=main_half - np.array([main_half[:, 0].min(), 0.0]),
        area_mm2=float(shapely.Polygon(main_whole).area),
    )
    gusset = Shape(
        piece=f"{shape.piece} corner",
        title=f"{shape.title} corner",
        copies=2 * shape.copies,
        whole=corner - corner.min(axis=0),
        half=None,
        area_mm2=float(shapely.Polygon(corner).area),
        on_fold=False,
    )
    return main, gusset
