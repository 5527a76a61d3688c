"""Conditions and figures that repeat one another, exactly or nearly."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import sparse

from entries import Entries
from likesewn.garment.kind import Alike
from likesewn.truing.matrices import StepMatrix
from likesewn.truing.solve import Linearised, minimise
from tops import TOP, assert_met, assert_sewn, basis, record, trued, value


def repeated(times: int):
    """Return the top with every seam said several times over, under other names."""
    again = [replace(seam, name=f"{seam.name} {i}") for seam in TOP.seams for i in range(times)]
    return replace(TOP, seams=(*TOP.seams, *again))


@pytest.mark.parametrize("times", [1, 3])
def test_seams_said_again_change_nothing(times):
    once, often = trued(record(**basis())), trued(record(**basis()), repeated(times))
    assert_sewn(often)
    for one, two in zip(once.pieces, often.pieces, strict=True):
        for edge, same in zip(one.edges, two.edges, strict=True):
            assert np.abs(edge.path.segments - same.path.segments).max() < 0.01


def test_conditions_that_follow_from_one_another():
    # front and back that agree are each sewn to one sleeve and to one another: one of these says nothing new
    extra = replace(TOP.seams[1], name="armholes", left="front.armhole", right="back.armhole", right_side="")
    kind = replace(TOP, seams=(*TOP.seams, extra))
    for figures in ({}, {"front_armhole_curve": 258.0, "back_armhole_curve": 258.0}):
        pattern = trued(record(**basis(), **figures), kind)
        assert_sewn(pattern)


def test_figures_that_repeat_one_another_nearly():
    first = trued(record(**basis()))
    read = {m.key: m.value_mm for m in first.measures}
    pattern = trued(record(**read))
    assert_met(pattern)
    assert_sewn(pattern)
    both = trued(record(**read, front_chest_width=read["chest_width"], back_chest_width=read["chest_width"]))
    assert value(both, "chest_width") == pytest.approx(read["chest_width"], abs=0.1)
    assert_sewn(both)


def test_a_repeated_and_a_nearly_repeated_condition_in_the_solve_itself():
    # a point drawn to (3, 4), held on x + y = 2 three times over, once with a tilt of 1e-9
    C = np.array([[1.0, 1.0], [2.0, 2.0], [1.0, 1.0 + 1e-9]])

    rows, conditions = Entries.of(np.eye(2)), Entries.of(C)
    matrix = StepMatrix(2, (), rows, conditions, sparse.csr_array((0, 2)))

    def evaluate(x):
        return Linearised(
            residuals=x - [3.0, 4.0],
            gradient=x - [3.0, 4.0],
            squares=matrix.squares(np.ones(2)),
            gaps=C @ x - [2.0, 4.0, 2.0],
            conditions=C.ravel(),
            curvature=lambda _: matrix.squares(np.zeros(2)),
            jacobian=lambda: sparse.csr_array(np.eye(2)),
            condition_jacobian=lambda: sparse.csr_array(C),
        )

    prior = sparse.csr_array((0, 2)), np.zeros(0)
    solution = minimise(evaluate, matrix, prior, 0.0, np.array([50.0, -20.0]))
    assert solution.converged
    assert solution.x == pytest.approx([0.5, 1.5], abs=1e-5)


def test_pieces_alike_need_no_condition_of_their_own():
    loose = replace(TOP, alike=(Alike(TOP.alike[0].pieces, ("shoulder",)),))
    assert_sewn(trued(record(**basis()), loose))
