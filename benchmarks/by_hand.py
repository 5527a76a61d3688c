"""Lines drawn round a labelled garment as a hand would draw them, off by a known distance.

Either a point was tapped at each corner and one or two along each edge between them, or a finger went round.

Both are made from the label, with seeded normal noise, so that they share nothing with what was found.
"""

from itertools import pairwise

import numpy as np
from scipy.ndimage import gaussian_filter1d

INSIDE = "front_neck_low"
"""What the labels call the one landmark that lies inside the outline, where nobody draws."""

SECOND_POINT = 0.01
"""A second point is put on an edge that strays so far from the run through the first, share of the height."""

CLEAR = 0.04
"""Nobody taps a point between two corners nearer to one of them than this, as a share of the height."""

FINGER_STEP = 0.006
"""Distance between points that a finger leaves, as a share of the garment's height."""

FINGER_WANDERS = 0.05
"""Way along which a finger's error stays much the same, as a share of the garment's height."""


def tapped(entry, off, rng):
    """Return points tapped round a garment, (n, 2) px, and the place of each corner's point among them.

    Args:
        entry: The garment's label: outline and landmarks.
        off: Root mean square distance of a point from where it belongs, as a share of the height.
        rng: Random numbers.
    """
    outline = _dense(np.asarray(entry["outline"], float))
    height = np.ptp(outline[:, 1])
    marks = {n: np.asarray(p, float) for n, p in entry["landmarks"].items() if p is not None and n != INSIDE}
    at = {n: int(np.argmin(np.hypot(*(outline - p).T))) for n, p in marks.items()}
    names = sorted(at, key=at.get)
    points, places = [], {}
    for name, after in pairwise([*names, names[0]]):
        places[name] = len(points)
        points.append(marks[name])
        n = len(outline)
        run = outline[(at[name] + np.arange((at[after] - at[name]) % n + 1)) % n]
        points += between(run, SECOND_POINT * height, CLEAR * height)
    drawn = np.array(points)
    return drawn + rng.normal(0, off * height / np.sqrt(2), drawn.shape), places


def between(run, enough, clear):
    """Return one or two points of a run: what is farthest from its chord, and then from what it has."""
    kept = [0, len(run) - 1]
    for limit in (-1.0, enough):
        ways = [_farthest(run, i, j, clear) for i, j in pairwise(kept)]
        if max(ways)[0] > limit:
            kept = sorted([*kept, max(ways)[1]])
    return [run[i] for i in kept[1:-1]]


def _farthest(run, i, j, clear):
    """Return how far the farthest point is from the chord, and which it is; -1 where none may be."""
    chord = run[j] - run[i]
    off = run[i : j + 1] - run[i]
    away = np.abs(off[:, 0] * chord[1] - off[:, 1] * chord[0]) / max(np.hypot(*chord), 1e-9)
    near = np.minimum(np.hypot(*off.T), np.hypot(*(run[i : j + 1] - run[j]).T)) < clear
    away = np.where(near, -1.0, away)
    return float(away.max()), i + int(np.argmax(away))


def _dense(outline, count=800):
    closed = np.vstack([outline, outline[:1]])
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0, along[-1], count, endpoint=False)
    return np.stack([np.interp(at, along, axis) for axis in closed.T], axis=1)


def by_finger(entry, off, rng):
    """Return a finger's line round a garment, (n, 2) px; arguments as for ``tapped``."""
    outline = np.asarray(entry["outline"], float)
    height = np.ptp(outline[:, 1])
    length = np.hypot(*np.diff(outline, axis=0, append=outline[:1]).T).sum()
    line = _dense(outline, round(length / (FINGER_STEP * height)))
    wander = gaussian_filter1d(
        rng.normal(0, 1, line.shape), FINGER_WANDERS / FINGER_STEP, axis=0, mode="wrap"
    )
    return line + wander * off * height / np.sqrt((wander**2).sum(axis=1).mean())
