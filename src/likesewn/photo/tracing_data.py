"""What was traced, as plain data: the content of ``likesewn trace --json``, and more of it for a page."""

from collections.abc import Collection, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Finding
from likesewn.garment.finding import finding_data
from likesewn.photo.plane import Plane
from likesewn.photo.trace import Tracing
from likesewn.photo.tracing_job import EdgeName, edge_name

__all__ = ["edges_data", "tracing_data"]


def tracing_data(traced: Tracing, findings: Sequence[Finding]) -> dict[str, Any]:
    """Return a tracing as plain data: outline, corners, camera, sheets and findings."""
    plane = traced.plane
    return {
        "outline_px": _rows(traced.outline.px),
        "outline_mm": None if traced.outline_mm is None else _rows(traced.outline_mm),
        "corners_px": {k: _row(p) for k, p in traced.corners_px.items()},
        "corners_mm": {k: _row(p) for k, p in traced.corners_mm.items()} if plane else None,
        "sigma_mm": None if traced.sigma_mm is None else [round(float(v), 4) for v in traced.sigma_mm],
        "camera": _camera(plane) if plane else None,
        "sheets": [
            {
                "number": s.number,
                "outline_px": _rows(s.outline_px),
                "outline_mm": _rows(s.outline_mm),
                "corners": s.corners,
                "corners_in_all": s.corners_in_all,
                "residual_px": round(float(s.residual_px), 4),
            }
            for s in (plane.sheets if plane else ())
        ],
        "findings": [finding_data(finding) for finding in findings],
    }


def edges_data(traced: Tracing, placed: Collection[EdgeName]) -> list[dict[str, Any]]:
    """Return the traced edges as plain data, with where they appear in the photograph.

    Args:
        traced: The tracing.
        placed: The edges that a person put by hand.
    """
    if traced.plane is None:
        return []
    return [
        {
            "name": ".".join(edge_name(edge)),
            "piece": edge.piece,
            "edge": edge.edge,
            "side": edge.side,
            "px": _rows(traced.plane.to_photo(edge.at)),
            "mm": _rows(edge.at),
            "sigma_mm": edge.sigma_mm,
            "placed": edge_name(edge) in placed,
        }
        for edge in traced.edges
    ]


def _rows(points: NDArray[np.float64]) -> list[list[float]]:
    return [_row(row) for row in points]


def _row(point: "Sequence[float] | NDArray[np.float64]") -> list[float]:
    return [round(float(v), 3) for v in point]


def _camera(plane: Plane) -> dict[str, Any]:
    lens = {k: float(v) for k, v in asdict(plane.camera).items()}
    return {
        **lens,
        "rotation": plane.rotation.tolist(),
        "translation_mm": plane.translation.tolist(),
        "tilt_degrees": round(plane.tilt_degrees, 3),
        "distance_mm": round(plane.distance_mm, 1),
        "height_mm": plane.height_mm,
    }
