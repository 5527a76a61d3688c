"""Addresses as QR codes (ISO/IEC 18004), drawn as SVG."""

from html import escape
from itertools import groupby

import segno

__all__ = ["qr_svg"]

QUIET = 4
"""Modules of bare paper that the standard wants round the code (ISO/IEC 18004, section 9.1)."""


def qr_svg(url: str, title: str = "") -> str:
    """Return a QR code as an SVG element to stand in a page.

    Its dark modules take the colour of the text round it (``color``) where a page sets one on it, and are
    nearly black else; the ground stays white in a dark page too, since many cameras read no light code on a
    dark ground.

    Args:
        url: What it says.
        title: What a screen reader says of it; the address itself where none is given.
    """
    code = segno.make(url, error="m", micro=False)
    runs: list[str] = []
    for y, row in enumerate(code.matrix):
        x = 0
        for dark, modules in groupby(row):
            count = len(list(modules))
            if dark:
                runs.append(f"M{x + QUIET} {y + QUIET}h{count}v1h-{count}z")
            x += count
    side = len(code.matrix) + 2 * QUIET
    said = escape(title or url)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" role="img" color="#1a1714" '
        f'shape-rendering="crispEdges" aria-label="{said}"><title>{said}</title>'
        f'<rect width="{side}" height="{side}" fill="#fff"/>'
        f'<path fill="currentColor" d="{"".join(runs)}"/></svg>'
    )
