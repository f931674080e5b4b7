"""Tiles cut out of a room off the grid: a piece of its floor, and what of the room's walls stands on it, to plates.

Walls follow the room's outline whichever way the lattice cuts it; every tile carries what stands on its own piece, and
what reaches in from another tile's walls as posts. Derived points lie on a grid of ten nanometres, so that areas add
up to a millionth.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import count, pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import NEAR_MM, Point, direction_of, faces_of, largest_polygon, polygonal, without_collinear
from tilegen.grid import Grid
from tilegen.tiles.floor import FloorPlan, Sort, block_shapes, hollows_of, layered_floor
from tilegen.tiles.joints import PRINTED_JOINTS, Band, Joints
from tilegen.tiles.marks import lattice_strips, marks_of
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.regionshape import RegionShape, WallRun
from tilegen.tiles.walls import SQUARE, End, Post, Run, inset, turn_of, turned, walls_of

SNAP_MM = 1e-5
_CRUMB_MM2 = 0.05
# Where a post stands, the directions of its two lines, and whether each is the tile's edge.
Corner = tuple[Point, tuple[Point, Point], tuple[bool, bool]]


class RegionTile:
    """Works out the plates of a piece; one instance for one shape, grid, wall band and way to join."""

    def __init__(self, shape: RegionShape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> None:
        self.shape, self.grid = shape, grid
        base = self._inset()
        walls = self._walls(base, band, joints)
        # Behind a wall that is set back nothing of a feature is seen.
        deep = replace(band, outer=grid.half_play, within_outer=0.0)
        set_back = bool(shape.extra.blocks) and deep != band
        covered = self._walls(base, deep, PRINTED_JOINTS) if set_back else walls
        grooves = shapely.union_all(lattice_strips(base.bounds, grid)) if grid.floor.lines else Polygon()
        extra, middle = shape.extra, (shape.middle, shape.middle)
        feet = [plate.foot for plate in covered]
        blocks = list(block_shapes(extra.blocks, extra.floor, middle, _axis_lines([base, *feet])))
        regions = [*(plate.foot for plate in walls), *(feet if blocks else ())]
        lines = [region.boundary for region in (*regions, grooves, *(block for _, block in blocks))]
        self.faces, self.points = faces_of(base, lines, SNAP_MM)
        self.free = np.ones(len(self.faces), bool)
        self.whole = largest_polygon(shapely.coverage_union_all(self.faces))
        self.plates = [replace(plate, foot=self._take(plate.foot)) for plate in walls]
        self.grooves = grooves
        self.blocks = self._blocks(blocks, shapely.union_all(feet, grid_size=SNAP_MM))

    def _walls(self, base: Polygon, band: Band, joints: Joints) -> list[Plate]:
        """What stands on the piece, numbered."""
        runs, posts = described(self.shape, self._levels)
        jamb = self.grid.wall_thickness / 2
        plates = walls_of(runs, posts, base, (band, joints), self.grid.half_play, jamb=jamb)
        numbers = count(1)
        return [replace(plate, name=f"{_word(plate)} {next(numbers)}") for plate in plates]

    def _inset(self) -> Polygon:
        """The piece less half the play all round, mitred."""
        parts = [
            p for p in shapely.get_parts(inset(self.shape.piece, self.grid.half_play)).tolist() if p.area > _CRUMB_MM2
        ]
        if len(parts) != 1:
            raise InputError(
                f"a piece of floor of {self.shape.piece.area:.3g} mm2 that vanishes or falls apart",
                expected=f"more than the play of {self.grid.joint_play:g} mm everywhere",
            )
        return Polygon(parts[0])

    def _take(self, region: Polygon) -> Polygon:
        """What nobody has taken yet of the faces in a region."""
        mine = self.free & shapely.contains(region, self.points)
        self.free &= ~mine
        return without_collinear(largest_polygon(shapely.coverage_union_all(self.faces[mine])))

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

    def _blocks(self, blocks: Sequence[tuple[Sort, Polygon]], covered: BaseGeometry) -> dict[Sort, BaseGeometry]:
        """What each sort of block covers of what walls leave, not behind them where their stock is thinner."""
        inside = self.free & ~shapely.contains(covered, self.points)
        found: dict[Sort, npt.NDArray[np.bool_]] = defaultdict(lambda: np.zeros(len(self.faces), bool))
        for sort, block in blocks:
            found[sort] |= inside & shapely.contains(block, self.points)
        return {
            sort: shapely.union_all(_pieces(shapely.coverage_union_all(self.faces[mine])))
            for sort, mine in sorted(found.items(), key=lambda item: item[0])
        }

    def standing(self) -> Iterator[Plate]:
        """Walls in the order of their runs, then posts."""
        return iter(self.plates)

    @property
    def _levels(self) -> tuple[float, float]:
        """Where walls start and end."""
        extra = self.shape.extra
        bottom = self.grid.base_depth + extra.floor
        return bottom, bottom + (self.grid.wall_height if extra.wall_height is None else extra.wall_height)


def described(shape: RegionShape, levels: tuple[float, float]) -> tuple[list[Run], list[Post]]:
    """The runs and posts of a piece: the room's walls near it, those inside the room, corners that no wall fills."""
    runs = [_run(wall, levels, seam=True) for wall in shape.runs]
    edge = shape.piece.boundary

    def is_seam(x: float, y: float) -> bool:
        return bool(edge.distance(shapely.Point(x, y)) < NEAR_MM)

    for wall in shape.inner.runs:
        middle = shapely.LineString(wall.path).interpolate(0.5, normalized=True)
        runs.append(_run(wall, levels, seam=is_seam(middle.x, middle.y)))
    posts: dict[tuple[float, ...], Post] = {}
    for at, along, seams in (*_outer_corners(runs[: len(shape.runs)]), *_open_corners(shape)):
        posts[at] = Post(at, along, seams, levels)
    for x, y, east, north in shape.inner.posts:
        seams = is_seam(x, y + north), is_seam(x + east, y)
        posts[x, y, east, north] = Post((x, y), ((0.0, float(east)), (-float(north), 0.0)), seams, levels)
    return runs, list(posts.values())


def _run(wall: WallRun, levels: tuple[float, float], *, seam: bool) -> Run:
    openings = tuple(replace(look, centre=(low + high) / 2, width=high - low) for low, high, look in wall.openings)
    run = Run(wall.path, seam, levels, tuple(sorted(openings)))
    ends = []
    for turn, start in zip(wall.turns, (True, False), strict=True):
        way = run.direction(start=start)
        ends.append(End() if turn is None else End(turned(way, -turn if start else turn), walled=True))
    return replace(run, ends=(ends[0], ends[1]))


def _outer_corners(runs: Sequence[Run]) -> Iterator[Corner]:
    """Right-angled corners that point into the room: where both walls stop, with the directions of their lines."""
    for run in runs:
        for at, end, start in ((run.path[0], run.ends[0], True), (run.path[-1], run.ends[1], False)):
            way = run.direction(start=start)
            if end.direction is not None:
                before, after = (end.direction, way) if start else (way, end.direction)
                if abs(turn_of(before, after) + math.pi / 2) < SQUARE:
                    yield at, (before, after), (False, False)


def _open_corners(shape: RegionShape) -> Iterator[Corner]:
    """Corners of open lines that carry a post: beside a saddle, and between two open lines round a corner."""
    stops = {wall.path[-1] for wall in shape.runs}
    starts = {wall.path[0] for wall in shape.runs}
    for line in shape.opens:
        way = direction_of((line.start, line.end))
        if not line.walled[0] and any(math.dist(line.start, p) < NEAR_MM for p in stops):
            yield line.start, (way, (-way[1], way[0])), (True, False)
        if not line.walled[1] and any(math.dist(line.end, p) < NEAR_MM for p in starts):
            yield line.end, (way, (way[1], -way[0])), (True, False)
        for other in shape.opens:
            beyond = direction_of((other.start, other.end))
            if math.dist(line.end, other.start) < NEAR_MM and SQUARE < turn_of(way, beyond) < math.pi - SQUARE:
                yield line.end, (way, beyond), (True, True)


def _word(plate: Plate) -> str:
    return "bent wall" if plate.bend is not None and len(plate.bend.outer) > 2 else plate.role


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
