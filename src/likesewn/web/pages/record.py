"""Record: measures typed beside a drawing that shows each as it is taken, and grows with them."""

import asyncio

from nicegui import ui
from nicegui.element import Element

from likesewn.errors import InputError
from likesewn.garment import Kind, Pattern
from likesewn.garment.keys import file_tables
from likesewn.garment.template import template_pattern
from likesewn.truing import Explained, Untrued
from likesewn.units import format_length
from likesewn.web.desk import Opened
from likesewn.web.figures import file_values
from likesewn.web.pages.frame import words_of
from likesewn.web.pages.garment import View
from likesewn.web.pages.garment_file import Faults, GarmentFile
from likesewn.web.pages.particulars import Particulars
from likesewn.web.pages.photos import section
from likesewn.web.pages.tape import Tape, own_keys, title_of, usual_keys
from likesewn.web.scene import Scene
from likesewn.web.scenes.recording import record_scene
from likesewn.web.widgets import button, heading, node, reword, text
from likesewn.web.widgets.rows import Rows
from likesewn.web.words import say

__all__ = ["build"]

SURE = 2.0
"""Standard errors to each side within which a line lies 95 times in 100."""


class _Record:
    """One window's Record page."""

    def __init__(self, view: View, kind: Kind) -> None:
        self.view, self.kind = view, kind
        self.chosen = ""
        self.pattern: Pattern = template_pattern(kind)
        with view.form:
            self.rows = Rows(self.over).classes("ls-stack")
        with self.rows:
            self.faults = Faults(view)
            self.particulars = Particulars(view, kind)
            heading(say("record.tape"), 3)
            self.still = node("div", "ls-stack", aria_live="polite")
            tape = next(table for table in file_tables(kind, (kind.name,)) if table.name == "tape")
            text(tape.about)
            self.how = text("", "p", "ls-soft ls-small")
            self.tape = Tape(view, kind, usual_keys(kind), self.focused)
            own = own_keys(kind)
            self.own: Tape | None = None
            if own:
                with self.folded(say("record.own")):
                    text(say("record.own_about"), "p", "ls-soft ls-small")
                    self.own = Tape(view, kind, own, self.focused)
            with self.folded(say("record.stand_ins")) as self.stand_ins_fold:
                text(say("record.stand_ins_about"), "p", "ls-soft ls-small")
                self.stand_ins = node("ul", "ls-plain")
            with node("section", "ls-stack", data_row="photos", tabindex="-1"):
                heading(say("photos.title"), 3)
                self.photos = section(view, self.draw)
            self.file = GarmentFile(view)
        view.drawing.on_pick(self.picked).on_over(self.rows.point)
        view.changed = self.show
        if asked := view.asked.get("measure") or view.asked.get("field"):
            self.rows.lead(asked)

    @staticmethod
    def folded(title: str) -> Element:
        with node("details", "ls-fold") as made, node("summary"):
            text(title, "span", "ls-fold-title")
        return made

    # --- what a person does -------------------------------------------------------------------------------

    async def focused(self, key: str) -> None:
        if key != self.chosen:
            self.chosen = key
            if not self.photos.active:
                self.view.drawing.choose(key)
            await self.draw()

    def over(self, row: str) -> None:
        if self.photos.active:
            return
        known = row in self.tape.rows or (self.own is not None and row in self.own.rows)
        self.view.drawing.choose(row if known else self.chosen)

    def picked(self, id_: str) -> None:
        if id_ in self.kind.tape_keys():
            self.rows.lead(id_)

    # --- showing ------------------------------------------------------------------------------------------

    async def show(self) -> None:
        """Show the garment as it is now."""
        opened = self.view.opened
        if opened.kind is None or opened.kind.name != self.kind.name:
            ui.navigate.to(f"/garment/{self.view.garment}/record")
            return
        await self.photos.show()
        await self.draw()
        values = file_values(opened.document.text)
        missing = [key for key, _ in opened.draft.missing]
        faults = {problem.key: words_of(InputError(problem)) for problem in opened.draft.problems}
        self.tape.show(values, missing, faults)
        if self.own is not None:
            self.own.show(values, missing, faults)
        self.particulars.show()
        self.faults.show()
        self.file.show()
        self.show_advice(opened)

    async def draw(self) -> None:
        """Draw the pieces with the measures on them, in their last good shape where there is no new one."""
        if self.photos.active:
            return
        opened, chosen = self.view.opened, self.chosen
        scene = await asyncio.to_thread(self.scene, opened, chosen)
        if not self.photos.active and opened is self.view.opened and chosen == self.chosen:
            self.view.draw(scene)

    def scene(self, opened: Opened, chosen: str) -> Scene:
        explained = opened.explained()
        if isinstance(explained, Explained):
            self.pattern = explained.pattern
        taken = {key: figure.mm for key, figure in opened.record.tape.items()} if opened.record else {}
        return record_scene(
            self.pattern.kind, self.pattern, opened.document.name, self.view.unit, taken=taken, chosen=chosen
        )

    def show_advice(self, opened: Opened) -> None:
        """Say what is still needed, what would help most, and what stands in for what was not measured."""
        unit = self.view.unit
        how = say("record.how_typed", unit=say(f"record.unit_{unit}"))
        usual = max(measure.sigma for measure in self.kind.measures.values())
        sure = say("record.how_sure_is", sure=format_length(SURE * usual, unit))
        reword(self.how, f"{how} {sure}")
        explained = opened.explained()
        self.still.clear()
        with self.still:
            if isinstance(explained, Untrued):
                with node("div", "ls-finding stop", role="group"):
                    text(say("record.untrued"))
                    text(explained.reason[:1].upper() + explained.reason[1:], "p", "ls-soft")
            self.needed(opened)
            if isinstance(explained, Explained):
                self.next_measures(explained)
        told = explained.pattern.assumptions if isinstance(explained, Explained) else ()
        self.stand_ins_fold.set_visibility(bool(told))
        self.stand_ins.clear()
        with self.stand_ins:
            for one in told:
                with node("li"):
                    text(f"{one.message}.")
                    if one.key in self.kind.tape_keys():
                        self.leading(one.key, say("record.measure_it"))

    def needed(self, opened: Opened) -> None:
        missing = opened.draft.missing
        if not missing:
            if opened.record is not None:
                text(say("record.enough"), "p", "ls-soft")
            return
        with node("div", "ls-row"):
            text(say("record.missing", n=len(missing)), "p", "ls-needed")
            for key, _ in missing:
                self.leading(key, title_of(self.kind, key))

    def next_measures(self, explained: Explained) -> None:
        if not explained.next_measures:
            return
        unit = self.view.unit
        with node("div", "ls-next"):
            text(say("record.next"), "p", "ls-fold-title")
            with node("ul", "ls-plain"):
                for one in explained.next_measures:
                    before, after = (format_length(SURE * mm, unit) for mm in (one.before_mm, one.after_mm))
                    with node("li", "ls-row"):
                        words = say("record.again", title=one.title) if one.again else one.title
                        self.leading(one.key, words)
                        text(say("record.gain", before=before, after=after), "span", "ls-soft ls-small")
                        if one.level:
                            level = self.kind.measures[one.level].title
                            self.leading(one.level, say("record.with_level", title=level))

    def leading(self, key: str, words: str) -> None:
        button(words, lambda: self.rows.lead(key), "plain", label=say("record.to_field", what=words))


def build(view: View) -> None:
    """Build the page."""
    if view.opened.kind is not None:
        _Record(view, view.opened.kind)
        return
    # a file of no known kind: there is nothing to show but what is wrong, and its text
    with view.form:
        faults, file = Faults(view), GarmentFile(view)

    def show() -> None:
        if view.opened.kind is not None:
            ui.navigate.to(f"/garment/{view.garment}/record")
        faults.show()
        file.show()

    view.changed = show
