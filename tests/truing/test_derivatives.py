"""Exact derivatives against central finite differences, at the start and at shaken unknowns."""

import numpy as np
import pytest

from likesewn.garment import Record, TracedPoints
from likesewn.geometry import point_at
from likesewn.truing.matrices import StepMatrix
from likesewn.truing.problem import Problem
from likesewn.truing.solve import Linearised
from tops import TOP, basis, central, dense, record, tape, trued

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


def matrix(problem: Problem) -> StepMatrix:
    return problem.matrix(problem.prior(problem.start(), 0.5)[0])


def assert_second_derivatives(problem: Problem, x: np.ndarray, within: float) -> None:
    """Assert that what the solve steps with is the second derivative of misfits and weighed conditions."""
    of = matrix(problem)
    multipliers = np.random.default_rng(9).normal(size=of.conditions)

    def gradient(y: np.ndarray) -> np.ndarray:
        here = problem.evaluate(y, 0.5, of)
        return here.gradient + here.condition_jacobian().T @ multipliers

    here = problem.evaluate(x, 0.5, of)
    exact = dense(of, here.squares + here.curvature(multipliers))
    assert np.abs(exact - central(gradient, x)).max() < within * np.abs(exact).max()
    assert np.abs(exact - exact.T).max() < 1e-12 * np.abs(exact).max()


def assert_consistent(here: Linearised, of: StepMatrix) -> None:
    """Assert that sums made in place are those made of the Jacobian itself."""
    J = here.jacobian().toarray()
    assert np.abs(here.gradient - J.T @ here.residuals).max() < 1e-9 * (1.0 + np.abs(here.gradient).max())
    assert np.abs(dense(of, here.squares) - J.T @ J).max() < 1e-12 * np.abs(J.T @ J).max()


@pytest.mark.parametrize("apart", [False, True])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_figures_conditions_and_measures(seed, apart):
    problem = problem_of(apart=apart)
    x, of = shaken(problem, seed), matrix(problem)
    here = problem.evaluate(x, 0.5, of)
    numeric = central(lambda y: problem.evaluate(y, 0.5, of).residuals, x)
    assert np.abs(here.jacobian().toarray() - numeric).max() < 1e-6
    numeric = central(lambda y: problem.evaluate(y, 0.5, of).gaps, x)
    assert np.abs(here.condition_jacobian().toarray() - numeric).max() < 1e-6
    numeric = central(lambda y: problem.measure(y)[0], x)
    assert np.abs(problem.measure(x)[1].toarray() - numeric).max() < 1e-6
    assert {o.op for o in problem.observed} == {m.op for m in TOP.measures.values()}
    assert_consistent(here, of)


@pytest.mark.parametrize("apart", [False, True])
@pytest.mark.parametrize("seed", [0, 1, 2])
def test_curvature(seed, apart):
    problem = problem_of(apart=apart)
    assert_second_derivatives(problem, shaken(problem, seed), 1e-6)


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
    x, of = shaken(problem, seed), matrix(problem)
    assert problem.traced.lays.frames == 1
    here = problem.evaluate(x, 1.0, of)
    by_points = here.jacobian().toarray()[-problem.traced.count :]
    numeric = central(lambda y: problem.evaluate(y, 1.0, of).residuals, x)[-problem.traced.count :]
    assert np.abs(by_points - numeric).max() < 2e-6
    assert np.abs(by_points[:, -3:]).max() > 0.1  # the frame's own unknowns move its points
    assert_consistent(here, of)


def test_curvature_of_points_beside_their_edges_and_past_their_ends():
    problem = Problem(TOP, record(**basis()))
    ctrl = problem.bezier_points(problem.start())
    points = []
    for piece, edge, lay in (
        ("front", "armhole", ""),
        ("sleeve", "cap", "mat"),
        ("sleeve", "underarm", "mat"),
    ):
        run = problem.unknowns.runs[piece, edge]
        own = ctrl[run.first : run.first + run.count].reshape(-1, 2)
        past = [own[0] + 0.4 * (own[0] - own[1]), own[-1] + 0.4 * (own[-1] - own[-2])]
        points.append(TracedPoints(piece, edge, np.vstack([past[0], own[1:-1:2], past[1]]) + 2.0, 1.0, lay))
    problem = Problem(TOP, Record("x", TOP.name, tape=record(**basis()).tape, points=tuple(points)))
    x = problem.start()
    feet = problem.feet(x)
    assert feet is not None
    assert (feet.bend == 0.0).sum() >= 4  # some lie past an end
    assert_second_derivatives(problem, x, 1e-5)


def test_figures_and_points_together():
    figures = basis(480) | {
        "waist_width": 400,
        "across_front": 350,
        "armhole_straight": 200,
        "side_length": 400,
    }
    pattern = trued(record(**basis(480)))
    points = []
    for piece, edge, lay in (("front", "armhole", ""), ("sleeve", "cap", "mat")):
        path = pattern.piece(piece).edge(edge).path
        at = point_at(path, path.length * np.linspace(0.2, 0.8, 9)) + 1
        points.append(TracedPoints(piece, edge, at, 1.0, lay))
    given = Record("x", TOP.name, tape=record(**figures).tape, points=tuple(points))
    problem = Problem(TOP, given)
    x, of = problem.start(), matrix(problem)
    here = problem.evaluate(x, 1.0, of)
    pairs = [
        (here.jacobian(), lambda y: problem.evaluate(y, 1.0, of).residuals),
        (here.condition_jacobian(), lambda y: problem.evaluate(y, 1.0, of).gaps),
        (problem.measure(x)[1], lambda y: problem.measure(y)[0]),
    ]
    for exact, function in pairs:
        assert np.abs(exact.toarray() - central(function, x)).max() < 1e-6
    assert_consistent(here, of)
    assert_second_derivatives(problem, x, 1e-6)
