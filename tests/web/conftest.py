"""A desk with a library of its own for each test."""

from datetime import UTC, date, datetime

import pytest

from likesewn.examples import example_text
from likesewn.library import Library
from likesewn.web.desk import Desk


@pytest.fixture
def desk(tmp_path):
    library = Library.open(tmp_path / "library", now=lambda: datetime.now(UTC))
    desk = Desk(library, today=lambda: date(2026, 11, 25))
    yield desk
    desk.close()


@pytest.fixture
def top(desk):
    """The example garment, on the shelf."""
    return desk.take_in(example_text("throwing-top").encode(), "throwing-top.toml")
