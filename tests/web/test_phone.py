"""The door for the phone: what it takes, what it refuses, and when it closes."""

import asyncio
import ipaddress
import re
import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta

import cv2
import httpx
import numpy as np
import pytest

from likesewn.errors import InputError, LikesewnError, Problem
from likesewn.web import phone
from likesewn.web.home_network import home_addresses
from likesewn.web.phone import PhoneDoor
from likesewn.web.qr import qr_svg
from patience import PATIENCE


class Clock:
    def __init__(self):
        self.now = datetime(2026, 5, 1, 12, tzinfo=UTC)

    def __call__(self):
        return self.now

    def later(self, **time):
        self.now += timedelta(**time)


class Bench:
    """A door on this machine alone, what it took in, and a client at it."""

    def __init__(self, answer="Seen in the workbench."):
        self.clock = Clock()
        self.took = []
        self.answer = answer
        self.door = PhoneDoor(self.received, self.clock, lambda: ["127.0.0.1"])

    async def received(self, garment, data, name):
        if isinstance(self.answer, Exception):
            raise self.answer
        self.took.append((garment, data, name))
        return self.answer


def at_the_door(work, **more):
    async def run():
        bench = Bench(**more)
        address = await bench.door.open("garment-7", title='Throwing top <"1">')
        try:
            async with httpx.AsyncClient(timeout=PATIENCE) as client:
                return await work(bench, address, client)
        finally:
            await bench.door.close()

    return asyncio.run(run())


def _photo(data=b"picture", name="front.jpg"):
    return {"photo": (name, data, "image/jpeg")}


def test_the_page_needs_no_scripts_and_nothing_from_elsewhere():
    async def work(_bench, address, client):
        return address, await client.get(address.url)

    address, page = at_the_door(work)
    assert page.status_code == 200
    assert "<script" not in page.text
    assert not re.search(r"(?:src|href)=", page.text)
    assert 'capture="environment"' in page.text
    assert 'enctype="multipart/form-data"' in page.text
    assert "Throwing top &lt;&quot;1&quot;&gt;" in page.text
    assert "garment-7" not in page.text
    policy = page.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "script-src" not in policy
    assert page.headers["cache-control"] == "no-store"
    assert "set-cookie" not in page.headers
    assert "server" not in page.headers
    assert len(address.url.rpartition("/")[2]) >= 43  # 256 bits
    assert address.expires == datetime(2026, 5, 1, 12, 10, tzinfo=UTC)


def test_a_photograph_is_handed_over_with_a_name_fit_to_be_shown():
    async def work(bench, address, client):
        answer = await client.post(address.url, files=_photo(b"x" * 3_000_000, "../..\u202e/front.jpg"))
        return bench, answer

    bench, answer = at_the_door(work)
    assert answer.status_code == 200
    assert "Seen in the workbench." in answer.text
    assert bench.took == [("garment-7", b"x" * 3_000_000, "front.jpg")]


def test_why_not_is_said_in_words():
    why = InputError(Problem("this is not a picture", found="a PDF", allowed="JPEG <or> PNG"))

    async def work(_bench, address, client):
        return await client.post(address.url, files=_photo())

    answer = at_the_door(work, answer=why)
    assert answer.status_code == 422
    assert "this is not a picture" in answer.text
    assert "JPEG &lt;or&gt; PNG" in answer.text


@pytest.mark.parametrize(
    "sent",
    [
        {"content": b""},
        {"data": {"photo": "words"}},
        {"files": {"other": ("a.jpg", b"x", "image/jpeg")}},
        {"files": _photo(b"")},
        {"content": b"no form", "headers": {"Content-Type": "multipart/form-data; boundary=x"}},
        {"content": b"no form", "headers": {"Content-Type": "multipart/form-data"}},
        {"files": [("photo", ("a.jpg", b"1", "image/jpeg")), ("photo", ("b.jpg", b"2", "image/jpeg"))]},
    ],
)
def test_what_holds_no_photograph_is_told_so(sent):
    async def work(bench, address, client):
        return bench, await client.post(address.url, **sent)

    bench, answer = at_the_door(work)
    assert answer.status_code == 422
    assert "No photograph" in answer.text
    assert bench.took == []


def test_nothing_else_is_found():
    async def work(bench, address, client):
        home, _, secret = address.url.rpartition("/")
        host = address.url.split("/")[2]
        asked = [
            ("GET", f"{home}/", {}),
            ("GET", f"{home}/{secret[:-1]}", {}),
            ("GET", f"{home}/{secret}/", {}),
            ("GET", f"{home}/{secret}x", {}),
            ("GET", f"{home}//{secret}", {}),
            ("GET", f"{home}/%2e%2e/{secret}", {}),
            ("GET", f"{home}/favicon.ico", {}),
            ("GET", f"{home}/_nicegui/", {}),
            ("PUT", address.url, {}),
            ("OPTIONS", address.url, {}),
            ("GET", address.url, {"Host": "evil.example"}),
            ("GET", address.url, {"Host": f"evil.example:{host.rpartition(':')[2]}"}),
            ("POST", address.url, {"Origin": "http://evil.example"}),
            ("POST", address.url, {"Origin": "null"}),
        ]
        return bench, [await client.request(method, url, headers=h) for method, url, h in asked]

    bench, answers = at_the_door(work)
    assert {(answer.status_code, answer.text) for answer in answers} == {(404, "Not found")}
    assert bench.took == []


def test_an_own_form_is_taken():
    async def work(bench, address, client):
        origin = {"Origin": address.url.rpartition("/")[0]}
        return bench, await client.post(address.url, files=_photo(), headers=origin)

    bench, answer = at_the_door(work)
    assert answer.status_code == 200
    assert len(bench.took) == 1


def test_it_expires_and_each_opening_has_an_address_of_its_own():
    async def work(bench, address, client):
        bench.clock.later(minutes=9, seconds=59)
        in_time = await client.get(address.url)
        bench.clock.later(seconds=1)
        late = await client.post(address.url, files=_photo())
        second = await bench.door.open("garment-8")
        with pytest.raises(httpx.TransportError):
            await client.get(address.url)
        await client.post(second.url, files=_photo())
        await bench.door.close()
        with pytest.raises(httpx.TransportError):
            await client.get(second.url)
        return bench, address, second, in_time.status_code, late.status_code

    bench, first, second, in_time, late = at_the_door(work)
    assert (in_time, late) == (200, 404)
    assert first.url.rpartition("/")[2] != second.url.rpartition("/")[2]
    assert [garment for garment, _, _ in bench.took] == ["garment-8"]


def test_the_listener_is_gone_when_its_time_is_over():
    async def work(bench, _address, client):
        assert (await client.get((await bench.door.open("garment-9")).url)).status_code == 200
        over = asyncio.Event()
        short = await bench.door.open("garment-9", minutes=0.01, ended=over.set)
        assert bench.door.is_open
        await asyncio.wait_for(over.wait(), PATIENCE)
        with pytest.raises(httpx.TransportError):
            await client.get(short.url)
        return bench.door.is_open

    assert at_the_door(work) is False


def test_each_opening_is_told_when_it_ends_and_only_its_own_can_be_closed():
    async def work(bench, _, client):
        ended = []
        first = await bench.door.open("garment-7", ended=lambda: ended.append("first"))
        second = await bench.door.open("garment-7", ended=lambda: ended.append("second"))
        after_another = list(ended)
        await bench.door.close(first)  # the window that opened it knows no better
        still = (await client.get(second.url)).status_code, list(ended)
        await bench.door.close(second)
        return after_another, still, ended

    after_another, still, ended = at_the_door(work)
    assert after_another == ["first"]
    assert still == (200, ["first"])
    assert ended == ["first", "second"]


def test_requests_are_counted_by_the_minute():
    async def work(bench, address, client):
        wrong = [await client.get(address.url + "x") for _ in range(phone.MOST_A_MINUTE_EACH)]
        full = await client.get(address.url)
        bench.clock.later(minutes=1)
        return wrong, full, await client.get(address.url)

    wrong, full, later = at_the_door(work)
    assert {answer.status_code for answer in wrong} == {404}
    assert full.status_code == 429
    assert "Wait a minute" in full.text
    assert later.status_code == 200


def test_all_devices_together_are_counted_too():
    clock = Clock()
    counted = phone._Counted(clock)
    asked = [counted.too_many(f"192.168.1.{i}", page=True) for i in range(phone.MOST_A_MINUTE + 5)]
    assert asked == [False] * phone.MOST_A_MINUTE + [True] * 5
    # strangers who ask for what is not there do not shut the page
    clock.later(minutes=1)
    for i in range(2000):
        counted.too_many(f"10.0.{i // 250}.{i % 250}", page=False)
    assert not counted.too_many("192.168.1.1", page=True)
    assert len(counted._devices) <= phone._DEVICES


def test_photographs_are_counted_and_measured(monkeypatch):
    monkeypatch.setattr(phone, "MOST_PHOTOGRAPHS", 2)
    monkeypatch.setattr(phone, "LARGEST", 100_000)

    async def work(bench, address, client):
        large = await client.post(address.url, files=_photo(bytes(200_000)))

        async def parts():
            yield b'--b\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n'
            for _ in range(100):
                yield bytes(10_000)

        kind = {"Content-Type": "multipart/form-data; boundary=b"}
        streamed = (await client.post(address.url, content=parts(), headers=kind)).status_code
        rest = [(await client.post(address.url, files=_photo())).status_code for _ in range(3)]
        return bench, large, streamed, rest

    bench, large, streamed, rest = at_the_door(work)
    assert (large.status_code, streamed) == (413, 413)
    assert "too large" in large.text
    assert rest == [200, 200, 429]
    assert len(bench.took) == 2


def test_without_a_network_there_are_words():
    door = PhoneDoor(Bench().received, Clock(), list)
    with pytest.raises(LikesewnError, match="no home network"):
        asyncio.run(door.open("garment-7"))


def test_addresses_are_private_and_found_without_sending():
    for address in home_addresses():
        parsed = ipaddress.IPv4Address(address)
        assert parsed.is_private
        assert not parsed.is_loopback


@pytest.mark.parametrize("url", ["http://192.168.1.20:40233/" + "aB3_-" * 9, "http://10.0.0.2:8/x"])
def test_a_code_says_the_address(url):
    svg = qr_svg(url, "Address & <name>")
    root = ET.fromstring(svg)  # noqa: S314 - our own
    side = int(root.get("viewBox").split()[2])
    assert root.get("role") == "img"
    assert root.get("aria-label") == root[0].text == "Address & <name>"
    modules = np.full((side, side), 255, np.uint8)
    for x, y, count in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", root[2].get("d")):
        modules[int(y), int(x) : int(x) + int(count)] = 0
    assert (modules[:4] == 255).all()
    assert (modules[:, :4] == 255).all()  # the quiet zone
    large = cv2.resize(modules, None, fx=8, fy=8, interpolation=cv2.INTER_NEAREST)
    assert cv2.QRCodeDetector().detectAndDecode(large)[0] == url
