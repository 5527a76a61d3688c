"""The command that traces a garment in photographs: reads pictures and hints, prints, and writes."""

import json
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from likesewn.cli.common import Json, app, busy, known_kind, say, write_all
from likesewn.errors import InputError, Problem

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from likesewn.garment import Finding, Kind
    from likesewn.photo import Known, Picture
    from likesewn.photo.hints import Hint
    from likesewn.photo.trace import Tracing
    from likesewn.photo.tracing_job import Seam

LARGEST_PICTURE = 200_000_000
"""Bytes of a picture file beyond which it is not read: no phone writes such."""

Points = Annotated[list[str] | None, typer.Option(metavar='"x,y x,y ..."')]


@app.command(
    epilog='Example: likesewn trace front.jpg --kind set-in-sleeve-top --thickness "3 mm" --out my-top.toml'
)
def trace(
    photos: Annotated[list[Path], typer.Argument(metavar="PHOTO...", help="Photographs of one lay.")],
    kind: Annotated[str, typer.Option(help="Kind of garment, or none for the outline alone.")] = "none",
    face: Annotated[str, typer.Option(help="The piece that faces up, such as front or back.")] = "",
    out: Annotated[Path | None, typer.Option(metavar="FILE", help="Garment file to write or add to.")] = None,
    overlay: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Picture to check by eye (JPEG).")
    ] = None,
    thickness: Annotated[
        str, typer.Option(help='Height of the cloth above the table, such as "3 mm +- 1 mm".')
    ] = "",
    printed_ruler: Annotated[
        list[str] | None, typer.Option(help="A sheet's 200 mm ruler as measured: along, then across.")
    ] = None,
    known: Annotated[str, typer.Option(help='Without sheets: a measure, such as chest_width="52 cm".')] = "",
    card: Annotated[
        str, typer.Option(help='Without sheets: four corners of a bank card, "x,y x,y x,y x,y".')
    ] = "",
    paper: Annotated[
        str, typer.Option(help='Without sheets: four corners of blank paper, "a4 x,y x,y x,y x,y".')
    ] = "",
    mat: Annotated[
        list[str] | None,
        typer.Option(help="Without sheets: a point of a mat or ruler, x,y=X,Y in px and mm."),
    ] = None,
    rectangle: Annotated[
        str, typer.Option(help='Hint: a box round the garment, "left,top right,bottom" px.')
    ] = "",
    drawn: Annotated[
        str, typer.Option("--round", help='Hint: the garment drawn round roughly, "x,y x,y ..." px.')
    ] = "",
    garment: Annotated[
        list[str] | None, typer.Option(help='Hint: a stroke on the garment, "x,y x,y ..." px.')
    ] = None,
    table: Annotated[
        list[str] | None, typer.Option(help='Hint: a stroke on the table, "x,y x,y ..." px.')
    ] = None,
    corner: Annotated[
        list[str] | None, typer.Option(help="Hint: a corner put in place, NAME=x,y px.")
    ] = None,
    seam: Annotated[
        list[str] | None, typer.Option(help='A seam to follow between picked points, PIECE.EDGE="x,y x,y".')
    ] = None,
    as_json: Json = False,
) -> None:
    """Trace a garment that lies flat in photographs: its outline, corners and edges in millimetres."""
    from likesewn.photo.tracing_data import tracing_data  # noqa: PLC0415
    from likesewn.photo.tracing_job import Lay, read_length, trace_lay  # noqa: PLC0415

    chosen = None if kind == "none" else known_kind(kind)
    asked = Lay(
        chosen,
        face,
        _hint(rectangle, drawn, garment or [], table or [], corner or []),
        read_length(thickness, "--thickness") if thickness else None,
        _usual_thickness(out),
        tuple(read_length(text, "--printed-ruler")[0] for text in printed_ruler or []),
        _thing(card, paper, mat or []),
        _measure(known),
        tuple(_seam(text) for text in seam or []),
    )
    with busy("Tracing"):
        done = trace_lay(_read(photos), asked, lambda word: f"--{word.replace('_', '-')}")
    traced, findings = done.tracing, done.findings
    wrote = _write(traced, done.picture, chosen, out, overlay, asked.thickness)
    if as_json:
        typer.echo(json.dumps({**tracing_data(traced, findings), "wrote": wrote}, ensure_ascii=False))
        return
    _report(traced, findings, wrote)


def _read(photos: "Sequence[Path]") -> "list[Picture]":
    from likesewn.photo import read_picture  # noqa: PLC0415

    pictures: list[Picture] = []
    for photo in photos:
        try:
            with photo.open("rb") as stream:
                data = stream.read(LARGEST_PICTURE + 1)
        except OSError as error:
            todo = "Name a JPEG, PNG or HEIC picture."
            raise InputError(
                Problem(f"the picture cannot be read: {error.strerror}", file=str(photo), todo=todo)
            ) from None
        if len(data) > LARGEST_PICTURE:
            limit = f"at most {LARGEST_PICTURE // 1_000_000} MB"
            raise InputError(Problem("this picture is too large", file=str(photo), allowed=limit))
        pictures.append(read_picture(data, photo.name))
    return pictures


def _thing(card: str, paper: str, mat: list[str]) -> "Known | None":
    """Return the thing of known size that was named, if one was."""
    from likesewn.photo import known_card, known_paper, known_points  # noqa: PLC0415

    if card:
        return known_card(_points(card, "--card"))
    if paper:
        name, _, rest = paper.strip().partition(" ")
        return known_paper(_points(rest, "--paper"), name)
    if mat:
        pairs = [text.partition("=") for text in mat]
        px = _points(" ".join(seen for seen, _, _ in pairs), "--mat")
        return known_points(px, _points(" ".join(true for _, _, true in pairs), "--mat"))
    return None


def _measure(known: str) -> tuple[str, str]:
    key, _, text = known.partition("=")
    return key, text


def _usual_thickness(out: Path | None) -> tuple[float, float]:
    """Return the thickness, and its sigma, of the fabric that the garment file to be added to names, mm."""
    import tomllib  # noqa: PLC0415

    from likesewn.photo import default_thickness  # noqa: PLC0415

    try:
        fabric = tomllib.loads(out.read_text(encoding="utf-8")).get("fabric") if out else None
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError):
        fabric = None  # what is wrong with the file is said when it is written
    construction = fabric.get("construction") if isinstance(fabric, dict) else ""
    return default_thickness(str(construction))


def _points(text: str, key: str) -> "NDArray[np.float64]":
    import numpy as np  # noqa: PLC0415

    try:
        rows = [tuple(float(part) for part in pair.split(",")) for pair in text.split()]
        found = np.array(rows, dtype=np.float64).reshape(-1, 2)
        if len(found) != len(rows) or not len(found) or not np.isfinite(found).all():
            raise ValueError  # noqa: TRY301 - one fault, one message
    except ValueError:
        raise InputError(
            Problem("these are not points", found=text[:60], key=key, allowed='pairs such as "120,80 340,90"')
        ) from None
    return found


def _hint(rectangle: str, drawn: str, garment: list[str], table: list[str], corners: list[str]) -> "Hint":
    from likesewn.photo.hints import Hint  # noqa: PLC0415

    box = None
    if rectangle:
        (left, top), (right, bottom) = _box(rectangle)
        box = (left, top, right, bottom)
    placed: dict[str, tuple[float, float]] = {}
    for text in corners:
        name, _, place = text.partition("=")
        x, y = _points(place, "--corner")[0]
        placed[name] = (float(x), float(y))
    on, off = (
        tuple(_points(text, key) for text in texts)
        for texts, key in ((garment, "--garment"), (table, "--table"))
    )
    return Hint(box, on, off, placed, _points(drawn, "--round") if drawn else None)


def _box(text: str) -> tuple[tuple[float, float], tuple[float, float]]:
    found = _points(text, "--rectangle")
    if len(found) == 2 and (found[1] - found[0] >= 8).all():
        return tuple(found[0].tolist()), tuple(found[1].tolist())
    allowed = 'left top corner, then right bottom corner: "20,30 380,500"'
    raise InputError(Problem("this is not a rectangle", found=text[:60], key="--rectangle", allowed=allowed))


def _seam(text: str) -> "Seam":
    from likesewn.photo.tracing_job import Seam  # noqa: PLC0415

    name, _, places = text.partition("=")
    piece, _, edge = name.partition(".")
    return Seam(piece, edge, _points(places, "--seam"))


def _write(
    traced: "Tracing",
    picture: "Picture",
    kind: "Kind | None",
    out: Path | None,
    overlay: Path | None,
    height: tuple[float, float] | None,
) -> list[str]:
    made: list[tuple[Path, bytes]] = []
    if overlay is not None:
        from likesewn.photo.overlay import overlay_picture  # noqa: PLC0415

        lines = [traced.dip.px] if traced.dip is not None and len(traced.dip.px) > 1 else []
        lines += list(traced.seams_px)
        made.append((overlay, overlay_picture(picture.rgb, traced.outline.px, traced.corners_px, lines)))
    if out is not None:
        made.append((out, _garment_text(traced, kind, out, height).encode()))
    for path, data in made:
        write_all(path.parent, {path.name: data})
    return [str(path) for path, _ in made]


def _garment_text(
    traced: "Tracing", kind: "Kind | None", out: Path, height: tuple[float, float] | None
) -> str:
    from likesewn.photo.tracing_text import with_tracing  # noqa: PLC0415

    if kind is None:
        raise InputError(
            Problem("a garment file needs a kind", key="--kind", todo="Add --kind, or leave --out away.")
        )
    if traced.plane is None:
        raise InputError(
            Problem(
                "there is no scale, so nothing can be written to a garment file",
                file=traced.name,
                todo='Lay reference sheets round it (`likesewn sheet`), or give --known chest_width="52 cm".',
            )
        )
    try:
        before = out.read_text(encoding="utf-8") if out.exists() else ""
    except (OSError, UnicodeDecodeError):
        raise InputError(Problem("this file is there and cannot be read as text", file=str(out))) from None
    return with_tracing(before, traced, kind, None if height is None else height[0])


def _report(traced: "Tracing", findings: "Sequence[Finding]", wrote: list[str]) -> None:
    import numpy as np  # noqa: PLC0415

    typer.echo(f"{traced.name}: outline of {len(traced.outline.px)} points, {len(traced.corners_px)} corners")
    if traced.sigma_mm is not None and traced.outline_mm is not None:
        wide, high = np.ptp(traced.outline_mm, axis=0)
        typer.echo(
            f"{wide:.0f} mm by {high:.0f} mm on the table, each point to "
            f"about {np.median(traced.sigma_mm):.1f} mm"
        )
    for finding in findings:
        say(finding)
    for path in wrote:
        typer.echo(f"Wrote {path}")
