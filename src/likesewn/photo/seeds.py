"""First guesses at which part of a photograph is garment: several, since no single cue is right every time.

All of them say how little a pixel looks like what lies at the border of the photograph, where the table
shows: by the border's colours, by contrast weighed with connection to the border, and by place alone.

Source of the second: Zhu, Liang, Wei, Sun, "Saliency optimization from robust background detection", CVPR
2014, equations 1 to 9, here on a grid of cells.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["border_distance", "cell_contrast", "split_in_two", "to_lab"]

Array = NDArray[Any]
Mask = NDArray[np.bool_]

BORDER_CLUSTERS = 5
"""Colours told apart at the border: a table, its shade, a seam or a second cloth; more would learn
garment."""

LEAST_CLUSTER = 0.03
"""Share of the border below which a cluster is a speck (or a sleeve that runs out of the picture)."""

NOISE_LAB = 3.0
"""Spread added to each cluster, CIELAB units: what light and sensor do to one cloth."""

FARTHEST = 8.0
"""Distance, in standard deviations, beyond which a colour is simply strange."""

CELLS = 24
"""Cells along the longer side of the picture for the contrast seed: some ten across a garment."""

REACH_LAB = 10.0
"""Colour distance, CIELAB units, at which two cells stop being one surface (the paper's sigma)."""


def to_lab(rgb: NDArray[Any]) -> Array:
    """Return CIELAB of an 8-bit RGB picture, float32, L from 0 to 100."""
    return cv2.cvtColor(rgb.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB)


def border_distance(lab: Array, border: Mask) -> Array:
    """Return how strange each pixel is among the colours of the border, in standard deviations.

    Args:
        lab: The picture, shape (h, w, 3).
        border: Where the table surely shows.

    Returns:
        Least Mahalanobis distance to a cluster of the border's colours, at most ``FARTHEST``; (h, w).
    """
    pixels = lab[border]
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    count = min(BORDER_CLUSTERS, len(pixels))
    labels = cv2.kmeans(pixels, count, np.empty(0, np.int32), stop, 2, cv2.KMEANS_PP_CENTERS)[1].ravel()
    best = np.full(lab.shape[:2], FARTHEST**2, np.float32)
    for cluster in range(count):
        own = pixels[labels == cluster]
        if len(own) < max(LEAST_CLUSTER * len(pixels), 2):
            continue
        spread = np.cov(own.T) + NOISE_LAB**2 * np.eye(3)
        white = np.linalg.cholesky(np.linalg.inv(spread)).astype(np.float32)
        off = (lab - own.mean(axis=0)) @ white
        best = np.minimum(best, (off * off).sum(axis=2))
    return np.sqrt(best)


def cell_contrast(lab: Array) -> Array:
    """Return how much each pixel stands out, 0 to 1, after Zhu et al. (see the head of this module)."""
    height, width = lab.shape[:2]
    scale = CELLS / max(height, width)
    rows, columns = max(4, round(height * scale)), max(4, round(width * scale))
    colour = cv2.resize(lab, (columns, rows), interpolation=cv2.INTER_AREA).reshape(-1, 3)
    y, x = np.divmod(np.arange(rows * columns, dtype=np.float32), np.float32(columns))
    apart = np.linalg.norm(colour[:, None] - colour, axis=2)
    beside = (np.abs(y[:, None] - y) + np.abs(x[:, None] - x)) == 1
    border = (y == 0) | (y == rows - 1) | (x == 0) | (x == columns - 1)
    linked = beside | (border[:, None] & border)
    # what neighbours differ by at least is texture and costs nothing on the way (the paper's footnote)
    texture = np.where(beside, apart, np.inf).min(axis=1).mean()
    way = np.where(linked, np.maximum(apart - texture, 0.0), np.inf)
    np.fill_diagonal(way, 0.0)
    way = way.astype(np.float32)
    for k in range(len(way)):  # Floyd and Warshall: the cells are few, and this is one array at a time
        np.minimum(way, way[:, k, None] + way[k], out=way)
    same = np.exp(-(way**2) / (2 * REACH_LAB**2))
    connection = same[:, border].sum(axis=1) / np.sqrt(same.sum(axis=1))
    ground = 1.0 - np.exp(-(connection**2) / 2)
    place = np.stack([x, y], axis=1) / max(rows, columns)
    near = np.exp(-(np.linalg.norm(place[:, None] - place, axis=2) ** 2) / (2 * 0.4**2))
    contrast = (apart * near * ground).sum(axis=1)
    contrast /= max(contrast.max(), 1e-9)
    tie = np.where(beside, np.exp(-(apart**2) / (2 * REACH_LAB**2)) + 0.1, 0.0)
    system = np.diag(tie.sum(axis=1) + 5.0 * ground + contrast) - tie + 1e-6 * np.eye(len(tie))
    standing = np.linalg.solve(system, contrast)
    standing = (standing - standing.min()) / max(float(np.ptp(standing)), 1e-9)
    grid = standing.reshape(rows, columns).astype(np.float32)
    return cv2.resize(grid, (width, height), interpolation=cv2.INTER_CUBIC)


def split_in_two(values: Array) -> Mask:
    """Return where the values are high, by Otsu's threshold."""
    low, high = float(values.min()), float(values.max())
    grey = ((values - low) * (255.0 / max(high - low, 1e-9))).astype(np.uint8)
    threshold = cv2.threshold(grey, 0, 255, cv2.THRESH_OTSU)[0]
    return grey > threshold
