"""Walls inside a room off the grid: on a line between two of its cells, all of it on the room's floor."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM
from tilegen.plans.drawing import Drawing
from tilegen.plans.posts import posts_of
from tilegen.plans.shapes import Bools
from tilegen.plans.ways import NOTHING, LineKind
from tilegen.tiles.regionshape import InnerWalls, WallRun

Square = tuple[int, int]
# Where the corners of a cell lie from its top left one, and which way its floor is from there: NE, SE, SW, NW.
_CORNERS = (((1, 0), (-1, -1)), ((1, 1), (-1, 1)), ((0, 1), (1, 1)), ((0, 0), (1, -1)))


def inner_walls(drawing: Drawing, region: BaseGeometry, code: int, whole: Bools) -> InnerWalls:
    """The walls inside a room: both sides of each, and the posts where one ends. Map coordinates.

    Raises:
        InputError: a wall that the room's outline crosses, or a saddle; with its place.
    """
    cell = drawing.cell_side
    runs: list[WallRun] = []
    ends: set[Square] = set()
    for square, side, kind in _lines(drawing, code):
        line = _line(square, side, cell)
        _check_on_floor(line, region, f'[[wall]] cell = [{square[0] + 1}, {square[1] + 1}], side = "{side}"', code)
        if kind.facts.loose:
            raise InputError(
                f'a saddle inside room "{chr(code)}", which has a shape',
                expected="a doorway there, or no wall",
                place=f'[[way]] cell = [{square[0] + 1}, {square[1] + 1}], side = "{side}"',
            )
        runs += _sides(line, kind)
        ends |= {(round(x / cell), round(-y / cell)) for x, y in line.coords}
    found = _posts(drawing, code, ends) if ends else ()
    deep = region.buffer(-drawing.grid.wall_thickness)
    # Beside the outline the lines of a cell that is no whole one say nothing of what stands there.
    posts = (post for square, post in found if whole[square] or deep.contains(Point(post[:2])))
    return InnerWalls(tuple(runs), tuple(posts))


def _lines(drawing: Drawing, code: int) -> Iterator[tuple[Square, str, LineKind]]:
    """The lines between two cells of a room on which a wall was written: the first cell, which of its sides, what."""
    if drawing.off_grid is None:
        return
    same = drawing.rooms == code
    across, down = (
        (lines != NOTHING) & ~shut
        for lines, shut in (
            (drawing.across, drawing.off_grid.shut_across),
            (drawing.down, drawing.off_grid.shut_down),
        )
    )
    for row, column in np.argwhere(same[1:] & same[:-1] & across[1:-1]).tolist():
        yield (column, row), "south", drawing.kinds[int(drawing.across[row + 1, column])]
    for row, column in np.argwhere(same[:, 1:] & same[:, :-1] & down[:, 1:-1]).tolist():
        yield (column, row), "east", drawing.kinds[int(drawing.down[row, column + 1])]


def _line(square: Square, side: str, cell: float) -> LineString:
    """A line of the drawing in map coordinates, from its west or north end."""
    column, row = square
    first, last = ((column, row + 1) if side == "south" else (column + 1, row)), (column + 1, row + 1)
    return LineString([(c * cell, -r * cell) for c, r in (first, last)])


def _check_on_floor(line: LineString, region: BaseGeometry, place: str, code: int) -> None:
    """Refuse a line that a room's outline crosses.

    Raises:
        InputError: how much of it lies on the floor.
    """
    if region.buffer(SNAP_MM).covers(line):
        return
    # A part that lies on the outline has floor on one side only.
    within = float(line.intersection(region.buffer(-SNAP_MM)).length)
    raise InputError(
        f'a wall inside room "{chr(code)}" that its outline crosses, {within / line.length:.0%} of it on its floor',
        expected="a line between two cells that lies on the floor from end to end",
        cure="leave it out, and give the part beyond it another letter and a shape of its own",
        place=place,
    )


def _sides(line: LineString, kind: LineKind) -> Iterator[WallRun]:
    """The wall on either side of a line, with its doorway, which is measured from the west or north end."""
    first, last = ((float(x), float(y)) for x, y in line.coords)
    opening = kind.opening if kind.facts.carried else None
    for path, centre in (((first, last), 0.0), ((last, first), line.length)):
        at = abs(centre - opening.centre) if opening else 0.0
        holes = ((at - opening.width / 2, at + opening.width / 2, opening),) if opening else ()
        yield WallRun(path, holes)


def _posts(drawing: Drawing, code: int, ends: set[Square]) -> Iterator[tuple[Square, tuple[float, float, int, int]]]:
    """The posts of a room's cells at the ends of walls inside it: row and column of the cell, the post."""
    posts, cell = posts_of(drawing), drawing.cell_side
    for row, column in np.argwhere((drawing.rooms == code) & (posts > 0)).tolist():
        for corner, ((east, south), towards) in enumerate(_CORNERS):
            if posts[row, column] >> corner & 1 and (column + east, row + south) in ends:
                yield (row, column), ((column + east) * cell, -(row + south) * cell, *towards)


def less_inner_walls(floor: BaseGeometry, inner: InnerWalls, depth: float) -> BaseGeometry:
    """A floor without what the walls inside it cover to a depth from their lines, mm."""
    return floor.difference(shapely.union_all(inner.covers(depth))) if inner.runs else floor
