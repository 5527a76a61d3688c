"""A photograph of a garment among reference sheets, turned into millimetres.

``sheets`` says what a reference sheet is; ``reading`` opens picture files; ``finding_sheets`` finds the
sheets' corners; ``camera`` is the lens; ``adjust`` solves for camera, poses and sheets together; ``plane`` is
the result, pixels to millimetres; ``known`` takes other things of known size in place of sheets.
"""

from likesewn.photo.camera import Camera
from likesewn.photo.plane import FoundSheet, Plane

__all__ = ["Camera", "FoundSheet", "Plane"]
