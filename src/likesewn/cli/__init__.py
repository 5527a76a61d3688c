"""The command line: it reads files, runs the stages, prints and writes.

``common`` holds what every command needs (the app, reading, saying, writing whole files); the commands
stand in ``garments`` (new, make, check, demo), ``cloth`` (buy, lay), ``photos`` (sheet), ``tracing``
(trace), ``workbench`` (serve) and ``keeping`` (library). A module of commands joins by being imported here.
Heavy packages are imported inside the commands that need them, so that ``--help`` answers at once.

Exit codes: 0 done, 1 findings that stop the work, 2 wrong use or bad input.
"""

import io
import os
import sys

import typer

from likesewn.cli import cloth, garments, keeping, photos, tracing, workbench
from likesewn.cli.common import app, fail
from likesewn.errors import LikesewnError

__all__ = ["app", "cloth", "garments", "keeping", "main", "photos", "tracing", "workbench"]


def main() -> None:
    """Run the command line; errors meant for people end in words and an exit code, never a traceback."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        app()
    except LikesewnError as error:
        fail(error, as_json="--json" in sys.argv)
    except KeyboardInterrupt:
        typer.echo("Stopped; nothing was written.", err=True)
        raise SystemExit(130) from None
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        raise SystemExit(0) from None
