"""Rooms off the grid: shapes as drawn, which floor they cover, and what that makes of the lines between cells.

Shapes are circles, polygons with bowed sides, slanting and curved halls. Arcs are flattened to chords that leave the
arc by no more than a stated error; their points are symmetrical by construction: pieces that are alike come out alike.

Map coordinates: mm, x to the east, y to the north, (0, 0) at the drawing's north-west corner.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

from tilegen.errors import InFile, InputError, RoomRef, Said
from tilegen.geometry import EQUAL_MM, SNAP_MM, Point, arc_points, chord_angle, sides_of, signed_area
from tilegen.lengths import counted, rounded_down, show_number, show_point

# Smaller rooms than this share of a cell, and narrower ones than this share of its side, are slips of the pen.
LEAST_AREA, LEAST_WIDTH = 0.05, 0.1
MOST_CORNERS = 2000
_NONE = 1e-9
_SHORTEST = 0.1
# A cell counts as a room's where at least this share of it is that room's floor.
LEAST_SHARE = 0.02
_WHOLE = 1e-7
# How deep a strip along a line is looked at to see whether floor lies there.
_STRIP_MM = 1e-4
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Circle:
    """centre, radius: in cells from the drawing's top left corner, y down."""

    centre: Point
    radius: float

    def rings(self, cell: float) -> list[list[Point]]:
        """Its outline, mm."""
        _positive(self.radius, "radius")
        return [_around(self.centre, self.radius, cell)]


@dataclass(frozen=True, slots=True)
class Corners:
    """A polygon. bows: how far the side from each corner to the next bends outwards in its middle, in cells."""

    corners: tuple[Point, ...]
    bows: tuple[float, ...]

    def rings(self, cell: float) -> list[list[Point]]:
        """Its outline, mm."""
        _check_corners(self.corners)
        # Outwards is to the right where the corners run counter-clockwise with y up: clockwise as they are seen.
        outwards = math.copysign(1.0, signed_area(self.corners))
        points: list[Point] = []
        for (a, b), bow in zip(sides_of(self.corners), self.bows, strict=True):
            if abs(bow) > math.dist(a, b) / 2 + _NONE:
                raise InputError(
                    f"the side from {show_point(*a)} to {show_point(*b)} bends by {abs(bow):.4g} cells, "
                    "more than a half circle",
                    cure=f"Use at most {show_number(rounded_down(math.dist(a, b) / 2))}, half the side's length",
                )
            points += arc_points(_scaled(a, cell), _scaled(b, cell), bow * cell * outwards)[:-1]
        return [points]


@dataclass(frozen=True, slots=True)
class Hall:
    """A straight hall at any angle: from the middle of one end to the middle of the other."""

    start: Point
    end: Point
    width: float

    def rings(self, cell: float) -> list[list[Point]]:
        """Its outline, mm."""
        _positive(self.width, "width")
        (x0, y0), (x1, y1) = self.start, self.end
        length = math.dist(self.start, self.end)
        if length < LEAST_WIDTH:
            raise InputError(
                f"the hall at {show_point(*self.start)} is only {show_number(length, 3)} cells long",
                cure=f"Make it at least {LEAST_WIDTH:g} cells long",
            )
        nx, ny = (y1 - y0) / length * self.width / 2, (x0 - x1) / length * self.width / 2
        corners = ((x0 + nx, y0 + ny), (x1 + nx, y1 + ny), (x1 - nx, y1 - ny), (x0 - nx, y0 - ny))
        return [[_scaled(p, cell) for p in corners]]


@dataclass(frozen=True, slots=True)
class Arc:
    """A curved hall along a circle, from one bearing to the other clockwise: degrees, 0 north, 90 east."""

    centre: Point
    radius: float
    width: float
    start: float
    end: float

    def rings(self, cell: float) -> list[list[Point]]:
        """Its outline, and the inner one too if it goes all the way round, mm."""
        _positive(self.width, "width")
        if self.radius < self.width / 2:
            raise InputError(
                f"a curved hall {show_number(self.width, 3)} wide needs a radius of at least "
                f"{show_number(self.width / 2, 3)}, and this one has {show_number(self.radius, 3)}",
                cure="Make the radius larger or the hall narrower",
            )
        sweep = self.end - self.start
        if not LEAST_WIDTH < sweep <= 360 + _NONE:
            raise InputError(
                f"a curved hall can't go from {show_number(self.start)} to {show_number(self.end)} degrees",
                cure='Write a larger number for "to", since it goes clockwise, but by at most 360',
            )
        outer, inner = self.radius + self.width / 2, self.radius - self.width / 2
        if sweep > 360 - _NONE:
            return [_around(self.centre, r, cell) for r in (outer, inner) if r > _NONE]
        far = _along(self.centre, outer, cell, self.start, self.end)
        near = _along(self.centre, inner, cell, self.start, self.end) if inner > _NONE else [_scaled(self.centre, cell)]
        return [far + near[::-1]]


@dataclass(frozen=True, slots=True)
class DrawnShape:
    """A shape as written, for a room."""

    room: str
    outline: Outline
    place: str = ""


def polygon_of(shape: DrawnShape, cell: float) -> Polygon:
    """The floor a shape covers, in mm from the drawing's top left corner, y down; cell: side of a cell in mm.

    Raises:
        InputError: crossed, tiny, or of no width; with the coordinates of the fault, in cells.
    """
    try:
        rings = shape.outline.rings(cell)
        polygon = Polygon(rings[0], rings[1:])
        _check(polygon, cell)
    except InputError as error:
        raise error.located(place=shape.place) from None
    return polygon


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


def cells_of(rooms: npt.NDArray[np.uint32], room: int, cell: float) -> BaseGeometry:
    """The cells of a room, by code point, in map coordinates."""
    return _joined([cell_box(c, r, cell) for r, c in np.argwhere(rooms == room).tolist()])


def _joined(parts: list[BaseGeometry]) -> BaseGeometry:
    return shapely.union_all(parts, grid_size=EQUAL_MM)


def _check_inside(outline: Polygon, shape: tuple[int, ...], cell: float, drawn: DrawnShape) -> None:
    rows, columns = shape
    west, south, east, north = (v / cell for v in outline.bounds)
    if west < -_WHOLE or north > _WHOLE or east > columns + _WHOLE or -south > rows + _WHOLE:
        raise InputError(
            Said(
                "the shape lies partly outside the drawing{}",
                InFile(
                    f": it goes from {show_point(west, -north)} to {show_point(east, -south)}, "
                    f"and the drawing from [0, 0] to [{columns}, {rows}]"
                ),
            ),
            cure='Move it, or add rows or columns of "." to the drawing',
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
        what = Said("{}{}", InFile(f"cell [{c + 1}, {r + 1}] of "), RoomRef(chr(int(rooms[r, c]))))
        _refuse_over(over, what, cell, drawn)
    for other, parts in outlines.items():
        if other == code:
            continue
        for part in np.array(parts)[shapely.intersects(parts, outline)].tolist():
            over = part.intersection(outline)
            if over.area > _WHOLE * cell**2:
                _refuse_over(over, Said("the shape of {}", RoomRef(chr(other))), cell, drawn)


def _refuse_over(over: BaseGeometry, what: str, cell: float, drawn: DrawnShape) -> None:
    x, y = (v / cell for v in over.representative_point().coords[0])
    text = Said("{}the shape lies over {}", InFile(f"at {show_point(x, -y)} "), what)
    raise InputError(text, cure="Make it smaller, or move it", place=drawn.place)


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


def _check(polygon: Polygon, cell: float) -> None:
    if not polygon.is_valid:
        _, _, spot = explain_validity(polygon).rpartition("[")
        where = [float(v) / cell for v in spot.rstrip("]").split()[:2]]
        raise InputError(
            Said("the outline crosses or touches itself{}", InFile(f" near {show_point(*where)}")),
            cure="Write its corners in the order in which you would walk round the room",
        )
    x, y = (v / cell for v in polygon.representative_point().coords[0])
    at = InFile(f" at {show_point(x, y)}")
    if polygon.area < LEAST_AREA * cell**2:
        raise InputError(
            Said("the outline{} covers less than {} squares of floor", at, f"{LEAST_AREA:g}"), cure="Make it larger"
        )
    if polygon.buffer(-LEAST_WIDTH / 2 * cell).is_empty:
        raise InputError(
            Said("the outline{} is narrower than {} squares everywhere", at, f"{LEAST_WIDTH:g}"), cure="Make it wider"
        )


def _check_corners(corners: Sequence[Point]) -> None:
    if not 3 <= len(corners) <= MOST_CORNERS:
        raise InputError(
            f"a polygon can't have {counted(len(corners), 'corner')}", cure=f"Give 3 to {MOST_CORNERS} corners"
        )
    for number, (a, b) in enumerate(sides_of(corners), 1):
        if math.dist(a, b) < 1e-3:
            raise InputError(
                Said(
                    "corners {} and {} are the same point{}",
                    number,
                    number % len(corners) + 1,
                    InFile(f", {show_point(*a)}"),
                ),
                cure="Delete one of them",
            )


def _positive(value: float, what: str) -> None:
    if value <= 0:
        raise InputError(f"the {what} is {show_number(value)} squares", cure="Make it more than 0")


def _scaled(point: Point, cell: float) -> Point:
    return point[0] * cell, point[1] * cell


def _around(centre: Point, radius: float, cell: float) -> list[Point]:
    """A whole circle: one eighth worked out, the rest by exchanging and turning."""
    r = radius * cell
    n = 2 * math.ceil(math.pi / 4 / chord_angle(r))
    cx, cy = _scaled(centre, cell)
    quarter = [_unit(90.0 * k / n) for k in range(n)]
    points = []
    for turn in range(4):
        for x, y in quarter:
            u, v = ((x, y), (-y, x), (-x, -y), (y, -x))[turn]
            points.append((cx + r * u, cy + r * v))
    return points


def _along(centre: Point, radius: float, cell: float, start: float, end: float) -> list[Point]:
    """An arc clockwise between two bearings.

    Its points divide every quarter of the circle alike, from north on, so that turned pieces of it are alike.
    """
    r = radius * cell
    step = 90.0 / (2 * math.ceil(math.pi / 4 / chord_angle(r) * (1 + _SHORTEST)))
    first, last = math.floor(start / step) + 1, math.ceil(end / step) - 1
    inner = [k * step for k in range(first, last + 1)]
    # Facets much shorter than the others are none.
    inner = [b for b in inner if start + _SHORTEST * step < b < end - _SHORTEST * step]
    cx, cy = _scaled(centre, cell)
    found = []
    for bearing in (start, *inner, end):
        # Bearing b, clockwise from north with y down, is b - 90 from east towards south.
        u, v = _unit(bearing - 90.0)
        found.append((cx + r * u, cy + r * v))
    return found


def _unit(degrees: float) -> Point:
    """Cosine and sine, exact at quarter turns and alike in every eighth of the circle."""
    quarter, rest = divmod(degrees, 90.0)
    if rest > 45:
        y, x = math.cos(math.radians(90 - rest)), math.sin(math.radians(90 - rest))
    else:
        x, y = math.cos(math.radians(rest)), math.sin(math.radians(rest))
    return ((x, y), (-y, x), (-x, -y), (y, -x))[int(quarter) % 4]


Outline = Circle | Corners | Hall | Arc
