"""A plan's floor for figures, on the raster of its spaces: what is floor, what walls take of it, how high it lies.

Off the grid a space counts as floor where all of it, to its borders, is floor of one room; a block that touches such a
space takes the largest disc that fits inside it and clear of the walls as drawn, arcs as their chords.

Where floors have several levels, a figure stands where its base lies flat, on one level and clear of what stands. The
level of a place is its room's floor, raised by a dais or by a stair's step. A pillar takes its floor (what is round the
square around it), a pit can't be stood on. So a figure stands on a stair only where the treads are as deep as its base,
and never half on a dais. Walking is another matter: stairs, daises and steps between floors stop nobody, what can't be
stood on does.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from tilegen.fit.discs import Floats, largest_disc_in, largest_free, taken_by
from tilegen.geometry import EQUAL_MM
from tilegen.plans.drawing import Drawing, borders_of, ends_beside
from tilegen.plans.features import Levels, levels_of
from tilegen.plans.loose import standing_posts
from tilegen.plans.off_grid_tiles import cut_pieces
from tilegen.plans.ways import WAYS
from tilegen.tiles.blocks import PLAIN
from tilegen.tiles.features import FEATURES
from tilegen.tiles.leaves.kind import clear_width
from tilegen.tiles.openings import shrunk

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
Bytes = npt.NDArray[np.uint8]
Codes = npt.NDArray[np.int16]
Rectangle = tuple[float, float, float, float]
# (west, north, east, south, level or NaN where nobody stands), on the plan.
Patches = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Spaces:
    """The spaces of a plan, rows to the south, columns to the east.

    floor: (rows, columns). across: (rows + 1, columns) kind of the line above each row's spaces, down:
    (rows, columns + 1) kind of the line left of each column's; inside a cell nothing stands. shut_across,
    shut_down: where a wall line runs: a wall, a doorway, a saddle, or the border with solid ground, whatever
    stands there. strips: bit k where a wall's thickness is taken off along side k (north, east, south, west);
    posts: bit k where a wall-thick square is taken out of corner k (north-east, clockwise). off_grid: the
    floor off the grid, if there is any: its spaces have neither strips nor posts.
    """

    drawing: Drawing
    floor: Bools
    across: Codes
    down: Codes
    shut_across: Bools
    shut_down: Bools
    strips: Bytes
    posts: Bytes
    off_grid: OffGridFloor | None

    @cached_property
    def widths(self) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """How wide a base goes through each line of the drawing; see `way_widths`."""
        return way_widths(self.drawing)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, columns = self.floor.shape
        return rows, columns


def way_widths(drawing: Drawing) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """How wide a base goes through each line (across, down), mm: any where nothing stands, none through a wall.

    A doorway is as wide as the narrower of its openings in the two cells beside it; a hinged leaf stands in its way.
    """
    by_kind = np.array(
        [clear_width(k.opening, drawing.grid) if k.opening and k.facts.walked else 0.0 for k in drawing.kinds]
    )
    by_kind[~drawing.stands] = np.inf
    doorway = np.array(
        [kind.facts.carried and kind.opening is not None and kind.facts.walked for kind in drawing.kinds]
    )
    found = []
    for array, lines in (("across", drawing.across), ("down", drawing.down)):
        widths = by_kind[lines]
        for row, column in np.argwhere(doorway[lines]).tolist():
            opening = drawing.kinds[lines[row, column]].opening
            if opening is not None:
                fitted = (
                    clear_width(shrunk(opening, drawing.cell_side, drawing.grid, ends), drawing.grid)
                    for _, ends in ends_beside(drawing, (array, row, column))
                )
                widths[row, column] = min(fitted, default=0.0)
        found.append(widths)
    return found[0], found[1]


def spaces_of(drawing: Drawing) -> Spaces:
    """The spaces of a plan. A doorway and a saddle piece take a wall's thickness on either side, like a wall."""
    k = drawing.cell_spaces
    rows, columns = (n * k for n in drawing.rooms.shape)
    floor = (drawing.rooms != 0).repeat(k, axis=0).repeat(k, axis=1)
    off_grid = off_grid_floor(drawing)
    if off_grid is not None:
        floor &= off_grid.whole
    across, down = np.zeros((rows + 1, columns), np.int16), np.zeros((rows, columns + 1), np.int16)
    across[::k] = drawing.across.repeat(k, axis=1)
    down[:, ::k] = drawing.down.repeat(k, axis=0)
    stands = drawing.stands
    above, beside = stands[across], stands[down]
    edges = borders_of(floor)
    strips = np.zeros((rows, columns), np.uint8)
    for side, carried in enumerate((above[:-1], beside[:, 1:], above[1:], beside[:, :-1])):
        strips |= (carried & floor).astype(np.uint8) << side
    posts = _posts(drawing, k)
    if off_grid is not None:
        strips[off_grid.spaces], posts[off_grid.spaces] = 0, 0
    return Spaces(
        drawing,
        floor,
        across,
        down,
        above | edges[0],
        beside | edges[1],
        strips,
        posts,
        off_grid,
    )


def _posts(drawing: Drawing, k: int) -> Bytes:
    """The posts of every cell, in the space at that corner of the cell."""
    cells = standing_posts(drawing)
    posts = np.zeros((cells.shape[0] * k, cells.shape[1] * k), np.uint8)
    last = k - 1
    for corner, (row, column) in enumerate(((0, last), (last, last), (last, 0), (0, 0))):
        posts[row::k, column::k] |= cells & np.uint8(1 << corner)
    return posts


def blocks_of(spaces: Spaces, across: int) -> Bools:
    """(rows - n + 1, columns - n + 1): whether n x n spaces from there are all floor with no wall line inside.

    Empty where the plan is smaller than the block.
    """
    rows, columns = spaces.shape
    height, width = max(0, rows - across + 1), max(0, columns - across + 1)
    if not height or not width:
        return np.zeros((height, width), bool)
    whole: Bools = box_sums(~spaces.floor, across, across) == 0
    if across > 1:
        whole &= box_sums(spaces.shut_down[:, 1:-1], across, across - 1) == 0
        whole &= box_sums(spaces.shut_across[1:-1], across - 1, across) == 0
    return whole


def spaces_covered(blocks: Bools, across: int, shape: tuple[int, int]) -> Bools:
    """(rows, columns) of the plan: which spaces lie in any of the blocks of `across` spaces each way."""
    last = across - 1
    padded = np.zeros((shape[0] + last, shape[1] + last), bool)
    padded[last : last + blocks.shape[0], last : last + blocks.shape[1]] = blocks
    covered: Bools = box_sums(padded, across, across) > 0
    return covered


def box_sums(values: Bools, height: int, width: int) -> npt.NDArray[np.int32]:
    """How many are true in every height x width box, by its first row and column."""
    total = np.zeros((values.shape[0] + 1, values.shape[1] + 1), np.int32)
    np.cumsum(values, axis=0, out=total[1:, 1:])
    np.cumsum(total[1:, 1:], axis=1, out=total[1:, 1:])
    return total[height:, width:] - total[:-height, width:] - total[height:, :-width] + total[:-height, :-width]


@dataclass(frozen=True)
class OutlineWay:
    """A way through an outline: its middle in map coordinates, its width in mm, the rooms it leads into by code."""

    spot: tuple[float, float]
    width: float
    rooms: tuple[int, ...]


@dataclass(frozen=True)
class OffGridFloor:
    """Spaces off the grid: (rows, columns) of the plan's spaces.

    whole: spaces that are floor, plain ones too. spaces: those of cells off the grid. free: each room's floor less its
    walls, by code point, in map coordinates (mm, y to the north). walked: the same less what stops figures. rooms: code
    point of each space's room. wall: its thickness, mm. doors: ways through outlines.
    """

    whole: Bools
    spaces: Bools
    rooms: npt.NDArray[np.uint32]
    free: Mapping[int, BaseGeometry]
    walked: Mapping[int, BaseGeometry]
    pitch: float
    wall: float
    doors: tuple[OutlineWay, ...]
    known: dict[tuple[int, int, int], float] = field(default_factory=dict)

    def touches(self, rows: Ints, columns: Ints, across: int) -> Bools:
        """Which blocks of `across` spaces each way have a space off the grid."""
        found: Bools = np.zeros(len(rows), bool)
        for r in range(across):
            for c in range(across):
                found |= self.spaces[rows + r, columns + c]
        return found

    def room_left(self, row: int, column: int, across: int) -> BaseGeometry:
        """What walls leave of a block, in map coordinates."""
        p = self.pitch
        block = box(column * p, -(row + across) * p, (column + across) * p, -row * p)
        free = self.free.get(int(self.rooms[row, column]), block)
        return block.intersection(free)

    def largest_disc(self, row: int, column: int, across: int) -> float:
        """The diameter of the largest disc in a block, mm."""
        key = row, column, across
        if key not in self.known:
            self.known[key] = largest_disc_in(self.room_left(row, column, across))
        return self.known[key]

    def place_of(self, row: int, column: int, across: int, base: float) -> tuple[float, float]:
        """Where a base stands in a block, as near its middle as its walls let it, in map coordinates."""
        half = across * self.pitch / 2
        middle = shapely.Point(column * self.pitch + half, -row * self.pitch - half)
        free = self.room_left(row, column, across)
        spots = free.buffer(-base / 2 + EQUAL_MM)
        if spots.is_empty:
            return float(middle.x), float(middle.y)
        x, y = shapely.shortest_line(spots, middle).coords[0]
        return float(x), float(y)

    def links(self, labels: Ints, base: float, across: int) -> tuple[list[tuple[int, int]], list[int]]:
        """Labels of standing positions that a base joins off the lattice: pairs, and those it comes in to from outside.

        Within a room a base goes wherever a disc of its size does, off the lattice too; through a way in an outline if
        it is no wider, lifted over the wall by hand.
        """
        pairs: list[tuple[int, int]] = []
        entries: list[int] = []
        parts = {code: self._parts(code, labels, base, across) for code in self.free}
        for found in parts.values():
            for _, members in found:
                pairs += [(members[0], other) for other in members[1:]]
        for door in self.doors:
            if door.width + EQUAL_MM < base:
                continue
            near = [self._at_door(door, parts.get(code, []), base) for code in door.rooms]
            beside = [label for side in near for label in side]
            pairs += [(beside[0], other) for other in beside[1:]]
            entries += beside if len(door.rooms) == 1 else []
        return pairs, entries

    def _parts(self, code: int, labels: Ints, base: float, across: int) -> list[tuple[BaseGeometry, list[int]]]:
        """Where a disc's centre may be in a room, part by part, with the labels of the positions in each."""
        rows, columns = np.nonzero((labels > 0) & (self.rooms[: labels.shape[0], : labels.shape[1]] == code))
        p, half = self.pitch, across * self.pitch / 2
        middles = shapely.points((columns * p + half), -(rows * p + half))
        found = []
        centres = self.walked[code].buffer(-base / 2 + EQUAL_MM)
        for part in shapely.get_parts(centres).tolist():
            reach = max(half - base / 2, 0.0) + EQUAL_MM
            near = shapely.distance(middles, part) <= reach * np.sqrt(2)
            members = np.unique(labels[rows[near], columns[near]]).tolist()
            if members:
                found.append((part, [int(label) for label in members]))
        return found

    def _at_door(self, door: OutlineWay, parts: list[tuple[BaseGeometry, list[int]]], base: float) -> list[int]:
        """The labels of the part of a room that a door opens into."""
        spot = shapely.Point(door.spot)
        # The wall of the room on the other side may stand a wall's thickness behind this one's line.
        reach = 2 * self.wall + base
        return [label for part, members in parts if part.distance(spot) <= reach for label in members]


def off_grid_floor(drawing: Drawing) -> OffGridFloor | None:
    """The floor off the grid of a drawing, None if it has none."""
    if drawing.off_grid is None:
        return None
    cut = cut_pieces(drawing, drawing.off_grid, (0, 0), 1)
    k, pitch, wall = drawing.cell_spaces, drawing.grid.pitch, drawing.grid.wall_thickness
    whole = drawing.off_grid.whole.repeat(k, axis=0).repeat(k, axis=1)
    rooms = drawing.rooms.repeat(k, axis=0).repeat(k, axis=1)
    for row, column in np.argwhere((rooms != 0) & ~whole).tolist():
        space = box(column * pitch, -(row + 1) * pitch, (column + 1) * pitch, -row * pitch)
        # Regions lie on a grid of their own: what only they round off is floor.
        for code, region in drawing.off_grid.regions.items():
            if space.difference(region).area < pitch * 4 * EQUAL_MM:
                whole[row, column], rooms[row, column] = True, code
    free = {room: cut.walls.free(room) for room in sorted({piece.room for piece in cut.pieces})}
    walked = {code: floor.difference(_not_walked(drawing, code)) for code, floor in free.items()}
    spaces = cut.cells.repeat(k, axis=0).repeat(k, axis=1)
    doors = tuple(
        OutlineWay(way.spot, way.opening.width, tuple(map(ord, way.rooms)))
        for way in drawing.wall_ways
        if way.spot is not None and WAYS[way.kind].walked
    )
    return OffGridFloor(whole, spaces, rooms, free, walked, pitch, wall, doors)


def _not_walked(drawing: Drawing, room: int) -> BaseGeometry:
    """The features of a room that stop figures, a round one with the square around it."""
    side = drawing.cell_side
    found = []
    for code, (column, row), block in drawing.blocks:
        if code == room and not FEATURES[block.kind].walked:
            here = block.moved((column + 0.5) * side, -(row + 0.5) * side)
            found.append(box(here.west, here.south, here.east, here.north))
    return shapely.union_all(found)


class LevelFloor:
    """The levels of a plan's floor; asked block by block."""

    def __init__(self, spaces: Spaces, levels: Levels) -> None:
        self.spaces = spaces
        drawing = spaces.drawing
        k, self.pitch, self.wall = drawing.cell_spaces, drawing.grid.pitch, drawing.grid.wall_thickness
        self.level = levels.floor.repeat(k, axis=0).repeat(k, axis=1)
        if spaces.off_grid is not None:
            for room, extra in drawing.heights.items():
                self.level[spaces.off_grid.rooms == room] = extra.floor
        self.patches, self.rooms = _patches(drawing)
        self.known: dict[tuple[bytes, ...], tuple[float, float]] = {}

    def special(self, blocks: Bools, across: int) -> npt.NDArray[np.int64]:
        """(n, 2) row and column of the blocks that a patch or a step between floors lies in."""
        rows, columns = self.spaces.shape
        special = np.zeros((rows, columns), bool)
        for west, north, east, south, _ in self.patches:
            first = int((north + EQUAL_MM) // self.pitch), int((west + EQUAL_MM) // self.pitch)
            last = int((south - EQUAL_MM) // self.pitch), int((east - EQUAL_MM) // self.pitch)
            special[first[0] : last[0] + 1, first[1] : last[1] + 1] = True
        found = np.zeros(blocks.shape, bool)
        height, width = blocks.shape
        for r in range(across):
            for c in range(across):
                here = np.s_[r : r + height, c : c + width]
                found |= special[here] | (self.level[here] != self.level[:height, :width])
        return np.argwhere(found & blocks).astype(np.int64)

    def discs(self, row: int, column: int, across: int) -> tuple[float, float]:
        """The largest disc of a block that lies flat, and the largest that gets past what can't be walked on; mm."""
        strips, posts, level, patches = self._block(row, column, across)
        if self._is_off_grid(row, column, across):
            return self._discs_off_grid(row, column, level, patches)
        key = (strips.tobytes(), posts.tobytes(), level.tobytes(), patches.tobytes())
        if key not in self.known:
            taken = taken_by(strips, posts, self.pitch, self.wall)
            side = across * self.pitch
            found, lost = self._parted(level, patches, side)
            flat = [_largest(taken, _others(found, lost, height), side) for height in found]
            self.known[key] = max(flat, default=0.0), _largest(taken, lost, side) if found else 0.0
        return self.known[key]

    def flat_floor(self, row: int, column: int, across: int) -> BaseGeometry:
        """The part of a block on which the largest disc lies flat, mm from its north-west corner, y to the south."""
        strips, posts, level, patches = self._block(row, column, across)
        taken = taken_by(strips, posts, self.pitch, self.wall)
        side = across * self.pitch
        found, lost = self._parted(level, patches, side)
        if self._is_off_grid(row, column, across):
            parts = [self._left_off_grid(row, column, across, _others(found, lost, height)) for height in found]
            return max(parts, key=largest_disc_in)
        best = max(found, key=lambda height: _largest(taken, _others(found, lost, height), side))
        boxes = shapely.box(*np.concatenate([taken, np.array(_others(found, lost, best)).reshape(-1, 4)]).T)
        return shapely.box(0.0, 0.0, side, side).difference(shapely.union_all(boxes))

    def _is_off_grid(self, row: int, column: int, across: int) -> bool:
        """Whether a block has a space off the grid."""
        off_grid = self.spaces.off_grid
        return off_grid is not None and bool(off_grid.spaces[row : row + across, column : column + across].any())

    def _discs_off_grid(self, row: int, column: int, level: Floats, patches: Patches) -> tuple[float, float]:
        """The same as `discs` of a block with spaces off the grid."""
        across = len(level)
        found, lost = self._parted(level, patches, across * self.pitch)
        flat = (self._left_off_grid(row, column, across, _others(found, lost, height)) for height in found)
        past = largest_disc_in(self._left_off_grid(row, column, across, lost)) if found else 0.0
        return max(map(largest_disc_in, flat), default=0.0), past

    def _left_off_grid(self, row: int, column: int, across: int, boxes: list[Rectangle]) -> BaseGeometry:
        """What walls leave of a block off the grid, less some boxes; from its north-west corner, y to the south."""
        if self.spaces.off_grid is None:
            raise ValueError("a plan without floor off the grid")
        west, north = column * self.pitch, row * self.pitch
        left = shapely.transform(
            self.spaces.off_grid.room_left(row, column, across), lambda p: p * (1.0, -1.0) - (west, north)
        )
        return left.difference(shapely.union_all([shapely.box(*edges) for edges in boxes]))

    def _block(self, row: int, column: int, across: int) -> tuple[Bytes, Bytes, Floats, Patches]:
        """Strips, posts and levels of a block's spaces, and the patches in it from its north-west corner."""
        here = np.s_[row : row + across, column : column + across]
        side, corner = across * self.pitch, np.array([column * self.pitch, row * self.pitch] * 2)
        near = self.patches[
            (self.patches[:, 0] < corner[0] + side - EQUAL_MM)
            & (self.patches[:, 2] > corner[0] + EQUAL_MM)
            & (self.patches[:, 1] < corner[1] + side - EQUAL_MM)
            & (self.patches[:, 3] > corner[1] + EQUAL_MM)
            # Off the grid a cell may have features of two rooms.
            & (self.spaces.off_grid is None or np.isin(self.rooms, self.spaces.off_grid.rooms[here]))
        ]
        local = np.column_stack([np.clip(np.round(near[:, :4] - corner, 6), 0.0, side), near[:, 4]])
        return self.spaces.strips[here], self.spaces.posts[here], self.level[here], local

    def _parted(
        self, level: Floats, patches: Patches, side: float
    ) -> tuple[dict[float, list[Rectangle]], list[Rectangle]]:
        """The block parted along all edges of patches and spaces: rectangles by level, and where nobody stands."""
        lines = [n * self.pitch for n in range(1, len(level))] if (level != level[0, 0]).any() else []
        xs = sorted({0.0, side, *lines, *patches[:, 0].tolist(), *patches[:, 2].tolist()})
        ys = sorted({0.0, side, *lines, *patches[:, 1].tolist(), *patches[:, 3].tolist()})
        found: dict[float, list[Rectangle]] = {}
        lost: list[Rectangle] = []
        for north, south in pairwise(ys):
            for west, east in pairwise(xs):
                height = self._height((west + east) / 2, (north + south) / 2, level, patches)
                if np.isnan(height):
                    lost.append((west, north, east, south))
                else:
                    found.setdefault(height, []).append((west, north, east, south))
        return found, lost

    def _height(self, x: float, y: float, level: Floats, patches: Patches) -> float:
        on = patches[(patches[:, 0] < x) & (x < patches[:, 2]) & (patches[:, 1] < y) & (y < patches[:, 3])]
        if len(on):
            return float(on[:, 4].max())
        return float(level[int(y // self.pitch), int(x // self.pitch)])


def level_floor(spaces: Spaces) -> LevelFloor | None:
    """The levels of a plan's floor; None where it is all one floor with nothing on it."""
    levels = levels_of(spaces.drawing)
    return None if levels is None else LevelFloor(spaces, levels)


def _others(found: dict[float, list[Rectangle]], lost: list[Rectangle], height: float) -> list[Rectangle]:
    """What is not on a level."""
    return [*lost, *(box for other, boxes in found.items() if other != height for box in boxes)]


def _largest(taken: Floats, more: list[Rectangle], side: float) -> float:
    boxes = np.array(_runs(more), np.float64).reshape(-1, 4)
    return max(0.0, largest_free(np.concatenate([taken, boxes]), side))


def _runs(boxes: list[Rectangle]) -> list[Rectangle]:
    """Boxes of a row that share a side made one: fewer corners to try."""
    runs: list[Rectangle] = []
    for west, north, east, south in sorted(boxes, key=lambda b: (b[1], b[0])):
        if runs and (runs[-1][1], runs[-1][2], runs[-1][3]) == (north, west, south):
            runs[-1] = (runs[-1][0], north, east, south)
        else:
            runs.append((west, north, east, south))
    return runs


def _patches(drawing: Drawing) -> tuple[Patches, npt.NDArray[np.int64]]:
    """Every block on the plan with the level that it makes, and its room."""
    side, found = drawing.cell_side, []
    for room, (column, row), block in drawing.blocks:
        x, y = (column + 0.5) * side, (row + 0.5) * side
        floor = drawing.heights.get(room, PLAIN).floor
        top = floor + block.top if FEATURES[block.kind].walked else float("nan")
        found.append((x + block.west, y - block.north, x + block.east, y - block.south, top))
    rooms = np.array([room for room, *_ in drawing.blocks], np.int64)
    return np.array(found, np.float64).reshape(-1, 5), rooms
