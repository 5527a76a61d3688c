"""Lengths, areas, points and boxes of curves against closed forms and other libraries.

Sources are named beside each check. Libraries: SciPy 1.17 (``scipy.integrate.quad``,
``scipy.special.ellipe``), svgpathtools 1.8.0 (``CubicBezier``), svgelements 1.9.6 (``CubicBezier``).
"""

import numpy as np
import pytest
import svgelements
import svgpathtools
from scipy.integrate import quad
from scipy.special import ellipe

from likesewn.geometry import Path, area, bezier, bounds, closest, flatten, point_at, turning
from shapes import ARMHOLE, QUARTER, arc, cubic, ellipse

RANDOM = [cubic(*np.random.default_rng(seed).uniform(-300, 300, (4, 2))) for seed in range(20)]


def by_quad(path):
    """Arc length by SciPy's adaptive Gauss-Kronrod rule (QUADPACK), cut where the speed is least."""
    total = 0.0
    for ctrl in path.segments:
        t = np.linspace(0, 1, 2001)
        speed = np.hypot(*bezier.derivative(ctrl, t).T)
        least = float(t[1:-1][np.argmin(speed[1:-1])])
        total += quad(
            lambda u, c=ctrl: float(np.hypot(*bezier.derivative(c, u))),
            0.0,
            1.0,
            points=[least],
            epsabs=0.0,
            epsrel=1e-13,
            limit=500,
        )[0]
    return total


@pytest.mark.filterwarnings("ignore:The occurrence of roundoff error")
@pytest.mark.parametrize("path", [*RANDOM, ARMHOLE, ellipse(120.0, 45.0)])
def test_lengths_agree_with_an_independent_quadrature(path):
    assert path.length == pytest.approx(by_quad(path), rel=1e-9)


@pytest.mark.parametrize("path", RANDOM[:8])
def test_lengths_agree_with_svgpathtools(path):
    points = [complex(x, y) for x, y in path.segments[0]]
    theirs = svgpathtools.CubicBezier(*points).length(error=1e-11, min_depth=5)
    assert path.length == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize("path", RANDOM)
def test_points_and_boxes_agree_with_svgelements(path):
    theirs = svgelements.CubicBezier(*(complex(x, y) for x, y in path.segments[0]))
    assert bounds(path) == pytest.approx(np.array(theirs.bbox()), abs=1e-9)
    for t in (0.0, 0.21, 0.5, 0.83, 1.0):
        point = theirs.point(t)
        assert bezier.position(path.segments[0], t) == pytest.approx([point.x, point.y], abs=1e-9)


@pytest.mark.parametrize("path", RANDOM)
def test_areas_agree_with_svgpathtools(path):
    # its area counts positive where y runs upward and the walk is anticlockwise: the same sign as ours
    points = [complex(x, y) for x, y in path.segments[0]]
    closed = svgpathtools.Path(svgpathtools.CubicBezier(*points), svgpathtools.Line(points[3], points[0]))
    assert area(path) == pytest.approx(closed.area(), rel=1e-9)


def test_the_quarter_circle_of_the_usual_constant():
    # closed forms and quadrature: length 1.5710166980738558, area (10 + 12 k - 3 k²) / 20, radius at most
    # 1 + 2.7253001e-4 at t = 1/2 -+ sqrt(3)/6; the constant is 4/3 (sqrt 2 - 1), derived by hand
    quarter = cubic((1, 0), (1, QUARTER), (QUARTER, 1), (0, 1))
    wedge = Path.join([quarter, Path.line((0, 1), (0, 0)), Path.line((0, 0), (1, 0))])
    assert quarter.length == pytest.approx(1.5710166980738558, rel=1e-12)
    assert area(wedge) == pytest.approx((10 + 12 * QUARTER - 3 * QUARTER**2) / 20, rel=1e-14)
    at = bezier.position(quarter.segments[0], np.array([0.5 - np.sqrt(3) / 6, 0.5 + np.sqrt(3) / 6, 0.5]))
    assert np.hypot(*at.T) - 1.0 == pytest.approx([2.7253001e-4, 2.7253001e-4, 0.0], abs=1e-11)
    assert turning(quarter) == pytest.approx(np.pi / 2, abs=1e-14)


def test_the_parabola():
    # y = x² from 0 to 1: sqrt(5)/2 + asinh(2)/4, elementary integral
    parabola = cubic((0, 0), (1 / 3, 0), (2 / 3, 1 / 3), (1, 1))
    assert parabola.length == pytest.approx(np.sqrt(5) / 2 + np.arcsinh(2) / 4, rel=1e-13)
    # x = 1/2 halves its parameter; distance there is the same integral from 0 to 1/2
    half = np.sqrt(2) / 4 + np.arcsinh(1) / 4
    assert point_at(parabola, half) == pytest.approx([0.5, 0.25], abs=1e-12)
    # nearest to (0, y0) for y0 > 1/2 is x² = y0 - 1/2, from the normal's equation
    assert closest(parabola, (0.0, 0.75)).point[0] == pytest.approx([0.5, 0.25], abs=1e-12)


def test_the_ellipse():
    # perimeter 4 a E(1 - b²/a²), area pi a b (complete elliptic integral of the second kind, by SciPy)
    path = ellipse(2.0, 1.0)
    assert path.length == pytest.approx(8.0 * ellipe(0.75), rel=1e-9)
    assert path.length == pytest.approx(9.688448220547675, rel=1e-9)
    assert area(path) == pytest.approx(2.0 * np.pi, rel=1e-9)
    assert bounds(path) == pytest.approx([-2, -1, 2, 1], abs=1e-12)


@pytest.mark.parametrize("angle", [1e-3, 0.3, 1.0, 3.0, 6.0])
@pytest.mark.parametrize("radius", [0.5, 60.0, 2000.0])
def test_arcs_of_circles(angle, radius):
    # length r theta; sector r² theta / 2 less the triangle r² sin(theta) / 2
    path = arc(radius, angle, 48)
    assert path.length == pytest.approx(radius * angle, rel=1e-9)
    assert area(path) == pytest.approx(
        radius**2 * (angle - np.sin(angle)) / 2, rel=1e-7, abs=1e-9 * radius**2
    )


@pytest.mark.parametrize("rtol", [1e-4, 1e-6, 1e-8, 1e-10])
def test_length_keeps_every_tolerance_asked_for(rtol):
    for path in RANDOM:
        found = float(bezier.length(path.segments, rtol)[0])
        assert found == pytest.approx(path.length, rel=10 * rtol)


@pytest.mark.parametrize("tolerance", [2.0, 0.2, 0.02, 2e-3, 2e-4])
def test_the_sagitta_of_flattened_circles(tolerance):
    # a chord of a circle lies within r (1 - cos(phi / 2)) of it, phi its angle
    r = 200.0
    points = flatten(arc(r, 6.0, 12), tolerance)
    chord = np.hypot(*np.diff(points, axis=0).T)
    sagitta = r - np.sqrt(r**2 - chord**2 / 4)
    assert sagitta.max() <= tolerance
    assert sagitta.max() >= 0.2 * tolerance or len(points) == 13
