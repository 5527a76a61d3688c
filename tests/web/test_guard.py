"""What the guard lets through and what it refuses, in process."""

import asyncio
import json

import httpx
import pytest
from starlette.applications import Starlette
from starlette.responses import HTMLResponse, JSONResponse, PlainTextResponse, StreamingResponse
from starlette.routing import Route, WebSocketRoute

from likesewn.errors import Problem
from likesewn.web.bodies import Room
from likesewn.web.guard import Guard, own_hosts

TOKEN = "thirty-two-letters".ljust(40, "x")
HOME = "http://127.0.0.1:8123"
ROOMS = (Room(r"/api/photos/.*", 2000, 0.2), Room(r"/.*", 1000, 0.2))
FIELDS = {"message", "found", "file", "line", "key", "allowed", "nearest", "todo"}


async def _page(_request):
    page = "<html><head><script>one()</script><script src='x.js'></script></head>&lt;script&gt;</html>"
    return HTMLResponse(page, headers={"X-NiceGUI-Content": "page", "Cache-Control": "max-age=9"})


async def _static(_request):
    return PlainTextResponse("run()", headers={"Cache-Control": "public, max-age=9"})


async def _plain(request):
    return HTMLResponse("<script>no()</script>" + request.headers.get("accept-encoding", "none"))


async def _take(request):
    return JSONResponse({"bytes": len(await request.body())})


async def _take_slowly(request):
    async def parts():
        yield b"begun"
        await request.body()

    return StreamingResponse(parts())


async def _fail(_request):
    raise RuntimeError("broken inside")


async def _seen(request):
    return PlainTextResponse(json.dumps(sorted(request.headers)))


async def _socket(socket):
    await socket.accept()
    await socket.send_text("in")
    await socket.close()


def _guard(rooms=ROOMS):
    inside = Starlette(
        routes=[
            Route("/", _page),
            Route("/garment/{name:path}", _page),
            Route("/plain", _plain),
            Route("/seen", _seen),
            Route("/fail", _fail),
            Route("/api/garments", _take, methods=["GET", "POST", "DELETE"]),
            Route("/api/photos/new", _take, methods=["POST"]),
            Route("/begun", _take_slowly, methods=["POST"]),
            Route("/_nicegui/3/static/a.js", _static),
            WebSocketRoute("/_nicegui_ws/socket.io/", _socket),
        ]
    )
    return Guard(inside, hosts=own_hosts(8123), token=TOKEN, rooms=rooms)


def _ask(method="GET", path="/", *, guard=None, headers=None, home=HOME, **more):
    async def ask():
        transport = httpx.ASGITransport(app=guard or _guard(), raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url=home) as client:
            return await client.request(method, path, headers=headers, **more)

    return asyncio.run(ask())


def _cookie(guard, home=HOME):
    answer = _ask(path=f"/?key={TOKEN}", guard=guard, home=home)
    assert answer.status_code == 303
    return answer.headers["set-cookie"].partition(";")[0]


def _bearer(**more):
    return {"Authorization": f"Bearer {TOKEN}", **more}


@pytest.mark.parametrize("host", ["127.0.0.1:8123", "localhost:8123", "LOCALHOST:8123", "[::1]:8123"])
def test_each_own_address_is_answered(host):
    assert _ask(headers=_bearer(Host=host)).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:8123",
        "127.0.0.1",
        "127.0.0.1:80",
        "127.0.0.1:8123.evil.example",
        "localhost.evil.example:8123",
        "0.0.0.0:8123",
        "user@127.0.0.1:8123",
        "",
    ],
)
def test_any_other_host_is_misdirected(host):
    answer = _ask(headers=_bearer(Host=host))
    assert answer.status_code == 421
    assert "127.0.0.1:8123" in answer.json()["error"]["problems"][0]["allowed"]


@pytest.mark.parametrize("hosts", [[], [b"127.0.0.1:8123", b"evil.example"], [b"127.0.0.1:8123"] * 2])
def test_host_must_stand_there_once(hosts):
    sent = []

    async def send(message):
        sent.append(message)

    async def receive():
        return {"type": "http.request", "body": b""}

    headers = [(b"authorization", b"Bearer " + TOKEN.encode()), *((b"host", h) for h in hosts)]
    scope = {"type": "http", "method": "GET", "path": "/", "query_string": b"", "headers": headers}
    asyncio.run(_guard()(scope, receive, send))
    assert sent[0]["status"] == 421


@pytest.mark.parametrize(
    "origin",
    [
        "http://evil.example",
        "null",
        "https://127.0.0.1:8123",
        "http://127.0.0.1:8124",
        "http://localhost:8123",  # an own address, but not the one this request goes to
        "http://127.0.0.1:8123.evil.example",
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST", "OPTIONS"])
def test_a_foreign_origin_is_refused_even_with_the_token(origin, method):
    answer = _ask(method, "/api/garments", headers=_bearer(Origin=origin))
    assert answer.status_code == 403
    assert not any(name.startswith("access-control-") for name in answer.headers)


def test_another_page_may_only_open_the_start_address_in_a_tab():
    guard = _guard()
    tab = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "navigate", "Sec-Fetch-Dest": "document"}
    cookie = {"Cookie": _cookie(guard)}
    assert _ask(guard=guard, headers=tab).status_code == 401
    assert _ask(guard=guard, headers={**tab, **cookie}).status_code == 200
    assert _ask(path="/garment/1", guard=guard, headers={**tab, **cookie}).status_code == 403
    assert _ask("POST", guard=guard, headers={**tab, **cookie}).status_code == 403
    for site in ("cross-site", "same-site", "something"):
        for dest in ("iframe", "image", "empty"):
            told = {**tab, **cookie, "Sec-Fetch-Site": site, "Sec-Fetch-Dest": dest}
            assert _ask(guard=guard, headers=told).status_code == 403


def test_nothing_answers_without_the_token():
    for path in ("/", "/nowhere", "/api/garments", "/_nicegui/3/static/a.js", "/fail"):
        answer = _ask(path=path)
        assert answer.status_code == 401
        assert "likesewn serve" in answer.text


@pytest.mark.parametrize("key", ["", "wrong", TOKEN[:-1], TOKEN + "x", "ß" * 40])
def test_a_wrong_key_lets_nobody_in(key):
    answer = _ask(path="/", params={"key": key})
    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers
    assert _ask(headers={"Authorization": b"Bearer " + key.encode()}).status_code == 401


def test_the_key_opens_a_session_and_leaves_the_address():
    guard = _guard()
    answer = _ask(path=f"/garment/7?a=1&key={TOKEN}&b=%26", guard=guard)
    assert (answer.status_code, answer.headers["location"]) == (303, "/garment/7?a=1&b=%26")
    told = answer.headers["set-cookie"]
    assert told.startswith("likesewn-8123=")
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= {part.strip() for part in told.split(";")}
    assert TOKEN not in told
    assert _ask(guard=guard, headers={"Cookie": f"other=1; {told.partition(';')[0]}"}).status_code == 200
    assert (
        _ask(headers={"Cookie": told.partition(";")[0]}).status_code == 401
    )  # another start, another session


def test_the_way_back_never_leads_to_another_server():
    for path in ("//evil.example/", "/\\evil.example", "///evil.example/x\r\nSet-Cookie: a=b"):
        request = httpx.Request("GET", f"{HOME}/", params={"key": TOKEN})
        sent = []

        async def send(message, sent=sent):
            sent.append(message)

        headers = [(b"host", b"127.0.0.1:8123")]
        scope = {"type": "http", "method": "GET", "path": path, "headers": headers}
        asyncio.run(_guard()({**scope, "query_string": request.url.query}, None, send))
        place = dict(sent[0]["headers"])[b"location"]
        assert place[:1] == b"/"
        assert place[1:2] not in {b"/", b"\\"}
        assert b"\n" not in place


def test_two_servers_on_one_machine_have_two_cookies():
    assert _cookie(_guard()).partition("=")[0] == "likesewn-8123"
    other = Guard(_plain, hosts=own_hosts(8124), token=TOKEN)
    assert _cookie(other, "http://127.0.0.1:8124").partition("=")[0] == "likesewn-8124"


def test_a_change_by_cookie_must_come_from_an_own_page():
    guard = _guard()
    cookie = {"Cookie": _cookie(guard)}
    assert _ask("POST", "/api/garments", guard=guard, headers=cookie).status_code == 403
    for shown in ({"Origin": HOME}, {"Sec-Fetch-Site": "same-origin"}):
        assert _ask("POST", "/api/garments", guard=guard, headers={**cookie, **shown}).status_code == 200
    assert _ask("POST", "/api/garments", guard=guard, headers=_bearer()).status_code == 200
    assert _ask("DELETE", "/api/garments", guard=guard, headers=cookie).status_code == 403


def _connect(guard, headers):
    """Return what a server would be told to answer to a socket's handshake."""
    sent = []

    async def receive():
        return {"type": "websocket.connect"}

    async def send(message):
        sent.append(message)

    pairs = [(name.lower().encode(), value.encode()) for name, value in headers.items()]
    scope = {"type": "websocket", "path": "/_nicegui_ws/socket.io/", "query_string": b"", "headers": pairs}
    asyncio.run(guard({**scope, "subprotocols": []}, receive, send))
    return [message["type"] for message in sent]


def test_a_socket_needs_an_own_origin_and_the_session():
    guard = _guard()
    cookie = _cookie(guard)
    host = {"Host": "127.0.0.1:8123"}
    let_in = ["websocket.accept", "websocket.send", "websocket.close"]
    assert _connect(guard, {**host, "Origin": HOME, "Cookie": cookie}) == let_in
    assert _connect(guard, {**host, **_bearer(Origin=HOME)}) == let_in
    refused = [
        {**host, "Cookie": cookie},
        {**host, **_bearer()},
        {**host, "Origin": "http://evil.example", "Cookie": cookie},
        {**host, "Origin": "null", "Cookie": cookie},
        {**host, "Origin": HOME},
        {**host, "Origin": HOME, "Cookie": cookie + "x"},
        {**host, "Origin": HOME, "Cookie": cookie, "Sec-Fetch-Site": "same-site"},
        {"Host": "evil.example:8123", "Origin": "http://evil.example:8123", "Cookie": cookie},
    ]
    for headers in refused:
        assert _connect(guard, headers) == ["websocket.close"]  # before it was accepted


def test_only_the_scripts_of_the_page_itself_run():
    first, second = (_ask(headers=_bearer()) for _ in range(2))
    policy = dict(part.split(" ", 1) for part in first.headers["content-security-policy"].split("; "))
    nonce = policy["script-src"].split("'nonce-")[1].split("'")[0]
    assert first.text.count(f'<script nonce="{nonce}"') == 2
    assert "&lt;script&gt;" in first.text
    assert nonce not in second.text
    assert "'unsafe-inline'" not in policy["script-src"]
    assert policy["frame-ancestors"] == policy["object-src"] == policy["base-uri"] == "'none'"
    assert policy["connect-src"] == "'self'"
    assert int(first.headers["content-length"]) == len(first.content)


@pytest.mark.parametrize("path", ["/", "/plain", "/nowhere", "/fail", "/api/garments", "/?key=x"])
def test_every_answer_carries_the_headers(path):
    for headers in (_bearer(), {}, {"Host": "evil.example"}):
        told = _ask(path=path, headers=headers).headers
        assert "frame-ancestors 'none'" in told["content-security-policy"]
        assert told["cache-control"] == "no-store"
        assert told["x-content-type-options"] == "nosniff"
        assert told["referrer-policy"] == "no-referrer"
        assert told["cross-origin-opener-policy"] == told["cross-origin-resource-policy"] == "same-origin"
        assert "camera=()" in told["permissions-policy"]


def test_what_is_not_the_framework_s_page_runs_nothing():
    answer = _ask(path="/plain", headers=_bearer(**{"Accept-Encoding": "gzip"}))
    assert answer.text == "<script>no()</script>none"
    assert "script-src" not in answer.headers["content-security-policy"]
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_only_what_the_app_says_may_be_kept_is_kept():
    guard = _guard()
    cookie = {"Cookie": _cookie(guard)}
    for path, said in (
        ("/_nicegui/3/static/a.js", "public, max-age=9"),
        ("/", "no-store"),
        ("/plain", "no-store"),
    ):
        assert _ask(path=path, guard=guard, headers=cookie).headers["cache-control"] == said


def test_what_a_proxy_would_say_is_not_believed():
    told = _bearer(**{"X-Forwarded-Prefix": "/evil", "X-Forwarded-For": "1.2.3.4", "Forwarded": "for=x"})
    assert not {"x-forwarded-prefix", "x-forwarded-for", "forwarded"} & set(
        _ask(path="/seen", headers=told).json()
    )


def test_errors_have_one_shape_for_programs_and_are_a_page_for_people():
    for headers in ({}, {"Origin": "http://evil.example"}, {"Host": "evil.example"}):
        problems = _ask(path="/api/garments", headers=headers).json()["error"]["problems"]
        assert set(problems[0]) == FIELDS == set(Problem.__dataclass_fields__)
        page = _ask(path="/", headers=headers)
        assert page.headers["content-type"].startswith("text/html")
        assert problems[0]["message"].lower() in page.text.lower()
    shown = _ask(headers={"Host": "<script>alert(1)</script>"})
    assert "<script" not in shown.text


def test_a_body_is_counted_as_it_comes_in():
    for path, most in (("/api/garments", 1000), ("/api/photos/new", 2000)):
        assert _ask("POST", path, headers=_bearer(), content=b"x" * most).json() == {"bytes": most}
        announced = _ask("POST", path, headers=_bearer(), content=b"x" * (most + 1))

        async def parts():
            for _ in range(100):
                yield b"x" * 100

        streamed = _ask("POST", path, headers=_bearer(), content=parts())
        assert announced.status_code == streamed.status_code == 413
        assert set(streamed.json()["error"]["problems"][0]) == FIELDS
    lied = _ask("POST", "/api/garments", headers=_bearer(**{"Content-Length": "-1"}), content=b"x")
    assert lied.status_code == 400


def test_a_body_that_drips_is_cut_off():
    async def parts():
        for _ in range(1000):
            yield b"x"
            await asyncio.sleep(0.05)

    answer = _ask("POST", "/api/garments", headers=_bearer(), content=parts())
    assert answer.status_code == 408
    assert "0.2 seconds" in answer.text
    begun = _ask("POST", "/begun", headers=_bearer(), content=parts())
    assert begun.content == b"begun"  # an answer that has begun cannot be taken back, but it ends


def test_a_path_outside_every_room_takes_nothing():
    answer = _ask("POST", "/begun", guard=_guard(ROOMS[:1]), headers=_bearer(), content=b"x")
    assert answer.status_code == 413


def test_a_short_token_is_refused_at_the_start():
    with pytest.raises(ValueError, match="32"):
        Guard(_plain, hosts=own_hosts(1), token=TOKEN[:31])
