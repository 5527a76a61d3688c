"""The search for a short open lay: what is asked is checked, searched for on one core or two, and proved."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, suppress
from dataclasses import replace

import numpy as np
from shapely import Polygon

from likesewn.errors import InputError, Problem
from likesewn.lay.keepout import grown
from likesewn.lay.nest.check import faults
from likesewn.lay.nest.hunt import Find, Hunt
from likesewn.lay.nest.parts import USUAL_SECONDS, Laid, Nested, Part, turned
from likesewn.lay.nest.tables import Tables
from likesewn.lay.nest.team import Mate

__all__ = ["nest"]

MANY_CORNERS = 40
"""An outline of more corners is searched for with fewer, ``coarse`` further out at most."""

MOST_COARSE = 4.0
"""Distance, mm, from which a stand-in goes no further out however many its corners."""

MOST_CORNERS = 60
"""Corners that a stand-in may keep; with more it goes further out, so that time and memory stay in bounds."""


def nest(
    parts: Sequence[Part],
    width: float,
    *,
    seconds: float | None = None,
    steps: int | None = None,
    seed: int = 0,
    clock: Callable[[], float],
    improved: Callable[[Nested], None] | None = None,
    cores: int = 2,
    coarse: float = 0.25,
) -> Nested:
    """Return a short lay of ``parts`` on a strip ``width`` mm wide.

    Args:
        parts: What to lay. Room for the blade, where it is wanted, is part of the outlines.
        width: Width of the strip, mm.
        seconds: Time to search for, by ``clock``; 10 s where neither this nor ``steps`` is given. A first lay
            is always finished.
        steps: Moves for each core to make. With steps alone the same seed, steps and cores give the same lay
            on the same machine; then searches tell each other nothing.
        seed: Seed of the random numbers.
        clock: Seconds that only ever grow, such as ``time.monotonic``.
        improved: Told of each lay that is shorter than all before it.
        cores: 1, or 2 to search in a second process too.
        coarse: How far outside an outline of many corners its stand-in in the search may lie, mm; copies keep
            that much further apart at most. An outline that is uneven all over may need more, up to 4 mm.

    Raises:
        InputError: When a part fits the strip in none of its turns, or is not a simple polygon.
    """
    _refuse(parts, width)
    begun = clock()
    if seconds is None and steps is None:
        seconds = USUAL_SECONDS
    if not parts:
        return Nested(0.0, ())
    kinds, members = _alike(parts)
    stand_ins = [_stand_in(part, width, coarse) for part in kinds]
    best: Nested | None = None

    def over() -> bool:
        return seconds is not None and clock() - begun >= seconds

    with ExitStack() as stack:
        mate: Mate | None = None
        if cores > 1:
            # Where no process can be started, one search is all there is.
            with suppress(OSError):
                mate = stack.enter_context(Mate(stand_ins, width, seed=seed + 1, moves=steps))
        tables = Tables.of(stand_ins, width)
        hunt = Hunt(tables, seed)
        finds = _finds(hunt, mate, over, steps, exchange=seconds is not None)
        for find in finds:
            if best is not None and find.length >= best.length:
                continue
            lay = Nested(find.length, _named(find.laid(tables), members), hunt.moves, clock() - begun)
            if not faults(lay, parts, width):
                best = lay
                if improved:
                    improved(lay)
    if best is None:
        raise AssertionError("a lay of all parts in a line cannot fail")
    return best


def _finds(
    hunt: Hunt, mate: Mate | None, over: Callable[[], bool], steps: int | None, *, exchange: bool
) -> Iterator[Find]:
    """Yield the lays that both searches find, as they are found."""
    yield hunt.best
    for found in hunt.tries(over, steps):
        if found is not None:
            yield found
            if mate and exchange:
                mate.tell(found)
        if mate and exchange:
            for find in mate.heard():
                hunt.join(find)
                yield find
    if mate:
        yield from mate.heard() if exchange else mate.finish()


def _alike(parts: Sequence[Part]) -> tuple[list[Part], list[list[int]]]:
    """Return parts with those of one outline and the same turns made one, and whose copies each one's are."""
    groups: dict[tuple[bytes, tuple[float, ...]], list[int]] = {}
    for i, part in enumerate(parts):
        key = (np.asarray(part.outline, dtype=float).tobytes(), part.turns)
        groups.setdefault(key, []).extend([i] * part.copies)
    kinds = [Part(parts[own[0]].outline, len(own), parts[own[0]].turns) for own in groups.values()]
    return kinds, list(groups.values())


def _named(laid: Sequence[Laid], members: Sequence[Sequence[int]]) -> tuple[Laid, ...]:
    """Give the copies of parts made one back to the parts that they came from, in the order of those."""
    left = [iter(own) for own in members]
    return tuple(sorted((replace(one, part=next(left[one.part])) for one in laid), key=lambda one: one.part))


def _stand_in(part: Part, width: float, coarse: float) -> Part:
    """Return a part of fewer corners that covers ``part`` and still fits ``width``, or itself."""
    if coarse <= 0 or len(part.outline) <= MANY_CORNERS:
        return part
    outline = grown(part.outline, 0.0, coarse)
    while len(outline) > MOST_CORNERS and coarse < MOST_COARSE:
        coarse *= 2.0
        outline = grown(part.outline, 0.0, coarse)
    turns = tuple(turn for turn in part.turns if np.ptp(turned(outline, turn)[:, 1]) <= width)
    covers = Polygon(outline).buffer(1e-6).covers(Polygon(part.outline))
    return Part(outline, part.copies, turns) if turns and covers else part


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
