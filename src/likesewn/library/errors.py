"""What can go wrong with a library: each says what was found and what to do next."""

from typing import TYPE_CHECKING

from likesewn.errors import LikesewnError

if TYPE_CHECKING:
    from likesewn.library.values import Document, KeptCloth, Make

__all__ = [
    "ClothConflict",
    "Conflict",
    "LibraryClosed",
    "LibraryDamaged",
    "LibraryError",
    "LibraryFull",
    "LibraryLocked",
    "LibraryNewer",
    "LibraryReadOnly",
    "MakeConflict",
    "NoSuchCloth",
    "NoSuchGarment",
    "NoSuchMake",
    "NoSuchPhoto",
    "NoSuchVersion",
    "NotALibrary",
    "NotKept",
    "NothingToUndo",
    "Stale",
]


class LibraryError(LikesewnError):
    """Base of what a library raises on purpose, other than ``InputError`` for what it is given."""


class LibraryLocked(LibraryError, TimeoutError):  # noqa: N818
    """Another program holds the library; nothing was changed."""


class LibraryFull(LibraryError, OSError):  # noqa: N818
    """There is no room left to write; nothing was half saved."""


class LibraryReadOnly(LibraryError, PermissionError):  # noqa: N818
    """The library is open, or can be opened, for reading only."""


class LibraryClosed(LibraryError, RuntimeError):  # noqa: N818
    """The library was closed."""


class LibraryDamaged(LibraryError, ValueError):  # noqa: N818
    """The library cannot be read as it should; the words name the newest good daily backup."""


class NotALibrary(LibraryDamaged):
    """The file in the library's place is something else."""


class LibraryNewer(LibraryDamaged):
    """The library was written by a newer likesewn."""


class NotKept(LibraryError, LookupError):  # noqa: N818
    """What was asked for is not in the library."""


class NoSuchGarment(NotKept):
    """No garment has this id."""


class NoSuchVersion(NotKept):
    """The garment has no version of this number."""


class NoSuchMake(NotKept):
    """The garment has no make of this number."""


class NoSuchCloth(NotKept):
    """No cloth has this id."""


class NoSuchPhoto(NotKept):
    """No photograph of this digest is there, or not whole."""


class NothingToUndo(LibraryError, LookupError):  # noqa: N818
    """There is no change to undo, or none to redo."""


class Stale(LibraryError, RuntimeError):  # noqa: N818
    """A change was made from a revision that is no longer the newest; nothing was changed."""


class Conflict(Stale):
    """A garment was changed or deleted elsewhere in the meantime.

    Attributes:
        newest: The garment as it is now.
    """

    def __init__(self, newest: "Document") -> None:
        self.newest = newest
        if newest.deleted:
            told = f"“{newest.name}” is among the deleted garments; restore it before changing it"
        else:
            told = (
                f"“{newest.name}” was changed in another window (it is at revision {newest.revision} now); "
                "look at the newest state, then make the change again"
            )
        super().__init__(told)


class MakeConflict(Stale):
    """A make was changed elsewhere in the meantime.

    Attributes:
        newest: The make as it is now.
    """

    def __init__(self, newest: "Make") -> None:
        self.newest = newest
        super().__init__(
            "this make was changed in another window; look at the newest state, then change it again"
        )


class ClothConflict(Stale):
    """A cloth of the drawer was changed elsewhere in the meantime.

    Attributes:
        newest: The cloth as it is now.
    """

    def __init__(self, newest: "KeptCloth") -> None:
        self.newest = newest
        super().__init__(
            f"“{newest.name}” was changed in another window; look at the newest state, then change it again"
        )
