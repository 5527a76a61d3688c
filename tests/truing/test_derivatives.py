"""Exact derivatives against central finite differences, at the start and at shaken unknowns."""

import numpy as np
import pytest

from likesewn.garment import Record, TracedPoints
from likesewn.truing.matrices import added_blocks
from likesewn.truing.problem import Problem
from tops import TOP, basis, central, record, tape

EVERY_OPERATION = {
    "waist_width": 430,
    "waist_level": 400,
    "across_front": 350,
    "across_back": 370,
    "armhole_straight": 200,
    "armhole_curve": 230,
    "shoulder_length": 130,
    "side_length": 400,
    "sleeve_width": 190,
    "sleeve_underarm": 450,
    "cuff_width": 110,
    "neckline_length": 560,
}


def problem_of(*, apart: bool) -> Problem:
    figures = tape(**basis(), **EVERY_OPERATION)
    if apart:
        figures |= tape(front_armhole_curve=225, back_armhole_curve=240)
    return Problem(TOP, Record("x", TOP.name, tape=figures))


def shaken(problem: Problem, seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return problem.start() + (rng.normal(0.0, 3.0, problem.size) if seed else 0.0)


@pytest.mark.parametrize("apart", [False, True])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_figures_conditions_and_measures(seed, apart):
    problem = problem_of(apart=apart)
    x = shaken(problem, seed)
    here = problem.evaluate(x, 0.5)
    numeric = central(lambda y: problem.evaluate(y, 0.5).residuals, x)
    assert np.abs(here.jacobian.toarray() - numeric).max() < 1e-6
    numeric = central(lambda y: problem.evaluate(y, 0.5).gaps, x)
    assert np.abs(here.condition_jacobian.toarray() - numeric).max() < 1e-6
    numeric = central(lambda y: problem.measure(y)[0], x)
    assert np.abs(problem.measure(x)[1].toarray() - numeric).max() < 1e-6
    assert {o.op for o in problem.observed} == {m.op for m in TOP.measures.values()}


@pytest.mark.parametrize("apart", [False, True])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_curvature(seed, apart):
    problem = problem_of(apart=apart)
    x = shaken(problem, seed)
    forces = np.random.default_rng(9).normal(size=problem.quantities.size)
    to_raw = problem.to_raw
    blocks = problem.quantities.curvature(problem.raw(x), forces)
    bent = (to_raw.T @ added_blocks(blocks, len(problem.raw(x))) @ to_raw).toarray()
    numeric = central(lambda y: to_raw.T @ (problem.quantities.evaluate(problem.raw(y))[1].T @ forces), x)
    assert np.abs(bent - numeric).max() < 1e-6 * (1.0 + np.abs(bent).max())
    assert np.abs(bent - bent.T).max() < 1e-12 * (1.0 + np.abs(bent).max())


@pytest.mark.parametrize("seed", [0, 1])
def test_traced_points_in_piece_and_free_frames(seed):
    # along the armhole, and past both of its ends, where the foot stands on the end tangent
    at = np.array(
        [[212.0, 20.0], [200.0, 70.0], [190.0, 120.0], [205.0, 180.0], [240.0, 215.0], [290.0, 245.0]]
    )
    turn = np.array([[0.3, 0.954], [-0.954, 0.3]])
    points = (
        TracedPoints("front", "armhole", at, 1.0),
        TracedPoints("sleeve", "cap", (at - 30.0) @ turn, 1.0, "mat"),
        TracedPoints("sleeve", "underarm", (at + 90.0) @ turn, 1.0, "mat"),
    )
    problem = Problem(TOP, Record("x", TOP.name, tape=record(**basis()).tape, points=points))
    x = shaken(problem, seed)
    assert problem.traced.lays.frames == 1
    here = problem.evaluate(x, 1.0).jacobian.toarray()[-problem.traced.count :]
    numeric = central(lambda y: problem.evaluate(y, 1.0).residuals, x)[-problem.traced.count :]
    assert np.abs(here - numeric).max() < 2e-6
    assert np.abs(here[:, -3:]).max() > 0.1  # the frame's own unknowns move its points
