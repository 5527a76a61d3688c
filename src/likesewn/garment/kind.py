"""A kind: how a class of garments is put together, held as data.

A kind knows its pieces, corners and edges, which edges are sewn to which and with what ease, which
joins run on smoothly, which measures exist and how each is computed, and what is usual for allowances,
notches, finishes and the order of work. The stages read kinds; none knows a kind by name.

Lengths are mm. Piece frame: x away from the fold (or from the grain line where there is no fold),
y downward. The edges of a piece run round it so that the piece lies on the right hand of the walk as
drawn with y downward; the fold edge, where there is one, is the straight last edge and lies on x = 0.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from likesewn.garment.silhouette import Silhouette

__all__ = [
    "OPERATIONS",
    "Alike",
    "Corner",
    "EdgeKind",
    "FinishKind",
    "HalfPair",
    "Kind",
    "Level",
    "Measure",
    "NotchKind",
    "Opening",
    "PieceKind",
    "Seam",
    "StandIn",
    "Step",
]

OPERATIONS: Mapping[str, str] = {
    "across": "twice the corner's distance from the fold: the flat width of the piece there",
    "from_fold": "the corner's distance from the fold or grain line",
    "down": "how far the second corner lies below the first",
    "straight": "the straight distance between two corners",
    "along": "the length along one edge or several, `times` over",
    "down_to_edge": "from a corner straight down to an edge",
    "across_at": "twice the edge's distance from the fold at a level",
    "between": "how far apart two corners are across, `times` over",
    "between_at": "how far apart two edges are across at a level",
    "level": "a height by itself, used by other measures",
}
"""The closed set of operations that a measure may use."""


@dataclass(frozen=True, slots=True)
class Corner:
    """A named point of a piece; ``x`` and ``y`` (mm) place it in the kind's template."""

    name: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class EdgeKind:
    """The run between two corners.

    Attributes:
        name: Its name.
        start: Corner it starts at.
        end: Corner it ends at.
        straight: True where it is a straight line.
        spans: Number of cubic spans of a curved edge.
        frame: Frame of ``shape``: ``box`` (u along x and v along y, each 0 at the start corner and 1
            at the end corner) or ``chord`` (u along the chord, v square to it to the right hand of
            the walk as drawn, both in chord lengths).
        shape: Bezier control points between the corners, in ``frame``: two for each cubic and one for
            each joint between cubics.
        cubics: Number of cubics in ``shape``; 0 means as many as ``spans``.
        firm: How firmly the edge keeps its shape where nothing was observed; 1 is usual.
    """

    name: str
    start: str
    end: str
    straight: bool = False
    spans: int = 1
    frame: str = "chord"
    shape: tuple[tuple[float, float], ...] = ()
    cubics: int = 0
    firm: float = 1.0

    @property
    def shape_cubics(self) -> int:
        """Number of cubics in ``shape``."""
        return self.cubics or self.spans


@dataclass(frozen=True, slots=True)
class Opening:
    """How a piece on the fold is opened out when its two halves differ.

    Attributes:
        sides: Names of the halves; the first lies at x > 0.
        keep: Corners on the fold that stay corners; at the others the two half edges become one.
    """

    sides: tuple[str, str]
    keep: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PieceKind:
    """One flat part.

    Attributes:
        name: Its name.
        title: Its name as printed.
        copies: How many are cut for one garment (a pair counts two).
        corners: Its corners.
        edges: Its edges, in order round it.
        on_fold: True when its last edge is a fold on x = 0.
        square: Corners at which its two edges meet at a right angle.
        smooth: Corners at which one edge runs on into the next.
        level: Corners that lie on y = 0.
        grain: Corners that lie on x = 0 where there is no fold.
        opening: How it opens out, or None where it stays folded.
    """

    name: str
    title: str
    copies: int
    corners: tuple[Corner, ...]
    edges: tuple[EdgeKind, ...]
    on_fold: bool = True
    square: tuple[str, ...] = ()
    smooth: tuple[str, ...] = ()
    level: tuple[str, ...] = ()
    grain: tuple[str, ...] = ()
    opening: Opening | None = None

    @property
    def fold(self) -> EdgeKind | None:
        """The fold edge, or None where there is none."""
        return self.edges[-1] if self.on_fold else None

    @property
    def sewn_edges(self) -> tuple[EdgeKind, ...]:
        """All edges but the fold, in order."""
        return self.edges[:-1] if self.on_fold else self.edges

    @property
    def fold_corners(self) -> frozenset[str]:
        """The corners at both ends of the fold; none where there is no fold."""
        return frozenset({self.edges[-1].start, self.edges[-1].end} if self.on_fold else ())

    def edge(self, name: str) -> EdgeKind:
        """Return the edge of that name; KeyError where there is none."""
        for edge in self.edges:
            if edge.name == name:
                return edge
        raise KeyError(name)

    def half_name(self, edge: EdgeKind, side: str) -> str:
        """Return what an edge is called on the half ``side`` of the piece opened out.

        It keeps its name where it ends on the fold at a corner that is not kept: there both halves are
        one edge.
        """
        if self.opening is None or not side:
            return edge.name
        touching = self.fold_corners & {edge.start, edge.end}
        merged = bool(touching) and not touching & set(self.opening.keep)
        return edge.name if merged else f"{edge.name}_{side}"


@dataclass(frozen=True, slots=True)
class Seam:
    """Edges sewn together: ``left`` equals ``right`` in length less ``ease`` (right is the eased side).

    Each end is ``piece.edge``; ``left_side`` and ``right_side`` say which half is meant when the piece
    is opened out. ``smooth`` names edges that run on smoothly across the seam, as
    ``(left edge, right edge)`` meeting at the left edge's start (``"start"``) or end (``"end"``).
    ``reverse`` says that the left edge's start meets the right edge's end; without it start meets
    start, as when one of the two pieces is drawn mirrored.
    """

    name: str
    left: str
    right: str
    left_side: str = ""
    right_side: str = ""
    ease: float = 0.0
    smooth: tuple[tuple[str, str, str], ...] = ()
    reverse: bool = False

    def right_end(self, left_end: str) -> str:
        """Return which end of the right edge, ``start`` or ``end``, meets that end of the left edge."""
        return {"start": "end", "end": "start"}[left_end] if self.reverse else left_end


@dataclass(frozen=True, slots=True)
class Alike:
    """Pieces that are cut alike along some edges unless the record tells them apart.

    Attributes:
        pieces: The two pieces.
        edges: Edges along which they agree (both corners of each too).
        opens: Pieces that open out when the record tells them apart.
    """

    pieces: tuple[str, str]
    edges: tuple[str, ...]
    opens: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class HalfPair:
    """Two edges, each ``piece.edge``, that are usually alike; ``mirrored`` ones are mirror images.

    A mirrored edge is walked from the other's end to its start.
    """

    one: str
    two: str
    mirrored: bool


@dataclass(frozen=True, slots=True)
class Level:
    """A height on a piece: ``share`` of the way from one corner to another, or a measure below one."""

    start: str
    end: str = ""
    share: float = 0.0
    measure: str = ""


@dataclass(frozen=True, slots=True)
class StandIn:
    """What stands in for a measure that was not taken: a sum of other measures.

    Attributes:
        terms: Factor by measure key; all of them must be known.
        plus: Added length, mm.
        at_least: Factor by measure key: the value is not taken below this sum.
    """

    terms: Mapping[str, float]
    plus: float = 0.0
    at_least: Mapping[str, float] = field(default_factory=dict[str, float])


@dataclass(frozen=True, slots=True)
class Measure:
    """A tape measure of the finished garment and how it is computed from corners and edges.

    Attributes:
        key: Its key in the garment file.
        title: Its name as printed.
        how: How to take it, in a sentence or two.
        op: One of ``OPERATIONS``.
        pieces: Pieces on which it is taken; the measure is their mean.
        corners: Corners that the operation uses, in order; twice as many give the mean of two.
        edges: Edges that the operation uses; likewise.
        times: Factor for ``along``.
        level: Height for ``across_at``.
        needed: True when nothing can stand in for it.
        split: True when a prefix (``front_``) may give it for one piece alone.
        stand_in: What stands in for it, in order of preference.
        share: Standard uncertainty of the stand-in as a share of its value.
        least: Smallest length accepted, mm.
        most: Greatest length accepted, mm.
        sigma: Usual standard uncertainty of a tape reading of it, mm.
        sides: Where the garment's halves differ: the same measure on its right and on its left, each as
            measures of one piece whose mean it is; empty where it is taken across both.
    """

    key: str
    title: str
    how: str
    op: str
    pieces: tuple[str, ...]
    corners: tuple[str, ...] = ()
    edges: tuple[str, ...] = ()
    times: float = 1.0
    level: Level | None = None
    needed: bool = False
    split: bool = False
    stand_in: tuple[StandIn, ...] = ()
    share: float = 0.1
    least: float = 1.0
    most: float = 3000.0
    sigma: float = 3.0
    sides: tuple[tuple["Measure", ...], ...] = ()

    def variants(self) -> dict[str, tuple[str, ...]]:
        """Return the keys under which it may be given, each with the pieces that it is then taken on."""
        variants = {self.key: self.pieces}
        if self.split and len(self.pieces) > 1:
            variants |= {f"{piece}_{self.key}": (piece,) for piece in self.pieces}
        return variants


@dataclass(frozen=True, slots=True)
class NotchKind:
    """Matching points on a seam.

    ``share`` is how far along the left edge from its start, as a share of its length; the mark on the
    right edge falls where the two are sewn together. ``marks`` is 1 for a single notch, 2 for a
    double one. ``name`` is what the sewing plan
    calls the point.
    """

    seam: str
    share: float
    marks: int = 1
    name: str = ""


@dataclass(frozen=True, slots=True)
class FinishKind:
    """An opening that is finished with a band, a binding, a facing or a turned edge.

    Attributes:
        name: Its name, which is also the prefix of its keys in the garment file (``neck_finish``).
        title: Its name as printed.
        edges: The edges round the opening in order, each ``piece.edge``, as they follow one another
            over the seams, from one fold to the other.
        band: Name of the band piece.
        finishes: Allowed finishes, the first being usual.
        body: Girth that the opening must pass (``head``), or empty.
        old_width: Usual visible width of a finish, mm.
    """

    name: str
    title: str
    edges: tuple[str, ...]
    band: str
    finishes: tuple[str, ...]
    body: str = ""
    old_width: float = 15.0


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the sewing order; ``when`` names conditions that must all hold for it to appear."""

    title: str
    text: str
    when: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Kind:
    """How a class of garments is put together.

    Attributes:
        name: Its name in garment files.
        title: Its name as printed.
        summary: One sentence about it.
        pieces: Its pieces, in the order in which they are drawn.
        seams: Its seams.
        alike: Pieces that agree unless told apart.
        measures: Its measures by key.
        notches: Matching points.
        finishes: Finished openings.
        seam_allowance: Usual allowance at seams, mm.
        hem_allowance: Usual allowance at turned edges, mm.
        turned: Edge names that are turned up (hem, cuff).
        steps: The order of work.
        halves: Edges that are usually alike but solved for each by itself; empty for a kind that is even.
        length_rule: Measure keys whose sum is the trade's rule for cloth on wide cloth, or empty.
        silhouette: The corners that its outline shows lying flat, or None where photographs cannot tell.
    """

    name: str
    title: str
    summary: str
    pieces: tuple[PieceKind, ...]
    seams: tuple[Seam, ...]
    measures: Mapping[str, Measure]
    alike: tuple[Alike, ...] = ()
    notches: tuple[NotchKind, ...] = ()
    finishes: tuple[FinishKind, ...] = ()
    seam_allowance: float = 10.0
    hem_allowance: float = 25.0
    turned: tuple[str, ...] = ()
    steps: tuple[Step, ...] = ()
    halves: tuple[HalfPair, ...] = ()
    length_rule: tuple[str, ...] = ()
    silhouette: Silhouette | None = None

    def tape_keys(self) -> dict[str, Measure]:
        """Return the measure behind every key that a tape may give, each measure's own keys first."""
        keys = dict(self.measures)
        for measure in self.measures.values():
            for key in measure.variants():
                keys.setdefault(key, measure)
        return keys

    def piece(self, name: str) -> PieceKind:
        """Return the piece of that name; KeyError where there is none."""
        for piece in self.pieces:
            if piece.name == name:
                return piece
        raise KeyError(name)
