"""Measures and conditions of a kind, written as combinations of quantities."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from likesewn.garment import Record
from likesewn.garment.kind import Level, Measure, Seam
from likesewn.truing.panels import Panel, Panels
from likesewn.truing.quantities import Quantities, Terms, add, scale
from likesewn.truing.unknowns import EdgeRun, Unknowns

__all__ = ["Condition", "Writer"]

ANGLE_SCALE = 100.0
"""Angle conditions enter the solve as the gap they leave at this distance from the corner, mm, so that
lengths and angles weigh alike."""


@dataclass(frozen=True, slots=True)
class Condition:
    """Something that sewing demands: ``terms`` equals ``target`` (mm, or radians times the scale)."""

    sort: str
    name: str
    terms: Terms
    target: float


class Writer:
    """Writes a kind's measures and conditions in terms of the quantities of its panels."""

    def __init__(self, panels: Panels, unknowns: Unknowns, quantities: Quantities) -> None:
        self.panels = panels
        self.kind = panels.kind
        self.unknowns = unknowns
        self.quantities = quantities
        self.levels: dict[str, Terms] = {}

    def run(self, panel: Panel, edge: str) -> EdgeRun:
        """Return an edge's run of segments."""
        return self.unknowns.runs[panel.name, edge]

    def x(self, panel: Panel, corner: str) -> Terms:
        """Return a corner's x."""
        return self.quantities.coordinate(self.unknowns.corner(panel, corner))

    def y(self, panel: Panel, corner: str) -> Terms:
        """Return a corner's y."""
        return self.quantities.coordinate(self.unknowns.corner(panel, corner) + 1)

    def level_unknown(self, key: str) -> Terms:
        """Return the unknown that is the measure ``key`` of operation ``level``."""
        if key not in self.levels:
            self.levels[key] = self.quantities.extra()
        return self.levels[key]

    def measure(self, measure: Measure, pieces: Iterable[str]) -> Terms:
        """Return a measure as the mean over the panels of the pieces that it is taken on."""
        if measure.op == "level":
            return self.level_unknown(measure.key)
        on = [panel for piece in pieces for panel in self.panels.of(piece)]
        return scale(add(*(self._on(measure, panel) for panel in on)), 1.0 / len(on))

    def _on(self, measure: Measure, panel: Panel) -> Terms:  # noqa: PLR0911 - one return an operation
        corners, edges = measure.corners, measure.edges
        match measure.op:
            case "across":
                return scale(self.x(panel, corners[0]), 2.0)
            case "from_fold":
                return self.x(panel, corners[0])
            case "between":
                one, two = (self.x(panel, corner) for corner in corners)
                return scale(add(one, scale(two, -1.0)), measure.times)
            case "down":
                pairs = list(zip(corners[::2], corners[1::2], strict=True))
                drops = (add(self.y(panel, b), scale(self.y(panel, a), -1.0)) for a, b in pairs)
                return scale(add(*drops), 1.0 / len(pairs))
            case "straight":
                pairs = list(zip(corners[::2], corners[1::2], strict=True))
                at = self.unknowns.corner
                ways = (self.quantities.distance(at(panel, a), at(panel, b)) for a, b in pairs)
                return scale(add(*ways), 1.0 / len(pairs))
            case "along":
                lengths = (self.quantities.length(self.run(panel, e)) for e in edges)
                return scale(add(*lengths), measure.times)
            case "down_to_edge":
                drops = (self._down_to(panel, c, e) for c, e in zip(corners, edges, strict=True))
                return scale(add(*drops), 1.0 / len(edges))
            case "across_at":
                run = self.run(panel, edges[0])
                level = self._level(measure.level, panel)
                return scale(self.quantities.crossing(run, 1, level), 2.0)
            case "between_at":
                level = self._level(measure.level, panel)
                one, two = (self.quantities.crossing(self.run(panel, e), 1, level) for e in edges)
                return add(one, scale(two, -1.0))
            case _:
                raise AssertionError(measure.op)

    def _down_to(self, panel: Panel, corner: str, edge: str) -> Terms:
        there = self.quantities.crossing(self.run(panel, edge), 0, self.x(panel, corner))
        return add(there, scale(self.y(panel, corner), -1.0))

    def _level(self, level: Level | None, panel: Panel) -> Terms:
        if level is None:
            raise AssertionError("across_at without a level")
        start = self.y(panel, level.start)
        if level.measure:
            return add(start, self.level_unknown(level.measure))
        return add(scale(start, 1.0 - level.share), scale(self.y(panel, level.end), level.share))

    def conditions(self, record: Record) -> list[Condition]:
        """Return everything that sewing demands of these panels beyond what their unknowns build in."""
        found: list[Condition] = []
        for seam in self.kind.seams:
            found += self._seam(seam, record.ease)
        for panel in self.panels.panels:
            found += self._squares(panel)
            for corner in panel.piece.smooth:
                terms = scale(self.angle_at(panel, corner), ANGLE_SCALE)
                found.append(Condition("smooth", f"{panel.name} {corner}", terms, np.pi * ANGLE_SCALE))
        return found

    def _seam(self, seam: Seam, ease: Mapping[str, float]) -> Iterable[Condition]:
        left = self._ends(seam.left, seam.left_side)
        right = self._ends(seam.right, seam.right_side)
        wanted = ease.get(seam.name, seam.ease)
        if left != right:
            terms = add(self._length(right), scale(self._length(left), -1.0))
            yield Condition("seam", seam.name, terms, wanted)
        for left_edge, right_edge, at in seam.smooth:
            angles = [
                self._angle_between(left[0][0], left[0][1], left_edge, at),
                self._angle_between(right[0][0], right[0][1], right_edge, seam.right_end(at)),
            ]
            name = f"{left_edge} over the {seam.name} seam"
            yield Condition("smooth", name, scale(add(*angles), ANGLE_SCALE), np.pi * ANGLE_SCALE)

    def _ends(self, end: str, side: str) -> list[tuple[Panel, str]]:
        piece, edge = end.split(".")
        return [(panel, edge) for panel in self.panels.of(piece, side)]

    def _length(self, ends: Iterable[tuple[Panel, str]]) -> Terms:
        return add(*(self.quantities.length(self.run(panel, edge)) for panel, edge in ends))

    def _angle_between(self, panel: Panel, seam_edge: str, edge: str, at: str) -> Terms:
        one = self.run(panel, seam_edge)
        corner = one.edge.start if at == "start" else one.edge.end
        return self.angle_at(panel, corner, {seam_edge, edge})

    def angle_at(self, panel: Panel, corner: str, edges: set[str] | None = None) -> Terms:
        """Return the interior angle at a corner between its two edges, radians."""
        leaving = next(e for e in panel.edges if e.start == corner)
        arriving = next(e for e in panel.edges if e.end == corner)
        if edges is not None and {leaving.name, arriving.name} != edges:
            raise AssertionError(f"{panel.name} {corner}: {edges} do not meet there")
        start, end = self.run(panel, leaving.name).start, self.run(panel, arriving.name).end
        return self.quantities.angle(start, start + 2, end - 2)

    def _squares(self, panel: Panel) -> Iterable[Condition]:
        for corner in panel.piece.square:
            # at the fold the unknowns build the right angle in, save for straight edges
            if corner not in panel.piece.fold_corners:
                terms = scale(self.angle_at(panel, corner), ANGLE_SCALE)
                yield Condition("square", f"{panel.name} {corner}", terms, np.pi / 2 * ANGLE_SCALE)
            else:
                yield from self._straight_square(panel, corner)

    def _straight_square(self, panel: Panel, corner: str) -> Iterable[Condition]:
        for edge in panel.edges:
            if edge.straight and corner in {edge.start, edge.end}:
                other = edge.end if edge.start == corner else edge.start
                terms = add(self.y(panel, other), scale(self.y(panel, corner), -1.0))
                yield Condition("square", f"{panel.name} {corner}", terms, 0.0)
