"""Writes an opened picture as JPEG, for sorts that few programs show.

The right way up, at a quality at which nothing is lost that a tracing could see, and with the focal length as
its only note.
"""

import math

import cv2

from likesewn.errors import InputError, Problem
from likesewn.photo import Picture
from likesewn.web.clean import Notes, exif

__all__ = ["jpeg_of"]

QUALITY = 95
_FULL_FRAME_DIAGONAL = math.hypot(36.0, 24.0)  # what "as for 35 mm film" goes by


def jpeg_of(picture: Picture) -> bytes:
    """Return a picture as JPEG.

    Raises:
        InputError: It cannot be written.
    """
    noted = 0
    if picture.focal_px:
        noted = round(picture.focal_px / math.hypot(*picture.rgb.shape[:2]) * _FULL_FRAME_DIAGONAL)
    ways = [cv2.IMWRITE_JPEG_QUALITY, QUALITY, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, 0x111111]
    done, coded = cv2.imencode(".jpg", cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2BGR), ways)
    if not done:
        raise InputError(Problem("the picture cannot be written as JPEG", file=picture.name))
    data, block = coded.tobytes(), exif(Notes(1, noted))
    if not block:
        return data
    length = (len(block) + 8).to_bytes(2, "big")
    return data[:2] + b"\xff\xe1" + length + b"Exif\x00\x00" + block + data[2:]
