"""A photograph of a known garment among the printed sheets, for the tests of pages."""

import io
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from PIL import Image

from photo.drawn import HALF
from photo.scene import FOUR, Scene, Shape, photograph

RIGHT = np.array(list(HALF.values()), dtype=float)
OUTLINE = np.concatenate([RIGHT, RIGHT[-2:0:-1] * [-1, 1]]) - [0, 300]
"""The garment's outline on the table, mm."""

ARMHOLE = np.array([(200, 42), (192, 90), (178, 140), (176, 180), (182, 215)], dtype=float) - [0, 300]
"""A seam inside the garment, on the viewer's right, mm."""

GPS = b"GPSSECRET"

THINGS = {"card": (85.60, 53.98), "a4": (210.0, 297.0)}
"""Sizes of things that lie beside the garment, mm: ISO/IEC 7810 (ID-1) and ISO 216."""

AT, TURNED = (-560.0, -120.0), 12.0
"""Where such a thing lies on the table, mm, and how far it is turned, degrees."""


@dataclass(frozen=True)
class Taken:
    """A photograph: the file's bytes, and where places of the table lie in it."""

    data: bytes
    scene: Scene

    def px(self, mm):
        return self.scene.project(np.atleast_2d(np.asarray(mm, dtype=float)))

    def corner(self, name):
        """Where a corner is, px: ``underarm_left`` and so on, as one looks at the photograph."""
        stem, _, side = name.rpartition("_")
        x, y = HALF[stem]
        return self.px([(x if side == "right" else -x, y - 300)])[0]

    def thing(self, what):
        """Where the corners of a card or paper beside the garment lie, px, clockwise."""
        return self.px(_thing(what))

    @property
    def armhole(self):
        """The seam, px, finely."""
        t = np.linspace(0, len(ARMHOLE) - 1, 80)
        ways = [np.interp(t, range(len(ARMHOLE)), axis) for axis in ARMHOLE.T]
        return self.px(np.column_stack(ways))


def _thing(what):
    a = np.radians(TURNED)
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * np.array(THINGS[what]) / 2 @ turn.T + AT


@cache
def taken(*, sheets: bool = True, size=(2400, 1800), thing: str = "", tilt=5.0, towards=40.0) -> Taken:
    """Return the photograph; its notes say where it was taken.

    Args:
        sheets: Whether the printed sheets lie round the garment.
        size: Its width and height, px.
        thing: A card or a paper that lies beside the garment, by its name.
        tilt: How far the camera is tilted, degrees.
        towards: Which way.
    """
    things = [Shape(_thing(thing), (236.0, 238.0, 240.0), 1.0)] if thing else []
    scene = Scene(
        size=size, f=1700.0 * size[0] / 2400, centre=((size[0] - 1) / 2, (size[1] - 1) / 2),
        distance=1450.0, tilt=tilt, tilt_towards=towards, roll=3.0, noise=2.0,
        sheets=[(n, x * 0.86, y * 0.86, 4.0 * n) for n, x, y in FOUR] if sheets else [],
        shapes=[Shape(OUTLINE), *things],
    )  # fmt: skip
    image = np.ascontiguousarray(photograph(scene, seed=3, detail=8))
    line = np.round(Taken(b"", scene).armhole * 16).astype(np.int32)
    cv2.polylines(
        image, [line], isClosed=False, color=(25, 30, 60), thickness=3, lineType=cv2.LINE_AA, shift=4
    )
    exif = Image.Exif()
    exif.get_ifd(0x8825)[29] = GPS.decode()
    exif.get_ifd(0x8769)[0xA405] = round(scene.f / np.hypot(*size) * np.hypot(36, 24))
    out = io.BytesIO()
    Image.fromarray(image).save(out, "JPEG", quality=92, exif=exif.tobytes())
    return Taken(out.getvalue(), scene)
