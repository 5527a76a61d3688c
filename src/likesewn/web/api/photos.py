"""The API's photographs: taken in and cleaned, shown as previews; and the sheets to print for them."""

import asyncio
from typing import TYPE_CHECKING, Annotated, Literal

from fastapi import APIRouter, Path, Request, Response

from likesewn.errors import InputError, Problem
from likesewn.web.api.garments import REFUSED, Garment
from likesewn.web.api.shapes import DocumentOut
from likesewn.web.naming import from_header
from likesewn.web.photo_entry import Pictured
from likesewn.web.taking import Taking, add_photo

if TYPE_CHECKING:
    from likesewn.web.desk import Desk
    from likesewn.web.studio import Studio

__all__ = ["photos_router", "sheets_router"]

_BODY = {
    "requestBody": {
        "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
        "required": True,
    }
}
_FOR_A_DAY = {"Cache-Control": "private, max-age=86400"}


def photos_router(desk: "Desk", studio: "Studio") -> APIRouter:
    """Return the addresses that have to do with photographs."""
    router = APIRouter(responses=REFUSED, tags=["photographs"])
    taking = Taking(desk, studio)

    @router.post("/photos", status_code=201, openapi_extra=_BODY)
    async def keep(request: Request) -> Pictured:
        """Store a photograph without its notes; a garment, make or cloth can then name its digest."""
        return await _taken(taking, request)

    @router.post("/garments/{garment}/photos", status_code=201, openapi_extra=_BODY)
    async def add(garment: Garment, request: Request) -> DocumentOut:
        """Store a photograph and add it to a garment."""
        await asyncio.to_thread(desk.library.get, garment)  # before anything is stored
        taken = await _taken(taking, request)
        return DocumentOut.of((await asyncio.to_thread(add_photo, desk, garment, taken)).document)

    @router.get("/photos/{digest}/preview", response_class=Response)
    async def preview(digest: Annotated[str, Path(pattern="^[0-9a-f]{64}$")]) -> Response:
        """Return a photograph as JPEG of at most 2400 pixels a side, the right way up."""
        return Response(await taking.preview(digest), media_type="image/jpeg", headers=_FOR_A_DAY)

    return router


def sheets_router() -> APIRouter:
    """Return the address of the reference sheets to print."""
    router = APIRouter()

    @router.get("/sheets/{paper}.pdf", include_in_schema=False)
    def sheets(paper: Literal["a4", "letter"]) -> Response:
        from likesewn.publish.sheet_pdf import sheet_pdf  # noqa: PLC0415 - opens the picture libraries

        return Response(sheet_pdf(paper, 4), media_type="application/pdf", headers=_FOR_A_DAY)

    return router


async def _taken(taking: Taking, request: Request) -> Pictured:
    data = await request.body()
    name = from_header(request.headers.get("x-file-name", ""))
    if not data:
        raise InputError(Problem("the file is empty", file=name, allowed="a photograph as JPEG, PNG or HEIC"))
    return await taking.take(data, name)
