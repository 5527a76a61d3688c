"""Page sizes in the PDF against the standards.

Sources: ISO 216 (A3 297 x 420 mm, A4 210 x 297 mm); ANSI/ASME Y14.1 (A = letter 8.5 x 11 in,
B = tabloid 11 x 17 in); US legal 8.5 x 14 in (common practice, no source).
"""

import pytest

from likesewn.publish.pdf import pattern_pdf
from likesewn.publish.pieces import pattern_drawing
from publish.pdf_reading import read_pages
from publish.sample_cut import TODAY, one_piece

IN = 25.4


@pytest.mark.parametrize(
    ("paper", "width", "height"),
    [
        ("a4", 210.0, 297.0),
        ("a3", 297.0, 420.0),
        ("letter", 8.5 * IN, 11 * IN),
        ("legal", 8.5 * IN, 14 * IN),
        ("tabloid", 11 * IN, 17 * IN),
    ],
)
def test_pages_have_the_standard_s_size(paper: str, width: float, height: float) -> None:
    pages = read_pages(pattern_pdf(pattern_drawing(one_piece("Top", "Strip"), TODAY), paper))
    assert len(pages) == 2
    for page in pages:
        assert page.width_mm == pytest.approx(width, abs=0.001)
        assert page.height_mm == pytest.approx(height, abs=0.001)
