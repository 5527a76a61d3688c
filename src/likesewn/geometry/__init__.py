"""Plane curves: cubic paths, their length, offsets, crossings, areas and fits.

``bezier`` works on arrays of segments; ``path`` holds a run of them; ``along`` finds places by
distance; ``meet`` finds closest points and crossings; ``offset`` draws parallels; ``measure`` gives
areas and boxes and flattens; ``fit`` draws a smooth path through noisy points. Geometry knows no
garments. Coordinates are mm, x to the right and y downward.
"""

from likesewn.geometry.path import FLATNESS, Path

__all__ = ["FLATNESS", "Path"]
