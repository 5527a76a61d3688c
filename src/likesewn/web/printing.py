"""What is printed and handed out: sheets laid out for the screen, and every file of a garment."""

import io
import time
import zipfile
from collections.abc import Iterator, Mapping
from weakref import WeakKeyDictionary

from likesewn.errors import InputError, LikesewnError, Problem
from likesewn.garment import Finding, Weight
from likesewn.job import files, weightiest_first
from likesewn.photo.sheet import SHEET_PAPERS
from likesewn.publish import pattern_drawing
from likesewn.publish.sheet_pdf import sheet_pdf
from likesewn.publish.sheets import Layout, spread
from likesewn.publish.tiles import PAPERS, tiling
from likesewn.truing import Untrued
from likesewn.web.desk import Desk, Opened
from likesewn.web.words import say

__all__ = [
    "EVERYTHING",
    "GARMENT_FILE",
    "NothingToPrintError",
    "everything",
    "garment_files",
    "layout",
    "sheets_name",
    "stops",
]

EVERYTHING = "everything.zip"
GARMENT_FILE = "garment.toml"

CHUNK = 64 * 1024
TRIES = 3
"""How often the lay is asked for where another search keeps coming first."""

_layouts: WeakKeyDictionary[Opened, dict[str, Layout]] = WeakKeyDictionary()
_made: WeakKeyDictionary[Opened, dict[tuple[str, int], dict[str, bytes]]] = WeakKeyDictionary()


class NothingToPrintError(LikesewnError):
    """There is no pattern, or something stops it from being sewn; the words say what."""


def sheets_name(paper: str) -> str:
    """Return the name of the file of reference sheets; they come on A4 and letter alone."""
    return f"reference-sheets-{paper if paper in SHEET_PAPERS else SHEET_PAPERS[0]}.pdf"


def layout(opened: Opened, paper: str) -> Layout | None:
    """Return the pieces as they lie on sheets of a paper; None where there is nothing to print.

    Raises:
        InputError: The paper is not known.
    """
    stages = opened.cut()
    if stages is None:
        return None
    with opened.lock:
        kept = _layouts.setdefault(opened, {})
        if paper not in kept:
            kept[paper] = spread(pattern_drawing(stages.cut_list, stages.today), tiling(paper))
        return kept[paper]


def stops(desk: Desk, opened: Opened) -> tuple[Finding, ...]:
    """Return the findings for which nothing is handed out, as the command line hands out nothing then."""
    stages = desk.finished(opened)
    done = stages.job() if stages else None
    if done is None or isinstance(done, Untrued):
        return ()
    return tuple(f for f in weightiest_first(done.findings) if f.weight is Weight.STOP)


def garment_files(desk: Desk, opened: Opened, paper: str) -> Mapping[str, bytes]:
    """Return what ``likesewn make`` writes for a garment, with its garment file and the reference sheets.

    Args:
        desk: The desk.
        opened: The garment.
        paper: Paper to print on.

    Raises:
        InputError: The paper is not known.
        NothingToPrintError: There is no pattern, or something found stops the work.
    """
    if paper not in PAPERS:
        raise InputError(Problem("there is no such paper", found=paper[:40], allowed=", ".join(PAPERS)))
    stages = None
    for _ in range(TRIES):
        stages = desk.finished(opened)
        if stages is not None or opened.ready() is None:
            break
    if stages is None or opened.laid is None:
        raise NothingToPrintError(say("files.no_pattern"))
    key = paper, id(stages.plans)
    with opened.lock:
        kept = _made.setdefault(opened, {})
        if key not in kept:
            done = stages.job()
            if isinstance(done, Untrued) or done.stopped:
                said = "" if isinstance(done, Untrued) else done.findings[0].message
                raise NothingToPrintError(say("files.stopped", said=said).strip())
            kept[key] = {
                **files(done, paper=paper, clock=time.perf_counter),
                GARMENT_FILE: opened.document.text.encode(),
                sheets_name(paper): sheet_pdf(sheets_name(paper).removesuffix(".pdf").rpartition("-")[2]),
            }
        return kept[key]


def everything(
    made: Mapping[str, bytes], names: Mapping[str, str], today: tuple[int, int, int]
) -> Iterator[bytes]:
    """Return all files as one zip, chunk by chunk.

    Args:
        made: Content by name.
        names: Other names to give them in the zip.
        today: Year, month and day to note with each file.
    """
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in made.items():
            entry = zipfile.ZipInfo(names.get(name, name), (*today, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            packed.writestr(entry, content)
    data = whole.getvalue()
    return (data[at : at + CHUNK] for at in range(0, len(data), CHUNK))
