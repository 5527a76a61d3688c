"""How far each stage is, at a glance."""

from likesewn.web.stages import STAGES, quick_statuses, statuses


def test_an_empty_garment_has_not_begun(desk):
    found = quick_statuses(desk.opened(desk.begin("set-in-sleeve-top")))
    assert tuple(found) == STAGES
    assert {one.state for one in found.values()} == {"wait"}
    assert found["record"].says == "2 measures are needed"


def test_a_whole_garment_is_done_but_for_sewing(desk, top):
    found = statuses(desk, desk.open(top.garment))
    assert {stage: one.state for stage, one in found.items() if stage not in {"true", "cut", "lay"}} == {
        "record": "done",
        "print": "done",
        "sew": "wait",
    }
    assert "cloth" in found["lay"].says or "look" in found["lay"].says


def test_figures_that_cannot_hold_stop_at_truing(desk, top):
    opened = desk.change(top.garment, top.revision, {"tape.neck_width": "60 cm"}, said="wrong")
    found = statuses(desk, opened)
    assert found["true"].state in {"stop", "look"}


def test_steps_that_are_ticked_off_are_counted(desk, top):
    opened = desk.change(
        top.garment, top.revision, said="ticked", aside={"ticked": ["step-1", "step-2", "buy-1"]}
    )
    found = statuses(desk, opened)
    assert found["sew"].state == "part"
    assert found["sew"].says.startswith("2 of ")


def test_a_file_with_faults_says_so(desk):
    document = desk.take_in(b'[garment]\nkind = "set-in-sleeve-top"\nnam = "x"\n', "x.toml")
    found = quick_statuses(desk.opened(document))
    assert found["record"].state == "stop"
