"""How the traced pieces lay: from readings on a mat to places in a piece's frame.

Points of one piece that lay still together share a lay. A lay at any place and angle has three unknowns:
its turn, and where the middle of its points lies. One that was read in the piece's own frame has none,
unless both halves were traced: then the line that x was counted from need not be the garment's centre, and
the same three unknowns stand near where they should be.

A fold that was traced need not lie on the centre either: a garment folded in half by eye is off by some
millimetres. Its shift and tilt are two more unknowns for each lay, held near 0 by ``off_centre``.

A point on a half that is drawn mirrored (the viewer's left half, the second half of an opened piece) is
placed on the whole piece first and then mirrored on to the half that is solved for.
"""

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import TracedPoints
from likesewn.geometry import bezier
from likesewn.truing.unknowns import EdgeRun

Array = NDArray[np.float64]

__all__ = ["OWN_UNKNOWNS", "TURN_SCALE", "Lays"]

TURN_SCALE = 100.0
"""Turns enter the solve as the way they move a point at this distance, mm."""

OWN_UNKNOWNS = 5
"""Unknowns that move a point: its lay's turn, x and y, its fold's shift and tilt."""

CENTRE_LINE = 5.0
"""How far the line that both halves were counted from may lie off the garment's centre, mm, and as much
again by its tilt at ``TURN_SCALE`` from its middle."""

LEVEL = 1e-3
"""The same for the level that y was counted from, mm: the kind's level corner decides it."""

MOST_DIRECTIONS = 6
"""Edges of one lay whose direction is tried both ways in all combinations; the others follow from those."""

FLIPPED = 1.1
"""A mirror image must fit this much better before it is believed."""


class Lays:
    """The lays of a record's traced points.

    Attributes:
        size: Number of unknowns, in the raw vector from ``first`` on: three for each frame, then two for each
            fold.
        frames: Number of lays with unknowns.
        held: Unknowns that something is known of: index from ``first``, value, standard deviation (mm).
        columns: Raw indices of the unknowns that move each point, shape (count, 5); -1 for none.
        sides: Half that each entry was traced on: ``left``, ``right`` or empty where nobody knows.
        names: Piece and name of each lay with unknowns.
        centres: Unknowns that tell how far a traced fold, or the line that x was counted from, lies off the
            centre: index from ``first``, what it is, its lay, where it would be on the centre (mm).
        mirror: 1 or -1 for each point: whether its half is drawn mirrored, shape (count,).
    """

    def __init__(self, entries: Sequence[TracedPoints], runs: Sequence[EdgeRun], first: int) -> None:
        self.first = first
        sizes = [len(e.at) for e in entries]
        self._entry = np.repeat(np.arange(len(entries)), sizes)
        lays = [(e.piece, e.lay) for e in entries]
        on_fold = [run.panel.piece.fold is run.edge for run in runs]
        self.sides = tuple(_side(e, run) for e, run in zip(entries, runs, strict=True))
        both: dict[tuple[str, str], set[str]] = {}
        for lay, side, fold in zip(lays, self.sides, on_fold, strict=True):
            both.setdefault(lay, set()).update(() if fold else (side,))
        loose = [bool(e.lay) or {"left", "right"} <= both[lay] for e, lay in zip(entries, lays, strict=True)]
        names = list(dict.fromkeys(lay for lay, free in zip(lays, loose, strict=True) if free))
        frame = [names.index(lay) if free else -1 for lay, free in zip(lays, loose, strict=True)]
        self.names = tuple(names)
        self.frames = len(names)
        self._given = [not any(lay == name and lay[1] for lay in lays) for name in names]
        off = {
            f: e.off_centre_mm
            for e, f, fold in zip(entries, frame, on_fold, strict=True)
            if fold and f >= 0 and e.off_centre_mm > 0.0
        }
        self.folds = tuple(off)
        self.size = 3 * self.frames + 2 * len(off)
        fold = [
            self.folds.index(f) if f in off and own else -1 for f, own in zip(frame, on_fold, strict=True)
        ]
        self._frame = np.repeat(np.array(frame, dtype=int), sizes)
        self._fold = np.repeat(np.array(fold, dtype=int), sizes)
        free, folded = np.flatnonzero(self._frame >= 0), np.flatnonzero(self._fold >= 0)
        self._free = free, 3 * self._frame[free]
        self._folded = folded, 3 * self.frames + 2 * self._fold[folded]
        mirrors = [_mirror(e, run) for e, run in zip(entries, runs, strict=True)]
        self._entry_mirror = np.array(mirrors)
        self.mirror = np.repeat(self._entry_mirror, sizes) if entries else np.zeros(0)
        self._entry_frame = np.array(frame, dtype=int)
        self._read(entries, runs, frame)
        self.held = tuple(self._held(off))
        self.centres = tuple(self._centres())
        self.columns = self._columns()

    def _read(self, entries: Sequence[TracedPoints], runs: Sequence[EdgeRun], frame: Sequence[int]) -> None:
        """Take the readings; those of a lay are counted from their middle: turning hardly moves it."""
        self._points = (
            np.concatenate([_points(*own) for own in zip(entries, runs, frame, strict=True)])
            if entries
            else np.zeros((0, 2))
        )
        self._unmoved = np.zeros((len(self._points), OWN_UNKNOWNS, 2))
        self._middle = np.zeros((self.frames, 2))
        for f in range(self.frames):
            mine = self._frame == f
            self._middle[f] = self._points[mine].mean(axis=0)
            self._points[mine] -= self._middle[f]

    def _held(self, off: dict[int, float]) -> list[tuple[int, float, float]]:
        held: list[tuple[int, float, float]] = []
        for f in range(self.frames):
            if self._given[f]:
                x, y = (float(v) for v in self._middle[f])
                held += [(3 * f, 0.0, CENTRE_LINE), (3 * f + 1, x, CENTRE_LINE), (3 * f + 2, y, LEVEL)]
        for i, sigma in enumerate(off.values()):
            at = 3 * self.frames + 2 * i
            held += [(at, 0.0, sigma), (at + 1, 0.0, sigma)]
        return held

    def _centres(self) -> Iterator[tuple[int, str, tuple[str, str], float]]:
        for f in range(self.frames):
            if self._given[f]:
                yield 3 * f + 1, "line that x was counted from", self.names[f], float(self._middle[f, 0])
        for i, f in enumerate(self.folds):
            yield 3 * self.frames + 2 * i, "fold that was traced", self.names[f], 0.0

    def _columns(self) -> NDArray[np.int64]:
        frame = np.where(self._frame >= 0, self.first + 3 * self._frame, -1)
        fold = np.where(self._fold >= 0, self.first + 3 * self.frames + 2 * self._fold, -1)
        columns = np.concatenate([frame[:, None] + np.arange(3), fold[:, None] + np.arange(2)], axis=1)
        columns[self._frame < 0, :3] = -1
        columns[self._fold < 0, 3:] = -1
        return columns

    def place(self, raw: Array) -> tuple[Array, Array, Array]:
        """Place the points in their half's frame.

        Args:
            raw: The raw vector.

        Returns:
            The points, shape (count, 2), mm; their derivatives by the five unknowns that move them, shape
            (count, 5, 2); and their second derivatives by the turn, shape (count, 2).
        """
        if not self.size:
            return self._points, self._unmoved, self._unmoved[:, 0]
        placed, by = self._points.copy(), self._unmoved.copy()
        bend = np.zeros_like(placed)
        own = raw[self.first : self.first + self.size]
        free, at = self._free
        angle = own[at] / TURN_SCALE
        c, s = np.cos(angle), np.sin(angle)
        x, y = self._points[free].T
        flip = self.mirror[free]
        across, down = flip * (c * x - s * y), s * x + c * y
        placed[free, 0], placed[free, 1] = across + flip * own[at + 1], down + own[at + 2]
        by[free, 0, 0], by[free, 0, 1] = -flip * down / TURN_SCALE, flip * across / TURN_SCALE
        by[free, 1, 0], by[free, 2, 1] = flip, 1.0
        bend[free, 0], bend[free, 1] = -across / TURN_SCALE**2, -down / TURN_SCALE**2
        folded, at = self._folded
        if len(folded):
            tilt = own[at + 1] / TURN_SCALE
            by[folded, 3, 0], by[folded, 4, 0] = -1.0, -placed[folded, 1] / TURN_SCALE
            by[folded, :3, 0] -= tilt[:, None] * by[folded, :3, 1]
            placed[folded, 0] -= own[at] + tilt * placed[folded, 1]
        return placed, by, bend

    def start(self, ctrl: Array, runs: Sequence[EdgeRun]) -> Array:
        """Return unknowns that lay the points on shapes, shape (size,).

        Args:
            ctrl: Bezier points of every segment, shape (segments, 4, 2), mm.
            runs: The edge of each entry.
        """
        result = np.zeros(self.size)
        for i, value, _ in self.held:
            result[i] = value
        for f in range(self.frames):
            if not self._given[f]:
                result[3 * f : 3 * f + 3] = self._align(ctrl, runs, f)
        return result

    def _align(self, ctrl: Array, runs: Sequence[EdgeRun], f: int) -> Array:
        entries = np.flatnonzero(self._entry_frame == f)
        models: list[tuple[Array, Array]] = []
        for e in entries:
            share = _shares(self._points[self._entry == e])
            run = runs[int(e)]
            own = ctrl[run.first : run.first + run.count] * [self._entry_mirror[e], 1.0]
            models.append((_at_share(own, share), _at_share(own, 1.0 - share)))
        mine = self._frame == f
        best: tuple[float, Array, bool] | None = None
        for flip in (False, True):
            points = self._points[mine] * ([-1.0, 1.0] if flip else [1.0, 1.0])
            for way in product((0, 1), repeat=min(len(models), MOST_DIRECTIONS)):
                angle, centre, cost = _aligned(points, models, [*way])
                cost *= FLIPPED if flip else 1.0
                if best is None or cost < best[0]:
                    best = cost, np.array([angle * TURN_SCALE, *centre]), flip
        if best is None:
            raise AssertionError("a lay without points")
        if best[2]:
            self._points[mine] *= [-1.0, 1.0]
        return best[1]


def _mirror(entry: TracedPoints, run: EdgeRun) -> float:
    """Return -1 where the half is drawn mirrored: an opened piece's second, else the viewer's left."""
    if run.panel.side:
        return run.panel.hand
    return -1.0 if _side(entry, run) == "left" else 1.0


def _side(entry: TracedPoints, run: EdgeRun) -> str:
    """Return which half was traced: as it was said, or in a piece's own frame by the sign of x."""
    if run.panel.piece.fold is None:
        return ""
    if entry.side or entry.lay or not len(entry.at):
        return entry.side
    return "left" if entry.at[:, 0].mean() < 0.0 else "right"


def _points(entry: TracedPoints, run: EdgeRun, frame: int) -> Array:
    """Return the readings; without a frame of their own they are brought to the half that is solved for."""
    points = np.array(entry.at, dtype=float)
    if run.panel.piece.fold is None or not len(points):
        return points
    if frame < 0 and points[:, 0].mean() < 0.0:
        points[:, 0] *= -1.0
    if frame >= 0 and not entry.lay and _side(entry, run) == "left" and points[:, 0].mean() > 0.0:
        points[:, 0] *= -1.0  # x was counted away from the centre on both halves
    return points


def _aligned(
    points: Array, models: Sequence[tuple[Array, Array]], way: list[int]
) -> tuple[float, Array, float]:
    """Return the turn, the middle's place and the misfit of points laid on models in given directions.

    Directions beyond those given follow: each the one that fits better where the first ones put the points.
    """
    given = len(way)
    sizes = [len(pair[0]) for pair in models]
    ends = np.cumsum(sizes)
    head = slice(0, int(ends[given - 1]))
    wanted = np.concatenate([pair[w] for pair, w in zip(models[:given], way, strict=True)])
    offset = points[head].mean(axis=0)
    angle, centre, cost = _rigid(points[head] - offset, wanted)
    if given == len(models):
        return angle, centre - _turned(offset[None], angle)[0], cost
    for i in range(given, len(models)):
        own = _turned(points[ends[i] - sizes[i] : ends[i]] - offset, angle) + centre
        forward, backward = (float(((own - m) ** 2).sum()) for m in models[i])
        way.append(int(backward < forward))
    return _aligned(points, models, way)


def _turned(points: Array, angle: float) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    return points @ np.array([[c, s], [-s, c]])


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
    left = _turned(points, angle) - to
    return angle, middle, float((left * left).sum())
