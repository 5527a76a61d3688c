"""A page with a drawing, and fingers to touch it, for the browser tests."""

import json
import re

from playwright.sync_api import CDPSession, Page

from windows import wait_for

__all__ = ["Board", "Fingers"]


class Board:
    """One page with a drawing, and what the tests ask of it."""

    def __init__(self, page: Page, url: str) -> None:
        self.page = page
        self.faults: list[str] = []
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", lambda m: self.faults.append(m.text) if m.type == "error" else None)
        page.add_init_script(
            "addEventListener('securitypolicyviolation', e => (window.refused ??= []).push("
            "`${e.effectiveDirective} ${e.sourceFile}`))"
        )
        page.goto(url)
        page.wait_for_selector(".lsd-line", state="attached")
        page.wait_for_function("window.did_handshake")

    @property
    def box(self) -> tuple[float, float]:
        box = self.page.locator(".lsd-svg").bounding_box()
        assert box is not None
        return box["x"], box["y"]

    def view(self) -> tuple[float, float, float]:
        """Return scale and offsets of the scene."""
        text = self.page.locator(".lsd-scenery").get_attribute("transform") or ""
        scale, _, _, _, x, y = (float(v) for v in re.findall(r"-?[\d.]+(?:e-?\d+)?", text))
        return scale, x, y

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return where a place of the scene is on the page, to the nearest pixel as pointers count."""
        scale, dx, dy = self.view()
        left, top = self.box
        return round(left + dx + x * scale), round(top + dy + y * scale)

    def place(self, x: float, y: float) -> tuple[float, float]:
        """Return which place of the scene is at a point of the page."""
        scale, dx, dy = self.view()
        left, top = self.box
        return (x - left - dx) / scale, (y - top - dy) / scale

    def log(self) -> list[dict]:
        text = self.page.locator("#log").text_content() or ""
        return [json.loads(line) for line in text.splitlines()]

    def heard(self, event: str, **wanted: object) -> dict:
        """Wait for an event and return the last one of its sort."""

        def found() -> list[dict]:
            return [e for e in self.log() if e["event"] == event and wanted.items() <= e.items()]

        return wait_for(found, what=f"{event} with {wanted}")[-1]

    def wheel(self, turn: float) -> None:
        """Turn the wheel, and wait until the drawing has followed: the browser hands it on when it likes."""
        before = self.view()
        self.page.mouse.wheel(0, turn)
        wait_for(self.view, lambda now: now != before, what="another view")

    def settle(self) -> None:
        """Wait until the page has been laid out and painted as it is now."""
        self.page.evaluate("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(done)))")

    def held(self, id_: str) -> tuple[float, float]:
        """Return where a handle is on the page."""
        box = self.page.locator(f'[data-id="{id_}"] .lsd-hold').bounding_box()
        assert box is not None
        return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def focus(self) -> str:
        return self.page.evaluate("document.activeElement.dataset.id ?? document.activeElement.className")

    def says(self) -> str:
        return self.page.locator(".lsd [role=status]").text_content() or ""

    def hidden(self, selector: str) -> bool:
        return "lsd-none" in (self.page.locator(selector).get_attribute("class") or "")


class Fingers:
    """Fingers on the page, by the browser's own protocol."""

    def __init__(self, page: Page) -> None:
        self.session: CDPSession = page.context.new_cdp_session(page)

    def _tell(self, kind: str, points: list[tuple[float, float]]) -> None:
        touches = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate(points)]
        self.session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": touches})

    def down(self, *points: tuple[float, float]) -> None:
        self._tell("touchStart", list(points))

    def move(self, *points: tuple[float, float]) -> None:
        self._tell("touchMove", list(points))

    def up(self) -> None:
        self._tell("touchEnd", [])
