"""A known garment, measured and traced again and again with errors of a known size."""

from functools import cache

import numpy as np

from likesewn.garment import Figure, Pattern, Record, TracedPoints
from likesewn.geometry import point_at
from tops import TOP, basis, record, trued

TAPE_SIGMA = 3.0
POINT_SIGMA = 1.0

EDGES = {
    "front": ("neckline", "shoulder", "armhole", "side", "hem"),
    "back": ("neckline",),
    "sleeve": ("cap", "underarm", "cuff"),
}
"""Front and back of the known garment are alike but for the neckline."""


@cache
def known() -> Pattern:
    more = {"sleeve_width": 195, "cuff_width": 112, "hem_width": 530, "waist_width": 500, "waist_level": 410}
    return trued(record(**basis(), **more))


@cache
def true_figures() -> dict[str, float]:
    return {m.key: m.value_mm for m in known().measures}


def tape(rng: np.random.Generator, keys) -> dict[str, Figure]:
    """Return figures of the known garment as a tape would give them."""
    true = true_figures()
    return {key: Figure(true[key] + rng.normal(0.0, TAPE_SIGMA), TAPE_SIGMA) for key in keys}


def points(rng: np.random.Generator, each: int) -> tuple[TracedPoints, ...]:
    """Return so many points on every edge, as they would be read off a mat."""
    found = []
    for piece, edges in EDGES.items():
        for edge in edges:
            path = known().piece(piece).edge(edge).path
            at = point_at(path, np.linspace(0.0, path.length, each))
            found.append(TracedPoints(piece, edge, at + rng.normal(0.0, POINT_SIGMA, at.shape), POINT_SIGMA))
    return tuple(found)


def measured(rng: np.random.Generator, *, each: int = 0, keys=None) -> Record:
    """Return the known garment's record, measured with errors, and traced too where ``each`` is not 0."""
    figures = tape(rng, keys or true_figures())
    return Record("Measured again", TOP.name, tape=figures, points=points(rng, each) if each else ())
