"""Vertical things of a plan: rooms with floors and walls of their own height, and what stands on or in a floor.

Plan coordinates: mm from the drawing's top left corner, x to the east, y to the south.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import CellRef, InFile, InputError, KeyRef, RoomRef, Said
from tilegen.lengths import show_length, show_number, show_point
from tilegen.plans.drawing import Drawing, posts_of
from tilegen.plans.furnishing import (
    LEAST_GAP_MM,
    Box,
    FreeFloor,
    Spot,
    blocks_on,
    bounds_of,
    check_apart,
    strips_and_posts,
)
from tilegen.plans.off_grid_walls import RoomWalls
from tilegen.plans.refusals import check_cell, check_room
from tilegen.plans.ways import WAYS
from tilegen.tiles.blocks import PLAIN, Extra, in_order
from tilegen.tiles.features.kind import LEAST_MM, Wanted
from tilegen.tiles.shape import CORNERS, SIDES, STEPS

# How finely a place for a feature is looked for, and the floor beyond a stair.
_STEPS_PER_SPACE, _STEPS_PER_CELL = 20, 64
Cell = tuple[int, int]
# What lies on each cell of each room, with how it was written.
Spots = dict[tuple[int, Cell], list[tuple[Spot, Wanted]]]
# Less than this is none; how far to look beside a line, mm.
_CRUMB_MM2 = 1e-3
_BESIDE_MM = 0.05


@dataclass(frozen=True, slots=True)
class RoomHeights:
    """How high a room's walls and floor are; None where they are as the grid has them. place: for messages."""

    wall: float | None = None
    floor: float = 0.0
    place: str = ""


@dataclass(frozen=True, slots=True)
class PlanFeature:
    """A feature as written. cell, to: first and last cell (column, row from 1) of the rectangle that it belongs to."""

    wanted: Wanted
    cell: Cell
    to: Cell


def furnish(
    drawing: Drawing, features: Iterable[PlanFeature], heights: Mapping[str, RoomHeights] | None = None
) -> Drawing:
    """A drawing with its rooms' heights and its features.

    Raises:
        InputError: a room that isn't there, a way that can't be between two heights, a feature that does not lie on
            the floor or can't be made.
    """
    features = tuple(features)
    if not features and not heights:
        return drawing
    return _Furnishing(drawing, heights or {}).finish(features)


def extras_of(heights: Mapping[str, RoomHeights]) -> dict[int, Extra]:
    """What the heights of rooms make of a cell, by the rooms' code points."""
    return {ord(letter): Extra((), found.floor, found.wall) for letter, found in heights.items() if len(letter) == 1}


class _Furnishing:
    """The state while a drawing is furnished. Cells: column, row from 0; rooms: code points."""

    def __init__(self, drawing: Drawing, heights: Mapping[str, RoomHeights]) -> None:
        self.drawing, self.grid, self.side = drawing, drawing.grid, drawing.cell_side
        self.shaped = ShapedFloor(drawing)
        self.regions = self.shaped.regions
        letters = {chr(code) for code in (*np.unique(drawing.rooms).tolist(), *self.regions) if code}
        for letter, found in heights.items():
            check_room(letter, letters, found.place)
            _check_heights(found)
        self.heights = extras_of(heights)
        self.stands = drawing.stands
        self.posts = posts_of(drawing)

    def finish(self, features: Sequence[PlanFeature]) -> Drawing:
        self._check_ways()
        spots: Spots = defaultdict(list)
        for feature in features:
            try:
                for place, spot in self._spots(feature):
                    spots[place].append((spot, feature.wanted))
            except InputError as error:
                raise error.located(place=feature.wanted.place) from None
        for (room, cell), here in spots.items():
            check_apart(here, self._standing(cell, room))
        return replace(self.drawing, heights=self.heights, **self._extras(spots))

    def _extras(self, spots: Spots) -> dict[str, Any]:
        """All blocks; one number for what each cell is beside its sides and posts, and what the numbers stand for."""
        kinds: dict[Extra, int] = {PLAIN: 0}
        codes = np.zeros(self.drawing.rooms.shape, np.int16)
        for room, extra in self.heights.items():
            codes[self.drawing.rooms == room] = kinds.setdefault(extra, len(kinds))
        found = []
        for (room, (column, row)), here in sorted(spots.items()):
            blocks = in_order(block for spot, _ in here for block in spot.blocks)
            found += [(room, (column, row), block) for block in blocks]
            if self.drawing.is_whole((column, row)):
                codes[row, column] = kinds.setdefault(replace(self._extra(room), blocks=blocks), len(kinds))
        return {"extras": codes, "extra_kinds": tuple(kinds), "blocks": tuple(found)}

    def _extra(self, room: int) -> Extra:
        return self.heights.get(room, PLAIN)

    def _spots(self, feature: PlanFeature) -> Iterator[tuple[tuple[int, Cell], Spot]]:
        """The share of each room and cell in a feature."""
        wanted = feature.wanted
        cells = list(self._cells(feature))
        whole = (
            self.side * cells[0][0],
            self.side * cells[0][1],
            self.side * (cells[-1][0] + 1),
            self.side * (cells[-1][1] + 1),
        )
        bounds = whole if wanted.fills else bounds_of(wanted, self.grid, whole)
        rooms = self._rooms(cells, box(*bounds), fills=wanted.fills)
        levels = {self._extra(room).floor for room in rooms.values()}
        if len(levels) > 1:
            raise InputError(
                f"the floors under it are not level: they lie at {_listed(levels)} mm",
                cure="Write one feature for each room",
            )
        if not wanted.fills:
            self._check_on_floor(wanted, bounds, whole, rooms)
        grid = self._extra(next(iter(rooms.values()))).on(self.grid)
        clear, floors = self._clear(rooms)
        standing = {cell: self._standing(cell, room) for cell, room in rooms.items()}
        ground = FreeFloor(grid, whole, clear, standing, (self.side, self.side), floors)
        rise = self._rise(feature, cells, rooms, bounds)
        for cell, spot in blocks_on(wanted, ground, rise=rise):
            yield (rooms[cell], cell), spot

    def _cells(self, feature: PlanFeature) -> Iterator[Cell]:
        """The cells of a feature's rectangle in reading order."""
        (c0, r0), (c1, r1) = feature.cell, feature.to
        check_cell(feature.cell, self.drawing.rooms)
        last = Said("its last square{}", InFile(f", to = [{c1}, {r1}],"))
        check_cell(feature.to, self.drawing.rooms, name=last)
        if c1 < c0 or r1 < r0:
            raise InputError(
                Said("{} lies north or west of its first one{}", last, InFile(f", [{c0}, {r0}]")),
                cure="Begin with the square in the north-west",
            )
        for row in range(r0 - 1, r1):
            yield from ((column, row) for column in range(c0 - 1, c1))

    def _rooms(self, cells: Sequence[Cell], area: Polygon, *, fills: bool) -> dict[Cell, int]:
        """The room of each cell that a feature may lie on: of several off the grid the one with most of its area.

        Raises:
            InputError: solid ground.
        """
        found: dict[Cell, int] = {}
        for column, row in cells:
            room = int(self.drawing.rooms[row, column])
            if not self.drawing.is_whole((column, row)):
                under = area.intersection(self._box((column, row)))
                shares = {code: float(region.intersection(under).area) for code, region in self.regions.items()}
                most = max(shares, key=lambda code: shares[code])
                room = most if shares[most] > 0 else room
                if under.area == 0:
                    continue
                if not room and fills and any(self.drawing.rooms[r, c] in self.regions for c, r in cells):
                    # Around a room that is no rectangle.
                    continue
            if not room:
                where = Said("{} is solid ground", CellRef(column + 1, row + 1))
                raise InputError(where, cure="Put the feature on the floor of a room")
            found[column, row] = room
        return found

    def _box(self, cell: Cell) -> Polygon:
        """A cell on the plan."""
        x, y = cell[0] * self.side, cell[1] * self.side
        return box(x, y, x + self.side, y + self.side)

    def _check_on_floor(self, wanted: Wanted, bounds: Box, whole: Box, rooms: Mapping[Cell, int]) -> None:
        """Refuse a feature that reaches under the walls of a room off the grid, or beyond them.

        Raises:
            InputError: where it does, and where it would have room.
        """
        for cell, room in rooms.items():
            under = box(*bounds).intersection(self._box(cell))
            if room not in self.regions or under.is_empty:
                continue
            off = under.difference(self.shaped.free(room))
            if off.area > _CRUMB_MM2:
                x, y = (v / self.side for v in off.representative_point().coords[0])
                raise InputError(
                    Said(
                        "this {} reaches under a wall of {}, or off its floor{}",
                        wanted.kind.word,
                        RoomRef(chr(room)),
                        InFile(f", at {show_point(x, y)}"),
                    ),
                    cure=self.shaped.elsewhere(room, bounds, whole, in_one_cell=wanted.kind.one_cell),
                )

    def _carried(self, cell: Cell) -> tuple[bool, bool, bool, bool]:
        """Whether a wall, a doorway or a saddle stands on each side."""
        column, row = cell
        north, east, south, west = (bool(self.stands[line]) for line in self.drawing.lines_at(row, column))
        return north, east, south, west

    def _clear(self, rooms: Mapping[Cell, int]) -> tuple[dict[Cell, Box], dict[Cell, BaseGeometry]]:
        """What the walls of each cell leave free (posts not deducted): west, north, east, south.

        Off the grid the bounds of what they leave, and that itself; nothing of a cell of which a sliver is left.
        """
        wall = self.grid.wall_thickness
        clear: dict[Cell, Box] = {}
        floors: dict[Cell, BaseGeometry] = {}
        for cell, room in rooms.items():
            if room in self.regions:
                free = self.shaped.free(room).intersection(self._box(cell)).intersection(self.regions[room])
                if not free.buffer(-LEAST_MM / 2).is_empty:
                    clear[cell], floors[cell] = free.bounds, free
                continue
            north, east, south, west = (wall * carried for carried in self._carried(cell))
            x, y = cell[0] * self.side, cell[1] * self.side
            clear[cell] = x + west, y + north, x + self.side - east, y + self.side - south
        if not clear:
            raise InputError(
                f"walls leave less than {show_length(LEAST_MM)} of free floor here", cure="Choose another square"
            )
        return clear, floors

    def _standing(self, cell: Cell, room: int) -> list[BaseGeometry]:
        """The strips and posts of a cell; off the grid all that is no free floor, a little around it too."""
        if room in self.regions:
            near = self._box(cell).buffer(2 * LEAST_GAP_MM, join_style="mitre")
            return [near.difference(self.shaped.free(room))]
        posts = [bool(self.posts[cell[1], cell[0]] >> corner & 1) for corner in range(len(CORNERS))]
        standing = strips_and_posts(self._box(cell).bounds, self.grid.wall_thickness, self._carried(cell), posts)
        return [*standing]

    def _rise(
        self, feature: PlanFeature, cells: Sequence[Cell], rooms: Mapping[Cell, int], bounds: Box
    ) -> float | None:
        """How much higher the floor beyond a stair lies, if there is one."""
        side = feature.wanted.values.get("side")
        if side is None:
            return None
        dx, dy = STEPS[SIDES.index(side)]
        cell = cells[-1] if dx > 0 or dy > 0 else cells[0]
        room = rooms.get(cell, next(iter(rooms.values())))
        x, y = (cell[0] + 0.5 + dx) * self.side, (cell[1] + 0.5 + dy) * self.side
        beyond = self.shaped.room_at(x, y)
        if room in self.regions:
            beyond = self.shaped.beyond(room, ((bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2), (dx, dy))
        rise = self._extra(beyond).floor - self._extra(room).floor
        return rise if rise > 0 else None

    def _ways(self) -> Iterator[tuple[str, float, str, list[int]]]:
        """Kind, height, place of every way, and the rooms on its two sides."""
        usual = self.grid.doorway.height
        for way in self.drawing.ways:
            dx, dy = STEPS[SIDES.index(way.side)]
            x, y = (way.cell[0] - 0.5 + dx / 2) * self.side, (way.cell[1] - 0.5 + dy / 2) * self.side
            beside = [self.shaped.room_at(x + s * dx * _BESIDE_MM, y + s * dy * _BESIDE_MM) for s in (-1, 1)]
            yield way.kind, usual if way.height is None else way.height, way.place, beside
        for through in self.drawing.wall_ways:
            yield through.kind, through.opening.height, through.place, [ord(room) for room in through.rooms]

    def _check_ways(self) -> None:
        """Refuse a door between two floors that it can't stand on, or that leaves no way."""
        for kind, height, place, rooms in self._ways():
            if not WAYS[kind].stands or len(rooms) < 2 or not all(rooms):
                continue
            floors = sorted(self._extra(room).floor for room in rooms)
            step = floors[-1] - floors[0]
            if WAYS[kind].loose and step:
                raise InputError(
                    f"a {kind} needs floors of the same height on both sides, and these are {show_length(step)} apart",
                    cure=Said("Use {} or {}", KeyRef("kind", "doorway"), KeyRef("kind", "open")),
                    place=place,
                )
            if step >= height:
                raise InputError(
                    f"one floor is {show_length(step)} higher than the other, but the doorway is only "
                    f"{show_length(height)} high",
                    cure=Said("Make the doorway higher, or use {} and a stair", KeyRef("kind", "open")),
                    place=place,
                )


def _listed(values: Iterable[float]) -> str:
    return " and ".join(map(show_number, sorted(values)))


def _check_heights(heights: RoomHeights) -> None:
    if heights.wall is not None and not 0 < heights.wall <= 1000:
        raise InputError(
            f"walls can't be {show_length(heights.wall)} high",
            cure=Said(
                "Use more than 0 and at most 1000 mm. Where no wall should stand, use {}{}",
                InFile("a [[way]] with "),
                KeyRef("kind", "open"),
            ),
            place=heights.place,
        )
    if not 0 <= heights.floor <= 1000:
        raise InputError(
            f"a floor can't be at {show_length(heights.floor)}",
            cure="Use 0 for the lowest room, and up to 1000 mm for the others",
            place=heights.place,
        )


class ShapedFloor:
    """The rooms of a drawing that have shapes. regions: the floor of each, by code point."""

    def __init__(self, drawing: Drawing) -> None:
        self.drawing, self.side = drawing, drawing.cell_side
        regions = drawing.off_grid.regions if drawing.off_grid is not None else {}
        self.regions = {code: flipped(region) for code, region in regions.items()}
        self.walls = RoomWalls(drawing)
        self._known: dict[int, BaseGeometry] = {}

    def free(self, room: int) -> BaseGeometry:
        """What walls leave of a room with shapes, open lines of its border crossed, on the plan."""
        if room not in self._known:
            self._known[room] = flipped(self.walls.free(room))
        return self._known[room]

    def elsewhere(self, room: int, bounds: Box, whole: Box, *, in_one_cell: bool) -> str:
        """Where on its cells, nearest to where it is, a feature has room; smaller if need be."""
        clear = self.free(room).intersection(self.regions[room]).buffer(-LEAST_GAP_MM)
        shapely.prepare(clear)
        pitch = self.drawing.grid.pitch
        x, y = (bounds[0] + bounds[2]) / 2 - whole[0], (bounds[1] + bounds[3]) / 2 - whole[1]
        step = pitch / _STEPS_PER_SPACE
        xs, ys = (np.arange(round((whole[k + 2] - whole[k]) / step) + 1) * step for k in (0, 1))
        at = np.stack(np.meshgrid(xs, ys), axis=-1).reshape(-1, 2)
        at = at[np.argsort(np.hypot(at[:, 0] - x, at[:, 1] - y), kind="stable")]
        for share in (1.0, 0.8, 0.6, 0.4, 0.2):
            size = np.array([bounds[2] - bounds[0], bounds[3] - bounds[1]]) * share
            size = size if share == 1 else np.floor(size)
            if size.min() < LEAST_MM:
                break
            west, south = at[:, 0] - size[0] / 2, at[:, 1] - size[1] / 2
            boxes = np.stack([west, south, west + size[0], south + size[1]], axis=1) + [*whole[:2]] * 2
            fits = shapely.covers(clear, shapely.box(*boxes.T))
            fits &= (boxes[:, :2] >= whole[:2]).all(axis=1) & (boxes[:, 2:] <= whole[2:]).all(axis=1)
            if in_one_cell:
                first, last = (np.floor(boxes[:, k : k + 2] / self.side + s) for k, s in ((0, 1e-9), (2, -1e-9)))
                fits &= (first == last).all(axis=1)
            if fits.any():
                across, down = (at[int(fits.argmax())] / pitch).tolist()
                width, depth = (show_length(float(v)) for v in size)
                smaller = "" if share == 1 else f' and size = ["{width}", "{depth}"]'
                move = "Move it" if share == 1 else f"Make it {width} x {depth} and move it"
                in_file = InFile(f": at = {show_point(across, down)}{smaller}")
                return Said("{} to where there is room{}", move, in_file)
        return "Choose another square, since this one has no room for it"

    def beyond(self, room: int, start: tuple[float, float], step: tuple[int, int]) -> int:
        """The first other room that is met walking out of a room, from a point in it, within a cell and a half."""
        count = round(1.5 * _STEPS_PER_CELL)
        spots = np.array(start) + np.outer(np.arange(count), step) * self.side / _STEPS_PER_CELL
        rooms = [self.room_at(x, y) for x, y in spots.tolist()]
        return next((other for other in rooms if other not in (0, room)), 0)

    def room_at(self, x: float, y: float) -> int:
        """The room at a point of the plan, 0 for solid ground."""
        spot = Point(x, y)
        for code, region in self.regions.items():
            if region.contains(spot):
                return code
        rows, columns = self.drawing.rooms.shape
        column, row = int(x // self.side), int(y // self.side)
        room = int(self.drawing.rooms[row, column]) if 0 <= column < columns and 0 <= row < rows else 0
        return 0 if room in self.regions else room


def flipped(region: BaseGeometry) -> BaseGeometry:
    """From map coordinates to those of the plan, or back."""
    return shapely.transform(region, lambda points: points * (1.0, -1.0))


def extra_in(drawing: Drawing, room: int, floor: BaseGeometry, middle: tuple[float, float]) -> Extra:
    """What is on a piece of a room's floor, placed from a point, and how high that and its walls are.

    floor, middle: map coordinates.
    """
    side = drawing.cell_side
    blocks = []
    for code, (column, row), block in drawing.blocks:
        if code != room:
            continue
        x, y = (column + 0.5) * side, -(row + 0.5) * side
        here = block.moved(x, y)
        if floor.intersection(box(here.west, here.south, here.east, here.north)).area > _CRUMB_MM2:
            blocks.append(block.moved(x - middle[0], y - middle[1]))
    extra = drawing.heights.get(room, PLAIN)
    wall = None if extra.wall_height == drawing.grid.wall_height else extra.wall_height
    return Extra(in_order(blocks), extra.floor, wall)


@dataclass(frozen=True)
class Levels:
    """How high the floor of every cell lies and its walls stand, mm."""

    floor: npt.NDArray[np.float64]
    wall: npt.NDArray[np.float64]


def levels_of(drawing: Drawing) -> Levels | None:
    """The heights of a drawing's cells; None where all is as the grid has it and nothing is on the floor."""
    if drawing.extras is None:
        return None
    floor = np.array([extra.floor for extra in drawing.extra_kinds])
    height = drawing.grid.wall_height
    wall = np.array([height if extra.wall_height is None else extra.wall_height for extra in drawing.extra_kinds])
    return Levels(floor[drawing.extras], wall[drawing.extras])
