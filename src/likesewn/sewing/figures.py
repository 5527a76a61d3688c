"""This garment's own figures, looked up by name and written as a sewist reads them.

A figure is looked up in the pattern and the cut list, never worked out anew, so that the words of the
sewing plan cannot disagree with the paper. Text that mixes words and figures is a run of ``Run``.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import NamedTuple, TypeVar

from likesewn.cut.cutlist import Band, CutList
from likesewn.errors import LikesewnError
from likesewn.garment import Pattern, Record, SeamLengths
from likesewn.garment.kind import NotchKind
from likesewn.garment.uneven import even_end, even_title, other_seam
from likesewn.sewing.stitches import Stitch
from likesewn.units import format_length, format_share

__all__ = ["Facts", "Run", "UnknownNameError", "listing", "plain", "say"]

T = TypeVar("T")

EASE_SEEN = 1.0
"""Ease that is worth a word, mm: less than this is lost in the thickness of a pin."""

SHORT = 9.5
"""Lengths below this, mm, read better in mm than in cm."""


class Run(NamedTuple):
    """A stretch of text; ``figure`` is True where it is a figure of this garment."""

    text: str
    figure: bool = False


class UnknownNameError(LikesewnError, LookupError):
    """A name that this garment has not; says what there is and which name is nearest."""

    def __init__(self, what: str, name: str, options: Iterable[str]) -> None:
        known = sorted(set(options))
        self.message = f"there is no {what} called {name!r} here"
        self.allowed = ", ".join(known) or f"no {what} at all for this garment"
        self.nearest = next(iter(get_close_matches(name, known, 1)), "")
        super().__init__(self.message)


def say(text: str) -> tuple[Run, ...]:
    """Return plain words as a run."""
    return (Run(text),)


def plain(name: str) -> str:
    """Return a name of the kind as words: ``shoulder_tip`` becomes ``shoulder tip``."""
    return name.replace("_", " ")


def listing(parts: Iterable[str]) -> str:
    """Return the parts as a list in a sentence: ``a, b and c``."""
    *most, last = parts
    return f"{', '.join(most)} and {last}" if most else last


def _lowered(runs: tuple[Run, ...]) -> tuple[Run, ...]:
    """Return a sentence as it goes on after a beginning."""
    head, *rest = runs
    return (head._replace(text=head.text[:1].lower() + head.text[1:]), *rest)


def _pick(options: Mapping[str, T], name: str, what: str) -> T:
    if name not in options:
        raise UnknownNameError(what, name, options)
    return options[name]


@dataclass(frozen=True, slots=True)
class Facts:
    """All that a step of the sewing order may ask about.

    Attributes:
        pattern: The trued pattern.
        cut_list: What is cut from it.
        record: What was recorded and chosen.
        stitches: The stitches in use, by use.
    """

    pattern: Pattern
    cut_list: CutList
    record: Record
    stitches: Mapping[str, Stitch]

    def length(self, mm: float) -> str:
        """Return a length in the record's unit; below 1 cm it is in mm, to the half, where that is cm."""
        if self.record.unit != "cm" or abs(mm) >= SHORT:
            return format_length(mm, self.record.unit)
        halves = round(2 * mm)
        return format_length(halves / 2, "mm", decimals=halves % 2)

    def title(self, piece: str) -> str:
        """Return a piece's name as a sentence names it; KeyError where there is no such piece."""
        title = self.pattern.kind.piece(piece).title
        return title[:1].lower() + title[1:]

    def edge_words(self, end: str) -> str:
        """Return an edge as a sentence names it.

        ``front.side`` is ``front side``, ``sleeve.cap_front`` is ``front sleeve cap``, and ``sleeve.cap`` of
        two sleeves that differ is ``sleeve cap, right as seen from the front``.
        """
        name, edge_name = end.split(".")
        pieces = (piece.seam for piece in self.cut_list.pieces if piece.name == name)
        edges = {edge.name: edge for seam in pieces for edge in seam}
        side, base = (edges[edge_name].side, edges[edge_name].base) if edge_name in edges else ("", edge_name)
        title = self.title(name)
        even = even_title(title)
        return f"{side} {even} {plain(base)}{title.removeprefix(even)}".strip()

    def measure(self, key: str) -> tuple[Run, ...]:
        """Return a measure of the finished garment; each piece's, or each side's, where they differ."""
        values = {m.key: m for m in self.pattern.measures}
        found = _pick(values, key, "measure")
        kind = self.pattern.kind
        pieces = kind.measures[key].pieces if key in kind.measures else ()
        own = {piece: values[f"{piece}_{key}"].value_mm for piece in pieces if f"{piece}_{key}" in values}
        if own and len(own) == len(pieces) - 1:
            # the measure is the mean of its pieces, so the last one follows
            (last,) = (piece for piece in pieces if piece not in own)
            own[last] = found.value_mm * len(pieces) - sum(own.values())
        texts = {self.length(mm) for mm in own.values()}
        if len(texts) > 1 and len(own) == len(pieces):
            words = (f"{self.length(own[piece])} at the {self.title(piece)}" for piece in pieces)
            return (Run(listing(words), figure=True),)
        right, left = found.sides_mm or (found.value_mm, found.value_mm)
        return (Run(self._sides(self.length(right), self.length(left)), figure=True),)

    def _sides(self, right: str, left: str) -> str:
        """Return a figure of the right and of the left, once where they read alike."""
        return right if right == left else f"{right} (right, as seen from the front) and {left} (left)"

    def seam_lengths(self, name: str) -> SeamLengths:
        """Return the two lengths of a seam as it is cut; UnknownNameError where there is no such seam.

        Cutting may move the edge of an opening for its finish, and the seams that end there with it.
        """
        seam = _pick({s.name: s for s in self.pattern.seams}, name, "seam")
        kind = next(s for s in self.pattern.kind.seams if s.name == name)
        left = self._cut_length(kind.left, kind.left_side, seam.left_mm)
        right = self._cut_length(kind.right, kind.right_side, seam.right_mm)
        return replace(seam, left_mm=left, right_mm=right, difference_mm=right - left - seam.ease_mm)

    def _cut_length(self, end: str, side: str, trued_mm: float) -> float:
        name, base = end.split(".")
        edges = next((piece.seam for piece in self.cut_list.pieces if piece.name == name), ())
        found = [e for e in edges if e.base == base]
        halves = [e for e in found if side and e.side == side] or found
        return halves[0].path.length if halves else trued_mm

    def seam(self, name: str, side: str) -> tuple[Run, ...]:
        """Return the length of one side, ``left`` or ``right``, of a seam."""
        other = other_seam(self.pattern.kind, name) or name
        texts: list[str] = []
        for seam in map(self.seam_lengths, (name, other)):
            mm = _pick({"left": seam.left_mm, "right": seam.right_mm}, side, "side of a seam")
            texts.append(self.length(mm))
        return (Run(self._sides(*texts), figure=True),)

    def ease(self, name: str) -> tuple[Run, ...]:
        """Return how a seam's two edges compare and what to do about it, for each side where they differ."""
        other = other_seam(self.pattern.kind, name)
        right = self._ease(self.seam_lengths(name))
        left = self._ease(self.seam_lengths(other)) if other else right
        if left == right:
            return right
        start = Run("On the right, as seen from the front, ")
        return (start, *_lowered(right), Run(" On the left, "), *_lowered(left))

    def _ease(self, seam: SeamLengths) -> tuple[Run, ...]:
        # said of one side, the names of the even garment are plainer
        kind = self.pattern.kind
        seam = replace(seam, left=even_end(kind, seam.left), right=even_end(kind, seam.right))
        if abs(seam.ease_mm) < EASE_SEEN:
            ends = dict.fromkeys(map(self._even_words, (seam.left, seam.right)))
            both = f"The {' and the '.join(ends)} both" if len(ends) > 1 else "Both edges"
            length = Run(self.length(seam.left_mm), figure=True)
            return (Run(f"{both} measure "), length, Run(", so there is nothing to ease in."))
        longer, shorter = (seam.right, seam.left) if seam.ease_mm > 0 else (seam.left, seam.right)
        extra = self.short(abs(seam.ease_mm))
        start = Run(f"The {self._even_words(longer)} is ")
        end = f" longer than the {self._even_words(shorter)}: spread that evenly between the pins."
        return (start, Run(extra, figure=True), Run(end))

    def _even_words(self, end: str) -> str:
        """Return an edge as a sentence names it that is about one side of the garment."""
        title = self.title(end.partition(".")[0])
        return self.edge_words(end).removesuffix(title.removeprefix(even_title(title)))

    def short(self, mm: float) -> str:
        """Return a short length, in inches to 1/16."""
        if self.record.unit == "in":
            return format_length(mm, "in", denominator=16)
        return self.length(mm)

    def allowance(self, name: str) -> tuple[Run, ...]:
        """Return an allowance: of ``piece.edge``, of all edges of a name, or of the group seam or hem.

        Where the edges meant differ, the most common figure comes first and the others name their edges.
        """
        found: dict[float, list[str]] = {}
        options: set[str] = set()
        for end, names, mm in self.allowances():
            options |= names
            if name in names:
                found.setdefault(round(mm, 3), []).append(end)
        if not found:
            raise UnknownNameError("edge or group of edges", name, options)
        usual, *others = sorted(found, key=lambda mm: (-len(found[mm]), mm))
        text = self.length(usual)
        if others:
            at = (f"{self.length(mm)} at the {listing(map(self.edge_words, found[mm]))}" for mm in others)
            text += f" ({'; '.join(at)})"
        return (Run(text, figure=True),)

    def allowances(self) -> Iterable[tuple[str, set[str], float]]:
        """Yield each edge with the names that an allowance may be asked for by, and its allowance, mm."""
        kind = self.pattern.kind
        finished = {end for finish in kind.finishes for end in finish.edges}
        known = {p.name for p in kind.pieces}
        for piece in self.cut_list.pieces:
            for edge in piece.seam if piece.name in known else ():
                if edge.fold or edge.name not in piece.allowances:
                    continue
                names = {edge.name, edge.base, f"{piece.name}.{edge.name}", f"{piece.name}.{edge.base}"}
                # what is asked of an edge is asked of the one like it on the other side
                names |= {even_end(kind, f"{piece.name}.{edge.base}")}
                names |= {even.partition(".")[2] for even in tuple(names) if "." in even}
                if edge.base in kind.turned:
                    names.add("hem")
                elif f"{piece.name}.{edge.base}" not in finished:
                    names.add("seam")
                yield f"{piece.name}.{edge.name}", names, piece.allowances[edge.name]

    def _band(self, finish: str) -> Band:
        finishes = {f.name: f for f in self.pattern.kind.finishes}
        name = _pick(finishes, finish, "opening").band
        return _pick({b.name: b for b in self.cut_list.bands}, name, "band or binding")

    def band(self, finish: str, figure: str) -> tuple[Run, ...]:
        """Return a figure of the band or binding at an opening by name."""
        band = self._band(finish)
        figures = {
            "edge": self.length(band.edge_mm),
            "edge_quarter": self.length(band.edge_mm / 4),
            "cut_length": self.length(band.cut_length_mm),
            "cut_width": self.length(band.cut_width_mm),
            "folded_width": self.length(band.cut_width_mm / 2),
            "finished_width": self.length(band.finished_width_mm),
            "allowance": self.length(band.allowance_mm),
            "joining": self.length((band.cut_length_mm - band.ring_mm) / 2),
            "ring": self.length(band.ring_mm),
            "ring_quarter": self.length(band.ring_mm / 4),
            "ratio": format_share(band.ratio),
            "stretch": format_share(band.strain),
            "quarter_ahead": self.length(abs(band.quarter_ahead_mm)),
            "quarter_place": "",
        }
        text = _pick(figures, figure, "figure of a band")
        if figure == "quarter_place":
            return self._quarter_place(finish, band)
        return (Run(text, figure=True),)

    def _quarter_place(self, finish: str, band: Band) -> tuple[Run, ...]:
        if abs(band.quarter_ahead_mm) < EASE_SEEN:
            return say("on the seams")
        lengths: dict[str, float] = {}
        edges = next(f.edges for f in self.pattern.kind.finishes if f.name == finish)
        for end in edges:
            name, base = end.split(".")
            piece = self.cut_list.piece(name)
            run = sum(e.path.length for e in piece.seam if e.base == base)
            lengths[name] = lengths.get(name, 0.0) + run * (2 if piece.on_fold else 1)
        longer = max(lengths, key=lambda name: lengths[name])
        figure = Run(self.length(abs(band.quarter_ahead_mm)), figure=True)
        return (figure, Run(f" from the seams, on the {self.title(longer)}"))

    def notch_kind(self, name: str) -> NotchKind:
        """Return a matching point of the kind; UnknownNameError where there is none of that name."""
        return _pick({n.name: n for n in self.pattern.kind.notches}, name, "notch")

    def notch(self, name: str, figure: str) -> tuple[Run, ...]:
        """Return ``marks`` (single or double notch), or ``along``: how far it lies from the seam's start."""
        notch = self.notch_kind(name)
        if figure == "marks":
            return say("single notch" if notch.marks == 1 else "double notch")
        found = [text for text in map(self._notch_along, self._notches_of(name)) if text]
        if figure != "along" or not found:
            raise UnknownNameError("figure of a notch", figure, ("marks", *(("along",) if found else ())))
        return (Run(self._sides(found[0], found[-1]), figure=True),)

    def _notches_of(self, name: str) -> list[NotchKind]:
        return [notch for notch in self.pattern.kind.notches if notch.name == name]

    def _notch_along(self, notch: NotchKind) -> str:
        """Return how far a matching point lies from the seam's start on the edge named first; or nothing.

        On an edge that is walked back, as those of a left half are, the seam starts at the end.
        """
        seam = next(s for s in self.pattern.kind.seams if s.name == notch.seam)
        name, edge_name = seam.left.split(".")
        for piece in self.cut_list.pieces:
            for found in piece.notches if piece.name == name else ():
                edge = next(e for e in piece.seam if e.name == found.edge)
                if found.name == notch.name and edge.base == edge_name:
                    back = edge_name != even_end(self.pattern.kind, seam.left).partition(".")[2]
                    return self.length(edge.path.length - found.along_mm if back else found.along_mm)
        return ""

    def stitch(self, use: str) -> tuple[Run, ...]:
        """Return the stitch for a use, with its article."""
        return say(_pick(self.stitches, use, "use of a stitch").phrase)
