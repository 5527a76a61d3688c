"""A path: cubic segments joined end to end, measured along its length.

Coordinates are mm, x to the right and y downward. Distances along a path start at its first point.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from likesewn.geometry import bezier
from likesewn.geometry.ruler import Ruler

Array = NDArray[np.float64]

__all__ = ["FLATNESS", "Path"]

FLATNESS = 0.02
"""Default distance between a path and its flattened polygon, mm; guaranteed, see ``flatten``."""


@dataclass(frozen=True, eq=False)
class Path:
    """A plane path of cubic segments.

    Attributes:
        segments: Control points, shape (n, 4, 2), mm; each segment starts where the last ends.
    """

    segments: Array

    def __post_init__(self) -> None:
        segments = np.array(self.segments, dtype=float).reshape(-1, 4, 2)
        if not len(segments):
            raise ValueError("a path needs at least one segment, and none was given")
        if not np.all(np.isfinite(segments)):
            raise ValueError("a path needs finite coordinates")
        segments.setflags(write=False)
        object.__setattr__(self, "segments", segments)

    @classmethod
    def line(cls, start: ArrayLike, end: ArrayLike) -> "Path":
        """Return the straight path from ``start`` to ``end``, each shape (2,)."""
        return cls(bezier.line(start, end)[None])

    @classmethod
    def polyline(cls, points: ArrayLike) -> "Path":
        """Return the path of straight lines through ``points``, shape (n, 2), n at least 2."""
        p = np.asarray(points, dtype=float)
        return cls(np.stack([bezier.line(a, b) for a, b in pairwise(p)]))

    @classmethod
    def join(cls, paths: Sequence["Path"]) -> "Path":
        """Return the paths one after another; each must start where the one before it ends."""
        return cls(np.concatenate([path.segments for path in paths]))

    @property
    def start(self) -> Array:
        """First point, shape (2,)."""
        return self.segments[0, 0]

    @property
    def end(self) -> Array:
        """Last point, shape (2,)."""
        return self.segments[-1, 3]

    @cached_property
    def straight(self) -> NDArray[np.bool_]:
        """Which segments are straight lines at constant speed, shape (n,)."""
        p = self.segments
        scale = 1e-9 * (1.0 + np.abs(p).max())
        thirds = p[:, :1] + np.array([1.0, 2.0])[None, :, None] / 3.0 * (p[:, 3:] - p[:, :1])
        return np.abs(p[:, 1:3] - thirds).max(axis=(1, 2)) <= scale

    @cached_property
    def lengths(self) -> Array:
        """Length of each segment, shape (n,), mm, to ``bezier.LENGTH_RTOL``."""
        return self.ruler.lengths

    @cached_property
    def ruler(self) -> Ruler:
        """The path's scale: from distance to place and back."""
        return Ruler.of(self.segments)

    @property
    def closed(self) -> bool:
        """True when the path ends where it starts, to 1e-9 of its coordinates, and has any extent."""
        size = float(np.abs(self.segments).max())
        gap = float(np.abs(self.end - self.start).max())
        return gap <= 1e-9 * size and float(np.ptp(self.segments, axis=(0, 1)).max()) > 1e-9 * size

    @property
    def length(self) -> float:
        """Length of the whole path, mm, to ``bezier.LENGTH_RTOL``."""
        return float(self.ruler.marks[-1])

    def reversed(self) -> "Path":
        """Return the same path travelled the other way."""
        return Path(self.segments[::-1, ::-1])

    def mirrored(self) -> "Path":
        """Return the path mirrored in the line x = 0."""
        return Path(self.segments * np.array([-1.0, 1.0]))

    def moved(self, angle: float = 0.0, by: ArrayLike = (0.0, 0.0)) -> "Path":
        """Return the path turned by ``angle`` (radians, x axis towards y axis) about 0, then moved."""
        c, s = np.cos(angle), np.sin(angle)
        return Path(self.segments @ np.array([[c, s], [-s, c]]) + np.asarray(by, dtype=float))
