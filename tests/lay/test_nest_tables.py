"""What the search works out beforehand, against shapely."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate

from lay.hand_parts import CAP, HALF_TURNS, HOOK, QUARTER_TURNS, SQUARE, WEDGE, mixed
from likesewn.lay.nest import Part
from likesewn.lay.nest.guided import Arrangement, Guided
from likesewn.lay.nest.parts import turned
from likesewn.lay.nest.press import pressed
from likesewn.lay.nest.tables import TOLERATED, Tables

TABLES = Tables.of(
    [Part(CAP, 1, HALF_TURNS), Part(HOOK, 1, QUARTER_TURNS), Part(WEDGE, 1, (0.0, 25.0)), Part(SQUARE)], 400.0
)
OUTLINES = [turned((CAP, HOOK, WEDGE, SQUARE)[a.part], a.turn) - a.shift for a in TABLES.attitudes]
every_two = given(
    st.integers(0, len(OUTLINES) - 1),
    st.integers(0, len(OUTLINES) - 1),
    st.floats(-320, 320),
    st.floats(-320, 320),
)


@settings(max_examples=200, deadline=None, derandomize=True)
@every_two
def test_lines_round_a_keep_out_tell_overlap_from_none(i, j, x, y):
    a, b = shapely.Polygon(OUTLINES[i]), translate(shapely.Polygon(OUTLINES[j]), x, y)
    planes = TABLES.planes(i, j)
    room = np.maximum.reduceat(planes.normal @ [x, y] - planes.least, planes.start).min()
    if a.distance(b) > 1e-6:
        assert room > 0
    elif a.intersection(b).area > 1e-3:
        assert room < 0


@settings(max_examples=200, deadline=None, derandomize=True)
@every_two
def test_a_depth_map_shows_how_far_the_rim_is(i, j, x, y):
    depth, ahead, beside, long, wide = TABLES.maps.views[j][i]
    cell = TABLES.cell
    column, row = round(x / cell), round(y / cell)
    if not (0 <= column + ahead < long and 0 <= row + beside < wide):
        depth_there = 0.0
    else:
        depth_there = float(depth[column + ahead, row + beside])
    a, b = shapely.Polygon(OUTLINES[i]), shapely.Polygon(OUTLINES[j])
    moved = translate(b, column * cell, row * cell)
    if depth_there == 0:
        # Drawn in by what is tolerated and by a cell's half diagonal, they are clear of each other.
        assert not a.buffer(-(TOLERATED + 0.8) * cell).intersects(moved)
    else:
        assert a.distance(moved) < cell


def test_the_map_of_two_exchanged_is_turned_about():
    for i in range(len(OUTLINES)):
        for j in range(len(OUTLINES)):
            forth, back = TABLES.maps.views[j][i], TABLES.maps.views[i][j]
            assert np.array_equal(forth[0], back[0][::-1, ::-1])
            assert forth[1] == back[3] - 1 - back[1]


def test_depths_kept_up_to_date_are_those_worked_out_anew():
    tables = Tables.of(mixed(), 420.0)
    guided = Guided(tables, np.random.default_rng(1))
    guided.drop_all(400.0)
    arrangement = guided.arrangement()
    squeezed = Arrangement(arrangement.attitude, tuple(int(0.8 * x) for x in arrangement.x), arrangement.y)
    guided.arrange(squeezed, 0.8 * 400.0)
    before = guided._depths().sum()
    left = guided.separate(8, lambda: False)
    assert left == pytest.approx(guided._depths().sum())
    assert left < before
    for attitude in range(len(tables.attitudes)):
        kept = guided._sum(attitude)
        guided.stretch_again()
        assert np.array_equal(kept, guided._sum(attitude))


def test_pressing_parts_what_overlaps_and_takes_up_the_slack():
    tables = Tables.of([Part(SQUARE, 2)], 150.0)
    length, spots = pressed(tables, [0, 0], np.array([[0.0, 0.0], [95.0, 20.0]]))
    assert length == pytest.approx(200.0)
    assert abs(spots[1, 0] - spots[0, 0]) == pytest.approx(100.0)
