"""From a photograph to a traced record, in the browser: by mouse, touch, keyboard and phone."""

import io
import re
import zipfile

import numpy as np
import pytest
from playwright.sync_api import Error, expect
from scipy.spatial import cKDTree

from chromium import patient
from web.garment_photo import GPS, taken
from web.photo_page import (
    TRACED,
    choose,
    drag,
    entry,
    in_hand,
    middle,
    on_screen,
    opened,
    pressed,
    send,
    traced,
    unfold,
)
from windows import looked_over, record_of, wait_for

FRAME = {
    "html-has-lang",
    "landmark-main-is-top-level",
    "landmark-no-duplicate-main",
    "landmark-unique",
}
"""What the frame round every page is to blame for, not what this page puts into it."""


@pytest.fixture(scope="module", autouse=True)
def warm(workbench):
    """Have the photograph traced once, so that each test does not wait for it."""
    digest = workbench.api.post("/photos", content=taken().data).raise_for_status().json()["digest"]
    assert workbench.api.get(f"/photos/{digest}/preview").status_code == 200


def photographed(workbench, *, traced=True):
    """Put a garment with its photograph on the shelf; returns its id."""
    garment = workbench.empty()
    headers = {"x-file-name": "front.jpg"}
    document = workbench.api.post(f"/garments/{garment}/photos", content=taken().data, headers=headers)
    document = document.raise_for_status().json()
    if traced:
        photo = document["aside"]["photos"][0] | {"traced": {"sheets": 4}}
        change = {"revision": document["revision"], "said": "tracing", "aside": {"photos": [photo]}}
        workbench.api.patch(f"/garments/{garment}", json=change).raise_for_status()
    return garment


def crossing(one, other):
    """Where the straight lines through two runs of points meet."""
    lines = []
    for run in (one, other):
        at = run.mean(axis=0)
        lines.append((at, np.linalg.svd(run - at)[2][0]))
    (p, d), (q, e) = lines
    s, _ = np.linalg.solve(np.column_stack([d, -e]), q - p)
    return p + s * d


def test_a_photograph_becomes_a_record_that_is_true_to_2_mm(window, workbench):
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record?photo=1")
    send(page, taken(), "front.jpg")
    page.get_by_role("button", name="Trace it").click()
    expect(page.get_by_role("progressbar", name="Tracing")).to_be_visible()
    expect(page.get_by_text("4 sheets were found")).to_be_visible()
    assert entry(workbench, garment)["traced"]["sheets"] == 4
    pressed(page, "Use it")
    expect(page.get_by_text("The garment file holds this tracing.")).to_be_visible()
    record = record_of(workbench, garment)
    assert [(photo.file, photo.face) for photo in record.photos] == [("front.jpg", "front")]
    runs = {(p.piece, p.edge, p.side): p.at for p in record.points}
    found, true = [], []
    for side in ("left", "right"):
        pairs = {
            "hem_side": (("front", "side"), ("front", "hem")),
            "underarm": (("front", "side"), ("sleeve", "underarm")),
            "cuff_inner": (("sleeve", "cuff"), ("sleeve", "underarm")),
        }
        for corner, (one, other) in pairs.items():
            found.append(crossing(runs[*one, side], runs[*other, side]))
            true.append(taken().scene.table_of(taken().corner(f"{corner}_{side}")[None])[0])
    found, true = np.array(found) - np.mean(found, axis=0), np.array(true) - np.mean(true, axis=0)
    left, _, right = np.linalg.svd(found.T @ true)
    off = np.hypot(*(found @ left @ right - true).T)
    assert off.max() < 2.0
    # the measures that nothing can stand in for are filled in, and truing sees it all
    assert {"chest_width", "body_length"} <= set(record.tape)
    # undo takes it out of the file again, and what was traced stays on the page
    pressed(page, "Undo")
    wait_for(lambda: not record_of(workbench, garment).photos)
    expect(page.get_by_role("button", name="Use it", exact=True)).to_be_enabled()
    pressed(page, "Redo")
    expect(page.get_by_text("The garment file holds this tracing.")).to_be_visible()
    pressed(page, "Back to the list")
    expect(page.get_by_text("used: 8 edges")).to_be_visible()
    pressed(page, "Remove front.jpg")
    wait_for(lambda: workbench.document(garment)["aside"]["photos"] == [])
    left = record_of(workbench, garment)
    assert (left.photos, left.points, dict(left.tape)) == ((), (), {})


def stored(workbench, garment):
    """The bytes of a garment's only photograph as the library keeps it."""
    whole = workbench.api.get(f"/garments/{garment}/export").raise_for_status().content
    with zipfile.ZipFile(io.BytesIO(whole)) as files:
        (name,) = (name for name in files.namelist() if name.startswith("photos/"))
        return files.read(name)


def test_what_is_stored_does_not_tell_where_it_was_taken(workbench):
    assert GPS in taken().data
    kept = stored(workbench, photographed(workbench, traced=False))
    assert len(kept) > 100_000
    assert GPS not in kept


def test_a_corner_is_dragged_with_the_mouse_and_undone(window, workbench):
    garment = photographed(workbench)
    page = opened(window, garment)
    x, y = middle(page, "corner.underarm_left")
    drag(page, "corner.underarm_left", (x + 12, y - 20))
    hint = wait_for(lambda: entry(workbench, garment).get("hint"))
    put = np.array(hint["corners"]["underarm_left"])
    np.testing.assert_allclose(on_screen(page, put), (x + 12, y - 20), atol=6)
    expect(page.locator('[data-id="corner.underarm_left"]').first).to_have_attribute(
        "aria-label", re.compile("put by hand")
    )
    choose(page, "Corner: Underarm, left")
    expect(page.get_by_role("button", name="As it was found")).to_be_enabled()
    pressed(page, "Undo")
    wait_for(lambda: entry(workbench, garment).get("hint"), lambda hint: not hint)


def test_two_corners_put_in_quick_succession_both_stay(window, workbench):
    garment = photographed(workbench)
    page = opened(window, garment)
    page.evaluate(
        """names => {
            const drawing = getElement(document.querySelector(".lsd-frame"));
            for (const id of names) drawing.$emit("move", { id, x: 300, y: 400, done: true });
        }""",
        ["corner.underarm_left", "corner.underarm_right"],
    )
    hint = wait_for(lambda: entry(workbench, garment).get("hint"), lambda h: h and len(h["corners"]) == 2)
    assert {*hint["corners"]} == {"underarm_left", "underarm_right"}


def test_a_corner_is_moved_by_the_keyboard_alone(window, workbench):
    garment = photographed(workbench)
    page = opened(window, garment)
    page.locator(".lsd-svg").focus()
    for _ in range(60):
        page.keyboard.press("Tab")
        at = page.evaluate("document.activeElement.dataset.id")
        if at == "corner.hem_side_right":
            break
    assert at == "corner.hem_side_right"
    for _ in range(3):
        page.keyboard.down("Shift")
        page.keyboard.press("ArrowRight")
        page.keyboard.up("Shift")
    hint = wait_for(lambda: entry(workbench, garment).get("hint"), lambda h: h and h["corners"])
    moved = np.array(hint["corners"]["hem_side_right"]) - taken().corner("hem_side_right")
    assert 6 < moved[0] < 36
    assert abs(moved[1]) < 5


def test_a_curve_is_mended_by_touch(window, workbench):
    garment = photographed(workbench)
    page = opened(window, garment, has_touch=True, viewport={"width": 390, "height": 800}, is_mobile=True)
    choose(page, "Edge: Front: hem, right")
    page.wait_for_selector('[data-id="curve.front.hem.right.1"]', state="attached")
    x, y = middle(page, "curve.front.hem.right.1")
    touch = page.context.new_cdp_session(page)

    def finger(what, *places):
        points = [{"x": px, "y": py} for px, py in places]
        touch.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": points})

    finger("touchStart", (x, y))
    finger("touchMove", (x, y + 10))
    finger("touchMove", (x, y + 20))
    expect(page.locator(".lsd-loupe-rim")).to_be_visible()
    finger("touchEnd")
    edges = wait_for(lambda: entry(workbench, garment).get("edges"))
    points = edges["front.hem.right"]
    assert len(points) >= 3
    # a point more, where the finger puts it, and one less
    in_hand(page, "Add a point to the edge")
    x0, y0 = middle(page, "curve.front.hem.right.0")
    page.touchscreen.tap((x + x0) / 2, (y + y0) / 2 + 12)
    wait_for(
        lambda: entry(workbench, garment)["edges"]["front.hem.right"], lambda p: len(p) == len(points) + 1
    )
    pressed(page, "Remove it")
    wait_for(lambda: entry(workbench, garment)["edges"]["front.hem.right"], lambda p: len(p) == len(points))
    choose(page, "Edge: Front: hem, right")
    pressed(page, "As it was found")
    wait_for(lambda: entry(workbench, garment), lambda kept: not kept.get("edges"))


def test_a_seam_follows_its_line_and_goes_into_the_file(window, workbench):
    garment = photographed(workbench)
    page = opened(window, garment)
    seam = taken().armhole
    in_hand(page, "Follow a seam")
    page.get_by_label("Which edge it is").select_option(label="Front: armhole")
    for i in (4, 40, 74):
        page.mouse.click(*on_screen(page, seam[i] + (3, 0)))
        page.wait_for_selector(f'[data-id="picked.{(4, 40, 74).index(i)}"]', state="attached")
    expect(page.get_by_text("So far: 3.")).to_be_visible()
    pressed(page, "Finish")
    seams = wait_for(lambda: entry(workbench, garment).get("seams"))
    assert (seams[0]["piece"], seams[0]["edge"]) == ("front", "armhole")
    expect(page.get_by_role("button", name="Use it", exact=True)).to_be_enabled()

    def followed():
        path = page.locator('[data-id="seam.0"]').first.get_attribute("d")
        return np.array(re.findall(r"-?[\d.]+", path), dtype=float).reshape(-1, 2)

    drawn = wait_for(
        followed, lambda places: len(places) > 10
    )  # until it is followed, what was picked is drawn
    inner = drawn[len(drawn) // 5 : -len(drawn) // 5]
    assert np.median(cKDTree(seam).query(inner)[0]) < 2.5
    pressed(page, "Use it")
    points = wait_for(lambda: record_of(workbench, garment).points)
    assert ("front", "armhole", "right") in {(p.piece, p.edge, p.side) for p in points}
    choose(page, "Seam: Front: armhole")
    pressed(page, "Remove it")
    wait_for(lambda: entry(workbench, garment), lambda kept: not kept.get("seams"))
    expect(page.get_by_text("The garment file holds an earlier tracing")).to_be_visible()


def test_a_box_and_strokes_are_drawn_and_taken_away(window, workbench):
    garment = photographed(workbench)
    page = opened(window, garment)
    box = page.locator(".lsd-svg").bounding_box()
    in_hand(page, "Box round the garment")
    page.mouse.click(box["x"] + 20, box["y"] + 20)
    page.wait_for_selector('[data-id="picked.0"]', state="attached")
    page.mouse.click(box["x"] + box["width"] - 20, box["y"] + box["height"] - 80)
    left, top, right, bottom = wait_for(lambda: entry(workbench, garment).get("hint", {}).get("rectangle"))
    assert left < right
    assert top < bottom
    in_hand(page, "Stroke on the garment")
    page.locator(".lsd-svg").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    for _ in range(4):
        page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    pressed(page, "Finish")
    strokes = wait_for(lambda: entry(workbench, garment)["hint"].get("garment"))
    assert len(strokes[0]) >= 2
    expect(page.get_by_text(TRACED)).to_be_visible()
    choose(page, "Stroke on the garment, 1")
    pressed(page, "Remove it")
    wait_for(lambda: entry(workbench, garment)["hint"], lambda hint: not hint.get("garment"))
    choose(page, "Box round the garment")
    pressed(page, "Remove it")
    wait_for(lambda: entry(workbench, garment), lambda kept: not kept.get("hint"))


ROUND = ("neck_point_right", "cuff_outer_right", "cuff_inner_right", "underarm_right", "hem_side_right")
ROUND = (*ROUND, *(name.replace("right", "left") for name in ROUND[::-1]))
"""Corners of the garment in their order round it."""


@pytest.mark.parametrize("way", ["mouse", "finger"])
def test_a_line_round_the_garment_is_tapped_from_corner_to_corner(window, workbench, way):
    garment = photographed(workbench)
    small = {"has_touch": True, "viewport": {"width": 360, "height": 800}, "is_mobile": True}
    page = opened(window, garment, **(small if way == "finger" else {}))
    tap = page.touchscreen.tap if way == "finger" else page.mouse.click
    in_hand(page, "Line round the garment")
    finish = page.get_by_role("button", name="Finish")
    expect(finish).to_be_disabled()
    corners = [taken().corner(name) + np.array([8.0, -6.0]) for name in ROUND]
    for i, px in enumerate(corners):
        if i == 3:  # a slip of the hand
            tap(*on_screen(page, corners[7]))
            expect(page.get_by_text("So far: 4.")).to_be_visible()
            pressed(page, "Take the last point back")
            expect(page.get_by_text("So far: 3.")).to_be_visible()
        tap(*on_screen(page, px))
        expect(page.get_by_text(f"So far: {i + 1}.")).to_be_visible()
    tap(*on_screen(page, corners[0] + (3, 3)))  # the first one again: round
    line = wait_for(lambda: entry(workbench, garment).get("hint", {}).get("round"))
    np.testing.assert_allclose(line, corners, atol=6)
    expect(page.get_by_text(TRACED)).to_be_visible()
    choose(page, "Line round the garment")
    pressed(page, "Remove it")
    wait_for(lambda: entry(workbench, garment), lambda kept: not kept.get("hint"))
    pressed(page, "Undo")
    wait_for(lambda: entry(workbench, garment).get("hint", {}).get("round"))


def test_a_line_round_nothing_is_refused_where_it_is_drawn_by_the_keyboard(window, workbench):
    garment = photographed(workbench)
    page = opened(window, garment)
    in_hand(page, "Line round the garment")
    page.locator(".lsd-svg").focus()
    page.keyboard.press("Enter")  # the cursor comes
    for i in range(3):
        page.keyboard.press("Enter")
        expect(page.get_by_text(f"So far: {i + 1}.")).to_be_visible()
        for _ in range(6):
            page.keyboard.press("Shift+ArrowRight")
    pressed(page, "Finish")
    expect(page.get_by_role("alert").filter(has_text="goes round nothing")).to_be_visible()
    expect(page.get_by_text("So far: 3.")).to_be_visible()  # nothing is lost
    assert not entry(workbench, garment).get("hint")
    pressed(page, "Take the last point back")
    expect(page.get_by_role("alert").filter(has_text="goes round nothing")).to_be_hidden()
    for _ in range(10):
        page.locator(".lsd-svg").press("Shift+ArrowDown")
    page.locator(".lsd-svg").press("Enter")
    expect(page.get_by_text("So far: 3.")).to_be_visible()
    pressed(page, "Finish")
    assert len(wait_for(lambda: entry(workbench, garment).get("hint", {}).get("round"))) == 3


def test_without_sheets_a_measure_gives_the_scale(window, workbench):
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record?photo=1")
    bare = taken(sheets=False, size=(1600, 1200))
    send(page, bare, "bare.jpg")
    traced(page)
    expect(page.get_by_text("nothing in the photograph tells how large they are")).to_be_visible()
    unfold(page, "How it was laid")
    page.get_by_label("What gives the scale").select_option(label="A measure that is known")
    page.get_by_label("The measure").select_option(label="Chest width")
    page.get_by_label("Its length").fill("36.4")
    page.get_by_label("Its length").press("Tab")
    expect(page.get_by_text("One pixel is")).to_be_visible()
    kept = entry(workbench, garment)
    assert (kept["measure"], kept["length"]) == ("chest_width", "36.4 cm")
    page.get_by_label("Its length").fill("wide")
    page.get_by_label("Its length").press("Tab")
    expect(page.get_by_role("alert").filter(has_text="wide")).to_be_visible()
    assert entry(workbench, garment)["length"] == "36.4 cm"


def test_a_picture_that_is_none_is_refused_in_words(workbench):
    answer = workbench.api.post("/photos", content=b"GIF89a no", headers={"x-file-name": "a.gif"})
    assert answer.status_code == 422
    assert "not a picture" in answer.json()["error"]["problems"][0]["message"]
    assert workbench.api.post("/photos", content=b"").status_code == 422
    assert workbench.api.post("/garments/none/photos", content=taken().data).status_code == 404
    assert workbench.api.get(f"/photos/{'0' * 64}/preview").status_code == 404
    sheets = workbench.api.get(f"{workbench.origin}/sheets/a4.pdf")
    assert sheets.content.startswith(b"%PDF")


@pytest.fixture
def phone(browser):
    viewport = {"width": 390, "height": 800}
    context = patient(browser.new_context(viewport=viewport, has_touch=True, is_mobile=True))
    yield context.new_page()
    context.close()


def test_a_phone_sends_a_photograph_of_this_garment(window, workbench, phone):
    garment = workbench.empty()
    page = window(f"/garment/{garment}/record?photo=1")
    expect(page.get_by_text("for this garment alone and for ten minutes")).to_be_visible()
    page.get_by_role("button", name="Take one with the phone").click()
    address = page.get_by_text(re.compile(r"^http://"))
    expect(address).to_be_visible()
    expect(page.get_by_text("It closes by itself in 10 minutes.")).to_be_visible()
    expect(page.get_by_role("img", name="The address as a code")).to_be_visible()
    url = address.inner_text()
    phone.goto(url)
    send(phone, taken(), "IMG_0001.jpg")
    phone.get_by_role("button", name="Send it").click()
    expect(phone.get_by_text("has arrived")).to_be_visible()
    # it appears by itself, ready to be worked on
    expect(page.get_by_role("region", name="Working on IMG_0001.jpg")).to_be_visible()
    told = page.locator(".ls-told")
    expect(told).to_have_count(1)
    expect(told).to_contain_text("IMG_0001.jpg has come from the phone.")
    (kept,) = workbench.document(garment)["aside"]["photos"]
    assert kept["name"] == "IMG_0001.jpg"
    assert GPS not in stored(workbench, garment)
    page.get_by_role("button", name="Back to the list").click()
    page.get_by_role("button", name="Close it now").click()
    expect(page.get_by_role("button", name="Take one with the phone")).to_be_visible()
    with pytest.raises(Error, match="ECONNREFUSED"):
        phone.request.get(url, timeout=5000)


def test_of_two_windows_that_open_the_phones_door_only_the_newer_shows_an_address(window, workbench, phone):
    garment = workbench.empty()
    pages = [window(f"/garment/{garment}/record?photo=1") for _ in range(2)]
    urls = []
    for page in pages:
        page.get_by_role("button", name="Take one with the phone").click()
        address = page.get_by_text(re.compile(r"^http://"))
        expect(address).to_be_visible()
        urls.append(address.inner_text())
    older, newer = pages
    expect(older.get_by_text("The address is closed now")).to_be_visible()
    expect(older.get_by_text(re.compile(r"^http://"))).to_be_hidden()
    expect(newer.get_by_text(urls[1])).to_be_visible()
    older.close()  # which must not close the door of the other
    assert phone.request.get(urls[1]).status == 200
    # a change of the one window is a change elsewhere for the other, and for that one alone
    third = window(f"/garment/{garment}/record")
    third.get_by_role("textbox", name="Body length").fill("66")
    third.get_by_role("textbox", name="Body length").press("Enter")
    expect(newer.locator(".ls-told")).to_contain_text("another window")
    assert third.locator(".ls-told").count() == 0


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 360)])
def test_axe_finds_nothing(window, workbench, scheme, width):
    garment = photographed(workbench)
    page = opened(window, garment, color_scheme=scheme, viewport={"width": width, "height": 900})
    found = [looked_over(page)]
    choose(page, "Edge: Front: hem, right")
    in_hand(page, "Follow a seam")
    expect(page.get_by_label("Which edge it is")).to_be_visible()
    found.append(looked_over(page))
    pressed(page, "Cancel")
    in_hand(page, "Line round the garment")
    expect(page.get_by_role("button", name="Finish")).to_be_disabled()
    found.append(looked_over(page))
    pressed(page, "Cancel")
    pressed(page, "Back to the list")
    expect(page.get_by_role("button", name="Work on front.jpg")).to_be_visible()
    found.append(looked_over(page))
    wrong = {
        (violation["id"], node["html"][:120])
        for one in found
        for violation in one.response["violations"]
        if violation["id"] not in FRAME
        for node in violation["nodes"]
        if "q-loading-bar" not in node["html"]
    }
    assert not wrong
