import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest
import svgpathtools

from likesewn.garment.kind import OPERATIONS
from likesewn.garment.kinds import kind_names, load_kind
from likesewn.publish.measure_spans import SPANS
from likesewn.publish.measures_drawing import measure_drawings
from samples import sample_pattern

SVG = "{http://www.w3.org/2000/svg}"


def shown(text: str) -> list[float]:
    root = ET.fromstring(text)  # noqa: S314
    paths = (p for p in root.iter(f"{SVG}path") if p.get("data-line") == "shown")
    return [svgpathtools.parse_path(p.get("d")).length(error=1e-7) for p in paths]


@pytest.mark.parametrize("name", kind_names())
def test_every_measure_and_every_piece_has_its_picture(name: str) -> None:
    kind = load_kind(name)
    pictures = measure_drawings(kind, sample_pattern(kind))
    assert set(kind.measures) <= set(pictures)
    for piece in kind.pieces:
        text = pictures[f"piece-{piece.name}"]
        for measure in kind.measures.values():
            if piece.name in measure.pieces:
                assert f"  {measure.title}<" in text
    for key, measure in kind.measures.items():
        assert measure.how in pictures[key] or "&" in pictures[key]
        assert shown(pictures[key])


def test_every_operation_can_be_shown() -> None:
    assert set(SPANS) == set(OPERATIONS)


# figures of the kind's template, straight from its corners
@pytest.mark.parametrize(
    ("key", "mm"),
    [
        ("chest_width", 520.0),
        ("neck_width", 176.0),
        ("shoulder_drop", 42.0),
        ("front_neck_drop", 95.0),
        ("sleeve_length", 590.0),
        ("cuff_width", 105.0),
        ("body_length", 659.5),
        ("armhole_straight", (55.0**2 + 198.0**2) ** 0.5),
    ],
)
def test_a_picture_shows_the_very_length(key: str, mm: float) -> None:
    pattern = sample_pattern()
    assert max(shown(measure_drawings(pattern.kind, pattern)[key])) == pytest.approx(mm, abs=0.6)


def test_pictures_say_in_words_what_they_show() -> None:
    pattern = sample_pattern()
    for text in measure_drawings(pattern.kind, pattern).values():
        root = ET.fromstring(text)  # noqa: S314
        assert root.findtext(f"{SVG}title")
        assert root.findtext(f"{SVG}desc")
        assert re.search(r'role="img"', text)


def test_a_piece_that_is_not_there_is_left_out() -> None:
    pattern = sample_pattern()
    some = replace(pattern, pieces=pattern.pieces[:1])
    pictures = measure_drawings(pattern.kind, some)
    assert "piece-back" not in pictures
    assert "sleeve_length" not in pictures
    assert "chest_width" in pictures
