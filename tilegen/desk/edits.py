"""Edits to a plan's text: what the page asks for, done to the TOML with its comments and order kept."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import String, StringType, Trivia

from tilegen.desk.document import (
    Feature,
    FeatureAway,
    PointWay,
    Reach,
    Shape,
    ShapeAway,
    WayAway,
    add_feature,
    add_way,
    append,
    keep,
    line_of,
    pruned,
    remove,
    room_at,
    room_for,
    rows_of,
    shape_values,
    shift,
    tables,
    way_line,
    wrong_room,
)
from tilegen.errors import InputError
from tilegen.files.tables import PlanFile
from tilegen.files.toml import check, parse_toml
from tilegen.model.grid import Leaf, Posts
from tilegen.plans.ways import WayWord
from tilegen.tiles.shape import SIDES, STEPS

MOST_ACROSS = 200
# Further off than a page shows; a drawing refuses to grow so far.
Coordinate = Annotated[int, Field(strict=True, ge=-10_000, le=10_000)]
CellPlace = tuple[Coordinate, Coordinate]
Side = Literal["north", "east", "south", "west"]


class _Edit(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Paint(_Edit):
    """Cells (column, row from 1; less than 1 lies beyond the drawing) that become one room, or solid ground."""

    do: Literal["paint"]
    cells: Annotated[list[CellPlace], Field(max_length=MOST_ACROSS * MOST_ACROSS)]
    room: Annotated[str, Field(min_length=1, max_length=1)]


class SetWay(_Edit):
    """A way on one side of a cell; kind None takes it away."""

    do: Literal["way"]
    cell: CellPlace
    side: Side
    kind: WayWord | None = None
    leaf: Leaf | None = None
    head: Literal["flat", "round"] | None = None
    width: Annotated[str, Field(max_length=40)] = ""
    height: Annotated[str, Field(max_length=40)] = ""


class SetWall(_Edit):
    """A wall that no room border implies, put up or taken away."""

    do: Literal["wall"]
    cell: CellPlace
    side: Side
    stands: Annotated[bool, Field(strict=True)]


class Title(_Edit):
    """A room's title; an empty one takes it away."""

    do: Literal["title"]
    room: Annotated[str, Field(min_length=1, max_length=1)]
    title: Annotated[str, Field(max_length=80)]


class Rename(_Edit):
    """The plan's name."""

    do: Literal["name"]
    name: Annotated[str, Field(min_length=1, max_length=200)]


class SetScale(_Edit):
    """What one cell stands for."""

    do: Literal["scale"]
    scale: Literal["10 ft", "5 ft"]


class SetMeasure(_Edit):
    """One measure of the grid, as text with a unit; an empty one goes back to the default."""

    do: Literal["measure"]
    key: Literal["pitch", "wall_thickness", "wall_height", "base_depth", "joint_play"]
    value: Annotated[str, Field(max_length=40)]


class SetChoice(_Edit):
    """Whether posts or doorways are a part of their tiles; the default leaves the key out."""

    do: Literal["choice"]
    key: Literal["posts", "doorways"]
    value: Posts


Edit = Annotated[
    Paint
    | SetWay
    | SetWall
    | Title
    | Rename
    | SetScale
    | SetMeasure
    | SetChoice
    | Shape
    | ShapeAway
    | PointWay
    | WayAway
    | Feature
    | FeatureAway,
    Field(discriminator="do"),
]
_EDITS: TypeAdapter[list[Edit]] = TypeAdapter(list[Edit])


def read_edits(data: object) -> list[Edit]:
    """Edits as the page sends them.

    Raises:
        InputError: one that is none of them.
    """
    try:
        return _EDITS.validate_python(data)
    except ValidationError as error:
        place = ".".join(map(str, error.errors()[0]["loc"]))
        raise InputError("the page sent a change that is not known", cure="Reload the page", place=place) from None


_OPPOSITE = {"north": "south", "south": "north", "east": "west", "west": "east"}


@dataclass(frozen=True)
class Edited:
    """The text after some edits; said: what was removed because of them; grown: cells added to the west and north."""

    text: str
    said: tuple[str, ...]
    grown: tuple[int, int]


def apply_edits(text: str, edits: Sequence[Edit]) -> Edited:
    """The text after some edits.

    Raises:
        InputError: the text is no plan, or an edit can't be made.
    """
    document = parse(text)
    said: list[str] = []
    grown = [0, 0]
    work: dict[type[BaseModel], Callable[[Any], object]] = {
        Paint: lambda edit: said.extend(_paint(document, edit, grown)),
        SetWay: lambda edit: _set_way(document, edit),
        SetWall: lambda edit: said.extend(_set_wall(document, edit)),
        Title: lambda edit: _set_title(document, edit),
        Rename: lambda edit: document.__setitem__("name", edit.name),
        SetScale: lambda edit: document.__setitem__("scale", edit.scale),
        SetMeasure: lambda edit: _set_key(document, "grid", edit.key, edit.value.strip()),
        SetChoice: lambda edit: _set_key(document, "set", edit.key, "" if edit.value == "fixed" else edit.value),
        Shape: lambda edit: said.extend(_add_shape(document, edit, grown)),
        ShapeAway: lambda edit: said.extend(_take_away(document, "shape", edit.index)),
        PointWay: lambda edit: add_way(document, edit),
        WayAway: lambda edit: remove(document, "way", edit.index),
        Feature: lambda edit: add_feature(document, edit),
        FeatureAway: lambda edit: remove(document, "feature", edit.index),
    }
    for edit in edits:
        work[type(edit)](edit)
    return Edited(tomlkit.dumps(document), tuple(said), (grown[0], grown[1]))


def apply_drawn(text: str, edits: Sequence[Edit]) -> Edited:
    """The text after some edits that were all drawn on it as it is: those after one that makes it grow move along.

    Raises:
        InputError: the text is no plan, or an edit can't be made.
    """
    whole = apply_edits(text, edits)
    if whole.grown == (0, 0) or len(edits) < 2:
        return whole
    said: list[str] = []
    west, north = 0, 0
    for edit in edits:
        one = apply_edits(text, [moved(edit, west, north)])
        text, west, north = one.text, west + one.grown[0], north + one.grown[1]
        said += one.said
    return Edited(text, tuple(said), (west, north))


def moved(edit: Edit, west: int, north: int) -> Edit:
    """An edit on a drawing that has grown since."""

    def on(place: tuple[Any, Any]) -> tuple[Any, Any]:
        return place[0] + west, place[1] + north

    new: dict[str, Any] = {}
    if isinstance(edit, Paint):
        new = {"cells": [on(cell) for cell in edit.cells]}
    elif isinstance(edit, (SetWay, SetWall)):
        new = {"cell": on(edit.cell)}
    elif isinstance(edit, Feature):
        new = {"cell": on(edit.cell), "to": edit.to and on(edit.to)}
    elif isinstance(edit, PointWay):
        new = {"at": on(edit.at)}
    elif isinstance(edit, Shape):
        new = {
            "circle": edit.circle and edit.circle.model_copy(update={"centre": on(edit.circle.centre)}),
            "hall": edit.hall and edit.hall.model_copy(update={"start": on(edit.hall.start), "end": on(edit.hall.end)}),
            "polygon": edit.polygon and [on(corner) for corner in edit.polygon],
        }
    return edit.model_copy(update=new)


def parse(text: str) -> tomlkit.TOMLDocument:
    """A plan's text as a document that keeps its comments; what its tables mean may still be wrong.

    Raises:
        InputError: broken TOML, no drawing in it, or a table that no plan has.
    """
    try:
        document = tomlkit.parse(text)
    except (TOMLKitError, RecursionError) as error:
        parse_toml(text, "")
        # Python's reader takes what this one does not.
        raise InputError("the plan can't be read", cure="Write its TOML as tilegen start does") from error
    if not isinstance(document.get("drawing"), str):
        raise InputError(
            '"drawing" is missing',
            cure='Add drawing = """ with the rows of the map below it, and a line with """ after them',
        )
    check(document.unwrap(), PlanFile, "")
    return document


def _write_rows(document: tomlkit.TOMLDocument, rows: Sequence[str]) -> None:
    body = "\n".join(" ".join(row) for row in rows)
    value = f"\n{body}\n"
    old = document["drawing"]
    trivia = old.trivia if isinstance(old, String) else Trivia()
    document["drawing"] = String(StringType.MLB, f"{body}\n", value, trivia)


def _paint(document: tomlkit.TOMLDocument, edit: Paint, total: list[int]) -> list[str]:
    if not (edit.room == "." or edit.room.isalnum()):
        raise wrong_room(edit.room, "drawing")
    if not edit.cells:
        return []
    rows = rows_of(document)
    columns, lines = [c for c, _ in edit.cells], [r for _, r in edit.cells]
    west, north = max(0, 1 - min(columns)), max(0, 1 - min(lines))
    east, south = max(0, max(columns) - len(rows[0])), max(0, max(lines) - len(rows))
    if edit.room == ".":
        cells = [(c, r) for c, r in edit.cells if 1 <= c <= len(rows[0]) and 1 <= r <= len(rows)]
        west = north = east = south = 0
    else:
        cells = list(edit.cells)
    _grow(document, (west, north, east, south), total)
    grown = [list(row) for row in rows_of(document)]
    for c, r in cells:
        grown[r + north - 1][c + west - 1] = edit.room
    _write_rows(document, ["".join(row) for row in grown])
    return pruned(document)


def _grow(document: tomlkit.TOMLDocument, by: tuple[int, int, int, int], total: list[int]) -> None:
    """Solid ground round the drawing: cells to the west, north, east and south; all that has a place keeps it.

    total: what the drawing has grown by to the west and north so far.
    """
    if not any(by):
        return
    west, north, east, south = by
    rows = rows_of(document)
    width = len(rows[0]) + west + east
    if width > MOST_ACROSS or len(rows) + north + south > MOST_ACROSS:
        raise InputError(
            f"the plan would have more than {MOST_ACROSS} cells in a row or column",
            cure="Write larger plans in a text editor, and use tilegen build",
        )
    shift(document, west, north)
    total[0] += west
    total[1] += north
    body = ["." * west + row + "." * east for row in rows]
    _write_rows(document, ["." * width] * north + body + ["." * width] * south)


def _add_shape(document: tomlkit.TOMLDocument, edit: Shape, total: list[int]) -> list[str]:
    """A shape in the drawing, which grows if it has to."""
    rows = rows_of(document)
    by = room_for(shape_values(edit), len(rows[0]), len(rows))
    append(document, "shape", shape_values(edit))
    _grow(document, by, total)
    return pruned(document)


def _take_away(document: tomlkit.TOMLDocument, name: str, index: int) -> list[str]:
    remove(document, name, index)
    return pruned(document)


def _set_way(document: tomlkit.TOMLDocument, edit: SetWay) -> None:
    line = line_of(edit.cell, edit.side)
    others = [t for t in tables(document, "way") if way_line(t) != line]
    keep(document, "way", others)
    if edit.kind is None:
        return
    values: dict[str, Any] = {"cell": list(edit.cell), "side": edit.side, "kind": edit.kind}
    if room_at(rows_of(document), edit.cell) == "." and not Reach(document).may_cover(edit.cell):
        step = STEPS[SIDES.index(edit.side)]
        values["cell"] = [edit.cell[0] + step[0], edit.cell[1] + step[1]]
        values["side"] = _OPPOSITE[edit.side]
    for key in ("width", "height", "head", "leaf"):
        if getattr(edit, key) not in (None, "", "none", "flat"):
            values[key] = getattr(edit, key)
    append(document, "way", values)


def _set_wall(document: tomlkit.TOMLDocument, edit: SetWall) -> list[str]:
    line = line_of(edit.cell, edit.side)
    others = [t for t in tables(document, "wall") if line_of(t["cell"], str(t["side"])) != line]
    keep(document, "wall", others)
    if edit.stands:
        append(document, "wall", {"cell": list(edit.cell), "side": edit.side})
    return pruned(document)


def _set_title(document: tomlkit.TOMLDocument, edit: Title) -> None:
    rooms = document.get("rooms")
    if rooms is None:
        rooms = tomlkit.table()
        document["rooms"] = rooms
    if edit.title:
        rooms[edit.room] = edit.title
    elif edit.room in rooms:
        del rooms[edit.room]


def _set_key(document: tomlkit.TOMLDocument, name: str, key: str, value: str) -> None:
    """A key of a table; an empty value takes it away."""
    if value:
        document.setdefault(name, tomlkit.table())[key] = value
    else:
        document.get(name, {}).pop(key, None)


def name_in(text: str) -> str:
    """A plan's name, of any text."""
    try:
        return str(parse(text).get("name", ""))
    except InputError:
        return ""
