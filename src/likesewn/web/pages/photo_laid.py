"""How a photograph's garment was laid: which face is up, how thick it is, and what gives the scale."""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from nicegui.element import Element

from likesewn.errors import InputError, Problem
from likesewn.garment import Kind
from likesewn.units import PAPER, UnitError, parse_length
from likesewn.web.pages.frame import words_of
from likesewn.web.pages.shelf import problems_text
from likesewn.web.photo_entry import MOST_OF_A_LAY, PhotoEntry, Pictured
from likesewn.web.widgets import Field, Sender, button, node, reword, text
from likesewn.web.words import say

if TYPE_CHECKING:
    from likesewn.web.pages.photo_work import PhotoWork

__all__ = ["Laid"]

ACCEPT = "image/jpeg,image/png,image/heic,image/heif,.heic,.heif"
PAPERS = ("a3", "a4", "a5", "letter")


def scale_title(scale: str) -> str:
    """Return what gives the scale in words: ``card`` as ``A bank card``; nothing where it is none of ours."""
    if scale in PAPER:
        return say("photos.scale_paper", paper=scale.capitalize())
    return say(f"photos.scale_{scale}") if scale in {"sheets", "card", "measure"} else ""


class Laid:
    """The fields."""

    def __init__(self, work: "PhotoWork") -> None:
        """Build them."""
        self._work = work
        self._listed: tuple[Pictured, ...] = ()
        kind = work.kind
        if kind is None or kind.silhouette is None:
            text(say("photos.no_corners"), "p", "ls-soft")
        with node("details", "ls-fold", open=True) as self._fold:
            with node("summary"):
                text(say("photos.laid"), "span", "ls-fold-title")
                self._laid_says = text("", "span", "ls-soft ls-small")
            with node("div", "ls-stack"):
                self._build(kind)

    def _build(self, kind: Kind | None) -> None:
        silhouette = kind.silhouette if kind else None
        with node("div", "ls-pairs"):
            self._face: Field | None = None
            if kind and silhouette and len(silhouette.faces) > 1:
                faces = [(face, kind.piece(face).title) for face in silhouette.faces]
                self._face = Field(say("photos.face"), "", self._told_face, tag="select", options=faces)
            self._thickness = Field(
                say("photos.thickness"),
                "",
                self._told_thickness,
                help_text=say("photos.thickness_help"),
                maxlength=40,
            )
        measures = self._measures()
        names = ["sheets", "card", *(name for name in PAPERS if name in PAPER), *["measure"] * bool(measures)]
        scales = [(name, scale_title(name)) for name in names]
        self._scale = Field(say("photos.scale"), "", self._told_scale, tag="select", options=scales)
        with node("div", "ls-pairs") as self._rulers_box:
            self._rulers = [
                Field(say(f"photos.ruler_{way}"), "", lambda v, i=i: self._told_ruler(i, v), maxlength=40,
                      placeholder="200 mm")
                for i, way in enumerate(("along", "across"))
            ]  # fmt: skip
        self._rulers_help = text(say("photos.ruler_help"), "p", "ls-help")
        with node("div", "ls-stack") as self._thing_box:
            self._thing_says = text("", "p", role="status")
            with node("div", "ls-row"):
                button(say("photos.pick_thing"), lambda: self._work.tools.begin("thing"))
        with node("div", "ls-pairs") as self._measure_box:
            self._measure = Field(
                say("photos.measure"), "", self._told_measure, tag="select", options=measures
            )
            self._length = Field(say("photos.length"), "", self._told_length, maxlength=40)
        self._more()

    def _more(self) -> None:
        with node("details", "ls-fold"):
            with node("summary"):
                text(say("photos.more"), "span", "ls-fold-title")
                self._more_says = text("", "span", "ls-soft ls-small")
            text(say("photos.more_about"), "p", "ls-soft ls-small")
            self._more_alone = text(say("photos.more_alone"), "p", "ls-small")
            self._more_list = node("ul", "ls-plain")
            Sender(
                say("photos.more_add"), "/api/photos", self._sent, accept=ACCEPT, busy=say("photos.sending")
            )
            self._refused = text("", "p", "ls-error", role="alert")
            self._refused.set_visibility(False)

    def _measures(self) -> list[tuple[str, str]]:
        """Return the measures between two corners that a photograph shows, by key."""
        kind = self._work.kind
        if kind is None or kind.silhouette is None:
            return []
        corners = {corner.name for corner in kind.silhouette.corners}
        return [
            (key, measure.title)
            for key, measure in kind.measures.items()
            if measure.op == "across" and len(measure.corners) == 1 and measure.corners[0] in corners
        ]

    # --- what a person does -------------------------------------------------------------------------------

    async def _told_face(self, face: str) -> None:
        await self._work.put(say("photos.said_face"), lambda _: {"face": face})

    async def _told_thickness(self, typed: str) -> None:
        if (length := self._length_of(self._thickness, typed, "mm")) is not None:
            await self._work.put(say("photos.said_thickness"), lambda _: {"thickness": length})

    async def _told_scale(self, scale: str) -> None:
        def new(entry: PhotoEntry) -> dict[str, object]:
            measure = {"measure": self._measures()[0][0]} if scale == "measure" and not entry.measure else {}
            return {"scale": scale, **measure}

        await self._work.put(say("photos.said_scale"), new)

    async def _told_ruler(self, number: int, typed: str) -> None:
        if (length := self._length_of(self._rulers[number], typed, "mm")) is not None:

            def new(entry: PhotoEntry) -> dict[str, object]:
                rulers = [*entry.rulers, "", ""][:2]
                rulers[number] = length
                return {"rulers": tuple(rulers if any(rulers) else ())}

            await self._work.put(say("photos.said_ruler"), new)

    async def _told_measure(self, key: str) -> None:
        await self._work.put(say("photos.said_scale"), lambda _: {"measure": key})

    async def _told_length(self, typed: str) -> None:
        if (length := self._length_of(self._length, typed, self._work.view.unit)) is not None:
            await self._work.put(say("photos.said_scale"), lambda _: {"length": length})

    @staticmethod
    def _length_of(field: Field, typed: str, unit: str) -> str | None:
        """Return a length with its unit as typed; None where it is none, which is said at the field."""
        field.input.props["value"] = typed
        typed = typed.strip()
        if not typed:
            field.refuse("")
            return ""
        try:
            own = parse_length(typed, "mm").mm == parse_length(typed, "cm").mm
        except UnitError as error:
            problem = Problem(error.message, found=typed[:40], allowed=error.allowed)
            field.refuse(words_of(InputError(problem)))
            return None
        field.refuse("")
        return typed if own else f"{typed} {unit}"

    async def _sent(self, answer: dict[str, Any]) -> None:
        self._refused.set_visibility(not answer["ok"])
        if not answer["ok"]:
            reword(self._refused, problems_text(answer))
            return
        entry = self._work.entry
        taken = Pictured(**{key: answer[key] for key in ("digest", "name", "width", "height")})
        if (
            taken.digest in {picture.digest for picture in entry.pictures}
            or len(entry.more) >= MOST_OF_A_LAY - 1
        ):
            reword(self._refused, say("photos.more_refused", most=MOST_OF_A_LAY))
            self._refused.set_visibility(True)
            return
        await self._put_more(lambda more: (*more, taken))

    async def _put_more(self, new: Callable[[tuple[Pictured, ...]], tuple[Pictured, ...]]) -> None:
        # another of the photographs may now be the one that is traced, and what was drawn lies in the old one
        await self._work.put(
            say("photos.said_more"), lambda entry: dict(entry.undrawn().but(more=new(entry.more)))
        )

    # --- showing ------------------------------------------------------------------------------------------

    def show(self) -> None:
        """Show what is kept."""
        entry = self._work.entry
        kind = self._work.kind
        if self._fold.props.get("open", False) != (entry.traced is None):
            self._fold.props["open"] = entry.traced is None
            self._fold.update()
        face = ""
        if kind and kind.silhouette:
            face = say("photos.laid_face", face=kind.piece(entry.face or kind.silhouette.faces[0]).title)
        reword(self._laid_says, f"{face} {scale_title(entry.scale)}".strip())
        if self._face is not None and kind and kind.silhouette:
            self._face.show(entry.face or kind.silhouette.faces[0])
        self._thickness.show(entry.thickness)
        self._scale.show(entry.scale)
        for i, field in enumerate(self._rulers):
            field.show(entry.rulers[i] if i < len(entry.rulers) else "")
        sheets, measured = entry.scale == "sheets", entry.scale == "measure"
        self._rulers_box.set_visibility(sheets)
        self._rulers_help.set_visibility(sheets)
        self._thing_box.set_visibility(not sheets and not measured)
        self._measure_box.set_visibility(measured)
        picked = len(entry.thing) == 4
        reword(self._thing_says, say("photos.thing_there") if picked else say("photos.thing_missing"))
        self._measure.show(entry.measure)
        self._length.show(entry.length)
        self._show_more(entry)

    def _show_more(self, entry: PhotoEntry) -> None:
        reword(self._more_says, say("photos.more_count", n=len(entry.pictures)))
        self._more_alone.set_visibility(entry.scale != "sheets")
        if entry.more == self._listed:
            return  # a button that is made afresh loses the focus, and a click that is under way
        self._listed = entry.more
        self._more_list.clear()
        with self._more_list:
            for picture in entry.more:
                self._one_more(picture)

    def _one_more(self, picture: Pictured) -> Element:
        async def remove() -> None:
            await self._put_more(lambda more: tuple(one for one in more if one.digest != picture.digest))

        with node("li", "ls-row") as row:
            text(picture.name, "span", "ls-path ls-grow", dir="auto")
            button(say("photos.remove"), remove, "plain", label=say("photos.remove_one", name=picture.name))
        return row
