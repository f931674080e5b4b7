"""Exact sight: what must lie on the table at once when only what the party sees is laid.

A tile is in sight of another when a straight line from the centre of one of its spaces to the centre of one of
the other's meets no wall line, not even its end. How that is found on a plan of cells: `views`.

Off the grid the points of a tile are the centres of the lattice's spaces that lie on its room's floor, in the cells
that are mostly its own; where there is none, one point inside of it. The wall lines are the outlines of the rooms as
drawn, arcs as their chords. A way through such a wall frees its own width between two rooms, a way out into solid
ground nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import SNAP_MM, lines_of
from tilegen.plans.drawing import Drawing, beside_lines
from tilegen.plans.kit import Kit
from tilegen.plans.layout import Layout, Place, lay
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.refusals import check_in_room
from tilegen.plans.shapes import cell_box
from tilegen.plans.views import Bools, Ints, View, for_sight, sees_over, spaces_filled, wall_lines, without_low_walls
from tilegen.plans.ways import WAYS

Floats = npt.NDArray[np.float64]
Square = tuple[int, int]
# Lines this near to a wall's end, as a share of their lengths' product, meet it.
_TOUCH = 1e-9


@dataclass(frozen=True)
class InSight:
    """What is in sight at most.

    most: for each type of the kit, the most tiles of it in sight from any one tile; where: the first cell of
    that tile. mean_tiles: tiles in sight of a tile on average. most_tiles, most_where: the position that sees
    most tiles of all types together.
    """

    most: tuple[int, ...]
    where: tuple[Place, ...]
    mean_tiles: float
    most_tiles: int
    most_where: Place

    @property
    def tiles(self) -> int:
        """The smallest kit that can always lay all that is in sight."""
        return sum(self.most)


def in_sight(drawing: Drawing, kit: Kit, *, doors_open: bool = False) -> InSight:
    """The most tiles of each type in sight from any one tile, and where; the first in reading order where equal.

    doors_open: sight goes through the whole line of doorways and saddles, but never into solid ground.
    """
    laid = lay(drawing, kit)
    view = _view(drawing, laid, doors_open=doors_open)
    types, tiles = len(kit.types), len(laid.type_of)
    best = np.full(types, -1, np.int64)
    where = np.zeros(types, np.int64)
    totals = np.zeros(tiles, np.int64)
    for members, counts in view.counted(types):
        totals[members] = counts.sum(axis=1)
        # Members ascend within a chunk, so argmax takes the first of equals there; chunks need the comparison.
        at = counts.argmax(axis=0)
        most, which = counts[at, np.arange(types)], members[at]
        better = (most > best) | ((most == best) & (which < where))
        best[better], where[better] = most[better], which[better]
    place = [(int(c), int(r)) for c, r in laid.first_cells]
    top = int(totals.argmax())
    return InSight(
        tuple(best.tolist()),
        tuple(place[i] for i in where.tolist()),
        float(totals.mean()),
        int(totals[top]),
        place[top],
    )


def visible_from(drawing: Drawing, cell: Place, kit: Kit | None = None, *, doors_open: bool = False) -> Bools:
    """(rows, columns): which cells are in sight from a cell (column, row from 1).

    With a kit: from the tile that lies on the cell, and tiles in sight count whole.

    Raises:
        InputError: the cell is outside the drawing or solid ground.
    """
    check_in_room(cell, drawing.rooms)
    column, row = cell[0] - 1, cell[1] - 1
    laid = _every_cell(drawing) if kit is None else lay(drawing, kit)
    seen = _view(drawing, laid, doors_open=doors_open).seen_from(int(laid.tile_of[row, column]))
    shown: Bools = (laid.tile_of >= 0) & seen[laid.tile_of]
    return shown


def _view(drawing: Drawing, laid: Layout, *, doors_open: bool) -> View | OffGridView:
    if drawing.off_grid is not None:
        return OffGridView(drawing, laid, doors_open=doors_open)
    return View(*for_sight(drawing, laid), doors_open=doors_open)


def _every_cell(drawing: Drawing) -> Layout:
    """Every cell a tile of its own."""
    floor = drawing.rooms != 0
    count = int(floor.sum())
    tile_of = np.where(floor, np.cumsum(floor).reshape(floor.shape) - 1, -1).astype(np.int32)
    row, column = np.nonzero(floor)
    return Layout(
        tile_of,
        np.zeros(count, np.int32),
        np.arange(count, dtype=np.int32),
        np.stack([column + 1, row + 1], axis=1).astype(np.int32),
    )


class OffGridView:
    """The views from the tiles of a plan with rooms off the grid, low walls left out."""

    def __init__(self, drawing: Drawing, laid: Layout, *, doors_open: bool) -> None:
        if drawing.off_grid is None:
            raise ValueError("a plan without rooms off the grid")
        self.off_grid, self.laid = drawing.off_grid, laid
        self.drawing = drawing = without_low_walls(drawing)
        self.group_of = self._groups(doors_open=doors_open)
        self.points, self.owner, self.group = self._points(laid.tile_of, laid.first_cells)
        walls = [
            *self._grid_walls(wall_lines(drawing, doors_open=doors_open), doors_open=doors_open),
            *self._outline_walls(doors_open=doors_open),
            *self._pillars(),
        ]
        self.walls = np.array([wall for wall, _ in walls]).reshape(-1, 2, 2)
        self.wall_group = np.array([group for _, group in walls], np.int64)

    def seen_from(self, tile: int) -> Bools:
        """(tiles,): which are in sight of one."""
        seen = np.zeros(len(self.laid.type_of), bool)
        seen[tile] = True
        for at in np.flatnonzero(self.owner == tile).tolist():
            # Rooms that no gap joins see nothing of each other.
            here = np.flatnonzero(self.group == self.group[at])
            walls = self.walls[self.wall_group == self.group[at]]
            seen[self.owner[here[self._free(self.points[at], self.points[here], walls)]]] = True
        return seen

    def counted(self, types: int) -> Iterator[tuple[Ints, Ints]]:
        """(tile), (1, types) how many of each type are in sight of it, tile by tile."""
        for tile in range(len(self.laid.type_of)):
            seen = self.laid.type_of[self.seen_from(tile)]
            yield np.array([tile], np.int64), np.bincount(seen, minlength=types).astype(np.int64)[None]

    @staticmethod
    def _free(eye: Floats, points: Floats, walls: Floats) -> Bools:
        """(points,): to which points a straight line from here meets no wall."""
        a, b = walls[:, 0] - eye, walls[:, 1] - eye
        to = points - eye
        # On which side of the line of sight each end of each wall lies, and of each wall the two ends of that line.
        first, second = to[:, :1] * a[:, 1] - to[:, 1:] * a[:, 0], to[:, :1] * b[:, 1] - to[:, 1:] * b[:, 0]
        along = b - a
        here = along[:, 0] * -a[:, 1] - along[:, 1] * -a[:, 0]
        there = along[:, 0] * (to[:, 1:] - a[:, 1]) - along[:, 1] * (to[:, :1] - a[:, 0])
        slack = _TOUCH * (1 + np.abs(to).sum(axis=1)[:, None] * np.abs(along).sum(axis=1))
        across = (np.minimum(first, second) <= slack) & (np.maximum(first, second) >= -slack)
        between = (np.minimum(here, there) <= slack) & (np.maximum(here, there) >= -slack)
        free: Bools = ~(across & between).any(axis=1)
        return free

    def _groups(self, *, doors_open: bool) -> dict[int, int]:
        """Rooms by code point, in groups that gaps in their walls join."""
        group = {int(code): int(code) for code in np.unique(self.drawing.rooms)} | {c: c for c in self.off_grid.regions}
        pairs = [(a, b) for a, b, *_ in self._open_lines(doors_open=doors_open)]
        pairs += [(one, other) for one, other, _ in self._low_outlines()]
        for _, rooms in self._open_ways(doors_open=doors_open):
            pairs += [(rooms[0], other) for other in rooms[1:]]
        for a, b in pairs:
            old, new = group[b], group[a]
            group = {code: new if number == old else number for code, number in group.items()}
        return group

    def _points(self, tile_of: npt.NDArray[np.int32], firsts: npt.NDArray[np.int32]) -> tuple[Floats, Ints, Ints]:
        side, k, pitch = self.drawing.cell_side, self.drawing.cell_spaces, self.drawing.grid.pitch
        points: list[tuple[float, float]] = []
        owner: list[int] = []
        group: list[int] = []
        steps = [(n + 0.5) * pitch for n in range(k)]
        for row, column in np.argwhere(tile_of >= 0).tolist():
            spots = [(column * side + x, -row * side - y) for y in steps for x in steps]
            if not self.off_grid.whole[row, column]:
                region = self.off_grid.regions[int(self.drawing.rooms[row, column])]
                spots = [spot for spot in spots if region.contains(Point(spot))]
            points += spots
            owner += [int(tile_of[row, column])] * len(spots)
            group += [self.group_of[int(self.drawing.rooms[row, column])]] * len(spots)
        for tile in sorted(set(range(len(self.laid.type_of))) - set(owner)):
            column, row = int(firsts[tile, 0]) - 1, int(firsts[tile, 1]) - 1
            points.append(self._inside(column, row))
            owner.append(tile)
            group.append(self.group_of[int(self.drawing.rooms[row, column])])
        return np.array(points), np.array(owner, np.int64), np.array(group, np.int64)

    def _inside(self, column: int, row: int) -> tuple[float, float]:
        cell = cell_box(column, row, self.drawing.cell_side)
        region: BaseGeometry = self.off_grid.regions.get(int(self.drawing.rooms[row, column]), cell)
        point = region.intersection(cell).representative_point()
        return float(point.x), float(point.y)

    def _grid_walls(self, lines: tuple[Bools, Bools], *, doors_open: bool) -> Iterator[tuple[Floats, int]]:
        """The lines between cells, where one of the two is whole or the room is one; outlines stand for the others."""
        holes = {
            code: shapely.union_all(list(self._way_gaps(code, doors_open=doors_open)))
            for code in {ord(room) for way in self.drawing.wall_ways for room in way.rooms}
        }
        side = self.drawing.cell_side
        whole = beside_lines(self.off_grid.whole & (self.drawing.rooms != 0))
        rooms = beside_lines(self.drawing.rooms)
        for upright, stops in enumerate(lines):
            near, far = rooms[upright]
            mixed = self.off_grid.mixed_down if upright else self.off_grid.mixed_across
            within = (near == far) & (near != 0)
            real = stops & (np.logical_or(*whole[upright]) | within) & ~(mixed & (near == far))
            for row, column in np.argwhere(real).tolist():
                end = (column, row + 1) if upright else (column + 1, row)
                wall = np.array([(column, row), end]) * (side, -side)
                beside = {int(near[row, column]), int(far[row, column])} - {0}
                for left in _less(wall, [holes[code] for code in sorted(beside) if code in holes]):
                    yield from ((left, group) for group in sorted({self.group_of[code] for code in beside}))

    def _outline_walls(self, *, doors_open: bool) -> Iterator[tuple[Floats, int]]:
        for code, region in self.off_grid.regions.items():
            outline: BaseGeometry = region.boundary
            for gap in self._gaps(code, doors_open=doors_open):
                outline = outline.difference(gap)
            for line in lines_of(outline):
                points = shapely.get_coordinates(line)
                for wall in np.stack([points[:-1], points[1:]], axis=1):
                    yield wall, self.group_of[code]

    def _pillars(self) -> Iterator[tuple[Floats, int]]:
        """The sides of the spaces that a pillar fills."""
        pitch = self.drawing.grid.pitch
        for room, row, column in spaces_filled(self.drawing):
            corners = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)]) + np.array((column, row))
            for side in pairwise(corners * (pitch, -pitch)):
                yield np.array(side), self.group_of[room]

    def _gaps(self, code: int, *, doors_open: bool) -> Iterator[BaseGeometry]:
        """What of a room's outline lets sight through: open lines to other rooms, and ways in outlines."""
        side = self.drawing.cell_side
        for one, other, start, end in self._open_lines(doors_open=doors_open):
            if code in (one, other):
                yield LineString(np.array([start, end]) * (side, -side)).buffer(SNAP_MM, cap_style="flat")
        for one, other, shared in self._low_outlines():
            if code in (one, other):
                yield shared
        yield from self._way_gaps(code, doors_open=doors_open)

    def _way_gaps(self, code: int, *, doors_open: bool) -> Iterator[BaseGeometry]:
        """What ways at a point free of a room's walls."""
        for way, rooms in self._open_ways(doors_open=doors_open):
            if code in rooms and len(rooms) > 1:
                yield from (Point(spot).buffer(way.opening.width / 2) for spot in way.spots_in(chr(code)))

    def _open_lines(self, *, doors_open: bool) -> Iterator[tuple[int, int, Square, Square]]:
        """The lines between two rooms that let sight through: the rooms, and the line's ends as column and row."""
        d = self.drawing
        open_kinds = d.seen_past(doors_open=doors_open)
        for upright, (codes, (here, there)) in enumerate(zip((d.across, d.down), beside_lines(d.rooms), strict=True)):
            free = open_kinds[codes] & (here != 0) & (there != 0) & (here != there)
            for row, column in np.argwhere(free).tolist():
                start, end = (column, row), (column, row + 1) if upright else (column + 1, row)
                one, other = int(here[row, column]), int(there[row, column])
                if all(self.off_grid.ends_at(code, start, upright=bool(upright)) for code in (one, other)):
                    yield one, other, start, end

    def _low_outlines(self) -> Iterator[tuple[int, int, BaseGeometry]]:
        """Two rooms with shapes and what of the low walls between them lies on no line between cells."""
        side = self.drawing.cell_side
        for (one, here), (other, there) in combinations(self.off_grid.regions.items(), 2):
            if not sees_over(self.drawing, one, other) or here.distance(there) > SNAP_MM:
                continue
            shared = here.boundary.intersection(there.boundary.buffer(SNAP_MM))
            lines = lines_of(shapely.line_merge(shared), 1.0)
            pairs = [pair for line in lines for pair in pairwise(line.coords)]
            free = [LineString(pair) for pair in pairs if not any(_on_a_line(pair, axis, side) for axis in (0, 1))]
            if free:
                yield one, other, shapely.union_all(free).buffer(SNAP_MM)

    def _open_ways(self, *, doors_open: bool) -> Iterator[tuple[WallWay, list[int]]]:
        """The ways in outlines that let sight through, with the rooms whose outline they are in."""
        for way in self.drawing.wall_ways:
            if WAYS[way.kind].seen_past(doors_open=doors_open):
                yield way, [ord(room) for room in way.rooms]


def _on_a_line(pair: tuple[tuple[float, ...], ...], axis: int, side: float) -> bool:
    """Whether a stretch of outline lies on a line between cells."""
    at = pair[0][axis] / side
    return abs(pair[0][axis] - pair[1][axis]) < SNAP_MM and abs(at - round(at)) * side < SNAP_MM


def _less(wall: Floats, holes: list[BaseGeometry]) -> Iterator[Floats]:
    """What gaps leave of one wall line."""
    if not holes or all(hole.is_empty for hole in holes):
        yield wall
        return
    left = LineString(wall).difference(shapely.union_all(holes))
    yield from (shapely.get_coordinates(line) for line in lines_of(left))
