"""Tiles on the grid: cells to plates, every coordinate from one table of sums of the given measures."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from math import fsum

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Point, without_collinear
from tilegen.grid import Grid
from tilegen.tiles.celllines import EAST, FAR, NORTH, SOUTH, WEST, Lattice
from tilegen.tiles.floor import CellFloor, floor_plates, hollows_on
from tilegen.tiles.joints import PRINTED_JOINTS, Band, Joints
from tilegen.tiles.marks import lines_in_box, lines_on_face
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.shape import CORNERS, SIDES, STEPS, CellShape
from tilegen.tiles.walls import End, Post, Run, walls_of

# Which way one walks along each side, with the inside on the right.
ALONG: tuple[Point, ...] = ((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))


class CellTile:
    """Works out the plates of a shape made of cells; one instance for one shape, grid, wall band and way to join."""

    def __init__(self, shape: CellShape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> None:
        self.shape, self.grid, self.band, self.joints = shape, grid, band, joints
        self.lattice = Lattice.of(shape, grid)
        self.cells = shape.by_place

    def footprint(self) -> Polygon:
        """The base on the plan: the cells, less half the play along every outside edge, mitred."""
        return self._footprint

    @cached_property
    def _footprint(self) -> Polygon:
        boxes = [self._cell_box(place) for place in self.cells]
        if len(boxes) == 1:
            return boxes[0]
        notches = [notch for place in self.cells for notch in self._notches(place)]
        whole = shapely.union_all(boxes)
        if notches:
            whole = whole.difference(shapely.union_all(notches))
        return without_collinear(whole)

    def standing(self) -> Iterator[Plate]:
        """Walls, then posts; butt-jointed, so that they touch and never overlap."""
        clip = self._footprint if self._has_notch() else None
        how = self.band, self.joints
        return walls_of(list(self._runs()), list(self._posts()), clip, how, self.grid.half_play)

    def marks(self) -> tuple[Mark, ...]:
        """The space lines on what walls and posts leave visible."""
        if not self.grid.floor.lines:
            return ()
        columns, rows = self.shape.widths[0], self.shape.heights[0]
        if len(self.cells) == 1 and columns == int(columns) and rows == int(rows):
            xs = [n * self.grid.pitch for n in range(1, int(columns))]
            ys = [n * self.grid.pitch for n in range(1, int(rows))]
            return lines_in_box(self.clear_box(), xs, ys, self.grid)
        feet = [plate.foot for plate in self.standing()]
        return lines_on_face(self._footprint.difference(shapely.union_all(feet)), self.grid)

    def floor(self) -> tuple[Plate, ...]:
        """The base, in layers where it must be, then what is on it."""
        floors = [self._cell_floor(place) for place in self.cells]
        return floor_plates(self._footprint, floors, tuple(self.standing()), self.grid)

    def hollows(self) -> dict[str, BaseGeometry]:
        """What the hollows of each kind cover on the plan."""
        return hollows_on(self._footprint, [self._cell_floor(place) for place in self.cells], tuple(self.standing()))

    def _cell_floor(self, place: tuple[int, int]) -> CellFloor:
        xs, ys = self.lattice.xs[place[0] : place[0] + 2], self.lattice.ys[place[1] : place[1] + 2]
        region = self._cell_box(place)
        if self._has_notch():
            region = without_collinear(region.intersection(self._footprint))
        extra = self.cells[place].extra
        return CellFloor(region, (fsum(xs) / 2, fsum(ys) / 2), extra.floor, extra.blocks)

    def clear_box(self) -> tuple[float, float, float, float]:
        """Of a single cell: what its walls leave free (posts not deducted): west, south, east, north."""
        ((place, cell),) = self.shape.cells
        reach = [self.band.inner if side.carries else self.grid.half_play for side in cell.sides]
        north, east, south, west = (self._inside(place, side, reach[side]) for side in range(4))
        return west, south, east, north

    def _inside(self, place: tuple[int, int], side: int, distance: float) -> float:
        line = self.lattice.line(place, side)
        return line - distance if FAR[side] else line + distance

    def _neighbour(self, place: tuple[int, int], *sides: int) -> tuple[int, int]:
        column, row = place
        for side in sides:
            column, row = column + STEPS[side][0], row + STEPS[side][1]
        return column, row

    def _outside(self, place: tuple[int, int], side: int) -> bool:
        return self._neighbour(place, side) not in self.cells

    def _cell_box(self, place: tuple[int, int]) -> Polygon:
        half = self.grid.half_play
        north, east, south, west = (
            self._inside(place, side, half if self._outside(place, side) else 0.0) for side in range(4)
        )
        return box(west, south, east, north)

    def _is_notch(self, place: tuple[int, int], corner: int) -> bool:
        first, second = corner, (corner + 1) % 4
        return (
            not self._outside(place, first)
            and not self._outside(place, second)
            and self._neighbour(place, first, second) not in self.cells
        )

    def _has_notch(self) -> bool:
        return len(self.cells) > 1 and any(self._is_notch(place, k) for place in self.cells for k in range(4))

    def _notches(self, place: tuple[int, int]) -> Iterator[Polygon]:
        """The squares a mitred inset takes out of a cell at the tile's reflex corners."""
        half = self.grid.half_play
        for corner in range(4):
            if half and self._is_notch(place, corner):
                yield self._corner_box(place, corner, (0.0, half), (0.0, half))

    def _corner_box(
        self, place: tuple[int, int], corner: int, first: tuple[float, float], second: tuple[float, float]
    ) -> Polygon:
        """A box in a cell's corner, by its distances from the corner's two sides."""
        spans: dict[bool, tuple[float, float]] = {}
        for side, span in ((corner, first), ((corner + 1) % 4, second)):
            spans[side in (EAST, WEST)] = (self._inside(place, side, span[0]), self._inside(place, side, span[1]))
        (x0, x1), (y0, y1) = spans[True], spans[False]
        return box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))

    def _carries(self, place: tuple[int, int], side: int) -> bool:
        return place in self.cells and self.cells[place].sides[side].carries

    def _heights(self, place: tuple[int, int]) -> tuple[float, float]:
        """Where the walls of a cell start and end."""
        extra = self.cells[place].extra
        bottom = self.grid.base_depth + extra.floor
        return bottom, bottom + (self.grid.wall_height if extra.wall_height is None else extra.wall_height)

    def _runs(self) -> Iterator[Run]:
        """A run for each side of a cell that carries a wall, north sides first."""
        for side in range(4):
            for place, cell in self.cells.items():
                carried = cell.sides[side]
                if not carried.carries:
                    continue
                path = self._corner(place, (side + 3) % 4), self._corner(place, side)
                ends = self._beside(place, (side + 3) % 4), self._beside(place, (side + 1) % 4)
                openings = (carried.opening,) if carried.opening else ()
                name = self._named(f"wall {SIDES[side]}", place)
                yield Run(path, self._outside(place, side), self._heights(place), openings, name, ends)

    def _beside(self, place: tuple[int, int], across: int) -> End:
        """What a wall of a cell ends at where the side across it carries none: the tile's edge, or nothing."""
        return End(ALONG[across]) if not self._carries(place, across) and self._outside(place, across) else End()

    def _posts(self) -> Iterator[Post]:
        for place, cell in self.cells.items():
            for corner in range(4):
                if cell.posts[corner]:
                    # Across: the sides to the east or west, and to the north or south.
                    across = sorted((corner, (corner + 1) % 4), key=lambda side: side in (NORTH, SOUTH))
                    along = ALONG[across[0]], ALONG[across[1]]
                    seams = self._outside(place, across[0]), self._outside(place, across[1])
                    name = self._named(f"post {CORNERS[corner]}", place)
                    yield Post(self._corner(place, corner), along, seams, self._heights(place), name)

    def _corner(self, place: tuple[int, int], corner: int) -> Point:
        """Of a cell's lines; corner k lies between side k and the next one, walking clockwise."""
        line = self.lattice.line
        x = line(place, EAST if corner in (0, 1) else WEST)
        return x, line(place, NORTH if corner in (0, 3) else SOUTH)

    def _named(self, word: str, place: tuple[int, int]) -> str:
        return word if len(self.cells) == 1 else f"{word} {place[0] + 1},{place[1] + 1}"
