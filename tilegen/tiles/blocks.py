"""The boxes and drums that make up the features of a cell, and the heights of its floor and walls.

A block is a box above or below the floor of one cell: one layer of a feature, or its hollow. Its place is measured from
the cell's centre, so that a quarter turn is exact.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from tilegen.model.grid import Grid


@dataclass(frozen=True, slots=True)
class Block:
    """A box on a cell; x to the east and y to the north of the cell's centre, heights from its floor; mm.

    kind: the word of what it belongs to. round: a drum in that box instead. bore: the radius of a hole through the
    drum; 0: none.
    """

    kind: str
    west: float
    south: float
    east: float
    north: float
    bottom: float
    top: float
    round: bool = False
    bore: float = 0.0

    @property
    def hollow(self) -> bool:
        """Whether it is taken out of the floor instead of standing on it."""
        return self.bottom < 0

    def turned(self) -> Block:
        """A quarter turn clockwise about the cell's centre."""
        return replace(self, west=self.south, south=-self.east, east=self.north, north=-self.west)

    def moved(self, x: float, y: float) -> Block:
        """The same placed from a point that lies so much further west and south, on a nanometre's grid."""
        west, east = round(self.west + x, 6), round(self.east + x, 6)
        return replace(self, west=west, south=round(self.south + y, 6), east=east, north=round(self.north + y, 6))

    @property
    def key(self) -> tuple[str, float, float, float, float, float, float, bool, float]:
        """Orders and compares blocks."""
        box = self.west + 0.0, self.south + 0.0, self.east + 0.0, self.north + 0.0
        return (self.kind, *box, self.bottom, self.top, self.round, self.bore)


@dataclass(frozen=True, slots=True)
class Extra:
    """What makes a cell more than its sides and posts.

    blocks: in the order of their keys. floor: of its floor above the lowest one, mm. wall_height: of its walls above
    its own floor, mm; the grid's if None.
    """

    blocks: tuple[Block, ...] = ()
    floor: float = 0.0
    wall_height: float | None = None

    @property
    def sunk(self) -> list[str]:
        """The kinds of its hollows, in alphabetical order."""
        return sorted({block.kind for block in self.blocks if block.hollow})

    def on(self, grid: Grid) -> Grid:
        """The grid as it is in such a room: its base as deep as the floor is high, its walls as high as the room's."""
        wall_height = grid.wall_height if self.wall_height is None else self.wall_height
        return replace(grid, base_depth=grid.base_depth + self.floor, wall_height=wall_height)

    def wall_levels(self, grid: Grid) -> tuple[float, float]:
        """Where the walls on such a floor start and end."""
        here = self.on(grid)
        return here.base_depth, here.base_depth + here.wall_height

    def turned(self) -> Extra:
        """A quarter turn clockwise."""
        if not self.blocks:
            return self
        return replace(self, blocks=in_order(block.turned() for block in self.blocks))

    @property
    def key(self) -> tuple[object, ...]:
        """Orders and compares extras."""
        return tuple(block.key for block in self.blocks), self.floor, self.wall_height or 0.0


PLAIN = Extra()


def in_order(blocks: Iterable[Block]) -> tuple[Block, ...]:
    """Blocks by their keys."""
    return tuple(sorted(blocks, key=lambda block: block.key))
