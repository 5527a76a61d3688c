"""A library in a folder of its own, with a clock that goes on by a minute each time it is asked."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from likesewn.library import Library

START = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
TOP = """format = 1

[garment]
name = "Throwing top"  # the studio's
kind = "set-in-sleeve-top"
unit = "cm"
size = "M"

[tape]
body_length = 67
chest_width = "53 +- 0.3"

[wearer]
name = "the apprentice"
"""


PNG = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108000000003a7e9b55"
    "0000000a49444154789c63680000008200817744 00e30000000049454e44ae426082".replace(" ", "")
)
"""One grey pixel."""


def clock(start: datetime = START, step: timedelta = timedelta(minutes=1)) -> Callable[[], datetime]:
    """Return a clock that starts one step after ``start``."""
    times = [start]

    def now() -> datetime:
        times[0] += step
        return times[0]

    return now


def a_library(folder: Path, **options: object) -> Library:
    return Library.open(folder, **{"now": clock(), **options})


def top(chest: object = 53, name: str = "Throwing top") -> str:
    return TOP.replace('"53 +- 0.3"', str(chest)).replace('"Throwing top"', f'"{name}"')
