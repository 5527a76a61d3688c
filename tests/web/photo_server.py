"""A small guarded server that looks at photographs in the studio: what the hostile uploads are sent to.

Run as a program with the port and the token; it stands in for the workbench's own upload, which hands its
bytes to the studio in the same way.
"""

import sys
from contextlib import asynccontextmanager

import uvicorn
from starlette.applications import Starlette
from starlette.responses import JSONResponse
from starlette.routing import Route

from likesewn.errors import LikesewnError, error_data
from likesewn.web.guard import Guard, own_hosts
from likesewn.web.studio import Studio


def main(port, token):
    studio = Studio(seconds=20.0)

    async def look(request):
        data = await request.body()
        try:
            looked = await studio.look(data, request.query_params.get("name", ""))
        except LikesewnError as error:
            return JSONResponse(error_data(error), 422)
        return JSONResponse(
            {"name": looked.name, "size": [looked.width, looked.height], "bytes": len(looked.preview)}
        )

    @asynccontextmanager
    async def lifespan(_app):
        await studio.start()
        yield
        await studio.close()

    app = Starlette(routes=[Route("/api/photos", look, methods=["POST"])], lifespan=lifespan)
    guard = Guard(app, hosts=own_hosts(port), token=token)
    uvicorn.run(guard, host="127.0.0.1", port=port, log_level="warning", access_log=False)


if __name__ == "__main__":
    main(int(sys.argv[1]), sys.argv[2])
