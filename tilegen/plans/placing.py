"""Where every tile and every loose piece of a kit lies on the table, by exact quarter turns.

Table coordinates: millimetres from the drawing's top left corner, x to the east, y to the south. A tile's own
frame has x to the east, y to the north and (0, 0) at the south-west corner of its lattice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from math import fsum
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Points
from tilegen.plans.cellcodes import CellKinds, cell_codes
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, TileType
from tilegen.plans.loose import PieceType
from tilegen.plans.oddtiles import MATRICES
from tilegen.plans.ways import Way
from tilegen.tiles.doors import END_CLEARANCE_MM, Piece
from tilegen.tiles.shape import CellShape, four_turns, single_cell

G = TypeVar("G", bound=BaseGeometry)


@dataclass(frozen=True, slots=True)
class Turn:
    """How one tile lies: clockwise quarter turns, and where the (0, 0) of its own frame falls on the table, in mm."""

    quarter_turns: int
    x: float
    y: float

    @property
    def matrix(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Rows of the whole-number matrix from the own frame to the table; then (x, y) is added."""
        return MATRICES[self.quarter_turns]

    def points(self, own: Points) -> Points:
        """(n, 2) points of the tile's own frame, on the table."""
        table: Points = own @ np.array(self.matrix, np.float64).T + (self.x, self.y)
        return table

    def geometry(self, own: G) -> G:
        """A geometry of the tile's own frame, on the table."""
        return shapely.transform(own, self.points)


def placed(kit: Kit, drawing: Drawing) -> Iterator[tuple[TileType, Turn]]:
    """Every tile of a kit with its place: type by type, in the order of each type's places.

    Raises:
        ValueError: a tile off the grid, or a kit that is not of this drawing.
    """
    finder = _FirstCells(kit, drawing)
    for tile_type in kit.types:
        shape = tile_type.tile.shape
        if len(tile_type.on_grid):
            if not isinstance(shape, CellShape):
                raise ValueError(f"tile {tile_type.name} is not made of cells")
            turned = four_turns(shape)
            for column, row, turns in tile_type.on_grid.tolist():
                first = finder.first_cell(column - 1, row - 1, turned[turns])
                yield tile_type, _turn(first, turned[turns], turns, drawing)
        for (_, _, turns), (x, y) in zip(tile_type.off_grid.tolist(), tile_type.lies.tolist(), strict=True):
            yield tile_type, Turn(turns, x, y)


def corners(kit: Kit, drawing: Drawing) -> Iterator[Points]:
    """Of each type's places in turn, (count, 2): how far west and north edge of the tile's bounding box lie, mm.

    The box is that of the turned solid as it is written, joint play off and pegs included.
    """
    finder = _FirstCells(kit, drawing)
    for kind in kit.types:
        west, south, east, north = shapely.total_bounds([plate.foot for plate in kind.tile.plates]).tolist()
        own = np.array([(west, south), (east, north)])
        # From where the own (0, 0) falls to the box's north-west corner, by quarter turns.
        to_box = np.array([(own @ np.array(matrix, np.float64).T).min(axis=0) for matrix in MATRICES])
        yield _origins(kind, finder) + to_box[kind.places[:, 2]]


def _origins(kind: TileType, finder: _FirstCells) -> Points:
    """(count, 2): where the (0, 0) of a type's own frame falls on the table at each of its places, mm."""
    if not len(kind.on_grid):
        return kind.lies
    shape, drawing, on_grid = kind.tile.shape, finder.drawing, kind.on_grid
    if not isinstance(shape, CellShape):
        raise ValueError(f"tile {kind.name} is not made of cells")  # noqa: TRY004 - a value of the kit
    turned = four_turns(shape)
    if kit_of_blocks := finder.block != 1:
        places = [finder.first_cell(c - 1, r - 1, turned[t]) for c, r, t in on_grid.tolist()]
    first = np.array(places, np.float64) if kit_of_blocks else on_grid[:, :2] - 1.0
    sizes = np.array([(fsum(t.widths), fsum(t.heights)) for t in turned])[on_grid[:, 2]]
    # As in `_turn`: the own south-west corner goes to the south-west, north-west, north-east, south-east.
    share = np.array([(0, 1), (0, 0), (1, 0), (1, 1)])[on_grid[:, 2]]
    origins: Points = (first * drawing.cell_spaces + sizes * share) * drawing.grid.pitch
    return np.concatenate([origins, kind.lies])


def placed_pieces(kit: Kit, drawing: Drawing) -> Iterator[tuple[PieceType, Turn]]:
    """Every saddle door with its place, in the order of each type's places; its frame is that of its plates.

    Leaves stand inside their walls and are not drawn.
    """
    for piece_type in kit.pieces:
        for way in piece_type.places if piece_type.piece.kind == "saddle" else ():
            yield piece_type, _piece_turn(piece_type.piece, way, drawing)


def _turn(first: tuple[int, int], turned: CellShape, turns: int, drawing: Drawing) -> Turn:
    """The turn of a tile whose north-westernmost lattice cell is `first` (column, row from 0)."""
    pitch, spaces = drawing.grid.pitch, drawing.cell_spaces
    west, north = first[0] * spaces, first[1] * spaces
    east, south = west + fsum(turned.widths), north + fsum(turned.heights)
    # The own south-west corner goes to the south-west, north-west, north-east, south-east.
    return Turn(turns, (west, west, east, east)[turns] * pitch, (south, north, north, south)[turns] * pitch)


def _piece_turn(piece: Piece, way: Way, drawing: Drawing) -> Turn:
    column, row = way.cell[0] - 1, way.cell[1] - 1
    side, grid = drawing.cell_side, drawing.grid
    shift, thickness = grid.wall_thickness + END_CLEARANCE_MM, grid.wall_thickness
    along_row = way.side in ("north", "south")
    if along_row:
        row += way.side == "south"
        kind = drawing.kinds[int(drawing.across[row, column])]
    else:
        column += way.side == "east"
        kind = drawing.kinds[int(drawing.down[row, column])]
    # Doors that are alike up to a half turn are one type: the others of it stand the other way round.
    same_way = kind.opening == piece.opening
    x, y = column * side, row * side
    if along_row:
        return Turn(0, x + shift, y + thickness) if same_way else Turn(2, x + side - shift, y - thickness)
    return Turn(1, x - thickness, y + shift) if same_way else Turn(3, x + thickness, y + side - shift)


class _FirstCells:
    """Finds the first cell of a tile from the place the kit gives; at 5 ft that place is its block's."""

    def __init__(self, kit: Kit, drawing: Drawing) -> None:
        self.block, self.lattice, self.drawing = kit.block, kit.lattice, drawing
        self.taken: set[tuple[int, int]] = set()

    def first_cell(self, column: int, row: int, turned: CellShape) -> tuple[int, int]:
        """Column and row from 0 of the north-westernmost cell of a tile's lattice."""
        if self.block == 1:
            return column, row
        cells = self._cells_of_block(column, row)
        if len(turned.cells) == len(cells):
            return min(c for c, _ in cells), min(r for _, r in cells)
        # A diagonal block is two tiles of one cell each: this one is the cell that carries the same.
        for cell in cells:
            if cell not in self.taken and len(turned.cells) == 1 and self._shape(cell) == turned:
                self.taken.add(cell)
                return cell
        raise ValueError(f"no tile like this in the block at column {column + 1}, row {row + 1}")

    def _cells_of_block(self, column: int, row: int) -> list[tuple[int, int]]:
        """The floor cells of the block, in reading order; a block at the edge starts outside, its place inside."""
        rows, columns = self.drawing.rooms.shape
        left = column - (column - self.lattice[0]) % 2
        top = row - (row - self.lattice[1]) % 2
        return [
            (c, r)
            for r in range(max(top, 0), min(top + 2, rows))
            for c in range(max(left, 0), min(left + 2, columns))
            if self.drawing.rooms[r, c]
        ]

    @cached_property
    def _codes(self) -> tuple[npt.NDArray[np.int64], CellKinds]:
        return cell_codes(self.drawing)

    def _shape(self, cell: tuple[int, int]) -> CellShape:
        codes, kinds = self._codes
        return single_cell(kinds.cell(int(codes[cell[1], cell[0]])), (1.0, 1.0))
