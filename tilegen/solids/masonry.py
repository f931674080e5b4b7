"""Walls and floors of stone: a tile less its joints. What is carved only takes away from the plain tile.

How a tile is parted into stones is in `tilegen.tiles.coursing`. A stone is a polygon on the plan lofted upwards; those
of an arch stand on the wall's face and go through it. Behind the stones is a core: the plain tile less the joints'
depth. Core and stones together, cut by the plain tile, are the tile.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property
from itertools import chain, count, pairwise

import manifold3d
import numpy as np
import numpy.typing as npt
import shapely
from manifold3d import Manifold
from shapely.geometry import LineString, MultiLineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import (
    EQUAL_MM,
    Point,
    Points,
    direction_of,
    oriented_rings,
    polygons_of,
)
from tilegen.solids.prisms import across, edge_of, extruded, prism, round_pockets
from tilegen.solids.stones import JOINTS, Heap, Lift, Stone, StoneSide
from tilegen.tiles.coursing import (
    CHORD_MM,
    PROBE_MM,
    Course,
    CourseStone,
    Coursing,
    across_it,
    courses_of,
    lies,
    outline_of,
    points_of,
)
from tilegen.tiles.plate import Facing, Opening, Plate

# How far what is cut by the plain tile reaches past its faces: faces that coincide leave open edges.
_BEYOND_MM = 0.5
# A stone that goes on over a seam reaches past it by this; its section there is the same on every tile.
_OVER_SEAM_MM = 0.15
_SEAM_FACE_MM, _SEAM_RADIUS_MM = 0.2, 0.5
# Stones reach so far into what they lie on.
_SUNK_MM = 0.3
# Faces never lie on the plain tile's.
_OFF_FACE_MM = 0.03
# What a core is thick at least.
_LEAST_CORE_MM = 3.5
# How blunt a core's corners are.
_BLUNT_MM = 0.8
# A side that runs more across its wall than along it (the cosine of its angle).
_ACROSS = 0.7
# What is behind a side of a stone: another stone, another tile's wall, or nothing.
_BEHIND, _SEAM, _FACE = range(3)
# How far quoins and jambs lie under the plain face; how round a stone may be, as a share of its course.
_QUOIN_FACE_MM, _ROUNDEST = 0.15, 0.24
# How round a chipped corner is, as a share of the roundest of the others. How long waves of beds are, and how far
# from a wall's ends they begin.
_CHIP, _WAVE_MM, _TO_END_MM = 2.0, 31.0, 12.0
_LEVEL: Lift = (0.0, 0.0, 0.0)
# How much of its height a stone of a floor may lean.
_MOST_TILT = 0.35
# Random numbers drawn at once.
_NUMBERS = 512
# Stones may lie by so much higher or lower than their course.
_WANDER_MM = 1.0
# What is left of a stone beside an arch, at most.
_CRUMB_MM3 = 40.0
# How wide a route is, in spaces to each side; how much rounder its stones are; what joints stay deeper than them.
_WORN_SPACES, _ROUNDER, _PROBE_DEEP_MM = 0.5, 0.5, 0.1
# Of the rim of a floor: the depth of its joints, what its stones measure inwards, upwards and along it, how far its
# cuts stay from corners, the lowest and the shortest that has stones.
_RIM_DEPTH_MM, _RIM_MM, _RIM_COURSES_MM, _RIM_STONE_MM = 0.6, 3.0, (5.6,), (9.0, 17.0)
_FROM_CORNER_MM, _LEAST_RIM_MM, _RIM_FOOT_MM = 3.0, 1.5, 0.8


def carved(plain: Manifold, plates: Sequence[Plate], facing: Facing, draw: int = 0) -> Manifold | None:
    """A plain tile with the joints of its stones taken away; None where that does not leave one body.

    plates: those it is made of, with their pockets, some of them faced with stone. draw: another number gives other
    stones.
    """
    return _Carver(plates, facing, draw).solid(plain)


class _Carver:
    """Carves one tile."""

    def __init__(self, plates: Sequence[Plate], facing: Facing, draw: int) -> None:
        self.plates, self.style = plates, facing.style
        self.steps = facing.steps
        self.half_play, self.seed = facing.half_play, facing.seed + draw
        self.coursing = Coursing(plates, facing, draw)

    def solid(self, plain: Manifold) -> Manifold | None:
        """The carved tile, if it is one body."""
        heap = Heap(self.steps)
        cut, rooms = self._walls(heap)
        self._floors(heap)
        self._arches(heap)
        if rooms:
            numbered = cut.solid(len(heap.choices))
            heap.put(Manifold.batch_boolean([numbered, *rooms], manifold3d.OpType.Subtract))
        core = Manifold.batch_boolean([*self._core(), *round_pockets(self.plates)], manifold3d.OpType.Add)
        # Worked out at once: the library would join one of its parts with all stones first, at some cost.
        core.status()
        solid = (core + heap.solid()) ^ plain
        # What an arch has left of a stone beside it may lie on nothing.
        parts = [part for part in solid.decompose() if part.volume() > _CRUMB_MM3]
        return parts[0] if len(parts) == 1 else None

    @cached_property
    def _numbers(self) -> Iterator[float]:
        """The same numbers on every machine; drawn many at once, which is quicker."""
        rng = np.random.Generator(np.random.PCG64((self.seed, 2)))
        return chain.from_iterable(rng.random(_NUMBERS).tolist() for _ in count())

    def _u(self, low: float, high: float) -> float:
        return low + (high - low) * next(self._numbers)

    @cached_property
    def depth(self) -> float:
        """Of the joints, less where walls are thin."""
        return deepest(self.coursing.standing, self.style.depth)

    @cached_property
    def _edge(self) -> BaseGeometry:
        edge = self._footprint.boundary
        shapely.prepare(edge)
        return edge

    @cached_property
    def _footprint(self) -> BaseGeometry:
        footprint = shapely.union_all([plate.foot for plate in self.plates if plate.role == "base"])
        shapely.prepare(footprint)
        return footprint

    # --- what is behind the stones ---

    def _core(self) -> Iterator[Manifold]:
        for plate in self.plates:
            if plate.facing and lies(plate):
                seen = self.coursing.seen(plate)
                wide = plate.foot.buffer(_BEYOND_MM, join_style="mitre")
                down = self._floor_depth(plate)
                rims = shapely.MultiLineString(self._rims[plate.name])
                behind = wide.difference(rims.buffer(_RIM_DEPTH_MM, cap_style="square", join_style="mitre"))
                # The foot of a rim stays whole: the tile is as large as it is drawn, and lies firmly.
                foot = plate.bottom + (_RIM_FOOT_MM if plate.bottom < EQUAL_MM else 0.0)
                yield _body(wide, plate.bottom - _BEYOND_MM, foot, None)
                yield _body(behind, foot - PROBE_MM, plate.top - down)
                pad = wide.difference(seen.buffer(_BEYOND_MM + PROBE_MM, join_style="mitre"))
                pad = pad.difference(rims.buffer(_RIM_DEPTH_MM / 2, cap_style="square", join_style="mitre"))
                yield _body(pad, plate.top - down - PROBE_MM, plate.top)
            elif not plate.facing:
                # A hair lower along walls, on whose faces its sides would lie.
                above = shapely.union_all([p.foot for p in self.plates if p.bottom <= plate.top < p.top - EQUAL_MM])
                # Down into the lowest stone of what it stands on.
                sunk = _SUNK_MM + self.style.top + self.style.tilt
                yield _body(plate.foot, plate.bottom - sunk, plate.top - PROBE_MM, None)
                free = plate.foot.difference(above.buffer(_SUNK_MM, join_style="mitre"))
                yield _body(free, plate.top - 2 * PROBE_MM, plate.top + _BEYOND_MM, None)
        for bottom, top in sorted({(plate.bottom, plate.top) for plate in self.coursing.standing}):
            group = [p for p in self.coursing.standing if (p.bottom, p.top) == (bottom, top)]
            feet = shapely.union_all([p.foot for p in group])
            # Its corners and its top keep under stones that are rounder than joints are deep.
            inner = feet.buffer(-self.depth - _BLUNT_MM, join_style="mitre").buffer(_BLUNT_MM, join_style="bevel")
            lower = max(0.0, self.style.radius[1] - self.depth)
            body = _body(inner, bottom - _SUNK_MM, top - self.depth - lower)
            cutters = [self._widened(plate, opening) for plate in group for opening in plate.openings]
            yield Manifold.batch_boolean([body, *cutters], manifold3d.OpType.Subtract) if cutters else body

    def _widened(self, plate: Plate, opening: Opening) -> Manifold:
        """What an opening takes from the core: itself, and the joints' depth of its jambs."""
        high = plate.is_open_topped(opening)
        # Under its head the core reaches into it, and the plain tile cuts it off.
        region: BaseGeometry = opening.region(below=1.0, above=plate.height + 1.0 if high else None)
        half = opening.width / 2 + self.depth
        top = plate.height + 1 if high else opening.spring - _BEYOND_MM * opening.level
        region = region.buffer(-_BEYOND_MM).union(box(opening.centre - half, -1.0, opening.centre + half, top))
        return self._through(plate, region)

    def _through(self, plate: Plate, region: BaseGeometry) -> Manifold:
        if plate.bend is None:
            return across(edge_of(plate), region, (-_BEYOND_MM, plate.thickness + _BEYOND_MM), plate.bottom)
        parts = []
        for part in polygons_of(region):
            rings = oriented_rings(part)
            flat = np.concatenate(rings)
            near, far = (_bent(plate, flat, d) for d in (-_BEYOND_MM, plate.thickness + _BEYOND_MM))
            parts.append(prism(rings, near, far))
        return Manifold.batch_boolean(parts, manifold3d.OpType.Add)

    # --- walls ---

    def _walls(self, heap: Heap) -> tuple[Heap, list[Manifold]]:
        """Lays the stones of all walls; apart, with it, those that may reach into the room of an arch."""
        heads = [(plate, self.coursing.head_room(plate, o)) for plate in self.coursing.standing for o in plate.openings]
        rooms = [self._through(plate, room) for plate, room in heads if room is not None]
        taken = [room.bounding_box() for room in rooms]
        cut = Heap(self.steps)
        for plate, course, pieces in self.coursing.courses():
            low, high = course.low - _WANDER_MM, course.high + _WANDER_MM
            near = [(w, s, e, n) for w, s, bottom, e, n, top in taken if bottom < high and top > low]
            for stone in self._laid(plate, course, pieces):
                across, up = zip(*stone.corners, strict=True)
                reached = any(
                    min(across) < e and max(across) > w and min(up) < n and max(up) > s for w, s, e, n in near
                )
                (cut if reached else heap).add(stone)
        return cut, rooms

    def _laid(self, plate: Plate, course: Course, pieces: Sequence[CourseStone]) -> Iterator[Stone]:
        """The stones of a wall's course."""
        if not pieces:
            return
        starts = np.concatenate([piece.corners for piece in pieces])
        ends = np.concatenate([np.roll(piece.corners, -1, axis=0) for piece in pieces])
        way = (ends - starts) / np.hypot(*(ends - starts).T)[:, None]
        probes = (starts + ends) / 2 + np.column_stack([way[:, 1], -way[:, 0]]) * PROBE_MM
        behind = shapely.contains_xy(course.region, probes)
        along = direction_of(plate.edge) if plate.edge else (1.0, 0.0)
        across_wall = np.abs(way @ np.array(along)) < _ACROSS
        seams = ~behind & across_wall & ~shapely.contains_xy(self._footprint, probes) & (plate.role == "wall")
        sorts = np.where(behind, _BEHIND, np.where(seams, _SEAM, _FACE)).tolist()
        for corners, span, back, even in pieces:
            mine, sorts = sorts[: len(corners)], sorts[len(corners) :]
            beds = _LEVEL, _LEVEL
            if plate.bend is None and plate.edge and span[1] > span[0] and self.style.wander:
                low, high = (self._bed(plate, course.number + below, span) for below in (1, 0))
                beds = (_LEVEL if course.last else low, high if course.number else _LEVEL)
            yield self._stone(corners, mine, course, back, beds, even=even)

    def _bed(self, plate: Plate, number: int, span: tuple[float, float]) -> Lift:
        """How much higher than drawn the bed over a course is along a stone; nothing at a wall's ends."""
        (x, y), (dx, dy), length = plate.at(0.0), plate.direction, plate.length
        rises = []
        for at in span:
            share = min(max(min(at, length - at) / _TO_END_MM, 0.0), 1.0)
            turns = (x + y + (dx + dy) * at) / _WAVE_MM + self._phases[number % len(self._phases)]
            rises.append(self.style.wander * share * math.sin(2 * math.pi * turns))
        slope = (rises[1] - rises[0]) / (span[1] - span[0])
        return dx * slope, dy * slope, rises[0] - slope * (span[0] + x * dx + y * dy)

    @cached_property
    def _phases(self) -> list[float]:
        return list(np.random.Generator(np.random.PCG64((self.seed, 3))).random(64))

    def _share(self, radii: tuple[float, float]) -> float:
        """How round an edge is, as a share of the roundest."""
        return self._u(*radii) / radii[1] if radii[1] else 1.0

    def _worn_corners(self, count: int, radii: tuple[float, float]) -> tuple[tuple[float, float], ...]:
        """How round each corner of a stone is at its low and its high end, as a share of the most; some are chipped."""

        def one() -> float:
            return _CHIP if next(self._numbers) < self.style.chips else self._share(radii)

        return tuple((one(), one()) for _ in range(count))

    def _tilted(self, corners: Points, most: float) -> Lift:
        """A plane under the highest corner of a stone, by no more than so many mm."""
        turn = self._u(0.0, 2 * math.pi)
        dx, dy = math.cos(turn), math.sin(turn)
        along = [x * dx + y * dy for x, y in corners.tolist()]
        slope = self._u(0.0, most) / (max(along) - min(along))
        return dx * slope, dy * slope, -max(along) * slope

    def _stone(
        self,
        corners: Points,
        sorts: Sequence[int],
        course: Course,
        back: float,
        beds: tuple[Lift, Lift],
        *,
        even: bool,
    ) -> Stone:
        """One stone of a wall.

        sorts: what is behind each of its sides. back: how far it stands back. beds: how much higher those below and
        above it are. even: its faces hardly differ in depth.
        """
        style, half = self.style, self.style.joint / 2
        span = min(style.face[1], _QUOIN_FACE_MM) if even else style.face[1]
        # What runs on over a seam is as its neighbour is there.
        over = course.through and _SEAM in sorts
        most = _ROUNDEST * (course.high - course.low)
        radii = (_SEAM_RADIUS_MM,) * 2 if over else style.radius
        radius = min(radii[1], most)
        sides = []
        for n, sort in enumerate(sorts):
            edge = 1.0 if over else min(self._u(*radii), most) / radius if radius else 1.0
            if sort == _BEHIND:
                drawn = half * self._u(0.85, 1.15)
                sides.append(StoneSide(drawn, drawn, edge=edge))
            elif sort == _SEAM:
                drawn = -_OVER_SEAM_MM if over else max(half - self.half_play, _OFF_FACE_MM)
                sides.append(StoneSide(drawn, drawn, round=not over))
            else:
                standard = [over and sorts[m % len(sorts)] == _SEAM for m in (n - 1, n + 1)]
                faces = [_SEAM_FACE_MM if flat else back + self._u(style.face[0], span) for flat in standard]
                lean = 0.0 if over else self._u(-style.tilt, style.tilt) / (2 if even else 1)
                sides.append(StoneSide(faces[0], faces[1], lean=lean, edge=edge))
        bottom = course.low - _SUNK_MM if course.last else course.low + half
        top = course.high - (half if course.number else _OFF_FACE_MM + self._u(0.0, style.top))
        upper = beds[1] if course.number else self._tilted(corners, style.tilt)
        worn = () if over else self._worn_corners(len(sorts), style.radius)
        ends, seen = (not course.last, True), (False, course.number == 0)
        return Stone(points_of(corners), tuple(sides), bottom, top, radius, ends, seen, worn, (beds[0], upper))

    # --- heads of openings ---

    def _arches(self, heap: Heap) -> None:
        for plate in self.coursing.standing:
            for opening in plate.openings:
                for block in self.coursing.head(plate, opening):
                    heap.add(self._voussoir(plate, block))

    def _voussoir(self, plate: Plate, block: list[Point]) -> Stone:
        half, top = 0.3, plate.height - EQUAL_MM
        count = len(block)
        # The sides of an arch's stones that look into the opening.
        inside = count // 2 - 1
        sides = []
        for n in range(count):
            (_, z0), (_, z1) = block[n], block[(n + 1) % count]
            free = min(z0, z1) > top
            inner = n < inside
            d = self._u(0.05, 0.25) if inner or free else half
            sides.append(StoneSide(d, d))
        faces = [self._u(_OFF_FACE_MM, 0.12) for _ in range(2)]

        def place(flat: Points, depths: Points) -> npt.NDArray[np.float64]:
            if plate.bend is not None:
                return np.vstack([_bent(plate, p[None], float(d)) for p, d in zip(flat, depths, strict=True)])
            dx, dy = plate.direction
            x, y = edge_of(plate)[0]
            return np.column_stack(
                [x + dx * flat[:, 0] + dy * depths, y + dy * flat[:, 0] - dx * depths, flat[:, 1] + plate.bottom]
            )

        span = faces[0], plate.thickness - faces[1]
        return Stone(tuple(block), tuple(sides), *span, self._u(0.4, 0.6), place=place)

    # --- floors ---

    def _floor_depth(self, base: Plate) -> float:
        return min(self.style.floor_depth, base.height / 2)

    def _floors(self, heap: Heap) -> None:
        for base in self.plates:
            if not (base.facing and lies(base)):
                continue
            for rim in self._rims[base.name]:
                self._rim(heap, base, rim)
            depth = self._floor_depth(base)
            for piece in self.coursing.flags(base):
                self._flag(heap, piece, base.top, depth)

    @cached_property
    def _routes(self) -> BaseGeometry:
        """Where people walk: from doorways to the tile's middle. It ends there, so that any tile may lie beside it."""
        middle = self._footprint.centroid
        doors = [p.opening_foot(o).centroid for p in self.coursing.standing if p.role == "wall" for o in p.openings]
        return shapely.union_all([LineString([door, middle]) for door in doors])

    def _worn(self, piece: Polygon) -> float:
        """How much a stone of the floor is walked on, 0 to 1."""
        if self._routes.is_empty:
            return 0.0
        return max(0.0, 1 - float(piece.centroid.distance(self._routes)) / (_WORN_SPACES * self.coursing.pitch))

    @cached_property
    def _rims(self) -> dict[str, list[LineString]]:
        """By a floor's name, where it ends in the open: lines along its rim."""
        return {plate.name: self._rims_of(plate) for plate in self.plates if plate.facing and lies(plate)}

    def _rims_of(self, base: Plate) -> list[LineString]:
        if base.height - self._floor_depth(base) < _LEAST_RIM_MM:
            return []
        middle = (base.bottom + base.top) / 2
        others = [p.foot for p in self.plates if p is not base and p.bottom < middle < p.top]
        beside = shapely.union_all(others).buffer(PROBE_MM)
        found: list[LineString] = []
        for part in polygons_of(base.foot.simplify(CHORD_MM / 4)):
            for ring in (part.exterior, *part.interiors):
                free = ring.difference(beside)
                lines = shapely.line_merge(free) if isinstance(free, MultiLineString) else free
                for line in filter(shapely.length, shapely.get_parts(lines)):
                    # With the floor on its left.
                    (x0, y0), (x1, y1) = line.coords[:2]
                    share = PROBE_MM / math.dist((x0, y0), (x1, y1))
                    left = (x0 + x1) / 2 - (y1 - y0) * share, (y0 + y1) / 2 + (x1 - x0) * share
                    rim = line if shapely.contains_xy(part, *left) else line.reverse()
                    if rim.length > (2 * _RIM_STONE_MM[1] if rim.is_closed else _LEAST_RIM_MM):
                        found.append(rim)
        return found

    def _rim(self, heap: Heap, base: Plate, line: LineString) -> None:
        """The stones along a rim, in courses under the floor's."""
        bends = np.hypot(*np.diff(shapely.get_coordinates(line), axis=0).T).cumsum()[:-1].tolist()
        top = base.top - self._floor_depth(base)
        for number, height in enumerate(courses_of(top - base.bottom, _RIM_COURSES_MM)):
            low, last = top - height, top - height < base.bottom + EQUAL_MM
            stops = self._rim_stops(line.length, bends, closed=line.is_closed, shifted=number % 2 == 1)
            # The lowest begin in the foot of the tile, or in what the floor lies on.
            sunk = (_SUNK_MM - _RIM_FOOT_MM if base.bottom < EQUAL_MM else _SUNK_MM) if last else 0.0
            for near, far in pairwise(stops):
                self._rim_stone(heap, line, bends, (near, far), (low - sunk, top), last=last)
            top = low

    def _rim_stops(self, length: float, bends: Sequence[float], *, closed: bool, shifted: bool) -> list[float]:
        """Where a rim is cut: never near a corner, which its stone turns."""
        least, most = np.maximum(_RIM_STONE_MM, self.style.length).tolist()
        at = least * (0.3 if shifted else 0.6) if closed else 0.0
        end = length + at if closed else length
        stops = [at]
        while end - at > most:
            at += self._u(least, most)
            near = min(bends, key=lambda bend: abs(bend - at), default=math.inf)
            if abs(near - at) < _FROM_CORNER_MM:
                at = near + _FROM_CORNER_MM
            if end - at < least / 2:
                break
            stops.append(at)
        return [*stops, end]

    def _rim_stone(
        self,
        heap: Heap,
        line: LineString,
        bends: Sequence[float],
        span: tuple[float, float],
        heights: tuple[float, float],
        *,
        last: bool,
    ) -> None:
        """One stone of a rim. span: from and to along it; past its end it begins again."""
        length, (near, far), (low, high) = line.length, span, heights
        turned = [bend + more for more in (0.0, length) for bend in (*bends, 0.0)]
        turned = [bend for bend in turned if near + EQUAL_MM < bend < far - EQUAL_MM]
        points: list[Point] = []
        for at in (near, *sorted(turned), far):
            spot = line.interpolate(at - length if at > length else at)
            if not points or math.dist(points[-1], (spot.x, spot.y)) > PROBE_MM:
                points.append((spot.x, spot.y))
        ways = [((x - u) / (size := math.dist((u, v), (x, y))), (y - v) / size) for (u, v), (x, y) in pairwise(points)]
        half, style = self.style.floor_joint / 2, self.style
        faces = [StoneSide(self._u(*style.floor_face), self._u(*style.floor_face)) for _ in ways]
        back = [StoneSide(-_SUNK_MM, -_SUNK_MM, round=False) for _ in ways]
        sides = (*faces, StoneSide(half, half), *back, StoneSide(half, half))
        radius = min(self._u(*style.floor_radius), _ROUNDEST * (high - low))
        # Where it hardly turns a corner it is thin.
        inner = [_along(points, ways, wide) for wide in (_RIM_MM, _RIM_MM / 2, _RIM_MM / 4)]
        # Off the stones of the floor above it.
        stone = Stone((), sides, low, high - 1.5 * _SUNK_MM, radius, (not last, True), (False, False))
        heap.add(*(replace(stone, corners=(*points, *line[::-1])) for line in inner if line is not None))

    def _flag(self, heap: Heap, piece: Polygon, top: float, depth: float) -> None:
        """One stone of a floor."""
        style, half = self.style, self.style.floor_joint / 2
        corners = outline_of(piece, CHORD_MM / 2)
        middles = (corners + np.concatenate([corners[1:], corners[:1]])) / 2
        at_rim = shapely.dwithin(self._edge, shapely.points(middles), PROBE_MM)
        drawn = [max(half - self.half_play, _OFF_FACE_MM) if rim else half for rim in at_rim.tolist()]
        worn = self._worn(piece)
        deep = min(self._u(*style.floor_face) + style.wear * worn, depth - _PROBE_DEEP_MM)
        radius, low = style.floor_radius[1] * (1 + _ROUNDER * worn), top - depth - _SUNK_MM
        tilt = min(style.tilt, depth - _PROBE_DEEP_MM - deep, _MOST_TILT * (top - deep - low))
        sides = tuple(StoneSide(d, d, edge=self._share(style.floor_radius)) for d in drawn)
        lifts = _LEVEL, self._tilted(corners, tilt)
        corner = self._worn_corners(len(drawn), style.floor_radius)
        ends = False, True
        heap.add(Stone(points_of(corners), sides, low, top - deep, radius, ends, worn=corner, lifts=lifts))


def _along(points: Sequence[Point], ways: Sequence[Point], wide: float) -> list[Point] | None:
    """A line beside some corners, to their left; None where a side of it would vanish. ways: of each side, unit."""
    found = []
    for n, (x, y) in enumerate(points):
        (ax, ay), (bx, by) = ways[max(n - 1, 0)], ways[min(n, len(ways) - 1)]
        # Along the halves of its corners, as far from both sides.
        share = wide / (1 + ax * bx + ay * by)
        found.append((x - (ay + by) * share, y + (ax + bx) * share))
    steps = [(x - u) * dx + (y - v) * dy for ((u, v), (x, y)), (dx, dy) in zip(pairwise(found), ways, strict=True)]
    return found if min(steps) > _LEAST_RIM_MM / 2 else None


def deepest(standing: Sequence[Plate], most: float) -> float:
    """How deep both faces of some walls may be carved, mm: less where they are thin."""
    thinnest = min(map(across_it, standing), default=math.inf)
    return min(most, max((thinnest - _LEAST_CORE_MM) / 2, 0.2))


def _body(region: BaseGeometry, bottom: float, top: float, face: np.uint64 | None = JOINTS) -> Manifold:
    parts = [extruded(part, bottom, top, face) for part in polygons_of(region)]
    return (
        Manifold.batch_boolean(parts, manifold3d.OpType.Add) if len(parts) > 1 else (parts[0] if parts else Manifold())
    )


def _bent(plate: Plate, flat: Points, depth: float) -> npt.NDArray[np.float64]:
    """Points of a bent wall's face, so deep in it, in space."""
    bend = plate.bend
    assert bend is not None
    found = []
    for s, z in flat.tolist():
        x, y = bend.point(s)
        u, v = bend.point(s + 0.05)
        p, q = bend.point(s - 0.05)
        length = math.dist((u, v), (p, q))
        dx, dy = (u - p) / length, (v - q) / length
        found.append((x + dy * depth, y - dx * depth, z + plate.bottom))
    return np.array(found)
