"""The ways in which a piece can lie on a cloth that is folded in a given manner.

Cloth folded lengthwise lies in two layers: an outline on the fold gives one whole piece, an outline off the
fold gives a mirrored pair, and a lone piece off the fold is cut from one layer only. With the selvages
brought to the middle both long sides are folds, and the upper layer has a gap along the middle that a pair
cannot cross.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.lay.profile import COLUMN, Profile
from likesewn.lay.shapes import Shape

Array = NDArray[np.float64]

__all__ = ["PLANNED", "Folded", "Lie", "Unit", "least_width", "ways"]

PLANNED = ("open", "folded", "selvages to the middle")
"""Foldings that lays are planned for."""


@dataclass(frozen=True, slots=True)
class Folded:
    """Cloth as it lies folded.

    Attributes:
        folding: One of ``PLANNED``.
        width: Width as it lies, mm.
        layers: 1 or 2.
        nap: True when all pieces must lie the same way up.
    """

    folding: str
    width: float
    layers: int
    nap: bool

    @classmethod
    def of(cls, width_mm: float, folding: str, *, nap: bool) -> "Folded":
        """Fold cloth of ``width_mm`` in one of the ``PLANNED`` ways."""
        layers = 1 if folding == "open" else 2
        return cls(folding=folding, width=width_mm / layers, layers=layers, nap=nap)

    @property
    def columns(self) -> int:
        """Columns of the cloth's width, with room for a last part column."""
        return math.ceil(self.width / COLUMN) + 1


@dataclass(frozen=True, slots=True, eq=False)
class Lie:
    """One attitude of an outline.

    Attributes:
        turned: 0 or 180, see ``Placed``.
        mirrored: See ``Placed``.
        outline: The outline, least x at 0, y from the start of its first column.
        profile: What it takes up.
        starts: Columns at which it may start.
    """

    turned: int
    mirrored: bool
    outline: Array
    profile: Profile
    starts: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Unit:
    """One outline to be cut, with every attitude open to it."""

    piece: str
    layers: int
    on_fold: bool
    lies: tuple[Lie, ...]


def ways(shape: Shape, cloth: Folded) -> tuple[tuple[Unit, ...], ...]:
    """Return the ways to cut all copies of a piece, each a set of outlines, the handiest first.

    Empty when none fits. A pair cut in one go is handier than two halves on a fold, and a lone piece off the
    fold handier than one that has to be folded in half.
    """
    found: list[tuple[Unit, ...]] = []
    if cloth.layers == 1:
        up = _off_fold(shape, cloth, 1, (False,))
        down = up if shape.half is not None or shape.copies < 2 else _off_fold(shape, cloth, 1, (True,))
        found.append(tuple((up, down)[i % 2] for i in range(shape.copies)))
    else:
        pairs, odd = divmod(shape.copies, 2)
        either = (False,) if shape.half is not None else (False, True)
        pair = (_off_fold(shape, cloth, 2, either),) * pairs
        if shape.half is None or not (shape.on_fold and odd):
            found.append(pair + (_off_fold(shape, cloth, 1, (False,)),) * odd)
        if shape.half is not None:
            on_fold = _on_fold(shape.piece, shape.half, cloth)
            if pairs and odd:
                found.append((*pair, on_fold))
            found.append((on_fold,) * shape.copies)
    return tuple(way for way in found if all(unit.lies for unit in way))


def least_width(shape: Shape, folding: str) -> float:
    """Return the least width of cloth, mm unfolded, that takes the piece in a ``PLANNED`` folding."""
    across = float(np.ptp(shape.whole[:, 1]))
    if folding == "open":
        return across
    if folding == "folded":
        return across if shape.half is not None else 2 * across
    return 4 * across if shape.half is None and shape.copies > 1 else 2 * across


def _off_fold(shape: Shape, cloth: Folded, layers: int, faces: tuple[bool, ...]) -> Unit:
    """Return the unit of a whole outline that may lie anywhere across the cloth."""
    across = float(np.ptp(shape.whole[:, 1]))
    starts = np.arange(math.floor((cloth.width - across) / COLUMN + 1e-9) + 1, dtype=np.intp)
    if layers == 2 and cloth.folding == "selvages to the middle":
        middle = cloth.width / 2
        starts = starts[(starts * COLUMN + across <= middle + 1e-6) | (starts * COLUMN >= middle - 1e-6)]
    lies: list[Lie] = []
    for mirrored in faces:
        for turned in (0,) if cloth.nap else (0, 180):
            outline = shape.whole * _signs(turned, mirrored=mirrored)
            outline = outline - outline.min(axis=0)
            lies.append(Lie(turned, mirrored, outline, Profile.of(outline), starts))
    return Unit(shape.piece, layers, on_fold=False, lies=_distinct(lies))


def _on_fold(piece: str, half: Array, cloth: Folded) -> Unit:
    """Return the unit of a half that lies with its fold line on a fold of the cloth."""
    across = -float(half[:, 1].min())
    room = cloth.width if cloth.folding == "folded" else cloth.width / 2
    if across > room + 1e-9:
        return Unit(piece, 2, on_fold=True, lies=())
    lies: list[Lie] = []
    for turned in (0,) if cloth.nap else (0, 180):
        # The half lies below its fold line, so its paper turns face down to lie above the fold at y = 0.
        outline = half * _signs(turned, mirrored=turned == 0)
        outline = outline - np.array([outline[:, 0].min(), 0.0])
        lies.append(Lie(turned, turned == 0, outline, Profile.of(outline), np.array([0], dtype=np.intp)))
        if cloth.folding == "selvages to the middle":
            outline = half * _signs(turned, mirrored=turned == 180)
            start = math.floor((cloth.width - across) / COLUMN)
            outline = outline - np.array([outline[:, 0].min(), start * COLUMN - cloth.width])
            phase = float(outline[:, 1].min())
            profile = Profile.of(outline - np.array([0.0, phase]), phase)
            lies.append(Lie(turned, turned == 180, outline, profile, np.array([start], dtype=np.intp)))
    return Unit(piece, 2, on_fold=True, lies=tuple(lies))


def _signs(turned: int, *, mirrored: bool) -> Array:
    """Return the factors of x and y that turn and mirror an outline in its grain frame."""
    along = -1.0 if turned else 1.0
    return np.array([along, -along if mirrored else along])


def _distinct(lies: list[Lie]) -> tuple[Lie, ...]:
    """Drop attitudes that take up the same columns as an earlier one; none where there is no place."""
    kept: list[Lie] = []
    for lie in lies:
        alike = any(
            np.allclose(lie.profile.least, other.profile.least, atol=1e-6)
            and np.allclose(lie.profile.taken, other.profile.taken, atol=1e-6)
            for other in kept
        )
        if len(lie.starts) and not alike:
            kept.append(lie)
    return tuple(kept)
