"""The commands about cloth: buy."""

import json
from typing import TYPE_CHECKING, Annotated, Any

import typer

from likesewn.cli.common import Json, app, busy, known_kind, known_unit, say
from likesewn.errors import InputError, Problem

if TYPE_CHECKING:
    from likesewn.garment import Kind


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

    wanted = known_kind(kind)
    figures = _figures(wanted, measures, known_unit(unit))
    try:
        usable = parse_length(width, unit)
    except UnitError as error:
        raise InputError(Problem(str(error), key="--width")) from None
    with busy("Working out the cloth"):
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
            say(finding)
    if answer.buy_mm == 0.0:
        raise typer.Exit(1)
