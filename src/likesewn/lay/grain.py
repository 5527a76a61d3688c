"""How far off the grain a piece may lie, as the angles that are tried."""

from collections.abc import Mapping

__all__ = ["leans_of"]


def leans_of(grain: Mapping[str, float | str]) -> dict[str, tuple[float, ...]]:
    """Return the angles off the grain to try besides 0, degrees, by piece.

    Args:
        grain: By piece, a tolerance in degrees, or ``across`` or ``bias``. A tolerance is tried at its ends
            and halfway to them.
    """
    words = {"across": (90.0,), "bias": (45.0, -45.0)}
    found: dict[str, tuple[float, ...]] = {}
    for piece, value in grain.items():
        if isinstance(value, str):
            found[piece] = words[value]
        elif value:
            found[piece] = (-value, -value / 2, value / 2, value)
    return found
