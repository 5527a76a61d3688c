"""Area, bounding box, total turning, and the polygon that stands for a path.

Area and turning carry the sign of travel: both are positive for the outline of a piece, whose walk runs
from x towards y (clockwise as drawn with y downward).
"""

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import bezier
from likesewn.geometry.path import FLATNESS, Path

Array = NDArray[np.float64]

__all__ = ["area", "bounds", "flatten", "turning"]

_MOST_PIECES = 1_000_000
"""Most chords of one segment: past this a tolerance is a mistake, not a wish."""


def _cross(a: Array, b: Array) -> Array:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def area(path: Path) -> float:
    """Return the signed area that a path encloses, mm².

    A path that does not end where it starts is closed by a straight line. Exact: the closed form of
    the integral of (x dy - y dx) / 2 over a cubic, taken about the path's first point so that a piece
    far from the origin loses nothing.

    Returns:
        Area, positive for a piece's direction of travel.
    """
    p = path.segments - path.start
    p0, p1, p2, p3 = p[:, 0], p[:, 1], p[:, 2], p[:, 3]
    twentieths = (
        6.0 * _cross(p0, p1)
        + 3.0 * _cross(p0, p2)
        + _cross(p0, p3)
        + 3.0 * _cross(p1, p2)
        + 3.0 * _cross(p1, p3)
        + 6.0 * _cross(p2, p3)
    )
    return float(twentieths.sum() / 20.0)


def bounds(path: Path) -> Array:
    """Return the tight bounding box of a path, shape (4,): least x, least y, greatest x, greatest y."""
    p = path.segments
    d = p[:, 1:] - p[:, :-1]
    # the derivative is a t² + 2 b t + c, up to a factor of 3
    a, b, c = d[:, 0] - 2.0 * d[:, 1] + d[:, 2], d[:, 1] - d[:, 0], d[:, 0]
    root = np.sqrt(np.maximum(b * b - a * c, 0.0))
    # the two roots written so that neither subtracts near equals (Press et al., 3rd ed., 5.6)
    q = -(b + np.copysign(root, b))
    first = np.divide(q, a, out=np.zeros_like(q), where=a != 0)
    second = np.divide(c, q, out=np.zeros_like(q), where=q != 0)
    at = np.clip(np.stack([first, second]), 0.0, 1.0)
    # each coordinate has its own extrema, so each is evaluated at its own parameters
    v = 1.0 - at
    inner = v**3 * p[:, 0] + 3 * v**2 * at * p[:, 1] + 3 * v * at**2 * p[:, 2] + at**3 * p[:, 3]
    points = np.concatenate([p[:, 0], p[-1:, 3], inner.reshape(-1, 2)])
    return np.concatenate([points.min(axis=0), points.max(axis=0)])


def _swept(ctrl: Array) -> Array:
    """Return the angle swept by the tangent along each segment, shape (n,), radians; exact.

    The derivative is a quadratic curve. Its cross product with the starting tangent vanishes at the
    start and at most once more, so that the angle never leaves a half turn on either side of that place.
    """
    start, end = bezier.end_tangents(ctrl)
    d = ctrl[:, 1:] - ctrl[:, :-1]
    c1, c2 = _cross(start, d[:, 1]), _cross(start, d[:, 2])
    # a handle on the start point: the tangent there is the next difference, and crosses it nowhere else
    c1 = np.where(np.hypot(d[:, 0, 0], d[:, 0, 1]) > 1e-11 * np.ptp(ctrl, axis=1).max(axis=1), c1, 0.0)
    below = 2.0 * c1 - c2
    place = np.divide(2.0 * c1, below, out=np.full_like(c1, -1.0), where=below != 0)
    inside = (place > 0.0) & (place < 1.0)
    at = np.where(inside, place, 0.0)
    middle = bezier.derivative(ctrl, at)
    behind = np.sum(middle * start, axis=1) < 0.0
    half = np.where(inside & behind, np.copysign(np.pi, c1), 0.0)
    start = np.where((inside & behind)[:, None], -start, start)
    angle = np.arctan2(_cross(start, end), np.sum(start * end, axis=1))
    return half + angle


def turning(path: Path) -> float:
    """Return the total signed angle through which the tangent turns, radians.

    Corners at joints count with the angle that they turn, from -pi to pi; one that turns straight back
    counts as +pi. A cusp inside a segment is a half turn to one side or the other, whichever makes the
    segment's sum smaller. Where the path ends where it starts, the joint there counts too, so that the
    outline of a convex piece, walked as pieces are, gives +2 pi.
    """
    size = np.ptp(path.segments, axis=1).max(axis=1)
    ctrl = path.segments[size > 0.0]
    if not len(ctrl):
        return 0.0
    start, end = bezier.end_tangents(ctrl)
    if path.closed:
        before, after = end, np.roll(start, -1, axis=0)
    else:
        before, after = end[:-1], start[1:]
    cross, dot = _cross(before, after), np.sum(before * after, axis=1)
    back = (dot < 0.0) & (np.abs(cross) < 1e-12)
    joints = np.where(back, np.pi, np.arctan2(cross, dot))
    return float(_swept(ctrl).sum() + joints.sum())


def flatten(path: Path, tolerance: float = FLATNESS) -> Array:
    """Return a polygon line that stands for a path, shape (n, 2), mm.

    Guaranteed: every point of the path lies within ``tolerance`` of the polygon and every point of the
    polygon within ``tolerance`` of the path. Its corners lie on the path. A straight segment gives one
    chord. Chord error at most h² max|P''| / 8 (Farin, Curves and Surfaces for CAGD, 5.5).

    Args:
        path: The path.
        tolerance: Greatest distance, mm; more than 0.

    Raises:
        ValueError: When the tolerance is not more than 0, or would take more than a million chords for one
            segment.
    """
    if not tolerance > 0.0:
        raise ValueError(f"a flattening tolerance must be more than 0 mm, and {tolerance:g} was given")
    p = path.segments
    bend = 6.0 * (p[:, 2:] - 2.0 * p[:, 1:-1] + p[:, :-2])
    most = np.hypot(bend[..., 0], bend[..., 1]).max(axis=1)
    wanted = np.where(path.straight, 1.0, np.maximum(np.ceil(np.sqrt(most / (8.0 * tolerance))), 1.0))
    if wanted.max() > _MOST_PIECES:
        raise ValueError(
            f"a flattening tolerance of {tolerance:g} mm is too fine for a path of {path.length:.6g} mm: "
            f"it would take {wanted.max():.3g} chords for one segment"
        )
    pieces = wanted.astype(int)
    segment = np.repeat(np.arange(len(p)), pieces)
    step = np.arange(len(segment)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    points = bezier.position(p[segment], step / pieces[segment])
    return np.concatenate([points, p[-1:, 3]])
