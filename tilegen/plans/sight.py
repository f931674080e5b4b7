"""Exact sight: what must lie on the table at once when only what the party sees is laid.

A tile is in sight of another when a straight line from the centre of one of its spaces to the centre of one of
the other's meets no wall line, not even its end. How that is found: `windows`; off the grid: `oddsight`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from tilegen.errors import InputError
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.laid import Laid, Place, lay
from tilegen.plans.oddsight import OddView
from tilegen.plans.openfloor import Bools, Ints
from tilegen.plans.overlook import for_sight, without_low_walls
from tilegen.plans.windows import View, wall_lines


@dataclass(frozen=True)
class InSight:
    """What is in sight at most.

    most: for each type of the kit, the most tiles of it in sight from any one tile; where: the first cell of
    that tile. mean_tiles: tiles in sight of a tile on average. most_tiles, most_where: the position that sees
    most tiles of all types together.
    """

    most: tuple[int, ...]
    where: tuple[Place, ...]
    mean_tiles: float
    most_tiles: int
    most_where: Place

    @property
    def tiles(self) -> int:
        """The smallest kit that can always lay all that is in sight."""
        return sum(self.most)


def in_sight(drawing: Drawing, kit: Kit, *, doors_open: bool = False) -> InSight:
    """The most tiles of each type in sight from any one tile, and where; the first in reading order where equal.

    doors_open: sight goes through the whole line of doorways and saddles, but never into solid ground.
    """
    laid = lay(drawing, kit)
    view: View | _OddCounts
    if drawing.off_grid is None:
        view = View(*for_sight(drawing, laid), doors_open=doors_open)
    else:
        view = _OddCounts(drawing, laid, doors_open=doors_open)
    types, tiles = len(kit.types), len(laid.type_of)
    best = np.full(types, -1, np.int64)
    where = np.zeros(types, np.int64)
    totals = np.zeros(tiles, np.int64)
    for members, counts in view.counted(types):
        totals[members] = counts.sum(axis=1)
        # Members ascend within a chunk, so argmax takes the first of equals there; chunks need the comparison.
        at = counts.argmax(axis=0)
        most, which = counts[at, np.arange(types)], members[at]
        better = (most > best) | ((most == best) & (which < where))
        best[better], where[better] = most[better], which[better]
    place = [(int(c), int(r)) for c, r in laid.first_cells]
    top = int(totals.argmax())
    return InSight(
        tuple(best.tolist()),
        tuple(place[i] for i in where.tolist()),
        float(totals.mean()),
        int(totals[top]),
        place[top],
    )


def visible_from(drawing: Drawing, cell: Place, kit: Kit | None = None, *, doors_open: bool = False) -> Bools:
    """(rows, columns): which cells are in sight from a cell (column, row from 1).

    With a kit: from the tile that lies on the cell, and tiles in sight count whole.

    Raises:
        InputError: the cell is outside the drawing or solid ground.
    """
    rows, columns = drawing.rooms.shape
    column, row = cell[0] - 1, cell[1] - 1
    if not (0 <= column < columns and 0 <= row < rows) or not drawing.rooms[row, column]:
        raise InputError(f"cell [{cell[0]}, {cell[1]}]", expected="a cell of a room")
    laid = _every_cell(drawing) if kit is None else lay(drawing, kit)
    if drawing.off_grid is not None:
        in_view = _odd_view(drawing, laid, doors_open=doors_open).seen_from(int(laid.tile_of[row, column]))
        found: Bools = (laid.tile_of >= 0) & in_view[laid.tile_of]
        return found
    view = View(*for_sight(drawing, laid), doors_open=doors_open)
    tile = int(laid.tile_of[row, column])
    seen = np.zeros(len(laid.type_of), bool)
    for _, tiles in view.pairs(np.array([tile], np.int64)):
        seen[tiles] = True
    seen[view.own_tiles(tile)] = True
    shown: Bools = (laid.tile_of >= 0) & seen[laid.tile_of]
    return shown


def _odd_view(drawing: Drawing, laid: Laid, *, doors_open: bool) -> OddView:
    seen = without_low_walls(drawing)
    lines = wall_lines(seen, doors_open=doors_open)
    return OddView(seen, laid.tile_of, len(laid.type_of), laid.first_cells, lines, doors_open=doors_open)


class _OddCounts:
    """The same counts as `View` gives, on a plan with rooms off the grid: see `oddsight` for the rule."""

    def __init__(self, drawing: Drawing, laid: Laid, *, doors_open: bool) -> None:
        self.drawing, self.laid, self.doors_open = drawing, laid, doors_open

    def counted(self, types: int) -> Iterator[tuple[Ints, Ints]]:
        """(tile), (1, types) how many of each type are in sight of it, tile by tile."""
        view = _odd_view(self.drawing, self.laid, doors_open=self.doors_open)
        for tile in range(len(self.laid.type_of)):
            seen = view.seen_from(tile)
            counts = np.bincount(self.laid.type_of[seen], minlength=types).astype(np.int64)
            yield np.array([tile], np.int64), counts[None]


def _every_cell(drawing: Drawing) -> Laid:
    """Every cell a tile of its own."""
    floor = drawing.rooms != 0
    count = int(floor.sum())
    tile_of = np.where(floor, np.cumsum(floor).reshape(floor.shape) - 1, -1).astype(np.int32)
    row, column = np.nonzero(floor)
    return Laid(tile_of, np.zeros(count, np.int32), np.stack([column + 1, row + 1], axis=1).astype(np.int32))
