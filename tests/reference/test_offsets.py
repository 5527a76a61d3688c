"""Parallels against the formulas of Steiner and against another library.

For a closed convex curve of length L and area A, the parallel at distance d outward has length
L + 2 pi d and area A + L d + pi d² (J. Steiner, Über parallele Flächen, 1840; also Santaló, Integral
Geometry and Geometric Probability, I.1.2); inward with -d, as long as d is below the smallest radius of
curvature. For polygons with mitred corners: L + 2 d T and A + L d + d² T with T the sum of
tan(theta / 2) over the corners' turns, by elementary geometry. Library: shapely 2.2 (GEOS).
"""

import numpy as np
import pytest
import shapely

from likesewn.geometry import OffsetError, Path, area, closest, flatten, offset, point_at
from shapes import ARMHOLE, arc, circle, ellipse

TRIANGLE = Path.polyline([(0, 0), (4, 0), (0, 3), (0, 0)])


@pytest.mark.parametrize("tolerance", [1e-2, 1e-4, 1e-6])
@pytest.mark.parametrize("distance", [-20.0, -5.0, 5.0, 30.0, 100.0])
@pytest.mark.parametrize("path", [ellipse(120.0, 80.0, 16), circle(150.0)], ids=["ellipse", "circle"])
def test_steiner_formulas(path, distance, tolerance):
    found = offset(path, distance, tolerance)
    assert found.closed
    # a shift of the outline by the tolerance changes the area by its length times the tolerance
    slack = tolerance * found.length
    assert area(found) == pytest.approx(area(path) + path.length * distance + np.pi * distance**2, abs=slack)
    assert found.length == pytest.approx(path.length + 2 * np.pi * distance, abs=2 * np.pi * tolerance)


@pytest.mark.parametrize(
    ("distance", "wanted"), [(0.3, (9.4724631, 11.5734038)), (-0.3, (3.6593942, 7.8034926))]
)
def test_the_ellipse_of_two_to_one(distance, wanted):
    # Steiner with A = 2 pi, L = 8 E(3/4); -0.3 is above the smallest radius of curvature, 1/2
    found = offset(ellipse(2.0, 1.0), distance, 1e-8)
    assert (area(found), found.length) == pytest.approx(wanted, abs=1e-6)


@pytest.mark.parametrize(
    ("distance", "wanted"), [(0.5, (13.5, 18.0)), (-0.25, (3.375, 9.0)), (-0.9, (0.06, 1.2))]
)
def test_the_triangle_of_three_four_five(distance, wanted):
    # similar triangles: inradius 1, so that every length scales by 1 + d
    found = offset(TRIANGLE, distance, mitre_limit=10.0)
    assert (area(found), found.length) == pytest.approx(wanted, rel=1e-9)
    assert found.straight.all()
    assert len(found.segments) == 3


def test_the_triangle_is_gone_at_its_inradius():
    for distance in (-1.0001, -1.5):
        with pytest.raises(OffsetError):
            offset(TRIANGLE, distance)


@pytest.mark.parametrize("distance", [-0.7, 0.4, 2.0])
@pytest.mark.parametrize("angle", [0.3, 1.5, 4.5])
def test_an_open_arc(angle, distance):
    # length theta (r + d)
    found = offset(arc(1.0, angle, 32), distance, 1e-7)
    assert found.length == pytest.approx(angle * (1.0 + distance), abs=1e-6)


POLYGONS = {
    "square": [(0, 0), (100, 0), (100, 100), (0, 100)],
    "ell": [(0, 0), (100, 0), (100, 40), (40, 40), (40, 100), (0, 100)],
    "bodice": [(0, 95), (40, 90), (88, 0), (205, 42), (190, 150), (260, 240), (258, 658), (0, 660)],
    "notched": [(0, 0), (90, 0), (90, 60), (60, 60), (55, 20), (50, 60), (0, 60)],
    "star": [
        (0, -100),
        (29, -40),
        (95, -31),
        (47, 15),
        (59, 81),
        (0, 50),
        (-59, 81),
        (-47, 15),
        (-95, -31),
        (-29, -40),
    ],
}


@pytest.mark.parametrize("distance", [-40.0, -12.0, -6.0, -2.0, 2.0, 6.0, 25.0, 60.0])
@pytest.mark.parametrize("name", POLYGONS)
def test_polygons_agree_with_shapely(name, distance):
    points = POLYGONS[name]
    path = Path.polyline([*points, points[0]])
    # shapely: mitre_limit is in distances too; one that no corner reaches leaves only mitres
    theirs = shapely.Polygon(points).buffer(distance, join_style="mitre", mitre_limit=100.0)
    parts = list(getattr(theirs, "geoms", [theirs]))
    longest = max(parts, key=lambda part: part.length)
    if theirs.is_empty:
        with pytest.raises(OffsetError):
            offset(path, distance, mitre_limit=100.0)
        return
    found = offset(path, distance, mitre_limit=100.0)
    ours = shapely.Polygon(flatten(found))
    assert ours.is_valid
    assert found.straight.all()
    # an outward parallel that closes over a notch leaves a hole in theirs, which no path can show
    outline = shapely.Polygon(longest.exterior)
    assert ours.symmetric_difference(outline).area <= 1e-9 * outline.area + 1e-9


@pytest.mark.parametrize("tolerance", [0.1, 1e-2, 1e-3])
@pytest.mark.parametrize("distance", [-60.0, -25.0, -6.0, 6.0, 25.0, 60.0])
def test_a_curved_edge_agrees_with_shapely(distance, tolerance):
    line = shapely.LineString(flatten(ARMHOLE, 1e-6))
    # shapely's left is ours outward: its y runs upward
    theirs = line.offset_curve(-distance, quad_segs=400, join_style="round")
    found = offset(ARMHOLE, distance, tolerance)
    # shapely takes the tangents at the ends from the polygon's end chords, and where an end is left out it
    # stops at the distance itself, not at the distance less the tolerance: the last hundredth is not told
    points = point_at(found, np.linspace(0.01, 0.99, 300) * found.length)
    assert shapely.distance(theirs, shapely.points(points)).max() <= tolerance + 2e-3
    # GEOS smooths hollows of its input by up to a hundredth of the distance
    other = shapely.get_coordinates(theirs)
    kept = closest(ARMHOLE, other).distance >= abs(distance) - 1e-3
    assert closest(found, other[kept]).distance.max() <= tolerance + 0.01 * abs(distance)
