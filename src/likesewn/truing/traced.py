"""Traced points as observations: each is a distance square to its edge.

A point's foot on the edge is found anew at every step; by the envelope theorem the distance's
derivative needs no derivative of the foot. Beyond an edge's end the end tangent carries on, so that
noise at a corner does not pull on the corner.

Source: Ahn, Least Squares Orthogonal Distance Fitting of Curves and Surfaces in Space, ch. 2.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import TracedPoints
from likesewn.geometry import bezier
from likesewn.truing.lays import OWN_UNKNOWNS, Lays
from likesewn.truing.matrices import summed
from likesewn.truing.unknowns import EdgeRun, Unknowns

Array = NDArray[np.float64]

__all__ = ["Feet", "Traced"]

SAMPLES = 12
"""Places per span at which the foot search starts: enough for the curves of a garment edge."""


@dataclass(frozen=True, slots=True)
class Feet:
    """Where the points' feet stand on their edges, and what the edges are like there.

    Attributes:
        segment: Segment of each foot, shape (count,).
        t: Its parameter.
        tangent: Unit tangent there, shape (count, 2).
        normal: Unit outward normal there, shape (count, 2).
        speed: Length of the derivative there, mm.
        bend: Part of the second derivative along the normal, mm; 0 past an edge's end.
        distance: Signed distance of each point from its foot, mm; positive to the left of its edge's walk,
            outside the piece.
        weights: How the four control points move the place on the curve, or on its end tangent, that each
            point is held against, shape (count, 4).
        moving: How they move the derivative there, shape (count, 4).
        by_lay: Derivatives of the points in their piece's frame by the unknowns of their lay, shape
            (count, 5, 2).
        turning: Their second derivatives by the turn of their lay, shape (count, 2).
    """

    segment: NDArray[np.int64]
    t: Array
    tangent: Array
    normal: Array
    speed: Array
    bend: Array
    distance: Array
    weights: Array
    moving: Array
    by_lay: Array
    turning: Array


class Traced:
    """All traced points of a record.

    They are evaluated at the raw vector (see ``quantities``), in which the lays' unknowns stand from
    ``first`` on.

    Attributes:
        count: Number of points.
        entries: What was traced.
        runs: The edge of each entry.
        entry: Place in ``entries`` of each point's entry, shape (count,).
        sigma: Each point's standard deviation, shape (count,), mm.
        lays: How the pieces lay.
        blocks: Raw indices of the blocks that ``squares`` and ``curvature`` give, shape (blocks, width); -1
            for none: one for each segment that points of one lay may stand on.
    """

    def __init__(self, unknowns: Unknowns, entries: Sequence[TracedPoints], first: int) -> None:
        self._unknowns = unknowns
        self.runs = [_find(unknowns, entry) for entry in entries]
        self.entries = tuple(entries)
        self.lays = Lays(entries, self.runs, first)
        sizes = [len(e.at) for e in entries]
        self.count = sum(sizes)
        self.entry = np.repeat(np.arange(len(entries)), sizes)
        self.sigma = np.repeat([e.sigma_mm for e in entries], sizes)
        self._run = np.array([[r.first, r.count] for r in self.runs], dtype=int).reshape(-1, 2)
        self._low, self._high = self._run[self.entry, 0], self._run[self.entry].sum(axis=1) - 1
        # of the unknowns that may move a point, those that move any: folds come last
        self._moving = OWN_UNKNOWNS if self.lays.folds else 3 if self.lays.frames else 0
        self.blocks, self._block = self._laid_out(sizes)

    def _laid_out(self, sizes: Sequence[int]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return the blocks' columns, and the block of each point were it on its edge's first segment."""
        count = np.array(sizes, dtype=int)
        lays = np.full((len(sizes), OWN_UNKNOWNS), -1)
        lays[count > 0] = self.lays.columns[(np.cumsum(count) - count)[count > 0]]
        found: list[NDArray[np.int64]] = []
        first: dict[tuple[int, ...], int] = {}
        of: list[int] = []
        for run, lay in zip(self.runs, lays, strict=True):
            key = (run.first, *lay.tolist())
            if key not in first:
                first[key] = len(found)
                own = self._unknowns.columns[run.first : run.first + run.count]
                found.extend(np.concatenate([columns, lay[: self._moving]]) for columns in own)
            of.append(first[key])
        blocks = np.array(found, dtype=np.int64).reshape(-1, 8 + self._moving)
        return blocks, np.repeat(np.array(of, dtype=int), sizes)

    @property
    def curves(self) -> list[EdgeRun]:
        """The curved edges that points were traced on, each once."""
        return list(dict.fromkeys(run for run in self.runs if not run.edge.straight))

    def start(self, ctrl: Array) -> Array:
        """Return the lays' unknowns that put the points on shapes, shape (lays.size,).

        Args:
            ctrl: Every segment's Bezier points, shape (segments, 4, 2), mm.
        """
        return self.lays.start(ctrl, self.runs)

    def feet(self, raw: Array, near: Feet | None = None) -> Feet:
        """Return where every point's foot stands, and what the edge is like there.

        Args:
            raw: The raw vector.
            near: Feet at a raw vector close by, from which to go on; without them all edges are searched.
        """
        ctrl = self._unknowns.bezier_points(raw[: len(self._unknowns.index)])
        placed, by_lay, turning = self.lays.place(raw)
        segment, t = self._searched(ctrl, placed) if near is None else (near.segment, near.t)
        cubics = bezier.powers(ctrl).transpose(1, 2, 0)
        segment, t = self._nearest(cubics, placed.T, segment, t, 4 if near is None else 2)
        at, d, dd = _along(cubics[:, :, segment], t)
        speed = np.maximum(np.hypot(d[0], d[1]), 1e-9)
        tangent = d / speed
        normal = np.stack([tangent[1], -tangent[0]])
        gap = placed.T - at
        weights = np.stack([bezier.basis(t), bezier.basis_derivative(t)], axis=2)
        past = self._held_by_ends(weights, ctrl, segment, t, _dot(gap, tangent))
        weights = self._unknowns.by_controls(weights, segment)
        return Feet(
            segment=segment,
            t=t,
            tangent=tangent.T,
            normal=normal.T,
            speed=speed,
            bend=np.where(past, 0.0, _dot(dd, normal)),
            distance=_dot(gap, normal),
            weights=weights[:, :, 0],
            moving=weights[:, :, 1],
            by_lay=by_lay,
            turning=turning,
        )

    def slopes(self, feet: Feet) -> Array:
        """Return the distances' derivatives over the points' standard deviations, shape (count, width).

        They are by the raw entries in ``blocks``, at the rows that ``block`` gives.
        """
        normal = feet.normal / -self.sigma[:, None]
        by = (feet.weights[:, :, None] * normal[:, None, :]).reshape(-1, 8)
        return np.concatenate([by, -self._by_lay(feet, normal)], axis=1) if self._moving else by

    def _by_lay(self, feet: Feet, way: Array) -> Array:
        """Return how the lays' unknowns move the points some way, shape (count, moving)."""
        return (feet.by_lay[:, : self._moving] @ way[:, :, None])[:, :, 0]

    def block(self, feet: Feet) -> NDArray[np.int64]:
        """Return the row of ``blocks`` that each point's derivatives are by, shape (count,)."""
        return self._block + feet.segment - self._low

    def squares(self, feet: Feet, slopes: Array) -> Array:
        """Return the products of the points' derivatives with themselves, as ``blocks``."""
        return self._summed(feet, slopes[:, None], slopes[:, None])

    def curvature(self, feet: Feet) -> Array:
        """Return the second derivatives by the raw vector that those products leave out, as ``blocks``.

        They are those of half the sum of the squared distances over their standard deviations.
        With T and n the unit tangent and normal at a point's foot, s the speed there, v the second
        derivative's part along n, d the distance and D = s^2 - d v, a change moves the foot by
        (d b - s a) / D, where a is the change of the curve against the point along T and b the change of
        its derivative along n. Hence the distance's second derivatives are

            (s / D) (a b' + b a') - (v / D) a a' - (d / D) b b'

        and, for a point in a lay of its own, its turning. Past an edge's end this is that of the end tangent,
        where v is 0 and the change a is that of the place on it, its share of the handle held. The tilt of a
        fold is left to its first derivatives.
        """
        D = feet.speed**2 - feet.distance * feet.bend
        clear = D > 0.1 * feet.speed**2  # noqa: SIM300 - D is no constant
        force = np.where(clear, feet.distance / self.sigma**2, 0.0)
        a = (feet.weights[:, :, None] * feet.tangent[:, None]).reshape(-1, 8)
        b = (feet.moving[:, :, None] * feet.normal[:, None]).reshape(-1, 8)
        if self._moving:
            a = np.concatenate([a, -self._by_lay(feet, feet.tangent)], axis=1)
            b = np.concatenate([b, np.zeros((self.count, self._moving))], axis=1)
        force /= D
        crossed, along, across = ((force * k)[:, None] for k in (feet.speed, feet.bend, feet.distance))
        right = np.stack([crossed * b - (0.5 * along) * a, (-0.5 * across) * b], axis=1)
        half = self._summed(feet, np.stack([a, b], axis=1), right)
        bent = half + half.transpose(0, 2, 1)
        if self._moving:
            turning = force * D * (feet.turning * feet.normal).sum(axis=1)
            bent[:, 8, 8] += summed(self.block(feet), turning, len(bent))
        return bent

    def _summed(self, feet: Feet, one: Array, two: Array) -> Array:
        """Return the sums of ``one' two`` over each block's points, both shape (count, any, width)."""
        block = self.block(feet)
        order = np.argsort(block, kind="stable")
        width, times = one.shape[2], one.shape[1]
        one, two = one[order].reshape(-1, width).T, two[order].reshape(-1, width)
        ends = (times * np.cumsum(np.bincount(block, minlength=len(self.blocks)))).tolist()
        sums = np.zeros((len(self.blocks), width, width))
        for i, (start, end) in enumerate(pairwise([0, *ends])):
            if end > start:
                sums[i] = one[:, start:end] @ two[start:end]
        return sums

    def _held_by_ends(
        self, weights: Array, ctrl: Array, segment: NDArray[np.int64], t: Array, along: Array
    ) -> NDArray[np.bool_]:
        """Let points past their edge's end be held against its end tangent: turning its handle counts.

        Args:
            weights: How the Bezier points move each foot (in ``[:, :, 0]``); changed.
            ctrl: Every segment's Bezier points, mm.
            segment: Segment of each foot.
            t: Its parameter.
            along: How far each point lies ahead of its foot along the tangent, mm.

        Returns:
            Which points lie past an end.
        """
        past = np.zeros(len(t), dtype=bool)
        before = np.flatnonzero((segment == self._low) & (t <= 0.0) & (along < 0.0))
        after = np.flatnonzero((segment == self._high) & (t >= 1.0) & (along > 0.0))
        for mine, point in ((before, 0), (after, 2)):
            handle = ctrl[segment[mine], point + 1] - ctrl[segment[mine], point]
            lengths = along[mine] / np.maximum(np.hypot(handle[:, 0], handle[:, 1]), 1e-6)
            weights[mine, point, 0] -= lengths
            weights[mine, point + 1, 0] += lengths
            past[mine] = True
        return past

    def misfits(self, feet: Feet) -> list[tuple[TracedPoints, Array]]:
        """Return each entry with its points' distances from their edge, mm; positive outside the piece."""
        return [(entry, feet.distance[self.entry == e]) for e, entry in enumerate(self.entries)]

    def _searched(self, ctrl: Array, placed: Array) -> tuple[NDArray[np.int64], Array]:
        """Return roughly where each point's foot is, from a search along its whole edge."""
        segment: NDArray[np.int64] = np.zeros(self.count, dtype=np.int64)
        t: Array = np.zeros(self.count)
        grid = np.linspace(0.0, 1.0, SAMPLES + 1)
        curves = bezier.basis(grid) @ ctrl
        squares = (curves * curves).sum(axis=2)
        ends = np.cumsum([len(entry.at) for entry in self.entries]).tolist()
        for (first, count), (start, end) in zip(self._run, pairwise([0, *ends]), strict=True):
            own = slice(first, first + count)
            # the points' own squares are the same for every place on the curve
            square = squares[own].reshape(-1) - 2.0 * placed[start:end] @ curves[own].reshape(-1, 2).T
            nearest = np.argmin(square, axis=1)
            segment[start:end] = first + nearest // (SAMPLES + 1)
            t[start:end] = grid[nearest % (SAMPLES + 1)]
        return segment, t

    def _nearest(
        self, cubics: Array, placed: Array, segment: NDArray[np.int64], t: Array, times: int
    ) -> tuple[NDArray[np.int64], Array]:
        """Return where each point's foot is, by Newton steps from near it.

        Args:
            cubics: Factors of the powers of t, shape (4, 2, segments).
            placed: The points, shape (2, count).
            segment: Segment of each.
            t: Parameter of each.
            times: Number of steps.
        """
        for _ in range(times):
            at, d, dd = _along(cubics[:, :, segment], t)
            gap = at - placed
            square = _dot(d, d)
            step = -_dot(gap, d) / np.maximum(square + _dot(gap, dd), 0.25 * square + 1e-12)
            t = t + np.minimum(np.maximum(step, -0.5), 0.5)
            ahead, behind = (t > 1.0) & (segment < self._high), (t < 0.0) & (segment > self._low)
            segment = segment + ahead - behind
            t = np.minimum(np.maximum(t - ahead + behind, 0.0), 1.0)
        return segment, t


def _along(cubics: Array, t: Array) -> tuple[Array, Array, Array]:
    """Return points and first and second derivatives, each shape (2, n), of cubics of shape (4, 2, n)."""
    c0, c1, c2, c3 = cubics
    t3 = c3 * (3.0 * t)
    return ((c3 * t + c2) * t + c1) * t + c0, (t3 + 2.0 * c2) * t + c1, 2.0 * (t3 + c2)


def _dot(a: Array, b: Array) -> Array:
    return a[0] * b[0] + a[1] * b[1]


def _find(unknowns: Unknowns, entry: TracedPoints) -> EdgeRun:
    halves = [p for p in unknowns.panels.panels if entry.piece in {p.piece.name, p.name}]
    for panel in halves:
        for edge in panel.piece.edges:
            if entry.edge in {panel.edge_name(edge), edge.name}:
                return unknowns.runs[panel.name, edge.name]
    raise KeyError(f"{entry.piece}.{entry.edge}")
