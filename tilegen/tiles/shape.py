"""What a tile is before it is made: cells with sides and posts, or an outline with walls on some edges."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from tilegen.geometry import Point
from tilegen.tiles.blocks import PLAIN, Extra
from tilegen.tiles.plate import Opening
from tilegen.tiles.regionshape import RegionShape

SideKind = Literal["open", "wall", "doorway"]
SIDES = ("north", "east", "south", "west")
# Corner k lies between side k and the next one, walking clockwise.
CORNERS = ("north-east", "south-east", "south-west", "north-west")
# Steps to the neighbour beyond each side, as (column, row); rows count to the south.
STEPS = ((0, -1), (1, 0), (0, 1), (-1, 0))


@dataclass(frozen=True, slots=True)
class Side:
    """What one side of a cell carries; a doorway's opening is measured clockwise along the side."""

    kind: SideKind = "open"
    opening: Opening | None = None

    @property
    def carries(self) -> bool:
        """Whether a strip of wall stands along this side."""
        return self.kind != "open"

    @property
    def key(self) -> tuple[str, tuple[float, float, float, str, str, str]]:
        """Orders and compares sides."""
        o = self.opening
        return self.kind, (o.centre, o.width, o.height, o.head, o.leaf, o.style) if o else (0.0, 0.0, 0.0, "", "", "")


OPEN = Side()
WALL = Side("wall")


@dataclass(frozen=True, slots=True)
class Cell:
    """One square of a tile: what its four sides carry, and which of its four corners have a post of their own.

    extra: what stands on its floor, and how high that and its walls are.
    """

    sides: tuple[Side, Side, Side, Side] = (OPEN, OPEN, OPEN, OPEN)
    posts: tuple[bool, bool, bool, bool] = (False, False, False, False)
    extra: Extra = PLAIN

    def turned(self) -> Cell:
        """A quarter turn clockwise: what was north is now east."""
        return Cell(self.sides[-1:] + self.sides[:-1], self.posts[-1:] + self.posts[:-1], self.extra.turned())


@dataclass(frozen=True)
class CellShape:
    """A tile made of cells: one for a 10 ft square, up to 2 x 2 for a block of 5 ft squares.

    widths, heights: spaces in each column (from the west) and row (from the north). cells: by (column, row).
    """

    widths: tuple[float, ...]
    heights: tuple[float, ...]
    cells: tuple[tuple[tuple[int, int], Cell], ...]

    @cached_property
    def by_place(self) -> dict[tuple[int, int], Cell]:
        """The cells by (column, row)."""
        return dict(self.cells)

    def turned(self) -> CellShape:
        """A quarter turn clockwise."""
        rows = len(self.heights)
        cells = sorted((((rows - 1 - row, column), cell.turned()) for (column, row), cell in self.cells), key=_place)
        return CellShape(self.heights[::-1], self.widths, tuple(cells))

    @property
    def furnished(self) -> bool:
        """Whether anything but walls and posts is on the tile, or a floor or wall has a height of its own."""
        return any(cell.extra != PLAIN for _, cell in self.cells)

    @property
    def sunk(self) -> list[str]:
        """The kinds of hollows in its floor, in alphabetical order."""
        return sorted({word for _, cell in self.cells for word in cell.extra.sunk})

    @cached_property
    def edges(self) -> tuple[SideKind | None, ...]:
        """What the north, east, south and west side carry; None where a side is mixed or partly off the tile."""
        columns, rows = range(len(self.widths)), range(len(self.heights))
        along = ([(c, 0) for c in columns], [(columns[-1], r) for r in rows], [(c, rows[-1]) for c in columns])
        return tuple(self._edge(side, places) for side, places in enumerate((*along, [(0, r) for r in rows])))

    def _edge(self, side: int, places: list[tuple[int, int]]) -> SideKind | None:
        kinds = {self.by_place[p].sides[side].kind if p in self.by_place else None for p in places}
        return kinds.pop() if len(kinds) == 1 else None

    @cached_property
    def posts(self) -> tuple[str, ...]:
        """The tile's corners that carry a post which is not inside a wall, in alphabetical order."""
        last_column, last_row = len(self.widths) - 1, len(self.heights) - 1
        places = ((last_column, 0), (last_column, last_row), (0, last_row), (0, 0))
        named = (
            CORNERS[k] for k, place in enumerate(places) if place in self.by_place and self.by_place[place].posts[k]
        )
        return tuple(sorted(named))

    @property
    def order(self) -> tuple[object, ...]:
        """What the four turns of a shape are ordered by: edges and posts, then everything else."""
        edges = tuple(edge or "" for edge in self.edges)
        rest = tuple((p, tuple(s.key for s in cell.sides), cell.posts, cell.extra.key) for p, cell in self.cells)
        return edges, self.posts, self.widths, self.heights, rest

    def own_pose(self) -> CellShape:
        """The one of the four turns that comes first in alphabetical order of (edges, posts)."""
        return min(four_turns(self), key=lambda shape: shape.order)


def four_turns(shape: CellShape) -> list[CellShape]:
    """The shape and its three further quarter turns, clockwise."""
    turns = [shape]
    for _ in range(3):
        turns.append(turns[-1].turned())
    return turns


def quarter_turns(own: CellShape, placed: CellShape) -> int:
    """The smallest number of clockwise quarter turns that takes `own` to `placed`.

    Raises:
        ValueError: no turn does.
    """
    for turns, shape in enumerate(four_turns(own)):
        if shape == placed:
            return turns
    raise ValueError("the two shapes are not turns of each other")


def single_cell(cell: Cell, spaces: tuple[float, float]) -> CellShape:
    """A tile of one cell, `spaces` wide (east) and deep (south)."""
    return CellShape((spaces[0],), (spaces[1],), (((0, 0), cell),))


@dataclass(frozen=True, slots=True)
class OutlineShape:
    """A tile of any outline.

    points: corners in millimetres, in the order given. walls: edges that carry a wall, from 1; edge n runs
    from point n to the next. openings: (edge, opening), measured from the edge's first point. numbers: what each
    edge is called in pictures, where that is not its own number; edges of one number lie side by side.
    """

    points: tuple[Point, ...]
    walls: tuple[int, ...] = ()
    openings: tuple[tuple[int, Opening], ...] = ()
    holes: tuple[tuple[Point, ...], ...] = ()
    numbers: tuple[int, ...] = ()


Shape = CellShape | OutlineShape | RegionShape


def _place(item: tuple[tuple[int, int], Cell]) -> tuple[int, int]:
    return item[0][1], item[0][0]
