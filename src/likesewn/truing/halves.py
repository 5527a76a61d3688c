"""Where the two halves of a traced piece, or two pieces alike, differ; centre lines that were off the centre.

Both halves are fitted by one half, so that the pattern takes their mean. What each half's points leave over
along an edge is fitted by a straight line in the share of the edge's length, for each half by itself; the
halves differ where these two lines stand further apart than their own standard errors explain.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Finding, Weight
from likesewn.truing.answer import Answer
from likesewn.truing.panels import Panel
from likesewn.units import format_length

Array = NDArray[np.float64]

__all__ = ["Uneven", "halves_findings", "pieces_differ", "uneven_edges"]

CERTAIN = 3.0
"""Standard errors by which two halves must differ before it is said."""

SEEN = 2.0
"""Differences below this, mm, are not worth a word: no two halves are sewn more alike."""

MUCH = 10.0
"""From this on, mm, someone should look before the mean is cut."""

TWISTED = 2.5
"""The two pieces of a twisted seam differ by opposite amounts of which neither is more than so many times the
other."""


@dataclass(frozen=True, slots=True)
class Uneven:
    """Two halves that differ along an edge.

    Attributes:
        panel: The half that stands for both.
        edge: The edge's name.
        mm: How much further out the left half lies than the right one where they differ most, mm.
        share: Share of the edge's length, from its start, at which they do.
    """

    panel: Panel
    edge: str
    mm: float
    share: float


def uneven_edges(found: Answer) -> Iterator[Uneven]:
    """Yield each edge that was traced on both halves, where these differ.

    Args:
        found: The answer of a solve.
    """
    traced, feet = found.problem.traced, found.feet
    if feet is None:
        return
    for run in dict.fromkeys(traced.runs):
        halves = [
            [i for i, r in enumerate(traced.runs) if r is run and traced.lays.sides[i] == side]
            for side in ("left", "right")
        ]
        if not all(halves):
            continue
        sides: list[tuple[Array, Array, Array]] = []
        for entries in halves:
            mine = np.isin(traced.entry, entries)
            share = (feet.segment[mine] - run.first + feet.t[mine]) / run.count
            sides.append((share, feet.distance[mine], traced.sigma[mine]))
        if min(len(share) for share, _, _ in sides) < 2 or run.panel.piece.fold is run.edge:
            continue
        (left, left_error), (right, right_error) = (_line(*own) for own in sides)
        gap, error = left - right, np.hypot(left_error, right_error)
        most = int(np.argmax(np.abs(gap) / error))
        if abs(gap[most]) > max(CERTAIN * float(error[most]), SEEN):
            yield Uneven(run.panel, run.edge.name, float(gap[most]), most / (len(gap) - 1))


def pieces_differ(found: Answer) -> bool:
    """Return whether two pieces that were solved as alike were traced too differently for that.

    Args:
        found: The answer of a solve.
    """
    traced, panels, feet = found.problem.traced, found.problem.panels, found.feet
    if feet is None:
        return False
    for group in panels.alike:
        for edge in group.edges:
            lines: list[tuple[Array, Array]] = []
            for piece in group.pieces:
                runs = [found.problem.unknowns.runs[panel.name, edge] for panel in panels.of(piece)]
                mine = np.isin(traced.entry, [i for i, r in enumerate(traced.runs) if r in runs])
                if mine.sum() >= 2:
                    share = (feet.segment[mine] - runs[0].first + feet.t[mine]) / runs[0].count
                    lines.append(_line(share, feet.distance[mine], traced.sigma[mine]))
            if len(lines) == 2:
                (one, one_error), (two, two_error) = lines
                error = np.hypot(one_error, two_error)
                if np.any(np.abs(one - two) > np.maximum(CERTAIN * error, SEEN)):
                    return True
    return False


def _line(share: Array, distance: Array, sigma: Array) -> tuple[Array, Array]:
    """Return the line through distances, and its standard error, at the start, the middle and the end."""
    columns = 2 if np.ptp(share) > 0.2 and len(share) > 3 else 1
    at = np.array([0.0, 0.5, 1.0])
    A, B = (np.stack([np.ones_like(s), s - 0.5], axis=1)[:, :columns] for s in (share, at))
    inverse = np.linalg.inv((A / sigma[:, None]).T @ (A / sigma[:, None]))
    value = B @ inverse @ (A.T @ (distance / sigma**2))
    return value, np.sqrt(((B @ inverse) * B).sum(axis=1))


def halves_findings(found: Answer, uneven: tuple[Uneven, ...]) -> Iterator[Finding]:
    """Yield what is to be said of halves that differ and of centre lines that are off.

    Args:
        found: The answer of a solve.
        uneven: The edges whose halves differ.
    """
    by_edge = {(u.panel.piece.name, u.edge): u for u in uneven}
    for seam in found.problem.kind.seams:
        ends = [tuple(end.split(".")) for end in (seam.left, seam.right)]
        pair = [by_edge.get((piece, edge)) for piece, edge in ends]
        if ends[0][0] != ends[1][0] and pair[0] and pair[1] and _twisted(pair[0].mm, pair[1].mm):
            for end in ends:
                by_edge.pop((end[0], end[1]))
            yield _twist(found, seam.name, pair[0], pair[1])
    for u in by_edge.values():
        yield _difference(found, u)
    yield from _centres(found)


def _twisted(one: float, two: float) -> bool:
    # seen right side up, the left half of one piece is worn with the right half of the other
    return one * two > 0.0 and 1.0 / TWISTED < abs(one / two) < TWISTED


def _weight(mm: float) -> Weight:
    return Weight.LOOK if abs(mm) >= MUCH else Weight.NOTE


KEEP = (
    "The pattern takes their mean. Write symmetric = false in the garment file to keep the difference, or "
    "give the points of one half alone to copy that."
)


def _twist(found: Answer, seam: str, one: Uneven, two: Uneven) -> Finding:
    unit = found.problem.record.unit
    front, back = (half.panel.piece.title.lower() for half in (one, two))
    left, right = (back, front) if one.mm > 0.0 else (front, back)
    # the two halves of an edge stand half of their difference to either side of the mean
    mm = (abs(one.mm) + abs(two.mm)) / 4.0
    return Finding(
        "seam-twisted",
        _weight(2.0 * mm),
        seam,
        f"The {seam} seam is twisted: as you look at the {front}, on the left it runs about "
        f"{format_length(mm, unit)} towards the {left}, on the right as much towards the {right}.",
        mm,
        SEEN,
        "mm",
        KEEP,
    )


def _difference(found: Answer, uneven: Uneven) -> Finding:
    panel = uneven.panel
    edge = panel.piece.edge(uneven.edge)
    near = {0.0: f", most at the {edge.start}", 1.0: f", most at the {edge.end}"}.get(uneven.share, "")
    further, other = ("left", "right") if uneven.mm > 0.0 else ("right", "left")
    return Finding(
        "halves-differ",
        _weight(uneven.mm),
        f"{panel.piece.name}.{uneven.edge}",
        f"The halves of the {panel.piece.title.lower()} differ along the {uneven.edge}: the {further} one "
        f"lies {format_length(abs(uneven.mm), found.problem.record.unit)} further out than the {other} one"
        f"{near.replace('_', ' ')}.",
        abs(uneven.mm),
        SEEN,
        "mm",
        KEEP,
    )


def _centres(found: Answer) -> Iterator[Finding]:
    problem = found.problem
    lays, unit = problem.traced.lays, problem.record.unit
    first = problem.size - lays.size
    x = found.solution.x[first:]
    for i, what, lay, asked in lays.centres:
        off = float(x[i] - asked)
        row = np.zeros((1, problem.size))
        row[0, first + i] = 1.0
        if abs(off) > max(CERTAIN * float(found.sureness.sigmas(row)[0]), SEEN):
            title = problem.kind.piece(lay[0].split(":")[0]).title.lower()
            yield Finding(
                "off-centre",
                _weight(off),
                lay[0],
                f"The {what} of the {title} lies {format_length(abs(off), unit)} from its centre; "
                "the pattern is cut from the centre.",
                abs(off),
                SEEN,
                "mm",
                "Nothing needs doing if the garment was laid down roughly.",
            )
