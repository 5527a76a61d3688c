"""The shape prior: the kind's own curve shapes, which decide only what nothing observed decides.

Every term is linear in the unknowns: a control point is drawn towards the place that the template's
shape gives it between its edge's two corners, wherever these are, so that the prior neither resists
a change of size nor needs a start near the answer. Second differences of the deviation are drawn
towards zero more firmly, so that an edge bends evenly where it must deviate.
"""

from collections.abc import Iterator, Mapping
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.garment.kind import EdgeKind
from likesewn.truing.matrices import Sparse
from likesewn.truing.splines import fit_shape
from likesewn.truing.unknowns import Unknowns

Array = NDArray[np.float64]

__all__ = ["Prior", "ShapePrior", "anchor_spacing"]

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


Controls = tuple[NDArray[np.int64], Array]
"""Control points of an edge or more: unknown's index (-1 for none) and constant of each, both (n, 2)."""


class Prior:
    """Linear prior terms ``P @ x - p``, each divided by its standard deviation."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._blocks: list[tuple[Array, NDArray[np.int64], Array]] = []

    def terms(self, rows: Array, of: Controls) -> NDArray[np.int64]:
        """Add terms: combinations of control coordinates, each near 0.

        Args:
            rows: Factors of the coordinates over the terms' standard deviations, shape (terms, 2 n).
            of: The control points.

        Returns:
            Which of them were added: those of constants alone say nothing.
        """
        index, constant = of[0].reshape(-1), of[1].reshape(-1)
        known = index >= 0
        own = rows[:, known]
        rest = -(rows[:, ~known] @ constant[~known])
        used = np.flatnonzero(np.abs(own).max(axis=1, initial=0.0) > 1e-14)
        self._blocks.append((own[used], index[known], rest[used]))
        return used

    def single(self, index: int, value: float, sigma: float) -> None:
        """Add a term: an unknown is near ``value``, give or take ``sigma``, mm."""
        self._blocks.append((np.array([[1.0 / sigma]]), np.array([index]), np.array([value / sigma])))

    def matrix(self) -> tuple[Sparse, Array]:
        """Return P, shape (terms, unknowns), and p, shape (terms,)."""
        i: list[NDArray[np.int64]] = [np.zeros(0, dtype=np.int64)]
        j: list[NDArray[np.int64]] = [np.zeros(0, dtype=np.int64)]
        values: list[Array] = [np.zeros(0)]
        first = 0
        for rows, index, _ in self._blocks:
            r, c = np.nonzero(rows)
            i.append(r + first)
            j.append(index[c])
            values.append(rows[r, c])
            first += len(rows)
        at = np.concatenate(i), np.concatenate(j)
        P = sparse.csr_array((np.concatenate(values), at), shape=(first, self._size))
        return P, np.concatenate([np.zeros(0), *(rest for _, _, rest in self._blocks)])


class ShapePrior:
    """The shape prior of some unknowns.

    Its terms are written once, for edges with a chord of 1 mm, and scaled to the garment's own size.
    """

    def __init__(self, unknowns: Unknowns, size: int) -> None:
        """Write the terms.

        Args:
            unknowns: The unknowns.
            size: Number of all unknowns, extras included.
        """
        self._prior = Prior(size)
        self._unknowns = unknowns
        self._edges: list[tuple[str, str]] = []  # of each term, that whose chord it is scaled by
        self._chords: list[tuple[int, int]] = []  # terms drawn to the chord, and along which axis
        for key, run in unknowns.runs.items():
            own = unknowns.control[key]
            ends = np.zeros((2, own[0].size))
            ends[[0, 1], [0, 1]], ends[[0, 1], [-2, -1]] = -1.0, 1.0
            first = len(self._edges)
            used = self._terms(key, ends / CORNER, own)
            self._chords += [(first + i, int(axis)) for i, axis in enumerate(used)]
            if not run.edge.straight:
                self._terms(key, _shape_rows(run.edge, run.count), own)
        for one, two, mirrored in _pairs(unknowns):
            self._same(one, two, mirrored=mirrored)
        self._P, self._p = self._prior.matrix()

    def matrix(self, start: Mapping[tuple[str, str], Array]) -> tuple[Sparse, Array]:
        """Return P, shape (terms, unknowns), and p, shape (terms,).

        Args:
            start: The control points at the garment's own size, by (panel, edge), mm: they give each
                edge's chord.
        """
        chords = {key: points[-1] - points[0] for key, points in start.items()}
        lengths = {key: float(np.hypot(*chord)) for key, chord in chords.items()}
        scale = 1.0 / np.array([lengths[key] for key in self._edges])
        targets = self._p.copy()
        for term, axis in self._chords:
            targets[term] += chords[self._edges[term]][axis] / CORNER
        data = self._P.data * np.repeat(scale, np.diff(self._P.indptr))
        P = sparse.csr_array((data, self._P.indices, self._P.indptr), shape=self._P.shape)
        return P, targets * scale

    def _terms(self, key: tuple[str, str], rows: Array, of: Controls) -> NDArray[np.int64]:
        used = self._prior.terms(rows, of)
        self._edges += [key] * len(used)
        return used

    def _same(self, one: tuple[str, str], two: tuple[str, str], *, mirrored: bool) -> None:
        """Draw two edges towards one another."""
        (index_1, constant_1), (index_2, constant_2) = (self._unknowns.control[key] for key in (one, two))
        if mirrored:
            index_2, constant_2 = index_2[::-1], constant_2[::-1]
        rows = slice(None) if len(index_1) == len(index_2) else [0, -1]
        index = np.concatenate([index_1[rows], index_2[rows]])
        constant = np.concatenate([constant_1[rows], constant_2[rows]])
        each = np.eye(len(index))
        other = each * np.tile([-1.0 if mirrored else 1.0, 1.0], len(index) // 2)
        self._terms(one, np.concatenate([each, -other], axis=1) / APART, (index, constant))


def _pairs(unknowns: Unknowns) -> Iterator[tuple[tuple[str, str], tuple[str, str], bool]]:
    """Yield the edges that are drawn towards one another, and whether mirrored."""
    panels = unknowns.panels
    for group in panels.apart if not panels.kind.halves else ():
        one, two = (panels.of(name)[0].name for name in group.pieces)
        yield from (((one, edge), (two, edge), False) for edge in group.edges)
    for pair in panels.kind.halves:
        # on opened pieces each half to its own
        (piece_1, edge_1), (piece_2, edge_2) = pair.one.split("."), pair.two.split(".")
        for half_1, half_2 in zip(panels.of(piece_1), panels.of(piece_2), strict=True):
            yield (half_1.name, edge_1), (half_2.name, edge_2), pair.mirrored
    for piece in panels.kind.pieces:
        halves = panels.of(piece.name)
        if len(halves) > 1:
            # both halves of an opened piece: what was recorded of it as a whole says nothing of each
            names = halves[0].name, halves[1].name
            yield from (((names[0], e.name), (names[1], e.name), False) for e in halves[0].edges)


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
    spans = run.count
    sigma = SPACING * float(np.hypot(*(start[-1] - start[0]))) * weight**0.5
    along = start[2:] - start[:-2]
    along = along / np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)[:, None]
    deviation = _deviation(run.edge, spans).reshape(spans + 3, 2, -1)[1:-1]
    prior.terms((along[:, :, None] * deviation).sum(axis=1) / sigma, unknowns.control[key])


@lru_cache(maxsize=256)
def _deviation(edge: EdgeKind, spans: int) -> Array:
    """Return each control coordinate's deviation from the template's place, as rows over all of them.

    Shape (2 n, 2 n) for n control points.
    """
    n = spans + 3
    rows = np.eye(2 * n)
    for row in range(n):
        for axis in (0, 1):
            for corner, a, share in _template(edge, spans, row, axis):
                rows[2 * row + axis, 2 * (corner % n) + a] -= share
    rows.setflags(write=False)
    return rows


@lru_cache(maxsize=256)
def _shape_rows(edge: EdgeKind, spans: int) -> Array:
    """Return the terms that draw an edge of chord length 1 mm to its template, shape (terms, 2 n)."""
    deviation = _deviation(edge, spans).reshape(spans + 3, 2, -1)
    share = _shares(spans)
    place = deviation[1:-1] / (4.0 * share * (1.0 - share) * PLACE / edge.firm)[:, None, None]
    bend = (deviation[:-2] - 2.0 * deviation[1:-1] + deviation[2:]) / (BEND / (edge.firm * spans**2))
    rows = np.concatenate([place, bend]).reshape(-1, 2 * (spans + 3))
    rows.setflags(write=False)
    return rows


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
