"""The commands that take a garment file through the job: new, make, check, demo."""

import json
import sys
import time
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from likesewn.cli.common import (
    Garment,
    Json,
    app,
    busy,
    has_screen,
    known_kind,
    known_unit,
    read_file,
    say,
    stop,
    stop_untrued,
    write_all,
)
from likesewn.errors import InputError, Problem

if TYPE_CHECKING:
    from likesewn.garment import Kind, Record
    from likesewn.job import Job


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

    text = new_garment(known_kind(kind), known_unit(unit), name)
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


def _run(record: "Record", kind: "Kind", *, as_json: bool) -> "Job":
    from likesewn import job as jobs  # noqa: PLC0415
    from likesewn.truing import Untrued  # noqa: PLC0415

    result = jobs.run(record, kind, today=date.today(), clock=time.perf_counter)  # noqa: DTZ011 - a local date
    if isinstance(result, Untrued):
        stop_untrued(result, as_json=as_json)
    return result


def _make(
    record: "Record", kind: "Kind", out: Path, paper: str, *, as_json: bool
) -> "tuple[Job, list[Path]]":
    from likesewn import job as jobs  # noqa: PLC0415

    with busy("Truing, cutting, laying and drawing"):
        result = _run(record, kind, as_json=as_json)
        if result.stopped:
            stop(result.findings, as_json=as_json)
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
    name, title = result.record.name, result.kind.title
    typer.echo(name if name.casefold() == title.casefold() else f"{name}: {title.lower()}")
    for finding in result.findings:
        say(finding)
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
    record, kind = read_file(file)
    result, wrote = _make(record, kind, out, paper, as_json=as_json)
    _report(result, wrote, as_json=as_json)


@app.command(epilog="Example: likesewn check my-top.toml --picture truing.svg")
def check(
    file: Garment,
    picture: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="Draw the pieces before and after truing to this SVG file."),
    ] = None,
    everything: Annotated[bool, typer.Option("--all", help="Print every edge and corner too.")] = False,
    as_json: Json = False,
) -> None:
    """Check a garment file: do its figures agree, do its pieces sew together? Exit code 1 if not."""
    from likesewn import job as jobs  # noqa: PLC0415
    from likesewn.cli.tables import print_walk  # noqa: PLC0415

    record, kind = read_file(file)
    with busy("Checking"):
        result = _run(record, kind, as_json=as_json)
    if picture:
        from likesewn.publish import truing_svg  # noqa: PLC0415

        write_all(picture.parent, {picture.name: truing_svg(result.explained, record.name).encode()})
    if as_json:
        typer.echo(json.dumps(jobs.summary(result), indent=2, ensure_ascii=False))
    else:
        print_walk(result.explained, record.unit, everything=everything)
        for finding in result.findings:
            say(finding)
        for assumption in result.pattern.assumptions:
            typer.echo(f"      {assumption.message}")
    off = any(finding.weight.value != "note" for finding in result.findings)
    if not as_json:
        typer.echo("Something is off; see above." if off else "Everything agrees and sews together.")
    raise typer.Exit(1 if off else 0)


@app.command(epilog="Example: likesewn demo --out demo --paper letter")
def demo(
    out: Annotated[Path, typer.Option(metavar="DIR", help="Folder for the files.")] = Path("demo"),
    paper: Annotated[str, typer.Option(help="Paper to print on: a4 or letter.")] = "a4",
    show: Annotated[bool, typer.Option("--open/--no-open", help="Open the result on a desktop.")] = True,
    workbench: Annotated[
        bool, typer.Option("--workbench", help="Then open the workbench with the example on its shelf.")
    ] = False,
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
    if workbench:
        from likesewn.cli.workbench import open_workbench  # noqa: PLC0415

        open_workbench(out / "library", browser=show, example=True)
    elif show and has_screen() and sys.stdout.isatty():
        typer.launch(str((out / "sewing-plan.html").resolve()))
