"""Which figures disagree, and by how much.

Standardised residuals of the recorded figures are held against what their own uncertainty and the
others' allow. A figure whose residual is too large is named together with the figures that it pulls
against, taken out, and the rest is tested again, until nothing is left to name.

With W the diagonal of the figures' weights, A their Jacobian and Q the covariance of the unknowns under
the conditions, the residuals' covariance is N = I - sqrt(W) A Q A' sqrt(W) (standardised). A gross
error e in figure i shows as N[:, i] e / sigma, so it is estimated by r_i sigma / N_ii.

Source: Baarda, A Testing Procedure for Use in Geodetic Networks, 1968 (data snooping, w-test).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.truing.problem import Observation

Array = NDArray[np.float64]

__all__ = ["Disagreement", "disagreements"]

CRITICAL = 2.576
"""Standardised residual beyond which a figure is named: 1 % of right figures pass it by chance, which
costs a second look at the tape."""

CHECKED = 0.02
"""Least share of a figure that the others check; below it nothing can be said of the figure."""

PULLS = 0.45
"""Least correlation of two residuals for the figures to be said to pull against one another."""


@dataclass(frozen=True, slots=True)
class Disagreement:
    """Figures that cannot all be right.

    Attributes:
        keys: Their keys, the likeliest culprit first.
        titles: Their titles.
        amount_mm: How far the first lies from what the others imply (positive: it reads too much).
        score: Its standardised residual.
    """

    keys: tuple[str, ...]
    titles: tuple[str, ...]
    amount_mm: float
    score: float


def disagreements(
    observed: Sequence[Observation], residuals: Array, covariance: Array
) -> tuple[Disagreement, ...]:
    """Return the figures that disagree, the worst first.

    Args:
        observed: The recorded figures.
        residuals: Pattern less figure, over the figure's standard deviation, shape (m,).
        covariance: That of those residuals, N in the module's text, shape (m, m).

    Returns:
        Groups of figures; empty when all agree.
    """
    r, n = residuals.copy(), covariance.copy()
    found: list[Disagreement] = []
    left = np.ones(len(r), dtype=bool)
    for _ in range(len(r)):
        checked = left & (np.diag(n) > CHECKED)
        if not checked.any():
            break
        score = np.where(checked, np.abs(r) / np.sqrt(np.maximum(np.diag(n), CHECKED)), 0.0)
        worst = int(np.argmax(score))
        if score[worst] <= CRITICAL:
            break
        root = np.sqrt(np.maximum(np.diag(n), CHECKED))
        pull = np.where(checked, np.abs(n[worst]) / (root * root[worst]), 0.0)
        pull[worst] = 2.0
        group = [int(i) for i in np.argsort(-pull, kind="stable") if pull[i] >= PULLS]
        found.append(
            Disagreement(
                keys=tuple(observed[i].key for i in group),
                titles=tuple(observed[i].title for i in group),
                amount_mm=float(-r[worst] / n[worst, worst] * observed[worst].sigma),
                score=float(score[worst]),
            )
        )
        # the residuals that would be left without that figure
        r = r - n[:, worst] * (r[worst] / n[worst, worst])
        n = n - np.outer(n[:, worst], n[worst]) / n[worst, worst]
        left[worst] = False
    return tuple(found)
