"""Where a piece lies, in words: how far its grain runs from an edge of the cloth, to pin it by."""

from likesewn.lay.plan import Placed, Plan
from likesewn.units import format_length

__all__ = ["grain_from_edge", "place_words"]


def grain_from_edge(plan: Plan, placed: Placed) -> tuple[float, str]:
    """Return how far the middle of a piece's grain lies from an edge of the lying cloth, mm, and which edge.

    The middle is that between the piece's least and greatest y: the crease of paper folded lengthwise.
    """
    middle = (float(placed.outline[:, 1].min()) + float(placed.outline[:, 1].max())) / 2
    far = plan.width_mm - middle
    match plan.folding:
        case "open" | "crosswise":
            return min(middle, far), "selvage"
        case "selvages to the middle":
            return min(middle, far), "fold"
        case "folded" | "part fold" if far < middle:
            return far, "selvage"
        case _:
            return middle, "fold"


def place_words(plan: Plan, placed: Placed, unit: str) -> str:
    """Return where to pin a piece, such as ``middle 21.5 cm from the selvage``."""
    mm, edge = grain_from_edge(plan, placed)
    if plan.cloth.outline:
        edge = "edge"
    return f"middle {format_length(mm, unit)} from the {edge}"
