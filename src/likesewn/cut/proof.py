"""Proof of a cut line before it is handed out: it shares nothing with how the line was made.

Checked: the outline closes and never crosses itself; it lies round the seam line; on the fold it stays on
its own side; and every place of it that belongs to one edge keeps that edge's distance.
"""

from collections.abc import Mapping

import numpy as np
from shapely import LinearRing, Polygon

from likesewn.cut.cut_line import CutLine
from likesewn.garment import PatternPiece
from likesewn.geometry import cut_out, distances, flatten

__all__ = ["DISTANCE_LIMIT", "Fault", "faults"]

DISTANCE_LIMIT = 0.05
"""How far a cut line may leave its distance from the seam line, mm (design, section 5)."""

FLAT = 0.01
"""How closely outlines are flattened for the proof, mm."""

Fault = tuple[str, str, float | None]
"""Edge it is about (or empty), what is wrong in a clause, and by how much in mm where that applies."""


def faults(piece: PatternPiece, allowances: Mapping[str, float], line: CutLine) -> list[Fault]:
    """Return what is wrong with a cut line; empty when it can be cut.

    Args:
        piece: The piece at its seam line.
        allowances: Allowance by edge name, mm.
        line: The cut line to prove.
    """
    outline = np.concatenate([flatten(path, FLAT)[:-1] for path in line.paths.values()])
    last = list(line.paths.values())[-1]
    if piece.on_fold:
        outline = np.vstack([outline, last.end])
    if not LinearRing(outline).is_simple:
        return [("", "the cut line crosses itself", None)]
    found = [*_distances(piece, allowances, line)]
    if piece.on_fold and outline[:, 0].min() < -1e-6:
        found.append(("", "the cut line crosses the fold", float(-outline[:, 0].min())))
    seam = np.concatenate([flatten(edge.path, FLAT)[:-1] for edge in piece.edges])
    sewn = Polygon(seam)
    if not sewn.is_valid:
        found.append(("", "the seam line crosses itself", None))
    elif not Polygon(outline).buffer(DISTANCE_LIMIT).contains(sewn):
        found.append(("", "the cut line runs inside the seam line", None))
    return found


def _distances(piece: PatternPiece, allowances: Mapping[str, float], line: CutLine) -> list[Fault]:
    found: list[Fault] = []
    for name, (low, high) in line.bodies.items():
        if high - low < DISTANCE_LIMIT:
            continue
        points = flatten(cut_out(line.paths[name], low, high), FLAT)
        between = 0.5 * (points[1:] + points[:-1])
        away = distances(piece.edge(name).path, np.concatenate([points, between]))
        worst = float(np.abs(away - allowances[name]).max())
        if worst > DISTANCE_LIMIT:
            found.append((name, "the cut line does not keep its distance", worst))
    return found
