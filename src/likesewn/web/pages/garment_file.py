"""The garment file itself: what is wrong with it, and its text, to be read, changed and taken away."""

import asyncio

from likesewn.errors import InputError
from likesewn.garment import read_draft
from likesewn.web.pages.frame import words_of
from likesewn.web.pages.garment import View
from likesewn.web.widgets import Field, button, heading, link, node, text
from likesewn.web.words import say

__all__ = ["Faults", "GarmentFile"]


class Faults:
    """What is wrong with the garment file, one fault below the other."""

    def __init__(self, view: View) -> None:
        """Make the place for them."""
        self._view = view
        self._shown: object = None
        self._box = node("section", "ls-stack", aria_label=say("record.faults"))

    def show(self) -> None:
        """Show the faults there are."""
        problems = self._view.opened.draft.problems
        if problems == self._shown:
            return
        self._shown = problems
        self._box.clear()
        self._box.set_visibility(bool(problems))
        if not problems:
            return
        with self._box:
            heading(say("record.faults"), 3)
            text(say("record.faults_about"))
            for problem in problems:
                with node("div", "ls-finding stop", role="group"):
                    where = say("record.line", line=problem.line) if problem.line else ""
                    parts = [part for part in (where, problem.key) if part]
                    if parts:
                        text(", ".join(parts), "p", "ls-soft")
                    text(words_of(InputError(problem)))


class GarmentFile:
    """The text of the garment file, folded away."""

    def __init__(self, view: View) -> None:
        """Build it."""
        self._view = view
        self._begun = view.opened.document.text
        with node("details", "ls-fold", data_row="file"):
            with node("summary"):
                text(say("record.file"), "span", "ls-fold-title")
            with node("div", "ls-stack"):
                text(say("record.file_about"))
                self._field = Field(
                    say("record.file"),
                    self._begun,
                    lambda _: None,
                    tag="textarea",
                    hidden_label=True,
                    rows=22,
                    look="ls-code",
                    spellcheck="false",
                    wrap="off",
                )
                with node("div", "ls-row"):
                    button(say("record.file_save"), self._save, "main")
                    button(say("record.file_again"), self._again)
                    link(
                        say("record.file_download"),
                        f"/api/garments/{view.garment}/file",
                        download=f"{view.garment}.toml",
                    )

    async def _save(self) -> None:
        content = str(self._field.value).replace("\r\n", "\n")
        document = self._view.opened.document
        if document.text not in {self._begun, content}:
            self._field.refuse(say("record.file_moved_on"))
            return
        draft = await asyncio.to_thread(read_draft, content, document.name)
        if draft.problems:
            lines = [_one(problem.line, InputError(problem)) for problem in draft.problems]
            self._field.refuse("\n".join([say("record.file_refused"), *lines]))
            return
        self._field.refuse("")
        self._begun = content
        if content != document.text and not await self._view.write(content, said=say("record.file")):
            self._begun = document.text

    def _again(self) -> None:
        """Show the file as it is now, without what was typed."""
        self._begun = self._view.opened.document.text
        self._field.show(self._begun)
        self._field.refuse("")

    def show(self) -> None:
        """Show the file as it is, unless it is being changed here."""
        if self._field.value == self._begun:
            self._begun = self._view.opened.document.text
            self._field.show(self._begun)


def _one(line: int, error: InputError) -> str:
    words = words_of(error)
    return f"{say('record.line', line=line)}: {words}" if line else words
