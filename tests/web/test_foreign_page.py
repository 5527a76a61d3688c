"""What a page elsewhere can do to the workbench, tried in a real browser, and what the own page still can.

The person is logged in at the workbench in the same browser, and then opens a foreign page: on another port
of the same machine (to which the browser sends the workbench's cookies), by the machine's other name, or by a
foreign name that was made to point at this machine (DNS rebinding).
"""

import http.server
import os
import secrets
import subprocess
import sys
import threading
import time
from importlib.metadata import version
from pathlib import Path
from typing import ClassVar

import httpx
import pytest

from chromium import chromium, patient
from patience import PATIENCE
from ports import free_port
from windows import wait_for

# each way returns what the foreign page learned; what it may have changed is seen at the workbench
WAYS = {
    "fetch": """async home => {
        const got = [];
        for (const [method, mode] of [["GET", "cors"], ["POST", "cors"], ["PUT", "cors"], ["POST", "no-cors"],
                                      ["GET", "no-cors"]])
            got.push(await fetch(home + "/api/change", {method, mode, credentials: "include"})
                .then(r => r.text(), e => ""));
        return got.join("");
    }""",
    "page by fetch": """home => fetch(home + "/", {credentials: "include"}).then(r => r.text(), e => "")""",
    "framework's files": f"""home => fetch(home + "/_nicegui/{version("nicegui")}/static/nicegui.js",
        {{credentials: "include"}}).then(r => r.text(), e => "")""",
    "script": """home => new Promise(done => {
        const script = document.createElement("script");
        script.onload = () => done("loaded");
        script.onerror = () => done("");
        script.src = home + "/api/change";
        document.head.append(script);
    })""",
    "image": """home => new Promise(done => {
        const image = new Image();
        image.onload = () => done("loaded");
        image.onerror = () => done("");
        image.src = home + "/api/picture.svg";
    })""",
    "form": """home => new Promise(done => {
        const frame = document.createElement("iframe");
        frame.name = "into";
        document.body.append(frame);
        const form = document.createElement("form");
        form.method = "post";
        form.action = home + "/api/change";
        form.target = "into";
        document.body.append(form);
        frame.onload = () => { try { done(frame.contentDocument.body.innerText); } catch { done(""); } };
        form.submit();
        setTimeout(() => done(""), 700);
    })""",
    "frame": """home => new Promise(done => {
        const frame = document.createElement("iframe");
        frame.src = home + "/";
        document.body.append(frame);
        const look = () => { try { done(frame.contentDocument.body.innerText); } catch { done(""); } };
        frame.onload = () => setTimeout(look, 100);
        setTimeout(look, 3000);
    })""",
    "socket": """home => new Promise(done => {
        const socket = new WebSocket(home.replace("http", "ws")
            + "/_nicegui_ws/socket.io/?EIO=4&transport=websocket&client_id=x&next_message_id=0");
        socket.onmessage = message => done("heard " + message.data);
        socket.onopen = () => done("open");
        socket.onerror = () => done("");
        setTimeout(() => done(""), 30000);
    })""",
    "polling": """home => fetch(home + "/_nicegui_ws/socket.io/?EIO=4&transport=polling",
        {credentials: "include"}).then(r => r.text(), e => "")""",
    "window": """home => new Promise(done => {
        const opened = window.open(home + "/");
        setTimeout(() => {
            let got = "";
            try { got += opened.document.body.innerText; } catch {}
            try { opened.postMessage("press", "*"); if (opened.length) got += "frames"; } catch {}
            done(got + (opened === null || opened.closed ? "" : "held"));
        }, 700);
    })""",
    "beacon": """home => { navigator.sendBeacon(home + "/api/change", "x"); return ""; }""",
}


class Foreign(http.server.BaseHTTPRequestHandler):
    """A server elsewhere that lets everybody in, and notes who came."""

    came: ClassVar[list[str]] = []

    def do_GET(self):
        self.came.append(self.path)
        self.send_response(200)
        self.send_header("Content-Type", "text/html")
        self.send_header("Access-Control-Allow-Origin", "*")
        self.end_headers()
        self.wfile.write(b"<!doctype html><title>elsewhere</title><body>elsewhere")

    do_POST = do_GET  # noqa: N815 - the name that the library calls

    def log_message(self, *_):
        pass


class Workbench:
    """The guarded app in a process of its own."""

    def __init__(self, log):
        self.port, self.token, self.log = free_port(), secrets.token_urlsafe(32), log
        script = Path(__file__).with_name("guarded_app.py")
        with log.open("w", encoding="utf-8") as out:
            self.process = subprocess.Popen(
                [sys.executable, str(script), str(self.port), self.token],
                stdout=out,
                env={k: v for k, v in os.environ.items() if not k.startswith("PYTEST")},
            )
        wait_for(self.answers, what="the workbench")

    def answers(self):
        assert self.process.poll() is None
        try:
            httpx.get(f"http://127.0.0.1:{self.port}/")
        except httpx.TransportError:
            return False
        return True

    def home(self, host="127.0.0.1"):
        return f"http://{host}:{self.port}"

    def key(self, host="127.0.0.1"):
        return f"{self.home(host)}/?key={self.token}"

    def happened(self):
        return self.log.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def workbench(tmp_path_factory):
    running = Workbench(tmp_path_factory.mktemp("app") / "log.txt")
    yield running
    running.process.terminate()
    running.process.wait(PATIENCE)


@pytest.fixture(scope="module")
def elsewhere():
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Foreign)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield server.server_port
    server.shutdown()
    thread.join()
    server.server_close()


@pytest.fixture(scope="module")
def browser():
    with chromium("--host-resolver-rules=MAP evil.example 127.0.0.1") as opened:
        yield opened


@pytest.fixture(scope="module")
def context(browser, workbench):
    """A browser in which a person has the workbench open."""
    opened = patient(browser.new_context())
    for host in ("127.0.0.1", "localhost"):
        page = opened.new_page()
        page.goto(workbench.key(host))
        page.wait_for_selector("#said")
        page.close()
    yield opened
    opened.close()


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("name", ["127.0.0.1", "localhost", "evil.example"])
def test_a_foreign_page_gets_nothing_and_changes_nothing(context, workbench, elsewhere, name, way):
    before = workbench.happened()
    page = context.new_page()
    page.goto(f"http://{name}:{elsewhere}/")
    homes = [workbench.home(), workbench.home("localhost")]
    got = page.evaluate(f"homes => Promise.all(homes.map({WAYS[way]}))", homes)
    assert got == ["", ""]
    time.sleep(0.1)
    assert workbench.happened() == before
    page.close()


def test_the_same_ways_work_from_the_own_page(context, workbench):
    """The ways above are real: what they try does happen where it may."""
    page = context.new_page()
    page.goto(workbench.home())
    page.wait_for_selector("#said")
    before = workbench.happened()
    assert "of the workbench" in page.evaluate(WAYS["fetch"], workbench.home())
    assert page.evaluate(WAYS["socket"], workbench.home()) == "open"
    assert "sid" in page.evaluate(WAYS["polling"], workbench.home())
    assert "createApp" in page.evaluate(WAYS["framework's files"], workbench.home())
    assert "secret" in page.evaluate(WAYS["page by fetch"], workbench.home())
    assert workbench.happened().removeprefix(before).count("changed by POST") == 2
    # even from there, nothing is framed
    assert "secret" not in page.evaluate(WAYS["frame"], workbench.home())


def test_a_name_made_to_point_here_is_misdirected(context, workbench):
    """DNS rebinding: the foreign name now resolves to this machine and the page asks its own origin."""
    before = workbench.happened()
    page = context.new_page()
    answer = page.goto(f"http://evil.example:{workbench.port}/?key={workbench.token}")
    assert answer.status == 421
    assert "not an address of the workbench" in page.inner_text("body")
    home = f"http://evil.example:{workbench.port}"
    for way in ("fetch", "page by fetch", "framework's files", "polling", "socket"):
        assert "of the workbench" not in page.evaluate(WAYS[way], home)
        assert "sid" not in page.evaluate(WAYS[way], home)
    assert context.cookies(home) == []
    assert workbench.happened() == before


def test_a_link_elsewhere_may_open_the_start_but_holds_nothing_of_it(context, workbench, elsewhere):
    page = context.new_page()
    page.goto(f"http://localhost:{elsewhere}/")
    home = workbench.home("localhost")
    with context.expect_page() as opened:
        page.evaluate("home => { window.held = window.open(home + '/'); }", home)
    opened.value.wait_for_selector("#said")
    assert opened.value.evaluate("window.opener") is None
    assert page.evaluate("window.held.closed")  # to the opener it is as if it were closed
    with page.expect_navigation():
        page.evaluate("home => { location.href = home + '/api/change'; }", home)
    assert "does not answer to other pages" in page.inner_text("body")


def test_without_the_key_the_page_says_how_to_open_it(browser, workbench):
    context = browser.new_context()
    page = context.new_page()
    assert page.goto(workbench.home()).status == 401
    assert "likesewn serve" in page.inner_text("main")
    context.close()


def test_the_page_works_under_its_policy(context, workbench):
    page = context.new_page()
    said = []
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(workbench.key())
    page.wait_for_selector("#drawn circle")
    assert page.url == workbench.home() + "/"
    assert page.evaluate("getComputedStyle(document.getElementById('raw')).color") == "rgb(9, 8, 7)"
    assert page.evaluate("getComputedStyle(document.getElementById('said')).color") == "rgb(1, 2, 3)"
    page.click("#press")
    page.wait_for_selector("#inside")
    page.keyboard.press("Escape")
    page.wait_for_function(
        "document.getElementById('said').innerText === '<script>alert(1)</script> hello 7'"
    )
    page.wait_for_selector("#inside", state="detached")
    page.click("#drawn")
    page.wait_for_function("document.getElementById('said').innerText === 'poked'")
    page.set_input_files("input[type=file]", {"name": "a.txt", "mimeType": "text/plain", "buffer": b"x"})
    page.wait_for_function("document.getElementById('said').innerText === 'took a.txt'")
    assert said == []  # the browser found nothing against the policy


SLIPPED_IN = {
    "handler": """document.body.insertAdjacentHTML("beforeend", '<img src=x onerror="window.ran = 1">')""",
    "script": """const script = document.createElement("script");
        script.textContent = "window.ran = 1";
        document.body.append(script);""",
    "script from elsewhere": """const script = document.createElement("script");
        script.src = elsewhere + "/x.js";
        document.body.append(script);""",
    "script in its address": """const script = document.createElement("script");
        script.src = "data:,window.ran=1";
        document.body.append(script);""",
    "link": """const link = document.createElement("a");
        link.href = "javascript:window.ran = 1";
        document.body.append(link);
        link.click();""",
    "frame": """const frame = document.createElement("iframe");
        frame.srcdoc = "<script>parent.ran = 1</script>";
        document.body.append(frame);""",
    "base": """const base = document.createElement("base");
        base.href = elsewhere + "/";
        document.head.append(base);
        if (document.baseURI.startsWith(elsewhere)) window.ran = 1;""",
    "object": """const object = document.createElement("object");
        object.data = elsewhere + "/object";
        document.body.append(object);""",
    "form": """const form = document.createElement("form");
        form.action = elsewhere + "/form";
        document.body.append(form);
        form.submit();""",
    "fetch": """fetch(elsewhere + "/fetch", {mode: "no-cors"});""",
    "beacon": """navigator.sendBeacon(elsewhere + "/beacon", "x");""",
    "image": """new Image().src = elsewhere + "/image";""",
    "socket": """new WebSocket(elsewhere.replace("http", "ws") + "/socket");""",
    "style": """const style = document.createElement("style");
        style.textContent = `@import url(${elsewhere}/css); body { background: url(${elsewhere}/back) }`;
        document.head.append(style);""",
    "font": """const font = new FontFace("Away", `url(${elsewhere}/font)`);
        font.load();""",
}


@pytest.mark.parametrize("what", SLIPPED_IN)
def test_what_was_slipped_into_a_page_neither_runs_nor_leaves_the_machine(
    context, workbench, elsewhere, what
):
    page = context.new_page()
    page.goto(workbench.home())
    page.wait_for_selector("#said")
    Foreign.came.clear()
    # by a timer of the page itself, so that the browser's tools lend it no rights
    act = "([text, home]) => { setTimeout(new Function('elsewhere', text), 0, home) }"
    page.evaluate(act, [SLIPPED_IN[what], f"http://evil.example:{elsewhere}"])
    page.wait_for_timeout(250)
    assert page.evaluate("window.ran") is None
    assert Foreign.came == []
    page.close()
