"""What a trued pattern has to say, in a sewist's words."""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Finding, MeasureValue, PatternPiece, TracedPoints, Weight
from likesewn.truing.answer import Answer
from likesewn.truing.checks import Checks
from likesewn.truing.disagree import Disagreement, disagreements
from likesewn.truing.halves import Uneven, halves_findings, uneven_edges
from likesewn.truing.plausible import odd_shapes
from likesewn.truing.problem import Observation, Problem
from likesewn.units import format_length

Array = NDArray[np.float64]

__all__ = ["ANGLE_LIMIT", "LENGTH_LIMIT", "findings"]

LENGTH_LIMIT = 0.01
"""Greatest difference of a sewn pair, mm."""

ANGLE_LIMIT = 0.05
"""Greatest deviation of a square corner or smooth join, degrees."""

MISSED = 1.0
"""A figure missed by more than this, mm, is mentioned even where no figure is clearly wrong."""

OUTLYING = 4.5
"""Standard deviations from its edge at which a point is named: one right point in 150,000 lies so far off."""

MEDIAN_OF_NORMAL = 0.6745
"""Median of the size of a standard normal: tells a standard deviation that single bad points do not move."""

OFF_CURVE = 2.0
"""Root mean square of points' distances, over their standard deviation, at which they are mentioned."""


def findings(found: Answer, measures: Sequence[MeasureValue], checks: Checks) -> Iterable[Finding]:
    """Yield what an answer of the solve has to say.

    Args:
        found: The answer.
        measures: The pattern's measures beside the recorded ones.
        checks: Its seams, square corners and smooth joins.
    """
    problem, unit = found.problem, found.problem.record.unit
    groups = disagreements(found.sureness.residuals(), found.sureness.witness)
    yield from _disagreement_findings(groups, problem.observed, unit)
    yield from _missed_findings(measures, groups, problem.observed, unit)
    uneven = tuple(uneven_edges(found))
    yield from _point_findings(found, uneven)
    yield from halves_findings(found, uneven)
    yield from _lay_findings(problem)
    yield from _piece_findings(found.pieces, found.crossed)
    values = {m.key: m.value_mm for m in measures}
    yield from odd_shapes(problem.panels, found.paths, values, unit)
    yield from _unsewable(checks)


def _unsewable(checks: Checks) -> Iterable[Finding]:
    angles = (*checks.square_corners, *checks.smooth_joins)
    for name, amount, limit, unit in (
        *((s.name, abs(s.difference_mm), LENGTH_LIMIT, "mm") for s in checks.seams),
        *((a.name, abs(a.degrees - a.wanted), ANGLE_LIMIT, "degree") for a in angles),
    ):
        if amount > limit:
            yield Finding(
                "not-sewable",
                Weight.STOP,
                name,
                f"{name} is off by {amount:.3f} {unit} after truing",
                amount,
                limit,
                unit,
                "Measure again what touches it.",
            )


def _listed(titles: Iterable[str]) -> str:
    names = [t[0].lower() + t[1:] for t in titles]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _disagreement_findings(
    groups: Iterable[Disagreement], observed: Sequence[Observation], unit: str
) -> Iterable[Finding]:
    for group in groups:
        figures = [observed[i] for i in group.figures]
        error = group.error * figures[0].sigma
        amount = format_length(abs(error), unit)
        reads = "long" if error > 0 else "short"
        first = _listed([figures[0].title])
        if len(figures) > 1:
            message = (
                f"The {_listed(f.title for f in figures)} cannot all be right: they disagree by {amount}. "
                f"The {first} is the likeliest to be off; it reads too {reads}."
            )
            todo = f"Measure the {first} again, then the others named. "
        else:
            message = (
                f"The {first} reads too {reads} by {amount} for the rest of the garment and the way it is "
                "sewn."
            )
            todo = f"Measure the {first} again. "
        yield Finding(
            "figures-disagree",
            Weight.LOOK,
            ", ".join(f.key for f in figures),
            message,
            abs(error),
            None,
            "mm",
            todo + "Until then the pattern is the best compromise by how sure each figure is.",
        )


def _missed_findings(
    measures: Iterable[MeasureValue],
    groups: Iterable[Disagreement],
    observed: Sequence[Observation],
    unit: str,
) -> Iterable[Finding]:
    named = {observed[i].key for group in groups for i in group.figures}
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


def _point_findings(found: Answer, uneven: Sequence[Uneven]) -> Iterable[Finding]:
    problem, unit = found.problem, found.problem.record.unit
    explained = {(u.panel.piece.name, u.edge) for u in uneven}
    if found.feet is None:
        return
    misfits = problem.traced.misfits(found.feet)
    for (entry, distance), run in zip(misfits, problem.traced.runs, strict=True):
        where = f"{entry.piece}.{entry.edge}"
        out = _outlying(distance, entry.sigma_mm)
        for i in np.flatnonzero(out):
            px, py = (format_length(float(v), unit, with_unit=False) for v in entry.at[i])
            yield Finding(
                "point-off",
                Weight.LOOK,
                where,
                f"Point {i + 1} of those traced along {where}, at [{px}, {py}], lies "
                f"{format_length(abs(float(distance[i])), unit)} off the line that the others make.",
                abs(float(distance[i])),
                OUTLYING * entry.sigma_mm,
                "mm",
                "Read it off again; it may be mistyped.",
            )
        rms = float(np.sqrt(np.mean(distance[~out] ** 2)))
        if rms > OFF_CURVE * entry.sigma_mm and (run.panel.piece.name, run.edge.name) not in explained:
            yield Finding(
                "points-off",
                Weight.LOOK,
                where,
                f"The points traced along {where} lie {format_length(rms, unit)} off the seam line on "
                "average, more than their stated uncertainty lets expect.",
                rms,
                OFF_CURVE * entry.sigma_mm,
                "mm",
                "Look for a point typed wrongly, a fold in the cloth, or tape figures that disagree.",
            )


def _outlying(distance: Array, sigma: float) -> NDArray[np.bool_]:
    """Return which points stand out, from their own uncertainty and from the others of their edge."""
    usual = float(np.median(np.abs(distance))) / MEDIAN_OF_NORMAL
    return np.abs(distance) > OUTLYING * max(sigma, usual)


def _lay_findings(problem: Problem) -> Iterable[Finding]:
    """Yield a finding for each piece on the fold that was traced at a free place without its centre.

    The fold tells it, and so do both halves.
    """
    lays: dict[tuple[str, str], list[TracedPoints]] = {}
    for entry in problem.record.points:
        if entry.lay:
            lays.setdefault((entry.piece, entry.lay), []).append(entry)
    for name in dict.fromkeys(name for name, _ in lays):
        panel = problem.panels.of(name)[0]
        fold = panel.piece.fold
        if fold is None or panel.side:
            continue
        own = [entries for (piece, _), entries in lays.items() if piece == name]
        if any(fold.name not in {e.edge for e in es} and len({e.side for e in es}) < 2 for es in own):
            yield Finding(
                "fold-not-traced",
                Weight.NOTE,
                name,
                f"The {panel.piece.title.lower()} was traced at a place of its own without its {fold.name}: "
                "its place and angle are known only from the curves.",
                todo=f"Trace two or three points along the {fold.name} too, or both halves.",
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
