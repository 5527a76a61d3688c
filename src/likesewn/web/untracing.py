"""Takes out of a garment file what a photograph brought to it."""

import asyncio
from collections.abc import Mapping

from likesewn.web.photo_entry import PhotoEntry

__all__ = ["without_photo"]


async def without_photo(text: str, entry: PhotoEntry) -> str:
    """Return a garment file without a photograph's entries and the measures that it filled in.

    Args:
        text: The file's text.
        entry: The photograph, as the aside keeps it.

    Raises:
        InputError: The text is not TOML.
    """
    used = entry.used or {}
    filled = used.get("filled")
    figures = {str(k): str(v) for k, v in filled.items()} if isinstance(filled, Mapping) else {}
    return await asyncio.to_thread(_without, text, str(used.get("name") or entry.name), figures)


def _without(text: str, name: str, filled: Mapping[str, str]) -> str:
    from likesewn.photo.tracing_text import without_tracing  # noqa: PLC0415 - opens the picture libraries

    return without_tracing(text, name, filled)
