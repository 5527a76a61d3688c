"""The sewing plan as a value: everything that a page, a PDF or a booklet shows, already in words.

Lengths are written out in the record's unit, so that every format shows the same figures.
"""

from dataclasses import dataclass

__all__ = ["Caution", "SewingPlan", "ShoppingItem", "StepText", "Table"]


@dataclass(frozen=True, slots=True)
class StepText:
    """One step of the sewing order, its placeholders filled.

    Attributes:
        number: Its place in the order, from 1.
        title: What is done, in a few words.
        text: How it is done.
        figures: Where this garment's own figures stand in ``text``, as (start, end) positions in order.
        about: Edges that its figures are about, each ``piece.edge``.
    """

    number: int
    title: str
    text: str
    figures: tuple[tuple[int, int], ...] = ()
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Table:
    """A table of words and figures; a line break inside a cell starts a new line there."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class ShoppingItem:
    """One thing to buy or have at hand: what it is, and how much or which."""

    what: str
    which: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A caution: what it is about, and what to mind."""

    title: str
    text: str


@dataclass(frozen=True, slots=True)
class SewingPlan:
    """The order of work for one garment, with all that is needed for it.

    Attributes:
        title: The garment's name.
        summary: Its kind, with size and wearer where they are known.
        before: What to do before the first step.
        steps: The order of work.
        stitches: Which stitch goes where and how it is set.
        shopping: What to buy.
        tools: What to have at hand.
        pieces: What is cut, how often, from which cloth and with which allowances.
        points: Matching points and where each lies.
        seams: Which edges are sewn together, how long they are, and what is eased in.
        bands: Figures of the bands and bindings; no rows where there is none.
        measures: What the finished garment measures.
        notes: What the checks found that matters while sewing.
        cautions: What to mind.
    """

    title: str
    summary: str
    before: tuple[str, ...]
    steps: tuple[StepText, ...]
    stitches: Table
    shopping: tuple[ShoppingItem, ...]
    tools: tuple[str, ...]
    pieces: Table
    points: Table
    seams: Table
    bands: Table
    measures: Table
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]
