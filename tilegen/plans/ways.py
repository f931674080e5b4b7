"""Ways and walls as a plan writes them: which line between cells each stands on, and what it makes of that line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from tilegen.errors import InputError
from tilegen.grid import Grid, Head, Leaf, Style
from tilegen.tiles.openings import make_opening
from tilegen.tiles.plate import Opening

WayKind = Literal["open", "doorway", "saddle"]
LineKindName = Literal[WayKind, "wall"]
# What the first two kinds of every drawing are.
NOTHING, PLAIN_WALL = 0, 1
# Which array a line stands in (across or down), its row and its column there.
Line = tuple[str, int, int]


@dataclass(frozen=True, slots=True)
class LineFacts:
    """What a kind of line means to all that reads a plan.

    stands: whether there is anything. carried: whether it is a wall of the tiles beside it. loose: whether it is a
    piece of its own, over the seam. seen: when sight passes it.
    """

    stands: bool
    carried: bool
    loose: bool
    seen: Literal["never", "doors open", "always"]


LINES: Mapping[LineKindName, LineFacts] = {
    "open": LineFacts(stands=False, carried=False, loose=False, seen="always"),
    "wall": LineFacts(stands=True, carried=True, loose=False, seen="never"),
    "doorway": LineFacts(stands=True, carried=True, loose=False, seen="doors open"),
    "saddle": LineFacts(stands=True, carried=False, loose=True, seen="doors open"),
}


@dataclass(frozen=True, slots=True)
class Way:
    """A way through a wall, as written: cell (column, row from 1), side, kind and what differs from the grid."""

    cell: tuple[int, int]
    side: str
    kind: WayKind
    width: float | None = None
    height: float | None = None
    head: Head | None = None
    at: float | None = None
    place: str = ""
    leaf: Leaf | None = None
    style: Style | None = None


@dataclass(frozen=True, slots=True)
class ExtraWall:
    """A wall that no room border implies."""

    cell: tuple[int, int]
    side: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class LineKind:
    """What stands on a line; an opening is measured from the line's west or north end."""

    name: LineKindName
    opening: Opening | None = None

    @property
    def facts(self) -> LineFacts:
        """What it means."""
        return LINES[self.name]


def line_of(cell: tuple[int, int], side: str) -> Line:
    """The line at a side of a cell (column, row from 1), the same from both of its cells."""
    column, row = cell[0] - 1, cell[1] - 1
    if side in ("north", "south"):
        return "across", row + (side == "south"), column
    return "down", row, column + (side == "east")


def line_kind(way: Way, cell_side: float, grid: Grid) -> LineKind:
    """What a way makes of its line; a doorway of default width is fitted to each of its two cells later.

    Raises:
        InputError: a leaf that can't hang there, an opening that does not fit, or one that no wall closes above.
    """
    if not LINES[way.kind].stands:
        if way.leaf not in (None, "none"):
            raise InputError("a leaf in an open way", expected="a doorway or a saddle", place=way.place)
        return LineKind(way.kind)
    opening = _opening(way, cell_side, grid)
    if LINES[way.kind].loose and opening.height >= grid.wall_height:
        raise InputError(
            f"a saddle door open at the top ({opening.height:g} mm high under a wall of {grid.wall_height:g})",
            expected="an opening lower than the wall, so that the door piece holds together",
            place=way.place,
        )
    return LineKind(way.kind, opening)


def wall_opening(way: Way, cell_side: float, grid: Grid) -> Opening:
    """A way's measures where its line is no one wall: an open one as high as the wall and as wide as there is room."""
    if not LINES[way.kind].stands:
        return Opening(0.0, way.width or cell_side, grid.wall_height, "flat")
    doorway = grid.doorway
    height = min(doorway.height, grid.wall_height) if way.height is None else way.height
    return Opening(0.0, doorway.width if way.width is None else way.width, height, way.head or doorway.head)


def _opening(way: Way, cell_side: float, grid: Grid) -> Opening:
    centre = None if way.at is None else way.at * grid.pitch
    # A saddle stands between posts or walls: they take a wall's thickness at both ends.
    wall = grid.wall_thickness if LINES[way.kind].loose else 0.0
    try:
        return make_opening(
            cell_side,
            grid,
            width=way.width,
            height=way.height,
            head=way.head,
            centre=centre,
            ends=(wall, wall),
            leaf=_leaf(way, grid.door.leaf),
            style=way.style,
        )
    except InputError as error:
        raise error.located(place=way.place) from None


def _leaf(way: Way, default: Leaf) -> Leaf:
    """A saddle carries a sliding leaf or none: it has no floor for a pin, and no wall to lift out."""
    leaf = way.leaf or default
    if not LINES[way.kind].loose or leaf == "none":
        return leaf
    if way.leaf in ("hinged", "lift-out"):
        raise InputError(
            f'leaf = "{way.leaf}" in a saddle',
            expected='leaf = "sliding" or "none"',
            cure='use kind = "doorway" for the others',
            place=way.place,
        )
    return "sliding"
