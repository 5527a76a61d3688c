"""A small page for the browser tests of the drawing component: scenes shown, events written down."""

import json
import sys
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from fastapi import Request, Response
from nicegui import app, ui

from likesewn.web.drawing import Drawing, Moved, add_look
from likesewn.web.scene import Backdrop, Handle, Line, Part, Scene, Text
from top_scenes import scenes

SHAPES = Scene(
    "Shapes",
    "A piece, a seam and three handles.",
    (0.0, 0.0, 400.0, 300.0),
    (
        Part(
            "front",
            "Front, cut 1 on the fold",
            (
                Line("M0 0L200 0", "cut", "front.neckline", "Neckline of the front, 20.0 cm", pick=True),
                Line("M200 0C260 100 260 200 200 300", "cut", "front.side", "Side of the front", pick=True),
                Line("M20 20L20 280", "grain"),
                Text((100.0, 150.0), "Front", 15.0, "middle", bold=True, fixed=True, room=200.0),
                Text((40.0, 250.0), "small", 4.0),
            ),
            "M0 0L200 0C260 100 260 200 200 300L0 300Z",
            pick=True,
        ),
        Line("M250 20L390 280", "seam", "seam", "A seam", pick=True),
    ),
    handles=(
        Handle("corner", (300.0, 50.0), "Neck point"),
        Handle("curve", (350.0, 150.0), "Curve point", "curve"),
        Handle("still", (380.0, 100.0), "Seam's end", "picked", movable=False),
    ),
)

# a picture of four colours, as wide as the shapes
PICTURE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="400" height="300">'
    '<rect width="200" height="150" fill="#a33"/><rect x="200" width="200" height="150" fill="#3a3"/>'
    '<rect y="150" width="200" height="150" fill="#33a"/>'
    '<rect x="200" y="150" width="200" height="150" fill="#aa3"/>'
    "</svg>"
)

SCENES: dict[str, Callable[[], Scene]] = {
    "shapes": lambda: SHAPES,
    "inches": lambda: replace(SHAPES, unit="in"),
    "photo": lambda: replace(
        SHAPES,
        title="Photograph",
        scale=None,
        items=SHAPES.items[1:],
        backdrop=Backdrop("/picture.svg", 400.0, 300.0),
    ),
    **scenes(),
}

POLICY = "default-src 'self'; style-src 'self' 'unsafe-inline'; style-src-attr 'none'; img-src 'self'"
"""Only what the component must keep to: no style attributes, nothing from elsewhere. (The framework's own
inline scripts are another part's matter.)"""


@app.middleware("http")
async def policy(request: Request, call_next: Callable[[Request], Any]) -> Response:
    response = await call_next(request)
    response.headers["Content-Security-Policy-Report-Only"] = POLICY
    return response


@app.get("/picture.svg")
def picture() -> Response:
    return Response(PICTURE, media_type="image/svg+xml")


@ui.page("/{name}", title="Drawing")
def page(name: str, dark: int = 0, mode: str = "look", follow: int = 0) -> None:
    ui.context.client.html_lang = "en"
    add_look()
    ui.dark_mode(value=bool(dark))
    ui.query("body").classes("test-page")
    with ui.element("main").style("width: 100%"):
        ui.html("<h1>A drawing</h1>", sanitize=False)
        with ui.element("div").style("height: 70vh; width: 100%"):
            drawing = Drawing(SCENES[name](), mode=mode)
        log = ui.label("").props("id=log")
        lines: list[str] = []

        def write(**what: object) -> None:
            lines.append(json.dumps(what))
            log.set_text("\n".join(lines))

        def pick(id_: str) -> None:
            drawing.choose(id_)
            write(event="pick", id=id_)

        def longer() -> None:
            """Make the seam longer, and then take it away."""
            part, seam = SHAPES.items
            other = replace(seam, d="M250 20L390 240", look="shown")
            gone = drawing.scene is not SHAPES
            drawing.show(replace(SHAPES, items=(part,) if gone else (part, other)))

        drawing.on_pick(pick)
        drawing.on_over(lambda id_: write(event="over", id=id_))

        def move(moved: Moved) -> None:
            write(event="move", id=moved.id, x=moved.x, y=moved.y, done=moved.done)
            if follow:
                at = (moved.x, moved.y)
                handles = tuple(replace(h, at=at) if h.id == moved.id else h for h in SHAPES.handles)
                line = replace(SHAPES.items[1], d=f"M250 20L{moved.x:.2f} {moved.y:.2f}")
                drawing.show(replace(SHAPES, items=(SHAPES.items[0], line), handles=handles))

        drawing.on_move(move)
        drawing.on_place(lambda x, y: write(event="place", x=x, y=y))
        with ui.element("button").props("id=change type=button").on("click", longer):
            ui.label("Change")


if __name__ in {"__main__", "__mp_main__"}:
    ui.run(host="127.0.0.1", port=int(sys.argv[1]), reload=False, show=False)
