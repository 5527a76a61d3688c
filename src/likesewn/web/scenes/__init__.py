"""Scenes: what each stage gives, as the drawing component shows it. Pure functions, from values to scenes.

``pieces`` shows the pattern and what is cut, ``recording`` where each measure is taken, ``truing`` before and
after, ``laying`` the cloth, ``printing`` the sheets, ``photographs`` a picture with what was found in it.
``replay`` turns drawings for paper into items of a scene, ``places`` lays pieces side by side, ``wording``
names things.
"""

from likesewn.web.scenes.laying import lay_scene
from likesewn.web.scenes.photographs import PhotoLines, photo_scene
from likesewn.web.scenes.pieces import cut_scene, pattern_scene
from likesewn.web.scenes.printing import FRONT_PAGE, page_scene, print_scene
from likesewn.web.scenes.recording import record_scene
from likesewn.web.scenes.truing import truing_scene

__all__ = [
    "FRONT_PAGE",
    "PhotoLines",
    "cut_scene",
    "lay_scene",
    "page_scene",
    "pattern_scene",
    "photo_scene",
    "print_scene",
    "record_scene",
    "truing_scene",
]
