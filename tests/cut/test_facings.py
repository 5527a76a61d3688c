"""Facings repeat the edge that they lie behind."""

from dataclasses import replace

import numpy as np
import pytest

from likesewn.cut import cut
from likesewn.cut.edges import Place
from likesewn.cut.facings import FACING_DEPTH, INNER, facing_for
from likesewn.garment import Record, Weight
from likesewn.garment.kinds import load_kind
from likesewn.geometry import closest, flatten
from samples import sample_pattern

KIND = load_kind("set-in-sleeve-top")
FACED = Record(
    "Throwing top", KIND.name, finish={"neck": {"finish": "facing", "recorded_at": "finished edge"}}
)


@pytest.mark.parametrize("name", ["front", "back"])
def test_facing_repeats_the_neckline_and_lies_one_depth_behind_it(name):
    piece = sample_pattern().piece(name)
    facing = facing_for(Place(piece, piece.edge("neckline")), KIND.finishes[0])
    assert facing is not None
    assert facing.on_fold
    assert facing.edges[-1].fold
    assert np.array_equal(facing.edge("neckline").path.segments, piece.edge("neckline").path.segments)
    inner = flatten(facing.edge(INNER).path, 0.01)
    away = closest(piece.edge("neckline").path, inner)
    middle = (away.along > 1.0) & (away.along < piece.edge("neckline").path.length - 1.0)
    assert away.distance[middle] == pytest.approx(FACING_DEPTH, abs=0.05)
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
    assert cut_list.bands == ()
    assert all(f.weight is not Weight.STOP for f in cut_list.findings)


def test_short_shoulder_takes_a_narrower_facing():
    pattern = sample_pattern()
    piece = pattern.piece("front")
    short = replace(
        piece,
        edges=tuple(
            replace(e, path=e.path.line(e.path.start, e.path.start + 0.2 * (e.path.end - e.path.start)))
            if e.name == "shoulder"
            else e
            for e in piece.edges
        ),
    )
    facing = facing_for(Place(short, short.edge("neckline")), KIND.finishes[0])
    assert facing is not None
    depth = closest(short.edge("neckline").path, facing.edge(INNER).path.start[None]).distance[0]
    assert depth == pytest.approx(0.7 * short.edge("shoulder").path.length, rel=0.05)
