"""Tiles cut out of a room off the grid: a piece of its floor, and what of the room's wall stands on it, to plates.

The room's wall is the floor less itself moved inwards by a wall's thickness, mitred at corners; every tile carries
what lies on its own piece. So walls follow the room's outline whichever way the lattice cuts it, and a corner that
another tile's walls make carries its post. Derived points lie on a grid of ten nanometres, so that areas add
up to a millionth.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import (
    NEAR_MM,
    Point,
    difference,
    faces_of,
    intersection,
    largest_polygon,
    offset_path,
    polygonal,
    without_collinear,
)
from tilegen.grid import Grid
from tilegen.tiles.bend import MOST_TURN, Bend
from tilegen.tiles.floor import FloorPlan, Sort, block_shapes, hollows_of, layered_floor
from tilegen.tiles.joints import Band
from tilegen.tiles.marks import lattice_strips, marks_of
from tilegen.tiles.plate import Mark, Opening, Plate
from tilegen.tiles.regionshape import RegionShape, WallRun, filled, strip_beside

SNAP_MM = 1e-5
_CRUMB_MM2 = 0.05
_MITRE_LIMIT = 2.0
_RIGHT_ANGLE = 1e-6


class RegionTile:
    """Works out the plates of a piece; one instance for one shape, grid and wall band."""

    def __init__(self, shape: RegionShape, grid: Grid, band: Band) -> None:
        self.shape, self.grid, self.band = shape, grid, band
        inset = self._inset()
        self.inside = self._inside()
        wall = self._wall(inset)
        self.runs = [*shape.runs, *shape.inner.runs]
        beside = [strip_beside(run, band.inner) for run in shape.inner.runs]
        strips = [intersection(strip, wall) for strip in (*map(self._strip, shape.runs), *beside)]
        grooves = shapely.union_all(lattice_strips(inset.bounds, grid)) if grid.floor.lines else Polygon()
        extra, middle = shape.extra, (shape.middle, shape.middle)
        blocks = list(block_shapes(extra.blocks, extra.floor, middle, _axis_lines([inset, wall])))
        self._cut(inset, wall, [*strips, grooves, *(block for _, block in blocks)])
        self.feet = [self._take(strip) for strip in strips]
        self.posts = self._take(wall)
        self.grooves = grooves
        self.blocks = self._blocks(blocks)

    def _inset(self) -> Polygon:
        """The piece less half the play all round, mitred."""
        inset = self.shape.piece.buffer(-self.grid.half_play, join_style="mitre", mitre_limit=5.0)
        inset = shapely.set_precision(inset, SNAP_MM)
        parts = [p for p in shapely.get_parts(inset).tolist() if p.area > _CRUMB_MM2]
        if len(parts) != 1:
            raise InputError(
                f"a piece of floor of {self.shape.piece.area:.3g} mm2 that vanishes or falls apart",
                expected=f"more than the play of {self.grid.joint_play:g} mm everywhere",
            )
        return Polygon(parts[0])

    def _inside(self) -> BaseGeometry:
        """The room's floor between the inner faces of its walls."""
        return difference(self._within(self.band.inner), shapely.union_all(self.shape.inner.covers(self.band.inner)))

    def _wall(self, inset: Polygon) -> BaseGeometry:
        """What all walls cover of the footprint."""
        inner = self.shape.inner
        wall = difference(inset, self.inside)
        if self.band.outer > self.grid.half_play:
            before = shapely.union_all(inner.covers(self.band.outer, self.band.inner))
            wall = difference(intersection(wall, self._within(self.band.outer)), before)
        return shapely.set_precision(wall, SNAP_MM)

    def _within(self, depth: float) -> BaseGeometry:
        """The room less what is nearer to its walls' lines than a depth, mitred."""
        whole = filled(self.shape.room, self.shape.opens, depth)
        return whole.buffer(-depth, join_style="mitre", mitre_limit=_MITRE_LIMIT)

    def _strip(self, run: WallRun) -> BaseGeometry:
        """All that may belong to one wall: to a wall's thickness from its line, to the bisectors of its corners."""
        reach = self.band.inner * 2.5
        start = self._extended(run.path[0], run.path[1], run.turns[0], reach)
        end = self._extended(run.path[-1], run.path[-2], run.turns[1], reach)
        line = LineString([start, *run.path[1:-1], end])
        # A straight wall is as deep as its band; the mitres of a bent one's facets need not agree to the last figure.
        depth = self.band.inner + (NEAR_MM if len(run.path) > 2 else 0.0)
        strip: BaseGeometry = line.buffer(depth, cap_style="flat", join_style="mitre", mitre_limit=_MITRE_LIMIT)
        for here, beside, turn, sign in (
            (run.path[0], run.path[1], run.turns[0], 1),
            (run.path[-1], run.path[-2], run.turns[1], -1),
        ):
            if turn is not None and abs(turn - math.pi / 2) > _RIGHT_ANGLE:
                # Round a curve the wall may come back to its corner's other side: there the cut is a short one.
                far = 1.5 * reach if len(run.path) > 2 else 4 * reach + line.length
                strip = difference(strip, _beyond_bisector(here, beside, turn, sign, far))
        return strip

    def _extended(self, end: Point, before: Point, turn: float | None, reach: float) -> Point:
        """A wall's end moved outwards: as far as a right-angled corner needs, or to where a bisector cuts it."""
        far = self.band.inner if turn is None or abs(turn - math.pi / 2) <= _RIGHT_ANGLE else reach
        share = far / math.dist(end, before)
        return end[0] + (end[0] - before[0]) * share, end[1] + (end[1] - before[1]) * share

    def _cut(self, inset: Polygon, wall: BaseGeometry, regions: Sequence[BaseGeometry]) -> None:
        """The faces that the footprint falls into along all lines, noded on the grid."""
        lines = [wall.boundary, *(region.boundary for region in regions)]
        self.faces, self.points = faces_of(inset, lines, SNAP_MM)
        self.free = np.ones(len(self.faces), bool)
        self.standing_faces = shapely.contains(wall, self.points)
        self.whole = largest_polygon(shapely.coverage_union_all(self.faces))

    def _take(self, region: BaseGeometry) -> BaseGeometry:
        """What nobody has taken yet of the walls in a region."""
        mine = self.free & self.standing_faces & shapely.contains(region, self.points)
        self.free &= ~mine
        return shapely.coverage_union_all(self.faces[mine])

    def footprint(self) -> Polygon:
        """The base on the plan."""
        return self.whole

    def marks(self) -> tuple[Mark, ...]:
        """The space lines on what the walls leave visible."""
        if not self.grid.floor.lines:
            return ()
        cut = self.free & shapely.contains(self.grooves, self.points)
        visible = shapely.coverage_union_all(self.faces[self.free])
        return marks_of(shapely.coverage_union_all(self.faces[cut]), visible, self.grid)

    def floor(self) -> tuple[Plate, ...]:
        """The base, in layers where it must be, then what is on it."""

        def lines(face: BaseGeometry) -> tuple[Mark, ...]:
            cut = self.free & shapely.contains(self.grooves, self.points) & shapely.contains(face, self.points)
            return marks_of(shapely.coverage_union_all(self.faces[cut]), face, self.grid)

        floors = [(self.whole, self.shape.extra.floor)]
        return layered_floor(FloorPlan(self.whole, floors, self.blocks, tuple(self.standing())), self.grid, lines)

    def hollows(self) -> dict[str, BaseGeometry]:
        """What the hollows of each kind cover on the plan."""
        return hollows_of(self.blocks)

    def _blocks(self, blocks: Sequence[tuple[Sort, Polygon]]) -> dict[Sort, BaseGeometry]:
        """What each sort of block covers of what walls leave, not behind them where their stock is thinner."""
        inside = self.free & shapely.contains(self.inside, self.points)
        found: dict[Sort, npt.NDArray[np.bool_]] = defaultdict(lambda: np.zeros(len(self.faces), bool))
        for sort, block in blocks:
            found[sort] |= inside & shapely.contains(block, self.points)
        return {
            sort: shapely.union_all(_pieces(shapely.coverage_union_all(self.faces[mine])))
            for sort, mine in sorted(found.items(), key=lambda item: item[0])
        }

    def standing(self) -> Iterator[Plate]:
        """Walls in the order of their runs, then what stands of other tiles' corners, as posts."""
        number = 0
        for run, foot in zip(self.runs, self.feet, strict=True):
            for part in _pieces(foot):
                number += 1
                yield self._plate(run, part, number)
        for part in _pieces(self.posts):
            number += 1
            yield self._post(part, number)

    @property
    def _levels(self) -> tuple[float, float]:
        """Where walls start and end."""
        extra = self.shape.extra
        bottom = self.grid.base_depth + extra.floor
        return bottom, bottom + (self.grid.wall_height if extra.wall_height is None else extra.wall_height)

    def _plate(self, run: WallRun, foot: Polygon, number: int) -> Plate:
        """One wall. A wall that only reaches in from another tile is a post."""
        outer = self._outer(run, foot)
        if outer is None:
            return self._post(foot, number)
        path, first = outer
        openings, ragged = self._openings(run, path, first)
        bend = None
        if len(path) > 2 or ragged:
            bend = Bend(path, self.band.inner - self._depth(run), self._beyond(run, path))
        word = "bent wall" if len(path) > 2 else "wall"
        return Plate(f"{word} {number}", "wall", foot, *self._levels, (path[0], path[-1]), openings, bend=bend)

    @staticmethod
    def _beyond(run: WallRun, path: Sequence[Point]) -> float:
        """Half of what a bent wall turns into those that it runs on into; nothing where the tile's edge cuts it."""
        ends = [(run.path[0], path[0], run.turns[0]), (run.path[-1], path[-1], run.turns[1])]
        near = [turn for line, face, turn in ends if turn is not None and math.dist(line, face) < 1.0]
        return math.fsum(turn / 2 for turn in near if abs(turn) <= MOST_TURN)

    def _depth(self, run: WallRun) -> float:
        """How far a wall's outer face is from its line: at a seam at least half the play."""
        middle = LineString(run.path).interpolate(0.5, normalized=True)
        if self.shape.piece.boundary.distance(middle) > NEAR_MM and run in self.shape.inner.runs:
            return self.band.outer if self.band.outer > self.grid.half_play else 0.0
        return max(self.band.outer, self.grid.half_play)

    def _outer(self, run: WallRun, foot: Polygon) -> tuple[tuple[Point, ...], float] | None:
        """The wall's outer face within its foot, and the station on the run at which it starts."""
        depth = self._depth(run)
        whole = offset_path(run.path, depth)
        if len(run.path) == 2:
            return self._straight(whole, foot)
        line = LineString(whole)
        near = foot.buffer(NEAR_MM / 2, join_style="mitre")
        found = [g for g in shapely.get_parts(shapely.line_merge(line.intersection(near))).tolist() if g.length > 1.0]
        if not found:
            return None
        longest = max(found, key=lambda g: float(g.length))
        # An overlay promises no direction.
        stations = sorted((float(line.project(shapely.Point(p))), float(p[0]), float(p[1])) for p in longest.coords)
        share = LineString(run.path).length / line.length
        return tuple((x, y) for _, x, y in stations), stations[0][0] * share

    @staticmethod
    def _straight(whole: Sequence[Point], foot: Polygon) -> tuple[tuple[Point, ...], float] | None:
        (x0, y0), (x1, y1) = whole
        length = math.dist((x0, y0), (x1, y1))
        dx, dy = (x1 - x0) / length, (y1 - y0) / length
        at = [
            dx * (x - x0) + dy * (y - y0)
            for x, y in foot.exterior.coords
            if abs(dy * (x - x0) - dx * (y - y0)) < NEAR_MM
        ]
        if not at or max(at) - min(at) < 1.0:
            return None
        first, last = min(at), max(at)
        ends = ((x0 + dx * first, y0 + dy * first), (x0 + dx * last, y0 + dy * last))
        if dx == 0 or dy == 0:
            ends = tuple((round(x, 4) if dx else x, round(y, 4) if dy else y) for x, y in ends)  # type: ignore[assignment]
        return ends, first

    def _openings(self, run: WallRun, path: Sequence[Point], first: float) -> tuple[tuple[Opening, ...], bool]:
        """The run's openings on this plate, and whether one of them runs off its end (over a seam)."""
        found = []
        ragged = False
        length = math.fsum(math.dist(a, b) for a, b in pairwise(path))
        margin = 3 * self.band.inner
        for start, end, look in run.openings:
            low, high = start - first, end - first
            if high <= NEAR_MM or low >= length - NEAR_MM:
                continue
            # A jamb too slight to stand goes with the opening.
            slight = self.grid.wall_thickness / 2
            if low < slight:
                low, ragged = -margin, True
            if high > length - slight:
                high, ragged = length + margin, True
            bottom, top = self._levels
            found.append(Opening((low + high) / 2, high - low, min(look.height, top - bottom), look.head))
        return tuple(sorted(found)), ragged

    def _post(self, foot: Polygon, number: int) -> Plate:
        """What stands free of any line of this tile; its longest side counts as its outer face."""
        ring = [(float(x), float(y)) for x, y in foot.exterior.coords]
        if foot.exterior.is_ccw:
            ring.reverse()
        edge = max(pairwise(ring), key=lambda side: round(math.dist(*side), 3))
        return Plate(f"post {number}", "post", foot, *self._levels, edge)


def _beyond_bisector(here: Point, beside: Point, turn: float, sign: int, far: float) -> Polygon:
    """The side of a corner's bisector on which a wall does not lie, as far as that matters, mm.

    beside: the wall's next point; sign: 1 at its start.
    """
    back = math.atan2(beside[1] - here[1], beside[0] - here[0])
    inward = sign * -(math.pi - turn) / 2
    (ux, uy), (bx, by) = (math.cos(back + inward), math.sin(back + inward)), (math.cos(back), math.sin(back))
    x, y = here
    return Polygon(
        [
            (x - ux * far, y - uy * far),
            (x + ux * far, y + uy * far),
            (x + (ux - 2 * bx) * far, y + (uy - 2 * by) * far),
            (x - (2 * bx + ux) * far, y - (2 * by + uy) * far),
        ]
    )


def _axis_lines(regions: Sequence[BaseGeometry]) -> tuple[list[float], list[float]]:
    """The x and y of the sides of regions that run along the axes."""
    found: tuple[set[float], set[float]] = set(), set()
    for region in regions:
        for part in shapely.get_parts(region).tolist():
            for ring in (part.exterior, *part.interiors):
                for a, b in pairwise(ring.coords):
                    for axis in (0, 1):
                        if a[axis] == b[axis]:
                            found[axis].add(a[axis])
    return sorted(found[0]), sorted(found[1])


def _pieces(foot: BaseGeometry) -> list[Polygon]:
    """The parts of a foot, crumbs left by snapping dropped."""
    parts = polygonal(foot)
    return [without_collinear(p) for p in getattr(parts, "geoms", [parts]) if p.area > _CRUMB_MM2]
