"""The box in which a make is noted: when, from which cloth, a picture, what to do differently next time."""

import asyncio
from collections.abc import Awaitable, Callable
from datetime import date
from typing import Any

from likesewn.errors import LikesewnError
from likesewn.library import Make
from likesewn.units import format_length
from likesewn.web.desk import Desk, Opened
from likesewn.web.pages.frame import tell, words_of
from likesewn.web.pages.picture import picture_field
from likesewn.web.widgets import Field, button, dialog, node
from likesewn.web.words import say

__all__ = ["note_make"]


async def note_make(
    desk: Desk, garment: str, make: Make | None, done: Callable[[], Awaitable[None] | None]
) -> None:
    """Ask what is to be noted of a make and keep it, with a version of the garment where it is a new one.

    Args:
        desk: The desk.
        garment: The garment.
        make: The make to change, or None for a new one.
        done: Called once it is kept.
    """
    opened = await asyncio.to_thread(desk.open, garment)
    chosen: dict[str, Any] = {
        "made": make.made if make else date.today(),  # noqa: DTZ011 - a local day
        "cloth": make.cloth if make else _cloth_words(opened),
        "picture": make.picture if make else "",
        "next_time": make.next_time if make else "",
    }

    def keep() -> None:
        if make is None:
            desk.library.add_make(garment, opened.document.revision, **chosen)
        else:
            desk.library.change_make(garment, make.number, make.revision, **chosen)

    def put(key: str) -> Callable[[str], None]:
        return lambda value: chosen.update({key: value})

    with dialog(say("noting.title")) as box:

        def set_day(value: str) -> None:
            try:
                chosen["made"] = date.fromisoformat(value)
            except ValueError:
                day.refuse(say("noting.no_day"))
            else:
                day.refuse("")

        day = Field(say("noting.made"), chosen["made"].isoformat(), set_day, kind="date")
        Field(say("noting.cloth"), chosen["cloth"], put("cloth"), maxlength=400)
        words = chosen["next_time"]
        Field(say("noting.next_time"), words, put("next_time"), tag="textarea", rows=4, maxlength=4000)
        picture_field(chosen)

        async def act() -> None:
            try:
                await asyncio.to_thread(keep)
            except LikesewnError as error:
                tell(words_of(error))
                return
            box.close()
            if (more := done()) is not None:
                await more

        with node("div", "ls-row"):
            button(say("frame.save"), act, "main")
            button(say("frame.cancel"), box.close)


def _cloth_words(opened: Opened) -> str:
    """Return the garment's first cloth in a few words, for a person to go on from."""
    record = opened.record
    if record is None or not record.cloths:
        return ""
    width = format_length(next(iter(record.cloths.values())).width_mm, record.unit)
    return say("noting.cloth_words", what=record.fabric.construction, width=width)
