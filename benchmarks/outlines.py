"""How well outlines and corners are found on labelled photographs, without a hint and with one.

    python -m benchmarks.outlines FOLDER [--overlay DIR]

FOLDER holds pictures and labels.json: for each picture its outline (pixels of the picture, pixel centres at
whole numbers), holes and landmarks. A corner counts as found within 1.5 % of the garment's height plus 2 px.
The one hint for an outline is a rectangle round it, 2 % wider. For corners it is the worst corner put in its
place; beside that, whichever one hint mends most is counted: that corner, the rectangle, or one stroke along
the middle of the largest part that was missed or taken in.

Then each garment is drawn round roughly (``by_hand``), and traced with that line alone. Beside the corners
found stands how many of the line's own corners were near enough, so that one sees what the picture adds.
"""

import json
import sys
import time
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np

from benchmarks.by_hand import by_finger, tapped
from likesewn.garment import load_kind
from likesewn.photo import read_picture
from likesewn.photo.hints import NO_HINT, Hint
from likesewn.photo.overlay import overlay_picture
from likesewn.photo.trace import trace

LABELS = {
    "neck_point_{side}": "neck_{side}",
    "cuff_outer_{side}": "cuff_{side}_out",
    "cuff_inner_{side}": "cuff_{side}_in",
    "underarm_{side}": "underarm_{side}",
    "hem_side_{side}": "hem_{side}",
    "front_neck_centre": "front_neck_low",
}

THEIRS = {o.format(side=s): t.format(side=s) for o, t in LABELS.items() for s in ("left", "right")}
"""What the labels call each of our corners."""


INNER = "front_neck_centre"
"""The corner that lies inside the outline: it is found, but never drawn."""

HANDS = {
    "tapped, off by 1 %": (tapped, 0.01),
    "tapped, off by 2 %": (tapped, 0.02),
    "tapped, off by 3 %": (tapped, 0.03),
    "by finger, off by 2 %": (by_finger, 0.02),
}
"""How each garment is drawn round, off by so much of its height."""

LEAST = 0.97
"""Overlap that a line round the garment should always lead to."""

LINES = 2
"""Lines of each sort round each garment."""


@dataclass
class Drawn:
    """What came of one line round a garment; ``own`` says which of its own corners were near enough."""

    overlap: float
    missed: dict[str, float]
    corners: int
    own: list[bool]


@dataclass
class Result:
    name: str
    overlap: float
    missed: dict[str, float]
    corners: int
    overlap_hinted: float
    missed_hinted: dict[str, float]
    missed_best: dict[str, float]
    seconds: float


def filled(polygon, shape):
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(np.asarray(polygon) * 16).astype(np.int32)], 1, shift=4)
    return mask > 0


def overlap(outline, entry, shape):
    found, true = filled(outline, shape), filled(entry["outline"], shape)
    for hole in entry["holes"]:
        true &= ~filled(hole, shape)
    return float((found & true).sum() / max((found | true).sum(), 1))


def off(corners, entry):
    """Return how far each labelled corner is from the one found, in tolerances."""
    height = np.ptp(np.asarray(entry["outline"])[:, 1])
    tolerance = 0.015 * height + 2.0
    out = {}
    for ours, theirs in THEIRS.items():
        place = entry["landmarks"].get(theirs)
        if place is not None:
            out[ours] = float(np.hypot(*(np.asarray(corners[ours]) - place)) / tolerance)
    return out


def missed(distances):
    """Return the corners that are farther off than allowed."""
    return {name: far for name, far in distances.items() if far > 1}


def still_missed(picture, kind, distances, entry):
    """Return the corners that are missed once the worst one has been put in its place."""
    worst = max(distances, key=distances.get)
    moved = Hint(corners={worst: tuple(entry["landmarks"][THEIRS[worst]])})
    return missed(off(trace(picture, None, kind, hint=moved).corners_px, entry))


def stroke(outline, entry, shape):
    """Return the stroke that a person would draw first, on the garment or on the table."""
    found, true = filled(outline, shape), filled(entry["outline"], shape)
    for hole in entry["holes"]:
        true &= ~filled(hole, shape)
    parts = []
    for kind, wrong in (("garment", true & ~found), ("table", found & ~true)):
        opened = cv2.morphologyEx(wrong.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3)))
        _, labels, stats, _ = cv2.connectedComponentsWithStats(opened)
        parts += [(int(stats[k, 4]), kind, labels == k) for k in range(1, len(stats))]
    if not parts:
        return NO_HINT
    _, kind, part = max(parts, key=lambda p: p[0])
    y, x = np.nonzero(part)
    points = np.stack([x, y], axis=1).astype(float)
    way = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2][0]
    along = (points - points.mean(axis=0)) @ way
    edges = np.linspace(*np.percentile(along, [15, 85]), 7)
    inside = [(along >= a) & (along <= b) for a, b in pairwise(edges)]
    line = np.array([points[k].mean(axis=0) for k in inside if k.any()])
    return Hint(**{kind: (line,)})


def evaluate(folder, entry, kind, overlays):
    picture = read_picture((folder / entry["file"]).read_bytes(), entry["file"])
    shape = picture.rgb.shape[:2]
    top = entry["kind"].startswith("top")
    start = time.perf_counter()
    plain = trace(picture, None, kind if top else None, hint=NO_HINT)
    seconds = time.perf_counter() - start
    distances = off(plain.corners_px, entry) if top else {}
    outline = np.asarray(entry["outline"])
    low, high = outline.min(axis=0), outline.max(axis=0)
    slack = 0.02 * (high - low)
    box = Hint(rectangle=(*(low - slack), *(high + slack)))
    hinted = trace(picture, None, None, hint=box)
    bad = missed(distances)
    still = best = {}
    if bad:
        still = still_missed(picture, kind, distances, entry)
        others = (trace(picture, None, kind, hint=h) for h in (box, stroke(plain.outline.px, entry, shape)))
        ways = [missed(off(o.corners_px, entry)) for o in others]
        best = min([still, *ways], key=len)
    if overlays:
        overlays.mkdir(parents=True, exist_ok=True)
        drawn = overlay_picture(picture.rgb, plain.outline.px, plain.corners_px)
        (overlays / f"{Path(entry['file']).stem}.jpg").write_bytes(drawn)
    return Result(
        entry["file"][:8],
        overlap(plain.outline.px, entry, shape),
        bad,
        len(distances),
        overlap(hinted.outline.px, entry, shape),
        still,
        best,
        seconds,
    )


def drawn_round(picture, entry, kind, hand, off_by, seed):
    """Return what comes of a line drawn round a garment with nothing else shown."""
    places = {}
    line = hand(entry, off_by, np.random.default_rng([seed, 7]))
    if hand is tapped:
        line, places = line
    found = trace(picture, None, kind, hint=Hint(drawn=line))
    own = {o: line[places[t]] for o, t in THEIRS.items() if t in places}
    height = np.ptp(np.asarray(entry["outline"])[:, 1])
    near = [
        float(np.hypot(*(at - entry["landmarks"][THEIRS[o]]))) < 0.015 * height + 2.0 for o, at in own.items()
    ]
    apart = off(found.corners_px, entry)
    return Drawn(overlap(found.outline.px, entry, picture.rgb.shape[:2]), missed(apart), len(apart), near)


def tell_drawn(name, drawn):
    """Print what came of lines drawn with one hand."""
    missing = [corner for one in drawn for corner in one.missed]
    total, inner = sum(one.corners for one in drawn), missing.count(INNER)
    outer = total - len(drawn)
    own = [near for one in drawn for near in one.own]
    print(
        f"Drawn round, {name}: overlap {spread([one.overlap for one in drawn])}; corners of the silhouette "
        f"{outer - len(missing) + inner} of {outer}, with necklines {total - len(missing)} of {total}"
        + (f"; the line's own {sum(own)} of {len(own)}" if own else "")
    )


class Tally:
    """Corners of many pictures: how many were missed without a hint, and with the worst one put in place."""

    def __init__(self):
        self.total = self.still = 0
        self.which = Counter()

    def add(self, picture, kind, corners, entry):
        """Count the corners found in a picture; where some are missed, trace it once more with a hint."""
        apart = off(corners, entry)
        bad = missed(apart)
        self.total += len(apart)
        self.which.update(name.removesuffix("_left").removesuffix("_right") for name in bad)
        self.still += len(still_missed(picture, kind, apart, entry)) if bad else 0

    def tell(self):
        found, hinted = self.total - self.which.total(), self.total - self.still
        print(
            f"Corners without a hint: {found} of {self.total} ({found / self.total:.1%}), "
            f"missed: {dict(self.which.most_common())}"
        )
        print(
            f"Corners with the worst of each picture put in place: {hinted} of {self.total} "
            f"({hinted / self.total:.1%})"
        )


def labelled(folder, name):
    """Return the labels of a folder of pictures, or None, with a word, where there is none."""
    if folder is None or not (folder / "labels.json").is_file():
        print(f"{name}: skipped, since no folder with labels.json was named")
        return None
    return json.loads((folder / "labels.json").read_text(encoding="utf-8"))["images"]


def spread(values):
    low, middle = np.percentile(values, [10, 50])
    return f"median {middle:.3f}, tenth percentile {low:.3f}, least {min(values):.3f}"


def main(arguments):
    folder = Path(arguments[0]) if arguments else None
    entries = labelled(folder, "outlines")
    if entries is None:
        return
    overlays = Path(arguments[arguments.index("--overlay") + 1]) if "--overlay" in arguments else None
    kind = load_kind("set-in-sleeve-top")
    results = [evaluate(folder, entry, kind, overlays) for entry in entries]
    for r in results:
        wrong = ", ".join(f"{k} {v:.1f}" for k, v in r.missed.items())
        print(
            f"{r.name}  {r.overlap:.3f}  with a rectangle {r.overlap_hinted:.3f}  {r.seconds:.2f} s  {wrong}"
        )
    print("Overlap without a hint:", spread([r.overlap for r in results]))
    print("Overlap with a rectangle:", spread([r.overlap_hinted for r in results]))
    total = sum(r.corners for r in results)
    found = total - sum(len(r.missed) for r in results)
    print(f"Corners without a hint: {found} of {total} ({found / total:.1%})")
    hinted = total - sum(len(r.missed_hinted) for r in results)
    print(f"Corners with the worst of each picture put in place: {hinted} of {total} ({hinted / total:.1%})")
    best = total - sum(len(r.missed_best) for r in results)
    print(f"Corners with the one hint that mends most: {best} of {total} ({best / total:.1%})")
    tops = [entry for entry in entries if entry["kind"].startswith("top")]
    for name, (hand, off_by) in HANDS.items():
        drawn = []
        for entry in tops:
            picture = read_picture((folder / entry["file"]).read_bytes(), entry["file"])
            lines = [drawn_round(picture, entry, kind, hand, off_by, seed) for seed in range(LINES)]
            drawn += lines
            for seed, one in enumerate(lines):
                if one.missed or one.overlap < LEAST:
                    wrong = ", ".join(f"{k} {v:.1f}" for k, v in one.missed.items())
                    print(f"  {entry['file'][:8]}, line {seed}  {one.overlap:.3f}  {wrong}")
        tell_drawn(name, drawn)


if __name__ == "__main__":
    main(sys.argv[1:])
