import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
import svgpathtools

from likesewn.garment import Cloth
from likesewn.lay import Plan, lay
from likesewn.publish.drawing import Group, Label
from likesewn.publish.lay_svg import lay_plan_drawing, lay_plan_svg
from publish.sample_cut import sample_cut_list

SVG = "{http://www.w3.org/2000/svg}"
TITLES = {"front": "Front", "back": "Back", "sleeve": "Sleeve", "neckband": "Neckband"}


@pytest.fixture(scope="module", params=["folded", "open"])
def plan(request: pytest.FixtureRequest) -> Plan:
    (plan,) = lay(sample_cut_list(), {"main": Cloth(1500.0, request.param)})
    return plan


def test_cloth_is_a_rectangle_of_the_plan_s_size(plan: Plan) -> None:
    root = ET.fromstring(lay_plan_svg(plan, TITLES))  # noqa: S314
    (cloth,) = (r for r in root.iter(f"{SVG}rect") if r.get("class") == "cloth")
    assert (cloth.get("x"), cloth.get("y")) == ("0", "0")
    assert float(cloth.get("width", "")) == pytest.approx(plan.length_mm, abs=1e-4)
    assert float(cloth.get("height", "")) == pytest.approx(plan.width_mm, abs=1e-4)
    width = float(root.get("viewBox", "").split()[2])
    assert float(root.get("width", "").removesuffix("mm")) == width


def test_each_placed_piece_is_one_closed_cut_line_in_cloth_coordinates(plan: Plan) -> None:
    root = ET.fromstring(lay_plan_svg(plan, TITLES))  # noqa: S314
    groups = [g for g in root.iter(f"{SVG}g") if g.get("class") == "placed"]
    assert len(groups) == len(plan.placed)
    for group, placed in zip(groups, plan.placed, strict=True):
        assert group.get("data-piece") == placed.piece
        assert group.get("data-copy") == str(placed.copy)
        assert group.get("data-turned") == str(placed.turned)
        assert group.get("data-mirrored") == str(placed.mirrored).lower()
        assert group.get("data-on-fold") == str(placed.on_fold).lower()
        (path,) = group.iter(f"{SVG}path")
        assert path.get("data-line") == "cut"
        d = path.get("d", "")
        assert d.endswith(" Z")
        points = np.array([[s.start.real, s.start.imag] for s in svgpathtools.parse_path(d)])
        assert np.abs(points[: len(placed.outline)] - placed.outline).max() <= 1e-4
        assert all(e.get("transform") is None for e in group.iter())


def test_names_lie_on_their_pieces_and_apart(plan: Plan) -> None:
    drawing = lay_plan_drawing(plan, TITLES)
    (names,) = (g for g in drawing.items if isinstance(g, Group) and g.name == "names")
    labels = [item for item in names.items if isinstance(item, Label)]
    outlines = [shapely.Polygon(p.outline) for p in plan.placed]
    boxes = [shapely.Polygon(label.corners()) for label in labels]
    for box in boxes:
        assert any(outline.contains(box) for outline in outlines)
    for a, b in combinations(boxes, 2):
        assert not a.intersects(b)
    words = {label.text for label in labels}
    assert set(TITLES.values()) <= words


def test_lengths_are_told_in_the_unit_asked_for(plan: Plan) -> None:
    assert f"length {plan.length_mm / 10:.1f} cm" in lay_plan_svg(plan, TITLES)
    assert " in<" in lay_plan_svg(plan, TITLES, "in")


def test_folds_and_selvages_are_named(plan: Plan) -> None:
    text = lay_plan_svg(plan, TITLES)
    assert (">fold<" in text) == (plan.folding == "folded")
    assert ("selvages<" in text) == (plan.folding == "folded")


def test_a_plan_that_was_stopped_shows_empty_cloth(plan: Plan) -> None:
    stopped = replace(plan, placed=(), length_mm=0.0, buy_mm=0.0)
    root = ET.fromstring(lay_plan_svg(stopped, TITLES))  # noqa: S314
    assert not [g for g in root.iter(f"{SVG}g") if g.get("class") == "placed"]


def test_names_are_escaped(plan: Plan) -> None:
    text = lay_plan_svg(plan, dict.fromkeys(TITLES, "<b>&"))
    ET.fromstring(text)  # noqa: S314
    assert "&lt;b&gt;&amp;" in text
