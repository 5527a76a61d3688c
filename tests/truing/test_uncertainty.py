"""Each measure's standard uncertainty, against a dense computation on the conditions' null space."""

import numpy as np
import pytest
from scipy.linalg import null_space

from likesewn.garment import Figure
from likesewn.truing.answer import prior_weight, solved
from likesewn.truing.problem import Problem
from tops import TOP, basis, record, trued


def dense_sigmas(of) -> dict[str, float]:
    """Return each measure's standard error, adding up what every single error of unit size does to it."""
    problem = Problem(TOP, of)
    start = problem.start()
    weight = prior_weight(problem)
    P, p = problem.prior(start, weight)
    matrix = problem.matrix(P)
    x = solved(problem, matrix, (P, p), start, (weight,)).x
    here = problem.evaluate(x, weight, matrix)
    J, P = here.jacobian().toarray(), P.toarray()
    free = null_space(here.condition_jacobian().toarray(), rcond=1e-9)
    to_x = free @ np.linalg.inv(free.T @ (J.T @ J + weight * P.T @ P) @ free) @ free.T
    D = problem.measure(x)[1].toarray()
    variance = np.zeros(len(D))
    stands_in = range(len(problem.observed), len(problem.observed) + len(problem.assumed))
    for i, row in enumerate(J):
        error = weight**0.5 if i in stands_in else 1.0
        variance += (D @ to_x @ row * error) ** 2
    for row in P:
        variance += (D @ to_x @ (weight * row)) ** 2
    return dict(zip(problem.derived_keys, np.sqrt(variance), strict=True))


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"armhole_curve": 262.0, "sleeve_width": 190.0},
        {"front_armhole_curve": 250.0, "back_armhole_curve": 265.0},
    ],
)
def test_against_a_dense_computation(more):
    of = record(**basis(), **more)
    dense = dense_sigmas(of)
    for measure in trued(of).measures:
        assert measure.sigma_mm == pytest.approx(dense[measure.key], rel=1e-3, abs=1e-4), measure.key


def test_a_surer_tape_makes_a_surer_measure():
    def sigmas(chest: float) -> dict[str, float]:
        pattern = trued(record(**basis() | {"chest_width": Figure(520.0, chest)}))
        return {m.key: m.sigma_mm for m in pattern.measures}

    sure, unsure = sigmas(0.5), sigmas(8.0)
    assert sure["chest_width"] <= 0.5 + 1e-6
    assert sure["chest_width"] < unsure["chest_width"] <= 8.0
    assert sure["hem_width"] == pytest.approx(unsure["hem_width"], rel=0.5)


def test_what_was_not_recorded_is_less_sure():
    with_it = {m.key: m.sigma_mm for m in trued(record(**basis(), sleeve_width=190)).measures}
    without = {m.key: m.sigma_mm for m in trued(record(**basis())).measures}
    assert with_it["sleeve_width"] <= 3.0 + 1e-6
    assert without["sleeve_width"] > with_it["sleeve_width"]
