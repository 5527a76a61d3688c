"""Edges moved sideways: by the distance asked, with all that sewing demands holding."""

import numpy as np
import pytest

from likesewn.garment import Pattern
from likesewn.geometry import closest, point_at
from likesewn.truing import move_edges
from tops import assert_sewn, basis, record, trued

NECK = ("front.neckline", "back.neckline")


def moved(before: Pattern, **moves: float) -> Pattern:
    after = move_edges(before, {k.replace("__", "."): v for k, v in moves.items()})
    assert_sewn(after)
    assert isinstance(after, Pattern)
    return after


@pytest.mark.parametrize("apart", [False, True])
@pytest.mark.parametrize("move", [-20.0, -8.0, 8.0, 20.0])
def test_a_neckline_moves_by_the_distance_all_along(move, apart):
    more = {"front_armhole_curve": 250.0, "back_armhole_curve": 262.0} if apart else {}
    before = trued(record(**basis(), **more))
    after = move_edges(before, dict.fromkeys(NECK, move))
    assert_sewn(after)
    for key in NECK:
        piece, edge = key.split(".")
        old, new = before.piece(piece), after.piece(piece)
        # the frame hangs on the neck point, which slid along the shoulder; the hem's centre stayed
        shift = new.corners["hem_centre"] - old.corners["hem_centre"]
        path = new.edge(edge).path
        places = point_at(path, np.linspace(0.05, 0.9, 30) * path.length) - shift
        distance = closest(old.edge(edge).path, places).distance
        assert distance == pytest.approx(np.full(30, abs(move)), abs=0.6), key
        assert (new.corners["neck_centre"] - shift - old.corners["neck_centre"])[1] * move > 0.0


def test_the_rest_stays_where_it_was():
    before = trued(record(**basis()))
    after = moved(before, front__neckline=10.0, back__neckline=10.0)
    for piece, edge in (("front", "side"), ("front", "hem"), ("sleeve", "cap"), ("sleeve", "underarm")):
        old, new = before.piece(piece), after.piece(piece)
        anchor = "hem_centre" if piece == "front" else "cuff_centre"
        shift = new.corners[anchor] - old.corners[anchor]
        path = new.edge(edge).path
        places = point_at(path, np.linspace(0.0, path.length, 30)) - shift
        assert closest(old.edge(edge).path, places).distance.max() < 0.3, (piece, edge)


def test_no_move_changes_nothing():
    before = trued(record(**basis()))
    after = moved(before, front__neckline=0.0)
    for old, new in zip(before.pieces, after.pieces, strict=True):
        for edge in old.edges:
            places = point_at(edge.path, np.linspace(0.0, edge.path.length, 20))
            assert closest(new.edge(edge.name).path, places).distance.max() < 0.05


def test_there_and_back():
    before = trued(record(**basis()))
    there = moved(before, front__neckline=12.0, back__neckline=12.0)
    back = moved(there, front__neckline=-12.0, back__neckline=-12.0)
    for name in ("front", "back"):
        path = before.piece(name).edge("neckline").path
        assert back.piece(name).edge("neckline").path.length == pytest.approx(path.length, abs=1.5)


def test_an_edge_that_is_not_there():
    with pytest.raises(KeyError, match=r"front\.frill"):
        move_edges(trued(record(**basis())), {"front.frill": 5.0})
