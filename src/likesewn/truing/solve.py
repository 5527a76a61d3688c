"""The constrained least squares of the solve: Newton steps on the conditions' tangent space.

Minimised is half the sum of squares of the observations (each over its standard deviation) plus a weak
multiple of the prior, subject to the conditions. Each step solves

    [ H + d I    C' ] [  dx ]   [ -g          ]
    [ C       -e I  ] [  l+ ] = [ -c - e l    ]

with H the Hessian of the Lagrangian (or the Gauss-Newton matrix alone where the Hessian is not convex along
the step: stand-ins and weak priors leave large residuals, on which Gauss-Newton by itself crawls), C the
conditions' Jacobian and l their multipliers. The small e makes the matrix quasi-definite, so that conditions
may repeat one another, exactly or nearly, and it vanishes from the answer because it acts on the change of l
alone (proximal method of multipliers). Steps are shortened, and d raised, until an exact penalty function
falls.

Sources: Nocedal and Wright, Numerical Optimization, 2nd ed., 18.1 to 18.5 (sequential quadratic
programming, l1 merit, second-order correction); Rockafellar 1976 (proximal multipliers); Vanderbei,
Symmetric Quasidefinite Matrices, SIAM J. Optim. 5 (1995).
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import SuperLU

from likesewn.truing.matrices import DUAL, Sparse, StepMatrix

Array = NDArray[np.float64]

__all__ = ["Linearised", "Solution", "minimise"]

CONDITION_TOLERANCE = 1e-6
"""Largest gap of a condition at which the solve stops, mm: far below the 0.01 mm that is promised."""

STEP_TOLERANCE = 1e-3
"""Largest step at which the solve stops, mm. Steps shrink tenfold and more near the answer, so that what is
left is a tenth of this and far below the hundredth of a millimetre that is promised."""

MOST_STEPS = 80
"""Steps after which the solve gives up; it takes five to twenty where there is an answer."""

SETTLED_STEPS = 6
SETTLED_FALL = 3e-4
"""The solve also stops where the penalty function has fallen by less than this over so many steps, in squared
standard deviations: what is left to gain lies far below what the observations can tell. Noise of traced
points can leave such flat valleys along an edge that nothing else holds."""

SETTLED_GAP = 1e-4
"""Largest gap of a condition at which it stops so, mm: a hundredth of what is promised."""

WORTH = 0.2
"""Share of a move below which the other matrix is tried, and then more damping."""

MOST_DAMPING = 1e8
"""Damping at which a move is far below the step tolerance: no better point can be found."""


@dataclass(frozen=True, slots=True)
class Linearised:
    """The problem at one point; ``StepMatrix`` says how its matrices are written.

    Attributes:
        residuals: Observations over their standard deviations, shape (m,).
        gradient: Derivative of half the sum of their squares, shape (n,).
        squares: Their Jacobian's product with itself, as numbers of H.
        gaps: Conditions, shape (k,), mm.
        conditions: Entries of their Jacobian.
        curvature: Gives, for multipliers of the conditions, the second derivatives that Gauss-Newton
            leaves out, as numbers of H: those of the observations and conditions themselves.
        jacobian: Gives the observations' Jacobian itself, shape (m, n).
        condition_jacobian: Gives the conditions', shape (k, n).
    """

    residuals: Array
    gradient: Array
    squares: Array
    gaps: Array
    conditions: Array
    curvature: Callable[[Array], Array]
    jacobian: Callable[[], Sparse]
    condition_jacobian: Callable[[], Sparse]


@dataclass(frozen=True, slots=True)
class Solution:
    """Where the solve ended.

    Attributes:
        x: The unknowns.
        multipliers: One for each condition.
        at: The problem linearised there.
        steps: Number of steps taken.
        converged: Whether both tolerances were met.
        largest_step: Size of the last step, mm.
    """

    x: Array
    multipliers: Array
    at: Linearised
    steps: int
    converged: bool
    largest_step: float


def minimise(
    evaluate: Callable[[Array], Linearised],
    matrix: StepMatrix,
    prior: tuple[Sparse, Array],
    weight: float,
    x: Array,
) -> Solution:
    """Minimise the observations' misfit and ``weight`` times the prior's, subject to the conditions.

    Args:
        evaluate: Gives the problem at any unknowns.
        matrix: Layout of the steps' matrix.
        prior: Matrix P and vector p of the prior terms ``P @ x - p``.
        weight: Factor of the prior's sum of squares.
        x: Where to start, shape (n,), mm.

    Returns:
        The best point reached; ``converged`` says whether it is the answer.
    """
    P, p = prior
    from_prior = matrix.prior(weight)
    at, rest = evaluate(x), P @ x - p
    multipliers = np.zeros(len(at.gaps))
    penalty, damping, size, step = 0.0, 0.0, np.inf, 0
    misfits: list[float] = []
    for step in range(1, MOST_STEPS + 1):
        gradient = at.gradient + weight * (rest @ P)
        gauss = at.squares + from_prior
        reached, there, share, proposed = x, at, 0.0, multipliers
        for H in _matrices(at, gauss, multipliers, step):
            factor = matrix.factorise(H, at.conditions, damping)
            move, proposed = _solve(factor, -gradient, -at.gaps - DUAL * multipliers)
            bent, usual = (float(move @ matrix.times(numbers, move)) for numbers in (H, gauss))
            if H is not gauss and bent <= 0.1 * usual:
                continue  # not convex enough along the move for its length to be trusted
            penalty = max(penalty * 0.5, 1.5 * float(np.abs(proposed).max(initial=0.0)))
            size = float(np.abs(move).max())
            before = _merit(at, rest, weight, penalty)
            reached, there, share = _search(evaluate, (P, p, weight), x, at, move, factor, penalty, before)
            if share >= WORTH:
                break
        x, at, rest = reached, there, P @ reached - p
        multipliers = multipliers + share * (proposed - multipliers)
        if share >= 1.0:
            damping = damping * 0.1 if damping > 1e-9 else 0.0
        elif share < WORTH:
            damping = max(damping * 10.0, 1e-6)
        gap = float(np.abs(at.gaps).max(initial=0.0))
        if share > 0.0 and size * share < STEP_TOLERANCE and gap < CONDITION_TOLERANCE:
            return Solution(x, multipliers, at, step, converged=True, largest_step=size)
        misfits.append(_merit(at, rest, weight, 0.0))
        if gap < SETTLED_GAP and _settled(misfits):
            return Solution(x, multipliers, at, step, converged=True, largest_step=size)
        if damping > MOST_DAMPING:
            break
    gap = float(np.abs(at.gaps).max(initial=0.0))
    near = size < 100 * STEP_TOLERANCE and gap < CONDITION_TOLERANCE
    return Solution(x, multipliers, at, step, converged=near, largest_step=size)


def _settled(misfits: list[float]) -> bool:
    """Return whether the last misfits hardly differ."""
    last = misfits[-SETTLED_STEPS - 1 :]
    return len(last) > SETTLED_STEPS and max(last) - min(last) < SETTLED_FALL


def _matrices(at: Linearised, gauss: Array, multipliers: Array, step: int) -> Iterator[Array]:
    """Yield the matrices to step with, in order of trial: the full second derivatives, then Gauss-Newton.

    The first step has no multipliers to weigh the conditions' curvature with.
    """
    if step > 1:
        yield gauss + at.curvature(multipliers)
    yield gauss


def _solve(factor: SuperLU, top: Array, bottom: Array) -> tuple[Array, Array]:
    answer = factor.solve(np.concatenate([top, bottom]))
    return answer[: len(top)], answer[len(top) :]


def _merit(at: Linearised, prior_residuals: Array, weight: float, penalty: float) -> float:
    misfit = float(at.residuals @ at.residuals) + weight * float(prior_residuals @ prior_residuals)
    return 0.5 * misfit + penalty * float(np.abs(at.gaps).sum())


def _search(
    evaluate: Callable[[Array], Linearised],
    prior: tuple[Sparse, Array, float],
    x: Array,
    at: Linearised,
    move: Array,
    factor: SuperLU,
    penalty: float,
    before: float,
) -> tuple[Array, Linearised, float]:
    """Return the point reached along the move, the problem there, and the share of the move taken."""
    P, p, weight = prior
    slack = 1e-10 * (1.0 + abs(before))
    share = 1.0
    while share > 1e-3:
        trial = x + share * move
        there = evaluate(trial)
        if _merit(there, P @ trial - p, weight, penalty) <= before + slack:
            return trial, there, share
        if share == 1.0:
            # second-order correction: the conditions' curvature alone may have spoilt a good step
            correction, _ = _solve(factor, np.zeros(len(x)), -there.gaps)
            trial = trial + correction
            there = evaluate(trial)
            if _merit(there, P @ trial - p, weight, penalty) <= before + slack:
                return trial, there, share
        share *= 0.5
    return x, at, 0.0
