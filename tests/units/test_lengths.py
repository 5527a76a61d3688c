"""Lengths and shares in the forms that people type, and back."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.errors import LikesewnError
from likesewn.units import (
    UNIT_MM,
    UnitError,
    format_length,
    format_share,
    format_with_sigma,
    parse_length,
    parse_share,
)

quick = settings(max_examples=100, derandomize=True, deadline=None)
INCHES = 25.4


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        ("49", "cm", 490.0),
        ("49", "mm", 49.0),
        ("49", "in", 49 * INCHES),
        ("1", "yd", 914.4),
        (49, "cm", 490.0),
        (49.3, "cm", 493.0),
        ("49 cm", "in", 490.0),
        ("490mm", "cm", 490.0),
        ("49CM", "in", 490.0),
        ("49 Centimetres", "in", 490.0),
        ("49 centimeters", "in", 490.0),
        ("2 m", "cm", 2000.0),
        ("1 m 20 cm", "in", 1200.0),
        ("19 1/4 in", "cm", 488.95),
        ("19-1/4 in", "cm", 488.95),
        ("19 1/4in.", "cm", 488.95),
        ("19 1⁄4 inches", "cm", 488.95),
        ("19 1∕4 INCH", "cm", 488.95),
        ("19¼ in", "cm", 488.95),
        ('19¼"', "cm", 488.95),
        ("19 ¼ ″", "cm", 488.95),
        ("19.25 in", "cm", 488.95),
        ("¾", "in", 19.05),
        ("3/8 in", "cm", 9.525),
        ("1.5 yd", "cm", 1371.6),
        ("1 1/2 yards", "cm", 1371.6),
        ("1 ft 7 in", "cm", 482.6),
        ("1' 7\"", "cm", 482.6),
        ("1′7½″", "cm", 495.3),
        ("1 yd 4 in", "cm", 1016.0),
        ("49,5", "cm", 495.0),
        ("0,125 in", "cm", 3.175),
        (".5", "in", 12.7),
        ("49.", "cm", 490.0),
        ("\u00a049\u2009cm\t", "in", 490.0),
        ("-5 mm", "cm", -5.0),
        ("−5 mm", "cm", -5.0),
    ],
)
def test_reads(text, unit, mm):
    assert parse_length(text, unit).mm == pytest.approx(mm, rel=1e-15)
    assert parse_length(text, unit).sigma_mm is None
    assert parse_length(text, unit).text == str(text)


@pytest.mark.parametrize(
    ("text", "unit", "mm", "sigma"),
    [
        ("49 +- 0.3 cm", "cm", 490.0, 3.0),
        ("49 +- 0.3", "cm", 490.0, 3.0),
        ("49 cm +- 0.3", "in", 490.0, 3.0),
        ("49 cm +/- 3 mm", "in", 490.0, 3.0),
        ("49 ± 0,3 cm", "in", 490.0, 3.0),
        ("490 ± 3", "mm", 490.0, 3.0),
        ("49 +- 0.3 cm", "mm", 490.0, 3.0),
        ("19 1/4 +- 1/8 in", "cm", 488.95, 3.175),
        ("1 ft 7 in + - 1/4", "cm", 482.6, 6.35),
        ("-5 mm ± 1", "cm", -5.0, 1.0),
    ],
)
def test_reads_with_uncertainty(text, unit, mm, sigma):
    length = parse_length(text, unit)
    assert (length.mm, length.sigma_mm) == (pytest.approx(mm), pytest.approx(sigma))


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "cm",
        "abc",
        "1,234.5",
        "1.234,5",
        "1,234",
        "1.2.3",
        "1 234",
        "49 50",
        "49 cm 3",
        "7 in 1 ft",
        "1 ft 2 ft",
        "49 - 3",
        "--49",
        "49 +- 0",
        "49 +- -3",
        "49 +-",
        "+- 3",
        "49 +- 1 +- 2",
        "1/0",
        "49 furlongs",
        "49 cmm",
        "1e3",
        "inf",
        "nan",
        "49\x00",
        "4" * 101,
        "9" * 60,
        "52 +- 3 mm",
        True,
        math.nan,
        math.inf,
        -math.inf,
        10**9,
        pytest.param(10**5000, id="thousands of digits"),
        None,
        [49],
    ],
)
def test_refuses(text):
    with pytest.raises(UnitError) as caught:
        parse_length(text, "cm")
    assert isinstance(caught.value, LikesewnError)
    assert isinstance(caught.value, ValueError)
    assert caught.value.found
    assert caught.value.allowed
    assert len(str(caught.value)) < 400


def test_says_what_is_ambiguous():
    with pytest.raises(UnitError, match="could be in cm or in mm") as caught:
        parse_length("52 +- 3 mm", "cm")
    assert caught.value.allowed == "a unit after each figure, such as 49 cm +- 3 mm"


def test_a_bare_figure_needs_a_unit_where_there_is_no_default():
    assert parse_length("49 cm", "").mm == 490
    assert parse_length("49 +- 0.3 cm", "").sigma_mm == pytest.approx(3)
    for bare in ("49", 49, "49 +- 3"):
        with pytest.raises(UnitError, match="no unit"):
            parse_length(bare, "")


def test_refuses_an_unknown_default_unit():
    with pytest.raises(UnitError, match="not a unit"):
        parse_length("49", "cubit")


@quick
@given(st.text(max_size=120))
def test_any_text_is_read_or_refused(text):
    try:
        length = parse_length(text, "cm")
    except UnitError:
        return
    assert math.isfinite(length.mm)
    assert length.sigma_mm is None or length.sigma_mm > 0


@quick
@given(st.text(alphabet="0123456789 ./,-+±½¼'\"″ cmftinyd", max_size=20))
def test_figure_like_text_is_read_or_refused(text):
    try:
        length = parse_length(text, "in")
    except UnitError:
        return
    assert math.isfinite(length.mm)


@quick
@given(st.integers(-20000, 20000), st.sampled_from(["in", "yd", "ft"]), st.sampled_from([2, 4, 8, 16]))
def test_fractions_come_back_exactly(parts, unit, denominator):
    mm = parts / denominator * UNIT_MM[unit]
    assert parse_length(format_length(mm, unit, denominator=denominator), "mm").mm == pytest.approx(
        mm, rel=1e-14
    )


@quick
@given(st.floats(-5000, 5000), st.sampled_from(sorted(UNIT_MM)))
def test_shown_lengths_are_within_half_a_step(mm, unit):
    step = {"mm": 1.0, "cm": 1.0, "m": 10.0}.get(unit, UNIT_MM[unit] / 8)
    text = format_length(mm, unit)
    assert abs(parse_length(text, "mm").mm - mm) <= step / 2 + 1e-9
    assert format_length(parse_length(text, "mm").mm, unit) == text


@quick
@given(st.floats(0.1, 3000), st.floats(0.5, 50), st.sampled_from(["mm", "cm", "m", "in", "yd"]))
def test_lengths_shown_with_uncertainty_come_back(mm, sigma, unit):
    length = parse_length(format_with_sigma(mm, sigma, unit), unit)
    step = {"mm": 0.1, "cm": 1.0, "m": 10.0}.get(unit, UNIT_MM[unit] / 16)
    half = UNIT_MM[unit] / 16 if unit in {"in", "yd"} else step / 2
    assert abs(length.mm - mm) <= half + 1e-9
    assert length.sigma_mm is not None
    assert abs(length.sigma_mm - max(sigma, step)) <= step / 2 + 1e-9


@pytest.mark.parametrize(
    ("mm", "unit", "text"),
    [
        (490, "cm", "49.0 cm"),
        (490.4, "mm", "490 mm"),
        (1360, "m", "1.36 m"),
        (488.95, "in", "19 1/4 in"),
        (0.99 * INCHES, "in", "1 in"),
        (19.99 * INCHES, "in", "20 in"),
        (0.5 * INCHES, "in", "1/2 in"),
        (-0.5 * INCHES, "in", "-1/2 in"),
        (-19.25 * INCHES, "in", "-19 1/4 in"),
        (0, "in", "0 in"),
        (-0.1, "in", "0 in"),
        (-0.1, "cm", "0.0 cm"),
        (1600.2, "yd", "1 3/4 yd"),
        (-12, "cm", "-1.2 cm"),
    ],
)
def test_shows(mm, unit, text):
    assert format_length(mm, unit) == text


def test_shows_as_asked():
    assert format_length(3.25, "mm", decimals=1) == "3.2 mm"
    assert format_length(490, "cm", with_unit=False) == "49.0"
    assert format_length(25.4 * 3 / 16, "in", denominator=16) == "3/16 in"
    with pytest.raises(UnitError):
        format_length(1, "cubit")


@pytest.mark.parametrize(
    ("mm", "sigma", "unit", "text"),
    [
        (490, 2, "cm", "49.0 ± 0.2 cm"),
        (490, 2, "mm", "490.0 ± 2.0 mm"),
        (490, 0.001, "cm", "49.0 ± 0.1 cm"),
        (488.95, 3.175, "in", "19 1/4 ± 1/8 in"),
        (488.95, 0.1, "in", "19 1/4 ± 1/16 in"),
    ],
)
def test_shows_with_uncertainty(mm, sigma, unit, text):
    assert format_with_sigma(mm, sigma, unit) == text


@pytest.mark.parametrize(
    ("text", "share"),
    [
        ("50 %", 0.5),
        ("50%", 0.5),
        ("50 percent", 0.5),
        (0.5, 0.5),
        ("0.5", 0.5),
        ("0,5", 0.5),
        ("3/4", 0.75),
        (1, 1.0),
        ("-3 %", -0.03),
    ],
)
def test_reads_shares(text, share):
    assert parse_share(text) == share


@pytest.mark.parametrize(
    "text",
    [
        "",
        "half",
        "50 % 3",
        "1/0",
        "1,234.5",
        "%",
        True,
        math.nan,
        math.inf,
        "1e400",
        "9" * 50,
        "9" * 200,
        10**400,
        -(10**400),
        1e300,
    ],
)
def test_refuses_shares(text):
    with pytest.raises(UnitError) as caught:
        parse_share(text)
    assert caught.value.allowed == "a share such as 0.5 or 50 %"


@quick
@given(st.integers(-100, 300))
def test_shares_come_back(percent):
    assert parse_share(format_share(percent / 100)) == pytest.approx(percent / 100)
