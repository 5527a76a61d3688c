"""The command that opens the workbench: serve."""

import json
import sys
from contextlib import suppress
from pathlib import Path
from typing import Annotated

import typer

from likesewn.cli.common import Json, app, has_screen

__all__ = ["open_workbench", "serve"]


@app.command(epilog="Example: likesewn serve --library ~/sewing")
def serve(
    library: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Folder of the library; your own data folder where not given."),
    ] = None,
    port: Annotated[
        int, typer.Option(help="Port on this machine; 0 for the usual one.", min=0, max=65535)
    ] = 0,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open it in a browser.")] = True,
    as_json: Json = False,
) -> None:
    """Open the workbench: the whole job in the browser, on this machine alone. Ctrl-C ends it."""
    open_workbench(library, port, browser=browser, as_json=as_json)


def open_workbench(
    library: Path | None, port: int = 0, *, browser: bool, as_json: bool = False, example: bool = False
) -> None:
    """Run the workbench until it is interrupted; ``example`` puts the example on an empty shelf."""
    from likesewn.web.serve import run  # noqa: PLC0415

    def ready(address: str) -> None:
        if as_json:
            typer.echo(json.dumps({"address": address}))
        else:
            typer.echo(f"The workbench is open at {address}")
            typer.echo("Nobody else can reach it. Ctrl-C ends it; everything is saved as it is made.")
        sys.stdout.flush()

    with suppress(KeyboardInterrupt):
        run(library, port=port, open_browser=browser and has_screen(), example=example, ready=ready)
