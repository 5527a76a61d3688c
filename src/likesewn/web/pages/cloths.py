"""The drawer of cloths: what one has at home, to be laid out for any garment."""

import asyncio
import tomllib
from collections.abc import Mapping
from functools import partial
from typing import Any

import tomlkit

from likesewn.errors import InputError, LikesewnError
from likesewn.garment import kind_names, load_kind, new_garment, read_draft, update_garment
from likesewn.garment.editing import Change
from likesewn.garment.keys import Form, Key, file_tables
from likesewn.library import KeptCloth
from likesewn.web.desk import Desk
from likesewn.web.pages.frame import bar, page, tell, words_of
from likesewn.web.pages.keyed import TYPED, KeyField, cloth_label
from likesewn.web.pages.picture import picture_field, preview_url
from likesewn.web.widgets import Field, button, dialog, node, text
from likesewn.web.words import say

__all__ = ["build"]

UNIT = "cm"
"""Unit of bare figures in the drawer; they are kept with it written out."""


def cloth_keys() -> tuple[Key, ...]:
    """Return the keys of a cloth that one field can hold."""
    table = next(table for table in file_tables(None, kind_names()) if table.name == "cloth")
    return tuple(key for key in table.keys if key.form in TYPED)


def checked(values: dict[str, Any]) -> str:
    """Return a cloth's keys as TOML, lengths with their unit.

    Raises:
        InputError: A value cannot be used.
    """
    lengths = {key.name for key in cloth_keys() if key.form is Form.LENGTH}
    whole: dict[str, Change] = {
        name: f"{value:g} {UNIT}" if name in lengths and isinstance(value, int | float) else value
        for name, value in values.items()
    }
    probe = new_garment(load_kind(kind_names()[0]), UNIT)
    probe = update_garment(probe, {f"cloth.{name}": value for name, value in whole.items()})
    problems = read_draft(probe).problems
    if problems:
        raise InputError(*problems)
    return tomlkit.dumps(whole)


class _Drawer:
    """One window's view of the drawer."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        with node("div", "ls-row"):
            button(say("cloths.add"), partial(self.edit, None), "main")
        self.rows = node("ul", "ls-entries")
        self.foot = node("div")

    async def show(self) -> None:
        cloths = await asyncio.to_thread(self.desk.library.cloths)
        self.rows.clear()
        with self.rows:
            if not cloths:
                text(say("cloths.none"), "li", "ls-soft")
            for cloth in cloths:
                self.row(cloth)

    def row(self, cloth: KeptCloth) -> None:
        with node("li", "ls-entry"):
            if cloth.picture:
                node(
                    "img",
                    "ls-kept",
                    src=preview_url(cloth.picture),
                    loading="lazy",
                    alt=say("cloths.picture_of", name=cloth.name),
                )
            with node("div", "ls-grow"):
                text(cloth.name, "h2")
                text(in_words(cloth.text))
                if cloth.note:
                    text(cloth.note, "p", "ls-soft")
                with node("div", "ls-row"):
                    for key, act in (("change", self.edit), ("remove", self.remove)):
                        words = say(f"cloths.{key}")
                        button(words, partial(act, cloth), "plain", label=f"{words}: {cloth.name}")

    def edit(self, cloth: KeptCloth | None) -> None:
        values: dict[str, Any] = tomllib.loads(cloth.text) if cloth else {}
        chosen = {
            "name": cloth.name if cloth else "",
            "note": cloth.note if cloth else "",
            "picture": cloth.picture if cloth else "",
        }

        def put(name: str, value: Change) -> None:
            if value is None:
                values.pop(name, None)
            else:
                values[name] = value

        with dialog(say("cloths.change") if cloth else say("cloths.add")) as box:
            name = Field(
                say("shelf.name"),
                chosen["name"],
                lambda v: chosen.update(name=v),
                autofocus=True,
                maxlength=80,
            )
            fields: dict[str, Field] = {}
            for key in cloth_keys():
                made = KeyField(key, cloth_label(key), partial(put, key.name), unit=UNIT)
                made.show(values.get(key.name))
                fields[f"cloth.{key.name}"] = made.field
            Field(
                say("cloths.note"),
                chosen["note"],
                lambda v: chosen.update(note=v),
                tag="textarea",
                rows=3,
                maxlength=4000,
            )
            picture_field(chosen)

            async def act() -> None:
                name.refuse("" if chosen["name"].strip() else say("cloths.needs_name"))
                if not chosen["name"].strip():
                    return
                if await self.kept(cloth, chosen, values, {"": name, **fields}):
                    box.close()
                    await self.show()

            with node("div", "ls-row"):
                button(say("frame.save"), act, "main")
                button(say("frame.cancel"), box.close)

    async def kept(
        self,
        cloth: KeptCloth | None,
        chosen: dict[str, str],
        values: dict[str, Any],
        fields: Mapping[str, Field],
    ) -> bool:
        """Keep a cloth; where something cannot be used, say so at its field (the first for all else)."""
        for field in fields.values():
            field.refuse("")
        try:
            await asyncio.to_thread(self.keep, cloth, chosen, values)
        except InputError as error:
            for problem in error.problems:
                fields.get(problem.key, fields[""]).refuse(words_of(InputError(problem)))
            return False
        except LikesewnError as error:
            tell(words_of(error))
            return False
        return True

    def keep(self, cloth: KeptCloth | None, chosen: dict[str, str], values: dict[str, Any]) -> None:
        library, content = self.desk.library, checked(values)
        if cloth is None:
            library.add_cloth(chosen["name"], content, note=chosen["note"], picture=chosen["picture"])
        else:
            library.change_cloth(cloth.cloth, cloth.revision, text=content, **chosen)

    async def remove(self, cloth: KeptCloth) -> None:
        await asyncio.to_thread(self.desk.library.delete_cloth, cloth.cloth)
        await self.show()

        async def put_back() -> None:
            await asyncio.to_thread(self.desk.library.restore_cloth, cloth.cloth)
            self.foot.clear()
            await self.show()

        self.foot.clear()
        with self.foot:
            bar(say("cloths.removed", name=cloth.name), say("frame.undo"), put_back)


def in_words(content: str) -> str:
    """Return a cloth's keys as a person reads them."""
    values = tomllib.loads(content)
    said: list[str] = []
    for key in cloth_keys():
        value = values.get(key.name)
        if value is True:
            said.append(key.name.replace("_", " "))
        elif value not in (None, False, ""):
            said.append(f"{key.name.replace('_', ' ')} {value}")
    return ", ".join(said)


async def build(desk: Desk) -> None:
    """Build the page."""
    with page(say("cloths.title"), "/cloths"):
        text(say("cloths.about"))
        drawer = _Drawer(desk)
    await drawer.show()
