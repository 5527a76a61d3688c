"""From a rendered photograph among sheets to edges in a garment file, and the command line."""

import json

import cv2
import numpy as np
import pytest
from scipy.spatial import cKDTree
from typer.testing import CliRunner

from likesewn.cli import app
from likesewn.garment import load_kind, read_garment
from likesewn.photo import rectify
from likesewn.photo.hints import Hint
from likesewn.photo.overlay import overlay_picture
from likesewn.photo.reading import Picture
from likesewn.photo.trace import trace
from likesewn.photo.tracing_text import with_tracing
from photo.drawn import HALF, filled, half_pale, overlap, picture, top
from photo.scene import Shape, photograph, random_scene

KIND = load_kind("set-in-sleeve-top")
RIGHT = np.array(list(HALF.values()), dtype=float)
TOP = np.concatenate([RIGHT, RIGHT[-2:0:-1] * [-1, 1]]) - [0, 300]


def seen(pattern, seed, thickness=0.0):
    scene = random_scene(np.random.default_rng(seed), count=4, thickness=thickness)
    scene.pattern = pattern
    scene.shapes = [Shape(TOP)]
    taken = Picture("front.jpg", photograph(scene, seed=seed), None)
    plane = rectify([taken]).planes[0]
    assert plane is not None
    return trace(taken, plane.raised(thickness, 0.5) if thickness else plane, KIND)


def error_mm(outline, truth):
    """Root mean square distance of an outline from the truth after the best shift and turn, mm."""
    dense = np.concatenate(
        [
            np.linspace(a, b, 300, endpoint=False)
            for a, b in zip(truth, np.roll(truth, -1, axis=0), strict=True)
        ]
    )
    tree, at = cKDTree(dense), outline - outline.mean(axis=0)
    for _ in range(40):
        near = dense[tree.query(at)[1]]
        left, _, right = np.linalg.svd((at - at.mean(axis=0)).T @ (near - near.mean(axis=0)))
        at = (at - at.mean(axis=0)) @ (left @ right) + near.mean(axis=0)
    return float(np.sqrt(np.mean(tree.query(at)[0] ** 2)))


@pytest.fixture(scope="module")
def traced():
    return seen("plain", 1)


@pytest.mark.parametrize(("pattern", "thickness", "limit"), [("plain", 3.0, 0.4), ("wood", 0.0, 0.8)])
def test_the_outline_is_true_in_millimetres(pattern, thickness, limit):
    assert error_mm(seen(pattern, 5, thickness).outline_mm, TOP) < limit


def test_edges_come_out_with_their_lengths_and_sigmas(traced):
    by_side = {(e.piece, e.edge, e.side): e for e in traced.edges}
    for side in ("left", "right"):
        run = by_side["front", "side", side]
        true = np.hypot(*(RIGHT[6] - RIGHT[5]))
        # the outline rounds the notch of the underarm off, so a run starts a little below it
        assert 0.84 * true < np.hypot(*np.diff(run.at[[0, -1]], axis=0)[0]) < true
        off = (run.at - run.at.mean(axis=0)) @ np.linalg.svd(run.at - run.at.mean(axis=0))[2][1]
        assert np.sqrt(np.mean(off**2)) < 0.4  # it is straight
        assert 0.05 < run.sigma_mm < 1.0
        assert by_side["sleeve", "cuff", side].lay != run.lay


def test_a_neckline_that_cannot_be_seen_is_left_out_with_a_word(traced):
    assert "inner-edge-unseen" in {finding.code for finding in traced.findings}
    assert "neckline" not in {edge.edge for edge in traced.edges}


def test_needed_measures_are_read_off_the_corners(traced):
    assert traced.measures["chest_width"][0] == pytest.approx(2 * HALF["underarm"][0], abs=6.0)
    assert traced.measures["body_length"][0] == pytest.approx(606.0, abs=6.0)


def test_a_garment_file_takes_the_points_and_reads_back(traced):
    text = with_tracing("", traced, KIND, 3.0)
    record = read_garment(text)
    assert [(p.file, p.face, p.thickness_mm) for p in record.photos] == [("front.jpg", "front", 3.0)]
    assert {(p.piece, p.edge) for p in record.points} >= {
        ("front", "side"),
        ("front", "hem"),
        ("sleeve", "cuff"),
    }
    assert record.tape["chest_width"].mm == pytest.approx(traced.measures["chest_width"][0], abs=0.1)
    again = read_garment(with_tracing(text, traced, KIND))
    assert len(again.photos) == 2


def test_what_looks_like_the_kind_is_taken_over_what_stands_out():
    outline, corners = top()
    rgb = half_pale(outline)
    without, tracing = (trace(Picture("pale.jpg", rgb, None), None, kind) for kind in (None, KIND))
    # alone, the part of a strong colour seems to be the garment
    assert overlap(filled(without.outline.px), filled(outline)) < 0.9
    assert overlap(filled(tracing.outline.px), filled(outline)) > 0.97
    for name, place in corners.items():
        assert np.hypot(*(np.array(tracing.corners_px[name]) - place)) < 6.0


def test_corners_put_far_outside_the_garment_are_taken_as_they_are():
    places = {"neck_point_left": (402.0, 220.0), "neck_point_right": (415.0, 230.0)}
    tracing = trace(Picture("far.jpg", picture(top()[0]), None), None, KIND, hint=Hint(corners=places))
    assert {name: tracing.corners_px[name] for name in places} == places


def test_a_rectangle_past_a_small_picture_is_no_trouble():
    blurred = np.random.default_rng(4).integers(0, 256, (3, 4, 3)).astype(np.uint8)
    small = cv2.resize(blurred, (77, 48), interpolation=cv2.INTER_CUBIC)
    for box in ((-20.0, -20.0, 3.0, 2.0), (70.0, 44.0, 85.0, 52.0), (90.0, 60.0, 99.0, 70.0)):
        assert (
            len(trace(Picture("small.jpg", small, None), None, KIND, hint=Hint(rectangle=box)).corners_px)
            >= 10
        )


def test_the_overlay_is_a_picture_without_notes():
    rgb = picture(top()[0])
    data = overlay_picture(
        rgb, top()[0], {"underarm_left": (100.0, 200.0)}, [np.array([[10.0, 10.0], [50.0, 60.0]])]
    )
    assert cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR).shape[:2] == (920, 840)
    assert b"Exif" not in data


@pytest.fixture(scope="module")
def photo(tmp_path_factory):
    file = tmp_path_factory.mktemp("lay") / "top.png"
    cv2.imwrite(str(file), picture(top()[0])[..., ::-1])
    return file


def run(*arguments):
    return CliRunner().invoke(app, ["trace", *map(str, arguments)])


def test_json_has_the_outline_and_the_kinds_corners(photo):
    data = json.loads(run(photo, "--kind", "set-in-sleeve-top", "--json").stdout)
    assert set(data) >= {
        "outline_px", "outline_mm", "corners_px", "corners_mm", "sigma_mm", "camera", "sheets", "findings",
    }  # fmt: skip
    assert data["outline_mm"] is None
    assert {*data["corners_px"]} == {
        *(
            f"{c}_{s}"
            for c in ("neck_point", "underarm", "cuff_outer", "cuff_inner", "hem_side")
            for s in ("left", "right")
        ),
        "front_neck_centre",
    }
    assert any(f["code"] for f in data["findings"])


def test_a_line_drawn_round_the_garment_is_taken(photo):
    line = " ".join(f"{x + 2:.0f},{y - 2:.0f}" for x, y in top()[0])
    data = json.loads(run(photo, "--kind", "set-in-sleeve-top", "--round", line, "--json").stdout)
    for name, place in top()[1].items():
        assert np.hypot(*(np.array(data["corners_px"][name]) - place)) < 9.0, name


def test_without_a_kind_the_outline_stands_alone(photo):
    data = json.loads(run(photo, "--json").stdout)
    assert data["corners_px"] == {}
    assert len(data["outline_px"]) > 100


def test_a_known_measure_gives_millimetres(photo, tmp_path):
    out, overlay = tmp_path / "top.toml", tmp_path / "overlay.jpg"
    done = run(
        photo,
        "--kind",
        "set-in-sleeve-top",
        "--known",
        "chest_width=52 cm",
        "--out",
        out,
        "--overlay",
        overlay,
    )
    assert done.exit_code == 0, done.output
    assert read_garment(out.read_text()).tape["chest_width"].mm == pytest.approx(520.0, abs=1.0)
    assert overlay.stat().st_size > 1000


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--rectangle", "5,5 6,6"], "not a rectangle"),
        (["--rectangle", "left"], "not points"),
        (["--round", "left"], "not points"),
        (["--round", "5,5 90,90"], "more points"),
        (["--round", "5,5 90,90 90,5 5,90"], "crosses itself"),
        (["--round", "5,5 200,9 100,900"], "outside the photograph"),
        (["--kind", "set-in-sleeve-top", "--corner", "elbow=3,4"], "no such corner"),
        (["--kind", "set-in-sleeve-top", "--face", "sleeve"], "does not face up"),
        (["--kind", "set-in-sleeve-top", "--known", "hem_colour=3"], "no two corners"),
        (["--kind", "set-in-sleeve-top", "--out", "x.toml"], "no scale"),
        (["--seam", "front.armhole=1,2 3,4"], "no such edge"),
        (["--printed-ruler", "20 cm", "--printed-ruler", "3 cm"], "cannot be a printed"),
        (["--kind", "sock"], "no such kind"),
    ],
)
def test_wrong_use_is_refused_in_words(photo, arguments, words):
    done = run(photo, *arguments)
    assert done.exit_code != 0
    assert words in str(done.exception)


def test_a_missing_picture_is_refused_in_words(tmp_path):
    assert "cannot be read" in str(run(tmp_path / "none.jpg").exception)
