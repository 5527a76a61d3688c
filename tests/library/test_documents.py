"""Documents: saved as made, undone, redone, copied, deleted and restored; refused when they are stale."""

import subprocess
import sys
import threading
from datetime import timedelta
from pathlib import Path

import pytest

from likesewn.errors import InputError
from likesewn.library import Conflict, Library, LibraryError, NoSuchGarment, NothingToUndo, documents
from shelves import START, TOP, a_library, clock, top


@pytest.fixture
def library(tmp_path):
    with a_library(tmp_path / "library") as library:
        yield library


def test_a_garment_comes_back_letter_for_letter(library):
    text = TOP.replace("\n", "\r\n") + "# ½ inch — “so”\n"
    aside = {"ticks": ["a", 1, 2.5, None, True], "photo": {"1": "ü"}}
    made = library.add(text, aside, said="from a file")
    assert made == library.get(made.garment)
    assert (made.text, made.aside, made.revision, made.deleted) == (text, aside, 1, False)
    assert (made.name, made.kind) == ("Throwing top", "set-in-sleeve-top")
    assert START < made.changed <= START + timedelta(minutes=3)
    assert (made.can_undo, made.can_redo) == ("", "")
    assert made.garment.isalnum()


def test_a_garment_without_a_name_goes_by_its_kind(library):
    title = library.add('[garment]\nkind = "set-in-sleeve-top"\nname = ""\n').name
    assert title == "Pull-on top with set-in sleeves"
    assert library.add('[garment]\nkind = "cape"\nname = 7\n').name == "cape"


def test_incomplete_and_impossible_figures_are_kept(library):
    text = '[garment]\nkind = "set-in-sleeve-top"\n[tape]\nchest_width = "minus nine"\n'
    assert library.get(library.add(text).garment).text == text


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("chest = = 3", "TOML"),
        ("", "empty"),
        ('[garment]\nname = "x"\n', "kind of garment is missing"),
        ('garment = "top"\n', "kind of garment is missing"),
        ("[garment]\nkind = 3\n", "kind of garment is missing"),
        (TOP + "# \udcff", "UTF-8"),
        (TOP + "# \0", "zero byte"),
        (TOP + f"deep = {'[' * 30}{']' * 30}", "nested too deep"),
        (TOP + f"deep = {'[' * 9000}{']' * 9000}", "nested too deep"),
        (TOP + ".".join("abcdefghijklmnopqrstuvwxyz") + " = 1", "nested too deep"),
        (TOP + "#" * 2_000_000, "too large"),
        (TOP + '[wearer]\nname = "x"', "twice"),
    ],
)
def test_what_is_no_garment_file_is_not_stored(library, text, told):
    kept = library.add(TOP)
    with pytest.raises(InputError, match=told):
        library.add(text)
    with pytest.raises(InputError, match=told):
        library.save(kept.garment, 1, text, {}, said="bad")
    assert library.shelf().total == 1
    assert library.get(kept.garment) == kept


@pytest.mark.parametrize("aside", [{"a": object()}, {"a": float("nan")}, {"a": "x" * 4_000_001}])
def test_an_aside_that_json_cannot_hold_is_not_stored(library, aside):
    with pytest.raises(InputError, match="goes with this garment"):
        library.add(TOP, aside)
    assert library.shelf().total == 0


def test_undo_and_redo_walk_along_the_changes_and_cover_the_aside(library):
    one = library.add(TOP, {"ticks": []})
    two = library.save(one.garment, 1, top(54), {"ticks": []}, said="chest width")
    three = library.save(one.garment, 2, top(54), {"ticks": ["hem"]}, said="a tick")
    assert library.revision(one.garment) == 3
    assert (two.can_undo, three.can_undo, three.can_redo) == ("chest width", "a tick", "")
    back = library.undo(one.garment, 3)
    assert (back.text, back.aside, back.revision) == (two.text, two.aside, 4)
    assert (back.can_undo, back.can_redo) == ("chest width", "a tick")
    first = library.undo(one.garment, 4)
    assert (first.text, first.can_undo, first.can_redo) == (TOP, "", "chest width")
    with pytest.raises(NothingToUndo, match="undo"):
        library.undo(one.garment, 5)
    library.redo(one.garment, 5)
    last = library.redo(one.garment, 6)
    assert (last.text, last.aside, last.revision) == (three.text, three.aside, 7)
    with pytest.raises(NothingToUndo, match="redo"):
        library.redo(one.garment, 7)


def test_a_change_after_undo_lets_go_of_what_was_undone(library):
    one = library.add(TOP)
    library.save(one.garment, 1, top(54), {}, said="54")
    library.undo(one.garment, 2)
    new = library.save(one.garment, 3, top(55), {}, said="55")
    assert (new.can_undo, new.can_redo) == ("55", "")
    with pytest.raises(NothingToUndo):
        library.redo(one.garment, 4)
    assert library.undo(one.garment, 4).text == TOP


def test_a_change_that_changes_nothing_is_no_step(library):
    one = library.add(TOP, {"a": 1})
    assert library.save(one.garment, 1, TOP, {"a": 1}, said="nothing") == one
    with pytest.raises(Conflict):
        library.save(one.garment, 2, TOP, {"a": 1}, said="nothing")


def test_a_change_without_words_can_still_be_told(library):
    one = library.add(TOP)
    assert library.save(one.garment, 1, top(54), {}, said=" \n").can_undo == "change"


def test_the_last_steps_are_kept(library, monkeypatch):
    assert documents.MOST_STEPS == 400
    monkeypatch.setattr(documents, "MOST_STEPS", 12)
    garment = library.add(TOP).garment
    for n in range(17):
        library.save(garment, n + 1, top(n), {}, said=f"to {n}")
    revision = 18
    for n in reversed(range(5, 17)):
        document = library.undo(garment, revision)
        revision = document.revision
        assert document.text == top(n - 1)
    with pytest.raises(NothingToUndo):
        library.undo(garment, revision)


def test_names_follow_the_text_through_undo(library):
    one = library.add(TOP)
    assert library.save(one.garment, 1, top(name="Kiln top"), {}, said="name").name == "Kiln top"
    assert library.undo(one.garment, 2).name == "Throwing top"
    assert library.shelf(search="kiln").total == 0


def test_a_copy_is_a_garment_of_its_own(library):
    one = library.add(TOP, {"photos": [1]})
    library.save(one.garment, 1, top(54), {"photos": [1]}, said="54")
    two = library.duplicate(one.garment, 'Second "top"')
    assert (two.name, two.revision, two.can_undo, two.aside) == ('Second "top"', 1, "", {"photos": [1]})
    assert "# the studio's" in two.text
    assert two.garment != one.garment
    library.save(two.garment, 1, top(60), {}, said="60")
    assert library.get(one.garment).text == top(54)
    assert library.duplicate(one.garment, "").name == "Throwing top"


def test_a_deleted_garment_comes_back_with_its_undo_list(library):
    one = library.add(TOP)
    library.save(one.garment, 1, top(54), {}, said="54")
    library.delete(one.garment)
    library.delete(one.garment)
    assert library.shelf().total == 0
    assert [row.garment for row in library.shelf(deleted=True).rows] == [one.garment]
    gone = library.get(one.garment)
    assert (gone.deleted, gone.revision) == (True, 3)
    for change in (library.undo, library.redo):
        with pytest.raises(Conflict, match="restore it"):
            change(one.garment, 3)
    with pytest.raises(Conflict) as caught:
        library.save(one.garment, 2, top(55), {}, said="late")
    assert caught.value.newest == gone
    back = library.restore(one.garment)
    assert (back.deleted, back.revision, back.can_undo) == (False, 4, "54")
    assert library.restore(one.garment) == back
    assert library.undo(one.garment, 4).text == TOP


@pytest.mark.parametrize("garment", ["", "nothing", "../../x", "\udcff", "a" * 10_000])
def test_an_unknown_garment_is_told(library, garment):
    for ask in (
        lambda: library.get(garment),
        lambda: library.revision(garment),
        lambda: library.save(garment, 1, TOP, {}, said=""),
        lambda: library.undo(garment, 1),
        lambda: library.redo(garment, 1),
        lambda: library.duplicate(garment, "x"),
        lambda: library.delete(garment),
        lambda: library.restore(garment),
        lambda: library.thumbnail(garment),
        lambda: library.set_thumbnail(garment, 1, "<svg/>"),
    ):
        with pytest.raises(NoSuchGarment) as caught:
            ask()
        assert isinstance(caught.value, LookupError | LibraryError)


def test_two_windows_do_not_overwrite_one_another(tmp_path):
    with a_library(tmp_path) as one, a_library(tmp_path) as two:
        garment = one.add(TOP).garment
        mine = one.save(garment, 1, top(54), {}, said="54")
        with pytest.raises(Conflict, match="another window") as caught:
            two.save(garment, 1, top(55), {}, said="55")
        assert caught.value.newest == mine
        for change in (two.undo, two.redo):
            with pytest.raises(Conflict):
                change(garment, 1)
        assert two.save(garment, caught.value.newest.revision, top(55), {}, said="55").revision == 3
        assert one.get(garment).text == top(55)


def test_threads_of_two_libraries_lose_no_update(tmp_path):
    """Each of four threads adds one to a figure twenty times, trying again after every conflict."""
    folder = tmp_path / "library"
    with a_library(folder) as one, a_library(folder) as two:
        garment = one.add(top(0)).garment
        failures = []

        def count_up(library: Library) -> None:
            try:
                for _ in range(20):
                    document = library.get(garment)
                    while True:
                        figure = int(document.text.split("chest_width = ")[1].split("\n")[0])
                        try:
                            library.save(garment, document.revision, top(figure + 1), {}, said="one more")
                        except Conflict as conflict:
                            document = conflict.newest
                        else:
                            break
            except BaseException as error:  # noqa: BLE001 - told by the main thread
                failures.append(error)

        threads = [threading.Thread(target=count_up, args=(library,)) for library in (one, two, one, two)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert not failures
        assert one.get(garment).text == top(80)
        assert two.get(garment).revision == 81


COUNT = """
import sys
sys.path.insert(0, sys.argv[1])
from pathlib import Path
from shelves import a_library, top
from likesewn.library import Conflict
with a_library(Path(sys.argv[2]), busy_seconds=60) as library:
    for _ in range(15):
        document = library.get(sys.argv[3])
        while True:
            figure = int(document.text.split("chest_width = ")[1].split(chr(10))[0])
            try:
                library.save(sys.argv[3], document.revision, top(figure + 1), {}, said="one more")
                break
            except Conflict as conflict:
                document = conflict.newest
"""


def test_programs_lose_no_update(tmp_path):
    with a_library(tmp_path) as library:
        garment = library.add(top(0)).garment
        tests = str(Path(__file__).parent.parent)
        call = [sys.executable, "-c", COUNT, tests, str(tmp_path), garment]
        programs = [subprocess.Popen(call) for _ in range(2)]
        assert [program.wait() for program in programs] == [0, 0]
        assert (library.get(garment).text, library.revision(garment)) == (top(30), 31)


def test_everything_is_there_when_it_is_opened_again(tmp_path):
    with a_library(tmp_path) as library:
        one = library.add(TOP, {"a": 1})
        two = library.save(one.garment, 1, top(54), {"a": 2}, said="54")
    with a_library(tmp_path) as library:
        assert library.get(one.garment) == two
        assert library.undo(one.garment, 2).text == TOP


def test_a_clock_that_goes_back_does_not_disorder_the_shelf(tmp_path):
    with a_library(tmp_path, now=clock(step=timedelta(minutes=-5))) as library:
        ids = [library.add(TOP).garment for _ in range(3)]
        assert [row.garment for row in library.shelf().rows] == ids[::-1]
