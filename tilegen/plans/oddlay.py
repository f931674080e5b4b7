"""Which odd tile lies on which cell: of two on one cell the one that covers more of it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Point, box

from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.placing import Turn

Indexes = npt.NDArray[np.int32]


def odd_tiles(drawing: Drawing, kit: Kit) -> tuple[Indexes, Indexes, Indexes]:
    """The tiles off the grid: (rows, columns) number of the one on each cell, -1 for none; types; first cells.

    first_cells: (tiles, 2) column and row, from 1, of the first cell in reading order that is the tile's; of a tile
    that is on no cell the most of what lies there, the nearest cell of its room.
    """
    rows, columns = drawing.rooms.shape
    side = drawing.cell_side
    number, most = np.full((rows, columns), -1, np.int32), np.zeros((rows, columns))
    types: list[int] = []
    firsts: list[tuple[int, int]] = []
    spots: list[Point] = []
    for index, kind in enumerate(kit.types):
        for (column, row, turns), (x, y) in zip(kind.off_grid.tolist(), kind.lies.tolist(), strict=True):
            floor = Turn(turns, x, y).geometry(kind.tile.base.foot)
            west, north, east, south = (v / side for v in floor.bounds)
            for r in range(max(int(north), 0), min(int(south) + 1, rows)):
                for c in range(max(int(west), 0), min(int(east) + 1, columns)):
                    cell = box(c * side, r * side, (c + 1) * side, (r + 1) * side)
                    area = shapely.area(shapely.intersection(floor, cell)) if drawing.rooms[r, c] else 0.0
                    if area > most[r, c]:
                        most[r, c], number[r, c] = area, len(types)
            types.append(index)
            firsts.append((column, row))
            spots.append(floor.representative_point())
    places = np.array(firsts, np.int32).reshape(-1, 2)
    for tile in set(range(len(types))) - set(number.ravel().tolist()):
        places[tile] = _nearest(drawing, kit, spots[tile]) or places[tile]
    for tile, (r, c) in reversed([(int(number[r, c]), (r, c)) for r, c in np.argwhere(number >= 0).tolist()]):
        places[tile] = c + 1, r + 1
    return number, np.array(types, np.int32), places


def _nearest(drawing: Drawing, kit: Kit, spot: Point) -> tuple[int, int] | None:
    """Column and row, from 1, of the cell nearest to a point of the table among those of the room that it lies in."""
    pieces = kit.cut.pieces if kit.cut is not None else ()
    rooms = [piece.room for piece in pieces if piece.floor.contains(Point(spot.x, -spot.y))]
    cells = np.argwhere(drawing.rooms == rooms[0]) if rooms else np.zeros((0, 2), int)
    if not len(cells):
        return None
    middles = (cells + 0.5) * drawing.cell_side
    row, column = cells[np.hypot(middles[:, 1] - spot.x, middles[:, 0] - spot.y).argmin()].tolist()
    return column + 1, row + 1
