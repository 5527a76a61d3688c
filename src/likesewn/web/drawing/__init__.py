"""The drawing component: shows scenes, pans and zooms them, and tells what a person does in them.

``browser`` holds the component itself, plain JavaScript modules without dependencies. ``view`` and ``near``
are arithmetic; ``paint``, ``rulers`` and ``loupe`` put things on the screen; ``pointing`` and ``keys`` read
the person; ``component`` joins them. ``likesewn_drawing.js`` makes it a component of the page framework, and
``drawing`` is its Python side.
"""

from likesewn.web.drawing.drawing import BROWSER, WORDS, Drawing, Mode, Moved, add_look

__all__ = ["BROWSER", "WORDS", "Drawing", "Mode", "Moved", "add_look"]
