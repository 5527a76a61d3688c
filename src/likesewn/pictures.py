"""Picture files from outside: which sort one begins like, and what is said of one that cannot be used.

Whoever takes such a file says the same of it, whether it opens the picture or only looks at its first bytes.
"""

from likesewn.errors import Problem

__all__ = ["damaged", "no_picture", "sort_of"]

_SHORT = 12
_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}


def sort_of(data: bytes) -> str:
    """Return what a file begins like: ``jpg``, ``png`` or ``heic``; empty for anything else."""
    if data.startswith(b"\xff\xd8\xff"):
        return "jpg"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "png"
    return "heic" if data[4:8] == b"ftyp" and data[8:_SHORT] in _HEIC_BRANDS else ""


def no_picture(data: bytes, name: str) -> Problem:
    """Return what is said of a file that is no picture of a known sort.

    Args:
        data: Its content.
        name: What it is called.
    """
    return Problem(
        "this is not a picture that can be opened",
        found=_looks_like(data),
        file=name,
        allowed="a photograph as JPEG, PNG or HEIC",
        todo="Save it as JPEG from your phone's picture viewer and try again.",
    )


def damaged(data: bytes, name: str) -> Problem:
    """Return what is said of a picture that breaks off or holds nonsense."""
    return Problem(
        "the picture breaks off or is damaged",
        found=f"{len(data):,} bytes",
        file=name,
        allowed="a whole picture",
        todo="Copy it from the phone again, or take it again.",
    )


def _looks_like(data: bytes) -> str:
    if not data:
        return "an empty file"
    if data[:5] == b"%PDF-":
        return "a PDF"
    if data[:6] in {b"GIF87a", b"GIF89a"}:
        return "a GIF"
    return f"{len(data):,} bytes of something else"
