"""Lettering of a printed pattern can be read on one sheet."""

import pytest
import shapely

from likesewn.publish.drawing import Label, walk
from likesewn.publish.pieces import PatternDrawing, pattern_drawing
from likesewn.publish.sheets import Layout, spread
from likesewn.publish.tiles import tiling
from publish.sample_cut import TODAY, one_piece


def lettering(layout: Layout) -> list[Label]:
    return [item for items in layout.items for item in walk(items) if isinstance(item, Label)]


def joins(layout: Layout) -> shapely.MultiLineString:
    """The edges of later sheets, where these are trimmed."""
    lines = []
    for earlier, later in layout.joins():
        left, top, right, bottom = layout.tiles.window(*later)
        sideways = earlier[0] == later[0]
        lines.append([(left, top), (left, bottom)] if sideways else [(left, top), (right, top)])
    return shapely.MultiLineString(lines)


@pytest.mark.parametrize("overlap", [0.0, 10.0, 25.0])
@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
def test_no_label_runs_across_a_join(pattern: PatternDrawing, paper: str, overlap: float) -> None:
    layout = spread(pattern, tiling(paper, 10.0, overlap))
    split = joins(layout)
    labels = lettering(layout)
    for label in labels:
        box = shapely.Polygon(label.corners())
        assert not box.intersects(split), label.text
        # and some sheet shows all of it
        windows = [shapely.box(*layout.tiles.window(*sheet)) for sheet in layout.sheets]
        assert any(window.covers(box) for window in windows), label.text
    alone = [item for piece in pattern.pieces for item in walk((piece.group,)) if isinstance(item, Label)]
    assert {label.text for label in alone if label.bold} == {label.text for label in labels if label.bold}


def test_without_joins_lettering_takes_the_best_place(pattern: PatternDrawing) -> None:
    for piece in pattern.pieces:
        drawn = [item for item in walk((piece.lettered(),)) if isinstance(item, Label)]
        assert drawn == [item for item in walk((piece.group,)) if isinstance(item, Label)]
        far = shapely.box(5000.0, 5000.0, 5001.0, 5001.0)
        assert drawn == [item for item in walk((piece.lettered([far]),)) if isinstance(item, Label)]


def test_where_there_is_no_room_beside_a_join_lettering_runs_across_it(pattern: PatternDrawing) -> None:
    """A piece that is all join still gets its whole lettering."""
    piece = pattern.pieces[0]
    everywhere = shapely.box(-5000.0, -5000.0, 5000.0, 5000.0)
    said = [item.text for item in walk((piece.lettered([everywhere]),)) if isinstance(item, Label)]
    assert said == [item.text for item in walk((piece.group,)) if isinstance(item, Label)]


def test_lettering_of_a_narrow_piece_moves_off_a_join_in_its_middle() -> None:
    drawing = pattern_drawing(one_piece("Top", "Strip", ("a rather long line of words",)), TODAY).pieces[0]
    middle = 0.5 * float(drawing.outline[:, 0].min() + drawing.outline[:, 0].max())
    line = shapely.box(middle - 1.0, -5000.0, middle + 1.0, 5000.0)
    alone = [item for item in walk((drawing.group,)) if isinstance(item, Label)]
    beside = [item for item in walk((drawing.lettered([line]),)) if isinstance(item, Label)]
    assert any(shapely.Polygon(item.corners()).intersects(line) for item in alone)
    assert not any(shapely.Polygon(item.corners()).intersects(line) for item in beside)
    assert {"Strip", "a rather long line of words"} <= set(" ".join(i.text for i in beside).split(" · ")) | {
        item.text for item in beside
    }
