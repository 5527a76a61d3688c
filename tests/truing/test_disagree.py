"""Figures that cannot all be right are named, with the amount; the less sure one moves more."""

import pytest

from likesewn.garment import Figure, Pattern
from tops import TOP, assert_sewn, basis, record, trued, value


def read_off(*keys: str) -> dict[str, float]:
    """Return the basis with further figures that agree with it."""
    first = trued(record(**basis()))
    return basis() | {key: value(first, key) for key in ("shoulder_drop", *keys)}


def named(pattern: Pattern) -> list:
    return [f for f in pattern.findings if f.code == "figures-disagree"]


@pytest.mark.parametrize(
    ("key", "wrong", "others"),
    [
        ("shoulder_length", 30.0, ()),
        ("shoulder_length", -25.0, ()),
        ("armhole_straight", 25.0, ()),
        ("armhole_drop", 30.0, ("armhole_straight", "side_length")),
        ("shoulder_width", 25.0, ("shoulder_length", "armhole_straight")),
    ],
)
def test_the_planted_figure_is_named_with_its_amount(key, wrong, others):
    figures = read_off(*{key, *others})
    pattern = trued(record(**figures | {key: figures[key] + wrong}))
    assert_sewn(pattern)
    found = named(pattern)
    assert any(key in f.where.split(", ") for f in found), [f.message for f in found]
    mine = next(f for f in found if key in f.where.split(", "))
    assert mine.amount == pytest.approx(abs(wrong), rel=0.35)
    if mine.where.startswith(key):
        assert ("too long" if wrong > 0 else "too short") in mine.message


def test_a_figure_checked_by_several_is_named_first():
    figures = read_off("shoulder_length", "armhole_straight", "side_length", "armhole_drop")
    pattern = trued(record(**figures | {"armhole_straight": figures["armhole_straight"] + 25.0}))
    assert named(pattern)[0].where.startswith(("armhole_straight", "armhole_drop"))


def test_figures_that_agree_name_nothing():
    figures = read_off("shoulder_length", "armhole_straight", "side_length", "sleeve_width")
    assert not trued(record(**figures)).findings


@pytest.mark.parametrize(("width_sigma", "length_sigma"), [(1.0, 10.0), (10.0, 1.0), (2.0, 2.0)])
def test_the_less_sure_figure_moves_more(width_sigma, length_sigma):
    figures = read_off("shoulder_length")
    figures |= {
        "shoulder_width": Figure(figures["shoulder_width"], width_sigma),
        "shoulder_length": Figure(figures["shoulder_length"] + 20.0, length_sigma),
        "neck_width": Figure(figures["neck_width"], 0.01),
    }
    pattern = trued(record(**figures))
    moved = {m.key: abs(m.value_mm - m.asked_mm) for m in pattern.measures if m.asked_mm is not None}
    assert moved["shoulder_length"] + moved["shoulder_width"] > 5.0
    if width_sigma != length_sigma:
        less, more = sorted([(width_sigma, "shoulder_width"), (length_sigma, "shoulder_length")])
        assert moved[less[1]] < moved[more[1]]
    # least squares: moves stand as squared sigmas times the figures' slopes; the width counts the point twice
    share = moved["shoulder_width"] / moved["shoulder_length"]
    along = (
        (value(pattern, "shoulder_width") - value(pattern, "neck_width"))
        / 2
        / value(pattern, "shoulder_length")
    )
    assert share == pytest.approx(width_sigma**2 / (2 * length_sigma**2) * along, rel=0.3)


def test_findings_name_measures_of_the_kind_in_words():
    figures = read_off("shoulder_length")
    (finding, *_) = named(trued(record(**figures | {"shoulder_length": figures["shoulder_length"] + 30.0})))
    assert set(finding.where.split(", ")) <= set(TOP.measures)
    assert "_" not in finding.message
    assert finding.todo.startswith("Measure")
