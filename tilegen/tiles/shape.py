"""What a tile is before it is made: cells with sides and posts, an outline with walled edges, or a piece of a room."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate
from typing import Any, ClassVar, Literal

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LinearRing
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import Point, Segment, quarter_turned
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


SideKind = Literal["open", "wall", "doorway"]


class _Described(ABC):
    """What all shapes answer.

    on_grid: made of the grid's cells, its sides on the grid's lines. cut_out: out of a room, whose walls run on beyond.
    """

    on_grid: ClassVar[bool] = False
    cut_out: ClassVar[bool] = False

    @abstractmethod
    def check(self) -> None:
        """Refuse what has no inside.

        Raises:
            InputError: a side that is not longer than 0; an outline of fewer than three corners, one that crosses
                itself, or a number that none of its edges has.
        """

    @abstractmethod
    def outer_sides(self, pitch: float) -> tuple[Segment, ...]:
        """Each straight outer side from start to end, walked clockwise, mm; an outline's in the order of its edges."""

    @abstractmethod
    def placed_extras(self, corner: Point) -> list[tuple[dict[str, Any], Point, Extra]]:
        """What is on its floor: what a record says of the place, what to add to boxes there, and the extra.

        corner: the tile's least one, from which boxes off the grid are measured.
        """

    @property
    def extras(self) -> list[Extra]:
        """What is on its floor, once for each cell that is told apart."""
        return [extra for *_, extra in self.placed_extras((0.0, 0.0))]

    @property
    def furnished(self) -> bool:
        """Whether anything but walls and posts is on the tile, or a floor or wall has a height of its own."""
        return any(extra != PLAIN for extra in self.extras)

    @property
    def sunk(self) -> list[str]:
        """The kinds of hollows in its floor, in alphabetical order."""
        return sorted({word for extra in self.extras for word in extra.sunk})


class _OffGrid(_Described):
    """A shape without cells: no side of it lies to the north or carries one thing, and no turn of it is on the grid."""

    cells: ClassVar[tuple[tuple[tuple[int, int], Cell], ...]] = ()
    widths: ClassVar[tuple[float, ...]] = ()
    heights: ClassVar[tuple[float, ...]] = ()
    edges: ClassVar[tuple[SideKind | None, ...]] = (None,) * 4
    posts: ClassVar[tuple[str, ...]] = ()
    order: ClassVar[tuple[object, ...]] = ()
    turns: ClassVar[tuple[CellShape, ...]] = ()

    @property
    @abstractmethod
    def corners(self) -> tuple[Point, ...]:
        """Round it, in its own frame, mm."""

    def outer_sides(self, pitch: float) -> tuple[Segment, ...]:  # noqa: ARG002 - of the grid's cells
        """Each edge, walked clockwise; in the order of the corners."""
        points = self.corners
        backwards = Polygon(points).exterior.is_ccw
        edges = zip(points, (*points[1:], points[0]), strict=True)
        return tuple((b, a) if backwards else (a, b) for a, b in edges)


@dataclass(frozen=True)
class RegionShape(_OffGrid):
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
    cut_out: ClassVar[bool] = True

    def check(self) -> None:
        """A room's pieces have an inside."""

    @property
    def corners(self) -> tuple[Point, ...]:
        """Of the piece."""
        return tuple((float(x), float(y)) for x, y in self.piece.exterior.coords[:-1])

    def placed_extras(self, corner: Point) -> list[tuple[dict[str, Any], Point, Extra]]:
        """One, whose boxes are measured from the tile's least corner."""
        return [({}, (self.middle - corner[0], self.middle - corner[1]), self.extra)]

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


Place = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Lattice:
    """The table: where the lines between a shape's columns and rows lie, x from the west, y from the south.

    ys run from the north line down to 0.
    """

    xs: tuple[float, ...]
    ys: tuple[float, ...]

    def line(self, place: Place, side: int) -> float:
        """Where the line under a cell's side lies: y for north and south, x for east and west."""
        column, row = place
        return (self.ys[row], self.xs[column + 1], self.ys[row + 1], self.xs[column])[side]

    def between(self, first: Place, last: Place, side: int) -> Segment:
        """The line under one side of cells in a row, walked clockwise."""
        line, before, after = self.line(first, side), (side + 3) % 4, (side + 1) % 4
        start, end = self.line(first, before), self.line(last, after)
        return ((start, line), (end, line)) if side in (0, 2) else ((line, start), (line, end))


@dataclass(frozen=True)
class CellShape(_Described):
    """A tile made of cells: one for a 10 ft square, up to 2 x 2 for a block of 5 ft squares.

    widths, heights: spaces in each column (from the west) and row (from the north). cells: by (column, row).
    """

    widths: tuple[float, ...]
    heights: tuple[float, ...]
    cells: tuple[tuple[Place, Cell], ...]
    on_grid: ClassVar[bool] = True

    @cached_property
    def by_place(self) -> dict[Place, Cell]:
        """The cells by (column, row)."""
        return dict(self.cells)

    def turned(self) -> CellShape:
        """A quarter turn clockwise."""
        rows = len(self.heights)
        cells = sorted((((rows - 1 - row, column), cell.turned()) for (column, row), cell in self.cells), key=_place)
        return CellShape(self.heights[::-1], self.widths, tuple(cells))

    @property
    def turns(self) -> tuple[CellShape, ...]:
        """The shape and its three further quarter turns, clockwise."""
        once = self.turned()
        twice = once.turned()
        return self, once, twice, twice.turned()

    def check(self) -> None:
        """Refuse a side that is not longer than 0."""
        for spaces in (*self.widths, *self.heights):
            if not 0 < spaces < math.inf:
                raise InputError(
                    f"a side can't be {show_number(spaces)} spaces long",
                    cure="Make it more than 0",
                    place="[tile] size",
                )

    def placed_extras(self, corner: Point) -> list[tuple[dict[str, Any], Point, Extra]]:  # noqa: ARG002
        """One for each cell, from whose middle boxes are measured."""
        return [({"cell_in_tile": [c + 1, r + 1]}, (0.0, 0.0), cell.extra) for (c, r), cell in self.cells]

    def lattice(self, pitch: float) -> Lattice:
        """Where its lines lie."""
        xs = tuple(n * pitch for n in accumulate(self.widths, initial=0))
        total = math.fsum(self.heights)
        return Lattice(xs, tuple((total - n) * pitch for n in accumulate(self.heights, initial=0)))

    def outer_sides(self, pitch: float) -> tuple[Segment, ...]:
        """Those to the north, then to the east, south and west."""
        lattice, cells = self.lattice(pitch), self.by_place
        sides: list[Segment] = []
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
                sides.append(lattice.between(place, last, side))
        return tuple(sides)

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
        return min(self.turns, key=lambda shape: shape.order)


def single_cell(cell: Cell, spaces: tuple[float, float]) -> CellShape:
    """A tile of one cell, `spaces` wide (east) and deep (south)."""
    return CellShape((spaces[0],), (spaces[1],), (((0, 0), cell),))


@dataclass(frozen=True)
class OutlineShape(_OffGrid):
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

    @property
    def corners(self) -> tuple[Point, ...]:
        """In the order given."""
        return self.points

    def placed_extras(self, corner: Point) -> list[tuple[dict[str, Any], Point, Extra]]:  # noqa: ARG002
        """A plain floor."""
        return [({}, (0.0, 0.0), PLAIN)]

    def check(self) -> None:
        """Refuse rings that have no inside, and numbers that none of its edges has."""
        for ring, place in ((self.points, "outline"), *((hole, "holes") for hole in self.holes)):
            _check_ring(ring, f"[tile] {place}")
        edges = len(self.points)
        for number in (*self.walls, *(edge for edge, _ in self.openings)):
            if not 1 <= number <= edges:
                raise InputError(
                    f"there is no edge {number}",
                    cure=f"Number the edges from 1 to {edges}, as the corners come",
                    place="[tile] walls",
                )


Shape = CellShape | OutlineShape | RegionShape


def _place(item: tuple[Place, Cell]) -> Place:
    return item[0][1], item[0][0]


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
