"""A ruler along a run of cubic segments: from distance to place and back.

A place is a segment's index and a parameter on it. The run is cut once into parts on which fixed
Gauss-Legendre quadrature is accurate (``bezier.leaves``); a distance is then found within its part by
Newton's method, kept inside a shrinking bracket so that a cusp, where the speed vanishes, cannot throw
it out (Press et al., Numerical Recipes, 3rd ed., 9.4, safeguarded Newton).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import bezier

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

__all__ = ["Ruler"]

_NODES = 16
_THIRDS = np.array([[1.0], [2.0]]) / 3.0
_STEADY = 1e-14
"""Handles that miss the thirds of their chord by this share of the coordinates are off by rounding."""

_STEPS = 80  # halvings of the bracket that reach rounding, with some to spare


def _covered(parts: Array, u: Array) -> Array:
    """Return the length of each part from its start to parameter ``u`` on it, each shape (n,)."""
    x, w = bezier.gauss(_NODES)
    # a third of the derivative, by powers of the parameter
    d = (parts[:, 1:] - parts[:, :-1])[:, :, None]
    at = (u[:, None] * x)[..., None]
    d = d[:, 0] + at * (2.0 * (d[:, 1] - d[:, 0]) + at * (d[:, 0] - 2.0 * d[:, 1] + d[:, 2]))
    return 3.0 * u * (np.hypot(d[..., 0], d[..., 1]) @ w)


@dataclass(frozen=True, eq=False, slots=True)
class Ruler:
    """The scale of a path.

    Attributes:
        lengths: Length of each segment, shape (n,), mm.
        segment: Segment of each part, shape (k,).
        first: Parameter at which each part starts, shape (k,).
        last: Parameter at which each part ends, shape (k,).
        parts: Control points of the parts, shape (k, 4, 2), mm.
        steady: Which parts are travelled at constant speed, shape (k,): distance and parameter go together.
        marks: Distance from the path's start to the start of each part, and the whole length,
            shape (k + 1,), mm.
    """

    lengths: Array
    segment: Indices
    first: Array
    last: Array
    parts: Array
    steady: NDArray[np.bool_]
    marks: Array

    @classmethod
    def of(cls, segments: Array) -> "Ruler":
        """Measure segments, shape (n, 4, 2)."""
        thirds = segments[:, :1] + _THIRDS * (segments[:, 3:] - segments[:, :1])
        off = np.abs(segments[:, 1:3] - thirds).max(axis=(1, 2))
        straight = off <= _STEADY * (1.0 + np.abs(segments).max())
        if straight.all():
            chord = segments[:, 3] - segments[:, 0]
            measured, parts = np.hypot(chord[:, 0], chord[:, 1]), segments
            segment, first, last = np.arange(len(segments)), np.zeros(len(segments)), np.ones(len(segments))
        else:
            segment, first, last, measured, parts = bezier.leaves(segments)
        lengths = np.bincount(segment, weights=measured, minlength=len(segments)).astype(np.float64)
        marks = np.zeros(len(measured) + 1)
        np.cumsum(measured, out=marks[1:])
        lengths.setflags(write=False)
        return cls(lengths, segment, first, last, parts, straight[segment], marks)

    @property
    def joints(self) -> Array:
        """Distances of the segments' starts and of the path's end from its start, shape (n + 1,), mm."""
        return self.marks[np.searchsorted(self.segment, np.arange(len(self.lengths) + 1))]

    def places(self, along: Array) -> tuple[Indices, Array]:
        """Return the places at distances ``along``, shape (n,), mm, each within 0 and the length.

        Returns:
            Segment indices and parameters, each shape (n,). A joint belongs to the segment that starts
            there; a segment of no length is passed over.
        """
        # of equal marks the last is taken, which passes over parts of no length
        index = np.searchsorted(self.marks, along, side="right") - 1
        final = int(np.searchsorted(self.marks, float(self.marks[-1]), side="left")) - 1
        index = np.clip(index, 0, max(final, 0))
        size = self.marks[index + 1] - self.marks[index]
        wanted = np.clip(along - self.marks[index], 0.0, size)
        u = np.divide(wanted, size, out=np.zeros_like(wanted), where=size > 0)
        low, high = np.zeros_like(u), np.ones_like(u)
        parts = self.parts[index]
        # the ends are exact as they stand, and so are places on lines; only what lies between is sought
        active = np.flatnonzero((u > 0.0) & (u < 1.0) & ~self.steady[index])
        for _ in range(_STEPS):
            if not len(active):
                break
            at, part = u[active], parts[active]
            miss = _covered(part, at) - wanted[active]
            low[active] = np.where(miss < 0, at, low[active])
            high[active] = np.where(miss > 0, at, high[active])
            d = bezier.derivative(part, at)
            speed = np.hypot(d[:, 0], d[:, 1])
            step = np.divide(miss, speed, out=np.full_like(miss, np.inf), where=speed > 0)
            new = at - step
            outside = ~((new > low[active]) & (new < high[active]))
            new = np.where(outside, 0.5 * (low[active] + high[active]), new)
            done = (np.abs(miss) <= 4e-16 * self.marks[-1]) | (np.abs(step) <= 2e-16)
            done |= high[active] - low[active] <= 4e-16
            u[active] = np.where(done, at, new)
            active = active[~done]
        first, last = self.first[index], self.last[index]
        return self.segment[index], first + u * (last - first)

    def along(self, segment: Indices, t: Array) -> Array:
        """Return the distances of places from the path's start, shape (n,), mm.

        Args:
            segment: Segment indices, shape (n,).
            t: Parameters in 0..1, shape (n,).
        """
        # sorted by segment, then by start: a parameter at the very end still finds its own segment
        keys = self.segment + self.first
        index = np.searchsorted(keys, segment + np.minimum(t, 1.0 - 1e-15), side="right") - 1
        # adding an index to a parameter rounds it, so that a neighbouring part may have been found
        index = np.where(t < self.first[index], index - 1, index)
        index = np.clip(index, 0, len(keys) - 1)
        width = self.last[index] - self.first[index]
        u = np.clip((t - self.first[index]) / width, 0.0, 1.0)
        whole = self.marks[index + 1] - self.marks[index]
        covered = u * whole
        curved = np.flatnonzero((u > 0.0) & (u < 1.0) & ~self.steady[index])
        if len(curved):
            covered[curved] = np.minimum(_covered(self.parts[index[curved]], u[curved]), whole[curved])
        return self.marks[index] + covered
