"""A box of rows tied to the drawing: what is pointed at here is marked there, and the other way round."""

from collections.abc import Callable
from itertools import count
from typing import Any

from nicegui.element import Element

__all__ = ["Rows"]

_NUMBERS = count(1)


class Rows(Element, component="rows.js"):
    """A box; every row in it carries ``data-row``, and ``data-marks`` with the ids that it stands for.

    Inputs with ``data-figure`` are gone through with Enter.
    """

    def __init__(self, over: Callable[[str], Any]) -> None:
        """Make one; ``over`` is called with the row that is pointed at or has the focus, or with nothing."""
        super().__init__()
        self.props["lead"] = None
        self.props["marked"] = ""
        self.on("over", lambda event: over(str(event.args or "")))

    def lead(self, row: str) -> None:
        """Lead to a row: open what it is folded into, and give its field the focus."""
        self.props["lead"] = {"key": row, "n": next(_NUMBERS)}
        self.update()

    def point(self, id_: str) -> None:
        """Mark the rows that stand for something; an empty id takes the mark away."""
        if self.props["marked"] != id_:
            self.props["marked"] = id_
            self.update()
