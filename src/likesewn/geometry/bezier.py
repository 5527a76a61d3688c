"""Cubic Bezier segments as arrays: the vectorised ground of paths and of the solve.

A segment is its four control points, shape (..., 4, 2), mm. A line is the cubic whose inner control
points divide it in thirds, so that it is travelled at constant speed.

Sources: Farin, Curves and Surfaces for CAGD, ch. 5 and 6 (Bernstein form, subdivision). Arc length by
Gauss-Legendre quadrature (Davis and Rabinowitz, Methods of Numerical Integration, 2.7).
"""

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

__all__ = [
    "LENGTH_RTOL",
    "derivative",
    "gauss",
    "length",
    "length_gradient",
    "line",
    "position",
    "second_derivative",
    "split",
]

LENGTH_RTOL = 1e-10
"""Relative tolerance of arc length: the default of every length in the package."""


@lru_cache(maxsize=16)
def gauss(nodes: int) -> tuple[Array, Array]:
    """Return the Gauss-Legendre nodes and weights on 0..1, each shape (nodes,)."""
    x, w = np.polynomial.legendre.leggauss(nodes)
    t, weight = 0.5 * (x + 1.0), 0.5 * w
    t.setflags(write=False)
    weight.setflags(write=False)
    return t, weight


def line(start: ArrayLike, end: ArrayLike) -> Array:
    """Return the cubic, shape (4, 2), that runs straight from ``start`` to ``end``."""
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    return np.array([a, a + (b - a) / 3.0, a + (b - a) * (2.0 / 3.0), b])


def position(ctrl: Array, t: ArrayLike) -> Array:
    """Return points at parameters ``t``.

    Args:
        ctrl: Segments, shape (..., 4, 2).
        t: Parameters in 0..1, broadcast against the segments' leading shape.

    Returns:
        Points, shape (..., 2).
    """
    u = np.asarray(t, dtype=float)[..., None]
    v = 1.0 - u
    return (
        v * v * v * ctrl[..., 0, :]
        + 3.0 * v * v * u * ctrl[..., 1, :]
        + 3.0 * v * u * u * ctrl[..., 2, :]
        + u * u * u * ctrl[..., 3, :]
    )


def derivative(ctrl: Array, t: ArrayLike) -> Array:
    """Return first derivatives by the parameter; shapes as in ``position``."""
    u = np.asarray(t, dtype=float)[..., None]
    v = 1.0 - u
    d = ctrl[..., 1:, :] - ctrl[..., :-1, :]
    return 3.0 * (v * v * d[..., 0, :] + 2.0 * v * u * d[..., 1, :] + u * u * d[..., 2, :])


def second_derivative(ctrl: Array, t: ArrayLike) -> Array:
    """Return second derivatives by the parameter; shapes as in ``position``."""
    u = np.asarray(t, dtype=float)[..., None]
    d2 = ctrl[..., 2:, :] - 2.0 * ctrl[..., 1:-1, :] + ctrl[..., :-2, :]
    return 6.0 * ((1.0 - u) * d2[..., 0, :] + u * d2[..., 1, :])


def split(ctrl: Array, t: ArrayLike) -> tuple[Array, Array]:
    """Split each segment at its parameter (de Casteljau); returns both halves, shape of ``ctrl``."""
    u = np.asarray(t, dtype=float)[..., None]
    p0, p1, p2, p3 = (ctrl[..., i, :] for i in range(4))
    a, b, c = p0 + u * (p1 - p0), p1 + u * (p2 - p1), p2 + u * (p3 - p2)
    d, e = a + u * (b - a), b + u * (c - b)
    m = d + u * (e - d)
    return np.stack([p0, a, d, m], axis=-2), np.stack([m, e, c, p3], axis=-2)


def _quadrature(ctrl: Array, nodes: int) -> Array:
    t, w = gauss(nodes)
    d = derivative(ctrl[..., None, :, :], t)
    return np.asarray(np.hypot(d[..., 0], d[..., 1]) @ w)


def length(ctrl: Array, rtol: float = LENGTH_RTOL) -> Array:
    """Return arc lengths by adaptive Gauss-Legendre quadrature.

    A segment is halved until 16 nodes on the whole agree with 16 nodes on each half to ``rtol`` of
    its chord polygon; at most 40 halvings, which a cusp needs. The error that remains is far below
    the difference held against ``rtol``, since halving a smooth segment divides it by about 2**32.

    Args:
        ctrl: Segments, shape (n, 4, 2), mm.
        rtol: Relative tolerance, of the whole segment's control polygon.

    Returns:
        Lengths, shape (n,), mm.
    """
    flat = np.asarray(ctrl, dtype=float).reshape(-1, 4, 2)
    total = np.zeros(len(flat))
    sides = np.diff(flat, axis=1)
    scale = np.hypot(sides[..., 0], sides[..., 1]).sum(axis=1)
    owner = np.arange(len(flat))
    work, whole = flat, _quadrature(flat, 16)
    for _ in range(40):
        if not len(work):
            break
        left, right = split(work, np.full(len(work), 0.5))
        lengths = _quadrature(np.stack([left, right], axis=1), 16)
        done = np.abs(lengths.sum(axis=1) - whole) <= rtol * scale[owner]
        np.add.at(total, owner[done], lengths[done].sum(axis=1))
        todo = ~done
        owner = np.repeat(owner[todo], 2)
        work = np.stack([left[todo], right[todo]], axis=1).reshape(-1, 4, 2)
        whole = lengths[todo].reshape(-1)
    np.add.at(total, owner, whole)
    return total.reshape(np.asarray(ctrl).shape[:-2])


def length_gradient(ctrl: Array, nodes: int = 24) -> tuple[Array, Array]:
    """Return arc lengths and their exact derivatives by the control points.

    The derivative is that of the quadrature itself, so that it agrees with the lengths returned to
    rounding. Fixed order: the solve wants a smooth function, and checks itself against ``length``.

    Args:
        ctrl: Segments, shape (n, 4, 2), mm.
        nodes: Gauss-Legendre nodes.

    Returns:
        Lengths, shape (n,), mm; gradients, shape (n, 4, 2), without unit.
    """
    t, w = gauss(nodes)
    d = derivative(ctrl[:, None, :, :], t)
    speed = np.hypot(d[..., 0], d[..., 1])
    unit = d / np.maximum(speed, 1e-12)[..., None] * w[:, None]
    v = 1.0 - t
    # derivative of the three Bernstein polynomials of degree 2 that weight the control differences
    basis = 3.0 * np.stack([v * v, 2.0 * v * t, t * t])
    by_difference = np.einsum("ij,njk->nik", basis, unit)
    gradient = np.zeros_like(ctrl)
    gradient[:, 1:] += by_difference
    gradient[:, :-1] -= by_difference
    return speed @ w, gradient
