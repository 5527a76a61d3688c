"""How a kind's garment looks lying flat: the corners that its outline shows, as loosely as they can be known.

A silhouette is upright (its top is the top of the picture) and roughly even about a line down its middle.
One side is described, from the top down; the other is its mirror image. Lateral distances and heights are
shares of the silhouette's height, angles are degrees, and each pair of figures is a usual value and its
spread.
"""

from dataclasses import dataclass, replace
from itertools import compress, product

__all__ = ["Dip", "Silhouette", "SilhouetteCorner"]

Spread = tuple[float, float]
"""A usual value and its standard deviation."""


@dataclass(frozen=True, slots=True)
class SilhouetteCorner:
    """One corner that both sides of the outline show; each side's is called ``name_left`` and ``name_right``.

    Attributes:
        name: Its name.
        turn: How far the outline turns there, walking down the right-hand side; a hollow turns less than 0.
            A sharper corner of the same sign is as good.
        out: Distance from the middle line.
        down: Height below the top.
        run: Length of the run that leads to it from the corner before.
        heading: Direction of that run: 0 straight down, 90 straight away from the middle.
        bend: Usual deviation of the run from a straight line, as a share of the run's length.
        straight: Whether the run is straight where it begins, so that a bend there belongs to the run before.
        edge: Edge that lies along that run, ``piece.edge``, ``edge`` alone meaning the piece that faces up;
            empty where several edges or none do.
        when: What such a garment has that these figures describe, such as long sleeves; empty for the usual.
        instead: Other figures that may hold in the place of these. Those of all corners with the same
            ``when`` hold together.
    """

    name: str
    turn: Spread
    out: Spread
    down: Spread
    run: Spread = (0.5, 10.0)
    heading: Spread = (0.0, 1000.0)
    bend: float = 0.05
    straight: bool = False
    edge: str = ""
    when: str = ""
    instead: "tuple[SilhouetteCorner, ...]" = ()


@dataclass(frozen=True, slots=True)
class Dip:
    """An edge of the piece that faces up, inside the outline, that hangs between the first corners.

    Attributes:
        corner: Name of its lowest point, in the piece that faces up.
        edge: The edge's name.
        drop: Depth of its lowest point below the line between its ends, as a share of that line's length.
        faces: Faces that show it.
    """

    corner: str
    edge: str
    drop: Spread
    faces: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Silhouette:
    """The corners that an outline shows.

    Attributes:
        corners: Corners of one side, from the top down.
        faces: Pieces that may face up, the usual one first.
        closing_edge: Edge that closes the outline at the bottom, from the last corner to its mirror image.
        closing_corner: Corner of the outline on the middle line at the bottom, or empty.
        dip: An edge inside the outline, or None.
    """

    corners: tuple[SilhouetteCorner, ...]
    faces: tuple[str, ...]
    closing_edge: str = ""
    closing_corner: str = ""
    dip: Dip | None = None

    def looks(self) -> tuple[tuple[SilhouetteCorner, ...], ...]:
        """Return the corners as each garment of the kind may show them: every choice of what it may have."""
        whens = dict.fromkeys(way.when for corner in self.corners for way in corner.instead)
        has = (set(compress(whens, choice)) for choice in product((False, True), repeat=len(whens)))
        return tuple(tuple(_shown(corner, chosen) for corner in self.corners) for chosen in has)


def _shown(corner: SilhouetteCorner, whens: set[str]) -> SilhouetteCorner:
    way = next((way for way in corner.instead if way.when in whens), corner)
    return replace(way, instead=())
