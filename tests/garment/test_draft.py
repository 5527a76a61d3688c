"""A draft: a garment file that is still being written."""

from likesewn.garment import load_kind, new_garment, read_draft, update_garment
from likesewn.truing import Explained, explain

KIND = "set-in-sleeve-top"
NEW = new_garment(load_kind(KIND), "cm", "Apron top")


def test_a_new_file_reads_as_a_draft_that_says_what_is_missing():
    draft = read_draft(NEW)
    assert draft.record is not None
    assert draft.record.name == "Apron top"
    assert {key for key, _ in draft.missing} == {"body_length", "chest_width"}
    assert draft.problems == ()


def test_a_draft_without_any_measure_can_be_trued_for_its_picture():
    draft = read_draft(NEW)
    assert isinstance(explain(draft.record, draft.kind), Explained)


def test_other_faults_are_returned_and_leave_no_record():
    draft = read_draft(update_garment(NEW, {"tape.hem_width": 9000}))
    text = update_garment(NEW, {"cloth.widht": 3})
    assert draft.record is None
    assert draft.kind is not None
    assert "tape.hem_width" in {problem.key for problem in draft.problems}
    assert read_draft(text).record is None
    assert "width" in {problem.nearest for problem in read_draft(text).problems}
    assert {key for key, _ in read_draft(text).missing} == {"body_length", "chest_width"}


def test_what_is_not_toml_is_a_problem_and_no_kind():
    draft = read_draft("[garment")
    assert (draft.record, draft.kind, draft.missing) == (None, None, ())
    assert draft.problems
