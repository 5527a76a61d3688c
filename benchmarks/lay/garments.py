"""Thirty garments of the project's own kinds, of many sizes and designs, as cut lists."""

from likesewn.cut import CutList, cut
from likesewn.garment import Figure, Pattern, Record, load_kind
from likesewn.truing import true

__all__ = ["KIND", "garments"]

KIND = load_kind("set-in-sleeve-top")

# Invented round figures from a toddler's to a very large person's: body length, chest width, mm.
BODIES = (
    (380, 300),
    (460, 350),
    (520, 390),
    (580, 440),
    (620, 470),
    (660, 520),
    (690, 550),
    (720, 590),
    (740, 640),
    (760, 700),
)

# Sleeve length and cuff width as shares of body length and chest width, and whether front and back differ.
DESIGNS = {"long": (0.9, 0.21, False), "short": (0.32, 0.32, False), "shaped": (0.85, 0.22, True)}


def garments() -> dict[str, CutList]:
    """Return the cut lists by name."""
    found: dict[str, CutList] = {}
    for length, chest in BODIES:
        for design, (sleeve, cuff, shaped) in DESIGNS.items():
            figures = {
                "body_length": length,
                "chest_width": chest,
                "sleeve_length": round(sleeve * length),
                "cuff_width": round(cuff * chest),
                "hem_width": round(chest * (1.04 if shaped else 1.0)),
            }
            if shaped:
                drop = 0.34 * chest + 62
                figures |= {"front_armhole_drop": round(drop), "back_armhole_drop": round(drop - 6)}
            record = Record(design, KIND.name, tape={key: Figure(float(mm)) for key, mm in figures.items()})
            pattern = true(record, KIND)
            if not isinstance(pattern, Pattern):
                raise TypeError(f"{design} {chest}: {pattern.reason}")
            found[f"{design} {chest / 10:g}"] = cut(pattern, record)
    return found
