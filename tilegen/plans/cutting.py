"""Rooms off the grid cut by the lattice of tiles into pieces, slivers joined with their neighbours.

A square of the lattice whose floor and walls are those of ordinary cells stays an ordinary tile. Of every other square
each room's floor is a piece. A piece is a sliver if it covers less than a third of a square, or is nowhere as wide as
three wall thicknesses: it joins the piece or whole square of the same room with which it shares the longest seam, of
equal ones the first met walking clockwise round the sliver from where its wall ends. The smallest go first.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tilegen.geometry import EQUAL_MM, SNAP_MM, corners_of, largest_polygon, polygons_of, sides_of
from tilegen.plans.borders import Border
from tilegen.plans.drawing import Drawing
from tilegen.plans.innerwalls import inner_walls, less_inner_walls
from tilegen.plans.posts import posts_of
from tilegen.plans.shapes import Bools, OffGrid, cell_box
from tilegen.tiles.regionshape import InnerWalls

SLIVER_SHARE = 1 / 3
SLIVER_WALLS = 3.0
# What ordinary walls and those of the outline may differ by on a cell, mm2, before it counts as odd.
_SAME_MM2 = 0.5
Square = tuple[int, int]


@dataclass(eq=False)
class Piece:
    """A piece of a room's floor that is one tile, in map coordinates; squares: those of the lattice it lies on.

    sliver: whether it is too small or too narrow to stay alone; None if nobody has looked.
    """

    room: int
    floor: Polygon
    squares: set[Square] = field(default_factory=set)
    sliver: bool | None = None


@dataclass(frozen=True)
class Cut:
    """A drawing on one lattice: the odd cells (rows, columns), which no ordinary tile covers, and the pieces there."""

    odd: Bools
    pieces: tuple[Piece, ...]
    borders: dict[int, Border]
    inner: dict[int, InnerWalls]


def cut_pieces(drawing: Drawing, off_grid: OffGrid, lattice: Square, block: int) -> Cut:
    """Cut a drawing's rooms off the grid.

    lattice: column and row at which the first square starts; block: cells along a square's side.

    Raises:
        InputError: a wall inside a room that the room's outline crosses; a way that does not fit.
    """
    return _Cutter(drawing, off_grid, lattice, block).cut()


class _Cutter:
    """The state while a drawing is cut."""

    def __init__(self, drawing: Drawing, off_grid: OffGrid, lattice: Square, block: int) -> None:
        self.drawing, self.off_grid, self.lattice, self.block = drawing, off_grid, lattice, block
        self.cell = drawing.cell_side
        self.borders: dict[int, Border] = {}
        self.inners: dict[int, InnerWalls] = {}
        self.regions = dict(off_grid.regions)

    def cut(self) -> Cut:
        odd_cells = self._odd_cells()
        squares = {self._square(c, r) for r, c in np.argwhere(odd_cells).tolist()}
        pieces = [piece for square in sorted(squares, key=lambda s: s[::-1]) for piece in self._pieces_on(square)]
        pieces = self._merged(pieces, squares)
        odd = np.zeros(self.drawing.rooms.shape, bool)
        for column, row in squares:
            odd[max(row, 0) : row + self.block, max(column, 0) : column + self.block] = True
        rooms = sorted({p.room for p in pieces})
        return Cut(odd, tuple(pieces), {c: self.border(c) for c in rooms}, {c: self.inner(c) for c in rooms})

    def _square(self, column: int, row: int) -> Square:
        """The first cell (maybe outside the drawing) of the square that a cell is in."""
        b = self.block
        return column - (column - self.lattice[0]) % b, row - (row - self.lattice[1]) % b

    def region(self, code: int) -> BaseGeometry:
        """A room's floor; of a room without shapes the union of its cells."""
        if code not in self.regions:
            cells = np.argwhere(self.drawing.rooms == code).tolist()
            self.regions[code] = shapely.union_all([cell_box(c, r, self.cell) for r, c in cells], grid_size=EQUAL_MM)
        return self.regions[code]

    def border(self, code: int) -> Border:
        """A room's border, worked out once."""
        if code not in self.borders:
            self.borders[code] = Border(self.drawing, self.region(code), chr(code))
        return self.borders[code]

    def inner(self, code: int) -> InnerWalls:
        """The walls inside a room, worked out once."""
        if code not in self.inners:
            self.inners[code] = inner_walls(self.drawing, self.region(code), code, self.off_grid.whole)
        return self.inners[code]

    def _odd_cells(self) -> Bools:
        """Cells of the rooms with shapes that are not all floor, or that carry what no ordinary cell does."""
        rooms, whole = self.drawing.rooms, self.off_grid.whole
        shaped = np.isin(rooms, np.array(sorted(self.off_grid.regions), np.uint32))
        odd: Bools = self.off_grid.part.copy()
        near = np.zeros_like(odd)
        padded = np.pad(odd, 1)
        for r in range(3):
            for c in range(3):
                near |= padded[r : r + odd.shape[0], c : c + odd.shape[1]]
        posts = posts_of(self.drawing)
        for row, column in np.argwhere(near & shaped & whole).tolist():
            odd[row, column] = not self._ordinary(row, column, int(posts[row, column]))
        return odd | self._opened_cells()

    def _opened_cells(self) -> Bools:
        """Cells whose walls a way at a point goes through: no ordinary tile has an opening there."""
        rooms = self.drawing.rooms
        found = np.zeros(rooms.shape, bool)
        for way in self.drawing.wall_ways:
            reach = way.opening.width / 2 - SNAP_MM
            for room in way.rooms:
                for x, y in way.spots_in(room):
                    north, south = self._cells_within(-y, reach)
                    west, east = self._cells_within(x, reach)
                    found[north:south, west:east] |= rooms[north:south, west:east] == ord(room)
        return found

    def _cells_within(self, middle: float, reach: float) -> tuple[int, int]:
        """The first row or column that is within reach of a place along it, and the one after the last, from 0."""
        return max(math.floor((middle - reach) / self.cell), 0), math.ceil((middle + reach) / self.cell)

    def _ordinary(self, row: int, column: int, posts: int) -> bool:
        """Whether a whole cell's walls are the strips along its sides and its posts."""
        d, t = self.drawing, self.drawing.grid.wall_thickness
        square = cell_box(column, row, self.cell)
        x0, y0, x1, y1 = square.bounds
        lines = (d.across[row, column], d.down[row, column + 1], d.across[row + 1, column], d.down[row, column])
        strips = (box(x0, y1 - t, x1, y1), box(x1 - t, y0, x1, y1), box(x0, y0, x1, y0 + t), box(x0, y0, x0 + t, y1))
        corners = (
            box(x1 - t, y1 - t, x1, y1),
            box(x1 - t, y0, x1, y0 + t),
            box(x0, y0, x0 + t, y0 + t),
            box(x0, y1 - t, x0 + t, y1),
        )
        expected = [s for s, k in zip(strips, lines, strict=True) if d.carried[int(k)]]
        expected += [corner for k, corner in enumerate(corners) if posts >> k & 1]
        mixed = self.off_grid.mixed_across[row : row + 2, column].any() or (
            self.off_grid.mixed_down[row, column : column + 2].any()
        )
        if mixed:
            return False
        within: BaseGeometry = self._filled_near(square, int(d.rooms[row, column])).buffer(
            -t, join_style="mitre", mitre_limit=2.0
        )
        within = less_inner_walls(within, self.inner(int(d.rooms[row, column])), t)
        walls = square.difference(within)
        return float(walls.symmetric_difference(shapely.union_all(expected)).area) < _SAME_MM2

    def _filled_near(self, part: BaseGeometry, code: int) -> BaseGeometry:
        """The room's floor around a part of it, filled up where it is open."""
        west, south, east, north = part.bounds
        far = 6 * self.drawing.grid.wall_thickness
        return self.border(code).filled.intersection(box(west - far, south - far, east + far, north + far))

    def _pieces_on(self, square: Square) -> Iterator[Piece]:
        """Each room's floor on a square of the lattice."""
        column, row = square
        floor = cell_box(column, row, self.cell, self.block, self.block)
        rows, columns = self.drawing.rooms.shape
        part = self.drawing.rooms[
            max(row, 0) : min(row + self.block, rows), max(column, 0) : min(column + self.block, columns)
        ]
        codes = {int(code) for code in np.unique(part) if code} | set(self.off_grid.regions)
        for code in sorted(codes):
            found = shapely.intersection(self.region(code), floor, grid_size=EQUAL_MM)
            yield from (Piece(code, polygon, {square}) for polygon in polygons_of(found))

    # --- slivers ---

    def _is_sliver(self, piece: Piece) -> bool:
        if piece.sliver is None:
            piece.sliver = self._too_slight(piece)
        return piece.sliver

    def _too_slight(self, piece: Piece) -> bool:
        side = self.cell * self.block
        width = SLIVER_WALLS * self.drawing.grid.wall_thickness
        if piece.floor.area < SLIVER_SHARE * side**2 - 1e-6:
            return True
        return bool(piece.floor.buffer(-width / 2 + 1e-6).is_empty)

    def _merged(self, pieces: list[Piece], squares: set[Square]) -> list[Piece]:
        """Slivers joined with what they share the longest seam with, the smallest first."""
        left = sorted((p for p in pieces if self._is_sliver(p)), key=_order)
        alone: list[Piece] = []
        while left:
            sliver = left.pop(0)
            pieces.remove(sliver)
            beside = self._beside(sliver, pieces, squares)
            if beside is None:
                alone.append(sliver)
                continue
            if beside not in pieces:
                pieces += self._made_odd(next(iter(beside.squares)), squares)
                beside = next(
                    p for p in pieces if p.room == beside.room and p.floor.intersection(beside.floor).area > 0
                )
            beside.floor = largest_polygon(shapely.union_all([beside.floor, sliver.floor], grid_size=EQUAL_MM))
            beside.squares |= sliver.squares
            beside.sliver = None
            left = sorted((p for p in pieces if self._is_sliver(p)), key=_order)
        return sorted([*pieces, *alone], key=lambda p: (_order(p)[1:], p.room))

    def _made_odd(self, square: Square, squares: set[Square]) -> list[Piece]:
        squares.add(square)
        return list(self._pieces_on(square))

    def _beside(self, sliver: Piece, pieces: list[Piece], squares: set[Square]) -> Piece | None:
        """The neighbour of a sliver with the longest seam; None if it has none."""
        candidates = [p for p in pieces if p.room == sliver.room and p.floor.distance(sliver.floor) < SNAP_MM]
        for square in self._whole_squares_near(sliver, squares):
            floor = shapely.intersection(
                self.region(sliver.room), cell_box(*square, self.cell, self.block, self.block), grid_size=EQUAL_MM
            )
            candidates += [
                Piece(sliver.room, part, {square})
                for part in polygons_of(floor)
                if part.distance(sliver.floor) < SNAP_MM
            ]
        seams = [(_seam(sliver.floor, p.floor), p) for p in candidates]
        longest = max((length for length, _ in seams), default=0.0)
        if longest < SNAP_MM:
            return None
        best = [p for length, p in seams if length > longest - SNAP_MM]
        return best[0] if len(best) == 1 else self._first_clockwise(sliver, best)

    def _whole_squares_near(self, sliver: Piece, squares: set[Square]) -> Iterator[Square]:
        west, south, east, north = (v / self.cell for v in sliver.floor.bounds)
        found = {
            self._square(c, r)
            for r in range(int(-north) - 1, int(-south) + 2)
            for c in range(int(west) - 1, int(east) + 2)
        }
        yield from sorted(found - squares, key=lambda s: s[::-1])

    def _first_clockwise(self, sliver: Piece, best: list[Piece]) -> Piece:
        """Of neighbours with equal seams, the first met walking clockwise from where the sliver's wall ends."""
        ring = corners_of(orient(sliver.floor, -1.0).exterior)
        boundary = self.region(sliver.room).boundary
        sides = [shapely.LineString(side) for side in sides_of(ring)]
        walls = [boundary.distance(side.interpolate(0.5, normalized=True)) < SNAP_MM for side in sides]
        start = next((k for k in range(len(sides)) if walls[k - 1] and not walls[k]), 0)
        for side in (*sides[start:], *sides[:start]):
            middle = side.interpolate(0.5, normalized=True)
            for piece in best:
                if piece.floor.distance(middle) < SNAP_MM and not boundary.distance(middle) < SNAP_MM:
                    return piece
        return best[0]


def _order(piece: Piece) -> tuple[float, float, float]:
    """Smallest first, then in reading order."""
    west, _, _, north = piece.floor.bounds
    return round(piece.floor.area, 3), round(-north, 3), round(west, 3)


def _seam(one: Polygon, other: Polygon) -> float:
    return float(one.intersection(other.buffer(SNAP_MM, join_style="mitre")).area / SNAP_MM)
