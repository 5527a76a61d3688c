"""The page for an address that leads nowhere."""

from likesewn.web.pages.frame import page
from likesewn.web.widgets import link, text
from likesewn.web.words import say

__all__ = ["build"]


def build() -> None:
    """Say that there is nothing here and lead back."""
    with page(say("missing.title"), ""):
        text(say("missing.about"))
        link(say("garment.to_shelf"), "/")
