import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
import svgelements
import svgpathtools
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.cut.cutlist import CutList
from likesewn.geometry import Path
from likesewn.publish.drawing import Drawing, Group, Label, Role, Stroke
from likesewn.publish.pictures import overview_svg, pattern_svg
from likesewn.publish.pieces import PatternDrawing, pattern_drawing
from likesewn.publish.svg import path_data, svg
from publish.sample_cut import TODAY, one_piece

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def text(pattern: PatternDrawing) -> str:
    return pattern_svg(pattern)


def pieces(text: str) -> Iterator[ET.Element]:
    return (g for g in ET.fromstring(text).iter(f"{SVG}g") if g.get("class") == "piece")  # noqa: S314


def test_page_is_given_in_mm_at_one_unit_to_the_mm(text: str) -> None:
    root = ET.fromstring(text)  # noqa: S314
    x, y, width, height = (float(v) for v in root.get("viewBox", "").split())
    assert (x, y) == (0.0, 0.0)
    assert root.get("width") == f"{width:g}mm" or float(root.get("width", "")[:-2]) == width
    assert root.get("height", "").endswith("mm")
    assert float(root.get("height", "")[:-2]) == height


def test_every_piece_has_its_group_and_says_what_it_is(text: str, cut_list: CutList) -> None:
    groups = {g.get("data-piece"): g for g in pieces(text)}
    assert list(groups) == [piece.name for piece in cut_list.pieces]
    for piece in cut_list.pieces:
        group = groups[piece.name]
        assert group.get("data-copies") == str(piece.copies)
        assert group.get("data-on-fold") == str(piece.on_fold).lower()
        lines = [p.get("data-line") for p in group.iter(f"{SVG}path")]
        assert {"seam", "cut", "grain"} <= set(lines)
        assert lines.count("fold") == int(piece.on_fold)
        assert set(lines) <= {"seam", "cut", "fold", "grain", "notch", "mark"}


def test_seam_and_cut_lines_follow_the_edges_in_order(text: str, cut_list: CutList) -> None:
    for group, piece in zip(pieces(text), cut_list.pieces, strict=True):
        wanted = [edge.name for edge in piece.seam if not edge.fold]
        for line in ("seam", "cut"):
            found = [p.get("data-edge") for p in group.iter(f"{SVG}path") if p.get("data-line") == line]
            assert found == wanted


def test_paths_use_absolute_m_l_c_z_only_and_nothing_in_a_piece_is_transformed(text: str) -> None:
    for group in pieces(text):
        for element in group.iter():
            assert element.get("transform") is None
            if element.tag == f"{SVG}path":
                letters = set(re.findall(r"[A-Za-z]", element.get("d", "")))
                assert letters <= set("MLCZ")
    root = ET.fromstring(text)  # noqa: S314
    turns = [e.get("transform", "") for e in root.iter() if e.get("transform")]
    assert turns
    assert all(turn.startswith("rotate(") for turn in turns)


def test_lengths_read_by_two_other_libraries_equal_the_seam_lines(text: str, cut_list: CutList) -> None:
    checked = 0
    for group, piece in zip(pieces(text), cut_list.pieces, strict=True):
        for path in group.iter(f"{SVG}path"):
            edge = path.get("data-edge")
            if edge is None:
                continue
            seam = path.get("data-line") == "seam"
            wanted = next(e.path for e in piece.seam if e.name == edge) if seam else piece.cut[edge]
            # coordinates are rounded to 1e-4 mm, at most 0.5e-4 at each end of each segment
            allowed = 2e-4 * len(wanted.segments)
            by_tools = svgpathtools.parse_path(path.get("d")).length(error=1e-7)
            by_elements = svgelements.Path(path.get("d")).length(error=1e-5, min_depth=7)
            assert by_tools == pytest.approx(wanted.length, abs=allowed)
            assert by_elements == pytest.approx(wanted.length, abs=allowed + 2e-3)
            checked += 1
    assert checked == 2 * sum(len(p.seam) - p.on_fold for p in cut_list.pieces)


def test_pieces_do_not_touch(text: str) -> None:
    boxes = []
    for group in pieces(text):
        parts = [
            svgpathtools.parse_path(p.get("d")).bbox()
            for p in group.iter(f"{SVG}path")
            if p.get("data-line") == "cut"
        ]
        low, high = np.array(parts)[:, ::2].min(axis=0), np.array(parts)[:, 1::2].max(axis=0)
        boxes.append((*low, *high))
    for i, (l1, t1, r1, b1) in enumerate(boxes):
        assert min(l1, t1) > 0.0
        for l2, t2, r2, b2 in boxes[:i]:
            assert max(l2 - r1, l1 - r2, t2 - b1, t1 - b2) >= 10.0


def test_the_same_pattern_gives_the_same_text(cut_list: CutList, text: str) -> None:
    assert pattern_svg(pattern_drawing(cut_list, TODAY)) == text


def test_coordinates_are_kept_to_a_tenth_of_a_micrometre() -> None:
    path = Path.line((1.23456, -0.00001), (1e4 + 0.00004, 7.0))
    assert path_data(path) == "M1.2346 0 L10000 7"
    assert path_data(path, closed=True).endswith(" Z")


def test_turned_lettering_stands_beside_its_group() -> None:
    group = Group("piece", (Label("up", (1.0, 2.0), 3.0, angle=-90.0),), (("piece", "a"),))
    line = Stroke(Path.line((0, 0), (1, 1)), Role.SEAM, "a<b")
    drawing = Drawing("t", "s", (group, replace(group, items=(line,))), (0, 0, 9, 9))
    text = svg(drawing)
    ET.fromstring(text)  # noqa: S314
    assert text.index("</g>") < text.index('transform="rotate(-90 1 2)"')
    assert '<g class="lettering" data-for="a">' in text
    assert 'data-edge="a&lt;b"' in text


def test_overview_shows_every_piece_once(pattern: PatternDrawing) -> None:
    root = ET.fromstring(overview_svg(pattern))  # noqa: S314
    assert root.get("width") == "900"
    words = [t.text for t in root.iter(f"{SVG}text")]
    assert sorted(words) == sorted(piece.title for piece in pattern.pieces)


NAMES = st.text(max_size=60) | st.sampled_from(
    ["<&\"'>]]>", "\x00\x1b[31m", "\ud800", "عباية", "👗" * 40, "a" * 500, "\u202eabc", " \n\t "]
)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(NAMES, NAMES)
def test_any_name_gives_well_formed_svg(garment: str, title: str) -> None:
    drawn = pattern_drawing(one_piece(garment, title or "x", (garment,)), TODAY)
    for text in (pattern_svg(drawn), overview_svg(drawn)):
        root = ET.fromstring(text.encode("utf-8"))  # noqa: S314
        assert root.find(f"{SVG}title") is not None
