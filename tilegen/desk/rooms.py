"""Whole rooms: moved, copied, turned, mirrored, resized, deleted, with all that is in them; halls between two."""

from __future__ import annotations

import itertools
import math
import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.desk.document import is_spot, number, outline_of
from tilegen.desk.sketch import Cell, Line, Sketch, beside, feature_cells, line_of, shape_cells, way_line
from tilegen.errors import InputError, RoomRef, Said
from tilegen.geometry import lines_of, polygons_of
from tilegen.lengths import counted
from tilegen.tiles.shape import SIDES, STEPS

# How near to a room's outline a way at a point is one of its own, in cells.
_NEAR = 0.05
Box = tuple[float, float, float, float]
Spot = Sequence[float]


@dataclass(frozen=True)
class Placing:
    """Where a plan's points go: quarter turns and mirrors as whole numbers (rows a b, c d), then x and y, in cells."""

    a: int = 1
    b: int = 0
    c: int = 0
    d: int = 1
    x: float = 0.0
    y: float = 0.0

    def point(self, spot: Spot) -> tuple[float, float]:
        """A point."""
        return self.a * spot[0] + self.b * spot[1] + self.x, self.c * spot[0] + self.d * spot[1] + self.y

    def cell(self, cell: Cell) -> Cell:
        """A cell (column, row from 1)."""
        x, y = self.point((cell[0] - 0.5, cell[1] - 0.5))
        return math.floor(x) + 1, math.floor(y) + 1

    def side(self, side: str) -> str:
        """A side of a cell."""
        dx, dy = STEPS[SIDES.index(side)]
        return SIDES[STEPS.index((self.a * dx + self.b * dy, self.c * dx + self.d * dy))]

    def on(self, grown: Cell) -> Placing:
        """The same of a drawing that has grown since."""
        west, north = grown
        x = self.x + west - self.a * west - self.b * north
        return replace(self, x=x, y=self.y + north - self.c * west - self.d * north)

    @property
    def turns(self) -> bool:
        """Whether what was wide is high."""
        return self.a == 0

    def form(self, table: Mapping[str, Any]) -> dict[str, Any]:
        """The form of a `[[shape]]` table."""
        if "circle" in table:
            return {"circle": {**table["circle"], "centre": _written(self.point(table["circle"]["centre"]))}}
        if "hall" in table:
            hall = table["hall"]
            return {"hall": {**hall, **{key: _written(self.point(hall[key])) for key in ("from", "to")}}}
        if "arc" in table:
            arc = table["arc"]
            north = self.a * 0 - self.b, -self.d
            first = math.degrees(math.atan2(north[0], -north[1]))
            ends = float(arc.get("from", 0)), float(arc.get("to", 360))
            mirrored = self.a * self.d - self.b * self.c < 0
            start, end = (first - ends[1], first - ends[0]) if mirrored else (first + ends[0], first + ends[1])
            around = 360 * math.floor(start / 360)
            placed = {"centre": _written(self.point(arc["centre"]))}
            return {"arc": {**arc, **placed, "from": number(start - around), "to": number(end - around)}}
        return {"polygon": [[*_written(self.point(corner)), *corner[2:]] for corner in table["polygon"]]}

    def way(self, table: Mapping[str, Any], spaces: int) -> dict[str, Any]:
        """The place of a `[[way]]` table."""
        if "cell" not in table:
            return {"at": _written(self.point(table["at"]))}
        side = str(table["side"])
        found: dict[str, Any] = {"cell": list(self.cell(table["cell"])), "side": self.side(side)}
        if "at" in table and not is_spot(table["at"]):
            level = side in ("north", "south")
            forward = (self.a + self.c if level else self.b + self.d) > 0
            found["at"] = number(table["at"] if forward else spaces - table["at"])
        return found

    def feature(self, table: Mapping[str, Any], spaces: int) -> dict[str, Any]:
        """The place and the direction of a `[[feature]]` table."""
        corners = self.cell(table["cell"]), self.cell(table.get("to", table["cell"]))
        first = [min(corner[k] for corner in corners) for k in (0, 1)]
        found: dict[str, Any] = {"cell": first}
        if "to" in table:
            found["to"] = [max(corner[k] for corner in corners) for k in (0, 1)]
        if "at" in table:
            at = self.point([table["cell"][k] - 1 + table["at"][k] / spaces for k in (0, 1)])
            found["at"] = [number((at[k] - first[k] + 1) * spaces) for k in (0, 1)]
        if self.turns and isinstance(table.get("size"), list):
            found["size"] = list(reversed(table["size"]))
        if "side" in table:
            found["side"] = self.side(table["side"])
        return found


def _written(spot: Spot) -> list[float]:
    return [number(v) for v in spot]


def feature_turned(table: Mapping[str, Any], spaces: int) -> dict[str, Any]:
    """A feature turned clockwise by a quarter where it is."""
    placed = Placing(0, -1, 1, 0).feature(table, spaces)
    return {**table, **{key: placed[key] for key in ("size", "side") if key in placed}}


class _Content:
    """What belongs to a room, by the numbers of the tables."""

    def __init__(self, sketch: Sketch, room: str) -> None:
        self.sketch, self.room = sketch, room
        self.cells, self.shapes = sketch.cells_of(room), sketch.shapes_of(room)
        if not (self.cells or self.shapes):
            raise InputError(Said("{} is not there any more", RoomRef(room)), cure="Choose it again")
        document = sketch.document
        self.outlines = [shape_cells(document.tables("shape")[k])[0] for k in self.shapes]
        self.ways = [k for k, table in enumerate(document.tables("way")) if self._has_way(table)]
        self.walls = [
            k
            for k, t in enumerate(document.tables("wall"))
            if set(sketch.rooms_beside(line_of(t["cell"], str(t["side"])))) == {room}
        ]
        self.features = [
            k
            for k, table in enumerate(document.tables("feature"))
            if {sketch.room_at(cell) for cell in feature_cells(table)} == {room}
        ]

    def _has_way(self, table: Mapping[str, Any]) -> bool:
        line = way_line(table)
        if line is not None:
            return self.room in self.sketch.rooms_beside(line)
        if table.get("room") == self.room:
            return True
        return any(o is not None and o.boundary.distance(Point(table["at"])) < _NEAR for o in self.outlines)

    @property
    def box(self) -> Box:
        """West, north, east and south, in cells."""
        bounds = [o.bounds for o in self.outlines if o is not None]
        bounds += [(c - 1, r - 1, c, r) for c, r in self.cells]
        return _bounds(bounds)

    def inside(self) -> list[int]:
        """The ways in walls within the room."""
        found = []
        for k in self.ways:
            line = way_line(self.sketch.document.tables("way")[k])
            if line is not None and set(self.sketch.rooms_beside(line)) == {self.room}:
                found.append(k)
        return found


def _bounds(boxes: Sequence[Sequence[float]]) -> Box:
    west, north, east, south = zip(*boxes, strict=True)
    return min(west), min(north), max(east), max(south)


def move(sketch: Sketch, room: str, by: Spot) -> None:
    """A room with all that is in it, and the doors in its walls."""
    found = _Content(sketch, room)
    dx, dy = (round(v) if found.cells else v for v in by)
    _carry(sketch, found, Placing(x=dx, y=dy))


def copy(sketch: Sketch, room: str, to: str, by: Spot) -> None:
    """The same once more, as another room, with the doors within it."""
    if sketch.cells_of(to) or sketch.shapes_of(to):
        raise InputError(Said("{} is there already", RoomRef(to)), cure="Use another letter")
    found = _Content(sketch, room)
    dx, dy = (round(v) if found.cells else v for v in by)
    _carry(sketch, found, Placing(x=dx, y=dy), to)


def turn(sketch: Sketch, room: str, quarters: int) -> None:
    """A room turned clockwise, its box's north-west corner where it was."""
    for _ in range(quarters % 4):
        found = _Content(sketch, room)
        west, north, _, south = _box_of(found)
        _carry(sketch, found, Placing(0, -1, 1, 0, west + south, north - west))


def mirror(sketch: Sketch, room: str, axis: str) -> None:
    """A room mirrored: along x its east becomes its west."""
    found = _Content(sketch, room)
    west, north, east, south = _box_of(found)
    _carry(sketch, found, Placing(a=-1, x=west + east) if axis == "x" else Placing(d=-1, y=north + south))


def _box_of(found: _Content) -> Box:
    """A room's box, of whole cells if it has any."""
    west, north, east, south = found.box
    if not found.cells:
        return west, north, east, south
    return math.floor(west), math.floor(north), math.ceil(east), math.ceil(south)


def _carry(sketch: Sketch, found: _Content, placing: Placing, to: str = "") -> None:
    """A room to another place, or a copy of it there."""
    room, document = found.room, sketch.document
    shapes = document.tables("shape")
    forms = [placing.form(shapes[k]) for k in found.shapes]
    cells = [placing.cell(cell) for cell in found.cells]
    boxes = [outline.bounds for form in forms if (outline := shape_cells({"room": room, **form})[0]) is not None]
    sketch.reach(_bounds([*boxes, *((c - 1, r - 1, c, r) for c, r in cells)]))
    if sketch.just_grown != (0, 0):
        placing = placing.on(sketch.just_grown)
        found = _Content(sketch, room)
        forms = [placing.form(sketch.document.tables("shape")[k]) for k in found.shapes]
        cells = [placing.cell(cell) for cell in found.cells]
    _check_free(sketch, cells, {".", *("" if to else room)})
    tables = {name: sketch.document.tables(name) for name in ("way", "wall", "feature")}
    joined = sketch.joined()
    ways = [(k, placing.way(tables["way"][k], sketch.spaces)) for k in (found.inside() if to else found.ways)]
    walls = [(k, placing.way(tables["wall"][k], sketch.spaces)) for k in found.walls]
    features = [(k, placing.feature(tables["feature"][k], sketch.spaces)) for k in found.features]
    if to:
        sketch.paint(dict.fromkeys(cells, to))
        for form in forms:
            sketch.document = sketch.document.plus("shape", {"room": to, **form})
        _add_copy(sketch, room, to, {"wall": walls, "way": ways, "feature": features})
        return
    for name, moved in (("wall", walls), ("feature", features)):
        for k, values in moved:
            sketch.document = sketch.document.changed(name, k, values)
    for k, form in zip(found.shapes, forms, strict=True):
        sketch.document = sketch.document.changed("shape", k, form)
    sketch.paint({**dict.fromkeys(found.cells, "."), **dict.fromkeys(cells, room)})
    sketch.prune(_settle_ways(sketch, ways, joined))


def _add_copy(sketch: Sketch, room: str, to: str, tables: Mapping[str, Sequence[tuple[int, dict[str, Any]]]]) -> None:
    """The tables of a room and its heights and styles once more."""
    for name, moved in tables.items():
        for k, values in moved:
            sketch.document = sketch.document.plus(name, {**sketch.document.tables(name)[k], **values})
    data = sketch.document.data
    for path in (["heights"], ["surface", "styles"], ["surface", "rooms"]):
        table: Any = data
        for key in path:
            table = table.get(key, {})
        value = table.get(room)
        for key, one in value.items() if isinstance(value, dict) else ():
            sketch.put([*path, to, key], one)
        if isinstance(value, str):
            sketch.put([*path, to], value)


def _check_free(sketch: Sketch, cells: Sequence[Cell], free: set[str]) -> None:
    """Refuse a place where another room is, saying whose."""
    taken = next((letter for cell in cells if (letter := sketch.letter_at(cell)) not in free), None)
    if taken is not None:
        raise InputError(Said("{} is there", RoomRef(taken)), cure="Put it on free ground")


def _settle_ways(sketch: Sketch, ways: Sequence[tuple[int, dict[str, Any]]], joined: Sequence[bool]) -> list[bool]:
    """Ways of a room that has moved: each with its wall, or where it was if only there it still joins two rooms.

    joined: of each way, whether it joined two rooms before. Returns that of the ways there are then.
    """
    tables = sketch.document.tables("way")
    mine = {k for k, _ in ways}
    taken = {way_line(table) for k, table in enumerate(tables) if k not in mine}
    for k, wanted in ways:
        values = wanted
        before = way_line(tables[k])
        if "cell" in wanted and before is not None:
            line = line_of(wanted["cell"], wanted["side"])
            lost = line in taken or (joined[k] and not sketch.joins(line))
            if lost and before not in taken and (not joined[k] or sketch.joins(before)):
                line, values = before, {}
            values = {**values, **_from_floor(sketch, line)}
            taken.add(line)
        sketch.document = sketch.document.changed("way", k, values)
    # Two on one line: the one that was there stays.
    seen = {way_line(table) for k, table in enumerate(tables) if k not in mine}
    twice = set()
    for k, table in enumerate(sketch.document.tables("way")):
        at = way_line(table)
        if k in mine and at is not None:
            twice |= {k} if at in seen else set()
            seen.add(at)
    sketch.document = sketch.document.without("way", twice)
    return [found for k, found in enumerate(joined) if k not in twice]


def _from_floor(sketch: Sketch, line: Line) -> dict[str, Any]:
    """A line as a side of a cell that is floor."""
    level = line[0]
    first, second = beside(line)
    if sketch.room_at(second) != ".":
        return {"cell": list(second), "side": "north" if level else "west"}
    return {"cell": list(first), "side": "south" if level else "east"}


# --- another size ---


def resize(sketch: Sketch, room: str, to: Sequence[float]) -> None:
    """A room in another box (west, north, width, height); doors stay, or go with their wall."""
    found = _Content(sketch, room)
    west, north, width, height = to
    if found.cells:
        west, north, width, height = round(west), round(north), max(1, round(width)), max(1, round(height))
    old = _box_of(found)
    scaling = _Scaling(old, (west, north, west + width, north + height))
    shapes = sketch.document.tables("shape")
    forms = [scaling.form(shapes[k]) for k in found.shapes]
    sketch.reach((west, north, west + width, north + height))
    grown = sketch.just_grown
    if grown != (0, 0):
        found, scaling = _Content(sketch, room), scaling.on(grown)
        forms = [scaling.form(sketch.document.tables("shape")[k]) for k in found.shapes]
    cells = scaling.cells(found.cells)
    _check_free(sketch, cells, {".", room})
    joined = sketch.joined()
    sides = [(k, _facing(sketch, room, line)) for k in found.ways if (line := _line_at(sketch, k)) is not None]
    features = {k: feature_cells(sketch.document.tables("feature")[k]) for k in found.features}
    sketch.paint({**dict.fromkeys(found.cells, "."), **dict.fromkeys(cells, room)})
    for k, form in zip(found.shapes, forms, strict=True):
        sketch.document = sketch.document.changed("shape", k, form)
    inside = set(cells)
    ways = [(k, _on_border(inside, cell, side)) for k, (cell, side) in sides]
    for k, under in features.items():
        if inside and not inside.issuperset(under):
            _push_inside(sketch, k, inside, under)
    still = _settle_ways(sketch, [(k, values) for k, values in ways if values], joined)
    sketch.prune(still)


@dataclass(frozen=True)
class _Scaling:
    """From one box to another (west, north, east, south)."""

    old: Box
    new: Box

    def on(self, grown: Cell) -> _Scaling:
        """The same of a drawing that has grown since."""
        west, north = grown
        return _Scaling(*((b[0] + west, b[1] + north, b[2] + west, b[3] + north) for b in (self.old, self.new)))

    @property
    def factors(self) -> tuple[float, float]:
        """How much wider and higher."""
        old, new = self.old, self.new
        return (new[2] - new[0]) / (old[2] - old[0]), (new[3] - new[1]) / (old[3] - old[1])

    def point(self, spot: Spot) -> tuple[float, float]:
        """A point."""
        across, down = self.factors
        return self.new[0] + (spot[0] - self.old[0]) * across, self.new[1] + (spot[1] - self.old[1]) * down

    def cells(self, cells: Sequence[Cell]) -> list[Cell]:
        """Cells: each of the new box is what lies at its middle in the old one."""
        across, down = self.factors
        known = set(cells)
        west, north, east, south = (round(v) for v in self.new)

        def was(column: int, row: int) -> Cell:
            x = self.old[0] + (column - 0.5 - self.new[0]) / across
            y = self.old[1] + (row - 0.5 - self.new[1]) / down
            return math.floor(x) + 1, math.floor(y) + 1

        every = ((c, r) for r in range(north + 1, south + 1) for c in range(west + 1, east + 1))
        return [cell for cell in every if was(*cell) in known]

    def form(self, table: Mapping[str, Any]) -> dict[str, Any]:
        """The form of a `[[shape]]` table; circles stay round, halls as wide as they are."""
        least = min(self.factors)
        if "circle" in table:
            circle = table["circle"]
            placed = {"centre": _written(self.point(circle["centre"])), "radius": number(circle["radius"] * least)}
            return {"circle": {**circle, **placed}}
        if "hall" in table:
            hall = table["hall"]
            return {"hall": {**hall, **{key: _written(self.point(hall[key])) for key in ("from", "to")}}}
        if "arc" in table:
            arc = table["arc"]
            placed = {"centre": _written(self.point(arc["centre"])), "radius": number(arc["radius"] * least)}
            return {"arc": {**arc, **placed}}
        return {
            "polygon": [
                [*_written(self.point(corner)), *(number(bow * least) for bow in corner[2:])]
                for corner in table["polygon"]
            ]
        }


def _line_at(sketch: Sketch, k: int) -> Line | None:
    return way_line(sketch.document.tables("way")[k])


def _facing(sketch: Sketch, room: str, line: Line) -> tuple[Cell, str]:
    """A line as a side of a cell of a room."""
    first, second = beside(line)
    if sketch.room_at(second) == room:
        return second, "north" if line[0] else "west"
    return first, "south" if line[0] else "east"


def _on_border(inside: set[Cell], cell: Cell, side: str) -> dict[str, Any]:
    """A side of a cell, where a room's border now is in that direction; nothing if there is none."""
    dx, dy = STEPS[SIDES.index(side)]
    if not inside:
        return {}
    columns, rows = [c for c, _ in inside], [r for _, r in inside]
    column = min(max(cell[0], min(columns)), max(columns))
    row = min(max(cell[1], min(rows)), max(rows))
    line = [(c, r) for c, r in inside if (r == row if dx else c == column)]
    edge = [at for at in line if (at[0] + dx, at[1] + dy) not in inside]
    if not edge:
        return {}
    nearest = min(edge, key=lambda at: abs(at[0] - cell[0]) + abs(at[1] - cell[1]))
    return {"cell": list(nearest), "side": side}


def _push_inside(sketch: Sketch, k: int, inside: set[Cell], under: Sequence[Cell]) -> None:
    """A feature whose floor has gone, on the nearest floor of its room that takes it."""
    first = under[0]
    steps = sorted(((c - first[0], r - first[1]) for c, r in inside), key=lambda step: abs(step[0]) + abs(step[1]))
    for dx, dy in steps:
        if inside.issuperset((c + dx, r + dy) for c, r in under):
            values = Placing(x=dx, y=dy).feature(sketch.document.tables("feature")[k], sketch.spaces)
            sketch.document = sketch.document.changed("feature", k, values)
            return


# --- away ---


def delete(sketch: Sketch, room: str) -> None:
    """A room with all that is in it and the doors in its walls."""
    found = _Content(sketch, room)
    document = sketch.document
    for table, numbers in (("way", found.ways), ("wall", found.walls), ("feature", found.features)):
        document = document.without(table, numbers)
    sketch.document = document.without("shape", found.shapes)
    sketch.paint(dict.fromkeys(found.cells, "."))
    before = len(sketch.said)
    sketch.prune()
    del sketch.said[before:]
    doors = f" with {counted(len(found.ways), 'door')}" if found.ways else ""
    sketch.said.append(Said("{} deleted{}", RoomRef(room), doors))


# --- halls ---


def hall(sketch: Sketch, start: Spot, end: Spot, width: float, room: str | None) -> None:
    """A hall between two points, cut off at the walls that it meets and opened there."""
    letter = room or free_letter(sketch)
    level, upright = abs(end[1] - start[1]) < _LEVEL, abs(end[0] - start[0]) < _LEVEL
    if math.dist(start, end) < _LEVEL:
        raise InputError("a hall needs two ends", cure="Drag from one end to the other")
    rows = _rooms_near(sketch, LineString([start, end]).buffer(max(width, 1) / 2))
    round_ = any(sketch.shapes_of(letter_) for letter_ in rows)
    if (level or upright) and width >= _LEVEL and not round_:
        _hall_of_cells(sketch, start, end, max(1, round(width)), letter, level=level)
    else:
        _slanting_hall(sketch, start, end, width, letter)


# So far what is written with four digits keeps off a curve, in cells.
_CLEAR = 2e-4
# Half of the usual doorway, in thicknesses of a wall.
_HALF_WAY = 2.5
# What stays beside a mitre, in thicknesses of a wall.
_LEANS = 0.25
# A turn by more than this is a corner of a wall, rad.
_CORNER = math.radians(40)
# Less than this across is straight, in cells.
_LEVEL = 0.5
_LETTERS = string.ascii_uppercase + string.ascii_lowercase + string.digits


def free_letter(sketch: Sketch) -> str:
    """A letter that no room has."""
    used = set("".join(sketch.document.rows)) | {str(t.get("room")) for t in sketch.document.tables("shape")}
    every = itertools.chain(_LETTERS, (chr(code) for code in range(0xC0, 0x2000) if chr(code).isalpha()))
    return next(letter for letter in every if letter not in used)


def _hall_of_cells(sketch: Sketch, start: Spot, end: Spot, width: int, letter: str, *, level: bool) -> None:
    """A straight hall as cells: the free ones between the rooms at its ends, open to these."""
    along, across = (0, 1) if level else (1, 0)
    first, last = sorted((start[along], end[along]))
    side = (start[across] + end[across]) / 2 - width / 2
    lane = range(round(side) + 1, round(side) + 1 + width)
    line = range(math.floor(first) + 1, math.floor(last - 1e-9) + 2)
    rooms_at = {at: {sketch.room_at(_cell(at, beside_, level=level)) for beside_ in lane} for at in line}
    free = [at for at in line if rooms_at[at] == {"."}]
    if not free:
        raise InputError("there is no free ground between the two ends", cure="Drag over ground from room to room")
    # The longest run of free ground: a hall goes from one room to the next.
    runs = [[at] for at in free[:1]]
    for at in free[1:]:
        if at == runs[-1][-1] + 1:
            runs[-1].append(at)
        else:
            runs.append([at])
    run = max(runs, key=len)
    cells = [_cell(at, beside_, level=level) for at in run for beside_ in lane]
    sketch.paint(dict.fromkeys(cells, letter))
    west, north = sketch.just_grown
    cells = [(c + west, r + north) for c, r in cells]
    for cell in cells:
        for name in ("west", "east") if level else ("north", "south"):
            dx, dy = STEPS[SIDES.index(name)]
            other = sketch.room_at((cell[0] + dx, cell[1] + dy))
            if other not in (".", letter) and line_of(cell, name) not in {
                way_line(t) for t in sketch.document.tables("way")
            }:
                sketch.document = sketch.document.plus("way", {"cell": list(cell), "side": name, "kind": "open"})


def _cell(along: int, across: int, *, level: bool) -> Cell:
    return (along, across) if level else (across, along)


def _slanting_hall(sketch: Sketch, start: Spot, end: Spot, width: float, letter: str) -> None:
    """A hall at an angle, as a polygon whose ends lie in the walls that it meets."""
    length = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    half = width / 2
    sides = [(start, half), (end, half), (end, -half), (start, -half)]
    strip = Polygon([(x - uy * off, y + ux * off) for (x, y), off in sides])
    near = _rooms_near(sketch, strip)
    # Into a room with an outline of its own it leads without a wall: chords of its curve are nobody's to follow.
    shaped = {str(table["room"]) for table in sketch.document.tables("shape")} & set(near)
    joined = next((letter for letter in sorted(shaped) if near[letter].distance(Point(end)) < _NEAR), None)
    joined = joined or next((letter for letter in sorted(shaped) if near[letter].distance(Point(start)) < _NEAR), None)
    own = near.pop(joined) if joined else Polygon()
    letter = joined or letter
    free = strip.difference(shapely.union_all(list(near.values()))) if near else strip
    parts = sorted(polygons_of(free), key=lambda part: -part.difference(own).area)
    if not parts or parts[0].difference(own).area < _LEVEL * half:
        raise InputError("there is no free ground between the two ends", cure="Drag over ground from room to room")
    corners = [(number(x), number(y)) for x, y in shapely.get_coordinates(parts[0].exterior)[:-1].tolist()]
    form = {"polygon": [list(corner) for corner in corners]}
    sketch.hold(form)
    west, north = sketch.just_grown
    placed = Placing(x=west, y=north)
    sketch.document = sketch.document.plus("shape", {"room": letter, **placed.form(form)})
    middle = LineString([start, end])
    for other, floor in near.items():
        # Its end may lie along two walls, round a corner: each stretch of wall is looked at by itself.
        shared = lines_of(shapely.line_merge(parts[0].exterior.intersection(floor.buffer(_NEAR / 5))))
        stretches = [stretch for line in shared for stretch in _between_corners(line)]
        places = [_place_in(stretch, corners, sketch.wall, middle) for stretch in stretches]
        clear, spot = max(places, key=lambda place: place[0], default=(0.0, start))
        if clear > sketch.wall:
            at = _written(placed.point(spot))
            sketch.document = sketch.document.plus("way", {"room": letter, "at": at, "kind": "open"})
        elif any(floor.distance(Point(one)) < _NEAR for one in (start, end)):
            raise InputError(
                Said("this hall meets {} at a corner, where its wall has no room for a way in", RoomRef(other)),
                cure="End the hall further along the wall",
            )


def _between_corners(line: LineString) -> list[LineString]:
    """A line in parts that turn nowhere by more than the chords of a curve do."""
    corners = list(line.coords)
    parts = [corners[:1]]
    for k in range(1, len(corners)):
        parts[-1].append(corners[k])
        if k + 1 < len(corners):
            (a, b), (c, d) = (
                (after[0] - before[0], after[1] - before[1])
                for before, after in itertools.pairwise(corners[k - 1 : k + 2])
            )
            if abs(math.atan2(a * d - b * c, a * c + b * d)) > _CORNER:
                parts.append([corners[k]])
    return [LineString(part) for part in parts]


def _place_in(
    stretch: LineString, corners: Sequence[Spot], wall: float, middle: LineString
) -> tuple[float, tuple[float, float]]:
    """How wide an opening a stretch of a hall's outline takes, and the place for one.

    corners: of the outline. The place is where the hall's middle meets the stretch, or along it from there to where the
    walls round its ends leave room: each reaches in as far as the mitre of both goes, one thickness at least.
    """
    reach = []
    for end in (stretch.coords[0], stretch.coords[-1]):
        k = min(range(len(corners)), key=lambda n: math.dist(corners[n], end))
        (a, b), (c, d) = (
            (corners[n][0] - corners[k][0], corners[n][1] - corners[k][1]) for n in (k - 1, k + 1 - len(corners))
        )
        turn = math.pi - math.atan2(abs(a * d - b * c), a * c + b * d)
        reach.append(wall * (max(1.0, math.tan(turn / 2)) + _LEANS))
    clear = stretch.length - sum(reach)
    jamb = min(clear / 2, _HALF_WAY * wall)
    met = stretch.project(shapely.shortest_line(stretch, middle).interpolate(0))
    spot = stretch.interpolate(min(max(met, reach[0] + jamb), reach[0] + clear - jamb))
    return clear, (spot.x, spot.y)


def _rooms_near(sketch: Sketch, area: Polygon) -> dict[str, BaseGeometry]:
    """The floor of each room that an area meets, in cells."""
    parts: dict[str, list[BaseGeometry]] = {}
    west, north, east, south = area.bounds
    for row in range(math.floor(north), math.ceil(south) + 2):
        for column in range(math.floor(west), math.ceil(east) + 2):
            letter = sketch.letter_at((column, row))
            if letter != ".":
                parts.setdefault(letter, []).append(box(column - 1, row - 1, column, row))
    for table in sketch.document.tables("shape"):
        outline = outline_of(table, sketch.cell_mm)
        if outline is not None and outline.intersects(area):
            parts.setdefault(str(table["room"]), []).append(outline.buffer(_CLEAR, join_style="mitre"))
    return {letter: shapely.union_all(found) for letter, found in parts.items()}
