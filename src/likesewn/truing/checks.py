"""Checks of a trued pattern, walked edge by edge on the paths themselves.

They share nothing with the solve but the paths that came out of it: lengths are integrated anew to
``geometry.bezier.LENGTH_RTOL`` and angles are read from the end tangents.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Angle, SeamLengths
from likesewn.geometry import Path, bezier
from likesewn.truing.panels import Panel, Panels

Array = NDArray[np.float64]
Paths = Mapping[tuple[str, str], Path]

__all__ = ["Checks", "walk"]


@dataclass(frozen=True, slots=True)
class Checks:
    """What was found on walking every seam, square corner and smooth join of a garment."""

    seams: tuple[SeamLengths, ...]
    square_corners: tuple[Angle, ...]
    smooth_joins: tuple[Angle, ...]


def walk(panels: Panels, paths: Paths, ease: Mapping[str, float]) -> Checks:
    """Walk every seam, square corner and smooth join.

    Args:
        panels: The panels solved for.
        paths: Their edges by (panel, edge).
        ease: Ease by seam name, mm, where it differs from the kind's.
    """
    return Checks(
        tuple(_seam_lengths(panels, paths, ease)),
        tuple(_square_angles(panels, paths)),
        tuple(_join_angles(panels, paths)),
    )


def _seam_lengths(panels: Panels, paths: Paths, ease: Mapping[str, float]) -> Iterator[SeamLengths]:
    lengths = _lengths(paths)
    for seam in panels.kind.seams:
        sides: list[tuple[str, float]] = []
        for end, side in ((seam.left, seam.left_side), (seam.right, seam.right_side)):
            piece, edge = end.split(".")
            on = panels.of(piece, side)
            length = sum(lengths[panel.name, edge] for panel in on)
            name = on[0].edge_name(on[0].piece.edge(edge))
            sides.append((f"{piece}.{name}", length))
        (left, left_mm), (right, right_mm) = sides
        wanted = ease.get(seam.name, seam.ease) if left != right else 0.0
        yield SeamLengths(seam.name, left, right, left_mm, right_mm, wanted, right_mm - left_mm - wanted)


def _lengths(paths: Paths) -> dict[tuple[str, str], float]:
    """Return the length of every edge, mm, all measured at once."""
    lengths = bezier.length(np.concatenate([path.segments for path in paths.values()]))
    counts = [len(path.segments) for path in paths.values()]
    starts = np.cumsum([0, *counts[:-1]])
    return dict(zip(paths, np.add.reduceat(lengths, starts).tolist(), strict=True))


def _square_angles(panels: Panels, paths: Paths) -> Iterator[Angle]:
    for panel in panels.panels:
        for corner in panel.piece.square:
            yield Angle(f"{panel.name} {corner}", interior_angle(panel, paths, corner), 90.0)


def _join_angles(panels: Panels, paths: Paths) -> Iterator[Angle]:
    """Yield the angle at which every join runs on; across a seam both interior angles are added."""
    for panel in panels.panels:
        for corner in panel.piece.smooth:
            yield Angle(f"{panel.name} {corner}", interior_angle(panel, paths, corner), 180.0)
    for seam in panels.kind.seams:
        left_piece, left_edge = seam.left.split(".")
        right_piece, right_edge = seam.right.split(".")
        left = panels.of(left_piece, seam.left_side)[0]
        right = panels.of(right_piece, seam.right_side)[0]
        for name, _, at in seam.smooth:
            total = interior_angle(left, paths, _corner(left, left_edge, at))
            total += interior_angle(right, paths, _corner(right, right_edge, seam.right_end(at)))
            yield Angle(f"{name} over the {seam.name} seam", total, 180.0)


def _corner(panel: Panel, name: str, at: str) -> str:
    edge = panel.piece.edge(name)
    return edge.start if at == "start" else edge.end


def interior_angle(panel: Panel, paths: Paths, corner: str) -> float:
    """Return the angle inside a piece at a corner, degrees in 0..360."""
    leaving = next(e for e in panel.piece.edges if e.start == corner)
    arriving = next(e for e in panel.piece.edges if e.end == corner)
    a = _direction(panel, paths, leaving.name, at_end=False)
    b = -_direction(panel, paths, arriving.name, at_end=True)
    turn = np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)
    return float(np.degrees(turn) % 360.0)


def _direction(panel: Panel, paths: Paths, edge: str, *, at_end: bool) -> Array:
    if (panel.name, edge) not in paths:  # the fold, which runs up the line x = 0
        return np.array([0.0, -1.0])
    segments = paths[panel.name, edge].segments
    d = segments[-1, 3] - segments[-1, 2] if at_end else segments[0, 1] - segments[0, 0]
    return d / float(np.hypot(*d))
