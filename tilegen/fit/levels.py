"""Where floors have several levels: a figure stands where its base lies flat, on one level and clear of what stands.

The level of a place is its room's floor, raised by a dais or by a stair's step. A pillar takes its floor (what
is round the square around it), a pit can't be stood on. So a figure stands on a stair only where the treads are as deep
as its base, and never half on a dais. Walking is another matter: stairs, daises and steps between floors stop nobody,
what can't be stood on does.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.fit.discs import Floats, largest_free, taken_by
from tilegen.fit.oddfloor import largest_disc_of
from tilegen.fit.spaces import Bools, Bytes, Spaces
from tilegen.geometry import EQUAL_MM
from tilegen.plans.drawing import Drawing
from tilegen.plans.features import Levels, levels_of
from tilegen.tiles.blocks import PLAIN
from tilegen.tiles.features import FEATURES

Rectangle = tuple[float, float, float, float]
# (west, north, east, south, level or NaN where nobody stands), on the plan.
Patches = npt.NDArray[np.float64]


class LevelFloor:
    """The levels of a plan's floor; asked block by block."""

    def __init__(self, spaces: Spaces, levels: Levels) -> None:
        self.spaces = spaces
        drawing = spaces.drawing
        k, self.pitch, self.wall = drawing.cell_spaces, drawing.grid.pitch, drawing.grid.wall_thickness
        self.level = levels.floor.repeat(k, axis=0).repeat(k, axis=1)
        if spaces.odd is not None:
            for room, extra in drawing.heights.items():
                self.level[spaces.odd.rooms == room] = extra.floor
        self.patches, self.rooms = _patches(drawing)
        self.known: dict[tuple[bytes, ...], tuple[float, float]] = {}

    def special(self, blocks: Bools, across: int) -> npt.NDArray[np.int64]:
        """(n, 2) row and column of the blocks that a patch or a step between floors lies in."""
        rows, columns = self.spaces.shape
        odd = np.zeros((rows, columns), bool)
        for west, north, east, south, _ in self.patches:
            first = int((north + EQUAL_MM) // self.pitch), int((west + EQUAL_MM) // self.pitch)
            last = int((south - EQUAL_MM) // self.pitch), int((east - EQUAL_MM) // self.pitch)
            odd[first[0] : last[0] + 1, first[1] : last[1] + 1] = True
        found = np.zeros(blocks.shape, bool)
        height, width = blocks.shape
        for r in range(across):
            for c in range(across):
                here = np.s_[r : r + height, c : c + width]
                found |= odd[here] | (self.level[here] != self.level[:height, :width])
        return np.argwhere(found & blocks).astype(np.int64)

    def discs(self, row: int, column: int, across: int) -> tuple[float, float]:
        """The largest disc of a block that lies flat, and the largest that gets past what can't be walked on; mm."""
        strips, posts, level, patches = self._block(row, column, across)
        if self._is_odd(row, column, across):
            return self._odd_discs(row, column, level, patches)
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
        if self._is_odd(row, column, across):
            parts = [self._odd_left(row, column, across, _others(found, lost, height)) for height in found]
            return max(parts, key=largest_disc_of)
        best = max(found, key=lambda height: _largest(taken, _others(found, lost, height), side))
        boxes = shapely.box(*np.concatenate([taken, np.array(_others(found, lost, best)).reshape(-1, 4)]).T)
        return shapely.box(0.0, 0.0, side, side).difference(shapely.union_all(boxes))

    def _is_odd(self, row: int, column: int, across: int) -> bool:
        """Whether a block has a space off the grid."""
        odd = self.spaces.odd
        return odd is not None and bool(odd.spaces[row : row + across, column : column + across].any())

    def _odd_discs(self, row: int, column: int, level: Floats, patches: Patches) -> tuple[float, float]:
        """The same as `discs` of a block with spaces off the grid."""
        across = len(level)
        found, lost = self._parted(level, patches, across * self.pitch)
        flat = (self._odd_left(row, column, across, _others(found, lost, height)) for height in found)
        past = largest_disc_of(self._odd_left(row, column, across, lost)) if found else 0.0
        return max(map(largest_disc_of, flat), default=0.0), past

    def _odd_left(self, row: int, column: int, across: int, boxes: list[Rectangle]) -> BaseGeometry:
        """What walls leave of a block off the grid, less some boxes; from its north-west corner, y to the south."""
        if self.spaces.odd is None:
            raise ValueError("a plan without floor off the grid")
        west, north = column * self.pitch, row * self.pitch
        left = shapely.transform(
            self.spaces.odd.room_left(row, column, across), lambda p: p * (1.0, -1.0) - (west, north)
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
            & (self.spaces.odd is None or np.isin(self.rooms, self.spaces.odd.rooms[here]))
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
