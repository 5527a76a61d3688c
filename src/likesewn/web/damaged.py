"""What is served in place of the workbench when the library is damaged: what is wrong, and a way out.

Nothing here writes to the library; the rescue only reads it.
"""

import tempfile
from collections.abc import Callable
from datetime import datetime
from html import escape
from pathlib import Path

from fastapi import FastAPI
from fastapi.responses import HTMLResponse, Response

from likesewn.library import LibraryDamaged, Rescue, rescue
from likesewn.web.naming import attachment
from likesewn.web.words import LANGUAGE, say

__all__ = ["damaged_app"]

_PAGE = """<!doctype html>
<html lang="{language}">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{title} · likesewn</title>
<style>
body {{ font: 1.1rem/1.6 "Iowan Old Style", Georgia, serif; margin: 0; }}
main {{ max-width: 40rem; margin: 8vh auto; padding: 0 1.5rem; }}
h1 {{ font-size: 1.7rem; line-height: 1.25; font-weight: 600; }}
a {{ color: inherit; display: inline-block; min-height: 1.6rem; }}
code {{ overflow-wrap: anywhere; }}
</style>
<main><h1>{title}</h1>{body}</main>
</html>
"""


def damaged_app(folder: Path, why: LibraryDamaged, now: Callable[[], datetime]) -> FastAPI:
    """Return an app that says what is wrong with a library and hands out what can be read of it.

    Args:
        folder: The library's folder.
        why: What was found when it was opened.
        now: The clock.
    """
    app = FastAPI(docs_url=None, redoc_url=None, openapi_url=None)

    @app.get("/")
    def page() -> HTMLResponse:
        found = rescue(folder)
        return HTMLResponse(_page(folder, why, found))

    @app.get("/rescued.zip")
    def rescued() -> Response:
        with tempfile.TemporaryDirectory() as aside:
            place = Path(aside) / "rescued.zip"
            rescue(folder).write(place, now())
            data = place.read_bytes()
        headers = {"Content-Disposition": attachment("likesewn-rescued.zip")}
        return Response(data, media_type="application/zip", headers=headers)

    return app


def _page(folder: Path, why: LibraryDamaged, found: Rescue) -> str:
    backups = sorted((folder / "backups").glob("*.sqlite"), reverse=True)
    parts = [f"<p>{escape(str(why))}</p>", f"<p>{escape(say('damaged.untouched'))}</p>"]
    parts.append(f"<p>{escape(say('damaged.readable', n=len(found.garments)))}</p>")
    if found.garments:
        rows = "".join(
            f"<li>{escape(g.name)}: {escape(say(f'damaged.{_state(g.found)}'))}</li>" for g in found.garments
        )
        parts.append(f'<p><a href="/rescued.zip">{escape(say("damaged.download"))}</a></p><ul>{rows}</ul>')
    if found.lost:
        parts.append(f"<p>{escape(say('damaged.lost', n=len(found.lost)))}</p>")
    if backups:
        rows = "".join(f"<li><code>{escape(str(place))}</code></li>" for place in backups)
        parts.append(
            f"<h2>{escape(say('library.daily'))}</h2><p>{escape(say('damaged.backups'))}</p><ul>{rows}</ul>"
        )
    return _PAGE.format(language=LANGUAGE, title=escape(say("damaged.title")), body="".join(parts))


def _state(found: str) -> str:
    return {"whole": "whole", "kept version": "version"}.get(found, "older")
