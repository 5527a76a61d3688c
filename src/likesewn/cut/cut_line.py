"""The cut line of one piece: each edge's parallel, trimmed or lengthened to its neighbours'.

Straight edges give straight cut lines; curves stay cubics. What comes out is proved by ``proof`` before
it is used.
"""

from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from likesewn.cut.corners import Joint, Run, fold_back, meet_fold, mitre
from likesewn.errors import LikesewnError
from likesewn.garment import Edge, PatternPiece
from likesewn.geometry import OffsetError, Path, cut_out, offset

__all__ = ["OFFSET_TOLERANCE", "CutLine", "CutLineError", "cut_line"]

Array = NDArray[np.float64]

OFFSET_TOLERANCE = 0.01
"""How far a cut line may lie from the true parallel, mm: a fifth of what design allows, so that joining
and rounding have room."""

LEAST_LEFT = 1e-3
"""Least length of an edge's cut line once its neighbours have trimmed it, mm."""

LEAST_ALLOWANCE = 1e-4
"""An allowance below this, mm, is none."""

STRAIGHT_ON = 1e-9
"""Lines that bend by less than this, radians, are one line."""


class CutLineError(LikesewnError, ValueError):
    """An edge's allowance leaves no cut line; ``edge`` names it, ``reason`` says why in a sentence."""

    def __init__(self, edge: str, reason: str) -> None:
        self.edge = edge
        self.reason = reason
        super().__init__(f"{edge}: {reason}")


@dataclass(frozen=True, slots=True)
class CutLine:
    """The cut line of a piece, edge by edge.

    Attributes:
        paths: Cut line by edge name, in the order of the piece's edges, each starting where the one
            before it ends; the fold has none.
        bodies: For each, the distances along it between which it is parallel to its seam line; outside
            them it belongs to a corner.
    """

    paths: Mapping[str, Path]
    bodies: Mapping[str, tuple[float, float]]


def cut_line(
    piece: PatternPiece, allowances: Mapping[str, float], turned: AbstractSet[str] = frozenset()
) -> CutLine:
    """Return the cut line of a piece.

    Args:
        piece: The piece at its seam line.
        allowances: Allowance by edge name, mm, for every edge but the fold.
        turned: Names of edges whose allowance is folded up against the garment.

    Returns:
        The cut line.

    Raises:
        CutLineError: An allowance is larger than the piece can take.
    """
    edges = [edge for edge in piece.edges if not edge.fold]
    reach = 4.0 * max(allowances[edge.name] for edge in edges) + 1.0
    runs = [_run(edge, allowances[edge.name], reach) for edge in edges]
    count = len(edges)
    joints: dict[int, Joint] = {}  # the joint before each edge; with a fold, the one after the last too
    for i in range(count):
        before = (i - 1) % count
        if piece.on_fold and i == 0:
            continue
        joints[i] = _joint(edges[before], edges[i], (runs[before], runs[i]), turned)
    if piece.on_fold:
        first = meet_fold(runs[0], edges[0].path.start)
        last = meet_fold(runs[-1].reversed(), edges[-1].path.end)
        if first is None:
            raise CutLineError(edges[0].name, "its cut line does not come to the fold")
        if last is None:
            raise CutLineError(edges[-1].name, "its cut line does not come to the fold")
        joints[0] = first
        joints[count] = Joint(
            runs[-1].path.length - last.enter,
            0.0,
            tail=None if last.head is None else last.head.reversed(),
        )
    else:
        joints[count] = joints[0]
    paths: list[Path] = []
    bodies: list[tuple[float, float]] = []
    for i, (edge, run) in enumerate(zip(edges, runs, strict=True)):
        path, body = _between(edge, run, joints[i], joints[i + 1])
        paths.append(path)
        bodies.append(body)
    tied = _tied(paths, on_fold=piece.on_fold)
    names = [edge.name for edge in edges]
    return CutLine(dict(zip(names, tied, strict=True)), dict(zip(names, bodies, strict=True)))


def _run(edge: Edge, allowance: float, reach: float) -> Run:
    if allowance < LEAST_ALLOWANCE:
        return Run.along(edge.path, 0.0, reach)
    try:
        return Run.along(_parallel(edge.path.segments.tobytes(), allowance), allowance, reach)
    except OffsetError as error:
        raise CutLineError(edge.name, f"nothing is left of its parallel ({error})") from error


@lru_cache(maxsize=128)
def _parallel(segments: bytes, allowance: float) -> Path:
    """Return the parallel of an edge; edges that are alike, and those that an edit leaves be, share one."""
    return offset(Path(np.frombuffer(segments).reshape(-1, 4, 2)), allowance, OFFSET_TOLERANCE)


def _joint(first: Edge, second: Edge, runs: tuple[Run, Run], turned: AbstractSet[str]) -> Joint:
    corner = second.path.start
    into, out = runs
    if (first.name in turned) != (second.name in turned):
        if second.name in turned and out.allowance > 0.0:
            folded = fold_back(into, out, second.path, corner)
            if folded is not None:
                return folded
        if first.name in turned and into.allowance > 0.0:
            neighbour, hem = out.reversed(), into.reversed()
            folded = fold_back(neighbour, hem, first.path.reversed(), corner)
            if folded is not None:
                return folded.reversed(neighbour, hem)
    return mitre(into, out, corner)


def _between(edge: Edge, run: Run, before: Joint, after: Joint) -> tuple[Path, tuple[float, float]]:
    """Return an edge's cut line from joint to joint, and where its body lies along it."""
    enter, leave = max(before.enter, 0.0), min(after.leave, run.path.length)
    if leave - enter < LEAST_LEFT:
        raise CutLineError(edge.name, "its neighbours' cut lines meet before they reach it")
    parts = [cut_out(run.path, enter, leave)]
    lead = 0.0
    if before.head is not None:
        parts.insert(0, before.head)
        lead = before.head.length
    if after.tail is not None:
        parts.append(after.tail)
    low = lead + max(run.start - enter, 0.0)
    high = lead + min(run.end, leave) - enter
    return _plain(Path.join(_chained(parts))), (low, max(low, high))


def _plain(path: Path) -> Path:
    """Return the path with straight segments that run straight on made one line."""
    segments: list[Array] = []
    for segment, straight in zip(path.segments, path.straight, strict=True):
        if segments and straight and _runs_on(segments[-1], segment):
            segments[-1] = Path.line(segments[-1][0], segment[3]).segments[0]
        else:
            segments.append(segment)
    return Path(np.array(segments))


def _runs_on(before: Array, after: Array) -> bool:
    if not Path(before).straight[0]:
        return False
    a, b = before[3] - before[0], after[3] - after[0]
    bent = abs(float(a[0] * b[1] - a[1] * b[0]))
    return float(a @ b) > 0.0 and bent <= STRAIGHT_ON * float(np.hypot(*a) * np.hypot(*b))


def _chained(parts: list[Path]) -> list[Path]:
    """Return the parts with each start set exactly on the end before it, parts without length left out."""
    kept: list[Path] = []
    for part in parts:
        apart = part.end - part.start
        if np.hypot(apart[0], apart[1]) <= 1e-9 and part.length <= 1e-9:
            continue
        kept.append(_with_ends(part, kept[-1].end, None) if kept else part)
    return kept


def _with_ends(path: Path, start: Array | None, end: Array | None) -> Path:
    """Return the path with its ends moved by a hair, straight segments staying straight."""
    segments = path.segments.copy()
    straight = path.straight
    if start is not None:
        segments[0, 1] += start - segments[0, 0]
        segments[0, 0] = start
    if end is not None:
        segments[-1, 2] += end - segments[-1, 3]
        segments[-1, 3] = end
    for i in {0, len(segments) - 1}:
        if straight[i]:
            segments[i] = Path.line(segments[i, 0], segments[i, 3]).segments[0]
    return Path(segments)


def _tied(paths: list[Path], *, on_fold: bool) -> list[Path]:
    """Return the paths with every start exactly on the end before it, and ends at the fold on x = 0."""
    starts: list[Array] = []
    for i, path in enumerate(paths):
        if on_fold and i == 0:
            starts.append(np.array([0.0, path.start[1]]))
        else:
            starts.append(paths[i - 1].end)
    ends = [*starts[1:], np.array([0.0, paths[-1].end[1]]) if on_fold else starts[0]]
    return [_with_ends(p, a, b) for p, a, b in zip(paths, starts, ends, strict=True)]
