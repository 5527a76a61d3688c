"""Awkward shapes on which every operation of geometry must either work or refuse in words."""

import numpy as np

from likesewn.geometry import Path

QUARTER = 0.5522847498307934  # 4/3 (sqrt 2 - 1), the usual cubic quarter circle


def cubic(*points):
    return Path(np.array([points], dtype=float))


def quarter(radius=100.0):
    """From (r, 0) to (0, r), turning from x towards y."""
    k = QUARTER * radius
    return cubic((radius, 0), (radius, k), (k, radius), (0, radius))


def circle(radius=100.0):
    return Path.join([quarter(radius).moved(np.pi / 2 * turn) for turn in range(4)])


def arc(radius, angle, pieces=8):
    """An arc from angle 0, by cubics whose radius is right to about 1e-9 of it for a quarter turn."""
    step = angle / pieces
    k = 4.0 / 3.0 * np.tan(step / 4.0) * radius
    c, s = np.cos(step), np.sin(step)
    end = radius * np.array([c, s])
    one = cubic((radius, 0), (radius, k), end + k * np.array([s, -c]), end)
    return Path.join([one.moved(step * turn) for turn in range(pieces)])


def ellipse(a, b, pieces=64):
    """An ellipse by cubics with exact tangents: error about 1e-9 of its size."""
    return Path(arc(1.0, 2.0 * np.pi, pieces).segments * np.array([a, b]))


ARMHOLE = Path(
    np.array(
        [
            [(205, 42), (191, 87), (186, 128), (198, 164)],
            [(198, 164), (210, 200), (232, 232), (260, 240)],
        ],
        dtype=float,
    )
)

SHAPES = {
    "line": Path.line((0, 0), (100, 30)),
    "no length": cubic((5, 5), (5, 5), (5, 5), (5, 5)),
    "doubled points": Path.polyline([(0, 0), (10, 0), (10, 0), (20, 5), (20, 5)]),
    "doubled ends": Path.polyline([(0, 0), (0, 0), (10, 0), (20, 5), (20, 5)]),
    "collinear": Path.polyline([(0, 0), (10, 10), (20, 20), (50, 50)]),
    "uneven line": cubic((0, 0), (1, 0), (90, 0), (100, 0)),
    "there and back": Path.polyline([(0, 0), (100, 0), (40, 0)]),
    "line doubling back": cubic((0, 0), (200, 0), (-100, 0), (100, 0)),
    "needle": Path.polyline([(0, 0), (100, 0), (0, 1e-3)]),
    "corner": Path.polyline([(0, 0), (100, 0), (100, 80)]),
    "step": Path.polyline([(0, 0), (100, 0), (100, 5), (200, 5)]),
    "square": Path.polyline([(0, 0), (100, 0), (100, 100), (0, 100), (0, 0)]),
    "cusp": cubic((0, 0), (100, 80), (0, 80), (100, 0)),
    "near cusp": cubic((0, 0), (100, 80), (1e-4, 80), (100, 0)),
    "loop": cubic((0, 0), (130, 80), (-30, 80), (100, 0)),
    "tiny": Path(quarter().segments * 1e-8),
    "huge": Path(quarter().segments * 1e4),
    "far away": quarter().moved(by=(1e5, -1e5)),
    "handle on start": cubic((0, 0), (0, 0), (60, 40), (100, 0)),
    "handle on end": cubic((0, 0), (30, 40), (100, 0), (100, 0)),
    "both handles on ends": cubic((0, 0), (0, 0), (100, 50), (100, 50)),
    "handle nearly on start": cubic((0, 0), (1e-12, 1e-13), (60, 40), (100, 0)),
    "handles together": cubic((0, 0), (50, 60), (50, 60 + 1e-12), (100, 0)),
    "inflection": cubic((0, 0), (60, 80), (40, -80), (100, 0)),
    "arch": cubic((0, 0), (0, 60), (40, 60), (40, 0)),
    "quarter": quarter(),
    "circle": circle(),
    "armhole": ARMHOLE,
    "sliver joint": Path(
        np.array(
            [[(0, 0), (30, 0), (60, 10), (100, 10)], [(100, 10), (100 + 1e-9, 10), (140, 10), (150, 30)]]
        )
    ),
}
"""By name; every path that can be built at all."""

MEETING_ITSELF = {"loop", "there and back"}
"""The names of those that meet themselves, beyond a common end point."""

REFUSED = {
    "empty": np.zeros((0, 4, 2)),
    "not a number": np.full((1, 4, 2), np.nan),
    "without end": np.array([[(0, 0), (1, 0), (np.inf, 0), (3, 0)]]),
}
"""Control points of which no path can be made."""
