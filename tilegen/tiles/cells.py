"""Tiles on the grid: cells to plates, every coordinate from one table of sums of the given measures."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import without_collinear
from tilegen.grid import Grid
from tilegen.tiles.description import EAST, WEST, CellLines
from tilegen.tiles.floor import FloorPart, floor_plates, hollows_on
from tilegen.tiles.joints import PRINTED_JOINTS, Band, Joints
from tilegen.tiles.marks import lines_in_box, lines_on_face
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.shape import CellShape
from tilegen.tiles.walls import walls_of


class CellTile:
    """Works out the plates of a shape made of cells; one instance for one shape, grid, wall band and way to join."""

    def __init__(self, shape: CellShape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> None:
        self.shape, self.grid, self.band, self.joints = shape, grid, band, joints
        self.lines, self.cells = CellLines(shape, grid), shape.by_place

    def footprint(self) -> Polygon:
        """The base on the plan: the cells, less half the play along every outside edge, mitred."""
        return self._footprint

    @cached_property
    def _footprint(self) -> Polygon:
        boxes = [self.lines.box(place, self.grid.half_play) for place in self.cells]
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
        return walls_of(list(self.lines.runs()), list(self.lines.posts()), clip, how, self.grid.half_play)

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

    def _cell_floor(self, place: tuple[int, int]) -> FloorPart:
        region = self.lines.box(place, self.grid.half_play)
        if self._has_notch():
            region = without_collinear(region.intersection(self._footprint))
        return FloorPart(region, self.lines.centre(place), self.cells[place].extra)

    def clear_box(self) -> tuple[float, float, float, float]:
        """Of a single cell: what its walls leave free (posts not deducted): west, south, east, north."""
        ((place, cell),) = self.shape.cells
        reach = [self.band.inner if side.carries else self.grid.half_play for side in cell.sides]
        north, east, south, west = (self.lines.inside(place, side, reach[side]) for side in range(4))
        return west, south, east, north

    def _is_notch(self, place: tuple[int, int], corner: int) -> bool:
        first, second = corner, (corner + 1) % 4
        return (
            not self.lines.outside(place, first)
            and not self.lines.outside(place, second)
            and self.lines.neighbour(place, first, second) not in self.cells
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
            spans[side in (EAST, WEST)] = (
                self.lines.inside(place, side, span[0]),
                self.lines.inside(place, side, span[1]),
            )
        (x0, x1), (y0, y1) = spans[True], spans[False]
        return box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1))
