"""The search for a short open lay."""

from collections.abc import Callable, Sequence

import numpy as np
from shapely import Polygon

from likesewn.errors import InputError, Problem
from likesewn.lay.nest.check import faults
from likesewn.lay.nest.library import by_library
from likesewn.lay.nest.parts import Nested, Part, turned

__all__ = ["nest"]


def nest(
    parts: Sequence[Part],
    width: float,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    clock: Callable[[], float],
    improved: Callable[[Nested], None] | None = None,
) -> Nested:
    """Return a short lay of ``parts`` on a strip ``width`` mm wide.

    Args:
        parts: What to lay. Keep the room for the blade in the outlines.
        width: Width of the strip, mm.
        seconds: Time to search for, by ``clock``.
        steps: Moves to search for; then the same seed and steps give the same lay.
        seed: Seed of the random numbers.
        clock: Seconds that only ever grow, such as ``time.monotonic``.
        improved: Told of each lay that is shorter than all before it.

    Raises:
        InputError: When a part fits the strip in none of its turns, or is not a simple polygon.
    """
    _refuse(parts, width)
    begun = clock()
    best: Nested | None = None
    for _, laid in by_library(parts, width, seconds=max(1, int(seconds or 1)), seed=seed, workers=2):
        outlines = [one.outline(parts) for one in laid]
        length = max(float(outline[:, 0].max()) for outline in outlines)
        lay = Nested(length, laid, steps or 0, clock() - begun)
        if (best is None or length < best.length) and not faults(lay, parts, width):
            best = lay
            if improved:
                improved(lay)
    if best is None:
        raise InputError(Problem("no lay was found in the time", todo="Give the search more time."))
    return best


def _refuse(parts: Sequence[Part], width: float) -> None:
    """Raise InputError for what no search could lay."""
    problems: list[Problem] = []
    if not (np.isfinite(width) and width > 0):
        problems.append(
            Problem("the strip has no width", found=f"{width} mm", allowed="a length of more than 0")
        )
    for i, part in enumerate(parts):
        shape = (
            Polygon(part.outline) if len(part.outline) > 2 and np.isfinite(part.outline).all() else Polygon()
        )
        if not (shape.is_valid and shape.area > 0):
            problems.append(Problem("an outline is no simple polygon", found=f"part {i}"))
        elif not part.turns or part.copies < 1:
            problems.append(Problem("a part has no turn or no copy", found=f"part {i}"))
        elif width > 0:
            needs = min(float(np.ptp(turned(part.outline, turn)[:, 1])) for turn in part.turns)
            if needs > width:
                problems.append(
                    Problem(
                        "a part is wider than the strip",
                        found=f"part {i}: {needs:.1f} mm",
                        allowed=f"at most {width:.1f} mm in one of its turns",
                    )
                )
    if problems:
        raise InputError(*problems)
