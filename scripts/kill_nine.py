"""Kills a process that edits a library, at random moments, and looks whether anything committed was lost.

A child opens the library and makes changes; after each that was committed it reports on a pipe what
must be there from now on. The parent ends it with SIGKILL at a moment drawn from a seeded generator, opens
the library again and checks: it opens, ``integrity_check`` says ok, every report holds, every text is one
that the child made, and every photograph that anything names is there, whole. What a kill cannot show is a
loss of current: the system keeps what a process wrote, whether the process told the disk to or not.

    python scripts/kill_nine.py --times 1000
"""
# ruff: noqa: INP001, S311, T201 - a script, its dice are no secrets, and it prints

import argparse
import hashlib
import json
import os
import random
import select
import shutil
import signal
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from likesewn.library import Document, Library, NothingToUndo, photos
from likesewn.library.reading import read_text

LONGEST = 0.4
"""Seconds that a child lives at most."""

EARLY = 0.02
"""Seconds within which every eighth is killed: while it opens the library, or makes it."""

NEW_LIBRARY = 50
"""Kills after which a new library is begun."""

TEXT = '[garment]\nname = "Top {n}"\nkind = "set-in-sleeve-top"\nunit = "cm"\n\n[tape]\nchest_width = {n}\n'
PNG = b"\x89PNG\r\n\x1a\n"


def clock(hours: int) -> Callable[[], datetime]:
    """Return a clock that starts so many hours late and goes on by one with each look at it."""
    at = [datetime(2026, 1, 1, tzinfo=UTC) + timedelta(hours=hours)]

    def now() -> datetime:
        at[0] += timedelta(hours=1)
        return at[0]

    return now


def digest(document: Document) -> str:
    """Return a digest of all that a person made of a garment."""
    return hashlib.sha256(json.dumps([document.text, document.aside]).encode()).hexdigest()


@dataclass
class Reports:
    """What must be there.

    Attributes:
        newest: The last revision that was reported of each garment, with its digest.
        made: Every digest that a garment was to have at some time, reported before the change.
        versions: Digest of each version.
        makes: What to do differently, of each make.
        counted: Reports altogether.
        ahead: Garments found one change further than reported: killed between commit and report.
    """

    newest: dict[str, tuple[int, str]] = field(default_factory=dict)
    made: set[str] = field(default_factory=set)
    versions: dict[tuple[str, int], str] = field(default_factory=dict)
    makes: dict[tuple[str, int], str] = field(default_factory=dict)
    counted: int = 0
    ahead: int = 0

    def take(self, report: list[object]) -> None:
        """Take one report of a child."""
        what, garment, number, told = (*report, None, None, None)[:4]
        if what == "will":
            self.made.add(str(garment))
            return
        self.counted += 1
        key = str(garment), int(str(number))
        if what == "garment":
            self.newest[key[0]] = (key[1], str(told))
        elif what == "version":
            self.versions[key] = str(told)
        elif what == "make":
            self.makes[key] = str(told)


class Child:
    """Changes a library without end, and reports each change once it is committed."""

    def __init__(self, folder: Path, pipe: int, dice: random.Random, hours: int) -> None:
        self.pipe, self.dice = pipe, dice
        self.library = Library.open(folder, now=clock(hours))
        rows = self.library.shelf(limit=1000).rows
        self.garments = [row.garment for row in rows] + [
            row.garment for row in self.library.shelf(deleted=True, limit=1000).rows
        ]

    def report(self, *told: object) -> None:
        """Write one line, in one piece."""
        os.write(self.pipe, json.dumps(told).encode() + b"\n")

    def done(self, document: Document) -> None:
        """Report a garment that was committed."""
        self.report("garment", document.garment, document.revision, digest(document))

    def content(self) -> tuple[str, dict[str, object]]:
        """Return a new text and aside, reported beforehand."""
        text = TEXT.format(n=self.dice.randrange(10**6)) + "# wool\n" * self.dice.randrange(400)
        aside: dict[str, object] = {"ticks": [self.dice.random() for _ in range(self.dice.randrange(60))]}
        if self.dice.random() < 0.2:
            data = PNG + self.dice.randbytes(self.dice.randrange(1000, 200_000))
            aside["photo"] = self.library.keep_photo(data, "png")
        self.report("will", hashlib.sha256(json.dumps([text, aside]).encode()).hexdigest())
        return text, aside

    def run(self) -> None:
        """Go on until killed."""
        acts = [self.save] * 10 + [self.move] * 4 + [self.keep] * 2 + [self.make] * 2
        acts += [self.put_away, self.copy, self.tidy, self.draw]
        while True:
            if len(self.garments) < 4 or self.dice.random() < 0.01:
                text, aside = self.content()
                document = self.library.add(text, aside)
                self.garments.append(document.garment)
                self.done(document)
            document = self.library.get(self.dice.choice(self.garments))
            if document.deleted:
                self.done(self.library.restore(document.garment))
            else:
                self.dice.choice(acts)(document)

    def save(self, document: Document) -> None:
        """Save another text."""
        text, aside = self.content()
        self.done(self.library.save(document.garment, document.revision, text, aside, said="figures"))

    def move(self, document: Document) -> None:
        """Undo or redo."""
        move = self.dice.choice([self.library.undo, self.library.undo, self.library.redo])
        try:
            self.done(move(document.garment, document.revision))
        except NothingToUndo:
            return

    def keep(self, document: Document) -> None:
        """Keep a version, or go back to one."""
        garment, revision = document.garment, document.revision
        versions = self.library.versions(garment)
        if versions and self.dice.random() < 0.3:
            self.done(self.library.go_back(garment, revision, self.dice.choice(versions).number))
            return
        version = self.library.keep_version(garment, revision)
        self.report("version", garment, version.number, digest(document))

    def make(self, document: Document) -> None:
        """Write a make into the log, with a picture."""
        picture = self.library.keep_photo(PNG + self.dice.randbytes(50_000), "png")
        words = f"longer by {self.dice.random()}"
        made = self.library.add_make(
            document.garment, document.revision, made=date(2026, 1, 1), picture=picture, next_time=words
        )
        self.report("version", document.garment, made.version, digest(document))
        self.report("make", document.garment, made.number, words)

    def put_away(self, document: Document) -> None:
        """Delete a garment."""
        self.library.delete(document.garment)
        self.done(self.library.get(document.garment))

    def copy(self, document: Document) -> None:
        """Bring a garment in from its own file, and copy it."""
        if len(self.garments) < 12:
            came = self.library.import_garment(self.library.export_garment(document.garment))
            self.garments.append(came.garment)
            self.done(came)

    def tidy(self, _: Document) -> None:
        """Sweep photographs, and back up."""
        self.library.sweep_photos()
        self.library.daily_backup()

    def draw(self, document: Document) -> None:
        """Keep a thumbnail."""
        self.library.set_thumbnail(document.garment, document.revision, "<svg/>" * 500)


def one_child(folder: Path, seed: int, kill: int, seconds: float, reports: Reports) -> None:
    """Let a child edit for so long, kill it, and take all its reports."""
    ours, its = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(ours)
            Child(folder, its, random.Random(f"{seed} {kill}"), kill * 100).run()
        except BaseException as error:  # noqa: BLE001 - a child that falls over by itself is a finding
            os.write(its, json.dumps(["fell", f"{type(error).__name__}: {error}"]).encode() + b"\n")
        finally:
            os._exit(1)
    os.close(its)
    told = bytearray()
    end = time.monotonic() + seconds
    while (left := end - time.monotonic()) > 0:
        if select.select([ours], [], [], left)[0]:
            part = os.read(ours, 1 << 16)
            if not part:
                break
            told += part
    os.kill(child, signal.SIGKILL)
    while part := os.read(ours, 1 << 16):
        told += part
    os.close(ours)
    os.waitpid(child, 0)
    for line in told.split(b"\n")[:-1]:
        report = json.loads(line)
        if report[0] == "fell":
            raise SystemExit(f"kill {kill}: the child fell over by itself: {report[1]}")
        reports.take(report)


def check(folder: Path, kill: int, reports: Reports) -> int:
    """Open the library again and return how many photographs were looked at; stops at the first loss."""

    def must(holds: object, what: str) -> None:
        if not holds:
            raise SystemExit(f"kill {kill}: {what}; the library is left in {folder}")

    with Library.open(folder, now=clock(kill * 100 + 99)) as library:
        with closing(sqlite3.connect(folder / "likesewn.sqlite")) as looking:
            must(
                looking.execute("PRAGMA integrity_check").fetchall() == [("ok",)], "integrity_check is not ok"
            )
            must(not looking.execute("PRAGMA foreign_key_check").fetchall(), "rows belong to nothing")
            named = photos.named(looking) - {""}
        for garment, (revision, told) in reports.newest.items():
            document = library.get(garment)
            found = digest(document)
            if document.revision == revision:
                must(found == told, f"{garment} is not as reported at revision {revision}")
            else:
                must(document.revision == revision + 1, f"{garment}: {document.revision} after {revision}")
                must(
                    found in reports.made | {t for _, t in reports.newest.values()},
                    f"{garment}: unknown text",
                )
                reports.ahead += 1
                reports.newest[garment] = (document.revision, found)
        for (garment, number), told in reports.versions.items():
            version = library.version(garment, number)
            again = hashlib.sha256(json.dumps([version.text, version.aside]).encode()).hexdigest()
            must(again == told, f"version {number} of {garment} is not as reported")
        for (garment, number), told in reports.makes.items():
            words = {make.number: make.next_time for make in library.makes(garment)}
            must(words.get(number) == told, f"make {number} of {garment} is not as reported")
        for one in named:
            library.photo(one)  # raises where it is not there whole
        for row in (*library.shelf(limit=1000).rows, *library.shelf(deleted=True, limit=1000).rows):
            must(library.get(row.garment).revision == row.revision, f"the shelf tells {row.garment} wrongly")
    return len(named)


def main() -> None:
    """Kill so many children, and print what was found."""
    parser = argparse.ArgumentParser(description="Kill a process that edits a library, and look for losses.")
    parser.add_argument("--times", type=int, default=1000, help="how many kills (1000)")
    parser.add_argument("--seed", type=int, default=9, help="seed of all random moments and changes (9)")
    given = parser.parse_args()
    if not hasattr(os, "fork"):
        sys.exit("this script needs a system that has fork and SIGKILL")
    read_text(TEXT.format(n=1))  # what is read once is read here, so that children begin at once
    dice = random.Random(given.seed)
    begun = time.monotonic()
    counted = ahead = looked = 0
    reports, folder = Reports(), Path()
    for kill in range(given.times):
        if kill % NEW_LIBRARY == 0:
            shutil.rmtree(folder if kill else Path(os.devnull), ignore_errors=True)
            folder, reports = Path(tempfile.mkdtemp(prefix="kill-nine-")), Reports()
        before = reports.counted, reports.ahead
        seconds = dice.uniform(0, EARLY if kill % 8 == 0 else LONGEST)
        one_child(folder, given.seed, kill, seconds, reports)
        looked += check(folder, kill, reports)
        counted += reports.counted - before[0]
        ahead += reports.ahead - before[1]
    shutil.rmtree(folder, ignore_errors=True)
    print(
        f"{given.times} kills in {time.monotonic() - begun:.0f} s: {counted} changes reported as committed, "
        f"none lost; {ahead} more were committed just before the kill and not yet reported; "
        f"{looked} looks at photographs, all whole; integrity_check ok every time"
    )


if __name__ == "__main__":
    main()
