"""The lay: the cloth, the pieces on it, the search for a shorter lay, foldings and cloths compared."""

import asyncio
import time
from collections.abc import Awaitable, Callable
from dataclasses import replace
from functools import partial

from nicegui import background_tasks

from likesewn.errors import LikesewnError
from likesewn.garment import Kind
from likesewn.garment.editing import Change
from likesewn.job import cloths_of, weightiest_first
from likesewn.lay import Plan, buy_text, price_text
from likesewn.publish.lay_svg import numbered, placed_words
from likesewn.units import format_length, format_share
from likesewn.web.comparing import compared_cloths, compared_foldings, drawer, take_cloth, what_would_fit
from likesewn.web.desk import Opened
from likesewn.web.laying import Compared, Laid
from likesewn.web.pages.frame import tell, words_of
from likesewn.web.pages.garment import View
from likesewn.web.pages.keyed import Keyed, cloth_label
from likesewn.web.pages.making import Gate, fold, show_findings, show_table, table_of, together
from likesewn.web.pages.rows import Holes, Rows, listed_places
from likesewn.web.scenes import lay_scene
from likesewn.web.widgets import Field, button, heading, node, reword, text
from likesewn.web.words import say

__all__ = ["build"]

SEARCHES = (10, 30, 120)
"""How long a search may be asked to go on, seconds."""

PLAIN_KEYS = ("width", "folding", "fold_depth", "length", "nap")
GROUPS = {"money": ("price", "currency", "shrinkage"), "stripes": ("repeat_along", "repeat_across", "stripe")}
PLACES = {"flaws": 1, "flaws_across": 1, "flaws_along": 1, "outline": 3, "holes": 3}
"""Lists of places, with how many rows each needs to say anything."""

BEAT = 0.4
"""Seconds between two looks at how far a search is."""


def build(view: View) -> None:
    """Build the stage's form."""
    page = _Lay(view)
    view.changed = page.show
    view.drawing.on_pick(page.pick)


class _Lay:
    def __init__(self, view: View) -> None:
        self.view = view
        self.gate = Gate(view)
        self.built: tuple[Kind, str, tuple[str, ...]] | None = None
        self.cloth = ""
        self.searching = False
        self.laid: Laid | None = None

    # --- showing ----------------------------------------------------------------------------------------

    async def show(self) -> None:
        opened = self.view.opened
        stages = await asyncio.to_thread(opened.cut)
        if opened is not self.view.opened or not self.gate.opened() or stages is None or opened.kind is None:
            return
        names = tuple(cloths_of(stages.record, stages.cut_list))
        self.cloth = self.cloth if self.cloth in names else names[0]
        if self.built != (opened.kind, self.cloth, names):
            self.built = opened.kind, self.cloth, names
            self.build(opened.kind, names)
        self.keyed.show()
        for rows in self.rows:
            rows.show()
        self.show_match()
        self.compared.clear()
        if opened.laid is not None:
            self.heard(opened, opened.laid)
        else:
            reword(self.status, say("lay.laying"))
            background_tasks.create(self.quickly(opened))

    async def quickly(self, opened: Opened) -> None:
        """Lay without a long search, and show what came of it."""
        laid = None
        while laid is None and opened is self.view.opened:
            try:
                laid = await asyncio.to_thread(self.view.desk.lay, opened)
            except LikesewnError as error:
                self.cannot(opened, words_of(error))
                return
            if laid is None:  # another search came first; it may be for this garment too
                await asyncio.sleep(BEAT)
                laid = opened.laid
        if laid is not None:
            self.heard(opened, laid)

    def cannot(self, opened: Opened, words: str) -> None:
        if opened is self.view.opened:
            reword(self.status, "")
            self.result.clear()
            with self.result:
                text(words, "p", "ls-error", role="alert")

    def heard(self, opened: Opened, found: object) -> None:
        """Show something that a search found."""
        if opened is not self.view.opened or not isinstance(found, Laid):
            return
        self.laid = found
        self.show_plan()

    def plan(self) -> Plan | None:
        plans = self.laid.plans if self.laid else ()
        return next((p for p in plans if p.cloth_name == self.cloth), plans[0] if plans else None)

    def show_plan(self) -> None:
        plan, stages = self.plan(), self.view.opened.ready()
        if plan is None or stages is None or self.laid is None:
            return
        unit = self.view.unit
        titles = {piece.name: piece.title for piece in stages.cut_list.pieces}
        self.view.draw(lay_scene(plan, titles, unit))
        shortest = say("lay.shortest", length=format_length(plan.length_mm, unit))
        reword(self.status, say("lay.stopped") if plan.stopped else together(shortest))
        said = [
            replace(f, todo=say("lay.see_foldings")) if f.code == "folding-saves" else f
            for f in (*plan.findings, *self.laid.proofs)
            if f.code != "how-near"
        ]
        show_findings(self.findings, weightiest_first(said))
        self.longer.set_visibility(not plan.stopped)
        self.result.clear()
        with self.result:
            if plan.stopped:
                button(say("lay.what_fits"), partial(self.what_fits, plan))
            else:
                self.figures(plan)
                self.order(plan, titles)

    def figures(self, plan: Plan) -> None:
        unit = self.view.unit
        price = price_text(plan.buy_mm, plan.cloth, unit)
        if plan.cloth.length_mm is None:
            words = say("lay.buy", buy=buy_text(plan.buy_mm, unit))
            text(together(f"{words} {say('lay.price', price=price)}" if price else words), "p", "ls-large")
        else:
            length, left = plan.cloth.length_mm, plan.cloth.length_mm - plan.length_mm
            words = say("lay.in_hand", length=format_length(length, unit), left=format_length(left, unit))
            text(together(words), "p", "ls-large")
        rows = [
            (say("lay.length_taken"), format_length(plan.length_mm, unit)),
            (say("lay.bound"), format_length(plan.bound_mm, unit)),
            (say("lay.used"), format_share(plan.used_fraction)),
        ]
        if plan.rule_mm is not None:
            rows.append((say("lay.rule"), format_length(plan.rule_mm, unit)))
        show_table((say("lay.figure"), say("lay.value")), rows, title=say("lay.figures"), numbers=(1,))

    def order(self, plan: Plan, titles: dict[str, str]) -> None:
        with fold(say("lay.order"), open_=True):
            rows = [
                (
                    str(number),
                    titles.get(p.piece, p.piece),
                    ", ".join(placed_words(plan, p, number, titles, self.view.unit)[1:]),
                )
                for number, p in numbered(plan)
            ]
            show_table((say("lay.number"), say("lay.piece"), say("lay.how")), rows, title=say("lay.order"))

    # --- the form ---------------------------------------------------------------------------------------

    def build(self, kind: Kind, names: tuple[str, ...]) -> None:
        self.keyed = Keyed(self.view)
        self.rows: list[Rows | Holes] = []
        self.matches: dict[str, Field] = {}
        self.gate.body.clear()
        with self.gate.body:
            if len(names) > 1:
                options = [(name, name) for name in names]
                Field(say("lay.which"), self.cloth, self.choose_cloth, tag="select", options=options)
            self.status = text("", "p", "ls-soft", role="status")
            self.result = node("div", "ls-stack")
            self.findings = node("div", "ls-stack")
            self.build_search()
            self.build_cloth(kind)
            self.build_compare()

    def build_search(self) -> None:
        with node("section", "ls-stack", aria_labelledby="lay-search") as self.longer:
            heading(say("lay.search"), 3, id="lay-search")
            with node("div", "ls-row") as self.starts:
                for seconds in SEARCHES:
                    words = say(
                        "lay.seconds" if seconds < 60 else "lay.minutes",
                        n=seconds if seconds < 60 else seconds // 60,
                    )
                    button(words, partial(self.search, seconds), label=say("lay.search_for", time=words))
            with node("div", "ls-stack") as self.going:
                self.progress = node(
                    "progress", "ls-progress", aria_label=say("lay.progress"), max="1", value="0"
                )
                self.gone = text("", "p", "ls-soft ls-small")
                button(say("lay.stop"), self.stop, "main")
            self.going.set_visibility(False)

    def build_cloth(self, kind: Kind) -> None:
        table = {key.name: key for key in table_of(kind, "cloth").keys}
        with node("section", "ls-stack", aria_labelledby="lay-cloth"):
            heading(say("lay.cloth"), 3, id="lay-cloth")
            for name in PLAIN_KEYS:
                key = table[name]
                self.keyed.add(key, f"{self.dotted}.{name}", cloth_label(key))
            for group, members in GROUPS.items():
                with fold(say(f"lay.{group}")):
                    for name in members:
                        key = table[name]
                        self.keyed.add(key, f"{self.dotted}.{name}", cloth_label(key))
                    if group == "stripes":
                        self.build_match(table["match"].choices)
            with fold(say("lay.spoilt")):
                for name, least in PLACES.items():
                    place = f"{self.dotted}.{name}"
                    self.rows.append(listed_places(self.view, self.keyed, table[name], place, least))

    def build_match(self, points: tuple[str, ...]) -> None:
        with node("fieldset", "ls-rows"):
            text(say("lay.match"), "legend")
            for point in points:
                self.matches[point] = Field(
                    point, value=False, told=partial(self.match, point), kind="checkbox"
                )

    def build_compare(self) -> None:
        with node("section", "ls-stack", aria_labelledby="lay-compare"):
            heading(say("lay.compare"), 3, id="lay-compare")
            with node("div", "ls-row"):
                button(say("lay.foldings"), self.foldings)
                button(say("lay.cloths"), self.cloths)
            self.compared = node("div", "ls-stack", aria_live="polite")

    @property
    def dotted(self) -> str:
        """Where the chosen cloth stands in the garment file."""
        return "cloth" if self.cloth == "main" else f'cloth."{self.cloth}"'

    async def choose_cloth(self, name: str) -> None:
        self.cloth = name
        await self.show()

    def show_match(self) -> None:
        there = self.keyed.there(f"{self.dotted}.match")
        for point, field in self.matches.items():
            field.show(isinstance(there, list) and point in there)

    async def match(self, point: str, wanted: bool) -> None:  # noqa: FBT001 - the value of a tick box
        dotted = f"{self.dotted}.match"

        def changes() -> dict[str, Change]:
            there = self.keyed.there(dotted)
            names = [name for name in (there if isinstance(there, list) else []) if name != point]
            names += [point] if wanted else []
            return {dotted: names or None}

        await self.view.change(changes, said=say("lay.match").lower())

    def pick(self, id_: str) -> None:
        self.view.drawing.choose(id_)

    # --- searching --------------------------------------------------------------------------------------

    async def search(self, seconds: int) -> None:
        """Search for a shorter lay, showing each that is found."""
        if self.searching:
            return
        opened, loop = self.view.opened, asyncio.get_running_loop()

        def told(found: object) -> None:
            loop.call_soon_threadsafe(self.heard, opened, found)

        self.begin(seconds)
        watching = background_tasks.create(self.watch(seconds))
        try:
            await asyncio.to_thread(
                self.view.desk.lay,
                opened,
                float(seconds),
                told,
            )
        except LikesewnError as error:
            tell(words_of(error))
        finally:
            self.searching = False
            await watching
            self.starts.set_visibility(True)
            self.going.set_visibility(False)
        self.view.later()

    def begin(self, seconds: int) -> None:
        self.searching = True
        self.progress.props["max"] = str(seconds)
        self.starts.set_visibility(False)
        self.going.set_visibility(True)

    async def watch(self, seconds: int) -> None:
        """Show how far the search is, until it ends."""
        begun = time.monotonic()
        while self.searching:
            gone = min(time.monotonic() - begun, seconds)
            self.progress.props["value"] = f"{gone:.1f}"
            self.progress.update()
            reword(self.gone, together(say("lay.gone", gone=round(gone), of=seconds)))
            await asyncio.sleep(BEAT)

    def stop(self) -> None:
        """End the search; the shortest lay so far stays."""
        self.view.desk.room.stop()

    # --- comparing --------------------------------------------------------------------------------------

    async def foldings(self) -> None:
        """Try every folding."""
        await self.compare(
            lambda o: compared_foldings(self.view.desk, o), self.use_folding, say("lay.use_folding")
        )

    async def cloths(self) -> None:
        """Try every cloth of the drawer."""
        self.kept = {one.cloth: one for one in await asyncio.to_thread(drawer, self.view.desk)}
        if not self.kept:
            self.compared.clear()
            with self.compared:
                text(say("lay.no_cloths"), "p", "ls-soft")
            return
        await self.compare(lambda o: compared_cloths(self.view.desk, o), self.use_cloth, say("lay.use_cloth"))

    async def compare(
        self,
        act: Callable[[Opened], tuple[Compared, ...]],
        use: Callable[[str], Awaitable[None]],
        words: str,
    ) -> None:
        opened = self.view.opened
        self.compared.clear()
        with self.compared:
            text(say("lay.comparing"), "p", "ls-soft")
        try:
            found = await asyncio.to_thread(act, opened)
        except LikesewnError as error:
            tell(words_of(error))
            found = ()
        if opened is not self.view.opened:
            return
        self.compared.clear()
        with self.compared:
            self.comparison(found, use, words)

    def comparison(
        self, found: tuple[Compared, ...], use: Callable[[str], Awaitable[None]], words: str
    ) -> None:
        kept = getattr(self, "kept", {})
        with node("ul", "ls-plain"):
            for one in found:
                name = kept[one.name].name if one.name in kept else one.name
                with node("li", "ls-tried"):
                    buy = buy_text(one.buy_mm, self.view.unit) if one.fits else say("lay.no_fit")
                    text(together(f"{name}: {buy}"), "p", "ls-strong")
                    text(together(one.words), "p", "ls-soft ls-small")
                    if one.fits:
                        button(words, partial(use, one.name), label=f"{words}: {name}")

    async def use_folding(self, name: str) -> None:
        await self.view.change({f"{self.dotted}.folding": name}, said=say("lay.folding").lower())

    async def use_cloth(self, name: str) -> None:
        changes = take_cloth(self.view.opened, self.dotted, self.kept[name])
        await self.view.change(changes, said=say("lay.cloth").lower())

    async def what_fits(self, plan: Plan) -> None:
        """Say what would make the garment fit on the cloth."""
        self.compared.clear()
        with self.compared:
            text(say("lay.comparing"), "p", "ls-soft")
        opened = self.view.opened
        found = await asyncio.to_thread(what_would_fit, self.view.desk, opened, plan.cloth_name, plan.cloth)
        if opened is self.view.opened:
            self.compared.clear()
            with self.compared:
                text(together(found or say("lay.nothing_fits")))
