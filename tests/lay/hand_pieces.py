"""Cut pieces drawn by hand, as polygons, for tests of the lay."""

from itertools import pairwise

import numpy as np

from likesewn.cut.cutlist import CutList, CutPiece
from likesewn.garment import Edge
from likesewn.geometry import Path

DOWN = ((0.0, 0.0), (0.0, 50.0))
ACROSS = ((0.0, 0.0), (50.0, 0.0))


def piece(name, points, *, copies=1, on_fold=False, grain=DOWN, cloth="main"):
    """Return a cut piece with straight edges and no allowance.

    A piece on the fold runs from the top of its fold round to the bottom; the fold edge closes it.
    """
    at = [*points, points[0]]
    seam, cut = [], {}
    for i, (start, end) in enumerate(pairwise(at)):
        fold = on_fold and i == len(points) - 1
        edge_name = "fold" if fold else f"e{i}"
        path = Path.line(start, end)
        seam.append(Edge(edge_name, edge_name, "", f"c{i}", f"c{(i + 1) % len(points)}", path, fold=fold))
        if not fold:
            cut[edge_name] = path
    return CutPiece(
        name=name,
        title=name.title(),
        copies=copies,
        on_fold=on_fold,
        cloth=cloth,
        seam=tuple(seam),
        cut=cut,
        allowances=dict.fromkeys(cut, 0.0),
        notches=(),
        grain=Path.line(*grain),
        labels=(),
    )


def cut_list(*pieces):
    return CutList("hand-drawn", tuple(pieces), (), (), ())


def rectangle(name, width, height, **more):
    return piece(name, [(0, 0), (width, 0), (width, height), (0, height)], **more)


def body(name, half, length, neck, **more):
    """Return half of a top's front or back with a round-ish neck and an armhole."""
    points = [
        (0, neck),
        (0.25 * half, 0.8 * neck),
        (0.33 * half, 0),
        (0.78 * half, 0.06 * length),
        (0.74 * half, 0.22 * length),
        (half, 0.36 * length),
        (half, length),
        (0, length),
    ]
    return piece(name, points, on_fold=True, **more)


def sleeve(name="sleeve", half=190, length=630, cuff=115, **more):
    points = [(0, 0), (0.5 * half, 45), (half, 140), (cuff, length), (0, length)]
    return piece(name, points, on_fold=True, copies=2, **more)


def uneven(name, scale=1.0, **more):
    """Return a piece whose two sides differ, so that it needs a left and a right."""
    points = np.array([(0, 40), (120, 0), (300, 90), (260, 500), (60, 470)]) * scale
    return piece(name, points.tolist(), **more)


def top(half=270.0, length=695.0):
    """Return a four-piece top with a band, in about the sizes of a grown person's."""
    return cut_list(
        body("front", half, length, 0.14 * length),
        body("back", half, length, 0.03 * length),
        sleeve(half=0.7 * half, length=0.9 * length, cuff=0.43 * half),
        rectangle("neckband", 1.7 * half, 50),
    )
