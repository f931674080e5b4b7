"""The desk's requests and what answers them."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sqlite3
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import replace
from importlib import resources
from importlib.resources.abc import Traversable
from itertools import groupby
from pathlib import PurePath
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from tilegen.desk import talk, view
from tilegen.desk.edits import apply_edits, name_in, parse, read_edits
from tilegen.desk.guard import Guard, TooLargeError, own_hosts
from tilegen.desk.keeping import PlanOnDisk, Steps, Tab, digest
from tilegen.desk.taking import Takings, Wish, plan_file_name
from tilegen.errors import InputError, TilegenError

_KINDS = {
    ".html": "text/html; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml",
}
_LOOK_AGAIN_S = 0.15


class _Asked(BaseModel):
    """What every request of the page carries: the plan's text, and what it asks for.

    seat, at, n, same: the tab, its step, the number of its last gesture here, whether that goes on with its last step;
    a request without a seat keeps nothing. marks: the gesture of each edit, each gesture a step. by: steps to go back
    (-1) or on. file, base: the plan's file if it has one, and the name (see digest) of what it held when last read.
    """

    model_config = ConfigDict(extra="forbid")
    text: str = Field(max_length=1_500_000)
    edits: list[dict[str, Any]] = Field(default=[], max_length=5000)
    figures: list[Annotated[str, Field(max_length=40)]] = Field(default=[], max_length=6)
    seat: str = Field(default="", max_length=60)
    at: int = Field(default=0, ge=0)
    n: int = Field(default=0, ge=0)
    same: bool = False
    marks: list[int] = Field(default=[], max_length=5000)
    by: Literal[-1, 1] = -1
    open: str = Field(default="", max_length=1_500_000)
    file: str = Field(default="", max_length=5000)
    base: str = Field(default="", max_length=64)
    over: bool = False
    cell: tuple[int, int] = (1, 1)
    doors_open: bool = False
    tile: str = Field(default="", max_length=40)
    picture: str = Field(default="layout", max_length=20)
    wish: Wish = Wish()


def make_app(port: int, steps: Steps | None = None, disk: PlanOnDisk | None = None) -> Starlette:
    """The desk as an ASGI application that answers to this machine on one port only.

    steps: where what is drawn is kept; if absent, until the program ends. disk: the plan file that is edited.
    """
    desk = talk.Desk(Takings(), steps or Steps(), disk, talk.Plans())

    @contextlib.asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        yield
        desk.takings.close()

    routes = list(_page(resources.files("tilegen.desk") / "page", "/"))
    routes += [
        Route("/examples", _examples, methods=["GET"]),
        Route("/tools", _tools, methods=["GET"]),
        Route("/plans", _plans, methods=["GET"]),
        Route("/draft", _answer(_draft), methods=["POST"]),
        Route("/edit", _answer(_edit, talk.edit), methods=["POST"]),
        Route("/go", _answer(_go, talk.go), methods=["POST"]),
        Route("/open", _answer(_open, talk.open_), methods=["POST"]),
        Route("/begin", _answer(None, talk.begin), methods=["POST"]),
        Route("/look", _answer(None, talk.look), methods=["POST"]),
        Route("/file", _answer(_file, lambda desk, _: talk.file(desk)), methods=["POST"]),
        Route("/text", _text, methods=["GET"]),
        Route("/save", _answer(_save, talk.save), methods=["POST"]),
        Route("/sight", _answer(_sight, _sight_at), methods=["POST"]),
        Route("/solid", _answer(_solid, _solid_at), methods=["POST"]),
        Route("/picture", _answer(_picture, _picture_at), methods=["POST"]),
        Route("/take", _answer(_take, _take_at), methods=["POST"]),
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


def _answer(
    old: Callable[[_Asked, Request], Response] | None, fresh: Callable[[talk.Desk, talk.Asked], Any] | None = None
) -> Callable[[Request], Awaitable[Response]]:
    """A request of the page: checked, worked out aside, a fault told in words."""

    def answered(asked: Any, request: Request) -> Response:  # noqa: ANN401 - either of the two
        found: Any = {}
        if fresh is not None and isinstance(asked, talk.Asked):
            found = fresh(_desk(request), asked)
        elif old is not None:
            found = old(asked, request)
        return found if isinstance(found, Response) else JSONResponse(found)

    async def answer(request: Request) -> Response:
        try:
            sent = json.loads(await request.body())
            by_step = fresh is not None and "text" not in sent
            asked = talk.Asked.model_validate(sent) if by_step else _Asked.model_validate(sent)
        except (ValidationError, ValueError, RecursionError):
            return JSONResponse({"error": {"text": "the page sent something unknown", "cure": "Reload it"}}, 400)
        except TooLargeError:
            return JSONResponse(
                {"error": {"text": "this is too large for the desk", "cure": "Draw larger plans in a text editor"}}, 413
            )
        try:
            return await run_in_threadpool(answered, asked, request)
        except TilegenError as error:
            return JSONResponse({"error": view.error_record(error)}, 422)
        except sqlite3.Error as error:
            return JSONResponse({"error": {"text": f"the step can't be kept ({error})", "cure": "Save the plan"}}, 422)

    return answer


def _draft(asked: _Asked, request: Request) -> Response:
    """What a tab begins with: its own plan, or else the desk's file, or else an empty sheet after the last plan."""
    desk = _desk(request)
    seat = desk.steps.seat(asked.seat)
    if seat is not None and seat.file == (desk.file or seat.file):
        place = desk.steps.place(seat.at, seat.tip)
        own = {"text": place.text, "at": seat.at, "file": place.file if place.file == desk.file else ""}
        return JSONResponse({**own, "base": seat.base, "done": seat.done, "figures": seat.figures, "said": ""})
    text, at, said = desk.disk.read() if desk.disk else "", desk.steps.last(desk.file), ""
    if at and desk.steps.text(at) != text:
        said = "The file as it is on disk. Undo brings back what you drew and did not save." if desk.file else ""
        said = said or "An empty sheet. Undo brings back what you drew last."
    base = digest(text) if desk.file else ""
    begun = {"text": text, "at": at, "file": desk.file, "base": base}
    return JSONResponse({**begun, "done": seat.done if seat else 0, "figures": "", "said": said})


def _edit(asked: _Asked, request: Request) -> Response:
    """The text after the edits, and all that is to be seen of it; each gesture is a step of its own.

    Raises:
        InputError: an edit that can't be made, or that would make a plan that was right a wrong one.
    """
    if _done_before(asked, request):
        return _where(asked, request)
    marks = asked.marks if len(asked.marks) == len(asked.edits) else [0] * len(asked.edits)
    edits = read_edits(asked.edits)
    text, west, north = asked.text, 0, 0
    texts: list[str] = []
    said: list[str] = []
    for _, gesture in groupby(zip(marks, edits, strict=True), key=lambda pair: pair[0]):
        edited = apply_edits(text, [edit.moved(west, north) for _, edit in gesture])
        text, west, north = edited.text, west + edited.grown[0], north + edited.grown[1]
        texts.append(text)
        said += edited.said
    seen = view.view(text if texts else asked.text, asked.figures)
    if texts and not (seen["ok"] or seen["empty"]):
        before = view.view(asked.text)
        if before["ok"] or before["empty"]:
            view.open_text(text)
    kept = _kept(asked, request, texts)
    return JSONResponse({"text": text, "said": said, "grown": [west, north], "view": seen, **kept})


def _go(asked: _Asked, request: Request) -> Response:
    """The step before or after.

    Raises:
        InputError: there is none.
    """
    if _done_before(asked, request):
        return _where(asked, request)
    steps, at = _desk(request).steps, _here(asked, request)
    tip = _seat(asked, request).tip if at == asked.at else at
    there = steps.back(at) if asked.by < 0 else steps.on(at, tip)
    if not there:
        raise InputError("there is no further step")
    return _moved(asked, request, there, tip)


def _open(asked: _Asked, request: Request) -> Response:
    """Another plan, as the next step; one that is none changes nothing.

    Raises:
        InputError: the text is no plan.
    """
    if _done_before(asked, request):
        return _where(asked, request)
    parse(asked.open)
    at = _desk(request).steps.add(_here(asked, request), asked.open, file=_own(asked, request))
    return _moved(asked, request, at, at)


def _file(_: _Asked, request: Request) -> Response:
    """What the file of this desk holds now."""
    disk = _desk(request).disk
    text = disk.read() if disk else ""
    return JSONResponse({"text": text, "base": digest(text), "file": _desk(request).file})


def _save(asked: _Asked, request: Request) -> Response:
    """The plan into its file, unless another program has changed that since.

    Raises:
        InputError: it has no file, or that can't be written.
    """
    disk = _desk(request).disk
    if disk is None or asked.file != str(disk.path):
        raise InputError(
            "this plan has no file", cure="Start the desk with the plan's file, as in: tilegen desk plan.toml"
        )
    kept = disk.write(asked.text, asked.base, over=asked.over)
    if kept is None:
        return JSONResponse({"changed": True})
    base = digest(asked.text)
    seat = _desk(request).steps.seat(asked.seat)
    if seat is not None:
        _desk(request).steps.keep(replace(seat, base=base))
    return JSONResponse({"changed": False, "kept": kept, "base": base})


async def _plans(request: Request) -> Response:
    found = await run_in_threadpool(_desk(request).steps.plans)
    plans = [{"at": at, "made": made, "name": name_in(text), "text": text} for at, made, text in found]
    return JSONResponse({"plans": plans})


# ---- steps


def _desk(request: Request) -> talk.Desk:
    found: talk.Desk = request.app.state.desk
    return found


def _own(asked: _Asked, request: Request) -> str:
    """The plan's file: that of this desk or none."""
    return asked.file if asked.file == _desk(request).file else ""


def _seat(asked: _Asked, request: Request) -> Tab:
    return _desk(request).steps.seat(asked.seat) or Tab(asked.seat, asked.at, asked.at)


def _done_before(asked: _Asked, request: Request) -> bool:
    """Whether this was done and only its answer was lost."""
    return bool(asked.seat and asked.n) and asked.n <= _seat(asked, request).done


def _here(asked: _Asked, request: Request) -> int:
    """The step of what the page shows; one more, with which a plan begins, if that is not kept yet."""
    steps = _desk(request).steps
    if asked.at and steps.text(asked.at) == asked.text:
        return asked.at
    return steps.add(asked.at, asked.text, file=_own(asked, request))


def _kept(asked: _Asked, request: Request, texts: list[str]) -> dict[str, Any]:
    """Keep a step for each text; where the tab is then. A step that can't be kept is still shown, and that is said."""
    desk, at, unkept = _desk(request), asked.at, ""
    if asked.seat and any(text != asked.text for text in texts):
        try:
            at = _here(asked, request)
            for number, text in enumerate(texts):
                at = desk.steps.add(at, text, instead=asked.same and number == 0 and at == asked.at)
            _sit(asked, request, at, at)
        except (OSError, sqlite3.Error) as error:
            at, unkept = asked.at, str(error)
    elif asked.seat and (texts or desk.steps.seat(asked.seat)):
        _sit(asked, request, at, _seat(asked, request).tip)
    return {**_place(asked, request, texts[-1] if texts else asked.text, at), "unkept": unkept}


def _sit(asked: _Asked, request: Request, at: int, tip: int) -> None:
    desk, done = _desk(request), max(asked.n, _seat(asked, request).done)
    desk.steps.keep(Tab(asked.seat, at, tip, done, desk.file, asked.base, json.dumps(asked.figures)))


def _place(asked: _Asked, request: Request, text: str, at: int) -> dict[str, Any]:
    """What the page is to know of its step; one that is not kept yet follows `at`."""
    steps, own = _desk(request).steps, _desk(request).file
    place = steps.place(at, _seat(asked, request).tip)
    saved = {"saved": digest(text) == asked.base}
    if place.text != text:
        return {**saved, "at": at, "back": bool(place.text), "on": False, "file": _own(asked, request)}
    return {**saved, "at": at, "back": place.back, "on": place.on, "file": place.file if place.file == own else ""}


def _moved(asked: _Asked, request: Request, at: int, tip: int) -> Response:
    """Another step is shown."""
    if asked.seat:
        _sit(asked, request, at, tip)
    return _where(asked, request, at)


def _where(asked: _Asked, request: Request, at: int = 0) -> Response:
    """All that is to be seen of a step, or of the one on which a tab stands."""
    at = at or _seat(asked, request).at
    text = _desk(request).steps.text(at) or asked.text
    seen = view.view(text, asked.figures)
    return JSONResponse({"text": text, "said": [], "grown": [0, 0], "view": seen, **_place(asked, request, text, at)})


# ---- what is asked of a plan


def _sight_at(desk: talk.Desk, asked: talk.Asked) -> dict[str, Any]:
    return view.sight_record(desk.plan(asked).text, asked.cell, doors_open=asked.doors_open)


def _solid_at(desk: talk.Desk, asked: talk.Asked) -> Response:
    content, least = view.solid_stl(desk.plan(asked).text, asked.tile)
    return Response(content, media_type="model/stl", headers={"x-least": f"{least[0]!r},{least[1]!r}"})


def _picture_at(desk: talk.Desk, asked: talk.Asked) -> dict[str, Any]:
    return {"pictures": view.draw(desk.plan(asked).text, asked.picture, asked.wish)}


def _take_at(desk: talk.Desk, asked: talk.Asked) -> dict[str, Any]:
    plan = desk.plan(asked)
    view.open_text(plan.text)
    return {"name": desk.takings.start(plan.text, asked.wish)}


async def _text(request: Request) -> Response:
    at = request.query_params.get("at", "")
    text = _desk(request).steps.text(int(at)) if at.isdigit() else None
    if text is None:
        return JSONResponse({"error": {"text": "this is not kept", "place": "", "cure": "Reload the page"}}, 404)
    return JSONResponse({"text": text, "name": plan_file_name(text).name})


def _sight(asked: _Asked, _: Request) -> Response:
    return JSONResponse(view.sight_record(asked.text, asked.cell, doors_open=asked.doors_open))


def _solid(asked: _Asked, _: Request) -> Response:
    content, least = view.solid_stl(asked.text, asked.tile)
    return Response(content, media_type="model/stl", headers={"x-least": f"{least[0]!r},{least[1]!r}"})


def _picture(asked: _Asked, _: Request) -> Response:
    return JSONResponse({"pictures": view.draw(asked.text, asked.picture, asked.wish)})


def _take(asked: _Asked, request: Request) -> Response:
    view.open_text(asked.text)
    return JSONResponse({"name": _takings(request).start(asked.text, asked.wish)})


def _takings(request: Request) -> Takings:
    return _desk(request).takings


async def _taking(request: Request) -> Response:
    """Server-sent events (WHATWG HTML, 9.2): each stage as it begins, then the outcome."""
    taking = _takings(request).running.get(request.path_params["name"])
    if taking is None:
        return JSONResponse({"error": {"text": "this build is gone", "cure": "Start it again"}}, 404)

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
        return JSONResponse(
            {"error": {"text": "the files are not ready yet", "cure": "Wait until the build is done"}}, 404
        )
    return FileResponse(taking.archive, media_type="application/zip", filename=taking.name)


async def _stop(request: Request) -> Response:
    gone = await run_in_threadpool(_takings(request).drop, request.path_params["name"])
    return JSONResponse({"stopped": gone})


async def _examples(_: Request) -> Response:
    return JSONResponse({"plans": await run_in_threadpool(view.example_plans)})


async def _tools(_: Request) -> Response:
    return JSONResponse(await run_in_threadpool(view.tools))
