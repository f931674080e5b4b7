"""The largest disc that stands in a block of spaces less what its walls and posts take, and in any polygon."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt
import shapely
from scipy import optimize
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, Point, polygons_of, rings_of
from tilegen.model.grid import Grid

Floats = npt.NDArray[np.float64]
Bytes = npt.NDArray[np.uint8]
Line = tuple[float, int]
# The first search stops here, mm; from there the disc is grown until it gains no more than the last figure.
_COARSE_MM, _FINE_MM = 1e-3, 1e-9
_ROUNDS = 40
# How far the centre may move in one round, mm, and so which edges can come to matter.
_STEP_MM = 0.5


def known_disc(strips: Bytes, posts: Bytes, grid: Grid, known: dict[tuple[bytes, bytes], float]) -> float:
    """The largest disc of a block, worked out once for its four turns and their mirror images."""
    alike = []
    for _ in range(4):
        for one, other in ((strips, posts), _mirrored(strips, posts)):
            alike.append((one.tobytes(), other.tobytes()))
        strips, posts = _turned(strips, posts)
    key = min(alike)
    if key not in known:
        known[key] = largest_disc(strips, posts, grid.pitch, grid.wall_thickness)
    return known[key]


def largest_disc(strips: Bytes, posts: Bytes, pitch: float, wall: float) -> float:
    """The diameter, in mm, of the largest disc in a block's floor less strips and posts (square, n x n spaces).

    The floor's edges are axis-parallel lines and its inward corners points. The centre of a largest disc is as
    far from three of them (or it could grow), so every such centre is worked out in closed form, and the one
    with most room around it taken: exact to rounding. With one post only: (pitch - wall)(4 - 2 sqrt 2).
    """
    return largest_free(taken_by(strips, posts, pitch, wall), len(strips) * pitch)


def largest_free(taken: Floats, side: float) -> float:
    """The same in a square of any side, mm, less rectangles (m, 4): west, north, east, south."""
    upright = {(0.0, 1), (side, -1)} | {(x, 1) for x in taken[:, 2]} | {(x, -1) for x in taken[:, 0]}
    level = {(0.0, 1), (side, -1)} | {(y, 1) for y in taken[:, 3]} | {(y, -1) for y in taken[:, 1]}
    points = {(x, y) for x0, y0, x1, y1 in taken for x in (x0, x1) for y in (y0, y1) if 0 < x < side and 0 < y < side}
    lines = [sorted((a, s) for a, s in group if 0 <= a <= side) for group in (upright, level)]
    centres = [(side / 2, side / 2), *_centres(lines[0], lines[1], sorted(points))]
    centres += [(x, y) for y, x in _centres(lines[1], lines[0], sorted((y, x) for x, y in points))]
    return 2 * float(_room_around(np.array(centres), taken, side).max())


def taken_by(strips: Bytes, posts: Bytes, pitch: float, wall: float) -> Floats:
    """(m, 4) rectangles west, north, east, south that strips and posts take; strips in a row are one."""
    found: set[tuple[float, float, float, float]] = set()
    n = len(strips)
    for r in range(n):
        for c in range(n):
            west, north, east, south = c * pitch, r * pitch, (c + 1) * pitch, (r + 1) * pitch
            for k in range(4):
                if strips[r, c] >> k & 1:
                    first, last = _run(strips[r], k, c) if k in (0, 2) else _run(strips[:, c], k, r)
                    low, high = first * pitch, (last + 1) * pitch
                    found.add(
                        (
                            (low, north, high, north + wall),
                            (east - wall, low, east, high),
                            (low, south - wall, high, south),
                            (west, low, west + wall, high),
                        )[k]
                    )
                if posts[r, c] >> k & 1:
                    x, y = (east - wall if k in (0, 1) else west), (south - wall if k in (1, 2) else north)
                    found.add((x, y, x + wall, y + wall))
    return np.array(sorted(found)).reshape(-1, 4)


def _turned(strips: Bytes, posts: Bytes) -> tuple[Bytes, Bytes]:
    """A quarter turn clockwise: north becomes east, the north-east corner the south-east one."""
    strips, posts = np.rot90(strips, -1), np.rot90(posts, -1)
    return (strips << 1 & 15 | strips >> 3).astype(np.uint8), (posts << 1 & 15 | posts >> 3).astype(np.uint8)


def _mirrored(strips: Bytes, posts: Bytes) -> tuple[Bytes, Bytes]:
    """East and west exchanged; so are corners 0 and 3 (north) and 1 and 2 (south)."""
    strips, posts = strips[:, ::-1], posts[:, ::-1]
    strips = (strips & 5 | (strips & 2) << 2 | (strips & 8) >> 2).astype(np.uint8)
    posts = ((posts & 1) << 3 | (posts & 8) >> 3 | (posts & 2) << 1 | (posts & 4) >> 1).astype(np.uint8)
    return strips, posts


def _run(strips: Bytes, side: int, at: int) -> tuple[int, int]:
    """First and last of the places in a row, around one of them, that carry a strip along a side."""
    carried = [bool(strip >> side & 1) for strip in strips.tolist()]
    first = last = at
    while first > 0 and carried[first - 1]:
        first -= 1
    while last + 1 < len(carried) and carried[last + 1]:
        last += 1
    return first, last


def _centres(upright: list[Line], level: list[Line], points: list[Point]) -> list[Point]:
    """Centres as far from three features as from each other: those with an upright line in them, and three points.

    A line (a, s): the floor lies to its growing side if s = 1, to its falling side if s = -1.
    """
    found: list[Point] = []
    for (a, s), (b, t) in combinations(upright, 2):
        if s == t:
            continue
        x, r = (a + b) / 2, abs(b - a) / 2
        found += [(x, c + u * r) for c, u in level]
        for px, py in points:
            found += [(x, py + e) for e in _roots(1.0, 0.0, (x - px) ** 2 - r * r)]
    for a, s in upright:
        for b, t in level:
            for px, py in points:
                u, v = a - px, b - py
                found += [(a + s * r, b + t * r) for r in _roots(1.0, 2 * (s * u + t * v), u * u + v * v)]
        for (px, py), (qx, qy) in combinations(points, 2):
            found += _line_and_points(a, (px, py), (qx, qy))
    found += [centre for three in combinations(points, 3) for centre in _circumcentre(*three)]
    return found


def _line_and_points(a: float, p: Point, q: Point) -> list[Point]:
    """Centres as far from an upright line as from two points: where two parabolas meet."""
    u, v = a - p[0], a - q[0]
    if u == 0 or v == 0:
        return []
    ys = _roots(
        v - u,
        2 * (u * q[1] - v * p[1]),
        v * u * u + v * p[1] ** 2 - u * v * v - u * q[1] ** 2,
    )
    return [(a - (u * u + (y - p[1]) ** 2) / (2 * u), y) for y in ys]


def _circumcentre(p: Point, q: Point, r: Point) -> list[Point]:
    ax, ay, bx, by = q[0] - p[0], q[1] - p[1], r[0] - p[0], r[1] - p[1]
    d = 2 * (ax * by - ay * bx)
    if abs(d) < 1e-12:
        return []
    a, b = ax * ax + ay * ay, bx * bx + by * by
    return [(p[0] + (by * a - ay * b) / d, p[1] + (ax * b - bx * a) / d)]


def _roots(a: float, b: float, c: float) -> list[float]:
    """Real roots of a x^2 + b x + c, without cancellation; a double root that rounding pushed off the axis too."""
    if abs(a) < 1e-12:
        return [] if b == 0 else [-c / b]
    d = b * b - 4 * a * c
    if d < -1e-9 * max(b * b, abs(4 * a * c), 1e-300):
        return []
    q = -(b + (1 if b >= 0 else -1) * max(d, 0.0) ** 0.5) / 2
    return [q / a] if q == 0 else [q / a, c / q]


def _room_around(centres: Floats, taken: Floats, side: float) -> Floats:
    """How far each centre is from the block's sides and from all that is taken; negative outside the block."""
    x, y = centres.T
    room: Floats = np.minimum.reduce([x, y, side - x, side - y])
    for west, north, east, south in taken:
        beside, beyond = np.maximum(west - x, x - east), np.maximum(north - y, y - south)
        inside = np.maximum(beside, beyond)
        room = np.minimum(room, np.where(inside < 0, inside, np.hypot(beside.clip(0), beyond.clip(0))))
    return room


def largest_disc_in(region: BaseGeometry) -> float:
    """The diameter of the largest disc in any part of a region, mm; 0 where it has none."""
    return max((_largest_in_polygon(part) for part in polygons_of(region, EQUAL_MM)), default=0.0)


def _largest_in_polygon(region: Polygon) -> float:
    """The diameter of the largest disc in a polygon, mm.

    The centre found by shapely's search is moved by small linear programmes: of every edge near it the distance is at
    least that from the line square to the shortest way there, so a step that raises the least of these is sure.
    """
    line = shapely.maximum_inscribed_circle(region, tolerance=_COARSE_MM)
    centre = np.array(line.coords[0])
    starts, ends = _edges(region)
    best = float(_nearest(centre, starts, ends)[1].min())
    for _ in range(_ROUNDS):
        moved = _step(centre, starts, ends, best)
        radius = float(_nearest(moved, starts, ends)[1].min())
        if radius <= best + _FINE_MM:
            return 2 * max(best, radius)
        centre, best = moved, radius
    return 2 * best


def _edges(region: Polygon) -> tuple[Floats, Floats]:
    rings = [shapely.get_coordinates(ring) for ring in rings_of(region)]
    return np.concatenate([r[:-1] for r in rings]), np.concatenate([r[1:] for r in rings])


def _nearest(centre: Floats, starts: Floats, ends: Floats) -> tuple[Floats, Floats]:
    """The nearest point of each edge, and how far it is."""
    along = ends - starts
    share = ((centre - starts) * along).sum(axis=1) / (along**2).sum(axis=1)
    points = starts + along * share.clip(0, 1)[:, None]
    return points, np.hypot(*(centre - points).T)


def _step(centre: Floats, starts: Floats, ends: Floats, radius: float) -> Floats:
    """The centre moved to where the least of the linear distances is largest."""
    points, away = _nearest(centre, starts, ends)
    near = (away < radius + 2 * _STEP_MM) & (away > 0)
    ways = (centre - points[near]) / away[near][:, None]
    # u . (c + s - q) >= r, so r - u . s <= |c - q|; unknown are the step s and r.
    rows = np.column_stack([-ways, np.ones(len(ways))])
    bounds = [(-_STEP_MM, _STEP_MM), (-_STEP_MM, _STEP_MM), (0, None)]
    found = optimize.linprog([0.0, 0.0, -1.0], A_ub=rows, b_ub=away[near], bounds=bounds, method="highs-ds")
    if found.status != 0 or found.x is None:
        return centre
    moved: Floats = centre + found.x[:2]
    return moved
