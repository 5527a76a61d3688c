"""The workbench in a real browser: its first page, an edit until it is drawn, memory, and a full shelf.

Skips with a word where Chromium or Playwright is not there. Everything runs on this machine's loopback.
"""

import json
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import median, quantiles

from benchmarks.table import Row
from likesewn.examples import example_text
from likesewn.garment import update_garment
from likesewn.library import Library
from likesewn.web.desk import Desk
from likesewn.web.pages.shelf import AT_ONCE
from likesewn.web.scenes import record_scene

__all__ = ["workbench"]

EDITS = 200
FULL = 500
OPENINGS = 5

BROWSER = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]

BARE = """
import sys, uvicorn
from fastapi import FastAPI
from nicegui import ui
app = FastAPI()
@ui.page("/")
def page():
    ui.button("Press")
    box = ui.input("Type")
    label = ui.label("")
    box.on("change", lambda: label.set_text(box.value))
ui.run_with(app, tailwind=False, show_welcome_message=False)
uvicorn.run(app, host="127.0.0.1", port=int(sys.argv[1]), log_level="warning")
"""
"""The framework with one button and one field: what no page of it can be quicker than."""

WAIT_DRAWN = """() => new Promise((done) => {
  const svg = document.querySelector(".lsd-svg");
  let begun = 0;
  document.addEventListener("change", () => { begun = performance.now(); }, { capture: true, once: true });
  const watcher = new MutationObserver(() => {
    if (!begun) return;
    watcher.disconnect();
    requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now() - begun)));
  });
  watcher.observe(svg, { subtree: true, childList: true, attributes: true, attributeFilter: ["d"] });
  setTimeout(() => done(-1), 5000);
})"""
"""Milliseconds from the moment a field is left until what it changed is painted."""


def workbench() -> tuple[list[Row], list[str]]:
    """Measure the workbench; return rows and remarks."""
    rows, remarks = _on_the_server()
    chromium = shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415
    except ImportError:
        chromium = None
    if chromium is None:
        return rows, [
            *remarks,
            "The workbench in a browser was left out: there is no Chromium, or no Playwright.",
        ]
    with sync_playwright() as tools, tempfile.TemporaryDirectory() as folder:
        browser = tools.chromium.launch(executable_path=chromium, args=BROWSER)
        more, said = _in_browser(browser, Path(folder))
        browser.close()
    return rows + more, remarks + said


def _on_the_server() -> tuple[list[Row], list[str]]:
    """Time an edit without a browser: the change committed, trued and made into a scene."""
    with tempfile.TemporaryDirectory() as folder:
        desk = Desk(
            Library.open(Path(folder), now=lambda: datetime.now(UTC)), today=lambda: date(2026, 11, 25)
        )
        document = desk.take_in(example_text("throwing-top").encode(), "top.toml")
        took: list[float] = []
        bare: list[float] = []
        text = document.text
        for i in range(60):
            start = time.perf_counter()
            text = update_garment(text, {"tape.hem_width": 50 + 0.1 * i})
            bare.append(time.perf_counter() - start)
            start = time.perf_counter()
            opened = desk.change(
                document.garment, document.revision, {"tape.hem_width": 50 + 0.1 * i}, said="hem width"
            )
            trued = opened.trued()
            record_scene(
                opened.kind,
                trued.pattern,
                "Top",
                "cm",
                taken={key: figure.mm for key, figure in opened.record.tape.items()},
                chosen="hem_width",
            ).to_data()
            took.append(time.perf_counter() - start)
            document = opened.document
        desk.close()
    late = quantiles(took, n=20)[-1]
    row = Row(
        "An edit on the workbench, on the server alone (95th percentile of 60)",
        f"{1000 * late:.0f} ms (median {1000 * median(took):.0f})",
        "changing the same value in the text of the file",
        f"{1000 * median(bare):.1f} ms",
        f"{late / median(bare):.0f} : 1",
        "at most 150 ms",
        "yes" if late <= 0.15 else "no",
    )
    return [row], []


def _in_browser(browser: object, folder: Path) -> tuple[list[Row], list[str]]:
    with _bare(folder) as bare_address:
        bare = _first(browser, bare_address, "button")
    with _served(folder / "few", AT_ONCE) as (address, process):
        first = _first(browser, address, ".ls-card a")
        edits, memory = _edits(browser, address, process)
    with _served(folder / "full", FULL) as (address, _):
        full = _first(browser, address, ".ls-card a")
    late = quantiles(edits, n=20)[-1]
    rows = [
        Row(
            f"First page of the workbench usable, {AT_ONCE} garments, new browser session",
            f"{median(first):.2f} s",
            "the framework's page with one button and one field",
            f"{median(bare):.2f} s",
            f"{median(first) / median(bare):.2f} : 1",
            "at most 1.5 s",
            "yes" if median(first) <= 1.5 else "no",
        ),
        Row(
            f"An edit until it is drawn in the browser (95th percentile of {len(edits)})",
            f"{late:.0f} ms (median {median(edits):.0f})",
            "two frames of the screen",
            "33 ms",
            f"{late / 33:.1f} : 1",
            "at most 250 ms",
            "yes" if late <= 250 else "no",
        ),
        Row(
            f"The shelf with {FULL} garments, first page usable",
            f"{median(full):.2f} s",
            f"the shelf with {AT_ONCE} garments, as many as are shown at once",
            f"{median(first):.2f} s",
            f"{median(full) / median(first):.2f} : 1",
            "without slowing",
            "yes" if median(full) <= 1.25 * median(first) + 0.1 else "no",
        ),
        Row(
            f"Memory of the server after {EDITS} edits",
            f"{memory[1]:.0f} MB",
            "before them",
            f"{memory[0]:.0f} MB",
            f"{memory[1] / memory[0]:.2f} : 1",
            "no growth without end",
            "yes" if memory[1] <= 1.25 * memory[0] else "no",
        ),
    ]
    return rows, [
        f"{len(edits)} edits were typed in Chromium, one after another, in the window they were drawn in."
    ]


@contextmanager
def _bare(folder: Path) -> Iterator[str]:
    script = folder / "bare.py"
    script.write_text(BARE, encoding="utf-8")
    port = 8397
    process = subprocess.Popen([sys.executable, str(script), str(port)])
    try:
        _wait(port)
        yield f"http://127.0.0.1:{port}/"
    finally:
        process.kill()
        process.wait()


@contextmanager
def _served(folder: Path, garments: int) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    library = Library.open(folder, now=lambda: datetime.now(UTC))
    text = example_text("throwing-top")
    for i in range(garments):
        library.add(update_garment(text, {"garment.name": f"Throwing top {i + 1}"}), said="")
    library.close()
    command = [
        sys.executable,
        "-m",
        "likesewn.cli",
        "serve",
        "--library",
        str(folder),
        "--no-browser",
        "--json",
    ]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    try:
        line = process.stdout.readline() if process.stdout else ""
        yield json.loads(line)["address"], process
    finally:
        process.terminate()
        process.wait(20)


def _wait(port: int) -> None:
    import socket  # noqa: PLC0415

    for _ in range(200):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)


def _first(browser: object, address: str, sign: str) -> list[float]:
    """Return how long a page takes until it can be used, each time in a session of its own, seconds."""
    took: list[float] = []
    for _ in range(OPENINGS + 1):
        context = browser.new_context()
        page = context.new_page()
        start = time.perf_counter()
        page.goto(address)
        page.wait_for_selector(sign)
        page.wait_for_function("window.did_handshake === true")
        took.append(time.perf_counter() - start)
        context.close()
    return took[1:]


def _edits(
    browser: object, address: str, process: subprocess.Popen[str]
) -> tuple[list[float], tuple[float, float]]:
    context = browser.new_context(viewport={"width": 1300, "height": 900})
    page = context.new_page()
    page.goto(address)
    page.wait_for_function("window.did_handshake === true")
    page.click(".ls-card a")
    page.wait_for_selector(".lsd-svg path", state="attached")
    page.wait_for_timeout(2500)
    field = page.get_by_role("textbox", name="Hem width").first
    took: list[float] = []
    before = _memory(process.pid)
    for i in range(EDITS):
        field.fill(f"{48 + 0.05 * i:.2f}")
        page.evaluate(f"() => {{ window.drawn = ({WAIT_DRAWN})(); }}")  # begun, not waited for
        field.press("Tab")
        took.append(page.evaluate("() => window.drawn"))
        if i == 20:
            before = _memory(process.pid)  # once everything that is loaded late is there
    after = _memory(process.pid)
    context.close()
    return [one for one in took if one > 0], (before, after)


def _memory(pid: int) -> float:
    """Return the resident memory of a process, MB."""
    try:
        status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    except OSError:
        return float("nan")
    return int(next(line for line in status.splitlines() if line.startswith("VmRSS")).split()[1]) / 1000
