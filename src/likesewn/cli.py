"""The command line: it reads files, runs the stages, prints and writes.

Heavy packages are imported inside the commands that need them, so that ``--help`` answers at once.
Exit codes: 0 done, 1 findings that stop the work, 2 wrong use or bad input.
"""

import io
import json
import os
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from likesewn import __version__
from likesewn.errors import InputError, LikesewnError, OutputError, Problem

if TYPE_CHECKING:
    from likesewn.garment import Finding, Kind, Pattern, Record
    from likesewn.job import Job

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


def main() -> None:
    """Run the command line; errors meant for people end in words and an exit code, never a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        app()
    except LikesewnError as error:
        _fail(error, as_json="--json" in sys.argv)
    except KeyboardInterrupt:
        typer.echo("Stopped; nothing was written.", err=True)
        raise SystemExit(130) from None
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0) from None


def _fail(error: LikesewnError, *, as_json: bool) -> NoReturn:
    problems = error.problems if isinstance(error, InputError) else (Problem(str(error)),)
    if as_json:
        data = [{k: getattr(p, k) for k in p.__dataclass_fields__} for p in problems]
        typer.echo(json.dumps({"error": {"problems": data}}, indent=2, ensure_ascii=False))
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
def _busy(text: str) -> Iterator[None]:
    """Show that something is going on: on stderr, and only where a person watches."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console  # noqa: PLC0415

    with Console(stderr=True).status(text):
        yield


def _read(file: Path) -> "tuple[Record, Kind]":
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


def _kind(name: str) -> "Kind":
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


def _unit(unit: str) -> str:
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


@app.command(epilog="Example: likesewn new set-in-sleeve-top --unit in --out my-top.toml")
def new(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="Kind of garment, such as set-in-sleeve-top.")],
    unit: Annotated[str, typer.Option(help="Unit for bare numbers: cm, mm or in.")] = "cm",
    name: Annotated[str, typer.Option(help="The garment's name.")] = "",
    out: Annotated[Path | None, typer.Option(metavar="FILE", help="Write to a file, not the screen.")] = None,
    as_json: Json = False,
) -> None:
    """Write a garment file to fill in; its remarks say how to take each measure."""
    from likesewn.garment import new_garment  # noqa: PLC0415

    text = new_garment(_kind(kind), _unit(unit), name)
    if out is None:
        typer.echo(json.dumps({"file": text}, ensure_ascii=False) if as_json else text, nl=as_json)
        return
    if out.exists():
        raise InputError(
            Problem("this file is there already", file=str(out), todo="Name another, or move it away first.")
        )
    write_all(out.parent, {out.name: text.encode()})
    if as_json:
        typer.echo(json.dumps({"wrote": [str(out)]}))
    else:
        typer.echo(f"Wrote {out}. Fill in the measures, then: likesewn make {out} --out pattern")


def _say(finding: "Finding") -> None:
    mark = {"stop": "STOP", "look": "LOOK", "note": "note"}[finding.weight.value]
    typer.echo(f"{mark}  {finding.message}")
    if finding.todo:
        typer.echo(f"      {finding.todo}")


def _stop(findings: "Sequence[Finding]", *, as_json: bool) -> NoReturn:
    """Say why the work stops, and end with the exit code for it."""
    from likesewn.job import finding_data  # noqa: PLC0415

    if as_json:
        data = {"findings": [finding_data(finding) for finding in findings], "wrote": []}
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        for finding in findings:
            _say(finding)
        typer.echo("The work stops here; nothing was written.")
    raise typer.Exit(1)


def _run(record: "Record", kind: "Kind", *, as_json: bool) -> "Job":
    from likesewn import job as jobs  # noqa: PLC0415
    from likesewn.garment import Finding, Weight  # noqa: PLC0415
    from likesewn.truing import Untrued  # noqa: PLC0415

    result = jobs.run(record, kind, today=date.today(), clock=time.perf_counter)  # noqa: DTZ011 - a local date
    if isinstance(result, Untrued):
        why = Finding("untrued", Weight.STOP, ", ".join(result.conditions), result.reason)
        _stop([why], as_json=as_json)
    return result


def _make(
    record: "Record", kind: "Kind", out: Path, paper: str, *, as_json: bool
) -> "tuple[Job, list[Path]]":
    from likesewn import job as jobs  # noqa: PLC0415

    with _busy("Truing, cutting, laying and drawing"):
        result = _run(record, kind, as_json=as_json)
        if result.stopped:
            _stop(result.findings, as_json=as_json)
        made = jobs.files(result, paper=paper, clock=time.perf_counter)
        write_all(out, made)
    return result, [out / name for name in made]


def _report(result: "Job", wrote: list[Path], *, as_json: bool) -> None:
    if as_json:
        from likesewn import job as jobs  # noqa: PLC0415

        data = {**jobs.summary(result), "wrote": [str(path) for path in wrote]}
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
        return
    from likesewn.lay import buy_text  # noqa: PLC0415
    from likesewn.units import format_length  # noqa: PLC0415

    unit = result.record.unit
    typer.echo(f"{result.record.name}: {result.kind.title.lower()}")
    for finding in result.findings:
        _say(finding)
    for band in result.cut_list.bands:
        typer.echo(
            f"{band.title}: cut {format_length(band.cut_length_mm, unit)} by "
            f"{format_length(band.cut_width_mm, unit)}"
        )
    for plan in result.plans:
        typer.echo(
            f"Cloth {format_length(plan.cloth.width_mm, unit)} wide, {plan.folding}: "
            f"lay {format_length(plan.length_mm, unit)}, buy {buy_text(plan.buy_mm, unit)}"
        )
    if result.pattern.assumptions:
        typer.echo("Not recorded, so taken from what is usual (the summary says how):")
        for assumption in result.pattern.assumptions:
            typer.echo(f"  {assumption.message}")
    typer.echo("Wrote:")
    for path in wrote:
        typer.echo(f"  {path}")


@app.command(epilog="Example: likesewn make my-top.toml --out pattern --paper letter")
def make(
    file: Garment,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for the files.")],
    paper: Annotated[str, typer.Option(help="Paper to print on: a4 or letter.")] = "a4",
    as_json: Json = False,
) -> None:
    """Do the whole job: pattern to print, lay plan, sewing plan and summary."""
    record, kind = _read(file)
    result, wrote = _make(record, kind, out, paper, as_json=as_json)
    _report(result, wrote, as_json=as_json)


def _table(pattern: "Pattern", unit: str) -> None:
    from rich.console import Console  # noqa: PLC0415
    from rich.table import Table  # noqa: PLC0415

    from likesewn.units import format_length, format_with_sigma  # noqa: PLC0415

    console = Console(width=None if sys.stdout.isatty() else 100)
    table = Table(title="Measures", box=None, pad_edge=False)
    for heading, justify in (("Measure", "left"), ("Recorded", "right"), ("Pattern", "right")):
        table.add_column(heading, justify=justify)  # pyright: ignore[reportArgumentType]
    for m in pattern.measures:
        asked = "" if m.asked_mm is None else format_length(m.asked_mm, unit)
        table.add_row(m.title, asked, format_with_sigma(m.value_mm, m.sigma_mm, unit))
    console.print(table)
    table = Table(title="Sewn edges", box=None, pad_edge=False)
    for heading, justify in (
        ("Seam", "left"),
        ("One edge", "right"),
        ("The other", "right"),
        ("Ease", "right"),
    ):
        table.add_column(heading, justify=justify)  # pyright: ignore[reportArgumentType]
    for s in pattern.seams:
        lengths = (format_length(mm, unit) for mm in (s.left_mm, s.right_mm, s.ease_mm))
        table.add_row(s.name, *lengths)
    console.print(table)


@app.command(epilog="Example: likesewn check my-top.toml")
def check(file: Garment, as_json: Json = False) -> None:
    """Check a garment file: do its figures agree, do its pieces sew together? Exit code 1 if not."""
    from likesewn import job as jobs  # noqa: PLC0415

    record, kind = _read(file)
    with _busy("Checking"):
        result = _run(record, kind, as_json=as_json)
    if as_json:
        typer.echo(json.dumps(jobs.summary(result), indent=2, ensure_ascii=False))
    else:
        _table(result.pattern, record.unit)
        for finding in result.findings:
            _say(finding)
        for assumption in result.pattern.assumptions:
            typer.echo(f"      {assumption.message}")
    off = any(finding.weight.value != "note" for finding in result.findings)
    if not as_json:
        typer.echo("Something is off; see above." if off else "Everything agrees and sews together.")
    raise typer.Exit(1 if off else 0)


def _figures(kind: "Kind", given: list[str], unit: str) -> dict[str, Any]:
    from likesewn.garment import Figure  # noqa: PLC0415
    from likesewn.units import UnitError, parse_length  # noqa: PLC0415

    figures: dict[str, Any] = {}
    problems: list[Problem] = []
    for text in given:
        key, equals, value = text.partition("=")
        if not equals:
            allowed = f"MEASURE=LENGTH, such as {next(iter(kind.measures))}=66"
            problems.append(Problem("this is not a measure", found=text, allowed=allowed))
            continue
        try:
            length = parse_length(value, unit)
        except UnitError as error:
            problems.append(Problem(str(error), key=key))
            continue
        figures[key] = Figure(length.mm, length.sigma_mm, value)
    if problems:
        raise InputError(*problems)
    return figures


@app.command(epilog="Example: likesewn buy set-in-sleeve-top body_length=66 chest_width=52 sleeve_length=59")
def buy(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="Kind of garment.")],
    measures: Annotated[list[str], typer.Argument(metavar="MEASURE=LENGTH...", help="A few measures.")],
    width: Annotated[str, typer.Option(help="Usable width of the cloth, selvages off.")] = "150 cm",
    folding: Annotated[str, typer.Option(help="open, folded or selvages to the middle.")] = "folded",
    unit: Annotated[str, typer.Option(help="Unit for bare numbers and for the answer.")] = "cm",
    shrinkage: Annotated[float, typer.Option(help="Share lost in the first wash, such as 0.05.")] = 0.0,
    as_json: Json = False,
) -> None:
    """Say how much cloth to buy, from a few measures alone."""
    from likesewn.garment import Cloth  # noqa: PLC0415
    from likesewn.job import finding_data  # noqa: PLC0415
    from likesewn.lay import estimate  # noqa: PLC0415
    from likesewn.units import UnitError, parse_length  # noqa: PLC0415

    wanted = _kind(kind)
    figures = _figures(wanted, measures, _unit(unit))
    try:
        usable = parse_length(width, unit)
    except UnitError as error:
        raise InputError(Problem(str(error), key="--width")) from None
    with _busy("Working out the cloth"):
        answer = estimate(wanted, figures, Cloth(usable.mm, folding), unit=unit, shrinkage=shrinkage)
    if as_json:
        data = {
            "message": answer.message,
            "buy_mm": answer.buy_mm,
            "rule_mm": answer.rule_mm,
            "length_mm": answer.plan.length_mm,
            "widths": [{k: getattr(row, k) for k in row.__dataclass_fields__} for row in answer.widths],
            "findings": [finding_data(finding) for finding in answer.findings],
            "assumptions": [a.message for a in answer.assumptions],
        }
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        typer.echo(answer.message)
        for finding in answer.findings:
            _say(finding)
    if answer.buy_mm == 0.0:
        raise typer.Exit(1)


@app.command(epilog="Example: likesewn demo --out demo --paper letter")
def demo(
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for the files.")] = Path("demo"),
    paper: Annotated[str, typer.Option(help="Paper to print on: a4 or letter.")] = "a4",
    show: Annotated[bool, typer.Option("--open/--no-open", help="Open the result on a desktop.")] = True,
    as_json: Json = False,
) -> None:
    """Run the whole job on an example: a pottery studio's throwing top, copied for the apprentice."""
    from likesewn.examples import example_text  # noqa: PLC0415
    from likesewn.garment import load_kind, read_garment  # noqa: PLC0415

    text = example_text("throwing-top")
    record = read_garment(text, "throwing-top.toml")
    result, wrote = _make(record, load_kind(record.kind), out, paper, as_json=as_json)
    write_all(out, {"throwing-top.toml": text.encode()})
    _report(result, [out / "throwing-top.toml", *wrote], as_json=as_json)
    desktop = bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")) or sys.platform != "linux"
    if show and desktop and sys.stdout.isatty():
        typer.launch(str((out / "sewing-plan.html").resolve()))


if __name__ == "__main__":
    main()
