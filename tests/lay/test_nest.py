"""Open lays as a caller asks for them."""

import time
from itertools import count, pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from lay.hand_parts import CAP, HALF_TURNS, HOOK, QUARTER_TURNS, SQUARE, WEDGE, mixed
from likesewn.errors import InputError
from likesewn.lay.nest import Laid, Nested, Part, faults, nest
from likesewn.lay.nest.parts import turned

WIDTH = 420.0


def still():
    """A clock that stands: only steps end the search."""
    return 0.0


def test_squares_fill_the_strip_and_the_search_sees_that_it_is_done():
    found = nest([Part(SQUARE, 12)], 300.0, steps=10**9, clock=still, cores=1)
    assert found.length == pytest.approx(400.0, abs=1e-6)
    assert faults(found, [Part(SQUARE, 12)], 300.0) == []


def test_wedges_are_turned_to_make_up_oblongs():
    parts = [Part(WEDGE, 6, HALF_TURNS)]
    found = nest(parts, 300.0, steps=500, clock=still, cores=1)
    assert faults(found, parts, 300.0) == []
    assert found.length == pytest.approx(200.0, abs=1e-3)


def test_every_lay_on_the_way_is_sound_and_shorter():
    told: list[Nested] = []
    found = nest(mixed(), WIDTH, steps=600, clock=still, improved=told.append, cores=1)
    assert told[-1] == found
    assert all(faults(lay, mixed(), WIDTH) == [] for lay in told)
    assert all(b.length < a.length for a, b in pairwise(told))
    assert len(told) > 1


def test_the_same_seed_and_steps_give_the_same_lay():
    first, second = (nest(mixed(), WIDTH, steps=400, seed=3, clock=still, cores=1) for _ in range(2))
    assert first == second
    assert first != nest(mixed(), WIDTH, steps=400, seed=4, clock=still, cores=1)


def test_two_cores_with_steps_are_repeatable_and_no_worse_than_one():
    ones = [nest(mixed(), WIDTH, steps=150, seed=seed, clock=still, cores=1).length for seed in (5, 6)]
    twos = [nest(mixed(), WIDTH, steps=150, seed=5, clock=still, cores=2) for _ in range(2)]
    assert twos[0].laid == twos[1].laid
    assert twos[0].length == min(ones)


def test_time_alone_ends_the_search():
    ticks = count()
    parts = mixed()
    found = nest(parts, WIDTH, seconds=50.0, clock=lambda: float(next(ticks)), cores=1)
    assert faults(found, parts, WIDTH) == []
    assert next(ticks) < 5000


def test_two_cores_share_what_they_find():
    told: list[Nested] = []
    found = nest(mixed(), WIDTH, seconds=2.0, clock=time.monotonic, improved=told.append)
    assert faults(found, mixed(), WIDTH) == []
    assert told[-1].length == found.length
    assert all(b.length < a.length for a, b in pairwise(told))


@pytest.mark.parametrize("program", ["/nowhere/python", "/bin/false"])
def test_where_no_second_process_runs_one_search_goes_on(monkeypatch, program):
    monkeypatch.setattr("sys.executable", program)
    found = nest(mixed(), WIDTH, steps=100, clock=still, cores=2)
    assert found.laid == nest(mixed(), WIDTH, steps=100, clock=still, cores=1).laid


def test_stopping_by_hand_leaves_what_was_told():
    told: list[Nested] = []

    def stop_at_third(lay: Nested) -> None:
        told.append(lay)
        if len(told) == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        nest(mixed(), WIDTH, steps=5000, clock=still, improved=stop_at_third)
    assert faults(told[-1], mixed(), WIDTH) == []


def test_an_outline_of_many_corners_is_covered_by_its_stand_in():
    angle = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    round_part = np.column_stack([90 * np.cos(angle), 60 * np.sin(angle)])
    parts = [Part(round_part, 7, QUARTER_TURNS)]
    found = nest(parts, 400.0, steps=300, clock=still, cores=1)
    assert faults(found, parts, 400.0) == []
    exact = nest(parts, 400.0, steps=300, clock=still, cores=1, coarse=0.0)
    assert found.length <= exact.length * 1.03


def test_a_part_as_wide_as_the_strip_fits_in_one_turn_only():
    parts = [Part(np.array([[0.0, 0.0], [500.0, 0.0], [500.0, 300.0], [0.0, 300.0]]), 2, (0.0, 90.0))]
    found = nest(parts, 300.0, steps=20, clock=still, cores=1)
    assert found.length == pytest.approx(1000.0)
    assert {laid.turn for laid in found.laid} == {0.0}


def test_parts_of_one_outline_are_told_apart_again():
    apart = [Part(SQUARE, 2), Part(WEDGE), Part(SQUARE.copy(), 3)]
    found = nest(apart, 310.0, steps=100, clock=still, cores=1)
    assert faults(found, apart, 310.0) == []
    assert [laid.part for laid in found.laid] == [0, 0, 1, 2, 2, 2]


def test_nothing_to_lay_takes_no_cloth():
    assert nest([], 300.0, steps=1, clock=still).length == 0.0


@pytest.mark.parametrize(
    ("parts", "width", "words"),
    [
        ([Part(SQUARE)], 0.0, "no width"),
        ([Part(SQUARE)], float("nan"), "no width"),
        ([Part(SQUARE)], 99.0, "wider than the strip"),
        ([Part(SQUARE[[0, 2, 1, 3]])], 300.0, "no simple polygon"),
        ([Part(SQUARE[:2])], 300.0, "no simple polygon"),
        ([Part(SQUARE * np.nan)], 300.0, "no simple polygon"),
        ([Part(SQUARE, 0)], 300.0, "no turn or no copy"),
        ([Part(SQUARE, 1, ())], 300.0, "no turn or no copy"),
    ],
)
def test_what_cannot_be_laid_is_refused(parts, width, words):
    with pytest.raises(InputError, match=words):
        nest(parts, width, steps=1, clock=still)


def test_the_check_finds_each_fault():
    parts = [Part(SQUARE, 2, HALF_TURNS)]
    beside = (Laid(0, 0.0, 0.0, 0.0), Laid(0, 180.0, 100.0, 200.0))
    assert faults(Nested(100.0, beside), parts, 200.0) == []
    assert "overlap" in faults(Nested(100.0, (beside[0], Laid(0, 0.0, 0.0, 99.9))), parts, 200.0)[0]
    assert "overlap" in faults(Nested(100.0, (beside[0], beside[0])), parts, 200.0)[0]
    assert "off the strip" in faults(Nested(99.9, beside), parts, 200.0)[0]
    assert "off the strip" in faults(Nested(100.0, beside), parts, 199.9)[0]
    assert "1 copies" in faults(Nested(100.0, beside[:1]), parts, 200.0)[0]
    assert "turned by" in faults(Nested(100.0, (beside[0], Laid(0, 90.0, 100.0, 100.0))), parts, 200.0)[0]


@st.composite
def part_lists(draw):
    parts = []
    for _ in range(draw(st.integers(1, 4))):
        outline = draw(st.sampled_from([SQUARE, WEDGE, CAP, HOOK]))
        scale = draw(st.floats(0.02, 1.3))
        turns = draw(st.sampled_from([(0.0,), HALF_TURNS, QUARTER_TURNS, (0.0, 17.5)]))
        parts.append(Part(outline * scale, draw(st.integers(1, 4)), turns))
    return parts


@settings(max_examples=25, deadline=None, derandomize=True)
@given(part_lists(), st.floats(60, 900), st.integers(0, 3))
def test_any_parts_are_laid_soundly_or_refused(parts, width, seed):
    if any(min(np.ptp(turned(p.outline, t)[:, 1]) for t in p.turns) > width for p in parts):
        with pytest.raises(InputError, match="wider than the strip"):
            nest(parts, width, steps=40, seed=seed, clock=still, cores=1)
        return
    found = nest(parts, width, steps=40, seed=seed, clock=still, cores=1)
    assert faults(found, parts, width) == []
    area = sum(shapely.Polygon(part.outline).area * part.copies for part in parts)
    assert found.length >= area / width - 1e-6
