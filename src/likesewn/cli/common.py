"""What every command needs: the app, reading a garment file, saying findings, writing whole files."""

import json
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NoReturn

import typer

from likesewn import __version__
from likesewn.errors import InputError, LikesewnError, OutputError, Problem, error_data

if TYPE_CHECKING:
    from likesewn.garment import Finding, Kind, Record
    from likesewn.truing import Untrued

app = typer.Typer(
    help="Copy a garment that fits into a pattern that can be sewn again.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
    context_settings={"help_option_names": ["-h", "--help"]},
)

LARGEST_FILE = 5_000_000
"""A garment file is a few kilobytes; anything above this is not one."""

Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
Garment = Annotated[Path, typer.Argument(metavar="FILE", help="A garment file; `likesewn new` writes one.")]


def fail(error: LikesewnError, *, as_json: bool) -> NoReturn:
    """Say what is wrong with the input or the output, and end with exit code 2."""
    problems = error.problems if isinstance(error, InputError) else (Problem(str(error)),)
    if as_json:
        typer.echo(json.dumps(error_data(error), indent=2, ensure_ascii=False))
    for problem in problems:
        typer.echo(f"likesewn: {problem}", err=True)
    raise SystemExit(2)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"likesewn {__version__}")
        raise typer.Exit


@app.callback()
def _common(
    _: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    pass


@contextmanager
def busy(text: str) -> Iterator[None]:
    """Show that something is going on: on stderr, and only where a person watches."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console  # noqa: PLC0415

    with Console(stderr=True).status(text):
        yield


def has_screen() -> bool:
    """Return whether there is a screen to show something on."""
    return sys.platform != "linux" or bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def read_file(file: Path) -> "tuple[Record, Kind]":
    """Return the record that a garment file holds and its kind.

    Raises:
        InputError: The file cannot be read, or what it says is not allowed.
    """
    from likesewn.garment import load_kind, read_garment  # noqa: PLC0415

    try:
        with file.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except OSError as error:
        raise InputError(
            Problem(
                f"the file cannot be read: {error.strerror}",
                file=str(file),
                todo="Name a garment file; `likesewn new KIND --out FILE` writes one to fill in.",
            )
        ) from None
    record = read_garment(data, file.name)
    return record, load_kind(record.kind)


def known_kind(name: str) -> "Kind":
    """Return the kind of this name.

    Raises:
        InputError: There is none.
    """
    from difflib import get_close_matches  # noqa: PLC0415

    from likesewn.garment import kind_names, load_kind  # noqa: PLC0415

    if name not in kind_names():
        near = get_close_matches(name, kind_names(), 1)
        raise InputError(
            Problem(
                "there is no such kind of garment",
                found=name,
                allowed=", ".join(kind_names()),
                nearest=near[0] if near else "",
            )
        )
    return load_kind(name)


def known_unit(unit: str) -> str:
    """Return the unit asked for.

    Raises:
        InputError: It is not one.
    """
    if unit not in {"mm", "cm", "in"}:
        raise InputError(Problem("there is no such unit", found=unit, key="--unit", allowed="mm, cm, in"))
    return unit


def write_all(folder: Path, made: dict[str, bytes]) -> None:
    """Write files so that each appears whole or not at all, and none where one cannot be written.

    Args:
        folder: Where to; made if it is not there.
        made: Content by name.

    Raises:
        OutputError: The folder or the disk does not take them; what was there before is untouched.
    """
    import shutil  # noqa: PLC0415
    import tempfile  # noqa: PLC0415

    fresh = not folder.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        aside = Path(tempfile.mkdtemp(prefix=".likesewn-", dir=folder))
    except OSError as error:
        raise OutputError(
            f"{folder}: nothing was written, since the folder cannot be used: {error.strerror}. "
            "Name another with --out."
        ) from None
    try:
        for name, content in made.items():
            with (aside / name).open("wb") as stream:
                stream.write(content)
                stream.flush()
                os.fsync(stream.fileno())
        for name in made:
            (aside / name).replace(folder / name)
    except OSError as error:
        shutil.rmtree(aside, ignore_errors=True)
        if fresh:
            shutil.rmtree(folder, ignore_errors=True)
        raise OutputError(
            f"{folder}: the files could not be written: {error.strerror}. What was there before is "
            "still there. Make room or name another folder with --out."
        ) from None
    shutil.rmtree(aside, ignore_errors=True)


def say(finding: "Finding") -> None:
    """Print one finding."""
    mark = {"stop": "STOP", "look": "LOOK", "note": "note"}[finding.weight.value]
    typer.echo(f"{mark}  {finding.message}")
    if finding.todo:
        typer.echo(f"      {finding.todo}")


def stop(findings: "Sequence[Finding]", *, as_json: bool) -> NoReturn:
    """Say why the work stops, and end with the exit code for it."""
    from likesewn.job import finding_data  # noqa: PLC0415

    if as_json:
        data = {"findings": [finding_data(finding) for finding in findings], "wrote": []}
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        for finding in findings:
            say(finding)
        typer.echo("The work stops here; nothing was written.")
    raise typer.Exit(1)


def stop_untrued(why: "Untrued", *, as_json: bool) -> NoReturn:
    """Say why a record cannot be trued, as every finding that stops the work is said, and end."""
    from likesewn.garment import Finding, Weight  # noqa: PLC0415

    stop([Finding("untrued", Weight.STOP, ", ".join(why.conditions), why.reason)], as_json=as_json)
