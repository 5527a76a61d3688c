"""How well corners are found on garments of other shapes: labelled photographs, bent as others would lie.

    python -m benchmarks.bent FOLDER [--each N]

FOLDER is as for ``benchmarks.outlines``. Of each top N pictures are made: sleeves turned and lengthened,
necks, hems and bodies widened, the whole tilted, stretched, mirrored, lit otherwise. Landmarks and outline
are bent along by the same thin-plate spline. Photographs are few and garments are many: this shows what a
rule owes to the sixteen shapes it was made on. The kind's own figures for corners were fitted to pictures
bent like these, with other numbers drawn (docs/tracing.md). Each is traced once more with a line tapped
roughly round it.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from scipy.interpolate import RBFInterpolator

from benchmarks.by_hand import tapped
from benchmarks.outlines import Tally, drawn_round, labelled, tell_drawn
from likesewn.garment import load_kind
from likesewn.photo.reading import Picture, read_picture
from likesewn.photo.trace import trace

SIDES = ("left", "right")
SMOOTH = 3.0
"""Smoothing of the spline, px: landmarks that lie close together would fold the picture otherwise."""

DRAWN_OFF = 0.02
"""How far the tapped line's points are off, as a share of the garment's height."""

STEP = 8
"""Pixels between places at which the spline is inverted; between them it is read off a straight line."""


def moved_landmarks(marks, height, rng):
    """Return where another garment's landmarks would lie, px by name."""
    moved = {name: place.copy() for name, place in marks.items()}
    middle = (marks["neck_left"] + marks["neck_right"]) / 2
    turn, longer, wider = rng.normal(0, 6.0), rng.normal(0, 0.10), rng.normal(0, 0.10)
    neck, drop, level, hem, length, body = rng.normal(0, [0.10, 0.12, 0.04, 0.05, 0.06, 0.05])
    for side in SIDES:
        outer, inner, under = f"cuff_{side}_out", f"cuff_{side}_in", f"underarm_{side}"
        tip = marks[under] + (marks[f"neck_{side}"] - marks[under]) * [0.15, 0.8]
        pivot, cuff = (marks[under] + tip) / 2, (marks[outer] + marks[inner]) / 2
        angle = np.radians(turn + rng.normal(0, 4.0)) * (1 if side == "right" else -1)
        rotation = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        grown = 1 + longer + rng.normal(0, 0.02)
        lower = np.array([(marks[under][0] - middle[0]) * body, level * height])
        for name, share in ((outer, 0.4), (inner, 0.7)):
            place = cuff + (marks[name] - cuff) * (1 + wider)
            moved[name] = pivot + rotation @ ((place - pivot) * grown) + share * lower
        moved[under] = marks[under] + lower
        # a cuff that all but touches the body stays so
        near = min(1.0, float(np.hypot(*(marks[inner] - marks[under]))) / (0.12 * height))
        moved[inner] = near * moved[inner] + (1 - near) * (marks[inner] + lower)
        moved[f"neck_{side}"][0] += (marks[f"neck_{side}"][0] - middle[0]) * neck
        hem_side = f"hem_{side}"
        moved[hem_side] += [(marks[hem_side][0] - middle[0]) * (hem + body), length * height]
    if "front_neck_low" in moved:
        moved["front_neck_low"][1] += (marks["front_neck_low"][1] - middle[1]) * drop
    return moved


def bent(rgb, entry, rng):
    """Return a bent picture and its entry: outline and landmarks."""
    height, width = rgb.shape[:2]
    outline = np.asarray(entry["outline"], float)
    marks = {n: np.asarray(p, float) for n, p in entry["landmarks"].items() if p is not None}
    tall = float(np.ptp(outline[:, 1]))
    moved = moved_landmarks(marks, tall, rng)
    stretch, scale = np.exp(rng.normal(0, 0.05, 2))
    whole = cv2.getRotationMatrix2D((0, 0), rng.normal(0, 5.0), scale)[:, :2] @ np.diag(
        [stretch, 1 / stretch]
    )
    centre = np.array([width, height]) / 2
    x, y = (np.linspace(-0.1 * n, 1.1 * n, 6) for n in (width, height))
    frame = np.array([(a, b) for a in x for b in y if a in (x[0], x[-1]) or b in (y[0], y[-1])])
    before = np.concatenate([np.array(list(marks.values())), frame])
    after = (np.concatenate([np.array([moved[n] for n in marks]), frame]) - centre) @ whole.T + centre
    forward = RBFInterpolator(before, after, kernel="thin_plate_spline", smoothing=SMOOTH)
    back = RBFInterpolator(after, before, kernel="thin_plate_spline", smoothing=SMOOTH)
    there = forward(outline)
    low = np.minimum(there.min(axis=0) - 0.06 * tall, 0)
    size = np.ceil(np.maximum(there.max(axis=0) + 0.06 * tall, [width, height]) - low).astype(int)
    grid = np.stack(np.meshgrid(*(np.arange(0, n + STEP, STEP) for n in size)), axis=-1).astype(float)
    places = grid.reshape(-1, 2) + low
    source = back(places)
    for _ in range(6):  # the one spline is not quite the other's inverse
        source -= 0.8 * (forward(source) - places)
    coarse = source.reshape(grid.shape).astype(np.float32)
    fine = np.stack(np.meshgrid(*(np.arange(n, dtype=np.float32) / STEP for n in size)), axis=-1)
    at = cv2.remap(coarse, fine[..., 0].copy(), fine[..., 1].copy(), cv2.INTER_LINEAR)
    image = cv2.remap(
        rgb, at[..., 0].copy(), at[..., 1].copy(), cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
    )
    image = image * np.exp(rng.normal(0, 0.12)) + rng.normal(0, 1.5, image.shape)
    image = np.clip(image, 0, 255).astype(np.uint8)
    places = {n: forward(p[None])[0] - low for n, p in marks.items()}
    there = there - low
    if rng.random() < 0.5:
        image, there = image[:, ::-1].copy(), [size[0] - 1, 0] + there * [-1, 1]
        swap = {"left": "right", "right": "left"}
        places = {
            "_".join(swap.get(part, part) for part in n.split("_")): [size[0] - 1 - p[0], p[1]]
            for n, p in places.items()
        }
    return image, {**entry, "outline": there, "landmarks": places}


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="Corners on bent photographs.")
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--each", type=int, default=4)
    given = parser.parse_args(arguments)
    entries = labelled(given.folder, "bent")
    if entries is None:
        return
    kind = load_kind("set-in-sleeve-top")
    tops = [entry for entry in entries if entry["kind"].startswith("top")]
    tally, drawn = Tally(), []
    for number, entry in enumerate(tops):
        rgb = read_picture((given.folder / entry["file"]).read_bytes(), entry["file"]).rgb
        before = tally.which.total()
        for k in range(given.each):
            image, truth = bent(rgb, entry, np.random.default_rng([number, k]))
            picture = Picture(entry["file"], image, None)
            tally.add(picture, kind, trace(picture, None, kind).corners_px, truth)
            drawn.append(drawn_round(picture, truth, kind, tapped, DRAWN_OFF, k))
        print(f"{entry['file'][:8]}  {tally.which.total() - before} missed in {given.each} pictures")
    tally.tell()
    tell_drawn(f"tapped, off by {DRAWN_OFF:.0%}", drawn)


if __name__ == "__main__":
    main(sys.argv[1:])
