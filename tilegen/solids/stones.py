"""Rounded stones as closed meshes: a polygon lofted along an axis, drawn in from its sides, its edges taken off."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain

import numpy as np
import numpy.typing as npt
from manifold3d import Manifold, Mesh64, triangulate

from tilegen.geometry import EQUAL_MM, Point, Points

# A side that is drawn in to less than this makes no stone, mm.
_LEAST_SIDE_MM = 0.6
# A stone that has no room for its round edges is tried with sharper ones.
_SHARPER = (1.0, 0.6, 0.3)
# Sides that turn by less, as along a curve, go on in one another (the sine of some 20 degrees).
_HARDLY = 0.34
# The most of a side that its corner may take.
_MOST_OFF = 0.4
# The most of a stone's height that its edges may take.
_MOST_RISE = 0.6
# How far a corner may be from where it was, in depths of its sides.
_SHARPEST = 8.0
# Stones' faces have numbers from here on, which no other triangle has; what is seen in their joints has the one below.
STONES = np.uint64(1 << 30)
JOINTS = STONES - np.uint64(1)
_GOLDEN, _TINT, _JOINT = 0.6180339887498949, 0.13, 0.7
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Place = Callable[[Points, Floats], Floats]


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


# How much higher a plane is per mm in x and in y, and at the origin.
Lift = tuple[float, float, float]
_LEVEL: Lift = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Stone:
    """An outline (counter-clockwise corners, mm), a side from each corner to the next, and where it lies on its axis.

    low, high: its ends on the axis. radius: of its edges, mm. ends: whether the edges at its low and high end are
    taken off too. seen: whether those ends are; where they lie in a joint a corner of them is one point. worn: how much
    of the radius each corner has at the low and at the high end. lifts: of its ends. place: from its outline and its
    heights to space; upright if None.
    """

    corners: tuple[Point, ...]
    sides: tuple[StoneSide, ...]
    low: float
    high: float
    radius: float
    ends: tuple[bool, bool] = (True, True)
    seen: tuple[bool, bool] = (True, True)
    worn: tuple[tuple[float, float], ...] = ()
    lifts: tuple[Lift, Lift] = (_LEVEL, _LEVEL)
    place: Place | None = None

    def levels(self, steps: int) -> Iterator[_Level]:
        """Its outlines from its low end to its high one. steps: as of a heap."""
        for high, at in enumerate((self.low, self.high)):
            drawn = self.radius * self.ends[high] * (steps > 0)
            turns = [math.pi / 2 * k / steps for k in range(steps + 1)] if drawn else [math.pi / 2]
            # A low stone's edges are flatter.
            rise = min(drawn, _MOST_RISE * (self.high - self.low) / sum(self.ends)) if drawn else 0.0
            inward = -rise if high else rise
            both = [(at + inward * (1 - math.cos(t)), drawn * (1 - math.sin(t))) for t in turns]
            for n, (height, more) in enumerate(both[::-1] if high else both):
                pointed = drawn and not self.seen[high] and n == (steps if high else 0)
                yield height, more, bool(high), bool(pointed)


# One outline of a stone: its height, how far it is drawn in beyond its sides, whether it belongs to the high end,
# whether a corner of it is one point.
_Level = tuple[float, float, bool, bool]


@dataclass
class Heap:
    """Stones in one mesh, with the number of the stone that each triangle belongs to.

    steps: how round edges are: 0 sharp, 1 a chamfer, more as many facets.
    """

    steps: int
    # The stones that may lie at each place, the best first.
    choices: list[tuple[Stone, ...]] = field(default_factory=list)
    # What lies among them: points, triangles and the faces of these.
    others: list[tuple[Floats, Ints, npt.NDArray[np.uint64]]] = field(default_factory=list)

    def add(self, *stones: Stone) -> None:
        """The first of some stones that there is room for; none if there is room for none of them."""
        if stones:
            self.choices.append(stones)

    def put(self, solid: Manifold) -> None:
        """Stones that are a solid by now, of another heap."""
        mesh = solid.to_mesh64()
        points = np.asarray(mesh.vert_properties, np.float64)[:, :3]
        self.others.append((points, np.asarray(mesh.tri_verts, np.int64), np.asarray(mesh.face_id, np.uint64)))

    def solid(self, first: int = 0) -> Manifold:
        """The stones as they lie, not joined with each other; a triangle's face is its stone's number.

        first: that of the first stone.
        """
        made = list(self.others)
        # Most stones fit as they are; whatever else may lie where one does not is tried at once.
        tried = [(number, stones[0]) for number, stones in enumerate(self.choices)]
        for _ in range(2):
            if tried:
                lofted = _Lofted(tried, self.steps)
                faces = lofted.owners.astype(np.uint64) + STONES + np.uint64(first)
                made.append((lofted.points, lofted.triangles, faces))
                tried = [
                    (number, replace(stone, radius=stone.radius * less))
                    for number in lofted.missing
                    for stone in self.choices[number]
                    for less in _SHARPER
                ]
        if not any(len(triangles) for _, triangles, _ in made):
            return Manifold()
        starts = _starts(np.array([len(points) for points, *_ in made])).tolist()
        corners = [triangles + start for (_, triangles, _), start in zip(made, starts[:-1], strict=True)]
        points, faces = (np.concatenate([one[k] for one in made]) for k in (0, 2))
        return Manifold(Mesh64(points, np.concatenate(corners).astype(np.uint64), face_id=faces))


class _Outlines:
    """The outlines of some stones, corner by corner, with the side from each corner and the one to it."""

    def __init__(self, stones: Sequence[Stone]) -> None:
        self.sizes = np.array([len(stone.corners) for stone in stones])
        self.first = _starts(self.sizes)
        following, previous = _round(self.first, np.repeat(np.arange(len(stones)), self.sizes))
        self.corners = np.array([corner for stone in stones for corner in stone.corners])
        on = self.corners[following] - self.corners
        self.ways = on / _length(on)[:, None]
        sides = [(s.start, s.end, s.round, s.lean, s.edge) for stone in stones for s in stone.sides]
        start, end, is_round, lean, edge = np.array(sides, np.float64).T
        is_round = is_round > 0
        # At the low and at the high end.
        leans = np.where(lean < 0, -lean, 0.0), np.where(lean > 0, lean, 0.0)
        # First the side to each corner, then the one from it.
        self.depths = np.stack([[(end + more)[previous], start + more] for more in leans], axis=2)
        self.edges = np.stack([(edge * is_round)[previous], edge * is_round])
        self.before = self.ways[previous]
        across = self.before[:, 0] * self.ways[:, 1] - self.before[:, 1] * self.ways[:, 0]
        self.straight = (self.before * self.ways).sum(axis=1)
        self.hardly = (np.abs(across) < _HARDLY) & (self.straight > 0)
        self.across = np.where(self.hardly, 1.0, across)
        self.cut = is_round & is_round[previous] & ~self.hardly
        worn = [pair for stone in stones for pair in stone.worn or ((1.0, 1.0),) * len(stone.corners)]
        self.even = np.repeat([stone.radius for stone in stones], self.sizes)
        self.radius = np.array(worn) * self.even[:, None]

    def met(self, corner: Ints, more: Floats, high: Ints) -> tuple[Floats, npt.NDArray[np.bool_]]:
        """Where the sides of corners meet, drawn in `more` beyond their depths, and whether that is near them."""
        before, after = self.before[corner], self.ways[corner]
        p, q = self.depths[:, corner, high] + more * self.edges[:, corner]
        # Where it hardly turns along the mean of both.
        along = (p * self.straight[corner] - q) / self.across[corner]
        hardly = self.hardly[corner]
        mean = (p + q) / 2
        x = np.where(hardly, -(before[:, 1] + after[:, 1]) / 2 * mean, -before[:, 1] * p + before[:, 0] * along)
        y = np.where(hardly, (before[:, 0] + after[:, 0]) / 2 * mean, before[:, 0] * p + before[:, 1] * along)
        moved = np.stack([x, y], axis=1)
        near = hardly | (_length(moved) < _SHARPEST * (np.abs(p) + np.abs(q)) + 1e-9)
        return self.corners[corner] + moved, near


class _Lofted:
    """Stones as rings of points, one over another, and the triangles between them: all of them worked out at once.

    points: (n, 3). triangles: (m, 3), outward. owners: (m,), the number of the stone of each. missing: the numbers of
    which no stone has room for its edges.
    """

    def __init__(self, numbered: Sequence[tuple[int, Stone]], steps: int) -> None:
        """Numbered: stones in the order of their numbers; the first that has room of those with one number is kept."""
        numbers, stones = np.array([number for number, _ in numbered]), [stone for _, stone in numbered]
        outlines = _Outlines(stones)
        levels = [list(stone.levels(steps)) for stone in stones]
        table = np.array(list(chain.from_iterable(levels)), np.float64)
        # The stone of each ring, and the ring of each corner.
        self.stone = np.repeat(np.arange(len(stones)), [len(one) for one in levels])
        self.sizes = outlines.sizes[self.stone]
        self.first = _starts(self.sizes)
        self.ring = np.repeat(np.arange(len(self.sizes)), self.sizes)
        self.following, previous = _round(self.first, self.ring)
        corner = np.arange(len(self.ring)) - self.first[self.ring] + outlines.first[self.stone[self.ring]]
        height, more, high, pointed = table[self.ring].T
        end = high.astype(np.int64)
        met, fits = outlines.met(corner, more, end)
        on, back = met[self.following] - met, met[previous] - met
        fits &= (on * outlines.ways[corner]).sum(axis=1) >= _LEAST_SIDE_MM / 2
        fit = np.ones(len(stones), bool)
        fit[self.stone[self.ring[~fits]]] = False
        self.missing: list[int] = np.setdiff1d(numbers, numbers[fit]).tolist()
        self.fit = np.zeros(len(stones), bool)
        self.fit[np.flatnonzero(fit)[np.unique(numbers[fit], return_index=True)[1]]] = True
        # Corners are cut off where both sides are round; those of ends that nobody sees become one point.
        cut = outlines.cut[corner] & bool(steps)
        self.count = np.where(cut & (pointed == 0), steps + 1, 1)
        self.begin = _starts(self.count)
        radius = outlines.radius[corner, end]
        # What is chipped more than round.
        radius = np.where(pointed > 0, np.maximum(radius - outlines.even[corner], 0.0), radius)
        shares = (np.minimum(radius / np.maximum(_length(way), EQUAL_MM), _MOST_OFF)[:, None] for way in (back, on))
        starts, ends = (met + way * share for way, share in zip((back, on), shares, strict=True))
        self.flat = np.empty((int(self.count.sum()), 2))
        self.flat[self.begin[:-1]] = np.where((cut & (pointed > 0))[:, None], (starts + ends) / 2, met)
        several = self.count > 1
        for k in range(steps + 1):
            # A parabola between the two sides.
            t = k / max(steps, 1)
            curve = (1 - t) ** 2 * starts + 2 * t * (1 - t) * met + t**2 * ends
            self.flat[self.begin[:-1][several] + k] = curve[several]
        owner = np.repeat(np.arange(len(self.ring)), self.count)
        slope_x, slope_y, up = np.array([stone.lifts for stone in stones])[self.stone[self.ring], end][owner].T
        x, y = self.flat.T
        self.points = np.column_stack([x, y, height[owner] + x * slope_x + y * slope_y + up])
        of_stone = self.stone[self.ring[owner]]
        for n, stone in enumerate(stones):
            if stone.place is not None and self.fit[n]:
                mine = of_stone == n
                self.points[mine] = stone.place(self.points[mine, :2], self.points[mine, 2])
        self.points[~self.fit[of_stone]] = 0.0
        self.triangles, owners = self._triangles()
        self.owners: Ints = numbers[owners]

    def _triangles(self) -> tuple[Ints, Ints]:
        """Those between rings, and those of the ends; with each its stone."""
        ends = np.flatnonzero(np.diff(self.stone, prepend=-1)), np.flatnonzero(np.diff(self.stone, append=-1))
        fit = self.fit[self.stone]
        lower = np.flatnonzero((fit & ~np.isin(np.arange(len(fit)), ends[1]))[self.ring])
        upper = lower + self.sizes[self.ring[lower]]
        found, rings = [], []
        for k in range(most := int(self.count.max())):
            (a, b), (c, d) = ((self._point(at, k, most), self._point(at, k + 1, most)) for at in (lower, upper))
            for corners, kept in (((a, b, d), a != b), ((a, d, c), c != d)):
                found.append(np.stack(corners, axis=1)[kept])
                rings.append(self.ring[lower[kept]])
        for which, mine in enumerate(ends):
            for cap, owners in self._caps(mine[fit[mine]]):
                found.append(cap if which else cap[:, ::-1])
                rings.append(owners)
        return np.concatenate(found), self.stone[np.concatenate(rings)]

    def _point(self, at: Ints, k: int, most: int) -> Ints:
        """The number of a corner's point, of the last one if it has fewer; past them all of the next corner's first."""
        point: Ints = self.begin[at] + np.minimum(k, self.count[at] - 1) if k < most else self.begin[self.following[at]]
        return point

    def _caps(self, rings: Ints) -> Iterator[tuple[Ints, Ints]]:
        """Triangles over rings, and the ring of each."""
        starts, stops = self.begin[self.first[rings]], self.begin[self.first[rings + 1]]
        for count in np.unique(stops - starts).tolist():
            mine = stops - starts == count
            points = starts[mine][:, None] + np.arange(count)
            way = np.diff(self.flat[points], axis=1, append=self.flat[points[:, :1]])
            before = np.roll(way, 1, axis=1)
            convex = (before[..., 0] * way[..., 1] - before[..., 1] * way[..., 0] >= 0).all(axis=1)
            fans = points[convex]
            corner = np.broadcast_to(fans[:, :1], (len(fans), count - 2))
            cap = np.stack([corner, fans[:, 1:-1], fans[:, 2:]], axis=2).reshape(-1, 3)
            yield cap, np.repeat(rings[mine][convex], count - 2)
            for ring, corners in zip(rings[mine][~convex].tolist(), points[~convex], strict=True):
                cap = np.asarray(triangulate([self.flat[corners]]), np.int64) + corners[0]
                yield cap, np.full(len(cap), ring)


def _starts(sizes: Ints) -> Ints:
    """Where each of some runs of these sizes begins, and where the last one ends."""
    starts: Ints = np.concatenate([[0], np.cumsum(sizes)])
    return starts


def _round(first: Ints, owner: Ints) -> tuple[Ints, Ints]:
    """The number of the corner after each corner and of the one before it. owner: the outline of each."""
    here = np.arange(len(owner))
    following = np.where(here + 1 == first[owner + 1], first[owner], here + 1)
    previous = np.where(here == first[owner], first[owner + 1], here) - 1
    return following, previous


def _length(ways: Floats) -> Floats:
    length: Floats = np.sqrt(ways[:, 0] ** 2 + ways[:, 1] ** 2)
    return length


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
