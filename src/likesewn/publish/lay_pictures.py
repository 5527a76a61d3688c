"""Pictures of how to photograph a garment: where the sheets lie, how to stand, what to avoid.

They stand on the first page of the printed sheets and in the documentation; each is drawn in a frame of
``WIDTH`` by ``HEIGHT`` mm.
"""

import numpy as np

from likesewn.geometry import Path
from likesewn.publish.drawing import Area, Box, Drawing, Item, Label, Role, Stroke

__all__ = ["HEIGHT", "WIDTH", "lay_pictures"]

WIDTH, HEIGHT = 84.0, 60.0

# half of a long-sleeved top lying flat, from the neck down the viewer's right to the hem
_HALF_TOP = (
    (0.0, -14.2), (3.2, -15.0), (5.2, -17.5), (12.5, -14.8), (20.0, 2.5), (16.2, 4.4), (9.4, -7.0),
    (9.6, 16.0), (0.0, 16.6),
)  # fmt: skip


def _line(*points: tuple[float, float], role: Role = Role.MARK, closed: bool = False) -> Stroke:
    ring = (*points, points[0]) if closed else points
    return Stroke(Path.polyline(ring), role, closed=closed)


def _top(x: float, y: float, scale: float = 1.0) -> list[Item]:
    """A top lying flat, its middle at (x, y)."""
    right = np.array(_HALF_TOP) * scale
    left = right[::-1] * (-1.0, 1.0)
    ring = np.concatenate([right, left[1:]]) + np.array([x, y])
    path = Path.polyline(ring)
    return [Area(path, "piece"), Stroke(path, Role.CUT, closed=True)]


def _paper(x: float, y: float, number: int, wide: float = 9.0, high: float = 12.6) -> list[Item]:
    """A small reference sheet with its middle at (x, y)."""
    left, top = x - wide / 2, y - high / 2
    items: list[Item] = [Box(left, top, wide, high, "paper", "paper", Role.GUIDE)]
    cell = wide / 7.5
    for row in range(8):
        for column in range(6):
            if (row + column) % 2 == 0:
                dark_x, dark_y = x + (column - 3) * cell, y + (row - 4) * cell
                items.append(Box(dark_x, dark_y, cell, cell, "dark", "slate"))
    if number:
        items += [
            Box(x - 2.0, y - 2.2, 4.0, 4.4, "number", "paper"),
            Label(str(number), (x, y + 1.5), 4.0, "middle", bold=True),
        ]
    return items


def _table() -> Box:
    return Box(0.0, 0.0, WIDTH, HEIGHT, "table", "cloth")


def _lay() -> list[Item]:
    items: list[Item] = [_table(), *_top(42.0, 30.5, 1.25)]
    for number, (x, y) in enumerate(((8.0, 9.5), (76.0, 9.5), (8.0, 50.5), (76.0, 50.5)), start=1):
        items += _paper(x, y, number)
    return items


def _stand() -> list[Item]:
    floor = 54.0
    items: list[Item] = [
        Box(0.0, floor, WIDTH, HEIGHT - floor, "table", "cloth"),
        _line((0.0, floor), (WIDTH, floor), role=Role.CUT),
        Box(27.0, floor - 1.6, 30.0, 1.6, "garment", "piece", Role.CUT),
        _line((12.0, floor - 0.5), (24.0, floor - 0.5), role=Role.CUT),
        _line((60.0, floor - 0.5), (72.0, floor - 0.5), role=Role.CUT),
        Label("sheet", (18.0, floor + 4.4), 3.0, "middle", tone="slate"),
        Label("garment", (42.0, floor + 4.4), 3.0, "middle", tone="slate"),
        Label("sheet", (66.0, floor + 4.4), 3.0, "middle", tone="slate"),
        Box(35.0, 6.0, 14.0, 2.4, "phone", "ink"),
        Label("phone, level", (51.0, 8.2), 3.0),
        _line((42.0, 9.0), (10.0, floor), role=Role.SEAM),
        _line((42.0, 9.0), (74.0, floor), role=Role.SEAM),
        _line((79.0, 9.0), (79.0, floor - 0.6)),
        _line((77.8, 11.4), (79.0, 9.0), (80.2, 11.4)),
        _line((77.8, floor - 3.0), (79.0, floor - 0.6), (80.2, floor - 3.0)),
        Label("1.5 to 2 m (5 to 6 ft)", (77.4, 31.0), 3.0, "middle", -90.0),
    ]
    return items


def _cross(x: float, y: float) -> list[Item]:
    return [
        _line((x - 2.6, y - 2.6), (x + 2.6, y + 2.6), role=Role.SHOWN),
        _line((x - 2.6, y + 2.6), (x + 2.6, y - 2.6), role=Role.SHOWN),
    ]


def _avoid() -> list[Item]:
    items: list[Item] = [_table()]
    for middle, words in ((14.0, "cloth on a sheet"), (42.0, "all on one side"), (70.0, "curled")):
        items.append(Label(words, (middle, 55.5), 2.7, "middle"))
        items += _cross(middle, 46.5)
    items += [*_paper(14.0, 31.0, 0, 8.0, 11.2), *_top(14.0, 18.0, 0.6)]
    items += [*_top(38.5, 22.0, 0.46), *_paper(51.5, 14.0, 0, 5.0, 7.0), *_paper(51.5, 31.0, 0, 5.0, 7.0)]
    for x in (28.0, 56.5):
        items.append(_line((x, 5.0), (x, 57.0), role=Role.GUIDE))
    bulge = [np.array(p) for p in ((58.5, 28.0), (64.0, 16.0), (76.0, 16.0), (81.5, 28.0))]
    items += [
        Stroke(Path(np.array([bulge])), Role.CUT),
        _line((57.5, 28.4), (82.5, 28.4), role=Role.GUIDE),
    ]
    return items


def _measure() -> list[Item]:
    items: list[Item] = [_table(), Box(6.0, 7.0, 72.0, 46.0, "paper", "paper", Role.GUIDE)]
    left, right, y = 11.0, 73.0, 16.0
    items.append(_line((left, y), (right, y)))
    for i in range(21):
        x = left + (right - left) * i / 20
        items.append(_line((x, y), (x, y - (3.4 if i % 5 == 0 else 1.8))))
    items += [
        Label("0", (left, y - 4.4), 3.0, "middle"),
        Label("200 mm", (right - 4.5, y - 4.4), 3.0, "middle"),
        Box(8.6, y + 1.2, 67.0, 8.0, "rule", "second", Role.MARK),
        Label("your own rule or tape", (42.0, y + 6.4), 3.0, "middle"),
    ]
    for i in range(27):
        x = left + (right - left) * i / 25 if i <= 25 else left
        items.append(_line((x, y + 1.2), (x, y + (3.6 if i % 5 == 0 else 2.6))))
    for row in range(4):
        for column in range(16):
            if (row + column) % 2 == 0:
                items.append(Box(18.0 + column * 3.0, 32.0 + row * 4.5, 3.0, 4.5, "dark", "slate"))
    return items


def lay_pictures() -> tuple[tuple[Drawing, str], ...]:
    """Return the pictures, each with the words that go below it."""
    bounds = (0.0, 0.0, WIDTH, HEIGHT)
    return (
        (
            Drawing("1. Check the print", "A rule lies along the printed ruler.", tuple(_measure()), bounds),
            (
                "Print at actual size (100 %), not fitted to the page. Measure a printed ruler each way. "
                "If 200 mm come out as 199.2 mm, say --printed-ruler 199.2mm."
            ),
        ),
        (
            Drawing(
                "2. Lay sheets round the garment", "Four sheets at a top's corners.", tuple(_lay()), bounds
            ),
            (
                "Printed side up, flat on the table, near the garment but not under it, each number once. "
                "Four at the corners are best; two go on opposite sides."
            ),
        ),
        (
            Drawing(
                "3. Stand above the middle", "A phone held level above a table.", tuple(_stand()), bounds
            ),
            (
                "Hold the phone level. All sheets must be in the picture, and fill it. Use even light and no "
                "flash. Two or three photographs from different sides make it surer."
            ),
        ),
        (
            Drawing("4. Not like this", "Three lays to avoid, crossed out.", tuple(_avoid()), bounds),
            (
                "Keep cloth and hands off the sheets, put sheets on opposite sides, and weigh down a sheet "
                "that curls, outside its squares."
            ),
        ),
    )
