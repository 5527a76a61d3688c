"""The printed sheets: read back by another library, measured, and found as a photograph would be."""

import numpy as np
import pypdfium2
import pytest

from likesewn.errors import InputError
from likesewn.photo.finding_sheets import find_sheets
from likesewn.photo.sheet import FIELD_MM, MOST_SHEETS, sheet
from likesewn.publish.drawing import item_bounds
from likesewn.publish.lay_pictures import HEIGHT, WIDTH, lay_pictures
from likesewn.publish.sheet_pdf import sheet_pdf
from likesewn.units import PAPER
from publish.pdf_reading import read_pages


@pytest.fixture(scope="module", params=["a4", "letter"])
def printed(request):
    return request.param, sheet_pdf(request.param, 3)


def test_there_is_a_page_that_shows_how_and_then_the_sheets(printed):
    paper, data = printed
    pages = read_pages(data)
    assert len(pages) == 4
    for page in pages:
        assert page.width_mm == pytest.approx(PAPER[paper].width_mm, abs=0.01)
        assert page.height_mm == pytest.approx(PAPER[paper].height_mm, abs=0.01)
    assert "--printed-ruler" in pages[0].text
    for number in (1, 2, 3):
        assert f"Sheet {number}" in pages[number].text
        assert "This side up" in pages[number].text
        assert "actual size" in pages[number].text


def test_the_rulers_are_200_mm_and_8_in_both_ways(printed):
    _, data = printed
    for page in read_pages(data)[1:]:
        lines = [path.size for path in page.paths if len(path.points) == 2]
        across = sorted(size[0] for size in lines if size[1] < 0.01 and size[0] > 100.0)
        along = sorted(size[1] for size in lines if size[0] < 0.01 and size[1] > 100.0)
        np.testing.assert_allclose(across, (200.0, 203.2), atol=0.01)
        np.testing.assert_allclose(along, (200.0, 203.2), atol=0.01)


def test_nothing_is_nearer_to_the_papers_edge_than_printers_reach(printed):
    paper, data = printed
    size = np.array([PAPER[paper].width_mm, PAPER[paper].height_mm])
    for page in read_pages(data):
        points = np.concatenate([path.points for path in page.paths])
        assert points.min() > 3.0 - 0.01
        assert np.all(size - points.max(axis=0) > 3.0 - 0.01)


def test_the_field_has_its_size_and_blank_paper_round_it(printed):
    _, data = printed
    page = read_pages(data)[1]
    filled = [path.points for path in page.paths if len(path.points) > 3]
    points = np.concatenate(filled)
    np.testing.assert_allclose(np.ptp(points, axis=0), FIELD_MM, atol=0.02)
    left, top = points.min(axis=0)
    lines = np.concatenate([path.points for path in page.paths if len(path.points) == 2])
    inside = np.all((lines > (left - 4.0, top - 4.0)) & (lines < points.max(axis=0) + 4.0), axis=1)
    assert not inside.any()


def test_a_scan_of_each_page_shows_its_sheet_at_true_size(printed):
    _, data = printed
    dots = 150.0
    for number, page in enumerate(pypdfium2.PdfDocument(data)):
        found = find_sheets(np.asarray(page.render(scale=dots / 72.0).to_pil().convert("L")))
        if number == 0:
            assert found == ()
            continue
        (seen,) = found
        assert seen.number == number
        assert len(seen.px) == 35
        ends = seen.px[[0, -1]]
        true = np.linalg.norm(seen.mm[-1] - seen.mm[0])
        # pdfium rounds the page to whole dots, a few parts in ten thousand
        assert np.linalg.norm(ends[1] - ends[0]) / dots * 25.4 == pytest.approx(true, rel=1e-3)
        assert ends[1][0] > ends[0][0]
        assert ends[1][1] > ends[0][1]


def test_no_coded_square_is_on_two_sheets():
    codes = [code for number in range(1, MOST_SHEETS + 1) for code in sheet(number).codes]
    assert len(codes) == len(set(codes)) == 24 * MOST_SHEETS


def test_the_same_call_gives_the_same_bytes():
    assert sheet_pdf("a4", 1) == sheet_pdf("A4 ", 1)


def test_pictures_stay_inside_their_frames():
    for drawing, words in lay_pictures():
        left, top, right, bottom = item_bounds(drawing.items)
        assert min(left, top) >= -0.01, drawing.title
        assert right <= WIDTH + 0.01, drawing.title
        assert bottom <= HEIGHT + 0.01, drawing.title
        assert words


@pytest.mark.parametrize(
    ("paper", "count", "key"), [("a3", 4, "--paper"), ("a4", 0, "--count"), ("a4", 9, "--count")]
)
def test_what_cannot_be_printed_is_refused(paper, count, key):
    with pytest.raises(InputError) as caught:
        sheet_pdf(paper, count)
    assert [problem.key for problem in caught.value.problems] == [key]
