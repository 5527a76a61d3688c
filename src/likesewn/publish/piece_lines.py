"""The lines of one piece: seam, cut, fold, grain, notches, and the arrow heads that go with them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from likesewn.cut.cutlist import CutPiece
from likesewn.geometry import Path, bezier
from likesewn.publish.drawing import Item, Label, Role, Stroke

__all__ = [
    "SCALE_BAR_MM",
    "fold_bracket",
    "lines",
    "sampled",
    "scale_bar",
    "seam_outline",
]

Array = NDArray[np.float64]

_HEAD_MM = 5.0
_BRACKET_DEPTH_MM = 13.0
_FOLD_WORDS = "Place on the fold"
_ALONG = sorted(np.linspace(-1.0, 1.0, 41), key=abs)
"""Where along the bracket its words are tried, as shares of the way that they can move; the middle first."""

SCALE_BAR_MM = (101.6, 17.0)
"""Width and height of the scale bar: 4 in, the longer of its two rules, and room for its words."""


def sampled(path: Path, per_segment: int = 24) -> Array:
    """Return points along a path, ends included, shape (n, 2), for laying things out.

    Straight segments give their ends alone. A curved one gives ``per_segment`` steps of its
    parameter, which for a dressmaker's curve stays within about 0.1 mm; nothing that is drawn or
    measured comes from these points.
    """
    t = np.linspace(0.0, 1.0, per_segment + 1)[1:]
    runs = [path.segments[0, :1]]
    for control, straight in zip(path.segments, path.straight, strict=True):
        runs.append(control[3:] if straight else bezier.position(control, t))
    return np.concatenate(runs)


def seam_outline(piece: CutPiece) -> Array:
    """Return the seam line as a closed polygon for layout, shape (n, 2), mm."""
    return np.concatenate([sampled(edge.path)[:-1] for edge in piece.seam])


def _head(tip: Array, towards: Array, size: float = _HEAD_MM) -> Stroke:
    """An open arrow head at ``tip``, pointing along the unit vector ``towards``."""
    side = np.array([-towards[1], towards[0]])
    back = tip - towards * size
    wings = (back + side * size * 0.38, back - side * size * 0.38)
    return Stroke(Path.polyline([wings[0], tip, wings[1]]), Role.MARK)


def _fold_line(piece: CutPiece) -> Path | None:
    """The fold from where the cut line leaves it to where the cut line comes back to it."""
    edges = [edge.name for edge in piece.seam if edge.name in piece.cut]
    if not piece.on_fold or not edges:
        return None
    return Path.line(piece.cut[edges[-1]].end, piece.cut[edges[0]].start)


def fold_bracket(piece: CutPiece, joins: Sequence[BaseGeometry] = ()) -> tuple[Item, ...]:
    """Return the bracket whose two arrows point at the fold, with its words; empty without a fold.

    Args:
        piece: The piece.
        joins: What the words keep off where there is room elsewhere; the wish that matters most last.
    """
    fold = _fold_line(piece)
    if fold is None:
        return ()
    start, end = fold.start, fold.end
    length = float(np.hypot(*(end - start)))
    way = (end - start) / length
    inward = np.array([-way[1], way[0]])
    # short folds keep a bracket too, in proportion
    depth = min(_BRACKET_DEPTH_MM, length * 0.2)
    size = min(_HEAD_MM, depth * 0.5)
    reach = min(length * 0.3, 90.0)
    middle = start + way * length * 0.5
    low, high = middle - way * reach, middle + way * reach
    line = Path.polyline([low, low + inward * depth, high + inward * depth, high])
    items: list[Item] = [Stroke(line, Role.MARK), _head(low, -inward, size), _head(high, -inward, size)]
    # the words stand between fold and bracket and read from the bottom up
    letter = min(4.2, depth * 0.4)
    label = Label(_FOLD_WORDS, (0.0, 0.0), letter, "middle", -90.0)
    spare = reach - 3.0 - 0.5 * float(np.ptp(label.corners()[:, 1]))
    if spare > 0.0:
        at = middle + inward * (depth * 0.5 + letter * 0.3)
        # the middle, or the nearest place to it
        tries = [replace(label, at=_pair(at + way * spare * share)) for share in _ALONG]
        boxes = shapely.polygons([one.corners() for one in tries])
        clear = (i for join in joins for i in np.flatnonzero(~shapely.intersects(join, boxes)))
        items.append(tries[int(next(clear, 0))])
    return tuple(items)


def _pair(at: Array) -> tuple[float, float]:
    return float(at[0]), float(at[1])


def lines(piece: CutPiece) -> tuple[Stroke, ...]:
    """Return every line of a piece, in its own frame.

    Seam lines come first, one for each edge in order; then cut lines likewise; fold, grain, notches;
    last other marks and the grain's arrow heads.
    """
    items = [Stroke(e.path, Role.SEAM, e.name) for e in piece.seam if not e.fold]
    items += [Stroke(piece.cut[e.name], Role.CUT, e.name) for e in piece.seam if e.name in piece.cut]
    fold = _fold_line(piece)
    if fold is not None:
        items.append(Stroke(fold, Role.FOLD))
    items.append(Stroke(piece.grain, Role.GRAIN))
    items += [Stroke(line, Role.NOTCH) for notch in piece.notches for line in notch.lines]
    items += [Stroke(path, Role.MARK) for path in piece.marks]
    run = piece.grain.end - piece.grain.start
    way = run / (float(np.hypot(*run)) or 1.0)
    items += [_head(piece.grain.end, way), _head(piece.grain.start, -way)]
    return tuple(items)


def scale_bar() -> tuple[Item, ...]:
    """Return a rule of 10 cm over one of 4 in, its box from (0, 0) to ``SCALE_BAR_MM``."""
    items: list[Item] = [Label("check: 10 cm", (50.0, 3.2), 3.4, "middle")]
    for y, down, step, count in ((8.5, -1.0, 10.0, 10), (9.5, 1.0, 25.4, 4)):
        items.append(Stroke(Path.line((0.0, y), (step * count, y)), Role.MARK))
        for i in range(count + 1):
            tall = 4.0 if i in {0, count} else 2.0
            x = step * i
            items.append(Stroke(Path.line((x, y), (x, y + down * tall)), Role.MARK))
    items.append(Label("check: 4 in", (50.8, 16.0), 3.4, "middle"))
    return tuple(items)
