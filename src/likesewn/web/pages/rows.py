"""Lists of places on a cloth, row by row: flaws, spoilt stretches, the corners of a remnant."""

from collections.abc import Sequence
from functools import partial

from likesewn.garment.keys import Key
from likesewn.web.figures import plain_value
from likesewn.web.pages.garment import View
from likesewn.web.pages.keyed import Keyed
from likesewn.web.widgets import Field, button, node, text
from likesewn.web.words import say

__all__ = ["Rows"]


class Rows:
    """A list of rows of lengths under one key of the garment file."""

    def __init__(
        self,
        view: View,
        keyed: Keyed,
        key: Key,
        dotted: str,
        title: str,
        labels: Sequence[str],
        least: int = 1,
    ) -> None:
        """Show the list.

        Args:
            view: The window.
            keyed: What reads the garment file.
            key: What the table of keys says of it.
            dotted: Where it stands.
            title: What it is called.
            labels: What each figure of a row is called.
            least: Rows that must be filled before the list says anything.
        """
        self.view, self.keyed, self.key, self.dotted = view, keyed, key, dotted
        self.title, self.labels, self.least = title, labels, least
        self.rows: list[list[str]] = []
        self.fields: list[list[Field]] = []
        self.open = 0
        with node("fieldset", "ls-rows"):
            text(title, "legend")
            text(key.about, "p", "ls-soft ls-small")
            self.box = node("div", "ls-stack")
            self.more = button(say("lay.add"), self.add, label=f"{say('lay.add')}: {title}")

    def show(self) -> None:
        """Show what the newest document says; rows that are still being filled in stay below it."""
        there = self.keyed.there(self.dotted)
        stored = [[self.cell(v) for v in row] for row in there] if isinstance(there, list) else []
        fresh = self.rows[len(self.rows) - self.open :] if self.open else []
        rows = [*stored, *fresh]
        if len(rows) == len(self.fields):
            for fields, row in zip(self.fields, rows, strict=True):
                for field, value in zip(fields, row, strict=False):
                    field.show(value)
        self.rows = rows
        if len(rows) != len(self.fields):
            self.rebuild()

    def cell(self, value: object) -> str:
        """Return a figure of the file as a field shows it."""
        return f"{value:g} {self.view.unit}" if isinstance(value, int | float) else str(value)

    def rebuild(self) -> None:
        """Make the rows' fields afresh."""
        self.box.clear()
        self.fields = []
        with self.box:
            for i, row in enumerate(self.rows):
                with node(
                    "div", "ls-cells", role="group", aria_label=say("lay.row", title=self.title, n=i + 1)
                ):
                    self.fields.append(
                        [
                            Field(label, value, partial(self.told, i, j))
                            for j, (label, value) in enumerate(zip(self.labels, row, strict=False))
                        ]
                    )
                    words = say("lay.take_out")
                    button(words, partial(self.take_out, i), "plain", label=f"{words}: {self.title} {i + 1}")

    def add(self) -> None:
        """Add an empty row."""
        self.rows.append([""] * len(self.labels))
        self.open += 1
        self.rebuild()

    async def told(self, row: int, column: int, value: str) -> None:
        """Take a figure that was typed."""
        self.rows[row][column] = value
        await self.store(self.fields[row][column])

    async def take_out(self, row: int) -> None:
        """Take a row out."""
        fresh = row >= len(self.rows) - self.open
        del self.rows[row]
        self.open -= fresh
        self.rebuild()
        if not fresh:
            await self.store(None)

    async def store(self, field: Field | None) -> None:
        """Store the rows once all are filled in; ``field`` is told where they cannot be used."""
        full = [row for row in self.rows if all(cell.strip() for cell in row)]
        if field is not None and len(full) < max(self.least, len(self.rows)):
            return
        value = [[_figure(cell) for cell in row] for row in full] if len(full) >= self.least else None
        still = self.open
        self.open = 0 if field is not None else self.open
        refuse = field.refuse if field else None
        if not await self.view.change({self.dotted: value}, said=self.title.lower(), refuse=refuse):
            self.open = still


def _figure(words: str) -> str | int | float:
    value = plain_value(words)
    return words if value is None else value
