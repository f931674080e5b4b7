"""What the page and the program say to each other about steps: the page sends edits, the answer is what changes."""

from __future__ import annotations

import json
import sqlite3
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from tilegen.desk import view
from tilegen.desk.document import Document, document_of
from tilegen.desk.edits import apply_edits, read_edits
from tilegen.desk.keeping import PlanOnDisk, Step, Steps, Tab, digest
from tilegen.desk.taking import Takings, Wish
from tilegen.desk.words import error_on_page, on_page
from tilegen.desk.written import changes, written
from tilegen.errors import InputError, TilegenError
from tilegen.files.plans import drawing_of
from tilegen.files.tables import PlanFile
from tilegen.files.toml import check
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, make_kit

EMPTY = 'name = "A plan of my own"\nscale = "10 ft"\ndrawing = """\n.\n"""\n'
_Cells = Annotated[int, Field(ge=-10_000, le=10_000)]


class Gesture(BaseModel):
    """One gesture: edits, drawn when the drawing had grown by `origin` to the west and north."""

    model_config = ConfigDict(extra="forbid")
    gesture: int = Field(default=0, ge=0)
    origin: tuple[_Cells, _Cells] = (0, 0)
    edits: list[dict[str, Any]] = Field(max_length=5000)


class Asked(BaseModel):
    """What a request of the page carries.

    seat, at, n: the tab, the step it shows, the number of the last thing done in it that it asks for. same: the first
    gesture goes on with the tab's last step. by: steps to go back (-1) or on. open, step: another plan, as text or as a
    step that is kept; own: it is what the desk's file holds. base: the name (see digest) of what that file held when it
    was last read or saved. have: the step whose tiles the page knows.
    """

    model_config = ConfigDict(extra="forbid")
    seat: str = Field(default="", max_length=60)
    at: int = Field(default=0, ge=0)
    n: int = Field(default=0, ge=0)
    gestures: list[Gesture] = Field(default=[], max_length=5000)
    same: bool = False
    figures: list[Annotated[str, Field(max_length=40)]] = Field(default=[], max_length=6)
    by: Literal[-1, 1] = -1
    open: str = Field(default="", max_length=1_500_000)
    step: int = Field(default=0, ge=0)
    own: bool = False
    base: str = Field(default="", max_length=64)
    over: bool = False
    have: int = Field(default=0, ge=0)
    cell: tuple[_Cells, _Cells] = (1, 1)
    doors_open: bool = False
    tile: str = Field(default="", max_length=40)
    picture: str = Field(default="layout", max_length=20)
    wish: Wish = Wish()


class Plan:
    """A plan's text and what is made of it, each when it is first asked for."""

    def __init__(self, document: Document) -> None:
        """A document whose tables are those of a plan, whatever they mean.

        Raises:
            InputError: they are not.
        """
        self.document = document
        self.text = document.text
        self.model = check(document.data, PlanFile, "")
        self._answers: dict[tuple[str, ...], dict[str, Any]] = {}

    @cached_property
    def written(self) -> dict[str, Any]:
        """What the page keeps of it."""
        return written(self.document.data)

    @cached_property
    def fault(self) -> InputError | None:
        """Why it can't be built; an empty sheet need not be."""
        if self.written["empty"]:
            return None
        try:
            self.drawing = drawing_of(self.model, view.FILE)
            self.kit = make_kit(self.drawing)
        except InputError as error:
            return error
        except TilegenError as error:
            return InputError(str(error))
        return None

    @property
    def good(self) -> bool:
        """Whether there are tiles."""
        return self.fault is None and not self.written["empty"]

    def built(self) -> Plan:
        """The plan, if there are tiles.

        Raises:
            InputError: there are none, and why.
        """
        if self.fault is not None:
            raise self.fault
        if not self.good:
            raise InputError("the sheet is empty", cure="Draw a room first")
        return self

    drawing: Drawing
    kit: Kit

    def answers(self, figures: Sequence[str]) -> dict[str, Any]:
        """All that is worked out of it beside its tiles."""
        key = tuple(figures)
        if key not in self._answers:
            self._answers[key] = view.answers(self, figures)
        return self._answers[key]

    @cached_property
    def tiles(self) -> dict[str, Any]:
        """Its tiles as the page keeps them."""
        return view.tiles_record(self.drawing, self.kit)


def open_text(text: str) -> Plan:
    """A plan that can be built, from its text.

    Raises:
        InputError: it is none, or can't be.
    """
    return Plan(document_of(text)).built()


class Plans:
    """The plans that were asked about last, by their text. drawn: how often something was drawn."""

    MOST = 12

    def __init__(self) -> None:
        self.drawn = 0
        self._known: OrderedDict[str, Plan] = OrderedDict()

    def of(self, plan: str | Document) -> Plan:
        """A plan by its text.

        Raises:
            InputError: it is none.
        """
        text = plan if isinstance(plan, str) else plan.text
        found = self._known.get(text) or Plan(document_of(plan) if isinstance(plan, str) else plan)
        self._known[text] = found
        self._known.move_to_end(text)
        while len(self._known) > self.MOST:
            self._known.popitem(last=False)
        return found


@dataclass(frozen=True)
class Desk:
    """What one desk has: the steps that are kept, the plans that are known, its builds, and the file it edits."""

    takings: Takings
    steps: Steps
    disk: PlanOnDisk | None
    plans: Plans

    @property
    def file(self) -> str:
        """The file's whole name, or nothing."""
        return str(self.disk.path) if self.disk else ""

    def plan(self, asked: Asked) -> Plan:
        """The plan at the step that a request names.

        Raises:
            InputError: that is not kept.
        """
        text = self.steps.text(asked.at) if asked.at else EMPTY
        if text is None:
            raise InputError("what this page shows is not kept any more", cure="Reload the page")
        return self.plans.of(text)

    def good_plan(self, asked: Asked) -> Plan:
        """The same, if there are tiles.

        Raises:
            InputError: there are none, and why.
        """
        return self.plan(asked).built()

    def seat(self, asked: Asked) -> Tab:
        """The tab that asks."""
        return self.steps.seat(asked.seat) or Tab(asked.seat, asked.at, asked.at)


def begin(desk: Desk, asked: Asked) -> dict[str, Any]:
    """What a tab begins with: its own plan, or else the desk's file, or else an empty sheet after the last plan."""
    seat = desk.steps.seat(asked.seat)
    if seat is not None and seat.file == (desk.file or seat.file) and desk.steps.step(seat.at):
        said, at, base, tip = "", seat.at, seat.base, seat.tip
    else:
        text = (desk.disk.read() or EMPTY) if desk.disk else EMPTY
        at, base = desk.steps.last(desk.file), digest(text) if desk.file else ""
        said = ""
        if at and desk.steps.text(at) != text:
            said = "The file as it is on disk. Undo brings back what you drew and did not save." if desk.file else ""
            said = said or "An empty sheet. Undo brings back what you drew last."
        if not at or desk.steps.text(at) != text:
            at = desk.steps.add(at, text, file=desk.file)
        tip = at
    figures = json.loads(seat.figures or "[]") if seat else []
    done = seat.done if seat else 0
    desk.steps.keep(Tab(asked.seat, at, tip, done, desk.file, base, json.dumps(figures)))
    shown = _shown(desk, asked.model_copy(update={"at": 0, "base": base}), at, said=[said] if said else [])
    return {**shown, "base": base, "done": done, "figures": figures}


def edit(desk: Desk, asked: Asked) -> dict[str, Any]:
    """Each gesture as a step of its own; one that is refused changes nothing, and the others are done."""
    if done_before(desk, asked):
        return _shown(desk, asked, desk.seat(asked).at)
    desk.plans.drawn += 1
    plan, at, origin = desk.plan(asked), asked.at, _origin(desk, asked.at)
    said: list[str] = []
    refused: list[dict[str, Any]] = []
    same = asked.same
    for one in asked.gestures:
        west, north = origin[0] - one.origin[0], origin[1] - one.origin[1]
        try:
            edited = apply_edits(plan.document, [edit.moved(west, north) for edit in read_edits(one.edits)])
            after = desk.plans.of(edited.document)
            if after.fault is not None and plan.fault is None:
                raise after.fault
        except InputError as error:
            said_so = error_on_page(error, plan.written["letters"])
            refused.append({"gesture": one.gesture, **view.error_record(said_so)})
            continue
        said += [f"{on_page(words, plan.written['letters'])}." for words in edited.said]
        if after.text != plan.text:
            at = desk.steps.add(at, after.text, instead=same, grown=edited.grown)
        plan, same = after, False
        origin = origin[0] + edited.grown[0], origin[1] + edited.grown[1]
    return _moved(desk, asked, at, at if at != asked.at else desk.seat(asked).tip, said=said, refused=refused)


def go(desk: Desk, asked: Asked) -> dict[str, Any]:
    """The step before or after.

    Raises:
        InputError: there is none.
    """
    if done_before(desk, asked):
        return _shown(desk, asked, desk.seat(asked).at)
    tip = desk.seat(asked).tip
    there = desk.steps.back(asked.at) if asked.by < 0 else desk.steps.on(asked.at, tip)
    if not there:
        raise InputError("there is no further step")
    return _moved(desk, asked, there, tip)


def open_(desk: Desk, asked: Asked) -> dict[str, Any]:
    """Another plan, as the next step; one that is none changes nothing.

    Raises:
        InputError: the text is no plan.
    """
    if done_before(desk, asked):
        return _shown(desk, asked, desk.seat(asked).at)
    text = asked.open or (desk.steps.text(asked.step) if asked.step else EMPTY)
    if text is None:
        raise InputError("that plan is not kept any more", cure="Choose another one")
    desk.plans.of(text)
    at = desk.steps.add(asked.at, text, file=desk.file if asked.own else "")
    return _moved(desk, asked, at, at)


def file(desk: Desk) -> dict[str, Any]:
    """What the file of this desk holds now."""
    text = desk.disk.read() if desk.disk else ""
    return {"text": text, "base": digest(text)}


def save(desk: Desk, asked: Asked) -> dict[str, Any]:
    """The plan into its file, unless another program has changed that since.

    Raises:
        InputError: it has no file, or that can't be written.
    """
    step, plan = desk.steps.step(asked.at), desk.plan(asked)
    if desk.disk is None or step is None or step.file != desk.file:
        raise InputError(
            "this plan has no file", cure="Start the desk with the plan's file, as in: tilegen desk plan.toml"
        )
    kept = desk.disk.write(plan.text, asked.base, over=asked.over)
    if kept is None:
        return {"changed": True, "at": asked.at}
    base = digest(plan.text)
    if asked.seat:
        desk.steps.keep(replace(desk.seat(asked), base=base))
    return {"changed": False, "kept": kept, "base": base, "at": asked.at}


def kept_plans(desk: Desk) -> list[dict[str, Any]]:
    """The last state of each plan that is kept, newest first: its step, when it was made, its name and its rows."""
    found = []
    for at, made, text in desk.steps.plans():
        try:
            document = document_of(text)
        except InputError:
            continue
        rows = document.rows
        empty = set("".join(rows)) <= {"."} and not document.tables("shape")
        if not empty:
            found.append({"at": at, "made": made, "name": str(document.data.get("name", "")), "rows": rows})
    return found


def look(desk: Desk, asked: Asked) -> dict[str, Any]:
    """What is worked out of a plan: what changes of its tiles, its kit, who fits, what is to be decided."""
    plan = desk.plan(asked)
    figures = json.dumps(asked.figures)
    if asked.seat and desk.seat(asked).figures != figures:
        desk.steps.keep(replace(desk.seat(asked), figures=figures))
    known = desk.steps.text(asked.have) if asked.have else None
    before = desk.plans.of(known) if known is not None else None
    if before is None or not (before.good and plan.good):
        whole = {"at": asked.at, "whole": True, "answers": plan.answers(asked.figures)}
        return {**whole, "tiles": plan.tiles} if plan.good else whole
    answers = changes(before.answers(asked.figures), plan.answers(asked.figures))
    nothing: dict[str, Any] = {"+": {}, "-": []}
    tiles = changes(before.tiles, plan.tiles) or nothing
    return {"at": asked.at, "whole": False, "answers": answers or nothing, "tiles": tiles}


def totals(desk: Desk, asked: Asked) -> dict[str, Any]:
    """What a plan takes with the tools of a wish; broken off when something is drawn meanwhile."""
    drawn = desk.plans.drawn
    found = view.totals(desk.plan(asked), asked.wish, lambda: desk.plans.drawn == drawn)
    return {"at": asked.at, "rows": found.pop("rows", {}), "totals": found}


def done_before(desk: Desk, asked: Asked) -> bool:
    """Whether this was done and only its answer was lost."""
    return bool(asked.seat and asked.n) and asked.n <= desk.seat(asked).done


def _origin(desk: Desk, at: int) -> tuple[int, int]:
    """Cells that a plan's drawing has grown by since it began."""
    step = desk.steps.step(at)
    return (step.west, step.north) if step else (0, 0)


def _moved(desk: Desk, asked: Asked, at: int, tip: int, **more: Sequence[Any]) -> dict[str, Any]:
    """Another step is shown."""
    unkept = ""
    if asked.seat:
        done = max(asked.n, desk.seat(asked).done)
        try:
            unkept = desk.steps.keep(
                Tab(asked.seat, at, tip, done, desk.file, asked.base, json.dumps(asked.figures)),
            )
        except sqlite3.Error as error:
            unkept = str(error)
    return {**_shown(desk, asked, at, **more), "unkept": unkept}


def _shown(
    desk: Desk, asked: Asked, at: int, *, said: Sequence[str] = (), refused: Sequence[dict[str, Any]] = ()
) -> dict[str, Any]:
    """What the page is to know of a step, beside what it knows of the one that it shows."""
    step, before = desk.steps.step(at), desk.steps.step(asked.at) if asked.at else None
    if step is None:
        raise InputError("what this page shows is not kept any more", cure="Reload the page")
    plan = desk.plans.of(step.text)
    whole = before is None
    known = desk.plans.of(before.text).written if before else {}
    return {
        "at": at,
        "whole": whole,
        "plan": plan.written if whole else changes(known, plan.written),
        "fault": view.error_record(error_on_page(plan.fault, plan.written["letters"])) if plan.fault else None,
        "counts": view.counts(plan.kit) if plan.good else None,
        "said": list(said),
        "refused": list(refused),
        "grown": _grown(before, step),
        "fresh": before is None or before.plan != step.plan,
        "origin": [step.west, step.north],
        "back": bool(desk.steps.back(at)),
        "on": bool(desk.steps.on(at, desk.seat(asked).tip)),
        "file": step.file if step.file == desk.file else "",
        "saved": bool(step.file) and digest(plan.text) == asked.base,
        "unkept": "",
    }


def _grown(before: Step | None, step: Step) -> list[int]:
    if before is None or before.plan != step.plan:
        return [0, 0]
    return [step.west - before.west, step.north - before.north]
