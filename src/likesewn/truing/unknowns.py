"""The unknowns of the solve, and the maps from them to the edges' control points and Bezier points.

Conditions that are linear in the coordinates are built into the map instead of being solved for: a
corner on the fold has x = 0 and no unknown for it, a curve square to the fold shares its y with the
corner, pieces that are alike share their unknowns. What is left of them is exact by construction.

Every coordinate of a control point is one unknown or a constant. The control points of all edges stand one
after another, ``2 * point + axis``; an edge has its own copies of its corners. Each cubic segment depends on
four control points by a matrix of its own (``splines``), whatever the number of its edge's spans.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.garment.kind import EdgeKind
from likesewn.truing.panels import Panel, Panels
from likesewn.truing.splines import bezier_matrix, fit_shape

Array = NDArray[np.float64]
Key = tuple[str, str, int]

__all__ = ["EdgeRun", "Unknowns", "template_controls"]


@dataclass(frozen=True, slots=True, eq=False)
class EdgeRun:
    """Where an edge's segments and control points stand.

    Attributes:
        panel: The panel.
        edge: The edge.
        first: Its first segment.
        count: Number of its segments.
        start: Control coordinate that is the x of its first control point, the corner it starts from.
    """

    panel: Panel
    edge: EdgeKind
    first: int
    count: int
    start: int

    @property
    def end(self) -> int:
        """Control coordinate that is the x of its last control point."""
        return self.start + 2 * (1 if self.edge.straight else self.count + 2)


class Unknowns:
    """The unknown coordinates, and what follows from them.

    With ``squared`` curves that must meet the fold at a right angle do so by construction.

    Attributes:
        panels: The panels.
        runs: Edges by (panel name, edge name).
        size: Number of unknown coordinates.
        segments: Number of cubic segments.
        control: Unknown index (or -1) and constant of every control coordinate, by edge:
            arrays of shape (points, 2).
        index: The same for all edges, one after another: unknown of each control coordinate, or -1.
        constant: Its constant; 0 where it is unknown.
        columns: Control coordinates that each segment depends on, shape (segments, 8).
        bezier: Each segment's Bezier points by its four control points, shape (segments, 4, 4).
    """

    def __init__(self, panels: Panels, *, squared: bool = True) -> None:
        self.panels = panels
        self._squared = squared
        self.runs: dict[tuple[str, str], EdgeRun] = {}
        self.control: dict[tuple[str, str], tuple[NDArray[np.int64], Array]] = {}
        self._fixed: dict[Key, float] = {}
        self._same: dict[Key, Key] = {}
        self._merge()
        self.size = self._number()
        self.segments = sum(run.count for run in self.runs.values())
        self.index = np.concatenate([index.reshape(-1) for index, _ in self.control.values()])
        self.constant = np.concatenate([constant.reshape(-1) for _, constant in self.control.values()])
        points = np.concatenate([_points(run) for run in self.runs.values()])
        self.columns = (points[:, :, None] + np.arange(2)).reshape(-1, 8)
        self.bezier = np.concatenate([_bezier(run) for run in self.runs.values()])
        self._by_controls = np.ascontiguousarray(np.swapaxes(self.bezier, 1, 2))
        # the same for all eight coordinates of a segment
        self._bezier_8 = np.einsum("sij,ab->siajb", self.bezier, np.eye(2)).reshape(-1, 8, 8)

    def corner(self, panel: Panel, corner: str) -> int:
        """Return the control coordinate that is a corner's x; its y follows."""
        for edge in panel.edges:
            run = self.runs[panel.name, edge.name]
            if edge.start == corner:
                return run.start
            if edge.end == corner:
                return run.end
        raise KeyError(corner)

    def bezier_points(self, controls: Array) -> Array:
        """Return every segment's Bezier points, shape (segments, 4, 2), of all control coordinates."""
        return self.bezier @ controls[self.columns].reshape(-1, 4, 2)

    def by_controls(self, slopes: Array, segments: NDArray[np.int64] | slice = slice(None)) -> Array:
        """Return derivatives by segments' control points, of derivatives by their Bezier points.

        Args:
            slopes: Derivatives by the Bezier points, shape (n, 4, any).
            segments: The segments, n of them; all by default.

        Returns:
            Of the same shape, by the control points in the order of ``columns``.
        """
        return self._by_controls[segments] @ slopes

    def bent_by_controls(self, bent: Array) -> Array:
        """Return every segment's second derivatives likewise, both of shape (segments, 8, 8)."""
        return np.swapaxes(self._bezier_8, 1, 2) @ bent @ self._bezier_8

    def _root(self, key: Key) -> Key:
        while key in self._same:
            key = self._same[key]
        return key

    def _join(self, a: Key, b: Key) -> None:
        a, b = self._root(a), self._root(b)
        if a == b:
            return
        self._same[b] = a
        if b in self._fixed:
            self._fixed[a] = self._fixed.pop(b)

    def _merge(self) -> None:
        """Fix and join coordinates by the conditions that are linear."""
        for panel in self.panels.panels:
            piece = panel.piece
            on_axis = piece.fold_corners or frozenset(piece.grain)
            for corner in piece.corners:
                if corner.name in on_axis:
                    self._fixed[panel.name, corner.name, 0] = 0.0
                if corner.name in piece.level:
                    self._fixed[panel.name, corner.name, 1] = 0.0
            if self._squared:
                self._square_to_fold(panel)
            if panel.side and piece.opening and panel.side == piece.opening.sides[1]:
                other = piece.opening.sides[0]
                for corner in on_axis:
                    self._join((f"{piece.name}:{other}", corner, 1), (panel.name, corner, 1))
        for group in self.panels.alike:
            self._make_alike(group.pieces, group.edges)

    def _square_to_fold(self, panel: Panel) -> None:
        square = panel.piece.fold_corners & set(panel.piece.square)
        for edge in panel.edges:
            if edge.straight:
                continue
            for corner, beside in ((edge.start, 1), (edge.end, panel.spans[edge.name] + 1)):
                if corner in square:
                    self._join((panel.name, corner, 1), (panel.name, f"{edge.name}#{beside}", 1))

    def _make_alike(self, pieces: tuple[str, str], edges: tuple[str, ...]) -> None:
        one, two = (self.panels.of(name)[0] for name in pieces)
        for edge in one.edges:
            if edge.name not in edges:
                continue
            names = [edge.start, edge.end]
            if not edge.straight:
                names += [f"{edge.name}#{i}" for i in range(1, one.spans[edge.name] + 2)]
            for name in names:
                for axis in (0, 1):
                    self._join((one.name, name, axis), (two.name, name, axis))

    def _number(self) -> int:
        """Number the unknown coordinates in the order of the edges, and return how many there are."""
        numbers: dict[Key, int] = {}
        segment = start = 0
        for panel in self.panels.panels:
            for edge in panel.piece.edges:  # the fold too: it can be traced
                spans = 1 if edge.straight else panel.spans[edge.name]
                inner = [] if edge.straight else [f"{edge.name}#{i}" for i in range(1, spans + 2)]
                names = [edge.start, *inner, edge.end]
                index = np.full((len(names), 2), -1)
                constant = np.zeros((len(names), 2))
                for row, name in enumerate(names):
                    for axis in (0, 1):
                        root = self._root((panel.name, name, axis))
                        if root in self._fixed:
                            constant[row, axis] = self._fixed[root]
                        else:
                            index[row, axis] = numbers.setdefault(root, len(numbers))
                self.control[panel.name, edge.name] = index, constant
                self.runs[panel.name, edge.name] = EdgeRun(panel, edge, segment, spans, start)
                segment += spans
                start += 2 * len(names)
        return len(numbers)


def _points(run: EdgeRun) -> NDArray[np.int64]:
    """Return the x of each of the four control points of an edge's segments, shape (segments, 4)."""
    # a line has two, each twice
    steps = np.array([0, 0, 1, 1]) if run.edge.straight else np.arange(4)
    return run.start + 2 * (np.arange(run.count)[:, None] + steps)


def _bezier(run: EdgeRun) -> Array:
    """Return each segment's Bezier points by its own four control points, shape (segments, 4, 4)."""
    if run.edge.straight:
        far = np.arange(4) / 3.0
        return np.stack([1.0 - far, np.zeros(4), np.zeros(4), far], axis=1)[None]
    own = np.arange(run.count)
    # of a spline's control points only the four from a span's own number on move that span
    moving = own[:, None] + np.arange(4)
    return np.take_along_axis(bezier_matrix(run.count), moving[:, None, :], axis=2)


def template_controls(panel: Panel, edge: EdgeKind, start: Array, end: Array) -> Array:
    """Return the template's control points of an edge between two corners, shape (n, 2), mm."""
    if edge.straight:
        return np.array([start, end])
    inner = fit_shape(edge.shape, edge.frame, edge.shape_cubics, panel.spans[edge.name])
    along = end - start
    if edge.frame == "box":
        points = start + inner * along
    else:
        points = start + inner[:, :1] * along + inner[:, 1:] * np.array([-along[1], along[0]])
    return np.vstack([start, points, end])
