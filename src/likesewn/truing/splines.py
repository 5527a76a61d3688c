"""The curves of the solve: clamped uniform cubic B-splines, whose joints are smooth by construction.

An edge of n spans has n + 3 control points; the first and last are its corners, the second and last
but one lie on its end tangents. Its Bezier points are fixed linear combinations of them, so that every
curve stays twice continuously differentiable whatever the solve does to the control points.

Source: de Boor, A Practical Guide to Splines, ch. IX (B-spline recurrence); Farin, Curves and Surfaces
for CAGD, ch. 8 (conversion to Bezier form).
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import bezier

Array = NDArray[np.float64]

__all__ = ["bezier_matrix", "fit_shape"]


def _basis(knots: Array, count: int, x: Array) -> Array:
    """Return the cubic B-spline basis at ``x``, shape (len(x), count), by the recurrence."""
    last = count  # knots[count] is the end of the last span
    inside = (knots[:-1] <= x[:, None]) & (x[:, None] < knots[1:])
    inside[x >= knots[last], :] = False
    inside[x >= knots[last], last - 1] = True
    basis = inside.astype(float)
    for degree in range(1, 4):
        columns = len(knots) - degree - 1
        lower, upper = knots[:columns], knots[degree + 1 : degree + 1 + columns]
        width_left = knots[degree : degree + columns] - lower
        width_right = upper - knots[1 : columns + 1]
        rising = np.divide(
            x[:, None] - lower, width_left, out=np.zeros((len(x), columns)), where=width_left > 0
        )
        falling = np.divide(
            upper - x[:, None], width_right, out=np.zeros((len(x), columns)), where=width_right > 0
        )
        basis = rising * basis[:, :columns] + falling * basis[:, 1 : columns + 1]
    return basis


@lru_cache(maxsize=64)
def bezier_matrix(spans: int) -> Array:
    """Return the matrix from control points to Bezier points.

    Args:
        spans: Number of spans, at least 1.

    Returns:
        Shape (spans, 4, spans + 3): Bezier point j of span s is row [s, j] times the control points.
    """
    knots = np.concatenate([np.zeros(3), np.linspace(0.0, 1.0, spans + 1), np.ones(3)])
    at = np.array([0.0, 1.0 / 3.0, 2.0 / 3.0, 1.0])
    to_bezier = np.linalg.inv(bezier.basis(at))
    rows: list[Array] = []
    for span in range(spans):
        # nudge the ends inwards so that each span is evaluated with its own polynomial
        x = (span + np.clip(at, 1e-12, 1 - 1e-12)) / spans
        rows.append(to_bezier @ _basis(knots, spans + 3, x))
    matrix = np.stack(rows)
    matrix[np.abs(matrix) < 1e-9] = 0.0
    matrix.setflags(write=False)
    return matrix


@lru_cache(maxsize=256)
def fit_shape(shape: tuple[tuple[float, float], ...], frame: str, cubics: int, spans: int) -> Array:
    """Return the inner control points that follow a template shape most nearly.

    Args:
        shape: Bezier points between the corners, as in a kind.
        frame: Frame of the shape, ``box`` or ``chord``.
        cubics: Number of cubics in ``shape``.
        spans: Number of spans wanted.

    Returns:
        Inner control points in the same frame, shape (spans + 1, 2): least squares over points taken
        evenly in the parameter, both ends held, and the end tangents kept in direction.
    """
    end = (1.0, 1.0) if frame == "box" else (1.0, 0.0)
    points = np.array([(0.0, 0.0), *shape, end])
    segments = np.stack([points[i : i + 4] for i in range(0, 3 * cubics, 3)])
    at = np.linspace(0.0, 1.0, 24 * spans + 1)
    which = np.minimum((at * cubics).astype(int), cubics - 1)
    wanted = bezier.position(segments[which], at * cubics - which)
    span = np.minimum((at * spans).astype(int), spans - 1)
    t = at * spans - span
    basis = np.einsum("ij,ijk->ik", bezier.basis(t), bezier_matrix(spans)[span])
    rest = wanted - basis[:, :1] * points[0] - basis[:, -1:] * points[-1]
    inner = np.asarray(np.linalg.lstsq(basis[:, 1:-1], rest, rcond=None)[0], dtype=float)
    for index, corner, beside in ((0, points[0], points[1]), (-1, points[-1], points[-2])):
        tangent = (beside - corner) / max(float(np.hypot(*(beside - corner))), 1e-12)
        inner[index] = corner + max(float((inner[index] - corner) @ tangent), 0.02) * tangent
    inner.setflags(write=False)
    return inner
