from dataclasses import replace
from datetime import date
from itertools import combinations

import numpy as np
import pytest
import shapely

from likesewn.cut.cutlist import CutList
from likesewn.publish.drawing import Label, Role, Stroke, item_bounds, moved, walk
from likesewn.publish.piece_lines import sampled, scale_bar
from likesewn.publish.pieces import PatternDrawing, PieceDrawing, pattern_drawing
from publish.sample_cut import one_piece


def labels(piece: PieceDrawing) -> list[Label]:
    return [item for item in walk((piece.group,)) if isinstance(item, Label)]


def strokes(piece: PieceDrawing, *roles: Role) -> list[Stroke]:
    return [
        item
        for item in walk((piece.group,))
        if isinstance(item, Stroke) and (not roles or item.role in roles)
    ]


def test_lettering_lies_inside_its_piece_and_meets_nothing(pattern: PatternDrawing) -> None:
    for piece in pattern.pieces:
        outline = shapely.Polygon(piece.outline)
        boxes = [(label.text, shapely.Polygon(label.corners())) for label in labels(piece)]
        assert boxes
        for text, box in boxes:
            assert outline.contains(box), (piece.name, text)
            for line in strokes(piece, Role.CUT, Role.SEAM, Role.FOLD, Role.GRAIN, Role.NOTCH):
                assert not box.intersects(shapely.LineString(sampled(line.path))), text
        for (one, a), (other, b) in combinations(boxes, 2):
            assert not a.intersects(b), (piece.name, one, other)


def test_lettering_says_what_the_cut_list_says_and_the_date(
    pattern: PatternDrawing, cut_list: CutList, today: date
) -> None:
    for drawn, piece in zip(pattern.pieces, cut_list.pieces, strict=True):
        words = " ".join(label.text for label in labels(drawn))
        for line in (piece.title, *piece.labels, today.isoformat()):
            assert line in words


def test_the_date_is_written_once(today: date) -> None:
    piece = one_piece("Top", "Band", (today.isoformat(), "Band"))
    texts = [label.text for label in labels(pattern_drawing(piece, today).pieces[0])]
    assert texts.count(today.isoformat()) == 1
    assert texts.count("Band") == 1


def test_large_pieces_carry_a_scale_bar_of_both_units(pattern: PatternDrawing) -> None:
    for piece in pattern.pieces:
        if piece.cut.name == "neckband":
            continue
        lengths = [s.path.length for s in strokes(piece, Role.MARK)]
        assert any(abs(length - 100.0) < 1e-9 for length in lengths)
        assert any(abs(length - 101.6) < 1e-9 for length in lengths)
        texts = {label.text for label in labels(piece)}
        assert {"check: 10 cm", "check: 4 in"} <= texts


def test_the_scale_bar_is_divided_evenly() -> None:
    ticks = [i.path.start for i in scale_bar() if isinstance(i, Stroke) and i.path.start[0] == i.path.end[0]]
    for y, step in ((8.5, 10.0), (9.5, 25.4)):
        xs = sorted(float(t[0]) for t in ticks if t[1] == y)
        assert np.diff(xs) == pytest.approx(step)


def test_the_fold_runs_from_cut_line_to_cut_line(pattern: PatternDrawing) -> None:
    on_fold = [piece for piece in pattern.pieces if piece.cut.on_fold]
    assert len(on_fold) >= 3
    for piece in on_fold:
        (fold,) = strokes(piece, Role.FOLD)
        cut = strokes(piece, Role.CUT)
        assert np.allclose(fold.path.start, cut[-1].path.end)
        assert np.allclose(fold.path.end, cut[0].path.start)
        assert np.allclose(fold.path.segments[:, :, 0], 0.0)


def test_the_grain_is_one_straight_line_with_a_head_at_each_end(
    pattern: PatternDrawing, cut_list: CutList
) -> None:
    for drawn, piece in zip(pattern.pieces, cut_list.pieces, strict=True):
        (grain,) = strokes(drawn, Role.GRAIN)
        assert grain.path is piece.grain
        tips = [s.path.segments[0, 3] for s in strokes(drawn, Role.MARK) if len(s.path.segments) == 2]
        for end in (piece.grain.start, piece.grain.end):
            assert any(np.allclose(tip, end) for tip in tips)


def test_a_band_s_further_marks_are_drawn(today: date) -> None:
    cut_list = one_piece("Top", "Band")
    mark = cut_list.pieces[0].grain
    piece = replace(cut_list.pieces[0], marks=(mark,))
    drawn = pattern_drawing(replace(cut_list, pieces=(piece,)), today).pieces[0]
    assert any(s.path is mark for s in strokes(drawn, Role.MARK))


@pytest.mark.parametrize("size", [2.0, 8.0, 15.0, 40.0])
def test_small_pieces_still_carry_their_title(size: float, today: date) -> None:
    cut_list = one_piece("Top", "Loop", ("a line that has no room at all on so small a piece",))
    piece = cut_list.pieces[0]
    small = size / 240.0
    scaled = replace(
        piece,
        seam=tuple(replace(e, path=type(e.path)(e.path.segments * small)) for e in piece.seam),
        cut={k: type(p)(p.segments * small) for k, p in piece.cut.items()},
        grain=type(piece.grain)(piece.grain.segments * small * 0.5),
    )
    drawn = pattern_drawing(replace(cut_list, pieces=(scaled,)), today).pieces[0]
    assert "Loop" in {label.text for label in labels(drawn)}


def test_moving_keeps_shapes_and_turns_lettering(pattern: PatternDrawing) -> None:
    group = pattern.pieces[0].group
    turned = moved(moved(group, 90.0, (5.0, 7.0)), -90.0)
    back = moved(turned, 0.0, (-7.0, 5.0))
    for a, b in zip(walk((group,)), walk((back,)), strict=True):
        if isinstance(a, Stroke):
            assert isinstance(b, Stroke)
            assert np.allclose(a.path.segments, b.path.segments, atol=1e-9)
        if isinstance(a, Label):
            assert isinstance(b, Label)
            assert b.angle == pytest.approx(a.angle)
            assert np.allclose(a.corners(), b.corners(), atol=1e-9)


def test_the_sheet_holds_all_pieces(pattern: PatternDrawing) -> None:
    sheet = pattern.sheet()
    left, top, right, bottom = item_bounds(sheet.items)
    assert left >= 0
    assert top >= 0
    assert right <= sheet.bounds[2]
    assert bottom <= sheet.bounds[3]
