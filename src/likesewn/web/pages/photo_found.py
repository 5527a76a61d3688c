"""What a tracing found: in a sentence, what is worth a look, measures, and the step into the garment file."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from likesewn.garment import Finding, Weight
from likesewn.units import format_with_sigma
from likesewn.web.pages.frame import finding_box
from likesewn.web.pages.photo_laid import scale_title
from likesewn.web.scenes.tracing import corner_title
from likesewn.web.widgets import button, node, reword, text
from likesewn.web.widgets.arrival import Arrival
from likesewn.web.words import all_words, say

if TYPE_CHECKING:
    from likesewn.web.pages.photo_work import PhotoWork

__all__ = ["Found", "page_finding"]


class Found:
    """The part of the page."""

    def __init__(self, work: "PhotoWork") -> None:
        """Build it."""
        self._work = work
        self._shown: tuple[object, ...] = ()
        with Arrival(say("photos.result"), "ls-stack ls-working") as self._box:
            with node("div", "ls-row"):
                self._trace = button(say("photos.trace"), work.trace, "main")
                self._progress = node("progress", "ls-going", aria_label=say("photos.tracing"))
            self._says = text("", "p", role="status")
            self._problem = text("", "p", "ls-error", role="alert")
            self._notes = node("div", "ls-stack")
            with node("div", "ls-stack") as self._use_box:
                self._use_says = text("", "p", role="status")
                with node("div", "ls-row"):
                    self._use = button(say("photos.use"), work.use, "main")
                    self._unuse = button(say("photos.unuse"), work.unuse, "plain")

    def arrive(self) -> None:
        """Lead to what was found, which stands where what was asked for has folded away."""
        self._box.arrive()

    def show(self) -> None:
        """Show how far the tracing is, and what came of it."""
        tracer, entry, answer = self._work.tracer, self._work.entry, self._work.answer
        busy = tracer.busy
        self._progress.set_visibility(busy)
        reword(self._trace, say("photos.trace") if entry.traced is None else say("photos.trace_again"))
        self._trace.set_visibility(entry.traced is None or bool(tracer.problem))
        says = say("photos.tracing") if busy else self._sentence(answer)
        reword(self._says, says)
        self._says.set_visibility(bool(says))
        reword(self._problem, "" if busy else tracer.problem)
        self._problem.set_visibility(bool(tracer.problem) and not busy)
        self._show_notes(answer)
        self._show_use(answer, busy=busy)

    def _sentence(self, answer: Mapping[str, Any] | None) -> str:
        if answer is None:
            return ""
        if answer["mm_per_px"] is None:
            parts = [self._no_scale()]
        else:
            parts = [self._scale_from(answer)]
            sigma = sorted(answer["sigma_mm"] or [0.0])
            parts.append(
                say(
                    "photos.found_scale",
                    mm=f"{answer['mm_per_px']:.2f}",
                    sure=f"{2 * sigma[len(sigma) // 2]:.1f}",
                )
            )
        if len(self._work.entry.pictures) > 1:
            drawn = "" if self._work.entry.held is None else "_drawn"
            parts.append(say(f"photos.found_in{drawn}", name=self._work.picture.name))
        return " ".join(parts)

    def _no_scale(self) -> str:
        """Return what is still missing for a scale, where a way to one was chosen."""
        entry = self._work.entry
        if entry.by_thing:
            return say("photos.no_scale_yet", what=say("photos.thing_missing"))
        if entry.scale == "measure":
            return say("photos.no_scale_yet", what=say("photos.length_missing"))
        return say("photos.no_scale")

    def _scale_from(self, answer: Mapping[str, Any]) -> str:
        """Return what gave the scale: what stands in for printed sheets has no number."""
        sheets = [sheet for sheet in answer["sheets"] if sheet["number"]]
        if sheets or not answer["sheets"]:
            return say("photos.found_sheets", n=len(sheets))
        entry, kind = self._work.entry, self._work.kind
        what = scale_title(entry.scale)
        if entry.scale == "measure" and kind and entry.measure in kind.measures:
            what = kind.measures[entry.measure].title
        return say("photos.found_thing", what=what)

    def _show_notes(self, answer: Mapping[str, Any] | None) -> None:
        if self._shown == (self._work.tracer.mark, answer is None):
            return
        self._shown = self._work.tracer.mark, answer is None
        self._notes.clear()
        if answer is None:
            return
        with self._notes:
            for one in answer["findings"]:
                if one["code"] != "no-sheet":  # the sentence above says so
                    finding_box(page_finding(one))
            kind, unit = self._work.kind, self._work.view.unit
            if kind and answer["measures"]:
                text(say("photos.read_off"), "p", "ls-fold-title")
                with node("ul", "ls-plain"):
                    for key, value in answer["measures"].items():
                        figure = format_with_sigma(value["mm"], value["sigma_mm"], unit)
                        text(f"{kind.measures[key].title}: {figure}", "li")

    def _show_use(self, answer: Mapping[str, Any] | None, *, busy: bool) -> None:
        used, now = self._work.entry.used is not None, self._work.in_use
        ready = answer is not None and bool(answer["edges"]) and not busy
        self._use_box.set_visibility(used or (answer is not None and bool(answer["edges"])))
        if now:
            words = say("photos.use_done")
        elif used:
            words = say("photos.use_changed")
        else:
            words = say("photos.use_about", n=len(answer["edges"]) if answer else 0)
        reword(self._use_says, words)
        reword(self._use, say("photos.use_again") if used else say("photos.use"))
        self._use.props["disabled"] = not ready or now
        self._use.update()
        self._unuse.set_visibility(used)


def page_finding(data: Mapping[str, Any]) -> Finding:
    """Return a finding with what to do about it on this page, where the command line says it otherwise."""
    code, todo, message = str(data["code"]), str(data["todo"]), str(data["message"])
    name = code.replace("-", "_")
    if f"photos.todo_{name}" in all_words():
        todo = say(f"photos.todo_{name}")
    if f"photos.finding_{name}" in all_words():
        message = say(f"photos.finding_{name}")
    for word in message.split():
        if "_" in word:
            message = message.replace(word, corner_title(word).lower())
    return Finding(
        code, Weight(data["weight"]), str(data["where"]), message, data["amount"], data["limit"], "", todo
    )
