"""A plan while edits are made to it: which floor is whose, room for what is drawn, and what edits leave behind."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from shapely.geometry import Polygon, box

from tilegen.desk.document import Document, outline_of
from tilegen.errors import InputError
from tilegen.lengths import counted, parse_length
from tilegen.model.grid import Grid
from tilegen.plans.ways import WAYS
from tilegen.tiles.shape import SIDES

MOST_ACROSS = 200
_TOUCHING = 1e-6
Cell = tuple[int, int]
# Whether it runs from west to east, then the column and row (from 1) of the cell south or east of it.
Line = tuple[bool, int, int]


def line_of(cell: Sequence[int], side: str) -> Line:
    """One name for the line at a cell's side, the same from both cells."""
    column, row = int(cell[0]), int(cell[1])
    if side in ("north", "south"):
        return True, column, row + (side == "south")
    return False, column + (side == "east"), row


def way_line(table: Mapping[str, Any]) -> Line | None:
    """The line of a way by cell and side; None of one by room and point."""
    return line_of(table["cell"], str(table["side"])) if "cell" in table and "side" in table else None


def beside(line: Line) -> tuple[Cell, Cell]:
    """The cells north and south, or west and east, of a line."""
    level, column, row = line
    return (column, row - 1) if level else (column - 1, row), (column, row)


def opposite(side: str) -> str:
    """The side across a cell."""
    return SIDES[(SIDES.index(side) + 2) % 4]


@lru_cache(maxsize=500)
def _shape_cells(form: _Frozen) -> tuple[Polygon | None, dict[Cell, float]]:
    outline = outline_of(form.table)
    if outline is None:
        return None, {}
    west, north, east, south = outline.bounds
    shares = {}
    for row in range(math.floor(north) + 1, math.ceil(south) + 1):
        for column in range(math.floor(west) + 1, math.ceil(east) + 1):
            share = outline.intersection(box(column - 1, row - 1, column, row)).area
            if share > _TOUCHING:
                shares[column, row] = share
    return outline, shares


class _Frozen:
    """A table as a part of a key: two of equal words are equal."""

    def __init__(self, key: str, table: Mapping[str, Any]) -> None:
        self.key, self.table = key, table

    def __hash__(self) -> int:
        return hash(self.key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Frozen) and other.key == self.key


def shape_cells(table: Mapping[str, Any]) -> tuple[Polygon | None, dict[Cell, float]]:
    """The outline of a `[[shape]]` table, and the share of each cell that it has; None: none that can be drawn."""
    return _shape_cells(_Frozen(repr(sorted(table.items())), table))


class Sketch:
    """A plan while edits are made. said: what goes because of them; grown: cells added to the west and north."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.said: list[str] = []
        self.grown = (0, 0)
        self.just_grown = (0, 0)
        self._shares: tuple[Document | None, dict[Cell, tuple[float, str]], set[Cell]] = (None, {}, set())

    # --- what is there ---

    @property
    def spaces(self) -> int:
        """Spaces along a side of a cell."""
        data = self.document.data
        spaces = data.get("grid", {}).get("spaces", Grid().spaces)
        return 1 if data.get("scale") == "5 ft" else int(spaces)

    @property
    def cell_mm(self) -> float:
        """The side of a cell, mm; the usual one if the plan's own can't be read."""
        pitch = self.document.data.get("grid", {}).get("pitch", Grid().pitch)
        try:
            return self.spaces * parse_length(pitch)
        except InputError:
            return self.spaces * Grid().pitch

    @property
    def wall(self) -> float:
        """The thickness of a wall, in cells; the usual one if the plan's own can't be read."""
        try:
            return parse_length(self.document.data.get("grid", {})["wall_thickness"]) / self.cell_mm
        except (InputError, KeyError):
            return Grid().wall_thickness / self.cell_mm

    def table(self, name: str, index: int) -> dict[str, Any]:
        """One of the tables of a name.

        Raises:
            InputError: there are not so many.
        """
        found = self.document.tables(name)
        if not 0 <= index < len(found):
            raise InputError(f"this {name} is not there any more", cure="Choose it again")
        return found[index]

    def letter_at(self, cell: Cell) -> str:
        """The letter drawn in a cell (column, row from 1); beyond the drawing it is solid ground."""
        rows, (column, row) = self.document.rows, cell
        return rows[row - 1][column - 1] if 1 <= row <= len(rows) and 1 <= column <= len(rows[0]) else "."

    def room_at(self, cell: Cell) -> str:
        """The room of a cell: its letter, else the shape that has most of it, if that is any."""
        letter = self.letter_at(cell)
        return letter if letter != "." else self._covered()[0].get(cell, (0.0, "."))[1]

    def rooms_beside(self, line: Line) -> tuple[str, str]:
        """What is on both sides of a line."""
        first, second = beside(line)
        return self.room_at(first), self.room_at(second)

    def joins(self, line: Line) -> bool:
        """Whether a line lies between two rooms."""
        first, second = self.rooms_beside(line)
        return first != second and "." not in (first, second)

    def _covered(self) -> tuple[dict[Cell, tuple[float, str]], set[Cell]]:
        """The shape that has most of each cell, and the cells that shapes have only a part of."""
        document, best, parts = self._shares
        if document is not self.document:
            best, parts = {}, set()
            for table in self.document.tables("shape"):
                for cell, share in shape_cells(table)[1].items():
                    best[cell] = max(best.get(cell, (0.0, "")), (share, str(table.get("room", ""))))
                    if share < 1 - _TOUCHING:
                        parts.add(cell)
            self._shares = (self.document, best, parts)
        return best, parts

    def cells_of(self, room: str) -> list[Cell]:
        """The cells that bear a room's letter."""
        rows = self.document.rows
        return [(c, r) for r, row in enumerate(rows, 1) if room in row for c, at in enumerate(row, 1) if at == room]

    def shapes_of(self, room: str) -> list[int]:
        """The numbers of a room's shapes."""
        return [k for k, table in enumerate(self.document.tables("shape")) if table.get("room") == room]

    # --- what changes ---

    def put(self, path: Sequence[str], value: Any) -> None:  # noqa: ANN401 - any value of TOML
        """A key of a table of which there is one; None or an empty text takes it away."""
        self.document = self.document.put(path, None if value == "" else value)

    def paint(self, cells: Mapping[Cell, str]) -> None:
        """Letters in cells; the drawing grows as far as rooms reach."""
        floor = [cell for cell, letter in cells.items() if letter != "."]
        if floor:
            columns, lines = zip(*floor, strict=True)
            self.reach((min(columns) - 1, min(lines) - 1, max(columns), max(lines)))
            west, north = self.just_grown
        else:
            west = north = 0
        rows = [list(row) for row in self.document.rows]
        for (column, row), letter in cells.items():
            x, y = column + west - 1, row + north - 1
            if 0 <= y < len(rows) and 0 <= x < len(rows[0]):
                rows[y][x] = letter
        self.document = self.document.with_rows(["".join(row) for row in rows])

    def hold(self, form: Mapping[str, Any]) -> None:
        """Room for a shape.

        Raises:
            InputError: it is no outline.
        """
        outline = shape_cells({"room": "A", **form})[0]
        if outline is None:
            raise InputError(
                "the shape has no area, or its sides cross", cure="Draw it larger, or its corners in order"
            )
        self.reach(outline.bounds)

    def reach(self, bounds: Sequence[float]) -> None:
        """Let the drawing grow so that it holds a box: west, north, east and south, in cells.

        Raises:
            InputError: it would be larger than the page shows.
        """
        rows = self.document.rows
        over = (-bounds[0], -bounds[1], bounds[2] - len(rows[0]), bounds[3] - len(rows))
        west, north, east, south = (max(0, math.ceil(v - _TOUCHING)) for v in over)
        self.just_grown = (west, north)
        if not any((west, north, east, south)):
            return
        width = len(rows[0]) + west + east
        if max(width, len(rows) + north + south) > MOST_ACROSS:
            raise InputError(
                f"the plan would be more than {MOST_ACROSS} squares across",
                cure="Draw it closer to the rest; larger plans are written in a text editor",
            )
        body = ["." * west + row + "." * east for row in rows]
        grown = ["." * width] * north + body + ["." * width] * south
        self.document = self.document.shifted(west, north).with_rows(grown)
        self.grown = self.grown[0] + west, self.grown[1] + north

    # --- what is left behind ---

    def joined(self) -> list[bool]:
        """Of each way, whether it joins two rooms now."""
        lines = [way_line(table) for table in self.document.tables("way")]
        return [line is not None and self.joins(line) for line in lines]

    def prune(self, joined: Sequence[bool] = ()) -> dict[str, int]:
        """Take away what has lost its line, its floor or its room, and say so.

        Only what is certain: beside a cell that a shape may cover nothing is judged. joined: of each way, whether it
        joined two rooms before; such a one is no way into solid ground. Returns how many of each went.
        """
        gone: dict[str, int] = {}
        walls: set[Line] = set()
        for name, stays in (("wall", self._wall_stays), ("way", self._way_stays), ("feature", self._feature_stays)):
            lost = [
                k
                for k, table in enumerate(self.document.tables(name))
                if not stays(table, walls, name == "way" and k < len(joined) and joined[k])
            ]
            self.document = self.document.without(name, lost)
            gone[name] = len(lost)
        letters = set("".join(self.document.rows)) - {"."}
        letters |= {str(table.get("room", "")) for table in self.document.tables("shape")}
        for name, path in (("title", ["rooms"]), ("height", ["heights"]), ("", ["surface", "styles"]), ("", _FLOORS)):
            table: Any = self.document.data
            for key in path:
                table = table.get(key, {})
            missing = [letter for letter in table if letter not in letters]
            for letter in missing:
                self.put([*path, letter], None)
            gone[name] = gone.get(name, 0) + len(missing)
        self.said += [f"{counted(number, name)} removed" for name, number in gone.items() if number and name]
        return gone

    def _known(self, line: Line) -> bool:
        return all(self._is_known(cell) for cell in beside(line))

    def _is_known(self, cell: Cell) -> bool:
        """Whether it is certain what a cell is."""
        return self.letter_at(cell) != "." or cell not in self._covered()[1]

    def _wall_stays(self, table: Mapping[str, Any], walls: set[Line], _: bool) -> bool:
        """An extra wall: within a room."""
        line = line_of(table["cell"], str(table["side"]))
        first, second = self.rooms_beside(line)
        stays = first == second != "." or not self._known(line)
        if stays:
            walls.add(line)
        return stays

    def _way_stays(self, table: Mapping[str, Any], walls: set[Line], joined: bool) -> bool:
        """A way: through a wall; a loose piece not into solid ground, nor what joined two rooms."""
        line = way_line(table)
        if line is None:
            room = str(table.get("room", ""))
            return "at" not in table or bool(self.shapes_of(room) or self.cells_of(room))
        if not self._known(line):
            return True
        first, second = self.rooms_beside(line)
        kind = WAYS.get(str(table["kind"]))
        if "." in (first, second) and (joined or (kind is not None and kind.loose)):
            return False
        return first != second or line in walls

    def _feature_stays(self, table: Mapping[str, Any], _walls: set[Line], _: bool) -> bool:
        """A feature: on floor."""
        return all(self.room_at(cell) != "." or not self._is_known(cell) for cell in feature_cells(table))


def feature_cells(table: Mapping[str, Any]) -> list[Cell]:
    """The cells that a feature belongs to."""
    (west, north), (east, south) = table["cell"], table.get("to", table["cell"])
    return [(c, r) for r in range(int(north), int(south) + 1) for c in range(int(west), int(east) + 1)]


_FLOORS = ["surface", "rooms"]
