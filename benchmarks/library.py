"""The library: the shelf does not slow with 500 garments, and a save costs little more than the disk."""

import io
import os
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

from benchmarks.table import Row, best_of
from likesewn.library import Library

FEW, MANY = 20, 500
STEPS = 10
RUNS = 60


def _now() -> datetime:
    return datetime.now(UTC)


def _filled(folder: Path, garments: int) -> Library:
    """Make a library whose garments each have some changes to undo."""
    text = resources.files("likesewn.examples").joinpath("throwing-top.toml").read_text(encoding="utf-8")
    library = Library.open(folder, now=_now)
    for n in range(garments):
        named = text.replace('"Throwing top"', f'"Top {n}"')
        garment = library.add(named).garment
        for step in range(STEPS):
            changed = named.replace("body_length = 67", f"body_length = {67 + step}.5")
            library.save(garment, step + 1, changed, {"ticks": list(range(step))}, said="body length")
    return library


def _saver(library: Library) -> Callable[[], object]:
    """Return what saves a new remark in the newest garment each time."""
    first = library.get(library.shelf(limit=1).rows[0].garment)
    newest = [first.revision]

    def save() -> None:
        text = f"{first.text}# {newest[0]}\n"
        newest[0] = library.save(first.garment, newest[0], text, {}, said="a remark").revision

    return save


def _write_and_sync(file: io.FileIO) -> None:
    """Append to a file as much as a save does to the log, and wait for the disk."""
    file.write(bytes(5 * 4096))
    os.fsync(file.fileno())


def shelf_and_saves() -> tuple[list[Row], list[str]]:
    """Time the shelf, a search and a save with few garments and with many."""
    with tempfile.TemporaryDirectory() as scratch:
        few, many = (_filled(Path(scratch) / str(n), n) for n in (FEW, MANY))
        with few, many:
            rows: list[Row] = []
            for what, act, bar in (
                ("The first 20 of the shelf", lambda library: library.shelf(limit=20), 3.0),
                ("A search through the shelf", lambda library: library.shelf(search="apprentice 7"), None),
            ):
                ours, base = (best_of(RUNS, lambda one=one, act=act: act(one))[0] for one in (many, few))
                rows.append(_row(f"{what}, {MANY} garments", ours, f"the same, {FEW} garments", base, bar))
            saved = best_of(RUNS, _saver(many))[0]
            with io.FileIO(Path(scratch) / "plain", "w") as plain:
                synced = best_of(RUNS, lambda: _write_and_sync(plain))[0]
            baseline = "write 20 KB to a file and fsync it"
            rows.append(_row(f"A save, {MANY} garments", saved, baseline, synced, None))
            size = (Path(scratch) / str(MANY) / "likesewn.sqlite").stat().st_size
    return rows, [f"{MANY} garments of {STEPS + 1} states each take {size / 1e6:.1f} MB."]


def _row(what: str, ours: float, baseline: str, base: float, bar: float | None) -> Row:
    times = f"{ours * 1000:.2f} ms", f"{base * 1000:.2f} ms"
    told = ("", "") if bar is None else (f"at most {bar:.0f} : 1", "yes" if ours <= bar * base else "no")
    return Row(what, times[0], baseline, times[1], f"{ours / base:.1f} : 1", *told)
