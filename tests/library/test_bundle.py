"""One garment as one file: out, in again the same, and hostile files refused whole."""

import io
import struct
import tomllib
import zipfile
from datetime import date, timedelta

import pytest
import tomlkit

from likesewn.errors import InputError
from likesewn.library import NoSuchGarment
from likesewn.library.bundle import add_file
from shelves import PNG, START, TOP, a_library, clock, top

DAY = date(2026, 3, 1)


@pytest.fixture
def library(tmp_path):
    with a_library(tmp_path / "library") as library:
        yield library


def furnished(library):
    """Put a garment on the shelf that has everything a garment can have."""
    photo = library.keep_photo(PNG, "png")
    picture = library.keep_photo(PNG + b"\0", "png")
    old = library.keep_photo(PNG + b"\1", "png")
    garment = library.add(TOP.replace("\n", "\r\n"), {"photo": {"1": old}, "ticks": ["½"]}).garment
    library.keep_version(garment, 1, name="First “fit”")
    library.save(garment, 1, top(54), {"photo": {"1": photo}}, said="54")
    library.add_make(garment, 2, made=DAY, cloth="Jersey", picture=picture, next_time="Longer\nsleeves")
    library.add_make(garment, 2, made=DAY)
    library.delete_make(garment, 2)
    library.save(garment, 2, top(55), {"photo": {"1": photo}}, said="55")
    return garment, {photo, picture, old}


def unpacked(data):
    with zipfile.ZipFile(io.BytesIO(data)) as bundle:
        return {name: bundle.read(name) for name in bundle.namelist()}


def packed(files, *, listed=None, **manifest):
    """Zip files with a manifest that is right unless told otherwise."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as bundle:
        entries = [
            add_file(bundle, name, data, START) for name, data in files.items() if name != "manifest.toml"
        ]
        values = {"format": 1, "what": "likesewn garment", **manifest}
        values["file"] = entries if listed is None else listed
        add_file(bundle, "manifest.toml", tomlkit.dumps(values).encode(), START)
    return buffer.getvalue()


GOOD = {"garment.toml": TOP.encode(), "aside.json": b"{}"}


def test_a_garment_comes_in_as_it_went_out(library, tmp_path):
    garment, digests = furnished(library)
    data = library.export_garment(garment)
    with a_library(tmp_path / "other", now=clock(START + timedelta(days=30))) as other:
        came = other.import_garment(data)
        went = library.get(garment)
        assert (came.text, came.aside, came.name, came.kind) == (went.text, went.aside, went.name, went.kind)
        assert came.garment != garment
        assert (came.revision, came.can_undo) == (1, "")
        for new, old in zip(other.versions(came.garment)[1:], library.versions(garment), strict=True):
            assert (new.number, new.name, new.why, new.at) == (old.number, old.name, old.why, old.at)
            assert (new.text, new.aside) == (old.text, old.aside)
        newest = other.versions(came.garment)[0]
        assert (newest.why, newest.text) == ("import", went.text)
        (make,) = other.makes(came.garment)
        (made,) = library.makes(garment)
        assert (make.made, make.cloth, make.next_time, make.version) == (
            made.made,
            made.cloth,
            made.next_time,
            made.version,
        )
        assert all(other.photo(digest) == library.photo(digest) for digest in digests | {make.picture})
        assert other.shelf(search="sleeves jersey").total == 1
        assert other.export_garment(came.garment)


def test_the_file_is_laid_out_as_the_docs_say(library):
    garment, digests = furnished(library)
    files = unpacked(library.export_garment(garment))
    photos = {f"photos/{digest}.png" for digest in digests}
    versions = {f"versions/00{n}.{end}" for n in (1, 2) for end in ("toml", "json")}
    rest = {"manifest.toml", "garment.toml", "aside.json", "versions.toml", "makes.toml"}
    assert set(files) == photos | versions | rest
    assert files["garment.toml"].decode() == library.get(garment).text
    assert files["versions/001.toml"].decode() == TOP.replace("\n", "\r\n")
    manifest = tomllib.loads(files["manifest.toml"].decode())
    assert (manifest["format"], manifest["what"]) == (1, "likesewn garment")
    assert {entry["name"] for entry in manifest["file"]} == set(files) - {"manifest.toml"}
    (make,) = tomllib.loads(files["makes.toml"].decode())["make"]
    assert make["made"] == DAY


def test_a_photograph_that_is_lost_does_not_hold_the_garment_back(library, tmp_path):
    garment, digests = furnished(library)
    for digest in digests:
        library.photo_path(digest).unlink()
    with a_library(tmp_path / "other") as other:
        came = other.import_garment(library.export_garment(garment))
        assert other.makes(came.garment)[0].picture == ""
    with pytest.raises(NoSuchGarment):
        library.export_garment("nothing")


def test_a_plain_file_comes_in(library):
    assert library.import_garment(packed(GOOD)).text == TOP


def with_entry(name, data=b"x", *, mode=0o644):
    """Return a good file with one more entry that its manifest names."""
    buffer = io.BytesIO(packed(GOOD))
    with zipfile.ZipFile(buffer, "a") as bundle:
        entry = zipfile.ZipInfo(name)
        entry.external_attr = mode << 16
        bundle.writestr(entry, data)
    return buffer.getvalue()


def bomb():
    """Return a file whose version unpacks to a thousand times its size."""
    return packed({**GOOD, "versions/001.toml": b"#" * 50_000_000})


def many():
    return packed({**GOOD, **{f"versions/{n:05}.toml": b"" for n in range(5001)}}, listed=[])


def lying():
    """Return a file that says of an entry that it is shorter than it is."""
    data = packed({**GOOD, "versions/001.toml": b"#" * 5_000})
    return data.replace(struct.pack("<I", 5_000), struct.pack("<I", 10))


def encrypted():
    data = bytearray(packed(GOOD))
    at = data.index(b"PK\1\2")
    data[at + 8] |= 1
    return bytes(data)


def changed():
    return packed(GOOD).replace(b"throwing", b"drowning").replace(b"Throwing top", b"Throwing cap")


def stored(data):
    """Write a zip again without compression, so that a byte of it can be changed."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as bundle:
        for name, content in unpacked(data).items():
            bundle.writestr(name, content)
    return buffer.getvalue()


VERSION = b'[[version]]\nnumber = 1\nwhy = "named"\nat = '
HOSTILE = {
    "nothing": (bytes, "not a zip"),
    "text": (TOP.encode, "not a zip"),
    "truncated": (lambda: packed(GOOD)[:-30], "not a zip"),
    "half": (lambda: packed(GOOD)[: len(packed(GOOD)) // 2], "not a zip"),
    "start lost": (lambda: packed(GOOD)[200:], "not a whole zip"),
    "up and out": (lambda: with_entry("../evil.toml"), "does not belong"),
    "absolute": (lambda: with_entry("/etc/passwd"), "does not belong"),
    "backslashes": (lambda: with_entry("..\\evil.toml"), "does not belong"),
    "drive": (lambda: with_entry("C:evil.toml"), "does not belong"),
    "zero byte": (lambda: with_entry("garment.toml~.exe").replace(b"toml~", b"toml\0"), "does not belong"),
    "folder": (lambda: with_entry("photos/", b"", mode=0o040755), "link or a folder"),
    "link": (lambda: with_entry("versions/001.toml", b"/etc/passwd", mode=0o120777), "link or a folder"),
    "device": (lambda: with_entry("versions/001.toml", b"", mode=0o020666), "link or a folder"),
    "nested": (lambda: with_entry("a.zip", packed(GOOD)), "does not belong"),
    "bomb": (bomb, "too large"),
    "many": (many, "too many files|list of files"),
    "lying": (lying, "not a whole zip|damaged|longer"),
    "encrypted": (encrypted, "encrypted"),
    "changed": (lambda: stored(packed(GOOD)).replace(b"the apprentice", b"the apprentict"), "whole zip"),
    "unlisted": (lambda: with_entry("versions/001.toml"), "manifest names"),
    "wrong digest": (
        lambda: packed(GOOD, listed=[{"name": name, "sha256": "0" * 64} for name in GOOD]),
        "damaged or was changed",
    ),
    "missing": (lambda: packed(GOOD, listed=[{"name": "versions/001.toml"}]), "manifest names"),
    "newer": (lambda: packed(GOOD, format=2), "update likesewn"),
    "odd format": (lambda: packed(GOOD, format="1"), "format"),
    "true format": (lambda: packed(GOOD, format=True), "format"),
    "another thing": (lambda: packed(GOOD, what="likesewn library"), "not a file of a likesewn garment"),
    "no garment": (lambda: packed({"aside.json": b"{}"}), "missing"),
    "no kind": (lambda: packed({"garment.toml": b"[garment]\n"}), "kind of garment is missing"),
    "not TOML": (lambda: packed({"garment.toml": b"\x00\xff"}), "whole zip"),
    "aside list": (lambda: packed({**GOOD, "aside.json": b"[1]"}), "object"),
    "aside deep": (lambda: packed({**GOOD, "aside.json": b"[" * 100_000}), "JSON"),
    "aside NaN": (lambda: packed({**GOOD, "aside.json": b'{"a": NaN}'}), "JSON"),
    "no photograph": (lambda: packed({**GOOD, f"photos/{'0' * 64}.png": b"<svg/>"}), "not a png"),
    "wrong photograph": (lambda: packed({**GOOD, f"photos/{'0' * 64}.png": PNG}), "its name says"),
    "version lost": (lambda: packed({**GOOD, "versions.toml": VERSION + b"2026-01-01T00:00:00Z"}), "missing"),
    "version timeless": (lambda: packed({**GOOD, "versions.toml": VERSION + b"3"}), "when and why"),
    "versions odd": (lambda: packed({**GOOD, "versions.toml": b"version = 3"}), "entries"),
    "versions doubled": (lambda: packed({**GOOD, "versions.toml": b"[[version]]\nnumber = 0"}), "in order"),
    "make lost": (lambda: packed({**GOOD, "makes.toml": b"[[make]]\nversion = 1"}), "version"),
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_leaves_nothing_behind(library, tmp_path, name):
    make, told = HOSTILE[name]
    with pytest.raises(InputError, match=told) as caught:
        library.import_garment(make())
    assert str(caught.value).isprintable() or "\n" in str(caught.value)
    assert library.shelf().total == 0
    assert not list(tmp_path.rglob("photos/*/*"))
    assert {p.name for p in tmp_path.iterdir()} == {"library"}


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("second", ["garment.toml", "GARMENT.TOML"])
def test_a_name_that_is_there_twice_is_refused(library, second):
    with pytest.raises(InputError, match=r"twice|does not belong"):
        library.import_garment(with_entry(second, TOP.encode()))


def test_every_way_to_cut_a_file_short_is_refused(library):
    garment, _ = furnished(library)
    data = library.export_garment(garment)
    for length in range(0, len(data), 97):
        with pytest.raises(InputError):
            library.import_garment(data[:length])
    assert library.shelf().total == 1


def test_a_changed_byte_is_refused_or_changes_nothing(library, tmp_path):
    garment, _ = furnished(library)
    data = library.export_garment(garment)
    good = library.get(garment)
    with a_library(tmp_path / "other") as other:
        for at in range(0, len(data), 61):
            spoilt = data[:at] + bytes([data[at] ^ 0x41]) + data[at + 1 :]
            try:
                came = other.import_garment(spoilt)
            except InputError:
                continue
            assert (came.text, came.aside) == (good.text, good.aside)
