"""Places along a path: points, tangents and curvature at a distance from its start, and cuts there.

Distances are mm from the path's first point. A distance is inverted to a place to 1e-9 mm (or a few
roundings of the path's length, where that is more).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from likesewn.geometry import bezier
from likesewn.geometry.path import Path

Array = NDArray[np.float64]

__all__ = ["curvature_at", "cut_out", "point_at", "split_at", "tangent_at"]

_SLACK = 1e-6
"""How far outside the path a distance may lie and still mean its end, mm: sums of lengths round."""

_SNAP = 1e-9
"""A cut nearer than this to a joint falls on the joint, mm: no slivers."""


def _inside(path: Path, along: ArrayLike) -> Array:
    s = np.asarray(along, dtype=float)
    total = path.length
    if not np.all((s >= -_SLACK) & (s <= total + _SLACK)):
        wrong = s[~((s >= -_SLACK) & (s <= total + _SLACK))].flat[0]
        raise ValueError(
            f"a distance of {wrong:.6g} mm lies outside the path: it must be from 0 to its length, "
            f"{total:.6g} mm"
        )
    return np.clip(s, 0.0, total)


def point_at(path: Path, along: ArrayLike) -> Array:
    """Return the points at distances along a path.

    Args:
        path: The path.
        along: Distances from its start, any shape, mm.

    Returns:
        Points, shape of ``along`` + (2,), mm.

    Raises:
        ValueError: When a distance lies outside the path by more than 1e-6 mm.
    """
    s = _inside(path, along)
    segment, t = path.ruler.places(s.ravel())
    return bezier.position(path.segments[segment], t).reshape(*s.shape, 2)


def tangent_at(path: Path, along: ArrayLike) -> Array:
    """Return the unit tangents at distances along a path, in the direction of travel.

    At a corner it is the tangent of the segment that starts there, at a cusp the one that leaves it.

    Args:
        path: The path.
        along: Distances from its start, any shape, mm.

    Returns:
        Unit vectors, shape of ``along`` + (2,).

    Raises:
        ValueError: When a distance lies outside the path by more than 1e-6 mm, or when the path has no
            length and so no direction.
    """
    s = _inside(path, along)
    segment, t = path.ruler.places(s.ravel())
    found = bezier.tangent(path.segments[segment], t)
    if not np.all(np.any(found != 0.0, axis=-1)):
        raise ValueError("a path of no length has no direction")
    return found.reshape(*s.shape, 2)


def curvature_at(path: Path, along: ArrayLike) -> Array:
    """Return the signed curvature at distances along a path, 1/mm.

    Positive where the path turns from x towards y: the sign that a convex piece has everywhere. At a
    cusp, and at a handle that lies on its end point, it is infinite unless the path is straight there.

    Args:
        path: The path.
        along: Distances from its start, any shape, mm.

    Returns:
        Curvatures, shape of ``along``, 1/mm.

    Raises:
        ValueError: When a distance lies outside the path by more than 1e-6 mm.
    """
    s = _inside(path, along)
    segment, t = path.ruler.places(s.ravel())
    ctrl = path.segments[segment]
    d, dd = bezier.derivative(ctrl, t), bezier.second_derivative(ctrl, t)
    speed = np.hypot(d[:, 0], d[:, 1])
    bend = d[:, 0] * dd[:, 1] - d[:, 1] * dd[:, 0]
    size = np.ptp(ctrl, axis=1).max(axis=1)
    moving = speed > 1e-11 * size
    value = np.divide(bend, speed**3, out=np.zeros_like(speed), where=moving)
    if not np.all(moving):
        third = ctrl[:, 3] - 3.0 * ctrl[:, 2] + 3.0 * ctrl[:, 1] - ctrl[:, 0]
        limit = dd[:, 0] * third[:, 1] - dd[:, 1] * third[:, 0]
        sharp = ~moving & (np.abs(limit) > 1e-12 * size**2)
        value[sharp] = np.sign(limit[sharp]) * np.inf
    return value.reshape(s.shape)


def cut_out(path: Path, start: float, end: float) -> Path:
    """Return the part of a path between two distances from its start, mm.

    Segments that are straight stay exactly straight. Where ``start`` equals ``end`` the part is one
    segment of no length.

    Raises:
        ValueError: When a distance lies outside the path by more than 1e-6 mm, or ``end`` is below
            ``start``.
    """
    s0, s1 = (float(value) for value in _inside(path, [start, end]))
    if s1 < s0:
        raise ValueError(f"a part must end after it starts, and {end:.6g} mm is before {start:.6g} mm")
    joints = path.ruler.joints
    s0, s1 = (float(joints[k]) if abs(joints[k := int(np.argmin(np.abs(joints - s)))] - s) <= _SNAP else s
              for s in (s0, s1))  # fmt: skip
    (first, last), (t0, t1) = path.ruler.places(np.array([s0, s1]))
    if t1 <= 0.0 and last > first:
        # the part ends on a joint, which belongs to the next segment
        last, t1 = last - 1, 1.0
    segments = path.segments[first : last + 1].copy()
    straight = path.straight[first : last + 1]
    if first == last:
        segments[0] = bezier.part(segments[0], t0, t1)
    else:
        segments[0] = bezier.part(segments[0], t0, 1.0)
        segments[-1] = bezier.part(segments[-1], 0.0, t1)
    for end_segment in (0, -1):
        if straight[end_segment]:
            segments[end_segment] = bezier.line(segments[end_segment, 0], segments[end_segment, 3])
    return Path(segments)


def split_at(path: Path, along: float) -> tuple[Path, Path]:
    """Cut a path in two at a distance from its start, mm.

    The first part ends exactly where the second starts. A cut at either end of the path leaves one
    part of no length there.

    Raises:
        ValueError: When the distance lies outside the path by more than 1e-6 mm.
    """
    head, tail = cut_out(path, 0.0, along), cut_out(path, along, path.length)
    joint = head.segments.copy()
    joint[-1, 3] = tail.start
    return Path(joint), tail
