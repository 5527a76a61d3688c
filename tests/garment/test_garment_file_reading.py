"""Reading garment files: what is accepted, what is refused, and that every fault is told at once."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.errors import InputError
from likesewn.garment import Fabric, TracedPoints, load_kind, read_garment
from likesewn.garment.keys import MOST_POINTS, file_tables, traced_edges
from likesewn.garment.toml_text import MOST_BYTES

KIND = "set-in-sleeve-top"
HEAD = f'format = 1\n[garment]\nkind = "{KIND}"\nunit = "cm"\n'
TAPE = "[tape]\nbody_length = 66\nchest_width = 52\nsleeve_length = 59\n"
GOOD = HEAD + TAPE
POINTS = '[[points]]\npiece = "front"\nedge = "armhole"\nat = [[18.9, 5.1], [17.6, 10.0], [18.8, 17.2]]\n'
quick = settings(max_examples=60, derandomize=True, deadline=None)


def problems(text):
    with pytest.raises(InputError) as caught:
        read_garment(text, "top.toml")
    return caught.value.problems


def told(text):
    """Return what is told of a file that may be good or bad; anything but InputError escapes."""
    try:
        read_garment(text)
    except InputError as error:
        return error.problems
    return ()


def only(text):
    found = problems(text)
    assert len(found) == 1, [str(p) for p in found]
    return found[0]


def test_reads_everything_a_file_may_say():
    record = read_garment(
        """\
format = 1
[garment]
name = "Throwing top"
kind = "set-in-sleeve-top"
unit = "in"
size = "M"
machine = "zigzag"
for_child = true
neck_recorded_at = "finished edge"
neck_finish = "binding"
neck_finish_width = "15 mm"
[tape]
body_length = 26
front_chest_width = "20 1/2"
back_chest_width = "52 +- 0.3 cm"
sleeve_length = "1 ft 11 in"
[[points]]
piece = "sleeve"
edge = "cap_back"
frame = "free"
lay = "mat"
at = [[1, "2 cm"], [-3.5, 4], [5, 6]]
sigma = "2 mm"
[[points]]
piece = "sleeve"
edge = "underarm_front"
frame = "free"
at = [[1, 2], [3, 4]]
[[points]]
piece = "front"
edge = "fold"
at = [[0, 2], [0, 14]]
[allowances]
seam = "3/8"
"back.hem" = 1
[allowances.front]
armhole = 0
[ease]
front_armhole = "-3 mm"
[band]
cut_width = 2
ratio = "80 %"
[fabric]
construction = "woven"
stretch_across = 0.25
stretch_along = "10 %"
[cloth]
width = "1.5 yd"
folding = "selvages to the middle"
nap = true
[cloth.contrast]
width = 44
[wearer]
name = "Ida"
head = "57 cm"
""",
        "top.toml",
    )
    assert (record.name, record.kind, record.unit, record.size) == ("Throwing top", KIND, "in", "M")
    assert (record.machine, record.for_child, record.file) == ("zigzag", True, "top.toml")
    tape = {key: (figure.mm, figure.sigma_mm) for key, figure in record.tape.items()}
    assert tape == {
        "body_length": (660.4, None),
        "front_chest_width": (520.7, None),
        "back_chest_width": (520.0, 3.0),
        "sleeve_length": (pytest.approx(584.2), None),
    }
    assert record.tape["front_chest_width"].text == "20 1/2"
    cap, underarm, fold = record.points
    assert (cap.piece, cap.edge, cap.sigma_mm, cap.lay) == ("sleeve", "cap_back", 2.0, "mat")
    assert cap.at == pytest.approx(np.array([[25.4, 20.0], [-88.9, 101.6], [127.0, 152.4]]))
    assert (underarm.lay, underarm.sigma_mm) == ("free 1", 1.5)
    assert (fold.edge, fold.lay) == ("fold", "")
    assert record.allowances == {"seam": 9.525, "back.hem": 25.4, "front.armhole": 0.0}
    assert record.ease == {"front armhole": -3.0}
    assert record.finish == {"neck": {"recorded_at": "finished edge", "finish": "binding"}}
    assert record.finish_lengths == {"neck": {"old_width": 15.0, "band_cut_width": 50.8, "band_ratio": 0.8}}
    assert record.fabric == Fabric("woven", 0.25, 0.1)
    assert {name: (c.width_mm, c.folding, c.nap) for name, c in record.cloths.items()} == {
        "main": (1371.6, "selvages to the middle", True),
        "contrast": (1117.6, "folded", False),
    }
    assert (record.wearer.name, record.wearer.head_mm) == ("Ida", 570.0)
    assert record.lines["tape.sleeve_length"] == 16
    assert record.lines["points[2].at"] == 28
    assert record.lines["allowances.back.hem"] == 35
    assert record.lines["allowances.front.armhole"] == 37
    assert record.lines["ease.front armhole"] == 39


def test_what_is_not_said_is_as_usual():
    record = read_garment(GOOD)
    assert record.name == load_kind(KIND).title
    assert (record.points, record.allowances, record.ease, record.finish, record.cloths) == (
        (),
        {},
        {},
        {},
        {},
    )
    assert record.fabric == Fabric()
    assert record.machine == "overlock"
    assert not record.for_child


def test_bytes_and_text_with_and_without_a_byte_order_mark_read_alike():
    lines = GOOD.replace("\n", "\r\n")
    for data in (GOOD.encode(), b"\xef\xbb\xbf" + GOOD.encode(), lines.encode(), lines):
        assert read_garment(data).tape == read_garment(GOOD).tape


def test_a_kind_may_come_from_elsewhere():
    strange = replace(load_kind(KIND), name="smock")
    record = read_garment(GOOD.replace(KIND, "smock"), kinds={"smock": strange}.__getitem__)
    assert record.kind == "smock"
    assert only(GOOD.replace(KIND, "smock")).allowed == KIND


def test_every_fault_is_told_with_its_place():
    found = problems(
        "format = 1\n"
        "[garment]\n"
        f'kind = "{KIND}"\n'
        'unit = "cm"\n'
        'nek_finish = "band"\n'
        "[tape]\n"
        "body_length = 66\n"
        "chest_width = 520\n"
        "hem_widht = 54\n"
        "[fabric]\n"
        'construction = "knitted"\n'
        "stretch_across = 50\n"
    )
    assert [(p.file, p.line, p.key, p.found, p.nearest) for p in found] == [
        ("top.toml", 5, "garment.nek_finish", '"band"', "neck_finish"),
        ("top.toml", 8, "tape.chest_width", "520 cm", "520 mm (52.0 cm)"),
        ("top.toml", 9, "tape.hem_widht", "54", "hem_width"),
        ("top.toml", 11, "fabric.construction", '"knitted"', "knit"),
        ("top.toml", 12, "fabric.stretch_across", "50", "50 %"),
    ]
    assert all(p.allowed or p.todo for p in found)


@pytest.mark.parametrize("key", ["body_length", "chest_width"])
def test_a_missing_or_unfilled_measure_says_how_to_take_it(key):
    rows = [row for row in GOOD.split("\n") if not row.startswith(key)]
    for text in ("\n".join(rows), "\n".join([*rows, f'{key} = ""'])):
        problem = only(text)
        assert problem.key == f"tape.{key}"
        assert problem.line
        assert load_kind(KIND).measures[key].how in problem.todo


def test_a_measure_of_each_piece_stands_for_the_whole():
    each = GOOD.replace("chest_width = 52", "front_chest_width = 51\nback_chest_width = 53")
    assert set(read_garment(each).tape) >= {"front_chest_width", "back_chest_width"}
    assert only(each.replace("back_chest_width = 53\n", "")).key == "tape.back_chest_width"
    assert only(each.replace("back_chest_width", "chest_width")).key == "tape.front_chest_width"


def test_figures_that_stand_alone_need_the_unit():
    bare = GOOD.replace('unit = "cm"\n', "")
    problem = only(bare)
    assert problem.key == "garment.unit"
    filled = bare.replace("66", '"66 cm"').replace("52", '"20 1/2 in"').replace("59", '"590 mm"')
    assert read_garment(filled).unit == "cm"


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("= 52", '= "52 +- 0"', "tape.chest_width"),
        ("= 52", '= "52 +- 52"', "tape.chest_width"),
        ("= 52", '= "52 +- 0.0001 mm"', "tape.chest_width"),
        ("= 52", "= true", "tape.chest_width"),
        ("= 52", "= [52]", "tape.chest_width"),
        ("= 52", "= 2020-01-01", "tape.chest_width"),
        ("= 52", "= {mm = 520}", "tape.chest_width"),
        ("= 52", "= 1e300", "tape.chest_width"),
        ("= 52", "= 0x" + "f" * 20000, "tape.chest_width"),
        ("format = 1", "format = true", "format"),
        ("format = 1", 'format = "1"', "format"),
        ("format = 1", "format = 0", "format"),
        ("format = 1", "", "format"),
        ('unit = "cm"', 'unit = "furlong"', "garment.unit"),
        (f'"{KIND}"', "7", "garment.kind"),
        (f'"{KIND}"', '"set-in-sleeve"', "garment.kind"),
        ('unit = "cm"', 'unit = "cm"\nname = "a\\nb"', "garment.name"),
        ('unit = "cm"', 'unit = "cm"\nname = 3', "garment.name"),
        ('unit = "cm"', 'unit = "cm"\nfor_child = "yes"', "garment.for_child"),
        ("[tape]", "[band]\nratio = 3\n[tape]", "band.ratio"),
        ("[tape]", '[band]\nratio = "3 cm"\n[tape]', "band.ratio"),
        ("[tape]", "[band]\nratio = true\n[tape]", "band.ratio"),
        ('unit = "cm"', 'unit = "cm"\nneck_finish = "turned"\nband = 3', "garment.band"),
        ("[tape]", "[allowances]\nfold = 1\n[tape]", "allowances.fold"),
        ("[tape]", "[allowances]\nfront = 1\n[tape]", "allowances.front"),
        ("[tape]", '[allowances]\nseam = "1 +- 0.1"\n[tape]', "allowances.seam"),
        ("[tape]", '[cloth."a.b"]\nwidth = 90\n[tape]', "cloth.a.b"),
        ("[tape]", "[cloth]\nwidth = 90\n[cloth.main]\nnap = true\n[tape]", "cloth.main"),
        ("[tape]", '[allowances]\n"front.hem" = 2\nfront.hem = 3\n[tape]', "allowances.front.hem"),
        ("[tape]", '[ease]\nfront_armhole = 2\n"front armhole" = 3\n[tape]', "ease.front armhole"),
    ],
)
def test_refuses(old, new, key):
    assert old in GOOD
    problem = only(GOOD.replace(old, new))
    assert problem.key == key
    assert problem.allowed or problem.todo


def test_a_band_that_will_not_be_sewn_is_refused():
    text = GOOD.replace('unit = "cm"', 'unit = "cm"\nneck_finish = "turned"') + "[band]\ncut_width = 5\n"
    assert only(text).key == "band"
    assert read_garment(text.replace("cut_width = 5\n", "")).finish["neck"]["finish"] == "turned"


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('"front"', '"frnt"', "points[1].piece"),
        ('"armhole"', '"cap"', "points[1].edge"),
        ('piece = "front"\n', "", "points[1].piece"),
        (", [17.6, 10.0]", "", "points[1].at"),
        (", [17.6, 10.0]", ", [18.9, 5.1]", "points[1].at"),
        ("[17.6, 10.0]", "[17.6]", "points[1].at[2]"),
        ("[17.6, 10.0]", '[17.6, "x"]', "points[1].at[2][2]"),
        ("[17.6, 10.0]", "[17.6, nan]", "points[1].at[2][2]"),
        ("[17.6, 10.0]", "[true, 1]", "points[1].at[2][1]"),
        ("[17.6, 10.0]", "[501, 1]", "points[1].at[2][1]"),
        ("[17.6, 10.0]", '["17.6 +- 1", 1]', "points[1].at[2][1]"),
        ("at =", 'lay = "mat"\nat =', "points[1].lay"),
        ("at =", "sigma = 0\nat =", "points[1].sigma"),
        ("at =", 'frame = "loose"\nat =', "points[1].frame"),
        ("[[points]]", "[points]", "points"),
    ],
)
def test_refuses_points(old, new, key):
    assert only(GOOD + POINTS.replace(old, new)).key == key


def test_too_many_points_are_refused():
    entry = POINTS[: POINTS.index("at =")] + "at = [" + "[1,2]," * (MOST_POINTS // 2 + 1) + "[2,1],[3,1]]\n"
    assert only(GOOD + entry * 2).key == "points"
    assert only(GOOD + entry.replace("[2,1],", "[2,1]," * (MOST_POINTS // 2))).key == "points[1].at"


def test_lays_keep_their_names_and_nameless_ones_get_their_own():
    free = POINTS.replace("at =", 'frame = "free"\nLAYat =')
    text = GOOD + free.replace("LAY", "") + free.replace("LAY", 'lay = "free 1"\n') + free.replace("LAY", "")
    assert [entry.lay for entry in read_garment(text).points] == ["free 2", "free 1", "free 3"]


def test_every_edge_of_every_piece_may_be_traced():
    kind = load_kind(KIND)
    for piece in kind.pieces:
        for edge in traced_edges(kind, piece.name):
            entry = POINTS.replace('"front"', f'"{piece.name}"').replace('"armhole"', f'"{edge}"')
            assert read_garment(GOOD + entry).points[0].edge == edge
    assert traced_edges(kind, "sleeve") == (
        "cap", "underarm", "cuff", "cap_front", "cap_back", "underarm_front", "underarm_back", "fold",
    )  # fmt: skip


def test_the_usual_uncertainty_of_points_is_the_one_that_the_file_is_said_to_have():
    keys = {key.name: key for table in file_tables(load_kind(KIND), (KIND,)) for key in table.keys}
    assert keys["sigma"].usual == f"{TracedPoints('', '', np.zeros((0, 2))).sigma_mm} mm"


@pytest.mark.parametrize(
    ("line", "message", "todo"),
    [
        ("hem_width = 54 cm", "this value needs quotes", 'write hem_width = "54 cm"'),
        ("hem_width = 49,5 # tight", "this value needs quotes", 'write hem_width = "49,5"'),
        ('hem_width = "20 1/2""', "an inch sign ends the text too early", 'write hem_width = "20 1/2 in"'),
        ('hem_width = "54 cm', "the quotes are not closed", 'write hem_width = "54 cm"'),
        ("hem width = 54", "a key has no spaces", "write hem_width = 54"),
        ("hem_width =", "there is no value after the equals sign", ""),
        (
            "for_child = True",
            "true and false are written in small letters, without quotes",
            "write for_child = true",
        ),
        ("hem_width: 54", "this line is not TOML", "a line is [table]"),
        ("[fabric", "the name of this table is not written as TOML wants it", ""),
        ("x = [1, 2", "a bracket that opens here is not closed", ""),
        (
            "hem_width = 54\nhem_width = 55",
            "this is here twice; the first time is on line 9",
            "keep one of them",
        ),
    ],
)
def test_what_is_not_toml_is_told_plainly(line, message, todo):
    problem = only(f"{GOOD}{line}\n")
    assert problem.message == message
    assert problem.todo.startswith(todo)
    assert problem.line == 9 + line.count("\n")


def test_all_lines_that_lack_quotes_are_told_at_once():
    found = problems(GOOD.replace("= 66", "= 66 cm").replace("= 59", "= 59 cm"))
    assert [p.line for p in found] == [6, 8]


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "empty"),
        (b" \n", "empty"),
        (b"\x00" * 10, "zero byte"),
        ("é".encode("latin-1"), "UTF-8"),
        ("\ud800", "UTF-8"),
        (GOOD.encode("utf-16"), "UTF-16"),
        (b"#" * (MOST_BYTES + 1), "too large"),
        ("a = " + "[" * 5000 + "]" * 5000, "nested too deep"),
        ("a = " + "{b = " * 5000, "nested too deep"),
        ("a." * 100000 + "a = 1", "nested too deep"),
        ("a = " + "9" * 5000, "thousands of digits"),
    ],
    ids=lambda value: value if isinstance(value, str) and len(value) < 40 and value.isprintable() else "",
)
def test_what_is_no_garment_file_at_all(data, message):
    assert message in only(data).message


def test_a_flood_of_faults_is_counted_not_listed():
    found = problems(GOOD + "\n".join(f"key_{i} = {i}" for i in range(3000)))
    assert len(found) == 51
    assert found[-1].message == "and 2950 more faults like these"


@quick
@given(st.data())
def test_damaged_files_are_read_or_refused(data):
    text = GOOD + POINTS + "[cloth]\nwidth = 150\n"
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        cut = data.draw(st.integers(0, 5))
        text = text[:at] + data.draw(st.text("[]{}=\".,#\n \\'aé1-", max_size=4)) + text[at + cut :]
    assert all(p.message and p.line <= text.count("\n") + 1 for p in told(text))


@quick
@given(st.binary(max_size=300))
def test_noise_is_refused(data):
    with pytest.raises(InputError):
        read_garment(data)
