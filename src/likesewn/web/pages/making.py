"""What the pages of the stages share: tables, folds, findings, and what leads to a pattern."""

import re
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial

from nicegui import ui
from nicegui.element import Element

from likesewn.garment import Finding
from likesewn.garment.keys import Table, file_tables
from likesewn.garment.kind import Kind
from likesewn.garment.kinds import kind_names
from likesewn.web.pages.acts import Act, acts_for
from likesewn.web.pages.frame import finding_box
from likesewn.web.pages.garment import View
from likesewn.web.scenes import pattern_scene
from likesewn.web.widgets import button, link, node, text
from likesewn.web.words import say

__all__ = [
    "Gate",
    "fold",
    "listed",
    "show_findings",
    "show_table",
    "table_of",
    "together",
]

_APART = re.compile(r"(?<=\d) (?=\d+/\d|(?:mm|cm|m|in|yd|%)(?!\w))")


def together(words: str) -> str:
    """Return words with each figure and its unit held together: no line breaks between them."""
    return _APART.sub("\u00a0", words)


def listed(words: Sequence[str]) -> str:
    """Return words in a row, the last after an "and"."""
    return say("cut.and", most=", ".join(words[:-1]), last=words[-1]) if len(words) > 1 else "".join(words)


def show_findings(box: Element, findings: Iterable[Finding], view: View | None = None) -> None:
    """Put findings into a box, in place of what it held.

    Args:
        box: The box.
        findings: What was found.
        view: Given for findings of truing and cutting: what can be done about each is put with it.
    """
    box.clear()
    with box:
        for finding in findings:
            made = finding_box(finding)
            record, kind = (view.opened.record, view.opened.kind) if view else (None, None)
            if view is None or record is None or kind is None:
                continue
            with made, node("div", "ls-row"):
                for act in acts_for(finding, record, kind):
                    look = "" if act.changes else "plain"
                    label = f"{act.words}: {finding.message}"
                    button(act.words, partial(_act, view, act), look, label=label)


async def _act(view: View, act: Act) -> None:
    if act.to:
        ui.navigate.to(f"/garment/{view.garment}/{act.to}")
    else:
        await view.change(act.changes, said=act.said)


def show_table(
    columns: Sequence[str], rows: Iterable[Sequence[str]], *, title: str = "", numbers: Sequence[int] = ()
) -> Element:
    """Return a table; columns counted in ``numbers`` hold figures."""
    region = {"tabindex": "0", "role": "group", "aria_label": title} if title else {}
    with node("div", "ls-scroll", **region) as box, node("table", "ls-table"):
        with node("thead"), node("tr"):
            for i, words in enumerate(columns):
                text(words, "th", "ls-num" if i in numbers else "", scope="col")
        with node("tbody"):
            for row in rows:
                with node("tr"):
                    for i, cell in enumerate(row):
                        look = "ls-num" if i in numbers else ""
                        text(together(cell), "td" if i else "th", look, scope=None if i else "row")
    return box


@contextmanager
def fold(words: str, *, open_: bool = False) -> Iterator[Element]:
    """Make something that folds open under a title."""
    with node("details", "ls-fold", open=open_):
        with node("summary"):
            text(words, "span", "ls-fold-title")
        with node("div", "ls-stack") as box:
            yield box


def table_of(kind: Kind, name: str) -> Table:
    """Return a table of the garment file of a kind; KeyError where there is none of that name."""
    for table in file_tables(kind, kind_names()):
        if table.name == name:
            return table
    raise KeyError(name)


class Gate:
    """A stage's form where there is a pattern to go on with, or what is needed for one.

    Attributes:
        body: Where the stage puts its form.
    """

    def __init__(self, view: View) -> None:
        """Make both boxes in the form."""
        self.view = view
        with view.form:
            self.needs = node("div", "ls-stack")
            self.body = node("div", "ls-stack")
        self.needs.set_visibility(False)

    def opened(self) -> bool:
        """Show the one that is due, with a drawing of what there is; True where it is the stage's form."""
        opened = self.view.opened
        ready = opened.ready() is not None
        self.body.set_visibility(ready)
        self.needs.set_visibility(not ready)
        if not ready:
            words, leads, stage = self._reason()
            self.needs.clear()
            with self.needs:
                text(words)
                link(leads, f"/garment/{self.view.garment}/{stage}", "ls-onward")
            trued = opened.trued()
            if trued is not None:
                self.view.draw(pattern_scene(trued.pattern, opened.document.name, self.view.unit))
        return ready

    def _reason(self) -> tuple[str, str, str]:
        opened = self.view.opened
        if opened.record is None or opened.kind is None:
            return say("cut.needs_file"), say("cut.to_record"), "record"
        if opened.draft.missing:
            names = [measure.title.lower() for _, measure in opened.draft.missing]
            return say("cut.needs", n=len(names), measures=listed(names)), say("cut.to_record"), "record"
        return say("cut.needs_truing"), say("cut.to_true"), "true"
