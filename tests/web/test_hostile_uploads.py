"""Uploads that were made to do harm: each is refused in words, and the server goes on as before."""

import http.client
import io
import secrets
import signal
import struct
import subprocess
import sys
import unicodedata
import zipfile
import zlib
from functools import cache
from pathlib import Path

import httpx
import numpy as np
import pillow_heif
import pytest
from PIL import Image

from likesewn.web.bodies import ROOMS, room_for
from likesewn.web.studio import plain_name
from likesewn.web.studio.names import LONGEST_NAME
from patience import PATIENCE
from ports import free_port
from windows import wait_for

GROWTH_MB = 60
"""How much the server's memory may have grown after the whole corpus: what the allocator keeps back."""


@cache
def _photo(kind="JPEG", **more):
    rng = np.random.default_rng(7)
    image = Image.fromarray(rng.integers(0, 255, (300, 400, 3), dtype=np.uint8))
    out = io.BytesIO()
    if kind == "HEIF":
        pillow_heif.from_pillow(image).save(out)
    else:
        image.save(out, kind, **more)
    return out.getvalue()


def _chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


@cache
def _png(width, height, *extra, rows=1, claimed=b"\x08\x00\x00\x00\x00"):
    """A PNG of black rows; ``extra`` are chunks that stand before the picture."""
    squeezed = zlib.compressobj(1)
    line = bytes(width + 1) if rows else b""
    body = b"".join(squeezed.compress(line) for _ in range(rows)) + squeezed.flush()
    head = _chunk(b"IHDR", struct.pack(">II", width, height) + claimed)
    return b"\x89PNG\r\n\x1a\n" + head + b"".join(extra) + _chunk(b"IDAT", body) + _chunk(b"IEND", b"")


def _zip():
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("photo.jpg", bytes(50_000_000))
    return out.getvalue()


def _segment(marker, data):
    return b"\xff" + bytes([marker]) + struct.pack(">H", len(data) + 2) + data


def _jpeg_claiming(width, height):
    """A sound JPEG whose frame header claims another size."""
    data = bytearray(_photo())
    at = data.index(b"\xff\xc0") + 5
    data[at : at + 4] = struct.pack(">HH", height, width)
    return bytes(data)


def _noise(length):
    return np.random.default_rng(11).bytes(length)


def _svg():
    return b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'


@cache
def _squeezed():
    return zlib.compress(bytes(300_000_000), 9)


REFUSED = {
    "empty": lambda: b"",
    "one byte": lambda: b"\xff",
    "truncated JPEG": lambda: _photo()[:-3000],
    "JPEG head alone": lambda: _photo()[:20],
    "truncated PNG": lambda: _photo("PNG")[:-3000],
    "truncated HEIC": lambda: _photo("HEIF")[:-3000],
    "HEIC head alone": lambda: _photo("HEIF")[:60],
    "spoilt HEIC": lambda: _photo("HEIF")[:200] + _noise(3000),
    "GIF": lambda: _photo("GIF"),
    "BMP": lambda: _photo("BMP"),
    "TIFF": lambda: _photo("TIFF"),
    "PDF": lambda: b"%PDF-1.7\n%\xe2\xe3\xcf\xd3\n1 0 obj<<>>endobj",
    "SVG": _svg,
    "HTML": lambda: b"<!doctype html><script>alert(1)</script>",
    "EPS": lambda: b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 500 500\n(rm) run",
    "zip": _zip,
    "zeros": lambda: bytes(1_000_000),
    "program": lambda: b"\x7fELF" + bytes(5000),
    "1 x 1": lambda: _png(1, 1),
    "1 x 100,000": lambda: _png(1, 100_000, rows=100_000),
    "nothing wide": lambda: _png(0, 300),
    "PNG bomb": lambda: _png(30_000, 30_000, rows=30_000),
    "PNG that claims more than it could": lambda: _png(2**31 - 1, 2**31 - 1, rows=0),
    "PNG bomb just below the limit, broken off": lambda: _png(11_000, 11_000, rows=11_000)[:60_000],
    "JPEG that claims 65,535 x 65,535": lambda: _jpeg_claiming(65_535, 65_535),
    "bomb in a colour profile": lambda: _png(400, 300, _chunk(b"iCCP", b"icc\0\0" + _squeezed()), rows=300),
    "bomb in a text": lambda: _png(400, 300, _chunk(b"zTXt", b"note\0\0" + _squeezed()), rows=300),
    "bombs in many texts": lambda: _png(
        400,
        300,
        *(_chunk(b"zTXt", b"note\0\0" + zlib.compress(bytes(1_000_000), 9)) for _ in range(200)),
        rows=300,
    ),
}
HARMLESS = {
    # what is not the picture is never looked at, or is left behind
    "spoilt EXIF": lambda: _photo()[:2] + _segment(0xE1, b"Exif\0\0" + _noise(60_000)) + _photo()[2:],
    "EXIF that points into itself": lambda: (
        _photo()[:2]
        + _segment(0xE1, b"Exif\0\0II*\0\x08\0\0\0\x01\0\x69\x87\x04\0\x01\0\0\0\x08\0\0\0\x08\0\0\0")
        + _photo()[2:]
    ),
    "zip behind a JPEG": lambda: _photo() + _zip(),
    "page in a JPEG": lambda: _photo()[:2] + _segment(0xFE, b"<script>alert(1)</script>") + _photo()[2:],
    "JPEG": _photo,
    "PNG": lambda: _photo("PNG"),
    "HEIC": lambda: _photo("HEIF"),
}


class Server:
    def __init__(self):
        self.port = free_port()
        token = secrets.token_urlsafe(32)
        script = Path(__file__).with_name("photo_server.py")
        self.process = subprocess.Popen([sys.executable, str(script), str(self.port), token])
        self.client = httpx.Client(
            base_url=f"http://127.0.0.1:{self.port}",
            headers={"Authorization": f"Bearer {token}"},
            timeout=PATIENCE,
        )
        wait_for(self.answers, what="the server")

    def answers(self):
        assert self.process.poll() is None
        try:
            self.client.get("/")
        except httpx.TransportError:
            return False
        return True

    def send(self, data, name="photo.jpg"):
        return self.client.post("/api/photos", params={"name": name}, content=data)

    def memory_mb(self, *, peak=False):
        """The memory that the server takes now, or the most that it has taken so far."""
        if sys.platform != "linux":
            return 0.0  # other systems do not tell by a file
        status = Path(f"/proc/{self.process.pid}/status").read_text(encoding="utf-8")
        return int(status.partition("VmHWM:" if peak else "VmRSS:")[2].split()[0]) / 1000

    def end(self):
        self.client.close()
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(PATIENCE)


@pytest.fixture(scope="module")
def server():
    running = Server()
    yield running
    running.end()


def _refused(answer, *statuses):
    assert answer.status_code in statuses, answer.text
    (problem,) = answer.json()["error"]["problems"]
    assert len(problem["message"]) > 10
    assert problem["allowed"] or problem["todo"]
    assert "Traceback" not in answer.text
    return problem


@pytest.mark.parametrize("name", REFUSED)
def test_each_is_refused_in_words_and_the_next_photograph_is_served(server, name):
    problem = _refused(server.send(REFUSED[name]()), 422)
    assert problem["file"] == "photo.jpg"
    assert server.send(_photo()).json()["size"] == [400, 300]


@pytest.mark.parametrize("name", HARMLESS)
def test_what_is_beside_the_picture_does_no_harm(server, name):
    answer = server.send(HARMLESS[name]())
    assert answer.json()["size"] == [400, 300], answer.text
    assert answer.json()["bytes"] < 400_000


def test_zeros_without_end_are_cut_off_as_they_come(server):
    def zeros():
        for _ in range(200):
            yield bytes(1_000_000)

    # by the peak: what is free again need not go back to the system at once, or ever
    room_mb = room_for("/api/photos", ROOMS).most_bytes / 1e6
    before = server.memory_mb()
    _refused(server.send(zeros()), 413)
    first = server.memory_mb(peak=True)
    assert first - before < room_mb + GROWTH_MB
    for _ in range(3):
        _refused(server.send(zeros()), 413)
    assert server.memory_mb(peak=True) - first < GROWTH_MB
    assert server.send(_photo()).status_code == 200
    announced = http.client.HTTPConnection("127.0.0.1", server.port, timeout=PATIENCE)
    announced.putrequest("POST", "/api/photos")
    announced.putheader("Authorization", server.client.headers["Authorization"])
    announced.putheader("Content-Length", "200000000")
    announced.endheaders()
    assert announced.getresponse().status == 413  # before a byte of it was sent
    announced.close()


def test_the_server_does_not_grow(server):
    server.send(_photo())
    before = server.memory_mb()
    for make in (*REFUSED.values(), *HARMLESS.values()):
        server.send(make())
    assert server.memory_mb() - before < GROWTH_MB


NAMES = {
    "../../../etc/passwd": "passwd",
    "..\\..\\windows\\system32\\x.jpg": "x.jpg",
    "/etc/passwd": "passwd",
    "C:\\photo.jpg": "photo.jpg",
    "..": "photograph",
    "": "photograph",
    "///": "photograph",
    ".hidden": "hidden",
    "a\0b.jpg": "ab.jpg",
    "photo\u202egpj.exe": "photogpj.exe",
    "\u200fphoto\u200b.jpg\u2066": "photo.jpg",
    "two\r\nlines\t.jpg": "twolines.jpg",
    "\x1b[31mred.jpg": "[31mred.jpg",
    "x" * 10_000 + ".jpg": "x" * (LONGEST_NAME - 4) + ".jpg",
    "x" * 10_000: "x" * LONGEST_NAME,
    "Töpferei 窯 1.jpg": "Töpferei 窯 1.jpg",
    "\ud800.jpg": "jpg",
    '<img src=x onerror="alert(1)">.jpg': '<img src=x onerror="alert(1)">.jpg',
}


@pytest.mark.parametrize("name", NAMES)
def test_names_are_made_fit_to_be_shown(name):
    made = plain_name(name)
    assert made == NAMES[name]
    assert plain_name(made) == made
    assert not any(unicodedata.category(c).startswith("C") or c in "/\\" for c in made)


@pytest.mark.parametrize("name", [name for name in NAMES if "\ud800" not in name and len(name) < 5000])
def test_no_path_is_made_from_a_name(server, name, tmp_path):
    (tmp_path / "there.jpg").write_bytes(_photo())
    assert server.send(_photo(), name).json()["name"] == NAMES[name]
    # a name of a file that is there is still a name: what was sent is what is opened
    _refused(server.send(b"", str(tmp_path / "there.jpg")), 422)
    assert [file.name for file in tmp_path.iterdir()] == ["there.jpg"]
