"""The tables of a sewing plan: what is cut, what meets what, and what it all measures."""

from collections.abc import Iterable

from likesewn.cut.cutlist import Band, CutPiece, Notch
from likesewn.cut.edges import Place, base_corner, forward
from likesewn.garment import Edge
from likesewn.sewing.figures import Facts, listing, plain
from likesewn.sewing.plan import Table
from likesewn.units import format_share

__all__ = ["band_table", "measure_table", "piece_table", "point_table", "seam_table", "stitch_table"]

AT_END = 0.5
"""A point nearer than this to the end of its edge, mm, lies at that end."""

MOVED_SEEN = 0.5
"""A moved edge is worth a word from here, mm."""


def _cut_count(piece: CutPiece) -> str:
    if piece.on_fold:
        return f"{piece.copies} on the fold"
    if piece.copies % 2 == 0:
        pairs = piece.copies // 2
        return f"{piece.copies}, as {'a mirrored pair' if pairs == 1 else f'{pairs} mirrored pairs'}"
    return f"{piece.copies}"


def _half(edge: Edge) -> str:
    return f"{edge.side} {plain(edge.base)}".strip()


def _allowance_lines(facts: Facts, piece: CutPiece) -> str:
    edges_by_figure: dict[str, list[str]] = {}
    for edge in piece.seam:
        if not edge.fold and edge.name in piece.allowances:
            mm = piece.allowances[edge.name]
            figure = facts.length(mm) if mm else "none"
            named = edges_by_figure.setdefault(figure, [])
            halves = {piece.allowances[e.name] for e in piece.seam if e.base == edge.base}
            words = plain(edge.base) if len(halves) == 1 else _half(edge)
            if words not in named:
                named.append(words)
    if len(edges_by_figure) == 1:
        (figure,) = edges_by_figure
        return f"{figure} all round"
    return "\n".join(f"{listing(edges)}: {figure}" for figure, edges in edges_by_figure.items())


def piece_table(facts: Facts) -> Table:
    """Return what is cut, how often, from which cloth and with which allowances."""
    rows = [
        (
            piece.title,
            _cut_count(piece) + ("" if piece.cloth == "main" else f"\nfrom {piece.cloth}"),
            _allowance_lines(facts, piece),
        )
        for piece in facts.cut_list.pieces
    ]
    return Table("Pieces to cut", ("Piece", "Cut", "Allowances in the cut line"), tuple(rows))


def _place(facts: Facts, piece: CutPiece, edge_name: str, notches: Iterable[Notch]) -> str:
    edge = next(e for e in piece.seam if e.name == edge_name)
    along = sorted(n.along_mm for n in notches)
    start, end = "end", "other end"
    kind = facts.pattern.kind
    if piece.name in {p.name for p in kind.pieces}:
        # Both edges of a pair are counted from the ends that meet, also where one is walked backwards.
        place = Place(facts.pattern.piece(piece.name), edge)
        onward = forward(kind, place)
        start, end = (plain(base_corner(kind, place, at_end=e)) for e in (not onward, onward))
        along = along if onward else [edge.path.length - mm for mm in reversed(along)]
    words = f"{piece.title}, {_half(edge)}"
    if len(along) == 1 and along[0] < AT_END:
        return f"{words}: at the {start}"
    if len(along) == 1 and edge.path.length - along[0] < AT_END:
        return f"{words}: at the {end}"
    return f"{words}: {listing(facts.length(mm) for mm in along)} from the {start}"


def _look(found: Iterable[tuple[CutPiece, Notch]]) -> str:
    pieces: dict[str, list[str]] = {}
    for piece, notch in found:
        titles = pieces.setdefault("single" if notch.marks == 1 else "double", [])
        if piece.title.lower() not in titles:
            titles.append(piece.title.lower())
    if len(pieces) == 1:
        return next(iter(pieces))
    return ", ".join(f"{look} on the {listing(titles)}" for look, titles in pieces.items())


def _lines(facts: Facts, found: Iterable[tuple[CutPiece, Notch]]) -> Iterable[str]:
    groups: dict[tuple[str, str], tuple[CutPiece, list[Notch]]] = {}
    for piece, notch in found:
        groups.setdefault((piece.name, notch.edge), (piece, []))[1].append(notch)
    for (_, edge), (piece, notches) in groups.items():
        yield _place(facts, piece, edge, notches)


def point_table(facts: Facts) -> Table:
    """Return the matching points by name, and on which edges each lies.

    The kind's own notches come first, in the kind's order; then those that the cutting adds. A notch that
    stands for several points, its name joined by "and", is listed under each.
    """
    by_name: dict[str, list[tuple[CutPiece, Notch]]] = {n.name: [] for n in facts.pattern.kind.notches}
    for piece in facts.cut_list.pieces:
        for notch in piece.notches:
            for name in notch.name.split(" and "):
                by_name.setdefault(name, []).append((piece, notch))
    rows = [
        (name[:1].upper() + name[1:], _look(found), "\n".join(_lines(facts, found)))
        for name, found in by_name.items()
        if found
    ]
    return Table(
        "Matching points",
        ("Point", "Notch", "Where it lies, along the seam line"),
        tuple(rows),
        "Points with the same name meet. Pin them first, then the cloth between them.",
    )


def seam_table(facts: Facts) -> Table:
    """Return which edges are sewn together, how long each is at the seam line, and the ease."""
    rows = [
        (
            s.name[:1].upper() + s.name[1:],
            # On a folded piece both edges of the seam are one and the same.
            "\n".join(
                dict.fromkeys(
                    f"{facts.edge_words(end)}: {facts.length(mm)}"
                    for end, mm in ((s.left, s.left_mm), (s.right, s.right_mm))
                )
            ),
            facts.short(s.ease_mm) if abs(s.ease_mm) >= 0.05 else "none",
        )
        for s in map(facts.seam_lengths, (seam.name for seam in facts.pattern.seams))
    ]
    return Table("Seams", ("Seam", "Edges at the seam line", "Ease"), tuple(rows))


def _band_rows(facts: Facts, band: Band) -> Iterable[tuple[str, str]]:
    yield "Opening, all round", facts.length(band.edge_mm)
    yield "Cut length", facts.length(band.cut_length_mm)
    yield "Cut width", facts.length(band.cut_width_mm)
    yield "Own seam allowance", facts.length(band.allowance_mm)
    yield "Allowance at each end", facts.length((band.cut_length_mm - band.ring_mm) / 2)
    yield "Shows, once sewn", facts.length(band.finished_width_mm)
    yield "Joined to a ring", facts.length(band.ring_mm)
    yield "Cut length as a share of the opening", format_share(band.ratio)
    yield "Stretched on by", format_share(band.strain)
    yield "Quarter of the ring", facts.length(band.ring_mm / 4)
    yield "Quarter of the opening", facts.length(band.edge_mm / 4)
    yield "Side marks lie from the seams by", facts.length(abs(band.quarter_ahead_mm))


def band_table(facts: Facts) -> Table:
    """Return the figures of the bands and bindings; no rows where there is none."""
    bands = facts.cut_list.bands
    columns = ("Figure", *(band.title for band in bands))
    by_band = [tuple(_band_rows(facts, band)) for band in bands]
    rows = tuple((lines[0][0], *(value for _, value in lines)) for lines in zip(*by_band, strict=True))
    note = "Cut it with its length in the direction of greatest stretch." if bands else ""
    return Table("Bands and bindings", columns, rows, note)


def measure_table(facts: Facts) -> Table:
    """Return what the finished garment measures, beside what was recorded or assumed."""
    assumed = {a.key for a in facts.pattern.assumptions}
    rows = [
        (
            m.title,
            facts.length(m.value_mm),
            facts.length(m.asked_mm) if m.asked_mm is not None else "assumed" if m.key in assumed else "–",
        )
        for m in facts.pattern.measures
    ]
    moved = (
        f"The edge of the {rule.name} was then moved {facts.length(abs(rule.moved_mm))} for its finish, and"
        " what is taken at that edge differs by it."
        for rule in facts.cut_list.finishes
        if abs(rule.moved_mm) >= MOVED_SEEN
    )
    return Table(
        "Finished measures",
        ("Measure", "This pattern", "You recorded"),
        tuple(rows),
        " ".join(("Laid flat, seam to seam, not stretched.", *moved)),
    )


def stitch_table(facts: Facts) -> Table:
    """Return which stitch goes where, its ISO 4915 class and how the machine is set."""
    rows = [
        (s.use, f"{s.phrase.split(' ', 1)[1]}\nISO 4915 class {s.classes}", s.setting)
        for s in facts.stitches.values()
    ]
    return Table(
        "Stitches and settings",
        ("For", "Stitch", "Setting"),
        tuple(rows),
        "These settings are common practice and a place to start: try them on a scrap of your own cloth.",
    )
