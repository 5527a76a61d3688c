"""Cutting: the allowance of each edge, ease, bands and finishes, with the pieces as they are cut."""

import asyncio
from collections.abc import Callable, Mapping
from functools import partial
from itertools import count
from typing import TYPE_CHECKING

from likesewn.cut import Band, CutList
from likesewn.errors import LikesewnError
from likesewn.garment import Kind
from likesewn.garment.editing import Change
from likesewn.garment.kind import FinishKind
from likesewn.garment.together import BANDED
from likesewn.units import format_length, format_share
from likesewn.web.allowing import EdgeAllowance, edge_allowances
from likesewn.web.desk import Opened
from likesewn.web.figures import file_values
from likesewn.web.pages.garment import View
from likesewn.web.pages.keyed import Keyed, typed
from likesewn.web.pages.making import (
    Gate,
    fold,
    show_findings,
    show_table,
    table_of,
    together,
)
from likesewn.web.scenes import cut_scene
from likesewn.web.scenes.wording import plain
from likesewn.web.trying import tried
from likesewn.web.widgets import Field, heading, node, reword, text
from likesewn.web.words import say

if TYPE_CHECKING:
    from nicegui.element import Element

__all__ = ["build"]


def build(view: View) -> None:
    """Build the stage's form and listen to its drawing."""
    page = _Cut(view)
    view.changed = page.show
    view.drawing.on_pick(page.pick)


class _Cut:
    def __init__(self, view: View) -> None:
        self.view = view
        self.gate = Gate(view)
        self.keyed = Keyed(view, self.try_out)
        self.kind: Kind | None = None
        self.edges: dict[str, EdgeAllowance] = {}
        self.chosen = view.asked.get("edge", "")
        self.tries = count(1)
        self.newest = 0
        self.figures: dict[str, Element] = {}
        self.strips: dict[str, Element] = {}

    # --- showing ----------------------------------------------------------------------------------------

    async def show(self) -> None:
        opened = self.view.opened
        self.newest = next(self.tries)
        stages = await asyncio.to_thread(opened.cut)
        if opened is not self.view.opened or not self.gate.opened() or stages is None:
            return
        kind = opened.kind
        if kind is not None and kind is not self.kind:
            self.kind = kind
            self.build(kind)
        self.draw(opened)
        self.keyed.show()
        self.edges = {edge.id: edge for edge in edge_allowances(opened)}
        self.edge_field.offer(
            [("", say("cut.no_edge")), *((e.id, self.words(e)) for e in self.edges.values())]
        )
        self.show_edge()
        self.show_lists(stages.cut_list)

    def draw(self, opened: Opened) -> None:
        stages = opened.cut()
        if stages is not None:
            self.view.draw(cut_scene(stages.cut_list, stages.record))

    def words(self, edge: EdgeAllowance) -> str:
        length = format_length(edge.mm, self.view.unit)
        return together(say("cut.edge_option", piece=edge.piece, edge=plain(edge.edge), allowance=length))

    # --- the form ---------------------------------------------------------------------------------------

    def build(self, kind: Kind) -> None:
        self.gate.body.clear()
        with self.gate.body:
            with node("section", "ls-stack ls-card-like", aria_labelledby="cut-edge"):
                heading(say("cut.an_edge"), 3, id="cut-edge")
                self.edge_field = Field(
                    say("cut.which_edge"), "", self.pick, tag="select", help_text=say("cut.point")
                )
                self.about = node("div", "ls-stack")
                with self.about:
                    self.allowance = Field(say("cut.allowance"), "", self.give, typing=self.type)
                    self.scope = Field(say("cut.holds_for"), "own", self.show_scope, tag="select")
                self.follows = text(say("cut.follows"), "p", "ls-soft")
            self.findings = node("section", "ls-stack", aria_label=say("cut.findings"))
            self.usual(kind)
            for finish in kind.finishes:
                self.finish(kind, finish)
            with fold(say("cut.ease")):
                text(table_of(kind, "ease").about, "p", "ls-soft ls-small")
                for key in table_of(kind, "ease").keys:
                    label = say("cut.ease_of", seam=key.name)
                    self.keyed.add(key, f'ease."{key.name}"', label)
            self.pieces = node("section", "ls-stack", aria_labelledby="cut-pieces")
            with fold(say("cut.notches")):
                self.notches = node("div")

    def usual(self, kind: Kind) -> None:
        with node("section", "ls-stack", aria_labelledby="cut-usual"):
            heading(say("cut.usual"), 3, id="cut-usual")
            with node("div", "ls-pairs"):
                for key in table_of(kind, "allowances").keys:
                    if key.name in {"seam", "hem"}:
                        self.keyed.add(
                            key, f"allowances.{key.name}", say(f"cut.usual_{key.name}"), typing=True
                        )

    def finish(self, kind: Kind, finish: FinishKind) -> None:
        band = "band" if len(kind.finishes) == 1 else f"band.{finish.name}"
        strips = table_of(kind, "band")
        keys = strips.keys or next((t.keys for t in strips.parts if t.name == finish.name), ())

        def unbanded(value: Change) -> dict[str, Change]:
            # what is said of a band would be a fault without one
            without = value in finish.finishes and value not in BANDED
            return {f"{band}.{key.name}": None for key in keys} if without else {}

        with node("section", "ls-stack", aria_labelledby=f"cut-{finish.name}"):
            heading(finish.title, 3, id=f"cut-{finish.name}")
            for key in table_of(kind, "garment").keys:
                what = key.name.removeprefix(f"{finish.name}_")
                if what != key.name:
                    label = say(f"cut.{what}")
                    self.keyed.add(key, f"garment.{key.name}", label, also=unbanded)
            with node("div", "ls-pairs") as self.strips[finish.name]:
                for key in keys:
                    label = say(f"cut.band_{key.name}")
                    self.keyed.add(key, f"{band}.{key.name}", label, typing=True)
            self.figures[finish.name] = node("div", "ls-stack")

    def show_lists(self, cut_list: CutList) -> None:
        unit = self.view.unit
        show_findings(self.findings, cut_list.findings, self.view)
        moved = {rule.name: rule.message for rule in cut_list.finishes}
        bands = {band.name: band for band in cut_list.bands}
        for finish in self.kind.finishes if self.kind else ():
            self.strips[finish.name].set_visibility(finish.band in bands)
            box = self.figures[finish.name]
            box.clear()
            with box:
                if finish.name in moved:
                    text(together(moved[finish.name]))
                if finish.band in bands:
                    _band(bands[finish.band], unit)
        self.pieces.clear()
        with self.pieces:
            heading(say("cut.pieces"), 3, id="cut-pieces")
            rows = [
                (
                    piece.title,
                    say("cut.copies_fold" if piece.on_fold else "cut.copies", n=piece.copies),
                    piece.cloth,
                )
                for piece in cut_list.pieces
            ]
            columns = (say("cut.piece"), say("cut.cut"), say("cut.cloth"))
            show_table(columns, rows, title=say("cut.pieces"))
        self.notches.clear()
        with self.notches:
            rows = [
                (
                    notch.name,
                    say("cut.place", piece=piece.title, edge=plain(notch.edge)),
                    format_length(notch.along_mm, unit),
                    say("cut.double" if notch.marks > 1 else "cut.single"),
                )
                for piece in cut_list.pieces
                for notch in piece.notches
            ]
            columns = (say("cut.notch"), say("cut.where"), say("cut.along"), say("cut.mark"))
            show_table(columns, rows, title=say("cut.notches"), numbers=(2,))

    # --- one edge ---------------------------------------------------------------------------------------

    def pick(self, id_: str) -> None:
        """Choose an edge, by pointing at it or from the list; a piece as a whole has no allowance."""
        if self.kind is None or (id_ and id_ not in self.edges):
            return
        self.chosen = id_
        self.show_edge(fresh=True)

    def show_edge(self, *, fresh: bool = False) -> None:
        edge = self.edges.get(self.chosen)
        self.view.drawing.choose(edge.id if edge else "")
        self.edge_field.show(edge.id if edge else "")
        self.about.set_visibility(bool(edge and edge.scopes))
        self.follows.set_visibility(bool(edge and not edge.scopes))
        if edge is None or not edge.scopes:
            return
        length = format_length(edge.mm, self.view.unit)
        names = {"piece": edge.piece.lower(), "edge": plain(edge.edge)}
        reword(self.allowance.label, together(say("cut.allowance_of", allowance=length, **names)))
        self.allowance.show(length)
        self.scope.offer([(scope, say(f"cut.for_{scope}", **names)) for scope in edge.scopes])
        if fresh or self.scope.value not in edge.scopes:
            self.scope.show(edge.given if edge.given in {"own", "named"} else edge.scopes[0])
            self.allowance.refuse("")

    def show_scope(self, scope: str) -> None:
        self.scope.show(scope)

    def changes(self, value: str) -> Callable[[], Mapping[str, Change]] | None:
        """Return what gives the changes for what was typed, or None where no edge is chosen.

        They are for the edge that is chosen now, and go by the garment file as it is when they are asked for.
        """
        edge, kind, scope = self.edges.get(self.chosen), self.kind, str(self.scope.value)
        if edge is None or kind is None or not edge.scopes:
            return None
        key = next(key for key in table_of(kind, "allowances").keys if key.name == "seam")
        return lambda: edge.changes(file_values(self.view.opened.document.text), scope, typed(key, value))

    async def give(self, value: str) -> None:
        """Store an allowance."""
        changes, edge = self.changes(value), self.edges.get(self.chosen)
        if changes is None or edge is None:
            return
        said = say("cut.said", piece=edge.piece.lower(), edge=plain(edge.edge))
        if not await self.view.change(changes, said, refuse=self.allowance.refuse):
            self.draw(self.view.opened)

    async def type(self, value: str) -> None:
        """Show what an allowance that is being typed would make."""
        changes = self.changes(value)
        if changes is not None:
            await self.try_out(changes())

    async def try_out(self, changes: Mapping[str, Change]) -> None:
        """Draw what changes would make, unless something newer came; nothing is stored."""
        mine = self.newest = next(self.tries)
        now = self.view.opened
        try:
            seen = await asyncio.to_thread(_tried, now, changes)
        except LikesewnError:
            return
        if mine == self.newest and now is self.view.opened and seen.ready() is not None:
            self.draw(seen)


def _tried(opened: Opened, changes: Mapping[str, Change]) -> Opened:
    seen = tried(opened, changes)
    seen.cut()
    return seen


def _band(band: Band, unit: str) -> None:
    length = partial(format_length, unit=unit)
    ahead = (
        say("cut.ahead", mm=length(abs(band.quarter_ahead_mm)))
        if abs(band.quarter_ahead_mm) >= 1
        else say("cut.level")
    )
    rows = [
        (say("cut.cut_length"), length(band.cut_length_mm)),
        (say("cut.cut_width"), length(band.cut_width_mm)),
        (say("cut.shows"), length(band.finished_width_mm)),
        (say("cut.edge_round"), length(band.edge_mm)),
        (say("cut.stretch"), format_share(band.strain)),
        (say("cut.ratio"), format_share(band.ratio)),
        (say("cut.trade"), format_share(band.trade_ratio)),
        (say("cut.bound"), format_share(band.bound_ratio)),
        (say("cut.quarters"), ", ".join(length(mm) for mm in band.quarters_mm)),
        (say("cut.quarters_ahead"), ahead),
    ]
    show_table((band.title, say("cut.figure")), rows, title=band.title, numbers=(1,))
