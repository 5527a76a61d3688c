"""A garment's versions and makes: what it was, and how each make turned out."""

import asyncio
from datetime import date
from functools import partial

from likesewn.errors import LikesewnError
from likesewn.library import Make, Version, compare
from likesewn.web.desk import Desk
from likesewn.web.pages.frame import bar, dress, tell, words_of
from likesewn.web.pages.noting import note_make
from likesewn.web.pages.picture import preview_url
from likesewn.web.pages.shelf import when
from likesewn.web.widgets import Field, button, dialog, heading, link, node, text
from likesewn.web.words import say

__all__ = ["build"]


class _History:
    """One window's view of a garment's past."""

    def __init__(self, desk: Desk, garment: str) -> None:
        self.desk, self.garment = desk, garment
        self.name = desk.library.get(garment).name
        link(say("frame.skip"), "#main", "ls-skip")
        with node("div", "ls-page"):
            with node("header", "ls-top"), node("nav", aria_label=say("frame.pages")):
                link(say("frame.shelf"), "/")
                link(self.name, f"/garment/{garment}/record")
            with node("div", "ls-stack", id="main", tabindex="-1"):
                heading(say("history.of", name=self.name), 1)
                with node("section", "ls-stack", aria_labelledby="makes-title"):
                    heading(say("history.makes"), 2, id="makes-title")
                    text(say("history.makes_about"))
                    with node("div", "ls-row"):
                        button(say("history.note"), partial(self.note, None), "main")
                    self.makes = node("ul", "ls-entries")
                with node("section", "ls-stack", aria_labelledby="versions-title"):
                    heading(say("history.versions"), 2, id="versions-title")
                    text(say("history.versions_about"))
                    self.versions = node("ol", "ls-entries", reversed=True)
                with node("section", "ls-stack", aria_labelledby="export-title"):
                    heading(say("history.export"), 2, id="export-title")
                    text(say("history.export_about"))
                    with node("div", "ls-row"):
                        link(
                            say("history.export_link"),
                            f"/api/garments/{garment}/export",
                            "ls-button",
                            download=True,
                        )
                        link(
                            say("history.file_link"),
                            f"/garment/{garment}/files/garment.toml",
                            "ls-button",
                            download=True,
                        )
                self.foot = node("div")

    async def show(self) -> None:
        library = self.desk.library
        makes, versions = await asyncio.to_thread(
            lambda: (library.makes(self.garment), library.versions(self.garment))
        )
        self.makes.clear()
        with self.makes:
            if not makes:
                text(say("history.no_makes"), "li", "ls-soft")
            for make in sorted(makes, key=lambda one: one.made, reverse=True):
                self.make(make)
        self.versions.clear()
        with self.versions:
            if not versions:
                text(say("history.no_versions"), "li", "ls-soft")
            for version in sorted(versions, key=lambda one: -one.number):
                self.version(version)

    def make(self, make: Make) -> None:
        with node("li", "ls-entry"):
            if make.picture:
                node(
                    "img",
                    "ls-kept",
                    src=preview_url(make.picture),
                    loading="lazy",
                    alt=say("history.picture_of", when=day(make.made)),
                )
            with node("div", "ls-grow"):
                text(day(make.made), "h3")
                if make.cloth:
                    text(say("history.cloth_was", cloth=make.cloth))
                if make.next_time:
                    text(say("history.next_was", words=make.next_time))
                text(say("history.from_version", number=make.version), "p", "ls-soft ls-small")
                with node("div", "ls-row"):
                    button(
                        say("history.change"),
                        partial(self.note, make),
                        "plain",
                        label=f"{say('history.change')}: {day(make.made)}",
                    )
                    button(
                        say("shelf.remove"),
                        partial(self.remove, make),
                        "plain",
                        label=f"{say('shelf.remove')}: {day(make.made)}",
                    )

    def version(self, version: Version) -> None:
        title = say("history.version", number=version.number) + (f": {version.name}" if version.name else "")
        with node("li", "ls-entry"), node("div", "ls-grow"):
            text(title, "h3")
            why = say(f"history.why_{version.why.replace(' ', '_')}")
            text(f"{when(version.at)} · {why}", "p", "ls-soft ls-small")
            with node("div", "ls-row"):
                for key, act in (("look", self.look), ("go_back", self.go_back)):
                    words = say(f"history.{key}")
                    button(words, partial(act, version), "plain", label=f"{words}: {title}")

    async def look(self, version: Version) -> None:
        """Show what changed between a version and another, or the garment as it is now."""
        library = self.desk.library
        others = await asyncio.to_thread(library.versions, self.garment)
        options = [("now", say("history.now"))]
        options += [
            (str(v.number), say("history.version", number=v.number) + (f": {v.name}" if v.name else ""))
            for v in reversed(others)
            if v.number != version.number
        ]

        async def fill(chosen: str) -> None:
            if chosen == "now":
                other = (await asyncio.to_thread(library.get, self.garment)).text
            else:
                other = (await asyncio.to_thread(library.version, self.garment, int(chosen))).text
            changes = await asyncio.to_thread(compare, version.text, other)
            shown.clear()
            with shown:
                if not changes:
                    text(say("history.same"))
                    return
                with (
                    node(
                        "div", "ls-scroll", tabindex="0", role="region", aria_label=say("history.differences")
                    ),
                    node("table", "ls-table"),
                ):
                    with node("thead"), node("tr"):
                        for key in ("key", "then", "other"):
                            text(say(f"history.{key}"), "th", scope="col")
                    with node("tbody"):
                        for change in changes:
                            with node("tr"):
                                text(change.key, "th", scope="row")
                                text(str(change.before), "td")
                                text(str(change.after), "td")

        with dialog(say("history.compare", number=version.number), wide=True) as box:
            Field(say("history.with"), "now", fill, tag="select", options=options)
            shown = node("div", aria_live="polite")
            with node("div", "ls-row"):
                button(say("frame.close"), box.close)

        await fill("now")

    async def go_back(self, version: Version) -> None:
        try:
            document = await asyncio.to_thread(self.desk.library.get, self.garment)
            await asyncio.to_thread(self.desk.go_back, self.garment, document.revision, version.number)
        except LikesewnError as error:
            tell(words_of(error))
            return
        tell(say("history.gone_back", number=version.number))
        await self.show()

    async def note(self, make: Make | None) -> None:
        """Note a make, or change what was noted."""
        await note_make(self.desk, self.garment, make, self.show)

    async def remove(self, make: Make) -> None:
        await asyncio.to_thread(self.desk.library.delete_make, self.garment, make.number)
        await self.show()

        async def put_back() -> None:
            await asyncio.to_thread(self.desk.library.restore_make, self.garment, make.number)
            self.foot.clear()
            await self.show()

        self.foot.clear()
        with self.foot:
            bar(say("history.removed", when=day(make.made)), say("frame.undo"), put_back)


def day(moment: date) -> str:
    """Return a day as a person reads it."""
    return f"{moment.day} {moment:%B %Y}"


async def build(desk: Desk, garment: str) -> None:
    """Build the page; NoSuchGarment where there is none of this id."""
    document = await asyncio.to_thread(desk.library.get, garment)
    dress(say("history.of", name=document.name))
    await _History(desk, garment).show()
