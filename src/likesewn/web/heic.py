"""A program that unpacks one HEIC picture and writes it as JPEG, in a process with the studio's limits.

HEIC keeps its pixels in a form that few programs show, so it is written anew: the right way up, at a quality
at which nothing is lost that a tracing could see, and with the focal length as its only note. Started by
``to_jpeg``; reads the picture from standard input.
"""

import asyncio
import math
import os
import sys
from asyncio.subprocess import DEVNULL, PIPE
from pathlib import Path

import likesewn
from likesewn.errors import InputError, Problem
from likesewn.web.clean import Notes, clean, exif, is_heic

__all__ = ["to_jpeg", "without_notes"]

MEMORY_MB = 2500
SECONDS = 60.0
QUALITY = 95
_LARGEST = 64_000_000
_FULL_FRAME_DIAGONAL = math.hypot(36.0, 24.0)  # what "as for 35 mm film" goes by
_OUTSIDE = ("PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "SYSTEMROOT", "LANG", "PYTHONHOME")


async def without_notes(data: bytes, name: str) -> tuple[bytes, str]:
    """Return a photograph without its notes, and the suffix that goes with it.

    Args:
        data: The file's content: JPEG, PNG or HEIC.
        name: What it is called, for messages.

    Raises:
        InputError: It is none of these, or damaged, or too large.
    """
    if is_heic(data):
        return await to_jpeg(data, name), "jpg"
    return await asyncio.to_thread(clean, data, name)


async def to_jpeg(data: bytes, name: str) -> bytes:
    """Return a HEIC picture as JPEG, without its notes.

    Raises:
        InputError: It cannot be unpacked.
    """
    inside = {"PYTHONPATH": os.pathsep.join([str(Path(likesewn.__file__).parents[1])])}
    outside = {key: os.environ[key] for key in _OUTSIDE if key in os.environ}
    process = await asyncio.create_subprocess_exec(
        sys.executable, "-BP", "-m", "likesewn.web.heic",
        stdin=PIPE, stdout=PIPE, stderr=DEVNULL, env={**outside, **inside, "MALLOC_ARENA_MAX": "2"},
    )  # fmt: skip
    made = b""
    try:
        async with asyncio.timeout(SECONDS):
            made, _ = await process.communicate(data)
    except TimeoutError:
        pass
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    if process.returncode != 0 or not made.startswith(b"\xff\xd8\xff") or len(made) > _LARGEST:
        raise InputError(
            Problem(
                "the picture breaks off or is damaged",
                found=f"{len(data):,} bytes",
                file=name,
                allowed="a whole picture of at most 130 million pixels",
                todo="Save it as JPEG from your phone's picture viewer, or take it again.",
            )
        )
    return made


def main() -> None:
    """Read a picture, and write it as JPEG."""
    from likesewn.web.studio import worker  # noqa: PLC0415

    worker._limit_process(MEMORY_MB)  # noqa: SLF001 - the same limits for every process that opens pictures
    worker._limit_time(SECONDS)  # noqa: SLF001
    import cv2  # noqa: PLC0415

    from likesewn.photo.reading import read_picture  # noqa: PLC0415

    sys.addaudithook(worker._refuse)  # noqa: SLF001
    picture = read_picture(sys.stdin.buffer.read(), "")
    noted = 0
    if picture.focal_px:
        noted = round(picture.focal_px / math.hypot(*picture.rgb.shape[:2]) * _FULL_FRAME_DIAGONAL)
    ways = [cv2.IMWRITE_JPEG_QUALITY, QUALITY, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, 0x111111]
    done, coded = cv2.imencode(".jpg", cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2BGR), ways)
    if not done:
        sys.exit(1)
    data, block = coded.tobytes(), exif(Notes(1, noted))
    if block:
        length = (len(block) + 8).to_bytes(2, "big")
        data = data[:2] + b"\xff\xe1" + length + b"Exif\x00\x00" + block + data[2:]
    sys.stdout.buffer.write(clean(data, "")[0])


if __name__ == "__main__":
    main()
