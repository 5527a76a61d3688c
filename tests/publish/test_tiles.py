import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.errors import InputError
from likesewn.publish.tiles import sheet_name, sheets_needed, tiling


@pytest.mark.parametrize("paper", ["a4", "letter", "legal", "a3", "tabloid"])
def test_cores_cover_the_windows_without_overlap(paper: str) -> None:
    tiles = tiling(paper)
    sheets = [(row, column) for row in range(3) for column in range(4)]
    cores = [shapely.box(*tiles.core(*sheet)) for sheet in sheets]
    windows = [shapely.box(*tiles.window(*sheet)) for sheet in sheets]
    whole = shapely.union_all(windows)
    assert sum(core.area for core in cores) == pytest.approx(whole.area)
    assert shapely.union_all(cores).symmetric_difference(whole).area == pytest.approx(0, abs=1e-6)
    for core, window in zip(cores, windows, strict=True):
        assert window.buffer(1e-9).contains(core)


def test_neighbours_share_a_strip_of_the_overlap() -> None:
    tiles = tiling("a4", margin=8.0, overlap=12.0)
    left, right = tiles.window(0, 0), tiles.window(0, 1)
    assert left[2] - right[0] == pytest.approx(12.0)
    assert left[2] - left[0] == pytest.approx(210.0 - 16.0)
    assert tiles.window(1, 0)[1] == pytest.approx(297.0 - 16.0 - 12.0)


@pytest.mark.parametrize(
    ("row", "column", "name"), [(0, 0, "A1"), (1, 2, "B3"), (25, 9, "Z10"), (26, 0, "AA1")]
)
def test_sheet_names(row: int, column: int, name: str) -> None:
    assert sheet_name(row, column) == name


def test_a_piece_within_one_window_needs_one_sheet() -> None:
    tiles = tiling("a4")
    outline = np.array([(1, 1), (189, 1), (189, 276), (1, 276)], dtype=float)
    assert sheets_needed(tiles, [outline]) == {(0, 0): (0,)}


def test_a_sheet_wholly_inside_a_piece_is_kept() -> None:
    tiles = tiling("a4")
    outline = np.array([(5, 5), (700, 5), (700, 900), (5, 900)], dtype=float)
    needed = sheets_needed(tiles, [outline])
    assert (1, 1) in needed
    assert len(needed) == 16


def test_a_sheet_that_a_piece_only_surrounds_is_left_out() -> None:
    tiles = tiling("a4")
    outline = np.array([(5, 5), (735, 5), (735, 60), (100, 60), (100, 900), (5, 900)], dtype=float)
    needed = sheets_needed(tiles, [outline])
    assert (2, 2) not in needed
    assert (0, 3) in needed


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.tuples(st.floats(0.5, 900.0), st.floats(0.5, 900.0)), min_size=3, max_size=7, unique=True))
def test_every_part_of_a_piece_lies_in_a_sheet_that_is_printed(
    points: list[tuple[float, float]],
) -> None:
    hull = shapely.MultiPoint(points).convex_hull
    if hull.area < 1.0:
        return
    tiles = tiling("letter")
    needed = sheets_needed(tiles, [np.array(hull.exterior.coords)[:-1]])
    shown = shapely.union_all([shapely.box(*tiles.window(*sheet)) for sheet in needed])
    assert hull.difference(shown).area < 0.5
    for sheet in needed:
        assert shapely.box(*tiles.core(*sheet)).intersects(hull.buffer(0.4))


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"paper": "A5"}, ["paper", "A5", "a4, letter"]),
        ({"paper": "lettr"}, ["did you mean letter?"]),
        ({"paper": ""}, ["allowed"]),
        ({"margin": 40.0}, ["margin", "40 mm", "0 to 15 mm"]),
        ({"margin": -1.0}, ["margin"]),
        ({"margin": float("nan")}, ["margin"]),
        ({"overlap": 100.0}, ["overlap", "0 to 40 mm"]),
    ],
)
def test_what_cannot_be_printed_is_refused_in_words(
    arguments: dict[str, float | str], words: list[str]
) -> None:
    with pytest.raises(InputError) as refused:
        tiling(**arguments)
    for word in words:
        assert word in str(refused.value)
