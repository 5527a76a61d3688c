"""The library: garments, their versions and makes, a drawer of cloths and photographs, on disk.

``library`` is the one thing to open, built on ``opening`` and ``notebook``; ``database`` holds its SQLite
file, ``schema`` the tables, ``packing`` how values stand in them;
``documents``, ``shelf``, ``versions``, ``makes``, ``cloths`` and ``photos`` each keep one sort of thing;
``bundle`` and ``unbundle`` write and read one garment as a file, ``unzipping`` trusts none; ``daily`` and
``backup`` copy all of it; ``rescuing`` reads a damaged one, by its ``pages`` where need be; ``comparing``
tells two texts of a garment apart.
"""

from likesewn.library.comparing import Change, compare
from likesewn.library.errors import (
    ClothConflict,
    Conflict,
    LibraryClosed,
    LibraryDamaged,
    LibraryError,
    LibraryFull,
    LibraryLocked,
    LibraryNewer,
    LibraryReadOnly,
    MakeConflict,
    NoSuchCloth,
    NoSuchGarment,
    NoSuchMake,
    NoSuchPhoto,
    NoSuchVersion,
    NotALibrary,
    NothingToUndo,
    NotKept,
    Stale,
)
from likesewn.library.library import Library
from likesewn.library.opening import default_folder
from likesewn.library.rescuing import Rescue, Rescued, rescue
from likesewn.library.values import Document, Json, KeptCloth, Make, Row, Shelf, Version, Why

__all__ = [
    "Change",
    "ClothConflict",
    "Conflict",
    "Document",
    "Json",
    "KeptCloth",
    "Library",
    "LibraryClosed",
    "LibraryDamaged",
    "LibraryError",
    "LibraryFull",
    "LibraryLocked",
    "LibraryNewer",
    "LibraryReadOnly",
    "Make",
    "MakeConflict",
    "NoSuchCloth",
    "NoSuchGarment",
    "NoSuchMake",
    "NoSuchPhoto",
    "NoSuchVersion",
    "NotALibrary",
    "NotKept",
    "NothingToUndo",
    "Rescue",
    "Rescued",
    "Row",
    "Shelf",
    "Stale",
    "Version",
    "Why",
    "compare",
    "default_folder",
    "rescue",
]
