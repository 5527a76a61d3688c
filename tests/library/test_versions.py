"""Versions: kept on purpose, listed, gone back to; and two texts told apart."""

import pytest

from likesewn.errors import InputError
from likesewn.library import Change, Conflict, NoSuchGarment, NoSuchVersion, compare
from shelves import TOP, a_library, top


@pytest.fixture
def library(tmp_path):
    with a_library(tmp_path) as library:
        yield library


def test_a_version_holds_the_state_that_it_was_kept_of(library):
    garment = library.add(TOP, {"ticks": [1]}).garment
    kept = library.keep_version(garment, 1, name=" First\nfit ")
    assert (kept.number, kept.name, kept.why, kept.revision) == (1, "First fit", "named", 1)
    assert (kept.text, kept.aside) == (TOP, {"ticks": [1]})
    library.save(garment, 1, top(54), {}, said="54")
    library.keep_version(garment, 2, why="import")
    assert [v.number for v in library.versions(garment)] == [2, 1]
    assert library.version(garment, 1) == kept
    with pytest.raises(Conflict):
        library.keep_version(garment, 1)


def test_the_same_state_is_kept_once_unless_it_is_named(library):
    garment = library.add(TOP).garment
    one = library.keep_version(garment, 1, why="make")
    assert library.keep_version(garment, 1, why="make") == one
    assert library.keep_version(garment, 1, name="Good").number == 2


def test_versions_outlast_the_undo_list_and_an_undone_state(library):
    garment = library.add(TOP).garment
    library.save(garment, 1, top(54), {}, said="54")
    library.keep_version(garment, 2, name="54")
    library.undo(garment, 2)
    library.save(garment, 3, top(55), {}, said="55")
    assert library.version(garment, 1).text == top(54)


def test_going_back_can_be_undone_and_keeps_what_was(library):
    garment = library.add(TOP, {"a": 1}).garment
    library.keep_version(garment, 1, name="First")
    library.save(garment, 1, top(60), {}, said="60")
    back = library.go_back(garment, 2, 1)
    assert (back.text, back.aside, back.revision, back.can_undo) == (TOP, {"a": 1}, 3, "back to First")
    assert library.versions(garment)[0].why == "before going back"
    assert library.versions(garment)[0].text == top(60)
    assert library.go_back(garment, 3, 1) == back
    assert library.undo(garment, 3).text == top(60)
    again = library.go_back(garment, 4, 1, said="the first again")
    assert again.can_undo == "the first again"
    assert len(library.versions(garment)) == 2
    with pytest.raises(Conflict):
        library.go_back(garment, 2, 1)


@pytest.mark.parametrize("number", [0, -1, 2, 10**30])
def test_an_unknown_version_is_told(library, number):
    garment = library.add(TOP).garment
    library.keep_version(garment, 1)
    with pytest.raises(NoSuchVersion, match=str(number)):
        library.version(garment, number)
    with pytest.raises(NoSuchVersion):
        library.go_back(garment, 1, number)
    with pytest.raises(NoSuchGarment):
        library.versions("nothing")


POINTS = """
[[points]]
piece = "front"
edge = "armhole"
at = [[18.9, 5.1], [17.6, 10.0]]

[[points]]
piece = "front"
edge = "neckline"
at = [[1.5, 2], [3, 4], [5, 6]]
"""


def test_what_differs_is_told_as_it_was_written():
    after = (
        TOP.replace("# the studio's", "# ours").replace('"53 +- 0.3"', "54.50").replace('size = "M"\n', "")
    )
    after += "[cloth]\nnap = true\nflaws_along = [[1, 2]]\n"
    assert compare(TOP, after) == (
        Change("garment.size", "M", ""),
        Change("tape.chest_width", "53 +- 0.3", "54.50"),
        Change("cloth.nap", "", "true"),
        Change("cloth.flaws_along", "", "1 point"),
    )
    assert compare(TOP, TOP.replace("\n", "\r\n") + "# more\n") == ()


def test_points_are_matched_by_what_they_are_of():
    before = TOP + POINTS
    without = TOP + POINTS[POINTS.index("[[points]]", 5) :]
    assert compare(before, without) == (Change("points[1]", "piece front, edge armhole, at 2 points", ""),)
    assert compare(without, before) == (Change("points[1]", "", "piece front, edge armhole, at 2 points"),)
    more = before.replace("[5, 6]]", '[5, 6], [7, 8]]\nsigma = "2 mm"')
    assert set(compare(before, more)) == {
        Change("points[2].at", "3 points", "4 points"),
        Change("points[2].sigma", "", "2 mm"),
    }
    moved = before.replace("[3, 4]", "[3, 4.5]")
    assert compare(before, moved) == (Change("points[2].at", "3 points", "3 points"),)
    assert compare(TOP, TOP + POINTS) == (
        Change("points[1]", "", "piece front, edge armhole, at 2 points"),
        Change("points[2]", "", "piece front, edge neckline, at 3 points"),
    )


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ("a = 1", "a = {}", ("1", "an empty table")),
        ("a = []", "a = [[[1, 2]]]", ("none", "1 outline")),
        ("a = ['x', 'y']", "a = 1979-05-27", ("x, y", "1979-05-27")),
        ("a = 1", "a = 1.0", ("1", "1.0")),
        ("a = [{b = 1}]", "a = 3", ("b 1", "3")),
        ("a = false", "a = 0", ("false", "0")),
    ],
)
def test_values_of_any_sort_can_be_told_apart(before, after, told):
    assert compare(before, after) == (Change("a", *told),)


def test_texts_that_are_not_toml_are_refused():
    with pytest.raises(InputError):
        compare(TOP, "= 3")
