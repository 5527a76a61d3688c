"""Sewing in the browser: ticked off on a phone and by keyboard, marked in the drawing, noted when made."""

import pytest
from playwright.sync_api import expect

from windows import SIZES, assert_clean, tab_to, wait_for


def opened(window, garment, **settings):
    page = window(f"/garment/{garment}/sew", **settings)
    expect(page.get_by_role("status").filter(has_text="of 12 steps done")).to_be_visible()
    return page


def ticked(workbench, garment):
    return workbench.document(garment)["aside"].get("ticked", [])


def test_steps_are_ticked_off_on_a_phone(window, workbench):
    garment = workbench.example()
    page = opened(window, garment, viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True)
    box = page.get_by_role("checkbox", name="1. Cut the pieces")
    at = box.bounding_box()
    assert min(at["width"], at["height"]) >= 24
    box.tap()
    wait_for(lambda: ticked(workbench, garment) == ["step-1"], what="the tick")
    expect(page.get_by_role("status").filter(has_text="1 of 12 steps done")).to_be_visible()
    page.get_by_role("checkbox", name="Wash and dry the cloth").tap()
    wait_for(lambda: ticked(workbench, garment) == ["step-1", "before-1"], what="another tick")
    expect(page.get_by_role("status").filter(has_text="1 of 12 steps done")).to_be_visible()
    other = opened(window, garment)
    expect(other.get_by_role("checkbox", name="1. Cut the pieces")).to_be_checked()
    box.tap()
    expect(other.get_by_role("checkbox", name="1. Cut the pieces")).not_to_be_checked()
    wait_for(lambda: ticked(workbench, garment) == ["before-1"], what="the tick taken away")


def test_ticks_in_quick_succession_all_count(window, workbench):
    garment = workbench.example()
    page = opened(window, garment)
    page.locator("#form").get_by_role("checkbox").evaluate_all("all => all.slice(0, 3).map(e => e.click())")
    wait_for(lambda: len(ticked(workbench, garment)) == 3, what="all three ticks")


def test_by_keyboard_alone(window, workbench):
    garment = workbench.example()
    page = opened(window, garment)
    tab_to(page, "e.type === 'checkbox' && e.labels[0]?.textContent.startsWith('4. Sew the shoulders')")
    expect(page.locator(".lsd-shown")).to_have_count(2)
    page.keyboard.press("Space")
    wait_for(lambda: ticked(workbench, garment) == ["step-4"], what="the tick")
    page.keyboard.press("Space")
    wait_for(lambda: not ticked(workbench, garment), what="the tick taken away")


def test_a_step_is_shown_in_the_drawing(window, workbench):
    garment = workbench.example()
    page = opened(window, garment)
    page.get_by_role("button", name="Show step 11 in the drawing").click()
    expect(page.locator(".lsd-shown")).to_have_count(3)


def test_a_figure_stays_with_its_unit(window, workbench):
    garment = workbench.example()
    page = opened(window, garment)
    words = page.locator("#form").inner_text()
    assert "1.0\u00a0cm" in words
    assert "1.0 cm" not in words


def test_a_make_is_noted(window, workbench):
    garment = workbench.example()
    page = opened(window, garment)
    page.get_by_role("button", name="Note this make").click()
    box = page.get_by_role("dialog")
    box.get_by_label("What to do differently next time").fill("Cuffs 1 cm longer")
    box.get_by_role("button", name="Save").click()
    expect(page.get_by_text("This make is noted.")).to_be_visible()
    page.get_by_role("link", name="Versions and makes").last.click()
    expect(page.get_by_text("Cuffs 1 cm longer")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_it_is_clean(window, workbench, size, scheme):
    garment = workbench.example()
    page = opened(window, garment, viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
    for fold in page.locator("summary").all():
        fold.click()
    assert_clean(page)
