"""Every finding of truing and cutting has something to do about it, and what it does can be done."""

import ast
from dataclasses import replace
from pathlib import Path

import pytest

from likesewn import cut, truing
from likesewn.examples import example_text
from likesewn.garment import Finding, Weight, load_kind, read_draft, read_garment, update_garment
from likesewn.garment.keys import file_tables
from likesewn.truing import explain
from likesewn.web.pages.acts import ACTS, acts_for, measures_at, measures_named

KIND = load_kind("set-in-sleeve-top")
TEXT = example_text("throwing-top")
RECORD = read_garment(TEXT)


def codes() -> set[str]:
    """The codes of all findings that truing and cutting can make, read out of their sources."""
    found = set()
    makers = {"Finding", "_look"}
    for package in (truing, cut):
        for source in sorted(Path(package.__file__).parent.glob("*.py")):
            for call in ast.walk(ast.parse(source.read_text(encoding="utf-8"))):
                if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Name)):
                    continue
                if call.func.id not in makers:
                    continue
                named = [word.value for word in call.keywords if word.arg == "code"]
                code = (named or call.args)[0]
                if isinstance(code, ast.Constant):
                    found.add(code.value)
                else:
                    # only the shorthand itself is given its code by those that call it
                    assert isinstance(code, ast.Name), f"{source.name}: the code is worked out"
                    assert code.id == "code", f"{source.name}: the code is worked out"
    return found


def test_every_code_is_covered_and_none_is_left_over():
    assert len(codes()) > 20
    assert set(ACTS) == codes()


PLACES = {
    "figures-disagree": "body_length, side_length",
    "figure-not-met": "hem_width",
    "level-missed": "waist_level",
    "edge-not-moved": "front.neckline, back.neckline",
    "not-sewable": "front armhole",
    "seam-twisted": "side",
    "halves-differ": "front.side",
    "off-centre": "front",
    "outline-crosses": "sleeve",
    "fold-not-traced": "back",
    "narrow-hem": "Sleeve, cuff",
    "allowance-too-large": "Front, armhole",
    "no-room-for-facing": "Front, neckline",
}
TABLES = {table.name: table for table in file_tables(KIND, (KIND.name,))}


@pytest.mark.parametrize("code", sorted(ACTS))
def test_each_act_leads_somewhere_or_changes_what_can_be_changed(code):
    where = PLACES.get(code, "Neck" if code in {c for c in ACTS if "band" in c} else "front.armhole")
    if code in {"girth-assumed", "opening-too-small", "old-finish-assumed", "stretch-assumed", "bias-strip"}:
        where = "Neck"
    given = {"neck": {"band_ratio": 0.4, "band_cut_width": 20.0}}
    finding = Finding(code, Weight.LOOK, where, "Something is off.", limit=20.0, unit="mm")
    acts = acts_for(finding, replace(RECORD, finish_lengths=given), KIND)
    assert acts
    assert len({act.words for act in acts}) == len(acts)
    for act in acts:
        assert bool(act.to) != bool(act.changes)
        if act.changes:
            assert act.said
            read_garment(update_garment(TEXT, act.changes))  # raises where it cannot be read
        page, _, asked = act.to.partition("?")
        key, _, value = asked.partition("=")
        match key:
            case "measure":
                assert value in KIND.tape_keys()
            case "field":
                table, _, name = value.partition(".")
                assert value in {"photos", "file"} or name in {k.name for k in TABLES[table].keys}
            case "edge":
                piece, edge = value.split(".")
                assert KIND.piece(piece).edge(edge)
        assert page in {"", "record", "cut"}


def findings_of(text):
    record = read_garment(text)
    explained = explain(record, KIND)
    return record, {finding.code: finding for finding in explained.pattern.findings}


def test_a_figure_that_disagrees_can_be_left_out_or_trusted_less():
    text = TEXT.replace("cuff_width = 11", "cuff_width = 11\nshoulder_length = 20\nshoulder_drop = 4")
    record, found = findings_of(text)
    acts = acts_for(found["figures-disagree"], record, KIND)
    assert acts[0].to.startswith("record?measure=")
    out = next(act for act in acts if None in act.changes.values())
    _, after = findings_of(update_garment(text, out.changes))
    assert "figures-disagree" not in after
    (unsure,) = [act for act in acts if act.changes and act is not out]
    (key,) = unsure.changes
    left = read_garment(update_garment(text, unsure.changes)).tape[key.removeprefix("tape.")]
    assert left.sigma_mm == 6.0


def test_a_figure_that_is_needed_is_not_left_out():
    finding = Finding("figures-disagree", Weight.LOOK, "chest_width, hem_width", "They disagree.")
    assert not [act for act in acts_for(finding, RECORD, KIND) if None in act.changes.values()]


def test_the_difference_of_the_halves_can_be_kept():
    finding = Finding("halves-differ", Weight.LOOK, "front.side", "The halves differ.")
    act = acts_for(finding, RECORD, KIND)[0]
    assert act.changes == {"garment.symmetric": False}
    assert not read_draft(update_garment(TEXT, act.changes)).record.symmetric
    uneven = replace(RECORD, symmetric=False)
    assert not [act for act in acts_for(finding, uneven, KIND) if act.changes]


def test_places_lead_to_the_measures_that_shape_them():
    assert "armhole_drop" in measures_at("front.armhole", RECORD, KIND)
    assert "armhole_drop" in measures_at("front.left_armhole", RECORD, KIND)
    assert set(measures_at("left_sleeve", RECORD, KIND)) <= {
        k for k, m in KIND.measures.items() if "sleeve" in m.pieces
    }
    assert measures_at("nowhere at all", RECORD, KIND) == []
    for seam in KIND.seams:
        assert measures_at(seam.name, RECORD, KIND), seam.name


def test_titles_and_keys_name_measures():
    named = ["Chest width", "hem_width", "Armhole drop, front", "side (seam)", "Chest width"]
    assert measures_named(named, KIND) == ["chest_width", "hem_width", "front_armhole_drop"]
