"""Tiles on the grid: cells to plates, every coordinate from one table of sums of the given measures."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cached_property
from math import fsum

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import without_collinear
from tilegen.grid import Grid
from tilegen.tiles.celllines import (
    EAST,
    FAR,
    FORWARD,
    NORTH,
    SOUTH,
    WEST,
    End,
    Lattice,
    Run,
    edge_of,
    foot_between,
    within_base,
)
from tilegen.tiles.floor import CellFloor, floor_plates, hollows_on
from tilegen.tiles.joints import PRINTED_JOINTS, Band, Joints
from tilegen.tiles.marks import lines_in_box, lines_on_face
from tilegen.tiles.plate import Mark, Opening, Plate
from tilegen.tiles.shape import CORNERS, SIDES, STEPS, CellShape


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
        for run in self._runs():
            yield self._wall(run, clip)
        for place, cell in self.cells.items():
            for corner in range(4):
                if cell.posts[corner]:
                    yield self._post(place, corner, clip)

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

    def _outer(self, place: tuple[int, int], side: int) -> float:
        return self.band.outer if self._outside(place, side) else self.band.within_outer

    def _inner(self, place: tuple[int, int], side: int) -> float:
        return self.band.inner if self._outside(place, side) else self.band.within_inner

    def _carries(self, place: tuple[int, int], side: int) -> bool:
        return place in self.cells and self.cells[place].sides[side].carries

    def _straight(self, place: tuple[int, int], following: tuple[int, int], side: int) -> bool:
        """Whether the walls on one side of two cells in a row lie in one line."""
        return (
            self._carries(place, side)
            and self._carries(following, side)
            and self._outside(place, side) == self._outside(following, side)
            and self._heights(place) == self._heights(following)
        )

    def _heights(self, place: tuple[int, int]) -> tuple[float, float]:
        """Where the walls of a cell start and end."""
        extra = self.cells[place].extra
        bottom = self.grid.base_depth + extra.floor
        return bottom, bottom + (self.grid.wall_height if extra.wall_height is None else extra.wall_height)

    def _joined(self, place: tuple[int, int], following: tuple[int, int], side: int) -> bool:
        """Whether the wall on one side runs on from a cell into the next one along it.

        Where a wall meets it inside the tile, one of the two stops: see `Joints`.
        """
        if not self._straight(place, following, side):
            return False
        onward = (side + 1) % 4
        if not (self._carries(place, onward) or self._carries(following, (onward + 2) % 4)):
            return True
        if not self.joints.longest:
            return side in (NORTH, SOUTH)
        along, across = (self._longest_past(place, following, side, level=level) for level in (True, False))
        level = along >= across
        return level == (side in (NORTH, SOUTH))

    def _longest_past(self, place: tuple[int, int], following: tuple[int, int], side: int, *, level: bool) -> float:
        """The longest straight wall, in spaces, that passes the corner at the inner end of two cells' side.

        level: of the walls to the north and south, else of those to the east and west.
        """
        around = (place, following, self._neighbour(place, side), self._neighbour(following, side))
        columns, rows = (sorted({cell[axis] for cell in around}) for axis in (0, 1))
        found = [0.0]
        for step in (0, 1):
            # The walls that face the corner: south of the upper cells and north of the lower ones, or east and west.
            pair = [(c, rows[step]) for c in columns] if level else [(columns[step], r) for r in rows]
            facing = (SOUTH, NORTH)[step] if level else (EAST, WEST)[step]
            if self._straight(pair[0], pair[1], facing):
                found.append(self._straight_length(pair[0], facing))
        return max(found)

    def _straight_length(self, place: tuple[int, int], side: int) -> float:
        """Of the whole straight wall that stands on a cell's side, in spaces, whatever crosses it."""
        level = side in (NORTH, SOUTH)
        sizes = self.shape.widths if level else self.shape.heights
        total = sizes[place[0] if level else place[1]]
        for step in ((side + 1) % 4, (side + 3) % 4):
            here = place
            while self._straight(here, following := self._neighbour(here, step), side):
                here = following
                total += sizes[here[0] if level else here[1]]
        return total

    def _runs(self) -> Iterator[Run]:
        for side in range(4):
            onward, back = (side + 1) % 4, (side + 3) % 4
            for place in self.cells:
                before = self._neighbour(place, back)
                if not self._carries(place, side) or self._joined(before, place, side):
                    continue
                cells = [place]
                while self._joined(cells[-1], following := self._neighbour(cells[-1], onward), side):
                    cells.append(following)
                yield Run(side, tuple(cells))

    def _end(self, run: Run, *, start: bool) -> End:
        """Where a wall starts or ends along its side, by the kind of joint there."""
        place = run.cells[0 if start else -1]
        across = (run.side + (3 if start else 1)) % 4
        if not self._carries(place, across):
            return self._square(place, across, self.grid.half_play if self._outside(place, across) else 0.0)
        outer, inner = self._outer(place, across), self._inner(place, across)
        if self._passes(place, across, at_end=start):
            return self._square(place, across, inner)
        if self.joints.corners == "mitre":
            return End(self._inside(place, across, outer), self._inside(place, across, inner))
        first = self._goes_first(place, run.side, across)
        depth, lap = self.joints.square_end((outer, inner), start=start, first=first)
        return self._square(place, across, depth)._replace(lap=lap)

    def _square(self, place: tuple[int, int], across: int, distance: float) -> End:
        at = self._inside(place, across, distance)
        return End(at, at)

    def _passes(self, place: tuple[int, int], side: int, *, at_end: bool) -> bool:
        """Whether the wall on this side goes on beyond the cell, at its end or at its start."""
        if at_end:
            return self._joined(place, self._neighbour(place, (side + 1) % 4), side)
        return self._joined(self._neighbour(place, (side + 3) % 4), place, side)

    def _goes_first(self, place: tuple[int, int], side: int, across: int) -> bool:
        """Whether the wall on one side runs through the corner with another: the longer one, or north and south."""
        mine, other = self._straight_length(place, side), self._straight_length(place, across)
        return mine > other or (mine == other and side in (NORTH, SOUTH))

    def _wall(self, run: Run, clip: Polygon | None) -> Plate:
        side, first = run.side, run.cells[0]
        start, end = self._end(run, start=True), self._end(run, start=False)
        outer = self._inside(first, side, self._outer(first, side))
        inner = self._inside(first, side, self._inner(first, side))
        foot = foot_between(side, start, end, (outer, inner), self.joints.skin)
        edge = edge_of(side, start.outer, end.outer, outer)
        openings = tuple(self._openings(run, start.outer))
        name = f"wall {SIDES[side]}" if len(self.cells) == 1 else f"wall {SIDES[side]} {first[0] + 1},{first[1] + 1}"
        backed = not self._outside(first, side)
        bottom, top = self._heights(first)
        return Plate(name, "wall", within_base(foot, clip), bottom, top, edge, openings, backed=backed)

    def _openings(self, run: Run, start: float) -> Iterator[Opening]:
        for place in run.cells:
            opening = self.cells[place].sides[run.side].opening
            if opening is None:
                continue
            corner = self.lattice.line(place, (run.side + 3) % 4)
            offset = corner - start if FORWARD[run.side] else start - corner
            bottom, top = self._heights(place)
            height = min(opening.height, top - bottom)
            yield replace(opening, centre=opening.centre + offset, height=height)

    def _post(self, place: tuple[int, int], corner: int, clip: Polygon | None) -> Plate:
        first, second = corner, (corner + 1) % 4
        spans = [(self._outer(place, side), self._inner(place, side)) for side in (first, second)]
        foot = self._corner_box(place, corner, spans[0], spans[1])
        west, south, east, north = foot.bounds
        outer, start, end = (north, west, east) if NORTH in (first, second) else (south, east, west)
        edge = edge_of(NORTH if NORTH in (first, second) else SOUTH, start, end, outer)
        name = f"post {CORNERS[corner]}" + ("" if len(self.cells) == 1 else f" {place[0] + 1},{place[1] + 1}")
        bottom, top = self._heights(place)
        return Plate(name, "post", within_base(foot, clip), bottom, top, edge)
