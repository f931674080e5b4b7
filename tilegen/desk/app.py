"""The desk's requests and what answers them."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sqlite3
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import PurePath
from typing import Any

from pydantic import ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from tilegen.desk import talk, view
from tilegen.desk.guard import Guard, TooLargeError, own_hosts
from tilegen.desk.keeping import PlanOnDisk, Steps
from tilegen.desk.taking import Takings, check_own, plan_file_name
from tilegen.desk.talk import Asked, Desk
from tilegen.errors import TilegenError

_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
_LOOK_AGAIN_S = 0.15


def make_app(port: int, steps: Steps | None = None, disk: PlanOnDisk | None = None) -> Starlette:
    """The desk as an ASGI application that answers to this machine on one port only.

    steps: where what is drawn is kept; if absent, until the program ends. disk: the plan file that is edited.
    """
    desk = Desk(Takings(), steps or Steps(), disk, talk.Plans())

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        desk.takings.close()

    routes = list(_page(resources.files("tilegen.desk") / "page", "/"))
    routes += [
        Route("/examples", _examples, methods=["GET"]),
        Route("/tools", _tools, methods=["GET"]),
        Route("/plans", _plans, methods=["GET"]),
        *(Route(path, _answer(work), methods=["POST"]) for path, work in _ASKED.items()),
        Route("/text", _text, methods=["GET"]),
        Route("/take/{name}", _taking, methods=["GET"]),
        Route("/take/{name}/files.zip", _archive, methods=["GET"]),
        Route("/take/{name}/stop", _stop, methods=["POST"]),
    ]
    app = Starlette(routes=routes, middleware=[Middleware(Guard, hosts=own_hosts(port))], lifespan=lifespan)
    app.state.desk = desk
    app.state.takings = desk.takings
    return app


def _page(folder: Traversable, at: str) -> Iterator[Route]:
    """The page's files as they stand in its folder, each under its own name; the page itself is the folder's root."""
    for one in sorted(folder.iterdir(), key=lambda one: one.name):
        if one.is_dir():
            yield from _page(one, f"{at}{one.name}/")
        elif (kind := _KINDS.get(PurePath(one.name).suffix)) is not None:
            yield Route("/" if one.name == "desk.html" else f"{at}{one.name}", _file_of(one, kind), methods=["GET"])


def _file_of(path: Traversable, kind: str) -> Callable[[Request], Awaitable[Response]]:
    content = path.read_bytes()

    async def answer(_: Request) -> Response:
        return Response(content, media_type=kind)

    return answer


def _answer(work: Callable[[Desk, Asked], Any]) -> Callable[[Request], Awaitable[Response]]:
    """A request of the page: checked, worked out aside, a fault told in words."""

    def worked(asked: Asked, request: Request) -> Response:
        found = work(request.app.state.desk, asked)
        return found if isinstance(found, Response) else JSONResponse(found)

    async def answer(request: Request) -> Response:
        try:
            asked = Asked.model_validate(json.loads(await request.body()))
        except (ValidationError, ValueError, RecursionError):
            return _refused("the page sent something unknown", "Reload it", 400)
        except TooLargeError:
            return _refused("this is too large for the desk", "Draw larger plans in a text editor", 413)
        try:
            return await run_in_threadpool(worked, asked, request)
        except TilegenError as error:
            return JSONResponse({"error": view.error_record(error)}, 422)
        except sqlite3.Error as error:
            return _refused(f"the step can't be kept ({error})", "Save the plan", 422)

    return answer


def _refused(text: str, cure: str, status: int) -> Response:
    return JSONResponse({"error": {"text": text, "place": "", "cure": cure}}, status)


def _sight(desk: Desk, asked: Asked) -> dict[str, Any]:
    return view.sight_record(desk.good_plan(asked), asked.cell, doors_open=asked.doors_open)


def _solid(desk: Desk, asked: Asked) -> Response:
    content, least = view.solid_stl(desk.good_plan(asked), asked.tile)
    return Response(content, media_type="model/stl", headers={"x-least": f"{least[0]!r},{least[1]!r}"})


def _picture(desk: Desk, asked: Asked) -> dict[str, Any]:
    return {"pictures": view.draw(desk.good_plan(asked), asked.picture, asked.wish)}


def _take(desk: Desk, asked: Asked) -> dict[str, Any]:
    return {"name": desk.takings.start(desk.good_plan(asked).text, asked.wish)}


_ASKED: dict[str, Callable[[Desk, Asked], Any]] = {
    "/begin": talk.begin,
    "/edit": talk.edit,
    "/go": talk.go,
    "/open": talk.open_,
    "/look": talk.look,
    "/totals": talk.totals,
    "/file": lambda desk, _: talk.file(desk),
    "/save": talk.save,
    "/own": lambda _, asked: {"names": check_own(asked.wish)},
    "/sight": _sight,
    "/grid": lambda desk, asked: view.grid_record(desk.good_plan(asked).drawing, asked.figures, asked.wish.units),
    "/solid": _solid,
    "/picture": _picture,
    "/take": _take,
}


async def _text(request: Request) -> Response:
    at = request.query_params.get("at", "")
    desk: Desk = request.app.state.desk
    text = desk.steps.text(int(at)) if at.isdigit() else None
    if text is None:
        return _refused("this is not kept", "Reload the page", 404)
    return JSONResponse({"text": text, "name": plan_file_name(text).name})


async def _plans(request: Request) -> Response:
    return JSONResponse({"plans": await run_in_threadpool(talk.kept_plans, request.app.state.desk)})


def _takings(request: Request) -> Takings:
    desk: Desk = request.app.state.desk
    return desk.takings


async def _taking(request: Request) -> Response:
    """Server-sent events (WHATWG HTML, 9.2): each stage as it begins, then the outcome."""
    taking = _takings(request).running.get(request.path_params["name"])
    if taking is None:
        return _refused("this build is gone", "Start it again", 404)

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
        return _refused("the files are not ready yet", "Wait until the build is done", 404)
    return FileResponse(taking.archive, media_type="application/zip", filename=f"{taking.stem}.zip")


async def _stop(request: Request) -> Response:
    gone = await run_in_threadpool(_takings(request).drop, request.path_params["name"])
    return JSONResponse({"stopped": gone})


async def _examples(_: Request) -> Response:
    return JSONResponse({"plans": await run_in_threadpool(view.example_plans)})


async def _tools(_: Request) -> Response:
    return JSONResponse(await run_in_threadpool(view.tools))
