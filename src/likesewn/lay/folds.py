"""How cloth lies once it is folded: its layers, its folds, and where in each layer cloth is.

Terms. *Flat* coordinates are those of the cloth laid open: x along its length from the end in hand, y across
from one selvage. *Lying* coordinates are those of the folded cloth, as in ``plan``. Layers count from the
top, from 1. A *span* is a stretch across the cloth, from one y to another, over which a layer runs on without
a break.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray

from likesewn.garment import Cloth

Array = NDArray[np.float64]

__all__ = ["ENDLESS", "Fold", "Folded", "Layer", "fold_cloth"]

ENDLESS = 1e5
"""Length that stands for one that is not known, mm: beyond any bolt of cloth."""

Span = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Fold:
    """A fold along the cloth on which a piece can lie.

    Attributes:
        y: Where it lies, lying, mm.
        side: 1 where the cloth lies at greater y, -1 where it lies at less.
        layers: Layers that it joins, from the top; each two make one whole piece.
    """

    y: float
    side: int
    layers: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer: the part of the flat cloth that it is, and how it comes to lie.

    Attributes:
        flat: The parts of the flat cloth across its width, each with the factor and the amount that bring
            flat y to lying y: ``(low, high, factor, plus)``.
    """

    flat: tuple[tuple[float, float, float, float], ...]

    @property
    def spans(self) -> tuple[Span, ...]:
        """Where it runs on across the lying cloth."""
        found: list[Span] = []
        for low, high, factor, plus in self.flat:
            a, b = sorted((factor * low + plus, factor * high + plus))
            found.append((a, b))
        return tuple(sorted(found))


@dataclass(frozen=True, slots=True)
class Folded:
    """Cloth as it lies folded.

    Attributes:
        folding: How it is folded.
        flat_width: Its width laid open, mm.
        width: Width as it lies, mm.
        nap: True when all pieces must lie the same way up.
        layers: Its layers, the top one first.
        folds: The folds along it.
        crosswise: True when it is folded across its length, at x = 0, so that a layer is half as long as
            the cloth.
        loose: The layer that a piece is cut from that needs one layer only.
        blocked: For each layer, what of it cannot be used, as polygons, lying.
    """

    folding: str
    flat_width: float
    width: float
    nap: bool
    layers: tuple[Layer, ...]
    folds: tuple[Fold, ...] = ()
    crosswise: bool = False
    loose: int = 1
    blocked: tuple[tuple[shapely.Polygon, ...], ...] = ()

    @property
    def count(self) -> int:
        """How many layers there are."""
        return len(self.layers)

    @property
    def stretch(self) -> float:
        """Length of the cloth over the length that it takes up as it lies."""
        return 2.0 if self.crosswise else 1.0

    def spans(self, layers: tuple[int, ...]) -> tuple[Span, ...]:
        """Return where all of these layers run on across the cloth."""
        found: set[Span] = set()
        for choice in product(*(self.layers[number - 1].spans for number in layers)):
            low, high = max(span[0] for span in choice), min(span[1] for span in choice)
            if high > low:
                found.add((low, high))
        return tuple(sorted(found))


def fold_cloth(cloth: Cloth, folding: str, depth: float = 0.0) -> Folded:
    """Fold a cloth.

    Args:
        cloth: The cloth, with its flaws, its outline and what is in hand.
        folding: How to fold it.
        depth: Depth of a part fold, mm.

    Returns:
        The cloth as it lies. Flaws and what lies beyond the outline are brought to every layer.
    """
    width = cloth.width_mm
    half, quarter = width / 2, width / 4
    match folding:
        case "open":
            made = Folded(folding, width, width, cloth.nap, (Layer(((0, width, 1, 0),)),))
        case "folded":
            top, below = Layer(((0, half, -1, half),)), Layer(((half, width, 1, -half),))
            made = Folded(folding, width, half, cloth.nap, (top, below), (Fold(0, 1, (1, 2)),))
        case "part fold":
            flap, below = Layer(((0, depth, -1, depth),)), Layer(((depth, width, 1, -depth),))
            made = Folded(
                folding, width, width - depth, cloth.nap, (flap, below), (Fold(0, 1, (1, 2)),), loose=2
            )
        case "selvages to the middle":
            flaps = Layer(((0, quarter, -1, quarter), (3 * quarter, width, -1, width + quarter)))
            below = Layer(((quarter, 3 * quarter, 1, -quarter),))
            folds = (Fold(0, 1, (1, 2)), Fold(half, -1, (1, 2)))
            made = Folded(folding, width, half, cloth.nap, (flaps, below), folds, loose=2)
        case "folded twice":
            # The selvages are brought to the middle, then the cloth is folded along its middle.
            layers = (
                Layer(((half, 3 * quarter, -1, 3 * quarter),)),
                Layer(((3 * quarter, width, 1, -3 * quarter),)),
                Layer(((0, quarter, -1, quarter),)),
                Layer(((quarter, half, 1, -quarter),)),
            )
            made = Folded(folding, width, quarter, cloth.nap, layers, (Fold(0, 1, (1, 2, 3, 4)),))
        case "crosswise":
            sheet = Layer(((0, width, 1, 0),))
            made = Folded(folding, width, width, cloth.nap, (sheet, sheet), crosswise=True)
        case _:
            raise ValueError(f"no cloth is folded as {folding!r}")
    return replace(made, blocked=tuple(_blocked(cloth, made)))


def _blocked(cloth: Cloth, folded: Folded) -> Iterator[tuple[shapely.Polygon, ...]]:
    """Yield for each layer what of it cannot be used, lying."""
    bad = [polygon for polygon in unusable(cloth) if not polygon.is_empty]
    for number, layer in enumerate(folded.layers, 1):
        found: list[shapely.Polygon] = []
        for low, high, factor, plus in layer.flat:
            along = _across(cloth, folded, number)
            for polygon in bad:
                left, _, right, _ = polygon.bounds
                strip = polygon.intersection(shapely.box(left, low, right, high))
                found += [
                    _lying(part, factor, plus, along)
                    for part in shapely.get_parts(strip)
                    if isinstance(part, shapely.Polygon) and part.area > 0
                ]
        yield tuple(found)


def _across(cloth: Cloth, folded: Folded, number: int) -> tuple[float, float]:
    """Return the factor and the amount that bring flat x to lying x in a layer."""
    if not folded.crosswise or cloth.length_mm is None:
        return 1.0, 0.0
    middle = cloth.length_mm / 2
    return (1.0, -middle) if number == 1 else (-1.0, middle)


def _lying(part: shapely.Polygon, factor: float, plus: float, along: tuple[float, float]) -> shapely.Polygon:
    return shapely.transform(
        part, lambda p: np.column_stack([along[0] * p[:, 0] + along[1], factor * p[:, 1] + plus])
    )


def unusable(cloth: Cloth) -> list[shapely.Polygon]:
    """Return the parts of a flat cloth that no piece may lie on: flaws, holes, what is beyond its outline."""
    width = cloth.width_mm
    found = [shapely.Point(x, y).buffer(r / np.cos(np.pi / 48), quad_segs=12) for x, y, r in cloth.flaws]
    found += [shapely.box(start, 0, end, width) for start, end in cloth.flaws_across]
    found += [shapely.box(0, low, ENDLESS, high) for low, high in cloth.flaws_along]
    if cloth.outline:
        there = shapely.Polygon(cloth.outline)
        left, low, right, high = there.bounds
        beyond = shapely.box(min(left, 0), min(low, 0), right, max(high, width)).difference(there)
        found += [part for part in shapely.get_parts(beyond) if isinstance(part, shapely.Polygon)]
    return [*found, *(shapely.Polygon(hole) for hole in cloth.holes)]
