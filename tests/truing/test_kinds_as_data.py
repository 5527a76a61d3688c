"""Other kinds, read from text alone: trued like the first, since no code knows a kind by name."""

import ast
from pathlib import Path as File

import pytest

import likesewn
from likesewn.garment import Record, kind_names, load_kind, read_kind
from tops import assert_met, assert_sewn, tape, trued, value

PANEL = """
title = "{title}"
copies = 1
square = ["waist_centre", "hem_centre"]
level = ["waist_centre"]
[pieces.{name}.corners]
waist_centre = [0, {drop}]
waist_side = [180, 0]
hem_side = [300, 590]
hem_centre = [0, 610]
[[pieces.{name}.edges]]
name = "waist"
start = "waist_centre"
end = "waist_side"
frame = "box"
shape = [[0.35, 0.0], [0.7, 0.4]]
[[pieces.{name}.edges]]
name = "side"
start = "waist_side"
end = "hem_side"
spans = 3
cubics = 1
shape = [[0.3333, -0.04], [0.6667, -0.03]]
[[pieces.{name}.edges]]
name = "hem"
start = "hem_side"
end = "hem_centre"
shape = [[0.3333, 0], [0.6667, 0]]
[[pieces.{name}.edges]]
name = "fold"
start = "hem_centre"
end = "waist_centre"
straight = true
"""

ON_THE_FOLD = (
    """
format = 1
name = "panel-skirt"
title = "Panel skirt"
summary = "Two panels on the fold."
[pieces.front_panel]"""
    + PANEL.format(name="front_panel", title="Front panel", drop=22)
    + "[pieces.back_panel]"
    + PANEL.format(name="back_panel", title="Back panel", drop=12)
    + """
[[seams]]
name = "side"
left = "front_panel.side"
right = "back_panel.side"
smooth = [["waist", "waist", "start"], ["hem", "hem", "end"]]
[measures.waist_girth]
title = "Waist, all round"
how = "Along the waist seam."
op = "along"
pieces = ["front_panel", "back_panel"]
edges = ["waist"]
times = 4
needed = true
[measures.front_length]
title = "Front length"
how = "Down the centre front."
op = "down"
pieces = ["front_panel"]
corners = ["waist_centre", "hem_centre"]
needed = true
[measures.hip_level]
title = "Hip level"
how = "Below the waist at the centre."
op = "level"
pieces = ["front_panel", "back_panel"]
corners = ["waist_centre"]
stand_in = [{ terms = { front_length = 0.33 } }]
[measures.hip_width]
title = "Hip width"
how = "Across at the hip level."
op = "across_at"
pieces = ["front_panel", "back_panel"]
edges = ["side"]
level = { start = "waist_centre", measure = "hip_level" }
split = true
[measures.half_way_width]
title = "Width halfway down"
how = "Across, halfway down the side."
op = "across_at"
pieces = ["front_panel"]
edges = ["side"]
level = { start = "waist_side", end = "hem_side", share = 0.5 }
[measures.hem_width]
title = "Hem width"
how = "Straight across."
op = "across"
pieces = ["front_panel", "back_panel"]
corners = ["hem_side"]
stand_in = [{ terms = { waist_girth = 0.8 } }]
[measures.side_straight]
title = "Side, straight"
how = "From waist to hem."
op = "straight"
pieces = ["front_panel", "back_panel"]
corners = ["waist_side", "hem_side"]
split = true
[measures.down_the_back]
title = "From the side of the waist down to the hem"
how = "Straight down."
op = "down_to_edge"
pieces = ["back_panel"]
corners = ["waist_side"]
edges = ["hem"]
[measures.waist_half]
title = "Side of the waist from the fold"
how = "Square to the fold."
op = "from_fold"
pieces = ["front_panel"]
corners = ["waist_side"]
"""
)

SIDE = """shape = [[0.3333, 0], [0.6667, 0]]
"""

GORED = (
    """
format = 1
name = "six-gores"
title = "Skirt of six gores"
summary = "Six gores alike, each sewn to the next."
[pieces.gore]
title = "Gore"
copies = 6
on_fold = false
square = ["waist_left", "waist_right"]
level = ["waist_left"]
grain = ["waist_left"]
[pieces.gore.corners]
waist_left = [0, 0]
waist_right = [120, 0]
hem_right = [220, 600]
hem_left = [-100, 600]
[[pieces.gore.edges]]
name = "waist"
start = "waist_left"
end = "waist_right"
"""
    + SIDE
    + """[[pieces.gore.edges]]
name = "right"
start = "waist_right"
end = "hem_right"
"""
    + SIDE
    + """[[pieces.gore.edges]]
name = "hem"
start = "hem_right"
end = "hem_left"
"""
    + SIDE
    + """[[pieces.gore.edges]]
name = "left"
start = "hem_left"
end = "waist_left"
"""
    + SIDE
    + """[[seams]]
name = "gore"
left = "gore.right"
right = "gore.left"
reverse = true
smooth = [["waist", "waist", "start"], ["hem", "hem", "end"]]
[measures.length]
title = "Length"
how = "Along a seam."
op = "along"
pieces = ["gore"]
edges = ["right"]
needed = true
[measures.waist]
title = "Waist of one gore"
how = "Along the waist."
op = "along"
pieces = ["gore"]
edges = ["waist"]
needed = true
[measures.hem]
title = "Hem of one gore"
how = "From corner to corner."
op = "straight"
pieces = ["gore"]
corners = ["hem_left", "hem_right"]
stand_in = [{ terms = { waist = 2.0 } }]
[measures.knee]
title = "Right seam from the grain line, halfway"
how = "Square to the grain."
op = "across_at"
pieces = ["gore"]
edges = ["right"]
level = { start = "waist_right", end = "hem_right", share = 0.5 }
"""
)


def test_panels_on_the_fold_use_every_operation():
    kind = read_kind(ON_THE_FOLD)
    first = trued(Record("Skirt", kind.name, tape=tape(waist_girth=700, front_length=580)), kind)
    assert_sewn(first)
    assert_met(first)
    read = {m.key: m.value_mm for m in first.measures}
    changed = read | {"front_length": read["front_length"] + 4.0}
    changed |= {"hip_level": 190.0}
    figures = {key: mm for key, mm in changed.items() if key not in {"down_the_back", "side_straight"}}
    figures["hip_width"] = read["half_way_width"] - 60.0
    again = trued(Record("Skirt", kind.name, tape=tape(**figures)), kind)
    assert_sewn(again)
    assert_met(again)
    every = tape(**{m.key: m.value_mm for m in again.measures})
    assert {kind.measures[key].op for key in every} == {
        "along", "down", "level", "across_at", "across", "straight", "down_to_edge", "from_fold",
    }  # fmt: skip
    third = trued(Record("Skirt", kind.name, tape=every), kind)
    assert_sewn(third)
    assert_met(third)
    assert not third.findings


def test_gores_sewn_each_to_the_next():
    kind = read_kind(GORED)
    pattern = trued(Record("Skirt", kind.name, tape=tape(length=640, waist=118, hem=300)), kind)
    assert_sewn(pattern)
    assert_met(pattern)
    assert not pattern.findings
    gore = pattern.piece("gore")
    assert not gore.on_fold
    assert gore.corners["waist_left"] == pytest.approx([0.0, 0.0], abs=1e-9)
    assert {a.name for a in pattern.square_corners} == {"gore waist_left", "gore waist_right"}
    assert {a.name for a in pattern.smooth_joins} == {"waist over the gore seam", "hem over the gore seam"}
    level = (gore.corners["waist_right"] + gore.corners["hem_right"])[1] / 2
    right = gore.edge("right").path.segments
    assert value(pattern, "knee") / 2 == pytest.approx(right[:, :, 0].mean(), abs=15.0)
    assert right[0, 0, 1] < level < right[-1, 3, 1]


def names_of_kinds() -> set[str]:
    names = set(kind_names())
    for kind in map(load_kind, kind_names()):
        names |= {p.name for p in kind.pieces} | set(kind.measures) | {f.band for f in kind.finishes}
        names |= {c.name for p in kind.pieces for c in p.corners}
        names |= {e.name for p in kind.pieces for e in p.edges}
    # words that code needs for things of its own: a fold, a hem allowance, a side of a piece
    return names - {"fold", "hem", "side", "front", "back"}


def test_no_code_knows_a_kind_its_pieces_corners_edges_or_measures():
    root = File(likesewn.__file__).parent
    names = names_of_kinds()
    assert {"sleeve", "armhole", "neck_point", "chest_width", "set-in-sleeve-top"} <= names
    for file in sorted(root.rglob("*.py")):
        tree = ast.parse(file.read_text(encoding="utf-8"))
        texts = {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)}
        assert not texts & names, file.relative_to(root)
