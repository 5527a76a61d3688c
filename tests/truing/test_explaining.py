"""The formulas of sureness, disagreement and advice, each against a second, obvious computation."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi2, norm

from likesewn.garment import Figure, Record
from likesewn.truing import Untrued, explain
from likesewn.truing.answer import Answer, answer
from likesewn.truing.disagree import GROSS, Residuals, agreement, disagreements
from likesewn.truing.explain import corner_places, edge_lengths
from likesewn.truing.next_measure import next_measures
from likesewn.truing.places import places
from likesewn.truing.problem import Problem
from remeasured import known, measured, true_figures
from tops import TOP, basis, central, record


def solved(of: Record) -> Answer:
    found = answer(Problem(TOP, of))
    assert not isinstance(found, Untrued)
    return found


def linear(seed: int, m: int = 9, n: int = 4) -> tuple[np.ndarray, np.ndarray]:
    """Return a design matrix and observations of unit error."""
    rng = np.random.default_rng(seed)
    A = rng.normal(size=(m, n))
    return A, A @ rng.normal(size=n) + rng.normal(size=m)


def fitted(A: np.ndarray, y: np.ndarray) -> Residuals:
    """Return the residuals of least squares, by the pseudo-inverse."""
    hat = A @ np.linalg.pinv(A)
    return Residuals(hat @ y - y, np.eye(len(y)) - hat)


@pytest.mark.parametrize("removed", [(2,), (0, 5), (1, 3, 8)])
def test_residuals_without_some_figures_are_those_of_a_solve_without_them(removed):
    A, y = linear(1)
    left = [i for i in range(len(y)) if i not in removed]
    anew = fitted(A[left], y[left])
    without = fitted(A, y).without(removed)
    assert without.r[left] == pytest.approx(anew.r)
    assert without.N[np.ix_(left, left)] == pytest.approx(anew.N)
    assert not without.r[list(removed)].any()


def test_the_global_test_is_the_sum_of_squares_against_its_chi_squared():
    A, y = linear(2)
    statistic, freedom, limit = agreement(fitted(A, y))
    assert statistic == pytest.approx(float(np.linalg.lstsq(A, y)[1][0]))
    assert freedom == len(y) - A.shape[1]
    assert limit == pytest.approx(chi2.ppf(0.99, freedom))


def test_the_error_of_a_figure_is_what_the_others_say_of_it():
    A, y = linear(3)
    y[4] += 12.0
    (group,) = disagreements(fitted(A, y), lambda: fitted(A, y))
    assert group.figures[0] == 4
    left = [i for i in range(len(y)) if i != 4]
    implied = A[4] @ np.linalg.lstsq(A[left], y[left])[0]
    assert group.error == pytest.approx(y[4] - implied)


def test_two_errors_are_named_as_two():
    A, y = linear(4, m=14)
    y[2] += 15.0
    y[9] -= 20.0
    found = disagreements(fitted(A, y), lambda: fitted(A, y))
    assert [group.figures[0] for group in found] == [9, 2]


def test_figures_that_only_add_up_are_named_together_and_a_witness_ranks_them():
    # three lengths that must add up: any of them may be wrong, as far as they themselves can tell
    A = np.array([[1.0, 0.0], [0.0, 1.0], [1.0, 1.0]])
    y = np.array([5.0, 7.0, 22.0])
    usual = np.vstack([A, [[0.5, 0.0]], [[0.0, 0.5]]])  # usual values, twice as unsure, of the first two

    def witness() -> Residuals:
        heard = fitted(usual, np.append(y, [7.5, 3.5]))  # the first is usually 15
        return Residuals(heard.r[:3], heard.N[:3, :3])

    (group,) = disagreements(fitted(A, y), witness)
    assert group.figures[0] == 0
    assert set(group.figures) == {0, 1, 2}


@pytest.mark.parametrize("r", [0.3, 1.5, 4.0])
@pytest.mark.parametrize("N", [0.1, 0.6, 0.95])
def test_the_evidence_is_the_ratio_of_two_densities(r, N):
    def with_error(e: float) -> float:
        return norm.pdf(r, -N * e, N**0.5) * norm.pdf(e, 0.0, GROSS)

    ratio = quad(with_error, -12 * GROSS, 12 * GROSS, points=[-r / N])[0] / norm.pdf(r, 0.0, N**0.5)
    of = Residuals(np.array([r]), np.array([[N]]))
    assert of.evidence[0] == pytest.approx(np.log(ratio), rel=1e-6)


def test_rows_of_places_edges_and_corners_are_derivatives():
    found = solved(record(**basis()))
    at = places(found)
    x = found.solution.x

    def sideways(y: np.ndarray) -> np.ndarray:
        moved = replace(found, solution=replace(found.solution, x=y))
        return ((places(moved).at - at.at) * at.normal).sum(axis=1)

    assert at.rows.toarray() == pytest.approx(central(sideways, x), abs=1e-6)
    assert at.length.sum() == pytest.approx(sum(e.length_mm for e in edge_lengths(found)), rel=1e-3)


def test_edges_and_corners_are_as_sure_as_the_measures_that_are_the_same():
    found = solved(record(**basis()))
    told = explain(found.problem.record, TOP)
    sure = {m.key: m.sigma_mm for m in told.pattern.measures}
    edges = {e.name: e.sigma_mm for e in edge_lengths(found)}
    corners = {(c.piece, c.corner): c.sigma_mm for c in corner_places(found)}
    assert edges["front.shoulder"] == pytest.approx(sure["shoulder_length"])
    assert edges["front.armhole"] == pytest.approx(sure["armhole_curve"])
    assert 2.0 * corners["front", "underarm"][0] == pytest.approx(sure["chest_width"])
    assert corners["front", "underarm"][1] == pytest.approx(sure["armhole_drop"])
    assert corners["front", "neck_centre"][0] == 0.0


def test_the_uncertainty_foretold_is_that_of_the_solve_with_the_measure():
    start = {"body_length", "chest_width", "sleeve_length", "armhole_drop"}
    figures = {key: Figure(true_figures()[key], 3.0) for key in true_figures()}
    given = Record("Top", TOP.name, tape={key: figures[key] for key in start})
    now = solved(given)
    advised = next_measures(now, places(now))
    assert len(advised) == 3
    for advice in advised:
        keys = {*start, advice.key, *([advice.level] if advice.level else [])}
        found = solved(replace(given, tape={key: figures[key] for key in keys}))
        at = places(found)
        variance = found.sureness.sigmas(at.rows.toarray()) ** 2
        after = float(np.sqrt(at.length @ variance / at.length.sum()))
        # the solve with it stands elsewhere, so its derivatives differ a little
        assert advice.after_mm == pytest.approx(after, rel=0.12), advice.key
        assert advice.after_mm < advice.before_mm
    assert list(advised) == sorted(advised, key=lambda a: a.after_mm)


def test_before_truing_is_the_record_alone_and_the_moves_are_told():
    wrong = {"sleeve_width": 230.0, "armhole_curve": 240.0}
    told = explain(record(**basis() | wrong), TOP)
    assert not isinstance(told, Untrued)
    assert told.before is not None
    assert max(abs(s.difference_mm) for s in told.before.seams) > 1.0
    assert max(abs(s.difference_mm) for s in told.pattern.seams) <= 0.01
    sizes = [abs(move.mm) for move in told.moves]
    assert sizes == sorted(sizes, reverse=True)
    assert told.moves[0].piece == "sleeve"
    # obvious: the same places, before and after, apart by as much
    before = next(p for p in told.pieces_before if p.name == "sleeve").edge(told.moves[0].edge).path
    after = told.pattern.piece("sleeve").edge(told.moves[0].edge).path
    apart = np.abs(before.segments - after.segments).max()
    assert abs(told.moves[0].mm) <= 2.0**0.5 * apart


def test_what_is_traced_well_needs_no_truing_and_no_further_measure():
    told = explain(measured(np.random.default_rng(5), each=40, keys=["body_length", "chest_width"]), TOP)
    assert not isinstance(told, Untrued)
    assert abs(told.moves[0].mm) < 3.0
    assert all(spread.sigma_mm.max() < 2.0 for spread in told.spreads)
    assert {s.piece for s in told.spreads} == {p.name for p in known().pieces}
