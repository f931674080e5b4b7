"""`[[shape]]` and ways by a point in plans: from a file's tables to plain values."""

from __future__ import annotations

from collections.abc import Sequence

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.shapes import DrawnShape
from tilegen.plans.ways import WAYS
from tilegen.reading.models import ShapeTable, WayTable
from tilegen.tiles.plate import Opening


def drawn_shapes(tables: Sequence[ShapeTable]) -> list[DrawnShape]:
    """The shapes of a plan, each with its place in the file."""
    return [DrawnShape(t.room, t.outline, f'[[shape]] {n} (room "{t.room}")') for n, t in enumerate(tables, 1)]


def wall_ways(tables: Sequence[WayTable], grid: Grid) -> list[WallWay]:
    """The ways of a plan that are given by a room and a point.

    Raises:
        InputError: measures that no opening has.
    """
    found = []
    for number, table in enumerate(tables, 1):
        if not isinstance(table.at, tuple):
            continue
        place = f'[[way]] {number} (room "{table.room}" at {list(table.at)})'
        opening = _opening(table, grid, place)
        fixed = table.width is not None
        found.append(
            WallWay(
                table.room or "", table.at, table.kind, opening, fixed, None, place, leaf=table.leaf, style=table.style
            )
        )
    return found


def _opening(table: WayTable, grid: Grid, place: str) -> Opening:
    width = grid.doorway.width if table.width is None else table.width
    height = min(grid.doorway.height, grid.wall_height) if table.height is None else table.height
    head = table.head or grid.doorway.head
    if not WAYS[table.kind].stands:
        height, head = grid.wall_height, "flat"
    if width <= 0 or not 0 < height <= grid.wall_height + 1e-9:
        raise InputError(
            f"an opening {width:g} mm wide and {height:g} high",
            expected=f"a width above 0 and a height up to the wall's {grid.wall_height:g} mm",
            place=place,
        )
    if head == "round" and height < width / 2:
        raise InputError(
            f"a round head {height:g} mm high over a width of {width:g}",
            expected="a height of at least half the width",
            place=place,
        )
    return Opening(0.0, width, height, head)
