"""Where the lines of a shape made of cells lie, and what its walls cover between them."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from math import fsum
from typing import NamedTuple

from shapely.geometry import Polygon, box

from tilegen.geometry import Point, without_collinear
from tilegen.grid import Grid
from tilegen.tiles.shape import CellShape

NORTH, EAST, SOUTH, WEST = range(4)
# Whether walking clockwise along a side means growing x or y.
FORWARD = (True, False, False, True)
# Which sides stand at the far (growing x or y) end of their cell.
FAR = (True, True, False, False)


@dataclass(frozen=True, slots=True)
class Lattice:
    """The table: where the lines between a shape's columns and rows lie, x from the west, y from the south."""

    xs: tuple[float, ...]
    ys: tuple[float, ...]

    @classmethod
    def of(cls, shape: CellShape, grid: Grid) -> Lattice:
        """The lattice lines of a shape; ys run from the north line down to 0."""
        xs = tuple(n * grid.pitch for n in accumulate(shape.widths, initial=0))
        total = fsum(shape.heights)
        ys = tuple((total - n) * grid.pitch for n in accumulate(shape.heights, initial=0))
        return cls(xs, ys)

    def line(self, place: tuple[int, int], side: int) -> float:
        """Where the line under a cell's side lies: y for north and south, x for east and west."""
        column, row = place
        return (self.ys[row], self.xs[column + 1], self.ys[row + 1], self.xs[column])[side]


@dataclass(frozen=True, slots=True)
class Run:
    """Cells in a line whose walls on the same side make one straight wall; in clockwise order."""

    side: int
    cells: tuple[tuple[int, int], ...]


class End(NamedTuple):
    """Where a wall ends along its side, on its outer and on its inner face; lap: only its outer skin goes that far."""

    outer: float
    inner: float
    lap: bool = False


def foot_between(side: int, start: End, end: End, faces: tuple[float, float], skin: float) -> Polygon:
    """What a wall covers on the plan; faces: where its outer and inner face stand."""
    outer, inner = faces
    points = [(start.outer, outer), (end.outer, outer), (end.inner, inner), (start.inner, inner)]
    plan = points if side in (NORTH, SOUTH) else [(y, x) for x, y in points]
    if start.outer == start.inner and end.outer == end.inner and not (start.lap or end.lap):
        xs, ys = [x for x, _ in plan], [y for _, y in plan]
        return box(min(xs), min(ys), max(xs), max(ys))
    inward, onward = (1 if inner > outer else -1), (1 if end.outer > start.outer else -1)
    depth = abs(inner - outer)
    ring = [(start.outer, outer), (end.outer, outer)]
    for here, back in ((end, -onward), (start, onward)):
        if here.lap:
            under = outer + inward * skin
            ring += [(here.outer, under), (here.outer + back * depth, under), (here.outer + back * depth, inner)][
                :: 1 if here is end else -1
            ]
        else:
            ring.append((here.inner, inner))
    return Polygon(ring if side in (NORTH, SOUTH) else [(y, x) for x, y in ring])


def within_base(foot: Polygon, clip: Polygon | None) -> Polygon:
    """A foot less what would overhang a reflex corner of the footprint."""
    return foot if clip is None else without_collinear(foot.intersection(clip))


def edge_of(side: int, start: float, end: float, outer: float) -> tuple[Point, Point]:
    """The outer edge of a wall on one side, from its start to its end."""
    if side in (NORTH, SOUTH):
        return (start, outer), (end, outer)
    return (outer, start), (outer, end)
