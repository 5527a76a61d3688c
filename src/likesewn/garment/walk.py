"""Walks a garment file along the table of keys: reads what is known, notes what is not."""

from collections.abc import Mapping, Sequence
from typing import cast

import numpy as np
from numpy.typing import NDArray

from likesewn.garment.keys import KIND_TABLES, Key, Table
from likesewn.garment.problems import Problems, nearest, shown
from likesewn.garment.record import Figure
from likesewn.garment.toml_lines import TomlPath, dotted
from likesewn.garment.values import Value, ValueReader

__all__ = ["Walk"]

MOST_NAME = 40
"""Letters in the name of a further cloth."""


class Walk:
    """One walk through one file.

    Attributes:
        tables: The tables of the file, by name.
        complete: False where the kind is not known, so that the keys it brings cannot be judged.
        values: What was read, by dotted key with the names that ``keys`` gives.
        written: Where each key that is given stands, by the same dotted key, even if it was refused.
        lines: Its line, likewise.
        cloths: Names of further cloths.
        entries: Number of entries of each table that is written more than once.
    """

    def __init__(
        self, tables: Sequence[Table], reader: ValueReader, problems: Problems, *, complete: bool
    ) -> None:
        self.tables = {table.name: table for table in tables}
        self.complete = complete
        self.problems = problems
        self.values: dict[str, Value] = {}
        self.written: dict[str, TomlPath] = {}
        self.lines: dict[str, int] = {}
        self.cloths: list[str] = []
        self.entries: dict[str, int] = {}
        self._one = reader

    def read(self, values: Mapping[str, object]) -> None:
        """Read the whole file."""
        for name, value in values.items():
            if name == "format":
                self._note(("format",), "format")
            elif name not in self.tables:
                if self.complete or name not in KIND_TABLES:
                    self._unknown((name,), value, [(known, True) for known in ("format", *self.tables)])
            elif self.tables[name].repeated:
                self._entries(self.tables[name], value)
            else:
                self._table(self.tables[name], value, (name,))

    def _note(self, path: TomlPath, key: str) -> None:
        self.written[key] = path
        self.lines[key] = self.problems.lines.near(path)

    def _entries(self, table: Table, value: object) -> None:
        path: TomlPath = (table.name,)
        if not isinstance(value, list):
            self.problems.add(
                path, f"this is written [[{table.name}]], with two brackets on each side", found=shown(value)
            )
            return
        self._note(path, table.name)
        for i, entry in enumerate(cast("list[object]", value)):
            self._table(table, entry, (table.name, i))
            self.entries[table.name] = i + 1

    def _table(self, table: Table, value: object, path: TomlPath) -> None:
        if not isinstance(value, dict):
            header = f"[[{table.name}]]" if table.repeated else f"[{dotted(path)}]"
            todo = f"write {header} in a line of its own, and its keys below"
            self.problems.add(path, "this should be a table", found=shown(value), todo=todo)
            return
        self._note(path, dotted(path))
        keys = {name: key for key in table.keys for name in (key.name, key.other) if name}
        parts = {part.name: part for part in table.parts}
        for name, item in cast("dict[str, object]", value).items():
            here = (*path, name)
            if name in keys:
                self._value(keys[name], item, here, dotted((*path, keys[name].name)))
            elif name in parts:
                self._table(parts[name], item, here)
            elif table.named and isinstance(item, dict):
                self._named(table, cast("dict[str, object]", item), here)
            elif self.complete or table.name != "garment":
                known = [*((k, key.listed) for k, key in keys.items()), *((part, True) for part in parts)]
                self._unknown(here, item, known)
        self._missing(table, path)

    def _named(self, table: Table, item: object, path: TomlPath) -> None:
        name = str(path[-1])
        letters = name.replace("-", "").replace("_", "").replace(" ", "")
        if not letters.isalnum() or len(name) > MOST_NAME:
            self.problems.add(
                path, "this name cannot be used", allowed=f"1 to {MOST_NAME} letters, digits, spaces, - and _"
            )
            return
        self.cloths.append(name)
        self._table(Table(table.name, table.about, table.keys), item, path)

    def _value(self, key: Key, item: object, path: TomlPath, name: str) -> None:
        if item == "":
            return  # a line of a new file that was not filled in
        if name in self.written:
            other = dotted(self.written[name])
            self.problems.add(path, f"this says again what {other} says", todo="keep one of them")
            return
        self._note(path, name)
        value = self._one.read(key, item, path)
        if value is not None:
            self.values[name] = value

    def _missing(self, table: Table, path: TomlPath) -> None:
        if table.name == "tape":
            return  # some measures may be given for each piece instead
        for key in table.keys:
            name = dotted((*path, key.name))
            if key.needed and name not in self.written and name != "garment.kind":
                self.problems.add(
                    (*path, key.name), "this key is missing", allowed=key.allowed("cm"), todo=key.about
                )

    def _unknown(self, path: TomlPath, value: object, known: Sequence[tuple[str, bool]]) -> None:
        """Note a name that is not known; ``known`` are those that are, and whether to list each."""
        if self.problems.full:
            self.problems.add(path, "")  # only counted, so no time is spent on a likely name
            return
        name = str(path[-1])
        near = nearest(name, (k for k, _ in known))
        homes = [t.name for t in self.tables.values() if any(name == key.name for key in t.keys)]
        if homes and near != name and path[0] not in homes:
            near = f"{name} under [{homes[0]}]"
        allowed = ", ".join(k for k, listed in known if listed)
        message = "there is no such table" if len(path) == 1 else "there is no such key"
        self.problems.add(path, message, found=shown(value), allowed=allowed, near=near)

    def taped(self) -> set[str]:
        """Return the keys of the tape measures that are given."""
        return {key.removeprefix("tape.") for key in self.written if key.startswith("tape.")}

    def text(self, key: str, default: str = "") -> str:
        """Return the text or choice of a key."""
        value = self.values.get(key)
        return value if isinstance(value, str) else default

    def flag(self, key: str, *, default: bool = False) -> bool:
        """Return the flag of a key; the default where it is not given."""
        value = self.values.get(key)
        return value if isinstance(value, bool) else default

    def mm(self, key: str) -> float | None:
        """Return the length of a key, mm."""
        value = self.values.get(key)
        return value.mm if isinstance(value, Figure) else None

    def share(self, key: str) -> float | None:
        """Return the share of a key."""
        value = self.values.get(key)
        return value if isinstance(value, float) else None

    def points(self, key: str) -> NDArray[np.float64] | None:
        """Return the points of a key, shape (n, 2), mm."""
        value = self.values.get(key)
        return value if isinstance(value, np.ndarray) else None

    def rings(self, key: str) -> tuple[NDArray[np.float64], ...]:
        """Return the outlines of a key, each shape (n, 2), mm; none where it is not given."""
        value = self.values.get(key)
        return tuple(r for r in value if isinstance(r, np.ndarray)) if isinstance(value, tuple) else ()

    def names(self, key: str) -> tuple[str, ...]:
        """Return the names of a key; none where it is not given."""
        value = self.values.get(key)
        return tuple(name for name in value if isinstance(name, str)) if isinstance(value, tuple) else ()

    def below(self, table: str) -> dict[str, float]:
        """Return all lengths and shares of a table by what follows its name."""
        prefix = f"{table}."
        found: dict[str, float] = {}
        for key, value in self.values.items():
            if key.startswith(prefix) and isinstance(value, Figure | float):
                found[key.removeprefix(prefix)] = value.mm if isinstance(value, Figure) else value
        return found
