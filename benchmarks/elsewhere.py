"""How well garments are found on other tables: labelled photographs, each garment laid on the others' tables.

    python -m benchmarks.elsewhere FOLDER [--each N]

FOLDER is as for ``benchmarks.outlines``. The place of the garment in each photograph is filled with patches
of the table round it, and each top is then laid on N of the other tables, with a soft shadow at its edge.
The shapes are the sixteen that the kind's figures were fitted to; what is new is every pair of cloth and
table.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np

from benchmarks.outlines import Tally, filled, labelled, overlap, spread
from likesewn.garment import load_kind
from likesewn.photo.reading import Picture, read_picture
from likesewn.photo.trace import trace

PATCH, JOIN = 36, 12
"""Side of a patch of table, px, and how far patches run into one another."""

CHOICES = 60
"""Patches looked at for each place: the one that goes best with what lies beside it is taken."""

ROUND = 12
"""Distance from the garment, px, within which its own table is not trusted: shadows and blur lie there."""

FOUND = 0.93
"""Overlap below which a garment counts as not found."""


def table_of(rgb, entry, rng):
    """Return a photograph with table in the garment's place, or None where hardly any table shows."""
    disc = cv2.getStructuringElement(cv2.MORPH_RECT, (2 * ROUND + 1, 2 * ROUND + 1))
    hole = cv2.dilate(filled(entry["outline"], rgb.shape[:2]).astype(np.uint8), disc) > 0
    height, width = hole.shape
    free = cv2.erode((~hole).astype(np.uint8), np.ones((PATCH, PATCH)), anchor=(0, 0))
    corners = np.argwhere(free[: height - PATCH + 1, : width - PATCH + 1])
    if len(corners) < CHOICES:
        return None
    ramp = np.clip(np.minimum(np.arange(1, PATCH + 1), np.arange(PATCH, 0, -1)) / JOIN, 0, 1)
    weight = np.minimum.outer(ramp, ramp)[..., None]
    image, done = rgb.astype(float), ~hole
    for y in [*range(0, height - PATCH, PATCH - JOIN), height - PATCH]:
        for x in [*range(0, width - PATCH, PATCH - JOIN), width - PATCH]:
            here = np.s_[y : y + PATCH, x : x + PATCH]
            inside, seen = hole[here][..., None], done[here][..., None]
            if not inside.any():
                continue
            some = corners[rng.integers(len(corners), size=CHOICES)]
            patches = [rgb[a : a + PATCH, b : b + PATCH].astype(float) for a, b in some]
            best = min(patches, key=lambda patch: (((patch - image[here]) ** 2) * seen).sum())
            share = np.where(inside, np.where(seen, weight, 1.0), 0.0)
            image[here] += share * (best - image[here])
            done[here] = True
    return np.clip(image, 0, 255).astype(np.uint8)


def laid_on(rgb, entry, table, rng):
    """Return a picture of a garment on another table."""
    height, width = rgb.shape[:2]
    grow = max(height / table.shape[0], width / table.shape[1])
    size = np.ceil(np.array(table.shape[1::-1]) * grow).astype(int)
    under = cv2.resize(table, size, interpolation=cv2.INTER_LINEAR)[:height, :width].astype(float)
    if rng.random() < 0.5:
        under = under[:, ::-1]
    inner = cv2.erode(filled(entry["outline"], (height, width)).astype(np.uint8), np.ones((3, 3)))
    angle, far = rng.uniform(0, 2 * np.pi), rng.uniform(1, 4)
    aside = np.array([[1, 0, far * np.cos(angle)], [0, 1, far * np.sin(angle)]])
    shadow = cv2.warpAffine(inner.astype(np.float32), aside, (width, height))
    shadow = cv2.GaussianBlur(shadow, (0, 0), rng.uniform(1.5, 4))[..., None]
    under *= 1 - rng.uniform(0.1, 0.4) * shadow
    share = cv2.GaussianBlur(inner.astype(np.float32), (0, 0), 0.8)[..., None]
    image = rgb * share + under * (1 - share) + rng.normal(0, 1.5, rgb.shape)
    return np.clip(image, 0, 255).astype(np.uint8)


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="Garments on other tables.")
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--each", type=int, default=6)
    given = parser.parse_args(arguments)
    entries = labelled(given.folder, "elsewhere")
    if entries is None:
        return
    kind = load_kind("set-in-sleeve-top")
    photographs = {e["file"]: read_picture((given.folder / e["file"]).read_bytes(), "").rgb for e in entries}
    tables = {
        e["file"]: table_of(photographs[e["file"]], e, np.random.default_rng([n, 0]))
        for n, e in enumerate(entries)
    }
    tally, overlaps = Tally(), []
    for number, entry in enumerate(e for e in entries if e["kind"].startswith("top")):
        rgb = photographs[entry["file"]]
        others = [name for name, table in tables.items() if table is not None and name != entry["file"]]
        rng = np.random.default_rng([number, 1])
        for name in rng.permutation(others)[: given.each]:
            picture = Picture(name, laid_on(rgb, entry, tables[name], rng), None)
            found = trace(picture, None, kind)
            overlaps.append(overlap(found.outline.px, entry, rgb.shape[:2]))
            tally.add(picture, kind, found.corners_px, entry)
            if overlaps[-1] < FOUND:
                print(f"{entry['file'][:8]} on the table of {name[:8]}: overlap {overlaps[-1]:.3f}")
    print(f"{len(overlaps)} pictures: overlap {spread(overlaps)}")
    tally.tell()


if __name__ == "__main__":
    main(sys.argv[1:])
