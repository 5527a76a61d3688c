"""Which stitch goes where, how it is set, and which needle the cloth wants.

All settings are common practice without a source, except the stitch classes, which are those of ISO 4915,
and the needle sizes, which are shaft diameters in 1/100 mm. Settings are in mm because machine dials are.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from likesewn.garment import Record

__all__ = ["Stitch", "needle", "stitches_for", "thread"]


@dataclass(frozen=True, slots=True)
class Stitch:
    """One stitch and where it is used.

    Attributes:
        use: What it is used for, as the stitch table prints it.
        phrase: The stitch as a step names it, with its article.
        classes: Its class or classes of ISO 4915.
        setting: How the machine is set.
    """

    use: str
    phrase: str
    classes: str
    setting: str


_KNIT_HEM = Stitch(
    "Hems",
    "a narrow zigzag",
    "304",
    "About 1 mm wide and 2 mm long, so that the hem can stretch.",
)
_KNIT_TOPSTITCH = Stitch(
    "Topstitching",
    "a narrow zigzag",
    "304",
    "About 1 mm wide and 2.5 mm long.",
)
_WOVEN_SEAM = Stitch("Seams", "a straight stitch", "301", "2.5 mm long. Neaten the allowances afterwards.")
_WOVEN_HEM = Stitch("Hems", "a straight stitch", "301", "2.5 to 3 mm long.")
_WOVEN_TOPSTITCH = Stitch("Topstitching", "a straight stitch", "301", "3 mm long.")
_OVERLOCK_NEATEN = Stitch(
    "Raw edges",
    "a three-thread overlock stitch",
    "504",
    "Stitch length about 2.5 mm. Let the knife just touch the edge and trim nothing away.",
)
_ZIGZAG_NEATEN = Stitch(
    "Raw edges",
    "a wide zigzag over the edge",
    "304",
    "About 4 mm wide and 2 mm long, the needle falling just off the edge on one side.",
)

_BY_MACHINE: Mapping[tuple[str, str], Mapping[str, Stitch]] = {
    ("knit", "overlock"): {
        "seam": Stitch(
            "Seams",
            "a four-thread or three-thread overlock stitch",
            "514 or 504",
            "Stitch length about 2.5 mm. If the seam comes out wavy, raise the differential feed a little.",
        ),
        "neaten": _OVERLOCK_NEATEN,
        "hem": _KNIT_HEM,
        "topstitch": _KNIT_TOPSTITCH,
    },
    ("knit", "zigzag"): {
        "seam": Stitch(
            "Seams",
            "a narrow zigzag or the machine's stretch stitch",
            "304",
            "About 1 mm wide and 2 mm long, so that the seam can stretch.",
        ),
        "neaten": _ZIGZAG_NEATEN,
        "hem": _KNIT_HEM,
        "topstitch": _KNIT_TOPSTITCH,
    },
    ("woven", "overlock"): {
        "seam": _WOVEN_SEAM,
        "neaten": _OVERLOCK_NEATEN,
        "hem": _WOVEN_HEM,
        "topstitch": _WOVEN_TOPSTITCH,
    },
    ("woven", "zigzag"): {
        "seam": _WOVEN_SEAM,
        "neaten": _ZIGZAG_NEATEN,
        "hem": _WOVEN_HEM,
        "topstitch": _WOVEN_TOPSTITCH,
    },
}


def stitches_for(record: Record) -> Mapping[str, Stitch]:
    """Return the stitches for the record's machine and cloth, by use: seam, neaten, hem, topstitch."""
    return _BY_MACHINE[record.fabric.construction, record.machine]


def needle(record: Record) -> str:
    """Return the needle for the record's cloth: its point and the usual sizes."""
    if record.fabric.construction == "knit":
        return "Ball point: 75/11 or 80/12 for jersey, 90/14 for sweatshirt cloth"
    return "Universal or sharp: 80/12 for shirting, 90/14 for heavier cloth"


def thread(record: Record) -> str:
    """Return the thread for the record's machine."""
    spools = "Polyester sewing thread in the colour of the cloth"
    if record.machine == "overlock":
        return f"{spools}, and three or four cones for the overlock machine"
    return spools
