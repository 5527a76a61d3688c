"""Which measure to take next: the one that makes the seam lines surest.

How unsure a garment is, is the mean over its seam lines of the variance of their place, square to the line:
an average over where it matters, which makes the choice an optimal design for prediction (I-optimality).
With V the covariance of the unknowns, G the inverse of the solve's normal matrix, a the new measure's row
and s its standard deviation, the solve would move by the gain k = G a' / (s^2 + a G a'), so that its error
becomes

    dx - k (a dx - e)

and the variance of any quantity b falls to b V b' - 2 (b k)(b V a') + (b k)^2 (a V a' + s^2). Every candidate
is judged so, from one factorisation and without another solve; a measure taken already may be taken again.

Sources: Pukelsheim, Optimal Design of Experiments, 1993, ch. 9 (criteria that average over predictions) and
ch. 11 (adding to a given design); Atkinson, Donev and Tobias, Optimum Experimental Designs, with SAS, 2007,
10.6 (I-optimality, there V-optimality) and ch. 19 (augmentation); the gain is Kalman's, 1960.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.garment.kind import Measure
from likesewn.truing.answer import Answer
from likesewn.truing.places import Places
from likesewn.truing.problem import Problem

Array = NDArray[np.float64]

__all__ = ["NextMeasure", "next_measures"]

LISTED = 3
"""How many are told: more would be a chore, not advice."""

WORTH = 0.99
"""A measure that leaves more than this share of the uncertainty is not worth the trouble."""


@dataclass(frozen=True, slots=True)
class NextMeasure:
    """A measure that is worth taking.

    Attributes:
        key: Its key.
        title: Its title.
        again: True when it was taken already.
        level: Key of the level that must be recorded with it, or empty.
        before_mm: How unsure the seam lines are now: root mean square standard error of their place.
        after_mm: What that becomes once it is taken.
    """

    key: str
    title: str
    again: bool
    level: str
    before_mm: float
    after_mm: float


def next_measures(found: Answer, at: Places) -> tuple[NextMeasure, ...]:
    """Return the three measures that would make the seam lines surest, the best first.

    Args:
        found: The answer of the solve.
        at: Places along its seam lines.

    Returns:
        At most three; fewer where fewer would help at all.
    """
    candidates = list(_candidates(found))
    if not candidates:
        return ()
    share = at.length / at.length.sum()
    sure, rows = found.sureness, np.array([c.row for c in candidates])
    of_places, of_rows = sure.roots(at.rows.toarray()), sure.roots(rows)
    own = (of_places**2).sum(axis=0)
    before = float(share @ own)
    moved = sure.moved(rows)
    told: list[NextMeasure] = []
    for i, candidate in enumerate(candidates):
        noise = candidate.measure.sigma**2
        gain = (at.rows @ moved[:, i]) / (noise + float(candidate.row @ moved[:, i]))
        shared, alone = of_places.T @ of_rows[:, i], float(of_rows[:, i] @ of_rows[:, i])
        with_it = own - 2.0 * gain * shared + gain**2 * (alone + noise)
        after = float(share @ with_it)
        if after < WORTH**2 * before:
            level = candidate.measure.level
            also = level.measure if level and level.measure not in found.problem.record.tape else ""
            told.append(
                NextMeasure(
                    candidate.key,
                    candidate.title,
                    candidate.key in found.problem.record.tape,
                    also,
                    before**0.5,
                    after**0.5,
                )
            )
    return tuple(sorted(told, key=lambda m: m.after_mm)[:LISTED])


@dataclass(frozen=True, slots=True)
class _Candidate:
    key: str
    title: str
    measure: Measure
    row: Array


def _candidates(found: Answer) -> Iterator[_Candidate]:
    """Yield every measure that could be taken, with its derivatives by the unknowns."""
    wide, x = _with_levels(found)
    _, by_x = wide.measure(x)
    rows: Array = by_x.toarray()
    keep = _common(found.problem, wide)
    for key, row in zip(wide.derived_keys, rows, strict=True):
        measure = wide.kind.tape_keys()[key]
        if measure.op != "level":
            yield _Candidate(key, wide.derived[key][0], measure, row[keep])


def _with_levels(found: Answer) -> tuple[Problem, Array]:
    """Return the problem with all measures written, those at heights that nobody recorded too."""
    problem = found.problem
    wide = Problem(problem.kind, problem.record, problem.panels, every_measure=True)
    x = np.zeros(wide.size)
    for i, key in enumerate(wide.writer.levels):
        x[wide.unknowns.size + i] = wide.known[key]
    x[_common(problem, wide)] = found.solution.x
    return wide, x


def _common(problem: Problem, wide: Problem) -> NDArray[np.int64]:
    """Return where the unknowns of a problem stand among those of the wider one."""
    n = problem.unknowns.size
    levels = list(wide.writer.levels)
    extras = [n + levels.index(key) for key in problem.writer.levels]
    lays = np.arange(wide.size - problem.traced.lays.size, wide.size)
    return np.concatenate([np.arange(n), np.array(extras, dtype=np.int64), lays])
