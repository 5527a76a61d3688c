"""All that the workbench can do, without a browser: documents opened, changed, worked on and handed out.

Pages and the HTTP API translate to and from this; nothing here knows either. Functions block for up to a few
tenths of a second and are safe to call from several threads.
"""

import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from likesewn.errors import InputError, Problem
from likesewn.garment import Draft, Kind, Record, load_kind, new_garment, read_draft, update_garment
from likesewn.garment.editing import Change
from likesewn.job import Stages
from likesewn.library import Document, Library
from likesewn.library.taking_in import take_in
from likesewn.truing import Explained, Untrued
from likesewn.web.laying import Laid, LayRoom, Task
from likesewn.web.thumbnail import thumbnail_svg

__all__ = ["Desk", "Opened"]

KEPT_OPEN = 24
"""Documents whose stages are kept at hand: a few windows and some steps of undo for each."""

Watcher = Callable[[Document, str], object]
"""Told a new document, and where it came from where that was no window; empty for a window."""


@dataclass(eq=False)
class Opened:
    """A document with what its file says and what the stages made of it; it never changes.

    Attributes:
        document: The document.
        draft: What its garment file says.
        stages: Its stages, done as far as they were asked for; None where the file cannot be used.
        laid: Plans of the search for a lay, once there are some.
    """

    document: Document
    draft: Draft
    stages: Stages | None
    laid: Laid | None = None
    lock: threading.RLock = field(default_factory=threading.RLock)

    @property
    def record(self) -> Record | None:
        """What was recorded, or None where the file cannot be used."""
        return self.draft.record

    @property
    def kind(self) -> Kind | None:
        """The garment's kind, or None where it is not known."""
        return self.draft.kind

    @property
    def complete(self) -> bool:
        """True where nothing needed is missing and nothing in the file is wrong."""
        return self.stages is not None and not self.draft.missing

    def explained(self) -> Explained | Untrued | None:
        """True the garment; None where its file cannot be used."""
        if self.stages is None:
            return None
        if "explained" in vars(self.stages):
            return self.stages.explained  # no need to wait for a later stage that holds the lock
        with self.lock:
            return self.stages.explained

    def trued(self) -> Explained | None:
        """Return the trued pattern, or None where there is none."""
        found = self.explained()
        return found if isinstance(found, Explained) else None

    def ready(self) -> Stages | None:
        """Return the stages where there is a pattern to go on with: trued, and nothing needed missing."""
        return self.stages if self.complete and self.trued() is not None else None

    def cut(self) -> Stages | None:
        """Return the stages with the cut list made, or None where there is no pattern to cut."""
        stages = self.ready()
        if stages is not None:
            with self.lock:
                _ = stages.cut_list
        return stages


class Desk:
    """The desk: one library, the documents that are open, and who watches them.

    Attributes:
        library: Where garments are kept.
        room: The process that searches for lays.
    """

    def __init__(
        self, library: Library, today: Callable[[], date] = lambda: datetime.now(UTC).astimezone().date()
    ) -> None:
        """Open a desk; ``today`` gives the date to print."""
        self.library = library
        self.room = LayRoom()
        self._today = today
        self._opened: OrderedDict[tuple[str, int], Opened] = OrderedDict()
        self._drafts: OrderedDict[str, Draft] = OrderedDict()
        self._watchers: dict[str, list[Watcher]] = {}
        self._lock = threading.Lock()
        self._thumbnails = threading.Lock()

    def close(self) -> None:
        """End the process that lays and close the library."""
        self.room.close()
        self.library.close()

    # --- documents --------------------------------------------------------------------------------------

    def open(self, garment: str) -> Opened:
        """Open the newest document of a garment; NoSuchGarment where there is none."""
        return self.opened(self.library.get(garment))

    def opened(self, document: Document) -> Opened:
        """Return a document with its stages, those that were done before among them."""
        place = (document.garment, document.revision)
        with self._lock:
            if place in self._opened:
                self._opened.move_to_end(place)
                return self._opened[place]
        draft = self._draft(document.text)
        stages = None
        if draft.record is not None and draft.kind is not None:
            stages = Stages(draft.record, draft.kind, today=self._today(), clock=time.perf_counter)
        fresh = Opened(document, draft, stages)
        with self._lock:
            for other in self._opened.values():
                if other.document.text == document.text and other.document.garment == document.garment:
                    fresh = Opened(document, other.draft, other.stages, other.laid, other.lock)
                elif other.document.garment == document.garment and other.stages and fresh.stages:
                    fresh.stages.take_over(other.stages)
            self._opened[place] = fresh
            while len(self._opened) > KEPT_OPEN:
                self._opened.popitem(last=False)
        return fresh

    def _draft(self, text: str) -> Draft:
        """Read a garment's file, once for each text."""
        with self._lock:
            if text in self._drafts:
                self._drafts.move_to_end(text)
                return self._drafts[text]
        draft = read_draft(text)
        with self._lock:
            self._drafts[text] = draft
            while len(self._drafts) > KEPT_OPEN:
                self._drafts.popitem(last=False)
        return draft

    def begin(self, kind: str, unit: str = "cm", name: str = "") -> Document:
        """Put a new garment on the shelf, to be filled in.

        Raises:
            InputError: There is no such kind.
        """
        try:
            known = load_kind(kind)
        except KeyError:
            raise InputError(Problem("there is no such kind of garment", found=kind, key="kind")) from None
        return self.library.add(new_garment(known, unit, name), said="")

    def take_in(self, data: bytes, name: str) -> Document:
        """Put a garment on the shelf from a garment file, or from one that was exported; see ``take_in``."""
        return take_in(self.library, data, name)

    def change(
        self,
        garment: str,
        revision: int,
        changes: Mapping[str, Change] | None = None,
        *,
        said: str,
        aside: Mapping[str, Any] | None = None,
        whence: str = "",
    ) -> Opened:
        """Change values of a garment's file, or what is kept beside it.

        Args:
            garment: The garment.
            revision: Revision that the change was made from.
            changes: New values by dotted key, as for ``update_garment``.
            said: What was changed, in a few words, for undo.
            aside: New values of the aside by key; None takes a key away.
            whence: Words for the windows that show the garment, where the change came from none of them.

        Raises:
            InputError: A new value cannot be used; nothing is changed.
            Conflict: Another window changed the garment first.
        """
        before = self.library.get(garment)
        text = update_garment(before.text, changes) if changes else before.text
        if text != before.text:
            there = {(p.key, p.message, p.found) for p in self._draft(before.text).problems}
            fresh = [p for p in self._draft(text).problems if (p.key, p.message, p.found) not in there]
            if fresh:
                raise InputError(*fresh)
        beside = {**before.aside, **(aside or {})}
        beside = {k: v for k, v in beside.items() if v is not None}
        return self._told(self.library.save(garment, revision, text, beside, said=said), whence)

    def write(
        self, garment: str, revision: int, text: str, aside: Mapping[str, Any] | None = None, *, said: str
    ) -> Opened:
        """Replace a garment's whole file; arguments and errors as for ``change``."""
        if aside is None:
            aside = self.library.get(garment).aside
        return self._told(self.library.save(garment, revision, text, aside, said=said))

    def undo(self, garment: str, revision: int) -> Opened:
        """Take the last change back."""
        return self._told(self.library.undo(garment, revision))

    def redo(self, garment: str, revision: int) -> Opened:
        """Make the change again that was taken back last."""
        return self._told(self.library.redo(garment, revision))

    def go_back(self, garment: str, revision: int, number: int) -> Opened:
        """Make a kept version the newest again."""
        return self._told(self.library.go_back(garment, revision, number))

    def watch(self, garment: str, watcher: Watcher) -> Callable[[], None]:
        """Tell a function of every new document of a garment; returns what ends it."""
        with self._lock:
            self._watchers.setdefault(garment, []).append(watcher)

        def end() -> None:
            with self._lock:
                if watcher in self._watchers.get(garment, []):
                    self._watchers[garment].remove(watcher)

        return end

    def _told(self, document: Document, whence: str = "") -> Opened:
        with self._lock:
            watchers = list(self._watchers.get(document.garment, []))
        for watcher in watchers:
            watcher(document, whence)
        return self.opened(document)

    # --- what the stages make ---------------------------------------------------------------------------

    def lay(
        self, opened: Opened, seconds: float = 0.0, told: Callable[[object], None] | None = None
    ) -> Laid | None:
        """Lay a garment on its cloth; None where there is nothing to lay, or a newer search came first.

        Args:
            opened: The garment.
            seconds: How long to search; 0 for a quick plan.
            told: Called in this thread with what is found on the way.
        """
        stages = opened.cut()
        trued = opened.trued()
        if stages is None or trued is None:
            return None
        if opened.laid is not None and not seconds:
            return opened.laid
        task = Task(stages.record, trued.pattern.kind, stages.cut_list, stages.rule_mm, seconds)

        def keep(found: object) -> None:
            if isinstance(found, Laid):
                with opened.lock:
                    opened.laid = found
            if told:
                told(found)

        self.room.lay(task, keep)
        return opened.laid

    def finished(self, opened: Opened) -> Stages | None:
        """Return the stages with plans and sewing order, the lay as good as it was searched for; or None."""
        laid = self.lay(opened)
        stages = opened.ready()
        if laid is None or stages is None:
            return None
        with opened.lock:
            whole = stages.with_plans(laid.plans)
            _ = whole.sewing
        return whole

    # --- the shelf --------------------------------------------------------------------------------------

    def thumbnail(self, garment: str) -> str:
        """Return a small drawing of a garment as SVG, made afresh where it changed since."""
        document = self.library.get(garment)
        kept = self.library.thumbnail(garment)
        if kept is not None and kept[0] == document.revision:
            return kept[1]
        with self._thumbnails:  # a full shelf asks for many at once, and pages must not wait for them
            trued = self.opened(document).trued()
        svg = "" if trued is None else thumbnail_svg(trued.pattern, document.name)
        self.library.set_thumbnail(garment, document.revision, svg)
        return svg
