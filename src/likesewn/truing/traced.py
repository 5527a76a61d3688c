"""Traced points as observations: each is a distance square to its edge.

A point's foot on the edge is found anew at every step; by the envelope theorem the distance's
derivative needs no derivative of the foot. Beyond an edge's end the end tangent carries on, so that
noise at a corner does not pull on the corner.

Source: Ahn, Least Squares Orthogonal Distance Fitting of Curves and Surfaces in Space, ch. 2.
"""

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.garment import TracedPoints
from likesewn.geometry import bezier
from likesewn.truing.unknowns import EdgeRun, Unknowns

Array = NDArray[np.float64]

__all__ = ["Traced"]

TURN_SCALE = 100.0
"""Turns of a free frame enter the solve as the way they move a point at this distance, mm."""

SAMPLES = 12
"""Places per span at which the foot search starts: enough for the curves of a garment edge."""

MOST_DIRECTIONS = 6
"""Edges of one lay whose direction is tried both ways in all combinations; more are taken as the
first ones are."""


class Traced:
    """All traced points of a record, in the terms of these unknowns.

    Attributes:
        count: Number of points.
        frames: Number of free frames; each has three unknowns: turn times ``TURN_SCALE``, and where
            its points' middle lies, x and y, mm.
    """

    def __init__(self, unknowns: Unknowns, entries: Sequence[TracedPoints], first_extra: int) -> None:
        self._unknowns = unknowns
        self._first_extra = first_extra
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
        self._centres = self._first_extra + 3 * np.arange(self.frames)[:, None] + np.array([1, 2])

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

    def evaluate(self, x: Array, z: Array) -> tuple[Array, sparse.csr_array]:
        """Return the distances, shape (count,), mm, and their Jacobian by ``x``.

        Positive where a point lies to the left of its edge's walk, outside the piece.
        """
        ctrl = z.reshape(-1, 4, 2)
        placed, by_turn = self._place(x)
        segment, t = self._feet(ctrl, placed)
        here = bezier.position(ctrl[segment], t)
        d = bezier.derivative(ctrl[segment], t)
        d /= np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-12)[:, None]
        normal = np.stack([d[:, 1], -d[:, 0]], axis=1)
        distance = ((placed - here) * normal).sum(axis=1)
        v = 1 - t
        bernstein = np.stack([v**3, 3 * t * v**2, 3 * t**2 * v, t**3], axis=1)
        beyond = self._beyond(ctrl, segment, t, ((placed - here) * d).sum(axis=1))
        bernstein += beyond[:, None] * np.where(
            t[:, None] > 0.5, [0.0, 0.0, -1.0, 1.0], [-1.0, 1.0, 0.0, 0.0]
        )
        data = (-bernstein[:, :, None] * normal[:, None, :]).reshape(-1, 8)
        columns = 8 * segment[:, None] + np.arange(8)
        rows = np.arange(self.count)
        by_z = sparse.csr_array(
            (data.reshape(-1), columns.reshape(-1), 8 * np.arange(self.count + 1)),
            shape=(self.count, len(z)),
        )
        jacobian = by_z @ self._unknowns.M
        free = self._frame >= 0
        at = self._first_extra - self._unknowns.size + 3 * self._frame[free]
        extra_columns = (at[:, None] + np.arange(3)).reshape(-1)
        extra_data = np.stack([(by_turn * normal)[free].sum(axis=1), *normal[free].T], axis=1).reshape(-1)
        extra = sparse.csr_array(
            (extra_data, (np.repeat(rows[free], 3), extra_columns)),
            shape=(self.count, len(x) - self._unknowns.size),
        )
        return distance, sparse.csr_array(sparse.hstack([jacobian, extra], format="csr"))

    def curvature(self, x: Array, z: Array) -> sparse.csc_array:
        """Return the second derivatives by ``x`` that the first derivatives' products leave out.

        They are those of half the sum of the squared distances over their standard deviations.
        With T and n the unit tangent and normal at a point's foot, s the speed there, v the second
        derivative's part along n, d the distance and D = s^2 - d v, a change moves the foot by
        (d b - s a) / D, where a is the change of the curve against the point along T and b the change of
        its derivative along n. Hence the distance's second derivatives are

            (s / D) (a b' + b a') - (v / D) a a' - (d / D) b b'

        and, for a point in a free frame, its own turning. Points past an edge's end are left to their
        first derivatives.
        """
        ctrl = z.reshape(-1, 4, 2)
        placed, by_turn = self._place(x)
        segment, t = self._feet(ctrl, placed)
        own = ctrl[segment]
        d, dd = bezier.derivative(own, t), bezier.second_derivative(own, t)
        speed = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-9)
        tangent = d / speed[:, None]
        normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
        gap = placed - bezier.position(own, t)
        distance = (gap * normal).sum(axis=1)
        bend = (dd * normal).sum(axis=1)
        D = speed**2 - distance * bend
        v = 1 - t
        bernstein = np.stack([v**3, 3 * t * v**2, 3 * t**2 * v, t**3], axis=1)
        moving = 3.0 * np.stack([-v * v, v * v - 2 * t * v, 2 * t * v - t * t, t * t], axis=1)
        free = self._frame >= 0
        turning = np.where(free, -(tangent * by_turn).sum(axis=1), 0.0)
        a = np.concatenate(
            [
                (bernstein[:, :, None] * tangent[:, None]).reshape(-1, 8),
                np.stack([turning, *np.where(free, -tangent.T, 0.0)], axis=1),
            ],
            axis=1,
        )
        b = np.zeros_like(a)
        b[:, :8] = (moving[:, :, None] * normal[:, None]).reshape(-1, 8)
        beside = (self._beyond(ctrl, segment, t, (gap * tangent).sum(axis=1)) == 0.0) & (0.1 * speed**2 < D)
        force = np.where(beside, distance / self.sigma**2, 0.0)
        turned = placed - x[self._centres[self._frame]] if self.frames else np.zeros_like(placed)
        own_turn = -force * (turned * normal).sum(axis=1) / TURN_SCALE**2
        return self._gathered(
            segment, (a, b), (force * speed / D, force * bend / D, force * distance / D), own_turn
        )

    def _gathered(
        self,
        segment: NDArray[np.int64],
        vectors: tuple[Array, Array],
        factors: tuple[Array, Array, Array],
        own_turn: Array,
    ) -> sparse.csc_array:
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
        coordinates = self._unknowns.M.shape[0]
        rest = self._first_extra - self._unknowns.size + 3 * self.frames
        frame_columns = coordinates + self._first_extra - self._unknowns.size + 3 * np.maximum(groups[1], 0)
        columns = np.concatenate(
            [8 * groups[0][:, None] + np.arange(8), frame_columns[:, None] + np.arange(3)], axis=1
        )
        size = coordinates + rest
        if not self.frames:
            columns, blocks = columns[:, :8], blocks[:, :8, :8]
        i = np.repeat(columns, columns.shape[1], axis=1).reshape(-1)
        j = np.tile(columns, (1, columns.shape[1])).reshape(-1)
        matrix = sparse.csr_array((blocks.reshape(-1), (i, j)), shape=(size, size))
        to_x = (
            sparse.block_diag([self._unknowns.M, sparse.eye_array(rest)], format="csr")
            if rest
            else self._unknowns.M
        )
        return sparse.csc_array(to_x.T @ matrix @ to_x)

    def _beyond(self, ctrl: Array, segment: NDArray[np.int64], t: Array, along: Array) -> Array:
        """Return how far each point lies past its edge's end, in handle lengths; 0 beside the edge.

        There the foot stands on the end tangent, so that turning the handle moves it.
        """
        low, high = self._run[self._entry, 0], self._run[self._entry].sum(axis=1) - 1
        own = ctrl[segment]
        handle = np.where((t > 0.5)[:, None], own[:, 3] - own[:, 2], own[:, 1] - own[:, 0])
        before, after = (segment == low) & (t <= 0.0), (segment == high) & (t >= 1.0)
        past = np.where(before, np.minimum(along, 0.0), np.where(after, np.maximum(along, 0.0), 0.0))
        return past / np.maximum(np.hypot(handle[:, 0], handle[:, 1]), 1e-6)

    def misfits(self, x: Array, z: Array) -> list[tuple[TracedPoints, float]]:
        """Return each entry with the root mean square of its points' distances, mm."""
        if not self.count:
            return []
        distance, _ = self.evaluate(x, z)
        return [
            (entry, float(np.sqrt(np.mean(distance[self._entry == e] ** 2))))
            for e, entry in enumerate(self.entries)
        ]

    def _place(self, x: Array) -> tuple[Array, Array]:
        placed, by_turn = self._points.copy(), np.zeros_like(self._points)
        for f in range(self.frames):
            turn, *centre = x[self._first_extra + 3 * f : self._first_extra + 3 * f + 3]
            mine = self._frame == f
            c, s = np.cos(turn / TURN_SCALE), np.sin(turn / TURN_SCALE)
            turned = self._points[mine] @ np.array([[c, s], [-s, c]])
            placed[mine] = turned + centre
            by_turn[mine] = turned @ np.array([[0.0, 1.0], [-1.0, 0.0]]) / TURN_SCALE
        return placed, by_turn

    def _feet(self, ctrl: Array, placed: Array) -> tuple[NDArray[np.int64], Array]:
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
