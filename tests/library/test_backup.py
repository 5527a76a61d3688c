"""Backups: daily copies of the database, the whole library as one zip, and a library from it."""

import io
import os
import zipfile
from datetime import date, timedelta

import pytest

from likesewn.errors import InputError
from likesewn.library import Library, LibraryDamaged, opening
from likesewn.library.daily import newest_good, wrong_with
from shelves import PNG, START, TOP, a_library, clock, top


def test_one_copy_a_day_and_the_last_fourteen(tmp_path):
    for day in range(17):
        with a_library(tmp_path, now=clock(START + timedelta(days=day))) as library:
            library.add(top(day))
            made = library.daily_backup()
            assert made is not None
            assert wrong_with(made) == ""
            assert library.daily_backup() is None
    kept = sorted(p.name for p in (tmp_path / "backups").iterdir())
    days = [date(2026, 3, 2) + timedelta(days=n) for n in range(3, 17)]
    assert kept == [f"likesewn-{day}.sqlite" for day in days]


def test_a_copy_that_was_left_half_made_goes(tmp_path):
    with a_library(tmp_path) as library:
        backups = tmp_path / "backups"
        backups.mkdir()
        for name, days in ((".abc.part", 2), (".abc.part-journal", 2), (".def.part", 0)):
            (backups / name).write_bytes(b"half")
            at = (START - timedelta(days=days)).timestamp()
            os.utime(backups / name, (at, at))
        made = library.daily_backup()
        assert sorted(p.name for p in backups.iterdir()) == [".def.part", made.name]


def test_a_daily_copy_is_a_library_of_that_day(tmp_path):
    with a_library(tmp_path / "one") as library:
        garment = library.add(TOP).garment
        backup = library.daily_backup()
        library.save(garment, 1, top(54), {}, said="54")
    (tmp_path / "two").mkdir()
    (tmp_path / "two" / "likesewn.sqlite").write_bytes(backup.read_bytes())
    with a_library(tmp_path / "two") as library:
        assert library.get(garment).text == TOP


def test_a_damaged_library_lets_no_backup_go(tmp_path, monkeypatch):
    monkeypatch.setattr(opening, "CHECKED_ON_OPENING", 0)  # as if it were large
    for day in range(14):
        with a_library(tmp_path, now=clock(START + timedelta(days=day))) as library:
            library.add(top(day), {"x": [str(n) for n in range(2000)]})
            library.daily_backup()
    before = sorted((tmp_path / "backups").iterdir())
    file = tmp_path / "likesewn.sqlite"
    data = bytearray(file.read_bytes())
    data[-4096:] = bytes(range(100, 116)) * 256
    file.write_bytes(data)
    with a_library(tmp_path, now=clock(START + timedelta(days=20))) as library:
        with pytest.raises(LibraryDamaged, match="likesewn-2026-03-15"):
            library.daily_backup()
        with pytest.raises(LibraryDamaged):
            library.back_up(tmp_path / "out" / "all.zip")
    assert sorted((tmp_path / "backups").iterdir()) == before
    assert list((tmp_path / "out").iterdir()) == []


def test_a_backup_that_is_damaged_is_passed_over(tmp_path):
    with a_library(tmp_path) as library:
        library.add(TOP)
        good = library.daily_backup()
    (tmp_path / "backups" / "likesewn-2026-03-03.sqlite").write_bytes(good.read_bytes()[:9000])
    (tmp_path / "backups" / "likesewn-2026-03-04.sqlite").write_bytes(b"nothing")
    assert newest_good(tmp_path / "backups") == good
    assert newest_good(tmp_path / "none") is None


def filled(folder):
    library = a_library(folder)
    digest = library.keep_photo(PNG, "png")
    garment = library.add(TOP, {"photo": digest}).garment
    library.save(garment, 1, top(54), {"photo": digest}, said="54")
    library.add_make(garment, 2, made=date(2026, 3, 1), picture=digest)
    library.add_cloth("Linen", 'width = "150 cm"')
    return library, garment, digest


@pytest.mark.parametrize("as_bytes", [True, False])
def test_everything_comes_back_from_a_backup(tmp_path, as_bytes):
    library, garment, digest = filled(tmp_path / "one")
    to = tmp_path / "backup of all.zip"
    to.write_bytes(b"an older one")
    with library:
        library.back_up(to)
        document, makes, cloths = library.get(garment), library.makes(garment), library.cloths()
    (tmp_path / "two").mkdir()
    given = to.read_bytes() if as_bytes else to
    with Library.restore_backup(given, tmp_path / "two", now=clock()) as other:
        assert other.get(garment) == document
        assert (other.makes(garment), other.cloths()) == (makes, cloths)
        assert other.photo(digest) == PNG
        assert other.undo(garment, 2).text == TOP
    assert sorted(p.name for p in tmp_path.iterdir()) == ["backup of all.zip", "one", "two"]


def test_a_backup_is_only_put_where_nothing_is(tmp_path):
    library, _, _ = filled(tmp_path / "one")
    with library:
        library.back_up(tmp_path / "all.zip")
    for folder in (tmp_path / "one", tmp_path / "all.zip"):
        with pytest.raises(InputError, match="something in this folder"):
            Library.restore_backup(tmp_path / "all.zip", folder, now=clock())
    with pytest.raises(InputError, match="no such file"):
        Library.restore_backup(tmp_path / "none.zip", tmp_path / "two", now=clock())


def rezipped(data, **changes):
    """Write a zip again with some of its files replaced, added, or left out (None)."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(buffer, "w") as new:
        files = {name: old.read(name) for name in old.namelist()}
        files |= {name.replace("__", "/"): content for name, content in changes.items()}
        for name, content in files.items():
            if content is not None:
                new.writestr(name, content)
    return buffer.getvalue()


def test_a_backup_that_is_not_whole_makes_no_library(tmp_path):
    library, garment, digest = filled(tmp_path / "one")
    with library:
        library.back_up(tmp_path / "all.zip")
        garment_file = library.export_garment(garment)
    data = (tmp_path / "all.zip").read_bytes()
    picture = f"photos__{digest[:2]}__{digest}.png"
    cases = {
        "not a whole zip": data[:-40],
        "manifest names": rezipped(data, **{"likesewn.sqlite": None}),
        "damaged or was changed": rezipped(data, **{"likesewn.sqlite": b"SQLite format 3\0"}),
        "damaged": rezipped(data, **{picture: PNG + b"\0"}),
        "does not belong": rezipped(data, **{"photos__..__x.png": PNG}),
        "does not belong here": rezipped(data, **{f"photos__00__{digest}.png": PNG}),
        "found: garment.toml": garment_file,
    }
    for told, spoilt in cases.items():
        with pytest.raises(InputError, match=told):
            Library.restore_backup(spoilt, tmp_path / "two", now=clock())
        assert sorted(p.name for p in tmp_path.iterdir()) == ["all.zip", "one"]


def test_work_goes_on_while_a_backup_is_made(tmp_path):
    library, garment, _ = filled(tmp_path / "one")
    with library, library._database.reading() as reader:
        reader.execute("SELECT count(*) FROM garment").fetchone()
        library.save(garment, 2, top(60), {}, said="60")
        library.back_up(tmp_path / "all.zip")
        assert reader.execute("SELECT max(revision) FROM garment").fetchone()[0] == 2
    with Library.restore_backup(tmp_path / "all.zip", tmp_path / "two", now=clock()) as other:
        assert other.get(garment).revision == 3
