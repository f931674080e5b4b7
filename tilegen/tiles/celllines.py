"""Where the lines of a shape made of cells lie."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import accumulate
from math import fsum

from tilegen.grid import Grid
from tilegen.tiles.shape import CellShape

NORTH, EAST, SOUTH, WEST = range(4)
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
