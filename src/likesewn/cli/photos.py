"""The command that prints reference sheets for photographs."""

import json
from pathlib import Path
from typing import Annotated

import typer

from likesewn.cli.common import Json, app, busy, write_all


@app.command(epilog="Example: likesewn sheet --paper a4 --count 4 --out sheets.pdf")
def sheet(
    out: Annotated[Path, typer.Option(metavar="FILE", help="Where to write the PDF.")],
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    count: Annotated[int, typer.Option(help="How many sheets, 1 to 8; four are best.")] = 4,
    as_json: Json = False,
) -> None:
    """Write reference sheets to print and lay round a garment that is to be photographed."""
    from likesewn.publish.sheet_pdf import sheet_pdf  # noqa: PLC0415

    with busy("Drawing the sheets"):
        data = sheet_pdf(paper, count)
    write_all(out.parent, {out.name: data})
    if as_json:
        typer.echo(json.dumps({"wrote": [str(out)]}))
    else:
        typer.echo(f"Wrote {out}. Print it at actual size (100 %), and measure a printed ruler.")
