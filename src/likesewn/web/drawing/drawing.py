"""The Python side of the drawing component: scenes go in, what a person does comes out."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any, Literal, Self, TypeAlias

from nicegui import ui
from nicegui.dependencies import esm_modules
from nicegui.element import Element
from nicegui.events import GenericEventArguments
from nicegui.version import __version__ as framework_version

from likesewn.web.scene import Scene
from likesewn.web.words import all_words

__all__ = ["BROWSER", "WORDS", "Drawing", "Mode", "Moved", "add_look"]

BROWSER = Path(__file__).parent / "browser"
"""Folder of what the browser loads: modules and the style sheet."""

Mode: TypeAlias = Literal["look", "move", "place"]

WORDS = ("fit", "larger", "smaller", "help", "help_move", "help_place", "at")
"""The component's own texts, by their keys among the workbench's (``drawing.fit``)."""


def own_words() -> dict[str, str]:
    """Return the component's own texts; places to fill in are left for the component."""
    return {key: all_words()[f"drawing.{key}"] for key in WORDS}


_NAME = "likesewn-drawing"
_stamps = count(1)


@dataclass(frozen=True, slots=True)
class Moved:
    """Where a handle is: its id, its place in scene units, and whether the person has let go of it."""

    id: str
    x: float
    y: float
    done: bool


class Drawing(Element, component="likesewn_drawing.js", esm={_NAME: "browser"}):
    """A drawing on a page, as large as the element that it stands in."""

    def __init__(
        self, scene: Scene | None = None, *, mode: Mode = "look", words: Mapping[str, str] | None = None
    ) -> None:
        """Put a drawing on the page.

        Args:
            scene: What it shows at first.
            mode: What pointing does: ``look`` picks, ``move`` holds handles too, ``place`` puts points down.
            words: The component's own texts, by the keys of ``WORDS``; None for the workbench's.
        """
        super().__init__()
        self.scene: Scene | None = None
        self._props["words"] = dict(words or own_words())
        self._props["mode"] = mode
        self._props["chosen"] = ""
        if scene is not None:
            self.show(scene)

    def show(self, scene: Scene) -> Self:
        """Show a scene; a scene that is already shown is not sent again."""
        if scene is not self.scene:
            self.scene = scene
            with self._props.suspend_updates():
                self._props["scene"] = scene.to_data()
            self._props["stamp"] = next(_stamps)
        return self

    def choose(self, id_: str) -> Self:
        """Mark something as chosen, by its id; an empty id takes the mark away."""
        if id_ != self._props["chosen"]:
            self._props["chosen"] = id_
        return self

    def mode(self, mode: Mode) -> Self:
        """Say what pointing does: ``look``, ``move`` or ``place``."""
        if mode != self._props["mode"]:
            self._props["mode"] = mode
        return self

    def on_pick(self, handler: Callable[[str], Any]) -> Self:
        """Call ``handler`` with the id of what is picked."""
        return self._listen("pick", ["id"], lambda args: handler(str(args["id"])))

    def on_over(self, handler: Callable[[str], Any]) -> Self:
        """Call ``handler`` with the id of what is pointed at or focused, empty when it is nothing."""
        return self._listen("over", ["id"], lambda args: handler(str(args["id"])))

    def on_move(self, handler: Callable[[Moved], Any]) -> Self:
        """Call ``handler`` as a handle moves, at most 25 times a second, and once it is let go."""

        def moved(args: Mapping[str, Any]) -> Any:  # noqa: ANN401 - whatever the handler gives back
            place = float(args["x"]), float(args["y"])
            return handler(Moved(str(args["id"]), *place, done=bool(args["done"])))

        return self._listen("move", ["id", "x", "y", "done"], moved)

    def on_place(self, handler: Callable[[float, float], Any]) -> Self:
        """Call ``handler`` with the place, in scene units, of a point that is put down."""
        return self._listen("place", ["x", "y"], lambda args: handler(float(args["x"]), float(args["y"])))

    def _listen(self, event: str, keys: list[str], act: Callable[[Mapping[str, Any]], Any]) -> Self:
        def heard(event: GenericEventArguments) -> Any:  # noqa: ANN401 - may be awaited by the framework
            return act(event.args)

        return self.on(event, heard, [keys])


def add_look() -> None:
    """Add the style sheet to the page that is being built: the workbench's colours and the drawing's look."""
    key = next(key for key, module in esm_modules.items() if module.name == _NAME)
    url = f"/_nicegui/{framework_version}/esm/{key}/drawing.css"
    ui.add_head_html(f'<link rel="stylesheet" href="{url}">')
