"""Allowances of single edges: which scopes there are, and what each changes in the garment file."""

import tomllib

import pytest

from likesewn.web.allowing import edge_allowances
from likesewn.web.trying import tried


def edges(opened):
    return {edge.id: edge for edge in edge_allowances(opened)}


def given(desk, opened, edge, scope, value):
    """Change an allowance as the page does."""
    raw = tomllib.loads(opened.document.text)
    changes = edges(opened)[edge].changes(raw, scope, value)
    return desk.change(opened.document.garment, opened.document.revision, changes, said="allowance")


def mm(opened):
    return {name: edge.mm for name, edge in edges(opened).items()}


def test_every_edge_that_is_cut_is_listed_with_its_scopes(desk, top):
    found = edges(desk.open(top.garment))
    cut = desk.open(top.garment).cut().cut_list
    assert list(found) == [f"{p.name}.{e.name}" for p in cut.pieces for e in p.seam if not e.fold]
    assert found["front.hem"].scopes == ("own", "hem")
    assert found["front.side"].scopes == ("own", "named", "seam")
    assert found["sleeve.cuff"].scopes == ("own", "named", "hem")
    # an opening follows its finish, and a strip what is sewn with it
    assert found["front.neckline"].scopes == ("own", "named")
    assert [edge.scopes for name, edge in found.items() if name.startswith("neckband.")] == [()] * 4


@pytest.mark.parametrize(
    ("edge", "scope", "changed"),
    [
        ("front.hem", "own", {"front.hem"}),
        ("front.hem", "hem", {"front.hem", "back.hem", "sleeve.cuff"}),
        ("front.side", "named", {"front.side", "back.side"}),
        ("sleeve.cuff", "named", {"sleeve.cuff"}),
    ],
)
def test_a_scope_changes_its_edges_and_no_others(desk, top, edge, scope, changed):
    before = desk.open(top.garment)
    after = given(desk, before, edge, scope, "3.3 cm")
    there, here = mm(before), mm(after)
    assert {name for name in here if here[name] != there[name]} == changed
    assert {here[name] for name in changed} == {33.0}


def test_a_wider_scope_takes_away_what_would_hold_against_it(desk, top):
    opened = given(desk, desk.open(top.garment), "front.hem", "own", "4 cm")
    assert edges(opened)["front.hem"].given == "own"
    opened = given(desk, opened, "front.hem", "hem", "3 cm")
    assert mm(opened)["front.hem"] == 30.0
    assert dict(opened.record.allowances) == {"seam": 10.0, "hem": 30.0}
    opened = given(desk, opened, "front.side", "own", "2 cm")
    opened = given(desk, opened, "back.side", "named", "1.5 cm")
    assert (mm(opened)["front.side"], mm(opened)["back.side"]) == (15.0, 15.0)


def test_an_empty_figure_gives_the_usual_one_back(desk, top):
    opened = given(desk, desk.open(top.garment), "front.hem", "own", "4 cm")
    opened = given(desk, opened, "front.hem", "own", None)
    assert mm(opened)["front.hem"] == 25.0
    assert "front.hem" not in opened.document.text


def test_a_key_in_a_table_of_its_piece_is_changed_where_it_stands(desk, top):
    document = desk.library.save(
        top.garment, top.revision, f"{top.text}\n[allowances.front]\nhem = 5\n", {}, said="by hand"
    )
    opened = given(desk, desk.opened(document), "front.hem", "own", "6 cm")
    assert tomllib.loads(opened.document.text)["allowances"]["front"] == {"hem": "6 cm"}
    assert mm(opened)["front.hem"] == 60.0


def test_trying_out_stores_nothing_and_trues_no_second_time(desk, top):
    opened = desk.open(top.garment)
    pattern = opened.trued().pattern
    seen = tried(opened, {'allowances."front.hem"': "3 cm"})
    assert seen.cut().cut_list.piece("front").allowances["hem"] == 30.0
    assert seen.trued().pattern is pattern
    assert desk.open(top.garment).document == opened.document
    seen = tried(opened, {"tape.chest_width": "60 cm"})
    assert seen.trued().pattern is not pattern


def test_a_stored_allowance_trues_no_second_time_either(desk, top):
    opened = desk.open(top.garment)
    pattern = opened.trued().pattern
    opened = given(desk, opened, "front.hem", "own", "3 cm")
    assert opened.trued().pattern is pattern
    opened = desk.change(top.garment, opened.document.revision, {"tape.hem_width": "56 cm"}, said="hem")
    assert opened.trued().pattern is not pattern
