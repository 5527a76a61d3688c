"""The unknowns of the solve, and the linear map from them to every Bezier point.

Conditions that are linear in the coordinates are built into the map instead of being solved for: a
corner on the fold has x = 0 and no unknown for it, a curve square to the fold shares its y with the
corner, pieces that are alike share their unknowns. What is left of them is exact by construction.

Coordinates are counted as ``z[8 * segment + 2 * point + axis]``, point 0..3 of each cubic segment.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.garment.kind import EdgeKind
from likesewn.truing.panels import Panel, Panels
from likesewn.truing.splines import bezier_matrix, fit_shape

Array = NDArray[np.float64]
Key = tuple[str, str, int]

__all__ = ["EdgeRun", "Unknowns", "template_controls"]


@dataclass(frozen=True, slots=True, eq=False)
class EdgeRun:
    """Where an edge's segments stand: ``count`` segments from ``first``."""

    panel: Panel
    edge: EdgeKind
    first: int
    count: int

    @property
    def z_start(self) -> int:
        """Index of the first coordinate of its first point."""
        return 8 * self.first

    @property
    def z_end(self) -> int:
        """Index of the first coordinate of its last point."""
        return 8 * (self.first + self.count - 1) + 6


class Unknowns:
    """The unknown coordinates and the affine map ``z = M @ x + k``.

    With ``squared`` curves that must meet the fold at a right angle do so by construction.

    Attributes:
        panels: The panels.
        runs: Edges by (panel name, edge name).
        M: Sparse map, shape (8 * segments, size).
        k: Constant part, shape (8 * segments,).
        size: Number of unknown coordinates.
        segments: Number of cubic segments.
        control: Unknown index (or -1) and constant of every control coordinate, by edge:
            arrays of shape (points, 2).
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
        self.M, self.k = self._map()

    def corner_z(self, panel: Panel, corner: str) -> int:
        """Return the index in ``z`` of the corner's x; its y follows."""
        for edge in panel.edges:
            run = self.runs[panel.name, edge.name]
            if edge.start == corner:
                return run.z_start
            if edge.end == corner:
                return run.z_end
        raise KeyError(corner)

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
        segment = 0
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
                self.runs[panel.name, edge.name] = EdgeRun(panel, edge, segment, spans)
                segment += spans
        return len(numbers)

    def _map(self) -> tuple[sparse.csr_array, Array]:
        rows: list[int] = []
        columns: list[int] = []
        values: list[float] = []
        k = np.zeros(8 * self.segments)
        for key, run in self.runs.items():
            index, constant = self.control[key]
            if run.edge.straight:
                weights = np.array([[[1.0, 0.0], [2 / 3, 1 / 3], [1 / 3, 2 / 3], [0.0, 1.0]]])
            else:
                weights = bezier_matrix(run.count)
            for span, point, control in zip(*np.nonzero(weights), strict=True):
                weight = float(weights[span, point, control])
                for axis in (0, 1):
                    row = 8 * (run.first + int(span)) + 2 * int(point) + axis
                    unknown = int(index[control, axis])
                    if unknown < 0:
                        k[row] += weight * constant[control, axis]
                    else:
                        rows.append(row)
                        columns.append(unknown)
                        values.append(weight)
        shape = (8 * self.segments, self.size)
        return sparse.csr_array((values, (rows, columns)), shape=shape), k


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
