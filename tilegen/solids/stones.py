"""Rounded stones as closed meshes: a polygon lofted along an axis, drawn in from its sides, its edges taken off."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from manifold3d import Manifold, Mesh64, triangulate

from tilegen.geometry import Point, Points

# A side that is drawn in to less than this makes no stone, mm.
_LEAST_SIDE_MM = 0.6
# A stone that has no room for its round edges is tried with sharper ones.
_SHARPER = (1.0, 0.6, 0.3)
Place = Callable[[Points, float], npt.NDArray[np.float64]]


@dataclass(frozen=True, slots=True)
class Side:
    """One side of a stone's outline: how far it is drawn in at its start and its end, mm; less than 0: out.

    round: whether its edges are taken off; a side that is cut off by something else stays sharp.
    """

    start: float
    end: float
    round: bool = True


@dataclass(frozen=True, slots=True)
class Stone:
    """An outline (counter-clockwise corners, mm), a side from each corner to the next, and where it lies on its axis.

    low, high: its ends on the axis. radius: of its edges, mm. ends: whether the edges at its low and high end are
    taken off too. tilt: by how much its ends are off square at each corner, mm, inwards.
    """

    corners: tuple[Point, ...]
    sides: tuple[Side, ...]
    low: float
    high: float
    radius: float
    ends: tuple[bool, bool] = (True, True)
    tilt: tuple[float, ...] = ()

    def rings(self, radius: float) -> list[tuple[list[Point], list[float]]] | None:
        """The outline at each level, with the height of each point; None where a side vanishes."""
        levels = [(self.low, radius * self.ends[0], 0), (self.high, radius * self.ends[1], 1)]
        found = []
        for at, drawn, top in levels:
            inward = -1.0 if top else 1.0
            both = [(at, drawn)] if not drawn else [(at, drawn), (at + inward * radius, 0.0)]
            for height, more in both[::-1] if top else both:
                ring = self._ring(more, radius)
                if ring is None:
                    return None
                tilt = [inward * t for t in self.tilt] if self.tilt else [0.0] * len(self.corners)
                found.append(([p for _, p in ring], [height + tilt[n] for n, _ in ring]))
        return found

    def _ring(self, more: float, radius: float) -> list[tuple[int, Point]] | None:
        """The outline drawn in, `more` beyond its sides, its corners cut off where both sides are round."""
        count = len(self.corners)
        points = []
        for n, corner in enumerate(self.corners):
            before, after = self.sides[n - 1], self.sides[n]
            ways = [_way(self.corners[m], self.corners[(m + 1) % count]) for m in (n - 1, n)]
            depths = before.end + more * before.round, after.start + more * after.round
            met = _meet(corner, ways[0], ways[1], depths)
            if met is None:
                return None
            points.append(met)
        lengths = []
        for n, (x, y) in enumerate(points):
            (a, b), (dx, dy) = points[(n + 1) % count], _way(self.corners[n], self.corners[(n + 1) % count])
            lengths.append((a - x) * dx + (b - y) * dy)
        if min(lengths) < _LEAST_SIDE_MM / 2:
            return None
        ring = []
        for n, (x, y) in enumerate(points):
            (px, py), (qx, qy) = points[n - 1], points[(n + 1) % count]
            if not (self.sides[n - 1].round and self.sides[n].round):
                ring.append((n, (x, y)))
                continue
            back, on = min(radius, lengths[n - 1] * 0.3), min(radius, lengths[n] * 0.3)
            lb, lo = math.dist((x, y), (px, py)), math.dist((x, y), (qx, qy))
            ring.append((n, (x + (px - x) / lb * back, y + (py - y) / lb * back)))
            ring.append((n, (x + (qx - x) / lo * on, y + (qy - y) / lo * on)))
        return ring


def _way(a: Point, b: Point) -> Point:
    length = math.dist(a, b)
    return (b[0] - a[0]) / length, (b[1] - a[1]) / length


def _meet(at: Point, one: Point, other: Point, depths: tuple[float, float]) -> Point | None:
    """Where two lines that meet in a point meet after each is moved to its left."""
    across = one[0] * other[1] - one[1] * other[0]
    (x, y), (p, q) = at, depths
    if abs(across) < 1e-6:
        return x - other[1] * q, y + other[0] * q
    along = (p * (one[0] * other[0] + one[1] * other[1]) - q) / across
    mx, my = x - one[1] * p + one[0] * along, y + one[0] * p + one[1] * along
    return (mx, my) if math.dist((mx, my), at) < 8 * (abs(p) + abs(q)) + 1e-9 else None


@dataclass
class Heap:
    """Stones in one mesh, with the number of the stone that each triangle belongs to."""

    points: list[npt.NDArray[np.float64]] = field(default_factory=list)
    triangles: list[npt.NDArray[np.uint64]] = field(default_factory=list)
    owners: list[npt.NDArray[np.uint64]] = field(default_factory=list)
    count: int = 0

    def add(self, stone: Stone, place: Place | None = None) -> bool:
        """Whether there was room for the stone. place: from its outline and one height to space; upright if None."""
        for sharper in _SHARPER:
            rings = stone.rings(stone.radius * sharper)
            if rings is not None:
                break
        else:
            return False
        outline = np.array(rings[0][0])
        n = len(outline)
        caps = np.asarray(triangulate([outline]), np.uint64)
        flat = np.array([p for ring, _ in rings for p in ring])
        heights = np.array([h for _, hs in rings for h in hs])
        points = place(flat, heights) if place else np.column_stack([flat, heights])
        here = np.arange(n, dtype=np.uint64)
        on = np.roll(here, -1)
        bands = []
        for level in range(len(rings) - 1):
            a, b = here + np.uint64(level * n), on + np.uint64(level * n)
            c, d = a + np.uint64(n), b + np.uint64(n)
            bands += [np.column_stack([a, b, d]), np.column_stack([a, d, c])]
        top = caps + np.uint64((len(rings) - 1) * n)
        made = np.concatenate([caps[:, ::-1], top, *bands])
        corners = points[made.astype(np.int64)]
        if np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) < 0:
            made = made[:, ::-1]
        start = sum(map(len, self.points))
        self.points.append(points)
        self.triangles.append(made + np.uint64(start))
        self.owners.append(np.full(len(made), self.count, np.uint64))
        self.count += 1
        return True

    def solid(self) -> Manifold:
        """The stones as they lie, not joined with each other."""
        if not self.points:
            return Manifold()
        return Manifold(
            Mesh64(np.concatenate(self.points), np.concatenate(self.triangles), face_id=np.concatenate(self.owners))
        )
