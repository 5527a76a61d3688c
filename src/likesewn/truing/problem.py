"""The whole problem: what was observed, what stands in, what sewing demands, what shapes are usual."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.garment import Kind, Record
from likesewn.garment.kind import StandIn
from likesewn.truing.assume import stand_ins
from likesewn.truing.matrices import added_blocks, factor_symmetric, scaled_rows
from likesewn.truing.panels import Panels, panels
from likesewn.truing.prior import anchor_spacing, shape_prior
from likesewn.truing.quantities import Quantities, Terms, add, scale
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
        to_raw: Map from the unknowns to the raw vector, which holds every Bezier coordinate in place of
            the unknown ones, shape (raw, size).
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
        coordinates, extras = 8 * self.unknowns.segments, self.quantities.extras
        self.traced = Traced(self.unknowns, record.points, coordinates + extras)
        others = extras + self.traced.lays.size
        self.size = self.unknowns.size + others
        self.to_raw = self._raw_map(others)
        self._raw_constant = np.concatenate([self.unknowns.k, np.zeros(others)])
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
        q = self.quantities
        rows = (*self.observed, *self.assumed)
        self._rows = q.rows([o.terms for o in rows])
        self._rows_mm = np.array([o.mm for o in rows])
        self._observed_sigma = np.array([o.sigma for o in self.observed])
        self._assumed_sigma = np.array([o.sigma for o in self.assumed])
        self._from_raw = sparse.csr_array(self.to_raw.T)
        self._conditions = q.rows([c.terms for c in self.conditions])
        self._targets = np.array([c.target for c in self.conditions])
        held = self.traced.lays.held
        columns = np.array([self.traced.lays.first + i for i, _, _ in held], dtype=int)
        weights = 1.0 / np.array([sigma for _, _, sigma in held])
        shape = len(held), int(self.to_raw.shape[0])
        self._held = sparse.csr_array((weights, (np.arange(len(held)), columns)), shape=shape)
        self._held_at = weights * np.array([value for _, value, _ in held])
        self.derived_keys = list(self.derived)
        self._derived = q.rows([terms for _, terms in self.derived.values()])

    def _raw_map(self, others: int) -> sparse.csr_array:
        M = self.unknowns.M
        return sparse.csr_array(sparse.block_diag([M, sparse.eye_array(others)])) if others else M

    def raw(self, x: Array) -> Array:
        """Return the raw vector: every Bezier coordinate ``z``, the extras and the lays."""
        return self.to_raw @ x + self._raw_constant

    def coordinates(self, x: Array) -> Array:
        """Return every Bezier coordinate ``z``."""
        return self.raw(x)[: 8 * self.unknowns.segments]

    def feet(self, x: Array, near: Feet | None = None) -> Feet | None:
        """Return where the traced points' feet stand, found from those near by; None without points."""
        return self.traced.feet(self.raw(x), near) if self.traced.count else None

    def evaluate(self, x: Array, weight: float, feet: Feet | None = None) -> Linearised:
        """Return the problem linearised at ``x``.

        Args:
            x: The unknowns.
            weight: Factor of the prior's sum of squares, applied here to the stand-ins.
            feet: The traced points' feet there, where they are known already.

        Returns:
            Residual rows in this order: recorded figures, stand-ins, traced points, what is known of lays.
        """
        raw = self.raw(x)
        values, by_raw = self.quantities.evaluate(raw)
        sigma = np.concatenate([self._observed_sigma, self._assumed_sigma / np.sqrt(weight)])
        residuals = (self._rows @ values - self._rows_mm) / sigma
        pulls = self._rows.T @ (residuals / sigma)
        rows = scaled_rows(self._rows @ by_raw, 1.0 / sigma)
        feet = feet or self.feet(x)
        if feet:
            residuals = np.concatenate([residuals, feet.distance / self.traced.sigma])
            by_points = scaled_rows(self.traced.jacobian(feet, len(raw)), 1.0 / self.traced.sigma)
            residuals = np.concatenate([residuals, self._held @ raw - self._held_at])
            rows = sparse.csr_array(sparse.vstack([rows, by_points, self._held], format="csr"))

        def curvature(multipliers: Array) -> sparse.csc_array:
            bent = self.quantities.curvature(raw, pulls + self._conditions.T @ multipliers)
            if feet:
                bent.append(self.traced.curvature(feet))
            return sparse.csc_array(self._from_raw @ added_blocks(bent, len(raw)) @ self.to_raw)

        return Linearised(
            residuals,
            rows @ self.to_raw,
            self._conditions @ values - self._targets,
            self._conditions @ by_raw @ self.to_raw,
            curvature,
        )

    def measure(self, x: Array) -> tuple[Array, sparse.csr_array]:
        """Return all derived measures, mm, in the order of ``derived_keys``, and their Jacobian."""
        values, by_raw = self.quantities.evaluate(self.raw(x))
        return self._derived @ values, self._derived @ by_raw @ self.to_raw

    def sides(self, x: Array) -> dict[str, tuple[float, float]]:
        """Return measures on the right and on the left, mm, by key, where the halves differ."""
        if not self._sides:
            return {}
        values, _ = self.quantities.evaluate(self.raw(x))
        found = self.quantities.rows([terms for side in self._sides.values() for terms in side]) @ values
        return {
            key: (float(right), float(left))
            for key, (right, left) in zip(self._sides, found.reshape(-1, 2), strict=True)
        }

    def rows(self, terms: Sequence[Terms], x: Array) -> sparse.csr_array:
        """Return the derivatives of combinations of quantities by the unknowns, shape (rows, size)."""
        _, by_raw = self.quantities.evaluate(self.raw(x))
        return self.quantities.rows(terms) @ by_raw @ self.to_raw

    def start(self) -> Array:
        """Return the template, laid out to the figures by a linear solve without conditions."""
        x = self._template(self._guess_scale())
        rows = [o for o in (*self.observed, *self.assumed) if o.op in START_OPERATIONS]
        L = self.quantities.rows([o.terms for o in rows])
        sigma = np.array([o.sigma for o in rows])
        P, p = shape_prior(self.unknowns, self._controls(x), self.size).matrix()
        for _ in range(2):
            values, by_raw = self.quantities.evaluate(self.raw(x))
            residuals = (L @ values - np.array([o.mm for o in rows])) / sigma
            J = scaled_rows(L @ by_raw, 1.0 / sigma) @ self.to_raw
            H = sparse.csc_array(J.T @ J + P.T @ P + 1e-9 * sparse.eye_array(self.size))
            x = x - factor_symmetric([[H]]).solve(J.T @ residuals + P.T @ (P @ x - p))
        return self.with_lays(x)

    def with_lays(self, x: Array) -> Array:
        """Return the unknowns with every lay put on the shapes that they stand for."""
        size = self.traced.lays.size
        return np.concatenate([x[: len(x) - size], self.traced.start(self.coordinates(x))])

    def prior(self, start: Array, weight: float) -> tuple[sparse.csr_array, Array]:
        """Return the prior's matrix and vector: shapes and free lays.

        Args:
            start: The unknowns to start from; they give each edge's scale.
            weight: Weight that the prior will be given in the end.
        """
        controls = self._controls(start)
        prior = shape_prior(self.unknowns, controls, self.size)
        for run in self.traced.curves:
            key = run.panel.name, run.edge.name
            anchor_spacing(prior, self.unknowns, key, controls[key], weight)
        first = self.size - self.traced.lays.size
        for i in range(first, first + 3 * self.traced.lays.frames):
            prior.single(i, float(start[i]), FRAME_SIGMA)
        return prior.matrix()

    def _guess_scale(self) -> float:
        """Return the garment's size over the template's: the median over measures of corners."""
        x = self._template(1.0)
        values, _ = self.quantities.evaluate(self.raw(x))
        rows = [o for o in (*self.observed, *self.assumed) if o.op in {"across", "from_fold", "down"}]
        template = self.quantities.rows([o.terms for o in rows]) @ values
        ratios = [o.mm / t for o, t in zip(rows, template, strict=True) if t > 1.0 and o.mm > 0.0]
        return float(np.median(ratios)) if ratios else 1.0

    def _template(self, size: float) -> Array:
        x = np.zeros(self.size)
        for panel in self.panels.panels:
            at = {c.name: size * np.array([c.x, c.y]) for c in panel.piece.corners}
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
