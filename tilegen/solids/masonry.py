"""Walls and floors of stone: a tile less its joints. What is carved only takes away from the plain tile.

Walls lie in courses. In each the walls' feet on the plan are parted into stones: at a corner one wall runs through in
one course and the other in the next, which are quoins; beside an opening long and short stones alternate, which are
jambs. A stone is a polygon on the plan lofted upwards; those of an arch stand on the wall's face and go through it.
Behind the stones is a core: the plain tile less the joints' depth. Core and stones together, cut by the plain tile,
are the tile.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import manifold3d
import numpy as np
import numpy.typing as npt
import shapely
from manifold3d import Manifold
from shapely.geometry import LineString, MultiLineString, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tilegen.geometry import (
    EQUAL_MM,
    Point,
    Points,
    direction_of,
    largest_polygon,
    oriented_rings,
    polygons_of,
    without_collinear,
)
from tilegen.solids.prisms import across, edge_of, extruded, prism, round_pockets
from tilegen.solids.stones import Heap, Side, Stone
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
# Where a side of a stone is probed for what is behind it.
_PROBE_MM = 0.05
# What a core is thick at least.
_LEAST_CORE_MM = 3.5
# How often cuts are drawn for one course; the best bond is kept.
_DRAWS = 40
# Stones narrower than this are part of their neighbour.
_LEAST_STONE_MM = 3.0
# How far past a wall's ends its last stones are sought.
_END_MM = 20.0
# A side that runs more across its wall than along it (the cosine of its angle).
_ACROSS = 0.7
# What is behind a side of a stone: another stone, another tile's wall, or nothing.
_BEHIND, _SEAM, _FACE = range(3)
# How far quoins and jambs lie under the plain face; how round a stone may be, as a share of its course.
_QUOIN_FACE_MM, _ROUNDEST = 0.15, 0.24
# What is left of a stone beside an arch, at most.
_CRUMB_MM3 = 20.0
# How far the flat faces of stones may lie off a curve.
_CHORD_MM = 0.2
# Of the rim of a floor: the depth of its joints, what its stones measure inwards, upwards and along it, how far its
# cuts stay from corners, the lowest and the shortest that has stones.
_RIM_DEPTH_MM, _RIM_MM, _RIM_COURSES_MM, _RIM_STONE_MM = 0.6, 3.0, (5.6,), (9.0, 17.0)
_FROM_CORNER_MM, _LEAST_RIM_MM, _RIM_FOOT_MM = 3.0, 1.5, 0.8
# Of an arch: how many stones, how high its ring is, the narrowest ring.
_VOUSSOIRS, _RING_MM, _LEAST_RING_MM = 9, 5.3, 2.4
_FLAT_ARCH_STONES, _LEAN = 5, math.tan(math.radians(18))
# How far a beam over a doorway lies on its jambs.
_BEARING_MM = 2.4


def carved(plain: Manifold, plates: Sequence[Plate], facing: Facing, draw: int = 0) -> Manifold | None:
    """A plain tile with the joints of its stones taken away; None where that does not leave one body.

    plates: those it is made of, with their pockets, some of them faced with stone. draw: another number gives other
    stones.
    """
    return _Carver(plates, facing, draw).solid(plain)


@dataclass(frozen=True, slots=True)
class _Course:
    """A course of walls: its number from the top, its heights, whether it is the lowest, and what stands there."""

    number: int
    low: float
    high: float
    last: bool
    region: BaseGeometry

    @property
    def through(self) -> bool:
        """Whether its stones go on over the seams between tiles; those of the others end there."""
        return self.number % 2 == 1


class _Carver:
    """Carves one tile."""

    def __init__(self, plates: Sequence[Plate], facing: Facing, draw: int) -> None:
        self.plates, self.style = plates, facing.style
        self.turned = [_turned(plate) for plate in plates]
        self.steps = facing.steps
        self.half_play, self.pitch, self.seed = facing.half_play, facing.pitch, facing.seed + draw

    def solid(self, plain: Manifold) -> Manifold | None:
        """The carved tile, if it is one body."""
        floors, walls = Heap(self.steps), Heap(self.steps)
        cut = self._walls(walls)
        self._floors(floors)
        whole = [*self._core(), cut, floors.solid(), self._arches(), *round_pockets(self.plates)]
        solid = Manifold.batch_boolean(whole, manifold3d.OpType.Add) ^ plain
        # What an arch has left of a stone beside it may lie on nothing.
        parts = [part for part in solid.decompose() if part.volume() > _CRUMB_MM3]
        return parts[0] if len(parts) == 1 else None

    @cached_property
    def rng(self) -> np.random.Generator:
        """The same numbers on every machine."""
        return np.random.Generator(np.random.PCG64(self.seed))

    def _u(self, low: float, high: float) -> float:
        return low + (high - low) * float(self.rng.random())

    @cached_property
    def depth(self) -> float:
        """Of the joints, less where walls are thin."""
        return deepest(self._standing, self.style.depth)

    @cached_property
    def _standing(self) -> list[Plate]:
        return [plate for plate in self.plates if plate.facing and not lies(plate)]

    @cached_property
    def _footprint(self) -> BaseGeometry:
        footprint = shapely.union_all([plate.foot for plate in self.plates if plate.role == "base"])
        shapely.prepare(footprint)
        return footprint

    # --- what is behind the stones ---

    def _core(self) -> Iterator[Manifold]:
        for plate in self.plates:
            if plate.facing and lies(plate):
                seen = self._seen(plate)
                wide = plate.foot.buffer(_BEYOND_MM, join_style="mitre")
                down = self._floor_depth(plate)
                rims = shapely.MultiLineString(self._rims[plate.name])
                behind = wide.difference(rims.buffer(_RIM_DEPTH_MM, cap_style="square", join_style="mitre"))
                # The foot of a rim stays whole: the tile is as large as it is drawn, and lies firmly.
                foot = plate.bottom + (_RIM_FOOT_MM if plate.bottom < EQUAL_MM else 0.0)
                yield _body(wide, plate.bottom - _BEYOND_MM, foot)
                yield _body(behind, foot - _PROBE_MM, plate.top - down)
                pad = wide.difference(seen.buffer(_BEYOND_MM + _PROBE_MM, join_style="mitre"))
                pad = pad.difference(rims.buffer(_RIM_DEPTH_MM / 2, cap_style="square", join_style="mitre"))
                yield _body(pad, plate.top - down - _PROBE_MM, plate.top)
            elif not plate.facing:
                # A hair lower along walls, on whose faces its sides would lie.
                above = shapely.union_all([p.foot for p in self.plates if p.bottom <= plate.top < p.top - EQUAL_MM])
                yield _body(plate.foot, plate.bottom - _SUNK_MM, plate.top - _PROBE_MM)
                free = plate.foot.difference(above.buffer(_SUNK_MM, join_style="mitre"))
                yield _body(free, plate.top - 2 * _PROBE_MM, plate.top + _BEYOND_MM)
        for bottom, top in sorted({(plate.bottom, plate.top) for plate in self._standing}):
            group = [p for p in self._standing if (p.bottom, p.top) == (bottom, top)]
            feet = shapely.union_all([p.foot for p in group])
            inner = feet.buffer(-self.depth, join_style="mitre")
            body = _body(inner, bottom - _SUNK_MM, top - self.depth)
            cutters = [self._widened(plate, opening) for plate in group for opening in plate.openings]
            yield Manifold.batch_boolean([body, *cutters], manifold3d.OpType.Subtract) if cutters else body

    def _widened(self, plate: Plate, opening: Opening) -> Manifold:
        """What an opening takes from the core: itself, and the joints' depth of its jambs."""
        high = plate.is_open_topped(opening)
        region: BaseGeometry = opening.region(below=1.0, above=plate.height + 1.0 if high else None)
        half = opening.width / 2 + self.depth
        spring = _spring(opening)
        region = region.union(
            box(opening.centre - half, -1.0, opening.centre + half, plate.height + 1 if high else spring)
        )
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

    def _seen(self, base: Plate) -> BaseGeometry:
        """What is seen of a floor, the thresholds of openings with it."""
        standing = [plate for plate in self.plates if plate.bottom <= base.top < plate.top]
        covered = [_less(plate, plate.openings) for plate in standing]
        return base.foot.difference(shapely.union_all(covered))

    # --- walls ---

    def _walls(self, heap: Heap) -> Manifold:
        """The stones of all walls, less the room of arches."""
        turns = self.plates, self.turned
        for bottom, top in sorted({(plate.bottom, plate.top) for plate in self._standing}):
            heights = courses_of(top - bottom, self.style.courses)
            above: dict[str, list[float]] = {}
            high = top
            for number, height in enumerate(heights):
                low, last = high - height, number == len(heights) - 1
                course = _Course(number, low, high, last, self._standing_at(low, high))
                for plate in turns[number % 2]:
                    if plate.facing and not lies(plate) and (plate.bottom, plate.top) == (bottom, top):
                        self._lay(heap, plate, course, list(self._pieces(plate, course, above)))
                high = low
        rooms = [(plate, self._head(plate, opening)) for plate in self._standing for opening in plate.openings]
        arches = [self._through(plate, room) for plate, room in rooms if room is not None]
        return Manifold.batch_boolean([heap.solid(), *arches], manifold3d.OpType.Subtract)

    def _standing_at(self, low: float, high: float) -> BaseGeometry:
        """What stands between two heights, less the openings there."""
        feet = []
        for plate in self.plates:
            if lies(plate) or plate.bottom >= high or plate.top <= low:
                continue
            feet.append(_less(plate, [o for o in plate.openings if _is_beside(plate, o, low)]))
        region = shapely.union_all(feet)
        shapely.prepare(region)
        return region

    def _pieces(self, plate: Plate, course: _Course, above: dict[str, list[float]]) -> Iterator[tuple[Points, bool]]:
        """What a wall is parted into in one course, and whether each stone is one of the field.

        above: where each wall is cut in the course above; then in this one.
        """
        if plate.role not in ("wall", "door") or plate.edge is None:
            yield _corners(plate.foot), False
            return
        square = plate.bend is None and abs(plate.foot.area - plate.length * plate.thickness) < EQUAL_MM
        length = plate.length
        beside = [opening for opening in plate.openings if _is_beside(plate, opening, course.low)]
        holes = sorted((o.centre - o.width / 2, o.centre + o.width / 2) for o in beside)
        # A wall starts elsewhere in every second course.
        zero = 0.0 if plate.bend else float(np.dot(plate.direction, plate.edge[0]))
        before, mine = above.get(plate.name, []), []
        for (_, start), (end, _) in pairwise([(-math.inf, 0.0), *holes, (length, math.inf)]):
            if end - start < EQUAL_MM:
                continue
            jambs = start > 0, end < length
            ends = (
                self._first(course, jamb=jambs[0], turns=self._turns(plate, course, 1.0)),
                self._first(course, jamb=jambs[1], turns=self._turns(plate, course, length - 1.0)),
            )
            cuts = [start + cut for cut in self._cuts(end - start, ends, [at - zero - start for at in before])]
            mine += [cut + zero for cut in cuts]
            stops = [start, *cuts, end]
            for n, (near, far) in enumerate(pairwise(stops)):
                inside = 0 < n < len(stops) - 2
                if square:
                    depth = plate.thickness
                    corners = plate.at(near, depth), plate.at(far, depth), plate.at(far), plate.at(near)
                    yield np.array(corners), inside
                    continue
                out = (n == 0 and not jambs[0], n == len(stops) - 2 and not jambs[1])
                strip = self._strip(plate, near - _END_MM * out[0], far + _END_MM * out[1])
                for part in polygons_of(strip):
                    yield _corners(part, _CHORD_MM if plate.bend else _PROBE_MM / 2), inside
        above[plate.name] = mine

    @staticmethod
    def _turns(plate: Plate, course: _Course, along: float) -> float:
        """How thick a wall is that another one meets behind it there, at a corner; 0 where none does."""
        inner = plate.at(along, plate.thickness + 1.0)
        return plate.thickness if plate.bend is None and shapely.contains_xy(course.region, *inner) else 0.0

    def _first(self, course: _Course, *, jamb: bool, turns: float) -> float:
        """How long the stone at one end of a stretch is; those of jambs and of ends alternate, quoins turn corners."""
        least, most = self.style.length
        if turns and not jamb:
            return turns + self._u(0.5, 0.9) * least
        long = course.through == jamb
        half = max(0.55 * least, _LEAST_STONE_MM + 0.5)
        return self._u(0.8 * most, most) if long else self._u(half, 1.25 * half)

    def _cuts(self, room: float, ends: tuple[float, float], before: Sequence[float]) -> list[float]:
        """Where a stretch is cut: the best bond of some draws against the course above."""
        least, most = self.style.length
        if room < 1.6 * least:
            return []
        first, final = ends
        if first + final > room - 0.6 * least:
            share = room / (first + final)
            return [first * share]
        best, worth = [first, room - final], -1.0
        for _ in range(_DRAWS):
            cuts, at = [first], first
            left = room - final
            while left - at > most:
                step = self._u(least, min(most, left - at - 0.7 * least) if left - at > 1.7 * least else most)
                if left - at - step < 0.7 * least:
                    break
                at += step
                cuts.append(at)
            if left - cuts[-1] > 0.5 * least:
                cuts.append(left)
            lap = min((abs(c - b) for c in cuts for b in before), default=math.inf)
            if lap > worth:
                best, worth = cuts, lap
            if lap > least / 4:
                break
        return best

    def _strip(self, plate: Plate, near: float, far: float) -> BaseGeometry:
        if plate.bend is not None:
            strip: BaseGeometry = plate.bend.foot(near, far, before=1.0, beyond=1.0)
        else:
            d = plate.thickness + 1.0
            strip = Polygon([plate.at(near, -1.0), plate.at(far, -1.0), plate.at(far, d), plate.at(near, d)])
        return strip.intersection(plate.foot)

    def _lay(self, heap: Heap, plate: Plate, course: _Course, pieces: Sequence[tuple[Points, bool]]) -> None:
        """The stones of a wall's course."""
        if not pieces:
            return
        starts = np.concatenate([corners for corners, _ in pieces])
        ends = np.concatenate([np.roll(corners, -1, axis=0) for corners, _ in pieces])
        way = (ends - starts) / np.hypot(*(ends - starts).T)[:, None]
        probes = (starts + ends) / 2 + np.column_stack([way[:, 1], -way[:, 0]]) * _PROBE_MM
        behind = shapely.contains_xy(course.region, probes)
        along = direction_of(plate.edge) if plate.edge else (1.0, 0.0)
        across_wall = np.abs(way @ np.array(along)) < _ACROSS
        seams = ~behind & across_wall & ~shapely.contains_xy(self._footprint, probes) & (plate.role == "wall")
        sorts = np.where(behind, _BEHIND, np.where(seams, _SEAM, _FACE)).tolist()
        for corners, inside in pieces:
            mine, sorts = sorts[: len(corners)], sorts[len(corners) :]
            heap.add(self._stone(corners, mine, course, inside=inside))

    def _stone(self, corners: Points, sorts: Sequence[int], course: _Course, *, inside: bool) -> Stone:
        """One stone of a wall. sorts: what is behind each of its sides. inside: it is one of the field."""
        style, half = self.style, self.style.joint / 2
        deep, span = (style.sunk, style.face[1]) if inside else (0.0, min(style.face[1], _QUOIN_FACE_MM))
        over = course.through and _SEAM in sorts
        radius = min(_SEAM_RADIUS_MM if over else self._u(*style.radius), _ROUNDEST * (course.high - course.low))
        sides = []
        for n, sort in enumerate(sorts):
            if sort == _BEHIND:
                drawn = half * self._u(0.85, 1.15)
                sides.append(Side(drawn, drawn))
            elif sort == _SEAM:
                drawn = -_OVER_SEAM_MM if over else max(half - self.half_play, _OFF_FACE_MM)
                sides.append(Side(drawn, drawn, round=not over))
            else:
                standard = [over and sorts[m % len(sorts)] == _SEAM for m in (n - 1, n + 1)]
                faces = [_SEAM_FACE_MM if flat else deep + self._u(style.face[0], span) for flat in standard]
                sides.append(Side(faces[0], faces[1]))
        bottom = course.low - _SUNK_MM if course.last else course.low + half
        top = course.high - (half if course.number else _OFF_FACE_MM + self._u(*style.face))
        return Stone(_points(corners), tuple(sides), bottom, top, radius, (not course.last, True))

    # --- heads of openings ---

    def _head(self, plate: Plate, opening: Opening) -> BaseGeometry | None:
        """The room of an arch over an opening, with a joint round it; None where the opening has no head."""
        ring = self._ring(plate, opening)
        if ring is None:
            return None
        joint = self.style.joint
        if opening.head == "round":
            radius, spring = opening.width / 2, _spring(opening)
            disc = shapely.Point(opening.centre, spring).buffer(radius + ring + joint, quad_segs=24)
            return disc.intersection(box(opening.centre - 99, spring, opening.centre + 99, plate.height + 1))
        top = opening.height + ring
        high = plate.height + 1 if top > plate.height - EQUAL_MM else top + joint
        if self.style.head == "beam":
            half = opening.width / 2 + _BEARING_MM + joint
            return box(opening.centre - half, opening.height, opening.centre + half, high)
        lean = _LEAN * ring + joint
        a, b = opening.centre - opening.width / 2, opening.centre + opening.width / 2
        more = lean * (high - opening.height) / ring
        return Polygon([(a - joint, opening.height), (b + joint, opening.height), (b + more, high), (a - more, high)])

    def _ring(self, plate: Plate, opening: Opening) -> float | None:
        """How high the stones of a head are."""
        room = plate.height - opening.height
        if plate.is_open_topped(opening) or room < _LEAST_RING_MM:
            return None
        if opening.head == "round":
            return min(_RING_MM, room - 0.4 if room < _RING_MM + 1.2 else _RING_MM)
        return room if room < 9.5 else 6.5

    def _arches(self) -> Manifold:
        heap = Heap(self.steps)
        for plate in self._standing:
            for opening in plate.openings:
                ring = self._ring(plate, opening)
                if ring is None:
                    continue
                if opening.head == "round":
                    blocks = list(_voussoirs(opening, ring))
                else:
                    blocks = [_beam(opening, ring)] if self.style.head == "beam" else list(_flat_arch(opening, ring))
                for block in blocks:
                    self._voussoir(heap, plate, block)
        return heap.solid()

    def _voussoir(self, heap: Heap, plate: Plate, block: list[Point]) -> None:
        half, top = 0.3, plate.height - EQUAL_MM
        count = len(block)
        sides = []
        for n in range(count):
            (_, z0), (_, z1) = block[n], block[(n + 1) % count]
            free = min(z0, z1) > top
            inner = n == 0
            d = self._u(0.05, 0.25) if inner or free else half
            sides.append(Side(d, d))
        faces = [self._u(_OFF_FACE_MM, 0.12) for _ in range(2)]

        def place(flat: Points, depths: Points) -> npt.NDArray[np.float64]:
            if plate.bend is not None:
                return np.vstack([_bent(plate, p[None], float(d)) for p, d in zip(flat, depths, strict=True)])
            dx, dy = plate.direction
            x, y = edge_of(plate)[0]
            return np.column_stack(
                [x + dx * flat[:, 0] + dy * depths, y + dy * flat[:, 0] - dx * depths, flat[:, 1] + plate.bottom]
            )

        stone = Stone(tuple(block), tuple(sides), faces[0], plate.thickness - faces[1], self._u(0.4, 0.6))
        heap.add(stone, place)

    # --- floors ---

    def _floor_depth(self, base: Plate) -> float:
        return min(self.style.floor_depth, base.height / 2)

    def _floors(self, heap: Heap) -> None:
        for base in self.plates:
            if not (base.facing and lies(base)):
                continue
            for rim in self._rims[base.name]:
                self._rim(heap, base, rim)
            seen = self._seen(base)
            thresholds = [
                p.opening_foot(o) for p in self._standing if abs(p.bottom - base.top) < 1e-6 for o in p.openings
            ]
            main = seen.difference(shapely.union_all(thresholds)) if thresholds else seen
            depth = self._floor_depth(base)
            pieces = [q for t in thresholds for q in polygons_of(t.intersection(base.foot))]
            pieces += list(self._paved(main))
            for piece in pieces:
                self._flag(heap, piece, base.top, depth)

    @cached_property
    def _rims(self) -> dict[str, list[LineString]]:
        """By a floor's name, where it ends in the open: lines along its rim."""
        return {plate.name: self._rims_of(plate) for plate in self.plates if plate.facing and lies(plate)}

    def _rims_of(self, base: Plate) -> list[LineString]:
        if base.height - self._floor_depth(base) < _LEAST_RIM_MM:
            return []
        middle = (base.bottom + base.top) / 2
        others = [p.foot for p in self.plates if p is not base and p.bottom < middle < p.top]
        beside = shapely.union_all(others).buffer(_PROBE_MM)
        found: list[LineString] = []
        for part in polygons_of(base.foot.simplify(_CHORD_MM / 4)):
            for ring in (part.exterior, *part.interiors):
                free = ring.difference(beside)
                lines = shapely.line_merge(free) if isinstance(free, MultiLineString) else free
                for line in filter(shapely.length, shapely.get_parts(lines)):
                    # With the floor on its left.
                    (x0, y0), (x1, y1) = line.coords[:2]
                    share = _PROBE_MM / math.dist((x0, y0), (x1, y1))
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
            for near, far in pairwise(stops):
                self._rim_stone(heap, line, bends, (near, far), (low - (_BEYOND_MM if last else 0.0), top), last=last)
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
            if not points or math.dist(points[-1], (spot.x, spot.y)) > _PROBE_MM:
                points.append((spot.x, spot.y))
        ways = [np.subtract(b, a) / math.dist(a, b) for a, b in pairwise(points)]
        inner = next(filter(None, (_along(points, ways, wide) for wide in (_RIM_MM, _RIM_MM / 2))), None)
        if inner is None:
            return
        half, style = self.style.floor_joint / 2, self.style
        faces = [Side(self._u(*style.floor_face), self._u(*style.floor_face)) for _ in ways]
        back = [Side(-_SUNK_MM, -_SUNK_MM, round=False) for _ in ways]
        sides = (*faces, Side(half, half), *back, Side(half, half))
        radius = min(self._u(*style.floor_radius), _ROUNDEST * (high - low))
        heap.add(Stone((*points, *inner[::-1]), sides, low, high - _SUNK_MM / 2, radius, (not last, True)))

    def _paved(self, region: BaseGeometry) -> Iterator[Polygon]:
        west, south, east, north = region.bounds if not region.is_empty else (0, 0, 0, 0)
        p = self.pitch
        for i in range(math.floor(west / p), math.ceil(east / p)):
            for j in range(math.floor(south / p), math.ceil(north / p)):
                cell = box(i * p, j * p, (i + 1) * p, (j + 1) * p).intersection(region)
                for part in polygons_of(cell):
                    bounds = part.bounds
                    parted = self._split(bounds) if self.style.floor == "flags" else self._boards(bounds, (i + j) % 2)
                    blocks = [box(*bounds).intersection(part) for bounds in parted]
                    yield from _merged([piece for block in blocks for piece in polygons_of(block)])

    def _split(self, rect: tuple[float, float, float, float]) -> Iterator[tuple[float, float, float, float]]:
        west, south, east, north = rect
        w, h = east - west, north - south
        least, most = self.style.floor_stone
        long = max(w, h)
        if long < 2 * least or (long < most and self._u(0, 1) < 0.6) or self._u(0, 1) < 0.1:
            yield rect
            return
        share = self._u(max(0.36, least / long), min(0.64, 1 - least / long))
        if w >= h:
            yield from self._split((west, south, west + share * w, north))
            yield from self._split((west + share * w, south, east, north))
        else:
            yield from self._split((west, south, east, south + share * h))
            yield from self._split((west, south + share * h, east, north))

    def _boards(self, rect: tuple[float, float, float, float], way: int) -> Iterator[tuple[float, float, float, float]]:
        """Boards side by side; way: 0 along x, 1 along y, which neighbouring spaces take turns in."""
        west, south, east, north = rect
        low, high = (south, north) if way == 0 else (west, east)
        least, most = self.style.floor_stone
        while low < high:
            wide = self._u(least, most)
            end = high if high - low - wide < least else low + wide
            yield (west, low, east, end) if way == 0 else (low, south, end, north)
            low = end

    def _flag(self, heap: Heap, piece: Polygon, top: float, depth: float) -> None:
        """One stone of a floor."""
        style, half = self.style, self.style.floor_joint / 2
        corners = _corners(piece, _CHORD_MM / 2)
        middles = (corners + np.roll(corners, -1, axis=0)) / 2
        at_rim = np.asarray(shapely.distance(self._footprint.boundary, shapely.points(middles))) < _PROBE_MM
        drawn = [max(half - self.half_play, _OFF_FACE_MM) if rim else half for rim in at_rim.tolist()]
        high, radius = top - self._u(*style.floor_face), self._u(*style.floor_radius)
        sides = tuple(Side(d, d) for d in drawn)
        heap.add(Stone(_points(corners), sides, top - depth - _SUNK_MM, high, radius, (False, True)))


def _along(points: Sequence[Point], ways: Sequence[Points], wide: float) -> list[Point] | None:
    """A line beside some corners, to their left; None where a side of it would vanish. ways: of each side, unit."""
    found = []
    for n, (x, y) in enumerate(points):
        before, after = ways[max(n - 1, 0)], ways[min(n, len(ways) - 1)]
        # Along the halves of its corners, as far from both sides.
        share = wide / (1 + float(before @ after))
        found.append((x - (before[1] + after[1]) * share, y + (before[0] + after[0]) * share))
    steps = [float(np.subtract(b, a) @ way) for (a, b), way in zip(pairwise(found), ways, strict=True)]
    return found if min(steps) > _LEAST_RIM_MM / 2 else None


def _less(plate: Plate, openings: Sequence[Opening]) -> BaseGeometry:
    """What a plate covers on the plan, less some of its openings."""
    foot: BaseGeometry = plate.foot
    for opening in openings:
        foot = foot.difference(plate.opening_foot(opening))
    return foot


def deepest(standing: Sequence[Plate], most: float) -> float:
    """How deep both faces of some walls may be carved, mm: less where they are thin."""
    thinnest = min(map(_across_it, standing), default=math.inf)
    return min(most, max((thinnest - _LEAST_CORE_MM) / 2, 0.2))


def _across_it(plate: Plate) -> float:
    """How thick a plate that stands is, mm."""
    west, south, east, north = plate.foot.bounds
    return plate.thickness if plate.edge else min(east - west, north - south)


def lies(plate: Plate) -> bool:
    """Whether a plate is floor: what has no face along an edge and is lower than it is wide."""
    return plate.edge is None and (plate.role == "base" or plate.height < _across_it(plate) / 2)


def _turned(plate: Plate) -> Plate:
    """A plate as it is in every second course, at the heights that it has come to by now."""
    other = plate.facing.turned if plate.facing else None
    if other is None:
        return plate
    openings = other.openings
    if len(openings) == len(plate.openings):
        pairs = zip(openings, plate.openings, strict=True)
        openings = tuple(replace(opening, height=mine.height) for opening, mine in pairs)
    return replace(other, facing=plate.facing, bottom=plate.bottom, top=plate.top, openings=openings)


def _corners(part: Polygon, tolerance: float = 0.0) -> Points:
    """The corners of an outline without holes, counter-clockwise."""
    plain = largest_polygon(part.simplify(tolerance)) if tolerance else without_collinear(part)
    points: Points = shapely.get_coordinates(orient(plain).exterior)[:-1]
    return points


def _points(corners: Points) -> tuple[Point, ...]:
    return tuple((x, y) for x, y in corners.tolist())


def _merged(parts: list[Polygon]) -> list[Polygon]:
    """Parts without slivers: each goes to the neighbour that it shares most of its outline with."""
    small = [p for p in parts if p.buffer(-_LEAST_STONE_MM / 2).is_empty]
    large = [p for p in parts if not p.buffer(-_LEAST_STONE_MM / 2).is_empty]
    for piece in small:
        if not large:
            large.append(piece)
            continue
        shared = [piece.intersection(other).length for other in large]
        best = int(np.argmax(shared))
        whole = shapely.union(piece, large[best])
        if shared[best] > 0.5 and isinstance(whole, Polygon) and not whole.interiors:
            large[best] = whole
        else:
            large.append(piece)
    return large


def _body(region: BaseGeometry, bottom: float, top: float) -> Manifold:
    parts = [extruded(part, bottom, top) for part in polygons_of(region)]
    return (
        Manifold.batch_boolean(parts, manifold3d.OpType.Add) if len(parts) > 1 else (parts[0] if parts else Manifold())
    )


def _spring(opening: Opening) -> float:
    return opening.height - opening.width / 2 if opening.head == "round" else opening.height


def _is_beside(plate: Plate, opening: Opening, low: float) -> bool:
    """Whether a course that begins at a height lies beside an opening, not over it."""
    if plate.is_open_topped(opening):
        return True
    return low - plate.bottom < _spring(opening) - 1.0


def courses_of(height: float, table: Sequence[float]) -> list[float]:
    """The heights of courses from the top down: the table's, again and again; the last takes what is left."""
    found: list[float] = []
    left = height
    while left > 1e-6:
        nxt = table[::-1][len(found) % len(table)]
        if left < 1.5 * nxt:
            found.append(left)
            break
        found.append(nxt)
        left -= nxt
    return found


def _voussoirs(opening: Opening, ring: float) -> Iterator[list[Point]]:
    radius, spring = opening.width / 2, _spring(opening)
    for n in range(_VOUSSOIRS):
        a, b = (math.pi * (n + k) / _VOUSSOIRS for k in (0, 1))
        near = [(radius, a), (radius, b)]
        middle = (radius + ring, (a + b) / 2)
        far = [(radius + ring, a), (radius + ring, b)]
        polar = [near[1], near[0], far[0], middle, far[1]]
        yield [(opening.centre + r * math.cos(t), spring + r * math.sin(t)) for r, t in polar]


def _flat_arch(opening: Opening, ring: float) -> Iterator[list[Point]]:
    a, width, low = opening.centre - opening.width / 2, opening.width, opening.height
    lean = _LEAN * ring
    count = _FLAT_ARCH_STONES
    bottom = [a + width * n / count for n in range(count + 1)]
    top = [a - lean + (width + 2 * lean) * n / count for n in range(count + 1)]
    for n in range(count):
        yield [(bottom[n], low), (bottom[n + 1], low), (top[n + 1], low + ring), (top[n], low + ring)]


def _beam(opening: Opening, ring: float) -> list[Point]:
    half, low = opening.width / 2 + _BEARING_MM, opening.height
    a, b = opening.centre - half, opening.centre + half
    return [(a, low), (b, low), (b, low + ring), (a, low + ring)]


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
