"""A piece of a plan of a few tiles, chosen because it shows best where walls clash and what never closes."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from tilegen.fit.floor import Bools, box_sums
from tilegen.fit.placements import PushedTiles, best_laying, home_squares
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.laid import lay
from tilegen.plans.posts import posts_of

# Tiles across and down, at most.
WIDE, HIGH = 4, 3
# Of so many windows, those densest in walls, the best is sought.
_TRIED = 240
Kinds = npt.NDArray[np.int16]


@dataclass(frozen=True)
class Window:
    """Some cells of a drawing, cut out along the edges of tiles.

    left, top: column and row, from 0, of its first cell. tile_of: (rows, columns) tile of each cell, numbered
    from 0 in the window, -1 for none. across: (rows + 1, columns), down: (rows, columns + 1) kinds of its lines.
    posts: bits of each cell's posts (north-east, clockwise). homes: the square of each of its tiles, off the grid.
    """

    drawing: Drawing
    left: int
    top: int
    tile_of: npt.NDArray[np.int32]
    across: Kinds
    down: Kinds
    posts: npt.NDArray[np.uint8]
    homes: npt.NDArray[np.int64] | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of cells."""
        rows, columns = self.tile_of.shape
        return rows, columns

    def standing(self) -> tuple[Bools, Bools]:
        """Whether anything stands on each line: across, down."""
        stands = self.drawing.stands
        return stands[self.across], stands[self.down]

    def laying(self, apart: float) -> PushedTiles:
        """The best laying of this piece alone, walls beside the tiles."""
        across, down = self.standing()
        return best_laying(self.tile_of, down[:, 1:-1], across[1:-1], apart, self.homes)


def choose_window(drawing: Drawing, kit: Kit) -> Window:
    """The piece that never closes, if there is one; else that with most walls.

    Of equal ones that where most wall stands between two rooms that open into a third, then that with most walls,
    then the first in reading order.
    """
    tile_of = lay(drawing, kit).tile_of
    rows, columns = drawing.rooms.shape
    k = kit.block
    height, width = min(HIGH * k, rows), min(WIDE * k, columns)
    left, top = (kit.lattice[0] % k, kit.lattice[1] % k)
    firsts = [
        np.unique(np.clip(np.arange(start - k, size - side + k, k), 0, size - side))
        for start, size, side in ((top, rows, height), (left, columns, width))
    ]
    walls = _walls_between(drawing)
    density = box_sums(walls[0], height, width) + box_sums(walls[1], height, width)
    places = [(int(r), int(c)) for r in firsts[0] for c in firsts[1]]
    places.sort(key=lambda place: -int(density[place]))
    posts, homes = posts_of(drawing), home_squares(kit, tile_of)
    best: tuple[tuple[float, ...], Window] | None = None
    for row, column in places[:_TRIED]:
        window = _cut(drawing, tile_of, posts, (row, column, height, width), homes)
        if not (window.tile_of >= 0).any():
            continue
        rank = (-round(window.laying(1.0).gap, 6), -_shared(window), -int(density[row, column]), row, column)
        if best is None or rank < best[0]:
            best = rank, window
    if best is None:
        raise ValueError("a plan without a tile")
    return best[1]


def _walls_between(drawing: Drawing) -> tuple[Bools, Bools]:
    """(rows, columns): whether something stands between a cell and the next to the south, to the east; both floor."""
    stands = drawing.stands
    floor = np.pad(drawing.rooms != 0, ((0, 1), (0, 1)))
    south: Bools = stands[drawing.across[1:]] & floor[:-1, :-1] & floor[1:, :-1]
    east: Bools = stands[drawing.down[:, 1:]] & floor[:-1, :-1] & floor[:-1, 1:]
    return south, east


def _shared(window: Window) -> int:
    """Lines of wall in the window between two rooms that both open into a third, without a door."""
    rows, columns = window.shape
    rooms = window.drawing.rooms[window.top : window.top + rows, window.left : window.left + columns]
    across, down = window.standing()
    walled: Counter[tuple[int, int]] = Counter()
    opened: set[tuple[int, int]] = set()
    for one, other, stands in (
        (rooms[:-1], rooms[1:], across[1:-1]),
        (rooms[:, :-1], rooms[:, 1:], down[:, 1:-1]),
    ):
        border = (one != other) & (one != 0) & (other != 0)
        for a, b, wall in zip(one[border].tolist(), other[border].tolist(), stands[border].tolist(), strict=True):
            pair = (min(a, b), max(a, b))
            if wall:
                walled[pair] += 1
            else:
                opened.add(pair)
    beside: dict[int, set[int]] = {}
    for a, b in opened:
        beside.setdefault(a, set()).add(b)
        beside.setdefault(b, set()).add(a)
    return sum(lines for (a, b), lines in walled.items() if beside.get(a, set()) & beside.get(b, set()))


def _cut(
    drawing: Drawing,
    tile_of: npt.NDArray[np.int32],
    posts: npt.NDArray[np.uint8],
    bounds: tuple[int, int, int, int],
    homes: npt.NDArray[np.int64] | None,
) -> Window:
    """bounds: first row, first column, rows, columns."""
    row, column, height, width = bounds
    here = np.s_[row : row + height, column : column + width]
    found = tile_of[here]
    numbers, renumbered = np.unique(found, return_inverse=True)
    tiles = renumbered.reshape(found.shape).astype(np.int32) - int(numbers[0] < 0)
    return Window(
        drawing,
        column,
        row,
        tiles,
        drawing.across[row : row + height + 1, column : column + width],
        drawing.down[row : row + height, column : column + width + 1],
        posts[here],
        None if homes is None else homes[numbers[numbers >= 0]],
    )
