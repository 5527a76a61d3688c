from collections.abc import Iterator
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.cut.cutlist import CutList
from likesewn.errors import InputError
from likesewn.publish.drawing import LINES, Label, Role, Stroke, walk
from likesewn.publish.pdf import pattern_pdf
from likesewn.publish.piece_lines import sampled
from likesewn.publish.pieces import PatternDrawing, pattern_drawing
from likesewn.publish.sheets import Layout, front_page, spread
from likesewn.publish.tiles import sheet_name, tiling
from publish.pdf_reading import Page, metadata, read_pages
from publish.sample_cut import TODAY, one_piece

MARGIN = 10.0


@pytest.fixture(scope="module", params=["a4", "letter"])
def printed(request: pytest.FixtureRequest, pattern: PatternDrawing) -> tuple[Layout, list[Page]]:
    tiles = tiling(request.param, MARGIN, 10.0)
    return spread(pattern, tiles), read_pages(pattern_pdf(pattern, request.param))


def on_plane(layout: Layout, sheet: tuple[int, int], points: np.ndarray) -> np.ndarray:
    left, top, *_ = layout.tiles.window(*sheet)
    return points - MARGIN + np.array([left, top])


def drawn(layout: Layout) -> Iterator[Stroke]:
    for items in layout.items:
        yield from (item for item in walk(items) if isinstance(item, Stroke))


def control_points(stroke: Stroke) -> np.ndarray:
    path = stroke.path
    runs = [path.segments[0, :1]]
    for segment, straight in zip(path.segments, path.straight, strict=True):
        runs.append(segment[3:] if straight else segment[1:])
    return np.concatenate(runs)


def test_the_sheets_put_together_are_the_drawing(printed: tuple[Layout, list[Page]]) -> None:
    """Each line is found on every sheet that shows some of it, at the same place of the plane."""
    layout, pages = printed
    assert len(pages) == 1 + len(layout.sheets)
    by_sheet = {
        sheet: [on_plane(layout, sheet, path.points) for path in page.paths]
        for sheet, page in zip(layout.sheets, pages[1:], strict=True)
    }
    worst = 0.0
    for stroke in drawn(layout):
        wanted = control_points(stroke)
        along = sampled(stroke.path)
        along = np.concatenate([along, 0.5 * (along[1:] + along[:-1])])
        shown = np.zeros(len(along), dtype=bool)
        for sheet, paths in by_sheet.items():
            off = [
                float(np.abs(p[: len(wanted)] - wanted).max())
                for p in paths
                if len(p) in {len(wanted), len(wanted) + 1}
            ]
            best = min(off, default=np.inf)
            if best > 0.01:
                continue
            worst = max(worst, best)
            left, top, right, bottom = layout.tiles.window(*sheet)
            shown |= (
                (along[:, 0] >= left)
                & (along[:, 0] <= right)
                & (along[:, 1] >= top)
                & (along[:, 1] <= bottom)
            )
        assert shown.all(), stroke
    assert worst <= 0.001


def test_curves_stay_curves_and_lines_stay_lines(printed: tuple[Layout, list[Page]]) -> None:
    layout, pages = printed
    curved = sum(int((~stroke.path.straight).any()) for stroke in drawn(layout))
    bezier = 1  # FPDF_SEGMENT_BEZIERTO
    found = sum(bezier in path.kinds for page in pages[1:] for path in page.paths)
    assert curved > 0
    assert found >= curved


def test_every_sheet_holds_a_share_of_the_pattern(printed: tuple[Layout, list[Page]]) -> None:
    layout, pages = printed
    heavy = {round(LINES[role].width, 3) for role in (Role.CUT, Role.SEAM, Role.FOLD)}
    for sheet, page in zip(layout.sheets, pages[1:], strict=True):
        assert layout.sheets[sheet]
        assert any(round(path.width_mm, 3) in heavy for path in page.paths), sheet_name(*sheet)


def test_each_sheet_is_named_and_says_where_its_neighbours_go(
    printed: tuple[Layout, list[Page]],
) -> None:
    layout, pages = printed
    for number, (sheet, page) in enumerate(zip(layout.sheets, pages[1:], strict=True), start=1):
        assert sheet_name(*sheet) in page.text
        assert f"sheet {number} of {len(layout.sheets)}" in page.text
        row, column = sheet
        for other in ((row, column + 1), (row + 1, column)):
            words = f"glue sheet {sheet_name(*other)} here"
            assert (words in page.text) == (other in layout.sheets)


def test_half_buttons_make_whole_ones_across_every_join(
    printed: tuple[Layout, list[Page]],
) -> None:
    layout, pages = printed
    page_of = dict(zip(layout.sheets, pages[1:], strict=True))
    assert layout.joins()
    for earlier, later in layout.joins():
        x, y = layout.tiles.window(*later)[:2]
        axis, join = (0, x) if earlier[0] == later[0] else (1, y)
        halves = []
        for sheet in (earlier, later):
            arcs = [
                on_plane(layout, sheet, path.points)
                for path in page_of[sheet].paths
                if path.kinds == (2, 1, 1, 1, 1, 1, 1)
            ]
            halves.append([a for a in arcs if np.allclose(a[[0, -1], axis], join, atol=0.01)])
        assert len(halves[0]) == len(halves[1]) == 2
        for first, second in zip(*halves, strict=True):
            ends = [np.sort(h[[0, -1], 1 - axis]) for h in (first, second)]
            assert np.allclose(*ends, atol=0.01)
            assert first[:, axis].min() < join - 4.0
            assert second[:, axis].max() > join + 4.0


def test_the_first_page_explains_and_maps(printed: tuple[Layout, list[Page]], cut_list: CutList) -> None:
    layout, pages = printed
    text = " ".join(pages[0].text.split())
    for words in (
        cut_list.garment,
        TODAY.isoformat(),
        "100 % (actual size)",
        "Do not scale",
        "10 cm each way",
        "4 in each way",
        f"{len(layout.sheets)} sheets",
    ):
        assert words in text
    for sheet in layout.sheets:
        assert sheet_name(*sheet) in text
    for piece in cut_list.pieces:
        assert f"{piece.title}: " in text


def test_nothing_but_the_pattern_s_own_lines_reaches_beyond_the_margins(
    printed: tuple[Layout, list[Page]],
) -> None:
    first = printed[1][0]
    for path in first.paths:
        low, high = path.points.min(axis=0), path.points.max(axis=0)
        assert low.min() >= MARGIN - 0.01
        assert high[0] <= first.width_mm - MARGIN + 0.01
        assert high[1] <= first.height_mm - MARGIN + 0.01


def test_the_document_says_what_it_is_and_is_always_the_same(pattern: PatternDrawing) -> None:
    data = pattern_pdf(pattern)
    assert data == pattern_pdf(pattern)
    facts = metadata(data)
    assert facts["Title"] == "Throwing top: pattern"
    assert facts["Creator"].startswith("likesewn")
    assert b"/PrintScaling /None" in data


def test_nothing_to_print_is_refused_in_words() -> None:
    empty = PatternDrawing("Top", TODAY, ())
    with pytest.raises(InputError, match="no piece to print"):
        pattern_pdf(empty)


NAMES = st.text(max_size=40) | st.sampled_from(
    ["عباية", "👗" * 30, "\ud800", "a" * 400, "\x00\x07", "(\\)<<>>", "Łódź", "袖口", "\u202eabc"]
)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(NAMES, NAMES)
def test_any_name_prints(garment: str, title: str) -> None:
    drawing = pattern_drawing(one_piece(garment, title, (garment,)), TODAY)
    pages = read_pages(pattern_pdf(drawing))
    assert len(pages) == 2
    assert "10 cm each way" in pages[0].text


@pytest.mark.parametrize("overlap", [0.0, 3.0, 25.0])
@pytest.mark.parametrize("margin", [5.0, 15.0])
def test_other_margins_and_overlaps_print_to_scale(margin: float, overlap: float) -> None:
    drawing = pattern_drawing(one_piece("Top", "Strip"), TODAY)
    pages = read_pages(pattern_pdf(drawing, margin=margin, overlap=overlap))
    squares = [p.size for p in pages[0].paths if abs(p.size[0] - 100.0) < 0.5]
    assert np.abs(np.array(squares) - 100.0).min(axis=0).max() <= 0.01


def test_lettering_of_the_first_page_does_not_run_together(
    printed: tuple[Layout, list[Page]],
) -> None:
    layout, _ = printed
    labels = [item for item in front_page(layout, "Throwing top", "2031-03-14") if isinstance(item, Label)]
    # names on the small map may lie over one another's sheets
    words = [label for label in labels if label.tone == "ink" and label.text not in layout.titles]
    width, height = layout.tiles.window_size
    boxes = [shapely.Polygon(label.corners()) for label in words]
    for label, box in zip(words, boxes, strict=True):
        assert shapely.box(0, 0, width, height).contains(box), label.text
    for (one, a), (other, b) in combinations(zip(words, boxes, strict=True), 2):
        assert not a.buffer(-0.2).intersects(b.buffer(-0.2)), (one.text, other.text)
