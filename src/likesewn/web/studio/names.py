"""Names that files come with: shown to people, written into garment files, and never made into a path."""

import unicodedata

__all__ = ["LONGEST_NAME", "plain_name"]

LONGEST_NAME = 80
"""Letters of a name that are kept."""

_BARE = "photograph"


def plain_name(name: str) -> str:
    """Return a file's name as it can be shown: the last part of it, on one line, without hidden marks.

    Marks that turn the direction of writing, or that cannot be seen, could make one name pass for another.

    Args:
        name: As the browser sent it; any text.
    """
    last = name.replace("\\", "/").rstrip("/").rpartition("/")[2]
    last = last if len(last) < 1000 else last[:500] + last[-100:]
    kept = "".join(c for c in unicodedata.normalize("NFC", last) if unicodedata.category(c)[0] != "C")
    kept = " ".join(kept.split()).strip(". ")
    if len(kept) <= LONGEST_NAME:
        return kept or _BARE
    stem, dot, ending = kept.rpartition(".")
    if not dot or len(ending) > 5:
        return kept[:LONGEST_NAME].rstrip()
    return stem[: LONGEST_NAME - len(ending) - 1].rstrip(" .") + "." + ending
