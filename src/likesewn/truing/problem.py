"""The whole problem: what was observed, what stands in, what sewing demands, what shapes are usual."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.garment import Kind, Record
from likesewn.garment.kind import StandIn
from likesewn.truing.assume import stand_ins
from likesewn.truing.matrices import Sparse, StepMatrix, by_rows, summed
from likesewn.truing.panels import Panels, panels
from likesewn.truing.prior import Prior, ShapePrior, anchor_spacing
from likesewn.truing.quantities import Quantities, Terms, add, scale
from likesewn.truing.rows import Rows
from likesewn.truing.solve import Linearised
from likesewn.truing.terms import Condition, Writer
from likesewn.truing.traced import Feet, Traced
from likesewn.truing.unknowns import Unknowns, template_controls

Array = NDArray[np.float64]

__all__ = ["Observation", "Problem"]

START_OPERATIONS = frozenset({"across", "from_fold", "down", "down_to_edge", "level"})
"""Measures that place corners almost linearly: the solve starts from the template laid out by them."""

FRAME_SIGMA = 2000.0
"""How far a free frame may lie from where it started, mm: keeps a straight edge's points from sliding."""


@dataclass(frozen=True, slots=True)
class Observation:
    """One figure held against one measure: recorded, or standing in."""

    key: str
    title: str
    terms: Terms
    mm: float
    sigma: float
    op: str
    stand_in: StandIn | None = None


class Problem:
    """Everything that the solve needs to know of one garment.

    With ``every_measure`` the measures at a height that nobody recorded are told too, at the height's
    stand-in. Without ``demands`` nothing is asked of seams, corners and joins: what is left is the record
    alone.

    Attributes:
        kind: The kind.
        record: The record.
        panels: The panels solved for.
        unknowns: Their unknowns.
        quantities: The quantities that rows are made of.
        observed: Recorded figures.
        assumed: Figures that stand in.
        derived: All measures of the kind that can be told, by key.
        conditions: What sewing demands.
        traced: Traced points.
        size: Number of unknowns: coordinates, then extras, then the lays of traced points.
        unknown: Unknown of each entry of the raw vector, which holds every control coordinate in place of the
            unknown ones; -1 for none. One more -1 stands at the end, for raw indices of none.
    """

    def __init__(
        self,
        kind: Kind,
        record: Record,
        of: Panels | None = None,
        *,
        every_measure: bool = False,
        demands: bool = True,
    ) -> None:
        self.kind = kind
        self.record = record
        self._every_measure = every_measure
        self.panels = of or panels(kind, record)
        self.unknowns = Unknowns(self.panels, squared=demands)
        self.quantities = Quantities(self.unknowns)
        self.writer = Writer(self.panels, self.unknowns, self.quantities)
        self._write(demands=demands)
        self.quantities.freeze()
        coordinates, extras = len(self.unknowns.index), self.quantities.extras
        self.traced = Traced(self.unknowns, record.points, coordinates + extras)
        others = extras + self.traced.lays.size
        self.size = self.unknowns.size + others
        more = self.unknowns.size + np.arange(others)
        self.unknown = np.concatenate([self.unknowns.index, more, [-1]])
        self._raw_constant = np.concatenate([self.unknowns.constant, np.zeros(others)])
        self._stack()

    def _write(self, *, demands: bool) -> None:
        tape = self.record.tape
        given = {key: figure.mm for key, figure in tape.items()}
        for measure in self.kind.measures.values():
            # one piece's own figure says something of the measure as a whole to its stand-ins
            own = [given[k] for k in measure.variants() if k in given]
            if own and measure.key not in given:
                given[measure.key] = float(np.mean(own))
        self.stand_ins = stand_ins(self.kind, given)
        self.known = given | {key: value for key, (value, _) in self.stand_ins.items()}
        self.observed: list[Observation] = []
        self.assumed: list[Observation] = []
        self.derived: dict[str, tuple[str, Terms]] = {}
        self._sides: dict[str, tuple[Terms, ...]] = {}
        for measure in self.kind.measures.values():
            if measure.op != "level" or self._level_used(measure.key):
                self._write_measure(measure.key)
        self.conditions: list[Condition] = self.writer.conditions(self.record) if demands else []

    def _write_measure(self, key: str) -> None:
        measure = self.kind.measures[key]
        if measure.level and measure.level.measure and not self._level_used(measure.level.measure):
            return
        tape = self.record.tape
        told = False
        for variant, pieces in measure.variants().items():
            title = measure.title if variant == key else f"{measure.title}, {pieces[0]}"
            if variant in tape or variant == key:
                terms = self.writer.measure(measure, pieces)
                self.derived[variant] = title, terms
                if variant in tape:
                    figure = tape[variant]
                    sigma = figure.sigma_mm or measure.sigma
                    self.observed.append(Observation(variant, title, terms, figure.mm, sigma, measure.op))
                    told = True
        if measure.sides:
            on = ([self.writer.measure(one, one.pieces) for one in side] for side in measure.sides)
            self._sides[key] = tuple(scale(add(*parts), 1.0 / len(parts)) for parts in on)
        if not told and key in self.stand_ins:
            value, used = self.stand_ins[key]
            sigma = max(measure.share * abs(value), 2.0)
            terms = self.derived[key][1]
            self.assumed.append(Observation(key, measure.title, terms, value, sigma, measure.op, used))

    def _level_used(self, key: str) -> bool:
        """Return whether a level matters: it was recorded, or a recorded measure is taken at it."""
        if key in self.record.tape:
            return True
        if self._every_measure:
            return key in self.known
        return any(
            variant in self.record.tape
            for m in self.kind.measures.values()
            if m.level and m.level.measure == key
            for variant in m.variants()
        )

    def _stack(self) -> None:
        rows = (*self.observed, *self.assumed)
        self._rows = self.written([o.terms for o in rows])
        self._rows_mm = np.array([o.mm for o in rows])
        self._observed_sigma = np.array([o.sigma for o in self.observed])
        self._assumed_sigma = np.array([o.sigma for o in self.assumed])
        self._conditions = self.written([c.terms for c in self.conditions])
        self._targets = np.array([c.target for c in self.conditions])
        self._by_block = self.unknown[self.traced.blocks]
        held = self.traced.lays.held
        self._held = np.array([self.traced.lays.first + i for i, _, _ in held], dtype=int)
        self._held_mm = np.array([value for _, value, _ in held])
        self._held_weights = np.array([1.0 / sigma for _, _, sigma in held])
        self.derived_keys = list(self.derived)
        self._shapes = ShapePrior(self.unknowns, self.size)

    def written(self, terms: Sequence[Terms]) -> Rows:
        """Return combinations of quantities as rows over the unknowns."""
        return Rows(self.quantities, terms, self.unknown, self.size)

    def by_unknowns(self, columns: NDArray[np.int64], slopes: Array) -> Sparse:
        """Return derivatives by entries of the raw vector as a matrix over the unknowns.

        Args:
            columns: The entries, shape (rows, any); -1 for none.
            slopes: The derivatives, of the same shape.
        """
        return by_rows(self.unknown[columns], slopes, self.size)

    def matrix(self, prior: Sparse) -> StepMatrix:
        """Return the layout of the solve's matrix.

        Args:
            prior: Matrix P of the prior's terms.
        """
        blocks = (*self.quantities.blocks, self.traced.blocks, self._held[:, None])
        return StepMatrix(self.size, [self.unknown[at] for at in blocks], self._rows, self._conditions, prior)

    def raw(self, x: Array) -> Array:
        """Return the raw vector: every control coordinate, the extras and the lays."""
        return np.where(self.unknown[:-1] >= 0, x[self.unknown[:-1]], self._raw_constant)

    def bezier_points(self, x: Array) -> Array:
        """Return every segment's Bezier points, shape (segments, 4, 2), mm."""
        return self.unknowns.bezier_points(self.raw(x)[: len(self.unknowns.index)])

    def feet(self, x: Array, near: Feet | None = None) -> Feet | None:
        """Return where the traced points' feet stand, found from those near by; None without points."""
        return self.traced.feet(self.raw(x), near) if self.traced.count else None

    def evaluate(self, x: Array, weight: float, matrix: StepMatrix, feet: Feet | None = None) -> Linearised:
        """Return the problem linearised at ``x``.

        Args:
            x: The unknowns.
            weight: Factor of the prior's sum of squares, applied here to the stand-ins.
            matrix: Layout of the solve's matrix.
            feet: The traced points' feet there, where they are known already.

        Returns:
            Residuals in this order: recorded figures, stand-ins, traced points, what is known of lays.
        """
        raw = self.raw(x)
        at = self.quantities.evaluate(raw)
        sigma = np.concatenate([self._observed_sigma, self._assumed_sigma / np.sqrt(weight)])
        figures = (self._rows.values(at) - self._rows_mm) / sigma
        by_figures = self._rows.derivatives(at) / sigma[self._rows.row]
        residuals, columns, pulls = [figures], [self._rows.column], [by_figures * figures[self._rows.row]]
        squares = matrix.squares(by_figures)
        feet = feet or self.feet(x)
        by_points = self.traced.slopes(feet) if feet else np.zeros((0, 1))
        if feet:
            distances = feet.distance / self.traced.sigma
            held = self._held_weights * (raw[self._held] - self._held_mm)
            residuals += [distances, held]
            columns += [self._by_block[self.traced.block(feet)].reshape(-1), self.unknown[self._held]]
            pulls += [(by_points * distances[:, None]).reshape(-1), self._held_weights * held]
            blocks = [self.traced.squares(feet, by_points), (self._held_weights**2)[:, None, None]]
            squares += matrix.blocks(len(self.quantities.blocks), blocks)
        by_conditions = self._conditions.derivatives(at)

        def curvature(multipliers: Array) -> Array:
            forces = self._rows.forces(figures / sigma) + self._conditions.forces(multipliers)
            bent = self.quantities.curvature(at, forces)
            return matrix.blocks(0, [*bent, self.traced.curvature(feet)] if feet else bent)

        def jacobian() -> Sparse:
            rows = [self._rows.matrix(by_figures)]
            if feet:
                rows.append(self.by_unknowns(self.traced.blocks[self.traced.block(feet)], by_points))
                rows.append(self.by_unknowns(self._held[:, None], self._held_weights[:, None]))
            return sparse.csr_array(sparse.vstack(rows, format="csr"))

        return Linearised(
            residuals=np.concatenate(residuals),
            # unknowns are counted from 1 here, since -1 stands for none
            gradient=summed(np.concatenate(columns) + 1, np.concatenate(pulls), self.size + 1)[1:],
            squares=squares,
            gaps=self._conditions.values(at) - self._targets,
            conditions=by_conditions,
            curvature=curvature,
            jacobian=jacobian,
            condition_jacobian=lambda: self._conditions.matrix(by_conditions),
        )

    def measure(self, x: Array) -> tuple[Array, Sparse]:
        """Return all derived measures, mm, in the order of ``derived_keys``, and their Jacobian."""
        at = self.quantities.evaluate(self.raw(x))
        rows = self.written([terms for _, terms in self.derived.values()])
        return rows.values(at), rows.matrix(rows.derivatives(at))

    def sides(self, x: Array) -> dict[str, tuple[float, float]]:
        """Return measures on the right and on the left, mm, by key, where the halves differ."""
        if not self._sides:
            return {}
        at = self.quantities.evaluate(self.raw(x))
        found = self.written([terms for side in self._sides.values() for terms in side]).values(at)
        return {
            key: (float(right), float(left))
            for key, (right, left) in zip(self._sides, found.reshape(-1, 2), strict=True)
        }

    def rows(self, terms: Sequence[Terms], x: Array) -> Sparse:
        """Return the derivatives of combinations of quantities by the unknowns, shape (rows, size)."""
        rows = self.written(terms)
        return rows.matrix(rows.derivatives(self.quantities.evaluate(self.raw(x))))

    def start(self) -> Array:
        """Return the template, laid out to the figures by a linear solve without conditions."""
        x = self._template()
        x[: self.unknowns.size] *= self._guess_scale(x)
        placing = [o for o in (*self.observed, *self.assumed) if o.op in START_OPERATIONS]
        rows, mm = self.written([o.terms for o in placing]), np.array([o.mm for o in placing])
        sigma = np.array([o.sigma for o in placing])
        P, p = self._shapes.matrix(self._controls(x))
        matrix = StepMatrix(self.size, (), rows, Rows(self.quantities, (), self.unknown, self.size), P)
        for _ in range(2):
            at = self.quantities.evaluate(self.raw(x))
            residuals = (rows.values(at) - mm) / sigma
            by = rows.derivatives(at) / sigma[rows.row]
            factor = matrix.factorise(matrix.squares(by) + matrix.prior(1.0), np.zeros(0), damping=1e-9)
            gradient = summed(rows.column, by * residuals[rows.row], self.size) + (P @ x - p) @ P
            x = x - factor.solve(gradient)
        return self.with_lays(x)

    def with_lays(self, x: Array) -> Array:
        """Return the unknowns with every lay put on the shapes that they stand for."""
        size = self.traced.lays.size
        return np.concatenate([x[: len(x) - size], self.traced.start(self.bezier_points(x))])

    def prior(self, start: Array, weight: float) -> tuple[Sparse, Array]:
        """Return the prior's matrix and vector: shapes and free lays.

        Args:
            start: The unknowns to start from; they give each edge's scale.
            weight: Weight that the prior will be given in the end.
        """
        controls = self._controls(start)
        prior = Prior(self.size)
        for run in self.traced.curves:
            key = run.panel.name, run.edge.name
            anchor_spacing(prior, self.unknowns, key, controls[key], weight)
        first = self.size - self.traced.lays.size
        for i in range(first, first + 3 * self.traced.lays.frames):
            prior.single(i, float(start[i]), FRAME_SIGMA)
        (shapes, to_shapes), (more, to_more) = self._shapes.matrix(controls), prior.matrix()
        P = sparse.csr_array(sparse.vstack([shapes, more], format="csr"))
        return P, np.concatenate([to_shapes, to_more])

    def _guess_scale(self, x: Array) -> float:
        """Return the garment's size over the template's ``x``: the median over measures of corners."""
        rows = [o for o in (*self.observed, *self.assumed) if o.op in {"across", "from_fold", "down"}]
        template = self.written([o.terms for o in rows]).values(self.quantities.evaluate(self.raw(x)))
        ratios = [o.mm / t for o, t in zip(rows, template, strict=True) if t > 1.0 and o.mm > 0.0]
        return float(np.median(ratios)) if ratios else 1.0

    def _template(self) -> Array:
        x = np.zeros(self.size)
        for panel in self.panels.panels:
            at = {c.name: np.array([c.x, c.y]) for c in panel.piece.corners}
            for edge in panel.edges:
                index, _ = self.unknowns.control[panel.name, edge.name]
                points = template_controls(panel, edge, at[edge.start], at[edge.end])
                known = index >= 0
                x[index[known]] = points[known]
        for i, key in enumerate(self.writer.levels):
            x[self.unknowns.size + i] = self.known[key]
        return x

    def _controls(self, x: Array) -> Mapping[tuple[str, str], Array]:
        controls: dict[tuple[str, str], Array] = {}
        for key, (index, constant) in self.unknowns.control.items():
            controls[key] = np.where(index >= 0, x[index], constant)
        return controls
