"""Unit factors and paper sizes against their published sources."""

import math

import pytest

from likesewn.units import MM_PER_INCH, PAPER, UNIT_MM, parse_length


def test_yard_inch_and_foot():
    """International yard and pound agreement, 1959: 1 yd = 0.9144 m exactly; 36 in and 3 ft to the yard."""
    assert MM_PER_INCH == 25.4
    assert UNIT_MM["yd"] == 914.4
    assert parse_length("36 in", "mm").mm == 914.4
    assert parse_length("3 ft", "mm").mm == 914.4


def test_metric_steps():
    """SI Brochure, 9th edition, table 7: centi is 1e-2 and milli is 1e-3."""
    assert [UNIT_MM[unit] for unit in ("mm", "cm", "m")] == [1, 10, 1000]


def test_a_sizes():
    """ISO 216: A0 is 841 x 1189; each size is half the one before, rounded down to whole mm."""
    assert (PAPER["a0"].width_mm, PAPER["a0"].height_mm) == (841, 1189)
    assert (PAPER["a4"].width_mm, PAPER["a4"].height_mm) == (210, 297)
    for larger, smaller in (("a0", "a1"), ("a1", "a2"), ("a2", "a3"), ("a3", "a4")):
        assert PAPER[smaller].height_mm == PAPER[larger].width_mm
        assert PAPER[smaller].width_mm == math.floor(PAPER[larger].height_mm / 2)


@pytest.mark.parametrize(
    ("name", "inches"),
    [
        ("letter", (8.5, 11)),
        ("tabloid", (11, 17)),
        ("ansi-c", (17, 22)),
        ("ansi-d", (22, 34)),
        ("ansi-e", (34, 44)),
        ("arch-d", (24, 36)),
        ("arch-e1", (30, 42)),
    ],
)
def test_inch_sizes(name, inches):
    """ANSI/ASME Y14.1: A 8.5 x 11 (letter), B 11 x 17, C, D, E; architectural D1 and E1."""
    assert (PAPER[name].width_mm, PAPER[name].height_mm) == pytest.approx([25.4 * side for side in inches])


def test_paper_in_points():
    """Computed from 72 points to the inch: A4 is 595.276 x 841.890, letter is 612 x 792."""
    for name, points in (("a4", (595.276, 841.890)), ("letter", (612, 792))):
        sides = PAPER[name].width_mm, PAPER[name].height_mm
        assert [side / 25.4 * 72 for side in sides] == pytest.approx(points, abs=5e-4)
