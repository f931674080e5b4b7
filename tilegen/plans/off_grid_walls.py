"""The walls of rooms off the grid: along their borders, and on lines inside them.

Map coordinates: mm, x to the east, y to the north, (0, 0) at the drawing's north-west corner. Walking along a wall has
the room on the right.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tilegen.errors import InFile, InputError, KeyRef, Place, RoomRef, Said
from tilegen.geometry import SNAP_MM, Point, corners_of, polygons_of, rings_of, turn_right
from tilegen.lengths import rounded_down, show_length, show_number, show_point
from tilegen.plans.drawing import Drawing, posts_of
from tilegen.plans.shapes import OffGrid, cells_of
from tilegen.plans.ways import NOTHING, WAYS, LineKind
from tilegen.tiles.plate import MOST_TURN, Opening
from tilegen.tiles.shape import InnerWalls, OpenLine, WallRun, filled

# Turns of less than this, in radians, are none.
_STRAIGHT = 1e-6
_ON_LINE_MM = 1e-5
_WALL = LineKind("wall")
# What an opening keeps clear of a wall that leans over it: edges that only touch are not closed in a file.
_BESIDE_MM = 0.2
Square = tuple[int, int]
# Where the corners of a cell lie from its top left one, and which way its floor is from there: NE, SE, SW, NW.
_CORNERS = (((1, 0), (-1, -1)), ((1, 1), (-1, 1)), ((0, 1), (1, 1)), ((0, 0), (1, -1)))


class RoomWalls:
    """The floor of a drawing's rooms, by code point, and the walls on it, in map coordinates; each worked out once."""

    def __init__(self, drawing: Drawing, regions: Mapping[int, BaseGeometry] | None = None) -> None:
        """regions: floors that are known already."""
        self.drawing = drawing
        known = drawing.off_grid.regions if drawing.off_grid is not None else {}
        self._regions: dict[int, BaseGeometry] = dict(known if regions is None else regions)
        self._borders: dict[int, Border] = {}
        self._inner: dict[int, InnerWalls] = {}

    def region(self, room: int) -> BaseGeometry:
        """A room's floor."""
        if room not in self._regions:
            self._regions[room] = cells_of(self.drawing.rooms, room, self.drawing.cell_side)
        return self._regions[room]

    def border(self, room: int) -> Border:
        """The walls along its outline."""
        if room not in self._borders:
            self._borders[room] = Border(self.drawing, self.region(room), chr(room))
        return self._borders[room]

    def inner(self, room: int) -> InnerWalls:
        """The walls inside it.

        Raises:
            InputError: one that its outline crosses, or a loose piece.
        """
        if room not in self._inner:
            self._inner[room] = inner_walls(self.drawing, self.region(room), room)
        return self._inner[room]

    def free(self, room: int, near: BaseGeometry | None = None) -> BaseGeometry:
        """What walls leave of its floor, and some more behind open lines of its border; near: only around there."""
        wall = self.drawing.grid.wall_thickness
        floor = self.border(room).filled
        if near is not None:
            west, south, east, north = near.bounds
            floor = floor.intersection(box(west - 6 * wall, south - 6 * wall, east + 6 * wall, north + 6 * wall))
        floor = floor.buffer(-wall, join_style="mitre", mitre_limit=2.0)
        inner = self.inner(room)
        return floor.difference(shapely.union_all(inner.covers(wall))) if inner.runs else floor


@dataclass(frozen=True, slots=True)
class _BorderStep:
    """A straight part of the border with one kind of line on it."""

    start: Point
    end: Point
    kind: LineKind = _WALL

    @property
    def walled(self) -> bool:
        return self.kind.facts.carried

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end)


class Border:
    """The border of one room. runs: its walls. opens: where it has none. filled: its floor, filled up behind those."""

    def __init__(self, drawing: Drawing, region: BaseGeometry, letter: str) -> None:
        self.drawing, self.region, self.letter = drawing, region, letter
        self.cell, self.wall = drawing.cell_side, drawing.grid.wall_thickness
        self._loops = [list(self._steps(ring)) for ring in _rings(region)]
        self.opens = tuple(line for loop in self._loops for line in _opens(loop))
        self.filled = filled(region, self.opens, self.wall)
        self._walls = [run for loop in self._loops for run in _runs(loop)]

    def _steps(self, ring: Sequence[Point]) -> Iterator[_BorderStep]:
        for a, b in pairwise((*ring, ring[0])):
            yield from self._divided(a, b)

    def _divided(self, a: Point, b: Point) -> Iterator[_BorderStep]:
        """A side of the outline; where it lies on a line between cells, one step for each cell."""
        for axis in (0, 1):
            at = a[axis] / self.cell
            if abs(a[axis] - b[axis]) > _ON_LINE_MM or abs(at - round(at)) * self.cell > _ON_LINE_MM:
                continue
            low, high = sorted((a[1 - axis] / self.cell, b[1 - axis] / self.cell))
            inner = [n * self.cell for n in range(math.floor(low) + 1, math.ceil(high))]
            stops = [s for s in inner if low * self.cell + _ON_LINE_MM < s < high * self.cell - _ON_LINE_MM]
            if a[1 - axis] > b[1 - axis]:
                stops.reverse()
            spots = [a, *((a[0], s) if axis == 0 else (s, a[1]) for s in stops), b]
            for p, q in pairwise(spots):
                middle = (p[1 - axis] + q[1 - axis]) / 2 / self.cell
                yield _BorderStep(p, q, self._kind(axis, round(at), middle, math.dist(p, q)))
            return
        yield _BorderStep(a, b)

    def _kind(self, axis: int, line: int, middle: float, length: float) -> LineKind:
        """What stands on a line of the drawing; axis 0: upright. A part of a line is a wall."""
        if length < self.cell - 1e-3:
            return _WALL
        d = self.drawing
        along = math.floor(middle) if axis else math.floor(-middle)
        index = d.down[along, line] if axis == 0 else d.across[-line, along]
        kind = d.kinds[int(index)]
        return _WALL if kind.stand_in else kind

    @cached_property
    def runs(self) -> tuple[WallRun, ...]:
        """The walls with the doorways of their lines and the ways given by a point."""
        found: list[list[tuple[float, float, Opening]]] = [[] for _ in self._walls]
        for step in (step for loop in self._loops for step in loop):
            if step.kind.facts.carried and step.kind.opening is not None:
                spot = self._centre_on(step, step.kind.opening)
                self._open(found, spot, step.kind.opening, f"the doorway at {self._shown(spot)}")
        for way in self.drawing.wall_ways:
            for spot in way.spots_in(self.letter):
                self._open(found, spot, way.opening_in(self.letter), way.place, fixed=way.fixed, kind=way.kind)
        return tuple(
            WallRun(run.path, tuple(sorted(openings)), run.turns)
            for run, openings in zip(self._walls, found, strict=True)
        )

    def width_at(self, spot: Point, look: Opening, place: str, *, fixed: bool, kind: str = "doorway") -> float:
        """How wide a way at a point of a wall becomes: as asked, or as there is room for if that need not be kept.

        Raises:
            InputError: no wall there; a width that was asked for without room for it; no room at all.
        """
        run = self._walls[self._wall_at(spot, place)]
        return self._width(
            run, float(LineString(run.path).project(shapely.Point(spot))), look, place, fixed=fixed, kind=kind
        )

    def clear_at(self, spot: Point, kind: str) -> tuple[Point, Point] | None:
        """From where to where a way may go through the straight wall at a point; None where it is bent or none is."""
        run = min(self._walls, key=lambda r: LineString(r.path).distance(shapely.Point(spot)), default=None)
        if run is None or len(run.path) > 2:
            return None
        line = LineString(run.path)
        first, last = self._ends_for(run, kind)
        ends = line.interpolate(min(first, line.length)), line.interpolate(max(line.length - last, 0.0))
        return (ends[0].x, ends[0].y), (ends[1].x, ends[1].y)

    def _centre_on(self, step: _BorderStep, opening: Opening) -> Point:
        """Where a line's opening has its centre, measured from the line's west or north end."""
        ends = sorted((step.start, step.end), key=lambda p: (p[0], -p[1]))
        share = opening.centre / step.length
        return ends[0][0] + (ends[1][0] - ends[0][0]) * share, ends[0][1] + (ends[1][1] - ends[0][1]) * share

    def _open(
        self,
        found: list[list[tuple[float, float, Opening]]],
        spot: Point,
        look: Opening,
        place: str,
        *,
        fixed: bool = False,
        kind: str = "doorway",
    ) -> None:
        number = self._wall_at(spot, place)
        run = self._walls[number]
        station = float(LineString(run.path).project(shapely.Point(spot)))
        width = self._width(run, station, look, place, fixed=fixed, kind=kind)
        if len(run.path) > 2 and not look.level:
            raise InputError(
                Said("a {} head needs a straight wall, and the wall{} is curved", look.head, self._at(spot)),
                cure=Said("Use {}", KeyRef("head", "flat")),
                place=place,
            )
        low, high = station - width / 2, station + width / 2
        for start, end, other in found[number]:
            if other == look and abs(start - low) + abs(end - high) < SNAP_MM:
                return
            if low < end + self.wall / 2 - SNAP_MM and high > start - self.wall / 2 + SNAP_MM:
                raise InputError(
                    Said("too little wall is left between this opening and the one beside it{}", self._at(spot)),
                    cure=f"Move one of them until {show_length(self.wall / 2)} of wall are between them, or delete it",
                    place=place,
                )
        found[number].append((low, high, look))

    def _wall_at(self, spot: Point, place: str) -> int:
        """Which of the walls a way is in."""
        near = [(LineString(run.path).distance(shapely.Point(spot)), n) for n, run in enumerate(self._walls)]
        distance, number = min(near, default=(math.inf, 0))
        if distance > 0.1:
            raise InputError(
                Said("{} has no wall{}", RoomRef(self.letter), self._at(spot)),
                cure="Choose a point on one of its walls",
                place=place,
            )
        return number

    def _width(self, run: WallRun, station: float, look: Opening, place: str, *, fixed: bool, kind: str) -> float:
        line = LineString(run.path)
        room = self._room_at(run, line.length, station, kind)
        width = min(look.width, room)
        if width < min(look.width, self.wall) - 1e-9 or (fixed and width < look.width - 1e-9):
            spot = line.interpolate(station)
            wide = show_number(rounded_down(max(room, 0.0)))
            fits = room >= self.wall
            raise InputError(
                Said(
                    "the opening is {} wide, but the wall{} has room for only {} mm",
                    show_length(look.width),
                    self._at((spot.x, spot.y)),
                    wide,
                ),
                cure=f"Use a width of {wide} mm or less, or move it"
                if fits
                else "Move it away from the end of the wall",
                place=place,
            )
        return width

    def _room_at(self, run: WallRun, length: float, station: float, kind: str) -> float:
        """How wide an opening about a point of a wall may be."""
        if run.path[0] == run.path[-1]:
            return length
        first, last = self._ends_for(run, kind)
        return 2 * min(station - first, length - last - station)

    def _ends_for(self, run: WallRun, kind: str) -> tuple[float, float]:
        """What must stay at a wall's ends: jambs of half a wall, clear of the next wall at a corner.

        At a corner that wall is all the jamb an open way needs; where it leans over, a little stays of this one too.
        """

        def end(turn: float | None) -> float:
            if turn is None or turn < 0:
                return self.wall / 2
            # A wall round a corner reaches in by t tan(turn / 2), as far as the mitre of the two goes; by t at least.
            mitre = max(math.tan(turn / 2), 1.0)
            rest = self.wall / 2 if WAYS[kind].stands else _BESIDE_MM if mitre > 1.0 else 0.0
            return self.wall * mitre + rest

        return end(run.turns[0]), end(run.turns[1])

    def _at(self, spot: Point) -> InFile:
        return InFile(f" at {self._shown(spot)}")

    def _shown(self, spot: Point) -> str:
        return show_point(spot[0] / self.cell, -spot[1] / self.cell)


def _rings(region: BaseGeometry) -> Iterator[list[Point]]:
    """The outlines of a region, walked with the inside on the right, corners on straight sides dropped."""
    for part in polygons_of(region):
        for ring in rings_of(orient(part, -1.0)):
            yield _corners(corners_of(ring))


def _corners(ring: list[Point]) -> list[Point]:
    """A ring less the points that lie on a straight side."""
    return [p for k, p in enumerate(ring) if abs(turn_right(ring[k - 1], p, ring[(k + 1) % len(ring)])) > _STRAIGHT]


def _runs(loop: Sequence[_BorderStep]) -> Iterator[WallRun]:
    """The walls of one outline: broken where it is open and at corners."""
    count = len(loop)
    turns = [turn_right(loop[k - 1].start, step.start, step.end) for k, step in enumerate(loop)]
    heads = [k for k, step in enumerate(loop) if step.walled and (not loop[k - 1].walled or abs(turns[k]) > MOST_TURN)]
    if not heads and loop and loop[0].walled:
        yield WallRun(_path([*loop]), (), (None, None))
        return
    for head in heads:
        steps = [loop[head]]
        k = (head + 1) % count
        while k != head and loop[k].walled and abs(turns[k]) <= MOST_TURN:
            steps.append(loop[k])
            k = (k + 1) % count
        before = turns[head] if loop[head - 1].walled else None
        after = turns[k] if loop[k].walled else None
        yield WallRun(_path(steps), (), (before, after))


def _opens(loop: Sequence[_BorderStep]) -> Iterator[OpenLine]:
    """The parts of one outline without a wall; beside a loose piece no wall is cut off."""
    for number, step in enumerate(loop):
        if not step.walled:
            loose = step.kind.facts.loose
            before, after = loop[number - 1], loop[(number + 1) % len(loop)]
            yield OpenLine(step.start, step.end, (before.walled and not loose, after.walled and not loose))


def _path(steps: Sequence[_BorderStep]) -> tuple[Point, ...]:
    """The steps' points; those on a straight side are left out."""
    points = [steps[0].start, *(step.end for step in steps)]
    inner = [q for p, q, r in zip(points, points[1:], points[2:], strict=False) if abs(turn_right(p, q, r)) > _STRAIGHT]
    return (points[0], *inner, points[-1])


def inner_walls(drawing: Drawing, region: BaseGeometry, code: int) -> InnerWalls:
    """The walls inside a room: both sides of each, and the posts where one ends. Map coordinates.

    Raises:
        InputError: a wall that the room's outline crosses, or a loose piece; with its place.
    """
    if drawing.off_grid is None:
        return InnerWalls()
    cell = drawing.cell_side
    runs: list[WallRun] = []
    ends: set[Square] = set()
    for square, side, kind in _lines(drawing, drawing.off_grid, code):
        line = _line(square, side, cell)
        cell_at = square[0] + 1, square[1] + 1
        place = Place(f'cell = {list(cell_at)}, side = "{side}"', cell=cell_at)
        _check_on_floor(line, region, Place(f"[[wall]] {place}", cell=cell_at), code)
        if kind.facts.loose:
            raise InputError(
                Said("a {} can't stand inside {}, which has a shape", kind.name, RoomRef(chr(code))),
                cure=Said("Use {} there, or leave the wall out", KeyRef("kind", "doorway")),
                place=Place(f"[[way]] {place}", cell=cell_at),
            )
        runs += _sides(line, kind)
        ends |= {(round(x / cell), round(-y / cell)) for x, y in line.coords}
    found = _posts(drawing, code, ends) if ends else ()
    deep = region.buffer(-drawing.grid.wall_thickness)
    # Beside the outline the lines of a cell that is no whole one say nothing of what stands there.
    posts = (post for square, post in found if drawing.off_grid.whole[square] or deep.contains(shapely.Point(post[:2])))
    return InnerWalls(tuple(runs), tuple(posts))


def _lines(drawing: Drawing, off_grid: OffGrid, code: int) -> Iterator[tuple[Square, str, LineKind]]:
    """The lines between two cells of a room on which a wall was written: the first cell, which of its sides, what."""
    same = drawing.rooms == code
    across = (drawing.across != NOTHING) & ~off_grid.shut_across
    down = (drawing.down != NOTHING) & ~off_grid.shut_down
    for row, column in np.argwhere(same[1:] & same[:-1] & across[1:-1]).tolist():
        yield (column, row), "south", drawing.kinds[int(drawing.across[row + 1, column])]
    for row, column in np.argwhere(same[:, 1:] & same[:, :-1] & down[:, 1:-1]).tolist():
        yield (column, row), "east", drawing.kinds[int(drawing.down[row, column + 1])]


def _line(square: Square, side: str, cell: float) -> LineString:
    """A line of the drawing in map coordinates, from its west or north end."""
    column, row = square
    first, last = ((column, row + 1) if side == "south" else (column + 1, row)), (column + 1, row + 1)
    return LineString([(c * cell, -r * cell) for c, r in (first, last)])


def _check_on_floor(line: LineString, region: BaseGeometry, place: str, code: int) -> None:
    """Refuse a line that a room's outline crosses.

    Raises:
        InputError: how much of it lies on the floor.
    """
    if region.buffer(SNAP_MM).covers(line):
        return
    # A part that lies on the outline has floor on one side only.
    within = float(line.intersection(region.buffer(-SNAP_MM)).length)
    raise InputError(
        Said("only {} of this wall lies on the floor of {}", f"{within / line.length:.0%}", RoomRef(chr(code))),
        cure="Choose a line that lies on the floor from end to end, or give the part behind the wall a letter and a "
        "shape of its own",
        place=place,
    )


def _sides(line: LineString, kind: LineKind) -> Iterator[WallRun]:
    """The wall on either side of a line, with its doorway, which is measured from the west or north end."""
    first, last = ((float(x), float(y)) for x, y in line.coords)
    opening = kind.opening if kind.facts.carried else None
    for path, start in (((first, last), 0.0), ((last, first), line.length)):
        if opening is None:
            yield WallRun(path)
        else:
            at = abs(start - opening.centre)
            yield WallRun(path, ((at - opening.width / 2, at + opening.width / 2, opening),))


def _posts(drawing: Drawing, code: int, ends: set[Square]) -> Iterator[tuple[Square, tuple[float, float, int, int]]]:
    """The posts of a room's cells at the ends of walls inside it: row and column of the cell, the post."""
    posts, cell = posts_of(drawing), drawing.cell_side
    for row, column in np.argwhere((drawing.rooms == code) & (posts > 0)).tolist():
        for corner, ((east, south), towards) in enumerate(_CORNERS):
            if posts[row, column] >> corner & 1 and (column + east, row + south) in ends:
                yield (row, column), ((column + east) * cell, -(row + south) * cell, *towards)
