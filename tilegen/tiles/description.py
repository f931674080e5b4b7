"""What a tile is made from, whatever way it was written: its floor, the lines its walls follow, and its posts."""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import fsum

import shapely
from shapely.geometry import Polygon, box

from tilegen.errors import InputError
from tilegen.geometry import NEAR_MM, SNAP_MM, Point, Segment, direction_of, offset_path, turn_right, without_collinear
from tilegen.lengths import show_length, show_spot
from tilegen.model.grid import Grid
from tilegen.tiles.blocks import PLAIN
from tilegen.tiles.floor import FloorPart
from tilegen.tiles.plate import MOST_TURN, Opening
from tilegen.tiles.shape import CORNERS, SIDES, STEPS, CellShape, OutlineShape, Place, RegionShape, Shape, WallRun
from tilegen.tiles.walls import SQUARE, End, Post, Run, turn_between, turn_of, turned


@dataclass(frozen=True)
class Description:
    """A tile before it is made: its floor, seam to seam, in its own frame, mm, and what stands on it.

    parts: of the floor, one for each cell. cut_out: out of a room, whose walls run on beyond. jamb: what is shorter
    beside an opening does not stand, mm. grid: on which derived points lie, mm. what: how messages call the floor;
    place: where it is written.
    """

    floor: Polygon
    runs: Sequence[Run]
    posts: Sequence[Post]
    parts: Sequence[FloorPart]
    cut_out: bool = False
    jamb: float = 0.0
    grid: float = 1e-5
    what: str = "a piece of floor"
    place: str = ""


def describe(shape: Shape, grid: Grid) -> Description:
    """The description that a shape stands for."""
    if isinstance(shape, CellShape):
        return CellLines(shape, grid).described()
    return region_described(shape, grid) if isinstance(shape, RegionShape) else outline_described(shape, grid)


NORTH, EAST, SOUTH, WEST = range(4)
# Which sides stand at the far (growing x or y) end of their cell.
FAR = (True, True, False, False)
# Which way one walks along each side, with the inside on the right.
ALONG: tuple[Point, ...] = ((1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0))


class CellLines:
    """The lines of a shape made of cells, and what stands along them."""

    def __init__(self, shape: CellShape, grid: Grid) -> None:
        self.shape, self.grid = shape, grid
        self.lattice, self.cells = shape.lattice(grid.pitch), shape.by_place

    def described(self) -> Description:
        """The cells as the description of a tile."""
        parts = [FloorPart(self.box(place), self.centre(place), cell.extra) for place, cell in self.cells.items()]
        floor = parts[0].region
        if len(parts) > 1:
            floor = without_collinear(shapely.union_all([part.region for part in parts]))
        return Description(floor, list(self.runs()), list(self.posts()), parts)

    def inside(self, place: Place, side: int, distance: float) -> float:
        """Where a line lies so far inside a cell's side: y for north and south, x for east and west."""
        line = self.lattice.line(place, side)
        return line - distance if FAR[side] else line + distance

    def box(self, place: Place, rim: float = 0.0) -> Polygon:
        """A cell on the plan, less so much along the tile's edges, mm."""
        north, east, south, west = (
            self.inside(place, side, rim if self.outside(place, side) else 0.0) for side in range(4)
        )
        return box(west, south, east, north)

    def centre(self, place: Place) -> Point:
        """The middle of a cell."""
        column, row = place
        return fsum(self.lattice.xs[column : column + 2]) / 2, fsum(self.lattice.ys[row : row + 2]) / 2

    def corner(self, place: Place, corner: int) -> Point:
        """Of a cell's lines; corner k lies between side k and the next one, walking clockwise."""
        line = self.lattice.line
        x = line(place, EAST if corner in (0, 1) else WEST)
        return x, line(place, NORTH if corner in (0, 3) else SOUTH)

    def neighbour(self, place: Place, *sides: int) -> Place:
        """The place that is reached over some sides."""
        column, row = place
        for side in sides:
            column, row = column + STEPS[side][0], row + STEPS[side][1]
        return column, row

    def outside(self, place: Place, side: int) -> bool:
        """Whether a cell's side is the tile's edge."""
        return self.neighbour(place, side) not in self.cells

    def runs(self) -> Iterator[Run]:
        """A run for each side of a cell that carries a wall, north sides first."""
        for side in range(4):
            for place, cell in self.cells.items():
                carried = cell.sides[side]
                if not carried.carries:
                    continue
                path = self.corner(place, (side + 3) % 4), self.corner(place, side)
                ends = self._beside(place, (side + 3) % 4), self._beside(place, (side + 1) % 4)
                openings = (carried.opening,) if carried.opening else ()
                name = self._named(f"wall {SIDES[side]}", place)
                yield Run(path, self.outside(place, side), cell.extra.wall_levels(self.grid), openings, name, ends)

    def _beside(self, place: Place, across: int) -> End:
        """What a wall of a cell ends at where the side across it carries none: the tile's edge, or nothing."""
        carries = self.cells[place].sides[across].carries
        return End(ALONG[across]) if not carries and self.outside(place, across) else End()

    def posts(self) -> Iterator[Post]:
        """The posts of its cells."""
        for place, cell in self.cells.items():
            for corner in range(4):
                if cell.posts[corner]:
                    # Across: the sides to the east or west, and to the north or south.
                    across = sorted((corner, (corner + 1) % 4), key=lambda side: side in (NORTH, SOUTH))
                    along = ALONG[across[0]], ALONG[across[1]]
                    seams = self.outside(place, across[0]), self.outside(place, across[1])
                    name = self._named(f"post {CORNERS[corner]}", place)
                    yield Post(self.corner(place, corner), along, seams, cell.extra.wall_levels(self.grid), name)

    def _named(self, word: str, place: Place) -> str:
        return word if len(self.cells) == 1 else f"{word} {place[0] + 1},{place[1] + 1}"


# Which edges of an outline are the chords of one curve, and how a wall runs along them.

Edge = Callable[[int], tuple[Point, Point]]

# Chords are no further from their curve than 0.02 mm; half of that more is allowed for rounding and for splines.
_CHORD_MM = 0.03
# An edge so many times as long as every chord beside it is straight.
_STRAIGHT = 1.5


def curves(order: Sequence[int], edge: Edge, walls: Collection[int]) -> list[list[int]]:
    """The walls that follow a curve, each as the numbers of its chords, two or more.

    order: all edges' numbers as they are walked clockwise. edge: a number's two points, walked so. walls: the numbers
    that may be part of a bent wall. A ring that is one curve all round comes as two halves.
    """
    count = len(order)
    turns = [turn_right(edge(order[k - 1])[0], *edge(order[k])) for k in range(count)]
    lengths = [math.dist(*edge(number)) for number in order]
    smooth = [
        order[k - 1] in walls
        and order[k] in walls
        and 0 < abs(turns[k]) <= MOST_TURN
        and min(lengths[k - 1], lengths[k]) * abs(turns[k]) / 8 <= _CHORD_MM
        for k in range(count)
    ]
    straight = [_is_straight(k, lengths, smooth) for k in range(count)]
    joined = [smooth[k] and not straight[k - 1] and not straight[k] for k in range(count)]
    # A curve ends where it begins to turn the other way.
    for k in range(count):
        if joined[k] and joined[k - 1] and turns[k] * turns[k - 1] < 0:
            joined[k] = False
    if all(joined):
        return [list(order[: count // 2]), list(order[count // 2 :])]
    runs: list[list[int]] = []
    first = joined.index(False)
    for k in (*range(first, count), *range(first)):
        if joined[k]:
            runs[-1].append(order[k])
        else:
            runs.append([order[k]])
    return [run for run in runs if len(run) > 1]


def _is_straight(k: int, lengths: Sequence[float], smooth: Sequence[bool]) -> bool:
    """Whether an edge is longer by far than every chord that it meets smoothly."""
    after = (k + 1) % len(lengths)
    beside = [lengths[n] for n, joined in ((k - 1, smooth[k]), (after, smooth[after])) if joined]
    return bool(beside) and lengths[k] > _STRAIGHT * max(beside)


# An outline with walls on some of its edges as the description of a tile.


def outline_described(shape: OutlineShape, grid: Grid) -> Description:
    """The outline's edges as runs, those that follow a curve as one; posts where it points in."""
    levels = grid.base_depth, grid.base_depth + grid.wall_height
    edges = _Edges(shape)
    bent = {min(run): run for run in edges.curves()}
    chords = {number for run in bent.values() for number in run}
    runs, posts = [], []
    for number in sorted(shape.walls):
        if number in chords and number not in bent:
            continue
        group = bent.get(number, [number])
        path = edges.path(group)
        name = f"{'bent ' * (len(group) > 1)}wall {number}"
        ends = edges.end(group[0], start=True), edges.end(group[-1], start=False)
        runs.append(Run(path, True, levels, edges.openings(number), name, ends))
        at, following = ends[1], edges.beside(group[-1], start=False)
        way = runs[-1].direction(start=False)
        if at.walled and at.direction is not None and _points_in(way, at.direction):
            posts.append(Post(path[-1], (way, at.direction), (False, False), levels, f"post {following}"))
    floor = Polygon(shape.points, shape.holes)
    # Drawings have long and slender parts: what is further apart than this stays so in single precision.
    part = FloorPart(floor, (0.0, 0.0), PLAIN)
    return Description(floor, runs, posts, [part], grid=SNAP_MM, what="an outline", place="[tile] outline")


def check_curves(described: Description, depth: float) -> None:
    """Refuse a curve that a wall so deep can't be bent along, mm.

    Raises:
        InputError: where it is.
    """
    for path in (run.path for run in described.runs if len(run.path) > 2):
        for (a, b), (c, d) in zip(pairwise(path), pairwise(offset_path(path, depth)), strict=True):
            if (d[0] - c[0]) * (b[0] - a[0]) + (d[1] - c[1]) * (b[1] - a[1]) <= 0:
                raise InputError(
                    f"the curve near {show_spot((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)} is too tight for a wall",
                    cure=f"Give it a radius of more than {show_length(depth)}, or a sharp corner",
                    place="[tile] walls",
                )


class _Edges:
    """The edges of an outline, walked with the inside on the right; numbers from 1."""

    def __init__(self, shape: OutlineShape) -> None:
        self.shape, self.count = shape, len(shape.points)
        # Walls stand to the right of each edge walked clockwise, whichever way the points were given.
        self.clockwise = not Polygon(shape.points).exterior.is_ccw
        numbers = range(1, self.count + 1)
        self.order: Sequence[int] = list(numbers) if self.clockwise else list(reversed(numbers))

    def edge(self, number: int) -> Segment:
        """An edge's two points."""
        first, second = self.shape.points[number - 1], self.shape.points[number % self.count]
        return (first, second) if self.clockwise else (second, first)

    def path(self, numbers: Sequence[int]) -> tuple[Point, ...]:
        """The corners of edges that follow one another."""
        return (self.edge(numbers[0])[0], *(self.edge(number)[1] for number in numbers))

    def curves(self) -> list[list[int]]:
        """The walls that follow a curve, as their chords; one with an opening is none."""
        opened = {number for number, _ in self.shape.openings}
        return curves(self.order, self.edge, set(self.shape.walls) - opened)

    def beside(self, number: int, *, start: bool) -> int:
        """The edge that meets this one at its start or end."""
        other = number + (-1 if start == self.clockwise else 1)
        return (other - 1) % self.count + 1

    def end(self, number: int, *, start: bool) -> End:
        """What is beside an edge: another wall, the tile's own edge where that cuts the wall, or nothing."""
        other = self.beside(number, start=start)
        way, beyond = direction_of(self.edge(number)), direction_of(self.edge(other))
        walled = other in self.shape.walls
        cuts = turn_between(way, beyond, start=start) > SQUARE
        return End(beyond, walled) if walled or cuts else End()

    def openings(self, number: int) -> tuple[Opening, ...]:
        """The openings of an edge, centred from its start."""
        a, b = self.edge(number)
        length = math.dist(a, b)
        found = (opening for edge, opening in self.shape.openings if edge == number)
        return tuple(replace(o, centre=o.centre if self.clockwise else length - o.centre) for o in found)


# A piece of a room off the grid as the description of a tile: the walls near it as runs, corners as posts.

# Where a post stands, the directions of its two lines, and whether each is the tile's edge.
Corner = tuple[Point, tuple[Point, Point], tuple[bool, bool]]


def region_described(shape: RegionShape, grid: Grid) -> Description:
    """A piece with the room's walls near it, those inside the room, and posts in corners that no wall fills."""
    levels = shape.extra.wall_levels(grid)
    runs = [_run(wall, levels, seam=True) for wall in shape.runs]
    edge = shape.piece.boundary

    def is_seam(x: float, y: float) -> bool:
        return bool(edge.distance(shapely.Point(x, y)) < NEAR_MM)

    for wall in shape.inner.runs:
        middle = shapely.LineString(wall.path).interpolate(0.5, normalized=True)
        runs.append(_run(wall, levels, seam=is_seam(middle.x, middle.y)))
    posts: dict[tuple[float, ...], Post] = {}
    for at, along, seams in (*_outer_corners(runs[: len(shape.runs)]), *_open_corners(shape)):
        posts[at] = Post(at, along, seams, levels, "")
    for x, y, east, north in shape.inner.posts:
        seams = is_seam(x, y + north), is_seam(x + east, y)
        posts[x, y, east, north] = Post((x, y), ((0.0, float(east)), (-float(north), 0.0)), seams, levels, "")
    part = FloorPart(shape.piece, (shape.middle, shape.middle), shape.extra)
    return Description(shape.piece, runs, list(posts.values()), [part], cut_out=True, jamb=grid.wall_thickness / 2)


def _run(wall: WallRun, levels: tuple[float, float], *, seam: bool) -> Run:
    openings = tuple(replace(look, centre=(low + high) / 2, width=high - low) for low, high, look in wall.openings)
    run = Run(wall.path, seam, levels, tuple(sorted(openings)), "")
    ends = []
    for turn, start in zip(wall.turns, (True, False), strict=True):
        way = run.direction(start=start)
        ends.append(End() if turn is None else End(turned(way, -turn if start else turn), walled=True))
    return replace(run, ends=(ends[0], ends[1]))


def _points_in(before: Point, after: Point) -> bool:
    """Whether two walls meet in a right-angled corner that points into the room: both stop, and a post fills it."""
    return abs(turn_of(before, after) + math.pi / 2) < SQUARE


def _outer_corners(runs: Sequence[Run]) -> Iterator[Corner]:
    """Right-angled corners that point into the room: where both walls stop, with the directions of their lines."""
    for run in runs:
        for at, end, start in ((run.path[0], run.ends[0], True), (run.path[-1], run.ends[1], False)):
            way = run.direction(start=start)
            if end.direction is not None:
                before, after = (end.direction, way) if start else (way, end.direction)
                if _points_in(before, after):
                    yield at, (before, after), (False, False)


def _open_corners(shape: RegionShape) -> Iterator[Corner]:
    """Corners of open lines that carry a post: beside a saddle, and between two open lines round a corner."""
    stops = {wall.path[-1] for wall in shape.runs}
    starts = {wall.path[0] for wall in shape.runs}
    for line in shape.opens:
        way = direction_of((line.start, line.end))
        if not line.walled[0] and any(math.dist(line.start, p) < NEAR_MM for p in stops):
            yield line.start, (way, (-way[1], way[0])), (True, False)
        if not line.walled[1] and any(math.dist(line.end, p) < NEAR_MM for p in starts):
            yield line.end, (way, (way[1], -way[0])), (True, False)
        for other in shape.opens:
            beyond = direction_of((other.start, other.end))
            if math.dist(line.end, other.start) < NEAR_MM and SQUARE < turn_of(way, beyond) < math.pi - SQUARE:
                yield line.end, (way, beyond), (True, True)
