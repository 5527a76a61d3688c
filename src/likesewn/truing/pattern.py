"""From a record to a pattern: the one solve, its answer checked, and what it has to say."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from shapely import LinearRing

from likesewn.garment import (
    Assumption,
    Finding,
    Kind,
    MeasureValue,
    Pattern,
    PatternPiece,
    Record,
    Weight,
)
from likesewn.garment.kind import StandIn
from likesewn.geometry import Path, bezier, self_crossings
from likesewn.truing.checks import join_angles, seam_lengths, square_angles
from likesewn.truing.disagree import Disagreement, disagreements
from likesewn.truing.pieces import panel_paths, pattern_pieces
from likesewn.truing.plausible import odd_shapes
from likesewn.truing.problem import Problem
from likesewn.truing.solve import Linearised, Solution, factorise, minimise
from likesewn.units import format_length

Array = NDArray[np.float64]

__all__ = ["LENGTH_LIMIT", "WEAK", "Untrued", "prior_weight", "solved", "true"]

WEAK = 1e-3
"""Weight of the prior against tape figures alone: what was observed moves by less than a thousandth of the
way to the usual shape, and what was not is still decided."""

POINTS_AT_FULL = 400
"""Traced points at which the prior gets its full weight. Every point brings noise, which would otherwise
shape whatever hangs on a traced edge and was not observed itself: an end tangent turned by a millimetre of
noise swings a whole seam."""

GENTLE = (1.0, 3e-2)
"""Weights gone through first where the direct way fails: from firm usual shapes on."""

LENGTH_LIMIT = 0.01
"""Greatest difference of a sewn pair, mm."""

ANGLE_LIMIT = 0.05
"""Greatest deviation of a square corner or smooth join, degrees."""

MISSED = 1.0
"""A figure missed by more than this, mm, is mentioned even where no figure is clearly wrong."""

OFF_CURVE = 2.0
"""Root mean square of points' distances, over their standard deviation, at which they are mentioned."""


@dataclass(frozen=True, slots=True)
class Untrued:
    """No pattern: the conditions and figures cannot be brought together.

    Attributes:
        reason: Why, in words.
        conditions: The conditions and figures that fight, the worst first.
    """

    reason: str
    conditions: tuple[str, ...]


def true(record: Record, kind: Kind) -> Pattern | Untrued:
    """Recover flat pieces that sew together and honour the record as far as it allows.

    Minimised are the recorded figures' and points' misfits over their standard deviations; exactly
    kept are the kind's seams, square corners and smooth joins; what nothing observed decides is taken
    from the kind's stand-ins and usual shapes.

    Args:
        record: What was observed. Its kind's needed measures should be there; others stand in.
        kind: The garment's kind.

    Returns:
        The pattern, or why there is none.
    """
    problem = Problem(kind, record)
    found = _solve(problem)
    if isinstance(found, Untrued):
        return found
    return _pattern(problem, *found)


def _solve(
    problem: Problem,
) -> tuple[Solution, tuple[sparse.csr_array, Array], Mapping[str, int]] | Untrued:
    start, weight = problem.start(), prior_weight(problem)
    prior = problem.prior(start, weight)
    solution = solved(problem, prior, start, (weight,))
    crossed = _crossed(problem, solution.x)
    if not solution.converged or crossed:
        gentle = solved(problem, prior, start, (*GENTLE, weight))
        if gentle.converged or not solution.converged:
            solution, crossed = gentle, _crossed(problem, gentle.x)
    if not solution.converged:
        return _refusal(problem, solution)
    return solution, prior, crossed


def prior_weight(problem: Problem) -> float:
    """Return the weight of the prior for this problem."""
    return max(WEAK, min(1.0, problem.traced.count / POINTS_AT_FULL))


def solved(
    problem: Problem, prior: tuple[sparse.csr_array, Array], start: Array, weights: Iterable[float]
) -> Solution:
    """Return the solution reached by going through the prior's weights one after another."""
    x, steps = start, 0
    solution: Solution | None = None
    for weight in weights:

        def evaluate(at: Array, weight: float = weight) -> Linearised:
            return problem.evaluate(at, weight)

        solution = minimise(evaluate, prior, weight, x)
        x, steps = solution.x, steps + solution.steps
    if solution is None:
        raise ValueError("no weights were given")
    return solution


def _crossed(problem: Problem, x: Array) -> dict[str, int]:
    """Return how often each piece's outline crosses itself, where it does."""
    paths = panel_paths(problem.unknowns, problem.coordinates(x))
    counted = {piece.name: _crossings(piece) for piece in pattern_pieces(problem.panels, paths)}
    return {name: count for name, count in counted.items() if count}


def _crossings(piece: PatternPiece) -> int:
    """Return how often the outline crosses itself; most do not, which a polygon tells at once."""
    outline = Path.join([edge.path for edge in piece.edges])
    sampled = bezier.position(outline.segments[:, None], np.linspace(0.0, 1.0, 24, endpoint=False))
    if LinearRing(sampled.reshape(-1, 2)).is_simple:
        return 0
    return len(self_crossings(outline, closed=True))


def _refusal(problem: Problem, solution: Solution) -> Untrued:
    conditions = zip(solution.at.gaps, problem.conditions, strict=True)
    gaps = [(abs(g), f"{c.name} ({c.sort})") for g, c in conditions]
    pulls = [
        (abs(r), o.title)
        for r, o in zip(solution.at.residuals, problem.observed, strict=False)
        if abs(r) > 1.0
    ]
    worst = [name for size, name in sorted(gaps, reverse=True)[:3] if size > LENGTH_LIMIT]
    fighting = [name for _, name in sorted(pulls, reverse=True)[:4]]
    named = tuple(worst + fighting) or tuple(name for _, name in sorted(gaps, reverse=True)[:2])
    return Untrued(
        "the figures describe no garment of this kind that can be sewn: "
        f"these cannot be brought together: {', '.join(named)}. Measure them again.",
        named,
    )


def _pattern(
    problem: Problem,
    solution: Solution,
    prior: tuple[sparse.csr_array, Array],
    crossed: Mapping[str, int],
) -> Pattern:
    x, kind, record = solution.x, problem.kind, problem.record
    paths = panel_paths(problem.unknowns, problem.coordinates(x))
    pieces = pattern_pieces(problem.panels, paths)
    seams = seam_lengths(problem.panels, paths, record.ease)
    squares = square_angles(problem.panels, paths)
    joins = join_angles(problem.panels, paths, kind)
    values, by_x = problem.measure(x)
    sigmas = _sigmas(problem, solution, prior, by_x)
    groups = _groups(problem, solution, prior)
    measures = _measures(problem, values, sigmas)
    findings = [
        *_disagreement_findings(groups, record.unit),
        *_missed_findings(measures, groups, record.unit),
        *_point_findings(problem, x),
        *_lay_findings(problem),
        *_piece_findings(pieces, crossed),
        *odd_shapes(problem.panels, paths, {m.key: m.value_mm for m in measures}, record.unit),
    ]
    findings += [
        Finding(
            "not-sewable",
            Weight.STOP,
            name,
            f"{name} is off by {amount:.3f} {unit} after truing",
            amount,
            limit,
            unit,
            "Measure again what touches it.",
        )
        for name, amount, limit, unit in (
            *((s.name, abs(s.difference_mm), LENGTH_LIMIT, "mm") for s in seams),
            *((a.name, abs(a.degrees - a.wanted), ANGLE_LIMIT, "degree") for a in (*squares, *joins)),
        )
        if amount > limit
    ]
    return Pattern(
        kind=kind,
        pieces=pieces,
        measures=measures,
        seams=seams,
        square_corners=squares,
        smooth_joins=joins,
        assumptions=tuple(_assumptions(problem, values)),
        findings=tuple(findings),
        steps=solution.steps,
    )


def _covariance(at: Linearised, prior: tuple[sparse.csr_array, Array], weight: float, J: Array) -> Array:
    """Return ``J Q J'``, Q the covariance of the unknowns under the conditions, for dense rows J."""
    P, _ = prior
    H = sparse.csc_array(at.jacobian.T @ at.jacobian) + sparse.csc_array(weight * (P.T @ P))
    factor = factorise(H, at.condition_jacobian)
    n = H.shape[0]
    right = np.zeros((n + len(at.gaps), len(J)))
    right[:n] = J.T
    return J @ factor.solve(right)[:n]


def _sigmas(
    problem: Problem, solution: Solution, prior: tuple[sparse.csr_array, Array], by_x: sparse.csr_array
) -> Array:
    """Return each measure's standard uncertainty, mm, stand-ins and usual shapes taken at their word."""
    return np.sqrt(
        np.maximum(np.diag(_covariance(problem.evaluate(solution.x, 1.0), prior, 1.0, by_x.toarray())), 0.0)
    )


def _groups(
    problem: Problem, solution: Solution, prior: tuple[sparse.csr_array, Array]
) -> tuple[Disagreement, ...]:
    m = len(problem.observed)
    if not m:
        return ()
    rows = solution.at.jacobian[:m].toarray()
    N = np.eye(m) - _covariance(solution.at, prior, prior_weight(problem), rows)
    return disagreements(problem.observed, solution.at.residuals[:m], N)


def _measures(problem: Problem, values: Array, sigmas: Array) -> tuple[MeasureValue, ...]:
    asked = {o.key: o for o in problem.observed}
    return tuple(
        MeasureValue(
            key,
            problem.derived[key][0],
            float(value),
            float(sigma),
            asked[key].mm if key in asked else None,
            asked[key].sigma if key in asked else None,
        )
        for key, value, sigma in zip(problem.derived_keys, values, sigmas, strict=True)
    )


def _in_words(stand_in: StandIn, problem: Problem) -> str:
    """Return a stand-in as a sum of other measures, such as ``0.7 × chest width + 4.5 cm``."""
    parts: list[tuple[float, str]] = []
    for key, factor in stand_in.terms.items():
        title = problem.kind.measures[key].title.lower()
        parts.append((factor, title if abs(factor) == 1.0 else f"{abs(factor):g} × {title}"))
    if stand_in.plus:
        parts.append((stand_in.plus, format_length(abs(stand_in.plus), problem.record.unit)))
    text = " ".join(f"{'−' if factor < 0 else '+'} {words}" for factor, words in parts)
    return text.removeprefix("+ ")


def _assumptions(problem: Problem, values: Array) -> Iterable[Assumption]:
    at = dict(zip(problem.derived_keys, values, strict=True))
    for figure in problem.assumed:
        value = float(at[figure.key])
        how = _in_words(figure.stand_in, problem) if figure.stand_in else "the usual shape"
        yield Assumption(
            figure.key,
            value,
            f"{figure.title} was not recorded; {format_length(value, problem.record.unit)} stands in "
            f"(from {how}, as far as the seams allow)",
        )


def _listed(titles: Iterable[str]) -> str:
    names = [t[0].lower() + t[1:] for t in titles]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _disagreement_findings(groups: Iterable[Disagreement], unit: str) -> Iterable[Finding]:
    for group in groups:
        amount = format_length(abs(group.amount_mm), unit)
        reads = "long" if group.amount_mm > 0 else "short"
        first = group.titles[0]
        if len(group.titles) > 1:
            message = (
                f"The {_listed(group.titles)} cannot all be right: they disagree by {amount}. "
                f"The {_listed([first])} is the likeliest to be off; it reads too {reads}."
            )
        else:
            message = (
                f"The {_listed([first])} reads too {reads} by {amount} for the rest of the garment "
                "and the way it is sewn."
            )
        yield Finding(
            "figures-disagree",
            Weight.LOOK,
            ", ".join(group.keys),
            message,
            abs(group.amount_mm),
            None,
            "mm",
            f"Measure the {_listed([first])} again, then the others named. "
            "Until then the pattern is the best compromise by how sure each figure is.",
        )


def _missed_findings(
    measures: Iterable[MeasureValue], groups: Iterable[Disagreement], unit: str
) -> Iterable[Finding]:
    named = {key for group in groups for key in group.keys}
    for measure in measures:
        if measure.asked_mm is None or measure.key in named:
            continue
        missed = measure.value_mm - measure.asked_mm
        if abs(missed) > MISSED:
            yield Finding(
                "figure-not-met",
                Weight.NOTE,
                measure.key,
                f"{measure.title} was recorded as {format_length(measure.asked_mm, unit)} and comes out as "
                f"{format_length(measure.value_mm, unit)}, within what a tape can tell.",
                abs(missed),
                MISSED,
                "mm",
                "Nothing needs doing; measure again if this figure matters to you.",
            )


def _point_findings(problem: Problem, x: Array) -> Iterable[Finding]:
    for entry, rms in problem.traced.misfits(problem.raw(x)):
        if rms > OFF_CURVE * entry.sigma_mm:
            where = f"{entry.piece}.{entry.edge}"
            yield Finding(
                "points-off",
                Weight.LOOK,
                where,
                f"The points traced along {where} lie {format_length(rms, problem.record.unit)} off the "
                "seam line on average, more than their stated uncertainty lets expect.",
                rms,
                OFF_CURVE * entry.sigma_mm,
                "mm",
                "Look for a point typed wrongly, a fold in the cloth, or tape figures that disagree.",
            )


def _lay_findings(problem: Problem) -> Iterable[Finding]:
    """Yield a finding for each piece on the fold that was traced at a free place without its fold."""
    traced: dict[tuple[str, str], set[str]] = {}
    for entry in problem.record.points:
        if entry.lay:
            traced.setdefault((entry.piece, entry.lay), set()).add(entry.edge)
    for (name, _), edges in traced.items():
        panel = problem.panels.of(name)[0]
        fold = panel.piece.fold
        if fold and not panel.side and fold.name not in edges:
            yield Finding(
                "fold-not-traced",
                Weight.NOTE,
                name,
                f"The {panel.piece.title.lower()} was traced at a place of its own without its {fold.name}: "
                "its place and angle are known only from the curves.",
                todo=f"Trace two or three points along the {fold.name} too.",
            )


def _piece_findings(pieces: Iterable[PatternPiece], crossed: Mapping[str, int]) -> Iterable[Finding]:
    for piece in pieces:
        crossings = crossed.get(piece.name, 0)
        if crossings:
            yield Finding(
                "outline-crosses",
                Weight.STOP,
                piece.name,
                f"The seam line of the {piece.title.lower()} crosses itself.",
                float(crossings),
                0.0,
                "",
                "The figures that shape this piece contradict one another; measure them again.",
            )
