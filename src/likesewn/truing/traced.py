"""Traced points as observations: each is a distance square to its edge.

A point's foot on the edge is found anew at every step; by the envelope theorem the distance's
derivative needs no derivative of the foot. Beyond an edge's end the end tangent carries on, so that
noise at a corner does not pull on the corner.

Source: Ahn, Least Squares Orthogonal Distance Fitting of Curves and Surfaces in Space, ch. 2.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.garment import TracedPoints
from likesewn.geometry import bezier
from likesewn.truing.lays import OWN_UNKNOWNS, Lays
from likesewn.truing.matrices import Blocks
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
        bend: Part of the second derivative along the normal, mm.
        distance: Signed distance of each point from its foot, mm.
        beyond: How far each point lies past its edge's end, in handle lengths; 0 beside the edge.
        placed: The points in their piece's frame, shape (count, 2), mm.
        by_lay: Their derivatives by the unknowns of their lay, shape (count, 5, 2).
        turning: Their second derivatives by the turn of their lay, shape (count, 2).
    """

    segment: NDArray[np.int64]
    t: Array
    tangent: Array
    normal: Array
    speed: Array
    bend: Array
    distance: Array
    beyond: Array
    placed: Array
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
    """

    def __init__(self, unknowns: Unknowns, entries: Sequence[TracedPoints], first: int) -> None:
        self._segments = unknowns.segments
        self.runs = [_find(unknowns, entry) for entry in entries]
        self.entries = tuple(entries)
        self.lays = Lays(entries, self.runs, first)
        sizes = [len(e.at) for e in entries]
        self.count = sum(sizes)
        self.entry = np.repeat(np.arange(len(entries)), sizes)
        self.sigma = np.repeat([e.sigma_mm for e in entries], sizes)
        self._run = np.array([[r.first, r.count] for r in self.runs], dtype=int).reshape(-1, 2)

    @property
    def curves(self) -> list[EdgeRun]:
        """The curved edges that points were traced on, each once."""
        return list(dict.fromkeys(run for run in self.runs if not run.edge.straight))

    def start(self, z: Array) -> Array:
        """Return the lays' unknowns that put the points on the shapes ``z``, shape (lays.size,)."""
        return self.lays.start(z.reshape(-1, 4, 2), self.runs)

    def feet(self, raw: Array, near: Feet | None = None) -> Feet:
        """Return where every point's foot stands, and what the edge is like there.

        Args:
            raw: The raw vector.
            near: Feet at a raw vector close by, from which to go on; without them all edges are searched.
        """
        ctrl = raw[: 8 * self._segments].reshape(-1, 4, 2)
        placed, by_lay, turning = self.lays.place(raw)
        segment, t = self._searched(ctrl, placed) if near is None else (near.segment, near.t)
        segment, t = self._nearest(ctrl, placed, segment, t, 4 if near is None else 2)
        own = ctrl[segment]
        d = bezier.derivative(own, t)
        speed = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-9)
        tangent = d / speed[:, None]
        normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
        gap = placed - bezier.position(own, t)
        return Feet(
            segment=segment,
            t=t,
            tangent=tangent,
            normal=normal,
            speed=speed,
            bend=(bezier.second_derivative(own, t) * normal).sum(axis=1),
            distance=(gap * normal).sum(axis=1),
            beyond=self._beyond(own, segment, t, (gap * tangent).sum(axis=1)),
            placed=placed,
            by_lay=by_lay,
            turning=turning,
        )

    def jacobian(self, feet: Feet, size: int) -> sparse.csr_array:
        """Return the distances' derivatives by the raw vector, shape (count, size).

        Distances are positive where a point lies to the left of its edge's walk, outside the piece.
        """
        weights = bezier.basis(feet.t)
        weights += feet.beyond[:, None] * np.where(
            feet.t[:, None] > 0.5, [0.0, 0.0, -1.0, 1.0], [-1.0, 1.0, 0.0, 0.0]
        )
        by_edge = (-weights[:, :, None] * feet.normal[:, None, :]).reshape(-1, 8)
        by_lay = (feet.by_lay * feet.normal[:, None, :]).sum(axis=2)
        columns = self._columns(feet)
        data = np.concatenate([by_edge, by_lay], axis=1)
        known = columns >= 0
        rows = np.repeat(np.arange(self.count), known.sum(axis=1))
        return sparse.csr_array((data[known], (rows, columns[known])), shape=(self.count, size))

    def _columns(self, feet: Feet) -> NDArray[np.int64]:
        """Return the raw indices that each point depends on, shape (count, 13); -1 for none."""
        return np.concatenate([8 * feet.segment[:, None] + np.arange(8), self.lays.columns], axis=1)

    def curvature(self, feet: Feet) -> Blocks:
        """Return the second derivatives by the raw vector that the first derivatives' products leave out.

        They are those of half the sum of the squared distances over their standard deviations.
        With T and n the unit tangent and normal at a point's foot, s the speed there, v the second
        derivative's part along n, d the distance and D = s^2 - d v, a change moves the foot by
        (d b - s a) / D, where a is the change of the curve against the point along T and b the change of
        its derivative along n. Hence the distance's second derivatives are

            (s / D) (a b' + b a') - (v / D) a a' - (d / D) b b'

        and, for a point in a lay of its own, its turning. Points past an edge's end are left to their first
        derivatives, and so is the tilt of a fold.
        """
        D = feet.speed**2 - feet.distance * feet.bend
        beside = (feet.beyond == 0.0) & (D > 0.1 * feet.speed**2)  # noqa: SIM300 - D is no constant
        force = np.where(beside, feet.distance / self.sigma**2, 0.0)
        own = 8 + (OWN_UNKNOWNS if self.lays.size else 0)
        a = np.zeros((self.count, own))
        a[:, :8] = (bezier.basis(feet.t)[:, :, None] * feet.tangent[:, None]).reshape(-1, 8)
        if self.lays.size:
            a[:, 8:] = -(feet.by_lay * feet.tangent[:, None, :]).sum(axis=2)
        b = np.zeros_like(a)
        b[:, :8] = (bezier.basis_derivative(feet.t)[:, :, None] * feet.normal[:, None]).reshape(-1, 8)
        crossed, along, across = ((force * k / D)[:, None] for k in (feet.speed, feet.bend, feet.distance))
        right_a, right_b = crossed * b - 0.5 * along * a, -0.5 * across * b
        columns = self._columns(feet)[:, :own]
        order, starts = _grouped(columns[:, [0, 8, 11]] if self.lays.size else columns[:, :1])
        summed = np.empty((len(starts), own, own))
        turning = force * (feet.turning * feet.normal).sum(axis=1) if self.lays.size else None
        for g, mine in enumerate(np.split(order, starts[1:])):
            half = a[mine].T @ right_a[mine] + b[mine].T @ right_b[mine]
            summed[g] = half + half.T
            if turning is not None:
                summed[g, 8, 8] += turning[mine].sum()
        return np.maximum(columns[order[starts]], 0), summed  # what moves nothing has zeros in its block

    def _beyond(self, own: Array, segment: NDArray[np.int64], t: Array, along: Array) -> Array:
        """Return how far each point lies past its edge's end, in handle lengths; 0 beside the edge.

        There the foot stands on the end tangent, so that turning the handle moves it.
        """
        low, high = self._run[self.entry, 0], self._run[self.entry].sum(axis=1) - 1
        handle = np.where((t > 0.5)[:, None], own[:, 3] - own[:, 2], own[:, 1] - own[:, 0])
        before, after = (segment == low) & (t <= 0.0), (segment == high) & (t >= 1.0)
        past = np.where(before, np.minimum(along, 0.0), np.where(after, np.maximum(along, 0.0), 0.0))
        return past / np.maximum(np.hypot(handle[:, 0], handle[:, 1]), 1e-6)

    def misfits(self, feet: Feet) -> list[tuple[TracedPoints, Array]]:
        """Return each entry with its points' distances from their edge, mm; positive outside the piece."""
        return [(entry, feet.distance[self.entry == e]) for e, entry in enumerate(self.entries)]

    def _searched(self, ctrl: Array, placed: Array) -> tuple[NDArray[np.int64], Array]:
        """Return roughly where each point's foot is, from a search along its whole edge."""
        segment: NDArray[np.int64] = np.zeros(self.count, dtype=np.int64)
        t: Array = np.zeros(self.count)
        grid = np.linspace(0.0, 1.0, SAMPLES + 1)
        for e, (first, count) in enumerate(self._run):
            mine = self.entry == e
            curve = bezier.position(ctrl[first : first + count, None], grid).reshape(-1, 2)
            gap = placed[mine][:, None] - curve
            nearest = np.argmin((gap * gap).sum(axis=2), axis=1)
            segment[mine] = first + nearest // (SAMPLES + 1)
            t[mine] = grid[nearest % (SAMPLES + 1)]
        return segment, t

    def _nearest(
        self, ctrl: Array, placed: Array, segment: NDArray[np.int64], t: Array, times: int
    ) -> tuple[NDArray[np.int64], Array]:
        """Return where each point's foot is, by Newton steps from near it."""
        low, high = self._run[self.entry, 0], self._run[self.entry].sum(axis=1) - 1
        for _ in range(times):
            own = ctrl[segment]
            gap = bezier.position(own, t) - placed
            d, dd = bezier.derivative(own, t), bezier.second_derivative(own, t)
            slope = (gap * d).sum(axis=1)
            bend = (d * d).sum(axis=1) + (gap * dd).sum(axis=1)
            step = -slope / np.maximum(bend, 0.25 * (d * d).sum(axis=1) + 1e-12)
            t = t + np.clip(step, -0.5, 0.5)
            ahead, behind = (t > 1.0) & (segment < high), (t < 0.0) & (segment > low)
            segment = segment + ahead - behind
            t = np.clip(np.where(ahead, t - 1.0, np.where(behind, t + 1.0, t)), 0.0, 1.0)
        return segment, t


def _grouped(keys: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return an order that brings equal rows together, and where in it each group of them starts."""
    order = np.lexsort(keys.T[::-1])
    own = keys[order]
    new = np.concatenate([[True], (own[1:] != own[:-1]).any(axis=1)])
    return order, np.flatnonzero(new)


def _find(unknowns: Unknowns, entry: TracedPoints) -> EdgeRun:
    halves = [p for p in unknowns.panels.panels if entry.piece in {p.piece.name, p.name}]
    for panel in halves:
        for edge in panel.piece.edges:
            if entry.edge in {panel.edge_name(edge), edge.name}:
                return unknowns.runs[panel.name, edge.name]
    raise KeyError(f"{entry.piece}.{entry.edge}")
