from dataclasses import replace
from itertools import product

import pytest

from likesewn.cut import cut
from likesewn.errors import InputError
from likesewn.garment import Fabric, Record
from likesewn.garment.kind import Kind, Step
from likesewn.garment.kinds import kind_names, load_kind
from likesewn.sewing import CONDITIONS, PLACEHOLDERS, SewingPlan, plan_sewing
from likesewn.truing import Untrued, true
from likesewn.units import format_length
from sewing.examples import APART, finished, garment, number, opened, step, usual


def every_way(kind: Kind) -> list[Record]:
    """One record for each machine, cloth, finish and unit that the kind's steps may meet."""
    finishes = [[(f.name, choice) for choice in f.finishes] for f in kind.finishes]
    return [
        Record(
            "Plain",
            kind.name,
            unit=unit,
            machine=machine,
            for_child=unit == "in",
            fabric=Fabric(cloth, 0.5),
            finish={name: {"finish": choice} for name, choice in chosen},
            finish_lengths={name: {"old_width": 15.0} for name, _ in chosen},
        )
        for machine, cloth, chosen, unit in product(
            ("overlock", "zigzag"), ("knit", "woven"), product(*finishes), ("cm", "in")
        )
    ]


@pytest.mark.parametrize("name", kind_names())
def test_every_step_of_every_kind_can_be_written(name: str) -> None:
    kind = load_kind(name)
    pattern = true(Record("Plain", name), kind)
    assert not isinstance(pattern, Untrued)
    written: set[str] = set()
    for record in every_way(kind):
        plan = plan_sewing(pattern, cut(pattern, record), record)
        assert [s.number for s in plan.steps] == list(range(1, len(plan.steps) + 1))
        for text in plan.steps:
            assert not set("{}") & set(text.text)
            assert "None" not in text.text
            assert "nan" not in text.text
            assert all(text.text[a:b].strip() == text.text[a:b] != "" for a, b in text.figures)
        written |= {s.title for s in plan.steps}
    by_pieces = {s.title for s in kind.steps if any(w.startswith("opened:") for w in s.when)}
    assert written | by_pieces == {s.title for s in kind.steps}


def test_steps_of_an_opened_sleeve_can_be_written() -> None:
    plan = opened().plan()
    assert "front half carries a single notch, the back half a double notch" in step(
        plan, "Tell the sleeves apart"
    )
    assert "the double notch to that of the back" in step(plan, "Set the sleeves flat")
    assert "either sleeve" not in step(plan, "Set the sleeves flat")


def test_a_folded_sleeve_fits_either_armhole() -> None:
    plan = usual().plan()
    assert "either sleeve fits either armhole" in step(plan, "Set the sleeves flat")
    assert not any(s.title == "Tell the sleeves apart" for s in plan.steps)


@pytest.mark.parametrize("machine", ["overlock", "zigzag"])
def test_what_is_easier_flat_is_sewn_flat(machine: str) -> None:
    plan = garment(machine=machine).plan()
    hem_edges = "Overlock" if machine == "overlock" else "Neaten"
    order = [
        "Cut the pieces",
        "Mark the matching points",
        "Stay the shoulders",
        "Sew the shoulders",
        "Join the neck band",
        "Quarter-mark the neckline and the band",
        "Sew the band on in the round",
        "Set the sleeves flat",
        f"{hem_edges} the hem edges while flat",
        "Close each side and sleeve in one run",
        "Turn up the hem and the sleeve edges",
        "Press and try on",
    ]
    assert [s.title for s in plan.steps] == order
    assert "the underarm seams to each other first" in step(plan, "Close each side and sleeve in one run")


@pytest.mark.parametrize(
    ("finish", "title"),
    [
        ("band", "Sew the band on in the round"),
        ("binding", "Bind the neckline in the round"),
        ("facing", "Face the neckline"),
        ("turned", "Turn in the neckline"),
    ],
)
def test_the_neck_is_finished_one_way_and_before_the_sleeves(finish: str, title: str) -> None:
    plan = finished(finish).plan()
    ways = {
        "Sew the band on in the round",
        "Bind the neckline in the round",
        "Face the neckline",
        "Turn in the neckline",
    }
    assert {s.title for s in plan.steps} & ways == {title}
    assert number(plan, "Sew the shoulders") < number(plan, title) < number(plan, "Set the sleeves flat")


def test_a_woven_cloth_needs_no_stay() -> None:
    titles = [s.title for s in garment(fabric=Fabric("woven", 0.1)).plan().steps]
    assert "Stay the shoulders" not in titles


def test_a_childs_garment_is_checked_once_more() -> None:
    assert "Check it as a child's garment" in [s.title for s in garment(for_child=True).plan().steps]
    assert "Check it as a child's garment" not in [s.title for s in usual().plan().steps]


def figures(plan: SewingPlan, title: str) -> list[str]:
    (found,) = (s for s in plan.steps if s.title == title)
    return [found.text[a:b] for a, b in found.figures]


@pytest.mark.parametrize("unit", ["cm", "mm", "in"])
def test_figures_are_those_of_the_cut_list(unit: str) -> None:
    made = garment(unit=unit, allowances={"hem": 30.0, "side": 12.0})
    plan = made.plan()
    (band,) = made.cut_list.bands

    def show(*lengths: float) -> list[str]:
        return [format_length(mm, unit) for mm in lengths]

    joining = (band.cut_length_mm - band.ring_mm) / 2
    assert figures(plan, "Join the neck band") == show(
        band.cut_length_mm, band.cut_width_mm, joining, band.ring_mm, band.cut_width_mm / 2
    )
    assert figures(plan, "Quarter-mark the neckline and the band") == show(
        band.ring_mm / 4, band.edge_mm / 4, band.quarter_ahead_mm
    )
    side = made.cut_list.piece("front").seam[3].path.length
    sleeve = made.cut_list.piece("sleeve").seam[1].path.length
    assert figures(plan, "Close each side and sleeve in one run") == show(12.0, 10.0, side, sleeve)
    assert figures(plan, "Turn up the hem and the sleeve edges")[0] == show(30.0)[0]


def test_seams_are_as_they_are_cut_when_the_neck_edge_moves() -> None:
    """A neckline that is turned in starts 15 mm nearer the neck, and the shoulder grows by as much."""
    made = garment(finish={"neck": {"finish": "turned"}}, finish_lengths={"neck": {"old_width": 15.0}})
    (rule,) = made.cut_list.finishes
    assert rule.moved_mm == -15.0
    cut_mm = made.cut_list.piece("front").seam[1].path.length
    trued_mm = made.pattern.piece("front").edge("shoulder").path.length
    assert cut_mm > trued_mm + 10.0
    assert figures(made.plan(), "Stay the shoulders") == [format_length(cut_mm, "cm")]
    assert "moved 1.5 cm for its finish" in made.plan().measures.note
    assert "moved" not in usual().plan().measures.note


def test_the_side_marks_lie_ahead_of_the_shoulder_seams() -> None:
    (band,) = usual().cut_list.bands
    assert band.quarter_ahead_mm > 10.0
    text = step(usual().plan(), "Quarter-mark the neckline and the band")
    assert f"{format_length(band.quarter_ahead_mm, 'cm')} from the seams, on the front" in text


def test_side_marks_on_the_seams_are_said_to_be_there() -> None:
    made = usual()
    band = replace(made.cut_list.bands[0], quarter_ahead_mm=0.2)
    text = step(
        made._replace(cut_list=replace(made.cut_list, bands=(band,))).plan(),
        "Quarter-mark the neckline and the band",
    )
    assert text.endswith("lie on the seams.")


def test_edges_that_differ_in_allowance_are_named() -> None:
    made = garment(allowances={"hem": 25.0, "sleeve.cuff": 20.0})
    text = step(made.plan(), "Cut the pieces")
    assert "2.5 cm (2.0 cm at the sleeve cuff) at the hem" in text


def test_ease_is_worded_as_it_is() -> None:
    even = step(usual().plan(), "Set the sleeves flat")
    assert "The front armhole and the sleeve cap both measure" in even
    assert "nothing to ease in" in even
    eased = garment(tape=APART, ease={"front armhole": 8.0, "back armhole": 12.0}).plan()
    text = step(eased, "Set the sleeves flat")
    assert "The front sleeve cap is 8 mm longer than the front armhole: spread that evenly" in text
    assert "The back sleeve cap is 1.2 cm longer than the back armhole" in text
    assert "nothing to ease" not in text
    fuller = garment(ease={"front armhole": -6.0, "back armhole": -6.0}).plan()
    assert "The front armhole is 6 mm longer than the sleeve cap" in step(fuller, "Set the sleeves flat")


def test_a_garment_in_inches_shows_fractions() -> None:
    made = garment(unit="in", ease={"front armhole": 5.0, "back armhole": 5.0})
    plan = made.plan()
    assert "no deeper than 1/8 in" in step(plan, "Mark the matching points")
    assert "3/8 in at the seams and 1 in at the hem" in step(plan, "Cut the pieces")
    assert "3/16 in longer" in step(plan, "Set the sleeves flat")
    text = " ".join(s.text for s in plan.steps)
    assert " cm" not in text
    assert " mm" not in text


@pytest.mark.parametrize(
    ("text", "found", "allowed", "nearest"),
    [
        ("{meazure:chest_width}", "{meazure:chest_width}", "measure", "measure"),
        ("{measure:chest_widht}", "{measure:chest_widht}", "chest_width", "chest_width"),
        ("{seam:shoulder}", "{seam:shoulder}", "seam:<seam>:<left or right>", ""),
        ("{seam:shoulder:middle}", "{seam:shoulder:middle}", "left, right", ""),
        ("{seam:elbow:left}", "{seam:elbow:left}", "shoulder", ""),
        ("{ease:armhole}", "{ease:armhole}", "back armhole", "back armhole"),
        ("{allowance:hems}", "{allowance:hems}", "hem", "hem"),
        ("{band:neck:lenght}", "{band:neck:lenght}", "cut_length", ""),
        ("{band:waist:ring}", "{band:waist:ring}", "neck", ""),
        ("{notch:front notch:colour}", "{notch:front notch:colour}", "marks", ""),
        ("{stitch:hems}", "{stitch:hems}", "hem", "hem"),
        ("{length:wide}", "{length:wide}", "a number of mm", ""),
        ("{length:1000}", "{length:1000}", "up to 100", ""),
        ("an open { brace", "{", "measure", ""),
        ("a closed } brace", "}", "measure", ""),
        ("{}", "{}", "measure", ""),
    ],
)
def test_an_unknown_placeholder_is_refused(text: str, found: str, allowed: str, nearest: str) -> None:
    with pytest.raises(InputError) as caught:
        usual().with_steps(Step("Sew", "Fine."), Step("Sew on", text)).plan()
    (problem,) = caught.value.problems
    assert problem.file == "set-in-sleeve-top.toml"
    assert problem.key == "steps.2.text"
    assert problem.found == found
    assert "'Sew on'" in problem.message
    assert allowed in problem.allowed
    assert not nearest or problem.nearest == nearest


@pytest.mark.parametrize(
    ("condition", "allowed"),
    [
        ("weather:dry", "machine"),
        ("machine:hand", "overlock, zigzag"),
        ("construction:felt", "knit, woven"),
        ("finish:neck:zip", "band, binding, facing, turned"),
        ("finish:waist:band", "neck"),
        ("opened:pocket", "back, front, sleeve"),
        ("child:yes", "child"),
    ],
)
def test_an_unknown_condition_is_refused(condition: str, allowed: str) -> None:
    with pytest.raises(InputError) as caught:
        usual().with_steps(Step("Sew", "Fine.", ("child", condition))).plan()
    (problem,) = caught.value.problems
    assert problem.key == "steps.1.when"
    assert problem.found == condition
    assert allowed in problem.allowed


def test_all_faults_are_told_at_once() -> None:
    steps = (Step("One", "{a:b} {c:d}"), Step("Two", "{band:neck:ring}", ("moon:full",)))
    with pytest.raises(InputError) as caught:
        usual().with_steps(*steps).plan()
    assert [p.found for p in caught.value.problems] == ["{a:b}", "{c:d}", "moon:full"]


def test_a_band_that_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match="no band or binding at all"):
        finished("facing").with_steps(Step("Sew", "{band:neck:ring}")).plan()


def test_placeholders_and_conditions_are_explained() -> None:
    for entry in (*PLACEHOLDERS.values(), *CONDITIONS.values()):
        assert len(entry.meaning) > 10


def test_every_placeholder_becomes_its_figure() -> None:
    made = usual()
    text = (
        "{measure:chest_width}|{seam:side:right}|{allowance:front.side}|{band:neck:ratio}|{band:neck:stretch}"
        "|{notch:back notch:marks}|{notch:front notch:along}|{stitch:hem}|{length:3.5}"
    )
    (written,) = made.with_steps(Step("All", text)).plan().steps
    (band,) = made.cut_list.bands
    (notch,) = (n for n in made.cut_list.piece("front").notches if n.name == "front notch")
    assert written.text.split("|") == [
        "52.0 cm",
        format_length(made.pattern.piece("back").edge("side").path.length, "cm"),
        "1.0 cm",
        f"{band.ratio:.0%}".replace("%", " %"),
        f"{band.strain:.0%}".replace("%", " %"),
        "double notch",
        format_length(notch.along_mm, "cm"),
        "a narrow zigzag",
        "3.5 mm",
    ]
