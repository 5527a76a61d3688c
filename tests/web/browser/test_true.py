"""The True page in the browser: before and after, what truing found, and what can be done about it."""

import re

import pytest
from playwright.sync_api import expect

from windows import changed, looked_over, record_of, tab_to

ODD = {"tape.shoulder_length": 20, "tape.shoulder_drop": 4}
"""Figures that contradict the others."""


def test_before_after_and_both(window, workbench):
    page = window(f"/garment/{workbench.example()}/true")
    side = page.locator('[data-id="sleeve.underarm"]').first
    side.wait_for(state="attached")
    trued = side.get_attribute("d")
    page.get_by_role("radio", name="as recorded").check()
    expect(side).not_to_have_attribute("d", trued)
    page.get_by_role("radio", name="trued", exact=True).check()
    expect(side).to_have_attribute("d", trued)
    expect(page.get_by_text("The figures agree, and every seam")).to_be_visible()


def test_a_finding_leads_to_its_figure_and_can_be_acted_on(window, workbench):
    garment = changed(workbench, ODD)
    page = window(f"/garment/{garment}/true")
    found = page.locator(".ls-finding.look").first
    expect(found).to_contain_text("cannot all be right")
    expect(page.locator("tr.ls-off").first).to_contain_text("▲ out of line")
    found.get_by_role("button", name=re.compile("^Leave the .* out")).click()
    expect(page.get_by_text("The figures agree, and every seam")).to_be_visible()
    assert len(record_of(workbench, garment).tape) == 12
    page.get_by_role("button", name="Undo").click()
    expect(found).to_contain_text("cannot all be right")
    assert len(record_of(workbench, garment).tape) == 13
    found.get_by_role("button", name=re.compile("^Measure the .* again")).first.click()
    page.wait_for_url(re.compile(r"/record\?measure="))
    expect(page.locator(".ls-figure input:focus")).to_be_visible()


def test_by_keyboard_alone(window, workbench):
    garment = changed(workbench, ODD)
    page = window(f"/garment/{garment}/true")
    page.locator(".ls-finding.look").first.wait_for()
    tab_to(page, "e.textContent.startsWith('Leave the ')")
    page.keyboard.press("Enter")
    expect(page.get_by_text("The figures agree, and every seam")).to_be_visible()


def test_a_row_and_its_edge_are_marked_together(window, workbench):
    page = window(f"/garment/{workbench.example()}/true")
    page.locator('[data-id="sleeve.cuff"]').first.wait_for(state="attached")
    page.get_by_role("rowheader", name="Cuff width").hover()
    expect(page.locator('[data-id^="sleeve."][aria-pressed=true]')).to_be_attached()
    at = page.locator('[data-id="front.hem"]').first.bounding_box()
    page.mouse.move(at["x"] + at["width"] / 2, at["y"] + at["height"] / 2)
    expect(page.locator("tr.ls-over").filter(has_text="Hem width")).to_be_attached()


def test_figures_that_cannot_hold_are_told_with_the_ways_to_them(window, workbench):
    garment = changed(workbench, {"tape.sleeve_width": 4, "tape.armhole_drop": 60, "tape.cuff_width": 60})
    page = window(f"/garment/{garment}/true")
    stop = page.locator(".ls-finding.stop")
    expect(stop.first).to_be_visible()
    expect(stop.get_by_role("button", name=re.compile("^Measure the .* again")).first).to_be_visible()


def test_the_list_of_stages_keeps_the_focus_while_what_it_says_changes(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/true")
    stages = page.locator(".ls-stages")
    expect(stages.get_by_role("link", name="Record")).to_contain_text("11 measures")
    onward = stages.get_by_role("link", name="Cut")
    onward.focus()
    new = {"revision": workbench.document(garment)["revision"], "said": "for a test"}
    new["changes"] = {"tape.cuff_width": None}
    workbench.api.patch(f"/garments/{garment}", json=new).raise_for_status()
    expect(stages.get_by_role("link", name="Record")).to_contain_text("10 measures")
    expect(onward).to_be_focused()


def test_what_is_needed_is_said_and_led_to(window, workbench):
    page = window(f"/garment/{workbench.empty()}/true")
    expect(page.get_by_text("2 measures are still needed. Until then")).to_be_visible()
    page.get_by_role("button", name="Chest width").first.click()
    page.wait_for_url(re.compile(r"/record\?measure=chest_width"))


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1280])
def test_axe_finds_nothing(window, workbench, scheme, width):
    garment = changed(workbench, ODD)
    page = window(f"/garment/{garment}/true", color_scheme=scheme, viewport={"width": width, "height": 900})
    page.locator(".ls-finding.look").first.wait_for()
    folded = page.locator("details:not([open]) > summary")
    while folded.count():
        folded.first.click()
    found = looked_over(page)
    assert found.violations_count == 0, found.generate_report()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
