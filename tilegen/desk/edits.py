"""Edits to a plan's text: what the page asks for, done to the TOML with its comments and order kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import tomlkit
from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, String, StringType, Trivia

from tilegen.errors import InputError
from tilegen.tiles.shape import SIDES, STEPS

MOST_ACROSS = 200
_OPPOSITE = {"north": "south", "south": "north", "east": "west", "west": "east"}
Coordinate = Annotated[int, Field(strict=True, ge=-MOST_ACROSS, le=2 * MOST_ACROSS)]
CellPlace = tuple[Coordinate, Coordinate]
Side = Literal["north", "east", "south", "west"]
Line = tuple[bool, int, int]


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
    kind: Literal["open", "doorway", "saddle"] | None = None
    leaf: Literal["none", "sliding", "hinged", "lift-out"] | None = None
    head: Literal["flat", "round"] | None = None


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


Edit = Annotated[Paint | SetWay | SetWall | Title | Rename | SetScale | SetMeasure, Field(discriminator="do")]
_EDITS: TypeAdapter[list[Edit]] = TypeAdapter(list[Edit])


def read_edits(data: object) -> list[Edit]:
    """Edits as the page sends them.

    Raises:
        InputError: one that is none of them.
    """
    try:
        return _EDITS.validate_python(data)
    except ValidationError as error:
        fault = error.errors(include_url=False, include_context=False)[0]
        place = ".".join(map(str, fault["loc"]))
        raise InputError("an edit that is not understood", expected=fault["msg"], place=place) from None


@dataclass(frozen=True)
class Edited:
    """The text after some edits; said: what had to go because of them; grown: cells added to the west and north."""

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
    work: dict[type[_Edit], Callable[[Any], None]] = {
        Paint: lambda edit: said.extend(_paint(document, edit, grown)),
        SetWay: lambda edit: _set_way(document, edit),
        SetWall: lambda edit: said.extend(_set_wall(document, edit)),
        Title: lambda edit: _set_title(document, edit),
        Rename: lambda edit: document.__setitem__("name", edit.name),
        SetScale: lambda edit: document.__setitem__("scale", edit.scale),
        SetMeasure: lambda edit: _set_measure(document, edit),
    }
    for edit in edits:
        work[type(edit)](edit)
    return Edited(tomlkit.dumps(document), tuple(said), (grown[0], grown[1]))


def parse(text: str) -> tomlkit.TOMLDocument:
    """A plan's text as a document that keeps its comments.

    Raises:
        InputError: broken TOML, or no drawing in it.
    """
    try:
        document = tomlkit.parse(text)
    except (TOMLKitError, RecursionError) as error:
        raise InputError(f"broken TOML ({error})", expected="a plan file") from None
    if not isinstance(document.get("drawing"), str):
        raise InputError("no drawing", expected="a plan file with drawing = ...", place="drawing")
    return document


def rows_of(document: Mapping[str, Any]) -> list[str]:
    """The drawing's rows, blanks between cells left out, all of one length."""
    rows = [row for row in ("".join(raw.split()) for raw in str(document["drawing"]).splitlines()) if row]
    width = max(map(len, rows), default=1)
    return [row.ljust(width, ".") for row in rows] or ["."]


def _write_rows(document: tomlkit.TOMLDocument, rows: Sequence[str]) -> None:
    body = "\n".join(" ".join(row) for row in rows)
    value = f"\n{body}\n"
    old = document["drawing"]
    trivia = old.trivia if isinstance(old, String) else Trivia()
    document["drawing"] = String(StringType.MLB, f"{body}\n", value, trivia)


def _paint(document: tomlkit.TOMLDocument, edit: Paint, total: list[int]) -> list[str]:
    if not (edit.room == "." or edit.room.isalnum()):
        raise InputError(f'the room "{edit.room}"', expected="a letter or a digit", place="drawing")
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
    if len(rows[0]) + west + east > MOST_ACROSS or len(rows) + north + south > MOST_ACROSS:
        raise InputError("a plan that grows too large", expected=f"at most {MOST_ACROSS} cells each way here")
    grown = [["."] * (len(rows[0]) + west + east) for _ in range(len(rows) + north + south)]
    for r, row in enumerate(rows):
        grown[r + north][west : west + len(row)] = row
    for c, r in cells:
        grown[r + north - 1][c + west - 1] = edit.room
    _shift(document, west, north)
    total[0] += west
    total[1] += north
    _write_rows(document, ["".join(row) for row in grown])
    return _pruned(document)


def _shift(document: tomlkit.TOMLDocument, west: int, north: int) -> None:
    """Ways and walls keep their place where the drawing grows to the west or north."""
    if west or north:
        for table in (*_tables(document, "way"), *_tables(document, "wall")):
            column, row = table["cell"]
            table["cell"] = [int(column) + west, int(row) + north]


def _tables(document: tomlkit.TOMLDocument, name: str) -> list[Any]:
    found = document.get(name)
    return list(found) if isinstance(found, AoT) else []


def line_of(cell: Sequence[int], side: str) -> Line:
    """One name for the line at a cell's side, the same from both cells."""
    column, row = int(cell[0]), int(cell[1])
    if side in ("north", "south"):
        return True, column, row + (side == "south")
    return False, column + (side == "east"), row


def _rooms_beside(rows: Sequence[str], line: Line) -> tuple[str, str]:
    level, column, row = line
    first = (column, row - 1) if level else (column - 1, row)
    return _room(rows, first), _room(rows, (column, row))


def _room(rows: Sequence[str], cell: tuple[int, int]) -> str:
    column, row = cell
    return rows[row - 1][column - 1] if 1 <= row <= len(rows) and 1 <= column <= len(rows[0]) else "."


def _pruned(document: tomlkit.TOMLDocument) -> list[str]:
    """Take away walls and ways that have lost their line, and titles of rooms that are gone; say so."""
    rows = rows_of(document)
    gone = {"wall": 0, "way": 0, "title": 0}
    standing: set[Line] = set()

    def wall_stays(table: Mapping[str, Any]) -> bool:
        line = line_of(table["cell"], str(table["side"]))
        first, second = _rooms_beside(rows, line)
        stays = first == second != "."
        if stays:
            standing.add(line)
        return stays

    def way_stays(table: Mapping[str, Any]) -> bool:
        line = line_of(table["cell"], str(table["side"]))
        first, second = _rooms_beside(rows, line)
        if "." in (first, second) and str(table["kind"]) == "saddle":
            return False
        return first != second or line in standing

    for name, stays in (("wall", wall_stays), ("way", way_stays)):
        kept = [table for table in _tables(document, name) if stays(table)]
        gone[name] = len(_tables(document, name)) - len(kept)
        _keep(document, name, kept)
    letters = set("".join(rows))
    for letter in [key for key in document.get("rooms", {}) if key not in letters]:
        del document["rooms"][letter]
        gone["title"] += 1
    return [f"{number} {name}{'s' if number > 1 else ''} taken away" for name, number in gone.items() if number]


def _keep(document: tomlkit.TOMLDocument, name: str, kept: Sequence[Any]) -> None:
    tables = document.get(name)
    if not isinstance(tables, AoT) or len(kept) == len(tables):
        return
    if not kept:
        del document[name]
        return
    for index in range(len(tables) - 1, -1, -1):
        if not any(tables[index] is table for table in kept):
            del tables[index]


def _set_way(document: tomlkit.TOMLDocument, edit: SetWay) -> None:
    line = line_of(edit.cell, edit.side)
    others = [t for t in _tables(document, "way") if line_of(t["cell"], str(t["side"])) != line]
    _keep(document, "way", others)
    if edit.kind is None:
        return
    values: dict[str, Any] = {"cell": list(edit.cell), "side": edit.side, "kind": edit.kind}
    if _room(rows_of(document), edit.cell) == ".":
        step = STEPS[SIDES.index(edit.side)]
        values["cell"] = [edit.cell[0] + step[0], edit.cell[1] + step[1]]
        values["side"] = _OPPOSITE[edit.side]
    for key in ("leaf", "head"):
        if getattr(edit, key) not in (None, "none", "flat"):
            values[key] = getattr(edit, key)
    _append(document, "way", values)


def _set_wall(document: tomlkit.TOMLDocument, edit: SetWall) -> list[str]:
    line = line_of(edit.cell, edit.side)
    others = [t for t in _tables(document, "wall") if line_of(t["cell"], str(t["side"])) != line]
    _keep(document, "wall", others)
    if edit.stands:
        _append(document, "wall", {"cell": list(edit.cell), "side": edit.side})
    return _pruned(document)


def _append(document: tomlkit.TOMLDocument, name: str, values: Mapping[str, Any]) -> None:
    table = tomlkit.table()
    for key, value in values.items():
        table.add(key, value)
    tables = document.get(name)
    if isinstance(tables, AoT):
        tables.append(table)
    else:
        fresh = tomlkit.aot()
        fresh.append(table)
        document.append(name, fresh)


def _set_title(document: tomlkit.TOMLDocument, edit: Title) -> None:
    rooms = document.get("rooms")
    if rooms is None:
        rooms = tomlkit.table()
        document["rooms"] = rooms
    if edit.title:
        rooms[edit.room] = edit.title
    elif edit.room in rooms:
        del rooms[edit.room]


def _set_measure(document: tomlkit.TOMLDocument, edit: SetMeasure) -> None:
    grid = document.get("grid")
    if grid is None:
        grid = tomlkit.table()
        document["grid"] = grid
    if edit.value.strip():
        grid[edit.key] = edit.value.strip()
    elif edit.key in grid:
        del grid[edit.key]
