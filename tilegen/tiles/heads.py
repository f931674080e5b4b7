"""How an opening ends at the top: each kind of head as the arcs of its underside, and what follows from them.

A head without arcs is level: a lintel. Another kind, of arcs that spring upright, is one more row of `_ARCS` here and
of `HEADS` in `model/grid.py`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Point
from tilegen.model.grid import Head

# The heads of so many widths are kept: a set has few of them, a long batch any number.
_KEPT = 256
# Chords of half a turn.
_SEGMENTS = 24
# The stones of an arch that is half a circle.
_VOUSSOIRS = 9


@dataclass(frozen=True, slots=True)
class HeadArc:
    """An arc of a head, counter-clockwise; centre: from the middle of its springing line, mm; turns in radians."""

    centre: Point
    radius: float
    start: float
    end: float

    def at(self, turn: float, ring: float = 0.0) -> Point:
        """A point at a turn, so far outside the arc."""
        (x, z), r = self.centre, self.radius + ring
        return x + r * math.cos(turn), z + r * math.sin(turn)

    def ring_to(self, top: float) -> float:
        """How wide a ring round the arc is that ends at a height over the middle of the springing line, mm."""
        x, z = self.centre
        return math.hypot(x, top - z) - self.radius

    def points(self) -> Iterator[Point]:
        """The chords' corners, both ends with them."""
        length = self.end - self.start
        count = round(_SEGMENTS * length / math.pi)
        yield from (self.at(self.start + length * i / count) for i in range(count + 1))

    def stones(self, ring: float, half: float, *, beams: bool = False) -> Iterator[list[Point]]:
        """The stones of a ring round the arc, in radial joints; where two arcs meet, the joint is upright.

        Each is counter-clockwise, its lower sides first: two of a stone. half: half the width of the opening, mm.
        beams: bent beams instead, each up to a quarter of a turn.
        """
        length = self.end - self.start
        count = round(_VOUSSOIRS * length * self.radius / (math.pi * half))
        # The turns at which the ring's outer side ends: over the same points, but upright over the point of two arcs.
        first, last = (self._outside(turn, ring) for turn in (self.start, self.end))
        sides = 2
        if beams:
            count = math.ceil(length / (math.pi / 2) - 1e-9)
            sides = round(_SEGMENTS * length / (math.pi * count))
        for n in range(count):
            turns = [self.start + length * (n + k / sides) / count for k in range(sides + 1)]
            outer = [first if n == 0 else turns[0], *turns[1:-1], last if n == count - 1 else turns[-1]]
            yield [self.at(t) for t in turns[::-1]] + [self.at(t, ring) for t in outer]

    def _outside(self, turn: float, ring: float) -> float:
        x, _ = self.centre
        at_the_point = x and abs(self.at(turn)[0]) < 1e-9 * self.radius
        return math.acos(-x / (self.radius + ring)) if at_the_point else turn


def _pointed(half: float) -> tuple[HeadArc, ...]:
    """Two arcs with a radius of three quarters of the span: a drop arch, which fits openings as low as ours."""
    turn = math.acos(1 / 3)
    return (
        HeadArc((-half / 2, 0.0), 1.5 * half, 0.0, turn),
        HeadArc((half / 2, 0.0), 1.5 * half, math.pi - turn, math.pi),
    )


# The arcs of each kind from right to left, of half the width of an opening.
_ARCS: Mapping[Head, Callable[[float], tuple[HeadArc, ...]]] = {
    "flat": lambda _: (),
    "round": lambda half: (HeadArc((0.0, 0.0), half, 0.0, math.pi),),
    "pointed": _pointed,
}


@lru_cache(maxsize=_KEPT)
def arcs_of(head: Head, width: float) -> tuple[HeadArc, ...]:
    """The arcs of a head from right to left; none of a level one."""
    return _ARCS[head](width / 2)


@lru_cache(maxsize=_KEPT)
def underside(arcs: tuple[HeadArc, ...]) -> tuple[Point, ...]:
    """The corners of a head's chords from right to left, less its two springing points."""
    return tuple(point for arc in arcs for point in list(arc.points())[1:])[:-1]


def rise(arcs: tuple[HeadArc, ...]) -> float:
    """How high a head rises over its springing line, mm."""
    return max((z for _, z in underside(arcs)), default=0.0)


def room(arcs: Sequence[HeadArc], ring: float) -> BaseGeometry:
    """What lies inside a ring round the arcs, above and below the springing line."""
    return shapely.intersection_all([shapely.Point(arc.centre).buffer(arc.radius + ring, quad_segs=24) for arc in arcs])
