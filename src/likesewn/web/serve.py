"""Puts the workbench together and runs it: one server on this machine, for this machine alone."""

import asyncio
import os
import secrets
import signal
import socket
import sys
import webbrowser
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from importlib import resources
from pathlib import Path

import uvicorn
from fastapi import FastAPI, Request, Response
from fastapi.responses import RedirectResponse
from fastapi.staticfiles import StaticFiles
from nicegui import ui

from likesewn.errors import OutputError
from likesewn.examples import example_text
from likesewn.library import Library, LibraryDamaged, NoSuchGarment, default_folder
from likesewn.web.api import add_api
from likesewn.web.damaged import damaged_app
from likesewn.web.desk import Desk
from likesewn.web.files import add_files
from likesewn.web.guard import Guard, own_hosts
from likesewn.web.pages import cloths, garment, history, library, missing, shelf
from likesewn.web.phone import PhoneDoor
from likesewn.web.stages import STAGES
from likesewn.web.studio import Studio
from likesewn.web.taking import Taking

__all__ = ["Served", "open_desk", "run", "workbench"]

HOST = "127.0.0.1"
WIDEST = 4_000_000
"""Bytes of one message that a page may send; files come by requests, not this way."""

PORT = 8319
"""Usual port; another free one is taken where something else has it."""

AWAY = 12.0
"""Seconds that a page may be out of reach: the framework gives up a page that does not answer for 0.4 of it,
and one that has not come back after all of it is loaded anew, with what was being typed in it lost."""

PATIENCE = 60.0
"""Seconds that a page may take: the first of a garment loads what trues, and a machine may be busy."""

page = partial(ui.page, response_timeout=PATIENCE)
"""Tells the framework which address leads to a page."""


@dataclass(frozen=True, slots=True)
class Served:
    """A workbench that is ready to be run.

    Attributes:
        app: The whole app, guarded.
        desk: Its desk.
        address: Where it is opened; holds this start's token.
        port: Its port.
    """

    app: Guard
    desk: Desk
    address: str
    port: int


def open_desk(folder: Path | None = None) -> Desk:
    """Open the library in a folder, or in the platform's data folder, and its desk.

    Raises:
        LikesewnError: The library cannot be opened.
    """
    kept = Library.open(folder or default_folder(), now=_now)
    kept.daily_backup()
    return Desk(kept)


def workbench(desk: Desk, port: int, *, token: str = "") -> Served:
    """Build the workbench's app.

    Args:
        desk: The desk that it works on.
        port: Port that it will be served at.
        token: This start's token; a fresh one where empty.
    """
    token = token or secrets.token_urlsafe(24)
    studio = Studio()
    door = PhoneDoor(Taking(desk, studio).from_phone, _now)

    @asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        warming = asyncio.create_task(asyncio.to_thread(desk.room.warm))
        yield
        await warming
        await door.close()
        await studio.close()

    app = FastAPI(
        title="likesewn", lifespan=life, docs_url=None, redoc_url=None, openapi_url="/api/openapi.json"
    )
    _add_pictures(app, desk)
    add_files(app, desk)
    add_api(app, desk, studio)
    _add_pages(desk, studio, door)
    ui.run_with(
        app,
        title="likesewn",
        language="en-GB",
        dark=None,
        tailwind=False,
        favicon=_favicon(),
        show_welcome_message=False,
        reconnect_timeout=AWAY,
    )
    guarded = Guard(app, hosts=own_hosts(port), token=token)
    return Served(guarded, desk, _address(port, token), port)


def _favicon() -> str:
    return resources.files("likesewn.web").joinpath("mark.svg").read_text(encoding="utf-8")


def _add_pictures(app: FastAPI, desk: Desk) -> None:
    """Serve the style sheet and what is drawn for pages."""
    here = Path(str(resources.files("likesewn.web")))
    app.mount("/look", StaticFiles(directory=here / "look"))

    @app.get("/thumbnail/{garment}", include_in_schema=False)
    def thumbnail(garment: str) -> Response:
        try:
            svg = desk.thumbnail(garment)
        except NoSuchGarment:
            return Response(status_code=404)
        empty = '<svg xmlns="http://www.w3.org/2000/svg" width="4" height="3"/>'
        return Response(
            svg or empty, media_type="image/svg+xml", headers={"Cache-Control": "private, max-age=86400"}
        )


def _add_pages(desk: Desk, studio: Studio, door: PhoneDoor) -> None:
    """Tell the framework which address leads to which page."""

    @page("/")
    async def _shelf() -> None:
        await shelf.build(desk)

    @page("/removed")
    async def _removed() -> None:
        await shelf.build_removed(desk)

    @page("/cloths")
    async def _cloths() -> None:
        await cloths.build(desk)

    @page("/library")
    async def _library() -> None:
        await library.build(desk)

    _add_garment_pages(desk, studio, door)


def _add_garment_pages(desk: Desk, studio: Studio, door: PhoneDoor) -> None:
    @page("/garment/{garment_id}/history")
    async def _history(garment_id: str) -> None:
        try:
            await history.build(desk, garment_id)
        except NoSuchGarment:
            missing.build()

    @page("/garment/{garment_id}/{stage}")
    async def _garment(garment_id: str, stage: str, request: Request) -> None:
        if stage not in STAGES:
            missing.build()
            return
        try:
            await garment.build(desk, studio, door, garment_id, stage, dict(request.query_params))
        except NoSuchGarment:
            missing.build()

    @page("/garment/{garment_id}")
    def _first(garment_id: str) -> RedirectResponse:
        return RedirectResponse(f"/garment/{garment_id}/record")


def free_port(wanted: int = PORT) -> int:
    """Return the wanted port of this machine where it is free, else another."""
    for port in (wanted, 0):
        with socket.socket() as probe:
            if os.name == "posix":  # a port that was just left counts as free; elsewhere this would steal it
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise OutputError("No port of this machine is free, so the workbench cannot be opened.")


def run(
    folder: Path | None = None,
    *,
    port: int = 0,
    open_browser: bool = True,
    example: bool = False,
    ready: Callable[[str], None] = print,
) -> None:
    """Run the workbench until it is interrupted.

    Args:
        folder: Folder of the library; None for the platform's data folder.
        port: Port; 0 for the usual one, or a free one where something else has that.
        open_browser: Whether to open it in a browser.
        example: Whether to put the example garment on an empty shelf.
        ready: Told the address once it answers.

    Raises:
        LikesewnError: The library cannot be opened, or the port is taken.
    """
    # the server hands the signal on once it has stopped; without this, nothing after it would be tidied up
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(0))
    place = folder or default_folder()
    wanted = port or free_port()
    try:
        desk = open_desk(place)
    except LibraryDamaged as why:
        token = secrets.token_urlsafe(24)
        guarded = Guard(damaged_app(place, why, _now), hosts=own_hosts(wanted), token=token)
        _run(guarded, wanted, _address(wanted, token), ready, open_browser=open_browser)
        return
    try:
        if example and not desk.library.shelf(limit=1).total:
            desk.take_in(example_text("throwing-top").encode(), "throwing-top.toml")
        served = workbench(desk, wanted)
        _run(served.app, served.port, served.address, ready, open_browser=open_browser)
    finally:
        desk.close()


def _now() -> datetime:
    return datetime.now().astimezone()


def _address(port: int, token: str) -> str:
    return f"http://{HOST}:{port}/?key={token}"


def _run(app: Guard, port: int, address: str, ready: Callable[[str], None], *, open_browser: bool) -> None:
    config = uvicorn.Config(
        app,
        host=HOST,
        port=port,
        log_level="warning",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        ws_max_size=WIDEST,
    )
    _Server(config, lambda: _begun(address, ready, open_browser=open_browser)).run()


def _begun(address: str, ready: Callable[[str], None], *, open_browser: bool) -> None:
    ready(address)
    if open_browser:
        webbrowser.open(address)


class _Server(uvicorn.Server):
    """A server that says when it answers."""

    def __init__(self, config: uvicorn.Config, begun: Callable[[], None]) -> None:
        super().__init__(config)
        self._begun = begun

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            self._begun()
