"""How floors and walls are parted into stones: one drawing for what is carved, scored and printed on paper.

Walls lie in courses. In each the walls' feet on the plan are parted into stones: at a corner one wall runs through in
one course and the other in the next, which are quoins; beside an opening long and short stones alternate, which are
jambs. Over an opening stands an arch or a beam.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import fsum
from typing import NamedTuple

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, Point, Points, is_box, largest_polygon, polygons_of, without_collinear
from tilegen.tiles import heads
from tilegen.tiles.plate import Facing, Opening, Plate

# Where a side of a stone is probed for what is behind it.
PROBE_MM = 0.05
# How far the flat faces of stones may lie off a curve.
CHORD_MM = 0.08
# How often cuts are drawn for one course; the best bond is kept.
_DRAWS = 40
# Stones narrower than this are part of their neighbour.
_LEAST_STONE_MM = 3.0
# How high a pillar's cap, its base and its drums are.
_CAP_MM, _DRUM_MM = 4.5, 9.5
# How far past a wall's ends its last stones are sought.
_END_MM = 20.0
# How high the ring of an arch is, and the lowest one.
_RING_MM, _LEAST_RING_MM = 5.3, 2.4
_FLAT_ARCH_STONES, _LEAN = 5, math.tan(math.radians(18))
# How far a beam over a doorway lies on its jambs.
_BEARING_MM = 2.4
# How far a crack strays, how far apart its bends are, how much of a line's width it has amid a space, and how
# far from the corners of spaces all that begins.
_STRAY_MM, _BENDS_MM, _CRACK_WIDE, _TO_CORNER_MM = 1.7, (1.5, 4.0), (0.5, 1.2), 6.0
# How far a pillar's shaft stands back from its base and cap; less than joints are deep.
_SHAFT_MM = 0.55
# The least lap of a bond, as a share of a stone's least length.
LEAST_LAP = 0.25


@dataclass(frozen=True, slots=True)
class Course:
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


class CourseStone(NamedTuple):
    """A stone of a wall's course: its corners on the plan, its ends along the wall, how far it stands back, mm, and
    whether its faces hardly differ in depth from its neighbours'.
    """

    corners: Points
    span: tuple[float, float] = (0.0, 0.0)
    back: float = 0.0
    even: bool = True


class Coursing:
    """Parts one tile into stones.

    plates: those it is made of, some of them faced with stone. draw: another number gives other stones.
    """

    def __init__(self, plates: Sequence[Plate], facing: Facing, draw: int = 0) -> None:
        self.plates, self.style, self.pitch = plates, facing.style, facing.pitch
        self.turned = [_turned(plate) for plate in plates]
        # Walls and floors each have numbers of their own, the same on every machine.
        self._walls, self._floors = (
            np.random.Generator(np.random.PCG64((facing.seed + draw, part))) for part in range(2)
        )

    @cached_property
    def standing(self) -> list[Plate]:
        """What is of stone and not floor."""
        return [plate for plate in self.plates if plate.facing and not lies(plate)]

    @staticmethod
    def _u(rng: np.random.Generator, low: float, high: float) -> float:
        return low + (high - low) * float(rng.random())

    # --- walls ---

    def courses(self) -> Iterator[tuple[Plate, Course, list[CourseStone]]]:
        """The stones of all walls, from the top down."""
        turns = self.plates, self.turned
        for group in sorted(set(map(_group, self.standing))):
            bottom, top, drums = group
            heights = drums_of(top - bottom) if drums else courses_of(top - bottom, self.style.courses)
            above: dict[str, list[float]] = {}
            high = top
            for number, height in enumerate(heights):
                low, last = high - height, number == len(heights) - 1
                course = Course(number, low, high, last, self._standing_at(low, high))
                for plate in turns[number % 2]:
                    if plate.facing and not lies(plate) and _group(plate) == group:
                        yield plate, course, list(self._pieces(plate, course, above))
                high = low

    def _standing_at(self, low: float, high: float) -> BaseGeometry:
        """What stands between two heights, less the openings there."""
        feet = []
        for plate in self.plates:
            if lies(plate) or plate.bottom >= high or plate.top <= low:
                continue
            feet.append(less(plate, [o for o in plate.openings if _is_beside(plate, o, low)]))
        region = shapely.union_all(feet)
        shapely.prepare(region)
        return region

    def _pieces(self, plate: Plate, course: Course, above: dict[str, list[float]]) -> Iterator[CourseStone]:
        """What a wall is parted into in one course.

        above: where each wall is cut in the course above; then in this one.
        """
        if plate.role not in ("wall", "door") or plate.edge is None:
            if plate.foot.interiors:
                yield from map(CourseStone, self._round_ring(plate.foot, course))
                return
            # A pillar's shaft stands back between its base and its cap.
            back = _SHAFT_MM if _of_drums(plate) and course.number > 0 and not course.last else 0.0
            yield CourseStone(outline_of(plate.foot), (0.0, plate.length if plate.edge else 0.0), back)
            return
        length, depth = plate.length, plate.thickness
        square = plate.bend is None and abs(plate.foot.area - length * depth) < EQUAL_MM
        beside = [opening for opening in plate.openings if _is_beside(plate, opening, course.low)]
        holes = sorted((o.centre - o.width / 2, o.centre + o.width / 2) for o in beside)
        # A wall starts elsewhere in every second course.
        zero = 0.0 if plate.bend else float(np.dot(plate.direction, plate.edge[0]))
        before, mine = above.get(plate.name, []), []
        for (_, start), (end, _) in pairwise([(-math.inf, 0.0), *holes, (length, math.inf)]):
            if end - start < EQUAL_MM:
                continue
            jambs = start > 0, end < length
            ends = [self._first(plate, course, at, jamb=jamb) for at, jamb in zip((start, end), jambs, strict=True)]
            cuts = self._cuts(end - start, ends, [at - zero - start for at in before])
            cuts = [start + cut for cut in cuts]
            mine += [cut + zero for cut in cuts]
            stops = [start, *cuts, end]
            for n, (near, far) in enumerate(pairwise(stops)):
                even = n in (0, len(stops) - 2)
                back = 0.0 if even else self.style.sunk
                if square:
                    at = plate.at(near, depth), plate.at(far, depth), plate.at(far), plate.at(near)
                    yield CourseStone(np.array(at), (near, far), back, even)
                    continue
                out = (n == 0 and not jambs[0], n == len(stops) - 2 and not jambs[1])
                strip = self._strip(plate, near - _END_MM * out[0], far + _END_MM * out[1])
                for part in polygons_of(strip):
                    corners = outline_of(part, CHORD_MM if plate.bend else PROBE_MM / 2)
                    yield CourseStone(corners, (near, far), back, even)
        above[plate.name] = mine

    def _first(self, plate: Plate, course: Course, end: float, *, jamb: bool) -> tuple[float, float]:
        """How long the stone at one end of a stretch may be, from and to.

        Those of jambs and of free ends alternate; at a corner the wall that runs through has a long one, which the
        other meets with a short one. end: where it is along the wall.
        """
        least, most = self.style.length
        half = max(0.5 * least, _LEAST_STONE_MM + 0.5)
        short, long = (half, 1.3 * half), (0.8 * most, most)
        if not jamb and plate.bend is None:
            inwards = 1.0 if end < plate.length / 2 else -1.0
            across = plate.thickness
            if shapely.contains_xy(course.region, *plate.at(end + inwards, across + 1.0)):
                # Where walls are joined the same way in all courses, long ones and short ones do.
                alike = plate.facing is not None and plate.facing.turned is None
                low, high = short if alike and course.through else (0.95 * least, 1.15 * least)
                return across + low, across + high
            if shapely.contains_xy(course.region, *plate.at(end - inwards, across / 2)):
                return short
        return long if course.through == jamb else short

    def _cuts(self, room: float, ends: Sequence[tuple[float, float]], before: Sequence[float]) -> list[float]:
        """Where a stretch is cut: the best bond of some draws against the course above.

        ends: how long its first and its last stone may be.
        """
        least, most = self.style.length
        if room < 1.6 * least:
            return []
        first, final = ends
        best, worth = [], -1.0
        for _ in range(_DRAWS):
            cuts, left = [self._apart(*first, before)], self._apart(room - final[1], room - final[0], before)
            if left - cuts[0] < 0.6 * least:
                # Two stones, each about its share.
                share = room * fsum(first) / fsum((*first, *final))
                near, far = max(share - 0.2 * room, _LEAST_STONE_MM), min(share + 0.2 * room, room - _LEAST_STONE_MM)
                cuts = [self._apart(near, far, before)]
            else:
                while left - cuts[-1] > most:
                    at, end = cuts[-1] + least, min(cuts[-1] + most, left - 0.7 * least)
                    if at > end:
                        break
                    cuts.append(self._apart(at, end, before))
                cuts.append(left)
            lap = min((abs(c - b) for c in cuts for b in before), default=math.inf)
            if lap > worth:
                best, worth = cuts, lap
            if lap >= LEAST_LAP * least:
                break
        return best

    def _apart(self, low: float, high: float, before: Sequence[float]) -> float:
        """A place between two, anywhere as far from the cuts above as a bond asks; else as far from them as it goes."""
        lap = LEAST_LAP * self.style.length[0]
        stops = sorted(min(max(at, low), high) for b in before for at in (b - lap, b + lap))
        free = [(a, b) for a, b in pairwise([low, *stops, high]) if b > a]
        free = [(a, b) for a, b in free if min((abs((a + b) / 2 - c) for c in before), default=lap) >= lap]
        if not free:
            return max((low, high), key=lambda at: min(abs(at - b) for b in before))
        at = self._u(self._walls, 0.0, fsum(b - a for a, b in free))
        for a, b in free:
            if at <= b - a:
                return a + at
            at -= b - a
        return free[-1][1]

    def _round_ring(self, ring: Polygon, course: Course) -> Iterator[Points]:
        """The stones of a ring, as a well has: equal sectors, those of the next course over their joints."""
        x, y = ring.centroid.coords[0]
        round_it = ring.exterior.length
        number = max(5, round(round_it / self.style.length[1]))
        for n in range(number):
            turns = [2 * math.pi * (n + share + 0.5 * course.through) / number for share in (0.0, 0.5, 1.0)]
            rays = [(x + round_it * math.cos(turn), y + round_it * math.sin(turn)) for turn in turns]
            for part in polygons_of(Polygon([(x, y), *rays]).intersection(ring)):
                yield outline_of(part, CHORD_MM)

    def _strip(self, plate: Plate, near: float, far: float) -> BaseGeometry:
        if plate.bend is not None:
            strip: BaseGeometry = plate.bend.foot(near, far, before=1.0, beyond=1.0)
        else:
            d = plate.thickness + 1.0
            strip = Polygon([plate.at(near, -1.0), plate.at(far, -1.0), plate.at(far, d), plate.at(near, d)])
        return strip.intersection(plate.foot)

    def head_room(self, plate: Plate, opening: Opening) -> BaseGeometry | None:
        """The room of an arch over an opening, with a joint round it; None where the opening has no head."""
        ring = self.ring(plate, opening)
        if ring is None:
            return None
        joint = self.style.joint
        if not opening.level:
            at, spring = opening.centre, opening.spring
            inside = translate(heads.room(opening.arcs, ring + joint), at, spring)
            return inside.intersection(box(at - 99, spring, at + 99, plate.height + 1))
        top = opening.height + ring
        high = plate.height + 1 if top > plate.height - EQUAL_MM else top + joint
        if self.style.head == "beam":
            half = opening.width / 2 + _BEARING_MM + joint
            return box(opening.centre - half, opening.height, opening.centre + half, high)
        lean = _LEAN * ring + joint
        a, b = opening.centre - opening.width / 2, opening.centre + opening.width / 2
        more = lean * (high - opening.height) / ring
        return Polygon([(a - joint, opening.height), (b + joint, opening.height), (b + more, high), (a - more, high)])

    def ring(self, plate: Plate, opening: Opening) -> float | None:
        """How high the stones of a head are."""
        room = plate.height - opening.height
        if plate.is_open_topped(opening) or room < _LEAST_RING_MM:
            return None
        if not opening.level:
            top = plate.height - opening.spring - 0.4
            return min(_RING_MM, *(arc.ring_to(top) for arc in opening.arcs))
        return room if room < 9.5 else 6.5

    def head(self, plate: Plate, opening: Opening) -> list[list[Point]]:
        """The stones of what is over an opening, in the plate's face, counter-clockwise; the first side is below."""
        ring = self.ring(plate, opening)
        if ring is None:
            return []
        if not opening.level:
            half, beams = opening.width / 2, self.style.head == "beam"
            stones = (stone for arc in opening.arcs for stone in arc.stones(ring, half, beams=beams))
            return [[(opening.centre + x, opening.spring + z) for x, z in stone] for stone in stones]
        return [_beam(opening, ring)] if self.style.head == "beam" else list(_flat_arch(opening, ring))

    # --- floors ---

    def flags(self, base: Plate) -> Iterator[Polygon]:
        """The stones or boards of what is seen of a floor; each threshold is one."""
        seen = self.seen(base)
        standing = [p for p in self.standing if abs(p.bottom - base.top) < EQUAL_MM]
        thresholds = [p.opening_foot(o) for p in standing for o in p.openings]
        main = seen.difference(shapely.union_all(thresholds)) if thresholds else seen
        yield from (part for threshold in thresholds for part in polygons_of(threshold.intersection(base.foot)))
        yield from self._paved(main)

    def _paved(self, region: BaseGeometry) -> Iterator[Polygon]:
        west, south, east, north = region.bounds if not region.is_empty else (0, 0, 0, 0)
        p = self.pitch
        for i in range(math.floor(west / p), math.ceil(east / p)):
            for j in range(math.floor(south / p), math.ceil(north / p)):
                cell = box(i * p, j * p, (i + 1) * p, (j + 1) * p).intersection(region)
                for part in polygons_of(cell):
                    bounds, whole = part.bounds, is_box(part)
                    parted = self._split(bounds) if self.style.floor == "flags" else self._boards(bounds, (i + j) % 2)
                    blocks = [box(*bounds) for bounds in parted]
                    # What parts a box are boxes.
                    cut = blocks if whole else [p for block in blocks for p in polygons_of(block.intersection(part))]
                    yield from merged(cut)

    def _split(self, rect: tuple[float, float, float, float]) -> Iterator[tuple[float, float, float, float]]:
        west, south, east, north = rect
        w, h = east - west, north - south
        least, most = self.style.floor_stone
        long = max(w, h)
        if long < 2 * least or (long < 1.3 * most and self._u(self._floors, 0, 1) < (0.6 if long < most else 0.1)):
            yield rect
            return
        share = self._u(self._floors, max(0.36, least / long), min(0.64, 1 - least / long))
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
            wide = self._u(self._floors, least, most)
            end = high if high - low - wide < least else low + wide
            yield (west, low, east, end) if way == 0 else (low, south, end, north)
            low = end

    def seen(self, base: Plate) -> BaseGeometry:
        """What is seen of a floor, the thresholds of openings with it."""
        standing = [plate for plate in self.plates if plate.bottom <= base.top < plate.top]
        covered = [less(plate, plate.openings) for plate in standing]
        return base.foot.difference(shapely.union_all(covered))


def cracks(
    lines: Iterable[Sequence[Point]], free: BaseGeometry, pitch: float, width: float, rng: np.random.Generator
) -> BaseGeometry:
    """Lines between spaces as cracks in rock, which stray amid the sides of spaces.

    They go through the corners of spaces, straight and as wide as they were, and so meet over every seam. free: where
    they may go. width: mm.
    """
    return shapely.union_all([_crack(side, free, width, rng) for line in lines for side in _sides(line, pitch)])


def _sides(line: Sequence[Point], pitch: float) -> Iterator[tuple[Points, Points]]:
    """The sides of spaces that a line runs along, from corner to corner."""
    start, end = np.array(line[0]), np.array(line[-1])
    axis = int(np.argmax(np.abs(end - start)))
    low, high = sorted((start[axis], end[axis]))
    for n in range(math.floor(low / pitch + EQUAL_MM), math.ceil(high / pitch - EQUAL_MM)):
        corners = np.stack([start, start])
        corners[:, axis] = n * pitch, (n + 1) * pitch
        yield corners[0], corners[1]


def _crack(side: tuple[Points, Points], free: BaseGeometry, width: float, rng: np.random.Generator) -> Polygon:
    """The crack along one side of a space; straight where something lies beside it, which would cut slivers off it."""
    start, end = side
    length = float(np.abs(end - start).sum())
    along = (end - start) / length
    across = np.array((-along[1], along[0]))

    def band(at: Points, left: Points, right: Points) -> Polygon:
        rims = [start + at[:, None] * along + off[:, None] * across for off in (left, right)]
        return Polygon(np.concatenate([rims[1], rims[0][::-1]]))

    steps = np.cumsum(rng.uniform(*_BENDS_MM, size=math.ceil(length / _BENDS_MM[0])))
    at = np.concatenate([[0.0], steps[steps < length - _BENDS_MM[0]], [length]])
    share = np.clip(np.minimum(at, length - at) / _TO_CORNER_MM, 0.0, 1.0)
    strayed = share * _STRAY_MM * rng.uniform(-1.0, 1.0, len(at))
    half = width / 2 * (1 + share * (rng.uniform(*_CRACK_WIDE, len(at)) - 1))
    reach = np.full(2, _STRAY_MM + width)
    ends = np.array((0.0, length))
    room = free.intersection(band(ends, reach, -reach))
    whole = isinstance(room, Polygon) and not room.is_empty and room.convex_hull.area - room.area < EQUAL_MM
    if whole and np.ptp(shapely.get_coordinates(room) @ across) > 2 * reach[0] - EQUAL_MM:
        return band(at, strayed + half, strayed - half)
    return band(ends, np.full(2, width / 2), np.full(2, -width / 2))


def less(plate: Plate, openings: Sequence[Opening]) -> BaseGeometry:
    """What a plate covers on the plan, less some of its openings."""
    foot: BaseGeometry = plate.foot
    for opening in openings:
        foot = foot.difference(plate.opening_foot(opening))
    return foot


def lies(plate: Plate) -> bool:
    """Whether a plate is floor: what has no face along an edge and is lower than it is wide."""
    ring = plate.role != "base" and plate.foot.interiors
    return plate.edge is None and not ring and (plate.role == "base" or plate.height < across_it(plate) / 2)


def across_it(plate: Plate) -> float:
    """How thick a plate that stands is, mm."""
    west, south, east, north = plate.foot.bounds
    if plate.foot.interiors:
        return 2 * plate.foot.area / plate.foot.length
    return plate.thickness if plate.edge else min(east - west, north - south)


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


def outline_of(part: Polygon, tolerance: float = 0.0) -> Points:
    """The corners of an outline without holes, counter-clockwise."""
    plain = largest_polygon(part.simplify(tolerance)) if tolerance else without_collinear(part)
    ring = plain.exterior
    points: Points = shapely.get_coordinates(ring)
    return points[:-1] if shapely.is_ccw(ring) else points[:0:-1]


def points_of(corners: Points) -> tuple[Point, ...]:
    """Points as pairs."""
    return tuple((x, y) for x, y in corners.tolist())


def merged(parts: list[Polygon]) -> list[Polygon]:
    """Parts without slivers: each goes to the neighbour that it shares most of its outline with."""
    narrow = [_is_narrow(p) for p in parts]
    small = [p for p, is_small in zip(parts, narrow, strict=True) if is_small]
    large = [p for p, is_small in zip(parts, narrow, strict=True) if not is_small]
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


def _is_narrow(part: Polygon) -> bool:
    if is_box(part):
        west, south, east, north = part.bounds
        return min(east - west, north - south) <= _LEAST_STONE_MM
    return part.buffer(-_LEAST_STONE_MM / 2).is_empty


def _is_beside(plate: Plate, opening: Opening, low: float) -> bool:
    """Whether a course that begins at a height lies beside an opening, not over it."""
    if plate.is_open_topped(opening):
        return True
    return low - plate.bottom < opening.spring - 1.0


def _group(plate: Plate) -> tuple[float, float, bool]:
    """What plates share whose courses lie at the same heights: their own heights, and whether they are pillars."""
    return plate.bottom, plate.top, _of_drums(plate)


def _of_drums(plate: Plate) -> bool:
    return plate.role == "pillar"


def drums_of(height: float) -> list[float]:
    """The heights of a pillar's stones from the top down: a cap, equal drums, a base."""
    end = min(_CAP_MM, height / 4)
    count = max(1, round((height - 2 * end) / _DRUM_MM))
    return [end, *([(height - 2 * end) / count] * count), end]


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
