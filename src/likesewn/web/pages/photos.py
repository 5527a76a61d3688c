"""A garment's photographs, on the page where it is recorded: a list, ways to add one, the one in work."""

from collections.abc import Awaitable, Callable
from typing import Any

from nicegui.element import Element

from likesewn.web.drawing.drawing import Moved
from likesewn.web.pages.frame import sign
from likesewn.web.pages.garment import View
from likesewn.web.pages.phone import Phone
from likesewn.web.pages.photo_work import PhotoWork
from likesewn.web.pages.picture import preview_url
from likesewn.web.pages.shelf import problems_text
from likesewn.web.photo_entry import PhotoEntry, Pictured, entries_of, free_name
from likesewn.web.untracing import without_photo
from likesewn.web.widgets import Sender, button, link, node, reword, text
from likesewn.web.widgets.arrival import Arrival
from likesewn.web.words import say

__all__ = ["Photographs", "section"]

ACCEPT = "image/jpeg,image/png,image/heic,image/heif,.heic,.heif"


class Photographs:
    """The section; where one photograph is worked on, the drawing shows it.

    Attributes:
        active: Whether a photograph is being worked on.
    """

    def __init__(self, view: View, leave: Callable[[], Awaitable[None] | None]) -> None:
        """Build it.

        Args:
            view: The window's view of the garment.
            leave: Called when the drawing is free again, to show the page's own scene.
        """
        self.view = view
        self._leave = leave
        self._known: set[str] = {entry.name for entry in self.entries}
        self._listed: tuple[PhotoEntry, ...] | None = None
        with node("div", "ls-stack"):
            self._shelf = Arrival(say("photos.title"), "ls-stack ls-working")
            with self._shelf:
                text(say("photos.about"))
                with node("p", "ls-row"):
                    link(say("photos.print_a4"), "/sheets/a4.pdf", target="_blank")
                    link(say("photos.print_letter"), "/sheets/letter.pdf", target="_blank")
                self._list = node("ul", "ls-plain")
                text(say("photos.add"), "p", "ls-fold-title", id="photos-add")
                self._sender = Sender(
                    say("photos.add"),
                    "/api/photos",
                    self._sent,
                    accept=ACCEPT,
                    many=True,
                    busy=say("photos.sending"),
                )
                self._refused = text("", "p", "ls-error", role="alert")
                self._refused.set_visibility(False)
                self._phone = Phone(view)
            self._work_box = node("div", "ls-stack")
        self._work: PhotoWork | None = None
        view.drawing.on_pick(self._picked).on_move(self._moved).on_place(self._placed)
        self._led = "photo" not in view.asked
        self._show_list()

    @property
    def entries(self) -> tuple[PhotoEntry, ...]:
        """The garment's photographs as they are now."""
        return entries_of(self.view.opened.document.aside)

    @property
    def active(self) -> bool:
        """Whether a photograph is being worked on; the drawing then shows it."""
        return self._work is not None

    async def show(self) -> None:
        """Show the photographs as they are now."""
        names = {entry.name for entry in self.entries}
        fresh = [entry.name for entry in self.entries if entry.name not in self._known]
        self._known = names
        if self._work is not None:
            if self._work.name in names:
                await self._work.show()
            else:
                await self.close()
        elif fresh and self._phone.is_open:
            await self.open(fresh[0])
        self._show_list()
        if not self._led:
            self._led = True
            if self.entries:
                await self.open(self.entries[-1].name)
            else:
                self._shelf.arrive()

    async def open(self, name: str) -> None:
        """Begin to work on a photograph."""
        if self._work is not None:
            self._work.end()
        self._shelf.set_visibility(False)
        self._work_box.clear()
        with self._work_box:
            self._work = PhotoWork(self.view, name, self.close)
        await self._work.show()

    async def close(self) -> None:
        """Leave it, and hand the drawing back."""
        if self._work is None:
            return
        self._work.end()
        self._work = None
        self._work_box.clear()
        self._shelf.set_visibility(True)
        self._show_list()
        self._shelf.arrive()
        self.view.drawing.mode("look").choose("")
        left = self._leave()
        if left is not None:
            await left

    def _picked(self, id_: str) -> None:
        if self._work is not None:
            self._work.picked(id_)

    async def _moved(self, moved: Moved) -> None:
        if self._work is not None:
            await self._work.moved(moved)

    async def _placed(self, x: float, y: float) -> None:
        if self._work is not None:
            await self._work.placed(x, y)

    # --- the list -----------------------------------------------------------------------------------------

    def _show_list(self) -> None:
        if self.entries == self._listed:
            return  # a button that is made afresh loses the focus, and a click that is under way
        self._listed = self.entries
        self._list.clear()
        with self._list:
            for entry in self.entries:
                self._row(entry)
        self._list.set_visibility(bool(self.entries))

    def _row(self, entry: PhotoEntry) -> Element:
        state, words = state_of(entry)
        with node("li", "ls-photo") as row:
            node("img", src=preview_url(entry.digest), alt="", loading="lazy")
            with node("div", "ls-grow"):
                with node("p", "ls-path"):
                    sign(state)
                    text(f" {entry.name}", "span", dir="auto")
                text(words, "p", "ls-soft ls-small")
                with node("div", "ls-row"):
                    button(
                        say("photos.work"),
                        lambda: self.open(entry.name),
                        label=say("photos.work_on", name=entry.name),
                    )
                    button(
                        say("photos.remove"),
                        lambda: self._remove(entry),
                        "plain",
                        label=say("photos.remove_one", name=entry.name),
                    )
        return row

    async def _remove(self, entry: PhotoEntry) -> None:
        def aside() -> dict[str, Any]:
            return {"photos": [one.data() for one in self.entries if one.name != entry.name]}

        document = self.view.opened.document
        said = say("photos.said_removed", name=entry.name)
        if entry.used is None:
            await self.view.change(None, said, aside=aside)
            return
        content = await without_photo(document.text, entry)
        await self.view.write(content, said, aside={**document.aside, **aside()})

    # --- adding -------------------------------------------------------------------------------------------

    async def _sent(self, answer: dict[str, Any]) -> None:
        self._refused.set_visibility(not answer["ok"])
        if not answer["ok"]:
            reword(self._refused, problems_text(answer))
            return
        first = not self.entries
        taken = Pictured(**{key: answer[key] for key in ("digest", "name", "width", "height")})
        said = say("photos.said_added", name=taken.name)

        def aside() -> dict[str, Any]:
            name = free_name(taken.name, self.entries)
            entry = PhotoEntry(**{**taken.model_dump(), "name": name})
            return {"photos": [one.data() for one in (*self.entries, entry)]}

        if await self.view.change(None, said, aside=aside) and first:
            await self.open(self.entries[0].name)


def state_of(entry: PhotoEntry) -> tuple[str, str]:
    """Return how far a photograph is: the name of its sign, and words."""
    if entry.used is not None:
        return "done", say("photos.state_used", n=int(entry.used.get("edges") or 0))
    if entry.traced is not None:
        return "part", say("photos.state_traced")
    return "wait", say("photos.state_new")


def section(view: View, leave: Callable[[], Awaitable[None] | None] = lambda: None) -> Photographs:
    """Build the section under the page's heading; ``leave`` shows the page's own scene again."""
    return Photographs(view, leave)
