"""What a garment is besides its measures: name, unit, finishes, fabric and wearer, in groups to fold open.

Which fields there are comes from the table of the garment file's keys, so that a kind's own keys have theirs.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from likesewn.garment import Kind
from likesewn.garment.keys import Form, Key, file_tables
from likesewn.web.figures import file_value, plain_value, text_of
from likesewn.web.pages.frame import tell
from likesewn.web.pages.garment import View
from likesewn.web.unit_change import unit_changes
from likesewn.web.widgets import Field, node, reword, text
from likesewn.web.words import all_words, say

if TYPE_CHECKING:
    from nicegui.element import Element

    from likesewn.garment.editing import Change

__all__ = ["Particulars"]

GROUPS = ("garment", "fabric", "wearer")
FIXED = ("garment.kind",)
UNIT = "garment.unit"
"""Keys that are not chosen here, and the one that the figures hang on."""


class Particulars:
    """The groups of fields."""

    def __init__(self, view: View, kind: Kind) -> None:
        """Build the groups."""
        self._view = view
        self._kind = kind
        self._fields: dict[str, tuple[Key, Field]] = {}
        self._values: Mapping[str, Any] = {}
        self._refused: set[str] = set()
        self._on_way: Counter[str] = Counter()
        self._says: dict[str, Element] = {}
        tables = {table.name: table for table in file_tables(kind, (kind.name,))}
        with node("div", "ls-folds"):
            for group in GROUPS:
                self._build(group, tables[group].keys)

    def _build(self, group: str, keys: Iterable[Key]) -> None:
        with node("details", "ls-fold"):
            with node("summary"):
                text(say(f"record.group_{group}"), "span", "ls-fold-title")
                self._says[group] = text("", "span", "ls-soft ls-small")
            with node("div", "ls-pairs"):
                for key in keys:
                    dotted = f"{group}.{key.name}"
                    if key.listed and dotted not in FIXED:
                        self._fields[dotted] = key, self._field(dotted, key)

    def _field(self, dotted: str, key: Key) -> Field:
        told = partial(self._told, dotted)
        if key.form is Form.FLAG:
            field = Field(self._label(dotted), value=False, told=told, kind="checkbox", help_text=key.about)
        elif key.form is Form.CHOICE:
            options = {choice: _choice(choice) for choice in key.choices}
            field = Field(self._label(dotted), "", told, tag="select", options=options, help_text=key.about)
        else:
            usual = say("record.usual", usual=key.usual) if key.usual and key.form is not Form.TEXT else None
            field = Field(self._label(dotted), "", told, help_text=key.about, placeholder=usual)
        field.box.props["data-row"] = dotted
        return field

    def _label(self, dotted: str) -> str:
        name = dotted.split(".")[1]
        for finish in self._kind.finishes:
            if name.startswith(f"{finish.name}_"):
                return say(f"record.key_{name.removeprefix(f'{finish.name}_')}", title=finish.title)
        return say(f"record.key_{name}")

    async def _told(self, dotted: str, value: object) -> None:
        key, field = self._fields[dotted]
        changes: dict[str, Change]
        if isinstance(value, bool):
            # a truth that is the usual one need not stand in the file
            changes = {dotted: None if str(value).lower() == (key.usual or "false") else value}
        elif key.form in {Form.TEXT, Form.CHOICE}:
            changes = {dotted: str(value).strip() or None}
        else:
            changes = {dotted: plain_value(str(value))}
        if dotted == UNIT:
            await self._view.settled()
            changes = unit_changes(self._view.opened.document.text, self._kind, str(value))

        def refuse(why: str) -> None:
            if why or dotted in self._refused:
                field.refuse(why)
            (self._refused.add if why else self._refused.discard)(dotted)

        said = self._label(dotted)
        self._on_way[dotted] += 1
        try:
            done = await self._view.change(changes, said=said[:1].lower() + said[1:], refuse=refuse)
        finally:
            self._on_way[dotted] -= 1
        self._show(dotted)
        if done and dotted == UNIT:
            tell(say("record.unit_changed"))

    def show(self, values: Mapping[str, Any]) -> None:
        """Show what the file says."""
        self._values = values
        for dotted in self._fields:
            self._show(dotted)
        for group, says in self._says.items():
            reword(says, self._summary(group))

    def _show(self, dotted: str) -> None:
        if self._on_way[dotted] or dotted in self._refused:
            return  # what the person typed goes before what the file still says
        key, field = self._fields[dotted]
        group, name = dotted.split(".")
        value = file_value(self._values, group, name)
        if key.form is Form.FLAG:
            field.show(value if isinstance(value, bool) else key.usual == "true")
        elif key.form is Form.CHOICE:
            field.show(text_of(value) or key.usual or key.choices[0])
        else:
            field.show(text_of(value))

    def _summary(self, group: str) -> str:
        """Return the texts of a group's fields in a row, for one who leaves it folded."""
        shown = [
            _choice(str(field.value)) if key.form is Form.CHOICE else str(field.value)
            for dotted, (key, field) in self._fields.items()
            if dotted.startswith(f"{group}.") and key.form is not Form.FLAG and field.value
        ]
        return ", ".join(shown)


def _choice(value: str) -> str:
    name = value.replace(" ", "_")
    return say(f"record.choice_{name}") if f"record.choice_{name}" in all_words() else value
