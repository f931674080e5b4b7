"""A plan on the raster of its spaces: what is floor, and what takes floor away at each space's sides and corners."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tilegen.fit.oddfloor import OddFloor, odd_floor
from tilegen.plans.drawing import Drawing
from tilegen.plans.posts import posts_of

Bools = npt.NDArray[np.bool_]
Bytes = npt.NDArray[np.uint8]
Kinds = npt.NDArray[np.int16]


@dataclass(frozen=True)
class Spaces:
    """The spaces of a plan, rows to the south, columns to the east.

    floor: (rows, columns). across: (rows + 1, columns) kind of the line above each row's spaces, down:
    (rows, columns + 1) kind of the line left of each column's; inside a cell nothing stands. shut_across,
    shut_down: where a wall line runs: a wall, a doorway, a saddle, or the border with solid ground, whatever
    stands there. strips: bit k where a wall's thickness is taken off along side k (north, east, south, west);
    posts: bit k where a wall-thick square is taken out of corner k (north-east, clockwise). odd: the
    floor off the grid, if there is any: its spaces have neither strips nor posts.
    """

    drawing: Drawing
    floor: Bools
    across: Kinds
    down: Kinds
    shut_across: Bools
    shut_down: Bools
    strips: Bytes
    posts: Bytes
    odd: OddFloor | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        rows, columns = self.floor.shape
        return rows, columns


def spaces_of(drawing: Drawing) -> Spaces:
    """The spaces of a plan. A doorway and a saddle piece take a wall's thickness on either side, like a wall."""
    k = drawing.cell_spaces
    rows, columns = (n * k for n in drawing.rooms.shape)
    floor = (drawing.rooms != 0).repeat(k, axis=0).repeat(k, axis=1)
    odd = odd_floor(drawing)
    if odd is not None:
        floor &= odd.whole
    across, down = np.zeros((rows + 1, columns), np.int16), np.zeros((rows, columns + 1), np.int16)
    across[::k] = drawing.across.repeat(k, axis=1)
    down[:, ::k] = drawing.down.repeat(k, axis=0)
    stands = drawing.stands
    above, beside = stands[across], stands[down]
    around = np.pad(floor, 1)
    strips = np.zeros((rows, columns), np.uint8)
    for side, carried in enumerate((above[:-1], beside[:, 1:], above[1:], beside[:, :-1])):
        strips |= (carried & floor).astype(np.uint8) << side
    posts = _posts(drawing, k)
    if odd is not None:
        strips[odd.spaces], posts[odd.spaces] = 0, 0
    return Spaces(
        drawing,
        floor,
        across,
        down,
        above | (around[:-1, 1:-1] != around[1:, 1:-1]),
        beside | (around[1:-1, :-1] != around[1:-1, 1:]),
        strips,
        posts,
        odd,
    )


def _posts(drawing: Drawing, k: int) -> Bytes:
    """The posts of every cell, in the space at that corner of the cell."""
    cells = posts_of(drawing)
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


def box_sums(values: Bools, height: int, width: int) -> npt.NDArray[np.int32]:
    """How many are true in every height x width box, by its first row and column."""
    total = np.zeros((values.shape[0] + 1, values.shape[1] + 1), np.int32)
    np.cumsum(values, axis=0, out=total[1:, 1:])
    np.cumsum(total[1:, 1:], axis=1, out=total[1:, 1:])
    return total[height:, width:] - total[:-height, width:] - total[height:, :-width] + total[:-height, :-width]
