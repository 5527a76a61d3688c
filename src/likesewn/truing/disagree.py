"""Which figures disagree, by how much, and which of them is the likeliest to be wrong.

With A the recorded figures' Jacobian over their standard deviations and G the inverse of the normal matrix on
the conditions' null space, the figures' standardised residuals r have the covariance N = I - A G A'. Usual
shapes and stand-ins enter G with their weak weight, so that a garment is never blamed for being unusual.

Whether anything is wrong
    Global test: r' N+ r, over the directions in which the figures check one another, is a chi-squared of as
    many degrees. Local test: r_i / sqrt(N_ii) of one figure is a standard normal. Agreement is denied where
    either is failed; right figures fail them with the chances set below.

What is wrong
    The smallest set S of figures whose removal restores agreement. Without S the residuals are r - N_.S
    N_SS^-1 r_S and their covariance N - N_.S N_SS^-1 N_S. , so no set is solved for anew. The error of the
    only figure in doubt is estimated by r_i sigma_i / N_ii.

Which is the likeliest
    Several sets of one size may do, and where the figures alone cannot tell them apart (three lengths that
    must add up) they fit equally well. Then the usual shapes, at their full weight, are heard as a witness:
    a figure stands before another where a gross error in it explains more of all residuals, its size
    being unknown with a spread of ``GROSS`` standard deviations. The evidence for an error of that spread is
    exp(t/2 k / (1 + k)) / sqrt(1 + k), k = GROSS^2 N_ii, t = r_i^2 / N_ii.

Sources: Baarda, A Testing Procedure for Use in Geodetic Networks, 1968 (global and local tests); Teunissen,
Testing Theory, 2nd ed., ch. 4 (removal by residuals alone, several errors at once); the evidence is the
ratio of two normal densities, MacKay, Information Theory, Inference, and Learning Algorithms, ch. 28.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import cast

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, ndtri

Array = NDArray[np.float64]

__all__ = ["Disagreement", "Residuals", "agreement", "disagreements"]

CHANCE = 0.01
"""Chance at which right figures fail the global test: it costs a second look at the tape."""

FALSE_ALARM = 0.05
"""Chance at which any of a garment's right figures fails its local test: shared out among the directions in
which the figures check one another (Sidak), so that many figures do not make many false alarms."""

CHECKED = 0.02
"""Least share of a figure, or of a direction in which figures check one another, that the
others check; below it nothing can be said."""

MOST_TOGETHER = 3
"""Most figures that are taken out together: with more in doubt, all should be measured again."""

GROSS = 8.0
"""Spread of gross errors, in standard deviations of a figure: a misread tape is off by centimetres."""

EQUAL = 0.7
"""Sets that explain the residuals about as well: their sums differ by less than this share."""


@dataclass(frozen=True, slots=True)
class Residuals:
    """Standardised residuals of figures and their covariance.

    Attributes:
        r: Pattern less figure, over the figure's standard deviation, shape (m,).
        N: Their covariance, shape (m, m).
    """

    r: Array
    N: Array

    def without(self, removed: Sequence[int]) -> "Residuals":
        """Return what is left of them once some figures are taken out; their own become 0."""
        if not removed:
            return self
        S = list(removed)
        gain = self.N[:, S] @ np.linalg.inv(self.N[np.ix_(S, S)])
        r, N = self.r - gain @ self.r[S], self.N - gain @ self.N[S]
        r[S] = 0.0
        N[S] = 0.0
        N[:, S] = 0.0
        return Residuals(r, N)

    @property
    def checked(self) -> NDArray[np.bool_]:
        """Which figures the others check at all."""
        return np.diag(self.N) > CHECKED

    @property
    def scores(self) -> Array:
        """Standardised sizes of the residuals; 0 where nothing checks the figure."""
        own = np.diag(self.N)
        return np.where(self.checked, np.abs(self.r) / np.sqrt(np.maximum(own, CHECKED)), 0.0)

    @property
    def evidence(self) -> Array:
        """Log of how much likelier the residuals become by a gross error in each figure; see the module."""
        own = np.maximum(np.diag(self.N), CHECKED)
        k = GROSS**2 * own
        return np.where(self.checked, 0.5 * self.r**2 / own * k / (1.0 + k) - 0.5 * np.log1p(k), -np.inf)


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Figures that cannot all be right: any one of them, were it wrong, would explain what is seen.

    Attributes:
        figures: Their places in the list of recorded figures, the likeliest first.
        error: How far the first lies from what the others imply, in its standard deviations (positive: it
            reads too much).
    """

    figures: tuple[int, ...]
    error: float


def agreement(of: Residuals) -> tuple[float, int, float]:
    """Return the global test: the statistic, its degrees of freedom, and the limit that it must not pass."""
    values, vectors = np.linalg.eigh(of.N)
    kept = values > CHECKED
    freedom = int(kept.sum())
    if not freedom:
        return 0.0, 0, 0.0
    statistic = float(((vectors[:, kept].T @ of.r) ** 2 / values[kept]).sum())
    return statistic, freedom, float(chdtri(freedom, CHANCE))


def _agrees(of: Residuals) -> bool:
    statistic, freedom, limit = agreement(of)
    if not freedom:
        return True
    chance = (1.0 - (1.0 - FALSE_ALARM) ** (1.0 / freedom)) / 2.0
    critical = -float(cast("float", ndtri(chance)))
    return statistic <= limit and bool(of.scores.max(initial=0.0) <= critical)


def disagreements(figures: Residuals, witness: Callable[[], Residuals]) -> tuple[Disagreement, ...]:
    """Return the figures that disagree: one group for each figure that must be wrong.

    Args:
        figures: Residuals under weak usual shapes: what the figures say by themselves.
        witness: Gives residuals under usual shapes at their full weight, to rank what those cannot tell
            apart; asked only where something is wrong.

    Returns:
        Groups of figures, the worst first; empty when all agree.
    """
    if _agrees(figures):
        return ()
    said = witness()
    wrong = _smallest(figures, said)
    found: list[tuple[float, Disagreement]] = []
    for one in wrong:
        others = [i for i in wrong if i != one]
        left, heard = figures.without(others), said.without(others)
        group = _alternatives(left, heard, one)
        first = group[0]
        error = -float(left.r[first] / left.N[first, first])
        found.append((float(left.scores[first]), Disagreement(tuple(group), error)))
    return tuple(group for _, group in sorted(found, key=lambda pair: -pair[0]))


def _smallest(figures: Residuals, witness: Residuals) -> tuple[int, ...]:
    """Return the smallest set whose removal restores agreement; the most that is tried where none does."""
    candidates = [int(i) for i in np.flatnonzero(figures.checked)]
    for size in range(1, MOST_TOGETHER + 1):
        sets = list(_removable(figures, candidates, size))
        restoring = [s for s in sets if _agrees(figures.without(s))]
        if restoring:
            return _likeliest(restoring, figures, witness)
        if sets and size == MOST_TOGETHER:
            return max(sets, key=lambda s: _explained(figures, s))
    return tuple(candidates[:1])


def _removable(figures: Residuals, candidates: Sequence[int], size: int) -> Iterator[tuple[int, ...]]:
    """Yield the sets of figures whose errors can be told apart, so that they can be taken out together."""
    for chosen in combinations(candidates, size):
        own = figures.N[np.ix_(chosen, chosen)]
        if size == 1 or float(np.linalg.eigvalsh(own)[0]) > CHECKED:
            yield chosen


def _explained(of: Residuals, removed: Sequence[int]) -> float:
    """Return by how much the sum of squares falls when some figures are taken out."""
    S = list(removed)
    return float(of.r[S] @ np.linalg.solve(of.N[np.ix_(S, S)], of.r[S]))


def _likeliest(sets: Sequence[tuple[int, ...]], figures: Residuals, witness: Residuals) -> tuple[int, ...]:
    explained = [_explained(figures, s) for s in sets]
    near = [s for s, e in zip(sets, explained, strict=True) if e >= EQUAL * max(explained)]
    return max(near, key=lambda s: float(witness.evidence[list(s)].sum()))


def _alternatives(left: Residuals, heard: Residuals, one: int) -> list[int]:
    """Return the figures any one of which, taken out, would restore agreement, the likeliest first."""
    candidates = [int(i) for i in np.flatnonzero(left.checked)]
    explained = {i: _explained(left, (i,)) for i in candidates}
    best = max(explained.values(), default=0.0)
    same = [i for i in candidates if explained[i] >= EQUAL * best and _agrees(left.without((i,)))]
    if one not in same:
        same.append(one)
    return sorted(same, key=lambda i: -float(heard.evidence[i]))
