"""likesewn copies a garment that fits into a pattern that can be sewn again.

The stages, in order, each a package with one obvious function that takes the last stage's value:

``units`` and ``geometry`` are the ground; ``garment`` holds what a garment is and what was recorded
of it; ``truing`` recovers flat pieces that sew together; ``cut`` adds allowances, notches and bands;
``lay`` plans the cloth; ``sewing`` puts the work in order; ``publish`` draws it all; ``job`` runs the
stages one after another, and ``cli`` is the command line on top.
"""

__version__ = "0.1.0"
