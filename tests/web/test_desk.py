"""The desk: garments opened, changed and worked on, without a browser."""

import threading

import pytest

from likesewn.errors import InputError
from likesewn.library import Conflict, NoSuchGarment
from likesewn.truing import Explained
from patience import PATIENCE

KIND = "set-in-sleeve-top"


def test_a_new_garment_waits_for_its_measures_and_can_be_drawn(desk):
    opened = desk.opened(desk.begin(KIND, "in", "Kiln apron"))
    assert opened.document.name == "Kiln apron"
    assert opened.record.unit == "in"
    assert {key for key, _ in opened.draft.missing} == {"body_length", "chest_width"}
    assert isinstance(opened.explained(), Explained)
    assert not opened.complete
    assert opened.ready() is None


def test_measures_come_in_one_by_one(desk):
    document = desk.begin(KIND)
    opened = desk.change(
        document.garment, document.revision, {"tape.chest_width": "52 cm"}, said="chest width"
    )
    opened = desk.change(document.garment, opened.document.revision, {"tape.body_length": 66}, said="length")
    assert opened.complete
    assert opened.document.can_undo == "length"
    assert opened.cut().cut_list.pieces


def test_a_value_that_cannot_be_read_changes_nothing(desk, top):
    with pytest.raises(InputError) as refused:
        desk.change(top.garment, top.revision, {"tape.chest_width": "52 cmm"}, said="chest width")
    assert {problem.key for problem in refused.value.problems} == {"tape.chest_width"}
    assert desk.open(top.garment).document.revision == top.revision


def test_a_fault_that_was_there_does_not_hinder_another_change(desk):
    document = desk.take_in(
        f'format = 1\n[garment]\nname = "Old"\nkind = "{KIND}"\n[tape]\nchest_width = "9 km"\n'.encode(),
        "old.toml",
    )
    assert desk.open(document.garment).record is None
    opened = desk.change(document.garment, document.revision, {"tape.body_length": "66 cm"}, said="length")
    opened = desk.change(
        document.garment, opened.document.revision, {"tape.chest_width": "52 cm"}, said="chest width"
    )
    assert opened.complete


def test_two_windows_do_not_overwrite_one_another(desk, top):
    desk.change(top.garment, top.revision, {"tape.hem_width": "56 cm"}, said="hem width")
    with pytest.raises(Conflict):
        desk.change(top.garment, top.revision, {"tape.hem_width": "50 cm"}, said="hem width")
    assert desk.open(top.garment).record.tape["hem_width"].mm == 560


def test_whoever_watches_is_told(desk, top):
    told = []
    end = desk.watch(top.garment, lambda document, whence: told.append((document.revision, whence)))
    desk.change(top.garment, top.revision, {"tape.hem_width": "56 cm"}, said="hem width")
    desk.change(
        top.garment, top.revision + 1, said="photograph", aside={"photos": []}, whence="from the phone"
    )
    end()
    desk.undo(top.garment, top.revision + 2)
    assert told == [(top.revision + 1, ""), (top.revision + 2, "from the phone")]


def test_undo_brings_back_stages_that_are_done(desk, top):
    before = desk.open(top.garment)
    trued = before.trued()
    desk.change(top.garment, top.revision, {"tape.hem_width": "56 cm"}, said="hem width")
    again = desk.undo(top.garment, top.revision + 1)
    assert again.document.text == top.text
    assert again.trued() is trued


def test_the_aside_is_kept_beside_the_file_and_undone_with_it(desk, top):
    opened = desk.change(top.garment, top.revision, said="ticked", aside={"ticked": ["step-1"]})
    assert opened.document.aside["ticked"] == ["step-1"]
    assert opened.document.text == top.text
    assert "ticked" not in desk.undo(top.garment, opened.document.revision).document.aside


def test_the_garment_is_laid_in_a_process_of_its_own(desk, top):
    opened = desk.open(top.garment)
    laid = desk.lay(opened)
    assert laid.plans[0].length_mm > 1000
    assert laid.proofs == ()
    assert desk.lay(opened) is laid
    stages = desk.finished(opened)
    assert stages.sewing.steps


def test_a_search_can_be_stopped_and_keeps_what_it_found(desk, top):
    opened = desk.open(top.garment)
    begun = threading.Event()
    found = []

    def told(message):
        found.append(message)
        begun.set()

    search = threading.Thread(target=desk.lay, args=(opened, 60.0, told))
    search.start()
    assert begun.wait(PATIENCE)
    desk.room.stop()
    search.join(PATIENCE)
    assert not search.is_alive()
    assert opened.laid is not None


def test_a_thumbnail_is_drawn_afresh_when_the_garment_changed(desk, top):
    first = desk.thumbnail(top.garment)
    assert "<svg" in first
    assert desk.thumbnail(top.garment) == first
    desk.change(top.garment, top.revision, {"tape.body_length": "90 cm"}, said="length")
    assert desk.thumbnail(top.garment) != first


def test_what_is_not_there_is_said(desk):
    with pytest.raises(NoSuchGarment):
        desk.open("nothing")
    with pytest.raises(InputError):
        desk.begin("ball-gown")
    with pytest.raises(InputError):
        desk.take_in(b"\xff\xfe\x00", "photo.jpg")
    with pytest.raises(InputError):
        desk.take_in(b"this is not toml", "notes.txt")
