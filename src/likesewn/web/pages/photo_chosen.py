"""What is chosen in a photograph: corners, edges, points, seams and hints by name, and what can be done."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, TypeVar

from likesewn.web.curves import LEAST
from likesewn.web.scenes.tracing import corner_title, edge_title
from likesewn.web.widgets import Field, button, node, reword
from likesewn.web.words import say

if TYPE_CHECKING:
    from likesewn.web.pages.photo_work import PhotoWork

__all__ = ["Chosen"]

T = TypeVar("T")


class Chosen:
    """A list to choose from without the drawing, and the acts on what is chosen."""

    def __init__(self, work: "PhotoWork") -> None:
        """Build it."""
        self._work = work
        self._names: list[str] = []
        with node("div", "ls-stack") as self._box:
            self._field = Field(
                say("photos.chosen"),
                "",
                self._told,
                tag="select",
                options=[("", say("photos.nothing_chosen"))],
                help_text=say("photos.chosen_help"),
            )
            with node("div", "ls-row"):
                self._add = button(say("photos.add_point"), lambda: work.tools.begin("point"))
                self._remove = button(say("photos.remove_it"), self._act)

    def knows(self, id_: str) -> bool:
        """Return whether something of this id can be chosen."""
        return id_ in self._names

    def _told(self, id_: str) -> None:
        self._field.input.props["value"] = id_
        self._work.choose(id_)

    async def _act(self) -> None:
        """Remove what is chosen, or let it be as it was found."""
        work = self._work
        sort, _, name = work.chosen.partition(".")
        said = say("photos.said_remove", what=self._title(work.chosen).lower())
        if sort == "corner":
            await work.put_hint(said, lambda hint: {"corners": _without(hint.corners, name)})
        elif sort == "edge":
            await work.put(said, lambda entry: {"edges": _without(entry.edges, name)})
        elif sort == "curve":
            edge, _, number = name.rpartition(".")
            points = [at for i, at in enumerate(work.handles(edge)) if i != int(number)]
            work.choose(f"edge.{edge}")
            await work.put_edge(edge, points)
        elif sort == "seam":
            seam = work.entry.seams[int(name)]
            await work.put(said, lambda entry: {"seams": tuple(one for one in entry.seams if one != seam)})
        elif sort in {"garment", "table"}:
            stroke = getattr(work.entry.hint, sort)[int(name)]
            await work.put_hint(
                said, lambda hint: {sort: tuple(one for one in getattr(hint, sort) if one != stroke)}
            )
        elif sort == "round":
            await work.put_hint(said, lambda _: {"round": ()})
        elif sort == "box":
            await work.put_hint(said, lambda _: {"rectangle": None})
        elif sort == "thing":
            await work.put(said, lambda _: {"thing": ()})

    def show(self) -> None:
        """Show what there is to choose, and what can be done with what is chosen."""
        work, entry = self._work, self._work.entry
        answer, edge = work.answer, work.chosen_edge()
        corners = [*(answer["corners_px"] if answer else entry.hint.corners)]
        names = [f"corner.{name}" for name in corners]
        for name in work.edges():
            names.append(f"edge.{name}")
            if name == edge:
                names += [f"curve.{name}.{i}" for i in range(len(work.handles(name)))]
        names += [f"seam.{i}" for i in range(len(entry.seams))]
        hint = entry.hint
        names += ["box"] if hint.rectangle else []
        names += ["round"] if hint.round else []
        names += [f"{sort}.{i}" for sort in ("garment", "table") for i in range(len(getattr(hint, sort)))]
        names += ["thing"] if len(work.thing) == 4 else []
        if names != self._names:
            self._names = names
            titles = [(name, self._title(name)) for name in names]
            self._field.offer([("", say("photos.nothing_chosen")), *titles])
        if work.chosen and work.chosen not in names:
            work.chosen = f"edge.{edge}" if f"edge.{edge}" in names else ""
            work.view.drawing.choose(work.chosen)
        self._field.show(work.chosen)
        self._box.set_visibility(bool(names) and not work.tools.doing)
        self._show_acts(work.chosen)

    def _show_acts(self, chosen: str) -> None:
        work, entry = self._work, self._work.entry
        sort, _, name = chosen.partition(".")
        found = sort in {"corner", "edge"}
        by_hand = (sort == "corner" and name in entry.hint.corners) or (
            sort == "edge" and name in entry.edges
        )
        can = by_hand if found else bool(chosen)
        if sort == "curve":
            can = len(work.handles(work.chosen_edge())) > LEAST
        reword(self._remove, say("photos.as_found") if found else say("photos.remove_it"))
        self._remove.props["disabled"] = not can
        self._remove.update()
        self._add.props["disabled"] = not work.chosen_edge()
        self._add.update()

    def _title(self, id_: str) -> str:
        sort, _, name = id_.partition(".")
        if sort == "corner":
            return say("photos.a_corner", what=corner_title(name))
        if sort == "edge":
            return say("photos.an_edge", what=edge_title(name))
        if sort == "curve":
            edge, _, number = name.rpartition(".")
            return say("photos.a_point", what=edge_title(edge), number=int(number) + 1)
        if sort == "seam":
            seam = self._work.entry.seams[int(name)]
            return say("photos.seam_of", edge=edge_title(f"{seam.piece}.{seam.edge}"))
        if sort in {"garment", "table"}:
            return say(f"photos.a_{sort}", number=int(name) + 1)
        return say(f"photos.a_{sort}")

    def end(self) -> None:
        """Let go of the drawing's choice."""
        self._work.view.drawing.choose("")


def _without(known: Mapping[str, T], name: str) -> dict[str, T]:
    return {key: one for key, one in known.items() if key != name}
