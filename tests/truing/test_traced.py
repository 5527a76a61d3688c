"""Points traced with noise off a known pattern, in its own frame and in any other."""

import numpy as np
import pytest

from likesewn.garment import Pattern, Record, TracedPoints
from likesewn.geometry import closest, point_at
from tops import TOP, assert_sewn, basis, record, tape, trued

TRACED = {
    "front": ("neckline", "shoulder", "armhole", "side", "hem"),
    "back": ("neckline",),
    "sleeve": ("cap", "underarm", "cuff"),
}
"""Front and back are alike but for the neckline, so the rest is traced on one of them."""

NEEDED = {key: mm for key, mm in basis().items() if TOP.measures[key].needed}


def known() -> Pattern:
    return trued(record(**basis(), sleeve_width=195, cuff_width=112, waist_width=470, waist_level=410))


def traced(
    pattern: Pattern, frame: str, *, backward: bool = False, bias: float = 0.0
) -> tuple[TracedPoints, ...]:
    rng = np.random.default_rng(2)
    c, s = np.cos(2.3), np.sin(2.3)
    turn = np.array([[c, s], [-s, c]])
    found = []
    for name, edges in TRACED.items():
        # the fold is what turns a free frame the right way: without it only the square corners would
        for edge in edges if frame == "piece" else (*edges, "fold"):
            path = pattern.piece(name).edge(edge).path
            at = point_at(path, np.linspace(0.0, path.length, 40)) + rng.normal(bias, 1.0, (40, 2))
            at = at[::-1] if backward else at
            if frame == "piece":
                found.append(TracedPoints(name, edge, at, 1.0))
            else:
                mirror = [1.0, -1.0] if frame == "mirrored" else [1.0, 1.0]
                at = (at * mirror) @ turn + [400.0, -150.0]
                # this fold lies on the centre, and that is known
                found.append(TracedPoints(name, edge, at, 1.0, "mat", off_centre_mm=0.0))
    return tuple(found)


def off(found: Pattern, wanted: Pattern, name: str, edge: str) -> float:
    path = wanted.piece(name).edge(edge).path
    places = point_at(path, np.linspace(0.0, path.length, 200))
    return float(np.sqrt(np.mean(closest(found.piece(name).edge(edge).path, places).distance ** 2)))


@pytest.mark.parametrize("backward", [False, True])
@pytest.mark.parametrize("frame", ["piece", "free", "mirrored"])
def test_recovered_within_half_a_millimetre(frame, backward):
    wanted = known()
    found = trued(
        Record("Traced", TOP.name, tape=tape(**NEEDED), points=traced(wanted, frame, backward=backward))
    )
    assert_sewn(found)
    assert not found.findings
    for name, edges in TRACED.items():
        for edge in edges:
            assert off(found, wanted, name, edge) <= 0.5, (name, edge)


def test_noise_is_halved_at_least():
    wanted = known()
    found = trued(Record("Traced", TOP.name, tape=tape(**NEEDED), points=traced(wanted, "piece")))
    misses = [off(found, wanted, name, edge) for name, edges in TRACED.items() for edge in edges]
    assert np.mean(misses) < 0.3


def test_an_edge_traced_on_the_left_half_is_mirrored():
    wanted = known()
    points = tuple(TracedPoints(p.piece, p.edge, p.at * [-1.0, 1.0], 1.0) for p in traced(wanted, "piece"))
    found = trued(Record("Traced", TOP.name, tape=tape(**NEEDED), points=points))
    assert off(found, wanted, "front", "armhole") <= 0.5
    assert found.piece("front").edge("armhole").path.segments[:, :, 0].min() > 0.0


def test_few_points_still_give_a_pattern():
    wanted = known()
    points = tuple(TracedPoints(p.piece, p.edge, p.at[[3, 20, 36]], 1.5) for p in traced(wanted, "piece"))
    found = trued(Record("Traced", TOP.name, tape=tape(**NEEDED), points=points))
    assert_sewn(found)
    for name, edges in TRACED.items():
        for edge in edges:
            assert off(found, wanted, name, edge) <= 3.0, (name, edge)
