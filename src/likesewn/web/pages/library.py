"""The library's page: where it is kept, backups, and what else there is to know of it."""

import asyncio
from datetime import datetime

from likesewn.errors import LikesewnError
from likesewn.web.desk import Desk
from likesewn.web.pages.frame import page, tell, words_of
from likesewn.web.widgets import button, heading, node, reword, text
from likesewn.web.words import say

__all__ = ["build"]


async def build(desk: Desk) -> None:
    """Build the page."""
    library = desk.library
    total = (await asyncio.to_thread(library.shelf, limit=1)).total
    kept = await asyncio.to_thread(lambda: sorted((library.folder / "backups").glob("*")))
    with page(say("library.title"), "/library"):
        text(say("library.where", n=total))
        text(str(library.folder), "code", "ls-path")
        heading(say("library.backup"), 2)
        text(say("library.backup_about"))

        async def back_up() -> None:
            name = f"likesewn-{datetime.now().astimezone():%Y-%m-%d-%H%M%S}.zip"
            place = library.folder / "backups" / name
            try:
                await asyncio.to_thread(library.back_up, place)
            except LikesewnError as error:
                tell(words_of(error))
                return
            reword(said, say("library.backed_up", place=place))

        with node("div", "ls-row"):
            button(say("library.back_up"), back_up, "main")
        said = text("", "p", role="status")
        heading(say("library.daily"), 2)
        text(say("library.daily_about"))
        with node("ul"):
            for place in reversed(kept):
                text(place.name, "li")
        heading(say("library.safety"), 2)
        text(say("library.safety_about"))
