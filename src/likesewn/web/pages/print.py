"""Printing: the sheets and what is on them, page by page as they come out of the printer, and all files."""

import asyncio
from functools import partial

from nicegui import background_tasks

from likesewn.errors import LikesewnError
from likesewn.job import cloths_of
from likesewn.publish.sheets import Layout
from likesewn.publish.tiles import PAPERS, sheet_name
from likesewn.web.desk import Opened
from likesewn.web.pages.frame import tell, words_of
from likesewn.web.pages.garment import View
from likesewn.web.pages.making import Gate, fold, show_findings, show_table
from likesewn.web.printing import EVERYTHING, GARMENT_FILE, layout, sheets_name, stops
from likesewn.web.scenes import FRONT_PAGE, page_scene, print_scene
from likesewn.web.widgets import Field, button, heading, link, node, reword, text
from likesewn.web.words import say

__all__ = ["build"]


def build(view: View) -> None:
    """Build the stage's form."""
    page = _Print(view)
    view.changed = page.show
    view.drawing.on_pick(page.pick)


class _Print:
    def __init__(self, view: View) -> None:
        self.view = view
        self.gate = Gate(view)
        asked = str(view.opened.document.aside.get("paper", ""))
        self.paper = asked if asked in PAPERS else "letter" if view.unit == "in" else "a4"
        self.sheet = ""
        self.layout: Layout | None = None
        with self.gate.body:
            self.build()

    def build(self) -> None:
        options = [(paper, say(f"print.{paper}")) for paper in PAPERS]
        Field(say("print.paper"), self.paper, self.choose_paper, tag="select", options=options)
        self.count = text("", "p", "ls-large", role="status")
        with node("section", "ls-stack", aria_labelledby="print-look"):
            heading(say("print.look"), 3, id="print-look")
            self.pages = Field(
                say("print.page"), "", self.turn, tag="select", help_text=say("print.page_help")
            )
            with node("div", "ls-row"):
                self.before = button(say("print.before"), partial(self.step, -1))
                self.after = button(say("print.after"), partial(self.step, 1))
                button(say("print.map"), partial(self.turn, ""))
            self.says = text("", "p", "ls-soft", aria_live="polite")
        with node("section", "ls-stack", aria_labelledby="print-scale"):
            heading(say("print.scale"), 3, id="print-scale")
            with node("ol", "ls-steps"):
                for i in range(1, 5):
                    text(say(f"print.scale_{i}"), "li")
        with node("section", "ls-stack", aria_labelledby="print-files"):
            heading(say("print.files"), 3, id="print-files")
            self.findings = node("div", "ls-stack")
            self.files = node("div", "ls-stack")
        with fold(say("print.by_piece")):
            self.by_piece = node("div")

    # --- showing ----------------------------------------------------------------------------------------

    async def show(self) -> None:
        opened = self.view.opened
        paper = self.paper
        try:
            found = await asyncio.to_thread(layout, opened, paper)
        except LikesewnError as error:
            tell(words_of(error))
            return
        if opened is not self.view.opened or paper != self.paper or not self.gate.opened() or found is None:
            return
        self.layout = found
        names = [sheet_name(*sheet) for sheet in found.sheets]
        if self.sheet not in (*names, FRONT_PAGE):
            self.sheet = ""
        title = PAPERS[paper]
        reword(self.count, say("print.count", n=len(names), paper=title))
        options = [("", say("print.all")), (FRONT_PAGE, say("print.first"))]
        self.pages.offer([*options, *((name, say("print.sheet", name=name)) for name in names)])
        self.show_page()
        self.show_lists(found, opened)
        background_tasks.create(self.show_stops(opened))

    def show_page(self) -> None:
        opened, found = self.view.opened, self.layout
        if found is None or opened.stages is None:
            return
        name, unit = opened.document.name, self.view.unit
        if self.sheet:
            garment = opened.stages.record.name
            scene = page_scene(found, self.sheet, garment, opened.stages.today.isoformat(), unit)
        else:
            scene = print_scene(found, name, unit)
        self.view.draw(scene)
        self.pages.show(self.sheet)
        reword(self.says, scene.summary)
        order = self.order()
        at = order.index(self.sheet)
        for made, off in ((self.before, at == 0), (self.after, at == len(order) - 1)):
            made.props["disabled"] = off
            made.update()

    def order(self) -> list[str]:
        names = [sheet_name(*sheet) for sheet in self.layout.sheets] if self.layout else []
        return ["", FRONT_PAGE, *names]

    def show_lists(self, found: Layout, opened: Opened) -> None:
        self.by_piece.clear()
        with self.by_piece:
            rows = [
                (title, ", ".join(sheet_name(*s) for s, held in found.sheets.items() if i in held))
                for i, title in enumerate(found.titles)
            ]
            show_table((say("print.piece"), say("print.sheets")), rows, title=say("print.by_piece"))
        self.files.clear()
        with self.files, node("ul", "ls-plain"):
            names = [
                (f"pattern-{self.paper}.pdf", say("print.pattern_pdf")),
                ("pattern.svg", say("print.pattern_svg")),
                ("lay-plan.pdf", say("print.lay_pdf")),
                ("lay-plan.svg", say("print.lay_svg")),
            ]
            for cloth in _other_cloths(opened):
                names.append((f"lay-plan-{cloth}.pdf", say("print.lay_pdf_of", cloth=cloth)))
                names.append((f"lay-plan-{cloth}.svg", say("print.lay_svg_of", cloth=cloth)))
            names += [
                ("sewing-plan.html", say("print.sewing_plan")),
                ("truing.svg", say("print.truing_svg")),
                ("summary.json", say("print.summary")),
                (GARMENT_FILE, say("print.garment_file")),
                (sheets_name(self.paper), say("print.reference_sheets")),
            ]
            with node("li"):
                self.file_link(EVERYTHING, say("print.everything"), "ls-button main")
                text(say("print.everything_about"), "p", "ls-soft ls-small")
            for name, words in names:
                with node("li"):
                    self.file_link(name, words)

    def file_link(self, name: str, words: str, look: str = "ls-file") -> None:
        link(words, f"/garment/{self.view.garment}/files/{name}?paper={self.paper}", look, download="")

    async def show_stops(self, opened: Opened) -> None:
        """Say what stops the work, instead of files that would not sew."""
        try:
            found = await asyncio.to_thread(stops, self.view.desk, opened)
        except LikesewnError as error:
            tell(words_of(error))
            return
        if opened is self.view.opened:
            show_findings(self.findings, found)
            self.files.set_visibility(not found)

    # --- turning pages ----------------------------------------------------------------------------------

    def pick(self, id_: str) -> None:
        """Look at a sheet that is picked on the map."""
        if id_ in self.order():
            self.turn(id_)

    def turn(self, sheet: str) -> None:
        """Show a page, or all sheets where its name is empty."""
        self.sheet = sheet
        self.show_page()

    def step(self, by: int) -> None:
        """Show the page before or after."""
        order = self.order()
        at = order.index(self.sheet) + by
        if 0 <= at < len(order):
            self.turn(order[at])

    async def choose_paper(self, paper: str) -> None:
        """Take another paper, and remember it."""
        self.paper = paper
        await self.view.change(None, say("print.paper").lower(), aside={"paper": paper})


def _other_cloths(opened: Opened) -> list[str]:
    stages = opened.cut()
    return list(cloths_of(stages.record, stages.cut_list))[1:] if stages else []
