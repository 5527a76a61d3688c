"""Foldings and cloths compared for a garment, and a cloth of the drawer taken for it."""

from collections.abc import Mapping
from typing import cast

from likesewn.garment import Cloth, Kind, read_draft
from likesewn.garment.editing import Change
from likesewn.garment.keys import file_tables
from likesewn.garment.toml_text import load_toml
from likesewn.library import KeptCloth
from likesewn.web.desk import Desk, Opened
from likesewn.web.laying import Compared, Task

__all__ = ["compared_cloths", "compared_foldings", "drawer", "take_cloth", "what_would_fit"]


def compared_foldings(desk: Desk, opened: Opened) -> tuple[Compared, ...]:
    """Try every folding of the garment's first cloth, the one that takes least first.

    Returns:
        What was tried; nothing where there is nothing to lay, or another search came first.

    Raises:
        InputError: The cloth cannot be used as it is described.
    """
    return _compared(desk, opened, "foldings", {})


def compared_cloths(desk: Desk, opened: Opened) -> tuple[Compared, ...]:
    """Try each cloth of the drawer; the name of what was tried is the cloth's id. Else as for foldings."""
    kind = opened.kind
    if kind is None:
        return ()
    read = {one.cloth: _cloth(kind, one.text, opened) for one in drawer(desk)}
    return _compared(desk, opened, "cloths", {name: cloth for name, cloth in read.items() if cloth})


def what_would_fit(desk: Desk, opened: Opened, name: str, cloth: Cloth) -> str:
    """Say what would make the garment fit on one of its cloths; empty where nothing was found."""
    return " ".join(one.words for one in _compared(desk, opened, "cloths", {name: cloth}))


def drawer(desk: Desk) -> tuple[KeptCloth, ...]:
    """Return the cloths of the drawer."""
    return tuple(desk.library.cloths())


def take_cloth(opened: Opened, dotted: str, kept: KeptCloth) -> dict[str, Change]:
    """Return what to change in the garment file so that a cloth of the drawer is used.

    Args:
        opened: The garment.
        dotted: Where its cloth stands: ``cloth``, or ``cloth."rib"``.
        kept: The cloth of the drawer.
    """
    said, _ = load_toml(kept.text)
    tables = file_tables(opened.kind, ())
    keys = [key.name for table in tables if table.name == "cloth" for key in table.keys]
    changes: dict[str, Change] = {f"{dotted}.{name}": None for name in keys}
    given = cast("Mapping[str, Change]", said)  # as the drawer checked them when the cloth was put in
    return changes | {f"{dotted}.{name}": value for name, value in given.items() if name in keys}


def _compared(desk: Desk, opened: Opened, what: str, cloths: Mapping[str, Cloth]) -> tuple[Compared, ...]:
    stages, trued = opened.cut(), opened.trued()
    if stages is None or trued is None or (what == "cloths" and not cloths):
        return ()
    task = Task(stages.record, trued.pattern.kind, stages.cut_list, compare=what, cloths=cloths)
    found = desk.room.lay(task)
    return found if isinstance(found, tuple) else ()


def _cloth(kind: Kind, text: str, opened: Opened) -> Cloth | None:
    """Read a cloth of the drawer as one of a garment of this kind; None where it cannot be used there."""
    unit = opened.record.unit if opened.record else "cm"
    garment = f'format = 1\n[garment]\nkind = "{kind.name}"\nunit = "{unit}"\n[cloth]\n{text}'
    record = read_draft(garment).record
    return record.cloths.get("main") if record else None
