"""How sure the answer is: standard errors from the solve's own factorisation.

The solve minimises the squared misfits of what was observed and ``w`` times the prior's, under the conditions
of sewing. To first order its error is

    dx = G (A' e + w P' d)

with A and P the Jacobians of observations and prior (each over its standard deviation), e and d their
errors and G the inverse of A'A + w P'P on the conditions' null space, which is the top left block of the
inverse of the step's matrix. Errors are independent and of unit size, the prior's no less than a tape's; so
the covariance is

    V = G (A'A + w^2 P'P) G

and not G alone: a weak prior (w far below 1) is hardly used where a figure says anything, and decides with
its own full spread where none does. At w = 1 both are the same.

Stand-ins enter the solve with their standard deviations widened by 1/sqrt(w), so their errors have the
variance w there.

Sources: Gauss-Markov model with conditions: Rao, Linear Statistical Inference and Its Applications, 2nd
ed., 4a and 4i; the two-sided form for an estimate whose weights are not its errors': Koch, Parameter
Estimation and Hypothesis Testing in Linear Models, 2nd ed., 3.2. A correlation is as in any covariance.
"""

import numpy as np
from numpy.typing import NDArray

from likesewn.truing.disagree import Residuals
from likesewn.truing.matrices import Sparse, StepMatrix
from likesewn.truing.problem import Problem
from likesewn.truing.solve import Linearised, Solution

Array = NDArray[np.float64]
Prior = tuple[Sparse, Array]
"""Matrix P and vector p of the prior's terms ``P @ x - p``."""

__all__ = ["Prior", "Sureness"]


class _Inverse:
    """The step's matrix at the answer, factorised: solves for any right-hand side."""

    def __init__(self, at: Linearised, matrix: StepMatrix, weight: float) -> None:
        self._size, self._more = matrix.size, matrix.conditions
        self._factor = matrix.factorise(at.squares + matrix.prior(weight), at.conditions)

    def times(self, right: Array) -> Array:
        """Return ``G`` times a matrix of shape (unknowns, columns)."""
        filled = np.zeros((self._size + self._more, right.shape[1]))
        filled[: self._size] = right
        return self._factor.solve(filled)[: self._size]


class Sureness:
    """Standard errors and covariances at the answer of a solve.

    Attributes:
        problem: The problem solved.
        at: It linearised at the answer.
        weight: The prior's weight there.
    """

    def __init__(
        self, problem: Problem, matrix: StepMatrix, solution: Solution, prior: Prior, weight: float
    ) -> None:
        self.problem = problem
        self.at: Linearised = solution.at
        self.weight = weight
        self._x, self._prior, self._matrix = solution.x, prior, matrix
        self._jacobian = self.at.jacobian()
        self._inverse = _Inverse(self.at, matrix, weight)
        observed, assumed = len(problem.observed), len(problem.assumed)
        self._variance = np.ones(len(self.at.residuals))
        self._variance[observed : observed + assumed] = weight

    def moved(self, rows: Array) -> Array:
        """Return ``G`` times the rows' transpose, shape (unknowns, rows).

        Args:
            rows: Derivatives by the unknowns, shape (rows, unknowns).
        """
        return self._inverse.times(rows.T)

    def sigmas(self, rows: Array) -> Array:
        """Return the standard errors of quantities of the unknowns, shape (rows,), mm.

        Args:
            rows: Their derivatives by the unknowns, shape (rows, unknowns).
        """
        roots = self.roots(rows)
        return np.sqrt((roots * roots).sum(axis=0))

    def residuals(self) -> Residuals:
        """Return the recorded figures' residuals, usual shapes counting no more than in the solve."""
        rows = self._figures()
        return Residuals(self.at.residuals[: len(rows)], np.eye(len(rows)) - rows @ self.moved(rows))

    def witness(self) -> Residuals:
        """Return the recorded figures' residuals in the answer that usual shapes at full weight would give.

        It is reached by one Newton step from the answer itself.
        """
        if self.weight == 1.0:
            return self.residuals()
        P, p = self._prior
        full = self.problem.evaluate(self._x, 1.0, self._matrix)
        slope = full.gradient + (P @ self._x - p) @ P
        rows = self._figures()
        m = len(rows)
        moved = _Inverse(full, self._matrix, 1.0).times(np.column_stack([rows.T, -slope]))
        return Residuals(self.at.residuals[:m] + rows @ moved[:, m], np.eye(m) - rows @ moved[:, :m])

    def _figures(self) -> Array:
        """Return the recorded figures' rows, over their standard deviations."""
        return self._jacobian[: len(self.problem.observed)].toarray()

    def roots(self, rows: Array) -> Array:
        """Return a root R of the covariance, ``R'R``, shape (errors, rows): what each unit error moves.

        Args:
            rows: Derivatives of quantities by the unknowns, shape (rows, unknowns).
        """
        moved = self.moved(rows)
        by_observed = np.sqrt(self._variance)[:, None] * (self._jacobian @ moved)
        return np.concatenate([by_observed, self.weight * (self._prior[0] @ moved)])
