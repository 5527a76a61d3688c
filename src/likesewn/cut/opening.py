"""The run of edges round a finished opening: its length, its turning, and its quarter marks.

The edges follow one another over the seams, from one fold to the other; where the pieces are on the fold
the run is half the opening. The length of the line that lies ``d`` inside the garment from the edge is
``length + d * turning`` (Steiner's formula for parallels, exact while ``d`` is below the curve's smallest
radius of curvature and the edges run on smoothly over the seams; reference: geometry values, offsets).
"""

from dataclasses import dataclass

from likesewn.cut.edges import Place, base_corner, find
from likesewn.garment import Kind, Pattern
from likesewn.garment.kind import FinishKind
from likesewn.geometry import turning

__all__ = ["Mark", "Opening", "opening_of"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A place on one edge of an opening, ``along_mm`` from that edge's start."""

    place: Place
    along_mm: float


@dataclass(frozen=True, slots=True)
class Opening:
    """A finished opening of a pattern.

    Attributes:
        finish: The kind's opening.
        run: Its edges in order, each with True where it is walked from its start to its end.
        halved: True where the run is half the opening, from fold to fold.
    """

    finish: FinishKind
    run: tuple[tuple[Place, bool], ...]
    halved: bool

    @property
    def times(self) -> int:
        """How often the run is repeated round the whole opening."""
        return 2 if self.halved else 1

    @property
    def length_mm(self) -> float:
        """Length of the edge all round, relaxed, mm."""
        return self.times * sum(place.edge.path.length for place, _ in self.run)

    @property
    def turning(self) -> float:
        """Total turning of the edge all round, radians, positive where it encloses the opening.

        It falls short of a full turn by as much as the shoulders slope, for the neck of a garment stands
        up like a cone.
        """
        return -self.times * sum(turning(place.edge.path) for place, _ in self.run)

    def inside_garment(self, by_mm: float) -> float:
        """Return the length of the line ``by_mm`` into the garment (negative: into the opening), mm."""
        return self.length_mm + by_mm * self.turning

    @property
    def quarters_mm(self) -> tuple[float, ...]:
        """Distances along the run, from its first end, at which the opening is divided in four, mm."""
        quarter = self.length_mm / 4.0
        return tuple(quarter * i for i in range(3 if self.halved else 4))

    def at(self, along_mm: float) -> Mark:
        """Return the place ``along_mm`` from the run's first end."""
        left = along_mm
        for place, onward in self.run[:-1]:
            length = place.edge.path.length
            if left <= length:
                return Mark(place, left if onward else length - left)
            left -= length
        place, onward = self.run[-1]
        length = place.edge.path.length
        left = min(left, length)
        return Mark(place, left if onward else length - left)

    @property
    def quarter_ahead_mm(self) -> float:
        """How far the side quarter marks fall from the seam nearest them, on the longer side of it, mm."""
        quarter = self.length_mm / 4.0
        seams, so_far = list[float](), 0.0
        for place, _ in self.run[:-1]:
            so_far += place.edge.path.length
            seams.append(so_far)
        return min((abs(quarter - seam) for seam in seams), default=0.0)


def opening_of(pattern: Pattern, finish: FinishKind) -> Opening | None:
    """Return the opening as the pattern has it; None where the pattern lacks one of its edges."""
    places: list[Place] = []
    for name in finish.edges:
        place = find(pattern, name)
        if place is None:
            return None
        places.append(place)
    run: list[tuple[Place, bool]] = []
    for i, place in enumerate(places):
        if i + 1 < len(places):
            onward = _leads_to(pattern.kind, place, places[i + 1], at_end=True)
        else:
            onward = i > 0 and not _leads_to(pattern.kind, place, places[i - 1], at_end=True)
        run.append((place, onward if len(places) > 1 else True))
    return Opening(finish, tuple(run), all(place.piece.on_fold for place in places))


def _leads_to(kind: Kind, place: Place, other: Place, *, at_end: bool) -> bool:
    """Say whether the edge's end (or start) comes to the other edge over a seam or at a shared corner."""
    mine = (place.piece.name, base_corner(kind, place, at_end=at_end))
    theirs = {(other.piece.name, base_corner(kind, other, at_end=end)) for end in (False, True)}
    if mine in theirs:
        return True
    return any((a == mine and b in theirs) or (b == mine and a in theirs) for a, b in _sewn_corners(kind))


def _sewn_corners(kind: Kind) -> list[tuple[tuple[str, str], tuple[str, str]]]:
    """Return the pairs of corners, each (piece, corner), that the kind's seams bring together."""
    found: list[tuple[tuple[str, str], tuple[str, str]]] = []
    for seam in kind.seams:
        left, right = _ends(kind, seam.left), _ends(kind, seam.right)
        if seam.reverse:
            right = right[::-1]
        found += list(zip(left, right, strict=True))
    return found


def _ends(kind: Kind, name: str) -> tuple[tuple[str, str], tuple[str, str]]:
    piece_name, _, edge_name = name.partition(".")
    edge = next(edge for edge in kind.piece(piece_name).edges if edge.name == edge_name)
    return (piece_name, edge.start), (piece_name, edge.end)
