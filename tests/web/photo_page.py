"""What the browser tests of a photograph's page share: what is kept, what is pressed, where places lie."""

import re

from playwright.sync_api import expect

TRACED = re.compile(r"sheets were found")

_ON_SCREEN = """([x, y]) => {
  const seen = new DOMPoint(x, y).matrixTransform(document.querySelector(".lsd-backdrop").getScreenCTM());
  return [seen.x, seen.y];
}"""


def entry(workbench, garment):
    return workbench.document(garment)["aside"]["photos"][0]


def opened(window, garment, **settings):
    """Open a window on a garment's photograph, and wait until it is traced."""
    page = window(f"/garment/{garment}/record?photo=1", **settings)
    expect(page.get_by_text(TRACED)).to_be_visible()
    page.wait_for_selector('[data-id="corner.underarm_left"]', state="attached")
    return page


def send(page, photo, name, where=None):
    """Choose a file in the page's first box for files, or in the one of this label."""
    box = page.get_by_label(where) if where else page.locator("input[type=file]").first
    box.set_input_files({"name": name, "mimeType": "image/jpeg", "buffer": photo.data})


def middle(page, id_):
    box = page.locator(f'[data-id="{id_}"]').first.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def on_screen(page, px):
    """Where a place of the photograph is on the screen."""
    return tuple(page.evaluate(_ON_SCREEN, [float(value) for value in px]))


def choose(page, words):
    page.get_by_label("Chosen in the photograph").select_option(label=words)


def pressed(page, name):
    page.get_by_role("button", name=name, exact=True).click()


def traced(page):
    """Press "Trace it", and wait until the page has led to what was found and folded away what was asked."""
    pressed(page, "Trace it")
    expect(page.get_by_role("region", name="What was traced")).to_be_focused()


def unfold(page, words):
    """Open what is folded away under these words; what is still about to be folded is waited for."""
    page.locator("details:not([open]) > summary").filter(has_text=words).click()
    expect(page.locator("details[open] > summary").filter(has_text=words)).to_be_visible()


def in_hand(page, tool):
    """Take a tool in hand, and wait until the drawing takes points."""
    pressed(page, tool)
    page.wait_for_selector('.lsd-svg[data-mode="place"]')


def drag(page, id_, to):
    x, y = middle(page, id_)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move((x + to[0]) / 2, (y + to[1]) / 2, steps=3)
    page.mouse.move(*to, steps=3)
    page.mouse.up()
