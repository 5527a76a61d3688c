"""Facings repeat the edge that they lie behind."""

from dataclasses import replace

import numpy as np
import pytest

from likesewn.cut import cut
from likesewn.cut.facings import FACING_DEPTH, INNER, facings_for
from likesewn.cut.opening import opening_of
from likesewn.garment import Figure, Pattern, PatternPiece, Record, Weight
from likesewn.garment.kinds import load_kind
from likesewn.geometry import closest, flatten
from likesewn.truing import true
from samples import sample_pattern

KIND = load_kind("set-in-sleeve-top")
FACED = Record(
    "Throwing top", KIND.name, finish={"neck": {"finish": "facing", "recorded_at": "finished edge"}}
)


def facings_of(pattern: Pattern) -> dict[str, PatternPiece]:
    opening = opening_of(pattern, KIND.finishes[0])
    assert opening is not None
    facings = facings_for(opening)
    assert None not in facings
    return {f.name.removesuffix("_facing"): f for f in facings if f is not None}


@pytest.mark.parametrize("name", ["front", "back"])
def test_facing_repeats_the_neckline_and_lies_one_depth_behind_it(name):
    pattern = sample_pattern()
    piece, facing = pattern.piece(name), facings_of(pattern)[name]
    assert facing.on_fold
    assert facing.edges[-1].fold
    assert np.array_equal(facing.edge("neckline").path.segments, piece.edge("neckline").path.segments)
    inner = flatten(facing.edge(INNER).path, 0.01)
    away = closest(piece.edge("neckline").path, inner)
    middle = (away.along > 1.0) & (away.along < piece.edge("neckline").path.length - 1.0)
    # the front is drawn first; the back gives or takes a little, to meet it along the shoulder
    depth = away.distance[middle]
    assert depth == pytest.approx(np.median(depth), abs=0.05)
    assert depth == pytest.approx(FACING_DEPTH, abs=0.05 if name == "front" else 1.0)
    # its shoulder is a part of the piece's own
    on_shoulder = flatten(facing.edge("shoulder").path, 0.01)
    assert closest(piece.edge("shoulder").path, on_shoulder).distance == pytest.approx(0.0, abs=1e-6)
    for before, after in zip(facing.edges, facing.edges[1:] + facing.edges[:1], strict=True):
        assert before.path.end == pytest.approx(after.path.start, abs=1e-6)


def test_facings_are_cut_like_their_pieces():
    cut_list = cut(sample_pattern(), FACED)
    assert [p.name for p in cut_list.pieces[-2:]] == ["front_facing", "back_facing"]
    for name in ("front", "back"):
        piece, facing = cut_list.piece(name), cut_list.piece(f"{name}_facing")
        assert facing.allowances == {"neckline": 6.0, "shoulder": 10.0, INNER: 0.0}
        assert facing.cut["neckline"].segments == pytest.approx(piece.cut["neckline"].segments, abs=1e-9)
        # the marks that they are pinned together by
        marks = [(n.name, n.along_mm) for n in piece.notches if n.edge == "neckline"]
        assert [(n.name, n.along_mm) for n in facing.notches] == marks
        assert f"{name} neck centre" in [mark for mark, _ in marks]
    assert cut_list.bands == ()
    assert all(f.weight is not Weight.STOP for f in cut_list.findings)


def test_short_shoulder_takes_a_narrower_facing():
    pattern = sample_pattern()

    def shortened(piece: PatternPiece) -> PatternPiece:
        edges = tuple(
            replace(e, path=e.path.line(e.path.start, e.path.start + 0.2 * (e.path.end - e.path.start)))
            if e.name == "shoulder"
            else e
            for e in piece.edges
        )
        return replace(piece, edges=edges)

    # one short shoulder narrows both: they are joined there
    pieces = tuple(shortened(p) if p.name == "front" else p for p in pattern.pieces)
    facings = facings_of(replace(pattern, pieces=pieces))
    shoulder = pieces[0].edge("shoulder").path.length
    for name in ("front", "back"):
        neckline = pattern.piece(name).edge("neckline").path
        depth = closest(neckline, facings[name].edge(INNER).path.start[None]).distance[0]
        assert depth == pytest.approx(0.7 * shoulder, rel=0.05)


@pytest.mark.parametrize(
    "figures", [(660.0, 520.0, 590.0), (300.0, 210.0, 90.0), (850.0, 850.0, 650.0)], ids=str
)
def test_facings_match_along_the_seam_that_joins_them(figures):
    keys = ("body_length", "chest_width", "sleeve_length")
    pattern = true(
        Record("Top", KIND.name, tape={k: Figure(mm) for k, mm in zip(keys, figures, strict=True)}), KIND
    )
    assert isinstance(pattern, Pattern)
    front, back = (facings_of(pattern)[name].edge("shoulder").path.length for name in ("front", "back"))
    assert back == pytest.approx(front, abs=2e-3)
    assert front > 20.0
