"""True: the garment before and after truing, what it has to say, and how sure each measure is."""

import asyncio
from collections.abc import Callable
from functools import partial
from itertools import count
from typing import Literal, TypeAlias

from nicegui import ui
from nicegui.element import Element

from likesewn.garment import Finding, Kind, Pattern
from likesewn.garment.template import template_pattern
from likesewn.job import weightiest_first
from likesewn.truing import Explained, Untrued
from likesewn.web.desk import Opened
from likesewn.web.pages import true_tables
from likesewn.web.pages.acts import Act, acts_for, measures_at, measures_named
from likesewn.web.pages.frame import finding_box
from likesewn.web.pages.garment import View
from likesewn.web.pages.tape import title_of
from likesewn.web.scene import Scene
from likesewn.web.scenes.pieces import pattern_scene
from likesewn.web.scenes.truing import truing_scene
from likesewn.web.widgets import Typed, button, heading, link, node, text
from likesewn.web.widgets.rows import Rows
from likesewn.web.words import say

__all__ = ["build"]

Which: TypeAlias = Literal["before", "after", "both"]
WHICH: tuple[Which, ...] = ("before", "after", "both")

MOVES = 6
"""Moves told: the largest ones; the drawing tells the rest."""

_NUMBERS = count(1)


class _True:
    """One window's True page."""

    def __init__(self, view: View) -> None:
        self.view = view
        self.which: Which = "both"
        with view.form:
            self.rows = Rows(self.over).classes("ls-stack")
        with self.rows:
            self.choice = self.radios()
            self.says = node("div", "ls-stack", aria_live="polite")
            self.measures = self.section(say("true.measures"), say("true.measures_about"))
            self.moves = self.section(say("true.moves"))
            self.walk = self.folded(say("true.walk"), say("true.walk_about"))
            self.places = self.folded(say("true.places"), say("true.places_about"))
        view.drawing.on_over(self.rows.point)
        view.changed = self.show

    @staticmethod
    def section(title: str, about: str = "") -> Element:
        with node("section", "ls-stack"):
            heading(title, 3)
            if about:
                text(about, "p", "ls-soft ls-small")
            return node("div", "ls-stack")

    @staticmethod
    def folded(title: str, about: str) -> Element:
        with node("details", "ls-fold"):
            with node("summary"):
                text(title, "span", "ls-fold-title")
            text(about, "p", "ls-soft ls-small")
            return node("div", "ls-stack")

    def radios(self) -> Element:
        name = f"which-{next(_NUMBERS)}"
        with node("fieldset", "ls-radios") as made:
            text(say("true.which"), "legend")
            for which in WHICH:
                with node("label"):
                    one = Typed()
                    one.props["tag"] = "input"
                    one.props["field"] = {"type": "radio", "name": name, "value": which}
                    one.props["value"] = which == self.which
                    one.on("value", partial(self.choose, which), args=[])
                    text(say(f"true.which_{which}"), "span")
        return made

    # --- what a person does -------------------------------------------------------------------------------

    async def choose(self, which: Which) -> None:
        self.which = which
        await self.draw()

    def over(self, row: str) -> None:
        self.view.drawing.choose(self.edge_of(row))

    def edge_of(self, row: str) -> str:
        """Return the edge that a row stands for, the first where it stands for several."""
        sort, _, name = row.partition(" ")
        explained, kind = self.view.opened.trued(), self.view.opened.kind
        if explained is None or kind is None:
            return ""
        if sort == "measure":
            return next(iter(true_tables.edges_of(name, kind)), "")
        if sort == "seam":
            return next((seam.left for seam in explained.pattern.seams if seam.name == name), "")
        return name if sort in {"edge", "move", "place"} else ""

    def lead(self, key: str) -> None:
        ui.navigate.to(f"/garment/{self.view.garment}/record?measure={key}")

    async def act(self, act: Act) -> None:
        if act.to:
            ui.navigate.to(f"/garment/{self.view.garment}/{act.to}")
        else:
            await self.view.change(act.changes, said=act.said)

    # --- showing ------------------------------------------------------------------------------------------

    async def show(self) -> None:
        """Show the garment as it is now."""
        await self.draw()
        opened = self.view.opened
        explained = opened.explained()
        trued = explained if isinstance(explained, Explained) else None
        self.choice.set_visibility(trued is not None)
        self.says.clear()
        with self.says:
            self.say(opened, explained)
        for box, fill in (
            (self.measures, self.fill_measures),
            (self.moves, self.fill_moves),
            (self.walk, self.fill_walk),
            (self.places, self.fill_places),
        ):
            self.fill(box, fill, trued)

    @staticmethod
    def fill(box: Element, fill: Callable[[Explained], None], trued: Explained | None) -> None:
        box.clear()
        section = box.parent_slot.parent if box.parent_slot else box
        section.set_visibility(trued is not None)
        if trued is not None:
            with box:
                fill(trued)

    def fill_measures(self, explained: Explained) -> None:
        kind = self.view.opened.kind
        if kind is not None:
            true_tables.measures(explained, kind, self.view.unit, out_of_line(explained), self.lead)

    def fill_moves(self, explained: Explained) -> None:
        true_tables.moves(explained, self.view.unit, MOVES)

    def fill_walk(self, explained: Explained) -> None:
        true_tables.walk(explained, self.view.unit)

    def fill_places(self, explained: Explained) -> None:
        true_tables.edges(explained, self.view.unit)
        true_tables.corners(explained, self.view.unit)

    def say(self, opened: Opened, explained: Explained | Untrued | None) -> None:
        """Say what truing found, the heaviest first, with what can be done about it."""
        record, kind = opened.record, opened.kind
        back = f"/garment/{self.view.garment}/record"
        if explained is None or record is None or kind is None:
            text(say("true.faults", n=len(opened.draft.problems)))
            link(say("true.to_record"), back)
            return
        if opened.draft.missing:
            with node("div", "ls-finding look", role="group"):
                text(say("true.missing", n=len(opened.draft.missing)))
                with node("div", "ls-row"):
                    for key, _ in opened.draft.missing:
                        self.button(Act(title_of(kind, key), f"record?measure={key}"), "")
        if isinstance(explained, Untrued):
            self.untrued(opened, explained, kind)
            return
        findings = weightiest_first(explained.pattern.findings)
        if not findings and not opened.draft.missing:
            text(say("true.fine"))
        for finding in findings:
            self.finding(finding, opened, kind)

    def finding(self, finding: Finding, opened: Opened, kind: Kind) -> None:
        box = finding_box(finding)
        box.props["data-row"] = f"place {finding.where}"
        box.props["data-marks"] = finding.where
        if opened.record is None:
            return
        acts = acts_for(finding, opened.record, kind)
        if acts:
            with box, node("div", "ls-row"):
                for act in acts:
                    self.button(act, finding.message)

    def button(self, act: Act, about: str) -> None:
        label = f"{act.words}: {about}" if about else ""
        button(act.words, partial(self.act, act), "" if act.changes else "plain", label=label)

    def untrued(self, opened: Opened, found: Untrued, kind: Kind) -> None:
        """Say why there is no pattern, and lead to the figures that fight."""
        record = opened.record
        with node("div", "ls-finding stop", role="group"):
            text(f"■ {say('weight.stop')}", "span", "ls-weight")
            text(f"{found.reason[:1].upper()}{found.reason[1:]}")
            with node("ul", "ls-plain"):
                for condition in found.conditions:
                    with node("li", "ls-row"):
                        text(condition, "span")
                        where = condition.rpartition(" (")[0] or condition
                        keys = measures_named([condition], kind)
                        if not keys and record is not None:
                            keys = measures_at(where, record, kind)
                        for key in keys:
                            title = title_of(kind, key)
                            words = say("true.measure_again", title=title[:1].lower() + title[1:])
                            self.button(Act(words, f"record?measure={key}"), "")

    async def draw(self) -> None:
        opened, which = self.view.opened, self.which
        scene = await asyncio.to_thread(self.scene, opened, which)
        if scene is not None and opened is self.view.opened and which == self.which:
            self.view.draw(scene)

    def scene(self, opened: Opened, which: Which) -> Scene | None:
        explained, name = opened.explained(), opened.document.name
        if isinstance(explained, Explained):
            return truing_scene(explained, name, self.view.unit, which)
        if opened.kind is None:
            return None
        usual: Pattern = template_pattern(opened.kind)
        return pattern_scene(usual, say("true.usual_shape", name=name), self.view.unit)


def out_of_line(explained: Explained) -> set[str]:
    """Return the keys of measures that came out further from their figure than is to be expected."""
    named = {
        key
        for finding in explained.pattern.findings
        if finding.code == "figures-disagree"
        for key in finding.where.split(", ")
    }
    return named | {
        one.key
        for one in explained.pattern.measures
        if one.asked_mm is not None
        and one.asked_sigma_mm is not None
        and abs(one.value_mm - one.asked_mm) > true_tables.SURE * one.asked_sigma_mm
    }


def build(view: View) -> None:
    """Build the page."""
    _True(view)
