import itertools

import numpy as np
import pytest
from scipy.interpolate import BSpline

from likesewn.garment import load_kind
from likesewn.geometry import bezier
from likesewn.truing.splines import bezier_matrix, fit_shape


@pytest.mark.parametrize("spans", range(1, 9))
def test_the_same_curve_as_an_independent_spline(spans):
    controls = np.random.default_rng(spans).normal(0.0, 100.0, (spans + 3, 2))
    knots = np.concatenate([np.zeros(3), np.linspace(0.0, 1.0, spans + 1), np.ones(3)])
    spline = BSpline(knots, controls, 3)
    segments = bezier_matrix(spans) @ controls
    t = np.linspace(0.0, 1.0, 21)
    for span, segment in enumerate(segments):
        u = (span + t) / spans
        assert np.allclose(bezier.position(segment, t), spline(u), atol=1e-9)
        assert np.allclose(bezier.derivative(segment, t) * spans, spline(u, 1), atol=1e-7)


@pytest.mark.parametrize("spans", [2, 5, 8])
def test_joints_are_smooth_twice_over(spans):
    segments = bezier_matrix(spans) @ np.random.default_rng(7).normal(0.0, 100.0, (spans + 3, 2))
    for before, after in itertools.pairwise(segments):
        assert np.allclose(before[3], after[0], atol=1e-9)
        assert np.allclose(bezier.derivative(before, 1.0), bezier.derivative(after, 0.0), atol=1e-8)
        second = bezier.second_derivative(before, 1.0)
        assert np.allclose(second, bezier.second_derivative(after, 0.0), atol=1e-7)


def test_points_are_weighted_means_of_controls():
    for spans in range(1, 9):
        matrix = bezier_matrix(spans)
        assert matrix.shape == (spans, 4, spans + 3)
        assert np.allclose(matrix.sum(axis=2), 1.0, atol=1e-12)
        assert matrix.min() >= 0.0


@pytest.mark.parametrize("spans", [2, 4, 8])
def test_a_template_shape_is_followed_and_leaves_its_ends_as_drawn(spans):
    for piece in load_kind("set-in-sleeve-top").pieces:
        for edge in piece.edges:
            if edge.straight:
                continue
            inner = fit_shape(edge.shape, edge.frame, edge.shape_cubics, spans)
            end = np.array([1.0, 1.0] if edge.frame == "box" else [1.0, 0.0])
            drawn = np.array([(0.0, 0.0), *edge.shape, end])
            segments = np.stack([drawn[i : i + 4] for i in range(0, len(drawn) - 1, 3)])
            wanted = bezier.position(segments[:, None], np.linspace(0.0, 1.0, 200)).reshape(-1, 2)
            found = bezier_matrix(spans) @ np.vstack([(0.0, 0.0), inner, end])
            at = bezier.position(found[:, None], np.linspace(0.0, 1.0, 400)).reshape(-1, 2)
            gap = np.hypot(*(wanted[:, None] - at).T).min(axis=0).max()
            assert gap < 0.03, (piece.name, edge.name)  # of the edge's chord
            for control, corner, beside in ((inner[0], drawn[0], drawn[1]), (inner[-1], end, drawn[-2])):
                a, b = control - corner, beside - corner
                assert abs(a[0] * b[1] - a[1] * b[0]) < 1e-9
                assert a @ b > 0.0
