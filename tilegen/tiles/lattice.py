"""The outer sides of any tile on the grid's own lines, before play is taken off."""

from __future__ import annotations

from shapely.geometry import Polygon

from tilegen.geometry import Point
from tilegen.grid import Grid
from tilegen.tiles.celllines import Lattice
from tilegen.tiles.regionshape import RegionShape
from tilegen.tiles.shape import STEPS, CellShape, OutlineShape, Shape

Side = tuple[Point, Point]


def outer_sides(shape: Shape, grid: Grid) -> tuple[Side, ...]:
    """Each straight outer side from start to end, walked clockwise, mm; an outline's in the order of its edges."""
    if not isinstance(shape, CellShape):
        points = outline_of(shape)
        edges = list(zip(points, (*points[1:], points[0]), strict=True))
        backwards = Polygon(points).exterior.is_ccw
        return tuple((b, a) if backwards else (a, b) for a, b in edges)
    lattice, cells = Lattice.of(shape, grid), shape.by_place
    sides: list[Side] = []
    for side in range(4):
        column, row = STEPS[side]
        # Clockwise along a side means the step of the next one.
        ahead_c, ahead_r = STEPS[(side + 1) % 4]
        open_sides = {p for p in cells if (p[0] + column, p[1] + row) not in cells}
        for place in sorted(open_sides):
            if (place[0] - ahead_c, place[1] - ahead_r) in open_sides:
                continue
            last = place
            while (following := (last[0] + ahead_c, last[1] + ahead_r)) in open_sides:
                last = following
            sides.append(_between(lattice, place, last, side))
    return tuple(sides)


def outline_of(shape: OutlineShape | RegionShape) -> tuple[Point, ...]:
    """The corners of a tile that is not made of cells, in its own frame."""
    if isinstance(shape, OutlineShape):
        return shape.points
    return tuple((float(x), float(y)) for x, y in shape.piece.exterior.coords[:-1])


def _between(lattice: Lattice, first: tuple[int, int], last: tuple[int, int], side: int) -> Side:
    line, before, after = lattice.line(first, side), (side + 3) % 4, (side + 1) % 4
    start, end = lattice.line(first, before), lattice.line(last, after)
    return ((start, line), (end, line)) if side in (0, 2) else ((line, start), (line, end))
