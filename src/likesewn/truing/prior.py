"""The shape prior: the kind's own curve shapes, which decide only what nothing observed decides.

Every term is linear in the unknowns: a control point is drawn towards the place that the template's
shape gives it between its edge's two corners, wherever these are, so that the prior neither resists
a change of size nor needs a start near the answer. Second differences of the deviation are drawn
towards zero more firmly, so that an edge bends evenly where it must deviate.
"""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.garment.kind import EdgeKind
from likesewn.truing.panels import Panel
from likesewn.truing.splines import fit_shape
from likesewn.truing.unknowns import Unknowns

Array = NDArray[np.float64]

__all__ = ["Prior", "anchor_spacing", "shape_prior"]

PLACE = 0.08
"""Standard deviation of a control point from the template's place, in chord lengths, at the middle of
an edge; it falls to nothing towards the corners, since directions there are kept more often than not."""

BEND = 0.4
"""Standard deviation of second differences of that deviation, in chord lengths for one span; it falls
with the square of the number of spans, as second differences of a given curve do."""

CORNER = 0.3
"""Standard deviation of the vector between an edge's corners from the template's, in chord lengths:
it only keeps what nothing else places from drifting."""

SPACING = 0.015
"""Standard deviation of a control point along its edge from the template's spacing, in chord lengths, where
points were traced: points say nothing of how a curve is travelled, and left alone that freedom makes the
steps crawl. It is held at full weight; the shape, square to the edge, stays free."""

APART = 0.02
"""Standard deviation of the difference between two pieces that are alike but told apart, or between the
halves of a piece that opens out, in chord lengths."""


class Prior:
    """Linear prior terms ``P @ x - p``, each divided by its standard deviation."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._rows: list[dict[int, float]] = []
        self._targets: list[float] = []

    def term(self, parts: list[tuple[int, float, float]], target: float, sigma: float) -> None:
        """Add a term: sum of factor times (unknown or constant) is near ``target``.

        Args:
            parts: Unknown's index (-1 for none), constant, factor.
            target: Where the sum is drawn to, mm.
            sigma: How far it may stray, mm.
        """
        row: dict[int, float] = {}
        rest = target
        for index, constant, factor in parts:
            rest -= factor * constant
            if index >= 0:
                row[index] = row.get(index, 0.0) + factor
        if any(abs(v) > 1e-14 for v in row.values()):
            self._rows.append({k: v / sigma for k, v in row.items()})
            self._targets.append(rest / sigma)

    def matrix(self) -> tuple[sparse.csr_array, Array]:
        """Return P, shape (terms, unknowns), and p, shape (terms,)."""
        indices = np.fromiter((j for row in self._rows for j in row), dtype=np.int64)
        values = np.fromiter((v for row in self._rows for v in row.values()), dtype=float)
        indptr = np.concatenate([[0], np.cumsum([len(row) for row in self._rows])])
        shape = (len(self._rows), self._size)
        matrix = sparse.csr_array((values, indices, indptr), shape=shape)
        return matrix, np.array(self._targets)


def shape_prior(unknowns: Unknowns, start: Mapping[tuple[str, str], Array], size: int) -> Prior:
    """Return the prior for these unknowns.

    Args:
        unknowns: The unknowns.
        start: The template's control points at the garment's own size, by (panel, edge), mm: they
            give each edge's scale.
        size: Number of all unknowns, extras included.

    Returns:
        The prior.
    """
    prior = Prior(size)
    for (name, edge_name), run in unknowns.runs.items():
        index, constant = unknowns.control[name, edge_name]
        chord = start[name, edge_name][-1] - start[name, edge_name][0]
        length = float(np.hypot(*chord))
        for axis in (0, 1):
            parts = [
                (int(index[-1, axis]), float(constant[-1, axis]), 1.0),
                (int(index[0, axis]), float(constant[0, axis]), -1.0),
            ]
            prior.term(parts, float(chord[axis]), CORNER * length)
        if not run.edge.straight:
            _edge(prior, run.panel, run.edge, index, constant, length)
    for group in unknowns.panels.apart:
        one, two = (unknowns.panels.of(name)[0] for name in group.pieces)
        _near(prior, unknowns, (one, two), group.edges, start)
    for piece in unknowns.panels.kind.pieces:
        halves = unknowns.panels.of(piece.name)
        if len(halves) > 1:
            # both halves of an opened piece: what was recorded of it as a whole says nothing of each
            edges = tuple(edge.name for edge in halves[0].edges)
            _near(prior, unknowns, (halves[0], halves[1]), edges, start)
    return prior


def anchor_spacing(
    prior: Prior, unknowns: Unknowns, key: tuple[str, str], start: Array, weight: float
) -> None:
    """Hold the spacing of an edge's control points, whatever the weight of the rest of the prior.

    Args:
        prior: The prior to add to.
        unknowns: The unknowns.
        key: The edge, (panel, edge).
        start: Its control points at the start, shape (n, 2), mm: they give the direction along it.
        weight: Weight that the prior will be given.
    """
    run = unknowns.runs[key]
    index, constant = unknowns.control[key]
    spans = len(start) - 3
    sigma = SPACING * float(np.hypot(*(start[-1] - start[0]))) * weight**0.5
    for row in range(1, spans + 2):
        along = start[row + 1] - start[row - 1]
        along = along / max(float(np.hypot(*along)), 1e-9)
        parts: list[tuple[int, float, float]] = []
        for axis in (0, 1):
            parts.append((int(index[row, axis]), float(constant[row, axis]), float(along[axis])))
            for corner, a, share in _template(run.edge, spans, row, axis):
                here = (int(index[corner, a]), float(constant[corner, a]), -share * float(along[axis]))
                parts.append(here)
        prior.term(parts, 0.0, sigma)


def _template(edge: EdgeKind, spans: int, row: int, axis: int) -> list[tuple[int, int, float]]:
    """Return the template's place of a control point as (corner 0 or -1, axis, factor) parts."""
    if row == 0:
        return [(0, axis, 1.0)]
    if row == spans + 2:
        return [(-1, axis, 1.0)]
    u, v = (float(w) for w in fit_shape(edge.shape, edge.frame, edge.shape_cubics, spans)[row - 1])
    if edge.frame == "box":
        share = u if axis == 0 else v
        return [(0, axis, 1.0 - share), (-1, axis, share)]
    # v counts to the right hand of the chord: x gets -v dy, y gets +v dx
    cross = -v if axis == 0 else v
    return [(0, axis, 1.0 - u), (-1, axis, u), (0, 1 - axis, -cross), (-1, 1 - axis, cross)]


def _shares(spans: int) -> Array:
    """Return how far along its edge each inner control point acts, as a share (Greville abscissae)."""
    knots = np.concatenate([np.zeros(3), np.linspace(0.0, 1.0, spans + 1), np.ones(3)])
    return np.array([knots[i + 1 : i + 4].mean() for i in range(1, spans + 2)])


def _edge(
    prior: Prior,
    panel: Panel,
    edge: EdgeKind,
    index: NDArray[np.int64],
    constant: Array,
    length: float,
) -> None:
    spans = panel.spans[edge.name]

    def deviation(row: int, axis: int, factor: float) -> list[tuple[int, float, float]]:
        parts = [(int(index[row, axis]), float(constant[row, axis]), factor)]
        for corner, a, share in _template(edge, spans, row, axis):
            parts.append((int(index[corner, a]), float(constant[corner, a]), -factor * share))
        return parts

    for row, share in zip(range(1, spans + 2), _shares(spans), strict=True):
        place = 4.0 * share * (1.0 - share)
        for axis in (0, 1):
            prior.term(deviation(row, axis, 1.0), 0.0, place * PLACE * length / edge.firm)
            bent = [
                *deviation(row - 1, axis, 1.0),
                *deviation(row, axis, -2.0),
                *deviation(row + 1, axis, 1.0),
            ]
            prior.term(bent, 0.0, BEND * length / (edge.firm * spans**2))


def _near(
    prior: Prior,
    unknowns: Unknowns,
    panels: tuple[Panel, Panel],
    edges: tuple[str, ...],
    start: Mapping[tuple[str, str], Array],
) -> None:
    one, two = panels
    for name in edges:
        index_1, constant_1 = unknowns.control[one.name, name]
        index_2, constant_2 = unknowns.control[two.name, name]
        rows = range(len(index_1)) if len(index_1) == len(index_2) else (0, -1)
        length = float(np.hypot(*(start[one.name, name][-1] - start[one.name, name][0])))
        for row in rows:
            for axis in (0, 1):
                parts = [
                    (int(index_1[row, axis]), float(constant_1[row, axis]), 1.0),
                    (int(index_2[row, axis]), float(constant_2[row, axis]), -1.0),
                ]
                prior.term(parts, 0.0, APART * length)
