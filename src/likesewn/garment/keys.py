"""The keys of the garment file: one table that the reader, the writer, the schema and the docs all use.

Lengths are mm and shares are fractions in the limits given here. What depends on the kind (tape keys,
finishes, edges, seams) is made from the kind.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from likesewn.garment.kind import FinishKind, Kind, Measure, PieceKind, Seam
from likesewn.garment.matching import match_points
from likesewn.garment.record import OFF_CENTRE
from likesewn.units import format_length, format_share

__all__ = [
    "FOLDINGS",
    "FORMAT",
    "KIND_TABLES",
    "LEAST_SIGMA",
    "MACHINES",
    "MOST_POINTS",
    "OFF_GRAIN",
    "RECORDED_AT",
    "UNITS",
    "Form",
    "Key",
    "Table",
    "file_tables",
    "missing_measures",
    "points_wanted",
    "traced_edges",
]

FORMAT = 1
"""The format of garment files that this version reads and writes."""

UNITS = ("mm", "cm", "in")
RECORDED_AT = ("seam", "finished edge")
MACHINES = ("overlock", "zigzag")
CONSTRUCTIONS = ("knit", "woven")
FRAMES = ("piece", "free")
SIDES = ("left", "right")
FOLDINGS = ("open", "folded", "folded twice", "selvages to the middle", "crosswise", "part fold")
OFF_GRAIN = ("across", "bias")

KIND_TABLES = ("tape", "photo", "points", "allowances", "ease", "band", "grain")
"""Tables whose keys cannot be judged where the kind is not known."""

MOST_POINTS = 20000
"""Points in one file: a hundred times what a patient person traces, and still quick to read."""

LEAST_SIGMA = 0.01
"""Least uncertainty, mm: no tape or mat is read more finely, and less would unbalance the solve."""

FARTHEST_POINT = 5000.0
"""Greatest coordinate of a traced point, mm: beyond any table."""


LONGEST_CLOTH = 100000.0
"""Greatest length of cloth, mm: a whole bolt."""


class Form(StrEnum):
    """What a value may be."""

    TEXT = "text"
    CHOICE = "choice"
    FLAG = "flag"
    LENGTH = "length"
    FIGURE = "length with an uncertainty"
    SHARE = "share"
    POINTS = "points"
    RINGS = "lists of points"
    NAMES = "names"
    NUMBER = "number"
    LEAN = "degrees off the grain"


@dataclass(frozen=True, slots=True)
class Key:
    """One key of the file.

    Attributes:
        name: As it is written.
        form: What its value may be.
        about: What it says, as a sentence.
        choices: Allowed values of a choice, the usual one first.
        least: Least value, mm or share.
        most: Greatest value, mm or share.
        needed: True when the file cannot do without it.
        usual: Value where it is not given, as it would be written; empty where nothing is usual.
        other: Another way to write its name, or empty.
        listed: False for a variant of other keys that lists of keys leave out.
        figures: How many lengths each entry of a list of points holds.
    """

    name: str
    form: Form
    about: str
    choices: tuple[str, ...] = ()
    least: float = 0.0
    most: float = 0.0
    needed: bool = False
    usual: str = ""
    other: str = ""
    listed: bool = True
    figures: int = 2

    def allowed(self, unit: str) -> str:
        """Say what is allowed, lengths in ``unit``."""
        if self.form in {Form.LENGTH, Form.FIGURE}:
            return f"{format_length(self.least, unit)} to {format_length(self.most, unit)}"
        if self.form is Form.POINTS and self.figures != 2:
            return f"a list of lists of {self.figures} lengths"
        choices = ", ".join(self.choices)
        said = {
            Form.CHOICE: choices,
            Form.NAMES: f"a list of these: {choices}",
            Form.NUMBER: f"{self.least:g} to {self.most:g}",
            Form.LEAN: f"{self.least:g} to {self.most:g} degrees, or one of {choices}",
            Form.SHARE: f"{format_share(self.least)} to {format_share(self.most)}",
        }
        return said.get(self.form) or _FORMS[self.form]


_FORMS = {
    Form.TEXT: 'one line of text in quotes, such as "studio"',
    Form.FLAG: "true or false",
    Form.POINTS: "a list of points, such as [[18.9, 5.1], [17.6, 10.0]]",
    Form.RINGS: "a list of outlines, each a list of points",
}


@dataclass(frozen=True, slots=True)
class Table:
    """One table of the file.

    Attributes:
        name: Its name.
        about: What it holds, as a sentence or two.
        keys: Its keys.
        repeated: True when it is written ``[[name]]``, once for each entry.
        parts: Tables inside it, by their names.
        named: True when further tables of any name inside it take the same keys.
    """

    name: str
    about: str
    keys: tuple[Key, ...] = ()
    repeated: bool = False
    parts: tuple["Table", ...] = ()
    named: bool = False


def _unique(names: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(names))


def _edge_names(piece: PieceKind) -> Iterator[str]:
    """Yield the names of a piece's sewn or finished edges, folded first and then as it opens out."""
    yield from (edge.name for edge in piece.sewn_edges)
    for edge in piece.sewn_edges:
        for side in piece.opening.sides if piece.opening else ():
            yield piece.half_name(edge, side)


def traced_edges(kind: Kind, piece: str) -> tuple[str, ...]:
    """Return the names of the edges of a piece along which points may be traced; the fold is one of them."""
    own = kind.piece(piece)
    return _unique((*_edge_names(own), *([own.fold.name] if own.fold else [])))


def points_wanted(kind: Kind, piece: str, edge: str) -> int:
    """Return the least number of points that say anything about an edge: 2 if straight, else 3."""
    for candidate in kind.piece(piece).edges:
        if edge == candidate.name or edge.startswith(f"{candidate.name}_"):
            return 2 if candidate.straight else 3
    raise KeyError(edge)


def missing_measures(kind: Kind, given: set[str]) -> Iterator[tuple[str, Measure]]:
    """Yield each tape key that is needed and not given, with its measure.

    A measure that may be given for one piece alone counts as given when every piece has its own; where
    only some have, the others are what is missing.
    """
    for measure in kind.measures.values():
        if not measure.needed or measure.key in given:
            continue
        by_piece = [key for key in measure.variants() if key != measure.key]
        absent = [key for key in by_piece if key not in given]
        if absent == by_piece:
            yield measure.key, measure
        else:
            yield from ((key, measure) for key in absent)


def _garment(kind: Kind | None, kinds: tuple[str, ...]) -> Table:
    finishes = kind.finishes if kind else ()
    return Table(
        "garment",
        "What the garment is.",
        (
            Key(
                "name",
                Form.TEXT,
                "Your name for it, printed on the pattern.",
                usual=kind.title if kind else "",
            ),
            Key("kind", Form.CHOICE, "How it is put together.", kinds, needed=True),
            Key("unit", Form.CHOICE, "The unit of figures that stand alone, and of what is printed.", UNITS),
            Key("size", Form.TEXT, "A size to print on the labels."),
            Key("machine", Form.CHOICE, "The machine that sews the seams.", MACHINES, usual=MACHINES[0]),
            Key("for_child", Form.FLAG, "Whether a child will wear it.", usual="false"),
            Key(
                "symmetric",
                Form.FLAG,
                "Whether both halves are copied from their mean; false keeps what differs.",
                usual="true",
            ),
            *(key for finish in finishes for key in _finish_keys(finish)),
        ),
    )


def _finish_keys(finish: FinishKind) -> tuple[Key, ...]:
    name, title = finish.name, finish.title.lower()
    return (
        Key(
            f"{name}_recorded_at",
            Form.CHOICE,
            f"Where the {title} was measured or traced: at its seam, or at its finished edge.",
            RECORDED_AT,
            usual=RECORDED_AT[0],
        ),
        Key(
            f"{name}_finish",
            Form.CHOICE,
            f"How the {title} will be finished.",
            finish.finishes,
            usual=finish.finishes[0],
        ),
        Key(
            f"{name}_finish_width",
            Form.LENGTH,
            f"How wide the old finish of the {title} shows, from its seam to its edge.",
            least=0.0,
            most=200.0,
        ),
    )


def _tape(kind: Kind) -> Table:
    keys: list[Key] = []
    for name, measure in kind.tape_keys().items():
        where = "" if name == measure.key else f" For the {name.removesuffix(f'_{measure.key}')} alone."
        keys.append(
            Key(
                name,
                Form.FIGURE,
                f"{measure.title}: {measure.how}{where}",
                least=measure.least,
                most=measure.most,
                needed=measure.needed and not where,
                listed=not where,
            )
        )
    return Table("tape", "Measures of the finished garment, flat and not stretched.", tuple(keys))


def _points(kind: Kind) -> Table:
    names = tuple(piece.name for piece in kind.pieces)
    edges = _unique(edge for piece in kind.pieces for edge in traced_edges(kind, piece.name))
    return Table(
        "points",
        "Points read off along one edge of one piece, from a grid or a mat.",
        (
            Key("piece", Form.CHOICE, "The piece.", names, needed=True),
            Key("edge", Form.CHOICE, "The edge that the points lie on.", edges, needed=True),
            Key(
                "frame",
                Form.CHOICE,
                "piece: x counts away from the fold and y downward; free: any place and angle will do.",
                FRAMES,
                usual=FRAMES[0],
            ),
            Key("lay", Form.TEXT, "With a free frame: a name for how the piece lay, shared by its edges."),
            Key(
                "side",
                Form.CHOICE,
                "The half that they lie on, as you look at a piece that lies open and right side up.",
                SIDES,
            ),
            Key(
                "off_centre",
                Form.LENGTH,
                "For a fold: how far it may lie from the garment's middle; 0 when it is known to lie there.",
                least=0.0,
                most=50.0,
                usual=format_length(OFF_CENTRE, "mm"),
            ),
            Key(
                "at",
                Form.POINTS,
                "The points in order along the edge, each [x, y].",
                least=-FARTHEST_POINT,
                most=FARTHEST_POINT,
                needed=True,
            ),
            Key(
                "sigma",
                Form.LENGTH,
                "How exactly each figure could be read.",
                least=LEAST_SIGMA,
                most=100.0,
                usual="1.5 mm",
            ),
        ),
        repeated=True,
    )


def _photo(kind: Kind) -> Table:
    faces = kind.silhouette.faces if kind.silhouette else tuple(piece.name for piece in kind.pieces)
    return Table(
        "photo",
        "Photographs that points were traced from (likesewn trace writes these).",
        (
            Key("file", Form.TEXT, "The picture's file name.", needed=True),
            Key("face", Form.CHOICE, "The piece that faces up.", faces, usual=faces[0]),
            Key("lay", Form.TEXT, "The name under which its points stand."),
            Key(
                "thickness",
                Form.LENGTH,
                "How far the cloth's upper side lies above the table.",
                least=0.0,
                most=50.0,
            ),
        ),
        repeated=True,
    )


def _allowances(kind: Kind) -> Table:
    def key(name: str, about: str, usual: str = "") -> Key:
        listed = "." not in name
        return Key(name, Form.LENGTH, about, least=0.0, most=100.0, usual=usual, listed=listed)

    edges = {piece.name: _unique(_edge_names(piece)) for piece in kind.pieces}
    groups = {
        "seam": ("Every seam.", format_length(kind.seam_allowance, "cm")),
        "hem": ("Every turned edge.", format_length(kind.hem_allowance, "cm")),
    }
    own = _unique(name for names in edges.values() for name in names)
    whole = (f"{piece}.{name}" for piece, names in edges.items() for name in names)
    return Table(
        "allowances",
        "What is added outside the seam line.",
        (
            *(key(name, about, usual) for name, (about, usual) in groups.items()),
            *(key(name, "Every edge of this name.") for name in own if name not in groups),
            *(key(name, "This edge of this piece.") for name in whole),
        ),
        parts=tuple(
            Table(
                piece.name,
                f"Edges of the {piece.title.lower()} alone.",
                tuple(key(name, "This edge of this piece.") for name in edges[piece.name]),
            )
            for piece in kind.pieces
        ),
    )


def _ease(kind: Kind) -> Table:
    def other(name: str) -> str:
        return name.replace(" ", "_") if " " in name else ""

    def about(seam: Seam) -> str:
        ends = seam.right.replace(".", " "), seam.left.replace(".", " ")
        if ends[0] == ends[1]:
            return f"{ends[0]}: its {seam.right_side} side less its {seam.left_side} side.".capitalize()
        return f"{ends[0]} less {ends[1]}.".capitalize()

    return Table(
        "ease",
        "How much longer the eased side of a seam is than the other; less than 0 when it is stretched.",
        tuple(
            Key(
                seam.name,
                Form.LENGTH,
                about(seam),
                least=-300.0,
                most=300.0,
                usual=format_length(seam.ease, "mm"),
                other=other(seam.name),
            )
            for seam in kind.seams
        ),
    )


def _band(kind: Kind) -> Table:
    keys = (
        Key("cut_width", Form.LENGTH, "How wide the band is cut, before folding.", least=10.0, most=500.0),
        Key("ratio", Form.SHARE, "Its cut length as a share of the edge it goes on.", least=0.3, most=1.2),
    )
    about = "The band or binding, where you want another than the one worked out."
    if len(kind.finishes) == 1:
        return Table("band", about, keys)
    parts = tuple(Table(f.name, f"The band of the {f.title.lower()}.", keys) for f in kind.finishes)
    return Table("band", about, parts=parts)


def _fabric() -> Table:
    def stretch(way: str) -> Key:
        about = (
            f"How far it stretches {way} the grain at a comfortable pull: 10 cm that reach 15 cm are 50 %."
        )
        return Key(f"stretch_{way}", Form.SHARE, about, least=0.0, most=3.0)

    return Table(
        "fabric",
        "The fabric of the new garment.",
        (
            Key("construction", Form.CHOICE, "Knit or woven.", CONSTRUCTIONS, usual=CONSTRUCTIONS[0]),
            stretch("across"),
            stretch("along"),
        ),
    )


def _cloth(kind: Kind | None) -> Table:
    def length(name: str, about: str, least: float, most: float, usual: str = "") -> Key:
        return Key(name, Form.LENGTH, about, least=least, most=most, usual=usual, listed=True)

    def places(name: str, about: str, figures: int, form: Form = Form.POINTS) -> Key:
        return Key(name, form, about, least=-LONGEST_CLOTH, most=LONGEST_CLOTH, figures=figures)

    points = tuple(point.name for point in match_points(kind)) if kind else ()
    return Table(
        "cloth",
        "The cloth to cut from, washed; [cloth.NAME] describes another one. Places on it count along its "
        "length from one end, then across from one selvage.",
        (
            length("width", "Usable width, without the selvages.", 50.0, 10000.0, "150 cm"),
            Key("folding", Form.CHOICE, "How it is folded for cutting.", FOLDINGS, usual="folded"),
            Key("nap", Form.FLAG, "Whether all pieces must point the same way.", usual="false"),
            length("length", "Length in hand, where it is not to be bought.", 50.0, LONGEST_CLOTH),
            length("fold_depth", "How deep a part fold reaches, where it is not to be chosen.", 10.0, 5000.0),
            Key(
                "shrinkage",
                Form.SHARE,
                "Share of its length that it loses in its first wash, where it is bought unwashed.",
                least=0.0,
                most=0.5,
            ),
            Key("price", Form.NUMBER, "Price of one metre, or of one yard with inches.", least=0.0, most=1e6),
            Key("currency", Form.TEXT, "What the price is in."),
            places("flaws", "Round places to avoid, each [along, across, radius].", 3),
            places("flaws_across", "Stretches spoilt over the whole width, each [from, to] along.", 2),
            places("flaws_along", "Stretches spoilt all along, each [from, to] across.", 2),
            places("outline", "Corners of a remnant in order round it, each [along, across].", 2),
            places("holes", "Holes in a remnant, each a list of corners in order.", 2, Form.RINGS),
            length("repeat_along", "How often stripes or checks repeat along the length.", 0.0, 2000.0),
            length("repeat_across", "How often stripes or checks repeat across the width.", 0.0, 2000.0),
            length(
                "stripe", "From the selvage to the middle of a stripe for the middle of pieces.", 0.0, 10000.0
            ),
            Key("match", Form.NAMES, "Where stripes or checks meet at a seam.", points),
        ),
        named=True,
    )


def _grain(kind: Kind) -> Table:
    names = _unique((*(p.name for p in kind.pieces), *(f.band for f in kind.finishes if f.band)))
    about = "How far it may lie off the grain: degrees, across, or on the bias."
    return Table(
        "grain",
        "Pieces that need not lie with their grain straight along the cloth.",
        tuple(Key(name, Form.LEAN, about, OFF_GRAIN, least=0.0, most=45.0, usual="0") for name in names),
    )


def _wearer() -> Table:
    return Table(
        "wearer",
        "Who will wear it.",
        (
            Key("name", Form.TEXT, "A name to print on the labels."),
            Key("head", Form.LENGTH, "Girth of the head above the ears.", least=250.0, most=800.0),
        ),
    )


def file_tables(kind: Kind | None, kinds: tuple[str, ...]) -> tuple[Table, ...]:
    """Return the tables of a garment file of this kind, in the order in which they are written.

    Args:
        kind: The kind; None where it is not known, and then only what all kinds share is given.
        kinds: Names of the kinds there are.
    """
    if kind is None:
        return _garment(None, kinds), _fabric(), _cloth(None), _wearer()
    return (
        _garment(kind, kinds),
        _tape(kind),
        _photo(kind),
        _points(kind),
        _allowances(kind),
        _ease(kind),
        *([_band(kind)] if kind.finishes else []),
        _fabric(),
        _cloth(kind),
        _grain(kind),
        _wearer(),
    )
