"""The commands for the library: what is kept, one garment in and out, backup, restoring and rescue."""

import json
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from likesewn.cli.common import Json, app, write_all
from likesewn.errors import InputError, Problem

if TYPE_CHECKING:
    from likesewn.library import Library

__all__ = ["shelved"]

shelved = typer.Typer(
    help="What the workbench keeps: list, export, import, backup, restore, rescue.", no_args_is_help=True
)
app.add_typer(shelved, name="library")

Folder = Annotated[
    Path | None,
    typer.Option("--library", metavar="DIR", help="Folder of the library; your own where not given."),
]


def _now() -> datetime:
    return datetime.now().astimezone()


def _folder(folder: Path | None) -> Path:
    from likesewn.library import default_folder  # noqa: PLC0415

    return folder or default_folder()


def _opened(folder: Path | None) -> "Library":
    from likesewn.library import Library  # noqa: PLC0415

    return Library.open(_folder(folder), now=_now)


@shelved.command("list", epilog="Example: likesewn library list --search studio")
def list_garments(
    search: Annotated[str, typer.Option(help="Words to search for.")] = "",
    library: Folder = None,
    as_json: Json = False,
) -> None:
    """List the garments on the shelf, newest change first."""
    with _opened(library) as opened:
        found = opened.shelf(search=search, limit=100_000)
    rows = [
        {"garment": r.garment, "name": r.name, "kind": r.kind, "changed": r.changed.isoformat()}
        for r in found.rows
    ]
    if as_json:
        typer.echo(json.dumps({"garments": rows}, indent=2, ensure_ascii=False))
        return
    for row in rows:
        typer.echo(f"{row['garment']}  {row['changed'][:10]}  {row['name']}")
    typer.echo(f"{len(rows)} garments in {_folder(library)}")


def _one(opened: "Library", garment: str) -> str:
    """Return the id of the garment of this id or name.

    Raises:
        InputError: None has it, or several have this name.
    """
    rows = opened.shelf(limit=100_000).rows
    found = [r.garment for r in rows if garment in {r.garment, r.name}]
    if len(found) != 1:
        message = "several garments have this name" if found else "there is no such garment on the shelf"
        todo = "Name it by its id; `likesewn library list` shows both."
        raise InputError(Problem(message, found=garment, todo=todo))
    return found[0]


@shelved.command("export", epilog='Example: likesewn library export "Throwing top" --out top.zip')
def export_garment(
    garment: Annotated[str, typer.Argument(metavar="GARMENT", help="Its name or id.")],
    out: Annotated[
        Path, typer.Option(metavar="FILE", help="A .toml for the garment file alone, else a zip.")
    ],
    library: Folder = None,
    as_json: Json = False,
) -> None:
    """Write one garment to a file: its garment file, or all that is kept of it."""
    with _opened(library) as opened:
        which = _one(opened, garment)
        plain = out.suffix == ".toml"
        data = opened.get(which).text.encode() if plain else opened.export_garment(which)
    write_all(out.parent, {out.name: data})
    _wrote(out, as_json=as_json)


@shelved.command("import", epilog="Example: likesewn library import my-top.toml")
def import_garment(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A garment file, or an exported garment.")],
    library: Folder = None,
    as_json: Json = False,
) -> None:
    """Put a garment on the shelf from a file."""
    from likesewn.library.taking_in import take_in  # noqa: PLC0415

    try:
        data = file.read_bytes()
    except OSError as error:
        raise InputError(
            Problem(f"the file cannot be read: {error.strerror}", file=str(file), todo="Name another.")
        ) from None
    with _opened(library) as opened:
        document = take_in(opened, data, file.name)
    if as_json:
        typer.echo(json.dumps({"garment": document.garment, "name": document.name}, ensure_ascii=False))
    else:
        typer.echo(f"“{document.name}” is on the shelf ({document.garment}).")


@shelved.command("backup", epilog="Example: likesewn library backup --out everything.zip")
def back_up(
    out: Annotated[Path, typer.Option(metavar="FILE", help="The file to write.")],
    library: Folder = None,
    as_json: Json = False,
) -> None:
    """Write everything that is kept to one file."""
    with _opened(library) as opened:
        opened.back_up(out)
    _wrote(out, as_json=as_json)


@shelved.command("restore", epilog="Example: likesewn library restore everything.zip --library ~/sewing")
def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file that `backup` wrote.")],
    library: Annotated[Path, typer.Option("--library", metavar="DIR", help="An empty or new folder.")],
    as_json: Json = False,
) -> None:
    """Make a library from a backup, in an empty folder."""
    from likesewn.library import Library  # noqa: PLC0415

    with Library.restore_backup(file, library, now=_now) as opened:
        total = opened.shelf(limit=1).total
    if as_json:
        typer.echo(json.dumps({"library": str(library), "garments": total}))
    else:
        typer.echo(f"{total} garments are in {library}. Open it with: likesewn serve --library {library}")


@shelved.command("rescue", epilog="Example: likesewn library rescue --out rescued.zip")
def rescue_garments(
    out: Annotated[Path, typer.Option(metavar="FILE", help="The zip to write.")],
    library: Folder = None,
    as_json: Json = False,
) -> None:
    """Write what can still be read of a damaged library as garment files; the library is left as it is."""
    from likesewn.library import rescue  # noqa: PLC0415

    found = rescue(_folder(library))
    found.write(out, _now())
    if as_json:
        rows = [{"garment": g.garment, "name": g.name, "found": g.found} for g in found.garments]
        typer.echo(
            json.dumps({"garments": rows, "lost": list(found.lost), "wrote": str(out)}, ensure_ascii=False)
        )
        return
    for garment in found.garments:
        typer.echo(f"{garment.name}: {garment.found}")
    if found.lost:
        typer.echo(f"Of {len(found.lost)} garments nothing could be read: {', '.join(found.lost)}")
    _wrote(out, as_json=False)


def _wrote(out: Path, *, as_json: bool) -> None:
    typer.echo(json.dumps({"wrote": [str(out)]}) if as_json else f"Wrote {out}")
