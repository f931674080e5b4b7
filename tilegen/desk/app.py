"""The desk's requests and what answers them."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Awaitable, Callable
from importlib import resources
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from tilegen.desk import pictures, view
from tilegen.desk.editkinds import read_edits
from tilegen.desk.edits import apply_edits
from tilegen.desk.guard import Guard, TooLargeError, own_hosts
from tilegen.desk.taking import Takings, Wish
from tilegen.errors import TilegenError

_PAGE = {
    "/": ("desk.html", "text/html; charset=utf-8"),
    "/desk.css": ("desk.css", "text/css; charset=utf-8"),
    "/desk.js": ("desk.js", "text/javascript; charset=utf-8"),
    "/keep.js": ("keep.js", "text/javascript; charset=utf-8"),
    "/sheet.js": ("sheet.js", "text/javascript; charset=utf-8"),
    "/solid.js": ("solid.js", "text/javascript; charset=utf-8"),
    "/icon.svg": ("icon.svg", "image/svg+xml"),
}
_LOOK_AGAIN_S = 0.15


class _Asked(BaseModel):
    """What every request of the page carries: the plan's text, and what it asks for."""

    model_config = ConfigDict(extra="forbid")
    text: str = Field(max_length=1_500_000)
    edits: list[dict[str, Any]] = Field(default=[], max_length=5000)
    figures: list[str] = Field(default=[], max_length=6)
    cell: tuple[int, int] = (1, 1)
    doors_open: bool = False
    tile: str = Field(default="", max_length=40)
    picture: str = Field(default="layout", max_length=20)
    wish: Wish = Wish()


def make_app(port: int) -> Starlette:
    """The desk as an ASGI application that answers to this machine on one port only."""
    takings = Takings()

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        takings.close()

    routes = [Route(path, _page(*what), methods=["GET"]) for path, what in _PAGE.items()]
    routes += [
        Route("/examples", _examples, methods=["GET"]),
        Route("/tools", _tools, methods=["GET"]),
        Route("/edit", _answer(_edit), methods=["POST"]),
        Route("/sight", _answer(_sight), methods=["POST"]),
        Route("/solid", _answer(_solid), methods=["POST"]),
        Route("/picture", _answer(_picture), methods=["POST"]),
        Route("/take", _answer(_take), methods=["POST"]),
        Route("/take/{name}", _taking, methods=["GET"]),
        Route("/take/{name}/files.zip", _archive, methods=["GET"]),
        Route("/take/{name}/stop", _stop, methods=["POST"]),
    ]
    app = Starlette(routes=routes, middleware=[Middleware(Guard, hosts=own_hosts(port))], lifespan=lifespan)
    app.state.takings = takings
    return app


def _page(name: str, kind: str) -> Callable[[Request], Awaitable[Response]]:
    content = (resources.files("tilegen.desk") / "page" / name).read_bytes()

    async def answer(_: Request) -> Response:
        return Response(content, media_type=kind)

    return answer


def _answer(work: Callable[[_Asked, Request], Response]) -> Callable[[Request], Awaitable[Response]]:
    """A request of the page: checked, worked out aside, a fault told in words."""

    async def answer(request: Request) -> Response:
        try:
            asked = _Asked.model_validate(json.loads(await request.body()))
        except (ValidationError, ValueError, RecursionError):
            return JSONResponse({"error": {"found": "a request that is not understood"}}, 400)
        except TooLargeError:
            return JSONResponse({"error": {"found": "a request that is too large"}}, 413)
        try:
            return await run_in_threadpool(work, asked, request)
        except TilegenError as error:
            return JSONResponse({"error": view.error_record(error)}, 422)

    return answer


def _edit(asked: _Asked, _: Request) -> Response:
    """The text after the edits, and all that is to be seen of it."""
    edited = apply_edits(asked.text, read_edits(asked.edits))
    seen = view.view(edited.text, asked.figures)
    return JSONResponse({"text": edited.text, "said": edited.said, "grown": edited.grown, "view": seen})


def _sight(asked: _Asked, _: Request) -> Response:
    return JSONResponse(view.sight_record(asked.text, asked.cell, doors_open=asked.doors_open))


def _solid(asked: _Asked, _: Request) -> Response:
    content, least = view.solid_stl(asked.text, asked.tile)
    return Response(content, media_type="model/stl", headers={"x-least": f"{least[0]!r},{least[1]!r}"})


def _picture(asked: _Asked, _: Request) -> Response:
    return JSONResponse({"pictures": pictures.draw(asked.text, asked.picture, asked.wish)})


def _take(asked: _Asked, request: Request) -> Response:
    view.open_text(asked.text)
    return JSONResponse({"name": _takings(request).start(asked.text, asked.wish)})


def _takings(request: Request) -> Takings:
    found: Takings = request.app.state.takings
    return found


async def _taking(request: Request) -> Response:
    """Server-sent events (WHATWG HTML, 9.2): each stage as it begins, then the outcome."""
    taking = _takings(request).running.get(request.path_params["name"])
    if taking is None:
        return JSONResponse({"error": {"found": "no such build"}}, 404)

    async def events() -> AsyncIterator[str]:
        told = 0
        while True:
            taking.look()
            for stage in taking.said[told:]:
                yield f"event: stage\ndata: {json.dumps(stage)}\n\n"
            told = len(taking.said)
            if taking.outcome is not None:
                yield f"event: outcome\ndata: {json.dumps(taking.outcome)}\n\n"
                return
            await asyncio.sleep(_LOOK_AGAIN_S)

    return StreamingResponse(events(), media_type="text/event-stream")


async def _archive(request: Request) -> Response:
    taking = _takings(request).running.get(request.path_params["name"])
    if taking is None or not (taking.outcome or {}).get("done"):
        return JSONResponse({"error": {"found": "nothing to take yet"}}, 404)
    return FileResponse(taking.archive, media_type="application/zip", filename="tilegen-files.zip")


async def _stop(request: Request) -> Response:
    gone = await run_in_threadpool(_takings(request).drop, request.path_params["name"])
    return JSONResponse({"stopped": gone})


async def _examples(_: Request) -> Response:
    return JSONResponse({"plans": await run_in_threadpool(pictures.example_plans)})


async def _tools(_: Request) -> Response:
    return JSONResponse(await run_in_threadpool(pictures.tools))
