"""The headers that every answer of the workbench carries, and the nonces of its pages.

The content security policy of a page says which scripts and styles may run there. It is as strict as
NiceGUI 3.18 lets it be (tried in Chromium, ``docs/safety.md``); each exception and its reason:

- ``'unsafe-eval'`` for scripts: the framework compiles the templates of its components in the browser, and
  carries out each method call that the server asks of an element, by evaluating text. Without it the page
  stays empty. Inline scripts are not allowed: only those of the page as it was sent, by a nonce.
- ``'unsafe-inline'`` for styles: the framework makes ``<style>`` elements as it goes, and its own page has
  ``style`` attributes. Styles cannot fetch anything from elsewhere, since images, fonts and imports are bound
  to this server too.
- ``data:`` and ``blob:`` for images: drawings and previews of photographs that never were files.
"""

import re
from collections.abc import Iterable

__all__ = ["NOTHING_POLICY", "page_policy", "secured", "with_nonces"]

Header = tuple[bytes, bytes]

NOTHING_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; "
    "base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
"""For what is not a page: a drawing or a file that somebody opens by its address runs nothing."""

_UNUSED = (
    "accelerometer",
    "camera",
    "display-capture",
    "geolocation",
    "gyroscope",
    "hid",
    "magnetometer",
    "microphone",
    "midi",
    "payment",
    "serial",
    "usb",
)
"""What no page of ours asks a browser for; the phone's camera opens its own program, without this."""

_ALWAYS: tuple[Header, ...] = (
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"origin-agent-cluster", b"?1"),
    (b"permissions-policy", ", ".join(f"{feature}=()" for feature in _UNUSED).encode()),
)
_SCRIPT = re.compile(rb"<script(?=[\s>])")


def page_policy(nonce: str) -> str:
    """Return the content security policy of a page of the framework.

    Args:
        nonce: The word that marks the scripts of this one answer as the page's own.
    """
    return "; ".join(
        (
            "default-src 'none'",
            f"script-src 'self' 'nonce-{nonce}' 'unsafe-eval'",
            "script-src-attr 'none'",
            "style-src 'self' 'unsafe-inline'",
            "img-src 'self' blob: data:",
            "font-src 'self'",
            "connect-src 'self'",
            "manifest-src 'self'",
            "object-src 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "frame-ancestors 'none'",
        )
    )


def with_nonces(page: bytes, nonce: str) -> bytes:
    """Return the framework's page with its scripts marked as its own.

    The elements of the page, and with them everything that a person typed, stand in it escaped: no ``<`` of
    theirs is left to be taken for a script.
    """
    return _SCRIPT.sub(b'<script nonce="' + nonce.encode() + b'"', page)


def secured(headers: Iterable[Header], policy: str, *, keep: bool) -> list[Header]:
    """Return an answer's headers with those that keep it safe; they replace any of the same name.

    Args:
        headers: As the app set them.
        policy: The content security policy.
        keep: Whether a browser may keep the answer where the app says for how long (as of the framework's
            own files, whose addresses carry its version); all else is told to be forgotten.
    """
    headers = list(headers)
    ours = [*_ALWAYS, (b"content-security-policy", policy.encode())]
    if not keep or not any(name.lower() == b"cache-control" for name, _ in headers):
        ours.append((b"cache-control", b"no-store"))
    names = {name for name, _ in ours} | {b"server"}
    return [*((name, value) for name, value in headers if name.lower() not in names), *ours]
