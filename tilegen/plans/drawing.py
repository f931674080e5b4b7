"""A plan as drawn: which cell belongs to which room, and what stands on every line between cells."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from tilegen.model.grid import Grid
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.shapes import OffGrid
from tilegen.plans.ways import Line, LineKind, Way
from tilegen.tiles.blocks import PLAIN, Block, Extra
from tilegen.tiles.openings import Ends, mirrored
from tilegen.tiles.shape import OPEN, WALL, Side

Scale = Literal["10 ft", "5 ft"]
Codes = npt.NDArray[np.int16]
Bools = npt.NDArray[np.bool_]
Cells = npt.NDArray[Any]


@dataclass(frozen=True)
class Drawing:
    """A plan worked out.

    rooms: (rows, columns) code point of each cell's room, 0 for solid ground. across: (rows + 1, columns)
    kind of the line above each row's cells; down: (rows, columns + 1) kind of the line left of each
    column's cells; both are indexes into `kinds`. extras: (rows, columns) index into `extra_kinds`: what is on each
    cell's floor and how high that and its walls are; None where no cell has any of it. off_grid: what shapes make of
    it, if it has any: a cell of which a shape has a part counts as a cell of the room that has most of it, and its
    extra has no blocks. wall_ways: ways through slanting and curved walls. heights: of the rooms with heights of their
    own, by code point. blocks: all of them, each with its room and its cell (column, row from 0).
    """

    name: str
    scale: Scale
    grid: Grid
    rooms: npt.NDArray[np.uint32]
    across: Codes
    down: Codes
    kinds: tuple[LineKind, ...]
    titles: Mapping[str, str]
    ways: tuple[Way, ...]
    extras: Codes | None = None
    extra_kinds: tuple[Extra, ...] = (PLAIN,)
    off_grid: OffGrid | None = None
    wall_ways: tuple[WallWay, ...] = ()
    heights: Mapping[int, Extra] = field(default_factory=dict)
    blocks: tuple[tuple[int, tuple[int, int], Block], ...] = ()

    @property
    def by_tiles(self) -> bool:
        """Whether each square of the map is a tile of its own: one of 10 ft is, one of 5 ft is a space."""
        return self.scale == "10 ft"

    @property
    def cell_spaces(self) -> int:
        """Spaces along one side of a cell."""
        return self.grid.spaces if self.by_tiles else 1

    @property
    def cell_side(self) -> float:
        """Nominal side of a cell in mm."""
        return self.cell_spaces * self.grid.pitch

    def lines_at(self, row: int, column: int) -> tuple[int, int, int, int]:
        """The codes of the lines round a cell: north, east, south, west."""
        across, down = self.across, self.down
        return across[row, column], down[row, column + 1], across[row + 1, column], down[row, column]

    def kind_at(self, line: Line) -> LineKind:
        """What stands on a line."""
        array, row, column = line
        return self.kinds[int((self.across if array == "across" else self.down)[row, column])]

    def is_whole(self, cell: tuple[int, int]) -> bool:
        """Whether a cell (column, row from 0) is all one room's floor."""
        return self.off_grid is None or bool(self.off_grid.whole[cell[1], cell[0]])

    @cached_property
    def stands(self) -> Bools:
        """By the code of a line: whether anything stands there."""
        return np.array([kind.facts.stands for kind in self.kinds])

    @cached_property
    def carried(self) -> Bools:
        """By the code of a line: whether the tiles beside it carry a wall there."""
        return np.array([kind.facts.carried for kind in self.kinds])

    @cached_property
    def walls_by_code(self) -> list[bool]:
        """The same as a list: few lines are asked about much faster so."""
        found: list[bool] = self.carried.tolist()
        return found

    def seen_past(self, *, doors_open: bool) -> Bools:
        """By the code of a line: whether sight passes what stands there."""
        return np.array([kind.facts.seen_past(doors_open=doors_open) for kind in self.kinds])

    def side_codes(self) -> tuple[tuple[Side, ...], Codes, Codes]:
        """What a line of each kind is to the cell beside it.

        Returns the distinct sides, and for every line kind the index of its side as walked clockwise by the
        cell to the south or west of it (walked from its west or north end) and by the cell on the other side.
        """
        sides: dict[Side, int] = {OPEN: 0, WALL: 1}
        forward, backward = [], []
        for kind in self.kinds:
            first = second = WALL if kind.facts.carried else OPEN
            if kind.facts.carried and kind.opening is not None:
                # The look of a leaf is no matter of the tile that carries it.
                opening = replace(kind.opening, style="planks")
                first, second = Side("doorway", opening), Side("doorway", mirrored(opening, self.cell_side))
            forward.append(sides.setdefault(first, len(sides)))
            backward.append(sides.setdefault(second, len(sides)))
        return tuple(sides), np.array(forward, np.int16), np.array(backward, np.int16)


def ends_beside(drawing: Drawing, line: Line) -> Iterator[tuple[tuple[int, int], Ends]]:
    """The cells beside a line (column, row from 0), and what walls take in each of its west or north and other end."""
    array, row, column = line
    rows, columns = drawing.rooms.shape
    carries = drawing.walls_by_code
    wall = drawing.grid.wall_thickness
    for step in (-1, 0):
        r, c = (row + step, column) if array == "across" else (row, column + step)
        if not (0 <= r < rows and 0 <= c < columns and drawing.rooms[r, c]):
            continue
        if array == "across":
            first, last = carries[drawing.down[r, c]], carries[drawing.down[r, c + 1]]
        else:
            first, last = carries[drawing.across[r, c]], carries[drawing.across[r + 1, c]]
        yield (c, r), (wall * first, wall * last)


def beside_lines(cells: Cells, outside: int = 0) -> tuple[tuple[Cells, Cells], tuple[Cells, Cells]]:
    """What lies on both sides of every line of a raster: north and south of those across, west and east of those down.

    outside: what lies beyond the raster.
    """
    padded = np.pad(cells, 1, constant_values=outside)
    return (padded[:-1, 1:-1], padded[1:, 1:-1]), (padded[1:-1, :-1], padded[1:-1, 1:])


def borders_of(cells: Cells) -> tuple[Bools, Bools]:
    """Which lines of a raster (across, down) have two different things beside them; 0 lies beyond it."""
    (north, south), (west, east) = beside_lines(cells)
    return north != south, west != east


def posts_of(drawing: Drawing) -> npt.NDArray[np.uint8]:
    """Which corners of each cell carry a post of their own: bit k for corner k (NE, SE, SW, NW).

    A post stands where both of a cell's sides at a corner are open and either the other two lines that meet
    there both carry something, or one of the two sides is a loose piece's.
    """
    standing = drawing.stands
    loose = np.array([kind.facts.loose for kind in drawing.kinds])
    rows, columns = drawing.rooms.shape
    across, down = np.pad(drawing.across, ((0, 0), (1, 1))), np.pad(drawing.down, ((1, 1), (0, 0)))
    posts = np.zeros((rows, columns), np.uint8)
    for corner, (south, east) in enumerate(((0, 1), (1, 1), (1, 0), (0, 0))):
        # The four lines that meet at the corner: two of the cell's own, two beyond it.
        own_a = across[south : south + rows, 1 : columns + 1]
        own_d = down[1 : rows + 1, east : east + columns]
        far_a = across[south : south + rows, 2 * east : 2 * east + columns]
        far_d = down[2 * south : 2 * south + rows, east : east + columns]
        free = (~standing[own_a] | loose[own_a]) & (~standing[own_d] | loose[own_d])
        need = (standing[far_a] & standing[far_d]) | loose[own_a] | loose[own_d]
        posts |= (free & need).astype(np.uint8) << corner
    posts[drawing.rooms == 0] = 0
    return posts
