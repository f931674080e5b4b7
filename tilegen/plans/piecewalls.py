"""A piece of a room off the grid as the description of a tile: its walls and openings from those of the room."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import accumulate, pairwise

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from tilegen.geometry import SNAP_MM, Point, turn_right
from tilegen.plans.borders import Border
from tilegen.plans.cutting import Piece
from tilegen.plans.shapes import Floats
from tilegen.tiles.regionshape import InnerWalls, OpenLine, RegionShape, WallRun


def region_shape(
    piece: Piece, border: Border, inner: InnerWalls, home: tuple[float, float], wall: float
) -> RegionShape:
    """A piece as the description of a tile. home: the south-west corner of its own square, map coordinates."""
    west, south, east, north = piece.floor.bounds
    far = 6 * wall
    window = box(west - far, south - far, east + far, north + far)
    runs = [part for run in border.runs for part in _near(run, piece.floor, 3 * wall)]

    def move(points: Floats) -> Floats:
        moved: Floats = points - np.array(home)
        return moved

    def spot(point: Point) -> Point:
        return point[0] - home[0], point[1] - home[1]

    moved = tuple(WallRun(tuple(map(spot, run.path)), run.openings, run.turns) for run in runs)
    opens = tuple(
        OpenLine(spot(line.start), spot(line.end), line.walled)
        for line in border.opens
        if window.intersects(shapely.LineString((line.start, line.end)))
    )
    near = piece.floor.buffer(3 * wall)
    beside = InnerWalls(
        tuple(run for run in inner.runs if near.intersects(shapely.LineString(run.path))),
        tuple(post for post in inner.posts if near.intersects(shapely.Point(post[:2]))),
    )
    return RegionShape(shapely.transform(piece.floor, move), moved, beside.moved(move), opens=opens)


def _near(run: WallRun, floor: Polygon, reach: float) -> Iterator[WallRun]:
    """The stretches of a wall's facets within reach of a piece; a wall all round it comes as two halves."""
    steps = list(pairwise(run.path))
    lines = np.array([shapely.LineString(step) for step in steps], dtype=object)
    away = shapely.distance(lines, floor)
    stations = [0.0, *accumulate(math.dist(a, b) for a, b in steps)]
    count, closed = len(steps), run.path[0] == run.path[-1]
    smooth = closed and run.turns == (None, None)
    beside = shapely.distance(shapely.line_interpolate_point(lines, 0.5, normalized=True), floor)
    if closed and (beside < SNAP_MM).all():
        first = _clear_of_openings(run, stations) if smooth else 0
        order = [(first + k) % count for k in range(count)]
        yield _stretch(run, order[: count // 2], stations)
        yield _stretch(run, order[count // 2 :], stations)
        return
    first = int(beside.argmax()) if smooth else 0
    group: list[int] = []
    for k in [*((first + k) % count for k in range(count)), -1]:
        if k >= 0 and away[k] < reach:
            group.append(k)
        elif group:
            yield _stretch(run, group, stations)
            group = []


def _clear_of_openings(run: WallRun, stations: Sequence[float]) -> int:
    """The facet of a closed wall at which its two halves begin furthest from any opening."""
    total, count = stations[-1], len(stations) - 1
    centres = [(low + high) / 2 for low, high, _ in run.openings]

    def clear(first: int) -> float:
        cuts = stations[first], stations[(first + count // 2) % count]
        return round(min((abs((c - s + total / 2) % total - total / 2) for c in centres for s in cuts), default=0.0), 3)

    return max(range(count), key=clear)


def _stretch(run: WallRun, group: Sequence[int], stations: Sequence[float]) -> WallRun:
    """Some facets in a row, with the openings measured from where they start (round a closed wall if need be)."""
    total, start = stations[-1], stations[group[0]]
    path = (run.path[group[0]], *(run.path[k + 1] for k in group))
    length = math.fsum(stations[k + 1] - stations[k] for k in group)
    openings = []
    for low, high, look in run.openings:
        for shift in (0.0, total, -total) if run.path[0] == run.path[-1] else (0.0,):
            if low + shift - start < length and high + shift - start > 0:
                openings.append((low + shift - start, high + shift - start, look))
    return WallRun(path, tuple(openings), (_turn(run, group[0]), _turn(run, group[-1] + 1)))


def _turn(run: WallRun, corner: int) -> float | None:
    """How far a run, or the room's outline at its ends, turns right at one of its corners."""
    path, last = run.path, len(run.path) - 1
    if 0 < corner < last:
        return turn_right(*path[corner - 1 : corner + 2])
    if path[0] == path[-1] and run.turns == (None, None):
        return turn_right(path[-2], path[0], path[1])
    return run.turns[0] if corner == 0 else run.turns[1]
