"""Reads one garment from a file that ``bundle`` wrote, or that claims to be one: all of it or nothing."""

import json
import re
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import cast, get_args

from likesewn.errors import InputError
from likesewn.garment.toml_text import MOST_BYTES, load_toml
from likesewn.library import documents, makes, photos, versions
from likesewn.library.bundle import GARMENT
from likesewn.library.documents import Content
from likesewn.library.packing import clean
from likesewn.library.unzipping import Limits, SafeZip, checked, read_manifest, refuse, unzipping
from likesewn.library.values import Document, Json, Make, Version, Why

__all__ = ["MOST_BUNDLE", "Bundle", "bring_in", "keep_photos", "read_bundle"]

MOST_BUNDLE = 1_000_000_000
"""Bytes of a garment's file; a dozen large photographs take a tenth of it."""

_LIMITS = Limits(
    names={
        re.compile(r"manifest\.toml"): 1_000_000,
        re.compile(r"garment\.toml|versions/[0-9]{3,5}\.toml"): MOST_BYTES,
        re.compile(r"aside\.json|versions/[0-9]{3,5}\.json"): 8_000_000,
        re.compile(r"versions\.toml|makes\.toml"): MOST_BYTES,
        re.compile(r"photos/[0-9a-f]{64}\.(jpg|png|heic)"): photos.MOST_BYTES,
    },
    files=5000,
    total=MOST_BUNDLE,
    directory=1_000_000,
)


@dataclass(frozen=True, slots=True)
class Bundle:
    """A garment as it was read, not yet of any library.

    Attributes:
        text: The garment file.
        aside: What goes with it.
        versions: Its versions in order, of no garment.
        makes: Its makes in order, of no garment.
        photos: Names of the photographs in the file.
    """

    text: str
    aside: dict[str, Json]
    versions: tuple[Version, ...]
    makes: tuple[Make, ...]
    photos: tuple[str, ...]


def read_bundle(data: bytes) -> Bundle:
    """Read a garment's file whole, and check all of it.

    Raises:
        InputError: It is not such a file, or not whole; with what was found.
    """
    if len(data) > MOST_BUNDLE:
        refuse(
            "this file is too large",
            f"{len(data) / 1e6:.0f} MB",
            allowed=f"at most {MOST_BUNDLE / 1e6:.0f} MB",
        )
    with unzipping(data, _LIMITS) as opened:
        digests = read_manifest(opened, GARMENT)
        texts: dict[str, str] = {}
        pictures: list[str] = []
        for name, digest in digests.items():
            content = checked(opened, name, digest)
            if name.startswith("photos/"):
                _check_photo(name, content)
                pictures.append(name)
            else:
                texts[name] = content.decode("utf-8")
        if "garment.toml" not in texts:
            refuse("a file is missing in it", "garment.toml")
        aside = _aside(texts, "aside.json")
        _within("garment.toml", lambda: Content.of(texts["garment.toml"], aside))
        old = _versions(texts)
        made = _makes(texts, {v.number for v in old}, {Path(name).stem for name in pictures})
        return Bundle(texts["garment.toml"], aside, old, made, tuple(pictures))


def _within(name: str, read: Callable[[], object]) -> None:
    """Read a part of the file, and say of a fault in which part it is."""
    try:
        read()
    except InputError as error:
        raise InputError(*(replace(problem, file=name) for problem in error.problems)) from None


def _check_photo(name: str, content: bytes) -> None:
    digest, suffix = photos.check(content, Path(name).suffix)
    if f"photos/{digest}.{suffix}" != name:
        refuse("a photograph in it is not the one that its name says", name)


def _aside(texts: dict[str, str], name: str) -> dict[str, Json]:
    if name not in texts:
        return {}
    try:
        values: object = json.loads(texts[name])
    except (ValueError, RecursionError) as error:
        refuse(f"{name} in it is not JSON", str(error))
    if not isinstance(values, dict):
        refuse(f"{name} in it should be an object", texts[name])
    return cast("dict[str, Json]", values)


def _entries(texts: dict[str, str], name: str, key: str) -> list[dict[str, object]]:
    if name not in texts:
        return []
    values, _ = load_toml(texts[name], name)
    entries = values.get(key)
    rows = cast("list[object]", entries) if isinstance(entries, list) else [None]
    if not all(isinstance(row, dict) for row in rows):
        refuse(f"{name} in it should hold entries of [[{key}]]")
    return cast("list[dict[str, object]]", rows)


def _versions(texts: dict[str, str]) -> tuple[Version, ...]:
    found: list[Version] = []
    for entry in _entries(texts, "versions.toml", "version"):
        number, why, at = entry.get("number"), entry.get("why"), entry.get("at")
        expected = found[-1].number if found else 0
        if not isinstance(number, int) or not expected < number < 100_000 or isinstance(number, bool):
            refuse("its versions are not counted in order", str(number))
        if why not in get_args(Why) or not isinstance(at, datetime) or at.tzinfo is None:
            refuse("a version in it does not say when and why it was kept", f"version {number}")
        name = f"versions/{number:03}"
        if f"{name}.toml" not in texts:
            refuse("a file is missing in it", f"{name}.toml")
        version = Version(
            garment="",
            number=number,
            name=clean(_word(entry, "name")),
            why=cast("Why", why),
            at=at.astimezone(UTC),
            revision=0,
            text=texts[f"{name}.toml"],
            aside=_aside(texts, f"{name}.json"),
        )
        _within(f"{name}.toml", lambda v=version: Content.of(v.text, v.aside))
        found.append(version)
    return tuple(found)


def _makes(texts: dict[str, str], numbers: set[int], pictures: set[str]) -> tuple[Make, ...]:
    found: list[Make] = []
    for entry in _entries(texts, "makes.toml", "make"):
        version, made = entry.get("version"), entry.get("made")
        if not isinstance(version, int) or isinstance(version, bool) or version not in numbers:
            refuse("a make in it is of a version that is not there", str(version))
        if not isinstance(made, date) or isinstance(made, datetime):
            refuse("a make in it has no day", str(made))
        picture = _word(entry, "picture")
        found.append(
            Make(
                garment="",
                number=len(found) + 1,
                revision=1,
                version=version,
                made=made,
                cloth=_word(entry, "cloth"),
                picture=picture if picture in pictures else "",
                next_time=_word(entry, "next_time"),
            )
        )
    return tuple(found)


def _word(entry: dict[str, object], key: str) -> str:
    value = entry.get(key, "")
    return value if isinstance(value, str) else ""


def keep_photos(data: bytes, bundle: Bundle, folder: Path, at: datetime) -> None:
    """Keep the photographs of a file that was read, one after the other."""
    with unzipping(data, _LIMITS) as opened:
        for name in bundle.photos:
            _keep(opened, name, folder, at)


def _keep(opened: SafeZip, name: str, folder: Path, at: datetime) -> None:
    photos.keep(folder, opened.read(name), Path(name).suffix, at)


def bring_in(connection: sqlite3.Connection, bundle: Bundle, at: int) -> Document:
    """Put a garment that was read on the shelf, its photographs being kept already."""
    document = documents.add(connection, Content.of(bundle.text, bundle.aside), at, "import")
    for version in bundle.versions:
        versions.put(connection, replace(version, garment=document.garment))
    for make in bundle.makes:
        makes.add(connection, replace(make, garment=document.garment))
    versions.keep(connection, document, at, "", "import")
    return documents.get(connection, document.garment)
