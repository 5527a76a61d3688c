"""Truing against a general solver, and how it grows with the number of pieces."""

import time
from typing import Any

import numpy as np
from scipy.linalg import qr
from scipy.optimize import minimize

from benchmarks.samples import TOP, gored_skirt, traced_top
from benchmarks.table import Row, best_of
from likesewn.garment import Kind, Pattern, Record
from likesewn.truing import true
from likesewn.truing.answer import prior_weight, solved
from likesewn.truing.problem import Problem

__all__ = ["against_slsqp", "growth"]

STEP = 1e-5
"""Step of the baseline's forward differences, mm."""

MOST_STEPS = 60

MOST_SECONDS = 60.0


class _OutOfTimeError(Exception):
    """The baseline's time is up."""


class _General:
    """The same solve as a general solver sees it: values only, derivatives by forward differences."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.start = problem.start()
        self.weight = prior_weight(problem)
        self.prior = problem.prior(self.start, self.weight)
        self.seen: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}
        self.best = self.start
        self.steps = 0
        self.began = time.perf_counter()
        # SLSQP stops at conditions that repeat one another, so it is given an independent set of them
        self.matrix = problem.matrix(self.prior[0])
        C = problem.evaluate(self.start, self.weight, self.matrix).condition_jacobian().toarray()
        _, r, order = qr(C.T, mode="economic", pivoting=True)
        size = np.abs(np.diag(r))
        self.kept = order[: int((size > 1e-8 * size[0]).sum())]

    def values(self, x: np.ndarray) -> np.ndarray:
        """Return the sum to minimise, then the conditions."""
        here = self.problem.evaluate(x, self.weight, self.matrix)
        P, p = self.prior
        rest = P @ x - p
        total = 0.5 * float(here.residuals @ here.residuals) + 0.5 * self.weight * float(rest @ rest)
        return np.concatenate([[total], here.gaps[self.kept]])

    def both(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the values and their forward differences, each made once for every point."""
        key = x.tobytes()
        if key not in self.seen:
            if time.perf_counter() - self.began > MOST_SECONDS:
                raise _OutOfTimeError
            at = self.values(x)
            slopes = [(self.values(x + STEP * e) - at) / STEP for e in np.eye(len(x))]
            self.seen = {key: (at, np.stack(slopes, axis=1))}
        return self.seen[key]

    def run(self) -> str:
        """Solve, and return how it ended."""
        conditions: Any = {
            "type": "eq",
            "fun": lambda x: self.values(x)[1:],
            "jac": lambda x: self.both(x)[1][1:],
        }
        try:
            answer = minimize(
                lambda x: float(self.values(x)[0]),
                self.start,
                jac=lambda x: self.both(x)[1][0],
                method="SLSQP",
                constraints=conditions,
                callback=self.note,
                options={"maxiter": MOST_STEPS, "ftol": 1e-9},
            )
        except _OutOfTimeError:
            return f"stopped by us at {MOST_SECONDS:.0f} s, {self.steps} steps, not finished"
        self.best = answer.x
        if answer.status == 9:
            return f"stopped by us at {MOST_STEPS} steps, not finished"
        return (
            f"{answer.nit} steps" if answer.success else f"gave up after {answer.nit} steps: {answer.message}"
        )

    def note(self, xk: np.ndarray) -> None:
        """Keep the point that a step reached."""
        self.best = xk.copy()
        self.steps += 1


def against_slsqp() -> tuple[list[Row], list[str]]:
    """Time a four-piece top from tape and 400 traced points; return rows and remarks."""
    record, points = traced_top()
    whole, whole_least = best_of(15, lambda: _trued(record, TOP))

    def ours() -> object:
        problem = Problem(TOP, record)
        start = problem.start()
        weight = prior_weight(problem)
        prior = problem.prior(start, weight)
        return solved(problem, problem.matrix(prior[0]), prior, start, (weight,))

    solve, solve_least = best_of(15, ours)
    general = _General(Problem(TOP, record))
    began = time.perf_counter()
    ended = general.run()
    took = time.perf_counter() - began
    reached = general.values(general.best)
    problem = Problem(TOP, record)
    own = solved(problem, general.matrix, general.prior, general.start, (general.weight,))
    sums = general.values(own.x)[0], reached[0]
    rows = [
        Row(
            f"True a four-piece top from tape and {points} traced points, findings included",
            f"{1000 * whole:.1f} ms (least {1000 * whole_least:.1f})",
            "scipy.optimize.minimize, SLSQP, numerical derivatives",
            f"{took:.1f} s, {ended}",
            f"1 : {took / whole:.0f}",
            "at most 25 ms",
            "yes" if whole <= 0.025 else "no",
        ),
        Row(
            "The solve of that top alone",
            f"{1000 * solve:.1f} ms (least {1000 * solve_least:.1f})",
            "the same",
            f"{took:.1f} s",
            f"1 : {took / solve:.0f}",
            "",
            "",
        ),
    ]
    remark = (
        f"SLSQP solves for the same {len(general.start)} unknowns from the same start, under the "
        f"{len(general.kept)} conditions that do not repeat others, since repeated ones stop it. It may "
        f"take {MOST_STEPS} steps or {MOST_SECONDS:.0f} s. It ended at a sum of {sums[1]:.3f} with a gap "
        f"of {np.abs(reached[1:]).max():.1e} mm, ours at {sums[0]:.3f} in {own.steps} steps. Its "
        "evaluations run through our code, which makes exact derivatives that go unused, so it is slower "
        "than it need be."
    )
    return rows, [remark]


def _trued(record: Record, kind: Kind) -> Pattern:
    pattern = true(record, kind)
    if not isinstance(pattern, Pattern):
        raise TypeError(pattern.reason)
    return pattern


def growth() -> tuple[list[Row], list[str]]:
    """Time skirts of 4 to 40 gores; return rows and remarks."""
    took: dict[int, float] = {}
    steps: dict[int, int] = {}
    for gores in (4, 8, 16, 40):
        record, kind = gored_skirt(gores)
        steps[gores] = _trued(record, kind).steps
        took[gores] = best_of(5, lambda r=record, k=kind: _trued(r, k))[0]
    growth_ = took[40] / took[4]
    row = Row(
        "True 40 pieces chained by seams",
        f"{1000 * took[40]:.0f} ms, {1000 * took[40] / 40:.2f} ms a piece",
        "4 pieces of the same sort",
        f"{1000 * took[4]:.0f} ms, {1000 * took[4] / 4:.2f} ms a piece",
        f"{growth_:.1f} : 1 for ten times the pieces",
        "grows linearly (10 : 1)",
        "yes" if growth_ <= 11.0 else "no",
    )
    each = ", ".join(f"{n} pieces {1000 * t / n:.2f} ms ({steps[n]} steps)" for n, t in took.items())
    return [row], [f"Time per piece: {each}."]
