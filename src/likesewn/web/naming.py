"""Names of files as they cross the wire: what a browser says one is called, and what it shall save one as."""

import re
import unicodedata
from urllib.parse import quote, unquote

from likesewn.web.studio.names import plain_name

__all__ = ["attachment", "file_name", "from_header"]

MOST = 80
"""Letters of a name that are kept."""


def file_name(name: str, usual: str = "garment") -> str:
    """Return a name that is safe as a file's name on every system; never a path.

    Letters, digits, spaces, hyphens and full stops within stay; all else becomes a hyphen.
    """
    text = unicodedata.normalize("NFC", name)
    kept = "".join(
        c if c.isalnum() or c in " .-_" else "-" for c in text if unicodedata.category(c)[0] != "C"
    )
    return re.sub(r"[-\s]{2,}", "-", kept).strip(" .-")[:MOST].strip(" .-") or usual


def from_header(value: str) -> str:
    """Return the name that a page sent with a file (percent-encoded); its last part alone, for messages."""
    return plain_name(unquote(value, errors="replace"))


def attachment(name: str) -> str:
    """Return the ``Content-Disposition`` of a file to be saved under a name (RFC 6266, RFC 8187)."""
    plain = file_name(name)
    ascii_name = unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode() or "file"
    return f"attachment; filename=\"{ascii_name}\"; filename*=UTF-8''{quote(plain, safe='')}"
