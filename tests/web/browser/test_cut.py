"""Allowances in the browser: by mouse, by touch and by the keyboard alone; the cut line follows."""

import pytest
from playwright.sync_api import expect

from windows import SIZES, assert_clean, changed, line, record_of, tab_to, wait_for


def allowance(page):
    return page.get_by_role("textbox", name="Allowance of the")


def point_at_edge(page, id_, act):
    """Point at the middle of an edge's line."""
    page.locator(f'[data-id="{id_}"]').first.wait_for(state="attached")
    x, y = page.locator(f'[data-id="{id_}"]').first.evaluate(
        """path => {
            const middle = path.getPointAtLength(path.getTotalLength() / 2);
            const at = middle.matrixTransform(path.getScreenCTM());
            return [at.x, at.y];
        }"""
    )
    act(x, y)


@pytest.mark.parametrize("touch", [False, True])
def test_an_edge_that_is_picked_takes_an_allowance_and_its_line_follows(window, workbench, touch):
    wider = changed(workbench, {'allowances."front.hem"': "4.5 cm"})
    wanted = line(window(f"/garment/{wider}/cut"), "front.hem")
    garment = workbench.example()
    settings = (
        {"viewport": {"width": 390, "height": 800}, "has_touch": True, "is_mobile": True} if touch else {}
    )
    page = window(f"/garment/{garment}/cut", **settings)
    before = line(page, "front.hem")
    point_at_edge(page, "front.hem", page.touchscreen.tap if touch else page.mouse.click)
    field = allowance(page)
    expect(field).to_have_accessible_name("Allowance of the hem of the front, 2.5\u00a0cm")
    expect(field).to_have_value("2.5 cm")
    field.fill("")
    field.press_sequentially("4.5 cm", delay=40)
    # it follows while nothing is stored yet
    assert wanted != before
    wait_for(lambda: line(page, "front.hem") == wanted, what="another cut line")
    assert record_of(workbench, garment).allowances == {"seam": 10.0, "hem": 25.0}
    field.press("Enter")
    wait_for(lambda: record_of(workbench, garment).allowances.get("front.hem") == 45.0, what="the allowance")
    assert line(page, "front.hem") == wanted
    expect(field).to_have_accessible_name("Allowance of the hem of the front, 4.5\u00a0cm")
    page.get_by_role("button", name="Undo").click()
    wait_for(lambda: line(page, "front.hem") == before, what="the line as it was")


def test_by_keyboard_alone(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/cut")
    line(page, "front.hem")
    tab_to(page, "e.matches('[data-id=\"front.hem\"]')")
    page.keyboard.press("Enter")
    expect(allowance(page)).to_be_visible()
    page.keyboard.press("Escape")
    tab_to(page, "e.tagName === 'INPUT' && e.labels[0]?.textContent.startsWith('Allowance of the hem')")
    page.keyboard.press("Control+a")
    page.keyboard.type("3 cm", delay=40)
    page.keyboard.press("Tab")
    wait_for(lambda: record_of(workbench, garment).allowances.get("front.hem") == 30.0, what="the allowance")
    page.keyboard.press("ArrowDown")
    expect(page.get_by_label("It holds for")).to_have_value("hem")
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Control+a")
    page.keyboard.type("3.5", delay=40)
    page.keyboard.press("Enter")
    wait_for(
        lambda: record_of(workbench, garment).allowances == {"seam": 10.0, "hem": 35.0}, what="one for all"
    )


def test_what_is_no_allowance_is_refused_at_its_field(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/cut?edge=front.side")
    field = allowance(page)
    field.fill("1 league")
    field.press("Enter")
    expect(page.get_by_role("alert").filter(has_text="league")).to_be_visible()
    expect(field).to_have_value("1 league")
    assert record_of(workbench, garment).allowances == {"seam": 10.0, "hem": 25.0}


def test_a_band_is_told_and_changed(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/cut")
    band = page.get_by_role("group", name="Neck band", exact=True)
    expect(band).to_contain_text("Longest that lies flat")
    page.get_by_label("Width to cut").fill("6 cm")
    page.get_by_label("Width to cut").press("Enter")
    expect(band).to_contain_text("6.0\u00a0cm")
    page.get_by_label("How it will be finished").select_option("facing")
    wait_for(lambda: record_of(workbench, garment).finish["neck"]["finish"] == "facing", what="the finish")
    expect(band).to_have_count(0)


def test_a_finding_leads_on(window, workbench):
    garment = workbench.example()
    page = window(f"/garment/{garment}/cut?edge=front.hem")
    allowance(page).fill("1 cm")
    allowance(page).press("Enter")
    finding = page.get_by_role("group").filter(has_text="tends to roll").first
    finding.get_by_role("button").first.click()
    wait_for(lambda: record_of(workbench, garment).allowances.get("front.hem") == 20.0, what="a wider hem")


def test_without_a_pattern_it_says_what_is_needed(window, workbench):
    garment = workbench.empty()
    for stage in ("cut", "lay", "print", "sew"):
        page = window(f"/garment/{garment}/{stage}")
        expect(page.get_by_text("This needs 2 more measures: body length and chest width.")).to_be_visible()
        expect(page.get_by_role("link", name="Go to the record")).to_have_attribute(
            "href", f"/garment/{garment}/record"
        )


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_it_is_clean(window, workbench, size, scheme):
    garment = workbench.example()
    viewport = {"width": size[0], "height": size[1]}
    page = window(f"/garment/{garment}/cut?edge=front.hem", viewport=viewport, color_scheme=scheme)
    expect(allowance(page)).to_be_visible()
    for fold in page.locator("summary").all():
        fold.click()
    assert_clean(page)


@pytest.mark.parametrize(("size", "across"), [((768, 1024), 1.0), ((960, 1080), 1.0), ((1024, 768), 0.7)])
def test_in_a_window_higher_than_wide_the_drawing_has_all_of_its_width(window, workbench, size, across):
    garment = workbench.example()
    page = window(f"/garment/{garment}/cut", viewport={"width": size[0], "height": size[1]})
    page.locator('[data-id="front"]').first.wait_for(state="attached")
    box = page.locator(".lsd-svg").bounding_box()
    assert abs(box["width"] / size[0] - across) < 0.1
    assert_clean(page)
