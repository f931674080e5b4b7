"""A plan as tomlkit keeps it: its tables, the shapes, ways and features that edits add, and what these leave behind."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Literal

import tomlkit
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator
from shapely.affinity import scale
from shapely.geometry import Polygon, box
from tomlkit.items import AoT, Array

from tilegen.errors import InputError, TilegenError
from tilegen.files.plans import drawn_shapes
from tilegen.files.tables import ShapeTable
from tilegen.plans.shapes import polygon_of
from tilegen.plans.ways import WAYS, PointWayWord
from tilegen.tiles.features import FEATURE_KEYS, FEATURES

# Outlines are made at this size of a cell in mm, then told in cells.
_CELL = 100.0
_TOUCHING = 1e-6
_DIGITS = 4
_Text = Annotated[str, Field(max_length=40)]
_Cells = Annotated[float, Field(ge=-10_000, le=10_000, allow_inf_nan=False, strict=True)]
_Span = Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False, strict=True)]
_Whole = Annotated[int, Field(strict=True, ge=-10_000, le=10_000)]
_Index = Annotated[int, Field(strict=True, ge=0, le=100_000)]
_Spot = tuple[_Cells, _Cells]
_Room = Annotated[str, Field(min_length=1, max_length=1)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class CircleOf(_Part):
    """A circle, in cells from the drawing's top left corner, y down."""

    centre: _Spot
    radius: _Span


class HallOf(_Part):
    """A straight hall from the middle of one end to the middle of the other, in cells."""

    start: _Spot
    end: _Spot
    width: _Span


class Shape(_Part):
    """A shape that becomes part of a room: one of circle, hall, and polygon (its corners)."""

    do: Literal["shape"]
    room: _Room
    circle: CircleOf | None = None
    hall: HallOf | None = None
    polygon: Annotated[list[_Spot], Field(min_length=3, max_length=500)] | None = None

    @model_validator(mode="after")
    def _one_form(self) -> Shape:
        if sum(form is not None for form in (self.circle, self.hall, self.polygon)) != 1:
            raise ValueError("a shape is one of circle, hall and polygon")
        return self


class ShapeAway(_Part):
    """One shape less, by its number from 0."""

    do: Literal["shape-away"]
    index: _Index


class PointWay(_Part):
    """A way through the outline of a room's shape, at a point near it, in cells."""

    do: Literal["point-way"]
    room: _Room
    at: _Spot
    kind: PointWayWord
    head: Literal["flat", "round"] | None = None
    width: _Text = ""
    height: _Text = ""


class WayAway(_Part):
    """One way less, by its number from 0."""

    do: Literal["way-away"]
    index: _Index


def _known_feature(kind: str) -> str:
    if kind not in FEATURES:
        raise ValueError(f"a feature is one of {', '.join(FEATURES)}")
    return kind


def _known_key(key: str) -> str:
    if key not in FEATURE_KEYS:
        raise ValueError(f"the keys of a feature are {', '.join(FEATURE_KEYS)}")
    return key


class Feature(_Part):
    """A feature on a cell or on all from `cell` to `to`.

    at: its centre in spaces from the north-west corner of the first cell. size: one length, or
    two: west to east, north to south. values: its other keys.
    """

    do: Literal["feature"]
    kind: Annotated[str, AfterValidator(_known_feature)]
    cell: tuple[_Whole, _Whole]
    to: tuple[_Whole, _Whole] | None = None
    at: _Spot | None = None
    size: Annotated[list[_Text], Field(max_length=2)] = []
    values: dict[Annotated[str, AfterValidator(_known_key)], bool | _Whole | _Text] = {}


class FeatureAway(_Part):
    """One feature less, by its number from 0."""

    do: Literal["feature-away"]
    index: _Index


def outline_of(table: Mapping[str, Any]) -> Polygon | None:
    """The outline of a `[[shape]]` table in cells, y down; None if it is none that can be drawn."""
    try:
        plain = table.unwrap() if hasattr(table, "unwrap") else dict(table)
        (drawn,) = drawn_shapes([ShapeTable.model_validate(plain)])
        return scale(polygon_of(drawn, _CELL), 1 / _CELL, 1 / _CELL, origin=(0, 0))
    except (TilegenError, ValidationError, ValueError):
        return None


class Reach:
    """Where a plan's shapes lie, as far as known; one that can't be drawn may lie anywhere."""

    def __init__(self, document: tomlkit.TOMLDocument) -> None:
        found = tables(document, "shape")
        self.rooms = {str(table.get("room", "")) for table in found}
        self.outlines = [outline_of(table) for table in found]

    def may_cover(self, cell: tuple[int, int]) -> bool:
        """Whether a part of a cell (column, row from 1) may be the floor of a shape."""
        column, row = cell
        square = box(column - 1, row - 1, column, row)
        return any(o is None or o.intersection(square).area > _TOUCHING for o in self.outlines)


def wrong_room(room: str, place: str) -> InputError:
    """A room that a drawing can't have."""
    return InputError(f'"{room}" can\'t be a room', cure="Use a letter or a digit", place=place)


def shape_values(edit: Shape) -> dict[str, Any]:
    """What a shape's table holds.

    Raises:
        InputError: the room is no letter or digit.
    """
    if not edit.room.isalnum():
        raise wrong_room(edit.room, "[[shape]]")
    values: dict[str, Any] = {"room": edit.room}
    if edit.circle is not None:
        values["circle"] = _inline(centre=_spot(edit.circle.centre), radius=_number(edit.circle.radius))
    elif edit.hall is not None:
        start, end = _spot(edit.hall.start), _spot(edit.hall.end)
        values["hall"] = _inline(**{"from": start, "to": end, "width": _number(edit.hall.width)})
    else:
        values["polygon"] = [_spot(corner) for corner in edit.polygon or []]
    return values


def room_for(values: Mapping[str, Any], columns: int, rows: int) -> tuple[int, int, int, int]:
    """Cells that a drawing must grow by to the west, north, east and south to hold a shape.

    Raises:
        InputError: the shape is no outline.
    """
    outline = outline_of(values)
    if outline is None:
        raise InputError("the shape has no area, or its sides cross", cure="Draw it larger, or its corners in order")
    west, north, east, south = outline.bounds
    over = (-west, -north, east - columns, south - rows)
    return tuple(max(0, math.ceil(v - _TOUCHING)) for v in over)  # type: ignore[return-value]


def add_way(document: tomlkit.TOMLDocument, edit: PointWay) -> None:
    """Write a way through an outline."""
    values: dict[str, Any] = {"room": edit.room, "at": _spot(edit.at), "kind": edit.kind}
    for key in [key for key in ("width", "height", "head") if key in WAYS[edit.kind].takes]:
        if getattr(edit, key) not in (None, "", "flat"):
            values[key] = getattr(edit, key)
    append(document, "way", values)


def add_feature(document: tomlkit.TOMLDocument, edit: Feature) -> None:
    """Write a feature, with only the keys that were given."""
    values: dict[str, Any] = {"kind": edit.kind, "cell": list(edit.cell)}
    if edit.to is not None and edit.to != edit.cell:
        first = [min(a, b) for a, b in zip(edit.cell, edit.to, strict=True)]
        values["cell"], values["to"] = first, [max(a, b) for a, b in zip(edit.cell, edit.to, strict=True)]
    if edit.at is not None:
        values["at"] = [round(float(v), _DIGITS) for v in edit.at]
    size = [text.strip() for text in edit.size if text.strip()]
    if size:
        values["size"] = size if len(size) > 1 else size[0]
    said = {key: value.strip() if isinstance(value, str) else value for key, value in edit.values.items()}
    values |= {key: value for key, value in said.items() if value not in ("", False)}
    append(document, "feature", values)


def shift(document: tomlkit.TOMLDocument, west: int, north: int) -> None:
    """All that has a place keeps it where the drawing grows to the west or north, by so many cells."""
    if not (west or north):
        return
    for name in ("way", "wall", "feature"):
        for table in tables(document, name):
            for key in ("cell", "to"):
                if key in table:
                    table[key] = [int(table[key][0]) + west, int(table[key][1]) + north]
    for table in tables(document, "way"):
        if "cell" not in table and _is_spot(table.get("at")):
            table["at"] = _moved(table["at"], west, north)
    for table in tables(document, "shape"):
        for form, keys in (("circle", ["centre"]), ("arc", ["centre"]), ("hall", ["from", "to"])):
            for key in keys:
                if form in table and _is_spot(table[form].get(key)):
                    table[form][key] = _moved(table[form][key], west, north)
        for index, corner in enumerate(table.get("polygon", [])):
            table["polygon"][index] = [*_moved(corner[:2], west, north), *corner[2:]]


def _is_spot(value: object) -> bool:
    return isinstance(value, list) and len(value) >= len(("x", "y"))


def _moved(spot: Sequence[Any], west: int, north: int) -> list[float]:
    return [_number(spot[0] + west), _number(spot[1] + north)]


def _inline(**values: Any) -> Any:  # noqa: ANN401 - plain values into an item of tomlkit
    table = tomlkit.inline_table()
    table.update(values)
    return table


def _spot(spot: Sequence[float]) -> list[float]:
    return [_number(v) for v in spot]


def _number(value: float) -> float:
    """Rounded, and whole numbers as such."""
    found = round(value, _DIGITS)
    return int(found) if found == int(found) else found


Line = tuple[bool, int, int]


def rows_of(document: Mapping[str, Any]) -> list[str]:
    """The drawing's rows, blanks between cells left out, all of one length."""
    rows = [row for row in ("".join(raw.split()) for raw in str(document["drawing"]).splitlines()) if row]
    width = max(map(len, rows), default=1)
    return [row.ljust(width, ".") for row in rows] or ["."]


def line_of(cell: Sequence[int], side: str) -> Line:
    """One name for the line at a cell's side, the same from both cells."""
    column, row = int(cell[0]), int(cell[1])
    if side in ("north", "south"):
        return True, column, row + (side == "south")
    return False, column + (side == "east"), row


def way_line(table: Mapping[str, Any]) -> Line | None:
    """The line of a way by cell and side; None of one by room and point."""
    return line_of(table["cell"], str(table["side"])) if "cell" in table and "side" in table else None


def _beside(line: Line) -> tuple[tuple[int, int], tuple[int, int]]:
    level, column, row = line
    return (column, row - 1) if level else (column - 1, row), (column, row)


def _rooms_beside(rows: Sequence[str], line: Line) -> tuple[str, str]:
    first, second = _beside(line)
    return room_at(rows, first), room_at(rows, second)


def room_at(rows: Sequence[str], cell: tuple[int, int]) -> str:
    """The letter of a cell (column, row from 1); beyond the drawing it is solid ground."""
    column, row = cell
    return rows[row - 1][column - 1] if 1 <= row <= len(rows) and 1 <= column <= len(rows[0]) else "."


def pruned(document: tomlkit.TOMLDocument) -> list[str]:
    """Take away what has lost its line, its floor or its room; say so.

    Only what is certain: beside a cell that a shape may cover nothing is judged.
    """
    still = _Standing(document)
    gone = {}
    for name, stays in (("wall", still.wall), ("way", still.way), ("feature", still.feature)):
        kept = [table for table in tables(document, name) if stays(table)]
        gone[name] = len(tables(document, name)) - len(kept)
        keep(document, name, kept)
    for name, key in (("title", "rooms"), ("height", "heights")):
        lost = [letter for letter in document.get(key, {}) if letter not in still.letters]
        for letter in lost:
            del document[key][letter]
        gone[name] = len(lost)
    return [f"{number} {name}{'s' if number > 1 else ''} removed" for name, number in gone.items() if number]


class _Standing:
    """What of a document's tables still has its place; walls are to be asked about before ways."""

    def __init__(self, document: tomlkit.TOMLDocument) -> None:
        self.rows, self.reach = rows_of(document), Reach(document)
        self.letters = set("".join(self.rows)) - {"."} | self.reach.rooms
        self.walls: set[Line] = set()

    def _known(self, line: Line) -> bool:
        return all(self._covered(cell) is not None for cell in _beside(line))

    def _covered(self, cell: tuple[int, int]) -> bool | None:
        """Whether a cell is floor; None where a shape may make it so."""
        if room_at(self.rows, cell) != ".":
            return True
        return None if self.reach.may_cover(cell) else False

    def wall(self, table: Mapping[str, Any]) -> bool:
        """An extra wall: within a room."""
        line = line_of(table["cell"], str(table["side"]))
        first, second = _rooms_beside(self.rows, line)
        stays = first == second != "." or not self._known(line)
        if stays:
            self.walls.add(line)
        return stays

    def way(self, table: Mapping[str, Any]) -> bool:
        """A way: through a wall, a loose piece not into solid ground."""
        line = way_line(table)
        if line is None:
            return "at" not in table or "room" not in table or str(table["room"]) in self.reach.rooms
        if not self._known(line):
            return True
        first, second = _rooms_beside(self.rows, line)
        kind = WAYS.get(str(table["kind"]))
        if "." in (first, second) and kind is not None and kind.loose:
            return False
        return first != second or line in self.walls

    def feature(self, table: Mapping[str, Any]) -> bool:
        """A feature: on floor."""
        (west, north), (east, south) = table["cell"], table.get("to", table["cell"])
        cells = [(c, r) for r in range(int(north), int(south) + 1) for c in range(int(west), int(east) + 1)]
        return all(self._covered(cell) is not False for cell in cells)


def tables(document: tomlkit.TOMLDocument, name: str) -> list[Any]:
    """The `[[name]]` tables of a plan, or those of `name = [{...}]`, in order."""
    found = document.get(name)
    return list(found) if isinstance(found, (AoT, Array)) else []


def keep(document: tomlkit.TOMLDocument, name: str, kept: Sequence[Any]) -> None:
    """Take away all `[[name]]` tables but these."""
    found = document.get(name)
    if not isinstance(found, (AoT, Array)) or len(kept) == len(found):
        return
    if not kept:
        del document[name]
        return
    for index in range(len(found) - 1, -1, -1):
        if not any(found[index] is table for table in kept):
            del found[index]


def remove(document: tomlkit.TOMLDocument, name: str, index: int) -> Any:  # noqa: ANN401 - a table of tomlkit
    """Take away one of the `[[name]]` tables, counted from 0; the table.

    Raises:
        InputError: there are not so many.
    """
    found = tables(document, name)
    if not 0 <= index < len(found):
        raise InputError(f"there is no [[{name}]] {index + 1}", cure="Reload the page: the plan has changed")
    keep(document, name, found[:index] + found[index + 1 :])
    return found[index]


def append(document: tomlkit.TOMLDocument, name: str, values: Mapping[str, Any]) -> None:
    """Add one `[[name]]` table behind the others."""
    found = document.get(name)
    table = tomlkit.inline_table() if isinstance(found, Array) else tomlkit.table()
    table.update(values)
    if isinstance(found, (AoT, Array)):
        found.append(table)
    else:
        fresh = tomlkit.aot()
        fresh.append(table)
        document.append(name, fresh)
