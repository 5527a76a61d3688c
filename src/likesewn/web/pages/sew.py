"""Sewing: the order of work to tick off, what is needed for it, and a note of each make."""

import asyncio
from collections.abc import Iterable
from functools import partial
from typing import TYPE_CHECKING

from nicegui import background_tasks

from likesewn.errors import LikesewnError
from likesewn.sewing import SewingPlan, StepText, Table
from likesewn.web.desk import Opened
from likesewn.web.pages.frame import tell, words_of
from likesewn.web.pages.garment import View
from likesewn.web.pages.making import Gate, fold, show_table, together
from likesewn.web.pages.noting import note_make
from likesewn.web.scenes.sewing import sew_scene
from likesewn.web.widgets import Field, button, heading, link, node, reword, text
from likesewn.web.words import say

if TYPE_CHECKING:
    from likesewn.job import Stages

__all__ = ["build"]

TICKED = "ticked"
"""Key of the aside that holds what is done."""

AGAIN = 0.5
"""Seconds until the plan is asked for again where another search for a lay came first."""


def build(view: View) -> None:
    """Build the stage's form."""
    page = _Sew(view)
    view.changed = page.show
    view.drawing.on_pick(page.pick)


class _Sew:
    def __init__(self, view: View) -> None:
        self.view = view
        self.gate = Gate(view)
        self.plan: SewingPlan | None = None
        self.ticks: dict[str, Field] = {}
        self.marked: tuple[str, ...] = ()
        with self.gate.body:
            self.done = text(say("sew.working"), "p", "ls-large", role="status")
            self.progress = node(
                "progress", "ls-progress", aria_label=say("sew.progress"), max="1", value="0"
            )
            self.says = text("", "p", "ls-soft ls-small", aria_live="polite")
            self.body = node("div", "ls-stack")

    # --- showing ----------------------------------------------------------------------------------------

    async def show(self) -> None:
        opened = self.view.opened
        await asyncio.to_thread(opened.cut)
        if opened is self.view.opened and self.gate.opened():
            if self.plan is None:
                self.mark(())
            background_tasks.create(self.fill(opened))

    async def fill(self, opened: Opened) -> None:
        """Show the plan once it is worked out."""
        stages: Stages | None = None
        while stages is None and opened is self.view.opened:
            try:
                stages = await asyncio.to_thread(self.view.desk.finished, opened)
            except LikesewnError as error:
                tell(words_of(error))
                return
            if stages is None:
                await asyncio.sleep(AGAIN)
        if stages is None or opened is not self.view.opened:
            return
        if stages.sewing != self.plan:
            self.plan = stages.sewing
            self.rebuild(stages.sewing)
            self.mark(self.marked)
        self.show_ticks()

    def ticked(self) -> list[str]:
        there = self.view.opened.document.aside.get(TICKED)
        return [str(tick) for tick in there] if isinstance(there, list | tuple) else []

    def show_ticks(self) -> None:
        ticked = set(self.ticked())
        for name, field in self.ticks.items():
            field.show(name in ticked)
        steps = [name for name in self.ticks if name.startswith("step-")]
        done = sum(name in ticked for name in steps)
        reword(self.done, say("sew.done", done=done, steps=len(steps)))
        self.progress.props["max"], self.progress.props["value"] = str(len(steps) or 1), str(done)
        self.progress.update()

    def mark(self, about: tuple[str, ...]) -> None:
        """Mark edges in the drawing."""
        self.marked = about
        stages = self.view.opened.cut()
        if stages is not None:
            self.view.draw(sew_scene(stages.cut_list, stages.record, about))

    def pick(self, id_: str) -> None:
        """Say which steps are about an edge that is picked."""
        steps = [step for step in self.plan.steps if id_ in step.about] if self.plan else []
        self.view.drawing.choose(id_)
        names = "; ".join(say("sew.step", n=step.number, title=step.title) for step in steps)
        reword(self.says, say("sew.about", steps=names) if steps else "")

    # --- the plan ---------------------------------------------------------------------------------------

    def rebuild(self, plan: SewingPlan) -> None:
        self.ticks = {}
        self.body.clear()
        with self.body:
            if plan.summary:
                text(together(plan.summary), "p", "ls-soft")
            if plan.before:
                heading(say("sew.before"), 3)
                with node("ul", "ls-todo"):
                    for i, words in enumerate(plan.before, 1):
                        with node("li"):
                            self.tick(f"before-{i}", together(words))
            heading(say("sew.steps"), 3)
            with node("ol", "ls-todo"):
                for step in plan.steps:
                    with node("li"):
                        self.step(step)
            with node("section", "ls-stack", aria_labelledby="sew-make"):
                heading(say("sew.make"), 3, id="sew-make")
                text(say("sew.make_about"), "p", "ls-soft")
                with node("div", "ls-row"):
                    button(say("sew.note"), self.note, "main")
                    link(say("sew.makes"), f"/garment/{self.view.garment}/history")
            self.reading(plan)

    def step(self, step: StepText) -> None:
        self.tick(f"step-{step.number}", say("sew.step", n=step.number, title=step.title), about=step.about)
        with node("p", "ls-step"):
            at = 0
            for start, end in step.figures:
                text(together(step.text[at:start]), "span")
                text(together(step.text[start:end]), "strong")
                at = end
            text(together(step.text[at:]), "span")
        if step.about:
            words = say("sew.show")
            label = say("sew.show_step", n=step.number)
            button(words, partial(self.mark, step.about), "plain", label=label)

    def tick(self, name: str, label: str, about: tuple[str, ...] = ()) -> None:
        self.ticks[name] = Field(
            label,
            value=False,
            told=partial(self.told, name),
            kind="checkbox",
            focused=partial(self.focused, about),
        )

    def focused(self, about: tuple[str, ...]) -> None:
        if about and about != self.marked:
            self.mark(about)

    async def told(self, name: str, done: bool) -> None:  # noqa: FBT001 - the value of a tick box
        def aside() -> dict[str, list[str] | None]:
            ticked = [tick for tick in self.ticked() if tick != name]
            ticked += [name] if done else []
            return {TICKED: ticked or None}

        what = name.replace("-", " ")
        said = say("sew.ticked", what=what) if done else say("sew.unticked", what=what)
        await self.view.change(None, said, aside=aside)

    def reading(self, plan: SewingPlan) -> None:
        """Put what is read rather than ticked below: what is needed, settings, tables, cautions."""
        heading(say("sew.needs"), 3)
        rows = [(item.what, item.which) for item in plan.shopping]
        show_table((say("sew.what"), say("sew.which")), rows, title=say("sew.needs"))
        with fold(say("sew.tools")), node("ul"):
            for tool in plan.tools:
                text(together(tool), "li")
        if plan.notes:
            heading(say("sew.notes"), 3)
            with node("ul"):
                for words in plan.notes:
                    text(together(words), "li")
        heading(say("sew.cautions"), 3)
        with node("dl", "ls-cautions"):
            for caution in plan.cautions:
                text(caution.title, "dt")
                text(together(caution.text), "dd")
        tables((plan.stitches, plan.pieces, plan.points, plan.bands, plan.seams, plan.measures))

    # --- a make -----------------------------------------------------------------------------------------

    async def note(self) -> None:
        """Ask what is to be noted of this make, and keep it with a version."""
        with self.view.form:
            await note_make(self.view.desk, self.view.garment, None, lambda: tell(say("sew.noted")))


def tables(shown: Iterable[Table]) -> None:
    """Show tables that have rows, each folded away under its title."""
    for table in shown:
        if table.rows:
            with fold(table.title):
                show_table(table.columns, table.rows, title=table.title)
                if table.note:
                    text(together(table.note), "p", "ls-soft ls-small")
