"""Makes, cloths and photographs."""

import hashlib
from datetime import date, timedelta

import pytest

from likesewn.errors import InputError
from likesewn.library import (
    ClothConflict,
    Conflict,
    MakeConflict,
    NoSuchCloth,
    NoSuchGarment,
    NoSuchMake,
    NoSuchPhoto,
    NoSuchVersion,
)
from shelves import PNG, START, TOP, a_library, clock, top

DAY = date(2026, 3, 1)


@pytest.fixture
def library(tmp_path):
    with a_library(tmp_path) as library:
        yield library


def test_a_make_keeps_the_version_that_it_was_made_from(library):
    garment = library.add(TOP).garment
    picture = library.keep_photo(PNG, "png")
    make = library.add_make(
        garment, 1, made=DAY, cloth="Grey jersey", picture=picture, next_time="Longer sleeves\n\tby 2 cm"
    )
    assert (make.number, make.version, make.made, make.cloth) == (1, 1, DAY, "Grey jersey")
    assert (make.picture, make.next_time) == (picture, "Longer sleeves\n by 2 cm")
    assert library.version(garment, 1).why == "make"
    assert library.get(garment).revision == 1
    library.save(garment, 1, top(54), {}, said="54")
    later = library.add_make(garment, 2, made=DAY + timedelta(days=3))
    forgotten = library.add_make(garment, 0, made=DAY - timedelta(days=9), version=1)
    assert [m.number for m in library.makes(garment)] == [later.number, make.number, forgotten.number]
    assert (later.version, forgotten.version) == (2, 1)
    assert library.shelf().rows[0].makes == 3


def test_a_make_of_what_is_not_there_is_refused_whole(library):
    garment = library.add(TOP).garment
    with pytest.raises(Conflict):
        library.add_make(garment, 2, made=DAY)
    with pytest.raises(NoSuchVersion):
        library.add_make(garment, 1, made=DAY, version=4)
    with pytest.raises(NoSuchGarment):
        library.add_make("nothing", 1, made=DAY)
    for picture in ("0" * 64, "../../etc/passwd"):
        with pytest.raises(NoSuchPhoto):
            library.add_make(garment, 1, made=DAY, picture=picture)
    assert library.makes(garment) == ()
    assert library.versions(garment) == ()


def test_makes_change_go_and_come_back(library):
    garment = library.add(TOP).garment
    library.add_make(garment, 1, made=DAY, next_time="Shorter")
    changed = library.change_make(garment, 1, 1, cloth="Linen")
    assert (changed.revision, changed.cloth, changed.next_time, changed.made) == (2, "Linen", "Shorter", DAY)
    assert library.change_make(garment, 1, 2, cloth="Linen") == changed
    with pytest.raises(MakeConflict) as caught:
        library.change_make(garment, 1, 1, cloth="Wool")
    assert caught.value.newest == changed
    library.delete_make(garment, 1)
    assert library.makes(garment) == ()
    assert library.makes(garment, deleted=True)[0].cloth == "Linen"
    with pytest.raises(MakeConflict):
        library.change_make(garment, 1, 3, cloth="Wool")
    back = library.restore_make(garment, 1)
    assert library.makes(garment) == (back,)
    for number in (0, 2, 10**40):
        with pytest.raises(NoSuchMake):
            library.delete_make(garment, number)


def test_the_shelf_is_searched_through_notes_of_makes(library):
    garment = library.add(TOP).garment
    library.add_make(garment, 1, made=DAY, cloth="Bouclé", next_time="lower the pocket")
    assert library.shelf(search="boucle pocket").total == 1
    library.save(garment, 1, top(54), {}, said="54")
    assert library.shelf(search="pocket").total == 1
    library.delete_make(garment, 1)
    assert library.shelf(search="pocket").total == 0
    library.restore_make(garment, 1)
    library.change_make(garment, 1, 3, next_time="no sleeves")
    assert library.shelf(search="pocket").total == 0
    assert library.shelf(search="sleeves").total == 1


def test_the_drawer_of_cloths(library):
    text = 'width = "150 cm"\nfolding = "open"\nflaws = [["10 cm", "2 cm", "1 cm"]]\nmatch = ["side"]\n'
    linen = library.add_cloth("linen", text, note="From the\nmarket")
    cotton = library.add_cloth("Cotton")
    assert library.cloths() == (cotton, linen)
    assert (linen.text, linen.note, linen.revision) == (text, "From the\nmarket", 1)
    changed = library.change_cloth(linen.cloth, 1, name="Blue linen")
    assert (changed.name, changed.text, changed.revision) == ("Blue linen", text, 2)
    with pytest.raises(ClothConflict) as caught:
        library.change_cloth(linen.cloth, 1, name="Red linen")
    assert caught.value.newest == changed
    library.delete_cloth(linen.cloth)
    assert library.cloths() == (cotton,)
    assert [c.name for c in library.cloths(deleted=True)] == ["Blue linen"]
    with pytest.raises(ClothConflict):
        library.change_cloth(linen.cloth, 3, note="x")
    library.restore_cloth(linen.cloth)
    assert library.cloth(linen.cloth).revision == 4
    for cloth in ("nothing", "\udcff"):
        with pytest.raises(NoSuchCloth):
            library.delete_cloth(cloth)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("width = ", "no value"),
        ("width = 150", 'width = "150 cm"'),
        ('widht = "150 cm"', "did you mean width"),
        ('width = "150 km"', "width"),
        ('folding = "rolled"', "one of the choices"),
        ('[cloth]\nwidth = "150 cm"', "without a heading"),
        ("match = 3", "list of names"),
    ],
)
def test_a_cloth_that_could_not_be_used_is_refused(library, text, told):
    with pytest.raises(InputError, match=told) as caught:
        library.add_cloth("Linen", text)
    assert "cloth." not in str(caught.value)
    with pytest.raises(InputError, match="needs a name"):
        library.add_cloth(" \n", "")
    assert library.cloths() == ()


def test_a_photograph_is_kept_once_under_its_digest(library, tmp_path):
    digest = library.keep_photo(PNG, ".PNG")
    assert digest == hashlib.sha256(PNG).hexdigest()
    assert library.keep_photo(PNG, "png") == digest
    assert library.photo(digest) == PNG
    assert library.photo_path(digest) == tmp_path / "photos" / digest[:2] / f"{digest}.png"
    assert [p.name for p in (tmp_path / "photos").rglob("*") if p.is_file()] == [f"{digest}.png"]


@pytest.mark.parametrize(
    ("data", "suffix", "told"),
    [
        (PNG, "jpg", "begins like png"),
        (b"<svg/>", "png", "does not begin like"),
        (PNG, "svg", "no sort of photograph"),
        (PNG, "../../x", "no sort of photograph"),
        (b"", "heic", "does not begin like"),
        (PNG + bytes(64_000_000), "png", "too large"),
    ],
)
def test_what_is_no_photograph_is_not_kept(library, tmp_path, data, suffix, told):
    with pytest.raises(InputError, match=told):
        library.keep_photo(data, suffix)
    assert not (tmp_path / "photos").exists()


def test_a_damaged_photograph_is_told_and_mended_by_keeping_it_again(library):
    digest = library.keep_photo(PNG, "png")
    library.photo_path(digest).write_bytes(PNG[:-1])
    with pytest.raises(NoSuchPhoto, match="damaged"):
        library.photo(digest)
    assert library.keep_photo(PNG, "png") == digest
    assert library.photo(digest) == PNG
    for unknown in ("0" * 64, "", "..", "A" * 64):
        with pytest.raises(NoSuchPhoto):
            library.photo(unknown)


def test_only_what_nothing_names_is_swept(tmp_path):
    pngs = [PNG + bytes([n]) for n in range(8)]
    with a_library(tmp_path) as library:
        step, undone, version, make, old_make, cloth, nothing, gone = (
            library.keep_photo(png, "png") for png in pngs
        )
        garment = library.add(TOP, {"photo": {"1": step}}).garment
        library.save(garment, 1, TOP, {"photo": {"1": undone}}, said="photo")
        library.undo(garment, 2)
        other = library.add(top(1)).garment
        library.save(other, 1, top(2) + f"# {version}\n", {}, said="photo")
        library.keep_version(other, 2)
        library.undo(other, 2)
        library.save(other, 3, TOP, {}, said="so that the version alone names it")
        library.add_make(other, 4, made=DAY, picture=make)
        library.add_make(other, 4, made=DAY, picture=old_make)
        library.delete_make(other, 2)
        library.add_cloth("Linen", picture=cloth)
        library.delete(garment)
        assert library.sweep_photos() == ()
    left_over = tmp_path / "photos" / nothing[:2] / ".abc.part"
    left_over.write_bytes(b"half")
    with a_library(tmp_path, now=clock(START + timedelta(days=2))) as library:
        assert library.keep_photo(pngs[7], "png") == gone
        assert library.sweep_photos() == (nothing,)
        kept = {step, undone, version, make, old_make, cloth, gone}
        assert {p.stem for p in (tmp_path / "photos").rglob("*.png")} == kept
        assert left_over.exists()  # younger than a day by its own clock
