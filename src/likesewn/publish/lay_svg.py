"""The lay plan as a picture: the folded cloth, the pieces on it, and how long it is.

The cloth's length runs along x from 0 and its width along y from 0, at 1 unit to the mm.
"""

from collections.abc import Mapping

import numpy as np

from likesewn.geometry import Path
from likesewn.lay import Placed, Plan
from likesewn.publish.drawing import Area, Bounds, Box, Drawing, Group, Item, Label, Role, Stroke
from likesewn.publish.lettering_room import Room
from likesewn.publish.svg import svg
from likesewn.units import format_length

__all__ = ["lay_plan_drawing", "lay_plan_svg"]

_SCREEN_UNITS = 300.0  # a picture this wide shows lettering at its own size


def _outline(placed: Placed) -> Path:
    return Path.polyline(np.concatenate([placed.outline, placed.outline[:1]]))


def _words(placed: Placed) -> tuple[str, ...]:
    last = placed.copy + placed.copies - 1
    copies = f"copy {placed.copy}" if last <= placed.copy else f"copies {placed.copy} and {last}"
    words = [copies]
    if placed.on_fold:
        words.append("on the fold")
    elif placed.layers > 1:
        words.append("through both layers")
    if placed.turned:
        words.append("turned round")
    if placed.mirrored and not placed.on_fold:
        words.append("paper face down")
    return tuple(words)


def _grain_arrow(placed: Placed, enlarged: float) -> tuple[tuple[Item, ...], Path]:
    """An arrow along the cloth's grain, pointing the way the piece's lower end lies."""
    left, top = placed.outline.min(axis=0)
    right, bottom = placed.outline.max(axis=0)
    reach, head = 0.16 * (right - left), 3.2 * enlarged
    x = 0.5 * (left + right)
    # near the piece's own middle, where every outline has cloth on both sides
    y = top + 0.3 * (bottom - top)
    way = -1.0 if placed.turned else 1.0
    tip = np.array([x + way * reach, y])
    line = Path.line((x - way * reach, y), tip)
    wings = [tip + head * np.array([-way, s * 0.4]) for s in (-1.0, 1.0)]
    arrow = Path.polyline([wings[0], tip, wings[1]])
    return (Stroke(line, Role.GRAIN), Stroke(arrow, Role.MARK)), line


def _measured(start: tuple[float, float], end: tuple[float, float], words: str, size: float) -> list[Item]:
    """A dimension line with its words beside it, upright or reading from the bottom up."""
    a, b = np.array(start), np.array(end)
    way = (b - a) / (np.hypot(*(b - a)) or 1.0)
    side = np.array([-way[1], way[0]]) * size * 0.5
    middle = 0.5 * (a + b)
    upright = abs(way[0]) < 0.5
    at = middle + (np.array([-0.6 * size, 0.0]) if upright else np.array([0.0, 1.3 * size]))
    ends = [Stroke(Path.line(p - side, p + side), Role.GUIDE) for p in (a, b)]
    label = Label(words, (float(at[0]), float(at[1])), size, "middle", -90.0 if upright else 0.0)
    return [Stroke(Path.line(a, b), Role.GUIDE), *ends, label]


def _edges(plan: Plan, length: float, size: float) -> list[Item]:
    """The cloth's folds and selvages with their names."""
    width = plan.width_mm
    folded = {"open": (), "selvages to the middle": (0.0, width)}.get(plan.folding, (0.0,))
    items: list[Item] = []
    for y in (0.0, width):
        fold = y in folded
        path = Path.line((0.0, y), (length, y))
        items.append(Stroke(path, Role.FOLD if fold else Role.GUIDE))
        at = (0.0, y - 0.5 * size if y == 0.0 else y + 1.1 * size)
        items.append(Label("fold" if fold else "selvages" if plan.layers > 1 else "selvage", at, size))
    return items


def lay_plan_drawing(plan: Plan, titles: Mapping[str, str], unit: str = "cm") -> Drawing:
    """Draw a lay plan.

    Args:
        plan: Where each piece lies; one that was stopped shows empty cloth.
        titles: Names of the pieces as printed, by name.
        unit: Unit for lengths in words, such as ``cm`` or ``in``.

    Returns:
        The drawing, in cloth coordinates.
    """
    length = max(plan.length_mm, 1.0)
    wide = max(length, plan.width_mm)
    enlarged = wide / _SCREEN_UNITS
    size = 4.6 * enlarged
    shades: list[Item] = [
        Box(0.0, 0.0, length, plan.width_mm, "cloth", tone="cloth"),
        *(Area(_outline(p), "second" if p.on_fold else "piece") for p in plan.placed),
    ]
    pieces: list[Item] = []
    names: list[Item] = []
    for placed in plan.placed:
        data = (
            ("piece", placed.piece),
            ("copy", str(placed.copy)),
            ("turned", str(placed.turned)),
            ("mirrored", str(placed.mirrored).lower()),
            ("on-fold", str(placed.on_fold).lower()),
        )
        title = titles.get(placed.piece, placed.piece)
        cut = Stroke(_outline(placed), Role.CUT, closed=True)
        pieces.append(Group("placed", (cut,), data, title))
        arrow, line = _grain_arrow(placed, enlarged)
        room = Room(placed.outline, 0.7 * enlarged)
        room.keep_clear(line)
        names += [*arrow, *room.put_lines(title, _words(placed))]
    below = plan.width_mm + 3.4 * size
    bought = f", buy {format_length(plan.buy_mm, unit)}" if plan.buy_mm else ""
    words = f"length {format_length(plan.length_mm, unit)}{bought}"
    rim: list[Item] = [
        *_edges(plan, length, size),
        *_measured((0.0, below), (length, below), words, size),
        *_measured(
            (-1.6 * size, 0.0),
            (-1.6 * size, plan.width_mm),
            f"{'width' if plan.layers == 1 else 'width as folded'} {format_length(plan.width_mm, unit)}",
            size,
        ),
    ]
    bounds: Bounds = (-4.0 * size, -2.5 * size, length + 2.0 * size, below + 2.5 * size)
    cloth = plan.cloth_name
    return Drawing(
        title=f"Lay plan: {cloth}",
        summary=f"{len(plan.placed)} outlines on {cloth} cloth, {plan.folding}: "
        f"{format_length(plan.length_mm, unit)} of {format_length(plan.cloth.width_mm, unit)} wide cloth",
        items=(
            Group("shades", tuple(shades)),
            *pieces,
            Group("names", tuple(names)),
            Group("rim", tuple(rim)),
        ),
        bounds=bounds,
    )


def lay_plan_svg(plan: Plan, titles: Mapping[str, str], unit: str = "cm") -> str:
    """Return a lay plan as SVG at 1 unit to the mm; arguments as for ``lay_plan_drawing``."""
    pen = max(plan.length_mm, plan.width_mm, 1.0) / _SCREEN_UNITS
    return svg(lay_plan_drawing(plan, titles, unit), pen=pen)
