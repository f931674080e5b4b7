"""What of a plan stands as pieces of its own, by the set's choices: doorways over open sides, posts in corners."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM
from tilegen.model.grid import LEAVES, Grid
from tilegen.plans.drawing import Bools, Drawing, ends_beside, posts_of
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.ways import LOOSE_DOORWAY, WAYS, Line, LineKind, Way, line_of
from tilegen.tiles.blocks import PLAIN, Extra
from tilegen.tiles.leaves.kind import leaf_of
from tilegen.tiles.openings import shrunk
from tilegen.tiles.shape import CORNERS

# Why a doorway stays part of its tiles.
Reason = Literal["off the grid", "leaf", "heights", "room"]
# Where the corners NE, SE, SW, NW of a cell lie: columns and rows from its own.
_AT = ((1, 0), (1, 1), (0, 1), (0, 0))


def loosened(drawing: Drawing, line: Line, way: Way, kind: LineKind, heights: Mapping[int, Extra]) -> LineKind | Reason:
    """A doorway as a door piece over open sides, or why it has to stay in the walls of its tiles.

    heights: of the rooms with heights of their own, by code point.
    """
    opening = kind.opening
    if opening is None or _off_grid(drawing, line):
        return "off the grid"
    if opening.leaf in LEAVES and not leaf_of(opening.leaf).seam_mark:
        return "leaf"
    beside = {heights.get(int(drawing.rooms[r, c]), PLAIN) for (c, r), _ in ends_beside(drawing, line)}
    if len({(extra.floor, extra.wall_height) for extra in beside}) > 1:
        return "heights"
    here = next(iter(beside)).on(drawing.grid)
    try:
        found = LOOSE_DOORWAY.on_line(way, drawing.cell_side, here)
    except InputError:
        return "room"
    sides = drawing.cell_side, drawing.grid
    as_drawn = [
        opening.width if way.width is not None else shrunk(opening, *sides, ends).width
        for _, ends in ends_beside(drawing, line)
    ]
    if found is None or found.width < min(as_drawn) - EQUAL_MM:
        return "room"
    return LineKind(LOOSE_DOORWAY.word, found)


def _off_grid(drawing: Drawing, line: Line) -> bool:
    """Whether a shape covers a part of either cell beside a line."""
    if drawing.off_grid is None:
        return False
    array, row, column = line
    rows, columns = drawing.rooms.shape
    for r, c in ((row - 1, column), (row, column)) if array == "across" else ((row, column - 1), (row, column)):
        if 0 <= r < rows and 0 <= c < columns and (drawing.off_grid.part[r, c] or not drawing.is_whole((c, r))):
            return bool(drawing.rooms[r, c]) or bool(drawing.off_grid.part[r, c])
    return False


def fixed_doorways(drawing: Drawing) -> Iterator[tuple[Way | WallWay, Reason]]:
    """Doorways that stay part of their tiles where the set wants door pieces: those off the grid first."""
    if drawing.grid.set.doorways == "fixed":
        return
    at_points = {way.place for way in drawing.wall_ways if way.place}
    yield from ((way, "off the grid") for way in drawing.wall_ways if WAYS[way.kind].carried)
    for way in drawing.ways:
        if WAYS[way.kind].carried and way.place not in at_points:
            line = line_of(way.cell, way.side)
            kind = drawing.kind_at(line)
            if kind.facts.carried:
                why = loosened(drawing, line, way, kind, drawing.heights)
                yield way, why if isinstance(why, str) else "room"


@dataclass(frozen=True, slots=True)
class PostPlace:
    """Where a loose post stands: cell (column, row from 1) and its corner."""

    cell: tuple[int, int]
    side: str


def loose_posts(drawing: Drawing, off_grid: Bools | None) -> list[PostPlace]:
    """The posts that are pieces, in reading order.

    off_grid: cells whose tiles are off the grid; these keep their posts, as rooms with shapes do.
    """
    posts = standing_posts(drawing) & ~tile_posts(drawing, off_grid)
    return [
        PostPlace((column + 1, row + 1), CORNERS[corner])
        for row, column in np.argwhere(posts).tolist()
        for corner in range(len(CORNERS))
        if posts[row, column] >> corner & 1
    ]


def tile_posts(drawing: Drawing, off_grid: Bools | None = None) -> npt.NDArray[np.uint8]:
    """Which corners of each cell carry a post that is part of its tile; bits and off_grid as for all posts.

    At 5 ft all are: a post inside a tile of several cells joins the walls that meet there.
    """
    posts = posts_of(drawing)
    if drawing.grid.set.posts == "fixed" or not drawing.by_tiles:
        return posts
    return np.where(_shaped(drawing, off_grid), posts, 0).astype(np.uint8)


def standing_posts(drawing: Drawing) -> npt.NDArray[np.uint8]:
    """Which corners of each cell have a post on the table, its tile's own or a piece.

    Where posts are left out (`none`), two beside each other stay: without them one would see past the frame of a door.
    """
    posts = posts_of(drawing)
    if drawing.grid.set.posts != "none":
        return posts
    rows, columns = posts.shape
    around = np.pad(posts, 1)
    kept = tile_posts(drawing)
    for corner, (east, south) in enumerate(_AT):
        # The same corner of the drawing, seen from the cells across the two sides that meet there.
        over_row = around[2 * south : 2 * south + rows, 1 : columns + 1] >> (corner ^ 1)
        over_column = around[1 : rows + 1, 2 * east : 2 * east + columns] >> (3 - corner)
        kept |= (posts >> corner & 1 & (over_row | over_column)) << corner
    return kept


def _shaped(drawing: Drawing, off_grid: Bools | None) -> Bools:
    """Cells of rooms with shapes, and others whose tiles are off the grid."""
    regions = drawing.off_grid.regions if drawing.off_grid is not None else {}
    found: Bools = np.isin(drawing.rooms, np.array(sorted(regions), np.uint32))
    return found if off_grid is None else found | off_grid


def grid_at(drawing: Drawing, cell: tuple[int, int]) -> Grid:
    """The grid with the heights of the room at a cell (column, row from 1)."""
    return grid_of(drawing, int(drawing.rooms[cell[1] - 1, cell[0] - 1]))


def grid_of(drawing: Drawing, room: int) -> Grid:
    """The grid with the heights of a room."""
    return drawing.heights.get(room, PLAIN).on(drawing.grid)
