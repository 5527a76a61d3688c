"""The drawing component in a browser: mouse, fingers, keyboard, how it looks and what it says."""

import os
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import Browser, Page

from chromium import chromium, patient
from drawing_board import Board, Fingers
from patience import PATIENCE
from ports import free_port
from windows import looked_over, wait_for

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


def answers(server: "subprocess.Popen[bytes]", url: str) -> bool:
    """Return whether a server answers by now."""
    assert server.poll() is None, "the page's server stopped"
    try:
        with urllib.request.urlopen(url, timeout=PATIENCE):  # noqa: S310 - our own server
            return True
    except OSError:
        return False


@pytest.fixture(scope="module")
def server() -> Iterator[str]:
    port = free_port()
    paths = os.pathsep.join([str(ROOT / "src"), str(ROOT / "tests")])
    script = [sys.executable, str(HERE / "drawing_server.py"), str(port)]
    # the framework behaves otherwise where it believes itself inside a test
    inherited = {key: value for key, value in os.environ.items() if not key.startswith("PYTEST")}
    with subprocess.Popen(script, env={**inherited, "PYTHONPATH": paths}, stdout=subprocess.DEVNULL) as one:
        url = f"http://127.0.0.1:{port}"
        try:
            wait_for(lambda: answers(one, f"{url}/picture.svg"), what="the page's server")
            yield url
        finally:
            one.terminate()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as opened:
        yield opened


@pytest.fixture
def board(browser: Browser, server: str, request: pytest.FixtureRequest) -> Iterator[Board]:
    name, size, touch = getattr(request, "param", ("shapes", (1024, 768), False))
    viewport = {"width": size[0], "height": size[1]}
    context = patient(browser.new_context(viewport=viewport, has_touch=touch, reduced_motion="reduce"))
    board = Board(context.new_page(), f"{server}/{name}")
    yield board
    assert board.faults == []
    context.close()


def shown(name: str, size: tuple[int, int] = (1024, 768), *, touch: bool = False) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("board", [(name, size, touch)], indirect=True)


def test_the_wheel_zooms_about_the_pointer(board: Board) -> None:
    point = board.at(123.0, 77.0)
    board.page.mouse.move(*point)
    for turn in (-120, -240, 90, -300):
        before, scale = board.place(*point), board.view()[0]
        board.wheel(turn)
        assert (board.view()[0] > scale) == (turn < 0)
        assert board.place(*point) == pytest.approx(before, abs=1e-6)


def test_dragging_moves_the_drawing_with_the_pointer(board: Board) -> None:
    start = board.at(100.0, 200.0)
    held = board.place(*start)
    board.page.mouse.move(*start)
    board.page.mouse.down()
    board.page.mouse.move(start[0] + 60, start[1] - 35, steps=5)
    board.page.mouse.up()
    assert board.place(start[0] + 60, start[1] - 35) == pytest.approx(held, abs=1e-6)
    assert not [e for e in board.log() if e["event"] == "pick"]


@shown("shapes", (390, 780), touch=True)
def test_pinching_keeps_the_places_under_both_fingers(board: Board) -> None:
    one, two = board.at(100.0, 100.0), board.at(250.0, 200.0)
    middle = ((one[0] + two[0]) / 2, (one[1] + two[1]) / 2)
    fingers = Fingers(board.page)
    scale = board.view()[0]
    held = board.place(*one), board.place(*two)
    fingers.down(one, two)

    def spread(by: float) -> list[tuple[float, float]]:
        return [(middle[0] + by * (x - middle[0]), middle[1] + by * (y - middle[1])) for x, y in (one, two)]

    for step in range(1, 11):
        fingers.move(*spread(1.0 + 0.06 * step))
    wait_for(lambda: board.view()[0], lambda now: now == pytest.approx(1.6 * scale, rel=0.01))
    for point, place in zip(spread(1.6), held, strict=True):
        assert board.place(*point) == pytest.approx(place, abs=0.5)
    fingers.up()
    assert not [e for e in board.log() if e["event"] in {"pick", "move", "place"}]


@shown("shapes?mode=move")
def test_a_handle_dragged_by_the_mouse_tells_its_place(board: Board) -> None:
    scale = board.view()[0]
    x, y = board.at(300.0, 50.0)
    assert board.hidden(".lsd-loupe")
    # taken hold of beside its middle, it does not jump
    board.page.mouse.move(x + 3, y - 2)
    board.page.mouse.down()
    assert not board.hidden(".lsd-loupe")
    board.page.mouse.move(x + 43, y + 28, steps=6)
    board.page.mouse.up()
    last = board.heard("move", done=True)
    assert last["id"] == "corner"
    assert (last["x"], last["y"]) == pytest.approx((300.0 + 40 / scale, 50.0 + 30 / scale), abs=1e-6)
    moves = [e for e in board.log() if e["event"] == "move"]
    assert [e["done"] for e in moves].count(True) == 1
    assert moves[-1]["done"]
    assert board.hidden(".lsd-loupe")
    assert "across" in board.says()


@shown("shapes?mode=move", (390, 780), touch=True)
def test_a_handle_dragged_by_a_finger_shows_the_loupe_clear_of_it(board: Board) -> None:
    scale = board.view()[0]
    x, y = board.at(350.0, 150.0)
    fingers = Fingers(board.page)
    fingers.down((x, y))
    for step in range(1, 9):
        fingers.move((x - 5 * step, y + 4 * step))
    wait_for(lambda: board.held("curve"), lambda at: at == pytest.approx((x - 40, y + 32), abs=1.0))
    assert not board.hidden(".lsd-loupe")
    rim = board.page.locator(".lsd-loupe-rim").bounding_box()
    frame = board.page.locator(".lsd").bounding_box()
    assert rim is not None
    assert frame is not None
    centre = (rim["x"] + rim["width"] / 2, rim["y"] + rim["height"] / 2)
    assert (centre[0] - x + 40) ** 2 + (centre[1] - y - 32) ** 2 > (rim["width"] / 2) ** 2
    assert rim["x"] >= frame["x"]
    assert rim["x"] + rim["width"] <= frame["x"] + frame["width"]
    fingers.up()
    last = board.heard("move", done=True)
    assert last["id"] == "curve"
    assert (last["x"], last["y"]) == pytest.approx((350.0 - 40 / scale, 150.0 + 32 / scale), abs=0.02)
    assert board.hidden(".lsd-loupe")


@shown("photo?mode=move")
def test_the_loupe_enlarges_the_picture_round_the_handle(board: Board) -> None:
    x, y = board.at(300.0, 50.0)
    board.page.mouse.move(x, y)
    board.page.mouse.down()
    board.page.mouse.move(*board.at(199.0, 149.0), steps=4)
    board.settle()
    shot = board.page.locator(".lsd-loupe-rim").bounding_box()
    assert shot is not None

    def seen() -> set[object]:
        picture = Image.open(BytesIO(board.page.screenshot(clip=shot))).convert("RGB")
        wide, high = picture.size
        return {
            picture.getpixel((round(wide * u), round(high * v)))
            for u, v in ((0.3, 0.35), (0.75, 0.35), (0.35, 0.75), (0.75, 0.75))
        }

    # near the meeting of the picture's four colours the loupe shows all of them, once the picture has come
    colours = {(0xAA, 0x33, 0x33), (0x33, 0xAA, 0x33), (0x33, 0x33, 0xAA), (0xAA, 0xAA, 0x33)}
    wait_for(seen, lambda found: found == colours)
    board.page.mouse.up()


@shown("shapes?mode=move&follow=1")
def test_a_handle_stays_in_the_hand_while_the_server_follows(board: Board) -> None:
    page = board.page
    x, y = board.at(350.0, 150.0)
    page.mouse.move(x, y)
    page.mouse.down()
    for step in range(1, 25):
        page.mouse.move(x - 4 * step, y - 2 * step)
        assert board.held("curve")[0] == pytest.approx(x - 4 * step, abs=1.0)
        page.wait_for_timeout(10)
    page.mouse.up()
    last = board.heard("move", done=True)
    page.wait_for_function(
        "end => document.querySelector('[data-id=seam]').getAttribute('d').endsWith(end)",
        arg=f"L{last['x']:.2f} {last['y']:.2f}",
    )
    assert board.held("curve") == pytest.approx((x - 96, y - 48), abs=1.0)


@shown("shapes?mode=move")
def test_a_handle_is_moved_by_keys(board: Board) -> None:
    page = board.page
    page.locator("[data-id=corner]").focus()
    page.keyboard.press("ArrowRight")
    assert board.heard("move", done=True)["x"] == pytest.approx(301.0)
    page.keyboard.press("Shift+ArrowDown")
    last = board.heard("move", done=True, y=60.0)
    assert (last["x"], last["y"]) == pytest.approx((301.0, 60.0))
    assert "30.1 cm across" in board.says()
    # one that cannot be moved stays, and the drawing moves instead
    page.locator("[data-id=still]").focus()
    before = board.view()
    page.keyboard.press("ArrowLeft")
    assert board.view()[1] > before[1]
    assert {e["id"] for e in board.log() if e["event"] == "move"} == {"corner"}


def test_the_keyboard_goes_through_everything_picks_and_leaves(board: Board) -> None:
    page = board.page
    page.keyboard.press("Tab")
    assert "lsd-svg" in page.evaluate("document.activeElement.getAttribute('class')")
    assert page.locator(".lsd-help").is_visible()
    order = []
    for _ in range(7):
        page.keyboard.press("Tab")
        order.append(board.focus())
    assert order == ["front", "front.neckline", "front.side", "seam", "corner", "curve", "still"]
    page.keyboard.press("Tab")
    assert board.focus() == "lsd-button"
    page.keyboard.press("Shift+Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    assert board.focus() == "front.neckline"
    assert board.says() == "Neckline of the front, 20.0 cm"
    assert page.locator(".lsd-label").text_content() == "Neckline of the front, 20.0 cm"
    page.keyboard.press("Enter")
    assert board.heard("pick")["id"] == "front.neckline"
    page.wait_for_selector("[data-id='front.neckline'][aria-pressed=true]", state="attached")
    page.keyboard.press("PageDown")
    assert board.focus() == "seam"
    page.keyboard.press("Escape")
    assert "lsd-svg" in page.evaluate("document.activeElement.getAttribute('class')")
    page.keyboard.press("Tab")
    assert board.focus() == "lsd-button"


def test_the_frame_of_the_focus_is_for_the_keyboard(board: Board) -> None:
    page = board.page
    page.mouse.click(*board.at(100.0, 3.0))
    assert not page.locator(".lsd-help").is_visible()
    page.keyboard.press("ArrowLeft")
    assert page.locator(".lsd-help").is_visible()


def test_keys_move_and_enlarge_the_drawing(board: Board) -> None:
    page = board.page
    page.keyboard.press("Tab")
    start = board.view()
    page.keyboard.press("ArrowRight")
    assert board.view()[1] < start[1]
    page.keyboard.press("Shift+ArrowDown")
    assert board.view()[2] < start[2]
    page.keyboard.press("+")
    assert board.view()[0] == pytest.approx(1.25 * start[0])
    page.keyboard.press("-")
    assert board.view()[0] == pytest.approx(start[0])
    page.keyboard.press("0")
    assert board.view() == pytest.approx(start)


def test_there_is_one_stop_for_tab_at_a_time(board: Board) -> None:
    page = board.page
    stops = 'document.querySelectorAll(\'.lsd-svg[tabindex="0"], .lsd-svg [tabindex="0"]\').length'
    assert page.evaluate(stops) == 1
    for _ in range(9):
        page.keyboard.press("Tab")
        assert page.evaluate(stops) == 1


def test_the_buttons_do_what_they_say(board: Board) -> None:
    page = board.page
    start = board.view()
    page.get_by_role("button", name="Larger").click()
    assert board.view()[0] > start[0]
    page.get_by_role("button", name="Smaller").click()
    assert board.view()[0] == pytest.approx(start[0])
    page.mouse.move(*board.at(10.0, 290.0))
    board.wheel(-400)
    page.get_by_role("button", name="Show everything").click()
    assert board.view() == pytest.approx(start)
    for box in (button.bounding_box() for button in page.locator(".lsd-button").all()):
        assert box is not None
        assert min(box["width"], box["height"]) >= 32


def test_pointing_says_what_is_there(board: Board) -> None:
    page = board.page
    page.mouse.move(*board.at(100.0, 3.0))
    assert page.locator(".lsd-label").text_content() == "Neckline of the front, 20.0 cm"
    assert board.heard("over")["id"] == "front.neckline"
    page.mouse.move(*board.at(90.0, 150.0))
    assert page.locator(".lsd-label").text_content() == "Front, cut 1 on the fold"
    page.mouse.move(*board.at(300.0, 280.0))
    assert board.hidden(".lsd-label")
    page.mouse.click(*board.at(100.0, 3.0))
    assert board.heard("pick")["id"] == "front.neckline"


def test_the_label_stays_inside_the_drawing(board: Board) -> None:
    page = board.page
    page.get_by_role("button", name="Larger").click()
    frame = page.locator(".lsd").bounding_box()
    assert frame is not None
    for x, y in ((5.0, 5.0), (frame["width"] - 5, frame["height"] - 60), (5.0, frame["height"] - 5)):
        page.mouse.move(frame["x"] + x, frame["y"] + y)
        label = page.locator(".lsd-label").bounding_box()
        if label is not None:
            assert label["x"] >= frame["x"]
            assert label["x"] + label["width"] <= frame["x"] + frame["width"]
            assert label["y"] >= frame["y"]
            assert label["y"] + label["height"] <= frame["y"] + frame["height"]


@shown("shapes?mode=place")
def test_points_are_placed_by_mouse_and_by_keys(board: Board) -> None:
    page = board.page
    point = board.at(120.0, 80.0)
    page.mouse.click(*point)
    last = board.heard("place")
    assert (last["x"], last["y"]) == pytest.approx(board.place(*point), abs=1e-6)
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Shift+ArrowRight")
    page.keyboard.press("Enter")
    wide, high = page.evaluate(SIZE)
    left, top = board.box
    middle = board.place(left + wide / 2, top + high / 2)
    page.wait_for_function("document.querySelector('#log').textContent.split('\\n').length === 2")
    last = board.log()[-1]
    assert (last["x"], last["y"]) == pytest.approx((middle[0] + 11.0, middle[1]), abs=1e-6)


SIZE = "(b => [b.width, b.height])(document.querySelector('.lsd-svg').getBoundingClientRect())"


@shown("shapes?mode=place", (390, 780), touch=True)
def test_a_finger_aims_with_the_loupe_and_places_where_it_lifts(board: Board) -> None:
    x, y = board.at(120.0, 80.0)
    fingers = Fingers(board.page)
    fingers.down((x, y))
    fingers.move((x + 20, y + 10))
    wait_for(lambda: not board.hidden(".lsd-loupe"))
    fingers.up()
    last = board.heard("place")
    assert (last["x"], last["y"]) == pytest.approx(board.place(x + 20, y + 10), abs=1e-6)
    assert board.hidden(".lsd-loupe")


def test_a_new_scene_touches_only_what_changed(board: Board) -> None:
    page = board.page
    page.mouse.move(*board.at(50.0, 50.0))
    board.wheel(-200)
    page.locator("#change").hover()
    board.settle()
    view = board.view()
    page.evaluate(
        "window.touched = [];"
        "new MutationObserver(all => touched.push(...all.map(m => m.target.dataset?.id)))"
        ".observe(document.querySelector('.lsd-items'), {subtree: true, childList: true, attributes: true})"
    )
    page.locator("#change").click()
    page.wait_for_function("document.querySelector('[data-id=seam]').getAttribute('d').endsWith('240')")
    assert set(page.evaluate("touched")) == {"seam"}
    assert board.view() == pytest.approx(view)


def test_the_focus_stays_on_what_changes_and_in_the_drawing_when_it_goes(board: Board) -> None:
    page = board.page
    page.locator("[data-id=seam]").focus()
    page.evaluate("document.querySelector('#change').click()")
    page.wait_for_selector("[data-id=seam].lsd-shown", state="attached")
    assert board.focus() == "seam"
    page.evaluate("document.querySelector('#change').click()")
    page.wait_for_selector("[data-id=seam]", state="detached")
    assert "lsd-svg" in page.evaluate("document.activeElement.getAttribute('class')")


def test_the_rulers_count_in_the_persons_unit(browser: Browser, server: str) -> None:
    for name, unit, step in (("shapes", "cm", 10.0), ("inches", "in", 25.4)):
        page = browser.new_page(viewport={"width": 1024, "height": 768})
        board = Board(page, f"{server}/{name}")
        figures = page.locator(".lsd-ruler-across text").all()
        assert (page.locator(".lsd-rulers > text").text_content()) == unit
        left = board.box[0]
        for figure in figures:
            words = (figure.text_content() or "").replace("\u2212", "-")
            x = float(figure.get_attribute("x") or 0) - 3.0
            assert board.place(left + x, 0.0)[0] == pytest.approx(float(words) * step, abs=1.0)
        assert len(figures) > 3
        page.close()


def test_nothing_asks_for_what_a_strict_policy_refuses(board: Board) -> None:
    page = board.page
    page.mouse.move(*board.at(100.0, 3.0))
    board.wheel(-100)
    page.keyboard.press("Tab")
    refused = page.evaluate("window.refused ?? []")
    assert [one for one in refused if "/esm/" in one or "likesewn" in one] == []
    assert page.evaluate("document.querySelectorAll('.lsd-frame [style]:not(.lsd-label)').length") == 0


EVERY = ["shapes", "pattern", "cut", "record", "truing", "lay", "print", "sheet", "photo"]


@pytest.mark.parametrize("name", EVERY)
def test_every_scene_reads_well_and_is_in_sight_at_every_size(
    browser: Browser, server: str, name: str
) -> None:
    viewport = {"width": 360, "height": 720}
    context = patient(browser.new_context(viewport=viewport, reduced_motion="reduce"))
    page = context.new_page()
    board = Board(page, f"{server}/{name}?mode=move")
    folder = os.environ.get("LIKESEWN_SCREENSHOTS")
    for width, height in ((360, 720), (1024, 768), (1920, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        page.wait_for_function(
            f"document.querySelector('.lsd-svg').getBoundingClientRect().width > {width - 40}"
        )
        board.settle()
        assert_in_sight(page, width, clipped=name == "sheet")
        for look in ("light", "dark"):
            page.evaluate(f"document.body.classList.toggle('body--dark', {str(look == 'dark').lower()})")
            if width == 1024:
                assert_accessible(page)
            if folder:
                page.screenshot(path=Path(folder) / f"drawing-{name}-{width}-{look}.png")
    assert board.faults == []
    context.close()


def assert_in_sight(page: Page, width: int, *, clipped: bool) -> None:
    frame = page.locator(".lsd").bounding_box()
    items = page.locator(".lsd-items").bounding_box()
    buttons = page.locator(".lsd-buttons").bounding_box()
    assert frame is not None
    assert items is not None
    assert buttons is not None
    assert frame["x"] >= 0
    assert frame["x"] + frame["width"] <= width
    if not clipped:  # what lies beyond a sheet's edge is cut off, but still has its box
        assert items["x"] >= frame["x"]
        assert items["y"] >= frame["y"]
        assert items["x"] + items["width"] <= frame["x"] + frame["width"] + 0.5
        assert items["y"] + items["height"] <= buttons["y"]
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def assert_accessible(page: Page) -> None:
    rules = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
    found = looked_over(page, options=rules)
    assert found.response["passes"]
    # the framework's own popups are not the drawing's
    mine = [v for v in found.response["violations"] if any(".lsd" in str(n["target"]) for n in v["nodes"])]
    assert [(v["id"], [n["html"] for n in v["nodes"]]) for v in mine] == []
