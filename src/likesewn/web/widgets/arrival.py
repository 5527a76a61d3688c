"""A part of a page that can be led to."""

from nicegui.element import Element

__all__ = ["Arrival"]


class Arrival(Element, component="arrival.js"):
    """A part of a page; ``arrive`` gives it the focus and brings it into view."""

    def __init__(self, label: str, look: str = "", *, arrived: bool = False) -> None:
        """Make one.

        Args:
            label: What it is called to those who hear it.
            look: Its classes.
            arrived: Whether it takes the focus as soon as it is there.
        """
        super().__init__()
        self.classes(look)
        self.props["aria-label"] = label
        self.props["n"] = 1 if arrived else 0

    def arrive(self) -> None:
        """Lead to it."""
        self.props["n"] += 1
        self.update()
