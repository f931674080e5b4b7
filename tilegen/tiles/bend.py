"""Walls that follow a curve: one plate whose outer face is a chain of short facets."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise

from shapely.geometry import Polygon

from tilegen.geometry import Point, offset_path, turn_right

# Facets that turn by less than this from one to the next are one bent wall; by more, two walls that meet in a corner.
MOST_TURN = math.radians(20.0)


@dataclass(frozen=True)
class Bend:
    """The outer face of a bent wall on the plan: its facets' corners, mm, with the tile's inside on the right.

    thickness: of the wall, to its inner face. beyond: how far the curve turns right before its first facet and after
    its last one, in radians, where it runs on into straight walls.
    """

    outer: tuple[Point, ...]
    thickness: float
    beyond: float = 0.0

    @cached_property
    def stations(self) -> tuple[float, ...]:
        """How far along the outer face each corner lies."""
        return tuple(accumulate((math.dist(a, b) for a, b in pairwise(self.outer)), initial=0.0))

    @property
    def length(self) -> float:
        """Of the outer face, developed."""
        return self.stations[-1]

    def length_at(self, depth: float) -> float:
        """Of the face so deep under the outer one, developed, mm."""
        square = math.fsum(math.dist(a, b) for a, b in pairwise(offset_path(self.outer, depth)))
        return square - depth * math.tan(self.beyond)

    @property
    def turn(self) -> float:
        """How far the wall turns right, in radians; negative to the left."""
        turns = [turn_right(a, b, c) for a, b, c in zip(self.outer, self.outer[1:], self.outer[2:], strict=False)]
        return math.fsum(turns) + self.beyond

    def foot(self, start: float, end: float, *, before: float = 0.0, beyond: float = 0.0) -> Polygon:
        """What the wall covers between two stations, square to the facets there.

        before, beyond: how far to reach past the outer and the inner face. Stations off the wall's ends lie on its
        end facets, run on.
        """
        path = self._between(start, end)
        near, far = offset_path(path, -before), offset_path(path, self.thickness + beyond)
        region = Polygon([*near, *reversed(far)])
        return region if region.is_valid else Polygon(region.buffer(0))

    def inner_line(self, start: float, end: float) -> list[Point]:
        """The inner face between two stations, as far as the wall goes."""
        return offset_path(self._between(max(start, 0.0), min(end, self.length)), self.thickness)

    def _between(self, start: float, end: float) -> tuple[Point, ...]:
        inner = [p for p, s in zip(self.outer, self.stations, strict=True) if start + 1e-9 < s < end - 1e-9]
        return (self.point(start), *inner, self.point(end))

    def point(self, station: float) -> Point:
        """The point of the outer face at a station."""
        last = len(self.outer) - 2
        index = next((i for i in range(last, 0, -1) if self.stations[i] <= station), 0)
        (x0, y0), (x1, y1) = self.outer[index], self.outer[index + 1]
        share = (station - self.stations[index]) / math.dist((x0, y0), (x1, y1))
        return x0 + (x1 - x0) * share, y0 + (y1 - y0) * share
