"""The lay in the browser: a search that can be stopped, foldings and cloths compared, flaws row by row."""

import re

import pytest
from playwright.sync_api import expect

from windows import SIZES, assert_clean, record_of, wait_for


def shown(page):
    """Wait for the plan, and return the length that the pieces take up, in cm."""
    status = page.get_by_role("status").filter(has_text="The shortest lay so far")
    expect(status).to_be_visible()
    return float(re.search(r"([\d.]+)\s*cm", status.inner_text())[1])


def test_a_search_is_seen_to_go_on_and_can_be_stopped(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/lay")
    before = shown(page)
    expect(page.get_by_text("Buy 1.5\u00a0m of it.")).to_be_visible()
    page.get_by_role("button", name="Search for 2 min").click()
    bar = page.get_by_role("progressbar")
    expect(bar).to_be_visible()
    wait_for(lambda: float(bar.get_attribute("value")) > 2.0, what="some progress")
    page.get_by_role("button", name="Stop the search").click()
    expect(page.get_by_role("button", name="Search for 10 s")).to_be_visible()
    expect(bar).to_be_hidden()
    assert shown(page) <= before


def test_foldings_are_compared_and_one_is_used(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/lay")
    shown(page)
    page.get_by_role("button", name="Compare foldings").click()
    page.get_by_role("button", name="Use this folding: open").click()
    wait_for(lambda: record_of(workbench, garment).cloths["main"].folding == "open", what="the folding")
    expect(page.get_by_label("Folding", exact=True)).to_have_value("open")
    expect(page.get_by_text("Buy 1.3\u00a0m of it.")).to_be_visible()


def test_a_flaw_is_put_in_row_by_row_and_taken_out(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/lay")
    shown(page)
    page.get_by_text("Flaws, and the shape of a remnant").click()
    page.get_by_role("button", name="Add a row: Round flaws").click()
    row = page.get_by_role("group", name="Round flaws, row 1")
    for label, value in (("Along", "40"), ("Across", "12 cm"), ("Radius", "3")):
        row.get_by_label(label).fill(value)
    row.get_by_label("Radius").press("Enter")
    wait_for(
        lambda: record_of(workbench, garment).cloths["main"].flaws == ((400.0, 120.0, 30.0),), what="a flaw"
    )
    row.get_by_role("button", name="Take out").click()
    wait_for(lambda: record_of(workbench, garment).cloths["main"].flaws == (), what="no flaw")
    expect(row).to_have_count(0)


def test_a_cloth_that_is_too_narrow_is_said_and_mended(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/lay")
    shown(page)
    page.get_by_label("Width", exact=True).fill("40 cm")
    page.get_by_label("Width", exact=True).press("Enter")
    expect(page.get_by_text("The pieces do not fit on this cloth as it is.")).to_be_visible()
    expect(page.get_by_text("does not fit cloth").first).to_be_visible()
    page.get_by_label("Price", exact=True).evaluate("e => (e.closest('details').open = true)")
    page.get_by_label("Price", exact=True).fill("12.50")
    page.get_by_label("Price", exact=True).press("Enter")
    page.get_by_label("Width", exact=True).fill("150")
    page.get_by_label("Width", exact=True).press("Enter")
    expect(page.get_by_text("That costs 18.75.")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_it_is_clean(window, workbench, size, scheme):
    garment = workbench.example()
    viewport = {"width": size[0], "height": size[1]}
    page = window(f"/garment/{garment}/lay", viewport=viewport, color_scheme=scheme)
    shown(page)
    page.locator("details:not([open]) > summary").first.click()
    assert_clean(page)


def test_a_remnant_with_a_hole_is_described_and_drawn(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/lay")
    shown(page)
    page.get_by_text("Flaws, and the shape of a remnant").click()
    page.get_by_role("button", name="Add a hole").click()
    expect(page.get_by_role("button", name="Add a hole")).to_be_disabled()
    corners = [("40", "20 cm"), ("50", "20"), ("45", "30")]
    for i, (along, across) in enumerate(corners, 1):
        row = page.get_by_role("group", name=f"Hole 1, row {i}")
        row.get_by_label("Along").fill(along)
        row.get_by_label("Across").fill(across)
        row.get_by_label("Across").press("Enter")
    hole = ((400.0, 200.0), (500.0, 200.0), (450.0, 300.0))
    wait_for(lambda: record_of(workbench, garment).cloths["main"].holes == (hole,), what="the hole")
    expect(page.get_by_role("button", name="Add a hole")).to_be_enabled()
    # it is drawn where it lies, in the layer's frame: one cloth folded lengthwise, so from the fold
    drawn = page.locator(".lsd-shown")
    expect(drawn).to_have_count(1)
    box = drawn.first.evaluate("e => { const b = e.getBBox(); return [b.x, b.x + b.width, b.height]; }")
    assert box == pytest.approx([400.0, 500.0, 100.0], abs=1.0)
    assert_clean(page)
    # a second one, begun and given up, leaves nothing behind
    page.get_by_role("button", name="Add a hole").click()
    page.get_by_role("group", name="Hole 2, row 1").get_by_label("Along").fill("80")
    page.get_by_role("button", name="Take out: Hole 2", exact=True).click()
    expect(page.get_by_role("group", name="Hole 2, row 1")).to_have_count(0)
    # a corner that makes the hole cross itself is refused in words, at its row
    page.get_by_role("button", name="Add a row: Hole 1").click()
    row = page.get_by_role("group", name="Hole 1, row 4")
    row.get_by_label("Along").fill("wide")
    row.get_by_label("Across").fill("25")
    row.get_by_label("Across").press("Enter")
    expect(page.get_by_role("alert").filter(has_text="wide")).to_be_visible()
    assert record_of(workbench, garment).cloths["main"].holes == (hole,)
    row.get_by_role("button", name="Take out").click()
    page.get_by_role("button", name="Take out: Hole 1", exact=True).click()
    wait_for(lambda: record_of(workbench, garment).cloths["main"].holes == (), what="no hole")
    expect(page.get_by_role("group", name="Hole 1, row 1")).to_have_count(0)
    page.get_by_role("button", name="Undo").click()
    expect(page.get_by_role("group", name="Hole 1, row 3").get_by_label("Across")).to_have_value("30 cm")
