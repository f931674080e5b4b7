"""Rooms off the grid: which floor they cover, cell by cell, and what that makes of the lines between cells.

Map coordinates: mm, x to the east, y to the north, (0, 0) at the drawing's north-west corner.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM, SNAP_MM
from tilegen.plans.outlines import DrawnShape, polygon_of

# A cell counts as a room's where at least this share of it is that room's floor.
LEAST_SHARE = 0.02
_WHOLE = 1e-7
# How deep a strip along a line is looked at to see whether floor lies there.
_STRIP_MM = 1e-4
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int16]


@dataclass(frozen=True)
class OffGrid:
    """What a drawing with shapes knows of them.

    regions: the whole floor of every room that has a shape, by code point, map coordinates. whole: (rows, columns)
    whether a cell is all one room's floor. part: whether shapes have a part of it, however small. mixed_across,
    mixed_down: lines of which only a part is a border. shut_across, shut_down: lines that are no open floor before any
    wall is written. cell: side of a cell, mm.
    """

    regions: Mapping[int, BaseGeometry]
    whole: Bools
    part: Bools
    mixed_across: Bools
    mixed_down: Bools
    shut_across: Bools
    shut_down: Bools
    cell: float

    def ends_at(self, code: int, corner: tuple[int, int], *, upright: bool) -> bool:
        """Whether a room ends at a line between cells all along it; a slanting wall crosses lines and ends at none.

        corner: column and row, from 0, of the line's west or north end.
        """
        if code not in self.regions:
            return True
        column, row = corner
        ends = np.array([corner, (column, row + 1) if upright else (column + 1, row)]) * (self.cell, -self.cell)
        covered: bool = self.regions[code].boundary.buffer(SNAP_MM).covers(LineString(ends))
        return covered


@dataclass(frozen=True)
class Survey:
    """A drawing's cells once its shapes lie on them: rooms, lines across and down (1: a wall), what is off the grid."""

    rooms: npt.NDArray[np.uint32]
    across: Codes
    down: Codes
    off_grid: OffGrid


def survey(rooms: npt.NDArray[np.uint32], shapes: Iterable[DrawnShape], cell: float) -> Survey:
    """Lay shapes over a drawing; a room is the union of its cells and its shapes.

    rooms: (rows, columns) code points as drawn. cell: side of a cell, mm.

    Raises:
        InputError: a shape that is no outline, leaves the drawing, or lies over another room.
    """
    outlines: dict[int, list[BaseGeometry]] = {}
    for shape in shapes:
        outline = shapely.transform(polygon_of(shape, cell), lambda points: points * (1.0, -1.0))
        _check_inside(outline, rooms.shape, cell, shape)
        _check_free(outline, rooms, outlines, cell, shape)
        outlines.setdefault(ord(shape.room), []).append(outline)
    whole = {
        code: _joined([*parts, *(cell_box(c, r, cell) for r, c in np.argwhere(rooms == code).tolist())])
        for code, parts in outlines.items()
    }
    return _Lines(rooms, whole, cell).survey()


def cell_box(column: int, row: int, cell: float, width: int = 1, height: int = 1) -> Polygon:
    """Cells as a box in map coordinates; column, row from 0."""
    return box(column * cell, -(row + height) * cell, (column + width) * cell, -row * cell)


def _joined(parts: list[BaseGeometry]) -> BaseGeometry:
    return shapely.union_all(parts, grid_size=EQUAL_MM)


def _check_inside(outline: Polygon, shape: tuple[int, ...], cell: float, drawn: DrawnShape) -> None:
    rows, columns = shape
    west, south, east, north = (v / cell for v in outline.bounds)
    if west < -_WHOLE or north > _WHOLE or east > columns + _WHOLE or -south > rows + _WHOLE:
        raise InputError(
            f"a shape from ({west:z.3f}, {-north:z.3f}) to ({east:z.3f}, {-south:z.3f})",
            expected=f"one inside the drawing, from (0, 0) to ({columns}, {rows})",
            cure='add rows or columns of "." to the drawing',
            place=drawn.place,
        )


def _check_free(
    outline: Polygon,
    rooms: npt.NDArray[np.uint32],
    outlines: Mapping[int, list[BaseGeometry]],
    cell: float,
    drawn: DrawnShape,
) -> None:
    """Refuse a shape over another room's cells or shapes."""
    code = ord(drawn.room)
    west, south, east, north = (v / cell for v in outline.bounds)
    near = (int(-north), int(west))
    under = rooms[near[0] : math.ceil(-south), near[1] : math.ceil(east)]
    others = np.argwhere((under != 0) & (under != code)) + near
    boxes = np.array([cell_box(c, r, cell) for r, c in others.tolist()], dtype=object)
    areas = shapely.area(shapely.intersection(boxes, outline))
    if areas.max(initial=0.0) > _WHOLE * cell**2:
        r, c = others[int(areas.argmax())].tolist()
        over = boxes[int(areas.argmax())].intersection(outline)
        _refuse_over(over, f'room "{chr(int(rooms[r, c]))}", cell [{c + 1}, {r + 1}]', cell, drawn)
    for other, parts in outlines.items():
        if other == code:
            continue
        for part in np.array(parts)[shapely.intersects(parts, outline)].tolist():
            over = part.intersection(outline)
            if over.area > _WHOLE * cell**2:
                _refuse_over(over, f'the shape of room "{chr(other)}"', cell, drawn)


def _refuse_over(over: BaseGeometry, what: str, cell: float, drawn: DrawnShape) -> None:
    x, y = (v / cell for v in over.representative_point().coords[0])
    raise InputError(
        f'a shape of room "{drawn.room}" over {what}, at ({x:.3f}, {-y:.3f})',
        expected="floor that no other room has",
        place=drawn.place,
    )


class _Lines:
    """Works out which lines between cells are open, walls, or both."""

    def __init__(self, rooms: npt.NDArray[np.uint32], regions: Mapping[int, BaseGeometry], cell: float) -> None:
        self.drawn, self.regions, self.cell = rooms, regions, cell
        self.codes = sorted(regions)
        rows, columns = rooms.shape
        # (room, rows, columns): share of each cell; (room, side, rows, columns): share of each of its sides.
        self.share = np.zeros((len(self.codes), rows, columns))
        self.sides = np.zeros((len(self.codes), 4, rows, columns))
        for index, code in enumerate(self.codes):
            self._measure(index, regions[code])

    def _measure(self, index: int, region: BaseGeometry) -> None:
        west, south, east, north = (v / self.cell for v in region.bounds)
        shapely.prepare(region)
        for r in range(int(-north), math.ceil(-south)):
            for c in range(int(west), math.ceil(east)):
                square = cell_box(c, r, self.cell)
                if region.covers(square):
                    self.share[index, r, c], self.sides[index, :, r, c] = 1.0, 1.0
                    continue
                part = region.intersection(square)
                share = part.area / self.cell**2
                if share < _WHOLE:
                    continue
                self.share[index, r, c] = 1.0 if share > 1 - _WHOLE else share
                x0, y0, x1, y1 = square.bounds
                lines = [((x0, y1), (x1, y1)), ((x1, y1), (x1, y0)), ((x0, y0), (x1, y0)), ((x0, y0), (x0, y1))]
                for side, line in enumerate(lines):
                    strip = LineString(line).buffer(_STRIP_MM, cap_style="flat")
                    self.sides[index, side, r, c] = part.intersection(strip).area / (_STRIP_MM * self.cell)

    def survey(self) -> Survey:
        """Rooms by the largest share of each cell; lines by what lies on their two sides."""
        rooms = self.drawn.copy()
        best = self.share.argmax(axis=0)
        most = self.share.max(axis=0)
        mine = (rooms == 0) & (most >= LEAST_SHARE)
        rooms[mine] = np.array(self.codes, np.uint32)[best[mine]]
        whole = (self.drawn != 0) | (most == 1.0)
        across, mixed_across = self._between(rooms, upright=False)
        down, mixed_down = self._between(rooms, upright=True)
        shut = across != 0, down != 0
        part = (most > 0) & ~whole
        return Survey(
            rooms, across, down, OffGrid(dict(self.regions), whole, part, mixed_across, mixed_down, *shut, self.cell)
        )

    def _between(self, rooms: npt.NDArray[np.uint32], *, upright: bool) -> tuple[Codes, Bools]:
        """(lines: 1 for a wall; lines of which only a part is border) between rows, or between columns."""
        pad = ((0, 0), (1, 1)) if upright else ((1, 1), (0, 0))
        near, far = np.s_[:, :-1] if upright else np.s_[:-1], np.s_[:, 1:] if upright else np.s_[1:]
        # The side of the cell before the line that lies on it, and of the cell behind it.
        first, second = (1, 3) if upright else (2, 0)
        padded = np.pad(rooms, pad)
        lines = (padded[near] != padded[far]).astype(np.int16)
        before = np.array([np.pad(self.sides[k, first], pad)[near] for k in range(len(self.codes))])
        behind = np.array([np.pad(self.sides[k, second], pad)[far] for k in range(len(self.codes))])
        drawn = np.pad(self.drawn, pad)
        plain = [np.isin(drawn[side], self.codes) | (drawn[side] == 0) for side in (near, far)]
        whole, none = 0.999, 0.01
        open_ = ((before >= whole) & (behind >= whole)).any(axis=0)
        partly = (np.minimum(before, behind) > none).any(axis=0) & ~open_
        touched = ((before > none) | (behind > none)).any(axis=0)
        uneven = [
            ((part > none) & (part < whole)).any(axis=0) & known
            for part, known in zip((before, behind), plain, strict=True)
        ]
        mixed: Bools = (uneven[0] | uneven[1]) & ~open_
        lines[self._shaped(pad, upright=upright)] = 1
        lines[open_ | partly] = 0
        empty = ~touched & (padded[near] == 0) & (padded[far] == 0)
        lines[empty] = 0
        return lines, mixed

    def _shaped(self, pad: tuple[tuple[int, int], ...], *, upright: bool) -> Bools:
        """Lines beside a cell of which a room with shapes has a part."""
        part: Bools = np.pad((self.share > 0).any(axis=0), pad)
        return part[:, :-1] | part[:, 1:] if upright else part[:-1] | part[1:]
