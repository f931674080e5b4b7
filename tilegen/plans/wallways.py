"""Ways through walls off the grid: given by a room and a point of its wall."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError, nearest
from tilegen.plans.shapes import OffGrid
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import SIDES, STEPS

Spot = tuple[float, float]
CellSide = tuple[int, int, str]
# How near a wall's line the point of a way must lie, as a share of a cell.
REACH = 0.5
_ON_LINE_MM = 1e-3


@dataclass(frozen=True, slots=True)
class WallWay:
    """A way through a slanting or curved wall.

    at: a point near the wall, in cells from the drawing's top left corner, y down. opening: its measures. fixed:
    its width was asked for and must not shrink. spot: the wall's nearest point in map coordinates, mm, once known.
    """

    room: str
    at: tuple[float, float]
    kind: Literal["open", "doorway"]
    opening: Opening
    fixed: bool = False
    spot: tuple[float, float] | None = None
    place: str = ""


def located_ways(ways: Iterable[WallWay], off_grid: OffGrid | None, cell: float) -> tuple[WallWay, ...]:
    """The ways with the points of their walls, where they are.

    Raises:
        InputError: a room without a shape; a point far from its outline, or on a line between cells.
    """
    found = []
    for way in ways:
        regions = off_grid.regions if off_grid is not None else {}
        known = [chr(code) for code in regions]
        if way.room not in known:
            raise InputError(
                f'a way at a point of room "{way.room}"',
                expected="a room that has a shape",
                cure=nearest(way.room, known) if known else "ways between cells are written with cell and side",
                place=way.place,
            )
        found.append(replace(way, spot=_nearest_spot(regions[ord(way.room)], way, cell)))
    return tuple(found)


def line_beside(way: WallWay, off_grid: OffGrid, rooms: npt.NDArray[np.uint32], cell: float) -> CellSide | None:
    """The side of a cell that stands for a way where only cells are looked at: the first line met walking out of the
    room at which its cells end, if no whole cell of another room lies there; (column, row from 1, side).
    """
    region = off_grid.regions[ord(way.room)]
    (x, y), near = way.spot or (0.0, 0.0), cell / 20
    inside = region.intersection(Point(x, y).buffer(near)).centroid
    dx, dy = x - inside.x, y - inside.y
    side = ("east" if dx > 0 else "west") if abs(dx) > abs(dy) else ("north" if dy > 0 else "south")
    step = STEPS[SIDES.index(side)]
    rows, columns = rooms.shape
    column, row = int(inside.x // cell), int(-inside.y // cell)
    for _ in range(3):
        if not (0 <= row < rows and 0 <= column < columns) or rooms[row, column] != ord(way.room):
            return None
        beyond = column + step[0], row + step[1]
        inner = 0 <= beyond[0] < columns and 0 <= beyond[1] < rows
        if not inner or rooms[beyond[1], beyond[0]] != rooms[row, column]:
            taken = inner and rooms[beyond[1], beyond[0]] and off_grid.whole[beyond[1], beyond[0]]
            return None if taken or off_grid.whole[row, column] else (column + 1, row + 1, side)
        column, row = beyond
    return None


def _nearest_spot(region: BaseGeometry, way: WallWay, cell: float) -> Spot:
    """The point of a room's outline that a way is at, in map coordinates.

    Raises:
        InputError: further than half a cell from the outline, or on a line between cells.
    """
    wanted = Point(way.at[0] * cell, -way.at[1] * cell)
    x, y = shapely.shortest_line(region.boundary, wanted).coords[0]
    shown = f"({x / cell:z.3f}, {-y / cell:z.3f})"
    if wanted.distance(Point(x, y)) > REACH * cell:
        raise InputError(
            f'a way at ({way.at[0]:g}, {way.at[1]:g}); the nearest wall of room "{way.room}" is at {shown}',
            expected=f"a point within {REACH:g} of a cell of it",
            place=way.place,
        )
    if _on_a_line(region, Point(x, y), cell):
        raise InputError(
            f"a way at {shown}, on a line between cells",
            expected="a point of a slanting or curved wall, or of one inside a cell",
            cure="a way on a line between cells is written with cell and side",
            place=way.place,
        )
    return float(x), float(y)


def _on_a_line(region: BaseGeometry, spot: Point, cell: float) -> bool:
    """Whether the outline runs along a line between cells there."""
    near = region.boundary.intersection(spot.buffer(cell / 50))
    west, south, east, north = (v / cell for v in near.bounds)
    return any(
        high - low < _ON_LINE_MM / cell and abs(low - round(low)) < _ON_LINE_MM / cell
        for low, high in ((west, east), (south, north))
    )
