"""Where ways go through walls: along one line between cells, or at a point of every wall that stands there.

A way is written by a cell and its side, or by a room and a point of its border. Where the wall is a whole line between
two cells, it is a way of that line; everywhere else it is a way at a point: of the room's wall, and of the wall of the
room on the other side, if that stands within a wall's thickness.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InFile, InputError, KeyRef, RoomRef, Said
from tilegen.geometry import SNAP_MM, Point, lines_of, polygons_of, segments_of
from tilegen.lengths import show_point
from tilegen.model.grid import Grid, Leaf, Style
from tilegen.plans.refusals import check_room, no_wall
from tilegen.plans.shapes import OffGrid, cells_of
from tilegen.plans.ways import WAYS, Line, Way
from tilegen.tiles.openings import room_for
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import SIDES, STEPS

CellSide = tuple[int, int, str]
Codes = npt.NDArray[np.int16]
# How near a wall's line the point of a way must lie, as a share of a cell.
REACH = 0.5
_NEAR_MM = 1e-2
# What stands this far before the end of an opening is not in the way.
_GRAZE_MM = 1.0
# Shares of a line along which floor lies: all of it, none of it.
_ALL, _NONE = 0.999, 0.01


@dataclass(frozen=True, slots=True)
class WallWay:
    """A way through walls at a point.

    at: a point near the wall, in cells from the drawing's top left corner, y down. opening: its measures. fixed:
    its width was asked for and must not shrink. spot: the wall's nearest point in map coordinates, mm, once known.
    beyond: the room on the other side, if its wall stands right behind, and the point of that wall. span: the stretch
    of a line that it may be moved along, if any. leaf, style: as written. hung: itself as seen from each room whose
    wall carries its leaf, its own first.
    """

    room: str
    at: tuple[float, float]
    kind: str
    opening: Opening
    fixed: bool = False
    spot: Point | None = None
    place: str = ""
    beyond: tuple[str, Point] | None = None
    span: tuple[Point, Point] | None = None
    leaf: Leaf | None = None
    style: Style | None = None
    hung: Mapping[str, Way] = field(default_factory=dict)

    @property
    def rooms(self) -> tuple[str, ...]:
        """The rooms whose walls it goes through, its own first."""
        return (self.room,) if self.beyond is None else (self.room, self.beyond[0])

    def spots_in(self, room: str) -> list[Point]:
        """The points of a room's walls that it goes through."""
        own = [self.spot] if self.spot is not None and room == self.room else []
        return own if self.beyond is None or self.beyond[0] != room else [*own, self.beyond[1]]

    def opening_in(self, room: str) -> Opening:
        """What its opening is to a room's walls, for which the look of a leaf is no matter."""
        return replace(self.opening, leaf=self.opening.leaf if room in self.hung else "none", style="planks")


class Locator:
    """Finds the walls that ways go through, on a drawing's lines as they are before any way is made.

    rooms: (rows, columns); across, down: what stands on its lines, 0 for nothing.
    """

    def __init__(
        self,
        rooms: npt.NDArray[np.uint32],
        lines: tuple[Codes, Codes],
        off_grid: OffGrid | None,
        cell: float,
        grid: Grid,
    ) -> None:
        self.rooms, self.off_grid, self.cell, self.grid = rooms, off_grid, cell, grid
        self.across, self.down = lines
        self.regions: dict[int, BaseGeometry] = dict(off_grid.regions) if off_grid is not None else {}

    def region(self, code: int) -> BaseGeometry:
        """A room's floor in map coordinates."""
        if code not in self.regions:
            self.regions[code] = cells_of(self.rooms, code, self.cell)
        return self.regions[code]

    # --- ways by a room and a point ---

    def by_point(self, way: WallWay) -> Way | WallWay:
        """A way on the line or through the walls that its point is at.

        Raises:
            InputError: no such room; a point far from its walls, or where two cells' sides meet on a plan of cells
                only; what only a line between cells carries.
        """
        code = self._code(way)
        (x, y), near = way.at, list(self._lines_near(way.at, code))
        distance, line = min(near, default=(math.inf, None))
        if self.off_grid is not None and code in self.off_grid.regions:
            wall = self.regions[code].boundary
            spot = shapely.shortest_line(wall, shapely.Point(x * self.cell, -y * self.cell)).coords[0]
            away = math.dist(spot, (x * self.cell, -y * self.cell)) / self.cell
            if away <= distance + _NEAR_MM / self.cell:
                distance, line = away, self._line_along(wall, (float(spot[0]), float(spot[1])))
        else:
            spot = self._on(line, way.at) if line is not None else (0.0, 0.0)
        if distance > REACH:
            near_by = show_point(spot[0] / self.cell, -spot[1] / self.cell) if math.isfinite(distance) else ""
            raise InputError(
                Said("there is no wall of {}{}", RoomRef(way.room), InFile(f" near {show_point(x, y)}")),
                cure=Said("Use {}the nearest point of its walls", InFile(f"at = {near_by}, "))
                if near_by
                else "Choose a point on one of its walls",
                place=way.place,
            )
        if line is not None:
            spot = self._on(line, way.at)
            if self.is_plain(line, code) and (self.off_grid is None or self._suits(line, spot, way)):
                return self._line_way(line, spot, code, way)
        return self._through(replace(way, spot=(float(spot[0]), float(spot[1]))))

    def _code(self, way: WallWay) -> int:
        known = {chr(c) for c in (*np.unique(self.rooms).tolist(), *self.regions) if c}
        check_room(way.room, known, way.place)
        return ord(way.room)

    def _lines_near(self, at: Point, code: int) -> Iterator[tuple[float, Line]]:
        """The lines near a point that are walls of a room drawn in cells, or stand inside a room: distance, line."""
        shaped = self.off_grid is not None and code in self.off_grid.regions
        for array, lines in (("across", self.across), ("down", self.down)):
            along, across = at if array == "across" else at[::-1]
            for n in range(math.floor(across), math.ceil(across) + 1):
                for m in range(math.floor(along) - 1, math.floor(along) + 2):
                    row, column = (n, m) if array == "across" else (m, n)
                    if not (0 <= row < lines.shape[0] and 0 <= column < lines.shape[1] and lines[row, column]):
                        continue
                    here, there = self._beside((array, row, column))
                    inside = here == there == code
                    if inside and self.off_grid is not None:
                        shut = self.off_grid.shut_across if array == "across" else self.off_grid.shut_down
                        inside = not shut[row, column]
                    if inside or (code in (here, there) and here != there and not shaped):
                        off = max(m - along, along - m - 1, 0.0)
                        yield math.hypot(across - n, off), (array, row, column)

    def _beside(self, line: Line) -> tuple[int, int]:
        """The rooms of the cells to the north or west of a line, and on its other side; 0 for solid ground."""
        array, row, column = line
        rows, columns = self.rooms.shape
        before = (row - 1, column) if array == "across" else (row, column - 1)
        found = [int(self.rooms[r, c]) if 0 <= r < rows and 0 <= c < columns else 0 for r, c in (before, (row, column))]
        return found[0], found[1]

    def _line_along(self, wall: BaseGeometry, spot: Point) -> Line | None:
        """The line between cells that an outline runs along at a point, if it does; the one that has more of it."""
        near = wall.intersection(shapely.Point(spot).buffer(self.cell / 50))
        west, south, east, north = near.bounds
        rows, columns = self.rooms.shape
        for array, low, high, at in (("down", west, east, spot[0]), ("across", south, north, -spot[1])):
            line = round(at / self.cell)
            if high - low > SNAP_MM or abs(at - line * self.cell) > SNAP_MM:
                continue
            along = (-spot[1] if array == "down" else spot[0]) / self.cell
            m = min(math.floor(along), (rows if array == "down" else columns) - 1)
            return (array, m, line) if array == "down" else (array, line, m)
        return None

    def _on(self, line: Line, at: Point) -> Point:
        """The point of a line that is nearest to one given in cells, in map coordinates."""
        array, row, column = line
        if array == "across":
            return min(max(at[0], column), column + 1) * self.cell, -row * self.cell
        return column * self.cell, -min(max(at[1], row), row + 1) * self.cell

    def _ends(self, line: Line) -> tuple[Point, Point]:
        """A line from its west or north end, in map coordinates."""
        array, row, column = line
        last = (column + 1, row) if array == "across" else (column, row + 1)
        return (column * self.cell, -row * self.cell), (last[0] * self.cell, -last[1] * self.cell)

    def _suits(self, line: Line, spot: Point, way: WallWay) -> bool:
        """Whether a way fits in its line as wide as it is meant to be."""
        if not WAYS[way.kind].stands:
            start, end = self._ends(line)
            return not way.fixed and min(math.dist(spot, start), math.dist(spot, end)) > _NEAR_MM
        centre = math.dist(self._ends(line)[0], spot)
        return way.opening.width <= room_for(centre, self.cell, self.grid, (0.0, 0.0)) + _NEAR_MM

    def _line_way(self, line: Line, spot: Point, code: int, way: WallWay) -> Way:
        """The same way by cell and side."""
        array, row, column = line
        centre = math.dist(self._ends(line)[0], spot)
        if not _NEAR_MM < centre < self.cell - _NEAR_MM:
            raise InputError(
                "the sides of two squares meet at this point",
                cure="Move it by half a square, to the middle of one of the sides",
                place=way.place,
            )
        after = self._beside(line)[1] == code
        first = "north" if array == "across" else "west"
        side = first if after else {"north": "south", "west": "east"}[first]
        cell = (column + 1, row + 1) if after else (column + 1, row) if array == "across" else (column, row + 1)
        middle = abs(centre - self.cell / 2) < _NEAR_MM
        look, opens = way.opening, not WAYS[way.kind].stands
        return Way(
            cell,
            side,
            way.kind,
            look.width if way.fixed else None,
            None if opens else look.height,
            None if opens else look.head,
            None if middle or opens else centre / self.grid.pitch,
            way.place,
            way.leaf,
            way.style,
        )

    # --- ways by a cell and its side ---

    def by_line(self, way: Way, line: Line, opening: Opening) -> Way | WallWay:
        """The way itself where its line is one wall from end to end; else the way through what stands along it.

        opening: its measures, with which it goes through walls off the grid.

        Raises:
            InputError: no wall along the line.
        """
        if self.off_grid is None or self.is_plain(line):
            return way
        stretch, code = self._stretch(way, line)
        middle = stretch.interpolate(0.5, normalized=True)
        spot = (float(middle.x), float(middle.y))
        span: tuple[Point, Point] | None = segments_of(stretch)[0]
        if way.at is not None:
            start, end = self._ends(line)
            share = way.at * self.grid.pitch / self.cell
            spot, span = (start[0] + (end[0] - start[0]) * share, start[1] + (end[1] - start[1]) * share), None
        found = WallWay(
            chr(code),
            (spot[0] / self.cell, -spot[1] / self.cell),
            way.kind,
            opening,
            way.width is not None,
            spot,
            way.place,
            None,
            span,
            way.leaf,
            way.style,
        )
        return self._through(found)

    def _stretch(self, way: Way, line: Line) -> tuple[LineString, int]:
        """The longest stretch of a line that is a wall between two rooms, else one between a room and solid ground."""
        sides = [self._floors_along(line, sign, SNAP_MM) for sign in (1, -1)]
        close = [self._floors_along(line, sign, self.grid.wall_thickness) for sign in (1, -1)]
        found: list[tuple[bool, float, int, LineString]] = []
        own = int(self.rooms[way.cell[1] - 1, way.cell[0] - 1])
        for here, there in ((0, 1), (1, 0)):
            for code, floor in sides[here].items():
                wall = floor.difference(sides[there].get(code, LineString()))
                for other, beyond in close[there].items():
                    found += [
                        (True, p.length, code, p) for p in self._parts(wall.intersection(beyond)) if other != code
                    ]
                free = wall.difference(shapely.union_all(list(close[there].values())))
                found += [(False, p.length, code, p) for p in self._parts(free)]
        if not found:
            raise no_wall(way.place, self._point_near(line, own))
        _, _, code, stretch = max(found, key=lambda f: (f[0], round(f[1], 3), f[2] == own))
        return stretch, code

    def _parts(self, found: BaseGeometry) -> list[LineString]:
        """The stretches of an overlay of lines that a way fits into: a wall's thickness long at least."""
        merged = shapely.line_merge(shapely.union_all(lines_of(found)))
        return [line for line in lines_of(merged) if line.length >= self.grid.wall_thickness]

    def _floors_along(self, line: Line, sign: int, depth: float) -> dict[int, BaseGeometry]:
        """Along which stretches of a line each room has floor within a depth; sign: 1 to the north or east of it."""
        ends = LineString(self._ends(line))
        # A line across runs east, one down runs south: the north and the east are on the left.
        strip = ends.buffer(depth * sign, single_sided=True)
        (x0, y0), (_, y1) = ends.coords
        found: dict[int, BaseGeometry] = {}
        for code in self._codes_near(line):
            parts = []
            for part in polygons_of(self.region(code).intersection(strip), SNAP_MM * depth):
                west, south, east, north = part.bounds
                parts.append(LineString([(west, y0), (east, y0)] if y0 == y1 else [(x0, north), (x0, south)]))
            if parts:
                found[code] = shapely.union_all(parts)
        return found

    def _codes_near(self, line: Line) -> list[int]:
        """The rooms that may have floor beside a line."""
        _, row, column = line
        near = self.rooms[max(row - 2, 0) : row + 2, max(column - 2, 0) : column + 2]
        return sorted({int(c) for c in np.unique(near) if c} | set(self.off_grid.regions if self.off_grid else ()))

    def _point_near(self, line: Line, own: int) -> str:
        """The cure for a way where no wall is: a wall of its cell's room near by, by its point."""
        if not own:
            return "Move the way to the wall of a room"
        middle = LineString(self._ends(line)).interpolate(0.5, normalized=True)
        x, y = shapely.shortest_line(self.region(own).boundary, middle).coords[0]
        spot = show_point(x / self.cell, -y / self.cell)
        instead = f', with room = "{chr(own)}" and at = {spot} instead of cell and side'
        return Said("Use the nearest wall of the room{}", InFile(instead))

    # --- both ---

    def is_plain(self, line: Line, code: int | None = None) -> bool:
        """Whether all that stands along a line is one wall from end to end: floor of one room along each side, or none.

        None also where the cell counts as a room's, whose own wall stands further off: that stays shut.

        code: a room that must be on one of its sides.
        """
        beside = self._beside(line)
        if code is not None and code not in beside:
            return False
        if self.off_grid is None:
            return True
        sides = []
        for room, sign in zip(beside, (1, -1) if line[0] == "across" else (-1, 1), strict=True):
            along = self._floors_along(line, sign, SNAP_MM)
            sides.append(room in along and along[room].length > _ALL * self.cell)
            if room and not sides[-1]:
                return False
            close = {} if sides[-1] else self._floors_along(line, sign, self.grid.wall_thickness)
            if any(floor.length > _NONE * self.cell for floor in close.values()):
                return False
        return any(sides)

    def _through(self, way: WallWay) -> WallWay:
        """A way at a point of a wall, with the wall of the room beyond.

        Raises:
            InputError: a loose piece.
        """
        if WAYS[way.kind].loose:
            raise InputError(
                f"a {way.kind} needs a wall that runs along one whole side of a square, and here is none",
                cure=Said("Use {} or {}", KeyRef("kind", "doorway"), KeyRef("kind", "open")),
                place=way.place,
            )
        return replace(way, beyond=self.beyond(way))

    def beyond(self, way: WallWay) -> tuple[str, Point] | None:
        """The room whose wall stands within a wall's thickness behind a way's, and the point of it."""
        found = self.ahead(way, self.grid.wall_thickness + _NEAR_MM)
        return (found[0], found[1]) if found is not None and found[1] is not None else None

    def ahead(self, way: WallWay, reach: float) -> tuple[str, Point | None, float] | None:
        """The first room met walking straight out through a wall, where its wall is and how far that is.

        The point is None where the wall is before a part of the opening only, not before its middle.
        """
        if way.spot is None:
            return None
        code = ord(way.room)
        x, y = way.spot
        inside = self.region(code).intersection(shapely.Point(x, y).buffer(self.cell / 20)).centroid
        away = math.hypot(x - inside.x, y - inside.y)
        if inside.is_empty or away < SNAP_MM:
            return None
        dx, dy = (x - inside.x) / away, (y - inside.y) / away
        # From just outside of the wall's own line, chords and rounding allowed for.
        path = LineString([(x + dx * 2 * _NEAR_MM, y + dy * 2 * _NEAR_MM), (x + dx * reach, y + dy * reach)])
        # A wall before half of the opening is in the way too; of its own room only what lies straight ahead.
        half = way.opening.width / 2 - _GRAZE_MM
        band = path.buffer(half, cap_style="flat") if half > 0 else path
        column, row = math.floor(x / self.cell), math.floor(-y / self.cell)
        met: list[tuple[bool, float, str, Point | None]] = []
        for other in self._codes_near(("down", max(row, 0), max(column, 0))):
            region = self.region(other)
            aside = region.intersection(path).length <= _NEAR_MM
            before = region.intersection(band if aside else path)
            if before.length <= _NEAR_MM or (aside and other == code):
                continue
            gap = min((a - x) * dx + (b - y) * dy for a, b in shapely.get_coordinates(before).tolist())
            wall = shapely.shortest_line(region.boundary, shapely.Point(x + dx * gap, y + dy * gap)).coords[0]
            met.append((aside, gap, chr(other), None if aside else (float(wall[0]), float(wall[1]))))
        if not met:
            return None
        _, gap, room, spot = min(met)
        return room, spot, gap


def as_seen_from(way: WallWay, room: str, region: BaseGeometry, cell: float) -> Way:
    """A way at a point as a way of the cell inside one of its rooms whose side it is nearest to. region: the room's."""
    x, y = way.spots_in(room)[0]
    inside = region.intersection(shapely.Point(x, y).buffer(cell / 20)).centroid
    square = math.floor(inside.x / cell) + 1, math.floor(-inside.y / cell) + 1
    return Way(square, _side_towards(x - inside.x, y - inside.y), way.kind, place=way.place, spot=(x, y))


def _side_towards(dx: float, dy: float) -> str:
    if abs(dx) > abs(dy):
        return "east" if dx > 0 else "west"
    return "north" if dy > 0 else "south"


def line_beside(way: WallWay, off_grid: OffGrid, rooms: npt.NDArray[np.uint32], cell: float) -> CellSide | None:
    """The side of a cell that stands for a way out into solid ground where only cells are looked at.

    It is the first line met walking out of the room at which its cells end; (column, row from 1, side).
    """
    region = off_grid.regions.get(ord(way.room))
    if region is None or way.beyond is not None:
        return None
    (x, y), near = way.spot or (0.0, 0.0), cell / 20
    inside = region.intersection(shapely.Point(x, y).buffer(near)).centroid
    side = _side_towards(x - inside.x, y - inside.y)
    step = STEPS[SIDES.index(side)]
    rows, columns = rooms.shape
    column, row = int(inside.x // cell), int(-inside.y // cell)
    for _ in range(3):
        if not (0 <= row < rows and 0 <= column < columns) or rooms[row, column] != ord(way.room):
            return None
        beyond = column + step[0], row + step[1]
        inner = 0 <= beyond[0] < columns and 0 <= beyond[1] < rows
        if not inner or not rooms[beyond[1], beyond[0]]:
            return None if off_grid.whole[row, column] else (column + 1, row + 1, side)
        if rooms[beyond[1], beyond[0]] != rooms[row, column]:
            return None
        column, row = beyond
    return None
