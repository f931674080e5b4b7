"""A piece of a room off the grid as the description of a tile: the walls near it as runs, corners as posts.

Walls follow the room's outline whichever way the lattice cuts it; what reaches in from another tile becomes a post.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely

from tilegen.geometry import NEAR_MM, Point, direction_of
from tilegen.grid import Grid
from tilegen.tiles.piece import Description
from tilegen.tiles.regionshape import RegionShape, WallRun
from tilegen.tiles.walls import SQUARE, End, Post, Run, turn_of, turned

# Where a post stands, the directions of its two lines, and whether each is the tile's edge.
Corner = tuple[Point, tuple[Point, Point], tuple[bool, bool]]


def region_described(shape: RegionShape, grid: Grid) -> Description:
    """A piece with the room's walls near it, those inside the room, and posts in corners that no wall fills."""
    bottom = grid.base_depth + shape.extra.floor
    levels = bottom, bottom + (grid.wall_height if shape.extra.wall_height is None else shape.extra.wall_height)
    runs = [_run(wall, levels, seam=True) for wall in shape.runs]
    edge = shape.piece.boundary

    def is_seam(x: float, y: float) -> bool:
        return bool(edge.distance(shapely.Point(x, y)) < NEAR_MM)

    for wall in shape.inner.runs:
        middle = shapely.LineString(wall.path).interpolate(0.5, normalized=True)
        runs.append(_run(wall, levels, seam=is_seam(middle.x, middle.y)))
    posts: dict[tuple[float, ...], Post] = {}
    for at, along, seams in (*_outer_corners(runs[: len(shape.runs)]), *_open_corners(shape)):
        posts[at] = Post(at, along, seams, levels, "")
    for x, y, east, north in shape.inner.posts:
        seams = is_seam(x, y + north), is_seam(x + east, y)
        posts[x, y, east, north] = Post((x, y), ((0.0, float(east)), (-float(north), 0.0)), seams, levels, "")
    jamb = grid.wall_thickness / 2
    return Description(shape.piece, runs, list(posts.values()), shape.extra, shape.middle, jamb)


def _run(wall: WallRun, levels: tuple[float, float], *, seam: bool) -> Run:
    openings = tuple(replace(look, centre=(low + high) / 2, width=high - low) for low, high, look in wall.openings)
    run = Run(wall.path, seam, levels, tuple(sorted(openings)), "")
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
