"""The HTTP API under ``/api``: what the workbench can do, for programs on the same machine.

``shapes`` are the values that come and go, ``garments`` what is kept on the shelf and done with a garment,
``keeping`` versions, makes, cloths and backups, ``photos`` photographs. Faults have one shape, that of the
command line's ``--json``: ``{"error": {"problems": [...]}}``.
"""

from http import HTTPStatus
from typing import TYPE_CHECKING

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, PlainTextResponse
from starlette.exceptions import HTTPException

from likesewn.errors import InputError, LikesewnError, Problem, error_data
from likesewn.library import NothingToUndo, NotKept, Stale
from likesewn.web.api.garments import garments_router
from likesewn.web.api.keeping import keeping_router
from likesewn.web.api.photos import photos_router, sheets_router

if TYPE_CHECKING:
    from likesewn.web.desk import Desk
    from likesewn.web.studio import Studio

__all__ = ["add_api"]

_STATUSES: tuple[tuple[type[LikesewnError], HTTPStatus], ...] = (
    (NothingToUndo, HTTPStatus.CONFLICT),
    (NotKept, HTTPStatus.NOT_FOUND),
    (Stale, HTTPStatus.CONFLICT),
    (InputError, HTTPStatus.UNPROCESSABLE_ENTITY),
)


def add_api(app: FastAPI, desk: "Desk", studio: "Studio") -> None:
    """Add the API to an app."""
    app.include_router(garments_router(desk), prefix="/api")
    app.include_router(keeping_router(desk), prefix="/api")
    app.include_router(photos_router(desk, studio), prefix="/api")
    app.include_router(sheets_router())
    app.add_exception_handler(LikesewnError, _refused)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _unanswered)


def _refused(_: Request, error: Exception) -> JSONResponse:
    if not isinstance(error, LikesewnError):
        raise error
    status = next((s for kind, s in _STATUSES if isinstance(error, kind)), HTTPStatus.SERVICE_UNAVAILABLE)
    return JSONResponse(error_data(error), status)


def _unanswered(request: Request, error: Exception) -> Response:
    """Say what the server itself refuses (no such address, no JSON) in the API's shape under /api."""
    if not isinstance(error, HTTPException):
        raise error
    if not request.url.path.startswith("/api"):
        return PlainTextResponse(str(error.detail), error.status_code, error.headers)
    problem = Problem(str(error.detail), found=f"{request.method} {request.url.path}"[:80])
    return JSONResponse(error_data(InputError(problem)), error.status_code, error.headers)


def _malformed(_: Request, error: Exception) -> JSONResponse:
    """Say what is wrong with a request that does not have the API's shape."""
    found = error.errors() if isinstance(error, RequestValidationError) else []
    problems = [
        Problem(
            str(one["msg"]), found=str(one.get("input", ""))[:80], key=".".join(str(p) for p in one["loc"])
        )
        for one in found
    ]
    return JSONResponse(error_data(InputError(*problems)), HTTPStatus.UNPROCESSABLE_ENTITY)
