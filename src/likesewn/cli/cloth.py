"""The commands about cloth: buy and lay."""

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from likesewn.cli.common import (
    Garment,
    Json,
    app,
    busy,
    known_kind,
    known_unit,
    read_file,
    say,
    stop,
    stop_untrued,
    write_all,
)
from likesewn.errors import InputError, Problem

SHARED = 5.0
"""Seconds from which a second process is worth its start."""

if TYPE_CHECKING:
    from likesewn.cut import CutList
    from likesewn.garment import Kind, Record
    from likesewn.lay import Effort, Fit, Plan, Ranked


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
    folding: Annotated[str, typer.Option(help="How the cloth is folded, such as open or folded.")] = "folded",
    unit: Annotated[str, typer.Option(help="Unit for bare numbers and for the answer.")] = "cm",
    shrinkage: Annotated[float, typer.Option(help="Share lost in the first wash, such as 0.05.")] = 0.0,
    nap: Annotated[bool, typer.Option("--nap", help="All pieces must point the same way.")] = False,
    price: Annotated[
        float | None, typer.Option(help="Price of a metre, or of a yard with --unit in.")
    ] = None,
    currency: Annotated[str, typer.Option(help="What the price is in.")] = "",
    as_json: Json = False,
) -> None:
    """Say how much cloth to buy, from a few measures alone."""
    from likesewn.garment import Cloth  # noqa: PLC0415
    from likesewn.job import finding_data  # noqa: PLC0415
    from likesewn.lay import estimate, price_text  # noqa: PLC0415
    from likesewn.units import UnitError, parse_length  # noqa: PLC0415

    wanted = known_kind(kind)
    figures = _figures(wanted, measures, known_unit(unit))
    try:
        usable = parse_length(width, unit)
    except UnitError as error:
        raise InputError(Problem(str(error), key="--width")) from None
    with busy("Working out the cloth"):
        cloth = Cloth(usable.mm, folding, nap, price=price, currency=currency)
        answer = estimate(wanted, figures, cloth, unit=unit, shrinkage=shrinkage)
    cost = price_text(answer.buy_mm, cloth, unit)
    if as_json:
        data = {
            "message": answer.message,
            "buy_mm": answer.buy_mm,
            "price": cost,
            "rule_mm": answer.rule_mm,
            "length_mm": answer.plan.length_mm,
            "widths": [{k: getattr(row, k) for k in row.__dataclass_fields__} for row in answer.widths],
            "findings": [finding_data(finding) for finding in answer.findings],
            "assumptions": [a.message for a in answer.assumptions],
        }
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        typer.echo(answer.message + (f" It costs {cost}." if cost else ""))
        for finding in answer.findings:
            say(finding)
    if answer.buy_mm == 0.0:
        raise typer.Exit(1)


def _progress(seconds: float) -> Callable[[float], None] | None:
    """Return what tells of each shorter lay on stderr, where a person watches."""
    if not sys.stderr.isatty():
        return None
    begun = time.monotonic()

    def told(length_mm: float) -> None:
        spent = time.monotonic() - begun
        typer.echo(f"\r{spent:5.1f} of {seconds:g} s: {length_mm / 10:.1f} cm ", nl=False, err=True)

    return told


def _cut(record: "Record", kind: "Kind", *, as_json: bool) -> "tuple[CutList, Kind]":
    """Return the cut list and the pattern's kind; a record that cannot be trued ends the command."""
    from datetime import date  # noqa: PLC0415

    from likesewn.cut import cut  # noqa: PLC0415
    from likesewn.garment import Weight  # noqa: PLC0415
    from likesewn.truing import Untrued, true  # noqa: PLC0415

    pattern = true(record, kind)
    if isinstance(pattern, Untrued):
        stop_untrued(pattern, as_json=as_json)
    stops = [finding for finding in pattern.findings if finding.weight is Weight.STOP]
    if stops:
        stop(stops, as_json=as_json)
    return cut(pattern, record, today=date.today()), pattern.kind  # noqa: DTZ011 - a local date


@app.command(name="lay", epilog="Example: likesewn lay my-top.toml --time 20 --out plan")
def lay_command(
    file: Garment,
    seconds: Annotated[
        float, typer.Option("--time", min=0.0, max=3600.0, help="Seconds to search for.")
    ] = 10.0,
    steps: Annotated[
        int | None, typer.Option(min=1, help="Steps to search for, instead of a time: always the same plan.")
    ] = None,
    seed: Annotated[int, typer.Option(help="Seed of the search; another may find another plan.")] = 0,
    cores: Annotated[int, typer.Option(min=1, max=64, help="Searches to run side by side.")] = 2,
    foldings: Annotated[bool, typer.Option("--foldings", help="Try every folding and rank them.")] = False,
    each_cloth: Annotated[
        bool,
        typer.Option("--each-cloth", help="Try the whole garment on each cloth that the file describes."),
    ] = False,
    out: Annotated[Path | None, typer.Option(metavar="DIR", help="Folder for the lay plans.")] = None,
    paper: Annotated[str, typer.Option(help="Paper to print on: a4 or letter.")] = "a4",
    as_json: Json = False,
) -> None:
    """Search for the shortest lay; Ctrl-C ends the search and keeps the best plan so far."""
    from likesewn.lay import Effort  # noqa: PLC0415

    record, kind = read_file(file)
    cut_list, kind = _cut(record, kind, as_json=as_json)
    if steps is not None:
        effort = Effort(steps=steps, seed=seed)
    else:
        enough_for_two = seconds >= SHARED
        effort = Effort(
            steps=sys.maxsize,
            seconds=seconds,
            clock=time.monotonic,
            seed=seed,
            cores=cores if enough_for_two else 1,
            improved=_progress(seconds),
        )
    if foldings:
        _say_foldings(record, kind, cut_list, effort, as_json=as_json)
    elif each_cloth:
        _say_cloths(record, kind, cut_list, effort, as_json=as_json)
    else:
        _say_plans(record, kind, cut_list, effort, out, paper, as_json=as_json)


def _plan_data(plan: "Plan", unit: str) -> dict[str, Any]:
    from likesewn.job import finding_data  # noqa: PLC0415
    from likesewn.lay import buy_text, price_text  # noqa: PLC0415

    return {
        "cloth": plan.cloth_name,
        "folding": plan.folding,
        "fits": not plan.stopped,
        "length_mm": plan.length_mm,
        "buy_mm": plan.buy_mm,
        "buy": buy_text(plan.buy_mm, unit),
        "price": price_text(plan.buy_mm, plan.cloth, unit),
        "bound_mm": plan.bound_mm,
        "used_fraction": plan.used_fraction,
        "steps": plan.steps,
        "findings": [finding_data(finding) for finding in plan.findings],
    }


def _say_plans(
    record: "Record",
    kind: "Kind",
    cut_list: "CutList",
    effort: "Effort",
    out: Path | None,
    paper: str,
    *,
    as_json: bool,
) -> None:
    from likesewn.job import lay_files, lay_out, prove  # noqa: PLC0415

    unit = record.unit
    plans = lay_out(cut_list, record, kind, effort=effort)
    proofs = prove(plans, cut_list, record, kind)
    if proofs:
        stop(proofs, as_json=as_json)
    wrote: list[str] = []
    if out is not None:
        titles = {piece.name: piece.title for piece in cut_list.pieces}
        made = lay_files(plans, titles, unit=unit, paper=paper)
        write_all(out, made)
        wrote = [str(out / name) for name in made]
    if as_json:
        data = {"plans": [_plan_data(plan, unit) for plan in plans], "wrote": wrote}
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        if effort.improved is not None:
            typer.echo("", err=True)
        for plan in plans:
            _say_plan(plan, unit)
        for path in wrote:
            typer.echo(f"Wrote {path}")
    if any(plan.stopped for plan in plans):
        raise typer.Exit(1)


def _say_plan(plan: "Plan", unit: str) -> None:
    from likesewn.lay import buy_text, price_text  # noqa: PLC0415
    from likesewn.units import format_length  # noqa: PLC0415

    if not plan.stopped:
        cost = price_text(plan.buy_mm, plan.cloth, unit)
        width = format_length(plan.cloth.width_mm, unit)
        words = (
            f"Cloth {plan.cloth_name}, {width} wide, {plan.folding}: {format_length(plan.length_mm, unit)}"
        )
        if plan.cloth.length_mm is None:
            words += f", buy {buy_text(plan.buy_mm, unit)}" + (f" for {cost}" if cost else "")
        else:
            words += f" of the {format_length(plan.cloth.length_mm, unit)} in hand"
        typer.echo(words)
    for finding in plan.findings:
        say(finding)


def _say_foldings(
    record: "Record", kind: "Kind", cut_list: "CutList", effort: "Effort", *, as_json: bool
) -> None:
    from dataclasses import replace  # noqa: PLC0415

    from likesewn.job import choices_of, cloths_of  # noqa: PLC0415
    from likesewn.lay import rank_foldings  # noqa: PLC0415
    from likesewn.lay.plan import FOLDINGS  # noqa: PLC0415

    if effort.seconds is not None:
        effort = replace(effort, seconds=effort.seconds / len(FOLDINGS), cores=1, improved=None)
    cloths = cloths_of(record, cut_list)
    ranked: dict[str, tuple[Ranked, ...]] = {}
    with busy("Folding the cloth in every way"):
        for name in dict.fromkeys(piece.cloth for piece in cut_list.pieces):
            choices = choices_of(record, kind, cut_list, effort)
            ranked[name] = rank_foldings(cut_list, name, cloths[name], choices)
    if as_json:
        data = {
            name: [{**_plan_data(one.plan, record.unit), "reason": one.reason} for one in own]
            for name, own in ranked.items()
        }
        typer.echo(json.dumps(data, indent=2, ensure_ascii=False))
    else:
        for name, own in ranked.items():
            typer.echo(f"Cloth {name}, the least cloth first:")
            for one in own:
                typer.echo(f"  {one.reason[:1].upper()}{one.reason[1:]}")
    if any(all(one.plan.stopped for one in own) for own in ranked.values()):
        raise typer.Exit(1)


def _say_cloths(
    record: "Record", kind: "Kind", cut_list: "CutList", effort: "Effort", *, as_json: bool
) -> None:
    from dataclasses import replace  # noqa: PLC0415

    from likesewn.job import choices_of, cloths_of  # noqa: PLC0415
    from likesewn.lay import which_cloths  # noqa: PLC0415
    from likesewn.units import format_length  # noqa: PLC0415

    cloths = cloths_of(record, cut_list)
    if effort.seconds is not None:
        effort = replace(effort, seconds=effort.seconds / len(cloths), cores=1, improved=None, enough=True)
    with busy("Trying each cloth"):
        choices = choices_of(record, kind, cut_list, effort)
        fits: tuple[Fit, ...] = which_cloths(cut_list, cloths, choices)
    if as_json:
        from likesewn.job import finding_data  # noqa: PLC0415

        data = [
            {**_plan_data(fit.plan, record.unit), "remedies": [finding_data(r) for r in fit.remedies]}
            for fit in fits
        ]
        typer.echo(json.dumps({"cloths": data}, indent=2, ensure_ascii=False))
    else:
        for fit in fits:
            length = format_length(fit.plan.length_mm, record.unit)
            spare = "" if fit.spare_mm is None else f", {format_length(fit.spare_mm, record.unit)} to spare"
            says = f"fits, {length}{spare}" if fit.fits else "does not fit"
            typer.echo(f"{fit.name}: {says}")
            for finding in fit.plan.findings if not fit.fits else ():
                if finding.weight.value == "stop":
                    typer.echo(f"  {finding.message}")
            for remedy in fit.remedies:
                typer.echo(f"  {remedy.message} {remedy.todo}")
    if not any(fit.fits for fit in fits):
        raise typer.Exit(1)
