"""A workbench that runs, and a browser to use it with."""

import subprocess
import sys
from dataclasses import dataclass
from urllib.parse import urlsplit

import httpx
import pytest

from chromium import chromium, patient
from likesewn.examples import example_text
from patience import PATIENCE
from ports import free_port

SERVE = "import sys, pathlib; from likesewn.web.serve import run; "
SERVE += "run(pathlib.Path(sys.argv[1]), port=int(sys.argv[2]), open_browser=False, "
SERVE += "ready=lambda at: print(at, flush=True))"


@dataclass(frozen=True)
class Workbench:
    """A running workbench: the address to open it by, and its API."""

    address: str
    api: httpx.Client

    @property
    def origin(self) -> str:
        parts = urlsplit(self.address)
        return f"{parts.scheme}://{parts.netloc}"

    def example(self) -> str:
        """Put the example garment on the shelf; returns its id."""
        content = example_text("throwing-top").encode()
        return self.api.post("/garments/file", content=content).raise_for_status().json()["garment"]

    def empty(self, unit: str = "cm") -> str:
        new = {"kind": "set-in-sleeve-top", "unit": unit, "name": "Studio top"}
        return self.api.post("/garments", json=new).raise_for_status().json()["garment"]

    def document(self, garment: str) -> dict:
        return self.api.get(f"/garments/{garment}").raise_for_status().json()


@pytest.fixture(scope="module")
def workbench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("library")
    command = [sys.executable, "-c", SERVE, str(folder), str(free_port())]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        address = server.stdout.readline().strip()
        try:
            parts = urlsplit(address)
            headers = {"Authorization": f"Bearer {parts.query.removeprefix('key=')}"}
            base = f"{parts.scheme}://{parts.netloc}/api"
            with httpx.Client(base_url=base, headers=headers, timeout=PATIENCE) as api:
                yield Workbench(address, api)
        finally:
            server.terminate()


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


@pytest.fixture
def window(browser, workbench):
    """Open windows of the workbench; each is a page of a browser of its own, with no error on its console."""
    contexts = []
    faults: list[str] = []

    def opened(path: str, **settings):
        context = patient(browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **settings}))
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda m: faults.append(m.text) if m.type == "error" else None)
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.goto(workbench.address)
        page.goto(f"{workbench.origin}{path}")
        page.wait_for_function("window.did_handshake")
        return page

    yield opened
    for context in contexts:
        context.close()
    assert faults == []
