"""Rounded stones as closed meshes: a polygon lofted along an axis, drawn in from its sides, its edges taken off."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache

import numpy as np
import numpy.typing as npt
from manifold3d import Manifold, Mesh64, triangulate

from tilegen.geometry import Point, Points

# A side that is drawn in to less than this makes no stone, mm.
_LEAST_SIDE_MM = 0.6
# A stone that has no room for its round edges is tried with sharper ones.
_SHARPER = (1.0, 0.6, 0.3)
# Sides that turn by less, as along a curve, go on in one another (the sine of some 20 degrees).
_HARDLY = 0.34
# The most of a side that its corner may take.
_MOST_OFF = 0.4
# Stones' faces have numbers from here on, which no other triangle has; what is seen in their joints has the one below.
STONES = np.uint64(1 << 30)
JOINTS = STONES - np.uint64(1)
_GOLDEN, _TINT, _JOINT = 0.6180339887498949, 0.13, 0.7
Place = Callable[[Points, npt.NDArray[np.float64]], npt.NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class StoneSide:
    """One side of a stone's outline: how far it is drawn in at its start and its end, mm; less than 0: out.

    round: whether its edges are taken off; a side that is cut off by something else stays sharp. lean: how much further
    in it lies at the stone's high end than at the low one, mm; less than 0: the other way round. edge: how much of the
    stone's radius its edges have.
    """

    start: float
    end: float
    round: bool = True
    lean: float = 0.0
    edge: float = 1.0

    def drawn(self, at_end: bool, more: float, high: bool) -> float:
        """How far in it lies at one of its ends and at one of the stone's, `more` beyond."""
        depth = (self.end if at_end else self.start) + more * self.edge * self.round
        return depth + abs(self.lean) if high == (self.lean > 0) else depth


# How much higher a plane is per mm in x and in y, and at the origin.
Lift = tuple[float, float, float]
_LEVEL: Lift = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Stone:
    """An outline (counter-clockwise corners, mm), a side from each corner to the next, and where it lies on its axis.

    low, high: its ends on the axis. radius: of its edges, mm. ends: whether the edges at its low and high end are
    taken off too. worn: how much of the radius each corner has at the low and at the high end. lifts: of its ends.
    """

    corners: tuple[Point, ...]
    sides: tuple[StoneSide, ...]
    low: float
    high: float
    radius: float
    ends: tuple[bool, bool] = (True, True)
    worn: tuple[tuple[float, float], ...] = ()
    lifts: tuple[Lift, Lift] = (_LEVEL, _LEVEL)

    def rings(self, radius: float, steps: int = 1) -> list[tuple[list[Point], float, Lift]] | None:
        """The outline at each level, its height and its lift; None where a side vanishes. steps: as of a heap."""
        ways = [_way(a, b) for a, b in zip(self.corners, (*self.corners[1:], self.corners[0]), strict=True)]
        levels = [(self.low, radius * self.ends[0], False), (self.high, radius * self.ends[1], True)]
        found = []
        for at, drawn, high in levels:
            inward = -1.0 if high else 1.0
            turns = [math.pi / 2 * k / steps for k in range(steps + 1)] if drawn and steps else [math.pi / 2]
            reach = drawn if steps else 0.0
            both = [(at + inward * reach * (1 - math.cos(t)), reach * (1 - math.sin(t))) for t in turns]
            for height, more in both[::-1] if high else both:
                ring = self._ring(more, radius, ways, steps, high=high)
                if ring is None:
                    return None
                found.append((ring, height, self.lifts[high]))
        return found

    def _ring(self, more: float, radius: float, ways: Sequence[Point], steps: int, *, high: bool) -> list[Point] | None:
        """The outline drawn in, `more` beyond its sides, its corners cut off where both sides are round."""
        sides = self.sides
        points = []
        for n, corner in enumerate(self.corners):
            depths = sides[n - 1].drawn(True, more, high), sides[n].drawn(False, more, high)
            met = _meet(corner, ways[n - 1], ways[n], depths)
            if met is None:
                return None
            points.append(met)
        following = [*points[1:], points[0]]
        lengths = [
            (b[0] - a[0]) * way[0] + (b[1] - a[1]) * way[1] for a, b, way in zip(points, following, ways, strict=True)
        ]
        if min(lengths) < _LEAST_SIDE_MM / 2:
            return None
        ring = []
        for n, (x, y) in enumerate(points):
            (dx, dy), (ex, ey) = ways[n - 1], ways[n]
            hardly = abs(dx * ey - dy * ex) < _HARDLY and dx * ex + dy * ey > 0
            if hardly or not steps or not (sides[n - 1].round and sides[n].round):
                ring.append((x, y))
                continue
            (px, py), (qx, qy) = points[n - 1], following[n]
            cut = radius * self.worn[n][high] if self.worn else radius
            back = min(cut / math.dist((x, y), (px, py)), _MOST_OFF)
            on = min(cut / math.dist((x, y), (qx, qy)), _MOST_OFF)
            starts, ends = (x + (px - x) * back, y + (py - y) * back), (x + (qx - x) * on, y + (qy - y) * on)
            for k in range(steps + 1):
                # A parabola between the two sides.
                t = k / steps
                a, b, c = (1 - t) ** 2, 2 * t * (1 - t), t**2
                ring.append((a * starts[0] + b * x + c * ends[0], a * starts[1] + b * y + c * ends[1]))
        return ring


def _way(a: Point, b: Point) -> Point:
    length = math.dist(a, b)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def _meet(at: Point, one: Point, other: Point, depths: tuple[float, float]) -> Point | None:
    """Where two lines that meet in a point meet after each is moved to its left."""
    across = one[0] * other[1] - one[1] * other[0]
    (x, y), (p, q) = at, depths
    if abs(across) < _HARDLY and one[0] * other[0] + one[1] * other[1] > 0:
        d = (p + q) / 2
        return x - (one[1] + other[1]) / 2 * d, y + (one[0] + other[0]) / 2 * d
    along = (p * (one[0] * other[0] + one[1] * other[1]) - q) / across
    mx, my = x - one[1] * p + one[0] * along, y + one[0] * p + one[1] * along
    return (mx, my) if math.dist((mx, my), at) < 8 * (abs(p) + abs(q)) + 1e-9 else None


@dataclass
class Heap:
    """Stones in one mesh, with the number of the stone that each triangle belongs to.

    steps: how round edges are: 0 sharp, 1 a chamfer, more as many facets.
    """

    steps: int = 1
    points: list[npt.NDArray[np.float64]] = field(default_factory=list)
    triangles: list[npt.NDArray[np.uint64]] = field(default_factory=list)
    sizes: list[int] = field(default_factory=list)
    count: int = 0

    def add(self, stone: Stone, place: Place | None = None) -> bool:
        """Whether there was room for the stone. place: from its outline and its heights to space; upright if None."""
        for sharper in _SHARPER:
            rings = stone.rings(stone.radius * sharper, self.steps)
            if rings is not None:
                break
        else:
            return False
        first = rings[0][0]
        points = np.array(
            [(x, y, height + x * rise[0] + y * rise[1] + rise[2]) for ring, height, rise in rings for x, y in ring]
        )
        if place:
            points = place(points[:, :2], points[:, 2])
        caps = _fan(len(first)) if _is_convex(first) else np.asarray(triangulate([np.array(first)]), np.uint64)
        bands, top = _bands(len(first), len(rings))
        made = np.concatenate([caps[:, ::-1], caps + top, bands])
        self.triangles.append(made + np.uint64(self.count))
        self.points.append(points)
        self.sizes.append(len(made))
        self.count += len(points)
        return True

    def solid(self) -> Manifold:
        """The stones as they lie, not joined with each other; a triangle's face is its stone's number."""
        if not self.points:
            return Manifold()
        owners = np.repeat(np.arange(len(self.sizes), dtype=np.uint64) + STONES, self.sizes)
        return Manifold(Mesh64(np.concatenate(self.points), np.concatenate(self.triangles), face_id=owners))


def _is_convex(ring: Sequence[Point]) -> bool:
    count = len(ring)
    for n, (x, y) in enumerate(ring):
        (px, py), (qx, qy) = ring[n - 1], ring[(n + 1) % count]
        if (x - px) * (qy - y) - (y - py) * (qx - x) < 0:
            return False
    return True


def tones_of(faces: npt.NDArray[np.uint64]) -> npt.NDArray[np.float64] | None:
    """How bright each triangle is in pictures, about 1, by the stone that it belongs to; None without stones.

    faces: as the solid's library carries them through its operations.
    """
    found = faces >= STONES
    if not found.any():
        return None
    # The golden ratio spreads neighbours' tones evenly (Weyl).
    spread = np.where(found, (faces - np.where(found, STONES, faces)).astype(np.float64) * _GOLDEN % 1.0, 0.5)
    tones: npt.NDArray[np.float64] = np.where(faces == JOINTS, _JOINT, 1.0 + _TINT * (2.0 * spread - 1.0))
    return tones


@cache
def _fan(count: int) -> npt.NDArray[np.uint64]:
    here = np.arange(1, count - 1, dtype=np.uint64)
    return np.column_stack([np.zeros_like(here), here, here + np.uint64(1)])


@cache
def _bands(count: int, levels: int) -> tuple[npt.NDArray[np.uint64], np.uint64]:
    """The sides between rings of so many points, and the number of the last ring's first point."""
    here = np.arange(count, dtype=np.uint64)
    on = np.roll(here, -1)
    found = []
    for level in range(levels - 1):
        a, b = here + np.uint64(level * count), on + np.uint64(level * count)
        c, d = a + np.uint64(count), b + np.uint64(count)
        found += [np.column_stack([a, b, d]), np.column_stack([a, d, c])]
    return np.concatenate(found), np.uint64((levels - 1) * count)
