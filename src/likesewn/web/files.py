"""Files of a garment to download: each by its name, or all as one zip."""

import asyncio
import re
from collections.abc import Mapping

from fastapi import FastAPI, Response
from fastapi.responses import PlainTextResponse, StreamingResponse

from likesewn.errors import InputError, LikesewnError
from likesewn.library import NoSuchGarment
from likesewn.publish.tiles import PAPERS
from likesewn.web.desk import Desk, Opened
from likesewn.web.naming import attachment, file_name
from likesewn.web.printing import EVERYTHING, GARMENT_FILE, NothingToPrintError, everything, garment_files
from likesewn.web.words import say

__all__ = ["add_files"]

TYPES = {
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".html": "text/html; charset=utf-8",
    ".json": "application/json",
    ".toml": "application/toml",
    ".zip": "application/zip",
}
KNOWN = re.compile(
    r"pattern\.svg|pattern-[a-z0-9]+\.pdf|truing\.svg|lay-plan(?:-[^/\\]{1,100})?\.(?:svg|pdf)|"
    r"sewing-plan\.html|summary\.json|reference-sheets-[a-z0-9]+\.pdf|" + re.escape(GARMENT_FILE)
)
"""Names that may be asked for; which of them there are depends on the garment's cloths and the paper."""


def add_files(app: FastAPI, desk: Desk) -> None:
    """Let files of garments be asked for at ``/garment/{id}/files/{name}``."""

    @app.get("/garment/{garment}/files/{name}", include_in_schema=False)
    async def _file(garment: str, name: str, paper: str = "a4") -> Response:
        if paper not in PAPERS or (name != EVERYTHING and not KNOWN.fullmatch(name)):
            return PlainTextResponse(say("files.no_file"), 404)
        try:
            opened, made = await asyncio.to_thread(_made, desk, garment, paper, name)
            if name == EVERYTHING:
                await asyncio.to_thread(_keep, desk, opened)
        except NoSuchGarment:
            return PlainTextResponse(say("files.no_garment"), 404)
        except NothingToPrintError as why:
            return PlainTextResponse(str(why), 409)
        except InputError as error:
            return PlainTextResponse(str(error), 422)
        except LikesewnError as error:
            return PlainTextResponse(str(error), 503)
        return _answer(opened, name, made)


def _made(desk: Desk, garment: str, paper: str, name: str) -> tuple[Opened, Mapping[str, bytes]]:
    opened = desk.open(garment)
    if name == GARMENT_FILE:  # it is there, whatever stands in it
        return opened, {name: opened.document.text.encode()}
    return opened, garment_files(desk, opened, paper)


def _keep(desk: Desk, opened: Opened) -> None:
    """Keep a version of what is handed out as a whole, once."""
    garment, revision = opened.document.garment, opened.document.revision
    if not any(v.revision == revision and v.why == "make" for v in desk.library.versions(garment)):
        desk.library.keep_version(garment, revision, name="", why="make")


def _answer(opened: Opened, name: str, made: Mapping[str, bytes]) -> Response:
    title = file_name(opened.document.name)
    kept = (
        f"{title}.toml"
        if name == GARMENT_FILE
        else f"{title}.zip"
        if name == EVERYTHING
        else f"{title} {name}"
    )
    headers = {"Content-Disposition": attachment(kept), "Cache-Control": "private, no-cache"}
    if name == EVERYTHING:
        day = opened.stages.today if opened.stages else opened.document.changed.date()
        chunks = everything(made, {GARMENT_FILE: f"{title}.toml"}, (day.year, day.month, day.day))
        return StreamingResponse(chunks, media_type=TYPES[".zip"], headers=headers)
    if name not in made:
        return PlainTextResponse(say("files.no_file"), 404)
    kind = TYPES[name[name.rindex(".") :]]
    return Response(made[name], media_type=kind, headers=headers)
