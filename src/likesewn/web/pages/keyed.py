"""Fields for keys of the garment file; which there are and what each allows stands in ``garment.keys``.

``KeyField`` is one field, as the drawer of cloths has it; ``Keyed`` are those of a garment in a window, which
they show and change.
"""

import re
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, cast

from likesewn.garment.editing import Change
from likesewn.garment.keys import Form, Key
from likesewn.web.figures import file_values, plain_value, text_of
from likesewn.web.pages.garment import View
from likesewn.web.pages.making import together
from likesewn.web.widgets import Field
from likesewn.web.words import all_words, say

__all__ = ["TYPED", "KeyField", "Keyed", "cloth_label", "shown", "typed"]

TYPED = {Form.TEXT, Form.CHOICE, Form.FLAG, Form.LENGTH, Form.FIGURE, Form.SHARE, Form.NUMBER, Form.LEAN}
"""Forms that one field can hold; the others are lists."""


def cloth_label(key: Key) -> str:
    """Return what a key of a cloth is called."""
    return say("lay.price_of" if key.name == "price" else f"lay.{key.name}")


class KeyField:
    """A field that holds one key.

    Attributes:
        key: The key.
        field: The field.
    """

    def __init__(
        self,
        key: Key,
        label: str,
        told: Callable[[Change], Any],
        *,
        unit: str,
        typing: Callable[[Change], Any] | None = None,
    ) -> None:
        """Put it on the page; it shows what holds where the file says nothing.

        Args:
            key: What the table of keys says of it.
            label: What it is called.
            told: Called with the new value as TOML has it; None takes the key away.
            unit: The unit that a bare figure is in.
            typing: Called likewise with each letter typed, where the key is one that is typed.
        """
        self.key, self.unit = key, unit
        given: dict[str, Any] = {"help_text": key.about}
        if key.form is Form.FLAG:
            given |= {"kind": "checkbox"}
        elif key.form is Form.CHOICE:
            given |= {"tag": "select", "options": [(choice, choice_words(choice)) for choice in key.choices]}
        else:
            usual = key.usual if key.form is not Form.TEXT else ""
            given["placeholder"] = together(say("keyed.usual", usual=usual)) if usual else None
            if typing:
                given["typing"] = lambda value: typing(typed(key, value))
        self.field = Field(label, shown(key, None, unit), lambda value: told(typed(key, value)), **given)

    def show(self, value: object) -> None:
        """Show what the file says, as TOML has it; None for nothing."""
        self.field.show(shown(self.key, value, self.unit))

    @property
    def words(self) -> str:
        """What stands in it, as a person reads it; nothing for a tick box."""
        value = self.field.value
        if self.key.form is Form.FLAG or not value:
            return ""
        return choice_words(str(value)) if self.key.form is Form.CHOICE else str(value)


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a field's key stands, and what goes with a change of it."""

    label: str
    keyed: KeyField
    also: Callable[[Change], Mapping[str, Change]]
    then: Callable[[], Any]


class Keyed:
    """Fields that hold keys of the garment file: each shows what stands there and changes it."""

    def __init__(self, view: View, preview: Callable[[Mapping[str, Change]], Any] | None = None) -> None:
        """Begin without a field; ``preview`` is called with what is typed, where a field asks for it."""
        self.view = view
        self.preview = preview
        self._places: dict[str, _Place] = {}
        self._refused: set[str] = set()
        self._on_way: Counter[str] = Counter()
        self._raw: tuple[str, Mapping[str, Any]] = ("", {})

    def add(
        self,
        key: Key,
        dotted: str,
        label: str,
        *,
        typing: bool = False,
        also: Callable[[Change], Mapping[str, Change]] = lambda _: {},
        then: Callable[[], Any] = lambda: None,
    ) -> Field:
        """Put a field for a key of the garment file here.

        Args:
            key: What the table of keys says of it.
            dotted: Where it stands, as for ``update_garment``.
            label: What it is called.
            typing: Whether the drawing follows as one types.
            also: Given a new value, what has to change with it.
            then: Called once a change is made.
        """
        made = KeyField(
            key,
            label,
            partial(self._told, dotted),
            unit=self.view.unit,
            typing=partial(self._typed, dotted) if typing and self.preview else None,
        )
        made.field.box.props["data-row"] = dotted
        self._places[dotted] = _Place(label, made, also, then)
        return made.field

    def show(self) -> None:
        """Show in every field what the newest document says."""
        for dotted in self._places:
            self._show(dotted)

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

    def summary(self, table: str) -> str:
        """Return what stands in the fields of a table in a row, for one who leaves them folded."""
        words = [p.keyed.words for dotted, p in self._places.items() if dotted.startswith(f"{table}.")]
        return ", ".join(word for word in words if word)

    def _show(self, dotted: str) -> None:
        if self._on_way[dotted] or dotted in self._refused:
            return  # what the person typed goes before what the file still says
        made = self._places[dotted].keyed
        made.unit = self.view.unit
        made.show(self.there(dotted))

    async def _told(self, dotted: str, new: Change) -> None:
        place = self._places[dotted]

        def refuse(why: str) -> None:
            if why or dotted in self._refused:
                place.keyed.field.refuse(why)
            (self._refused.add if why else self._refused.discard)(dotted)

        self._on_way[dotted] += 1
        try:
            said = place.label[:1].lower() + place.label[1:]
            # what has to change with it goes by the newest document
            done = await self.view.change(lambda: {dotted: new, **place.also(new)}, said=said, refuse=refuse)
        finally:
            self._on_way[dotted] -= 1
        self._show(dotted)
        if done:
            place.then()

    async def _typed(self, dotted: str, new: Change) -> None:
        if self.preview:
            made = self.preview({dotted: new})
            if made is not None:
                await made


def parts_of(dotted: str) -> list[str]:
    """Return the parts of a dotted key, quotes taken off."""
    return [quoted or bare for quoted, bare in re.findall(r'"([^"]*)"|([^."]+)', dotted)]


def choice_words(choice: str) -> str:
    """Return a choice of the garment file as a person reads it."""
    name = f"keyed.choice_{choice.replace(' ', '_')}"
    return say(name) if name in all_words() else choice


def shown(key: Key, value: object, unit: str) -> object:
    """Return what stands in a garment file as a field shows it, figures with their unit, shares in per cent.

    Args:
        key: The key.
        value: What the file says, as TOML has it; None for nothing.
        unit: The file's unit.
    """
    if key.form is Form.FLAG:
        return value if isinstance(value, bool) else key.usual == "true"
    if key.form is Form.CHOICE:
        return text_of(value) or key.usual or key.choices[0]
    words = text_of(value)
    if isinstance(value, int | float) and words:
        if key.form in {Form.LENGTH, Form.FIGURE}:
            return f"{words} {unit}"
        if key.form is Form.SHARE:
            return f"{100 * value:g} %"
    return words


def typed(key: Key, value: object) -> Change:
    """Return what a person gave in a field as the garment file has it; None for what need not stand there."""
    if isinstance(value, bool):
        return None if value == (key.usual == "true") else value
    words = str(value).strip()
    return words or None if key.form in {Form.TEXT, Form.CHOICE} else plain_value(words)
