"""What the browser tests of the pages share."""

import time

import pytest
from axe_playwright_python.sync_playwright import Axe

from likesewn.garment import read_draft
from patience import PATIENCE

SIZES = ((360, 740), (1024, 768), (1920, 1080))


def record_of(workbench, garment):
    return read_draft(workbench.document(garment)["text"]).record


def changed(workbench, changes):
    """Put the example on the shelf with some values changed; returns its id."""
    garment = workbench.example()
    revision = workbench.document(garment)["revision"]
    new = {"revision": revision, "changes": changes, "said": "for a test"}
    workbench.api.patch(f"/garments/{garment}", json=new).raise_for_status()
    return garment


def wait_for(found, holds=bool, what="what was waited for"):
    """Look at something until it is as wanted; returns what was found."""
    end = time.monotonic() + PATIENCE
    while True:
        value = found()
        if holds(value):
            return value
        if time.monotonic() > end:
            pytest.fail(f"{what} never came; it stays {value!r}")
        time.sleep(0.05)


# what comes into view fades in: its colours are to be judged when it has arrived, not on the way; what
# turns for ever is not waited for, and what was dropped on its way has arrived too
STILL = """async () => {
  for (let quiet = 0; quiet < 2; ) {
    await new Promise(shown => requestAnimationFrame(() => requestAnimationFrame(shown)));
    const moving = document.getAnimations().filter(
      one => one.playState === "running" && Number.isFinite(one.effect.getComputedTiming().endTime));
    await Promise.allSettled(moving.map(one => one.finished));
    quiet = moving.length ? 0 : quiet + 1;
  }
}"""


def looked_over(page, **settings):
    """What axe-core finds on a page once nothing on it still moves, nor begins to while it is looked at."""
    page.emulate_media(reduced_motion="reduce")
    page.evaluate(STILL)
    return Axe().run(page, **settings)


def assert_clean(page):
    """Nothing that axe-core finds, and nothing that runs off the side of the window."""
    found = looked_over(page)
    assert found.violations_count == 0, found.generate_report()
    wide = page.viewport_size["width"]
    assert page.evaluate("document.documentElement.scrollWidth") <= wide


def line(page, id_):
    """Where a line of the drawing runs."""
    shown = page.locator(f'[data-id="{id_}"]').first
    shown.wait_for(state="attached")
    return shown.get_attribute("d")


def tab_to(page, wanted, most=200):
    """Go on with Tab until something that fits has the focus."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate(f"(e => e && ({wanted}))(document.activeElement)"):
            return
    pytest.fail(f"Tab does not lead to {wanted}")
