"""From a record to a pattern: the one solve, its answer measured and checked."""

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Assumption, Kind, MeasureValue, Pattern, Record
from likesewn.garment.kind import StandIn
from likesewn.garment.uneven import uneven_kind, uneven_record
from likesewn.truing.answer import Answer, Untrued, answer
from likesewn.truing.checks import walk
from likesewn.truing.findings import findings
from likesewn.truing.halves import pieces_differ
from likesewn.truing.panels import panels
from likesewn.truing.problem import Problem
from likesewn.units import format_length

Array = NDArray[np.float64]

__all__ = ["fitted", "pattern_of", "true"]


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
    found = fitted(record, kind)
    return found if isinstance(found, Untrued) else pattern_of(found)


def fitted(record: Record, kind: Kind) -> Answer | Untrued:
    """Solve a record: pieces that are usually alike and were both traced are taken apart only if they differ.

    Args:
        record: What was observed.
        kind: The garment's kind.
    """
    if not record.symmetric:
        kind, record = uneven_kind(kind), uneven_record(record, kind)
        return answer(Problem(kind, record))
    together, apart = panels(kind, record, alike_if_traced=True), panels(kind, record)
    if together.alike != apart.alike:
        found = answer(Problem(kind, record, together))
        if not isinstance(found, Untrued) and not pieces_differ(found):
            return found
    return answer(Problem(kind, record, apart))


def pattern_of(found: Answer) -> Pattern:
    """Return the pattern that an answer of the solve describes, measured and checked."""
    problem = found.problem
    values, by_x = problem.measure(found.solution.x)
    sides = problem.sides(found.solution.x)
    measures = _measures(problem, values, found.sureness.sigmas(by_x.toarray()), sides)
    checks = walk(problem.panels, found.paths, problem.record.ease)
    return Pattern(
        kind=problem.kind,
        pieces=found.pieces,
        measures=measures,
        seams=checks.seams,
        square_corners=checks.square_corners,
        smooth_joins=checks.smooth_joins,
        assumptions=tuple(_assumptions(problem, values)),
        findings=tuple(findings(found, measures, checks)),
        steps=found.solution.steps,
    )


def _measures(
    problem: Problem, values: Array, sigmas: Array, sides: Mapping[str, tuple[float, float]]
) -> tuple[MeasureValue, ...]:
    asked = {o.key: o for o in problem.observed}
    return tuple(
        MeasureValue(
            key,
            problem.derived[key][0],
            float(value),
            float(sigma),
            asked[key].mm if key in asked else None,
            asked[key].sigma if key in asked else None,
            sides.get(key),
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
