"""Foldings and cloths compared, and a cloth of the drawer taken for a garment."""

from dataclasses import replace

from likesewn.job import cloths_of
from likesewn.lay import FOLDINGS
from likesewn.web.comparing import compared_cloths, compared_foldings, drawer, take_cloth, what_would_fit


def test_foldings_are_compared_the_shortest_first(desk, top):
    opened = desk.open(top.garment)
    found = compared_foldings(desk, opened)
    assert {one.name for one in found} <= set(FOLDINGS)
    buys = [one.buy_mm for one in found if one.fits]
    assert buys == sorted(buys)
    folded = next(one for one in found if one.name == opened.record.cloths["main"].folding)
    assert folded.buy_mm == desk.lay(opened).plans[0].buy_mm
    assert all(one.words for one in found)


def test_cloths_of_the_drawer_are_compared_and_one_is_taken(desk, top):
    wide = desk.library.add_cloth("Oat jersey", 'width = "160 cm"\nlength = "2 m"\nfolding = "open"')
    scrap = desk.library.add_cloth("Remnant", 'width = "40 cm"\nlength = "30 cm"')
    opened = desk.open(top.garment)
    found = {one.name: one for one in compared_cloths(desk, opened)}
    assert found[wide.cloth].fits
    assert not found[scrap.cloth].fits
    kept = {one.cloth: one for one in drawer(desk)}
    changes = take_cloth(opened, "cloth", kept[wide.cloth])
    opened = desk.change(top.garment, top.revision, changes, said="cloth")
    cloth = opened.record.cloths["main"]
    assert (cloth.width_mm, cloth.length_mm, cloth.folding) == (1600.0, 2000.0, "open")


def test_an_empty_drawer_compares_nothing(desk, top):
    assert compared_cloths(desk, desk.open(top.garment)) == ()


def test_without_a_pattern_nothing_is_compared(desk):
    begun = desk.opened(desk.begin("set-in-sleeve-top"))
    assert compared_foldings(desk, begun) == ()


def test_what_would_make_it_fit_is_said(desk, top):
    opened = desk.open(top.garment)
    stages = opened.cut()
    (name, cloth), *_ = cloths_of(stages.record, stages.cut_list).items()
    assert "open" in what_would_fit(desk, opened, name, replace(cloth, length_mm=1380.0))
