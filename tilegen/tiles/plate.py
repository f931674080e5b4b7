"""The one idea: a tile is a set of plates.

A plate is a flat region with a thickness and a pose. Lying (the base) its region is what it covers on
the plan; standing (a wall, a post) its region is its face: along its edge by height, less its openings.
A wall that follows a curve is one plate, whose outer face is a chain of short facets (`Bend`).
To print a tile its plates are extruded and joined; to cut it they are laid flat.

Plan coordinates: millimetres, x to the east, y to the north, the south-west corner of the tile's
lattice at (0, 0). Heights z from the tile's underside.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate, pairwise
from typing import Literal

from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import (
    EQUAL_MM,
    Point,
    Segment,
    direction_of,
    from_edge,
    largest_polygon,
    lineal,
    offset_path,
    polygonal,
    turn_right,
)
from tilegen.model.grid import Head, Leaf, Style
from tilegen.model.stonework import Stonework
from tilegen.tiles.heads import HeadArc, arcs_of, rise, underside

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


# What a plate is for: "base", "wall", "post", "door", "key", or the word of the feature that it belongs to.
Role = str
# The faces of a plate that may carry marks. Of a lying plate: top, under, and rim (a side of its outline); of a
# standing one: outer (its edge) and inner (one thickness to the right of its edge).
Face = Literal["top", "under", "rim", "outer", "inner"]

# How far the cutter of an opening in a bent wall reaches past its faces.
BEND_REACH_MM = 0.5


@dataclass(frozen=True, slots=True, order=True)
class Opening:
    """A way through a standing plate, from its foot up.

    centre: along the plate's edge from its start (in a tile's side: from the side's start, walking
    clockwise). height: to the top of the head; at the wall's height or above it the opening has no lintel.
    leaf, style: what closes it, and what that looks like.
    """

    centre: float
    width: float
    height: float
    head: Head = "flat"
    leaf: Leaf = "none"
    style: Style = "planks"

    @property
    def arcs(self) -> tuple[HeadArc, ...]:
        """The arcs of its head from right to left, seen from the middle of the springing line; none of a level one."""
        return arcs_of(self.head, self.width)

    @property
    def level(self) -> bool:
        """Whether its head is a straight lintel."""
        return not self.arcs

    @property
    def spring(self) -> float:
        """How high its straight sides go: to where an arch springs, else to the top."""
        return self.height - rise(self.arcs)

    def region(self, below: float = 0.0, above: float | None = None) -> Polygon:
        """The opening in the plate's face: s along the edge, z above the foot.

        below: how far to reach under the foot; above: a level top at this height instead of its own head.
        """
        left, right = self.centre - self.width / 2, self.centre + self.width / 2
        if self.level or above is not None:
            return box(left, -below, right, self.height if above is None else above)
        spring = self.spring
        head = [(self.centre + x, spring + z) for x, z in underside(self.arcs)]
        return Polygon([(left, -below), (right, -below), (right, spring), *head, (left, spring)])


@dataclass(frozen=True)
class Mark:
    """What is taken off one face of a plate or stands out from it: lines, a pattern, a pocket, a name.

    centres: the lines' centres, running past the face; face: what they are clipped to (what no
    wall covers). region: what is taken away or added, clipped already, off every other mark of the same face.
    depth: into the plate, mm; less than 0 stands out from it. on: which face of the plate.

    Coordinates: plan for `top` and `under`; along the edge and up from the plate's foot for the others. edge: of a
    mark on the rim: the side of the outline it lies on, from start to end with the plate on the right.
    start: how far under its face the mark begins, of one inside a wall. cutter: what the tool covers, where it may
    reach past the region into what is cut away anyway.
    """

    centres: tuple[tuple[Point, ...], ...]
    face: BaseGeometry
    region: Polygon | MultiPolygon
    depth: float
    on: Face = "top"
    edge: Segment | None = None
    start: float = 0.0
    cutter: Polygon | None = None

    @cached_property
    def line(self) -> LineString | MultiLineString:
        """The centres, clipped to the face: what a sheet scores."""
        return lineal(MultiLineString(self.centres).intersection(self.face))

    @property
    def volume(self) -> float:
        """What the mark takes away in mm3; less than 0 if it stands out."""
        return self.region.area * self.depth


@dataclass(frozen=True, slots=True)
class Facing:
    """The stone that a plate is carved as in print.

    seed: of its pattern. half_play: mm, from the tile's edge. pitch: of the spaces, mm. line: how wide and how deep
    lines between them are, mm. steps: 0 for sharp edges, 1 for a chamfer, 2 for round ones. turned: a standing plate as
    it is in every second course, where the walls of a corner are joined the other way; None: as in the others.
    """

    style: Stonework
    seed: int
    half_play: float
    pitch: float
    line: tuple[float, float]
    steps: int
    turned: Plate | None = None


@dataclass(frozen=True, slots=True)
class Plate:
    """One plate in its pose.

    foot: what it covers on the plan. bottom, top: its heights. edge: a standing plate's outer face on the
    plan, from start to end with the tile's inside on the right; None for a lying plate. backed: another wall of
    the same tile stands against its outer face. bend: the outer face of a wall that follows a curve; its edge is then
    the chord, and its openings and its face are measured along the curve. facing: the stone it is carved as in print.
    """

    name: str
    role: Role
    foot: Polygon
    bottom: float
    top: float
    edge: Segment | None = None
    openings: tuple[Opening, ...] = ()
    marks: tuple[Mark, ...] = ()
    backed: bool = False
    bend: Bend | None = None
    facing: Facing | None = None

    @property
    def height(self) -> float:
        """From its underside to its top."""
        return self.top - self.bottom

    def is_open_topped(self, opening: Opening) -> bool:
        """Whether an opening leaves nothing of the wall over it; heights that differ by rounding alone are the same."""
        return opening.height > self.height - EQUAL_MM

    @property
    def direction(self) -> Point:
        """Unit vector along the edge of a standing plate; exact along an axis."""
        return direction_of(self._edge())

    @property
    def length(self) -> float:
        """Of a standing plate along its outer face."""
        if self.bend is not None:
            return self.bend.length
        (x0, y0), (x1, y1) = self._edge()
        return math.hypot(x1 - x0, y1 - y0)

    @property
    def thickness(self) -> float:
        """Through the plate: its height if it lies, across its edge if it stands."""
        if self.edge is None:
            return self.height
        if self.bend is not None:
            return self.bend.thickness
        dx, dy = self.direction
        (x0, y0), _ = self.edge
        return max(dy * (x - x0) - dx * (y - y0) for x, y in self.foot.exterior.coords)

    def face(self, *, open_topped: bool = False) -> Polygon | MultiPolygon:
        """The flat region to cut: the foot of a lying plate, length by height less openings of a standing one.

        open_topped: cut the openings through to the top edge (two pieces stay of a wall).
        """
        if self.edge is None:
            return self.foot
        face: BaseGeometry = box(0.0, 0.0, self.length, self.height)
        for opening in self.openings:
            top = self.height if open_topped or self.is_open_topped(opening) else None
            face = face.difference(opening.region(above=top))
        return polygonal(face)

    @property
    def volume(self) -> float:
        """In mm3, from 2D areas alone: foot times height, less openings times thickness, less marks times depth."""
        volume = self.foot.area * self.height
        for opening in self.openings:
            top = self.height if self.is_open_topped(opening) else None
            if self.bend is not None:
                volume -= self.opening_foot(opening).area * (self.height if top else opening.height)
            else:
                volume -= opening.region(above=top).area * self.thickness
        return volume - math.fsum(mark.volume for mark in self.marks)

    def opening_foot(self, opening: Opening) -> Polygon:
        """What an opening of a standing plate covers on the plan, through the plate's thickness."""
        if self.bend is not None:
            start, end = opening.centre - opening.width / 2, opening.centre + opening.width / 2
            cutter = self.bend.foot(start, end, before=BEND_REACH_MM, beyond=BEND_REACH_MM)
            return largest_polygon(cutter.intersection(self.foot))
        near, far = opening.centre - opening.width / 2, opening.centre + opening.width / 2
        depth = self.thickness
        return Polygon([self.at(near), self.at(far), self.at(far, depth), self.at(near, depth)])

    def at(self, along: float, inward: float = 0.0) -> Point:
        """A point on the plan: so far along a standing plate's edge and so far into it."""
        return from_edge(self._edge(), along, inward)

    def _edge(self) -> Segment:
        if self.edge is None:
            raise ValueError(f"plate {self.name} lies flat and has no edge")
        return self.edge
