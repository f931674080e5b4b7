"""What stops sight where rooms have heights of their own, and what stands on floors.

A wall or a doorway is looked over if the top of the higher of its two walls is at most three quarters of a pitch above
the lower of the two floors beside it: breast height at 5 ft to a space. A saddle's door piece is as high as the grid's
walls, and solid ground stops sight whatever stands before it. A space that one pillar covers whole, if that is higher
than a low wall, has wall lines on its four sides. Other features stop nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from tilegen.geometry import EQUAL_MM
from tilegen.plans.drawing import Codes, Drawing
from tilegen.plans.features import Levels, levels_of
from tilegen.plans.laid import Laid
from tilegen.plans.ways import NOTHING, PLAIN_WALL
from tilegen.tiles.blocks import PLAIN
from tilegen.tiles.features import FEATURES

LOW_WALL_PITCHES = 0.75
Bools = npt.NDArray[np.bool_]


def for_sight(drawing: Drawing, laid: Laid) -> tuple[Drawing, Laid]:
    """A drawing and its tiles as sight takes them: low walls left out, and in spaces where a pillar fills one."""
    looked, filled = without_low_walls(drawing), filled_spaces(drawing)
    return _in_spaces(looked, laid, filled) if filled.any() else (looked, laid)


def without_low_walls(drawing: Drawing) -> Drawing:
    """A drawing with nothing on the lines between cells on which low walls stand."""
    levels = levels_of(drawing)
    if levels is None:
        return drawing
    across, down = _lines_seen(drawing, levels)
    return replace(drawing, across=across, down=down, extras=None)


def is_low(drawing: Drawing, one: int, other: int) -> bool:
    """Whether sight passes over the walls between two rooms, given by code point."""
    extras = [drawing.heights.get(room, PLAIN) for room in (one, other)]
    usual = drawing.grid.wall_height
    tops = [extra.floor + (usual if extra.wall_height is None else extra.wall_height) for extra in extras]
    return max(tops) - min(extra.floor for extra in extras) <= LOW_WALL_PITCHES * drawing.grid.pitch + EQUAL_MM


def _lines_seen(drawing: Drawing, levels: Levels) -> tuple[Codes, Codes]:
    floor = np.pad(drawing.rooms != 0, 1)
    low_floor = np.pad(levels.floor, 1)
    tops = np.pad(levels.floor + levels.wall, 1)
    limit = LOW_WALL_PITCHES * drawing.grid.pitch + EQUAL_MM
    walls = drawing.carried
    found = []
    for lines, (one, other) in (
        (drawing.across, (np.s_[:-1, 1:-1], np.s_[1:, 1:-1])),
        (drawing.down, (np.s_[1:-1, :-1], np.s_[1:-1, 1:])),
    ):
        height = np.maximum(tops[one], tops[other]) - np.minimum(low_floor[one], low_floor[other])
        low = walls[lines] & floor[one] & floor[other] & (height <= limit)
        if drawing.off_grid is not None:
            upright = lines is drawing.down
            for row, column in np.argwhere(low).tolist():
                rooms = {int(np.pad(drawing.rooms, 1)[side][row, column]) for side in (one, other)}
                low[row, column] = all(drawing.off_grid.ends_at(code, (column, row), upright=upright) for code in rooms)
        found.append(np.where(low, NOTHING, lines).astype(lines.dtype))
    return found[0], found[1]


def filled_spaces(drawing: Drawing) -> Bools:
    """(rows, columns) of the spaces that one pillar, higher than a low wall, covers whole."""
    k = drawing.cell_spaces
    rows, columns = drawing.rooms.shape
    filled = np.zeros((rows * k, columns * k), bool)
    for _, row, column in spaces_filled(drawing):
        filled[row, column] = True
    return filled


def spaces_filled(drawing: Drawing) -> Iterator[tuple[int, int, int]]:
    """The same one by one: the room, by code point, row and column."""
    k, pitch = drawing.cell_spaces, drawing.grid.pitch
    half = k * pitch / 2
    for room, (column, row), block in drawing.blocks:
        if not FEATURES[block.kind].stops_sight or block.round or block.top <= LOW_WALL_PITCHES * pitch + EQUAL_MM:
            continue
        for r in range(k):
            for c in range(k):
                inside = block.west <= c * pitch - half + EQUAL_MM and block.east >= (c + 1) * pitch - half - EQUAL_MM
                inside &= block.north >= half - r * pitch - EQUAL_MM
                inside &= block.south <= half - (r + 1) * pitch + EQUAL_MM
                if inside:
                    yield room, row * k + r, column * k + c


def _in_spaces(drawing: Drawing, laid: Laid, filled: Bools) -> tuple[Drawing, Laid]:
    """The same with a cell for every space, and wall lines around those that are filled."""
    k = drawing.cell_spaces
    rows, columns = filled.shape
    across = np.full((rows + 1, columns), NOTHING, drawing.across.dtype)
    down = np.full((rows, columns + 1), NOTHING, drawing.down.dtype)
    across[::k] = drawing.across.repeat(k, axis=1)
    down[:, ::k] = drawing.down.repeat(k, axis=0)
    for lines, (before, after) in ((across, (np.s_[:-1], np.s_[1:])), (down, (np.s_[:, :-1], np.s_[:, 1:]))):
        lines[before][filled] = PLAIN_WALL
        lines[after][filled] = PLAIN_WALL
    rooms = drawing.rooms.repeat(k, axis=0).repeat(k, axis=1)
    tile_of = laid.tile_of.repeat(k, axis=0).repeat(k, axis=1)
    return replace(drawing, scale="5 ft", rooms=rooms, across=across, down=down), replace(laid, tile_of=tile_of)
