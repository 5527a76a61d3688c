"""Proves a lay from scratch; shares nothing with the search but the outlines."""

from collections import Counter
from collections.abc import Sequence

import numpy as np
from shapely import Polygon, STRtree, box

from likesewn.lay.nest.parts import Nested, Part

__all__ = ["TOLERANCE", "faults"]

TOLERANCE = 1e-3
"""How far, mm, two outlines may reach into each other, or one over the strip's edge: a thread is a hundred
times as thick, and arithmetic in double precision keeps a thousand times closer."""


def faults(nested: Nested, parts: Sequence[Part], width: float, tolerance: float = TOLERANCE) -> list[str]:
    """Return what is wrong with a lay, in words; empty when every copy lies free and on the strip.

    Two outlines overlap when they still meet after each is drawn in by half the tolerance.

    Args:
        nested: The lay.
        parts: What was to be laid.
        width: Width of the strip, mm.
        tolerance: See ``TOLERANCE``, mm.
    """
    said: list[str] = []
    counted = Counter(laid.part for laid in nested.laid)
    said += [
        f"part {i}: {counted[i]} copies lie on the strip, {part.copies} are asked for"
        for i, part in enumerate(parts)
        if counted[i] != part.copies
    ]
    said += [
        f"part {laid.part} is turned by {laid.turn}"
        for laid in nested.laid
        if laid.turn not in parts[laid.part].turns
    ]
    outlines = [Polygon(laid.outline(parts)) for laid in nested.laid]
    strip = box(-tolerance, -tolerance, nested.length + tolerance, width + tolerance)
    said += [
        f"copy {i} reaches off the strip" for i, outline in enumerate(outlines) if not strip.covers(outline)
    ]
    inner = [outline.buffer(-tolerance / 2, join_style="mitre") for outline in outlines]
    first, second = STRtree(inner).query(inner, predicate="intersects")
    said += [
        f"copies {i} and {j} overlap" for i, j in zip(first.tolist(), second.tolist(), strict=True) if i < j
    ]
    if nested.laid and not np.isfinite(nested.length):
        said.append("the length is not a number")
    return said
