"""Open lays through the nesting search: outlines as parts on a strip, and back."""

from collections.abc import Callable

import numpy as np

from likesewn.lay.board import Layout, Spot
from likesewn.lay.keepout import grown
from likesewn.lay.nest import Nested, Part
from likesewn.lay.nest.parts import turned
from likesewn.lay.ways import HALF_GAP, Unit

__all__ = ["nested"]


def nested(
    units: tuple[Unit, ...],
    width: float,
    *,
    seconds: float | None,
    moves: int | None,
    seed: int,
    clock: Callable[[], float],
    improved: Callable[[Layout], None],
    cores: int = 1,
) -> Layout:
    """Return a lay of outlines on open cloth, found by ``nest``.

    Args:
        units: The outlines, each free to lie anywhere across the cloth.
        width: Width of the cloth, mm.
        seconds: Time to search for, or None.
        moves: Moves of one outline to make, where there is no time; the same ones every time.
        seed: Seed of the random numbers.
        clock: Seconds that only ever grow.
        improved: Told of each shorter lay.
        cores: 1, or 2 to search in a second process too.
    """
    from likesewn.lay.nest import nest  # noqa: PLC0415 - slow to load, and few lays are searched for so

    # The room for the blade goes round each outline, and is not kept along the cloth's edges.
    parts = [
        Part(grown(unit.lies[0].outline, HALF_GAP), 1, tuple(float(lie.turned) for lie in unit.lies))
        for unit in units
    ]

    def laid(found: Nested) -> Layout:
        spots: list[Spot] = []
        for one in found.laid:
            unit = units[one.part]
            low = turned(unit.lies[0].outline, one.turn).min(axis=0) + np.array([one.x, one.y - HALF_GAP])
            lie = next(lie for lie in unit.lies if lie.turned == one.turn)
            room = lie.rooms[0]
            spots.append(Spot(unit, lie, float(low[0]), min(max(float(low[1]), room[0]), room[1])))
        start = min(spot.x for spot in spots)
        moved = tuple(Spot(s.unit, s.lie, s.x - start, s.y) for s in spots)
        return Layout(moved, max(spot.end for spot in moved))

    found = nest(
        parts,
        width + 2 * HALF_GAP,
        seconds=seconds,
        steps=moves,
        seed=seed,
        clock=clock,
        improved=lambda better: improved(laid(better)),
        cores=cores,
    )
    return laid(found)
