"""What is left over of the cloth that a lay takes up."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from likesewn.lay.folds import Folded
from likesewn.lay.plan import Placed

__all__ = ["largest_free"]

CELL = 10.0
"""Size of the squares that the cloth is looked at in, mm; a rectangle found is short by up to two of them."""


def largest_free(placed: Sequence[Placed], cloth: Folded, length: float) -> tuple[float, float]:
    """Return the sides along and across, mm, of the largest rectangle that no piece touches in any layer.

    Args:
        placed: What lies on the cloth.
        cloth: The cloth as it lies.
        length: How much of it the lay takes up, as it lies, mm.
    """
    columns, rows = int(length / CELL), int(cloth.width / CELL)
    if not columns or not rows:
        return 0.0, 0.0
    taken = np.zeros((columns, rows), dtype=bool)
    x, y = np.meshgrid(CELL * np.arange(columns), CELL * np.arange(rows), indexing="ij")
    cells = shapely.box(x, y, x + CELL, y + CELL)
    shapes = [shapely.Polygon(one.outline) for one in placed]
    shapes += [polygon for layer in cloth.blocked for polygon in layer]
    for shape in shapes:
        if not shape.is_valid:
            continue
        shapely.prepare(shape)
        left, low, right, high = shape.bounds
        a, b = max(int(left / CELL), 0), min(int(right / CELL) + 1, columns)
        c, d = max(int(low / CELL), 0), min(int(high / CELL) + 1, rows)
        taken[a:b, c:d] |= shapely.intersects(shape, cells[a:b, c:d])
    return _largest(~taken)


def _largest(free: NDArray[np.bool_]) -> tuple[float, float]:
    """Return the sides of the largest rectangle of True, mm, by the stack of rising heights."""
    best = (0, 0)
    heights = np.zeros(free.shape[1], dtype=int)
    for line in free:
        heights = np.where(line, heights + 1, 0)
        stack: list[tuple[int, int]] = []
        for i, height in enumerate([*heights.tolist(), 0]):
            start = i
            while stack and stack[-1][1] >= height:
                start, its = stack.pop()
                if its * (i - start) > best[0] * best[1]:
                    best = (its, i - start)
            stack.append((start, height))
    return best[0] * CELL, best[1] * CELL
