"""The tape measures of a garment as rows of fields: a title, the figure, and how sure the person is of it."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from nicegui.element import Element

from likesewn.garment import Kind
from likesewn.garment.kind import Measure
from likesewn.web.figures import Sure, bare, figure_value, file_value, shown_figure, text_of
from likesewn.web.pages.garment import View
from likesewn.web.widgets import Field, node, reword, text
from likesewn.web.words import say

__all__ = ["Tape", "Wanted", "own_keys", "title_of", "usual_keys"]


@dataclass(frozen=True, slots=True)
class Wanted:
    """A figure that may be given: its key in the tape, its measure, and the piece that it is for alone."""

    key: str
    measure: Measure
    piece: str = ""


def usual_keys(kind: Kind) -> list[Wanted]:
    """Return every measure in the kind's order, those needed first."""
    measures = sorted(kind.measures.values(), key=lambda measure: not measure.needed)
    return [Wanted(measure.key, measure) for measure in measures]


def own_keys(kind: Kind) -> list[Wanted]:
    """Return the keys that give a measure for one piece alone."""
    return [
        Wanted(key, measure, pieces[0])
        for measure in kind.measures.values()
        for key, pieces in measure.variants().items()
        if key != measure.key
    ]


def title_of(kind: Kind, key: str) -> str:
    """Return what a figure is called."""
    measure = kind.tape_keys()[key]
    if key == measure.key:
        return measure.title
    (piece,) = measure.variants()[key]
    return say("record.piece_alone", title=measure.title, piece=kind.piece(piece).title.lower())


@dataclass(eq=False)
class _Row:
    wanted: Wanted
    field: Field
    sure: Field
    mark: Element
    shown: Sure = "sure"
    marked: str = ""
    refused: bool = False
    fault: str = ""
    on_way: int = 0

    def refuse(self, why: str) -> None:
        """Say why what was typed cannot be used, or take that away."""
        if why or self.refused or self.fault:
            self.field.refuse(why)
        self.refused, self.fault = bool(why), ""


class Tape:
    """Rows of figures; those told about by ``focused`` have the focus."""

    def __init__(
        self, view: View, kind: Kind, wanted: Iterable[Wanted], focused: Callable[[str], Any]
    ) -> None:
        """Build the rows."""
        self._view, self._kind = view, kind
        self._values: Mapping[str, Any] = {}
        self._absent: set[str] = set()
        self._faults: Mapping[str, str] = {}
        self.rows: dict[str, _Row] = {}
        with node("div", "ls-figures"):
            for line, one in enumerate(wanted, 1):
                self._build(one, line, focused)
            # after all figures, so that Tab leads from one to the next; the style puts each beside its figure
            for line, row in enumerate(self.rows.values(), 1):
                self._build_sure(row, line)

    def _build(self, one: Wanted, line: int, focused: Callable[[str], Any]) -> None:
        field = Field(
            title_of(self._kind, one.key),
            told=partial(self._typed, one.key),
            help_text=one.measure.how,
            look="ls-figure",
            focused=partial(focused, one.key),
            data_figure=True,
            inputmode="text",
            enterkeyhint="next",
            autocapitalize="off",
            spellcheck="false",
        )
        field.box.props["data-row"] = field.box.props["data-marks"] = one.key
        field.box.style(f"--line: {line}")
        with field.label:
            mark = text("", "span", "ls-needed")
        self.rows[one.key] = _Row(one, field, field, mark)

    def _build_sure(self, row: _Row, line: int) -> None:
        key = row.wanted.key
        row.sure = Field(
            say("record.how_sure", title=title_of(self._kind, key)),
            "sure",
            partial(self._chosen, key),
            tag="select",
            options=_choices(""),
            hidden_label=True,
            look="ls-sure",
        )
        row.sure.box.style(f"--line: {line}")
        row.sure.box.props["data-row"] = key

    async def _typed(self, key: str, typed: str) -> None:
        row = self.rows[key]
        await self._write(key, typed, row.shown)

    async def _chosen(self, key: str, sure: Sure) -> None:
        row = self.rows[key]
        if sure != row.shown:
            row.shown = sure
            await self._write(key, bare(str(row.field.value)), sure)

    async def _write(self, key: str, typed: str, sure: Sure) -> None:
        row = self.rows[key]
        value = figure_value(typed, sure, row.wanted.measure, self._view.unit)
        title = title_of(self._kind, key).lower()
        row.on_way += 1
        try:
            await self._view.change({f"tape.{key}": value}, said=title, refuse=row.refuse)
        finally:
            row.on_way -= 1
        self._show(key, row)

    def show(self, values: Mapping[str, Any], missing: Iterable[str], faults: Mapping[str, str]) -> None:
        """Show what the file says.

        Args:
            values: The file's values.
            missing: Keys that are needed and not there.
            faults: What is wrong with a figure of the file, by key.
        """
        self._values, self._absent, self._faults = values, set(missing), faults
        for key, row in self.rows.items():
            self._show(key, row)

    def _show(self, key: str, row: _Row) -> None:
        measure = row.wanted.measure
        needed = key in self._absent or (measure.needed and not row.wanted.piece)
        words = "" if not needed else say("record.needed") if key in self._absent else say("record.got")
        if words != row.marked:
            row.marked = words
            reword(row.mark, f" {words}" if words else "")
        if row.on_way or row.refused:
            return  # what the person typed goes before what the file still says
        shown = shown_figure(text_of(file_value(self._values, "tape", key)), measure, self._view.unit)
        row.field.show(shown.text)
        if shown.text:
            row.shown = shown.sure
        elif row.shown == "own":
            row.shown = "sure"
        options = [list(pair) for pair in _choices(shown.spread)]
        if row.sure.input.props["options"] != options:
            row.sure.offer(_choices(shown.spread))
        row.sure.show(row.shown)
        fault = self._faults.get(f"tape.{key}", "")
        if fault != row.fault:
            row.field.refuse(fault)
            row.fault = fault


def _choices(spread: str) -> list[tuple[str, str]]:
    own = [("own", f"± {spread}")] if spread else []
    return [("sure", say("record.sure")), ("unsure", say("record.unsure")), *own]
