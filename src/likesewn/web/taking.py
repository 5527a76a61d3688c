"""Takes photographs in: cleans them of their notes, has the studio open them, and stores them."""

import asyncio
from collections import OrderedDict
from typing import TYPE_CHECKING

from likesewn.library import Conflict
from likesewn.pictures import sort_of
from likesewn.web.clean import clean
from likesewn.web.photo_entry import PhotoEntry, Pictured, entries_of, free_name
from likesewn.web.words import say

if TYPE_CHECKING:
    from likesewn.web.desk import Desk, Opened
    from likesewn.web.studio import Studio

__all__ = ["Taking", "add_photo"]

KEPT_PREVIEWS = 24
"""Previews that are kept at hand; each takes about half a megabyte."""

_TRIES = 5


class Taking:
    """Takes photographs in, and gives small pictures of those that are stored."""

    def __init__(self, desk: "Desk", studio: "Studio") -> None:
        """Take the desk, whose library stores them, and the studio, which opens them."""
        self._desk, self._studio = desk, studio
        self._previews: OrderedDict[str, bytes] = OrderedDict()
        self._showing = asyncio.Lock()

    async def take(self, data: bytes, name: str) -> Pictured:
        """Store a photograph, without anything that tells where or by whom it was taken.

        Args:
            data: The file's content.
            name: What it is called, fit to be shown.

        Raises:
            InputError: It is no picture of a known sort, damaged, or too large.
            BusyError: The studio has too much to do.
        """
        if sort_of(data) == "heic":
            data = await self._studio.unpack(data, name)
        cleaned, suffix = await asyncio.to_thread(clean, data, name)
        looked = await self._studio.look(cleaned, name)
        digest = await asyncio.to_thread(self._desk.library.keep_photo, cleaned, suffix)
        self._keep(digest, looked.preview)
        return Pictured(digest=digest, name=name[:120], width=looked.width, height=looked.height)

    async def from_phone(self, garment: str, data: bytes, name: str) -> str:
        """Take in a photograph that a phone sent, add it to a garment, and return words for the phone.

        Raises:
            LikesewnError: It cannot be taken in; the error says why.
        """
        taken = await self.take(data, name)
        await asyncio.to_thread(
            add_photo, self._desk, garment, taken, say("photos.phone_sent", name=taken.name)
        )
        return say("photos.phone_taken")

    async def preview(self, digest: str) -> bytes:
        """Return a small picture of a stored photograph, the right way up, as JPEG.

        Raises:
            NoSuchPhoto: No photograph of this digest is stored.
        """
        async with (
            self._showing
        ):  # a page full of pictures leaves the studio free for what a person waits for
            if digest not in self._previews:
                data = await asyncio.to_thread(self._desk.library.photo, digest)
                self._keep(digest, (await self._studio.look(data, digest[:8])).preview)
            self._previews.move_to_end(digest)
            return self._previews[digest]

    def _keep(self, digest: str, preview: bytes) -> None:
        self._previews[digest] = preview
        while len(self._previews) > KEPT_PREVIEWS:
            self._previews.popitem(last=False)


def add_photo(desk: "Desk", garment: str, taken: Pictured, whence: str = "") -> "Opened":
    """Add a stored photograph to a garment; ``whence`` is what windows that show it say of that.

    Raises:
        NoSuchGarment: There is none of this id.
        Conflict: Other windows change the garment all the time.
    """
    for left in reversed(range(_TRIES)):
        document = desk.library.get(garment)
        entries = entries_of(document.aside)
        entry = PhotoEntry(**{**taken.model_dump(), "name": free_name(taken.name, entries)})
        photos = [*(one.data() for one in entries), entry.data()]
        try:
            return desk.change(
                garment,
                document.revision,
                said=say("photos.said_added", name=entry.name),
                aside={"photos": photos},
                whence=whence,
            )
        except Conflict:
            if not left:
                raise
    raise AssertionError  # not reached: the last try returns or raises
