"""The one page that the phone sees: no scripts, nothing from elsewhere, a button as wide as the screen."""

import base64
import hashlib
from html import escape

from likesewn.web.headers import secured
from likesewn.web.words import LANGUAGE, say

__all__ = ["PhonePage", "page_headers"]

REASONS = ("busy", "enough", "nothing")
"""Keys of the words (``door.busy``) for why something was not taken."""

_STYLE = """
:root { color-scheme: light dark; --paper: #fbf8f1; --ink: #22201c; }
@media (prefers-color-scheme: dark) { :root { --paper: #1d1b18; --ink: #f0ebe0; } }
body { margin: 0; background: var(--paper); color: var(--ink); font: 1.2rem/1.5 Georgia, serif; }
main { max-width: 32rem; margin: 0 auto; padding: 1.5rem; }
h1 { font-size: 1.5rem; font-weight: normal; line-height: 1.25; }
[role] { border-left: 0.35rem solid; padding: 0.2rem 0 0.2rem 0.8rem; white-space: pre-line; }
label { display: block; margin: 1.5rem 0 0.5rem; }
input, button { box-sizing: border-box; width: 100%; min-height: 4.5rem; font: inherit; color: inherit; }
input { border: 2px dashed; border-radius: 0.5rem; padding: 1rem; }
::file-selector-button { font: inherit; min-height: 3rem; padding: 0 1rem; margin-right: 1rem; }
button { margin-top: 1rem; border: 2px solid; border-radius: 0.5rem; }
button { background: var(--ink); border-color: var(--ink); color: var(--paper); }
:focus-visible { outline: 4px solid #9a5b13; outline-offset: 3px; }
"""

_POLICY = "; ".join(
    (
        "default-src 'none'",
        f"style-src 'sha256-{base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()}'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)


class PhonePage:
    """Builds the page for one garment."""

    def __init__(self, title: str, secret: str) -> None:
        """Take what stands on it.

        Args:
            title: The garment's name; may be empty.
            secret: The last part of the page's address.
        """
        self._title = title
        self._secret = secret

    def form(self, told: str = "") -> tuple[bytes, bytes]:
        """Return the page and its type, after a photograph with what came of it."""
        told = f'<p role="status">{escape(told)}</p><p>{say("door.another")}</p>' if told else ""
        return self._built(told)

    def refused(self, why: str) -> tuple[bytes, bytes]:
        """Return the page and its type, with why something was not taken: a key of the words, or words."""
        return self._built(f'<p role="alert">{escape(say(f"door.{why}") if why in REASONS else why)}</p>')

    def _built(self, told: str) -> tuple[bytes, bytes]:
        name = f"<p>{escape(self._title)}</p>" if self._title else ""
        page = (
            f'<!doctype html><html lang="{LANGUAGE}"><meta charset="utf-8">'
            '<meta name="viewport" content="width=device-width, initial-scale=1">'
            f"<title>{say('door.title')}</title><style>{_STYLE}</style>"
            f"<main><h1>{say('door.title')}</h1>{name}{told}<p>{say('door.how')}</p>"
            f'<form method="post" enctype="multipart/form-data" action="/{self._secret}">'
            f'<label for="photo">{say("door.take")}</label>'
            '<input id="photo" name="photo" type="file" accept="image/*" capture="environment" required>'
            f"<button>{say('door.send')}</button></form></main></html>"
        )
        return page.encode(), b"text/html; charset=utf-8"


def page_headers(body: bytes, kind: bytes) -> list[tuple[bytes, bytes]]:
    """Return the headers of an answer of this door."""
    headers = secured([(b"content-type", kind)], _POLICY, keep=False)
    # a form sent from a page that tells no referrer at all would name no origin either
    told = [(name, b"same-origin" if name == b"referrer-policy" else value) for name, value in headers]
    return [*told, (b"content-length", str(len(body)).encode()), (b"connection", b"close")]
