"""Plane geometry that every part of the program shares: tolerances, directions, turns, rings, offsets, arcs, overlays.

Lengths are millimetres, angles radians. Points are (x, y); where many are worked on at once they are arrays, (n, 2).
A ring is the corners of a closed line, the first one not repeated. Nothing here knows of tiles or of files.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LinearRing, LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

Point = tuple[float, float]
Segment = tuple[Point, Point]
Bounds = tuple[float, float, float, float]
Points = npt.NDArray[np.float64]
Geometries = npt.NDArray[np.object_]
Region = TypeVar("Region", bound=BaseGeometry)

# --- tolerances ---

# Sums of the same lengths in another order differ by less.
ROUNDING_MM = 1e-9
# Lengths that differ by less are equal, so are areas; a disc fits to this; drawn floors are joined on this grid.
EQUAL_MM = 1e-6
# The grid that derived points lie on; points nearer to each other are one point.
SNAP_MM = 1e-3
# Points rounded to that grid, and lines through them, are no further from where they were meant.
NEAR_MM = 2 * SNAP_MM
# How far a chord may leave its curve: finer than any cut or print.
CHORD_MM = 0.02
# Less area is what snapping leaves over.
CRUMB_MM2 = 0.05

# --- parts of geometries ---


def polygons_of(geometry: BaseGeometry, least: float = 0.0) -> list[Polygon]:
    """The polygons of a geometry that have more area than `least`, mm2; lines and points dropped."""
    return [part for part in shapely.get_parts(geometry).tolist() if isinstance(part, Polygon) and part.area > least]


def polygonal(geometry: BaseGeometry) -> Polygon | MultiPolygon:
    """The areas of a geometry as one, lines and points dropped."""
    parts = polygons_of(geometry)
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def largest_polygon(geometry: BaseGeometry) -> Polygon:
    """The largest area of a geometry; an empty polygon if it has none."""
    return max(polygons_of(geometry), key=lambda part: part.area, default=Polygon())


def is_box(part: Polygon) -> bool:
    """Whether an area fills its bounds."""
    west, south, east, north = part.bounds
    return (east - west) * (north - south) - part.area < EQUAL_MM


def lines_of(geometry: BaseGeometry, least: float = 0.0) -> list[LineString]:
    """The lines of a geometry that are longer than `least`, mm; points and areas dropped."""
    return [
        part for part in shapely.get_parts(geometry).tolist() if isinstance(part, LineString) and part.length > least
    ]


def lineal(geometry: BaseGeometry) -> LineString | MultiLineString:
    """The lines of a geometry as one, points and areas dropped."""
    parts = lines_of(geometry)
    return parts[0] if len(parts) == 1 else MultiLineString(parts)


def segments_of(geometry: BaseGeometry, least: float = 0.0) -> list[Segment]:
    """The straight lines of a geometry as their two ends; those longer than `least`, mm."""
    return [(_point(line.coords[0]), _point(line.coords[-1])) for line in lines_of(geometry, least)]


def _point(coordinates: Sequence[float]) -> Point:
    return float(coordinates[0]), float(coordinates[1])


# --- directions ---


def unit_vector(a: Point, b: Point) -> Point:
    """From one point towards another."""
    length = math.dist(a, b)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def direction_of(edge: Segment) -> Point:
    """Unit vector along an edge; exact along an axis."""
    (x0, y0), (x1, y1) = edge
    dx, dy = x1 - x0, y1 - y0
    if dx == 0 or dy == 0:
        return (float((dx > 0) - (dx < 0)), float((dy > 0) - (dy < 0)))
    length = math.hypot(dx, dy)
    return (dx / length, dy / length)


def from_edge(edge: Segment, along: float, right: float = 0.0) -> Point:
    """The point so far along an edge from its start, and so far to its right."""
    (x, y), (dx, dy) = edge[0], direction_of(edge)
    return x + dx * along + dy * right, y + dy * along - dx * right


def turn_right(a: Point, b: Point, c: Point) -> float:
    """How far a path turns right at its middle point; negative to the left.

    >>> round(math.degrees(turn_right((0, 0), (0, 1), (1, 1))))
    90
    """
    ax, ay, bx, by = b[0] - a[0], b[1] - a[1], c[0] - b[0], c[1] - b[1]
    return math.atan2(ay * bx - ax * by, ax * bx + ay * by)


# --- turns ---


def quarter_turned(points: Points) -> Points:
    """Points a quarter turn clockwise about the origin, exactly."""
    return np.stack([points[:, 1], -points[:, 0]], axis=1)


def reflected(region: Region) -> Region:
    """A region seen from its other side: east and west exchanged."""
    return shapely.transform(region, lambda points: points * (-1.0, 1.0))


# --- rings ---


def corners_of(ring: LinearRing) -> list[Point]:
    """The corners of a ring as plain points."""
    return [_point(corner) for corner in ring.coords[:-1]]


def rings_of(polygon: Polygon) -> list[LinearRing]:
    """The outer ring of a polygon, then its holes."""
    return [polygon.exterior, *polygon.interiors]


def polygon_rings(geometry: BaseGeometry) -> tuple[tuple[Points, ...], ...]:
    """Of each polygon of a geometry its rings as arrays, the outer one first."""
    return tuple(tuple(shapely.get_coordinates(r)[:-1] for r in rings_of(part)) for part in polygons_of(geometry))


def oriented_rings(geometry: BaseGeometry) -> list[Points]:
    """The rings of a region, outer ones counter-clockwise, holes clockwise: its inside is on their left."""
    return [shapely.get_coordinates(ring)[:-1] for part in polygons_of(geometry) for ring in rings_of(orient(part))]


def sides_of(ring: Sequence[Point]) -> list[Segment]:
    """Each corner of a ring with the next one."""
    return list(pairwise((*ring, ring[0])))


def signed_area(ring: Sequence[Sequence[float]] | Points) -> float:
    """Of a ring, mm2: positive if it runs counter-clockwise (y up).

    >>> signed_area([(0, 0), (2, 0), (2, 1)])
    1.0
    """
    x, y = np.asarray(ring, np.float64).T
    return math.fsum(x * np.roll(y, -1) - y * np.roll(x, -1)) / 2


def turns_of(ring: Points) -> Points:
    """(n,) how far a ring turns left at each corner."""
    came, goes = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turns: Points = np.arctan2(came[:, 0] * goes[:, 1] - came[:, 1] * goes[:, 0], (came * goes).sum(axis=1))
    return turns


def without_collinear(polygon: BaseGeometry) -> Polygon:
    """A polygon less the corners that lie exactly on a side along an axis; coordinates stay bit for bit.

    Raises:
        ValueError: the parts do not hang together.
    """
    rings = [_without_upright(corners_of(ring)) for ring in rings_of(one_polygon(polygon))]
    return Polygon(rings[0], rings[1:])


def _without_upright(ring: list[Point]) -> list[Point]:
    kept = []
    for i, (x, y) in enumerate(ring):
        (px, py), (nx, ny) = ring[i - 1], ring[(i + 1) % len(ring)]
        if not (px == x == nx or py == y == ny):
            kept.append((x, y))
    return kept


def straightened(polygon: BaseGeometry) -> Polygon:
    """A polygon less the corners that lie on a straight side but for `NEAR_MM`.

    Raises:
        ValueError: the parts do not hang together.
    """
    plain = []
    for ring in map(corners_of, rings_of(one_polygon(polygon))):
        index = 0
        while index < len(ring) > 3:
            before, after = ring[index - 1], ring[(index + 1) % len(ring)]
            if LineString([before, after]).distance(shapely.Point(ring[index])) < NEAR_MM:
                del ring[index]
                index = max(0, index - 1)
            else:
                index += 1
        plain.append(ring)
    return Polygon(plain[0], plain[1:])


def one_polygon(region: BaseGeometry) -> Polygon:
    """A region that hangs together.

    Raises:
        ValueError: it does not.
    """
    if not isinstance(region, Polygon):
        raise ValueError("a region that falls apart")  # noqa: TRY004 - a value of the right kind in the wrong state
    return region


# --- offsets ---


def offset_path(path: Sequence[Point], depth: float) -> list[Point]:
    """A path moved to its right by `depth` mm, mitred at its corners, square at its ends.

    >>> offset_path([(0, 0), (0, 5), (5, 5)], 1)
    [(1.0, 0.0), (1.0, 4.0), (5.0, 4.0)]
    """
    steps = [unit_vector(a, b) for a, b in pairwise(path)]
    # To the right of each step.
    normals = [(y, -x) for x, y in steps]
    moved = []
    for (x, y), before, after in zip(path, [normals[0], *normals], [*normals, normals[-1]], strict=True):
        share = depth / (1 + before[0] * after[0] + before[1] * after[1])
        moved.append((x + (before[0] + after[0]) * share, y + (before[1] + after[1]) * share))
    return moved


def opened(region: BaseGeometry, half: float) -> BaseGeometry:
    """A region less what is narrower than 2 `half`, mm: a morphological opening, corners mitred; valid."""
    found = region.buffer(-half, join_style="mitre").buffer(half, join_style="mitre")
    # A mitred buffer may cross itself by a rounding (GEOS 3.14).
    return found if found.is_valid else shapely.make_valid(found)


# --- arcs ---


def chord_angle(radius: float, error: float = CHORD_MM) -> float:
    """The angle of a chord that leaves its arc by `error`: r (1 - cos(angle / 2)) = error.

    >>> round(math.degrees(chord_angle(50, 0.02)), 2)
    3.24
    """
    return 2 * math.acos(max(0.0, 1 - error / radius))


def arc_points(a: Point, b: Point, bow: float, error: float = CHORD_MM) -> list[Point]:
    """From a to b along an arc whose middle lies `bow` mm to the right of its chord, in chords off it by `error`.

    Of chord c and bow h: radius c^2 / (8 h) + h / 2, half the angle 2 atan(2 h / c); DXF's bulge is 2 h / c.
    """
    chord = math.dist(a, b)
    if abs(bow) < error / 4:
        return [a, b]
    half = 2 * math.atan(2 * abs(bow) / chord)
    radius = chord**2 / (8 * abs(bow)) + abs(bow) / 2
    steps = max(2, math.ceil(2 * half / chord_angle(radius, error)))
    (ux, uy), (mx, my) = ((b[0] - a[0]) / chord, (b[1] - a[1]) / chord), ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    nx, ny = (uy, -ux) if bow > 0 else (-uy, ux)
    points = [a]
    for k in range(1, steps):
        angle = half * (2 * k - steps) / steps
        along, out = radius * math.sin(angle), radius * (math.cos(angle) - math.cos(half))
        points.append((mx + ux * along + nx * out, my + uy * along + ny * out))
    return [*points, b]


def circle_through(a: Points, b: Points, c: Points) -> tuple[Points, float]:
    """Centre and radius of the circle through three points; a radius of 0 if they lie on a line."""
    matrix = 2 * np.array([b - a, c - a])
    if abs(np.linalg.det(matrix)) < 1e-12:
        return a, 0.0
    centre = np.linalg.solve(matrix, np.array([b @ b - a @ a, c @ c - a @ a]))
    return centre, float(np.hypot(*(a - centre)))


# --- overlays ---

# On floating coordinates GEOS (3.14) may lose a whole polygon without a word where two edges run within rounding of
# each other; noded on a grid, however fine, it does not.
_OVERLAY_MM = 1e-9


def intersection(first: BaseGeometry, second: BaseGeometry) -> Polygon | MultiPolygon:
    """What two regions share; sound where their edges nearly lie on each other."""
    return polygonal(shapely.intersection(first, second, grid_size=_OVERLAY_MM))


def difference(first: BaseGeometry, second: BaseGeometry) -> Polygon | MultiPolygon:
    """The first region without the second; sound where their edges nearly lie on each other."""
    return polygonal(shapely.difference(first, second, grid_size=_OVERLAY_MM))


def welded(regions: Sequence[Polygon], grid: float, reach: float) -> BaseGeometry:
    """Regions that meet along lines as one.

    grid: on which they are joined, mm. reach: corners this near to each other, or to another region's edge, are
    meant to lie on each other.
    """
    try:
        whole = shapely.union_all(regions, grid_size=grid)
    except shapely.errors.GEOSException:
        whole = None
    if isinstance(whole, Polygon) and shapely.minimum_clearance(whole) > reach:
        return whole
    # They fell apart, or keep a crack no wider than rounding.
    return shapely.union_all(_with_common_corners(regions, reach), grid_size=grid)


def _with_common_corners(regions: Sequence[Polygon], reach: float) -> list[Polygon]:
    """Regions whose common edges have the same corners, bit for bit."""
    every = np.unique(shapely.get_coordinates(regions), axis=0)
    tree = shapely.STRtree([shapely.Point(corner) for corner in every])

    def near(line: BaseGeometry) -> npt.NDArray[np.intp]:
        return np.sort(tree.query(line, predicate="dwithin", distance=reach))

    def own(point: Points) -> int:
        """The first of the corners that are one with a point."""
        return int(near(shapely.Point(point))[0])

    def ring(points: Points) -> list[Points]:
        made: list[int] = []
        for a, b in pairwise(points):
            between = near(LineString([a, b]))
            along = (every[between] - a) @ (b - a)
            made += [own(every[i]) for i in between[np.argsort(along, kind="stable")]]
        return [every[i] for i, before in zip(made, [made[-1], *made], strict=False) if i != before]

    found = [[ring(shapely.get_coordinates(r)) for r in rings_of(region)] for region in regions]
    return [Polygon(rings[0], rings[1:]) for rings in found]


def faces_of(region: Polygon, lines: Sequence[BaseGeometry], grid: float) -> tuple[Geometries, Geometries]:
    """The faces that lines divide a region into, noded on a grid, mm, and a point in each."""
    noded = shapely.union_all([region.boundary, *lines], grid_size=grid)
    faces = np.array(shapely.get_parts(shapely.polygonize(shapely.get_parts(noded))))
    points = shapely.point_on_surface(faces)
    inside = shapely.contains(region, points)
    return faces[inside], points[inside]
