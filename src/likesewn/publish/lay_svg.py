"""The lay plan as a picture: the folded cloth, the pieces on it, and how long it is.

The cloth's length runs along x from 0 and its width along y from 0, at 1 unit to the mm.
"""

from collections.abc import Iterator, Mapping

import numpy as np
import shapely

from likesewn.geometry import Path
from likesewn.lay import Placed, Plan, place_words
from likesewn.lay.folds import fold_cloth
from likesewn.publish.drawing import Area, Bounds, Box, Drawing, Group, Item, Label, Role, Stroke
from likesewn.publish.lettering_room import Room
from likesewn.publish.svg import svg
from likesewn.units import format_length

__all__ = ["lay_plan_drawing", "lay_plan_svg", "numbered", "placed_words"]

_SCREEN_UNITS = 300.0  # a picture this wide shows lettering at its own size


def _outline(placed: Placed) -> Path:
    return Path.polyline(np.concatenate([placed.outline, placed.outline[:1]]))


def numbered(plan: Plan) -> tuple[tuple[int, Placed], ...]:
    """Return what is placed with its number in the order of cutting; what is cut in one go shares one."""
    out: list[tuple[int, Placed]] = []
    number = 0
    for placed in plan.placed:
        number += not (placed.along_with and placed.top > 1)
        out.append((number, placed))
    return tuple(out)


def placed_words(
    plan: Plan, placed: Placed, number: int, titles: Mapping[str, str], unit: str
) -> tuple[str, ...]:
    """Say of a piece on the cloth: its number in the order of cutting, copies, how it lies."""
    last = placed.copy + placed.copies - 1
    between = "and" if last == placed.copy + 1 else "to"
    copies = f"copy {placed.copy}" if last <= placed.copy else f"copies {placed.copy} {between} {last}"
    words = [f"cut no. {number}", copies]
    if placed.on_fold:
        words.append("on the fold")
    if _worth_saying(plan, placed):
        words.append(_layers(plan, placed))
    if placed.along_with:
        words.append(f"together with {titles.get(placed.along_with, placed.along_with).lower()}")
    if placed.turned == 180:
        words.append("turned round")
    elif placed.turned:
        words.append(f"turned by {placed.turned:g}°")
    if placed.mirrored and not placed.on_fold:
        words.append("paper face down")
    if not placed.on_fold:
        words.append(place_words(plan, placed, unit))
    return tuple(words)


def _worth_saying(plan: Plan, placed: Placed) -> bool:
    """True where someone who cuts may wonder through which layers."""
    single = plan.folding == "part fold" and float(placed.outline[:, 1].min()) >= plan.fold_depth_mm - 1e-6
    return plan.layers > 1 and not single and not (placed.on_fold and plan.layers == placed.layers == 2)


def _layers(plan: Plan, placed: Placed) -> str:
    if placed.layers == plan.layers:
        return {2: "through both layers", 4: "through all four layers"}[placed.layers]
    last = placed.top + placed.layers - 1
    if placed.layers == 1:
        return "top layer only" if placed.top == 1 else "lower layer only"
    return f"layers {placed.top} and {last}"


def _grain_arrow(placed: Placed, enlarged: float) -> tuple[tuple[Item, ...], Path]:
    """An arrow along the piece's grain, pointing the way its lower end lies."""
    left, top = placed.outline.min(axis=0)
    right, bottom = placed.outline.max(axis=0)
    angle = np.radians(placed.turned)
    way = np.array([np.cos(angle), np.sin(angle)])
    side = np.array([-way[1], way[0]])
    reach = 0.16 * min(right - left, 2.0 * (bottom - top) if abs(way[1]) > 0.5 else np.inf)
    head = 3.2 * enlarged
    # near the piece's own middle, where every outline has cloth on both sides
    middle = np.array([0.5 * (left + right), top + 0.3 * (bottom - top)])
    line = Path.line(middle - reach * way, middle + reach * way)
    wings = [line.end - head * (way - s * 0.4 * side) for s in (-1.0, 1.0)]
    arrow = Path.polyline([wings[0], line.end, wings[1]])
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


def _edge_names(plan: Plan) -> tuple[str, str]:
    """What the two long sides of the cloth are, as it lies."""
    match plan.folding:
        case "open":
            return "selvage", "selvage"
        case "selvages to the middle":
            return "fold", "fold"
        case "folded twice":
            return "two folds", "fold and selvages"
        case "folded":
            return "fold", "selvages"
        case "part fold":
            return "fold", "selvage"
        case _:
            return "selvages", "selvages"


def _edges(plan: Plan, length: float, size: float) -> Iterator[Item]:
    """The cloth's folds and selvages with their names."""
    width = plan.width_mm
    names = ("", "") if plan.cloth.outline else _edge_names(plan)
    for y, name in zip((0.0, width), names, strict=True):
        fold = name in {"fold", "two folds"}
        yield Stroke(Path.line((0.0, y), (length, y)), Role.FOLD if fold else Role.GUIDE)
        if name:
            yield Label(name, (0.0, y - 0.5 * size if y == 0.0 else y + 1.1 * size), size)
    inner = {"part fold": plan.fold_depth_mm, "selvages to the middle": width / 2}.get(plan.folding)
    if inner is not None:
        yield Stroke(Path.line((0.0, inner), (length, inner)), Role.GUIDE)
        name = "edge of the flap" if plan.folding == "part fold" else "selvages meet"
        yield Label(name, (length + 0.5 * size, inner + 0.3 * size), size)
    if plan.folding == "crosswise":
        yield Stroke(Path.line((0.0, 0.0), (0.0, width)), Role.FOLD)
        yield Label("fold", (0.9 * size, width - 0.5 * size), size)
    if plan.cloth.nap:
        y = -0.9 * size
        tip = np.array([length, y])
        yield Stroke(Path.line((length - 12.0 * size, y), tip), Role.GRAIN)
        wings = [tip + size * np.array([-0.7, s * 0.3]) for s in (-1.0, 1.0)]
        yield Stroke(Path.polyline([wings[0], tip, wings[1]]), Role.MARK)
        yield Label("nap", (length - 12.5 * size, y + 0.3 * size), size, "end")


def _spoilt(plan: Plan, length: float) -> Iterator[Item]:
    """What of the cloth cannot be used, in any layer, within the lay."""
    if not plan.cloth.spoilt:
        return
    lying = fold_cloth(plan.cloth, plan.folding, plan.fold_depth_mm)
    for polygon in dict.fromkeys(polygon for layer in lying.blocked for polygon in layer):
        left, low, right, high = polygon.bounds
        inside = polygon.intersection(shapely.box(max(left, 0.0), low, min(right, length), high))
        for part in shapely.get_parts(inside):
            if isinstance(part, shapely.Polygon) and part.area > 0:
                ring = Path.polyline(np.asarray(part.exterior.coords))
                yield Area(ring, "paper")
                yield Stroke(ring, Role.SHOWN)


def lay_plan_drawing(
    plan: Plan, titles: Mapping[str, str], unit: str = "cm", *, lettered: bool = True
) -> Drawing:
    """Draw a lay plan.

    Args:
        plan: Where each piece lies; one that was stopped shows empty cloth.
        titles: Names of the pieces as printed, by name.
        unit: Unit for lengths in words, such as ``cm`` or ``in``.
        lettered: Whether names and words stand on the pieces; finding room for them takes time.

    Returns:
        The drawing, in cloth coordinates.
    """
    length = max(plan.lies_mm, 1.0)
    wide = max(length, plan.width_mm)
    enlarged = wide / _SCREEN_UNITS
    size = 4.6 * enlarged
    shades: list[Item] = [
        Box(0.0, 0.0, length, plan.width_mm, "cloth", tone="cloth"),
        *_spoilt(plan, length),
        *(Area(_outline(p), "second" if p.on_fold else "piece") for p in plan.placed),
    ]
    pieces: list[Item] = []
    names: list[Item] = []
    rooms: dict[int, Room] = {}
    arrows: set[int] = set()
    # Pieces that are cut in one go share a number, and their names share the room.
    for number, placed in numbered(plan):
        data = (
            ("piece", placed.piece),
            ("copy", str(placed.copy)),
            ("turned", f"{placed.turned:g}"),
            ("mirrored", str(placed.mirrored).lower()),
            ("on-fold", str(placed.on_fold).lower()),
        )
        title = titles.get(placed.piece, placed.piece)
        cut = Stroke(_outline(placed), Role.CUT, closed=True)
        pieces.append(Group("placed", (cut,), data, title))
        arrow, line = _grain_arrow(placed, enlarged)
        room = rooms.get(number) if lettered else None
        if number not in arrows:
            arrows.add(number)
            names += arrow
            if lettered:
                room = rooms[number] = Room(placed.outline, 0.7 * enlarged)
                room.keep_clear(line)
        if room is not None:
            names += room.put_lines(title, placed_words(plan, placed, number, titles, unit))
    below = plan.width_mm + 3.4 * size
    bought = f", buy {format_length(plan.buy_mm, unit)}" if plan.buy_mm else ""
    if plan.cloth.length_mm is not None and plan.placed:
        bought = f" of the {format_length(plan.cloth.length_mm, unit)} in hand"
    words = f"length {format_length(plan.length_mm, unit)}{bought}"
    if plan.folding == "crosswise":
        words = f"{format_length(plan.lies_mm, unit)} as folded, {words}"
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
    beside = [label for label in rim if isinstance(label, Label) and label.at[0] > length]
    right = max((float(label.corners()[:, 0].max()) for label in beside), default=length)
    bounds: Bounds = (-4.0 * size, -2.5 * size, max(length + 2.0 * size, right + size), below + 2.5 * size)
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
    pen = max(plan.lies_mm, plan.width_mm, 1.0) / _SCREEN_UNITS
    return svg(lay_plan_drawing(plan, titles, unit), pen=pen)
