"""The shelf: the garments that one keeps, and where a new one begins."""

import asyncio
from collections.abc import Callable
from datetime import datetime
from functools import partial
from typing import Any

from nicegui import ui
from nicegui.element import Element

from likesewn.errors import LikesewnError
from likesewn.garment import kind_names, load_kind
from likesewn.library import Row
from likesewn.web.desk import Desk
from likesewn.web.pages.frame import bar, page, tell, words_of
from likesewn.web.widgets import Field, Sender, button, dialog, link, node, reword, text
from likesewn.web.words import say

__all__ = ["build", "build_removed", "when"]

AT_ONCE = 24
"""Garments shown at first, and with each asking for more."""

UNITS = ("cm", "mm", "in")


def when(moment: datetime) -> str:
    """Return a moment as a person reads it, in this machine's time zone."""
    local = moment.astimezone()
    return f"{local.day} {local:%B %Y}, {local:%H:%M}"


class _Shelf:
    """One window's view of the shelf."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.search = ""
        self.shown = AT_ONCE
        with node("div", "ls-row"):
            button(say("shelf.new"), partial(self.begin, then="record"), "main")
            button(say("shelf.from_photo"), partial(self.begin, then="record?photo=1"))
            button(say("shelf.from_file"), self.from_file)
        with node("search", "ls-row"):
            Field(
                say("shelf.search"),
                told=self.look_for,
                typing=self.look_for,
                kind="search",
                look="ls-grow",
                placeholder=say("shelf.search_help"),
            )
        self.count = text("", "p", "ls-soft", role="status")
        self.cards = node("ul", "ls-cards")
        self.more = node("div", "ls-row")
        self.foot = node("div")

    async def look_for(self, words: str) -> None:
        if words != self.search:
            self.search, self.shown = words, AT_ONCE
            await self.show()

    async def show(self) -> None:
        found = await asyncio.to_thread(self.desk.library.shelf, search=self.search, limit=self.shown)
        self.cards.clear()
        self.more.clear()
        if found.total:
            said = say("shelf.count", n=found.total)
        elif self.search:
            said = say("shelf.none_found", words=self.search)
        else:
            said = say("shelf.empty")
        reword(self.count, said)
        with self.cards:
            for row in found.rows:
                self.card(row)
        if found.total > len(found.rows):
            with self.more:
                button(say("shelf.more"), self.show_more)

    async def show_more(self) -> None:
        self.shown += AT_ONCE
        await self.show()

    def card(self, row: Row) -> None:
        with node("li", "ls-card"):
            picture(row)
            with node("div", "ls-words"):
                link(row.name, f"/garment/{row.garment}/record")
                details = [kind_title(row.kind), row.size, row.wearer]
                text(" · ".join(d for d in details if d), "p", "ls-soft ls-small")
                text(say("shelf.changed", when=when(row.changed)), "p", "ls-soft ls-small")
            with node("div", "ls-row"):
                for key, act in (
                    ("rename", self.rename),
                    ("duplicate", self.duplicate),
                    ("remove", self.remove),
                ):
                    words = say(f"shelf.{key}")
                    button(words, partial(act, row), "plain", label=f"{words}: {row.name}")

    async def begin(self, then: str) -> None:
        titles = [(name, load_kind(name).title) for name in kind_names()]
        chosen = {"kind": titles[0][0], "unit": "cm", "name": ""}
        with dialog(say("shelf.new")) as box:
            Field(say("shelf.name"), told=lambda v: chosen.update(name=v), autofocus=True, maxlength=80)
            Field(
                say("shelf.kind"),
                chosen["kind"],
                lambda v: chosen.update(kind=v),
                tag="select",
                options=titles,
            )
            units = [(unit, say(f"shelf.unit_{unit}")) for unit in UNITS]
            Field(say("shelf.unit"), "cm", lambda v: chosen.update(unit=v), tag="select", options=units)

            async def act() -> None:
                made = await asyncio.to_thread(
                    self.desk.begin, chosen["kind"], chosen["unit"], chosen["name"]
                )
                ui.navigate.to(f"/garment/{made.garment}/{then}")

            with node("div", "ls-row"):
                button(say("shelf.begin"), act, "main")
                button(say("frame.cancel"), box.close)

    def from_file(self) -> None:
        with dialog(say("shelf.file_title")) as box:
            text(say("shelf.file_help"))
            said = text("", "p", "ls-error", role="alert")
            said.set_visibility(False)

            def sent(answer: dict[str, Any]) -> None:
                if answer["ok"]:
                    ui.navigate.to(f"/garment/{answer['garment']}/record")
                    return
                reword(said, problems_text(answer))
                said.set_visibility(True)

            Sender(
                say("shelf.file_choose"),
                "/api/garments/file",
                sent,
                accept=".toml,.zip",
                busy=say("shelf.file_busy"),
            )
            button(say("frame.cancel"), box.close)

    def rename(self, row: Row) -> None:
        chosen = {"name": row.name}
        with dialog(say("shelf.rename")) as box:
            field = Field(
                say("shelf.name"), row.name, lambda v: chosen.update(name=v), autofocus=True, maxlength=80
            )

            async def act() -> None:
                try:
                    await asyncio.to_thread(
                        self.desk.change,
                        row.garment,
                        row.revision,
                        {"garment.name": chosen["name"]},
                        said=say("shelf.rename"),
                    )
                except LikesewnError as error:
                    field.refuse(words_of(error))
                    return
                box.close()
                await self.show()

            with node("div", "ls-row"):
                button(say("shelf.rename"), act, "main")
                button(say("frame.cancel"), box.close)

    async def duplicate(self, row: Row) -> None:
        await self.done(self.desk.library.duplicate, row.garment, say("shelf.copy_of", name=row.name))

    async def remove(self, row: Row) -> None:
        if await self.done(self.desk.library.delete, row.garment):
            self.foot.clear()
            with self.foot:
                bar(say("shelf.removed_one", name=row.name), say("frame.undo"), partial(self.put_back, row))

    async def put_back(self, row: Row) -> None:
        if await self.done(self.desk.library.restore, row.garment):
            self.foot.clear()

    async def done(self, act: Callable[..., object], *given: object) -> bool:
        try:
            await asyncio.to_thread(act, *given)
        except LikesewnError as error:
            tell(words_of(error))
            return False
        await self.show()
        return True


def problems_text(answer: dict[str, Any]) -> str:
    """Return what the server said of a file that it refused."""
    problems = answer.get("error", {}).get("problems", [])
    said = ["\n".join(filter(None, (p.get("message"), p.get("allowed"), p.get("todo")))) for p in problems]
    return "\n".join(said) or say("shelf.file_lost")


def kind_title(name: str) -> str:
    """Return a kind's title, or its name where this likesewn does not know it."""
    return load_kind(name).title if name in kind_names() else name


def picture(row: Row) -> Element:
    """Return a garment's small drawing."""
    with node("div", "ls-picture", aria_hidden="true") as made:
        node("img", loading="lazy", alt="", src=f"/thumbnail/{row.garment}?{row.revision}")
    return made


async def build(desk: Desk) -> None:
    """Build the shelf."""
    with page(say("shelf.title"), "/"):
        shelf = _Shelf(desk)
    await shelf.show()


async def build_removed(desk: Desk) -> None:
    """Build the list of garments that were taken off the shelf."""
    with page(say("removed.title"), "/removed"):
        text(say("removed.about"))
        rows = node("ul", "ls-cards")

    async def put_back(row: Row) -> None:
        await asyncio.to_thread(desk.library.restore, row.garment)
        await show()
        tell(say("removed.back", name=row.name))

    async def show() -> None:
        found = await asyncio.to_thread(desk.library.shelf, deleted=True, limit=500)
        rows.clear()
        with rows:
            if not found.rows:
                text(say("removed.none"), "li")
            for row in found.rows:
                with node("li", "ls-card"):
                    picture(row)
                    with node("div", "ls-words"):
                        text(row.name, "h2")
                        text(say("shelf.changed", when=when(row.changed)), "p", "ls-soft ls-small")
                    with node("div", "ls-row"):
                        words = say("removed.put_back")
                        button(words, partial(put_back, row), label=f"{words}: {row.name}")

    await show()
