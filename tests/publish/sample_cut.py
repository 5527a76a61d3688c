"""Cut lists that the tests of this folder share."""

from dataclasses import replace
from datetime import date
from functools import cache

from likesewn.cut import CutList, CutPiece, cut
from likesewn.garment import Cloth, Edge, Fabric, Record, Wearer
from likesewn.geometry import Path
from samples import sample_pattern

TODAY = date(2031, 3, 14)


@cache
def sample_cut_list() -> CutList:
    """The kind's template as a throwing top with a neck band."""
    pattern = sample_pattern()
    record = Record(
        name="Throwing top",
        kind=pattern.kind.name,
        size="M",
        finish={"neck": {"recorded_at": "seam", "finish": "band"}},
        fabric=Fabric("knit", 0.5),
        cloths={"main": Cloth()},
        wearer=Wearer("Ines"),
    )
    return cut(pattern, record, today=TODAY)


def band_piece(length: float = 400.0, depth: float = 50.0) -> CutPiece:
    corners = [(0.0, 0.0), (length / 2, 0.0), (length / 2, depth), (0.0, depth)]
    names = ("upper", "join", "lower", "fold")
    edges = tuple(
        Edge(name, name, "", str(i), str((i + 1) % 4), Path.line(a, b), fold=name == "fold")
        for i, (name, a, b) in enumerate(zip(names, corners, corners[1:] + corners[:1], strict=True))
    )
    return CutPiece(
        name="neckband",
        title="Neckband",
        copies=1,
        on_fold=True,
        cloth="main",
        seam=edges,
        cut={e.name: e.path for e in edges if not e.fold},
        allowances={"upper": 0.0, "join": 0.0, "lower": 0.0},
        notches=(),
        grain=Path.line((150.0, 8.0), (150.0, 42.0)),
        labels=("Throwing top", "Cut 1 on the fold"),
    )


def one_piece(garment: str, title: str, labels: tuple[str, ...] = ()) -> CutList:
    """The smallest cut list: one strip, under whatever names."""
    strip = replace(band_piece(240.0, 60.0), title=title, labels=labels)
    return CutList(garment, (strip,), (), (), ())
