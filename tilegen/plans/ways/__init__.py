"""Ways through walls as a plan writes them: one file per kind, this table, and what stands on lines between cells."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from tilegen.geometry import Point
from tilegen.model.grid import Grid
from tilegen.plans.ways.doorway import DOORWAY, LOOSE_DOORWAY
from tilegen.plans.ways.kind import Way, WayKind, WayMeasures
from tilegen.plans.ways.open import OPEN_WAY
from tilegen.plans.ways.saddle import SADDLE
from tilegen.tiles.plate import Opening

__all__ = [
    "LINES",
    "LOOSE_DOORWAY",
    "NOTHING",
    "PLAIN_WALL",
    "WAYS",
    "ExtraWall",
    "Line",
    "LineKind",
    "Way",
    "WayKind",
    "line_of",
]

WAYS: Mapping[str, WayKind] = {kind.word: kind for kind in (OPEN_WAY, DOORWAY, SADDLE)}
_WALL = replace(OPEN_WAY, word="wall", says="a wall", stands=True, carried=True, walked=False, seen="never")
# All that can be on a line between cells.
LINES: Mapping[str, WayKind] = {**WAYS, _WALL.word: _WALL, LOOSE_DOORWAY.word: LOOSE_DOORWAY}
if TYPE_CHECKING:
    WayWord = str
    PointWayWord = str
else:
    WayWord = Literal[tuple(WAYS)]
    # What may be off the grid, at a point of any wall.
    PointWayWord = Literal[tuple(word for word, kind in WAYS.items() if not kind.loose)]
# What the first two kinds of every drawing are.
NOTHING, PLAIN_WALL = 0, 1
# Which array a line stands in (across or down), its row and its column there.
Line = tuple[str, int, int]


@dataclass(frozen=True, slots=True)
class ExtraWall:
    """A wall that no room border implies."""

    cell: tuple[int, int]
    side: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class LineKind:
    """What stands on a line; an opening is measured from the line's west or north end.

    stand_in: it is there for a way at a point of a wall, and only where cells alone are looked at.
    """

    name: str
    opening: Opening | None = None
    stand_in: bool = False

    @property
    def facts(self) -> WayKind:
        """What it means."""
        return LINES[self.name]


def line_of(cell: tuple[int, int], side: str) -> Line:
    """The line at a side of a cell (column, row from 1), the same from both of its cells."""
    column, row = cell[0] - 1, cell[1] - 1
    if side in ("north", "south"):
        return "across", row + (side == "south"), column
    return "down", row, column + (side == "east")


def spot_on(line: Line, along: float, side: float) -> Point:
    """The point of a line so far from its west or north end, in map coordinates, mm; side: of a cell."""
    array, row, column = line
    x, y = column * side, -row * side
    return (x + along, y) if array == "across" else (x, y - along)


def line_kind(way: Way, length: float, grid: Grid) -> LineKind:
    """What a way makes of its line.

    Raises:
        InputError: a leaf that can't hang there, an opening that does not fit, or one that no wall closes above.
    """
    return LineKind(way.kind, WAYS[way.kind].on_line(way, length, grid))


def wall_opening(way: WayMeasures, length: float, grid: Grid) -> Opening:
    """A way's measures where its line is no one wall."""
    return WAYS[way.kind].at_point(way, length, grid)


def ways_said() -> str:
    """What each kind is, for who writes a plan."""
    return "; ".join(f"{word}: {kind.says}" for word, kind in WAYS.items()).capitalize() + "."
