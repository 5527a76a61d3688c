"""A small guarded NiceGUI app: what the foreign page in the browser is aimed at.

Run as a program with the port and the token. Each change that gets through is written to standard output.
"""

import sys
from pathlib import Path

import uvicorn
from fastapi import FastAPI, Request
from nicegui import ui
from nicegui.element import Element

from likesewn.web.guard import Guard, own_hosts


class Drawn(Element, component=Path(__file__).with_name("drawn.js")):
    """A component from a file of its own, as the drawing is."""


def note(what):
    sys.stdout.write(f"{what}\n")
    sys.stdout.flush()


def main(port, token):
    app = FastAPI(docs_url=None, redoc_url=None)

    @app.api_route("/api/change", methods=["GET", "POST", "PUT"])
    async def change(request: Request):
        note(f"changed by {request.method}")
        return {"secret": "of the workbench"}

    @app.get("/api/picture.svg")
    async def svg():
        note("looked at")
        return {"secret": "of the workbench"}

    @ui.page("/")
    def page():
        ui.add_css(".own { color: rgb(1, 2, 3) }")
        ui.html('<b style="color: rgb(9, 8, 7)" id="raw">drawn</b>', sanitize=False)
        said = ui.label("secret of the workbench").props("id=said").classes("own")
        with ui.dialog() as dialog:
            ui.label("inside").props("id=inside")
        name = ui.input("Name", value="<script>alert(1)</script>").props("id=name")

        async def press():
            note("pressed")
            dialog.open()
            said.text = f"{name.value} {await drawn.run_method('hello', 7)}"

        ui.button("Press", on_click=press).props("id=press")
        drawn = Drawn().props("id=drawn")
        drawn.on("poke", lambda: said.set_text("poked"))
        ui.upload(on_upload=lambda e: said.set_text(f"took {e.file.name}"), auto_upload=True)

    ui.run_with(app, tailwind=False, show_welcome_message=False)
    guard = Guard(app, hosts=own_hosts(port), token=token)
    uvicorn.run(
        guard, host="127.0.0.1", port=port, log_level="warning", access_log=False, proxy_headers=False
    )


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2])
