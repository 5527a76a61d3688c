"""Draws what was traced over the photograph, to check by eye; nothing of the photograph's notes is kept."""

from collections.abc import Mapping, Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["overlay_picture"]

LONGEST_SIDE = 1600
"""Longer side of the overlay, px: enough to see a wrong corner, small enough to send."""

THREAD = (20, 110, 60)
"""Outline: a dark green thread (red, green, blue)."""

CHALK = (255, 255, 255)
PIN = (200, 40, 90)


def overlay_picture(
    rgb: NDArray[np.uint8],
    outline_px: NDArray[np.float64],
    corners_px: Mapping[str, tuple[float, float]],
    lines_px: Sequence[NDArray[np.float64]] = (),
) -> bytes:
    """Return a JPEG with the outline, the corners with their names, and lines inside the garment.

    Args:
        rgb: The photograph, shape (h, w, 3), 8 bits.
        outline_px: Closed polygon, shape (n, 2), px.
        corners_px: Corners by name, px.
        lines_px: Open lines, each of shape (n, 2), px.
    """
    scale = min(2.0, LONGEST_SIDE / max(rgb.shape[:2]))
    area = cv2.INTER_AREA if scale < 1.0 else cv2.INTER_CUBIC
    canvas = cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=area)

    def place(px: NDArray[np.float64]) -> NDArray[np.int32]:
        return np.round(((np.asarray(px) + 0.5) * scale - 0.5) * 16).astype(np.int32).reshape(-1, 1, 2)

    for colour, width in ((CHALK, 5), (THREAD, 2)):
        cv2.polylines(canvas, [place(outline_px)], True, colour, width, cv2.LINE_AA, 4)  # noqa: FBT003
        for line in lines_px:
            cv2.polylines(canvas, [place(line)], False, colour, width, cv2.LINE_AA, 4)  # noqa: FBT003
    taken: list[tuple[int, int, int, int]] = []
    for name, corner in corners_px.items():
        x, y = (int(v) for v in place(np.array([corner]))[0, 0] / 16)
        cv2.circle(canvas, (x, y), 7, CHALK, -1, cv2.LINE_AA)
        cv2.circle(canvas, (x, y), 5, PIN, -1, cv2.LINE_AA)
        _label(canvas, name.replace("_", " "), (x, y), taken)
    done, data = cv2.imencode(".jpg", canvas[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, 88])
    if not done:
        raise ValueError("the overlay cannot be written as a picture")
    return data.tobytes()


def _label(
    canvas: NDArray[Any], text: str, at: tuple[int, int], taken: list[tuple[int, int, int, int]]
) -> None:
    """Write a label beside a point where it covers no other one."""
    (width, height), _ = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, 0.5, 1)
    most = canvas.shape[1] - width - 6
    boxes = [
        (min(max(6, at[0] + dx), most), at[1] + dy, width, height)
        for dy in (-10, 22, -28, 40, -46)
        for dx in (10, -width - 10)
    ]
    box = next((b for b in boxes if not any(_overlap(b, other) for other in taken)), boxes[0])
    taken.append(box)
    x, y = box[:2]
    cv2.rectangle(canvas, (x - 3, y - height - 3), (x + width + 3, y + 5), CHALK, cv2.FILLED)
    cv2.putText(canvas, text, (x, y), cv2.FONT_HERSHEY_SIMPLEX, 0.5, PIN, 1, cv2.LINE_AA)


def _overlap(a: tuple[int, int, int, int], b: tuple[int, int, int, int]) -> bool:
    return abs(a[0] - b[0]) < max(a[2], b[2]) and abs(a[1] - b[1]) < max(a[3], b[3]) + 6
