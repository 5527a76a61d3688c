"""Inputs of the benchmarks: a traced top, and skirts of any number of gores."""

import numpy as np

from likesewn.garment import Figure, Kind, Pattern, Record, TracedPoints, load_kind, read_kind
from likesewn.geometry import point_at
from likesewn.truing import true

__all__ = ["TOP", "gored_skirt", "traced_top"]

TOP = load_kind("set-in-sleeve-top")

TAPE = {
    "body_length": 660.0,
    "chest_width": 520.0,
    "sleeve_length": 590.0,
    "shoulder_width": 410.0,
    "neck_width": 176.0,
    "front_neck_drop": 95.0,
    "back_neck_drop": 22.0,
    "armhole_drop": 240.0,
    "hem_width": 530.0,
    "cuff_width": 108.0,
}

EDGES = (
    ("front", "neckline"),
    ("front", "shoulder"),
    ("front", "armhole"),
    ("front", "side"),
    ("front", "hem"),
    ("back", "neckline"),
    ("back", "armhole"),
    ("back", "side"),
    ("sleeve", "cap_front"),
    ("sleeve", "cap_back"),
)


def traced_top() -> tuple[Record, int]:
    """Return a top of four outlines (front, back, both sleeve halves) and how many points were traced.

    The points carry 1 mm of noise; front and back are told apart, so that nothing is solved once for two.
    """
    figures = {key: Figure(mm) for key, mm in TAPE.items()}
    apart = figures | {"front_armhole_curve": Figure(250.0), "back_armhole_curve": Figure(264.0)}
    known = true(Record("Top", TOP.name, tape=apart), TOP)
    if not isinstance(known, Pattern):
        raise TypeError(known.reason)
    rng = np.random.default_rng(1)
    points: list[TracedPoints] = []
    for piece, edge in EDGES:
        path = known.piece(piece).edge(edge).path
        at = point_at(path, np.linspace(0.0, path.length, 40)) + rng.normal(0.0, 1.0, (40, 2))
        points.append(TracedPoints(piece, edge, at, 1.0))
    return Record("Top", TOP.name, tape=figures, points=tuple(points)), 40 * len(EDGES)


def gored_skirt(gores: int) -> tuple[Record, Kind]:
    """Return a skirt of so many gores, no two alike, each sewn to the next and the last to the first."""
    shape = "shape = [[0.3333, 0], [0.6667, 0]]\nspans = 2\ncubics = 1\n"
    text = 'format = 1\nname = "gores"\ntitle = "Gores"\nsummary = "Gores in a ring."\n'
    figures: dict[str, Figure] = {"length": Figure(640.0)}
    for i in range(gores):
        name = f"gore{i}"
        text += (
            f'[pieces.{name}]\ntitle = "Gore"\ncopies = 1\non_fold = false\n'
            'square = ["a"]\nlevel = ["a"]\ngrain = ["a"]\n'
            f"[pieces.{name}.corners]\na = [0, 0]\nb = [120, 0]\nc = [220, 600]\nd = [-100, 600]\n"
        )
        for edge, start, end in (
            ("waist", "a", "b"),
            ("right", "b", "c"),
            ("hem", "c", "d"),
            ("left", "d", "a"),
        ):
            text += f'[[pieces.{name}.edges]]\nname = "{edge}"\nstart = "{start}"\nend = "{end}"\n{shape}'
        text += (
            f'[[seams]]\nname = "seam {i}"\nleft = "{name}.right"\nright = "gore{(i + 1) % gores}.left"\n'
            'reverse = true\nsmooth = [["waist", "waist", "start"], ["hem", "hem", "end"]]\n'
        )
        for edge, usual in (("waist", 110.0), ("hem", 300.0)):
            text += (
                f'[measures.{edge}{i}]\ntitle = "{edge} {i}"\nhow = "Along it."\nop = "along"\n'
                f'pieces = ["{name}"]\nedges = ["{edge}"]\n'
            )
            figures[f"{edge}{i}"] = Figure(usual + 3.0 * (i % 4))
    text += (
        '[measures.length]\ntitle = "Length"\nhow = "Along a seam."\nop = "along"\n'
        'pieces = ["gore0"]\nedges = ["right"]\nneeded = true\n'
    )
    kind = read_kind(text)
    return Record("Gores", kind.name, tape=figures), kind
