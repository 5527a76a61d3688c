"""A photograph of a garment among reference sheets, turned into millimetres.

``sheet`` says what a reference sheet is; ``reading`` opens picture files; ``finding_sheets`` finds the
sheets' corners and ``symmetry`` places them; ``camera`` is the lens; ``adjust`` solves for camera, poses and
sheets together, from where ``solve`` starts it; ``plane`` is the result, pixels to millimetres; ``rectify``
puts these together and ``judging`` says what is wrong. ``known`` takes other things of known size in place of
sheets.

``trace`` finds the garment: ``segment`` (from ``seeds`` and ``colours``) tells it from the table, ``outline``
refines its edge, ``corners``, ``dip`` and ``hollows`` find the kind's corners, ``seams`` follows lines that a
person picked, ``hints`` is what a person may add (``drawn_line`` and ``drawn_cut``: a line drawn round the
garment), ``tracing_findings`` says what is off, ``tracing_text`` writes a garment file and ``overlay`` the
picture to check by eye. ``tracing_job`` is the whole way, for one lay.
"""

from likesewn.photo.camera import Camera
from likesewn.photo.known import (
    Known,
    known_card,
    known_length,
    known_paper,
    known_points,
    rectify_known,
)
from likesewn.photo.plane import FoundSheet, Plane
from likesewn.photo.reading import Picture, read_picture
from likesewn.photo.rectify import PrintScale, Rectified, rectify
from likesewn.photo.thickness import default_thickness

__all__ = [
    "Camera",
    "FoundSheet",
    "Known",
    "Picture",
    "Plane",
    "PrintScale",
    "Rectified",
    "default_thickness",
    "known_card",
    "known_length",
    "known_paper",
    "known_points",
    "read_picture",
    "rectify",
    "rectify_known",
]
