"""A piece of a room off the grid as the description of a tile: its walls and openings from those of the room."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import fsum

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from tilegen.plans.borders import Border
from tilegen.plans.cutting import Piece
from tilegen.plans.shapes import Floats
from tilegen.tiles.regionshape import InnerWalls, RegionShape, WallRun


def region_shape(
    piece: Piece, border: Border, inner: InnerWalls, home: tuple[float, float], wall: float
) -> RegionShape:
    """A piece as the description of a tile. home: the south-west corner of its own square, map coordinates."""
    west, south, east, north = piece.floor.bounds
    far = 6 * wall
    window = box(west - far, south - far, east + far, north + far)
    room = border.filled.intersection(window)
    runs = [part for run in border.runs for part in _near(run, piece.floor, 3 * wall)]

    def move(points: Floats) -> Floats:
        moved: Floats = points - np.array(home)
        return moved

    moved = tuple(
        WallRun(tuple((x - home[0], y - home[1]) for x, y in run.path), run.openings, run.turns) for run in runs
    )
    near = piece.floor.buffer(3 * wall)
    beside = InnerWalls(
        tuple(run for run in inner.runs if near.intersects(shapely.LineString(run.path))),
        tuple(post for post in inner.posts if near.intersects(shapely.Point(post[:2]))),
    )
    return RegionShape(shapely.transform(piece.floor, move), shapely.transform(room, move), moved, beside.moved(move))


def _near(run: WallRun, floor: Polygon, reach: float) -> Iterator[WallRun]:
    """The stretches of a wall's facets within reach of a piece."""
    steps = list(pairwise(run.path))
    lines = np.array([shapely.LineString(step) for step in steps], dtype=object)
    near = (shapely.distance(lines, floor) < reach).tolist()
    stations = [0.0]
    for a, b in steps:
        stations.append(stations[-1] + float(np.hypot(b[0] - a[0], b[1] - a[1])))
    if not any(near):
        return
    count, closed = len(steps), run.path[0] == run.path[-1]
    if all(near):
        yield run
        return
    first = next(k for k in range(count) if not near[k]) if closed else 0
    order = [(first + k) % count for k in range(count)]
    group: list[int] = []
    for k in [*order, -1]:
        if k >= 0 and near[k]:
            group.append(k)
        elif group:
            yield _stretch(run, group, stations)
            group = []


def _stretch(run: WallRun, group: list[int], stations: list[float]) -> WallRun:
    """Some facets in a row, with the openings measured from where they start (round a closed wall if need be)."""
    count, total = len(run.path) - 1, stations[-1]
    path = (run.path[group[0]], *(run.path[k + 1] for k in group))
    start = stations[group[0]]
    length = fsum(stations[k + 1] - stations[k] for k in group)
    openings = []
    closed = run.path[0] == run.path[-1]
    for low, high, look in run.openings:
        for shift in (0.0, total, -total) if closed else (0.0,):
            if low + shift - start < length and high + shift - start > 0:
                openings.append((low + shift - start, high + shift - start, look))
    turns = (
        run.turns[0] if group[0] == 0 and not closed else None,
        run.turns[1] if group[-1] == count - 1 and not closed else None,
    )
    return WallRun(path, tuple(openings), turns)
