"""Rescue: what a damaged library still holds is read, and the damaged file is left as it is."""

import random
import sqlite3
import tomllib
import zipfile
from contextlib import closing

import pytest

from likesewn.library import LibraryReadOnly, rescue
from likesewn.library.pages import rows
from shelves import PNG, START, TOP, a_library, top

PAGE = 4096


def filled(folder, garments=30, hints=700):
    """Make a library whose garments stand on many pages, some rows on several; return texts by garment."""
    made = {}
    dice = random.Random(5)  # noqa: S311 - no secret
    with a_library(folder) as library:
        for n in range(garments):
            aside = {"hints": [dice.random() for _ in range(dice.randrange(hints))]}
            one = library.add(top(n, f"Top {n}"), aside)
            library.save(one.garment, 1, top(100 + n, f"Top {n}"), aside, said="chest")
            two = library.save(one.garment, 2, top(200 + n, f"Top {n}"), aside, said="chest")
            if n % 3 == 0:
                two = library.undo(one.garment, 3)
            made[one.garment] = (two.text, two.aside)
    return made


def damaged(folder, damage):
    file = folder / "likesewn.sqlite"
    data = bytearray(file.read_bytes())
    damage(data)
    file.write_bytes(data)
    return bytes(data)


def test_a_good_library_is_read_whole(tmp_path):
    made = filled(tmp_path)
    found = rescue(tmp_path)
    assert {one.garment: (one.text, one.aside) for one in found.garments} == made
    assert {one.found for one in found.garments} == {"whole"}
    assert found.lost == ()
    assert [one.name for one in found.garments] == sorted(one.name for one in found.garments)


def test_what_only_the_log_holds_is_read_too(tmp_path):
    library = a_library(tmp_path)
    garment = library.add(TOP).garment
    library.save(garment, 1, top(54), {}, said="54")
    assert rescue(tmp_path).garments[0].text == top(54)
    library.close()


@pytest.mark.parametrize("page", range(2, 14))
def test_a_lost_page_costs_at_most_the_garments_on_it(tmp_path, page):
    made = filled(tmp_path)

    def lose(data):
        data[(page - 1) * PAGE : page * PAGE] = bytes(PAGE)

    spoilt = damaged(tmp_path, lose)
    found = rescue(tmp_path)
    whole = {one.garment: (one.text, one.aside) for one in found.garments if one.found == "whole"}
    assert len(whole) >= len(made) - 4
    assert all(made[garment] == state for garment, state in whole.items())
    assert {one.garment for one in found.garments} | set(found.lost) <= set(made)
    assert (tmp_path / "likesewn.sqlite").read_bytes() == spoilt


@pytest.mark.parametrize("lost", [100, PAGE, 3 * PAGE])
def test_a_lost_beginning_is_read_page_by_page(tmp_path, lost):
    """Without its heading SQLite reads nothing of a file."""
    made = filled(tmp_path)
    damaged(tmp_path, lambda data: data.__setitem__(slice(0, lost), bytes(lost)))
    with (
        closing(sqlite3.connect(tmp_path / "likesewn.sqlite")) as reader,
        pytest.raises(sqlite3.DatabaseError),
    ):
        reader.execute("SELECT * FROM garment")
    found = rescue(tmp_path)
    assert len(found.garments) >= len(made) - 6
    for one in found.garments:
        if one.found == "whole":
            assert (one.text, one.aside) == made[one.garment]
        assert one.text.startswith("format = 1")


def test_the_half_of_a_file_gives_about_half(tmp_path):
    made = filled(tmp_path)
    damaged(tmp_path, lambda data: data.__delitem__(slice(len(data) // 2, None)))
    found = rescue(tmp_path)
    assert len(found.garments) >= len(made) // 4
    assert {one.garment for one in found.garments} <= set(made)


def test_any_damage_whatever_is_survived_and_no_text_is_made_up(tmp_path):
    dice = random.Random(11)  # noqa: S311 - no secret
    made = filled(tmp_path, 12)
    good = (tmp_path / "likesewn.sqlite").read_bytes()
    texts = {text for text, _ in made.values()}
    texts |= {top(n + more, f"Top {n}") for n in range(12) for more in (0, 100, 200)}
    for _ in range(25):
        data = bytearray(good)
        for _ in range(dice.randrange(1, 60)):
            at = dice.randrange(len(data))
            data[at : at + 40] = dice.randbytes(min(40, len(data) - at))
        (tmp_path / "likesewn.sqlite").write_bytes(data)
        for one in rescue(tmp_path).garments:
            assert one.text in texts


def test_pages_give_the_rows_that_sqlite_gives(tmp_path):
    """Every form of value, rows over several pages, and tables of several levels."""
    file = tmp_path / "other.sqlite"
    values = [
        None,
        0,
        1,
        -1,
        127,
        -128,
        300,
        -70_000,
        2**31,
        -(2**40),
        2**62,
        1.5,
        "",
        "ü" * 50,
        b"\0",
        b"x" * 9000,
    ]
    with closing(sqlite3.connect(file)) as made, made:
        made.execute("CREATE TABLE t (a, b)")
        for n in range(400):
            made.execute("INSERT INTO t VALUES (?, ?)", (values[n % len(values)], "y" * (n * 37 % 5000)))
        expected = made.execute("SELECT rowid, a, b FROM t").fetchall()
    found = {(number, *row) for number, row in rows(file.read_bytes()) if len(row) == 2}
    assert found == set(expected)


def test_what_was_rescued_is_written_as_garment_files(tmp_path):
    folder = tmp_path / "library"
    with a_library(folder) as library:
        digest = library.keep_photo(PNG, "png")
        spoilt = library.keep_photo(PNG + b"\0", "png")
        one = library.add(TOP, {"photo": digest, "other": spoilt})
        two = library.add(top(name="../../Top: ?"))
        library.delete(two.garment)
        library.photo_path(spoilt).write_bytes(b"gone")
    damaged(folder, lambda data: data.__setitem__(slice(0, 100), bytes(100)))
    rescue(folder).write(tmp_path / "rescued.zip", START)
    with zipfile.ZipFile(tmp_path / "rescued.zip") as bundle:
        contents = tomllib.loads(bundle.read("contents.toml").decode())
        assert bundle.read(f"{one.garment}.toml").decode() == TOP
        assert bundle.read(f"photos/{digest}.png") == PNG
        files = {f"{g}.{end}" for g in (one.garment, two.garment) for end in ("toml", "json")}
        assert set(bundle.namelist()) == files | {"contents.toml", f"photos/{digest}.png"}
    told = {entry["file"]: (entry["name"], entry["deleted"]) for entry in contents["garment"]}
    assert told == {
        f"{one.garment}.toml": ("Throwing top", False),
        f"{two.garment}.toml": ("../../Top: ?", True),
    }


def test_a_folder_without_a_library_is_told(tmp_path):
    with pytest.raises(LibraryReadOnly, match="no library"):
        rescue(tmp_path)
