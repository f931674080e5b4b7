"""Walls: from the lines they follow to what they cover on the plan, printed or cut, whatever the tile is made of.

A wall stands to the right of its line, between an outer and an inner face (`Band`), and ends at one line at each end.
Which line that is follows from the turn to the wall that comes next, from the joints, and from who passes where walls
meet in a T or cross. Nothing else decides: cells, outlines and pieces of rooms only write runs and posts.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import (
    CRUMB_MM2,
    EQUAL_MM,
    NEAR_MM,
    Point,
    corners_of,
    difference,
    direction_of,
    intersection,
    largest_polygon,
    offset_path,
    polygons_of,
    rings_of,
    sides_of,
    without_collinear,
)
from tilegen.model.grid import Grid
from tilegen.tiles.plate import MOST_TURN, Bend, Opening, Plate

# Two walls at a corner: one pair runs through; each runs through at one end; both bevelled; a lap of one skin.
Corners = Literal["butt", "pinwheel", "mitre", "rabbet"]


@dataclass(frozen=True, slots=True)
class Band:
    """The strip a wall stands in: distances of its outer and inner face from the line it belongs to.

    outer, inner: where the line is the tile's edge. within_outer, within_inner: where it runs inside the tile.
    """

    outer: float
    inner: float
    within_outer: float
    within_inner: float

    @property
    def thickness(self) -> float:
        """Of the wall."""
        return self.inner - self.outer


def printed_band(grid: Grid) -> Band:
    """A printed wall: inner face where the grid puts it, the play taken off the outer face."""
    return Band(grid.half_play, grid.wall_thickness, 0.0, grid.wall_thickness)


def stock_band(grid: Grid, thickness: float) -> Band:
    """A wall cut from stock: the inner face stays and the outer face moves, unless that would overhang the footprint.

    thickness: of the finished wall (all its layers), in mm.
    """
    inner = max(grid.wall_thickness, grid.half_play + thickness)
    within = max(grid.wall_thickness, thickness)
    return Band(inner - thickness, inner, within - thickness, within)


@dataclass(frozen=True, slots=True)
class Joints:
    """How walls meet.

    longest: where walls cross or meet in a T the longest straight run passes (ties: north and south before east and
    west); else those to the north and south always do. skin: what a rabbet leaves of the wall that laps over, mm.
    turned: a pinwheel goes round the other way, as in every second course of stones.
    """

    corners: Corners = "pinwheel"
    longest: bool = True
    skin: float = 0.0
    turned: bool = False

    def square_end(self, faces: tuple[float, float], *, start: bool, first: bool) -> tuple[float, bool]:
        """Where a wall ends at a right-angled corner, unless both are mitred.

        faces: depths of the other wall's faces under its line, mm. start: whether the wall starts there, walking
        clockwise. first: whether it comes before the other one: the longer, or the more level.

        Returns: how deep under the other's line it ends, mm, and whether only its outer skin goes that far.
        """
        outer, inner = faces
        if start != self.turned if self.corners == "pinwheel" else first:
            return outer, self.corners == "rabbet"
        return (outer + self.skin if self.corners == "rabbet" else inner), False


PRINTED_JOINTS = Joints(longest=False)


# Turns that differ from a right angle or from none by no more are one, radians: drawings give points to few decimals.
SQUARE = 1e-4
# Where a wall goes round an outer corner by more than this, its tip is cut off square.
_MOST_REFLEX = math.radians(120)
_MITRE_LIMIT = 2.0
_TAPER = math.atan(1 / _MITRE_LIMIT)
# A base's corner may reach so many times its margin inwards.
_SHARPEST = 5.0
# A shorter outer face is none.
_LEAST_FACE_MM = 1.0
# A nanometre along a wall.
_ROUNDED_MM2 = 1e-5


@dataclass(frozen=True, slots=True)
class End:
    """What is at one end of a run's line, where no other run of the tile begins or ends.

    direction: unit vector, as it is walked, of the wall or of the tile's edge there; None: the wall stops square.
    walled: whether it is a wall.
    """

    direction: Point | None = None
    walled: bool = False


@dataclass(frozen=True, slots=True)
class Run:
    """A wall on its line, or a part of one.

    path: the line, mm, with the room on its right: two points, or the corners of a chain of facets along a curve.
    seam: whether the line is the tile's edge. levels: bottom and top. openings: centred along the path from its start.
    """

    path: tuple[Point, ...]
    seam: bool
    levels: tuple[float, float]
    openings: tuple[Opening, ...] = ()
    name: str = "wall"
    ends: tuple[End, End] = (End(), End())

    @property
    def bent(self) -> bool:
        """Whether it follows a curve."""
        return len(self.path) > 2

    @property
    def length(self) -> float:
        """Along its line, mm."""
        return math.fsum(math.dist(a, b) for a, b in pairwise(self.path))

    def direction(self, *, start: bool) -> Point:
        """Unit vector at one end, as it is walked; exact along an axis."""
        return direction_of(self.path[:2] if start else self.path[-2:])  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class Post:
    """What walls of other tiles leave in a corner: the strip along one line where it crosses the strip along another.

    at: where the lines cross, mm. along: their directions, the post on the right of both. seams: whether each is the
    tile's edge.
    """

    at: Point
    along: tuple[Point, Point]
    seams: tuple[bool, bool]
    levels: tuple[float, float]
    name: str


class Line:
    """A face or an end on the plan: a point and a direction; exact where it runs along an axis."""

    __slots__ = ("along", "point")

    def __init__(self, point: Point, along: Point) -> None:
        self.point, self.along = point, along

    def moved(self, depth: float) -> Line:
        """The line to its right, mm."""
        (x, y), (dx, dy) = self.point, self.along
        return Line((x + dy * depth, y - dx * depth), self.along)

    def meet(self, other: Line) -> Point:
        """Where two lines cross."""
        (x, y), (dx, dy) = self.point, self.along
        (a, b), (ex, ey) = other.point, other.along
        if dx == 0 and ey == 0:
            return x, b
        if dy == 0 and ex == 0:
            return a, y
        across = dx * ey - dy * ex
        share = ((a - x) * ey - (b - y) * ex) / across
        return (x + dx * share) if dx else x, (y + dy * share) if dy else y


def turn_of(before: Point, after: Point) -> float:
    """How far one goes right from a direction into another, radians."""
    (dx, dy), (ex, ey) = before, after
    return math.atan2(dy * ex - dx * ey, dx * ex + dy * ey)


def turn_between(way: Point, other: Point, *, start: bool) -> float:
    """How far one goes right between a wall and what is beside it, at the wall's start or its end, radians."""
    return turn_of(other, way) if start else turn_of(way, other)


def turned(way: Point, turn: float) -> Point:
    """A direction turned right; exact along an axis."""
    (dx, dy), cos, sin = way, math.cos(turn), math.sin(turn)
    x, y = dx * cos + dy * sin, dy * cos - dx * sin
    near = round(x), round(y)
    return (float(near[0]), float(near[1])) if math.dist(near, (x, y)) < EQUAL_MM else (x, y)


def inset(region: Polygon, depth: float) -> BaseGeometry:
    """A region less a margin all round, its corners mitred, worked out one by one as the faces of walls are."""
    if depth == 0:
        return region
    buffered: BaseGeometry = region.buffer(-depth, join_style="mitre", mitre_limit=_SHARPEST)
    clockwise = shapely.geometry.polygon.orient(region, -1.0)
    rings = [_moved_in(ring, depth) for ring in rings_of(clockwise)]
    if any(len(ring) < 3 for ring in rings):
        return buffered
    moved = Polygon(rings[0], rings[1:])
    # Where the region is narrow, or a corner is very sharp, more than its corners changes.
    same = moved.is_valid and shapely.hausdorff_distance(moved, buffered) < NEAR_MM
    return moved if same else buffered


def _moved_in(ring: shapely.LinearRing, depth: float) -> list[Point]:
    """A ring's corners moved to the right of its steps, less points on straight sides; nothing if one is a spike."""
    points = corners_of(ring)
    steps = [direction_of(side) for side in sides_of(points)]
    corners = []
    for k, at in enumerate(points):
        before, after = Line(at, steps[k - 1]), Line(at, steps[k])
        turn = abs(turn_of(before.along, after.along))
        if turn > math.pi - SQUARE:
            return []
        if turn > EQUAL_MM:
            corners.append(before.moved(depth).meet(after.moved(depth)))
    return corners


def walls_of(
    runs: Sequence[Run],
    posts: Sequence[Post],
    base: Polygon | None,
    how: tuple[Band, Joints],
    play: float,
    *,
    jamb: float | None = None,
) -> Iterator[Plate]:
    """The standing plates of a tile: walls in the order of their runs, then posts.

    base: the tile's base, which cuts what would reach over its edge; None where nothing can. play: half of the play
    at seams, mm: so far from the tile's edge a wall ends that meets no other there. jamb: what
    is shorter beside an opening does not stand, mm; given, walls share the base's edge to the last figure.
    """
    maker = _Maker(runs, how, play, shared=jamb is not None)
    whole = [*maker.walls(), *map(maker.post, posts)]
    yield from whole if base is None else _parted(whole, maker, base, jamb or 0.0)


def _parted(plates: Sequence[Plate], maker: _Maker, base: Polygon, jamb: float) -> Iterator[Plate]:
    """Plates less what reaches over the base's edge, and less what an earlier one covers; walls before posts."""
    taken: list[Polygon] = []
    play = maker.play
    for number, plate in enumerate(plates):
        foot: BaseGeometry = plate.foot
        if foot.is_empty:
            continue
        wide = maker.wide.get(number)
        if wide is not None:
            foot = intersection(wide, base)
        elif difference(foot, base).area > _ROUNDED_MM2:
            foot = intersection(foot, base)
        for other in taken:
            if foot.intersects(other) and intersection(foot, other).area > CRUMB_MM2:
                foot = difference(foot, other)
        if foot is plate.foot:
            taken.append(plate.foot)
            yield plate if _has_jambs(plate, jamb) else _trimmed(plate, plate.foot, jamb)
            continue
        parts = [without_collinear(part) for part in polygons_of(foot, CRUMB_MM2)]
        if (
            len(parts) > 1
            and plate.edge
            and all(base.distance(shapely.Point(p)) < 2 * play + NEAR_MM for p in plate.edge)
        ):
            # Across a gap in the tile it would reach another part of the floor.
            parts = [part for part in parts if _face_within(plate, part)] or parts
        taken += parts
        # The nick that the base has at a corner that points in leaves a wall as long as it is.
        nick = len(parts) == 1 and abs(plate.foot.area - parts[0].area) < 1.5 * play**2 + CRUMB_MM2 / 5
        nick = nick and _has_jambs(plate, jamb)
        yield from (replace(plate, foot=part) if nick else _trimmed(plate, part, jamb) for part in parts)


def _has_jambs(plate: Plate, least: float) -> bool:
    """Whether so much of a wall stands beside each of its openings, mm."""
    length = plate.length - least
    return all(o.centre - o.width / 2 >= least and o.centre + o.width / 2 <= length for o in plate.openings)


def _trimmed(plate: Plate, foot: Polygon, jamb: float) -> Plate:
    """A plate of which only a part stands: its outer face and its openings are those of that part.

    What has no outer face left reaches in from another tile: it is a post.
    """
    face = () if plate.role == "post" else _face_within(plate, foot)
    if not face:
        return replace(plate, role="post", foot=foot, edge=longest_side(foot), openings=(), bend=None)
    line = shapely.LineString(plate.bend.outer if plate.bend else plate.edge)
    first = float(line.project(shapely.Point(face[0])))
    length = math.fsum(math.dist(a, b) for a, b in pairwise(face))
    openings, ragged = [], False
    for opening in plate.openings:
        low, high = (opening.centre - first + side * opening.width / 2 for side in (-1, 1))
        if high <= NEAR_MM or low >= length - NEAR_MM:
            continue
        # A jamb too slight to stand goes with the opening, and a round head that ended on it is flat then.
        gone = low < jamb, high > length - jamb
        low = -3 * plate.thickness if gone[0] else low
        high = length + 3 * plate.thickness if gone[1] else high
        ragged = ragged or any(gone)
        head = "flat" if any(gone) else opening.head
        openings.append(replace(opening, centre=(low + high) / 2, width=high - low, head=head))
    bend = Bend(face, plate.thickness, plate.bend.beyond if plate.bend else 0.0) if plate.bend or ragged else None
    return replace(plate, foot=foot, edge=(face[0], face[-1]), openings=tuple(openings), bend=bend)


def _face_within(plate: Plate, foot: Polygon) -> tuple[Point, ...]:
    """The stretch of a wall's outer face that a part of its foot stands on; nothing where that is less than 1 mm."""
    if plate.bend is not None:
        line = shapely.LineString(plate.bend.outer)
        near = line.intersection(foot.buffer(NEAR_MM / 2, join_style="mitre"))
        found = [part for part in shapely.get_parts(shapely.line_merge(near)).tolist() if part.length > _LEAST_FACE_MM]
        longest = max(found, key=lambda part: float(part.length), default=shapely.LineString())
        # An overlay promises no direction.
        stations = sorted((float(line.project(shapely.Point(p))), float(p[0]), float(p[1])) for p in longest.coords)
        return tuple((x, y) for _, x, y in stations)
    if plate.edge is None:
        return ()
    (x0, y0), (dx, dy) = plate.edge[0], plate.direction
    at = [
        dx * (x - x0) + dy * (y - y0) for x, y in foot.exterior.coords if abs(dy * (x - x0) - dx * (y - y0)) < NEAR_MM
    ]
    if not at or max(at) - min(at) < _LEAST_FACE_MM:
        return ()
    return tuple((x0 + dx * s if dx else x0, y0 + dy * s if dy else y0) for s in (min(at), max(at)))


@dataclass(frozen=True, slots=True)
class _Cut:
    """The line at which a wall ends; lap: only its outer skin goes so far; corners: on its outer and inner face.

    bevel: beyond its right side nothing of the wall stands. open: it is the tile's own edge, without a wall.
    """

    line: Line
    lap: bool = False
    corners: tuple[Point, Point] | None = None
    bevel: Line | None = None
    open: bool = False

    def on(self, faces: tuple[Line, Line]) -> tuple[Point, Point]:
        """Where a straight wall's outer and inner face end."""
        return self.corners or (faces[0].meet(self.line), faces[1].meet(self.line))


class _Maker:
    def __init__(self, runs: Sequence[Run], how: tuple[Band, Joints], play: float, *, shared: bool) -> None:
        self.runs, self.play, self.shared = runs, play, shared
        self.band, self.joints = how
        # By the number of the plate: the foot of a wall whose outer face is the base's own edge, out to its line. Cut
        # by the base it shares that edge to the last figure.
        self.wide: dict[int, Polygon] = {}
        self.starts: dict[Point, list[int]] = defaultdict(list)
        self.stops: dict[Point, list[int]] = defaultdict(list)
        for number, run in enumerate(runs):
            self.starts[_key(run.path[0])].append(number)
            self.stops[_key(run.path[-1])].append(number)
        self.after, self.before = self._passes()

    # --- which walls go on ---

    @cached_property
    def _straight(self) -> dict[int, int]:
        """The run that goes straight on from each, alike in all but openings."""
        found = {}
        for number, run in enumerate(self.runs):
            if run.bent:
                continue
            for other in self.starts.get(_key(run.path[-1]), ()):
                beyond = self.runs[other]
                alike = not beyond.bent and beyond.seam == run.seam and beyond.levels == run.levels
                if alike and abs(turn_of(run.direction(start=False), beyond.direction(start=True))) < EQUAL_MM:
                    found[number] = other
        return found

    @cached_property
    def lengths(self) -> list[float]:
        """Of the whole straight wall that each run is a part of, whatever crosses it, mm."""
        back = {after: before for before, after in self._straight.items()}
        found = []
        for number, run in enumerate(self.runs):
            total = [run.length]
            for onward in (self._straight, back):
                here = number
                while (here := onward.get(here, number)) != number:
                    total.append(self.runs[here].length)
            found.append(math.fsum(total))
        return found

    def _passes(self) -> tuple[dict[int, int], dict[int, int]]:
        """The run that each one goes on in as one wall, and the one that it comes from."""
        after = {}
        for number, other in self._straight.items():
            if not self._met(number) or self._level_passes(number) == _is_level(self.runs[number]):
                after[number] = other
        return after, {other: number for number, other in after.items()}

    def _met(self, number: int) -> bool:
        """Whether a wall meets a run at its end from the side on which it stands itself."""
        here, way = _key(self.runs[number].path[-1]), self.runs[number].direction(start=False)
        leaving = (turn_of(way, self.runs[n].direction(start=True)) for n in self.starts.get(here, ()))
        coming = (turn_of(self.runs[n].direction(start=False), way) for n in self.stops.get(here, ()))
        return any(SQUARE < turn < math.pi - SQUARE for turn in (*leaving, *coming))

    def _level_passes(self, number: int) -> bool:
        """Whether level walls pass where a run ends: in print always, on sheets where they are no shorter."""
        if not self.joints.longest:
            return True
        longest = {True: 0.0, False: 0.0}
        for other in self.stops[_key(self.runs[number].path[-1])]:
            if other in self._straight:
                level = _is_level(self.runs[other])
                longest[level] = max(longest[level], self.lengths[other])
        return longest[True] > longest[False] - EQUAL_MM

    # --- where they end ---

    def _next(self, number: int, *, start: bool) -> int | None:
        """The run that comes before or after another round the room: the one that turns right most."""
        run = self.runs[number]
        here = _key(run.path[0] if start else run.path[-1])
        way = run.direction(start=start)
        end = run.ends[0 if start else 1]
        edge = None if end.walled else end.direction
        least = -math.pi if edge is None else turn_between(way, edge, start=start)
        turns = {}
        for other in (self.stops if start else self.starts).get(here, ()):
            there = self.runs[other].direction(start=not start)
            turn = turn_between(way, there, start=start)
            if other != number and SQUARE < abs(turn) < math.pi - SQUARE and turn > least:
                turns[other] = turn
        return max(turns, key=lambda n: turns[n], default=None)

    def _cut(self, number: int, *, start: bool) -> _Cut:
        """Where a wall ends."""
        run = self.runs[number]
        at, way = run.path[0] if start else run.path[-1], run.direction(start=start)
        other = self._next(number, start=start)
        if other is None:
            return self._free(run, at, way, start=start)
        there = self.runs[other]
        direction = there.direction(start=not start)
        turn = turn_between(way, direction, start=start)
        faces = self.faces(there)
        line = Line(at, direction)
        if turn > 0 and other in (self.after if start else self.before):
            return _Cut(line.moved(faces[1]))
        first = self._order(number) < self._order(other)
        return self._corner(run, line, faces, turn, start=start, first=first, bent=there.bent)

    def _free(self, run: Run, at: Point, way: Point, *, start: bool) -> _Cut:
        """Where a wall ends that meets none of its own tile."""
        end = run.ends[0 if start else 1]
        if end.direction is None:
            return _Cut(Line(at, (way[1], -way[0])))
        line = Line(at, end.direction)
        turn = turn_between(way, end.direction, start=start)
        if not end.walled:
            # Beside an edge that hardly turns off the wall would taper too far.
            reach = self.faces(run)[1] * _MITRE_LIMIT * (-1.0 if start else 1.0)
            across = (-way[1], way[0]) if start else (way[1], -way[0])
            bevel = Line((at[0] + way[0] * reach, at[1] + way[1] * reach), (-across[0], -across[1]))
            return _Cut(line.moved(self.play), bevel=bevel if 0 < turn < _TAPER else None, open=True)
        if abs(turn) > math.pi - SQUARE:
            return _Cut(Line(at, (way[1], -way[0])))
        return self._corner(run, line, self.faces(run), turn, start=start, first=start, bent=False)

    def _corner(
        self, run: Run, other: Line, faces: tuple[float, float], turn: float, *, start: bool, first: bool, bent: bool
    ) -> _Cut:
        """The end line at a corner with a wall along another line; faces: how deep under that its faces stand."""
        joints = self.joints
        if joints.corners == "rabbet" and (bent or run.bent):
            # No lap is cut along a curve.
            joints = replace(joints, corners="butt")
        if abs(turn - math.pi / 2) < SQUARE and joints.corners != "mitre":
            depth, lap = joints.square_end(faces, start=start, first=first)
            return _Cut(other.moved(depth), lap)
        own = Line(other.point, run.direction(start=start))
        if abs(turn) <= MOST_TURN and bent != run.bent:
            # A curve runs on into a straight wall: they meet square to that.
            straight = other if run.bent else own
            return _Cut(Line(own.point, (straight.along[1], -straight.along[0])))
        if abs(turn + math.pi / 2) < SQUARE:
            # Round an outer corner both walls stop, and a post stands between them.
            return _Cut(Line(own.point, (own.along[1], -own.along[0])))
        outer, inner = (
            own.moved(mine).meet(other.moved(its)) for mine, its in zip(self.faces(run), faces, strict=True)
        )
        bevel = None
        if turn < -_MOST_REFLEX:
            # The tip is cut off square to the corner's bisector, as far out as one of 120 degrees would reach.
            dx, dy = own.along
            ux, uy = turned((dy, -dx), -turn / 2 if start else turn / 2)
            reach = self.faces(run)[1] * _MITRE_LIMIT
            bevel = Line((own.point[0] + ux * reach, own.point[1] + uy * reach), (-uy, ux))
        return _Cut(Line(outer, direction_of((outer, inner))), corners=(outer, inner), bevel=bevel)

    def _order(self, number: int) -> tuple[float, ...]:
        """Which of two walls comes first at a corner: the longest, then the most level, then by where it stands."""
        (x0, y0), (x1, y1) = self.runs[number].path[0], self.runs[number].path[-1]
        rise = abs(y1 - y0)
        return tuple(round(value, 3) for value in (-self.lengths[number], rise, -(y0 + y1), x0 + x1))

    def faces(self, run: Run) -> tuple[float, float]:
        """How deep under its line a wall's outer and inner face stand, mm."""
        return self.depths(seam=run.seam)

    def depths(self, *, seam: bool) -> tuple[float, float]:
        """The same under the tile's edge or under a line inside it, mm."""
        band = self.band
        return (band.outer, band.inner) if seam else (band.within_outer, band.within_inner)

    # --- plates ---

    def walls(self) -> Iterator[Plate]:
        """One for each chain of runs that are one wall."""
        chains = [number for number in range(len(self.runs)) if number not in self.before]
        for place, number in enumerate(chains):
            chain = [number]
            while (following := self.after.get(chain[-1])) is not None:
                chain.append(following)
            yield self._bent(number, place) if self.runs[number].bent else self._wall(chain, place)

    def _is_rim(self, run: Run) -> bool:
        """Whether a wall's outer face is the base's edge."""
        return run.seam and self.shared and abs(self.band.outer - self.play) < EQUAL_MM

    def _wall(self, chain: Sequence[int], place: int) -> Plate:
        run = self.runs[chain[0]]
        start, end = self._cut(chain[0], start=True), self._cut(chain[-1], start=False)
        own = Line(run.path[0], run.direction(start=True))
        faces = own.moved(self.faces(run)[0]), own.moved(self.faces(run)[1])
        edge = _furthest(start, faces, start=True), _furthest(end, faces, start=False)
        foot = _bevelled(_foot(faces, start, end, self.joints.skin), start, end)
        if self._is_rim(run) and not foot.is_empty:
            ends = replace(start, corners=None), replace(end, corners=None)
            self.wide[place] = _bevelled(_foot((own, faces[1]), *ends, self.joints.skin + self.play), *ends)
        openings = tuple(self._openings(chain, own, edge[0]))
        return Plate(run.name, "wall", foot, *run.levels, edge, openings, backed=not run.seam)

    def _bent(self, number: int, place: int) -> Plate:
        """A wall along a curve: its facets' faces, cut at both ends."""
        run, (near, far) = self.runs[number], self.faces(self.runs[number])
        cuts = self._cut(number, start=True), self._cut(number, start=False)
        sides = [self._face(run, depth, cuts) for depth in (near, far, 0.0)]
        foot = _bent_foot(sides[0], sides[1], cuts)
        if self._is_rim(run):
            self.wide[place] = _bent_foot(sides[2], sides[1], cuts)
        bend = Bend(tuple(sides[0]), far - near, self._beyond(number))
        openings = tuple(
            replace(o, centre=o.centre * bend.length / run.length, height=min(o.height, run.levels[1] - run.levels[0]))
            for o in run.openings
        )
        return Plate(run.name, "wall", foot, *run.levels, (sides[0][0], sides[0][-1]), openings, bend=bend)

    @staticmethod
    def _face(run: Run, depth: float, cuts: tuple[_Cut, _Cut]) -> list[Point]:
        """A bent wall's line at a depth, from cut to cut."""
        face = offset_path(run.path, depth)
        for at, cut in zip((0, -1), cuts, strict=True):
            face[at] = Line(face[at], run.direction(start=at == 0)).meet(cut.line)
        return face

    def _beyond(self, number: int) -> float:
        """What a bent wall turns into those that it runs on into: all of it into a straight one, else half."""
        run, found = self.runs[number], 0.0
        for start, end in zip((True, False), run.ends, strict=True):
            other = self._next(number, start=start)
            there = None if other is None else self.runs[other]
            direction = end.direction if there is None else there.direction(start=not start)
            if direction is None or (there is None and not end.walled):
                continue
            way = run.direction(start=start)
            turn = turn_between(way, direction, start=start)
            if abs(turn) <= MOST_TURN:
                found += turn if there is not None and not there.bent else turn / 2
        return found

    def _openings(self, chain: Sequence[int], own: Line, start: Point) -> Iterator[Opening]:
        """The openings of a chain, measured from where its outer face starts."""
        dx, dy = own.along
        for number in chain:
            run = self.runs[number]
            (x, y), (bottom, top) = run.path[0], run.levels
            offset = (dx * (x - start[0]) if dx else 0.0) + (dy * (y - start[1]) if dy else 0.0)
            for opening in run.openings:
                height = min(opening.height, top - bottom)
                yield replace(opening, centre=opening.centre + offset, height=height)

    def post(self, post: Post) -> Plate:
        """A post as a plate."""
        foot = corner_foot(post, *(self.depths(seam=seam) for seam in post.seams))
        west, south, east, north = foot.bounds
        into = math.fsum(-dx for dx, _ in post.along)
        edge = ((west, north), (east, north)) if into < 0 else ((east, south), (west, south))
        if foot.area < (east - west) * (north - south) - CRUMB_MM2:
            edge = longest_side(foot)
        return Plate(post.name, "post", foot, *post.levels, edge)


def corner_foot(post: Post, one: tuple[float, float], other: tuple[float, float]) -> Polygon:
    """What a post covers. one, other: how deep under its two lines its faces stand, mm."""
    (first, second), (third, fourth) = (
        [Line(post.at, way).moved(depth) for depth in depths]
        for way, depths in zip(post.along, (one, other), strict=True)
    )
    return _plain([first.meet(third), second.meet(third), second.meet(fourth), first.meet(fourth)])


def _foot(faces: tuple[Line, Line], start: _Cut, end: _Cut, skin: float) -> Polygon:
    """What a straight wall covers between its faces and its ends."""
    outer, inner = faces
    (first, fourth), (second, third) = start.on(faces), end.on(faces)
    ring = [first, second, third, fourth]
    dx, dy = outer.along
    if not (start.lap or end.lap):
        return _plain(_uncrossed(ring, outer.along, start.line, end.line))
    under = outer.moved(skin)
    (x0, y0), (x1, y1) = ring[0], ring[3]
    depth = abs(dy * (x1 - x0) - dx * (y1 - y0))
    lapped = ring[:2]
    for here, back in ((end, -depth), (start, depth)):
        if here.lap:
            x, y = under.meet(here.line)
            corner = (x + dx * back if dx else x, y + dy * back if dy else y)
            step = [(x, y), corner, inner.meet(Line(corner, here.line.along))]
            lapped += step if here is end else step[::-1]
        else:
            lapped.append(inner.meet(here.line))
    return Polygon(lapped)


def _uncrossed(ring: Sequence[Point], way: Point, start: Line, end: Line) -> Sequence[Point]:
    """A wall's four corners; where its two ends cross, the three of what is left; none where nothing is."""
    first, second, third, fourth = ring
    outer, inner = (
        way[0] * (b[0] - a[0]) + way[1] * (b[1] - a[1]) > EQUAL_MM for a, b in ((first, second), (fourth, third))
    )
    if outer and inner:
        return ring
    if not outer and not inner:
        return ()
    tip = start.meet(end)
    return (first, second, tip) if outer else (tip, third, fourth)


def _bevelled(foot: Polygon, *cuts: _Cut) -> Polygon:
    """A foot less the sharp tips that its ends are spared."""
    for cut in cuts:
        if cut.bevel is not None:
            (x, y), (dx, dy), far = cut.bevel.point, cut.bevel.along, foot.length
            ring = [
                (x + dx * along + dy * right, y + dy * along - dx * right)
                for along, right in ((-far, 0.0), (far, 0.0), (far, far), (-far, far))
            ]
            foot = largest_polygon(difference(foot, Polygon(ring)))
    return foot


def _bent_foot(outer: Sequence[Point], inner: Sequence[Point], cuts: tuple[_Cut, _Cut]) -> Polygon:
    """What a bent wall covers between its faces."""
    foot = Polygon([*outer, *reversed(inner)])
    return _bevelled(foot if foot.is_valid else largest_polygon(foot.buffer(0)), *cuts)


def _furthest(cut: _Cut, faces: tuple[Line, Line], *, start: bool) -> Point:
    """Where a wall's edge ends: its outer face, or below an open edge as far as its inner face goes on."""
    (x, y), inner = cut.on(faces)
    if not cut.open:
        return x, y
    dx, dy = faces[0].along
    sign = -1.0 if start else 1.0
    ends = [inner] if cut.bevel is None else [inner, cut.bevel.point]
    on = min(sign * (dx * (a - x) + dy * (b - y)) for a, b in ends)
    return (x + dx * on * sign, y + dy * on * sign) if on > EQUAL_MM else (x, y)


def _plain(ring: Sequence[Point]) -> Polygon:
    """A region by its corners; along the axes as a box."""
    xs, ys = {x for x, _ in ring}, {y for _, y in ring}
    return box(min(xs), min(ys), max(xs), max(ys)) if len(ring) == 4 and len(xs) == len(ys) == 2 else Polygon(ring)


def longest_side(foot: Polygon) -> tuple[Point, Point]:
    """Of a region's outline, walked with the inside on the right."""
    ring = [(float(x), float(y)) for x, y in foot.exterior.coords]
    if foot.exterior.is_ccw:
        ring.reverse()
    return max(pairwise(ring), key=lambda side: round(math.dist(*side), 3))


def _key(point: Point) -> Point:
    return round(point[0], 4) + 0.0, round(point[1], 4) + 0.0


def _is_level(run: Run) -> bool:
    """Whether a line is nearer to level than to upright on the plan."""
    dx, dy = run.direction(start=True)
    return abs(dx) > abs(dy)
