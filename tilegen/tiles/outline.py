"""Tiles of any outline: a polygon with walls on some of its edges, to plates.

Derived points lie on a micrometre grid.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM, Point, difference, intersection
from tilegen.grid import Grid
from tilegen.tiles.bend import MOST_TURN
from tilegen.tiles.faces import Faces, one_piece
from tilegen.tiles.facets import bend_along, curves
from tilegen.tiles.gathering import gathered
from tilegen.tiles.joints import PRINTED_JOINTS, Band, Joints, printed_band
from tilegen.tiles.marks import lattice_strips, marks_of
from tilegen.tiles.pinches import apart, check_pinches, weak_point
from tilegen.tiles.plate import Mark, Opening, Plate
from tilegen.tiles.ring import Divided, walled_ring
from tilegen.tiles.shape import OutlineShape

_MITRE_LIMIT = 2.0
# Thinner necks than this do not survive the inset nor a printer.
_LEAST_AREA_MM2 = 1.0
# The wall of one chord of a rounded corner may be as small as this; its neighbours hold it.
_LEAST_CHORD_MM2 = 0.05
_RIGHT_ANGLE = 1e-9
# On sheets, corners that are right to a micrometre or so; drawings give their points to a few decimals only.
_SQUARE = 1e-4


class OutlineTile:
    """Works out the plates of an outline; one instance for one shape, grid and wall band.

    A ring of walls is worked out from its corners (`ring.py`). Else footprint, walls and grooves are put together from
    the faces of one arrangement of all their lines on the micrometre grid, so that what touches shares its points and
    areas add up.
    """

    def __init__(self, shape: OutlineShape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> None:
        self.shape, self.grid, self.band, self.joints = shape, grid, band, joints
        # Walls are measured to the right of each edge walked clockwise, whichever way the points were given.
        self.clockwise = not Polygon(shape.points).exterior.is_ccw
        self.curves = {min(run): run for run in self._curves()} if joints.longest else {}
        self.chords = {number for run in self.curves.values() for number in run}
        inset = self._inset(Polygon(shape.points, shape.holes))
        # Joined first: every crossing would cost the solid eight points.
        grooves = shapely.union_all(lattice_strips(inset.bounds, grid)) if grid.floor.lines else Polygon()
        self.least = _LEAST_CHORD_MM2 if shape.numbers else _LEAST_AREA_MM2
        self.divided = self._ring(inset, grooves) or self._parted(inset, grooves)
        check_pinches(self.divided.whole, "parts of the outline")
        self.grooved = apart(self.divided.whole, self.divided.grooved)

    def _ring(self, inset: Polygon, grooves: BaseGeometry) -> Divided | None:
        """The quick way, if every edge has a wall as printed."""
        printed = self.joints == PRINTED_JOINTS and self.band == printed_band(self.grid)
        if not printed or len(self.shape.walls) < len(self.shape.points):
            return None
        return walled_ring(self.shape.points, inset, self.grid, grooves, self.least)

    def _parted(self, inset: Polygon, grooves: BaseGeometry) -> Divided:
        """The footprint divided by a strip along each wall."""
        strips = {number: self._foot(number, inset) for number in self._in_turn()}
        # Behind a thin wall no floor is seen.
        behind = [self._between(number, 0.0, self.band.outer) for number in strips if self._set_back]
        faces = Faces(inset, [*strips.values(), *behind, grooves])
        feet = dict(zip(strips, faces.owned(list(strips.values())), strict=True))
        faces.owned(behind)
        if not self.joints.longest:
            opened = {number for number, _ in self.shape.openings}
            feet = gathered(feet, opened, self.least)
        check_pinches(shapely.union_all(list(feet.values())), "walls")
        return Divided(faces.whole, feet, faces.within(grooves), faces.others())

    def _inset(self, nominal: Polygon) -> Polygon:
        """The outline less half the play all round, mitred."""
        inset = shapely.set_precision(
            nominal.buffer(-self.grid.half_play, join_style="mitre", mitre_limit=5.0), SNAP_MM
        )
        if not isinstance(inset, Polygon) or inset.area < _LEAST_AREA_MM2:
            x, y = weak_point(nominal, inset)
            raise InputError(
                f"an outline of {nominal.area:.3g} mm2 that vanishes or falls apart near ({x:.2f}, {y:.2f}) mm",
                expected=f"more than the play of {self.grid.joint_play:g} mm everywhere",
                place="[tile] outline",
            )
        return inset

    def _in_turn(self) -> list[int]:
        """The walls in the order in which they take the corners: by number in print, else the longest first."""
        numbers = sorted(self.shape.walls)
        if not self.joints.longest:
            return numbers
        return sorted(numbers, key=self._order_of)

    def footprint(self) -> Polygon:
        """The base on the plan."""
        return self.divided.whole

    def standing(self) -> Iterator[Plate]:
        """Walls in the order of their edges: mitred where they meet at an odd angle, butted at a right one.

        For sheets, the chords of a curve are one bent wall, in the place of its first chord.

        Raises:
            InputError: a wall that falls into pieces or vanishes, or a curve too tight for one.
        """
        for number, foot in sorted(self.divided.feet.items()):
            if number in self.curves:
                yield self._bent(number, self.curves[number])
            elif number not in self.chords:
                yield self._wall(number, self._piece(foot, number))

    def _piece(self, foot: BaseGeometry, number: int) -> Polygon:
        """The foot of a wall in one piece; where it is not, the error says at which edge."""
        try:
            return one_piece(foot, number, self.least)
        except InputError as error:
            (x0, y0), (x1, y1) = self.edge(number)
            x, y = (x0 + x1) / 2, (y0 + y1) / 2
            raise InputError(
                f"{error.found}, at ({x:.3f}, {y:.3f}) mm", expected=error.expected, place=error.place
            ) from None

    def _order(self) -> list[int]:
        """The edges' numbers as they are walked, with the inside on the right."""
        numbers = range(1, len(self.shape.points) + 1)
        return list(numbers) if self.clockwise else list(reversed(numbers))

    def _curves(self) -> list[list[int]]:
        """The walls that follow a curve, as their chords."""
        opened = {number for number, _ in self.shape.openings}
        return curves(self._order(), self.edge, set(self.shape.walls) - opened)

    def _bent(self, number: int, run: Sequence[int]) -> Plate:
        """One wall along a curve."""
        foot = self._piece(shapely.coverage_union_all([self.divided.feet[chord] for chord in run]), number)
        bottom = self.grid.base_depth
        depths = max(self.band.outer, self.grid.half_play), self.band.inner
        path = [self.edge(run[0])[0], *(self.edge(number)[1] for number in run)]
        beyond = self._beyond(run[0], at_start=True) + self._beyond(run[-1], at_start=False)
        bend = bend_along(path, foot, depths, beyond)
        chord = bend.outer[0], bend.outer[-1]
        return Plate(f"bent wall {number}", "wall", foot, bottom, bottom + self.grid.wall_height, chord, bend=bend)

    def _runs_on(self, number: int, *, at_start: bool) -> bool:
        """Whether a curve runs on into a straight wall here: they meet square to the straight one."""
        other = self._next_to(number, at_start=at_start)
        one_bent = (number in self.chords) != (other in self.chords)
        return one_bent and other in self.shape.walls and abs(self._bend(number, at_start=at_start)) <= MOST_TURN

    def _beyond(self, number: int, *, at_start: bool) -> float:
        """A curve's share of its turn into the wall that it runs on into."""
        other, turn = self._next_to(number, at_start=at_start), self._bend(number, at_start=at_start)
        if other not in self.shape.walls or abs(turn) > MOST_TURN:
            return 0.0
        return turn / 2 if other in self.chords else turn

    def marks(self) -> tuple[Mark, ...]:
        """The space lines on what the walls leave visible."""
        return marks_of(self.grooved, self.divided.visible, self.grid)

    def edge(self, number: int) -> tuple[Point, Point]:
        """An edge's two points on the nominal outline, with the inside on the right; number from 1."""
        points = self.shape.points
        first, second = points[number - 1], points[number % len(points)]
        return (first, second) if self.clockwise else (second, first)

    def _foot(self, number: int, footprint: Polygon) -> BaseGeometry:
        """The footprint cut with a strip along the edge, reaching on where a corner is obtuse or reflex and walled."""
        inner, outer = self.band.inner, self.band.outer if self._set_back else 0.0
        before, after = (self._reach(number, at_start=start) for start in (True, False))
        length = math.dist(*self.edge(number))
        strip: BaseGeometry = self._between(number, outer, inner, (-before, length + after))
        for start in (True, False):
            strip = self._mitred(strip, number, at_start=start)
            if self._ends_square(number, at_start=start) and self._square_end(number, at_start=start)[1]:
                under, deep = outer + self.joints.skin, inner - outer
                at = (-before, deep - before) if start else (length + after - deep, length + after)
                strip = difference(strip, self._between(number, under, inner, at))
        return self._beside(intersection(strip, footprint), number)

    @property
    def _set_back(self) -> bool:
        """Whether walls stand behind the footprint's edge: their stock is thinner than they are in print."""
        return self.band.outer > self.grid.half_play

    def _between(self, number: int, near: float, far: float, along: tuple[float, float] | None = None) -> Polygon:
        """What lies under an edge between two depths and two stations, mm; from end to end if none are given."""
        (x0, y0), (x1, y1) = self.edge(number)
        length = math.hypot(x1 - x0, y1 - y0)
        dx, dy = (x1 - x0) / length, (y1 - y0) / length
        start, end = along or (0.0, length)
        ring = ((start, near), (end, near), (end, far), (start, far))
        return Polygon([(x0 + dx * s + dy * d, y0 + dy * s - dx * d) for s, d in ring])

    def _beside(self, strip: BaseGeometry, number: int) -> BaseGeometry:
        """What of a strip lies on its own edge: across a notch it would reach another part of the tile."""
        parts = shapely.get_parts(strip)
        if len(parts) < 2:
            return strip
        near = shapely.distance(parts, LineString(self.edge(number))) < max(self.band.outer, self.grid.half_play) * 1.5
        return shapely.union_all(parts[near]) if near.any() else strip

    def _ends_square(self, number: int, *, at_start: bool) -> bool:
        """Whether a wall on a sheet meets the next one at a right angle, and neither is mitred."""
        if not self.joints.longest or self.joints.corners == "mitre":
            return False
        square = abs(self._bend(number, at_start=at_start) - math.pi / 2) < _SQUARE
        return square and self._next_to(number, at_start=at_start) in self.shape.walls

    def _square_end(self, number: int, *, at_start: bool) -> tuple[float, bool]:
        """How deep under the next wall's line a wall ends, and whether only its skin goes that far."""
        other = self._next_to(number, at_start=at_start)
        joints = self.joints
        if joints.corners == "rabbet" and {number, other} & self.chords:
            joints = replace(joints, corners="butt")
        faces = max(self.band.outer, self.grid.half_play), self.band.inner
        return joints.square_end(faces, start=at_start, first=self._order_of(number) < self._order_of(other))

    def _order_of(self, number: int) -> tuple[float, ...]:
        """Which of two walls comes first: the longest, then the most level, then the most northern or western."""
        (x0, y0), (x1, y1) = self.edge(number)
        length, rise = math.dist((x0, y0), (x1, y1)), abs(y1 - y0)
        return tuple(round(value, 3) for value in (-length, rise, -(y0 + y1), x0 + x1))

    def _next_to(self, number: int, *, at_start: bool) -> int:
        """The edge that meets this one at its start or end, walking clockwise."""
        other = number + (-1 if at_start == self.clockwise else 1)
        return (other - 1) % len(self.shape.points) + 1

    def _bend(self, number: int, *, at_start: bool) -> float:
        """How far the outline turns right at an edge's start or end, in radians; negative at a reflex corner."""
        (x0, y0), (x1, y1) = self.edge(number)
        (a0, b0), (a1, b1) = self.edge(self._next_to(number, at_start=at_start))
        turn = math.atan2((x1 - x0) * (b1 - b0) - (y1 - y0) * (a1 - a0), (x1 - x0) * (a1 - a0) + (y1 - y0) * (b1 - b0))
        return turn if at_start else -turn

    def _mitred(self, strip: BaseGeometry, number: int, *, at_start: bool) -> BaseGeometry:
        """A strip cut along the bisector of its corner, where the next edge has a wall too and the angle is odd."""
        bend = self._bend(number, at_start=at_start)
        square = abs(bend - math.pi / 2) < _RIGHT_ANGLE and self.joints.corners != "mitre"
        if (
            square
            or self._ends_square(number, at_start=at_start)
            or self._next_to(number, at_start=at_start) not in self.shape.walls
        ):
            return strip
        runs_on = self._runs_on(number, at_start=at_start)
        if runs_on and number not in self.chords:
            return strip
        (x0, y0), (x1, y1) = self.edge(number)
        x, y = (x0, y0) if at_start else (x1, y1)
        back = math.atan2(y0 - y1, x0 - x1) if not at_start else math.atan2(y1 - y0, x1 - x0)
        inward = math.pi / 2 - bend if runs_on else (math.pi - bend) / 2
        angle = back - (inward if at_start else -inward)
        ux, uy = math.cos(angle), math.sin(angle)
        bx, by = math.cos(back), math.sin(back)
        far = 4 * math.hypot(x1 - x0, y1 - y0) + 8 * self.band.inner
        keep = Polygon(
            [
                (x - ux * far, y - uy * far),
                (x + ux * far, y + uy * far),
                (x + (ux + 2 * bx) * far, y + (uy + 2 * by) * far),
                (x + (2 * bx - ux) * far, y + (2 * by - uy) * far),
            ]
        )
        return intersection(strip, keep)

    def _reach(self, number: int, *, at_start: bool) -> float:
        """How far a wall's strip goes on past its edge's end, in mm.

        At an obtuse corner the strip would leave a wedge, at a reflex corner between two walls a notch: both
        are filled up to one mitre limit of wall thickness.
        """
        bend = self._bend(number, at_start=at_start)
        if self._ends_square(number, at_start=at_start):
            return -self._square_end(number, at_start=at_start)[0]
        if self._runs_on(number, at_start=at_start):
            return self.band.inner * _MITRE_LIMIT if number in self.chords else 0.0
        walled = self._next_to(number, at_start=at_start) in self.shape.walls
        if bend < 0:
            return 0.0 if not walled else self.band.inner * min(math.tan(min(-bend, math.pi * 0.49) / 2), _MITRE_LIMIT)
        if bend >= math.pi / 2:
            return 0.0
        return self.band.inner * min(1 / math.tan(bend) if bend > 0 else math.inf, _MITRE_LIMIT)

    def _wall(self, number: int, foot: Polygon) -> Plate:
        start, end = self._outer_edge(number, foot)
        bottom = self.grid.base_depth
        openings = tuple(self._openings(number, start))
        name = f"wall {number}"
        return Plate(name, "wall", foot, bottom, bottom + self.grid.wall_height, (start, end), openings)

    def _outer_edge(self, number: int, foot: Polygon) -> tuple[Point, Point]:
        """The outer face of a wall: from the first to the last point of its foot along the edge."""
        (x0, y0), (x1, y1) = self.edge(number)
        length = math.hypot(x1 - x0, y1 - y0)
        dx, dy = (x1 - x0) / length, (y1 - y0) / length
        corners = shapely.get_coordinates(foot) - (x0, y0)
        along = (corners @ (dx, dy)).tolist()
        out = float((corners @ (dy, -dx)).min())
        low, high = min(along), max(along)
        return (
            (x0 + dx * low + dy * out, y0 + dy * low - dx * out),
            (x0 + dx * high + dy * out, y0 + dy * high - dx * out),
        )

    def _openings(self, number: int, start: Point) -> Iterator[Opening]:
        (x0, y0), (x1, y1) = self.edge(number)
        length = math.hypot(x1 - x0, y1 - y0)
        shift = ((x0 - start[0]) * (x1 - x0) + (y0 - start[1]) * (y1 - y0)) / length
        for edge_number, opening in self.shape.openings:
            if edge_number == number:
                centre = opening.centre if self.clockwise else length - opening.centre
                yield replace(opening, centre=centre + shift)
