"""A garment whose right and left differ: its steps give each side's own figures."""

import re
from dataclasses import replace

import pytest

from likesewn.garment import Figure
from likesewn.garment.kind import Step
from likesewn.sewing import plan_sewing
from likesewn.units import format_length
from sewing.examples import TAPE, Garment, garment, opened, step, uneven, usual


def said(made: Garment, text: str) -> str:
    (written,) = made.with_steps(Step("Only", text)).plan().steps
    assert all(written.text[a:b] for a, b in written.figures)
    return written.text


def both(right_mm: float, left_mm: float) -> str:
    right, left = format_length(right_mm, "cm"), format_length(left_mm, "cm")
    assert right != left
    return f"{right} (right, as seen from the front) and {left} (left)"


def seam_mm(made: Garment, name: str) -> float:
    return next(s.left_mm for s in made.pattern.seams if s.name == name)


@pytest.mark.parametrize("name", ["shoulder", "front armhole", "side", "sleeve"])
def test_a_seam_is_given_for_either_side(name: str) -> None:
    made = uneven()
    wanted = both(seam_mm(made, name), seam_mm(made, f"left {name}"))
    assert said(made, f"{{seam:{name}:left}}") == wanted
    assert said(made, f"{{seam:{name}:right}}") == wanted
    assert re.fullmatch(r"[\d.]+ cm", said(usual(), f"{{seam:{name}:left}}"))


def test_a_measure_is_given_for_either_side() -> None:
    made = uneven()
    front, back = made.pattern.piece("front"), made.pattern.piece("back")
    right = 0.5 * (front.edge("side").path.length + back.edge("left_side").path.length)
    left = 0.5 * (front.edge("left_side").path.length + back.edge("side").path.length)
    assert said(made, "{measure:side_length}") == both(right, left)
    under = [made.pattern.piece(name).edge("underarm").path.length for name in ("sleeve", "left_sleeve")]
    assert said(made, "{measure:sleeve_underarm}") == both(*under)
    # what is taken across both sides has one figure
    assert re.fullmatch(r"[\d.]+ cm", said(made, "{measure:chest_width}"))


def test_a_measure_is_the_mean_of_its_sides() -> None:
    with_sides = [m for m in uneven().pattern.measures if m.sides_mm]
    assert {"side_length", "armhole_drop", "sleeve_length", "body_length"} <= {m.key for m in with_sides}
    assert not {"chest_width", "neckline_length", "hem_width"} & {m.key for m in with_sides}
    for measure in with_sides:
        assert sum(measure.sides_mm or ()) / 2 == pytest.approx(measure.value_mm, abs=1e-6), measure.key
    assert not any(m.sides_mm for m in usual().pattern.measures)


def test_the_corners_of_either_side_give_its_drop() -> None:
    made = uneven()
    found = next(m.sides_mm for m in made.pattern.measures if m.key == "armhole_drop")

    def drop(piece: str, side: str) -> float:
        shape = made.pattern.piece(piece)
        return float(shape.corners[f"{side}underarm"][1] - shape.corners[f"{side}neck_point"][1])

    right = 0.5 * (drop("front", "") + drop("back", "left_"))
    left = 0.5 * (drop("front", "left_") + drop("back", ""))
    assert found == pytest.approx((right, left), abs=1e-6)


def test_ease_is_said_of_either_side() -> None:
    text = said(uneven(), "{ease:shoulder}")
    assert text.startswith(
        "On the right, as seen from the front, the front shoulder and the back shoulder both"
    )
    assert "On the left, the front shoulder and the back shoulder both" in text
    assert text.count("nothing to ease in") == 2
    eased = uneven()
    record = replace(eased.record, ease={"left side": 6.0})
    unlike = garment(points=record.points, symmetric=False, ease=record.ease)
    text = said(unlike, "{ease:side}")
    assert "On the right, as seen from the front, the front side and the back side both" in text
    assert "On the left, the back side is 6 mm longer than the front side" in text


def test_an_allowance_of_the_other_side_is_named() -> None:
    made = garment(
        points=uneven().record.points,
        symmetric=False,
        allowances={"front.left_side": 20.0, "left_sleeve.underarm": 15.0},
    )
    assert said(made, "{allowance:front.side}") == "1.0 cm (2.0 cm at the front left side)"
    assert (
        said(made, "{allowance:sleeve.underarm}")
        == "1.0 cm (1.5 cm at the sleeve underarm, left as seen from the front)"
    )


def test_a_matching_point_is_given_for_either_side() -> None:
    made = uneven()
    shares = [0.5 * seam_mm(made, name) for name in ("side", "left side")]
    assert said(made, "{notch:side notch:along}") == both(*shares)


def test_steps_tell_the_sleeves_apart() -> None:
    plan = uneven().plan()
    assert "each fits its own armhole alone" in step(plan, "Tell the sleeves apart")
    set_in = step(plan, "Set the sleeves flat")
    assert "either sleeve fits either armhole" not in set_in
    assert "each sleeve goes to its own side" in set_in
    assert "right as seen from the front cap" not in set_in
    together = garment(
        points=uneven().record.points,
        symmetric=False,
        tape={**TAPE, "front_armhole_curve": Figure(238.0), "back_armhole_curve": Figure(254.0)},
    )
    assert not together.pattern.piece("sleeve").on_fold
    assert "front and back halves of each differ too" in step(together.plan(), "Tell the sleeves apart")


def test_a_step_is_about_the_edges_of_both_sides() -> None:
    (written,) = uneven().with_steps(Step("Only", "{seam:shoulder:left}")).plan().steps
    assert set(written.about) == {
        "front.shoulder",
        "front.left_shoulder",
        "back.shoulder",
        "back.left_shoulder",
    }


def test_front_and_back_that_were_recorded_apart_are_both_said() -> None:
    assert said(opened(), "{measure:armhole_curve}") == "23.8 cm at the front and 25.0 cm at the back"
    # with one of them recorded the other follows from their mean
    one = garment(tape={**TAPE, "armhole_curve": Figure(244.0), "front_armhole_curve": Figure(238.0)})
    text = said(one, "{measure:armhole_curve}")
    values = [one.pattern.piece(name).edge("armhole").path.length for name in ("front", "back")]
    front, back = (format_length(mm, "cm") for mm in values)
    assert text == f"{front} at the front and {back} at the back"


def test_halves_that_came_out_alike_have_one_figure() -> None:
    plain = garment(symmetric=False)
    assert plain.pattern.kind.halves
    assert re.fullmatch(r"[\d.]+ cm", said(plain, "{measure:side_length}"))
    assert "as seen from the front," not in " ".join(
        s.text for s in plan_sewing(plain.pattern, plain.cut_list, plain.record).steps
    )
