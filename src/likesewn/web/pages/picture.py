"""A picture that is kept with something, such as a make or a cloth: shown, and a field to choose it."""

from typing import Any

from likesewn.web.pages.shelf import problems_text
from likesewn.web.widgets import Sender, reword, text
from likesewn.web.words import say

__all__ = ["picture_field", "preview_url"]


def preview_url(digest: str) -> str:
    """Return where the browser gets a stored picture, small, the right way up, and nothing else in it."""
    return f"/api/photos/{digest}/preview"


def picture_field(chosen: dict[str, Any]) -> None:
    """Put the field on the page; the digest of the picture that is sent goes to ``chosen["picture"]``."""
    text(say("picture.label"), "p")
    state = text(say("picture.there") if chosen["picture"] else "", "p", "ls-soft", role="status")

    def sent(answer: dict[str, Any]) -> None:
        if answer["ok"]:
            chosen["picture"] = answer["digest"]
        reword(state, say("picture.there") if answer["ok"] else problems_text(answer))

    Sender(say("picture.label"), "/api/photos", sent, accept="image/*", busy=say("shelf.file_busy"))
