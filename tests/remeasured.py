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


NEEDED = {"body_length": 676.0, "chest_width": 520.0, "sleeve_length": 572.0}
HALF = ("neckline", "shoulder", "armhole", "side", "hem")


def laid(at: np.ndarray) -> np.ndarray:
    """Return points as they stand on a mat where the piece lies somewhere, turned."""
    c, s = np.cos(0.8), np.sin(0.8)
    return at @ np.array([[c, s], [-s, c]]) + [420.0, 90.0]


def traced(
    piece: str,
    side: str,
    *,
    lay: str = "mat",
    seed: int = 3,
    push: dict[str, float] | None = None,
    shift: float = 0.0,
    edges: tuple[str, ...] = HALF,
) -> list[TracedPoints]:
    """Return one half traced; ``push`` moves an edge of it outwards, ``shift`` all of it along x."""
    rng = np.random.default_rng([seed, *map(ord, piece + side)])
    found = []
    for edge in edges:
        path = known().piece(piece).edge(edge).path
        at = point_at(path, np.linspace(0.0, path.length, 30))
        step = np.gradient(at, axis=0)
        normal = np.stack([step[:, 1], -step[:, 0]], axis=1) / np.hypot(*step.T)[:, None]
        at = at + (push or {}).get(edge, 0.0) * normal + rng.normal(0.0, 1.0, at.shape)
        at = at * [-1.0 if side == "left" else 1.0, 1.0] + [shift, 0.0]
        found.append(TracedPoints(piece, edge, laid(at) if lay else at, 1.0, lay, side))
    return found
