"""Collects what is wrong with a garment file, each fault with its place, and never stops at the first."""

import difflib
from collections.abc import Iterable

from likesewn.errors import InputError, Problem
from likesewn.garment.toml_lines import TomlLines, TomlPath, dotted
from likesewn.garment.toml_text import shortened

__all__ = ["Problems", "nearest", "shown"]

MOST_PROBLEMS = 50
"""More than anyone reads at once; the rest is counted."""


def shown(value: object) -> str:
    """Return a TOML value as it is shown in a message, in one short line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{shortened(value)}"'
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    try:
        return shortened(str(value))
    except ValueError:  # Python refuses to write whole numbers of many thousand digits
        return "a number of thousands of digits"


def nearest(name: str, known: Iterable[str]) -> str:
    """Return the known name that is most like ``name``, or empty where none is much like it."""
    by_letters = {k.lower().replace("_", " ").replace("-", " "): k for k in known}
    wanted = name[:60].lower().replace("_", " ").replace("-", " ")
    found = difflib.get_close_matches(wanted, by_letters, n=1, cutoff=0.6)
    return by_letters[found[0]] if found else ""


class Problems:
    """The faults of one file so far."""

    def __init__(self, file: str, lines: TomlLines) -> None:
        self.file = file
        self.lines = lines
        self._found: list[Problem] = []
        self._more = 0

    @property
    def full(self) -> bool:
        """True when further faults are only counted, and not worth wording well."""
        return len(self._found) >= MOST_PROBLEMS

    def add(
        self,
        path: TomlPath,
        message: str,
        *,
        found: str = "",
        allowed: str = "",
        near: str = "",
        todo: str = "",
    ) -> None:
        """Add one fault; ``path`` is where it stands, or where it would stand if it were there."""
        if self.full:
            self._more += 1
            return
        key = shortened(dotted(path), 80)
        line = self.lines.near(path)
        self._found.append(Problem(message, found, self.file, line, key, allowed, near, todo))

    def stop(self) -> None:
        """Raise all faults together, in the order of their lines; do nothing where there are none."""
        if not self._found:
            return
        ordered = sorted(self._found, key=lambda p: (not p.line, p.line))
        if self._more:
            ordered.append(Problem(f"and {self._more} more faults like these", file=self.file))
        raise InputError(*ordered)
