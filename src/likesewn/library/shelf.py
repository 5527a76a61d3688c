"""The shelf: which garments there are, found by words, and their thumbnails. Reads no texts."""

import sqlite3

from likesewn.errors import InputError, Problem
from likesewn.library.documents import get
from likesewn.library.packing import as_time, folded
from likesewn.library.values import Row, Shelf

__all__ = ["set_thumbnail", "shelf", "thumbnail"]

MOST_THUMBNAIL = 1_000_000
"""Letters of a thumbnail; a drawn garment takes some thousands."""

MOST_WORDS = 12
"""Words of a search that are looked for; more only narrow what is one garment already."""


def shelf(connection: sqlite3.Connection, search: str, limit: int, start: int, *, deleted: bool) -> Shelf:
    """Return garments that hold every word of the search, newest change first."""
    words = folded(search[:1000].encode("utf-8", "replace").decode("utf-8")).split()[:MOST_WORDS]
    where = " AND ".join(["g.deleted = ?", *(["instr(g.words, ?) > 0"] * len(words))])
    given = (int(deleted), *words)
    total = connection.execute(f"SELECT count(*) FROM garment AS g WHERE {where}", given).fetchone()[0]  # noqa: S608 - only placeholders
    rows = connection.execute(
        f"""SELECT g.id, g.revision, g.name, g.kind, g.size, g.wearer, g.changed, g.deleted,
            coalesce((SELECT t.revision FROM thumbnail AS t WHERE t.garment = g.id), 0),
            (SELECT count(*) FROM make AS m WHERE m.garment = g.id AND NOT m.deleted)
        FROM garment AS g WHERE {where} ORDER BY g.turn DESC LIMIT ? OFFSET ?""",  # noqa: S608 - only placeholders
        (*given, max(0, min(limit, 10_000)), max(0, min(start, 10**9))),
    ).fetchall()
    return Shelf(
        tuple(
            Row(
                garment=garment,
                revision=revision,
                name=name,
                kind=kind,
                size=size,
                wearer=wearer,
                changed=as_time(changed),
                deleted=bool(away),
                thumbnail=drawn,
                makes=makes,
            )
            for garment, revision, name, kind, size, wearer, changed, away, drawn, makes in rows
        ),
        total,
    )


def set_thumbnail(connection: sqlite3.Connection, garment: str, revision: int, svg: str) -> None:
    """Keep a drawing of a garment at a revision, unless one of a later revision is there.

    Raises:
        NoSuchGarment: No garment has this id.
        InputError: The drawing is too large.
    """
    newest = get(connection, garment).revision
    if len(svg) > MOST_THUMBNAIL:
        allowed = f"at most {MOST_THUMBNAIL} letters"
        raise InputError(Problem("this thumbnail is too large", f"{len(svg)} letters", allowed=allowed))
    connection.execute(
        """INSERT INTO thumbnail (garment, revision, svg) VALUES (?, ?, ?)
        ON CONFLICT (garment) DO UPDATE SET revision = excluded.revision, svg = excluded.svg
        WHERE excluded.revision >= thumbnail.revision""",
        (garment, min(revision, newest), svg),
    )


def thumbnail(connection: sqlite3.Connection, garment: str) -> tuple[int, str] | None:
    """Return the revision that the kept drawing shows, and the drawing as SVG; None where there is none."""
    get(connection, garment)
    row = connection.execute("SELECT revision, svg FROM thumbnail WHERE garment = ?", (garment,)).fetchone()
    return None if row is None else (int(row[0]), str(row[1]))
