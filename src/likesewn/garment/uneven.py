"""A kind opened out for a garment whose two halves differ, and its record to go with it.

Everything downstream reads kinds as data, so a garment that is not even is one of another kind: pieces on
the fold are opened out whole, pieces that are cut twice become two pieces, and every seam, measure and
matching point is said of both. What lies at x > 0 of an opened piece keeps its names, what lies at x < 0
has ``left_`` before them, as one looks at the piece right side up. Two pieces that are sewn to one another,
such as front and back, face opposite ways: the right half of one is worn with the left half of the other.
Of the pieces cut twice the one that keeps its name is worn with the right half of the first opened piece.
"""

from collections.abc import Iterator
from dataclasses import replace

from likesewn.garment.kind import (
    Alike,
    Corner,
    EdgeKind,
    FinishKind,
    HalfPair,
    Kind,
    Measure,
    NotchKind,
    PieceKind,
    Seam,
)
from likesewn.garment.record import Record, TracedPoints

__all__ = ["even_end", "even_title", "other_seam", "uneven_kind", "uneven_record"]

LEFT = "left_"
_OTHER_SEAM = "left "
_RIGHT_TITLE, _LEFT_TITLE = ", right as seen from the front", ", left as seen from the front"


def other_seam(kind: Kind, name: str) -> str | None:
    """Return the seam on the left of an uneven garment that is like ``name`` on its right, or None."""
    other = _OTHER_SEAM + name
    return other if kind.halves and any(seam.name == other for seam in kind.seams) else None


def even_end(kind: Kind, end: str) -> str:
    """Return ``piece.edge`` of an uneven kind by the names of the even one; others as they are."""
    if not kind.halves:
        return end
    piece, edge = end.split(".")
    return f"{piece.removeprefix(LEFT)}.{edge.removeprefix(LEFT)}"


def even_title(title: str) -> str:
    """Return the title of one of two pieces that differ as the even kind has it."""
    return title.removesuffix(_RIGHT_TITLE).removesuffix(_LEFT_TITLE)


def uneven_kind(kind: Kind) -> Kind:
    """Return the kind with both halves of everything on their own."""
    return _Opener(kind).kind()


class _Opener:
    def __init__(self, even: Kind) -> None:
        self.even = even
        self.opened = tuple(p.name for p in even.pieces if p.on_fold and p.copies == 1)
        self.doubled = tuple(p.name for p in even.pieces if p.copies == 2)
        self.facing = self._facing()

    def _facing(self) -> dict[str, bool]:
        """Return for each opened piece whether it faces as the first one does."""
        facing = {self.opened[0]: True} if self.opened else dict[str, bool]()
        for _ in self.opened:
            for seam in self.even.seams:
                a, b = seam.left.split(".")[0], seam.right.split(".")[0]
                if a != b and {a, b} <= set(self.opened):
                    for one, two in ((a, b), (b, a)):
                        if one in facing:
                            facing.setdefault(two, not facing[one])
        return {name: facing.get(name, True) for name in self.opened}

    def on_left(self, piece: str, *, second: bool) -> bool:
        """Return whether the half of an opened piece that is worn on the second side is its left one."""
        return piece in self.facing and second == self.facing[piece]

    def end(self, name: str, *, second: bool) -> str:
        """Return the edge meant by ``piece.edge`` on one side of the wearer."""
        piece, edge = name.split(".")
        if piece in self.facing:
            return f"{piece}.{LEFT if self.on_left(piece, second=second) else ''}{edge}"
        return f"{LEFT if second and piece in self.doubled else ''}{piece}.{edge}"

    def kind(self) -> Kind:
        even = self.even
        return replace(
            even,
            pieces=tuple(piece for own in even.pieces for piece in self._pieces(own)),
            seams=tuple(seam for own in even.seams for seam in self._seams(own)),
            measures={key: self._measure(measure) for key, measure in even.measures.items()},
            alike=tuple(self._alike(group) for group in even.alike),
            notches=tuple(notch for own in even.notches for notch in self._notches(own)),
            finishes=tuple(self._finish(finish) for finish in even.finishes),
            turned=(*even.turned, *(f"{LEFT}{name}" for name in even.turned)),
            halves=tuple(self._halves()),
        )

    def _pieces(self, piece: PieceKind) -> Iterator[PieceKind]:
        if piece.name in self.doubled:
            yield replace(piece, copies=1, title=piece.title + _RIGHT_TITLE)
            yield replace(piece, copies=1, name=LEFT + piece.name, title=piece.title + _LEFT_TITLE)
        elif piece.name in self.opened:
            yield _opened(piece)
        else:
            yield piece

    def _seams(self, seam: Seam) -> Iterator[Seam]:
        for second in (False, True):
            left, right = (self.end(end, second=second) for end in (seam.left, seam.right))
            turned = [self.on_left(end.split(".")[0], second=second) for end in (seam.left, seam.right)]
            flip = {"start": "end", "end": "start"} if turned[0] else {"start": "start", "end": "end"}
            smooth = tuple(
                (LEFT * turned[0] + one, LEFT * turned[1] + two, flip[at]) for one, two, at in seam.smooth
            )
            yield replace(
                seam,
                name=f"{_OTHER_SEAM if second else ''}{seam.name}",
                left=left,
                right=right,
                smooth=smooth,
                reverse=seam.reverse ^ turned[0] ^ turned[1],
            )

    def _notches(self, notch: NotchKind) -> Iterator[NotchKind]:
        end = next(seam.left for seam in self.even.seams if seam.name == notch.seam)
        for second in (False, True):
            turned = self.on_left(end.split(".")[0], second=second)
            share = 1.0 - notch.share if turned else notch.share
            yield replace(notch, seam=f"{_OTHER_SEAM if second else ''}{notch.seam}", share=share)

    def _measure(self, even: Measure) -> Measure:
        if even.op == "level":
            return even
        measure = replace(even, sides=self._sides(even))
        if set(measure.pieces) <= set(self.opened):
            return self._opened_measure(measure)
        pieces = (self._both(name) for name in measure.pieces)
        return replace(measure, pieces=tuple(name for names in pieces for name in names))

    def _sides(self, measure: Measure) -> tuple[tuple[Measure, ...], ...]:
        """Return a measure as it is on the right and on the left, where it is taken on one side at a time."""
        from_fold = measure.op == "from_fold" and bool(set(measure.pieces) & set(self.opened))
        if from_fold or measure.op in {"across", "across_at"} or measure.times != 1.0:
            return ()
        return tuple(
            tuple(self._on_side(measure, piece, second=second) for piece in measure.pieces)
            for second in (False, True)
        )

    def _on_side(self, measure: Measure, piece: str, *, second: bool) -> Measure:
        if piece in self.doubled:
            return replace(measure, pieces=(LEFT + piece if second else piece,))
        if not self.on_left(piece, second=second):
            return replace(measure, pieces=(piece,))
        corners = tuple(_left(self.even.piece(piece), corner) for corner in measure.corners)
        edges = tuple(LEFT + edge for edge in measure.edges)
        return replace(measure, pieces=(piece,), corners=corners, edges=edges)

    def _both(self, piece: str) -> tuple[str, ...]:
        return (piece, LEFT + piece) if piece in self.doubled else (piece,)

    def _opened_measure(self, measure: Measure) -> Measure:
        piece = self.even.piece(measure.pieces[0])
        corners = tuple(_left(piece, corner) for corner in measure.corners)
        edges = tuple(LEFT + edge for edge in measure.edges)
        match measure.op:
            case "across" | "from_fold":
                times = 1.0 if measure.op == "across" else 0.5
                return replace(measure, op="between", corners=(*measure.corners, *corners), times=times)
            case "along":
                return replace(measure, edges=(*measure.edges, *edges), times=0.5 * measure.times)
            case "across_at":
                return replace(measure, op="between_at", edges=(*measure.edges, *edges))
            case _:
                return replace(measure, corners=(*measure.corners, *corners), edges=(*measure.edges, *edges))

    def _alike(self, group: Alike) -> Alike:
        edges = (*group.edges, *(LEFT + edge for edge in group.edges))
        opens = (name for own in group.opens for name in self._both(own))
        return replace(group, edges=edges, opens=tuple(opens))

    def _finish(self, finish: FinishKind) -> FinishKind:
        there = [self.end(name, second=False) for name in finish.edges]
        back = [self.end(name, second=True) for name in reversed(finish.edges)]
        return replace(finish, edges=(*there, *back))

    def _halves(self) -> Iterator[HalfPair]:
        """Yield what is usually alike: both halves of a piece, and pieces that are cut alike."""
        for piece in self.even.pieces:
            for edge in piece.sewn_edges:
                if piece.name in self.opened:
                    yield HalfPair(
                        f"{piece.name}.{edge.name}", f"{piece.name}.{LEFT}{edge.name}", mirrored=True
                    )
                elif piece.name in self.doubled:
                    yield HalfPair(
                        f"{piece.name}.{edge.name}", f"{LEFT}{piece.name}.{edge.name}", mirrored=False
                    )
        for group in self.even.alike:
            for edge in group.edges:
                for second in (False, True):
                    one, two = (self.end(f"{piece}.{edge}", second=second) for piece in group.pieces)
                    mirrored = (f".{LEFT}" in one) != (f".{LEFT}" in two)
                    yield HalfPair(one, two, mirrored=mirrored)


def _left(piece: PieceKind, corner: str) -> str:
    return corner if corner in piece.fold_corners else LEFT + corner


def _opened(piece: PieceKind) -> PieceKind:
    """Return a piece opened out: its edges as they are, then those of its left half walked back."""
    corners = [
        Corner(_left(piece, c.name), -c.x, c.y) for c in piece.corners if c.name not in piece.fold_corners
    ]
    edges = [_turned(piece, edge) for edge in reversed(piece.sewn_edges)]
    square = [c for c in piece.square if c not in piece.fold_corners]
    return replace(
        piece,
        corners=(*piece.corners, *corners),
        edges=(*piece.sewn_edges, *edges),
        on_fold=False,
        square=tuple(square + [_left(piece, c) for c in square]),
        smooth=tuple(c for c in piece.square if c in piece.fold_corners),
        grain=tuple(c.name for c in piece.corners if c.name in piece.fold_corners),
        opening=None,
    )


def _turned(piece: PieceKind, edge: EdgeKind) -> EdgeKind:
    """Return an edge of the left half: the mirror image, walked from its end to its start."""
    back = edge.shape[::-1]
    shape = tuple((1.0 - u, 1.0 - v) if edge.frame == "box" else (1.0 - u, v) for u, v in back)
    start, end = _left(piece, edge.end), _left(piece, edge.start)
    return replace(edge, name=LEFT + edge.name, start=start, end=end, shape=shape)


def uneven_record(record: Record, kind: Kind) -> Record:
    """Return the record with each traced half on its own half of the uneven kind.

    Points of which nobody said on which half they lie are taken for both. A traced fold is left out: an
    uneven piece has none.

    Args:
        record: What was observed.
        kind: The even kind.
    """
    opener = _Opener(kind)
    points = tuple(part for entry in record.points for part in _parts(entry, opener))
    allowances = dict(record.allowances)
    ease = dict(record.ease)
    for name, mm in record.allowances.items():
        piece, dot, edge = name.rpartition(".")
        if name in {"seam", "hem"}:
            continue
        allowances.setdefault(f"{piece}{dot}{LEFT}{edge}", mm)
        if piece in opener.doubled:
            allowances.setdefault(f"{LEFT}{name}", mm)
    for name, mm in record.ease.items():
        ease.setdefault(_OTHER_SEAM + name, mm)
    return replace(record, points=points, allowances=allowances, ease=ease)


def _parts(entry: TracedPoints, opener: _Opener) -> Iterator[TracedPoints]:
    piece = opener.even.piece(entry.piece)
    if piece.fold is not None and entry.edge == piece.fold.name and entry.piece in opener.opened:
        return
    side = entry.side
    if not side and not entry.lay and entry.piece in opener.opened:
        side = "left" if entry.at[:, 0].mean() < 0.0 else ""
    for own in (side,) if side else ("left", "right"):
        at = entry.at
        if entry.piece in opener.opened:
            away = entry.lay == "" and (at[:, 0].mean() > 0.0) == (own == "left")
            if away or (entry.lay and not side and own == "left"):
                at = at * [-1.0, 1.0]  # counted away from the fold on both halves
            lay = f"{entry.lay}, mirrored" if entry.lay and not side and own == "left" else entry.lay
            edge = f"{LEFT if own == 'left' else ''}{entry.edge}"
            yield replace(entry, edge=edge, at=at, side="", lay=lay)
        elif entry.piece in opener.doubled:
            yield replace(entry, piece=f"{LEFT if own == 'left' else ''}{entry.piece}", side="")
        else:
            yield entry
