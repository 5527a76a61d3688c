"""The shelf: newest change first, found by words, in parts; thumbnails."""

import pytest

from likesewn.errors import InputError
from shelves import TOP, a_library, top


@pytest.fixture
def library(tmp_path):
    with a_library(tmp_path) as library:
        yield library


def test_the_newest_change_stands_first(library):
    one, two, three = (library.add(top(name=name)) for name in ("One", "Two", "Three"))
    library.save(one.garment, 1, top(name="One again"), {}, said="name")
    library.save(two.garment, 1, top(1, name="Two"), {}, said="chest")
    library.undo(two.garment, 2)
    assert [row.name for row in library.shelf().rows] == ["Two", "One again", "Three"]
    library.delete(three.garment)
    library.restore(three.garment)
    assert [row.name for row in library.shelf().rows] == ["Three", "Two", "One again"]


def test_rows_tell_what_the_garment_file_tells(library):
    library.add(TOP)
    (row,) = library.shelf().rows
    assert (row.name, row.kind, row.size, row.wearer) == (
        "Throwing top",
        "set-in-sleeve-top",
        "M",
        "the apprentice",
    )
    assert (row.revision, row.thumbnail, row.makes, row.deleted) == (1, 0, 0, False)


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ("", 2),
        ("throwing", 1),
        ("APPRENTICE throw", 1),
        ("pull-on", 2),
        ("set-in-sleeve", 2),
        ("béret", 1),
        ("BERET", 1),
        ("bereT ", 1),
        ("100%_", 1),
        ("%", 1),
        ("_", 1),
        ("zzz", 0),
        ("'; drop table garment; --", 0),
        ("\udcff", 0),
        ("\0", 0),
    ],
)
def test_words_are_found_however_they_are_written(library, search, found):
    library.add(TOP)
    library.add(top(name="Béret 100%_wool"))
    assert library.shelf(search=search).total == found
    assert len(library.shelf(search=search).rows) == found


def test_a_long_shelf_comes_in_parts(library):
    for n in range(7):
        library.add(top(name=f"Top {n}"))
    shelf = library.shelf(limit=3, start=3)
    assert [row.name for row in shelf.rows] == ["Top 3", "Top 2", "Top 1"]
    assert shelf.total == 7
    assert library.shelf(limit=0).rows == ()
    assert library.shelf(limit=-1, start=-5).rows == ()
    assert len(library.shelf(limit=10**30, start=0).rows) == 7
    assert library.shelf(start=10**30).rows == ()


def test_a_thumbnail_is_never_replaced_by_one_of_an_earlier_state(library):
    garment = library.add(TOP).garment
    assert library.thumbnail(garment) is None
    library.save(garment, 1, top(54), {}, said="54")
    library.set_thumbnail(garment, 2, "<svg>two</svg>")
    library.set_thumbnail(garment, 1, "<svg>one</svg>")
    assert library.thumbnail(garment) == (2, "<svg>two</svg>")
    assert library.shelf().rows[0].thumbnail == 2
    library.set_thumbnail(garment, 2, "<svg>dark</svg>")
    assert library.thumbnail(garment) == (2, "<svg>dark</svg>")
    with pytest.raises(InputError, match="too large"):
        library.set_thumbnail(garment, 2, "x" * 1_000_001)


def test_the_shelf_reads_an_index_and_no_texts(library):
    """What makes 500 garments quick: rows come in the order of an index, and no step is read."""
    with library._database.reading() as reader:
        plan = reader.execute(
            "EXPLAIN QUERY PLAN SELECT g.id FROM garment AS g WHERE g.deleted = 0 "
            "ORDER BY g.turn DESC LIMIT 60"
        ).fetchall()
    told = " ".join(row[3] for row in plan)
    assert "garment_shelf" in told
    assert "TEMP B-TREE" not in told
