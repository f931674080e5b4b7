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

import manifold3d
import numpy as np
import numpy.typing as npt
import shapely
from manifold3d import Manifold
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tilegen.geometry import Point, Points, oriented_rings, polygons_of, without_collinear
from tilegen.solids.build import _across, _edge_of, _extruded, build_solid
from tilegen.solids.stones import Heap, Side, Stone
from tilegen.tiles.plate import Opening, Plate

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
# How far the flat faces of stones may lie off a curve.
_CHORD_MM = 0.2
# Of an arch: how many stones, how high its ring is, the narrowest ring.
_VOUSSOIRS, _RING_MM, _LEAST_RING_MM = 9, 5.3, 2.4
_FLAT_ARCH_STONES, _LEAN = 5, math.tan(math.radians(18))


@dataclass(frozen=True)
class Masonry:
    """The figures of a style of stone, mm.

    courses: heights from the floor up on a wall of the usual height; elsewhere they are counted from the top and start
    again. joint, depth: width and depth of the joints. radius, face, length: from, to. face: how far stones lie under
    the plain face; sunk: how much deeper those of the field do than quoins, jambs and arches.
    floor_stone: the least and the largest side; floor_depth: of the floor's joints; floor_face: how far tops lie down.
    """

    word: str
    courses: tuple[float, ...]
    joint: float
    depth: float
    radius: tuple[float, float]
    face: tuple[float, float]
    sunk: float
    length: tuple[float, float]
    floor_stone: tuple[float, float] = (7.0, 17.0)
    floor_joint: float = 0.85
    floor_depth: float = 0.85
    floor_radius: tuple[float, float] = (0.35, 0.75)
    floor_face: tuple[float, float] = (0.03, 0.43)


STYLES = {
    style.word: style
    for style in (
        Masonry("dressed", (6.9, 5.3, 6.4, 5.6, 6.28, 7.62), 0.8, 1.0, (0.35, 0.8), (0.03, 0.45), 0.25, (8.0, 15.0)),
        Masonry("rubble", (5.9, 4.4, 6.3, 4.9, 5.2, 3.78, 7.62), 0.7, 1.3, (0.6, 1.3), (0.03, 0.5), 0.2, (6.0, 13.0)),
        Masonry("brick", (3.81,) * 10, 0.6, 0.8, (0.2, 0.35), (0.03, 0.2), 0.15, (9.8, 10.2)),
    )
}


@dataclass
class Carver:
    """Carves one tile. plates: as printed; turned: with every second corner's walls the other way round."""

    plates: Sequence[Plate]
    turned: Sequence[Plate]
    style: Masonry
    half_play: float
    pitch: float
    seed: int

    def solid(self, name: str) -> Manifold:
        """The carved tile.

        Raises:
            SolidError: the plain tile is not one closed body.
        """
        plain = build_solid(name, [_without_lines(plate) for plate in self.plates])
        stones = Heap()
        cut = Manifold.batch_boolean([self._walls(stones), *[]], manifold3d.OpType.Add)
        self._floors(stones)
        whole = Manifold.batch_boolean([*self._core(), cut, stones.solid(), self._arches()], manifold3d.OpType.Add)
        solid = whole ^ plain
        bodies = solid.decompose()
        return solid if len(bodies) == 1 else max(bodies, key=lambda body: body.volume())

    @cached_property
    def rng(self) -> np.random.Generator:
        return np.random.Generator(np.random.PCG64(self.seed))

    def _u(self, low: float, high: float) -> float:
        return low + (high - low) * float(self.rng.random())

    @cached_property
    def depth(self) -> float:
        """Of the joints, less where walls are thin."""
        thinnest = min((plate.thickness for plate in self._standing), default=math.inf)
        return min(self.style.depth, max((thinnest - _LEAST_CORE_MM) / 2, 0.2))

    @cached_property
    def _standing(self) -> list[Plate]:
        return [plate for plate in self.plates if plate.role in ("wall", "post")]

    @cached_property
    def _footprint(self) -> Polygon:
        footprint = shapely.union_all([plate.foot for plate in self.plates if plate.role == "base"])
        shapely.prepare(footprint)
        return footprint

    # --- what is behind the stones ---

    def _core(self) -> Iterator[Manifold]:
        for plate in self.plates:
            if plate.role == "base":
                seen = self._seen(plate)
                wide = plate.foot.buffer(_BEYOND_MM, join_style="mitre")
                down = min(self.style.floor_depth, plate.height / 2)
                yield _body(wide, plate.bottom - _BEYOND_MM, plate.top - down)
                pad = wide.difference(seen.buffer(_BEYOND_MM + _PROBE_MM, join_style="mitre"))
                yield _body(pad, plate.top - down - _PROBE_MM, plate.top)
            elif plate.role not in ("wall", "post"):
                yield _body(plate.foot, plate.bottom - _SUNK_MM, plate.top + _BEYOND_MM)
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
        region = region.union(box(opening.centre - half, -1.0, opening.centre + half, plate.height + 1 if high else spring))
        return self._through(plate, region)

    def _through(self, plate: Plate, region: BaseGeometry) -> Manifold:
        if plate.bend is None:
            return _across(_edge_of(plate), region, (-_BEYOND_MM, plate.thickness + _BEYOND_MM), plate.bottom)
        parts = []
        for part in polygons_of(region):
            rings = oriented_rings(part)
            flat = np.concatenate(rings)
            near, far = (_bent(plate, flat, d) for d in (-_BEYOND_MM, plate.thickness + _BEYOND_MM))
            from tilegen.solids.build import prism

            parts.append(prism(rings, near, far))
        return Manifold.batch_boolean(parts, manifold3d.OpType.Add)

    def _seen(self, base: Plate) -> BaseGeometry:
        """What is seen of a floor, the thresholds of openings with it."""
        covered = []
        for plate in self.plates:
            if plate.bottom <= base.top < plate.top:
                foot: BaseGeometry = plate.foot
                for opening in plate.openings:
                    foot = foot.difference(plate.opening_foot(opening))
                covered.append(foot)
        return base.foot.difference(shapely.union_all(covered))

    # --- walls ---

    def _walls(self, others: Heap) -> Manifold:
        """The stones of all walls, less the room of arches."""
        heap = Heap()
        turns = self.plates, self.turned
        tops = sorted({(plate.bottom, plate.top) for plate in self._standing})
        for bottom, top in tops:
            courses = courses_of(top - bottom, self.style.courses)
            above: dict[str, list[float]] = {}
            high = top
            for k, height in enumerate(courses):
                low = high - height
                walls = [p for p in turns[k % 2] if p.role in ("wall", "post") and (p.bottom, p.top) == (bottom, top)]
                self._course(heap, walls, k, (low, high), above, last=k == len(courses) - 1)
                high = low
        solid = heap.solid()
        arches = [self._through(p, r) for p in self._standing for o in p.openings for r in [self._head(p, o)] if r]
        return Manifold.batch_boolean([solid, *arches], manifold3d.OpType.Subtract) if arches else solid

    def _course(
        self,
        heap: Heap,
        walls: Sequence[Plate],
        number: int,
        levels: tuple[float, float],
        above: dict[str, list[float]],
        *,
        last: bool,
    ) -> None:
        low, high = levels
        whole = [w for p in self.plates for w in self._solid_at(p, low, high) if p.bottom < high and p.top > low and p.role != "base"]
        region = shapely.union_all(whole)
        shapely.prepare(region)
        for plate in walls:
            pieces = list(self._pieces(plate, number, levels, above))
            self._stones(heap, plate, pieces, number, levels, region, last=last)

    def _solid_at(self, plate: Plate, low: float, high: float) -> Iterator[BaseGeometry]:
        foot: BaseGeometry = plate.foot
        for opening in plate.openings:
            if _is_beside(plate, opening, low):
                foot = foot.difference(plate.opening_foot(opening))
        yield foot

    def _pieces(
        self, plate: Plate, number: int, levels: tuple[float, float], above: dict[str, list[float]]
    ) -> Iterator[tuple[Points, str]]:
        """What a wall is parted into in one course, and what each stone is: field, quoin or jamb, or post."""
        low, _ = levels
        if plate.role == "post" or plate.edge is None:
            yield _corners(plate.foot), "quoin"
            return
        square = plate.bend is None and abs(plate.foot.area - plate.length * plate.thickness) < EQUAL
        length, (least, most) = plate.length, self.style.length
        holes = sorted(
            (o.centre - o.width / 2, o.centre + o.width / 2) for o in plate.openings if _is_beside(plate, o, low)
        )
        stops = [(-math.inf, 0.0), *holes, (length, math.inf)]
        key = f"{plate.name} {number % 2}"
        dx, dy = plate.direction
        zero = 0.0 if plate.bend else dx * plate.edge[0][0] + dy * plate.edge[0][1]
        line = plate.name
        before = above.get(line, [])
        mine: list[float] = []
        for (_, start), (end, _) in zip(stops, stops[1:], strict=False):
            if end - start < 1e-3:
                continue
            jambs = start > 0, end < length
            first, final = (
                self._first(plate, number, jamb=jamb, least=least, most=most) for jamb in jambs
            )
            cuts = self._cuts(end - start, (first, final), (least, most), [b - zero - start for b in before])
            marks = [start, *(start + c for c in cuts), end]
            mine += [m + zero for m in marks[1:-1]]
            for n, (a, b) in enumerate(zip(marks, marks[1:], strict=False)):
                at_end = n == 0, n == len(marks) - 2
                kind = "jamb" if (at_end[0] and jambs[0]) or (at_end[1] and jambs[1]) else "field"
                kind = "quoin" if kind == "field" and any(at_end) else kind
                if square:
                    d = plate.thickness
                    yield np.array([plate.at(a, d), plate.at(b, d), plate.at(b), plate.at(a)]), kind
                    continue
                near = -20.0 if at_end[0] and not jambs[0] else a
                far = length + 20.0 if at_end[1] and not jambs[1] else b
                for part in polygons_of(self._strip(plate, near, far)):
                    yield _corners(part.simplify(_CHORD_MM if plate.bend else _PROBE_MM / 2)), kind
        above[line] = mine

    def _first(self, plate: Plate, number: int, *, jamb: bool, least: float, most: float) -> float:
        """How long the stone at one end of a stretch is; those of jambs and of ends alternate."""
        long = (number % 2 == 0) if not jamb else (number % 2 == 1)
        half = max(0.55 * least, _LEAST_STONE_MM + 0.5)
        return self._u(0.8 * most, most) if long else self._u(half, 1.25 * half)

    def _cuts(
        self, room: float, ends: tuple[float, float], lengths: tuple[float, float], before: Sequence[float]
    ) -> list[float]:
        """Where a stretch is cut: the best bond of some draws against the course above."""
        least, most = lengths
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

    def _stones(
        self,
        heap: Heap,
        plate: Plate,
        pieces: Sequence[tuple[Points, str]],
        number: int,
        levels: tuple[float, float],
        region: BaseGeometry,
        *,
        last: bool,
    ) -> None:
        """The stones of a wall's course. region: what all walls cover at that height."""
        if not pieces or plate.edge is None:
            return
        starts = np.concatenate([corners for corners, _ in pieces])
        ends = np.concatenate([np.roll(corners, -1, axis=0) for corners, _ in pieces])
        way = (ends - starts) / np.hypot(*(ends - starts).T)[:, None]
        probes = (starts + ends) / 2 + np.column_stack([way[:, 1], -way[:, 0]]) * _PROBE_MM
        behind = shapely.contains_xy(region, probes)
        (x0, y0), (x1, y1) = plate.edge
        along = np.array((x1 - x0, y1 - y0)) / math.dist((x0, y0), (x1, y1))
        seams = ~behind & (np.abs(way @ along) < 0.7) & ~shapely.contains_xy(self._footprint, probes)
        if plate.role != "wall":
            seams[:] = False
        done = 0
        for corners, kind in pieces:
            span = slice(done, done + len(corners))
            done += len(corners)
            sort = [_BEHIND if b else _SEAM if s else _FACE for b, s in zip(behind[span], seams[span], strict=True)]
            heap.add(self._stone(corners, sort, kind, number, levels, last=last))

    def _stone(
        self, corners: Points, sort: Sequence[int], kind: str, number: int, levels: tuple[float, float], *, last: bool
    ) -> Stone:
        style, half, through, field = self.style, self.style.joint / 2, number % 2 == 1, kind == "field"
        deep, span = (style.sunk, style.face[1]) if field else (0.0, min(style.face[1], 0.15))
        radius = _SEAM_RADIUS_MM if through and _SEAM in sort else self._u(*style.radius)
        low, high = levels
        radius = min(radius, 0.24 * (high - low))
        sides = []
        count = len(sort)
        for n, what in enumerate(sort):
            if what == _BEHIND:
                d = half * self._u(0.85, 1.15)
                sides.append(Side(d, d))
            elif what == _SEAM:
                d = -_OVER_SEAM_MM if through else max(half - self.half_play, _OFF_FACE_MM)
                sides.append(Side(d, d, round=not through))
            else:
                beside = sort[n - 1], sort[(n + 1) % count]
                a, b = (
                    _SEAM_FACE_MM if through and other == _SEAM else deep + self._u(style.face[0], span)
                    for other in beside
                )
                sides.append(Side(a, b))
        bottom = low - _SUNK_MM if last else low + half
        top = high - self._u(*style.face) * 0.7 - _OFF_FACE_MM if number == 0 else high - half
        outline = tuple((x, y) for x, y in corners.tolist())
        return Stone(outline, tuple(sides), bottom, top, radius, (not last, True))

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
        high = plate.height + 1 if top > plate.height - EQUAL else top + joint
        lean = _LEAN * ring + joint
        a, b = opening.centre - opening.width / 2, opening.centre + opening.width / 2
        more = lean * (high - opening.height) / ring if ring else lean
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
        heap = Heap()
        for plate in self._standing:
            for opening in plate.openings:
                ring = self._ring(plate, opening)
                if ring is None:
                    continue
                blocks = _voussoirs(opening, ring) if opening.head == "round" else _flat_arch(opening, ring)
                for block in blocks:
                    self._voussoir(heap, plate, block)
        return heap.solid()

    def _voussoir(self, heap: Heap, plate: Plate, block: list[Point]) -> None:
        half, top = 0.3, plate.height - EQUAL
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
            x, y = plate.edge[0]
            return np.column_stack([
                x + dx * flat[:, 0] + dy * depths, y + dy * flat[:, 0] - dx * depths, flat[:, 1] + plate.bottom
            ])

        stone = Stone(tuple(block), tuple(sides), faces[0], plate.thickness - faces[1], self._u(0.4, 0.6))
        heap.add(stone, place)

    # --- floors ---

    def _floors(self, heap: Heap) -> None:
        style = self.style
        for base in self.plates:
            if base.role != "base":
                continue
            seen = self._seen(base)
            thresholds = [
                p.opening_foot(o) for p in self._standing if abs(p.bottom - base.top) < 1e-6 for o in p.openings
            ]
            main = seen.difference(shapely.union_all(thresholds)) if thresholds else seen
            depth = min(style.floor_depth, base.height / 2)
            pieces = [q for t in thresholds for q in polygons_of(t.intersection(base.foot))]
            pieces += list(self._paved(main))
            rim = base.foot.exterior
            for piece in pieces:
                self._flag(heap, piece, base.top, depth, rim)

    def _paved(self, region: BaseGeometry) -> Iterator[Polygon]:
        west, south, east, north = region.bounds if not region.is_empty else (0, 0, 0, 0)
        p = self.pitch
        for i in range(math.floor(west / p), math.ceil(east / p)):
            for j in range(math.floor(south / p), math.ceil(north / p)):
                cell = box(i * p, j * p, (i + 1) * p, (j + 1) * p).intersection(region)
                for part in polygons_of(cell):
                    yield from _merged([q for r in self._split(part.bounds) for q in polygons_of(box(*r).intersection(part))])

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

    def _flag(self, heap: Heap, piece: Polygon, top: float, depth: float, rim: LineString) -> None:
        style = self.style
        piece = orient(without_collinear(piece.simplify(0.1)))
        corners = [tuple(c) for c in piece.exterior.coords[:-1]]
        half = style.floor_joint / 2
        sides = []
        for n, a in enumerate(corners):
            b = corners[(n + 1) % len(corners)]
            middle = shapely.Point((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
            d = half - self.half_play if rim.distance(middle) < 0.02 else half
            sides.append(Side(max(d, _OFF_FACE_MM), max(d, _OFF_FACE_MM)))
        high = top - self._u(*style.floor_face)
        heap.add(Stone(tuple(corners), tuple(sides), top - depth - _SUNK_MM, high, self._u(*style.floor_radius), (False, True)))


EQUAL = 1e-6
_BEHIND, _SEAM, _FACE = range(3)


def _corners(part: Polygon) -> Points:
    """The corners of an outline without holes, counter-clockwise."""
    points: Points = shapely.get_coordinates(orient(without_collinear(part)).exterior)[:-1]
    return points


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


def _without_lines(plate: Plate) -> Plate:
    """A plate without the lines and patterns of its faces."""
    return replace(plate, marks=tuple(mark for mark in plate.marks if not mark.centres))


def _body(region: BaseGeometry, bottom: float, top: float) -> Manifold:
    parts = [_extruded(part, bottom, top) for part in polygons_of(region)]
    return Manifold.batch_boolean(parts, manifold3d.OpType.Add) if len(parts) > 1 else (parts[0] if parts else Manifold())


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
