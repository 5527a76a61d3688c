"""Allowances against closed forms and against what is usual in the trade."""

import numpy as np
import pytest
import shapely

from likesewn.cut.allowances import FINISH_ALLOWANCES, LEAST_KNIT_HEM
from likesewn.cut.cut_line import CutLine, cut_line
from likesewn.garment import Edge, PatternPiece
from likesewn.garment.kinds import kind_names, load_kind
from likesewn.geometry import Path, flatten

TRIANGLE = ((0.0, 0.0), (4.0, 0.0), (0.0, 3.0))  # sides 4, 5, 3 in this order


def piece_of(corners: tuple[tuple[float, float], ...]) -> PatternPiece:
    ends = (*corners[1:], corners[0])
    edges = tuple(
        Edge(f"e{i}", f"e{i}", "", f"c{i}", f"d{i}", Path.line(a, b))
        for i, (a, b) in enumerate(zip(corners, ends, strict=True))
    )
    return PatternPiece("piece", "Piece", 1, on_fold=False, edges=edges, corners={})


def polygon(line: CutLine) -> shapely.Polygon:
    return shapely.Polygon(np.concatenate([flatten(p, 1e-4)[:-1] for p in line.paths.values()]))


# Mitred parallel of a polygon: area A + L d + d^2 T and length L + 2 d T, with T the sum of tan(turn / 2);
# the 3-4-5 triangle has T = 6 (closed form; Steiner's formula for polygons).
@pytest.mark.parametrize("d", [0.1, 0.5, 1.0, 3.0])
def test_345_triangle_with_one_allowance(d):
    # its sharpest corner, 36.9 degrees, would reach 3.16 allowances: past the mitre's limit of 3
    line = cut_line(piece_of(TRIANGLE), dict.fromkeys(("e0", "e1", "e2"), d))
    tip = 1.0 / np.sin(0.5 * np.arctan2(3.0, 4.0))
    cut_off = (tip - 3.0) ** 2 * np.tan(0.5 * np.arctan2(3.0, 4.0)) * d * d
    assert polygon(line).area == pytest.approx(6.0 + 12.0 * d + 6.0 * d * d - cut_off, rel=1e-9)


def test_equilateral_triangle_is_mitred_whole():
    # T = 3 tan 60 degrees, so area A + L d + 3 sqrt(3) d^2 (closed form); its tips reach 2 allowances
    h = np.sqrt(3.0) / 2.0
    line = cut_line(piece_of(((0.0, 0.0), (1.0, 0.0), (0.5, h))), dict.fromkeys(("e0", "e1", "e2"), 0.25))
    assert polygon(line).area == pytest.approx(h / 2.0 + 0.75 + 3.0 * np.sqrt(3.0) / 16.0, rel=1e-9)
    assert polygon(line).length == pytest.approx(3.0 + 2.0 * 0.25 * 3.0 * np.sqrt(3.0), rel=1e-9)


# Unlike allowances a, b, c on sides 3, 4, 5 with mitred corners: area 6 (1 + (3a + 4b + 5c) / 12)^2, which
# is 35.0416667 for 1, 1, 2 (closed form: the triangle is similar to the first).
def test_345_triangle_with_unlike_allowances():
    line = cut_line(piece_of(TRIANGLE), {"e0": 1.0, "e1": 2.0, "e2": 1.0})
    assert polygon(line).area == pytest.approx(35.0416667, rel=1e-8)


# A circle skirt's waist: the cut line lies inside the seam line, at r - allowance (published calculators
# that add it make the raw waist 763 mm instead of 637 mm for a waist of 700 mm and 10 mm; closed form).
def test_waist_of_a_circle_skirt_is_cut_inside_its_seam_line():
    r, length = 700.0 / (2.0 * np.pi), 600.0
    k = 4.0 / 3.0 * (np.sqrt(2.0) - 1.0)

    def arc(radius: float) -> Path:
        return Path(radius * np.array([[[0.0, 1.0], [k, 1.0], [1.0, k], [1.0, 0.0]]]))

    waist, hem = arc(r), arc(r + length).reversed()
    edges = (
        Edge("waist", "waist", "", "a", "b", waist),
        Edge("side", "side", "", "b", "c", Path.line(waist.end, hem.start)),
        Edge("hem", "hem", "", "c", "d", hem),
        Edge("fold", "fold", "", "d", "a", Path.line(hem.end, waist.start), fold=True),
    )
    piece = PatternPiece("skirt", "Skirt", 1, on_fold=True, edges=edges, corners={})
    line = cut_line(piece, {"waist": 10.0, "side": 0.0, "hem": 15.0})
    # a quarter of the raw waist, to the accuracy of the quarter circle itself (2.7e-4 of its radius)
    assert 4.0 * line.paths["waist"].length == pytest.approx(2.0 * np.pi * (r - 10.0), rel=1e-3)
    assert 4.0 * line.paths["waist"].length == pytest.approx(637.0, abs=0.5)
    assert 4.0 * line.paths["hem"].length == pytest.approx(2.0 * np.pi * (r + length + 15.0), rel=1e-3)


# Common practice, no source: about 1 cm at overlocked or zigzag knit seams, 2 to 2.5 cm at knit hems,
# none at a neckline whose band makes up the height.
@pytest.mark.parametrize("name", kind_names())
def test_usual_allowances_are_the_trades(name):
    kind = load_kind(name)
    assert 6.0 <= kind.seam_allowance <= 12.0
    assert 20.0 <= kind.hem_allowance <= 25.0


def test_finish_allowances_are_the_trades():
    assert FINISH_ALLOWANCES["band"] == FINISH_ALLOWANCES["binding"] == 0.0
    # enclosed neck seams: 0.6 cm, 1/4 in (read in three published pages on seam allowances)
    assert FINISH_ALLOWANCES["facing"] == pytest.approx(6.35, abs=0.5)
    # common practice, no source: under 2 cm a knit hem tends to roll
    assert LEAST_KNIT_HEM == 20.0
