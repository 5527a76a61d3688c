"""Checking a lay plan against the cloth: every copy, followed back to the flat cloth, and every stripe."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon, box, union_all
from shapely.affinity import affine_transform

from likesewn.cut.cutlist import CutPiece
from likesewn.garment import Finding
from likesewn.garment.matching import MatchPoint
from likesewn.geometry import Path, flatten
from likesewn.lay.plan import Placed, Plan
from likesewn.lay.wrong import OVERLAP, folds, wrong

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

__all__ = ["beside_stripes", "on_flaws", "unmatched"]

MATCH = 0.5
"""Distance by which stripes may miss one another, mm: less than a sewer can see."""


def _flat(plan: Plan, shape: Polygon, layer: int) -> Polygon:
    """Return where an outline on the lying cloth comes to be on the flat cloth, cut from one layer."""
    width, middle = plan.cloth.width_mm, shape.bounds[1] / 2 + shape.bounds[3] / 2
    half_length = (plan.length_mm if plan.cloth.length_mm is None else plan.cloth.length_mm) / 2
    along, across = (1.0, 0.0), (1.0, 0.0)
    match plan.folding:
        case "folded":
            across = (-1.0, width / 2) if layer == 1 else (1.0, width / 2)
        case "part fold":
            across = (-1.0, plan.fold_depth_mm) if layer == 1 else (1.0, plan.fold_depth_mm)
        case "selvages to the middle" if layer == 1:
            across = (-1.0, (1 if middle < width / 4 else 5) * width / 4)
        case "selvages to the middle":
            across = (1.0, width / 4)
        case "folded twice":
            across = (-1.0 if layer % 2 else 1.0, (3 if layer <= 2 else 1) * width / 4)
        case "crosswise":
            along = (1.0, half_length) if layer == 1 else (-1.0, half_length)
        case _:
            pass
    return affine_transform(shape, [along[0], 0, 0, across[0], along[1], across[1]])


def on_flaws(plan: Plan, placed: list[Placed], shapes: list[Polygon]) -> Iterator[Finding]:
    """Yield a finding for each outline of which some copy, on the flat cloth, lies on what cannot be used."""
    cloth = plan.cloth
    bad: list[BaseGeometry] = [Point(x, y).buffer(r, quad_segs=64) for x, y, r in cloth.flaws]
    far = max(plan.length_mm, cloth.length_mm or 0.0) + 1
    bad += [box(a, 0, b, cloth.width_mm) for a, b in cloth.flaws_across]
    bad += [box(0, a, far, b) for a, b in cloth.flaws_along]
    if cloth.outline:
        bad.append(box(0, 0, far, cloth.width_mm).difference(Polygon(cloth.outline)))
    bad += [Polygon(hole) for hole in cloth.holes]
    if not bad:
        return
    spoilt = union_all(bad)
    for one, shape in zip(placed, shapes, strict=True):
        for layer in range(one.top, one.top + one.layers):
            over = _flat(plan, shape, layer).intersection(spoilt).area if shape.is_valid else 0.0
            if over > OVERLAP:
                yield wrong(
                    "lay-flaw",
                    one.piece,
                    f"In layer {layer}, {over:.2f} mm2 of {one.piece} lie on a flaw or beyond the edge.",
                    amount=over,
                    limit=OVERLAP,
                    unit="mm2",
                )


def unmatched(plan: Plan, point: MatchPoint, known: list[tuple[Placed, CutPiece]]) -> Iterator[Finding]:
    """Yield a finding where a point of a seam lies elsewhere in the repeat on one piece than on the other."""
    repeat = plan.cloth.repeat_along_mm
    if repeat <= 0:
        return
    places: list[float] = []
    for (name, base, side), end in zip((point.left, point.right), point.ends, strict=True):
        own = [(placed, piece) for placed, piece in known if piece.name == name]
        if not own:
            return
        for placed, piece in own:
            edge = next((e for e in piece.seam if e.base == base and e.side in {"", side}), None)
            if edge is None:
                return
            if end:
                at = edge.path.start if end == "start" else edge.path.end
            else:
                notch = next(
                    (n for n in piece.notches if n.edge == edge.name and point.notch in n.name), None
                )
                if notch is None:
                    return
                at = _at(edge.path, notch.along_mm)
            grain = piece.grain.end - piece.grain.start
            up = 1.0 if float(grain[1]) > 0 or (float(grain[1]) == 0 and float(grain[0]) > 0) else -1.0
            along = [float(p @ grain) * up / math.hypot(*grain) for p in (*piece.outline(), at)]
            places.append(float(placed.outline[:, 0].min()) + along[-1] - min(along[:-1]))
            if placed.turned != 0:
                yield wrong("lay-match", piece.name, f"{piece.name} is turned, and its stripes run back.")
    off = max(abs(math.remainder(place - places[0], repeat)) for place in places)
    if off > MATCH:
        yield wrong(
            "lay-match",
            point.name,
            f"The stripes miss one another by {off:.2f} mm at {point.name}.",
            amount=off,
            limit=MATCH,
        )


def _at(path: Path, along: float) -> NDArray[np.float64]:
    """Return the point a distance along a path, by walking its flattened line."""
    line = LineString(flatten(path, 1e-3))
    return np.asarray(line.interpolate(along).coords[0])


def beside_stripes(plan: Plan, known: list[tuple[Placed, CutPiece]]) -> Iterator[Finding]:
    """Yield a finding where the middle of a piece lies beside the stripe that it should lie on."""
    repeat = plan.cloth.repeat_across_mm
    if repeat <= 0:
        return
    stripe = 0.0 if folds(plan) else plan.cloth.stripe_mm
    for placed, piece in known:
        grain = piece.grain.end - piece.grain.start
        if not piece.on_fold or placed.on_fold or abs(float(grain[0])) > 0.01 * abs(float(grain[1])):
            continue
        middle = (float(placed.outline[:, 1].min()) + float(placed.outline[:, 1].max())) / 2
        off = abs(math.remainder(middle - stripe, repeat))
        if off > MATCH:
            yield wrong(
                "lay-match",
                piece.name,
                f"The middle of {piece.name} lies {off:.2f} mm beside a stripe.",
                amount=off,
                limit=MATCH,
            )
