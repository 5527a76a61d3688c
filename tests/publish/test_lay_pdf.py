"""Lay plans on paper, and pictures of every folding."""

import xml.etree.ElementTree as ET

import numpy as np
import pypdfium2
import pytest

from likesewn.garment import Cloth
from likesewn.lay import FOLDINGS, Choices, Effort, lay
from likesewn.publish.drawing import Box, Group, Label, Stroke, item_bounds, scaled, walk
from likesewn.publish.lay_pdf import lay_plan_pdf
from likesewn.publish.lay_svg import lay_plan_drawing, lay_plan_svg
from publish.sample_cut import sample_cut_list

TITLES = {"front": "Front", "back": "Back", "sleeve": "Sleeve", "neckband": "Neckband"}
SVG = "{http://www.w3.org/2000/svg}"


def planned(folding, **more):
    (plan,) = lay(
        sample_cut_list(),
        {"main": Cloth(1500.0, folding, **more)},
        Choices(effort=Effort(steps=20), pairs=[("front", "back")]),
        compare=False,
    )
    return plan


@pytest.fixture(scope="module", params=FOLDINGS)
def plan(request):
    return planned(request.param)


def test_the_picture_shows_the_cloth_as_it_lies(plan):
    root = ET.fromstring(lay_plan_svg(plan, TITLES))  # noqa: S314
    (cloth,) = (r for r in root.iter(f"{SVG}rect") if r.get("class") == "cloth")
    assert float(cloth.get("width", "")) == pytest.approx(plan.lies_mm, abs=1e-4)
    assert float(cloth.get("height", "")) == pytest.approx(plan.width_mm, abs=1e-4)


def test_every_word_lies_within_the_picture(plan):
    drawing = lay_plan_drawing(plan, TITLES)
    left, top, right, bottom = drawing.bounds
    for label in (item for item in walk(drawing.items) if isinstance(item, Label)):
        x, y = label.corners().T
        assert left - 1e-6 <= x.min()
        assert x.max() <= right + 1e-6
        assert top - 1e-6 <= y.min()
        assert y.max() <= bottom + 1e-6


def test_paper_holds_the_picture_to_the_scale_it_states_and_the_cutting_list(plan):
    document = pypdfium2.PdfDocument(lay_plan_pdf(plan, TITLES, "cm", "a4"))
    sizes = [tuple(round(v * 25.4 / 72) for v in page.get_size()) for page in document]
    assert sizes[0] == (297, 210)
    assert set(sizes[1:]) == {(210, 297)}
    first, second = (document[i].get_textpage().get_text_range() for i in (0, 1))
    assert "Lay plan: main, 1 : " in first
    assert "Cutting list: main" in second
    for placed in plan.placed:
        assert TITLES[placed.piece] in second


def test_the_cutting_list_keeps_to_its_page(plan):
    document = pypdfium2.PdfDocument(lay_plan_pdf(plan, TITLES, "cm", "a4"))
    page = document[1]
    width, height = page.get_size()
    text = page.get_textpage()
    boxes = np.array([text.get_charbox(i) for i in range(text.count_chars())])
    assert boxes[:, 2].max() <= width - 20
    assert boxes[:, 1].min() >= 0
    assert boxes[:, 3].max() <= height


def test_the_same_plan_gives_the_same_bytes(plan):
    assert lay_plan_pdf(plan, TITLES) == lay_plan_pdf(plan, TITLES)


def test_nap_and_flaws_are_drawn():
    plain = planned("open")
    marked = planned("open", nap=True, flaws=((600.0, 700.0, 50.0),))
    words = {item.text for item in walk(lay_plan_drawing(marked, TITLES).items) if isinstance(item, Label)}
    assert "nap" in words
    roles = [
        [i.role for i in walk(lay_plan_drawing(p, TITLES).items) if isinstance(i, Stroke)]
        for p in (plain, marked)
    ]
    assert "shown" not in roles[0]
    assert "shown" in roles[1]


def test_scaling_keeps_proportions(plan):
    items = lay_plan_drawing(plan, TITLES).items
    group = Group("all", items)
    half = scaled(group, 0.5)
    assert np.allclose(np.array(item_bounds((half,))), 0.5 * np.array(item_bounds((group,))), atol=1e-6)
    assert any(isinstance(item, Box) for item in walk(items))
