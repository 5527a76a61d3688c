"""Which edges a step of the sewing order is about, by the figures that its text asks for."""

from collections.abc import Iterable, Iterator, Sequence

from likesewn.garment.uneven import other_seam
from likesewn.sewing.figures import Facts

__all__ = ["edges_about"]


def edges_about(facts: Facts, placeholders: Iterable[Sequence[str]]) -> tuple[str, ...]:
    """Return the edges that placeholders are about, each ``piece.edge``, in the order of the pieces.

    Args:
        facts: The garment.
        placeholders: Each its name and its arguments, as in ``("seam", "shoulder", "left")``; what is about
            no edge, such as a stitch, gives none.
    """
    found = {edge for one in placeholders for edge in _edges(facts, one)}
    return tuple(name for name in _all(facts) if name in found)


def _all(facts: Facts) -> Iterator[str]:
    for piece in facts.cut_list.pieces:
        yield from (f"{piece.name}.{edge.name}" for edge in piece.seam if not edge.fold)


def _edges(facts: Facts, placeholder: Sequence[str]) -> Iterator[str]:
    name, *arguments = placeholder
    if name in {"seam", "ease"}:
        for seam in facts.pattern.kind.seams:
            if seam.name in {arguments[0], other_seam(facts.pattern.kind, arguments[0])}:
                yield from _ends(facts, seam.left, seam.left_side)
                yield from _ends(facts, seam.right, seam.right_side)
    elif name == "allowance":
        yield from (end for end, names, _ in facts.allowances() if arguments[0] in names)
    elif name == "notch":
        for piece in facts.cut_list.pieces:
            yield from (f"{piece.name}.{n.edge}" for n in piece.notches if n.name == arguments[0])
    elif name == "band":
        yield from _round(facts, arguments[0])


def _round(facts: Facts, opening: str) -> Iterator[str]:
    """Yield the edges round an opening and those of its band."""
    finishes = {finish.name: finish for finish in facts.pattern.kind.finishes}
    if opening in finishes:
        for end in finishes[opening].edges:
            yield from _ends(facts, end, "")
        for piece in facts.cut_list.pieces:
            if piece.name == finishes[opening].band:
                yield from (f"{piece.name}.{edge.name}" for edge in piece.seam)


def _ends(facts: Facts, end: str, side: str) -> Iterator[str]:
    """Yield the edges that a kind means by ``piece.edge``, on one half where the piece is opened out."""
    name, base = end.split(".")
    for piece in facts.cut_list.pieces:
        if piece.name == name:
            found = [edge for edge in piece.seam if edge.base == base]
            halves = [edge for edge in found if side and edge.side == side] or found
            yield from (f"{name}.{edge.name}" for edge in halves)
