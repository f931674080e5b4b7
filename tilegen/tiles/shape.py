"""What a tile is before it is made: cells with sides and posts, an outline with walled edges, or a piece of a room."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LinearRing
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import Point, quarter_turned
from tilegen.lengths import counted, show_number
from tilegen.tiles.blocks import PLAIN, Extra
from tilegen.tiles.plate import Opening

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class WallRun:
    """One straight or bent wall of a room, as far as it matters to a tile: from its line inwards, to the right.

    path: its corners on the line, mm. openings: (first, last station on the path, height, head) of each. turns: how
    far the room's outline turns right to the next wall before its start and after its end; None where none follows.
    """

    path: tuple[Point, ...]
    openings: tuple[tuple[float, float, Opening], ...] = ()
    turns: tuple[float | None, float | None] = (None, None)


@dataclass(frozen=True, slots=True)
class OpenLine:
    """A straight part of a room's border that carries no wall, the room on its right.

    walled: whether a wall follows before its start and after its end, which is cut off square there.
    """

    start: Point
    end: Point
    walled: tuple[bool, bool]

    def behind(self, depth: float) -> Polygon:
        """Floor to add behind the line, so that none is taken off the room there when it moves in by a depth, mm.

        It reaches past an end where a wall follows by as much, or the end of that wall would be rounded into the
        opening; where another open line follows round a corner it does not, which leaves a post.
        """
        (x0, y0), (x1, y1) = self.start, self.end
        length = math.dist(self.start, self.end)
        dx, dy = (x1 - x0) / length * depth, (y1 - y0) / length * depth
        low = (x0 - dx, y0 - dy) if self.walled[0] else self.start
        high = (x1 + dx, y1 + dy) if self.walled[1] else self.end
        out = (-4 * dy, 4 * dx)
        return Polygon([low, high, (high[0] + out[0], high[1] + out[1]), (low[0] + out[0], low[1] + out[1])])


def filled(room: BaseGeometry, opens: Iterable[OpenLine], depth: float) -> BaseGeometry:
    """A room's floor with some more behind lines without a wall, for moving it in by a depth, mm."""
    behind = [line.behind(depth) for line in opens] if depth > 0 else []
    return shapely.union_all([room, *behind]) if behind else room


@dataclass(frozen=True)
class InnerWalls:
    """Walls on lines within a room: a straight run for each side of each, and posts where they end.

    posts: the point they stand at, mm, and which way they reach from it in x and y, 1 or -1.
    """

    runs: tuple[WallRun, ...] = ()
    posts: tuple[tuple[float, float, int, int], ...] = ()

    def covers(self, depth: float) -> list[BaseGeometry]:
        """What is nearer to the walls' lines than a depth, mm."""
        found: list[BaseGeometry] = [strip_beside(run, depth) for run in self.runs]
        for x, y, east, north in self.posts:
            xs, ys = sorted((x, x + east * depth)), sorted((y, y + north * depth))
            found.append(box(xs[0], ys[0], xs[1], ys[1]))
        return found

    def moved(self, move: Callable[[Floats], Floats]) -> InnerWalls:
        """The same elsewhere; move turns by quarters at most."""

        def spot(x: float, y: float) -> Point:
            (there,) = move(np.array([(x, y)])).tolist()
            return there[0], there[1]

        runs = tuple(WallRun(tuple(spot(*p) for p in run.path), run.openings, run.turns) for run in self.runs)
        posts = []
        for x, y, east, north in self.posts:
            (x0, y0), (x1, y1) = spot(x, y), spot(x + east, y + north)
            posts.append((x0, y0, round(x1 - x0), round(y1 - y0)))
        return InnerWalls(runs, tuple(posts))


def strip_beside(run: WallRun, depth: float) -> Polygon:
    """What lies within a depth to the right of a straight wall's line, from end to end."""
    (x0, y0), (x1, y1) = run.path
    length = float(np.hypot(x1 - x0, y1 - y0))
    dx, dy = (y1 - y0) / length * depth, -(x1 - x0) / length * depth
    return Polygon([(x0, y0), (x1, y1), (x1 + dx, y1 + dy), (x0 + dx, y0 + dy)])


@dataclass(frozen=True)
class RegionShape:
    """A tile that is a piece of a room off the grid, in the tile's own frame, mm.

    piece: nominal, seam to seam. runs: the room's walls near it. inner: those inside the room. extra: what is on its
    floor, placed from the middle of its square of the lattice, and how high that and its walls are. middle: where that
    middle is, from west and from south. opens: parts of the border near it that carry no wall.
    """

    piece: Polygon
    runs: tuple[WallRun, ...]
    inner: InnerWalls = InnerWalls()
    extra: Extra = PLAIN
    middle: float = 0.0
    opens: tuple[OpenLine, ...] = ()

    @property
    def furnished(self) -> bool:
        """Whether anything but walls and posts is on the tile, or its floor or walls have a height of their own."""
        return self.extra != PLAIN

    @property
    def sunk(self) -> list[str]:
        """The kinds of hollows in its floor, in alphabetical order."""
        return self.extra.sunk

    def turned(self, side: float) -> RegionShape:
        """A quarter turn clockwise about a square of the lattice with this side, mm."""

        def move(points: Floats) -> Floats:
            turned: Floats = quarter_turned(points) + np.array((0.0, side))
            return turned

        def spot(point: Point) -> Point:
            return point[1], side - point[0]

        runs = tuple(WallRun(tuple(map(spot, run.path)), run.openings, run.turns) for run in self.runs)
        inner = self.inner.moved(move)
        extra = self.extra.turned()
        piece = shapely.transform(self.piece, move)
        opens = tuple(OpenLine(spot(line.start), spot(line.end), line.walled) for line in self.opens)
        return RegionShape(piece, runs, inner, extra, self.middle, opens)


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


def check_shape(shape: Shape) -> None:
    """Refuse what has no inside.

    Raises:
        InputError: a side that is not longer than 0; an outline of fewer than three corners, one that crosses itself,
            or a number that none of its edges has.
    """
    if isinstance(shape, RegionShape):
        return
    if isinstance(shape, CellShape):
        for spaces in (*shape.widths, *shape.heights):
            if not 0 < spaces < math.inf:
                raise InputError(
                    f"a side can't be {show_number(spaces)} spaces long",
                    cure="Make it more than 0",
                    place="[tile] size",
                )
        return
    _check_outline(shape)


def _check_outline(shape: OutlineShape) -> None:
    for ring, place in ((shape.points, "outline"), *((hole, "holes") for hole in shape.holes)):
        _check_ring(ring, f"[tile] {place}")
    edges = len(shape.points)
    for number in (*shape.walls, *(edge for edge, _ in shape.openings)):
        if not 1 <= number <= edges:
            raise InputError(
                f"there is no edge {number}",
                cure=f"Number the edges from 1 to {edges}, as the corners come",
                place="[tile] walls",
            )


def _check_ring(ring: tuple[Point, ...], place: str) -> None:
    if len(ring) < 3:
        raise InputError(f"an outline can't have {counted(len(ring), 'corner')}", cure="Give at least 3", place=place)
    if not all(math.isfinite(value) for point in ring for value in point):
        raise InputError("a coordinate is not a number", cure="Write it in millimetres", place=place)
    if not LinearRing(ring).is_simple:
        raise InputError(
            "the outline crosses or touches itself",
            cure="Write its corners in the order in which you would walk round it",
            place=place,
        )
