"""Plane curves: cubic paths, their length, offsets, crossings, areas and fits.

``bezier`` works on arrays of segments; ``path`` holds a run of them and ``ruler`` is its scale; ``along``
finds places by distance; ``nearest`` finds closest points and ``meet`` crossings; ``offset`` draws
parallels; ``measure`` gives areas and boxes and flattens; ``fit`` draws a smooth path through noisy
points. Geometry knows no garments. Coordinates are mm, x to the right and y downward.
"""

from likesewn.geometry.along import curvature_at, cut_out, point_at, split_at, tangent_at
from likesewn.geometry.fit import Fit, FitError, fit
from likesewn.geometry.measure import area, bounds, flatten, turning
from likesewn.geometry.meet import Crossing, crossings, self_crossings
from likesewn.geometry.nearest import Closest, closest, distances
from likesewn.geometry.offset import OffsetError, extend, offset
from likesewn.geometry.path import FLATNESS, Path

__all__ = [
    "FLATNESS",
    "Closest",
    "Crossing",
    "Fit",
    "FitError",
    "OffsetError",
    "Path",
    "area",
    "bounds",
    "closest",
    "crossings",
    "curvature_at",
    "cut_out",
    "distances",
    "extend",
    "fit",
    "flatten",
    "offset",
    "point_at",
    "self_crossings",
    "split_at",
    "tangent_at",
    "turning",
]
