"""What stops sight, and the views over a drawing's floor: which tiles lie in sight of which.

A wall or a doorway is looked over if the top of the higher of its two walls is at most three quarters of a pitch above
the lower of the two floors beside it: breast height at 5 ft to a space. A saddle's door piece is as high as the grid's
walls, and solid ground stops sight whatever stands before it. A space that one pillar covers whole, if that is higher
than a low wall, has wall lines on its four sides. Other features stop nothing.

The floor is cut into rectangles along its rows, as far as nothing stands in between. From a rectangle one sees
all of itself; a line that leaves it does so northwards or southwards, through a gap between two wall ends, and
never comes back. So a view is a list of windows (rectangle, least and greatest slope), each within the gaps it
came through, and the work grows with what is in sight. All of it is whole-number geometry: in half spaces, centres
have odd coordinates and the ends of wall lines even ones.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from tilegen.geometry import EQUAL_MM
from tilegen.plans.drawing import Codes, Drawing, beside_lines, borders_of
from tilegen.plans.features import Levels, levels_of
from tilegen.plans.layout import Layout
from tilegen.plans.ways import NOTHING, PLAIN_WALL
from tilegen.tiles.blocks import PLAIN
from tilegen.tiles.features import FEATURES

LOW_WALL_PITCHES = 0.75
Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]
# How many counts (tiles x types) and source spaces are worked on at once: bounds the memory, not the result.
_COUNTS_AT_ONCE = 4_000_000
_SOURCES_AT_ONCE = 6_000


def for_sight(drawing: Drawing, laid: Layout) -> tuple[Drawing, Layout]:
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


def sees_over(drawing: Drawing, one: int, other: int) -> bool:
    """Whether sight passes over the walls between two rooms, given by code point."""
    extras = [drawing.heights.get(room, PLAIN) for room in (one, other)]
    usual = drawing.grid.wall_height
    tops = [extra.floor + (usual if extra.wall_height is None else extra.wall_height) for extra in extras]
    return max(tops) - min(extra.floor for extra in extras) <= LOW_WALL_PITCHES * drawing.grid.pitch + EQUAL_MM


def _lines_seen(drawing: Drawing, levels: Levels) -> tuple[Codes, Codes]:
    limit = LOW_WALL_PITCHES * drawing.grid.pitch + EQUAL_MM
    rooms, floors, tops = (beside_lines(cells) for cells in (drawing.rooms, levels.floor, levels.floor + levels.wall))
    found = []
    for upright, lines in enumerate((drawing.across, drawing.down)):
        one, other = rooms[upright]
        height = np.maximum(*tops[upright]) - np.minimum(*floors[upright])
        low = drawing.carried[lines] & (one != 0) & (other != 0) & (height <= limit)
        if drawing.off_grid is not None:
            for row, column in np.argwhere(low).tolist():
                codes = {int(one[row, column]), int(other[row, column])}
                ends = (drawing.off_grid.ends_at(code, (column, row), upright=bool(upright)) for code in codes)
                low[row, column] = all(ends)
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


def _in_spaces(drawing: Drawing, laid: Layout, filled: Bools) -> tuple[Drawing, Layout]:
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


def wall_lines(drawing: Drawing, *, doors_open: bool = False) -> tuple[Bools, Bools]:
    """Which lines stop sight: (rows + 1, columns) above the cells, (rows, columns + 1) left of them.

    Walls; doorways and saddles unless open; and every border with solid ground, whatever stands there.
    """
    stops = ~drawing.seen_past(doors_open=doors_open)
    across, down = borders_of(drawing.rooms != 0)
    return stops[drawing.across] | across, stops[drawing.down] | down


class View:
    """Everything that is worked out once for a drawing, and the views from its tiles."""

    def __init__(self, drawing: Drawing, laid: Layout, *, doors_open: bool) -> None:
        self.laid = laid
        self.rows, self.columns = drawing.rooms.shape
        self.spaces = drawing.cell_spaces
        across, down = wall_lines(drawing, doors_open=doors_open)
        self.rectangles = rectangles(drawing.rooms != 0, across, down)
        self.north, self.south = gaps(self.rectangles, across)
        self.tile_of = laid.tile_of.ravel().astype(np.int64)
        self.tiles = len(laid.type_of)
        self._sort_cells()
        self._group()

    def _sort_cells(self) -> None:
        """Cells in the order of their tiles, and in the order of their rectangles."""
        cells = np.flatnonzero(self.tile_of >= 0)
        self.cells_by_tile = cells[np.argsort(self.tile_of[cells], kind="stable")]
        self.tile_start = starts(self.tile_of[cells], self.tiles)
        # Then a tile may be met more than once.
        self.on_many_cells = bool((np.diff(self.tile_start) > 1).any())
        rectangle = self.rectangles.of.ravel()
        self.cells_by_rectangle = cells[np.argsort(rectangle[cells], kind="stable")]
        self.rectangle_start = starts(rectangle[cells], len(self.rectangles.west))

    def _group(self) -> None:
        """Tiles that lie in the same rectangles are one group: what lies there is in sight of each of them."""
        rectangle = self.rectangles.of.ravel()
        cells = self.cells_by_tile
        pairs = np.unique(self.tile_of[cells] * np.int64(len(self.rectangles.west) + 1) + rectangle[cells])
        tile, rect = np.divmod(pairs, len(self.rectangles.west) + 1)
        start = starts(tile, self.tiles)
        slots = np.full((self.tiles, int(np.diff(start).max())), -1, np.int64)
        slots[tile, np.arange(len(tile)) - start[tile]] = rect
        if slots.shape[1] == 1:
            self.group_rectangles = np.arange(len(self.rectangles.west))[:, None]
            self.group_of = slots[:, 0]
        else:
            self.group_rectangles, inverse = np.unique(slots, axis=0, return_inverse=True)
            self.group_of = inverse.reshape(-1)

    def seen_from(self, tile: int) -> Bools:
        """(tiles,): which are in sight of one; all that lie, in whole or in part, in its rectangles among them."""
        seen = np.zeros(self.tiles, bool)
        seen[self._own_pairs(self.group_of[[tile]])[1]] = True
        for _, tiles in self.pairs(np.array([tile], np.int64)):
            seen[tiles] = True
        return seen

    def _own_pairs(self, groups: Ints) -> tuple[Ints, Ints]:
        """(index into `groups`, tile) for every tile in the groups' rectangles, sorted, each once."""
        slots = self.group_rectangles[groups]
        index, slot = np.nonzero(slots >= 0)
        rect = slots[index, slot]
        which, cells = _expand(self.rectangle_start[rect], self.rectangle_start[rect + 1])
        pairs = index[which] * np.int64(self.tiles) + self.tile_of[self.cells_by_rectangle[cells]]
        if self.on_many_cells:
            pairs = np.unique(pairs)
        return np.divmod(pairs, self.tiles)

    def counted(self, types: int) -> Iterator[tuple[Ints, Ints]]:
        """Chunk by chunk: tiles, ascending, and (tiles, types) how many of each type are in sight of them."""
        type_of = self.laid.type_of
        order = np.argsort(self.group_of, kind="stable")
        per_tile = max(1, self.spaces**2 * len(self.cells_by_tile) // max(1, self.tiles))
        chunk = max(1, min(_COUNTS_AT_ONCE // types, _SOURCES_AT_ONCE // per_tile))
        for first in range(0, self.tiles, chunk):
            members = np.sort(order[first : first + chunk])
            groups, group = np.unique(self.group_of[members], return_inverse=True)
            index, own = self._own_pairs(groups)
            keys = index * np.int64(types) + type_of[own]
            own_counts = np.bincount(keys, minlength=len(groups) * types).reshape(-1, types)
            counts = own_counts[group]
            own_keys = np.sort(index * np.int64(self.tiles) + own)
            for seer, seen in self.pairs(members):
                if self.group_rectangles.shape[1] > 1:
                    outside = ~_contains(own_keys, group[seer] * np.int64(self.tiles) + seen)
                    seer, seen = seer[outside], seen[outside]  # noqa: PLW2901 - the pair is narrowed down
                keys = seer * np.int64(types) + type_of[seen]
                counts += np.bincount(keys, minlength=counts.size).reshape(counts.shape)
            yield members, counts

    def pairs(self, members: Ints) -> Iterator[tuple[Ints, Ints]]:
        """(index into members, tile) for the tiles in sight beyond the members' own rectangles, each pair once."""
        ranges = [part for side in (-1, 1) for part in self._ranges(members, side)]
        if not ranges:
            return
        keys = np.sort(np.concatenate(ranges))
        for part in _split(keys, self.rows * self.columns**2):
            seer, cells = self._cells_of_ranges(part)
            tiles = self.tile_of[cells]
            if self.on_many_cells:
                seer, tiles = np.divmod(np.unique(seer * np.int64(self.tiles) + tiles), self.tiles)
            yield seer, tiles

    def _sources(self, members: Ints) -> tuple[Ints, Ints, Ints, Ints]:
        """(index into members, x, y in half spaces, rectangle) for every space of the members."""
        owner, at = _expand(self.tile_start[members], self.tile_start[members + 1])
        cells = self.cells_by_tile[at]
        row, column = np.divmod(cells, self.columns)
        offsets = np.arange(self.spaces) * 2 + 1
        shape = (len(cells), self.spaces, self.spaces)
        side = 2 * self.spaces
        x = np.broadcast_to((column * side)[:, None, None] + offsets[None, None, :], shape).ravel()
        y = np.broadcast_to((row * side)[:, None, None] + offsets[None, :, None], shape).ravel()
        each = self.spaces**2
        return np.repeat(owner, each), x, y, np.repeat(self.rectangles.of.ravel()[cells], each)

    def _ranges(self, members: Ints, side: int) -> Iterator[Ints]:
        """Cells in sight to the north (side -1) or south (1): (member, row, first, last column) in one number each."""
        owner, x, y, rect = self._sources(members)
        gaps = self.north if side == -1 else self.south
        n = len(owner)
        window = _Window(
            np.arange(n), rect, np.full(n, -1), np.zeros(n, np.int64), np.ones(n, np.int64), np.zeros(n, np.int64)
        )
        while len(window.rect):
            window = self._onward(window, gaps, x, y, side)
            if len(window.rect):
                yield self._rows_in(window, owner, x, y, side)

    def _onward(self, window: _Window, gaps: Gaps, x: Ints, y: Ints, side: int) -> _Window:
        """The windows through every gap of their rectangles, as far as anything is seen through it."""
        which, gap = _expand(gaps.start[window.rect], gaps.start[window.rect + 1])
        source = window.source[which]
        reach = side * (gaps.line[gap] * (2 * self.spaces) - y[source])
        sx = x[source]
        west, east = gaps.west[gap] * (2 * self.spaces) - sx, gaps.east[gap] * (2 * self.spaces) - sx
        low_x, low_y = window.low_x[which], window.low_y[which]
        high_x, high_y = window.high_x[which], window.high_y[which]
        tighter = west * low_y > low_x * reach
        low_x, low_y = np.where(tighter, west, low_x), np.where(tighter, reach, low_y)
        tighter = east * high_y < high_x * reach
        high_x, high_y = np.where(tighter, east, high_x), np.where(tighter, reach, high_y)
        kept = np.flatnonzero(low_x * high_y < high_x * low_y)
        return _Window(source[kept], gaps.into[gap[kept]], low_x[kept], low_y[kept], high_x[kept], high_y[kept])

    def _rows_in(self, window: _Window, owner: Ints, x: Ints, y: Ints, side: int) -> Ints:
        rects, k = self.rectangles, self.spaces
        which, space_row = _expand(rects.north[window.rect] * k, rects.south[window.rect] * k)
        source, rect = window.source[which], window.rect[which]
        away = side * (2 * space_row + 1 - y[source])
        # Centres strictly between the two rays: in whole half spaces, then in spaces (centre of space s: 2 s + 1).
        least = x[source] + window.low_x[which] * away // window.low_y[which] + 1
        most = x[source] - (-window.high_x[which] * away // window.high_y[which]) - 1
        first = np.maximum(least // 2, rects.west[rect] * k)
        last = np.minimum((most - 1) // 2, rects.east[rect] * k - 1)
        kept = np.flatnonzero(first <= last)
        row = owner[source[kept]] * np.int64(self.rows) + space_row[kept] // k
        packed: Ints = (row * self.columns + first[kept] // k) * self.columns + last[kept] // k
        # The rows of spaces of one cell, and its spaces, often see the same.
        return np.unique(packed)

    def _cells_of_ranges(self, keys: Ints) -> tuple[Ints, Ints]:
        """(member, cell) for sorted packed ranges, each once: ranges of a row that overlap are united."""
        keys, last = np.divmod(keys, self.columns)
        line, first = np.divmod(keys, self.columns)
        reach = np.maximum.accumulate(line * self.columns + last) - line * self.columns
        before = np.full(len(line), -1, np.int64)
        before[1:] = np.where(line[1:] == line[:-1], reach[:-1], -1)
        fresh = np.maximum(first, before + 1)
        kept = np.flatnonzero(fresh <= last)
        member, row = np.divmod(line[kept], self.rows)
        which, column = _expand(fresh[kept], last[kept] + 1)
        return member[which], row[which] * self.columns + column


@dataclass(frozen=True, slots=True)
class _Window:
    """What a source sees of a rectangle: the open range of slopes dx/dy from low to high, dy > 0 away from it."""

    source: Ints
    rect: Ints
    low_x: Ints
    low_y: Ints
    high_x: Ints
    high_y: Ints


def _expand(start: Ints, stop: Ints) -> tuple[Ints, Ints]:
    """All numbers from start to stop of each range, with the index of the range."""
    sizes = stop - start
    which = np.repeat(np.arange(len(sizes)), sizes)
    offset = np.cumsum(sizes) - sizes
    return which, np.arange(len(which)) - offset[which] + start[which]


def _contains(ordered: Ints, wanted: Ints) -> Bools:
    at = np.searchsorted(ordered, wanted)
    at[at == len(ordered)] = 0
    found: Bools = ordered[at] == wanted
    return found


def _split(keys: Ints, per_member: int, most: int = 250_000) -> Iterator[Ints]:
    """Sorted keys in parts that end where a member's keys end, so that no pair is counted twice."""
    first = 0
    while first < len(keys):
        last = min(first + most, len(keys))
        if last < len(keys):
            last = int(np.searchsorted(keys, (keys[last - 1] // per_member + 1) * per_member))
        yield keys[first:last]
        first = last


@dataclass(frozen=True)
class Rectangles:
    """The floor in rectangles: cell columns [west, east) and rows [north, south) of each; of: (rows, columns)."""

    of: Ints
    west: Ints
    east: Ints
    north: Ints
    south: Ints


@dataclass(frozen=True)
class Gaps:
    """Gaps on one side of the rectangles, those of rectangle r from start[r] to start[r + 1].

    west, east: cell columns of the ends; line: the row's line; into: the rectangle beyond.
    """

    start: Ints
    west: Ints
    east: Ints
    line: Ints
    into: Ints


def rectangles(floor: Bools, across: Bools, down: Bools) -> Rectangles:
    """Runs of cells along the rows between two wall lines, joined with the run below where it is as wide and open."""
    rows, columns = floor.shape
    starts = floor & down[:, :-1]
    run_of = np.cumsum(starts).reshape(floor.shape) - 1
    row, west = np.nonzero(starts)
    cells = np.flatnonzero(floor.ravel())
    size = np.bincount(run_of.ravel()[cells], minlength=len(west))
    shut_above = np.bincount(run_of.ravel()[cells], weights=across[:-1].ravel()[cells], minlength=len(west))
    order = np.lexsort((row, size, west))
    r, w, s = row[order], west[order], size[order]
    joined = np.zeros(len(order), bool)
    joined[1:] = (w[1:] == w[:-1]) & (s[1:] == s[:-1]) & (r[1:] == r[:-1] + 1) & (shut_above[order][1:] == 0)
    number = np.empty(len(order), np.int64)
    number[order] = np.cumsum(~joined) - 1
    firsts = np.flatnonzero(~joined)
    heights = np.diff(firsts, append=len(order))
    of = np.full(rows * columns, -1, np.int64)
    of[cells] = number[run_of.ravel()[cells]]
    west_of, north_of = w[firsts], r[firsts]
    return Rectangles(of.reshape(rows, columns), west_of, west_of + s[firsts], north_of, north_of + heights)


def gaps(rectangles: Rectangles, across: Bools) -> tuple[Gaps, Gaps]:
    """The gaps on the north and on the south side of every rectangle."""
    above, below = rectangles.of[:-1], rectangles.of[1:]
    line, column = np.nonzero(~across[1:-1] & (above >= 0) & (below >= 0) & (above != below))
    over, under = above[line, column], below[line, column]
    new = np.ones(len(line), bool)
    new[1:] = (
        (line[1:] != line[:-1]) | (column[1:] != column[:-1] + 1) | (over[1:] != over[:-1]) | (under[1:] != under[:-1])
    )
    firsts = np.flatnonzero(new)
    west, line, over, under = column[firsts], line[firsts] + 1, over[firsts], under[firsts]
    east = west + np.diff(firsts, append=len(new))
    ends = west, east, line
    return _sorted_gaps(rectangles, under, ends, over), _sorted_gaps(rectangles, over, ends, under)


def _sorted_gaps(rectangles: Rectangles, owner: Ints, ends: tuple[Ints, Ints, Ints], into: Ints) -> Gaps:
    west, east, line = ends
    order = np.lexsort((west, owner))
    return Gaps(starts(owner, len(rectangles.west)), west[order], east[order], line[order], into[order])


def starts(sorted_or_not: Ints, count: int) -> Ints:
    """Where each number's entries start once sorted, and one end more."""
    return np.concatenate([[0], np.cumsum(np.bincount(sorted_or_not, minlength=count))]).astype(np.int64)
