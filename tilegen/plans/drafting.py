"""From a plan file to its drawing: walls where neighbouring cells differ, extra walls, ways through them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cached_property
from typing import get_args

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.errors import InputError, KeyRef, Place, Said
from tilegen.geometry import SNAP_MM, Point
from tilegen.lengths import show_length
from tilegen.model.grid import LEAVES, Grid
from tilegen.plans.drawing import Drawing, Scale, borders_of, ends_beside
from tilegen.plans.loose import loosened
from tilegen.plans.off_grid_walls import RoomWalls
from tilegen.plans.off_grid_ways import Locator, WallWay, as_seen_from, line_beside
from tilegen.plans.refusals import check_cell, check_room, no_wall
from tilegen.plans.shapes import DrawnShape, OffGrid, survey
from tilegen.plans.ways import (
    NOTHING,
    PLAIN_WALL,
    WAYS,
    ExtraWall,
    Line,
    LineKind,
    Way,
    line_kind,
    line_of,
    spot_on,
    wall_opening,
)
from tilegen.tiles.blocks import Extra
from tilegen.tiles.leaves.kind import check_leaf, leaf_of
from tilegen.tiles.openings import check_opening, shrunk
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import SIDES, STEPS


def draw(
    *,
    name: str,
    scale: Scale,
    grid: Grid,
    rooms: npt.NDArray[np.uint32],
    titles: Mapping[str, str],
    ways: Iterable[Way] = (),
    walls: Iterable[ExtraWall] = (),
    shapes: Iterable[DrawnShape] = (),
    wall_ways: Iterable[WallWay] = (),
    heights: Mapping[int, Extra] | None = None,
) -> Drawing:
    """Work out the lines of a plan: walls where neighbouring cells differ, extra walls, ways through them.

    rooms: (rows, columns) code points, 0 for solid ground. heights: of the rooms with heights of their own, by code
    point; between two of them a doorway is no loose piece.

    Raises:
        InputError: a wall or a way that can't stand where it is written; a title without a room.
        ValueError: an array without rows and columns; another scale.
    """
    if rooms.ndim != 2 or not rooms.size:
        raise ValueError(f"rooms of shape {rooms.shape}: expected (rows, columns), at least 1 x 1")
    if scale not in get_args(Scale):
        raise ValueError(f"a scale of {scale!r}: expected one of {', '.join(get_args(Scale))}")
    drafting = _Drafting(name, scale, grid, rooms, dict(titles))
    drafting.lay_shapes(tuple(shapes))
    return drafting.finish(tuple(ways), tuple(walls), tuple(wall_ways), heights or {})


class _Drafting:
    """The state while a drawing is worked out."""

    def __init__(
        self,
        name: str,
        scale: Scale,
        grid: Grid,
        rooms: npt.NDArray[np.uint32],
        titles: dict[str, str],
    ) -> None:
        self.name, self.scale, self.grid, self.rooms, self.titles = name, scale, grid, rooms, titles
        self.across, self.down = (lines.astype(np.int16) for lines in borders_of(rooms))
        self.kinds: dict[LineKind, int] = {LineKind("open"): NOTHING, LineKind("wall"): PLAIN_WALL}
        self.side = (grid.spaces if scale == "10 ft" else 1) * grid.pitch
        self.off_grid: OffGrid | None = None

    @cached_property
    def locator(self) -> Locator:
        """Finds the walls of ways; asked for once all walls stand and before any way is made."""
        return Locator(self.rooms, (self.across.copy(), self.down.copy()), self.off_grid, self.side, self.grid)

    def lay_shapes(self, shapes: tuple[DrawnShape, ...]) -> None:
        if shapes:
            found = survey(self.rooms, shapes, self.side)
            self.rooms, self.across, self.down, self.off_grid = found.rooms, found.across, found.down, found.off_grid

    def finish(
        self,
        ways: tuple[Way, ...],
        walls: tuple[ExtraWall, ...],
        wall_ways: tuple[WallWay, ...],
        heights: Mapping[int, Extra],
    ) -> Drawing:
        self._check_titles()
        for wall in walls:
            self._add_wall(wall)
        on_lines, through = self._located(ways, wall_ways)
        kept: dict[Line, tuple[Way, LineKind]] = {}
        for way in on_lines:
            self._add_way(way, kept)
        for line, (_, kind) in kept.items():
            self._put(kind, line)
        drawing = self._drawing(tuple(way for way, _ in kept.values()), ())
        if self.grid.set.doorways == "loose":
            kept |= self._loosened(drawing, kept, heights)
            drawing = self._drawing(drawing.ways, ())
        fitting = _Fitting(drawing, self.locator)
        doors = [(line, way, kind, kind.opening) for line, (way, kind) in kept.items() if kind.facts.carried]
        looks = [opening and fitting.on_line(line, way, opening) for line, way, _, opening in doors]
        for (line, _, kind, _), look in zip(doors, looks, strict=True):
            self._put(replace(kind, opening=look), line)
        fitting = _Fitting(self._drawing(drawing.ways, ()), self.locator)
        fitted = tuple(fitting.through(way) for way in through)
        return self._drawing((*drawing.ways, *self._stand_ins(fitted)), fitted)

    def _loosened(
        self, drawing: Drawing, kept: Mapping[Line, tuple[Way, LineKind]], heights: Mapping[int, Extra]
    ) -> dict[Line, tuple[Way, LineKind]]:
        """The doorways that can be door pieces over open sides."""
        doors = {line: (way, kind) for line, (way, kind) in kept.items() if kind.facts.carried}
        found = {line: (way, loosened(drawing, line, way, kind, heights)) for line, (way, kind) in doors.items()}
        loose = {line: (way, kind) for line, (way, kind) in found.items() if isinstance(kind, LineKind)}
        for line, (_, kind) in loose.items():
            self._put(kind, line)
        return loose

    def _located(self, ways: Iterable[Way], wall_ways: Iterable[WallWay]) -> tuple[list[Way], list[WallWay]]:
        """The ways on one line each, and those at a point of walls, however they were written."""
        found: list[Way | WallWay] = []
        for way in ways:
            line = self._line(way)
            found.append(self.locator.by_line(way, line, wall_opening(way, self.side, self.grid)))
        found += [self.locator.by_point(way) for way in wall_ways]
        return [w for w in found if isinstance(w, Way)], [w for w in found if isinstance(w, WallWay)]

    def _drawing(self, ways: tuple[Way, ...], wall_ways: tuple[WallWay, ...]) -> Drawing:
        return Drawing(
            self.name,
            self.scale,
            self.grid,
            self.rooms,
            self.across,
            self.down,
            tuple(self.kinds),
            self.titles,
            ways,
            off_grid=self.off_grid,
            wall_ways=wall_ways,
        )

    def _stand_ins(self, wall_ways: tuple[WallWay, ...]) -> Iterator[Way]:
        """Ways between cells that stand for those through outlines, where only cells are looked at."""
        if self.off_grid is None:
            return
        for way in wall_ways:
            beside = line_beside(way, self.off_grid, self.rooms, self.side)
            if beside is None:
                continue
            stand_in = Way(beside[:2], beside[2], way.kind, place=way.place)
            opening = replace(way.opening, centre=self.side / 2, leaf="none", style="planks")
            kind = LineKind(way.kind, opening if WAYS[way.kind].stands else None, stand_in=True)
            self._put(kind, self._line(stand_in))
            yield stand_in

    def _at(self, line: Line) -> int:
        """What stands on a line, as an index into the kinds."""
        array, row, column = line
        return int((self.across if array == "across" else self.down)[row, column])

    def _put(self, kind: LineKind, line: Line) -> None:
        array, row, column = line
        (self.across if array == "across" else self.down)[row, column] = self.kinds.setdefault(kind, len(self.kinds))

    def _check_titles(self) -> None:
        letters = {chr(code) for code in np.unique(self.rooms) if code}
        for letter in self.titles:
            check_room(letter, letters, Place(f"[rooms] {letter}", room=letter))

    def _line(self, item: Way | ExtraWall) -> Line:
        """The line at a cell's side, of a cell that is in the drawing."""
        check_cell(item.cell, self.rooms, item.place)
        return line_of(item.cell, item.side)

    def _room_at(self, column: int, row: int) -> int:
        rows, columns = self.rooms.shape
        return int(self.rooms[row, column]) if 0 <= row < rows and 0 <= column < columns else 0

    def _beside(self, item: Way | ExtraWall) -> tuple[int, int]:
        """The rooms on both sides of the line: the cell's own, and the one beyond."""
        column, row = item.cell[0] - 1, item.cell[1] - 1
        step = STEPS[SIDES.index(item.side)]
        return self._room_at(column, row), self._room_at(column + step[0], row + step[1])

    def _add_wall(self, wall: ExtraWall) -> None:
        line = self._line(wall)
        if self._at(line):
            raise InputError(
                "there is a wall on this line already",
                cure="Delete this wall, or choose another line",
                place=wall.place,
            )
        if not any(self._beside(wall)):
            raise InputError(
                "there is solid ground on both sides of this wall", cure="Put it inside a room", place=wall.place
            )
        self._put(LineKind("wall"), line)

    def _add_way(self, way: Way, kept: dict[Line, tuple[Way, LineKind]]) -> None:
        line = self._line(way)
        if not self._at(line):
            raise no_wall(way.place, "Move the way to a line between two rooms or at the edge of a room")
        if WAYS[way.kind].loose and not all(self._beside(way)):
            raise InputError(
                f"a {way.kind} needs a room on both sides, and here one side is solid ground",
                cure=Said("Use {} or {} for a way in", KeyRef("kind", "doorway"), KeyRef("kind", "open")),
                place=way.place,
            )
        kind = line_kind(way, self.side, self.grid)
        before, other = kept.get(line, (way, kind))
        if other != kind:
            differs = KeyRef("kind", before.kind) if before.kind != way.kind else "other measures"
            raise InputError(
                Said("{} is on the same line, with {}", before.place or "another way", differs),
                cure="Delete one of the two",
                place=way.place,
            )
        kept.setdefault(line, (way, kind))


class _Fitting:
    """Gives every opening one width, the same in all the walls that it goes through."""

    def __init__(self, drawing: Drawing, locator: Locator) -> None:
        self.drawing, self.locator = drawing, locator
        self.walls = RoomWalls(drawing, locator.regions)

    def on_line(self, line: Line, way: Way, opening: Opening) -> Opening:
        """A doorway as wide as both of its walls have room for.

        Raises:
            InputError: one of its walls has too little jamb.
        """
        side, grid = self.drawing.cell_side, self.drawing.grid
        widths = []
        for cell, ends in ends_beside(self.drawing, line):
            try:
                widths += self._off_grid_width(line, cell, way, opening)
                if not self.drawing.is_whole(cell):
                    continue
                fitted = opening if way.width is not None else shrunk(opening, side, grid, ends)
                check_opening(fitted, side, grid, ends)
            except InputError as error:
                raise error.located(place=way.place) from None
            widths.append(fitted.width)
        # Left as it is where each wall makes the same of it, so that alike doorways are one kind.
        return opening if len({round(w, 6) for w in widths}) < 2 else replace(opening, width=min(widths))

    def _off_grid_width(self, line: Line, cell: tuple[int, int], way: Way, opening: Opening) -> list[float]:
        """How wide a doorway is in the wall of the cell's room, if that has a shape."""
        off_grid, code = self.drawing.off_grid, int(self.drawing.rooms[cell[1], cell[0]])
        if off_grid is None or code not in off_grid.regions or self._inside(line):
            return []
        spot = spot_on(line, opening.centre, self.drawing.cell_side)
        if self.walls.region(code).distance(shapely.Point(spot)) > SNAP_MM:
            # A room that covers most of the cell, but ends before the line.
            return []
        return [self.walls.border(code).width_at(spot, opening, way.place, fixed=way.width is not None)]

    def _inside(self, line: Line) -> bool:
        """Whether both sides of a line are of one room."""
        rooms = {int(self.drawing.rooms[r, c]) for (c, r), _ in ends_beside(self.drawing, line)}
        return len(rooms) == 1 and len(list(ends_beside(self.drawing, line))) > 1

    def through(self, way: WallWay) -> WallWay:
        """A way at a point, in the middle of its stretch if it has one, as wide as all of its walls have room for.

        Raises:
            InputError: no wall there, or too little room in one of them.
        """
        if way.span is not None:
            way = self._centred(way, way.span)
        widths = [
            self.walls.border(ord(room)).width_at(spot, way.opening, way.place, fixed=way.fixed, kind=way.kind)
            for room in dict.fromkeys(way.rooms)
            for spot in way.spots_in(room)
        ]
        return self._hung(replace(way, opening=replace(way.opening, width=min(widths))))

    def _hung(self, way: WallWay) -> WallWay:
        """A way with its leaf in the straight ones of its walls; a piece of wall that lifts out needs all of them.

        Raises:
            InputError: a leaf that was asked for and that no wall carries, or whose wall can't hold it.
        """
        grid, rooms = self.drawing.grid, tuple(dict.fromkeys(way.rooms))
        leaf = way.leaf or grid.door.leaf
        if leaf not in LEAVES or "leaf" not in WAYS[way.kind].takes:
            return way
        jambs = {room: jamb for room in rooms if (jamb := self._jamb(way, room)) is not None}
        if not jambs or (leaf_of(leaf).of_wall and len(jambs) < len(rooms)):
            if way.leaf is None:
                return way
            raise InputError(
                Said("{} needs a straight wall with all of the doorway in one tile", KeyRef("leaf", leaf)),
                cure=Said("Use {}, or move the way to the middle of a straight wall", KeyRef("leaf", "none")),
                place=way.place,
            )
        height = grid.wall_height if leaf_of(leaf).of_wall else way.opening.height
        opening = replace(way.opening, height=height, leaf=leaf, style=way.style or grid.door.style)
        try:
            check_leaf(opening, grid, min(jambs.values()))
        except InputError as error:
            raise error.located(place=way.place) from None
        region, side = self.locator.region, self.drawing.cell_side
        hung = {room: as_seen_from(way, room, region(ord(room)), side) for room in jambs}
        return replace(way, opening=opening, hung=hung)

    def _jamb(self, way: WallWay, room: str) -> float | None:
        """The narrower jamb of a way in a room's wall, mm; None where the wall is bent or a seam cuts the doorway."""
        half, jambs, cell = way.opening.width / 2, [], self.drawing.cell_side
        for spot in way.spots_in(room):
            clear = self.walls.border(ord(room)).clear_at(spot, way.kind)
            if clear is None:
                return None
            (x0, y0), (x1, y1) = clear
            if (length := math.dist(*clear)) < SNAP_MM:
                return None
            reach = half * abs(x1 - x0) / length, half * abs(y1 - y0) / length
            for at, far in zip(spot, reach, strict=True):
                if far > SNAP_MM and math.floor((at - far + SNAP_MM) / cell) != math.floor((at + far - SNAP_MM) / cell):
                    return None
            jambs.append(min(math.dist(spot, end) for end in clear) - half + self.drawing.grid.wall_thickness / 2)
        return min(jambs, default=None)

    def _centred(self, way: WallWay, span: tuple[Point, Point]) -> WallWay:
        (x0, y0), (x1, y1) = span
        length = math.dist(*span)
        dx, dy = (x1 - x0) / length, (y1 - y0) / length
        low, high = 0.0, length
        for room in dict.fromkeys(way.rooms):
            for spot in way.spots_in(room):
                clear = self.walls.border(ord(room)).clear_at(spot, way.kind)
                if clear is not None:
                    at = sorted((x - x0) * dx + (y - y0) * dy for x, y in clear)
                    low, high = max(low, at[0]), min(high, at[1])
        if high - low < self.drawing.grid.wall_thickness:
            raise InputError(
                f"walls leave only {show_length(max(high - low, 0.0))} free on this line, and a way needs "
                f"{show_length(self.drawing.grid.wall_thickness)}",
                cure="Move it to another line, or make the room wider there",
                place=way.place,
            )
        middle = (low + high) / 2
        spot = (x0 + dx * middle, y0 + dy * middle)
        width = way.opening.width if way.fixed else min(way.opening.width, high - low)
        moved = replace(way, spot=spot, at=(spot[0] / self.drawing.cell_side, -spot[1] / self.drawing.cell_side))
        return replace(moved, opening=replace(way.opening, width=width), beyond=self.locator.beyond(moved))
