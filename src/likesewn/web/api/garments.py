"""The API's garments: the shelf, a garment's file and its changes, and what the stages say of it."""

import asyncio
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Body, Path, Query, Request, Response

from likesewn.errors import InputError, Problem
from likesewn.garment import Finding, Weight, kind_names, load_kind
from likesewn.job import finding_data, summary
from likesewn.truing import Untrued
from likesewn.web.api.shapes import (
    Changes,
    DocumentOut,
    Faults,
    LayIn,
    NameIn,
    NewGarment,
    RevisionIn,
    RowOut,
    ShelfOut,
    TextIn,
)
from likesewn.web.naming import from_header
from likesewn.web.stages import quick_statuses, statuses

if TYPE_CHECKING:
    from likesewn.web.desk import Desk

__all__ = ["REFUSED", "garments_router"]

REFUSED: dict[int | str, dict[str, Any]] = {
    status: {"model": Faults} for status in (400, 401, 403, 404, 405, 408, 409, 413, 415, 422, 503)
}
"""What every address may answer besides what was asked for."""

MOST_GARMENT_FILE = 5_000_000
Garment = Annotated[str, Path(pattern="^[0-9A-Za-z_-]{1,64}$")]


def garments_router(desk: "Desk") -> APIRouter:  # noqa: C901 - one function for each address
    """Return the addresses that have to do with garments."""
    router = APIRouter(responses=REFUSED, tags=["garments"])

    @router.get("/kinds")
    def kinds() -> list[dict[str, str]]:
        """List the kinds of garment."""
        known = [load_kind(name) for name in kind_names()]
        return [{"kind": kind.name, "title": kind.title, "summary": kind.summary} for kind in known]

    @router.get("/garments")
    def shelf(
        search: Annotated[str, Query(max_length=200)] = "",
        start: Annotated[int, Query(ge=0, le=1_000_000)] = 0,
        limit: Annotated[int, Query(ge=1, le=500)] = 60,
        *,
        removed: bool = False,
    ) -> ShelfOut:
        """List garments, newest change first."""
        found = desk.library.shelf(search=search, deleted=removed, limit=limit, start=start)
        return ShelfOut(garments=[RowOut.of(row) for row in found.rows], total=found.total)

    @router.post("/garments", status_code=201)
    def begin(new: NewGarment) -> DocumentOut:
        """Put a new garment on the shelf, to be filled in."""
        return DocumentOut.of(desk.begin(new.kind, new.unit, new.name))

    @router.post(
        "/garments/file",
        status_code=201,
        openapi_extra={
            "requestBody": {
                "content": {"application/octet-stream": {"schema": {"type": "string", "format": "binary"}}},
                "required": True,
            }
        },
    )
    async def take_in(request: Request) -> DocumentOut:
        """Put a garment on the shelf from a garment file, or from one that was exported."""
        data = await request.body()
        if not data:
            raise InputError(Problem("the file is empty", allowed="a garment file, or an exported garment"))
        name = from_header(request.headers.get("x-file-name", ""))
        return DocumentOut.of(await asyncio.to_thread(desk.take_in, data, name))

    @router.get("/garments/{garment}")
    def read(garment: Garment) -> DocumentOut:
        """Return a garment's file and what is kept beside it."""
        return DocumentOut.of(desk.library.get(garment))

    @router.patch("/garments/{garment}")
    def change(garment: Garment, new: Changes) -> DocumentOut:
        """Change values of a garment's file; refused where another window changed it first."""
        return DocumentOut.of(
            desk.change(garment, new.revision, new.changes, said=new.said, aside=new.aside).document
        )

    @router.put("/garments/{garment}/file")
    def write(garment: Garment, new: TextIn) -> DocumentOut:
        """Replace a garment's whole file."""
        return DocumentOut.of(desk.write(garment, new.revision, new.text, said=new.said).document)

    @router.get("/garments/{garment}/file", response_class=Response)
    def file(garment: Garment) -> Response:
        """Return the garment file itself."""
        return Response(desk.library.get(garment).text, media_type="application/toml")

    @router.post("/garments/{garment}/undo")
    def undo(garment: Garment, at: RevisionIn) -> DocumentOut:
        """Take the last change back."""
        return DocumentOut.of(desk.undo(garment, at.revision).document)

    @router.post("/garments/{garment}/redo")
    def redo(garment: Garment, at: RevisionIn) -> DocumentOut:
        """Make it again."""
        return DocumentOut.of(desk.redo(garment, at.revision).document)

    @router.post("/garments/{garment}/duplicate", status_code=201)
    def duplicate(garment: Garment, new: NameIn) -> DocumentOut:
        """Put a copy on the shelf."""
        return DocumentOut.of(desk.library.duplicate(garment, new.name))

    @router.delete("/garments/{garment}", status_code=204)
    def remove(garment: Garment) -> Response:
        """Take a garment off the shelf; it can be put back."""
        desk.library.delete(garment)
        return Response(status_code=204)

    @router.post("/garments/{garment}/restore")
    def put_back(garment: Garment) -> DocumentOut:
        """Put it on the shelf again."""
        return DocumentOut.of(desk.library.restore(garment))

    @router.get("/garments/{garment}/stages")
    def stages(garment: Garment, *, quick: bool = False) -> dict[str, dict[str, str]]:
        """Say how far each stage is; ``quick`` works nothing out but the truing."""
        opened = desk.open(garment)
        found = quick_statuses(opened) if quick else statuses(desk, opened)
        return {stage: {"state": one.state, "says": one.says} for stage, one in found.items()}

    @router.get("/garments/{garment}/summary")
    def figures(garment: Garment) -> dict[str, Any]:
        """Return every figure of the garment, as ``summary.json`` has them."""
        return _figures(desk, garment)

    @router.post("/garments/{garment}/lay")
    def lay(garment: Garment, how: Annotated[LayIn, Body()]) -> list[dict[str, Any]]:
        """Search for a lay and return how much cloth it takes."""
        opened = desk.open(garment)
        laid = desk.lay(opened, how.seconds)
        if laid is None:
            _figures(desk, garment)
            return []
        return [
            {
                "cloth": plan.cloth_name,
                "folding": plan.folding,
                "fits": not plan.stopped,
                "length_mm": plan.length_mm,
                "buy_mm": plan.buy_mm,
                "bound_mm": plan.bound_mm,
                "used_fraction": plan.used_fraction,
                "findings": [finding_data(finding) for finding in plan.findings],
            }
            for plan in laid.plans
        ]

    return router


def _figures(desk: "Desk", garment: str) -> dict[str, Any]:
    """Return a garment's figures; InputError where the record cannot be used, or not be trued."""
    opened = desk.open(garment)
    if opened.draft.problems:
        raise InputError(*opened.draft.problems)
    if opened.draft.missing:
        raise InputError(
            *(
                Problem(f"the {measure.title.lower()} is missing", key=f"tape.{key}", todo=measure.how)
                for key, measure in opened.draft.missing
            )
        )
    explained = opened.explained()
    if isinstance(explained, Untrued):
        finding = Finding("untrued", Weight.STOP, ", ".join(explained.conditions), explained.reason)
        return {"findings": [finding_data(finding)]}
    stages = desk.finished(opened)
    made = None if stages is None else stages.job()
    if made is None or isinstance(made, Untrued):
        raise InputError(Problem("the garment cannot be laid", todo="See what its stages say."))
    return summary(made)
