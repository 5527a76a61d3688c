"""Lists of places on a cloth, row by row: flaws, spoilt stretches, corners of a remnant and its holes."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from likesewn.garment.editing import Change
from likesewn.garment.keys import Form, Key
from likesewn.web.figures import plain_value
from likesewn.web.pages.garment import View
from likesewn.web.pages.keyed import Keyed
from likesewn.web.widgets import Field, button, node, text
from likesewn.web.words import say

__all__ = ["Holes", "Rows", "listed_places"]


CORNERS = 3
"""Corners that an outline has at least."""

Figures = list[list[str | int | float]]


class Rows:
    """A list of rows of lengths in the garment file."""

    def __init__(
        self,
        view: View,
        read: Callable[[], object],
        write: Callable[[Figures | None], Change],
        dotted: str,
        title: str,
        labels: Sequence[str],
        least: int = 1,
        about: str = "",
    ) -> None:
        """Show the list.

        Args:
            view: The window.
            read: Gives the list as the file has it.
            write: Given a new list, or None for none, what is to stand under the key.
            dotted: The key.
            title: What the list is called.
            labels: What each figure of a row is called.
            least: Rows that must be filled before the list says anything.
            about: A sentence on it.
        """
        self.view, self.read, self.write, self.dotted = view, read, write, dotted
        self.title, self.labels, self.least = title, labels, least
        self.rows: list[list[str]] = []
        self.fields: list[list[Field]] = []
        self.open = 0
        with node("fieldset", "ls-rows"):
            text(title, "legend")
            if about:
                text(about, "p", "ls-soft ls-small")
            self.box = node("div", "ls-stack")
            with node("div", "ls-row"):
                button(say("lay.add"), self.add, label=f"{say('lay.add')}: {title}")

    def show(self) -> None:
        """Show what the newest document says; rows that are still being filled in stay below it."""
        stored = [[self.cell(v) for v in row] for row in rows_of(self.read())]
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

    def add(self, count: int = 1) -> None:
        """Add empty rows."""
        self.rows += [[""] * len(self.labels) for _ in range(count)]
        self.open += count
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
        if not await self.view.change(
            {self.dotted: self.write(value)}, said=self.title.lower(), refuse=refuse
        ):
            self.open = still


class Holes:
    """The holes of a cloth, each a list of corners; one that is being added stands below the file's."""

    def __init__(
        self, view: View, read: Callable[[], object], dotted: str, labels: Sequence[str], about: str
    ) -> None:
        """Show them; arguments as for ``Rows``."""
        self.view, self.read, self.dotted, self.labels = view, read, dotted, labels
        self.rings: list[Rows] = []
        self.known = 0
        self.fresh = False
        with node("fieldset", "ls-rows"):
            text(say("lay.holes"), "legend")
            text(about, "p", "ls-soft ls-small")
            self.box = node("div", "ls-stack")
            with node("div", "ls-row"):
                self.more = button(say("lay.add_hole"), self.add)

    def show(self) -> None:
        """Show what the newest document says."""
        stored = len(rows_of(self.read()))
        if stored > self.known:
            self.fresh = False  # it is among them now
        self.known = stored
        if len(self.rings) != stored + self.fresh:
            self.rebuild()
        self._show_rings()

    def _show_rings(self) -> None:
        for ring in self.rings:
            ring.show()
        self.more.props["disabled"] = self.fresh
        self.more.update()

    def rebuild(self) -> None:
        """Make the lists afresh."""
        self.box.clear()
        self.rings = []
        with self.box:
            for i in range(self.known + self.fresh):
                title = say("lay.hole", n=i + 1)
                self.rings.append(
                    Rows(
                        self.view, partial(self.ring, i), partial(self.with_ring, i), self.dotted, title,
                        self.labels, CORNERS,
                    )
                )  # fmt: skip
                words = say("lay.take_out")
                with node("div", "ls-row"):
                    button(words, partial(self.take_out, i), "plain", label=f"{words}: {title}")

    def ring(self, number: int) -> object:
        """Return a hole's corners as the file has them."""
        rings = rows_of(self.read())
        return rings[number] if number < len(rings) else None

    def with_ring(self, number: int, corners: Figures | None) -> Change:
        """Return all holes as the file is to have them once one has these corners, or is no longer there."""
        rings = rows_of(self.read())
        rings[number : number + 1] = [] if corners is None else [corners]
        return rings or None

    def add(self) -> None:
        """Begin a hole."""
        self.fresh = True
        self.rebuild()
        self._show_rings()
        self.rings[-1].add(CORNERS)

    async def take_out(self, number: int) -> None:
        """Take a hole out."""
        if number < self.known:
            said = say("lay.hole", n=number + 1).lower()
            await self.view.change({self.dotted: self.with_ring(number, None)}, said=said)
            return
        self.fresh = False
        self.show()


def listed_places(view: View, keyed: Keyed, key: Key, dotted: str, least: int) -> Rows | Holes:
    """Put a list of places of a cloth here, or of lists of places.

    Args:
        view: The window.
        keyed: What reads the garment file.
        key: What the table of keys says of it.
        dotted: Where it stands.
        least: Rows that must be filled before a list says anything.
    """
    labels = [say(f"lay.{key.name}_{i}") for i in range(key.figures)]
    read = partial(keyed.there, dotted)
    if key.form is Form.RINGS:
        return Holes(view, read, dotted, labels, key.about)
    return Rows(view, read, lambda value: value, dotted, say(f"lay.{key.name}"), labels, least, key.about)


def rows_of(there: object) -> list[Any]:
    """Return a list of the file; empty where there is none."""
    return list(there) if isinstance(there, list) else []


def _figure(words: str) -> str | int | float:
    value = plain_value(words)
    return words if value is None else value
