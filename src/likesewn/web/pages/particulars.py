"""What a garment is besides its measures: name, unit, finishes, fabric and wearer, in groups to fold open.

Which fields there are comes from the table of the garment file's keys, so that a kind's own keys have theirs.
"""

from collections.abc import Iterable
from typing import TYPE_CHECKING

from likesewn.garment import Kind
from likesewn.garment.keys import Key
from likesewn.web.pages.frame import tell
from likesewn.web.pages.garment import View
from likesewn.web.pages.keyed import Keyed
from likesewn.web.pages.making import table_of
from likesewn.web.unit_change import unit_changes
from likesewn.web.widgets import node, reword, text
from likesewn.web.words import say

if TYPE_CHECKING:
    from collections.abc import Mapping

    from nicegui.element import Element

    from likesewn.garment.editing import Change

__all__ = ["Particulars"]

GROUPS = ("garment", "fabric", "wearer")
FIXED = ("garment.kind",)
UNIT = "garment.unit"
"""Keys that are not chosen here, and the one that the figures hang on."""


class Particulars:
    """The groups of fields."""

    def __init__(self, view: View, kind: Kind) -> None:
        """Build the groups."""
        self._view = view
        self._kind = kind
        self._keyed = Keyed(view)
        self._says: dict[str, Element] = {}
        with node("div", "ls-folds"):
            for group in GROUPS:
                self._build(group, table_of(kind, group).keys)

    def _build(self, group: str, keys: Iterable[Key]) -> None:
        with node("details", "ls-fold"):
            with node("summary"):
                text(say(f"record.group_{group}"), "span", "ls-fold-title")
                self._says[group] = text("", "span", "ls-soft ls-small")
            with node("div", "ls-pairs"):
                for key in keys:
                    dotted = f"{group}.{key.name}"
                    if dotted == UNIT:
                        label = self._label(key.name)
                        self._keyed.add(key, dotted, label, also=self._in_unit, then=unit_told)
                    elif key.listed and dotted not in FIXED:
                        self._keyed.add(key, dotted, self._label(key.name))

    def _label(self, name: str) -> str:
        for finish in self._kind.finishes:
            if name.startswith(f"{finish.name}_"):
                return say(f"record.key_{name.removeprefix(f'{finish.name}_')}", title=finish.title)
        return say(f"record.key_{name}")

    def _in_unit(self, unit: "Change") -> "Mapping[str, Change]":
        return unit_changes(self._view.opened.document.text, self._kind, str(unit))

    def show(self) -> None:
        """Show what the file says."""
        self._keyed.show()
        for group, says in self._says.items():
            reword(says, self._keyed.summary(group))


def unit_told() -> None:
    """Say that only the unit is another one."""
    tell(say("record.unit_changed"))
