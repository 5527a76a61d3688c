"""The API's keeping: versions, makes, the drawer of cloths, export and backup."""

from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Path, Response

from likesewn.library import compare
from likesewn.web.api.garments import REFUSED, Garment
from likesewn.web.api.shapes import (
    ClothIn,
    ClothOut,
    DocumentOut,
    MakeIn,
    MakeOut,
    RevisionIn,
    VersionIn,
    VersionOut,
)
from likesewn.web.naming import attachment

if TYPE_CHECKING:
    from likesewn.web.desk import Desk

__all__ = ["keeping_router"]

Number = Annotated[int, Path(ge=1, le=2**53)]
ClothId = Annotated[str, Path(pattern="^[0-9A-Za-z_-]{1,64}$")]


def keeping_router(desk: "Desk") -> APIRouter:
    """Return the addresses that have to do with what is kept."""
    router = APIRouter(responses=REFUSED)
    _add_versions(router, desk)
    _add_makes(router, desk)
    _add_cloths(router, desk)
    _add_whole(router, desk)
    return router


def _add_versions(router: APIRouter, desk: "Desk") -> None:
    library = desk.library

    @router.get("/garments/{garment}/versions", tags=["versions"])
    def versions(garment: Garment) -> list[VersionOut]:
        """List a garment's kept versions."""
        return [VersionOut.of(version) for version in library.versions(garment)]

    @router.post("/garments/{garment}/versions", status_code=201, tags=["versions"])
    def keep(garment: Garment, new: VersionIn) -> VersionOut:
        """Keep the garment as it is."""
        return VersionOut.of(library.keep_version(garment, new.revision, name=new.name, why="named"))

    @router.get("/garments/{garment}/versions/{number}/file", tags=["versions"], response_class=Response)
    def version_file(garment: Garment, number: Number) -> Response:
        """Return the garment file of a version."""
        return Response(library.version(garment, number).text, media_type="application/toml")

    @router.post("/garments/{garment}/versions/{number}/go-back", tags=["versions"])
    def go_back(garment: Garment, number: Number, at: RevisionIn) -> DocumentOut:
        """Make a version the newest again; this can be undone."""
        return DocumentOut.of(desk.go_back(garment, at.revision, number).document)

    @router.get("/garments/{garment}/versions/{number}/compare/{other}", tags=["versions"])
    def compared(garment: Garment, number: Number, other: Number) -> list[dict[str, str]]:
        """Say what differs between two versions."""
        one, two = library.version(garment, number), library.version(garment, other)
        return [
            {"key": change.key, "before": change.before, "after": change.after}
            for change in compare(one.text, two.text)
        ]


def _add_makes(router: APIRouter, desk: "Desk") -> None:
    library = desk.library

    @router.get("/garments/{garment}/makes", tags=["makes"])
    def makes(garment: Garment) -> list[MakeOut]:
        """List how often a garment was made, and what came of it."""
        return [MakeOut.of(make) for make in library.makes(garment)]

    @router.post("/garments/{garment}/makes", status_code=201, tags=["makes"])
    def add_make(garment: Garment, new: MakeIn) -> MakeOut:
        """Note a make; the garment as it is now is kept as a version."""
        return MakeOut.of(
            library.add_make(
                garment,
                new.revision,
                made=new.made,
                cloth=new.cloth,
                picture=new.picture,
                next_time=new.next_time,
            )
        )

    @router.put("/garments/{garment}/makes/{number}", tags=["makes"])
    def change_make(garment: Garment, number: Number, new: MakeIn) -> MakeOut:
        """Change what was noted of a make."""
        return MakeOut.of(
            library.change_make(
                garment,
                number,
                new.revision,
                made=new.made,
                cloth=new.cloth,
                picture=new.picture,
                next_time=new.next_time,
            )
        )

    @router.delete("/garments/{garment}/makes/{number}", status_code=204, tags=["makes"])
    def delete_make(garment: Garment, number: Number) -> Response:
        """Take a make out of the log; it can be put back."""
        library.delete_make(garment, number)
        return Response(status_code=204)

    @router.post("/garments/{garment}/makes/{number}/restore", tags=["makes"])
    def restore_make(garment: Garment, number: Number) -> MakeOut:
        """Put it back."""
        return MakeOut.of(library.restore_make(garment, number))


def _add_cloths(router: APIRouter, desk: "Desk") -> None:
    library = desk.library

    @router.get("/cloths", tags=["cloths"])
    def cloths() -> list[ClothOut]:
        """List the cloths in the drawer."""
        return [ClothOut.of(cloth) for cloth in library.cloths()]

    @router.post("/cloths", status_code=201, tags=["cloths"])
    def add_cloth(new: ClothIn) -> ClothOut:
        """Put a cloth into the drawer."""
        return ClothOut.of(library.add_cloth(new.name, new.text, note=new.note, picture=new.picture))

    @router.put("/cloths/{cloth}", tags=["cloths"])
    def change_cloth(cloth: ClothId, new: ClothIn) -> ClothOut:
        """Change a cloth of the drawer."""
        changed = library.change_cloth(
            cloth, new.revision or 0, name=new.name, text=new.text, note=new.note, picture=new.picture
        )
        return ClothOut.of(changed)

    @router.delete("/cloths/{cloth}", status_code=204, tags=["cloths"])
    def delete_cloth(cloth: ClothId) -> Response:
        """Take a cloth out of the drawer; it can be put back."""
        library.delete_cloth(cloth)
        return Response(status_code=204)

    @router.post("/cloths/{cloth}/restore", tags=["cloths"])
    def restore_cloth(cloth: ClothId) -> ClothOut:
        """Put it back."""
        return ClothOut.of(library.restore_cloth(cloth))


def _add_whole(router: APIRouter, desk: "Desk") -> None:
    library = desk.library

    @router.get("/garments/{garment}/export", tags=["keeping"], response_class=Response)
    def export(garment: Garment) -> Response:
        """Return the garment with its versions, makes and photographs as one file."""
        name = library.get(garment).name
        disposition = attachment(f"{name}.likesewn.zip")
        return Response(
            library.export_garment(garment),
            media_type="application/zip",
            headers={"Content-Disposition": disposition},
        )
