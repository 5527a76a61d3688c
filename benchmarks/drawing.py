"""The drawing component: building scenes, painting them, and the way from an edit to the new picture.

``python -m benchmarks.drawing`` prints its rows alone; ``serve PORT`` serves the page that is measured.
"""

import json
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import date
from importlib import resources
from statistics import median, quantiles
from typing import TYPE_CHECKING

from benchmarks.table import Row, best_of, markdown
from likesewn.cut import cut
from likesewn.garment import load_kind, read_garment
from likesewn.job import Job, run
from likesewn.truing import explain

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["drawing_speed"]

EDITS = 40
SCENE_BAR_MS, PAINT_BAR_MS, EDIT_BAR_MS = 10.0, 30.0, 250.0
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]


def _job() -> Job:
    text = resources.files("likesewn.examples").joinpath("throwing-top.toml").read_text(encoding="utf-8")
    record = read_garment(text, "throwing-top.toml")
    done = run(record, load_kind(record.kind), today=date(2031, 3, 14), clock=time.perf_counter)
    if not isinstance(done, Job):
        raise TypeError("the example garment cannot be trued")
    return done


def _serve(port: int) -> None:
    from nicegui import ui  # noqa: PLC0415 - only the served process loads the framework

    from likesewn.web.drawing import Drawing, add_look  # noqa: PLC0415
    from likesewn.web.scenes import cut_scene  # noqa: PLC0415

    job = _job()

    @ui.page("/")
    def page() -> None:
        add_look()
        with ui.element("div").style("height: 80vh; width: 100%"):
            drawing = Drawing(cut_scene(job.cut_list, job.record))
        count = ui.label("0").props("id=count")
        told: list[int] = []

        def edit() -> None:
            """One more millimetre of body length, through truing and cutting."""
            told.append(1)
            tape = dict(job.record.tape)
            tape["body_length"] = replace(tape["body_length"], mm=tape["body_length"].mm + len(told))
            record = replace(job.record, tape=tape)
            pattern = explain(record, job.kind).pattern
            drawing.show(cut_scene(cut(pattern, record, today=job.today), record))

        ui.button("edit", on_click=edit).props("id=edit")
        ui.button("echo", on_click=lambda: count.set_text(str(int(count.text) + 1))).props("id=echo")

    ui.run(host="127.0.0.1", port=port, reload=False, show=False)


@contextmanager
def _page() -> Iterator["Page"]:
    from playwright.sync_api import sync_playwright  # noqa: PLC0415

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    url = f"http://127.0.0.1:{port}/"
    script = [sys.executable, "-m", "benchmarks.drawing", "serve", str(port)]
    with subprocess.Popen(script, stdout=subprocess.DEVNULL) as server, sync_playwright() as playwright:
        try:
            for _ in range(120):
                with suppress(OSError), urllib.request.urlopen(url, timeout=5):
                    break
                time.sleep(0.25)
            browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=ARGUMENTS)
            page = browser.new_page(viewport={"width": 1280, "height": 800})
            page.goto(url)
            page.wait_for_selector(".lsd-line", state="attached")
            page.wait_for_function("window.did_handshake")
            yield page
            browser.close()
        finally:
            server.terminate()


# the time from a click until the next picture after the change that it led to, ms
TRIP = """([button, watched]) => new Promise(done => {
  const start = performance.now();
  const watch = new MutationObserver(() => {
    watch.disconnect();
    requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - start)));
  });
  const all = {subtree: true, childList: true, attributes: true, characterData: true};
  watch.observe(document.querySelector(watched), all);
  document.querySelector(button).click();
})"""

# the browser's own way to put the same picture up: its markup, parsed anew
MARKUP = """() => {
  const items = document.querySelector('.lsd-items');
  const copy = document.createElementNS('http://www.w3.org/2000/svg', 'g');
  items.parentNode.append(copy);
  const text = items.innerHTML;
  const took = [];
  for (let i = 0; i < 20; i += 1) {
    const start = performance.now();
    copy.innerHTML = text;
    copy.getBBox();
    took.push(performance.now() - start);
    copy.replaceChildren();
  }
  copy.remove();
  return took;
}"""


def _met(value: float, bar: float) -> str:
    return "yes" if value <= bar else "no"


def drawing_speed() -> tuple[list[Row], list[str]]:
    """Time scenes and their painting; return rows and remarks."""
    from likesewn.web.scenes import cut_scene  # noqa: PLC0415 - not needed by other benchmarks

    job = _job()
    data = cut_scene(job.cut_list, job.record).to_data()
    made, _ = best_of(30, lambda: cut_scene(job.cut_list, job.record).to_data())
    written, _ = best_of(30, lambda: json.dumps(data))
    rows = [
        Row(
            "scene of four pieces to cut",
            f"{1e3 * made:.1f} ms",
            "json.dumps of that scene",
            f"{1e3 * written:.2f} ms",
            f"{made / written:.0f} : 1",
            f"at most {SCENE_BAR_MS:.0f} ms",
            _met(1e3 * made, SCENE_BAR_MS),
        )
    ]
    with _page() as page:
        trips = [page.evaluate(TRIP, ["#edit", ".lsd-items"]) for _ in range(EDITS)]
        echoes = [page.evaluate(TRIP, ["#echo", "#count"]) for _ in range(EDITS)]
        paints = page.evaluate("performance.getEntriesByName('likesewn-drawing').map(e => e.duration)")
        markup = page.evaluate(MARKUP)
    first, again, parsed = paints[0], median(paints[1:]), median(markup)
    rows += [
        Row(
            f"painting it {when}",
            f"{took:.1f} ms",
            "the same markup, parsed by Chromium",
            f"{parsed:.1f} ms",
            f"{took / parsed:.1f} : 1",
            f"at most {PAINT_BAR_MS:.0f} ms",
            _met(took, PAINT_BAR_MS),
        )
        for when, took in (("for the first time", first), ("after an edit", again))
    ]
    slow = quantiles(trips, n=20)[-1]
    rows.append(
        Row(
            "edit to new picture, 95 in 100",
            f"{slow:.0f} ms",
            "a click that sets a label, median",
            f"{median(echoes):.0f} ms",
            f"{slow / median(echoes):.1f} : 1",
            f"at most {EDIT_BAR_MS:.0f} ms",
            _met(slow, EDIT_BAR_MS),
        )
    )
    size = len(json.dumps(data, separators=(",", ":"))) / 1000
    record, kind = job.record, job.kind
    truing, _ = best_of(10, lambda: explain(record, kind))
    cutting, _ = best_of(10, lambda: cut(job.pattern, record, today=job.today))
    stages = f"An edit trues ({1e3 * truing:.0f} ms) and cuts ({1e3 * cutting:.0f} ms) anew"
    return rows, [f"The scene is {size:.0f} kB. {stages}; until its picture stands, {median(trips):.0f} ms."]


if __name__ == "__main__":
    if sys.argv[1:2] == ["serve"]:
        _serve(int(sys.argv[2]))
    else:
        found, remarks = drawing_speed()
        print(markdown(found), *remarks, sep="\n")
