"""Cubic Bezier segments as arrays: the vectorised ground of paths and of the solve.

A segment is its four control points, shape (..., 4, 2), mm. A line is the cubic whose inner control
points divide it in thirds, so that it is travelled at constant speed.

Sources: Farin, Curves and Surfaces for CAGD, ch. 5 and 6 (Bernstein form, subdivision). Arc length by
Gauss-Legendre quadrature (Davis and Rabinowitz, Methods of Numerical Integration, 2.7).
"""

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from likesewn.geometry.roots import product, roots

Array = NDArray[np.float64]

__all__ = [
    "LENGTH_RTOL",
    "basis",
    "basis_derivative",
    "derivative",
    "end_tangents",
    "gauss",
    "leaves",
    "length",
    "length_gradient",
    "length_hessian",
    "line",
    "part",
    "position",
    "powers",
    "second_derivative",
    "split",
    "tangent",
]

LENGTH_RTOL = 1e-10
"""Relative tolerance of arc length: the default of every length in the package."""

_SLOW = 0.02
"""A segment whose speed may fall below this share of its greatest is cut where it is slowest."""

_NOTHING = 1e-11
"""A derivative below this share of its segment's size counts as vanishing: rounding is about 1e-16 of
the coordinates, and garments lie within a few metres of their origin."""


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


def basis(t: ArrayLike) -> Array:
    """Return the weights of the four control points at parameters ``t``, shape (..., 4)."""
    u = np.asarray(t, dtype=float)
    v = 1.0 - u
    weights = np.empty((*u.shape, 4))
    weights[..., 0], weights[..., 1] = v * v * v, 3.0 * v * v * u
    weights[..., 2], weights[..., 3] = 3.0 * v * u * u, u * u * u
    return weights


def basis_derivative(t: ArrayLike) -> Array:
    """Return the derivatives of the four weights by the parameter, shape (..., 4)."""
    u = np.asarray(t, dtype=float)
    v = 1.0 - u
    uu, uv, vv = u * u, 2.0 * u * v, v * v
    weights = np.empty((*u.shape, 4))
    weights[..., 0], weights[..., 1], weights[..., 2], weights[..., 3] = -vv, vv - uv, uv - uu, uu
    weights *= 3.0
    return weights


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


def powers(ctrl: Array) -> Array:
    """Return the factors of 1, t, t^2 and t^3 of segments, shape of ``ctrl``."""
    return _POWERS @ ctrl


_POWERS = np.array([[1.0, 0, 0, 0], [-3.0, 3.0, 0, 0], [3.0, -6.0, 3.0, 0], [-1.0, 3.0, -3.0, 1.0]])


def split(ctrl: Array, t: ArrayLike) -> tuple[Array, Array]:
    """Split each segment at its parameter (de Casteljau); returns both halves, shape of ``ctrl``."""
    u = np.asarray(t, dtype=float)[..., None]
    p0, p1, p2, p3 = (ctrl[..., i, :] for i in range(4))
    a, b, c = p0 + u * (p1 - p0), p1 + u * (p2 - p1), p2 + u * (p3 - p2)
    d, e = a + u * (b - a), b + u * (c - b)
    m = d + u * (e - d)
    first, second = np.empty((*m.shape[:-1], 4, 2)), np.empty((*m.shape[:-1], 4, 2))
    for i, (one, other) in enumerate(((p0, m), (a, e), (d, c), (m, p3))):
        first[..., i, :], second[..., i, :] = one, other
    return first, second


def part(ctrl: Array, start: ArrayLike, end: ArrayLike) -> Array:
    """Return the part of each segment between two parameters, 0 <= start <= end <= 1, shape of ``ctrl``.

    Ends that are kept (parameter 0 or 1) keep their points to the last bit.
    """
    t0, t1 = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    tail, inner = ctrl, t1 < 1.0
    if inner.any():
        tail = np.where(inner[..., None, None], split(ctrl, t1)[0], ctrl)
    if not (t0 > 0.0).any():
        return np.array(np.broadcast_to(tail, (*np.broadcast(t0, t1, ctrl[..., 0, 0]).shape, 4, 2)))
    ratio = np.divide(t0, t1, out=np.zeros(np.broadcast(t0, t1).shape), where=t1 > 0)
    return np.where((t0 > 0.0)[..., None, None], split(tail, ratio)[1], tail)


def _first_direction(vectors: Array, scale: Array) -> Array:
    """Return the first vector of each row that is not nothing, made unit; zero where all are."""
    size = np.hypot(vectors[..., 0], vectors[..., 1])
    counts = size > _NOTHING * scale[..., None]
    if counts[..., 0].all():
        return vectors[..., 0, :] / size[..., :1]
    first = np.argmax(counts, axis=-1)[..., None]
    chosen = np.take_along_axis(vectors, first[..., None], axis=-2)[..., 0, :]
    norm = np.take_along_axis(np.where(counts, size, np.inf), first, axis=-1)
    return chosen / norm


def end_tangents(ctrl: Array) -> tuple[Array, Array]:
    """Return the unit tangents at both ends of each segment, each shape (..., 2).

    Where handles lie on the end point the limit is taken; a segment that is a point has tangents 0.
    """
    scale = np.ptp(ctrl, axis=-2).max(axis=-1)
    ahead = ctrl[..., 1:, :] - ctrl[..., :1, :]
    behind = ctrl[..., 3:, :] - ctrl[..., 2::-1, :]
    return _first_direction(ahead, scale), _first_direction(behind, scale)


def tangent(ctrl: Array, t: ArrayLike) -> Array:
    """Return unit tangents at parameters, shapes as in ``position``.

    Where the derivative vanishes the limit from ahead is taken, at the end of a segment the one from
    behind; a segment that is a point has tangent 0.
    """
    u = np.asarray(t, dtype=float)
    first, second = derivative(ctrl, u), second_derivative(ctrl, u)
    third = 6.0 * (ctrl[..., 3, :] - 3.0 * ctrl[..., 2, :] + 3.0 * ctrl[..., 1, :] - ctrl[..., 0, :])
    sign = np.where(u >= 1.0, -1.0, 1.0)[..., None]
    third = np.broadcast_to(third, first.shape)
    scale = np.broadcast_to(np.ptp(ctrl, axis=-2).max(axis=-1), first.shape[:-1])
    return _first_direction(np.stack([first, sign * second, third], axis=-2), scale)


_ROUNDING = 4.0 * float(np.finfo(float).eps)
"""Rounding of a sum of lengths, as a share of the greatest coordinate."""


@lru_cache(maxsize=16)
def _gauss_slopes(nodes: int) -> Array:
    """Return the weights of the sides of a control polygon in the derivative at nodes, shape (nodes, 3)."""
    t = gauss(nodes)[0]
    weights = 3.0 * np.stack([(1.0 - t) ** 2, 2.0 * (1.0 - t) * t, t * t], axis=-1)
    weights.setflags(write=False)
    return weights


@lru_cache(maxsize=16)
def _gauss_products(nodes: int) -> Array:
    """Return the products of the control points' weights in the derivative at nodes, shape (nodes, 16)."""
    by_point = basis_derivative(gauss(nodes)[0])
    products = (by_point[:, :, None] * by_point[:, None, :]).reshape(nodes, 16)
    products.setflags(write=False)
    return products


def _at_nodes(ctrl: Array, nodes: int) -> Array:
    # of sides, not of points: a tiny part far from the origin would lose its digits
    return _gauss_slopes(nodes) @ (ctrl[..., 1:, :] - ctrl[..., :-1, :])


def _quadrature(ctrl: Array, nodes: int) -> Array:
    d = _at_nodes(ctrl, nodes)
    return np.asarray(np.hypot(d[..., 0], d[..., 1]) @ gauss(nodes)[1])


def _between_stops(ctrl: Array) -> tuple[NDArray[np.intp], Array, Array]:
    """Cut segments where their speed is least, if it may come near 0: index, start and width of parts."""
    owner, start, width = np.arange(len(ctrl)), np.zeros(len(ctrl)), np.ones(len(ctrl))
    d = ctrl[:, 1:] - ctrl[:, :-1]
    chord = ctrl[:, 3] - ctrl[:, 0]
    size = np.hypot(chord[:, 0], chord[:, 1])[:, None]
    onward = np.einsum("nij,nj->ni", d, np.divide(chord, size, out=np.zeros_like(chord), where=size > 0))
    slow = np.flatnonzero(onward.min(axis=1) < _SLOW * np.abs(d).max(axis=(1, 2)))
    if not len(slow):
        return owner, start, width
    x, y = d[slow, :, 0], d[slow, :, 1]
    own, at = roots(np.diff(product(x, x) + product(y, y), axis=1))
    owner, start = np.append(owner, slow[own]), np.append(start, at)
    order = np.lexsort((start, owner))
    owner, start = owner[order], start[order]
    end = np.append(start[1:], 1.0)
    end[:-1][owner[1:] != owner[:-1]] = 1.0
    return owner, start, end - start


def leaves(ctrl: Array, rtol: float = LENGTH_RTOL) -> tuple[NDArray[np.intp], Array, Array, Array, Array]:
    """Cut segments into parts that Gauss-Legendre quadrature with 16 nodes measures.

    Segments are cut first where they nearly stop: there the speed has a kink, which nodes on either side
    of it may fail to see. Then a part is halved until 16 nodes on the whole agree with 16 nodes on each
    half to ``rtol`` of its segment's control polygon; at most 40 times. The error that remains is far
    below the difference held against ``rtol``, since halving a smooth part divides it by about 2**32.

    Args:
        ctrl: Segments, shape (n, 4, 2), mm.
        rtol: Relative tolerance, of the whole segment's control polygon.

    Returns:
        The parts in order of travel: index of the segment, parameter where the part starts, parameter
        where it ends, its length in mm, each shape (k,), and its control points, shape (k, 4, 2).
    """
    sides = np.diff(ctrl, axis=1)
    scale = np.hypot(sides[..., 0], sides[..., 1]).sum(axis=1)
    # no halving makes lengths agree more closely than coordinates are told apart
    least = rtol * scale + _ROUNDING * np.abs(ctrl).max(axis=(1, 2))
    owner, start, width = _between_stops(ctrl)
    work = part(ctrl[owner], start, start + width)
    whole = _quadrature(work, 16)
    found: list[tuple[NDArray[np.intp], Array, Array, Array, Array]] = []
    for depth in range(40):
        halves = np.empty((len(work), 2, 4, 2))
        halves[:, 0], halves[:, 1] = split(work, 0.5)
        lengths = _quadrature(halves, 16)
        done = np.abs(lengths.sum(axis=1) - whole) <= least[owner]
        if depth == 39:
            done[:] = True
        starts = np.stack([start, start + 0.5 * width], axis=1)
        widths = np.repeat(0.5 * width, 2).reshape(-1, 2)
        owners = np.repeat(owner, 2).reshape(-1, 2)
        found.append(
            (owners[done].ravel(), starts[done].ravel(), widths[done].ravel(), lengths[done].ravel(),
             halves[done].reshape(-1, 4, 2))
        )  # fmt: skip
        todo = ~done
        if not todo.any():
            break
        owner, start, width = owners[todo].ravel(), starts[todo].ravel(), widths[todo].ravel()
        work, whole = halves[todo].reshape(-1, 4, 2), lengths[todo].ravel()
    owner, start, width, measured, parts = (
        found[0] if len(found) == 1 else (np.concatenate(column) for column in zip(*found, strict=True))
    )
    order = np.lexsort((start, owner))
    start = start[order]
    return owner[order], start, start + width[order], measured[order], parts[order]


def length(ctrl: Array, rtol: float = LENGTH_RTOL) -> Array:
    """Return arc lengths by adaptive Gauss-Legendre quadrature, see ``leaves``.

    Args:
        ctrl: Segments, shape (..., 4, 2), mm.
        rtol: Relative tolerance, of the whole segment's control polygon.

    Returns:
        Lengths, shape (...), mm.
    """
    whole = np.asarray(ctrl, dtype=float)
    flat = whole.reshape(-1, 4, 2)
    owner, _, _, measured, _ = leaves(flat, rtol)
    total = np.bincount(owner, weights=measured, minlength=len(flat)).astype(np.float64)
    return total.reshape(whole.shape[:-2])


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
    d = _at_nodes(ctrl, nodes)
    speed = np.hypot(d[..., 0], d[..., 1])
    unit = d * (w / np.maximum(speed, 1e-12))[..., None]
    return speed @ w, basis_derivative(t).T @ unit


def length_hessian(ctrl: Array, nodes: int = 24) -> Array:
    """Return second derivatives of the arc lengths by the control points.

    Args:
        ctrl: Segments, shape (n, 4, 2), mm.
        nodes: Gauss-Legendre nodes, as for ``length_gradient``.

    Returns:
        Shape (n, 4, 2, 4, 2), per mm: those of the quadrature itself.
    """
    w = gauss(nodes)[1]
    d = _at_nodes(ctrl, nodes)
    speed = np.maximum(np.hypot(d[..., 0], d[..., 1]), 1e-12)
    # only the part of a change that is square to the path turns it, and so lengthens it twice over
    x, y = d[..., 0] / speed, d[..., 1] / speed
    turned = np.stack([y * y, -x * y, -x * y, x * x], axis=1) * (w / speed)[:, None]
    return (turned @ _gauss_products(nodes)).reshape(-1, 2, 2, 4, 4).transpose(0, 3, 1, 4, 2)
