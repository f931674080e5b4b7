"""A kit laid out as drawn: which tile lies on which cell, its number, where connectors of two tiles meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Point, box

from tilegen.geometry import direction_of
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, Turn, placed
from tilegen.plans.lattices import cell_codes
from tilegen.plans.off_grid_tiles import CutFloor
from tilegen.tiles.connectors.kind import pockets_of
from tilegen.tiles.seats import seating_of
from tilegen.tiles.shape import CellShape, single_cell
from tilegen.tiles.tile import Tile

Indexes = npt.NDArray[np.int32]
Place = tuple[int, int]
_FINENESS_MM = 0.01


@dataclass(frozen=True)
class Layout:
    """A kit laid out as drawn.

    tile_of: (rows, columns) number of the tile on each cell, -1 on solid ground; tiles are numbered in reading
    order of their blocks. type_of: (tiles,) index into the kit's types. place_of: (tiles,) index into that type's
    places. first_cells: (tiles, 2) column and row, from 1, of each tile's first cell in reading order.
    """

    tile_of: Indexes
    type_of: Indexes
    place_of: Indexes
    first_cells: Indexes


def lay(drawing: Drawing, kit: Kit) -> Layout:
    """Which tile of the kit lies on which cell of its drawing.

    Raises:
        ValueError: the kit is not of this drawing.
    """
    extent = drawing.rooms.shape[::-1]
    if any((t.places[:, :2] > extent).any() for t in kit.types):
        raise ValueError(f"a kit of another plan: {kit.plan!r} has tiles outside of {drawing.name!r}")
    if kit.block == 1 and any(len(t.tile.shape.cells) > 1 for t in kit.types):
        return _laid_pieces(drawing, kit)
    if kit.cut is None:
        return _lay_cells(drawing, kit, drawing.rooms != 0)
    ordinary = _lay_cells(drawing, kit, (drawing.rooms != 0) & ~kit.cut.cells)
    others = _lay_off_grid(drawing, kit, kit.cut)
    count = len(ordinary.type_of)
    return _in_reading_order(
        np.where((others.tile_of >= 0) & kit.cut.cells, others.tile_of + count, ordinary.tile_of),
        np.concatenate([ordinary.type_of, others.type_of]),
        np.concatenate([ordinary.place_of, others.place_of]),
        np.concatenate([ordinary.first_cells, others.first_cells]),
    )


def _in_reading_order(tile_of: Indexes, type_of: Indexes, place_of: Indexes, first_cells: Indexes) -> Layout:
    """The same with the tiles numbered by their first cells."""
    order = np.lexsort((first_cells[:, 0], first_cells[:, 1]))
    rank = np.full(len(order) + 1, -1, np.int32)
    rank[order] = np.arange(len(order))
    return Layout(rank[tile_of], type_of[order], place_of[order], first_cells[order])


def _lay_cells(drawing: Drawing, kit: Kit, floor: npt.NDArray[np.bool_]) -> Layout:
    """The ordinary tiles, on the cells of `floor`."""
    rows, columns = drawing.rooms.shape
    if kit.block == 1:
        keys = np.where(floor, np.arange(rows * columns).reshape(rows, columns), -1)
    else:
        keys = _block_keys(floor, kit.lattice)
    where = np.flatnonzero(floor.ravel())
    _, first, inverse = np.unique(keys.ravel()[where], return_index=True, return_inverse=True)
    tile_of = np.full(rows * columns, -1, np.int32)
    tile_of[where] = inverse
    firsts = where[first]
    first_cells = np.stack([firsts % columns + 1, firsts // columns + 1], axis=1).astype(np.int32)
    tile_of = tile_of.reshape(rows, columns)
    return Layout(tile_of, *_types(drawing, kit, keys, firsts), first_cells)


def _block_keys(floor: npt.NDArray[np.bool_], lattice: Place) -> npt.NDArray[np.int64]:
    """One number for each 5 ft cell's tile: its block's, and which half of a block that is only a diagonal."""
    rows, columns = floor.shape
    left, top = (-lattice[0]) % 2, (-lattice[1]) % 2
    padded = np.pad(floor, ((top, (rows + top) % 2), (left, (columns + left) % 2)))
    a, b, c, d = padded[0::2, 0::2], padded[0::2, 1::2], padded[1::2, 0::2], padded[1::2, 1::2]
    diagonal = (a & d & ~b & ~c) | (b & c & ~a & ~d)
    row, column = np.arange(rows) + top, np.arange(columns) + left
    block_row, block_column = row[:, None] // 2, column[None, :] // 2
    lower = diagonal[block_row, block_column] & (row[:, None] % 2 == 1)
    keys = (block_row * np.int64(padded.shape[1] // 2) + block_column) * 2 + lower
    keys[~floor] = -1
    found: npt.NDArray[np.int64] = keys
    return found


def _types(
    drawing: Drawing, kit: Kit, keys: npt.NDArray[np.int64], firsts: npt.NDArray[np.int64]
) -> tuple[Indexes, Indexes]:
    """The type of every tile and which of its places that is, in the order of their keys."""
    rows, columns = drawing.rooms.shape
    by_place = np.full((2, rows, columns), -1, np.int32)
    for index, kind in enumerate(kit.types):
        at = kind.on_grid[:, 1] - 1, kind.on_grid[:, 0] - 1
        by_place[0][at], by_place[1][at] = index, np.arange(len(kind.on_grid))
    if kit.block == 1:
        found = by_place.reshape(2, -1)[:, firsts]
    else:
        # A place names its block's first cell, which need not be floor; half a diagonal block is found by what it is.
        left, top = (-kit.lattice[0]) % 2, (-kit.lattice[1]) % 2
        row, column = firsts // columns, firsts % columns
        row, column = np.maximum((row + top) // 2 * 2 - top, 0), np.maximum((column + left) // 2 * 2 - left, 0)
        found = by_place[:, row, column]
        own = keys.ravel()[firsts]
        halves = np.isin(own ^ 1, own)
        found[:, halves] = _halves(drawing, kit, firsts[halves], np.stack([column, row])[:, halves] + 1)
    if (found < 0).any():
        raise ValueError("the kit is not of this drawing")
    return found[0], found[1]


def _halves(drawing: Drawing, kit: Kit, cells: npt.NDArray[np.int64], blocks: npt.NDArray[np.int64]) -> Indexes:
    """(2, cells): the type of each half of a diagonal block, and which of its places it is. blocks: as places say."""
    codes, kinds = cell_codes(drawing)
    distinct, inverse = np.unique(codes.ravel()[cells], return_inverse=True)
    shapes = [single_cell(kinds.cell(int(code)), (1.0, 1.0)) for code in distinct]
    owns = {shape.own_pose() for shape in shapes}
    there: dict[tuple[CellShape, int, int], list[tuple[int, int]]] = {}
    for index, kind in enumerate(kit.types):
        if kind.tile.shape in owns:
            for number, (column, row, turns) in enumerate(kind.on_grid.tolist()):
                there.setdefault((kind.tile.shape.turns[turns], column, row), []).append((index, number))
    found = np.full((len(cells), 2), -1, np.int32)
    for n, (code, column, row) in enumerate(zip(inverse.tolist(), *blocks.tolist(), strict=True)):
        if free := there.get((shapes[code], column, row)):
            found[n] = free.pop(0)
    return found.T


def _laid_pieces(drawing: Drawing, kit: Kit) -> Layout:
    """Larger pieces: every place covers the squares of its turned shape."""
    tile_of = np.full(drawing.rooms.shape, -1, np.int32)
    type_of: list[int] = []
    place_of: list[int] = []
    firsts: list[Place] = []
    for index, kind in enumerate(kit.types):
        turned = kind.tile.shape.turns
        place_of += range(kind.count)
        for column, row, turns in kind.places.tolist():
            cells = [(column + c, row + r) for (c, r), _ in turned[turns].cells]
            for c, r in cells:
                tile_of[r - 1, c - 1] = len(type_of)
            type_of.append(index)
            firsts.append(min(cells, key=lambda cell: (cell[1], cell[0])))
    numbers = np.array(type_of, np.int32), np.array(place_of, np.int32)
    return _in_reading_order(tile_of, *numbers, np.array(firsts, np.int32))


def _lay_off_grid(drawing: Drawing, kit: Kit, cut: CutFloor) -> Layout:
    """The tiles off the grid, in the order of the kit: of two on one cell it is of the one that covers more of it.

    The first cell of a tile that is on no cell the most of what lies there is the nearest cell of its room.
    """
    rows, columns = drawing.rooms.shape
    side = drawing.cell_side
    number, most = np.full((rows, columns), -1, np.int32), np.zeros((rows, columns))
    types: list[int] = []
    place_of: list[int] = []
    firsts: list[tuple[int, int]] = []
    spots: list[Point] = []
    for index, kind in enumerate(kit.types):
        place_of += range(len(kind.on_grid), kind.count)
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
        places[tile] = _nearest(drawing, cut, spots[tile]) or places[tile]
    for tile, (r, c) in reversed([(int(number[r, c]), (r, c)) for r, c in np.argwhere(number >= 0).tolist()]):
        places[tile] = c + 1, r + 1
    return Layout(number, np.array(types, np.int32), np.array(place_of, np.int32), places)


def _nearest(drawing: Drawing, cut: CutFloor, spot: Point) -> tuple[int, int] | None:
    """Column and row, from 1, of the cell nearest to a point of the table among those of the room that it lies in."""
    rooms = [piece.room for piece in cut.pieces if piece.floor.contains(Point(spot.x, -spot.y))]
    cells = np.argwhere(drawing.rooms == rooms[0]) if rooms else np.zeros((0, 2), int)
    if not len(cells):
        return None
    middles = (cells + 0.5) * drawing.cell_side
    row, column = cells[np.hypot(middles[:, 1] - spot.x, middles[:, 0] - spot.y).argmin()].tolist()
    return column + 1, row + 1


def layout_numbers(kit: Kit) -> dict[str, str]:
    """The number of each type by its id: tiles 1, 2, ... in the kit's order, loose pieces S or S1, S2, ..."""
    tiles = {t.tile.id: str(number) for number, t in enumerate(kit.types, 1)}
    one = len(kit.pieces) == 1
    return tiles | {p.piece.id: "S" if one else f"S{number}" for number, p in enumerate(kit.pieces, 1)}


def middles_of(tile: Tile) -> npt.NDArray[np.float64]:
    """(n, 2) middles of a tile's modules with connectors, on the grid's lines, in the tile's own frame; mm."""
    half = tile.grid.half_play
    middles = []
    for seat in seating_of(tile.shape, tile.grid, tile.base.foot).whole:
        (x, y), (dx, dy) = seat.centre, direction_of((seat.start, seat.end))
        middles.append((x - dy * half, y + dx * half))
    return np.array(middles, np.float64).reshape(-1, 2)


def count_seams(kit: Kit, drawing: Drawing) -> int:
    """How many modules of the laid-out plan have connectors on both sides of the seam: one key each, for instance."""
    if not pockets_of(drawing.grid):
        return 0
    own = {kind.tile.id: middles_of(kind.tile) for kind in kit.types}
    laid = [turn.points(own[kind.tile.id]) for kind, turn in placed(kit, drawing)]
    middles = np.round(np.concatenate(laid) / _FINENESS_MM).astype(np.int64)
    _, times = np.unique(middles, axis=0, return_counts=True)
    return int((times == 2).sum())
