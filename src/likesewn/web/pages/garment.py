"""A garment's page: the frame round its stages, with the drawing always in view.

``View`` is one window's view of one garment. A stage's module has one function, ``build(view)``, which
fills ``view.form``, sets what the view calls when the garment changes (``view.changed``) and listens to
``view.drawing``.
"""

import asyncio
from collections.abc import Awaitable, Callable, Mapping
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

from nicegui import background_tasks, context

from likesewn.errors import LikesewnError
from likesewn.garment.editing import Change
from likesewn.library import Conflict, Document
from likesewn.web.desk import Desk, Opened
from likesewn.web.drawing import Drawing
from likesewn.web.pages.frame import dress, resign, sign, tell, words_of
from likesewn.web.scene import Scene
from likesewn.web.stages import STAGES, Status, quick_statuses, statuses
from likesewn.web.widgets import Field, button, dialog, link, node, reword, text
from likesewn.web.words import say

if TYPE_CHECKING:
    from likesewn.web.phone import PhoneDoor
    from likesewn.web.studio import Studio

__all__ = ["View", "build"]

T = TypeVar("T")
Due: TypeAlias = T | Callable[[], T]
"""Something, or what gives it when it is due."""

Act: TypeAlias = Callable[[int], Opened]
"""What changes a garment: given the revision that it goes by, it returns what came of it."""

PAUSE = 0.8
"""Seconds without a change after which the later stages are worked out for the list of stages."""


class _Listed:
    """A stage in the list of stages.

    Its link stays the same while what it says changes: one that was made afresh would take the focus from
    whoever just came to it, and let a click that is under way fall through.
    """

    def __init__(self, garment: str, stage: str, *, here: bool) -> None:
        current = "step" if here else None
        with node("li"), node("a", href=f"/garment/{garment}/{stage}", aria_current=current):
            self._sign = sign("wait")
            text(say(f"stage.{stage}"), "span", "ls-name")
            self._says = text("", "span", "ls-says")

    def show(self, status: Status) -> None:
        resign(self._sign, status.state)
        reword(self._says, status.says)


class View:
    """One window's view of one garment.

    Attributes:
        desk: The desk.
        studio: Where photographs are decoded.
        door: The door for a phone's photographs.
        stage: The stage that is shown.
        opened: The newest document, with what the stages made of it.
        asked: What the address asks for, such as a measure to lead to.
        form: The box beside the drawing, for the stage to fill.
        drawing: The drawing.
        changed: Called when the garment changed, to show it; set by the stage.
    """

    def __init__(
        self,
        desk: Desk,
        studio: "Studio",
        door: "PhoneDoor",
        opened: Opened,
        stage: str,
        asked: Mapping[str, str],
    ) -> None:
        """Build the frame."""
        self.desk, self.studio, self.door = desk, studio, door
        self.opened, self.stage, self.asked = opened, stage, asked
        self.changed: Callable[[], Awaitable[None] | None] = lambda: None
        self._client = context.client
        self._later: asyncio.Task[None] | None = None
        self._turn = asyncio.Lock()
        loop = asyncio.get_running_loop()
        self._unwatch = desk.watch(
            self.garment,
            lambda document, whence: loop.call_soon_threadsafe(self._heard, document, whence),
        )
        self._client.on_delete(self._unwatch)
        link(say("frame.skip"), "#form", "ls-skip")
        with node("div", "ls-garment"):
            with node("header", "ls-head"):
                link(say("frame.shelf"), "/", aria_label=say("garment.to_shelf"))
                self.title = text("", "h1", "ls-grow", dir="auto")
                self.undo_button = button(say("frame.undo"), self.undo)
                self.redo_button = button(say("frame.redo"), self.redo)
                button(say("garment.keep"), self.keep_version)
                link(say("garment.history"), f"/garment/{self.garment}/history")
            with node("nav", "ls-stages", aria_label=say("garment.stages")), node("ol"):
                self.stages = {one: _Listed(self.garment, one, here=one == stage) for one in STAGES}
            with node("section", "ls-drawing", aria_label=say("garment.drawing")):
                self.drawing = Drawing()
            with node("div", "ls-form", id="form", tabindex="-1"):
                text(say(f"stage.{stage}"), "h2")
                self.form = node("div", "ls-stack")
        self._show_head()
        self._show_stages(quick_statuses(self.opened))

    @property
    def garment(self) -> str:
        """The garment's id."""
        return self.opened.document.garment

    @property
    def unit(self) -> str:
        """The garment's unit."""
        return self.opened.record.unit if self.opened.record else "cm"

    # --- changing ---------------------------------------------------------------------------------------

    async def change(
        self,
        changes: Due[Mapping[str, Change] | None],
        said: str,
        *,
        aside: Due[Mapping[str, Any] | None] = None,
        refuse: Callable[[str], None] | None = None,
    ) -> bool:
        """Change the garment and show what came of it.

        What goes by the newest document, as a list with one more in it does, is given as a function: it is
        called when the changes before this one are made, so that none of two quick ones is lost.

        Args:
            changes: New values by dotted key of the garment file, or a function that gives them.
            said: What was changed, in a few words.
            aside: New values of what is kept beside the file, or a function that gives them.
            refuse: Told why the values cannot be used, and told "" where they can; None to say it in passing.

        Returns:
            Whether it was changed.
        """

        def act() -> Act:
            due = changes() if callable(changes) else changes
            beside = aside() if callable(aside) else aside
            return lambda revision: self.desk.change(self.garment, revision, due, said=said, aside=beside)

        return await self._do(act, refuse or tell)

    async def write(self, content: str, said: str, *, aside: Mapping[str, Any] | None = None) -> bool:
        """Replace the whole garment file and show what came of it."""
        return await self._do(
            lambda: lambda revision: self.desk.write(self.garment, revision, content, aside, said=said), tell
        )

    async def undo(self) -> None:
        """Take the last change back."""
        await self._do(lambda: partial(self.desk.undo, self.garment), tell)

    async def redo(self) -> None:
        """Make it again."""
        await self._do(lambda: partial(self.desk.redo, self.garment), tell)

    async def _do(self, act: Callable[[], Act], refuse: Callable[[str], object]) -> bool:
        """Do something to the garment as this window shows it; ``act`` gives what is to be done to it.

        What is typed quickly waits for what was typed before, so that a window is not in its own way.
        """
        async with self._turn:
            return await self._do_now(act, refuse)

    async def settled(self) -> None:
        """Wait until the changes of this window that are on their way are made."""
        async with self._turn:
            pass

    async def _do_now(self, act: Callable[[], Act], refuse: Callable[[str], object]) -> bool:
        try:
            opened = await asyncio.to_thread(act(), self.opened.document.revision)
        except Conflict as conflict:
            self._conflict(conflict.newest, act)
            return False
        except LikesewnError as error:
            refuse(words_of(error))
            return False
        refuse("")
        await self.show(opened)
        return True

    def _conflict(self, newest: Document, act: Callable[[], Act]) -> None:
        """Two windows changed the garment at once: let the person decide."""
        with self._client.layout, dialog(say("garment.conflict")) as box:
            text(say("garment.conflict_about"))

            async def leave() -> None:
                box.close()
                await self.show(await asyncio.to_thread(self.desk.opened, newest))

            async def again() -> None:
                await leave()
                await self._do(act, tell)

            with node("div", "ls-row"):
                button(say("garment.conflict_again"), again, "main")
                button(say("garment.conflict_leave"), leave)

    def keep_version(self) -> None:
        """Ask for a name and keep the garment as it is now."""
        chosen = {"name": ""}
        with self._client.layout, dialog(say("garment.keep")) as box:
            text(say("garment.keep_about"))
            Field(
                say("garment.keep_name"), told=lambda v: chosen.update(name=v), autofocus=True, maxlength=80
            )

            async def act() -> None:
                document = self.opened.document
                await asyncio.to_thread(
                    self.desk.library.keep_version,
                    document.garment,
                    document.revision,
                    name=chosen["name"],
                    why="named",
                )
                box.close()
                tell(say("garment.kept"))

            with node("div", "ls-row"):
                button(say("garment.keep"), act, "main")
                button(say("frame.cancel"), box.close)

    # --- showing ----------------------------------------------------------------------------------------

    def _heard(self, document: Document, whence: str) -> None:
        """Another window, this one, or what ``whence`` says, changed the garment."""
        if document.revision > self.opened.document.revision and not self._client.is_deleted:
            background_tasks.create(self._follow(document, whence or say("garment.elsewhere")))

    async def _follow(self, document: Document, words: str) -> None:
        await self.settled()  # a change of this window shows itself
        if document.revision > self.opened.document.revision:
            with self._client.layout:
                await self.show(await asyncio.to_thread(self.desk.opened, document))
                tell(words)

    async def show(self, opened: Opened) -> None:
        """Show another document of the garment."""
        self.opened = opened
        await asyncio.to_thread(opened.explained)
        if self._client.is_deleted:
            return  # the window was closed while its last change was made
        self._show_head()
        self._show_stages(quick_statuses(opened))
        shown = self.changed()
        if shown is not None:
            await shown
        self.later()

    def later(self) -> None:
        """Work the later stages out when nothing changes for a moment."""
        if self._later is not None:
            self._later.cancel()
        self._later = background_tasks.create(self._work_on())

    async def _work_on(self) -> None:
        await asyncio.sleep(PAUSE)
        opened = self.opened
        found = await asyncio.to_thread(statuses, self.desk, opened)
        if opened is self.opened and not self._client.is_deleted:
            self._show_stages(found)

    def _show_head(self) -> None:
        document = self.opened.document
        reword(self.title, document.name)
        for made, said in ((self.undo_button, document.can_undo), (self.redo_button, document.can_redo)):
            made.props["disabled"] = not said
            made.props["title"] = said
            made.update()

    def _show_stages(self, found: Mapping[str, Status]) -> None:
        for stage, listed in self.stages.items():
            listed.show(found[stage])

    def draw(self, scene: Scene) -> None:
        """Show a scene in the drawing."""
        self.drawing.show(scene)


async def build(
    desk: Desk, studio: "Studio", door: "PhoneDoor", garment: str, stage: str, asked: Mapping[str, str]
) -> None:
    """Build a garment's page at a stage.

    Raises:
        NoSuchGarment: There is none of this id.
    """
    opened = await asyncio.to_thread(desk.open, garment)
    await asyncio.to_thread(opened.explained)
    dress(f"{say(f'stage.{stage}')}: {opened.document.name}")
    view = View(desk, studio, door, opened, stage, asked)
    made = import_module(f"likesewn.web.pages.{stage}").build(view)
    if made is not None:
        await made
    shown = view.changed()
    if shown is not None:
        await shown
    view.later()
