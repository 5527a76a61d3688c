"""What the pages from cut to sew share: fields for keys of the garment file, tables, folds, findings."""

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import partial
from typing import Any, cast

from nicegui import ui
from nicegui.element import Element

from likesewn.garment import Finding
from likesewn.garment.editing import Change
from likesewn.garment.keys import Form, Key, Table, file_tables
from likesewn.garment.kind import Kind
from likesewn.garment.kinds import kind_names
from likesewn.web.figures import file_values, plain_value
from likesewn.web.pages.acts import Act, acts_for
from likesewn.web.pages.frame import finding_box
from likesewn.web.pages.garment import View
from likesewn.web.scenes import pattern_scene
from likesewn.web.widgets import Field, button, link, node, text
from likesewn.web.words import say

__all__ = [
    "Gate",
    "Keyed",
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


class Keyed:
    """Fields that hold keys of the garment file: each shows what stands there and changes it."""

    def __init__(self, view: View, preview: Callable[[Mapping[str, Change]], Any] | None = None) -> None:
        """Begin without a field; ``preview`` is called with what is typed, where a field asks for it."""
        self.view = view
        self.preview = preview
        self._fields: list[tuple[Field, Key, str]] = []
        self._raw: tuple[str, Mapping[str, Any]] = ("", {})

    def add(
        self,
        key: Key,
        dotted: str,
        label: str,
        *,
        help_text: str = "",
        look: str = "",
        typing: bool = False,
        also: Callable[[Change], Mapping[str, Change]] = lambda _: {},
    ) -> Field:
        """Put a field for a key of the garment file here.

        Args:
            key: What the table of keys says of it.
            dotted: Where it stands, as for ``update_garment``.
            label: What it is called.
            help_text: A sentence below it.
            look: Further classes.
            typing: Whether the drawing follows as one types.
            also: Given a new value, what has to change with it.
        """
        told = partial(self._told, key, dotted, label, also)
        typed = partial(self._typed, key, dotted) if typing and self.preview else None
        shared: dict[str, Any] = {"help_text": help_text, "look": look}
        if key.form is Form.FLAG:
            field = Field(label, self._shown(key, dotted), told, kind="checkbox", **shared)
        elif key.form is Form.CHOICE:
            options = [(choice, choice) for choice in key.choices]
            field = Field(label, self._shown(key, dotted), told, tag="select", options=options, **shared)
        else:
            hint = together(key.usual)
            field = Field(label, self._shown(key, dotted), told, typing=typed, placeholder=hint, **shared)
        self._fields.append((field, key, dotted))
        return field

    def show(self) -> None:
        """Show in every field what the newest document says."""
        for field, key, dotted in self._fields:
            field.show(self._shown(key, dotted))

    def there(self, dotted: str) -> object:
        """Return what stands under a dotted key, as TOML has it; None where nothing does."""
        content = self.view.opened.document.text
        if self._raw[0] != content:
            self._raw = content, file_values(content)
        place: object = self._raw[1]
        for part in parts_of(dotted):
            if not isinstance(place, dict):
                return None
            place = cast("dict[str, object]", place).get(part)
        return place

    def _shown(self, key: Key, dotted: str) -> object:
        return shown(key, self.there(dotted), self.view.unit)

    async def _told(
        self,
        key: Key,
        dotted: str,
        label: str,
        also: Callable[[Change], Mapping[str, Change]],
        value: object,
    ) -> None:
        field = next(f for f, _, d in self._fields if d == dotted)
        new = typed(key, value)
        await self.view.change({dotted: new, **also(new)}, said=label.lower(), refuse=field.refuse)

    async def _typed(self, key: Key, dotted: str, value: str) -> None:
        if self.preview:
            made = self.preview({dotted: typed(key, value)})
            if made is not None:
                await made


def parts_of(dotted: str) -> list[str]:
    """Return the parts of a dotted key, quotes taken off."""
    return [quoted or bare for quoted, bare in re.findall(r'"([^"]*)"|([^."]+)', dotted)]


def shown(key: Key, value: object, unit: str) -> object:
    """Return what stands in a garment file as a field shows it."""
    if key.form is Form.FLAG:
        return bool(key.usual == "true" if value is None else value)
    if value is None:
        return key.usual if key.form is Form.CHOICE else ""
    if isinstance(value, int | float) and key.form is Form.LENGTH:
        return f"{value:g} {unit}"
    if isinstance(value, int | float) and key.form is Form.SHARE:
        return f"{100 * value:g} %"
    return f"{value:g}" if isinstance(value, float) else str(value)


def typed(key: Key, value: object) -> Change:
    """Return what a person gave in a field as the garment file has it; None for nothing."""
    if isinstance(value, bool):
        return value
    words = str(value).strip()
    if not words:
        return None
    return plain_value(words) if key.form in {Form.NUMBER, Form.LENGTH} else words
