"""What is kept of a photograph: its pixels and its focal length, and nothing that tells of the place."""

import asyncio
import io
import struct
import zlib
from concurrent.futures import ThreadPoolExecutor
from unittest.mock import AsyncMock

import numpy as np
import pillow_heif
import pytest
from PIL import Image, PngImagePlugin

from likesewn.errors import InputError
from likesewn.photo import read_picture
from likesewn.web.clean import clean
from likesewn.web.studio import Studio
from likesewn.web.taking import Taking

SECRETS = (b"GPSSECRET", b"OWNERSECRET", b"XMPSECRET", b"MAKERSECRET", b"IPTCSECRET", b"THUMBSECRET",
           b"COMMENTSECRET", b"ICCSECRET", b"AFTERSECRET", b"JFXXSECRET")  # fmt: skip


def at_once(work):
    """Run a coroutine in a thread of its own: other tests' browsers may have a loop in this one."""
    with ThreadPoolExecutor(1) as pool:
        return pool.submit(asyncio.run, work).result()


def pixels(size=(320, 240)):
    rng = np.random.default_rng(4)
    small = rng.integers(0, 255, (size[1] // 20, size[0] // 20, 3), dtype=np.uint8)
    return Image.fromarray(small).resize(size, Image.Resampling.BICUBIC)


def notes(orientation=6, focal=27):
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F], exif[0x013B] = "OWNERSECRET camera", "OWNERSECRET"
    inner = exif.get_ifd(0x8769)
    inner[0xA405], inner[0x927C], inner[0x9003] = focal, b"MAKERSECRET" * 20, "2026:01:01 OWNERSECRET"
    gps = exif.get_ifd(0x8825)
    gps[1], gps[2], gps[29] = "N", (48.0, 12.0, 30.5), "GPSSECRET"
    return exif.tobytes()


def full_jpeg(orientation=6, focal=27, **how):
    """A JPEG that tells everything: GPS, maker's notes, XMP, IPTC, a thumbnail, remarks, a second picture."""
    out = io.BytesIO()
    pixels().save(out, "JPEG", quality=88, exif=notes(orientation, focal), icc_profile=b"ICCSECRET" * 9,
                  comment=b"COMMENTSECRET", **how)  # fmt: skip
    data = out.getvalue()

    def segment(marker, body):
        return bytes((0xFF, marker)) + struct.pack(">H", len(body) + 2) + body

    more = segment(0xE1, b"http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>XMPSECRET exif:GPSLatitude</x:xmpmeta>")
    more += segment(0xE1, b"http://ns.adobe.com/xmp/extension/\x00XMPSECRET")
    more += segment(0xED, b"Photoshop 3.0\x008BIM\x04\x04IPTCSECRET")
    more += (
        segment(0xE0, b"JFXX\x00\x10JFXXSECRET")
        + segment(0xE5, b"THUMBSECRET")
        + segment(0xFE, b"COMMENTSECRET")
    )
    return data[:2] + more + data[2:] + b"\x00\x00AFTERSECRET" + data


def assert_clean(before, after):
    was, now = read_picture(before, "a"), read_picture(after, "a")
    np.testing.assert_array_equal(was.rgb, now.rgb)
    assert now.focal_px == was.focal_px
    for secret in SECRETS:
        assert secret not in after
    told = Image.open(io.BytesIO(after)).getexif()
    assert set(told) <= {0x0112, 0x8769}
    assert set(told.get_ifd(0x8769)) <= {0xA405}
    assert not told.get_ifd(0x8825)


@pytest.mark.parametrize("how", [{}, {"progressive": True}, {"subsampling": 0}, {"restart_marker_rows": 2}])
def test_a_jpeg_keeps_its_pixels_and_its_focal_length_alone(how):
    data = full_jpeg(**how)
    assert all(secret in data for secret in SECRETS)
    after, suffix = clean(data, "a.jpg")
    assert suffix == "jpg"
    assert_clean(data, after)
    assert read_picture(after, "a").focal_px is not None
    assert clean(after, "a.jpg")[0] == after


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_way_up_is_kept(orientation):
    data = full_jpeg(orientation, 0)
    assert_clean(data, clean(data, "a.jpg")[0])


def test_a_way_up_that_only_xmp_tells_is_kept():
    out = io.BytesIO()
    pixels().save(
        out, "JPEG", xmp=b'<x:xmpmeta xmlns:tiff="t"><d tiff:Orientation="8" XMPSECRET=""/></x:xmpmeta>'
    )
    assert_clean(out.getvalue(), clean(out.getvalue(), "a.jpg")[0])


@pytest.mark.parametrize("mode", ["CMYK", "L"])
def test_other_colours_are_kept(mode):
    out = io.BytesIO()
    pixels().convert(mode).save(out, "JPEG", comment=b"COMMENTSECRET")
    assert_clean(out.getvalue(), clean(out.getvalue(), "a.jpg")[0])


@pytest.mark.parametrize("mode", ["RGB", "P", "RGBA", "L"])
def test_a_png_keeps_its_pixels_and_which_way_up_it_is(mode):
    out, words = io.BytesIO(), PngImagePlugin.PngInfo()
    words.add_text("Comment", "COMMENTSECRET")
    words.add_itxt("XML:com.adobe.xmp", "XMPSECRET")
    words.add_text("Author", "OWNERSECRET", zip=True)
    pixels().convert(mode).save(out, "PNG", exif=notes(8), pnginfo=words, icc_profile=b"ICCSECRET")
    data = out.getvalue() + b"AFTERSECRET"
    after, suffix = clean(data, "a.png")
    assert suffix == "png"
    assert_clean(data, after)
    assert b"tEXt" not in after
    assert b"iCCP" not in after


def test_damaged_notes_do_not_harm_a_sound_picture():
    out = io.BytesIO()
    pixels().save(out, "JPEG")
    data = out.getvalue()
    for block in (b"II*\x00\xff\xff\xff\xff", b"MM\x00*\x00\x00\x00\x08\xff\xff", b"zz", b""):
        body = b"Exif\x00\x00" + block
        broken = data[:2] + b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body + data[2:]
        after = clean(broken, "a.jpg")[0]
        np.testing.assert_array_equal(read_picture(after, "a").rgb, read_picture(data, "a").rgb)
        assert b"Exif" not in after


@pytest.mark.parametrize("cut", [3, 30, 700, -40])
def test_a_picture_that_breaks_off_is_refused(cut):
    for data in (full_jpeg()[: 6000 if cut == -40 else cut], png_bytes()[:cut]):
        with pytest.raises(InputError):
            clean(data, "a")


def png_bytes():
    out = io.BytesIO()
    pixels().save(out, "PNG")
    return out.getvalue()


def test_lengths_that_lie_are_refused():
    lying = b"\x89PNG\r\n\x1a\n" + struct.pack(">I4s", 2**31, b"IHDR") + b"x" * 40
    with pytest.raises(InputError):
        clean(lying, "a")
    with pytest.raises(InputError):
        clean(b"\xff\xd8\xff\xe1\x00\x00" + b"\xff" * 70_000, "a")


def test_bytes_that_are_no_picture_are_refused():
    for data in (b"", b"GIF89a", zlib.compress(b"x" * 900)):
        with pytest.raises(InputError):
            clean(data, "a")


def heic():
    out = io.BytesIO()
    pillow_heif.register_heif_opener()
    pixels().save(out, "HEIF", quality=90, exif=notes(1, 26), xmp=b"<x>XMPSECRET</x>")
    return out.getvalue()


async def taken_in(desk, data):
    """Take a picture in; returns what is stored."""
    async with Studio() as studio:
        return desk.library.photo((await Taking(desk, studio).take(data, "a.heic")).digest)


def test_heic_becomes_a_jpeg_without_notes(desk):
    data = heic()
    assert b"GPSSECRET" in data
    after = at_once(taken_in(desk, data))
    assert after.startswith(b"\xff\xd8\xff")
    was, now = read_picture(data, "a"), read_picture(after, "a")
    assert np.abs(was.rgb.astype(int) - now.rgb).mean() < 2.0
    assert now.focal_px == pytest.approx(was.focal_px)
    assert not any(secret in after for secret in SECRETS)
    assert dict(Image.open(io.BytesIO(after)).getexif().get_ifd(0x8769)) == {0xA405: 26}


def test_what_a_worker_hands_back_as_jpeg_is_cleaned_once_more(desk):
    # a worker that was taken over could hand back anything
    async def take():
        async with Studio() as studio:
            studio.unpack = AsyncMock(return_value=jpeg)
            return desk.library.photo((await Taking(desk, studio).take(heic(), "a.heic")).digest)

    out = io.BytesIO()
    pixels().save(out, "JPEG", exif=notes(1, 26))
    jpeg = out.getvalue()
    assert b"GPSSECRET" in jpeg
    assert b"GPSSECRET" not in at_once(take())


@pytest.mark.parametrize(
    "broken", [b"\x00\x00\x00\x18ftypheic" + b"x" * 300, None], ids=["nonsense", "cut off"]
)
def test_a_broken_heic_is_refused_in_plain_words(desk, broken):
    with pytest.raises(InputError, match="damaged"):
        at_once(taken_in(desk, broken or heic()[:-2000]))


@pytest.mark.parametrize(
    "data", [b"", b"GIF89a" + b"x" * 50, b"%PDF-1.7", b"text", b"\xff\xd8\xff\xe1\x00\x00"]
)
def test_what_opens_a_picture_and_what_cleans_it_say_the_same(data):
    with pytest.raises(InputError) as cleaning:
        clean(data, "a")
    with pytest.raises(InputError) as opening:
        read_picture(data, "a")
    assert cleaning.value.problems == opening.value.problems
    assert cleaning.value.problems[0].file == "a"
