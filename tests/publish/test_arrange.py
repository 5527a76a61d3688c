from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.publish.arrange import CLEARANCE_MM, Placement, arrange
from likesewn.publish.drawing import turned
from likesewn.publish.pieces import PatternDrawing
from likesewn.publish.tiles import Tiling, sheets_needed, tiling


def placed(outlines: list[np.ndarray], placements: tuple[Placement, ...]) -> list[np.ndarray]:
    return [
        turned(outline, p.angle) + np.array(p.by) for outline, p in zip(outlines, placements, strict=True)
    ]


def check(tiles: Tiling, outlines: list[np.ndarray], where: list[np.ndarray]) -> int:
    shapes = [shapely.Polygon(o) for o in where]
    for a, b in combinations(shapes, 2):
        assert a.distance(b) >= 2 * CLEARANCE_MM - 1e-6
    needed = sheets_needed(tiles, where)
    shown = shapely.union_all([shapely.box(*tiles.window(*sheet)) for sheet in needed])
    for shape, outline in zip(shapes, outlines, strict=True):
        assert shape.area == pytest.approx(shapely.Polygon(outline).area)
        assert shown.buffer(1e-6).contains(shape)
    return len(needed)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_sample_takes_few_sheets(pattern: PatternDrawing, paper: str) -> None:
    tiles = tiling(paper)
    outlines = [piece.outline for piece in pattern.pieces]
    count = check(tiles, outlines, placed(outlines, arrange(outlines, tiles)))
    alone = sum(len(sheets_needed(tiles, [o - o.min(axis=0) + CLEARANCE_MM])) for o in outlines)
    area = sum(shapely.Polygon(o).area for o in outlines)
    least = int(np.ceil(area / (tiles.step[0] * tiles.step[1])))
    assert least <= count <= 12
    assert count < alone


def test_small_pieces_share_a_sheet() -> None:
    strips = [np.array([(0, 0), (80, 0), (80, 60), (0, 60)], dtype=float) for _ in range(6)]
    tiles = tiling("a4")
    assert check(tiles, strips, placed(strips, arrange(strips, tiles))) == 1


def test_a_long_strip_is_turned_to_save_sheets() -> None:
    strip = [np.array([(0, 0), (260, 0), (260, 40), (0, 40)], dtype=float)]
    tiles = tiling("a4")
    assert check(tiles, strip, placed(strip, arrange(strip, tiles))) == 1


def test_no_pieces_need_no_places() -> None:
    assert arrange([], tiling("a4")) == ()


@settings(max_examples=8, deadline=None, derandomize=True)
@given(
    st.lists(
        st.tuples(st.floats(3.0, 900.0), st.floats(3.0, 700.0), st.floats(0.1, 0.9)),
        min_size=1,
        max_size=6,
    ),
    st.sampled_from(["a4", "letter"]),
)
def test_any_pieces_lie_apart_and_on_the_sheets(sizes: list[tuple[float, float, float]], paper: str) -> None:
    outlines = [
        np.array([(0, 0), (w * s, -0.2 * h), (w, 0.1 * h), (w * (1 - 0.3 * s), h), (0, h)])
        for w, h, s in sizes
    ]
    tiles = tiling(paper)
    placements = arrange(outlines, tiles)
    check(tiles, outlines, placed(outlines, placements))
    assert arrange(outlines, tiles) == placements
