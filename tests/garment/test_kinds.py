import copy
import tomllib
from importlib import resources

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.errors import InputError
from likesewn.garment import kind_names, load_kind, new_garment, read_garment, read_kind
from likesewn.garment.keys import points_wanted, traced_edges
from likesewn.garment.template import template_pattern
from likesewn.garment.uneven import uneven_kind

SQUARE = """
format = 1
name = "towel"
title = "Towel"
summary = "A square."
[pieces.panel]
title = "Panel"
copies = 1
on_fold = true
level = ["top_side"]
[pieces.panel.corners]
top_centre = [0, 0]
top_side = [300, 0]
low_side = [300, 500]
low_centre = [0, 500]
[[pieces.panel.edges]]
name = "top"
start = "top_centre"
end = "top_side"
straight = true
[[pieces.panel.edges]]
name = "side"
start = "top_side"
end = "low_side"
straight = true
[[pieces.panel.edges]]
name = "low"
start = "low_side"
end = "low_centre"
straight = true
[[pieces.panel.edges]]
name = "fold"
start = "low_centre"
end = "top_centre"
straight = true
[[seams]]
name = "side"
left = "panel.side"
right = "panel.side"
[measures.width]
title = "Width"
how = "Across."
op = "across"
pieces = ["panel"]
corners = ["top_side"]
needed = true
"""

GORE = """
format = 1
name = "gored-skirt"
title = "Gored skirt"
summary = "Six gores alike, each sewn to the next."
length_rule = ["length"]
[pieces.gore]
title = "Gore"
copies = 6
on_fold = false
level = ["waist_left", "waist_right"]
grain = ["waist_middle"]
[pieces.gore.corners]
waist_left = [-60, 0]
waist_middle = [0, 0]
waist_right = [60, 0]
hem_right = [140, 600]
hem_left = [-140, 600]
[[pieces.gore.edges]]
name = "waist_in"
start = "waist_left"
end = "waist_middle"
straight = true
[[pieces.gore.edges]]
name = "waist_out"
start = "waist_middle"
end = "waist_right"
straight = true
[[pieces.gore.edges]]
name = "right"
start = "waist_right"
end = "hem_right"
spans = 2
cubics = 1
shape = [[0.3, -0.05], [0.7, 0.0]]
[[pieces.gore.edges]]
name = "hem"
start = "hem_right"
end = "hem_left"
frame = "box"
shape = [[0.3, 0.0], [0.7, 0.0]]
[[pieces.gore.edges]]
name = "left"
start = "hem_left"
end = "waist_left"
shape = [[0.3, 0.0], [0.7, -0.05]]
[[seams]]
name = "gore"
left = "gore.right"
right = "gore.left"
reverse = true
[measures.length]
title = "Length"
how = "Down the middle of a gore."
op = "down"
pieces = ["gore"]
corners = ["waist_left", "hem_left"]
needed = true
[measures.hem]
title = "Hem, all round"
how = "Along the hem."
op = "along"
pieces = ["gore"]
edges = ["hem"]
times = 6
stand_in = [{ terms = { length = 2.8 } }]
[[notches]]
seam = "gore"
share = 0.5
[[finishes]]
name = "waist"
title = "Waist"
edges = ["gore.waist_in", "gore.waist_out"]
band = "waistband"
finishes = ["band", "facing"]
[allowances]
seam = 15
turned = ["hem"]
"""


def test_all_kinds_that_come_with_likesewn_read():
    assert kind_names()
    for name in kind_names():
        assert load_kind(name).name == name


def test_a_small_kind_reads():
    assert [edge.name for edge in read_kind(SQUARE).piece("panel").edges] == ["top", "side", "low", "fold"]


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("format = 1", "format = 2", "format"),
        ('title = "Towel"\n', "", "title"),
        ("[pieces", "[[[", "not TOML"),
        ('start = "top_side"', 'start = "top_sid"', "corners are"),
        ('start = "top_side"', 'start = "low_side"', "edge before it ends at"),
        ('level = ["top_side"]\n', "", "needs level"),
        ('right = "panel.side"', 'right = "panel.edge"', "not piece.edge"),
        ('op = "across"', 'op = "accross"', "allowed are"),
        ('corners = ["top_side"]', 'corners = ["hem"]', "corner hem"),
        ('pieces = ["panel"]', 'pieces = ["pannel"]', "piece pannel"),
        ("needed = true", "neded = true", "neded"),
        ('end = "low_side"\nstraight = true', 'end = "low_side"', "shape points"),
    ],
)
def test_faults_are_named(old, new, message):
    assert old in SQUARE
    with pytest.raises(InputError, match=message):
        read_kind(SQUARE.replace(old, new))


def test_a_gored_skirt_reads():
    kind = read_kind(GORE)
    gore = kind.piece("gore")
    assert (gore.copies, gore.on_fold, gore.grain, gore.opening) == (6, False, ("waist_middle",), None)
    assert [(c.name, c.x, c.y) for c in gore.corners][-1] == ("hem_left", -140.0, 600.0)
    right = gore.edges[2]
    assert (right.spans, right.shape_cubics, right.frame) == (2, 1, "chord")
    assert right.shape == ((0.3, -0.05), (0.7, 0.0))
    assert (kind.seams[0].reverse, kind.seams[0].ease) == (True, 0.0)
    assert kind.measures["hem"].stand_in[0].terms == {"length": 2.8}
    assert (kind.measures["hem"].times, kind.measures["hem"].needed) == (6, False)
    assert (kind.seam_allowance, kind.hem_allowance, kind.turned) == (15.0, 25.0, ("hem",))
    assert (kind.length_rule, kind.finishes[0].body) == (("length",), "")


def test_a_piece_without_a_fold_may_be_traced_along_every_edge():
    kind = read_kind(GORE)
    assert traced_edges(kind, "gore") == ("waist_in", "waist_out", "right", "hem", "left")
    assert [points_wanted(kind, "gore", e) for e in traced_edges(kind, "gore")] == [2, 2, 3, 3, 3]


def test_a_garment_of_a_kind_from_elsewhere_reads():
    kind = read_kind(GORE)
    with pytest.raises(InputError) as caught:
        read_garment(new_garment(kind), kinds={kind.name: kind}.__getitem__)
    assert [p.key for p in caught.value.problems] == ["tape.length"]
    text = new_garment(kind).replace('length = ""', "length = 60", 1)
    record = read_garment(text, kinds={kind.name: kind}.__getitem__)
    assert (record.kind, record.tape["length"].mm) == ("gored-skirt", 600.0)


def test_a_piece_that_is_not_there_is_a_key_error():
    with pytest.raises(KeyError, match="lid"):
        read_kind(SQUARE).piece("lid")
    with pytest.raises(KeyError, match="towel"):
        load_kind("towel")


LAST = 'start = "hem_left"\nend = "waist_left"\n'


@pytest.mark.parametrize(
    ("text", "old", "new", "key", "message"),
    [
        (
            GORE,
            'frame = "box"',
            'frame = "bow"',
            "pieces.gore.hem",
            "has the frame 'bow'; allowed are box and chord",
        ),
        (GORE, "cubics = 1", "cubics = 2", "pieces.gore.right", "needs 5 shape points for 2 cubics"),
        (
            GORE,
            '"waist_right"]',
            '"waist_rite"]',
            "pieces.gore",
            "names the corner waist_rite, which it has not",
        ),
        (
            GORE,
            'grain = ["waist_middle"]',
            'grain = ["middle"]',
            "pieces.gore",
            "names the corner middle, which it has not",
        ),
        (
            GORE,
            "copies = 6",
            'copies = 6\nsquare = ["knee"]',
            "pieces.gore",
            "names the corner knee, which it has not",
        ),
        (
            GORE,
            'grain = ["waist_middle"]\n',
            "",
            "pieces.gore",
            "needs level (and grain where there is no fold) to fix its place",
        ),
        (
            GORE,
            "on_fold = false",
            "on_fold = true",
            "pieces.gore",
            "is on the fold, so its last edge must be straight",
        ),
        (
            GORE,
            LAST,
            LAST.replace("hem_left", "hem_right"),
            "pieces.gore.left",
            "starts at hem_right, and the edge before it ends at hem_left",
        ),
        (
            GORE,
            'left = "gore.right"',
            'left = "gore.rite"',
            "seams.gore",
            "names gore.rite, which is not piece.edge of any piece",
        ),
        (
            GORE,
            '"gore.waist_out"]',
            '"gore.waist"]',
            "finishes.waist",
            "names gore.waist, which is not piece.edge of any piece",
        ),
        (GORE, 'seam = "gore"', 'seam = "side"', "notches", "names the seam side, which there is not"),
        (
            GORE,
            'edges = ["hem"]',
            'edges = ["hemm"]',
            "measures.hem",
            "names the edge hemm, which gore has not",
        ),
        (
            GORE,
            '"waist_left", "hem_left"]',
            '"waist_left", "knee"]',
            "measures.length",
            "names the corner knee, which gore has not",
        ),
        (
            GORE,
            "terms = { length = 2.8 }",
            "terms = { lenght = 2.8 }",
            "measures.hem",
            "stands in by lenght, which is not a measure",
        ),
        (
            GORE,
            "{ length = 2.8 } }",
            "{ length = 2.8 }, at_least = { girth = 1 } }",
            "measures.hem",
            "stands in by girth, which is not a measure",
        ),
        (
            GORE,
            'length_rule = ["length"]',
            'length_rule = ["girth"]',
            "length_rule",
            "names girth, which is not a measure",
        ),
        (
            SQUARE,
            'pieces = ["panel"]',
            'pieces = ["lid"]',
            "measures.width",
            "names the piece lid, which there is not",
        ),
        (
            SQUARE,
            'op = "across"',
            'op = "over"',
            "measures.width",
            (
                "has the operation 'over'; allowed are across, from_fold, down, straight, along, "
                "down_to_edge, across_at, between, between_at, level"
            ),
        ),
        (
            SQUARE,
            'level = ["top_side"]\n',
            "",
            "pieces.panel",
            "needs level (and grain where there is no fold) to fix its place",
        ),
    ],
)
def test_the_exact_fault(text, old, new, key, message):
    assert text.count(old) == 1
    with pytest.raises(InputError) as caught:
        read_kind(text.replace(old, new), "smock.toml")
    assert [str(p) for p in caught.value.problems] == [f"smock.toml, {key}: {message}"]


def test_an_edge_between_corners_that_are_not_there():
    with pytest.raises(InputError) as caught:
        read_kind(SQUARE.replace('start = "low_side"', 'start = "lo_side"'))
    assert [(p.key, p.message) for p in caught.value.problems] == [
        (
            "pieces.panel.low",
            (
                "runs from lo_side to low_centre, and the corners are "
                "['low_centre', 'low_side', 'top_centre', 'top_side']"
            ),
        ),
        ("pieces.panel.low", "starts at lo_side, and the edge before it ends at low_side"),
    ]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "format = 1",
            "format = 2",
            "smock.toml, format: this format is not known\n  found: 2\n  allowed: 1",
        ),
        ('title = "Towel"\n', "", "smock.toml, title: this key is missing\n  allowed: text"),
        (
            'right = "panel.side"',
            'right = "panel.side"\nloose = 1',
            (
                "smock.toml, seams[1].loose: this key is not known\n  allowed: ease, left, left_side, "
                "name, reverse, right, right_side, smooth"
            ),
        ),
    ],
)
def test_the_exact_fault_of_a_key(old, new, told):
    assert SQUARE.count(old) == 1
    with pytest.raises(InputError) as caught:
        read_kind(SQUARE.replace(old, new), "smock.toml")
    assert str(caught.value) == told


def test_all_faults_are_told_at_once():
    text = GORE.replace('frame = "box"', 'frame = "bow"').replace('seam = "gore"', 'seam = "side"')
    with pytest.raises(InputError) as caught:
        read_kind(text.replace('length_rule = ["length"]', 'length_rule = ["girth"]'))
    assert [p.key for p in caught.value.problems] == ["pieces.gore.hem", "notches", "length_rule"]


def test_figures_for_what_a_garment_may_have_hold_together_at_all_its_corners():
    silhouette = load_kind("set-in-sleeve-top").silhouette
    assert silhouette is not None
    usual, *others = silhouette.looks()
    assert len(others) == 3  # long sleeves, a standing collar, and both
    assert not any(corner.when or corner.instead for corner in usual)
    long = [look for look in others if look[1].when == "long sleeves"]
    assert len(long) == 2
    assert all([corner.when for corner in look[1:4]] == ["long sleeves"] * 3 for look in long)
    assert {look[0].when for look in long} == {"", "a standing collar"}


@pytest.mark.parametrize(
    ("old", "new", "key", "found", "allowed"),
    [
        ('title = "Towel"', "title = 3", "title", "3", "text"),
        ("format = 1", 'format = "1"', "format", '"1"', "a whole number"),
        ("format = 1", "format = true", "format", "true", "a whole number"),
        ("needed = true", 'needed = "yes"', "measures.width.needed", '"yes"', "true or false"),
        ('corners = ["top_side"]', 'corners = "top_side"', "measures.width.corners", '"top_side"', "a list"),
        ('corners = ["top_side"]', "corners = [7]", "measures.width.corners[1]", "7", "text"),
        ('op = "across"', "op = []", "measures.width.op", "a list", "text"),
        ('op = "across"', 'op = "across"\nmost = nan', "measures.width.most", "nan", "a number"),
    ],
)
def test_a_value_of_another_sort_is_refused(old, new, key, found, allowed):
    assert SQUARE.count(old) >= 1
    with pytest.raises(InputError) as caught:
        read_kind(SQUARE.replace(old, new, 1), "smock.toml")
    (problem,) = caught.value.problems
    assert (problem.file, problem.key, problem.found, problem.allowed) == ("smock.toml", key, found, allowed)


def test_all_values_of_another_sort_are_told_at_once():
    text = SQUARE.replace('title = "Towel"', "title = 3").replace("needed = true", "needed = 1")
    with pytest.raises(InputError) as caught:
        read_kind(text)
    assert [p.key for p in caught.value.problems] == ["title", "measures.width.needed"]


@pytest.mark.parametrize("text", ["", "format = 1", "a = 1", "pieces = 3\nformat = 1", "[pieces]\n", "\x00"])
def test_what_is_no_kind_at_all_is_refused_in_words(text):
    with pytest.raises(InputError):
        read_kind(text)


def spots(data, path=()):
    """Every place of a kind's file."""
    yield path
    if isinstance(data, dict | list):
        for key, value in data.items() if isinstance(data, dict) else enumerate(data):
            yield from spots(value, (*path, key))


WHOLE = tomllib.loads(
    (resources.files("likesewn.garment.kinds") / "set-in-sleeve-top.toml").read_text("utf-8")
)
STRANGE = st.sampled_from(
    [
        None,
        0,
        -1,
        1,
        3.5,
        float("inf"),
        True,
        "",
        "front",
        "hem",
        "start",
        [],
        ["front"],
        [[1]],
        {},
        {"x": 1},
        {"a": [1, 2]},
    ]
)


@settings(max_examples=300, deadline=None, derandomize=True)
@given(st.sampled_from(list(spots(WHOLE))[1:]), STRANGE)
def test_a_kind_with_anything_anywhere_is_read_or_refused_in_words(path, value):
    """Each place of a kind is left out, or holds a value of any sort."""
    data = copy.deepcopy(WHOLE)
    at = data
    for key in path[:-1]:
        at = at[key]
    if value is None:
        del at[path[-1]]
    else:
        at[path[-1]] = value
    try:
        kind = read_kind(tomlkit.dumps(data), "mine.toml")
    except InputError as error:
        for problem in error.problems:
            assert problem.file == "mine.toml"
            assert problem.key
            assert problem.message
    else:
        assert kind.pieces
        template_pattern(kind)
        uneven_kind(kind)
