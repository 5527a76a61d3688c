"""Figures that contradict one another: a typed refusal or a finding, never an exception."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.garment import Pattern, Weight
from likesewn.truing import Untrued, true
from tops import TOP, basis, record

ABSURD = [
    {"sleeve_width": 900, "armhole_curve": 200},
    {"sleeve_width": 30, "armhole_curve": 900},
    {"neck_width": 500, "shoulder_width": 300},
    {"armhole_straight": 400, "armhole_curve": 200},
    {"shoulder_length": 3},
    {"armhole_drop": 700, "body_length": 650},
    {"side_length": 900},
    {"sleeve_underarm": 1000},
    {"waist_level": 2000, "waist_width": 400},
]


@pytest.mark.parametrize("figures", ABSURD, ids=" ".join)
def test_absurd_figures_are_answered(figures):
    answer = true(record(**basis() | figures), TOP)
    if isinstance(answer, Untrued):
        assert answer.reason
        assert answer.conditions
    else:
        assert any(f.weight in {Weight.LOOK, Weight.STOP} for f in answer.findings), figures


def sayings(answer: Pattern | Untrued) -> list[str]:
    if isinstance(answer, Untrued):
        return [answer.reason]
    return [f.code for f in answer.findings]


@settings(max_examples=12, derandomize=True, deadline=None)
@given(data=st.data())
def test_any_accepted_figures_are_answered(data):
    figures = {}
    for measure in TOP.measures.values():
        if measure.needed or data.draw(st.booleans()):
            figures[measure.key] = data.draw(st.floats(max(measure.least, 1.0), measure.most))
    answer = true(record(**figures), TOP)
    if isinstance(answer, Pattern):
        for piece in answer.pieces:
            assert all(np.isfinite(edge.path.segments).all() for edge in piece.edges)
        sewn = all(abs(s.difference_mm) <= 0.01 for s in answer.seams)
        asked = [m for m in answer.measures if m.asked_mm is not None]
        met = all(abs(m.value_mm - m.asked_mm) <= 1.0 for m in asked)
        assert (sewn and met) or sayings(answer), figures
    else:
        assert answer.reason
        assert answer.conditions
