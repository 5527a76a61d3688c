"""The door for the phone, as a page opens it: a code to point the phone at, and how long it stays open."""

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from nicegui import context, ui

from likesewn.errors import LikesewnError
from likesewn.web.pages.frame import words_of
from likesewn.web.pages.garment import View
from likesewn.web.qr import qr_svg
from likesewn.web.widgets import button, node, reword, text
from likesewn.web.words import say

if TYPE_CHECKING:
    from likesewn.web.phone import Address

__all__ = ["Phone"]

MINUTES = 10.0
EVERY = 5.0
"""Seconds between two looks at how long the door stays open."""


class Phone:
    """The part of the page that opens the door, shows its address, and closes it."""

    def __init__(self, view: View) -> None:
        """Build it, closed."""
        self._view = view
        self._opened: Address | None = None
        with node("div", "ls-stack"):
            self._opener = button(say("photos.phone"), self.open)
            self._about = text(say("photos.phone_about"), "p", "ls-soft ls-small")
            self._refused = text("", "p", "ls-error", role="alert")
            self._over = text("", "p", role="status")
            self._panel = node("div", "ls-phone", role="group", aria_label=say("photos.phone"))
            with self._panel:
                text(say("photos.phone_how"))
                self._code = ui.html("", sanitize=False).classes("ls-code-square")
                self._address = text("", "p", "ls-path ls-address")
                self._left = text("", "p", "ls-soft", role="status")
                button(say("photos.phone_close"), self.close)
        self._timer = ui.timer(EVERY, self._look_left, active=False)
        self._show()
        context.client.on_delete(self._gone)

    @property
    def is_open(self) -> bool:
        """Whether this window opened the door and it is open still."""
        return self._opened is not None

    async def open(self) -> None:
        """Open the door for this garment."""
        reword(self._refused, "")
        reword(self._over, "")
        document = self._view.opened.document
        await self.close()
        try:
            address = await self._view.door.open(
                self._view.garment, MINUTES, title=document.name, ended=self._ended
            )
        except LikesewnError as error:
            reword(self._refused, words_of(error))
            self._show()
            return
        self._opened = address
        self._code.set_content(qr_svg(address.url, say("photos.phone_code")))
        reword(self._address, address.url)
        self._show()
        self._look_left()

    async def close(self) -> None:
        """Close the door, where this window opened it."""
        opened, self._opened = self._opened, None
        if opened is not None:
            await self._view.door.close(opened)
            self._show()

    async def _gone(self) -> None:
        opened, self._opened = self._opened, None
        if opened is not None:
            await self._view.door.close(opened)

    def _ended(self) -> None:
        """The address answers no longer: its time is over, or another window opened the door."""
        if self._opened is not None:
            self._opened = None
            reword(self._over, say("photos.phone_over"))
            self._show()

    def _look_left(self) -> None:
        if self._opened is None:
            return
        left = (self._opened.expires - datetime.now(UTC)).total_seconds()
        words = say("photos.phone_left", n=max(1, round(left / 60.0)))
        if self._left._text != words:  # noqa: SLF001 - said again only where it changed
            reword(self._left, words)

    def _show(self) -> None:
        self._panel.set_visibility(self.is_open)
        self._opener.set_visibility(not self.is_open)
        self._about.set_visibility(not self.is_open)
        self._over.set_visibility(not self.is_open and bool(self._over._text))  # noqa: SLF001 - as below
        self._refused.set_visibility(bool(self._refused._text))  # noqa: SLF001 - as in ``widgets.text``
        self._timer.active = self.is_open
