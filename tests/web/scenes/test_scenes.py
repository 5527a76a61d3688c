from dataclasses import replace

import numpy as np
import pytest
import svgpathtools

from likesewn.garment import kind_names, load_kind
from likesewn.garment.template import template_pattern
from likesewn.geometry import Path
from likesewn.publish.drawing import Box, Group, Label, Role, Stroke
from likesewn.publish.measure_spans import measure_span
from likesewn.truing import Explained, explain
from likesewn.web.scene import Area, Line, Part, Scene, Text, lines_of
from likesewn.web.scenes import (
    cut_scene,
    lay_scene,
    page_scene,
    pattern_scene,
    photo_scene,
    print_scene,
    record_scene,
    truing_scene,
)
from likesewn.web.scenes.replay import Names, d_of, replayed, ring_of
from likesewn.web.scenes.wording import (
    allowance_words,
    and_so_on,
    corner_words,
    edge_words,
    measure_words,
    moved_words,
    sheet_words,
)
from top_scenes import PHOTO, job, layout, taken, titles


def length(d: str) -> float:
    return svgpathtools.parse_path(d).length(error=1e-6)


def picked(scene: Scene) -> dict[str, Line]:
    return {line.id: line for line in lines_of(scene.items) if line.pick}


def part(scene: Scene, id_: str) -> Part:
    return next(item for item in scene.items if isinstance(item, Part) and item.id == id_)


@pytest.mark.parametrize("name", kind_names())
def test_the_pieces_show_every_edge_and_corner_by_name(name: str) -> None:
    pattern = template_pattern(load_kind(name))
    scene = pattern_scene(pattern, "Top", "cm")
    lines = picked(scene)
    for piece in pattern.pieces:
        assert part(scene, piece.name).says.startswith(piece.title)
        for edge in piece.edges:
            if not edge.fold:
                line = lines[f"{piece.name}.{edge.name}"]
                assert length(line.d) == pytest.approx(edge.path.length, abs=0.05)
                assert line.says.endswith("cm")
    assert {h.id for h in scene.handles} == {
        f"corner.{p.name}.{c}" for p in pattern.pieces for c in p.corners
    }
    assert not any(h.movable for h in scene.handles)


def test_corners_lie_on_their_edges() -> None:
    scene = pattern_scene(job().pattern, "Top", "cm", job().explained)
    (neck,) = (h for h in scene.handles if h.id == "corner.front.neck_point")
    assert neck.says == "Neck point of the front"
    path = svgpathtools.parse_path(picked(scene)["front.shoulder"].d)
    assert complex(*neck.at) == pytest.approx(path.start, abs=0.02)
    assert "±" in picked(scene)["front.armhole"].says


def test_cut_lines_are_those_of_the_cut_list_and_say_their_allowance() -> None:
    lines = picked(cut_scene(job().cut_list, job().record))
    for piece in job().cut_list.pieces:
        for edge, path in piece.cut.items():
            assert length(lines[f"{piece.name}.{edge}"].d) == pytest.approx(path.length, abs=0.05)
    assert lines["front.armhole"].says.startswith("Armhole of the front, ")
    assert lines["front.armhole"].says.endswith(", allowance 1.0 cm")
    assert lines["front.hem"].says.endswith(", allowance 2.5 cm")
    assert len(lines) == sum(len(piece.cut) for piece in job().cut_list.pieces)


def test_every_measure_is_shown_once_and_those_not_taken_are_faint() -> None:
    lines = picked(record_scene(job().kind, job().pattern, "Top", "cm", taken=taken(), chosen="hem_width"))
    for key, measure in job().kind.measures.items():
        line = lines[key]
        assert line.says.startswith(measure.title)
        assert line.faint == (key not in taken() and key != "hem_width")
        assert line.look == ("shown" if key == "hem_width" else "measure")
        assert ("not measured yet" in line.says) == (key not in taken())
    assert lines["chest_width"].says == "Chest width, 53.0 cm"


@pytest.mark.parametrize("key", ["chest_width", "body_length", "sleeve_length", "cuff_width"])
def test_a_measure_runs_as_far_as_it_says(key: str) -> None:
    line = picked(record_scene(job().kind, job().pattern, "Top", "cm", taken=taken()))[key]
    run = svgpathtools.parse_path(line.d).continuous_subpaths()[0]
    assert run.length() == pytest.approx(taken()[key], abs=0.2)


def test_a_measure_of_one_piece_alone_is_shown_there() -> None:
    kind, pattern = job().kind, job().pattern
    assert "back_armhole_curve" not in picked(record_scene(kind, pattern, "Top", "cm", taken={}))
    scene = record_scene(kind, pattern, "Top", "cm", taken={"back_armhole_curve": 250.0})
    back = {line.id: line for line in lines_of(part(scene, "back").items)}
    assert "back alone, 25.0 cm" in back["back_armhole_curve"].says
    chosen = record_scene(kind, pattern, "Top", "cm", taken={}, chosen="front_armhole_curve")
    assert picked(chosen)["front_armhole_curve"].look == "shown"


def test_the_chosen_measure_lies_over_all_others() -> None:
    scene = record_scene(job().kind, job().pattern, "Top", "cm", taken={}, chosen="shoulder_drop")
    lines = [line for line in lines_of(part(scene, "front").items) if line.pick]
    assert lines[-1].id == "shoulder_drop"


@pytest.mark.parametrize("name", kind_names())
def test_a_kind_can_be_shown_before_anything_is_measured(name: str) -> None:
    kind = load_kind(name)
    scene = record_scene(kind, template_pattern(kind), "Top", "in", taken={})
    assert all(line.faint for line in lines_of(scene.items) if line.look == "measure")
    needed = {key for key, measure in kind.measures.items() if measure.needed}
    assert needed
    assert needed <= set(picked(scene))


def test_a_garment_whose_halves_differ_shows_its_measures_too() -> None:
    record = replace(job().record, symmetric=False)
    uneven = explain(record, job().kind)
    assert isinstance(uneven, Explained)
    pattern = uneven.pattern
    scene = record_scene(pattern.kind, pattern, "Top", "cm", taken=taken())
    lines = picked(scene)
    assert set(pattern.kind.measures) <= set(lines)
    run = svgpathtools.parse_path(lines["sleeve_length"].d).continuous_subpaths()[0]
    assert run.length() == pytest.approx(taken()["sleeve_length"], abs=0.2)
    assert {item.id for item in scene.items} == {piece.name for piece in pattern.pieces}
    assert set(picked(pattern_scene(pattern, "Top", "cm", uneven))) <= set(
        picked(truing_scene(uneven, "Top", "cm"))
    )


def test_a_measure_whose_corner_is_not_there_is_left_out() -> None:
    pattern = template_pattern(job().kind)
    bare = replace(pattern.piece("sleeve"), corners={"underarm": np.array([178.0, 128.0])})
    bare = replace(bare, edges=tuple(edge for edge in bare.edges if not edge.fold))
    assert measure_span(job().kind.measures["sleeve_length"], bare, {}) is None


def test_where_the_record_could_not_be_fitted_nothing_is_shown_before() -> None:
    scene = truing_scene(replace(job().explained, pieces_before=(), before=None), "Top", "cm", "before")
    assert scene.items == ()
    assert "nothing to show" in scene.summary


def test_before_and_after_show_what_they_say() -> None:
    def looks(which: str) -> set[str]:
        scene = truing_scene(job().explained, "Top", "cm", which)
        return {line.look for line in lines_of(scene.items)}

    assert looks("both") == {"recorded", "trued", "fold"}
    assert looks("before") == {"before", "fold"}
    assert looks("after") == {"trued", "fold"}


def test_before_truing_the_lengths_are_those_recorded() -> None:
    before = picked(truing_scene(job().explained, "Top", "cm", "before"))
    for piece in job().explained.pieces_before:
        for edge in piece.edges:
            if not edge.fold:
                assert length(before[f"{piece.name}.{edge.name}"].d) == pytest.approx(
                    edge.path.length, abs=0.05
                )
    after = picked(truing_scene(job().explained, "Top", "cm", "after"))
    assert set(before) == set(after)
    moved = [move for move in job().explained.moves if abs(move.mm) >= 1.0]
    assert moved
    for move in moved:
        assert "truing moved it" in after[f"{move.piece}.{move.edge}"].says


def test_every_outline_of_a_lay_is_a_part_where_it_lies() -> None:
    plan = job().plans[0]
    scene = lay_scene(plan, titles(), "cm")
    for placed in plan.placed:
        one = part(scene, f"{placed.piece}.{placed.copy}")
        assert one.pick
        assert one.says.startswith(titles()[placed.piece] + ": cut no. ")
        points = np.array([(p.start.real, p.start.imag) for p in svgpathtools.parse_path(one.d)])
        assert points == pytest.approx(placed.outline, abs=0.006)
    assert len([item for item in scene.items if isinstance(item, Part)]) == len(plan.placed)
    assert any(isinstance(item, Text) and item.text == "1 Front" for item in scene.items)


def test_the_map_has_every_sheet_and_says_what_is_on_it() -> None:
    scene = print_scene(layout(), "Top", "cm")
    sheets = [item for item in scene.items if isinstance(item, Part)]
    assert len(sheets) == len(layout().sheets)
    assert "13 sheets of A4" in scene.summary
    assert part(scene, "B2").says == "Sheet B2: front and back"


def test_a_sheet_shows_its_paper_and_only_its_share() -> None:
    scene = page_scene(layout(), "B2", "Top", "2031-03-14", "cm")
    assert scene.paper is not None
    assert scene.clip is not None
    left, top, right, bottom = scene.paper
    assert (right - left, bottom - top) == pytest.approx((210.0, 297.0))
    assert scene.clip == pytest.approx((left + 10, top + 10, right - 10, bottom - 10))
    assert any(isinstance(item, Text) and item.text == "B2" for item in scene.items)
    with pytest.raises(KeyError):
        page_scene(layout(), "Z9", "Top", "2031-03-14", "cm")


def test_a_photograph_lies_with_its_first_pixels_centre_at_nought() -> None:
    scene = photo_scene("/p.jpg", (160, 120), "table.jpg", PHOTO)
    assert scene.scale is None
    assert scene.backdrop is not None
    assert (scene.backdrop.left, scene.backdrop.top) == (-0.5, -0.5)
    assert scene.bounds == (-0.5, -0.5, 159.5, 119.5)
    assert {h.id: h.look for h in scene.handles} == {
        "corner.neck_point_left": "corner",
        "corner.neck_point_right": "corner",
        "curve.front.hem.0": "curve",
        "picked.0": "picked",
    }
    assert set(picked(scene)) == {"outline", "edge.front.hem", "seam.armhole"}
    assert picked(scene)["outline"].look == "proposed"
    assert part(scene, "sheet.1").says == "Reference sheet 1, found"
    assert scene.summary == "1 reference sheet found, outline proposed, 2 corners."


def test_drawings_are_replayed_as_they_are() -> None:
    line = Path.line((0.0, 0.0), (10.0, 5.0))
    group = Group(
        "piece",
        (Stroke(line, Role.CUT, "hem"), Stroke(line, Role.SEAM, "hem"), Label("Hem", (1.0, 2.0), 3.0)),
        (("piece", "front"),),
        "Front",
    )
    rim = Group("rim", (Box(0.0, 0.0, 4.0, 2.0, "cloth", "cloth", Role.GUIDE),))
    names = Names(says={"front.hem": "Hem of the front"}, pick=Role.CUT, looks={Role.SEAM: "before"})
    one, area, box = replayed((group, rim), names, by=(100.0, 0.0))
    assert one == Part(
        "front",
        "Front",
        (
            Line("M100 0L110 5", "cut", "front.hem", "Hem of the front", pick=True),
            Line("M100 0L110 5", "before"),
            Text((101.0, 2.0), "Hem", 3.0),
        ),
        tone="",
    )
    assert area == Area("M100 0L104 0L104 2L100 2Z", "cloth")
    assert isinstance(box, Line)
    assert box.closed


def test_curves_stay_curves() -> None:
    curve = Path(np.array([[(0.0, 0.0), (1.005, 2.0), (3.0, 4.0), (5.0, 6.12345)]]))
    assert d_of(curve, by=(1.0, 0.0)) == "M1 0C2 2 4 4 6 6.12"
    assert ring_of(np.array([(0.0, 0.0), (1.0, 0.0), (12345.678, 1.0)])) == "M0 0L1 0L12345.68 1Z"


def test_words() -> None:
    assert edge_words("hem_side", "Front", "3.0 cm") == "Hem side of the front, 3.0 cm"
    assert corner_words("neck_point", "Back") == "Neck point of the back"
    assert allowance_words(0.0, "cm") == "no allowance"
    assert allowance_words(9.525, "in") == "allowance 3/8 in"
    assert and_so_on(["a"]) == "a"
    assert and_so_on(["a", "b"]) == "a and b"
    assert and_so_on(["a", "b", "c"]) == "a, b and c"
    assert measure_words("Hem", None, "cm", taken=False) == "Hem, not measured yet"
    assert measure_words("Hem", 500.0, "cm", taken=False) == "Hem, not measured yet, about 50.0 cm"
    assert moved_words(-4.2, "hem_side", "mm") == "truing moved it 4.2 mm in near the hem side"
    assert sheet_words("A1", ["Front", "Back"]) == "Sheet A1: front and back"
