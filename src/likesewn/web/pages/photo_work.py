"""One photograph that is being worked on: how it was laid, what was traced, what is put right by hand."""

from collections.abc import Awaitable, Callable, Mapping
from typing import Any

import numpy as np
from nicegui import background_tasks

from likesewn.errors import LikesewnError
from likesewn.garment import Kind
from likesewn.web.curves import curve_points, curve_through
from likesewn.web.drawing.drawing import Moved
from likesewn.web.figures import file_value, file_values
from likesewn.web.pages.frame import tell, words_of
from likesewn.web.pages.garment import View
from likesewn.web.pages.photo_chosen import Chosen
from likesewn.web.pages.photo_found import Found
from likesewn.web.pages.photo_laid import Laid
from likesewn.web.pages.photo_tools import Tools
from likesewn.web.pages.picture import preview_url
from likesewn.web.pages.tracer import Tracer
from likesewn.web.photo_entry import Hint, PhotoEntry, Pictured, Place, entries_of
from likesewn.web.scene import Scene
from likesewn.web.scenes.photographs import PhotoLines
from likesewn.web.scenes.tracing import Shown, corner_title, edge_title, thinned, tracing_scene
from likesewn.web.untracing import without_photo
from likesewn.web.widgets import button, heading, node
from likesewn.web.widgets.arrival import Arrival
from likesewn.web.words import say

__all__ = ["PhotoWork"]

NEAR_PX = 1.5
"""How far the curve through an edge's few handles may stray from what was traced, px."""


class PhotoWork:
    """The part of the page for one photograph, and what the drawing shows meanwhile.

    Attributes:
        name: The photograph's name.
        tracer: Traces it.
        chosen: Id of what is chosen in the drawing, such as ``edge.front.side.left``; or empty.
    """

    def __init__(self, view: View, name: str, leave: Callable[[], Awaitable[None]]) -> None:
        """Build it inside the box that is open; ``leave`` closes it."""
        self.view, self.name = view, name
        self.chosen = ""
        self._ended = self._pressed = False
        self._live: dict[str, list[Place]] = {}
        self._thing: tuple[Place, ...] = ()
        self._outline: tuple[str, Any] = ("", None)
        self.tracer = Tracer(view.studio, view.desk.library, self._traced)
        with Arrival(say("photos.working_on", name=name), "ls-stack ls-working", arrived=True) as self._box:
            with node("div", "ls-row"):
                heading(name, 4, "ls-grow ls-path", dir="auto")
                button(say("photos.leave"), leave)
            self.tools = Tools(self)  # first: what is to be done now stays in sight, whatever is scrolled
            self.laid = Laid(self)
            self.found = Found(self)
            self.tools.offer()
            self.choosing = Chosen(self)
        view.drawing.mode("move")

    # --- what there is ------------------------------------------------------------------------------------

    @property
    def entries(self) -> tuple[PhotoEntry, ...]:
        """All photographs of the garment."""
        return entries_of(self.view.opened.document.aside)

    @property
    def entry(self) -> PhotoEntry:
        """The photograph as the garment keeps it now; StopIteration where it is gone."""
        return next(entry for entry in self.entries if entry.name == self.name)

    @property
    def kind(self) -> Kind | None:
        """The garment's kind."""
        return self.view.opened.kind

    @property
    def answer(self) -> Mapping[str, Any] | None:
        """What was traced last in a photograph that is to be shown still, or None."""
        answer, entry = self.tracer.answer, self.entry
        if answer is None:
            return None
        held = entry.held
        shown = entry.pictures if held is None else (entry.pictures[held],)
        return answer if answer["digest"] in {picture.digest for picture in shown} else None

    @property
    def asked(self) -> dict[str, Any]:
        """What the studio is asked for."""
        construction = file_value(file_values(self.view.opened.document.text), "fabric", "construction")
        return self.entry.asked(self.kind, str(construction or ""))

    @property
    def picture(self) -> Pictured:
        """The photograph of the lay that is shown: the one that was traced."""
        pictures = self.entry.pictures
        if self.answer is None:
            return pictures[self.entry.held or 0]
        return next(picture for picture in pictures if picture.digest == self.answer["digest"])

    @property
    def in_use(self) -> bool:
        """Whether the garment file holds this very tracing."""
        used = self.entry.used
        return used is not None and used.get("mark") == self.entry.mark(self.asked)

    def edges(self) -> dict[str, Any]:
        """Return the edges by name, each as points, px: those put by hand as they were put."""
        found = {edge["name"]: edge["px"] for edge in self.answer["edges"]} if self.answer else {}
        hand = {name: curve_through(points) for name, points in {**self.entry.edges, **self._live}.items()}
        return found | hand

    def handles(self, edge: str) -> list[Place]:
        """Return the few points through which an edge runs."""
        if edge in self._live:
            return self._live[edge]
        own = self.entry.edges.get(edge)
        if own is not None:
            return list(own)
        line = self.edges().get(edge)
        return [] if line is None else [(float(x), float(y)) for x, y in curve_points(line, NEAR_PX)]

    @property
    def thing(self) -> tuple[Place, ...]:
        """Corners of the card or paper that gives the scale, those on their way as they are now."""
        return (self._thing or self.entry.thing) if self.entry.by_thing else ()

    def chosen_edge(self) -> str:
        """Return the name of the edge that is chosen, by itself or by one of its points; or empty."""
        sort, _, name = self.chosen.partition(".")
        if sort == "curve":
            name = name.rpartition(".")[0]
        return name if sort in {"edge", "curve"} else ""

    # --- what a person does -------------------------------------------------------------------------------

    async def put(self, said: str, new: Callable[[PhotoEntry], Mapping[str, object]]) -> bool:
        """Change the photograph's entry.

        Args:
            said: What was done, for undo.
            new: Given the entry as it is when this change is due, returns the new values in it.
        """
        digest = self.picture.digest

        def aside() -> dict[str, Any]:
            entry = self.entry.but(**new(self.entry))
            return {"photos": self._photos(entry.but(drawn_in=digest if entry.drawn else ""))}

        return await self.view.change(None, said, aside=aside)

    async def put_hint(self, said: str, new: Callable[[Hint], Mapping[str, object]]) -> bool:
        """Change what was shown in the photograph; arguments as for ``put``, given the hint."""
        return await self.put(said, lambda entry: {"hint": {**dict(entry.hint), **new(entry.hint)}})

    async def trace(self) -> None:
        """Trace it, and keep a few figures of what came of it."""
        self._pressed = True
        try:
            self.tracer.want(self.entry, self.asked)
            self.found.show()
            await self.tracer.wanted()
        finally:
            self._pressed = False
        if self.answer is not None and not self._ended:
            traced = summary(self.answer)
            await self.put(say("photos.said_traced", name=self.name), lambda _: {"traced": traced})
            self.found.arrive()

    async def use(self) -> None:
        """Write what was traced into the garment file."""
        while True:
            document, entry = self.view.opened.document, self.entry
            before = entry.used or {}
            try:
                answer = await self.tracer.write(entry, self.asked, document.text, before.get("filled") or {})
            except LikesewnError as error:
                tell(words_of(error))
                return
            if self.view.opened.document.revision == document.revision:
                break
        if answer["text"] is None:
            tell(say("photos.no_scale"))
            return
        used = {
            "mark": entry.mark(self.asked),
            "name": answer["name"],
            "filled": answer["filled"],
            "edges": len(answer["edges"]),
        }
        photos = self._photos(entry.but(used=used, traced=summary(answer)))
        said = say("photos.said_used", name=self.name)
        await self.view.write(answer["text"], said, aside={**document.aside, "photos": photos})

    async def unuse(self) -> None:
        """Take out of the garment file what it holds of this photograph."""
        document, entry = self.view.opened.document, self.entry
        try:
            content = await without_photo(document.text, entry)
        except LikesewnError as error:
            tell(words_of(error))
            return
        photos = self._photos(entry.but(used=None))
        said = say("photos.said_unused", name=self.name)
        await self.view.write(content, said, aside={**document.aside, "photos": photos})

    def _photos(self, entry: PhotoEntry) -> list[dict[str, Any]]:
        return [(entry if one.name == self.name else one).data() for one in self.entries]

    def choose(self, id_: str) -> None:
        """Choose something in the drawing; an empty id chooses nothing."""
        before, self.chosen = (self.chosen_edge(), self.chosen == "thing"), id_
        if (self.chosen_edge(), self.chosen == "thing") != before:
            self.draw()
        self.view.drawing.choose(id_)
        self.choosing.show()

    def picked(self, id_: str) -> None:
        """Something in the drawing is picked; a corner of the card stands for the card."""
        id_ = "thing" if id_.startswith("thing.") else id_
        if not self._ended and not self.tools.doing and self.choosing.knows(id_):
            self.choose(id_)

    async def moved(self, to: Moved) -> None:
        """A handle is moved."""
        if self._ended:
            return
        at = self.inside(to.x, to.y)
        sort, _, name = to.id.partition(".")
        if sort == "corner" and to.done:
            said = say("photos.said_corner", corner=corner_title(name).lower())
            await self.put_hint(said, lambda hint: {"corners": {**hint.corners, name: at}})
        elif sort == "curve":
            edge, _, number = name.rpartition(".")
            points = self.handles(edge)
            if int(number) >= len(points):
                return
            points = [at if i == int(number) else point for i, point in enumerate(points)]
            if not to.done:
                self._live[edge] = points
                self.draw()
                return
            self._live.pop(edge, None)
            await self.put_edge(edge, points)
        elif sort == "thing" and name.isdigit() and int(name) < len(self.entry.thing):
            self._thing = thing = tuple(at if i == int(name) else old for i, old in enumerate(self.thing))
            if to.done:
                await self.put(say("photos.said_scale"), lambda _: {"thing": thing})
            else:
                self.draw()

    async def put_edge(self, edge: str, points: list[Place]) -> None:
        """Put an edge by hand through points."""
        said = say("photos.said_edge", edge=edge_title(edge).lower())
        await self.put(said, lambda entry: {"edges": {**entry.edges, edge: points}})

    async def placed(self, x: float, y: float) -> None:
        """A point is put down."""
        if not self._ended:
            await self.tools.placed(self.inside(x, y))

    def inside(self, x: float, y: float) -> Place:
        """Return a place of the photograph, drawn back into it where it lies outside."""
        picture = self.picture
        return (
            round(min(max(x, 0.0), picture.width - 1.0), 1),
            round(min(max(y, 0.0), picture.height - 1.0), 1),
        )

    # --- showing ------------------------------------------------------------------------------------------

    async def show(self) -> None:
        """Show the photograph as it is now, and have it traced anew where something about it changed."""
        entry = self.entry
        if entry.traced is not None or self._pressed:
            self.tracer.want(entry, self.asked)
        else:
            self.tracer.forget()
        self._live.clear()
        self._thing = ()
        self._show_all()

    async def _traced(self) -> None:
        if self._ended or not any(entry.name == self.name for entry in self.entries):
            return
        with self._box:
            self._show_all()

    def _show_all(self) -> None:
        self.laid.show()
        self.found.show()
        self.tools.show()
        self.choosing.show()
        self.draw()

    def draw(self) -> None:
        """Show the photograph in the drawing, with everything in it."""
        if not self._ended:
            self.view.draw(self.scene())

    def scene(self) -> Scene:
        """Return the photograph with what was found and drawn in it."""
        entry, answer, picture = self.entry, self.answer, self.picture
        hint = entry.hint
        edge = self.chosen_edge()
        corners = dict(answer["corners_px"]) if answer else {}
        corners |= {name: at for name, at in hint.corners.items() if not corners or name in corners}
        # what stands in for the sheets has no number; it is drawn by its corners
        numbered = [sheet for sheet in answer["sheets"] if sheet["number"]] if answer else []
        sheets = {sheet["number"]: np.array(sheet["outline_px"]) for sheet in numbered}
        found = answer["seams_px"] if answer else []
        seams = {
            str(i): np.array(found[i] if i < len(found) else seam.picked)
            for i, seam in enumerate(entry.seams)
        }
        lines = PhotoLines(
            sheets={number: px for number, px in sheets.items() if len(px) >= 3},
            outline=self._thin_outline(),
            settled=self.in_use,
            corners={name: (float(x), float(y)) for name, (x, y) in corners.items()},
            edges={name: np.array(px) for name, px in self.edges().items()},
            curve_points={edge: np.array(self.handles(edge))} if edge else {},
            seams=seams,
        )
        hand = {f"edge.{name}" for name in entry.edges} | {f"corner.{name}" for name in hint.corners}
        shown = Shown(
            lines,
            frozenset(hand),
            hint.rectangle,
            hint.round,
            hint.garment,
            hint.table,
            self.tools.points,
            self.tools.closed,
            self.tools.snapped,
            self.thing,
            {
                str(i): say("photos.seam_of", edge=edge_title(f"{s.piece}.{s.edge}"))
                for i, s in enumerate(entry.seams)
            },
            whole=self.tools.doing in {"box", "round", "thing"} or self.chosen == "thing",
        )
        url = preview_url(picture.digest)
        return tracing_scene(url, (picture.width, picture.height), picture.name, shown, self.view.unit)

    def _thin_outline(self) -> Any:  # noqa: ANN401 - an array, or nothing
        if self.answer is None:
            return None
        if self._outline[0] != self.tracer.mark:
            self._outline = self.tracer.mark, thinned(self.answer["outline_px"], closed=True)
        return self._outline[1]

    def follow_later(self, awaited: Awaitable[None]) -> None:
        """Do something that takes a while, the page going on meanwhile."""
        background_tasks.create(awaited)

    def end(self) -> None:
        """Let go of the drawing."""
        self._ended = True
        self.tracer.forget()
        self.choosing.end()


def summary(answer: Mapping[str, Any]) -> dict[str, float | None]:
    """Return the few figures of a tracing that are kept with its photograph."""
    return {
        "sheets": len(answer["sheets"]),
        "corners": len(answer["corners_px"]),
        "edges": len(answer["edges"]),
        "mm_per_px": answer["mm_per_px"],
    }
