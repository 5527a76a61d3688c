"""Where the edge of a finished opening must lie, for what was recorded and what will be sewn."""

from collections.abc import Mapping
from dataclasses import replace

import pytest

from likesewn.cut import cut, finish
from likesewn.cut.opening import opening_of
from likesewn.garment import Figure, Pattern, PatternPiece, Record, Weight
from likesewn.garment.kinds import load_kind
from likesewn.geometry import offset
from likesewn.truing import Untrued, true
from samples import sample_pattern

KIND = load_kind("set-in-sleeve-top")
TOP = Record("Throwing top", KIND.name)


def record(sewn: str, recorded_at: str = "seam", **lengths: float) -> Record:
    return replace(
        TOP,
        finish={"neck": {"finish": sewn, "recorded_at": recorded_at}},
        finish_lengths={"neck": lengths},
    )


@pytest.fixture
def moves(monkeypatch) -> dict[str, float]:
    """Stand in for the solve: each edge is drawn parallel, and the moves asked for are kept."""
    asked: dict[str, float] = {}

    def move(pattern: Pattern, by: Mapping[str, float]) -> Pattern:
        asked.update(by)

        def moved(piece: PatternPiece) -> PatternPiece:
            edges = tuple(
                replace(e, path=offset(e.path, -by[f"{piece.name}.{e.name}"]))
                if f"{piece.name}.{e.name}" in by
                else e
                for e in piece.edges
            )
            return replace(piece, edges=edges)

        return replace(pattern, pieces=tuple(moved(p) for p in pattern.pieces))

    monkeypatch.setattr(finish, "move_edges", move)
    return asked


# the standard band: cut 50, allowance 10, so it shows 15 and its edge lies 5 inside the cloth's
CASES = [
    ("band", "seam", {}, 0.0, None),
    ("band", "seam", {"old_width": 12.0}, -7.0, 0.0),
    ("band", "seam", {"old_width": 5.0}, 0.0, 0.0),
    ("band", "finished edge", {}, 5.0, 0.0),
    ("band", "finished edge", {"band_cut_width": 60.0}, 10.0, 0.0),
    ("binding", "finished edge", {}, 0.0, 0.0),
    ("binding", "seam", {"old_width": 12.0}, -12.0, 0.0),
    ("facing", "seam", {"old_width": 12.0}, -12.0, 0.0),
    ("facing", "finished edge", {"old_width": 12.0}, 0.0, 0.0),
    ("turned", "seam", {}, -15.0, 0.0),
]


@pytest.mark.parametrize(("sewn", "recorded_at", "lengths", "moved", "rise"), CASES)
def test_edge_moves_so_that_the_finished_edge_stays(moves, sewn, recorded_at, lengths, moved, rise):
    found = finish.apply_finishes(sample_pattern(), record(sewn, recorded_at, **lengths))
    (rule,) = found.rules
    assert (rule.name, rule.finish, rule.recorded_at) == ("neck", sewn, recorded_at)
    assert rule.moved_mm == pytest.approx(moved)
    assert rule.edge_rise_mm == rise
    wanted = {"front.neckline": moved, "back.neckline": moved} if moved else {}
    assert moves == pytest.approx(wanted)
    assert [f.weight for f in found.findings if f.weight is not Weight.NOTE] == []


def test_an_allowance_at_the_neckline_moves_the_seam_with_it(moves):
    # cloth 10 beyond the seam line: the band's seam lies on it, so the line moves by the whole width
    asked = replace(record("band", "finished edge"), allowances={"neckline": 10.0})
    finish.apply_finishes(sample_pattern(), asked)
    assert moves == pytest.approx({"front.neckline": 15.0, "back.neckline": 15.0})


@pytest.mark.usefixtures("moves")
def test_rule_says_what_was_taken_and_what_will_be_sewn():
    (rule,) = finish.apply_finishes(sample_pattern(), record("band", old_width=12.0)).rules
    assert "at its seam" in rule.message
    assert "a band that shows 1.5 cm" in rule.message
    assert "moved 0.7 cm inward, towards the middle of the opening" in rule.message
    assert "lies where the old one did" in rule.message
    inches = replace(record("band", "finished edge"), unit="in")
    (rule,) = finish.apply_finishes(sample_pattern(), inches).rules
    assert "a band that shows 5/8 in" in rule.message
    (rule,) = finish.apply_finishes(sample_pattern(), record("band")).rules
    assert "0.5 cm inside the old seam" in rule.message


@pytest.mark.usefixtures("moves")
def test_assumed_width_of_the_old_finish_is_told():
    found = finish.apply_finishes(sample_pattern(), record("turned"))
    (note,) = found.findings
    assert (note.code, note.weight, note.amount) == ("old-finish-assumed", Weight.NOTE, 15.0)


def test_assumed_width_is_narrower_on_a_small_garment():
    """A newborn's neck is too tight for a usual finish: what was only assumed must not stop the work."""
    tape = {"body_length": 300.0, "chest_width": 210.0, "sleeve_length": 90.0}
    asked = replace(record("binding"), tape={key: Figure(mm) for key, mm in tape.items()})
    pattern = true(asked, KIND)
    assert isinstance(pattern, Pattern)
    opening = opening_of(pattern, KIND.finishes[0])
    assert opening is not None
    found = finish.apply_finishes(pattern, asked)
    (note,) = found.findings
    assert (note.code, note.weight) == ("old-finish-assumed", Weight.NOTE)
    assert note.amount == pytest.approx(0.04 * opening.length_mm)
    assert found.rules[0].moved_mm == pytest.approx(-0.04 * opening.length_mm)


def test_edge_that_cannot_move_stops_the_work(monkeypatch):
    monkeypatch.setattr(finish, "move_edges", lambda *_: Untrued("the shoulder is too short", ()))
    found = finish.apply_finishes(sample_pattern(), record("band", "finished edge"))
    (stop,) = found.findings
    assert (stop.code, stop.weight) == ("edge-not-moved", Weight.STOP)
    assert "the shoulder is too short" in stop.message
    (rule,) = found.rules
    assert (rule.moved_mm, rule.edge_rise_mm) == (0.0, None)
    assert "could not be moved" in rule.message


def test_edge_that_lands_elsewhere_stops_the_work(monkeypatch):
    monkeypatch.setattr(finish, "move_edges", lambda pattern, _: pattern)
    found = finish.apply_finishes(sample_pattern(), record("band", "finished edge"))
    assert [f.code for f in found.findings] == ["edge-not-moved"]


def test_solved_move_keeps_the_finished_edge_in_place():
    """The whole way: a wider neck, its seams still matching, its neckline parallel to the old one."""
    tape = {"body_length": 660.0, "chest_width": 520.0, "sleeve_length": 590.0}
    asked = replace(record("band", "finished edge"), tape={key: Figure(mm) for key, mm in tape.items()})
    pattern = true(asked, KIND)
    assert isinstance(pattern, Pattern)
    found = finish.apply_finishes(pattern, asked)
    assert [f.code for f in found.findings] == []
    assert all(abs(seam.difference_mm) <= 0.01 for seam in found.pattern.seams)
    cut_list = cut(pattern, asked)
    assert all(f.weight is not Weight.STOP for f in cut_list.findings)
    # Steiner's formula for a parallel 5 mm further out; the solve bends it a little to keep corners square
    before = opening_of(pattern, KIND.finishes[0])
    assert before is not None
    assert cut_list.bands[0].edge_mm == pytest.approx(before.inside_garment(5.0), abs=3.0)
    assert cut_list.bands[0].edge_mm > before.length_mm + 15.0
