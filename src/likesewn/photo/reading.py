"""Picture files as phones write them: JPEG, PNG and HEIC, turned the right way up.

Only pixels and the lens's focal length are taken; place, time and owner are never looked at.
"""

import math
import warnings
from dataclasses import dataclass
from io import BytesIO

import cv2
import numpy as np
import pillow_heif
from numpy.typing import NDArray
from PIL import Image, ImageOps, UnidentifiedImageError

from likesewn.errors import InputError, Problem
from likesewn.pictures import damaged, no_picture, sort_of

__all__ = ["MOST_PIXELS", "Picture", "read_picture"]

MOST_PIXELS = 130_000_000
"""Above the largest phone camera in use (108 million), and still less than 400 MB once opened."""

LEAST_SIDE = 200
"""Below this many pixels a side nothing can be traced."""

_FORMATS = ("JPEG", "PNG", "HEIF")  # two pictures in one, as some phones write, open as JPEG
_FULL_FRAME_DIAGONAL = math.hypot(36.0, 24.0)  # what EXIF's "in 35 mm film" refers to
_EXIF_FOLDER, _FOCAL_35 = 0x8769, 0xA405  # Exif 2.32 (CIPA DC-008), tables 3 and 8


@dataclass(frozen=True, eq=False, slots=True)
class Picture:
    """An opened picture.

    Attributes:
        name: Name of the file, for messages.
        rgb: (h,w,3) red, green, blue, the right way up.
        focal_px: Focal length that the camera noted, pixels, or None.
    """

    name: str
    rgb: NDArray[np.uint8]
    focal_px: float | None = None

    def grey(self) -> NDArray[np.uint8]:
        """Return the picture's grey levels, (h,w)."""
        return np.asarray(cv2.cvtColor(self.rgb, cv2.COLOR_RGB2GRAY), dtype=np.uint8)


def read_picture(data: bytes, name: str) -> Picture:
    """Open a picture.

    Args:
        data: The file's content.
        name: The file's name, for messages.

    Raises:
        InputError: It is no picture of a known sort, damaged, far too large or far too small.
    """
    pillow_heif.register_heif_opener()
    try:
        with warnings.catch_warnings():
            # sizes are judged here, before anything is unpacked
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(BytesIO(data), formats=_FORMATS)
            _check_size(image.size, name)
            focal = _focal_px(image)
            # unpacked once, and not copied when it lies upright in red, green and blue already
            image.load()
            ImageOps.exif_transpose(image, in_place=True)
            upright = image if image.mode == "RGB" else image.convert("RGB")
    except (Image.DecompressionBombError, MemoryError):
        raise InputError(_too_large("", name)) from None
    except UnidentifiedImageError:
        # what begins like a picture is one, however soon it breaks off
        problem = damaged(data, name) if sort_of(data) else no_picture(data, name)
        raise InputError(problem) from None
    except (OSError, SyntaxError, ValueError, EOFError, RuntimeError) as error:
        if isinstance(error, InputError):
            raise
        raise InputError(damaged(data, name)) from None
    return Picture(name, np.asarray(upright), focal)


def _too_large(size: str, name: str) -> Problem:
    return Problem(
        "the picture is too large to open",
        found=size,
        file=name,
        allowed=f"at most {MOST_PIXELS // 1_000_000} million pixels",
        todo="Take it with the camera's ordinary setting; 12 million pixels are plenty.",
    )


def _check_size(size: tuple[int, int], name: str) -> None:
    width, height = size
    shown = f"{width} x {height} pixels"
    if width * height > MOST_PIXELS:
        raise InputError(_too_large(shown, name))
    if min(size) < LEAST_SIDE:
        raise InputError(
            Problem(
                "the picture is too small to trace",
                found=shown,
                file=name,
                allowed=f"at least {LEAST_SIDE} pixels each way, best 12 million in all",
                todo="Use the photograph as the camera took it, not a preview of it.",
            )
        )


def _focal_px(image: Image.Image) -> float | None:
    """Return the focal length in pixels, from its 35 mm equivalent, which goes by the diagonal."""
    try:
        noted = float(image.getexif().get_ifd(_EXIF_FOLDER).get(_FOCAL_35, 0))
    except (TypeError, ValueError, OSError, SyntaxError, KeyError, ZeroDivisionError):
        return None  # damaged notes are no reason to refuse a sound picture
    if not 8.0 <= noted <= 400.0:
        return None
    return noted / _FULL_FRAME_DIAGONAL * math.hypot(*image.size)
