"""What stops sight where rooms have heights of their own, and pillars: low walls do not, pillars as wide as a space do.

A wall or a doorway is looked over if the top of the higher of its two walls is at most three quarters of a pitch above
the lower of the two floors beside it: breast height at 5 ft to a space. A saddle's door piece is as high as the grid's
walls, and solid ground stops sight whatever stands before it. A space that one pillar covers whole, if that is higher
than a low wall, has wall lines on its four sides. Steps, stairs, daises and pits stop nothing.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from tilegen.plans.drawing import Codes, Drawing
from tilegen.plans.features import Levels, levels_of
from tilegen.plans.laid import Laid
from tilegen.plans.ways import NOTHING, PLAIN_WALL

LOW_WALL_PITCHES = 0.75
_ROUNDING = 1e-6
Bools = npt.NDArray[np.bool_]


def for_sight(drawing: Drawing, laid: Laid) -> tuple[Drawing, Laid]:
    """A drawing and its tiles as sight takes them: low walls left out, and in spaces where a pillar fills one."""
    levels = levels_of(drawing)
    if levels is None:
        return drawing, laid
    across, down = _without_low_walls(drawing, levels)
    looked = replace(drawing, across=across, down=down, extras=None)
    filled = filled_spaces(drawing)
    return _in_spaces(looked, laid, filled) if filled.any() else (looked, laid)


def _without_low_walls(drawing: Drawing, levels: Levels) -> tuple[Codes, Codes]:
    floor = np.pad(drawing.rooms != 0, 1)
    low_floor = np.pad(levels.floor, 1)
    tops = np.pad(levels.floor + levels.wall, 1)
    limit = LOW_WALL_PITCHES * drawing.grid.pitch + _ROUNDING
    walls = np.array([kind.name in ("wall", "doorway") for kind in drawing.kinds])
    found = []
    for lines, (one, other) in (
        (drawing.across, (np.s_[:-1, 1:-1], np.s_[1:, 1:-1])),
        (drawing.down, (np.s_[1:-1, :-1], np.s_[1:-1, 1:])),
    ):
        height = np.maximum(tops[one], tops[other]) - np.minimum(low_floor[one], low_floor[other])
        low = walls[lines] & floor[one] & floor[other] & (height <= limit)
        found.append(np.where(low, NOTHING, lines).astype(lines.dtype))
    return found[0], found[1]


def filled_spaces(drawing: Drawing) -> Bools:
    """(rows, columns) of the spaces that one pillar, higher than a low wall, covers whole."""
    k, pitch = drawing.cell_spaces, drawing.grid.pitch
    rows, columns = drawing.rooms.shape
    filled = np.zeros((rows * k, columns * k), bool)
    half = k * pitch / 2
    for _, (column, row), block in drawing.blocks:
        if block.kind != "pillar" or block.round or block.top <= LOW_WALL_PITCHES * pitch + _ROUNDING:
            continue
        for r in range(k):
            for c in range(k):
                inside = block.west <= c * pitch - half + _ROUNDING and block.east >= (c + 1) * pitch - half - _ROUNDING
                inside &= block.north >= half - r * pitch - _ROUNDING
                inside &= block.south <= half - (r + 1) * pitch + _ROUNDING
                filled[row * k + r, column * k + c] |= inside
    return filled


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
