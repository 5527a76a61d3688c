"""One garment as one file: a zip of TOML, JSON and photographs, written here and read in ``unbundle``.

The layout is told in ``docs/library.md``. The manifest names every other file with its length and SHA-256,
so that a reader knows one that is cut short or was changed.
"""

import hashlib
import io
import json
import sqlite3
import zipfile
from collections.abc import Mapping, Sequence
from datetime import datetime
from pathlib import Path

import tomlkit

from likesewn.library import documents, makes, photos, versions
from likesewn.library.errors import NoSuchPhoto
from likesewn.library.values import Document, Json, Make, Version

__all__ = ["FORMAT", "GARMENT", "add_file", "bundled", "manifest"]

FORMAT = 1
"""Number of the layout; it grows when an older likesewn could not read what is written."""

GARMENT = "likesewn garment"
"""What the manifest calls such a file."""


def bundled(connection: sqlite3.Connection, folder: Path, garment: str, at: datetime) -> bytes:
    """Return a garment as one file: its text and aside, versions, makes and the photographs they name.

    Args:
        connection: A connection that reads.
        folder: Where photographs are kept.
        garment: Its id.
        at: The time.

    Raises:
        NoSuchGarment: No garment has this id.
    """
    document = documents.get(connection, garment)
    old = versions.listed(connection, garment)[::-1]
    made = makes.listed(connection, garment, deleted=False)[::-1]
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as bundle:
        listed: list[dict[str, object]] = []
        for name, text in _texts(document, old, made):
            listed.append(add_file(bundle, name, text.encode("utf-8"), at))
        for digest in sorted(_named(document, old, made)):
            try:
                data, suffix = photos.read(folder, digest), photos.path_of(folder, digest).suffix
            except NoSuchPhoto:
                continue  # some other figure of this form, or one that is lost; the rest is worth having
            listed.append(add_file(bundle, f"photos/{digest}{suffix}", data, at))
        add_file(bundle, "manifest.toml", manifest(GARMENT, at, listed).encode("utf-8"), at)
    return buffer.getvalue()


def _texts(document: Document, old: Sequence[Version], made: Sequence[Make]) -> list[tuple[str, str]]:
    found = [("garment.toml", document.text), ("aside.json", _json(document.aside))]
    if old:
        entries = [{"number": v.number, "name": v.name, "why": v.why, "at": v.at} for v in old]
        found.append(("versions.toml", tomlkit.dumps({"version": entries})))  # pyright: ignore[reportUnknownMemberType]
        for version in old:
            found.append((f"versions/{version.number:03}.toml", version.text))
            found.append((f"versions/{version.number:03}.json", _json(version.aside)))
    if made:
        entries = [
            {
                "version": make.version,
                "made": make.made,
                "cloth": make.cloth,
                "picture": make.picture,
                "next_time": make.next_time,
            }
            for make in made
        ]
        found.append(("makes.toml", tomlkit.dumps({"make": entries})))  # pyright: ignore[reportUnknownMemberType]
    return found


def _json(aside: Mapping[str, Json]) -> str:
    return json.dumps(aside, allow_nan=False, indent=1)


def _named(document: Document, old: Sequence[Version], made: Sequence[Make]) -> set[str]:
    texts = [document.text, _json(document.aside)]
    for version in old:
        texts += [version.text, _json(version.aside)]
    return photos.digests_in(*texts) | {make.picture for make in made if make.picture}


def add_file(bundle: zipfile.ZipFile, name: str, data: bytes, at: datetime) -> dict[str, object]:
    """Add a file to a zip, photographs as they are, and return its entry of the manifest."""
    info = zipfile.ZipInfo(name, (max(1980, min(at.year, 2107)), *at.timetuple()[1:6]))
    info.external_attr = 0o644 << 16
    info.compress_type = zipfile.ZIP_STORED if name.startswith("photos/") else zipfile.ZIP_DEFLATED
    bundle.writestr(info, data)
    return {"name": name, "bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}


def manifest(what: str, at: datetime, files: Sequence[Mapping[str, object]], **more: object) -> str:
    """Return the manifest of a zip that likesewn writes."""
    values = {"format": FORMAT, "what": what, "written": at, **more, "file": list(files)}
    return tomlkit.dumps(values)  # pyright: ignore[reportUnknownMemberType]
