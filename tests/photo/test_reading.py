"""Opening pictures: the right way up, the lens's note, and what is refused."""

import struct
import zlib
from io import BytesIO

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from likesewn.errors import InputError
from likesewn.photo import read_picture

LEVELS = np.zeros((240, 320, 3), np.uint8)
LEVELS[:40, :60] = (250, 10, 10)


def _file(form, exif=None):
    out = BytesIO()
    image = Image.fromarray(LEVELS)
    if form == "HEIF":
        pillow_heif.register_heif_opener()
    image.save(out, form, **({"exif": exif} if exif else {}))
    return out.getvalue()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "HEIF"])
def test_known_sorts_open(form):
    picture = read_picture(_file(form), "x")
    assert picture.rgb.shape == (240, 320, 3)
    assert picture.rgb[10, 10, 0] > 200
    assert picture.rgb[200, 200].max() < 40
    assert picture.focal_px is None


def test_orientation_is_applied():
    exif = Image.Exif()
    exif[0x0112] = 6  # the top of the scene is at the right of the file: turn a quarter clockwise
    picture = read_picture(_file("JPEG", exif), "x.jpg")
    assert picture.rgb.shape == (320, 240, 3)
    assert picture.rgb[10, -10, 0] > 200


def test_the_focal_length_goes_by_the_diagonal():
    exif = Image.Exif()
    exif[0x8769] = {0xA405: 26}
    picture = read_picture(_file("JPEG", exif), "x.jpg")
    assert picture.focal_px == pytest.approx(26.0 / np.hypot(36.0, 24.0) * 400.0)


def _png(width, height):
    def chunk(name, data):
        return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "not a picture"),
        (b"%PDF-1.4 something", "not a picture"),
        (b"just words" * 40, "not a picture"),
        (_file("JPEG")[:2000], "breaks off"),
        (_file("PNG")[:200], "breaks off"),
        (_file("HEIF")[:-20], "breaks off"),
        (_png(1, 1), "too small"),
        (_png(30_000, 30_000), "too large"),
        (_png(14_000, 12_000), "too large"),
    ],
)
def test_what_cannot_be_used_is_refused_in_words(data, message):
    with pytest.raises(InputError) as caught:
        read_picture(data, "photo.jpg")
    problem = caught.value.problems[0]
    assert message in problem.message
    assert problem.file == "photo.jpg"
    assert problem.allowed
