"""The printed scale, read back from the PDF by another library (pdfium, through pypdfium2).

Sources: 1 in = 25.4 mm exactly (international yard and pound agreement, 1959); a PDF unit is 1/72 in
(ISO 32000-1:2008, 8.3.2.3). The bar of 0.01 mm is the project's own.
"""

import numpy as np
import pytest

from likesewn.publish.pdf import pattern_pdf
from likesewn.publish.pieces import pattern_drawing
from publish.pdf_reading import Page, read_pages
from publish.sample_cut import TODAY, sample_cut_list
from samples import sample_pattern

BAR_MM = 0.01


@pytest.fixture(scope="module", params=["a4", "letter"])
def pages(request: pytest.FixtureRequest) -> list[Page]:
    return read_pages(pattern_pdf(pattern_drawing(sample_cut_list(), TODAY), request.param))


@pytest.mark.parametrize("side", [100.0, 4 * 25.4])
def test_square_measures_true(pages: list[Page], side: float) -> None:
    squares = [
        path.size for path in pages[0].paths if path.width_mm > 0.5 and np.abs(path.size - side).max() < 0.5
    ]
    assert len(squares) == 1
    assert np.abs(squares[0] - side).max() <= BAR_MM


@pytest.mark.parametrize("side", [100.0, 101.6])
def test_scale_bars_on_pieces_measure_true(pages: list[Page], side: float) -> None:
    bars = [
        float(np.hypot(*path.size))
        for page in pages[1:]
        for path in page.paths
        if path.kinds == (2, 0) and abs(np.hypot(*path.size) - side) < 0.5
    ]
    assert len(bars) >= 3
    assert np.abs(np.array(bars) - side).max() <= BAR_MM


def test_straight_seams_have_their_template_lengths_on_paper(pages: list[Page]) -> None:
    wanted = [
        edge.path.length
        for piece in sample_pattern().pieces
        for edge in piece.edges
        if edge.path.straight.all() and len(edge.path.segments) == 1 and not edge.fold
    ]
    runs = [
        float(np.hypot(*np.diff(path.points, axis=0)[0]))
        for page in pages[1:]
        for path in page.paths
        if path.kinds == (2, 0)
    ]
    assert len(wanted) >= 3
    for length in wanted:
        assert min(abs(run - length) for run in runs) <= BAR_MM
