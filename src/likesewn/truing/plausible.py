"""Whether the answer looks like a garment of its kind: figures may agree and still describe none."""

from collections.abc import Iterable, Mapping

import numpy as np

from likesewn.garment import Finding, Weight
from likesewn.geometry import Path
from likesewn.truing.panels import Panel, Panels
from likesewn.units import format_length

__all__ = ["odd_shapes"]

TURNED = 50.0
"""How far an edge may run from its template's direction, degrees: the steepest flare that is still sewn as
this kind turns a side by half of that."""

VANISHED = 4.0
"""An edge shorter than this cannot be sewn, mm (common practice, no source)."""


def odd_shapes(
    panels: Panels, paths: Mapping[tuple[str, str], Path], values: Mapping[str, float], unit: str
) -> Iterable[Finding]:
    """Yield a finding for each edge that vanishes or runs another way than its kind's, and each level missed.

    Args:
        panels: The panels solved for.
        paths: Their edges by (panel, edge).
        values: Measures by key, mm.
        unit: Unit for the words.
    """
    for panel in panels.panels:
        yield from _edges(panel, paths, unit)
    yield from _levels(panels, paths, values, unit)


def _edges(panel: Panel, paths: Mapping[tuple[str, str], Path], unit: str) -> Iterable[Finding]:
    at = {corner.name: np.array([corner.x, corner.y]) for corner in panel.piece.corners}
    for edge in panel.edges:
        path = paths[panel.name, edge.name]
        where = f"{panel.piece.name}.{edge.name}"
        called = f"The {edge.name} of the {panel.piece.title.lower()}"
        chord, usual = path.end - path.start, at[edge.end] - at[edge.start]
        length = float(np.hypot(*chord))
        if length < VANISHED:
            yield Finding(
                "edge-vanishes",
                Weight.STOP,
                where,
                f"{called} comes out only {format_length(length, unit)} long.",
                length,
                VANISHED,
                "mm",
                "Measure again what gives its length and place.",
            )
            continue
        cross, dot = chord[0] * usual[1] - chord[1] * usual[0], float(chord @ usual)
        turned = float(np.degrees(np.abs(np.arctan2(cross, dot))))
        if turned > TURNED:
            yield Finding(
                "edge-turned",
                Weight.LOOK,
                where,
                f"{called} runs quite another way than on a garment of this kind.",
                turned,
                TURNED,
                "degree",
                "Measure again the lengths and heights at both of its ends; one may be mistyped.",
            )


def _levels(
    panels: Panels, paths: Mapping[tuple[str, str], Path], values: Mapping[str, float], unit: str
) -> Iterable[Finding]:
    for measure in panels.kind.measures.values():
        level = measure.level
        if level is None or not level.measure or level.measure not in values:
            continue
        height = values[level.measure]
        for piece in measure.pieces:
            panel = panels.of(piece)[0]
            beside = next(edge for edge in panel.edges if level.start in {edge.start, edge.end})
            at = paths[panel.name, beside.name]
            corner = at.start if beside.start == level.start else at.end
            path = paths[panel.name, measure.edges[0]]
            low, high = sorted((float(path.start[1]), float(path.end[1])))
            if not low <= corner[1] + height <= high:
                title = panels.kind.measures[level.measure].title
                yield Finding(
                    "level-missed",
                    Weight.LOOK,
                    level.measure,
                    f"The {title.lower()} of {format_length(height, unit)} misses the {measure.edges[0]} of "
                    f"the {panel.piece.title.lower()}.",
                    height,
                    None,
                    "mm",
                    f"Give a {title.lower()} from {format_length(low - corner[1], unit)} to "
                    f"{format_length(high - corner[1], unit)}.",
                )
                break
