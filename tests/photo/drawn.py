"""Flat garments drawn as polygons, with their corners known; all figures in pixels."""

import cv2
import numpy as np

HALF = {
    "neck": (0, 22),
    "neck_point": (85, 0),
    "shoulder_tip": (200, 42),
    "cuff_outer": (300, 250),
    "cuff_inner": (215, 300),
    "underarm": (182, 215),
    "hem_side": (215, 600),
    "hem": (0, 610),
}
"""Right half of a top with elbow-length sleeves, x from the middle line, y down."""


def top(scale=0.6, centre=(210.0, 40.0), degrees=0.0):
    """Return the outline (n, 2), clockwise as seen, and its corners by name with their side."""
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])

    def place(points):
        return (
            (np.asarray(points, dtype=float) - [0, 300]) * scale @ turn + np.array(centre) + [0, 300 * scale]
        )

    right = np.array(list(HALF.values()), dtype=float)
    outline = np.concatenate([right, right[-2:0:-1] * [-1, 1]])
    corners = {}
    for name in ("neck_point", "cuff_outer", "cuff_inner", "underarm", "hem_side"):
        x, y = HALF[name]
        corners[f"{name}_right"] = place([(x, y)])[0]
        corners[f"{name}_left"] = place([(-x, y)])[0]
    return place(outline), corners


def picture(
    outline, size=(420, 460), garment=(70, 90, 150), table=(176, 160, 138), seed=3, noise=4.0, blur=0.8
):
    """Return an RGB picture of one polygon on a table, antialiased, shape (h, w, 3)."""
    width, height = size
    fine = np.zeros((height * 8, width * 8), np.uint8)
    drawn = np.round(((np.asarray(outline) + 0.5) * 8 - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(fine, [drawn], 255, shift=4)
    share = cv2.resize(fine, (width, height), interpolation=cv2.INTER_AREA)[..., None] / 255.0
    rng = np.random.default_rng(seed)
    image = share * np.array(garment) + (1 - share) * np.array(table)
    image = cv2.GaussianBlur(image, (0, 0), blur) + rng.normal(0, noise, (height, width, 1))
    return np.clip(np.round(image), 0, 255).astype(np.uint8)


def overlap(a, b):
    return (a & b).sum() / (a | b).sum()


def filled(outline, size=(420, 460)):
    mask = np.zeros((size[1], size[0]), np.uint8)
    cv2.fillPoly(mask, [np.round(np.asarray(outline) * 16).astype(np.int32)], 1, shift=4)
    return mask > 0


def half_pale(outline):
    """Return a picture of a top whose upper part alone is nearly of the table's colour."""
    rgb = picture(outline, garment=(200, 212, 216), table=(214, 200, 196))
    rgb[filled(outline) & (np.arange(rgb.shape[0]) > 190)[:, None]] = (120, 180, 30)
    return rgb
