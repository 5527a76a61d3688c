"""What stands in for the printed sheets, and several photographs of one lay, in the browser."""

import numpy as np
import pytest
from playwright.sync_api import expect

from web.garment_photo import taken
from web.photo_page import choose, drag, entry, in_hand, middle, on_screen, pressed, send, traced, unfold
from windows import record_of, wait_for

ZIGZAG = (0, 2, 1, 3)
CHEST, LENGTH = 364.0, 605.5
"""What was drawn, mm: twice the underarm's x, and from the neck points' level to the hem at the middle."""


def bare(window, workbench, thing, **settings):
    """Open a garment with a photograph without sheets, in which something of known size lies."""
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record?photo=1", **settings)
    photo = taken(sheets=False, thing=thing)
    send(page, photo, "bare.jpg")
    expect(page.get_by_role("button", name="Trace it")).to_be_visible()
    page.get_by_label("What gives the scale").select_option(value=thing)
    expect(page.get_by_text("Its four corners have still to be picked")).to_be_visible()
    return garment, page, photo


def used(page, workbench, garment):
    """Press ``Use it``; returns the chest's width in the garment file and its sigma, mm."""
    pressed(page, "Use it")
    expect(page.get_by_text("The garment file holds this tracing.")).to_be_visible()
    figure = record_of(workbench, garment).tape["chest_width"]
    return figure.mm, figure.sigma_mm


def pick_four(page, places, press):
    """Press on four places of the screen, each once the one before is drawn; the fourth ends the picking."""
    for count, at in enumerate(places):
        press(*at)
        if count < 3:
            page.wait_for_selector(f'[data-id="picked.{count}"]', state="attached")


@pytest.mark.parametrize("size", [(360, 800), (1024, 768), (1920, 1080)])
def test_what_to_do_is_in_sight_while_corners_are_picked(window, workbench, size):
    _, page, photo = bare(window, workbench, "card", viewport={"width": size[0], "height": size[1]})
    in_hand(page, "Pick its four corners")
    doing = page.get_by_role("group", name="Points in the drawing")
    for count, corner in enumerate(photo.thing("card")[:3]):
        expect(doing.get_by_text(f"So far: {count}.")).to_be_in_viewport(ratio=1.0)
        expect(doing.get_by_role("button", name="Cancel")).to_be_in_viewport(ratio=1.0)
        page.mouse.click(*on_screen(page, corner))
        page.wait_for_selector(f'[data-id="picked.{count}"]', state="attached")
    expect(page.locator(".lsd-loupe-rim")).to_be_visible()
    pressed(page, "Cancel")
    expect(page.locator(".lsd-loupe-rim")).to_be_hidden()


def test_the_corners_of_a_card_give_the_scale(window, workbench):
    garment, page, photo = bare(window, workbench, "card")
    in_hand(page, "Pick its four corners")
    corners = photo.thing("card")
    # in any order, a little beside the corner
    pick_four(page, (on_screen(page, corners[i] + (2.0, -2.0)) for i in ZIGZAG), page.mouse.click)
    expect(page.get_by_text("Its four corners are picked.")).to_be_visible()
    traced(page)
    expect(page.get_by_text("What gives the scale: A bank card.")).to_be_in_viewport()
    expect(page.get_by_text("One thing alone gives the scale")).to_be_visible()
    assert page.get_by_text("sheet was found").count() == 0
    mm, sigma = used(page, workbench, garment)
    assert abs(mm - CHEST) < 3.0 * sigma
    assert sigma < 0.03 * CHEST
    # a corner that is moved changes the tracing, and undo puts it back
    choose(page, "What gives the scale")
    page.wait_for_selector('[data-id="thing"][aria-pressed=true]', state="attached")  # all of it in sight
    before = entry(workbench, garment)["thing"]
    x, y = middle(page, "thing.0")
    drag(page, "thing.0", (x - 30, y - 30))
    after = wait_for(lambda: entry(workbench, garment)["thing"], lambda thing: thing != before)
    assert after[1:] == before[1:]
    moved = np.array(on_screen(page, after[0])) - on_screen(page, before[0])
    np.testing.assert_allclose(moved, (-30, -30), atol=3)
    expect(page.get_by_text("The garment file holds an earlier tracing")).to_be_visible()
    pressed(page, "Undo")
    wait_for(lambda: entry(workbench, garment)["thing"], lambda thing: thing == before)
    assert page.locator(".ls-told").count() == 0  # nothing to say, so nothing pops up
    expect(page.get_by_text("The garment file holds this tracing.")).to_be_visible()
    choose(page, "What gives the scale")
    pressed(page, "Remove it")
    wait_for(lambda: entry(workbench, garment), lambda kept: not kept.get("thing"))
    told = page.get_by_role("status").filter(has_text="Its four corners have still to be picked")
    expect(told).to_be_visible()


def test_the_corners_of_a_sheet_of_paper_are_picked_by_touch(window, workbench):
    phone = {"has_touch": True, "is_mobile": True, "viewport": {"width": 360, "height": 800}}
    garment, page, photo = bare(window, workbench, "a4", **phone)
    in_hand(page, "Pick its four corners")
    pick_four(page, (on_screen(page, corner) for corner in photo.thing("a4")), page.touchscreen.tap)
    traced(page)
    expect(page.get_by_text("What gives the scale: Blank paper, A4.")).to_be_visible()
    mm, sigma = used(page, workbench, garment)
    assert abs(mm - CHEST) < 3.0 * sigma
    assert sigma < 0.015 * CHEST


def test_corners_that_are_none_are_refused_and_picked_anew(window, workbench):
    garment, page, photo = bare(window, workbench, "card")
    in_hand(page, "Pick its four corners")
    x, y = on_screen(page, photo.thing("card")[0])
    pick_four(page, ((x + 6 * count, y) for count in range(4)), page.mouse.click)  # all in one line
    wait_for(lambda: entry(workbench, garment).get("thing"))
    pressed(page, "Trace it")
    expect(page.get_by_role("alert").filter(has_text="not the four corners of the card")).to_be_visible()
    in_hand(page, "Pick its four corners")
    pick_four(page, (on_screen(page, corner) for corner in photo.thing("card")), page.mouse.click)
    traced(page)
    expect(page.get_by_text("What gives the scale: A bank card.")).to_be_visible()


def two_of_a_lay(window, workbench):
    """Return a tilted photograph and a squarer one, the garment that both were given for, and its page."""
    tilted, square = taken(tilt=18.0, towards=80.0), taken(tilt=3.0, towards=200.0)
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record?photo=1")
    send(page, tilted, "tilted.jpg")
    expect(page.get_by_role("button", name="Trace it")).to_be_visible()
    unfold(page, "More photographs of the same lay")
    send(page, square, "square.jpg", "Another photograph of this lay")
    expect(page.get_by_role("button", name="Remove square.jpg")).to_be_visible()
    return tilted, square, garment, page


def test_of_several_photographs_the_squarest_is_traced_unless_another_was_drawn_in(window, workbench):
    tilted, square, garment, page = two_of_a_lay(window, workbench)
    expect(page.get_by_text("2 photographs")).to_be_visible()
    send(page, square, "square.jpg", "Another photograph of this lay")
    expect(page.get_by_role("alert").filter(has_text="is there already")).to_be_visible()
    first, other = (entry(workbench, garment)["digest"], entry(workbench, garment)["more"][0]["digest"])
    traced(page)
    expect(page.get_by_text("traced in square.jpg, taken most squarely")).to_be_in_viewport()
    shown = page.locator(".lsd-backdrop")
    expect(shown).to_have_attribute("href", f"/api/photos/{other}/preview")
    # the corners found lie where they are in that photograph, and what is moved there is kept with it
    x, y = on_screen(page, square.corner("hem_side_left"))
    np.testing.assert_allclose(middle(page, "corner.hem_side_left"), (x, y), atol=4)
    drag(page, "corner.hem_side_left", (x, y))
    wait_for(lambda: entry(workbench, garment).get("drawn_in"), lambda digest: digest == other)
    mm, sigma = used(page, workbench, garment)
    assert abs(mm - CHEST) < max(3.0 * sigma, 4.0)
    # without the other photograph the first is traced, and nothing drawn in the other is left
    unfold(page, "How it was laid")
    pressed(page, "Remove square.jpg")
    expect(shown).to_have_attribute("href", f"/api/photos/{first}/preview")
    kept = entry(workbench, garment)
    assert not {"more", "hint", "drawn_in"} & set(kept)

    def off():
        where = on_screen(page, tilted.corner("hem_side_left"))
        return np.hypot(*np.subtract(middle(page, "corner.hem_side_left"), where))

    page.wait_for_selector('[data-id="corner.hem_side_left"]', state="attached")
    wait_for(off, lambda far: far < 5.0)


def test_what_was_drawn_before_tracing_is_traced_in_the_photograph_it_was_drawn_in(window, workbench):
    tilted, _, garment, page = two_of_a_lay(window, workbench)
    first = entry(workbench, garment)["digest"]
    in_hand(page, "Stroke on the garment")
    for i, at in enumerate((tilted.px((0, -200))[0], tilted.px((0, 200))[0])):
        page.mouse.click(*on_screen(page, at))
        page.wait_for_selector(f'[data-id="picked.{i}"]', state="attached")
    pressed(page, "Finish")
    wait_for(lambda: entry(workbench, garment).get("drawn_in"), lambda digest: digest == first)
    traced(page)
    expect(page.get_by_text("traced in tilted.jpg, where you drew")).to_be_visible()
    expect(page.locator(".lsd-backdrop")).to_have_attribute("href", f"/api/photos/{first}/preview")
    # a card or a paper joins no photographs, and the page says so
    unfold(page, "How it was laid")
    page.get_by_label("What gives the scale").select_option(value="a4")
    expect(page.get_by_text("one photograph alone is traced")).to_be_visible()
