"""The ways in which a piece can be cut from cloth that is folded in a given manner.

An outline on a fold gives one whole piece for every two layers that the fold joins; one off the fold gives as
many copies as layers are cut through, mirrored in turn. A piece may be cut through fewer layers than there
are, the others being left whole. With the selvages brought to the middle, the upper layer has a gap along the
middle that a pair cannot cross.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from likesewn.lay.folds import Folded
from likesewn.lay.keepout import Standing, convex_parts, grown, standing_parts
from likesewn.lay.plan import SAFETY_GAP
from likesewn.lay.shapes import Shape
from likesewn.lay.sides import Parts, parts_of

Array = NDArray[np.float64]

__all__ = ["PLANNED", "STEP", "Lie", "Member", "Unit", "Way", "least_width", "ways"]

PLANNED = ("open", "folded", "selvages to the middle", "folded twice", "crosswise", "part fold")
"""Foldings that lays are planned for."""

STEP = 2.0
"""Distance of the rows that an outline is tried in, mm."""

MOST_WAYS = 6
"""Ways to cut the copies of one piece that are kept."""

STILL = ((0.0, 0.0),)
"""The rooms of an outline that lies on a fold."""

HALF_GAP = SAFETY_GAP / 2 + 1e-3
"""What each outline grows by, so that two that touch keep the gap in spite of rounding, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Member:
    """One piece cut by an outline: more than one where pieces are cut together and trimmed.

    Attributes:
        piece: Its name.
        layers: The layers that it is cut from.
        on_fold: True when its outline is a half on a fold.
    """

    piece: str
    layers: tuple[int, ...]
    on_fold: bool

    @property
    def copies(self) -> int:
        """How many copies of the piece it gives."""
        return len(self.layers) // 2 if self.on_fold else len(self.layers)


@dataclass(frozen=True, eq=False)
class Lie:
    """One attitude of an outline.

    Attributes:
        turned: How far it is turned, degrees, see ``Placed``.
        mirrored: See ``Placed``.
        outline: The outline, least x at 0, y as at a start of 0.
        members: The outline of each member of its unit in the same place.
        rooms: Stretches of shifts along y at which it lies within its layers, mm.
        starts: The shifts along y at which it is tried; rising, mm.
        blocked: What of its layers cannot be used.
        mark: Where stripes are matched, the number of its set and how far along it the set's line runs, mm.
    """

    turned: float
    mirrored: bool
    outline: Array
    members: tuple[Array, ...]
    rooms: tuple[tuple[float, float], ...]
    starts: Array
    blocked: tuple[shapely.Polygon, ...] = ()
    mark: tuple[int, float] | None = None

    @cached_property
    def length(self) -> float:
        """Extent along x, mm."""
        return float(self.outline[:, 0].max())

    @cached_property
    def _grown(self) -> Array:
        return grown(self.outline, HALF_GAP)

    @cached_property
    def standing(self) -> tuple[Standing, ...]:
        """The outline with half the gap about it, in parts that stand."""
        return standing_parts(self._grown)

    @cached_property
    def convex(self) -> Parts:
        """The same in convex parts."""
        return parts_of(convex_parts(self._grown))


@dataclass(frozen=True, slots=True, eq=False)
class Unit:
    """One outline to be cut, with every attitude open to it."""

    members: tuple[Member, ...]
    lies: tuple[Lie, ...]

    @property
    def layers(self) -> tuple[int, ...]:
        """The layers that it is cut through."""
        return tuple(sorted({number for member in self.members for number in member.layers}))

    @property
    def on_fold(self) -> bool:
        """True when it lies on a fold."""
        return self.members[0].on_fold

    @property
    def area(self) -> float:
        """Area of the outline, mm2."""
        return float(shapely.Polygon(self.lies[0].outline).area)


Way = tuple[Unit, ...]
"""Outlines that together give what is wanted."""


@dataclass(slots=True)
class _Maker:
    """Makes units on one cloth, each only once."""

    cloth: Folded
    leans: Sequence[float]
    made: dict[tuple[object, ...], Unit] = field(default_factory=dict[tuple[object, ...], Unit])

    def off_fold(self, shape: Shape, layers: tuple[int, ...], *, mirrored: bool) -> Unit:
        key = (shape.piece, layers, mirrored)
        if key not in self.made:
            self.made[key] = _off_fold(shape, self.cloth, layers, self.leans, mirrored=mirrored)
        return self.made[key]

    def on_fold(self, shape: Shape, many: int) -> Unit:
        key = (shape.piece, many)
        if key not in self.made:
            self.made[key] = _on_fold(shape, self.cloth, many)
        return self.made[key]


def ways(shape: Shape, cloth: Folded, leans: Sequence[float] = ()) -> tuple[Way, ...]:
    """Return the ways to cut all copies of a piece, each a set of outlines, the handiest first.

    Empty when none fits. Fewer outlines are handier, and a lone piece off the fold is handier than one that
    has to be folded in half.

    Args:
        shape: The piece.
        cloth: The cloth as it lies.
        leans: Angles off the grain that the piece may lie at besides 0, degrees.
    """
    maker = _Maker(cloth, leans)
    found = [way for way in _sets(shape, maker) if all(unit.lies for unit in way)]
    return tuple(sorted(found, key=len)[:MOST_WAYS])


def _sets(shape: Shape, maker: _Maker) -> Iterator[Way]:
    cloth = maker.cloth
    copies, count = shape.copies, cloth.count
    folds = cloth.folds if shape.half is not None else ()
    if not (folds and shape.on_fold and copies % 2):
        for many in (4, 2, 1):
            if many <= count:
                yield _loose(shape, maker, copies, many)
    if folds and shape.half is not None:
        joined = len(folds[0].layers)
        for many in dict.fromkeys((joined, 2)):
            whole, rest = divmod(copies, many // 2)
            halves = (maker.on_fold(shape, many),) * whole
            yield halves + (maker.on_fold(shape, 2),) * rest
        if copies > 1 and copies % 2:
            yield (*_loose(shape, maker, copies - 1, 2), maker.on_fold(shape, 2))


def _loose(shape: Shape, maker: _Maker, copies: int, most: int) -> Way:
    """Return outlines off the fold through ``most`` layers, and fewer for what is left over."""
    units: list[Unit] = []
    left = copies
    face_down = False
    while left:
        many = max(n for n in (4, 2, 1) if n <= min(left, most))
        layers = tuple(range(1, many + 1)) if many > 1 else (maker.cloth.loose,)
        # Lone copies of a piece whose sides differ come out face up and face down in turn.
        units.append(maker.off_fold(shape, layers, mirrored=many == 1 and face_down and shape.half is None))
        face_down = face_down != (many == 1)
        left -= many
    return tuple(units)


def least_width(shape: Shape, folding: str) -> float:
    """Return the least width of cloth, mm unfolded, that takes the piece in a ``PLANNED`` folding."""
    across = float(np.ptp(shape.whole[:, 1]))
    off = shape.half is None
    match folding:
        case "open" | "crosswise":
            return across
        case "folded":
            return 2 * across if off else across
        case "part fold":
            return across
        case "selvages to the middle":
            return 4 * across if off and shape.copies > 1 else 2 * across
        case _:
            return 4 * across if off else 2 * across


def _off_fold(
    shape: Shape, cloth: Folded, layers: tuple[int, ...], leans: Sequence[float], *, mirrored: bool
) -> Unit:
    """Return the unit of a whole outline that may lie anywhere across the cloth."""
    # Through an even number of layers either face gives the same copies.
    faces = (False, True) if len(layers) > 1 and shape.half is None else (mirrored,)
    lies: list[Lie] = []
    blocked = _blocked(cloth, layers)
    for face_down in faces:
        for angle in _angles(cloth, leans):
            outline = turned(shape.whole, angle, mirrored=face_down)
            outline = outline - outline.min(axis=0)
            rooms = _rooms(cloth.spans(layers), float(outline[:, 1].max()))
            lies.append(Lie(angle, face_down, outline, (outline,), rooms, _starts(rooms), blocked))
    return Unit((Member(shape.piece, layers, on_fold=False),), _distinct(lies))


def _on_fold(shape: Shape, cloth: Folded, many: int) -> Unit:
    """Return the unit of a half that lies with its fold line on a fold of the cloth."""
    if shape.half is None:
        raise ValueError(f"{shape.piece!r} has no half")
    layers = tuple(range(1, many + 1))
    return Unit(
        (Member(shape.piece, layers, on_fold=True),),
        _distinct(list(_halves(shape.half, (shape.half,), cloth, layers))),
    )


def _halves(half: Array, members: tuple[Array, ...], cloth: Folded, layers: tuple[int, ...]) -> Iterator[Lie]:
    blocked = _blocked(cloth, layers)
    for angle in _angles(cloth, ()):
        for fold in cloth.folds:
            if not set(layers) <= set(fold.layers):
                continue
            # A half lies on the side of -y of its fold line, and has to come to lie on the cloth's side.
            mirrored = (angle == 0) == (fold.side > 0)
            outline, *its = (turned(one, angle, mirrored=mirrored) for one in (half, *members))
            move = np.array([outline[:, 0].min(), -fold.y])
            outline = outline - move
            room = [span for span in cloth.spans(layers) if span[0] <= fold.y <= span[1]]
            low, high = float(outline[:, 1].min()), float(outline[:, 1].max())
            if any(low >= span[0] - 1e-9 and high <= span[1] + 1e-9 for span in room):
                yield Lie(
                    angle, mirrored, outline, tuple(one - move for one in its), STILL, np.zeros(1), blocked
                )


def together(shapes: Sequence[Shape], cloth: Folded) -> Unit | None:
    """Return the unit that cuts two pieces on the fold in one go, each from its own two layers, or None.

    The halves lie on one another at their lower ends; the outline is that of both, and what one has more than
    the other is trimmed off it afterwards.
    """
    halves = [shape.half for shape in shapes]
    if len(halves) != 2 or any(half is None for half in halves):
        return None
    if not any(len(fold.layers) >= 4 for fold in cloth.folds):
        return None
    low = [half - np.array([half[:, 0].max(), 0.0]) for half in halves if half is not None]
    both = shapely.union_all([shapely.Polygon(half) for half in low])
    if not isinstance(both, shapely.Polygon) or len(both.interiors):
        return None
    outline = np.asarray(both.exterior.coords)[:-1]
    lies = _distinct(list(_halves(outline, tuple(low), cloth, (1, 2, 3, 4))))
    members = tuple(
        Member(shape.piece, layers, on_fold=True)
        for shape, layers in zip(shapes, ((1, 2), (3, 4)), strict=True)
    )
    return Unit(members, lies) if lies else None


def _angles(cloth: Folded, leans: Iterable[float]) -> tuple[float, ...]:
    bases = (0.0,) if cloth.nap else (0.0, 180.0)
    return tuple(dict.fromkeys((base + lean) % 360 for lean in (0.0, *leans) for base in bases))


def turned(outline: Array, degrees: float, *, mirrored: bool) -> Array:
    """Return an outline in its grain frame, mirrored about its grain if so, then turned from x towards y."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    if degrees % 90 == 0:
        c, s = round(c), round(s)
    across = -1.0 if mirrored else 1.0
    return outline @ np.array([[c, s], [-s * across, c * across]])


def _blocked(cloth: Folded, layers: tuple[int, ...]) -> tuple[shapely.Polygon, ...]:
    return tuple(polygon for number in layers for polygon in cloth.blocked[number - 1])


def _rooms(spans: Iterable[tuple[float, float]], across: float) -> tuple[tuple[float, float], ...]:
    """Return the shifts at which an outline of this width lies within a span."""
    return tuple((low, max(high - across, low)) for low, high in spans if high - across >= low - 1e-9)


def _starts(rooms: Iterable[tuple[float, float]]) -> Array:
    """Return the shifts to try: whole steps, and both ends of every room."""
    found: set[float] = set()
    for low, high in rooms:
        found.update(
            STEP * k for k in range(math.ceil(low / STEP - 1e-9), math.floor(high / STEP + 1e-9) + 1)
        )
        found.update((low, high))
    ordered = np.array(sorted(found))
    return ordered[np.diff(ordered, prepend=-np.inf) > 1e-9] if len(ordered) else ordered


def _distinct(lies: list[Lie]) -> tuple[Lie, ...]:
    """Drop attitudes that look like an earlier one; none where there is no place."""
    kept: list[Lie] = []
    for lie in lies:
        if len(lie.starts) and not any(_alike(lie, other) for other in kept):
            kept.append(lie)
    return tuple(kept)


def _alike(a: Lie, b: Lie) -> bool:
    if len(a.starts) != len(b.starts) or not np.allclose(
        a.outline.min(axis=0), b.outline.min(axis=0), atol=1e-6
    ):
        return False
    one, other = shapely.Polygon(a.outline), shapely.Polygon(b.outline)
    return (
        one.symmetric_difference(other).area <= 1e-6 * one.area if one.is_valid and other.is_valid else False
    )
