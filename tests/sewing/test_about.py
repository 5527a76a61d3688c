"""Which edges each step of the sewing order is about."""

from datetime import date

import pytest

from likesewn.examples import example_text
from likesewn.garment import load_kind, read_garment
from likesewn.job import Stages


@pytest.fixture(scope="module")
def steps():
    record = read_garment(example_text("throwing-top"), "throwing-top.toml")
    stages = Stages(record, load_kind(record.kind), today=date(2026, 11, 25), clock=lambda: 0.0)
    stages = stages.with_plans(())
    edges = {f"{p.name}.{e.name}" for p in stages.cut_list.pieces for e in p.seam if not e.fold}
    return {step.title: step.about for step in stages.sewing.steps}, edges


def test_every_edge_named_is_one_that_is_cut(steps):
    about, edges = steps
    assert {name for names in about.values() for name in names} <= edges


@pytest.mark.parametrize(
    ("title", "wanted"),
    [
        ("Sew the shoulders", {"front.shoulder", "back.shoulder"}),
        ("Turn up the hem and the sleeve edges", {"front.hem", "back.hem", "sleeve.cuff"}),
        ("Close each side and sleeve in one run", {"front.side", "back.side", "sleeve.underarm"}),
        ("Press and try on", set()),
    ],
)
def test_a_step_is_about_the_edges_of_its_figures(steps, title, wanted):
    assert set(steps[0][title]) == wanted


def test_a_band_step_is_about_the_opening_and_the_band(steps):
    about = steps[0]["Sew the band on in the round"]
    assert {"front.neckline", "back.neckline"} <= set(about)
    assert {name.split(".")[0] for name in about} == {"front", "back", "neckband"}
