"""Rooms as drawn off the grid: circles, polygons with bowed sides, slanting and curved halls, to polygons in mm.

Arcs are flattened to chords that leave the arc by no more than a stated error. Their points are symmetrical by
construction: pieces that are alike come out alike.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry import Polygon
from shapely.validation import explain_validity

from tilegen.errors import InputError
from tilegen.geometry import Point, arc_points, chord_angle, sides_of, signed_area

# Smaller rooms than this share of a cell, and narrower ones than this share of its side, are slips of the pen.
LEAST_AREA, LEAST_WIDTH = 0.05, 0.1
MOST_CORNERS = 2000
_NONE = 1e-9
_SHORTEST = 0.1


@dataclass(frozen=True, slots=True)
class Circle:
    """centre, radius: in cells from the drawing's top left corner, y down."""

    centre: Point
    radius: float

    def rings(self, cell: float) -> list[list[Point]]:
        """Its outline, mm."""
        _positive(self.radius, "a radius")
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
                    f"a side from {_at(a)} to {_at(b)} bowed by {bow:g} cells",
                    expected=f"at most half its length, {math.dist(a, b) / 2:g} (a half circle)",
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
        _positive(self.width, "a width")
        (x0, y0), (x1, y1) = self.start, self.end
        length = math.dist(self.start, self.end)
        if length < LEAST_WIDTH:
            raise InputError(f"a hall {length:g} cells long at {_at(self.start)}", expected=f"at least {LEAST_WIDTH:g}")
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
        _positive(self.width, "a width")
        if self.radius < self.width / 2:
            raise InputError(
                f"a curved hall {self.width:g} wide about a radius of {self.radius:g} cells",
                expected="a radius of at least half its width",
            )
        sweep = self.end - self.start
        if not LEAST_WIDTH < sweep <= 360 + _NONE:
            raise InputError(f"a curved hall from {self.start:g} to {self.end:g} degrees", expected="up to 360 more")
        outer, inner = self.radius + self.width / 2, self.radius - self.width / 2
        if sweep > 360 - _NONE:
            return [_around(self.centre, r, cell) for r in (outer, inner) if r > _NONE]
        far = _along(self.centre, outer, cell, self.start, self.end)
        near = _along(self.centre, inner, cell, self.start, self.end) if inner > _NONE else [_scaled(self.centre, cell)]
        return [far + near[::-1]]


Outline = Circle | Corners | Hall | Arc


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


def _check(polygon: Polygon, cell: float) -> None:
    if not polygon.is_valid:
        reason = explain_validity(polygon)
        words, _, rest = reason.partition("[")
        where = " ".join(f"{float(v) / cell:.3f}" for v in rest.rstrip("]").split()[:2]).replace(" ", ", ")
        raise InputError(
            f"an outline that crosses or touches itself near ({where}) ({words.lower()})", expected="a simple outline"
        )
    x, y = (v / cell for v in polygon.representative_point().coords[0])
    if polygon.area < LEAST_AREA * cell**2:
        raise InputError(
            f"an outline of {polygon.area / cell**2:.3g} cells at ({x:.3f}, {y:.3f})",
            expected=f"at least {LEAST_AREA:g} cells of floor",
        )
    if polygon.buffer(-LEAST_WIDTH / 2 * cell).is_empty:
        raise InputError(
            f"an outline narrower than {LEAST_WIDTH:g} cells all along, at ({x:.3f}, {y:.3f})", expected="a wider one"
        )


def _check_corners(corners: Sequence[Point]) -> None:
    if not 3 <= len(corners) <= MOST_CORNERS:
        raise InputError(f"{len(corners)} corners", expected=f"3 to {MOST_CORNERS}")
    for number, (a, b) in enumerate(sides_of(corners), 1):
        if math.dist(a, b) < 1e-3:
            raise InputError(
                f"corners {number} and {number % len(corners) + 1} both at {_at(a)}", expected="corners that differ"
            )


def _positive(value: float, what: str) -> None:
    if value <= 0:
        raise InputError(f"{what} of {value:g} cells", expected="more than 0")


def _scaled(point: Point, cell: float) -> Point:
    return point[0] * cell, point[1] * cell


def _at(point: Point) -> str:
    return f"({point[0]:g}, {point[1]:g})"


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
