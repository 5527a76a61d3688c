"""Brings a garment in from a file, whichever of the two sorts it is."""

from likesewn.errors import InputError, Problem
from likesewn.library.library import Library
from likesewn.library.values import Document

__all__ = ["take_in"]

ZIP = b"PK\x03\x04"
"""How a zip begins (APPNOTE.TXT, 4.3.7)."""


def take_in(library: Library, data: bytes, name: str) -> Document:
    """Put a garment on the shelf from a garment file, or from a garment that was exported.

    Raises:
        InputError: It is neither.
    """
    if data.startswith(ZIP):
        return library.import_garment(data)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            Problem(
                "this is not a garment file",
                file=name,
                allowed="a garment file (.toml), or a garment exported from likesewn (.zip)",
            )
        ) from None
    return library.add(text.replace("\r\n", "\n"), said="")
