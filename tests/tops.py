"""Tops of many sizes for the tests of truing, and the bars that they must meet."""

import numpy as np
import pytest

from likesewn.garment import Figure, Kind, Pattern, Record, load_kind
from likesewn.geometry import Path, self_crossings
from likesewn.truing import Untrued, true
from likesewn.truing.matrices import StepMatrix

TOP = load_kind("set-in-sleeve-top")


def tape(**figures: float | Figure) -> dict[str, Figure]:
    return {k: v if isinstance(v, Figure) else Figure(float(v)) for k, v in figures.items()}


def record(**figures: float | Figure) -> Record:
    return Record("Test top", TOP.name, tape=tape(**figures))


def basis(chest: float = 520.0) -> dict[str, float]:
    """Return figures that place every corner of a long-sleeved top, mm."""
    return {
        "chest_width": chest,
        "body_length": 1.3 * chest,
        "sleeve_length": 1.1 * chest,
        "shoulder_width": 0.7 * chest + 45,
        "neck_width": 0.3 * chest + 20,
        "front_neck_drop": 0.12 * chest + 30,
        "back_neck_drop": 0.03 * chest + 5,
        "armhole_drop": 0.34 * chest + 62,
    }


def trued(of: Record, kind: Kind = TOP) -> Pattern:
    pattern = true(of, kind)
    assert isinstance(pattern, Pattern), pattern
    return pattern


def value(pattern: Pattern, key: str) -> float:
    return next(m.value_mm for m in pattern.measures if m.key == key)


def assert_sewn(pattern: Pattern | Untrued) -> None:
    """Assert all that sewing demands: sewn edges equal, corners square, joins smooth, outlines simple."""
    assert isinstance(pattern, Pattern), pattern
    assert pattern.seams
    for seam in pattern.seams:
        assert abs(seam.difference_mm) <= 0.01, seam
    for angle in (*pattern.square_corners, *pattern.smooth_joins):
        assert abs(angle.degrees - angle.wanted) <= 0.05, angle
    for piece in pattern.pieces:
        outline = Path.join([edge.path for edge in piece.edges])
        assert outline.closed, piece.name
        assert not self_crossings(outline, closed=True), piece.name


def assert_met(pattern: Pattern, within: float = 0.1) -> None:
    asked = [m for m in pattern.measures if m.asked_mm is not None]
    assert asked
    for measure in asked:
        assert measure.value_mm == pytest.approx(measure.asked_mm, abs=within), measure.key


def dense(matrix: StepMatrix, numbers: np.ndarray) -> np.ndarray:
    """Return the H of the solve's matrix, shape (unknowns, unknowns), of its numbers."""
    return np.stack([matrix.times(numbers, one) for one in np.eye(matrix.size)], axis=1)


def central(function, x: np.ndarray, step: float = 1e-4) -> np.ndarray:
    """Return central finite differences, shape of the function's value + (len(x),)."""
    shifts = step * np.eye(len(x))
    return np.stack([(function(x + s) - function(x - s)) / (2 * step) for s in shifts], axis=-1)
