"""What has lost its line, its floor or its room is taken away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import tomlkit

from tilegen.desk.adding import Reach
from tilegen.desk.tables import keep, tables
from tilegen.plans.ways import WAYS

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
    return [f"{number} {name}{'s' if number > 1 else ''} taken away" for name, number in gone.items() if number]


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
