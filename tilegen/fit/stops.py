"""Where figures are stopped: ways and rooms that are too narrow for them on the way to what they don't get to."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from math import ceil

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view
from scipy import ndimage

from tilegen.fit.figures import Figure, largest_discs
from tilegen.fit.floor import Bools, Ints, Spaces, spaces_covered
from tilegen.geometry import EQUAL_MM
from tilegen.lengths import show_length
from tilegen.plans.drawing import Drawing, ends_beside
from tilegen.plans.route import Areas, areas_at, both_sides
from tilegen.plans.ways import WAYS, Line, line_of
from tilegen.tiles.leaves.kind import clear_width
from tilegen.tiles.openings import room_for
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import SIDES, STEPS

# Widths are rounded up to this, mm.
_STEP_MM = 0.1


@dataclass(frozen=True)
class Passage:
    """A way with something round it.

    at: its middle, in cells; rooms: on its sides; clear: the base it lets through, mm.
    kind: "doorway" or "saddle". place: where the file has it. opening: as written. areas: the connected parts of rooms
    that it joins. most: the widest that its walls take, mm; None: not known.
    """

    at: tuple[float, float]
    rooms: tuple[str, ...]
    clear: float
    kind: str
    place: str
    opening: Opening
    areas: tuple[int, ...]
    most: Callable[[], float | None]

    def widened(self, base: float) -> dict[str, str]:
        """The keys that let a base through: a wider opening, or no wall at all where that has no room."""
        needed = ceil((base + self.opening.width - self.clear) / _STEP_MM - EQUAL_MM) * _STEP_MM
        most = self.most()
        if most is not None and needed > most + EQUAL_MM:
            return {"kind": "open"}
        return {"width": show_length(needed)}


def passages_of(spaces: Spaces, areas: Areas) -> tuple[Passage, ...]:
    """Every doorway and saddle of a plan."""
    return (*_on_lines(spaces, areas), *_at_points(spaces.drawing, areas))


def stops_of(figure: Figure, passages: tuple[Passage, ...], areas: Areas) -> tuple[Passage, ...]:
    """The passages that stop a figure: too narrow, and on the way to a part of a room that it does not get to."""
    unreached = _unreached(figure, areas)
    return tuple(p for p in passages if p.clear + EQUAL_MM < figure.base and unreached.intersection(p.areas))


def _unreached(figure: Figure, areas: Areas) -> set[int]:
    return {int(areas.of[part.first_cell[1] - 1, part.first_cell[0] - 1]) for part in figure.unreached}


@dataclass(frozen=True)
class NarrowRoom:
    """A connected part of a room that is too narrow for a figure everywhere.

    cell: (column, row from 1) the one of its cells nearest to its middle. clear: the largest base that has room
    somewhere in it, mm; 0: none has.
    """

    room: str
    cell: tuple[int, int]
    clear: float


def narrow_rooms(figure: Figure, spaces: Spaces, areas: Areas) -> tuple[NarrowRoom, ...]:
    """The parts of rooms in which walls leave a figure no place to stand, in reading order."""
    k = spaces.drawing.cell_spaces
    of = np.where(spaces.floor, areas.of.repeat(k, axis=0).repeat(k, axis=1), -1)
    stood = spaces_covered(figure.standing, figure.spaces_across, spaces.shape)
    left = sorted(_unreached(figure, areas) - set(np.unique(of[stood]).tolist()))
    clear = dict.fromkeys(left, 0.0)
    for across in range(figure.spaces_across, 0, -1):
        if not left:
            break
        # Of each space the largest disc in any block that covers it.
        padded = np.pad(largest_discs(spaces, across), across - 1)
        discs = sliding_window_view(padded, (across, across)).max(axis=(2, 3))
        found = ndimage.maximum(discs, of, left)
        clear |= {area: float(disc) for area, disc in zip(left, found, strict=True) if disc > 0}
        left = [area for area in left if not clear[area]]
    return tuple(
        NarrowRoom(areas.letters[area], _middle_cell(areas, area), disc)
        for area, disc in clear.items()
        if disc + EQUAL_MM < figure.base
    )


@dataclass(frozen=True)
class Neck:
    """A place within a room that a figure can't pass, though it stands on both sides of it.

    at: its middle, in cells. clear: the largest base that has room there, mm; 0: something else is in the way.
    """

    room: str
    at: tuple[float, float]
    clear: float


def necks_of(figure: Figure, spaces: Spaces, areas: Areas) -> tuple[Neck, ...]:
    """Where a figure is stopped within a room, on the nearest way to each part of it that it would stand in."""
    beyond = figure.standing & ~figure.got_to
    if not beyond.any():
        return ()
    k, across = spaces.drawing.cell_spaces, figure.spaces_across
    of = np.where(spaces.floor, areas.of.repeat(k, axis=0).repeat(k, axis=1), -1)
    got_to = spaces_covered(figure.got_to, across, spaces.shape) & spaces.floor
    lost = spaces_covered(beyond, across, spaces.shape) & spaces.floor & ~got_to
    # One number for each part of an area's lost spaces that hangs together.
    rows, columns = spaces.shape
    raster = np.zeros((2 * rows - 1, 2 * columns - 1), bool)
    raster[::2, ::2] = lost
    raster[1::2, ::2] = lost[1:] & lost[:-1] & (of[1:] == of[:-1]) & ~spaces.shut_across[1:-1]
    raster[::2, 1::2] = lost[:, 1:] & lost[:, :-1] & (of[:, 1:] == of[:, :-1]) & ~spaces.shut_down[:, 1:-1]
    parts: Ints = ndimage.label(raster)[0][::2, ::2].astype(np.int64)
    owners, numbers = np.unique(np.unique(np.stack([of[lost], parts[lost]]), axis=1)[0], return_counts=True)
    partly = np.isin(owners, of[got_to])
    ways = [(n, way) for n in owners[partly | (numbers > 1)].tolist() for way in _ways(spaces, of == n, got_to, parts)]
    if not ways:
        return ()
    discs = [largest_discs(spaces, n) for n in range(across, 0, -1)]
    if across > 1:
        discs[0] = np.where(figure.standing, 0.0, discs[0])
    found = []
    for area, way in ways:
        steps = [_room_over(discs, a, b) for a, b in pairwise(way)]
        least = min(clear for clear, _ in steps)
        narrow = [at for clear, at in steps if clear <= least + EQUAL_MM]
        x, y = narrow[(len(narrow) - 1) // 2]
        found.append(Neck(areas.letters[area], (x / k, y / k), least if least + EQUAL_MM < figure.base else 0.0))
    return tuple(found)


_Space = tuple[int, int]


def _ways(spaces: Spaces, area: Bools, got_to: Bools, parts: Ints) -> Iterator[list[_Space]]:
    """The shortest way (row, column of its spaces) to each part of an area from what of it is got to.

    Where nothing is, from the largest of the parts to the others. parts: the number of each space's part, or 0.
    """
    start = got_to & area
    if not start.any():
        start = parts == 1 + int(np.argmax(np.bincount(parts[area])[1:]))
        parts[start] = 0

    def listed(mask: Bools) -> list[_Space]:
        rows, columns = np.nonzero(mask)
        return list(zip(rows.tolist(), columns.tolist(), strict=True))

    before: dict[_Space, _Space | None] = dict.fromkeys(listed(start))
    waiting = deque(before)
    while waiting:
        row, column = space = waiting.popleft()
        for other, shut in (
            ((row - 1, column), spaces.shut_across[row, column]),
            ((row + 1, column), spaces.shut_across[row + 1, column]),
            ((row, column - 1), spaces.shut_down[row, column]),
            ((row, column + 1), spaces.shut_down[row, column + 1]),
        ):
            if shut or other in before or not area[other]:
                continue
            before[other] = space
            waiting.append(other)
            if part := parts[other]:
                way: list[_Space] = [other]
                while (last := before[way[-1]]) is not None:
                    way.append(last)
                yield way
                # From there it goes on, as from what is got to.
                before |= dict.fromkeys(listed(parts == part))
                waiting.extendleft(listed(parts == part))
                parts[parts == part] = 0


def _room_over(discs: list[npt.NDArray[np.float64]], a: _Space, b: _Space) -> tuple[float, tuple[float, float]]:
    """The largest disc, mm, in a block that holds two spaces side by side, and where; of single spaces the smaller one.

    discs: of each block, the widest blocks first.
    """
    (top, foot), (left, right) = sorted((a[0], b[0])), sorted((a[1], b[1]))
    for n, of_blocks in zip(range(len(discs), 1, -1), discs, strict=False):
        r, c = max(0, foot - n + 1), max(0, right - n + 1)
        found = of_blocks[r : top + 1, c : left + 1]
        if found.max(initial=0.0) > 0:
            best = np.argwhere(found == found.max())
            row, column = best[len(best) // 2].tolist()
            return float(found.max()), (c + column + n / 2, r + row + n / 2)
    clear, (row, column) = min((float(discs[-1][space]), space) for space in (a, b))
    return clear, (column + 0.5, row + 0.5)


def _middle_cell(areas: Areas, area: int) -> tuple[int, int]:
    cells = np.argwhere(areas.of == area)
    row, column = cells[np.argmin(((cells - cells.mean(axis=0)) ** 2).sum(axis=1))].tolist()
    return column + 1, row + 1


def narrowest(passages: tuple[Passage, ...]) -> Passage | None:
    """The passage that lets the least base through."""
    return min(passages, key=lambda passage: passage.clear, default=None)


def _on_lines(spaces: Spaces, areas: Areas) -> Iterator[Passage]:
    drawing, widths = spaces.drawing, spaces.widths
    side = drawing.cell_side
    for way in drawing.ways:
        line = line_of(way.cell, way.side)
        kind = drawing.kind_at(line)
        opening = kind.opening
        if opening is None or kind.stand_in or not kind.facts.walked:
            continue
        clear = float(widths[line[0] == "down"][line[1], line[2]])
        dx, dy = STEPS[SIDES.index(way.side)]
        column, row, off = way.cell[0] - 0.5, way.cell[1] - 0.5, opening.centre / side - 0.5
        at = (column + dx / 2 + off * (dy != 0), row + dy / 2 + off * (dx != 0))
        rooms = tuple(chr(code) for code in both_sides(drawing.rooms, way) if code)
        beside = tuple(area for area in both_sides(areas.of, way, outside=-1) if area >= 0)
        most = partial(widest_opening, drawing, line, opening)
        yield Passage(at, rooms, clear, way.kind, way.place, opening, beside, most)


def widest_opening(drawing: Drawing, line: Line, opening: Opening) -> float:
    """The widest opening on a line: a wall's as its cells have room, a door piece's between its posts."""
    side, grid = drawing.cell_side, drawing.grid
    ends = [found for _, found in ends_beside(drawing, line)]
    if drawing.kind_at(line).facts.loose:
        ends = [(grid.wall_thickness, grid.wall_thickness)]
    return min((room_for(opening.centre, side, grid, found) for found in ends), default=0.0)


def _at_points(drawing: Drawing, areas: Areas) -> Iterator[Passage]:
    for way in drawing.wall_ways:
        kind = WAYS[way.kind]
        if kind.stands and kind.walked:
            clear, beside = clear_width(way.opening, drawing.grid), tuple(areas_at(drawing, areas, way))
            rooms = tuple(dict.fromkeys(way.rooms))
            yield Passage(way.at, rooms, clear, way.kind, way.place, way.opening, beside, lambda: None)
