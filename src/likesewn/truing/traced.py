"""Traced points as observations: each is a distance square to its edge.

A point's foot on the edge is found anew at every step; by the envelope theorem the distance's
derivative needs no derivative of the foot. Beyond an edge's end the end tangent carries on, so that
noise at a corner does not pull on the corner.

Source: Ahn, Least Squares Orthogonal Distance Fitting of Curves and Surfaces in Space, ch. 2.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.garment import TracedPoints
from likesewn.geometry import bezier
from likesewn.truing.matrices import added_blocks
from likesewn.truing.unknowns import EdgeRun, Unknowns

Array = NDArray[np.float64]

__all__ = ["Feet", "Traced"]

TURN_SCALE = 100.0
"""Turns of a free frame enter the solve as the way they move a point at this distance, mm."""

SAMPLES = 12
"""Places per span at which the foot search starts: enough for the curves of a garment edge."""

MOST_DIRECTIONS = 6
"""Edges of one lay whose direction is tried both ways in all combinations; more are taken as the
first ones are."""


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
        by_turn: Their derivatives by the turn of their frame, shape (count, 2).
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
    by_turn: Array


class Traced:
    """All traced points of a record.

    They are evaluated at the raw vector (see ``quantities``), in which the frames' unknowns stand from
    ``first_frame`` on.

    Attributes:
        count: Number of points.
        frames: Number of free frames; each has three unknowns: turn times ``TURN_SCALE``, and where
            its points' middle lies, x and y, mm.
    """

    def __init__(self, unknowns: Unknowns, entries: Sequence[TracedPoints], first_frame: int) -> None:
        self._segments = unknowns.segments
        self._first_frame = first_frame
        runs = [_find(unknowns, entry) for entry in entries]
        self.entries = tuple(entries)
        self._points = np.concatenate([_on_half(e) for e in entries]) if entries else np.zeros((0, 2))
        self.count = len(self._points)
        sizes = [len(e.at) for e in entries]
        self._entry = np.repeat(np.arange(len(entries)), sizes)
        self.sigma = np.repeat([e.sigma_mm for e in entries], sizes)
        self._run = np.array([[r.first, r.count] for r in runs], dtype=int).reshape(-1, 2)
        self._runs = runs
        lays = list(dict.fromkeys((e.piece, e.lay) for e in entries if e.lay))
        self.frames = len(lays)
        frame = np.array([lays.index((e.piece, e.lay)) if e.lay else -1 for e in entries], dtype=int)
        self._frame = np.repeat(frame, sizes)
        self._centre(frame)

    @property
    def curves(self) -> list[EdgeRun]:
        """The curved edges that points were traced on, each once."""
        return list(dict.fromkeys(run for run in self._runs if not run.edge.straight))

    def _centre(self, frame: NDArray[np.int64]) -> None:
        """Count the points of a free frame from their middle: turning then hardly moves them."""
        for f in range(self.frames):
            mine = self._frame == f
            self._points[mine] -= self._points[mine].mean(axis=0)
        self._entry_frame = frame
        self._centres = self._first_frame + 3 * np.arange(self.frames)[:, None] + np.array([1, 2])

    def start(self, z: Array) -> Array:
        """Return frame unknowns that lay the points on the shapes ``z``, shape (3 * frames,)."""
        ctrl = z.reshape(-1, 4, 2)
        result = np.zeros(3 * self.frames)
        for f in range(self.frames):
            result[3 * f : 3 * f + 3] = self._align(ctrl, f)
        return result

    def _align(self, ctrl: Array, f: int) -> Array:
        entries = np.flatnonzero(self._entry_frame == f)
        models: list[tuple[Array, Array]] = []
        for e in entries:
            share = _shares(self._points[self._entry == e])
            first, count = self._run[e]
            forward = _at_share(ctrl[first : first + count], share)
            models.append((forward, _at_share(ctrl[first : first + count], 1.0 - share)))
        mine = self._frame == f
        best: tuple[float, Array, bool] | None = None
        ways = product((0, 1), repeat=min(len(models), MOST_DIRECTIONS))
        for way in ways:
            chosen = [*way, *([way[0]] * (len(models) - len(way)))]
            wanted = np.concatenate([pair[w] for pair, w in zip(models, chosen, strict=True)])
            for flip in (False, True):
                points = self._points[mine] * ([-1.0, 1.0] if flip else [1.0, 1.0])
                angle, centre, cost = _rigid(points, wanted)
                # a mirror image must fit clearly better before it is believed
                if best is None or cost * (1.1 if flip else 1.0) < best[0]:
                    best = cost * (1.1 if flip else 1.0), np.array([angle * TURN_SCALE, *centre]), flip
        if best is None:
            raise AssertionError("a lay without points")
        if best[2]:
            self._points[mine] *= [-1.0, 1.0]
        return best[1]

    def feet(self, raw: Array) -> Feet:
        """Return where every point's foot stands, and what the edge is like there."""
        ctrl = raw[: 8 * self._segments].reshape(-1, 4, 2)
        placed, by_turn = self._place(raw)
        segment, t = self._nearest(ctrl, placed)
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
            by_turn=by_turn,
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
        by_frame = np.stack([(feet.by_turn * feet.normal).sum(axis=1), *feet.normal.T], axis=1)
        rows, free = np.arange(self.count), self._frame >= 0
        i = np.concatenate([np.repeat(rows, 8), np.repeat(rows[free], 3)])
        j = np.concatenate(
            [
                (8 * feet.segment[:, None] + np.arange(8)).reshape(-1),
                (self._first_frame + 3 * self._frame[free, None] + np.arange(3)).reshape(-1),
            ]
        )
        data = np.concatenate([by_edge.reshape(-1), by_frame[free].reshape(-1)])
        return sparse.csr_array((data, (i, j)), shape=(self.count, size))

    def curvature(self, feet: Feet, raw: Array) -> sparse.csr_array:
        """Return the second derivatives by the raw vector that the first derivatives' products leave out.

        They are those of half the sum of the squared distances over their standard deviations.
        With T and n the unit tangent and normal at a point's foot, s the speed there, v the second
        derivative's part along n, d the distance and D = s^2 - d v, a change moves the foot by
        (d b - s a) / D, where a is the change of the curve against the point along T and b the change of
        its derivative along n. Hence the distance's second derivatives are

            (s / D) (a b' + b a') - (v / D) a a' - (d / D) b b'

        and, for a point in a free frame, its own turning. Points past an edge's end are left to their
        first derivatives.
        """
        free = self._frame >= 0
        D = feet.speed**2 - feet.distance * feet.bend
        turning = np.where(free, -(feet.tangent * feet.by_turn).sum(axis=1), 0.0)
        a = np.concatenate(
            [
                (bezier.basis(feet.t)[:, :, None] * feet.tangent[:, None]).reshape(-1, 8),
                np.stack([turning, *np.where(free, -feet.tangent.T, 0.0)], axis=1),
            ],
            axis=1,
        )
        b = np.zeros_like(a)
        b[:, :8] = (bezier.basis_derivative(feet.t)[:, :, None] * feet.normal[:, None]).reshape(-1, 8)
        beside = (feet.beyond == 0.0) & (D > 0.1 * feet.speed**2)  # noqa: SIM300 - D is no constant
        force = np.where(beside, feet.distance / self.sigma**2, 0.0)
        own_turn = np.zeros(self.count)
        if self.frames:
            turned = feet.placed - raw[self._centres[self._frame]]
            own_turn = -force * (turned * feet.normal).sum(axis=1) / TURN_SCALE**2
        factors = force * feet.speed / D, force * feet.bend / D, force * feet.distance / D
        return self._gathered(feet.segment, (a, b), factors, own_turn, len(raw))

    def _gathered(
        self,
        segment: NDArray[np.int64],
        vectors: tuple[Array, Array],
        factors: tuple[Array, Array, Array],
        own_turn: Array,
        size: int,
    ) -> sparse.csr_array:
        """Return the points' second derivatives added up: points of one segment and frame share a block."""
        a, b = vectors
        crossed, along, across = factors
        groups, group = np.unique(np.stack([segment, self._frame]), axis=1, return_inverse=True)
        blocks = np.zeros((groups.shape[1], 11, 11))
        for g in range(groups.shape[1]):
            mine = group.reshape(-1) == g
            mixed = (a[mine] * crossed[mine, None]).T @ b[mine]
            blocks[g] = mixed + mixed.T
            blocks[g] -= (a[mine] * along[mine, None]).T @ a[mine]
            blocks[g] -= (b[mine] * across[mine, None]).T @ b[mine]
            if groups[1, g] >= 0:
                blocks[g, 8, 8] += own_turn[mine].sum()
        edge = 8 * groups[0][:, None] + np.arange(8)
        if not self.frames:
            return added_blocks([(edge, blocks[:, :8, :8])], size)
        frame = self._first_frame + 3 * np.maximum(groups[1], 0)[:, None] + np.arange(3)
        return added_blocks([(np.concatenate([edge, frame], axis=1), blocks)], size)

    def _beyond(self, own: Array, segment: NDArray[np.int64], t: Array, along: Array) -> Array:
        """Return how far each point lies past its edge's end, in handle lengths; 0 beside the edge.

        There the foot stands on the end tangent, so that turning the handle moves it.
        """
        low, high = self._run[self._entry, 0], self._run[self._entry].sum(axis=1) - 1
        handle = np.where((t > 0.5)[:, None], own[:, 3] - own[:, 2], own[:, 1] - own[:, 0])
        before, after = (segment == low) & (t <= 0.0), (segment == high) & (t >= 1.0)
        past = np.where(before, np.minimum(along, 0.0), np.where(after, np.maximum(along, 0.0), 0.0))
        return past / np.maximum(np.hypot(handle[:, 0], handle[:, 1]), 1e-6)

    def misfits(self, raw: Array) -> list[tuple[TracedPoints, float]]:
        """Return each entry with the root mean square of its points' distances, mm."""
        if not self.count:
            return []
        distance = self.feet(raw).distance
        return [
            (entry, float(np.sqrt(np.mean(distance[self._entry == e] ** 2))))
            for e, entry in enumerate(self.entries)
        ]

    def _place(self, raw: Array) -> tuple[Array, Array]:
        placed, by_turn = self._points.copy(), np.zeros_like(self._points)
        for f in range(self.frames):
            turn, *centre = raw[self._first_frame + 3 * f : self._first_frame + 3 * f + 3]
            mine = self._frame == f
            c, s = np.cos(turn / TURN_SCALE), np.sin(turn / TURN_SCALE)
            turned = self._points[mine] @ np.array([[c, s], [-s, c]])
            placed[mine] = turned + centre
            by_turn[mine] = turned @ np.array([[0.0, 1.0], [-1.0, 0.0]]) / TURN_SCALE
        return placed, by_turn

    def _nearest(self, ctrl: Array, placed: Array) -> tuple[NDArray[np.int64], Array]:
        segment: NDArray[np.int64] = np.zeros(self.count, dtype=np.int64)
        t: Array = np.zeros(self.count)
        grid = np.linspace(0.0, 1.0, SAMPLES + 1)
        for e, (first, count) in enumerate(self._run):
            mine = self._entry == e
            curve = bezier.position(ctrl[first : first + count, None], grid).reshape(-1, 2)
            gap = placed[mine][:, None] - curve
            nearest = np.argmin((gap * gap).sum(axis=2), axis=1)
            segment[mine] = first + nearest // (SAMPLES + 1)
            t[mine] = grid[nearest % (SAMPLES + 1)]
        low, high = self._run[self._entry, 0], self._run[self._entry].sum(axis=1) - 1
        for _ in range(4):
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


def _find(unknowns: Unknowns, entry: TracedPoints) -> EdgeRun:
    halves = [p for p in unknowns.panels.panels if entry.piece in {p.piece.name, p.name}]
    for panel in halves:
        for edge in panel.piece.edges:
            if entry.edge in {panel.edge_name(edge), edge.name}:
                return unknowns.runs[panel.name, edge.name]
    raise KeyError(f"{entry.piece}.{entry.edge}")


def _on_half(entry: TracedPoints) -> Array:
    """Return the points on the half that is solved for: a half traced at x < 0 is mirrored."""
    points = np.array(entry.at, dtype=float)
    if not entry.lay and len(points) and points[:, 0].mean() < 0.0:
        points[:, 0] *= -1.0
    return points


def _shares(points: Array) -> Array:
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    return along / max(float(along[-1]), 1e-12)


def _at_share(ctrl: Array, share: Array) -> Array:
    """Return points of an edge at shares of its length, near enough to start an alignment."""
    grid = np.linspace(0.0, 1.0, 33)
    curve = bezier.position(ctrl[:, None], grid).reshape(-1, 2)
    along = _shares(curve)
    return np.stack([np.interp(share, along, curve[:, axis]) for axis in (0, 1)], axis=1)


def _rigid(points: Array, wanted: Array) -> tuple[float, Array, float]:
    """Return the turn and the place of the middle that lay ``points`` on ``wanted``, and the misfit.

    Least squares in the plane, in closed form; ``points`` are counted from their middle.
    """
    middle = wanted.mean(axis=0)
    to = wanted - middle
    sine = float((points[:, 0] * to[:, 1] - points[:, 1] * to[:, 0]).sum())
    cosine = float((points * to).sum())
    angle = float(np.arctan2(sine, cosine))
    c, s = np.cos(angle), np.sin(angle)
    left = points @ np.array([[c, s], [-s, c]]) - to
    return angle, middle, float((left * left).sum())
