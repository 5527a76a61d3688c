"""Writing garment files: what is written reads back, and an edited file keeps its remarks."""

import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.errors import InputError
from likesewn.garment import (
    Cloth,
    Fabric,
    Figure,
    Record,
    TracedPoints,
    Wearer,
    kind_names,
    load_kind,
    new_garment,
    read_garment,
    update_garment,
    write_garment,
)
from likesewn.garment.keys import FOLDINGS, OFF_GRAIN, UNITS, traced_edges
from likesewn.garment.matching import match_points
from likesewn.units import parse_length

KIND = load_kind("set-in-sleeve-top")
quick = settings(max_examples=60, derandomize=True, deadline=None)
FILE = """\
# Kept since spring.
format = 1

[garment]
kind = "set-in-sleeve-top"
unit = "cm"   # centimetres

[tape]        # taken twice
body_length = 66
chest_width = "52 +- 0.3"   # snug
sleeve_length = 59
# hem_width = ""

[[points]]
piece = "front"
edge = "shoulder"
at = [[9, 0], [20.5, 4]]  # two will do

[wearer]
# name = ""
"""


def filled(kind, unit):
    needed = {f"tape.{m.key}": f"{(m.least + m.most) / 2} mm" for m in kind.measures.values() if m.needed}
    return update_garment(new_garment(kind, unit), needed)


@pytest.mark.parametrize("name", kind_names())
@pytest.mark.parametrize("unit", UNITS)
def test_a_new_file_waits_only_for_what_is_needed(name, unit):
    kind = load_kind(name)
    text = new_garment(kind, unit, 'A "quoted" name\\')
    assert tomllib.loads(text)["garment"]["name"] == 'A "quoted" name\\'
    with pytest.raises(InputError) as caught:
        read_garment(text)
    needed = {f"tape.{key}" for key, measure in kind.measures.items() if measure.needed}
    assert {p.key for p in caught.value.problems} == needed
    record = read_garment(filled(kind, unit))
    assert (record.kind, record.unit, record.name) == (name, unit, kind.title)


@pytest.mark.parametrize("name", kind_names())
def test_a_new_file_says_how_to_take_every_measure(name):
    kind = load_kind(name)
    words = " ".join(new_garment(kind).replace("\n# ", " ").split())
    for measure in kind.measures.values():
        assert measure.how in words
    assert all(len(line) <= 110 for line in new_garment(kind).split("\n"))


@pytest.mark.parametrize("name", kind_names())
def test_every_line_of_a_new_file_may_be_uncommented(name):
    kind = load_kind(name)
    rows = filled(kind, "cm").split("\n")
    waiting = [i for i, row in enumerate(rows) if row.startswith("# ") and " = " in row]
    repeated = range(rows.index("# [[photo]]"), rows.index("[allowances]"))
    taken = [i for i in waiting if i not in repeated]
    assert len(taken) > 20
    for i in taken:
        rows[i] = rows[i].removeprefix("# ")
    read_garment("\n".join(rows))


def test_changes_keep_remarks_and_order():
    text = update_garment(
        FILE,
        {
            "tape.chest_width": 53,
            "tape.hem_width": "54 cm",
            "points[1].at": [[1, 2], [3, "4 cm"]],
            "wearer.name": "Ida",
            "cloth.width": 140,
            'ease."front armhole"': "3 mm",
        },
    )
    before, after = FILE.split("\n"), text.split("\n")
    assert after[: len(before) - 1] == [
        *before[:9],
        "chest_width = 53   # snug",
        before[10],
        'hem_width = "54 cm"',
        *before[12:16],
        'at = [[1, 2], [3, "4 cm"]]  # two will do',
        *before[17:19],
        'name = "Ida"',
    ]
    record = read_garment(text)
    assert record.tape["hem_width"].mm == 540
    assert record.cloths["main"].width_mm == 1400
    assert record.ease == {"front armhole": 3.0}
    assert record.points[0].at.tolist() == [[10, 20], [30, 40]]


def test_a_key_is_taken_away():
    text = update_garment(FILE, {"tape.chest_width": None, "cloth.width": None, "tape.neck_width": None})
    assert "chest_width" not in text
    assert "[cloth]" not in text
    assert text.count("\n") == FILE.count("\n") - 1


@pytest.mark.parametrize(
    "key", ["", ".", "tape..x", "points[2].at", "points[1]", "tape.body_length.x", "tape[1].x"]
)
def test_keys_that_lead_nowhere_are_refused(key):
    with pytest.raises(InputError, match="leads nowhere"):
        update_garment(FILE, {key: 1})


def test_what_is_not_toml_cannot_be_changed():
    with pytest.raises(InputError, match="needs quotes"):
        update_garment("[tape]\nchest_width = 52 cm\n", {"tape.chest_width": 52})


@quick
@given(
    st.dictionaries(st.sampled_from(sorted(KIND.measures)), st.integers(110, 200), max_size=6),
    st.text(st.characters(categories=("L", "N", "P", "S")), min_size=1, max_size=20),
)
def test_changed_values_read_back(tape, name):
    text = update_garment(
        filled(KIND, "mm"), {"garment.name": name, **{f"tape.{key}": mm for key, mm in tape.items()}}
    )
    record = read_garment(text)
    assert record.name == name
    assert {key: record.tape[key].mm for key in tape} == tape


FIELDS = (
    "name",
    "kind",
    "unit",
    "size",
    "allowances",
    "ease",
    "finish",
    "finish_lengths",
    "fabric",
    "cloths",
    "wearer",
    "machine",
    "for_child",
)


def spread(least, most):
    return st.floats(least, most).filter(lambda v: v == 0 or abs(v) > 1e-9)


@st.composite
def figures(draw, measure):
    mm = draw(st.floats(measure.least + 1, measure.most - 1))
    sigma = draw(st.none() | st.floats(0.01, 0.9))
    return Figure(mm, sigma, "")


@st.composite
def points(draw):
    piece = draw(st.sampled_from([piece.name for piece in KIND.pieces]))
    edge = draw(st.sampled_from(traced_edges(KIND, piece)))
    coordinate = spread(-5000, 5000) | st.integers(-5000, 5000).map(float)
    at = draw(st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=6, unique=True))
    lay = draw(st.sampled_from(["", "mat", "free 1"]))
    return TracedPoints(piece, edge, np.array(at), draw(st.floats(0.01, 100)), lay)


def cloths(wide):
    place = spread(-5000, 5000)
    corners = st.lists(st.tuples(place, place), min_size=3, max_size=5).map(tuple)
    return st.builds(
        Cloth,
        width_mm=wide,
        folding=st.sampled_from(FOLDINGS),
        nap=st.booleans(),
        length_mm=st.none() | st.floats(50, 9000),
        fold_depth_mm=st.none() | st.floats(10, 5000),
        shrinkage=st.sampled_from([0.0, 0.05]),
        price=st.none() | st.floats(0, 900),
        currency=st.sampled_from(["", "EUR"]),
        flaws=st.lists(st.tuples(place, place, st.floats(1, 90)), max_size=2).map(tuple),
        flaws_across=st.lists(st.tuples(place, place), max_size=2).map(tuple),
        flaws_along=st.lists(st.tuples(place, place), max_size=2).map(tuple),
        outline=st.just(()) | corners,
        holes=st.lists(corners, max_size=2).map(tuple),
        repeat_along_mm=st.sampled_from([0.0, 60.0]),
        repeat_across_mm=st.sampled_from([0.0, 81.5]),
        stripe_mm=st.sampled_from([0.0, 12.0]),
        match=st.lists(st.sampled_from([p.name for p in match_points(KIND)]), unique=True, max_size=3).map(
            tuple
        ),
    )


@st.composite
def records(draw):
    keys = KIND.tape_keys()
    tape = {key: draw(figures(m)) for key, m in KIND.measures.items() if m.needed or draw(st.booleans())}
    if draw(st.booleans()):
        del tape["chest_width"]
        tape |= {key: draw(figures(keys[key])) for key in ("front_chest_width", "back_chest_width")}
    finish = draw(st.sampled_from([{}, {"neck": {"recorded_at": "seam"}}, {"neck": {"finish": "binding"}}]))
    wide = st.floats(50, 10000)
    return Record(
        name=draw(st.text(st.characters(categories=("L", "N", "P", "S")), min_size=1, max_size=20)),
        kind=KIND.name,
        unit=draw(st.sampled_from(UNITS)),
        size=draw(st.sampled_from(["", "M", 'a "b"'])),
        tape=tape,
        points=tuple(draw(st.lists(points(), max_size=3))),
        allowances=draw(
            st.dictionaries(st.sampled_from(["seam", "hem", "cuff", "front.hem"]), spread(0, 100))
        ),
        ease=draw(st.dictionaries(st.sampled_from([s.name for s in KIND.seams]), spread(-300, 300))),
        finish=finish,
        finish_lengths=draw(
            st.sampled_from(
                [{}, {"neck": {"old_width": 15.0, "band_ratio": 0.8}}, {"neck": {"band_cut_width": 50.8}}]
            )
        ),
        fabric=Fabric(draw(st.sampled_from(["knit", "woven"])), draw(st.none() | st.floats(0, 3)), None),
        cloths=draw(
            st.dictionaries(
                st.sampled_from(["main", "contrast", "lining 2"]),
                cloths(wide),
            )
        ),
        grain=draw(
            st.dictionaries(
                st.sampled_from(["front", "sleeve", "neckband"]),
                st.floats(0, 45) | st.sampled_from(OFF_GRAIN),
            )
        ),
        wearer=Wearer(draw(st.sampled_from(["", "Ida"])), draw(st.none() | st.floats(250, 800))),
        machine=draw(st.sampled_from(["overlock", "zigzag"])),
        for_child=draw(st.booleans()),
    )


@settings(max_examples=30, derandomize=True, deadline=None)
@given(records())
def test_a_written_record_reads_back_exactly(record):
    again = read_garment(write_garment(record))
    for field in FIELDS:
        assert getattr(again, field) == getattr(record, field), field
    assert {k: (f.mm, f.sigma_mm) for k, f in again.tape.items()} == {
        k: (f.mm, f.sigma_mm) for k, f in record.tape.items()
    }
    for mine, theirs in zip(record.points, again.points, strict=True):
        assert (mine.piece, mine.edge, mine.sigma_mm, mine.lay) == (
            theirs.piece,
            theirs.edge,
            theirs.sigma_mm,
            theirs.lay,
        )
        assert np.array_equal(mine.at, theirs.at)


def test_figures_are_written_as_they_were_typed():
    record = read_garment(FILE)
    text = write_garment(record)
    assert 'chest_width = "52 +- 0.3"' in text
    assert parse_length(read_garment(text).tape["body_length"].text, "cm").mm == 660
