import pytest

from likesewn.errors import InputError
from likesewn.garment import kind_names, load_kind, read_kind

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
