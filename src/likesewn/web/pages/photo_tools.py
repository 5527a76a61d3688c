"""Points put down in a photograph: a box, a line round it, strokes, a seam, corners, a point of a curve."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from likesewn.errors import InputError, LikesewnError
from likesewn.garment import Kind
from likesewn.garment.keys import traced_edges
from likesewn.photo.drawn_line import line_problem
from likesewn.web.curves import with_point
from likesewn.web.pages.frame import words_of
from likesewn.web.photo_entry import Place, Seam
from likesewn.web.scenes.tracing import edge_title
from likesewn.web.widgets import Field, button, node, reword, text
from likesewn.web.words import say

if TYPE_CHECKING:
    from nicegui.element import Element

    from likesewn.web.pages.photo_work import PhotoWork

__all__ = ["Tools"]

LEAST_BOX = 8.0
"""Sides of a box, px, below which it is a slip of the hand."""

ENOUGH = {"point": 1, "garment": 2, "table": 2, "seam": 2, "round": 3, "thing": 4}
"""How few points a tool can do something with."""

ENDED = ("garment", "table", "seam", "round")
"""Tools whose points a person ends when there are enough."""

SAME = 0.03
"""Distance from the first point, as a share of the line's height, within which a tap means that point: no two
corners lie so near."""


@dataclass(frozen=True, slots=True)
class _Tool:
    """How a tool takes points: ``most`` of them end it by themselves, 0 where the person does."""

    most: int = 0
    closed: bool = False


TOOLS = {
    "box": _Tool(2),
    "round": _Tool(closed=True),
    "garment": _Tool(),
    "table": _Tool(),
    "seam": _Tool(),
    "thing": _Tool(4, closed=True),
    "point": _Tool(1),
}


class Tools:
    """The tools, and the points put down so far.

    Attributes:
        doing: Name of the tool in hand; empty for none.
        points: Points put down so far.
        snapped: The path of a seam through them, or None.
    """

    def __init__(self, work: "PhotoWork") -> None:
        """Build them."""
        self._work = work
        self.doing = ""
        self.points: list[Place] = []
        self.snapped: list[list[float]] | None = None
        self._seam_edges: list[tuple[str, str]] = []
        with node("div", "ls-doing ls-stack", role="group", aria_label=say("photos.doing")) as self._bar:
            self._says = text("", "p", role="status")
            self._edge = Field(
                say("photos.seam_edge"),
                "",
                self._told_edge,
                tag="select",
            )
            self._refused = text("", "p", "ls-error", role="alert")
            with node("div", "ls-row"):
                self._finish = button(say("photos.finish"), self.finish, "main")
                self._back = button(say("photos.back"), self.back)
                button(say("frame.cancel"), self.cancel)
        self._choice: Element | None = None
        self.show()

    def offer(self) -> None:
        """Put the choice of tools on the page, here."""
        work = self._work
        with node("div", "ls-stack") as self._choice:
            text(say("photos.tools"), "p", "ls-fold-title")
            text(say("photos.tools_about"), "p", "ls-soft ls-small")
            with node("div", "ls-row"):
                for name in ("round", "box", "garment", "table", "seam"):
                    if name != "seam" or (work.kind and work.kind.silhouette):
                        button(say(f"photos.tool_{name}"), lambda name=name: self.begin(name))

    @property
    def closed(self) -> bool:
        """Whether the points go round something."""
        return bool(self.doing) and TOOLS[self.doing].closed and len(self.points) > 2

    def begin(self, tool: str) -> None:
        """Take a tool in hand."""
        self.doing, self.points, self.snapped = tool, [], None
        reword(self._refused, "")
        self._work.view.drawing.mode("place")
        self._work.choose("" if tool != "point" else self._work.chosen)
        self._after()

    def cancel(self) -> None:
        """Put it down; nothing comes of its points."""
        self.doing, self.points, self.snapped = "", [], None
        reword(self._refused, "")
        self._work.view.drawing.mode("move")
        self._after()

    async def back(self) -> None:
        """Take the last point back."""
        self.points = self.points[:-1]
        reword(self._refused, "")
        self._after()
        await self._follow()

    async def placed(self, at: Place) -> None:
        """A point is put down."""
        if not self.doing:
            return
        if self._is_round(at):
            await self.finish()
            return
        self.points = [*self.points, at]
        reword(self._refused, "")
        most = TOOLS[self.doing].most
        if most and len(self.points) >= most:
            await self.finish()
            return
        self._after()
        await self._follow()

    async def finish(self) -> None:
        """Let the points count."""
        tool, points = self.doing, list(self.points)
        work = self._work
        if tool == "box":
            (x0, y0), (x1, y1) = points
            box = (min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
            if min(box[2] - box[0], box[3] - box[1]) < LEAST_BOX:
                self.points = points[:1]
                self._after()
                return
            self.cancel()
            await work.put_hint(say("photos.said_box"), lambda _: {"rectangle": box})
        elif len(points) < ENOUGH[tool]:
            return
        elif tool == "round":
            await self._finish_round(points)
        elif tool in {"garment", "table"}:
            self.cancel()
            await work.put_hint(
                say(f"photos.said_{tool}"), lambda hint: {tool: (*getattr(hint, tool), tuple(points))}
            )
        elif tool == "thing":
            self.cancel()
            await work.put(say("photos.said_scale"), lambda _: {"thing": tuple(points)})
        elif tool == "seam":
            piece, _, edge = str(self._edge.value).partition(".")
            self.cancel()
            seam = Seam(piece=piece, edge=edge, picked=tuple(points))
            said = say("photos.said_seam", edge=edge_title(f"{piece}.{edge}").lower())
            await work.put(said, lambda entry: {"seams": (*entry.seams, seam)})
        elif tool == "point":
            edge = work.chosen_edge()
            self.cancel()
            if edge:
                new, where = with_point(work.handles(edge), points[0])
                work.choose(f"curve.{edge}.{where}")
                await work.put_edge(edge, new)

    async def _finish_round(self, points: list[Place]) -> None:
        problem = line_problem(np.array(points), "")
        if problem is not None:
            reword(self._refused, words_of(InputError(problem)))
            self._after()
            return
        self.cancel()
        await self._work.put_hint(say("photos.said_round"), lambda _: {"round": tuple(points)})

    def _is_round(self, at: Place) -> bool:
        """Return whether a line has come back to its first point."""
        if self.doing != "round" or len(self.points) < ENOUGH["round"]:
            return False
        px = np.array(self.points)
        return bool(np.hypot(*(px[0] - at)) < max(SAME * float(np.ptp(px[:, 1])), LEAST_BOX))

    def _told_edge(self, name: str) -> None:
        self._edge.input.props["value"] = name

    async def _follow(self) -> None:
        """Show the path that a seam takes; what is put down meanwhile counts more."""
        picked = list(self.points)
        if self.doing != "seam" or len(picked) < 2:
            self.snapped = None
            return
        try:
            path = await self._work.tracer.follow(self._work.picture.digest, [list(at) for at in picked])
        except LikesewnError as error:
            reword(self._refused, words_of(error))
            path = None
        if self.doing == "seam" and picked == self.points:
            self.snapped = path
            self._after()

    def _after(self) -> None:
        self.show()
        self._work.draw()

    def show(self) -> None:
        """Show the tool in hand, or the choice of tools."""
        doing = self.doing
        edges = inner_edges(self._work.kind, self._work.entry.face)
        if edges != self._seam_edges:
            self._seam_edges = edges
            self._edge.offer(edges)
            self._edge.show(edges[0][0] if edges else "")
        self._bar.set_visibility(bool(doing))
        if self._choice is not None:
            self._choice.set_visibility(not doing)
        if not doing:
            return
        reword(self._says, say(f"photos.do_{doing}", n=len(self.points)))
        self._edge.box.set_visibility(doing == "seam")
        self._refused.set_visibility(bool(self._refused._text))  # noqa: SLF001 - as in ``widgets.text``
        self._finish.set_visibility(doing in ENDED)
        self._finish.props["disabled"] = len(self.points) < ENOUGH.get(doing, 0)
        self._finish.update()
        self._back.props["disabled"] = not self.points
        self._back.update()


def inner_edges(kind: Kind | None, face: str) -> list[tuple[str, str]]:
    """Return the edges that a seam may be, those inside the outline first, with their titles."""
    if kind is None or kind.silhouette is None:
        return []
    shape = kind.silhouette
    face = face or shape.faces[0]
    outer = {f"{face}.{shape.closing_edge}"}
    for corner in shape.corners:
        outer.add(corner.edge if "." in corner.edge else f"{face}.{corner.edge}")
    pieces = [piece.name for piece in kind.pieces if piece.name == face or piece.name not in shape.faces]
    names = [f"{piece}.{edge}" for piece in pieces for edge in traced_edges(kind, piece)]
    return [(name, edge_title(name)) for name in sorted(names, key=lambda name: name in outer)]
