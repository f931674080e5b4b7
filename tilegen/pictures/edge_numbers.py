"""The numbers of an outline's edges, drawn on the tile; edges too short for a number share one, as in "4-12"."""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from shapely.geometry import Point, Polygon

from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, polyline, text_width
from tilegen.tiles.shape import OutlineShape

# Sizes in units of the picture: letters, how far inside a number stands, the length of outline that a run is cut into.
_LETTERS = 4.6
_INSIDE = 3.6
_RUN = 16.0
_TICK = 1.6

Run = tuple[int, int]
Array = npt.NDArray[np.float64]
Turned = Callable[[Array], Array]


def edge_runs(shape: OutlineShape, unit: float) -> list[Run]:
    """First and last number of the edges that share a label, in order; unit: the picture's, in mm."""
    if shape.numbers:
        given = sorted(set(shape.numbers))
        return [(1 + shape.numbers.index(n), shape.numbers.index(n) + shape.numbers.count(n)) for n in given]
    lengths = [float(np.hypot(b[0] - a[0], b[1] - a[1])) for a, b in pairwise((*shape.points, shape.points[0]))]
    runs: list[tuple[int, int, float]] = []
    for number, length in enumerate(lengths, 1):
        alone = length >= text_width(str(number), _LETTERS * unit) * 0.6
        if alone or not runs or runs[-1][2] >= _RUN * unit:
            # What is left of a curve goes to the run before.
            runs.append((number, number, math.inf if alone else length))
        else:
            first, _, so_far = runs[-1]
            runs[-1] = (first, number, so_far + length)
    kept: list[tuple[int, int, float]] = []
    for run in runs:
        if kept and run[2] < _RUN * unit / 2 and kept[-1][2] < math.inf:
            kept[-1] = (kept[-1][0], run[1], kept[-1][2] + run[2])
        else:
            kept.append(run)
    return [(first, last) for first, last, _ in kept]


def draw_edge_numbers(
    canvas: Canvas,
    shape: OutlineShape,
    place_on: Turned,
    *,
    wall: float,
    unit: float,
    ink: str,
    halo: str,
) -> None:
    """Each run's number beside its middle, on the inside of its wall, and a tick where runs that share one meet.

    wall: its thickness in mm. place_on: from the tile's frame to the canvas, (n, 2) to (n, 2).
    """
    outline = Polygon(shape.points, shape.holes)
    size = _LETTERS * unit
    for first, last in edge_runs(shape, unit):
        points = np.array([shape.points[k % len(shape.points)] for k in range(first - 1, last + 1)])
        middle, inward = _middle(points)
        if not outline.covers(Point(middle + inward * 0.01)):
            inward = -inward
        walled = any(first <= number <= last for number in shape.walls)
        words = str(first) if first == last else f"{first}-{last}"
        if shape.numbers:
            words = str(shape.numbers[first - 1])
        # Wide words keep off an upright edge by half their width.
        off = _INSIDE * unit + abs(inward[0]) * (text_width(words, size) - text_width("1", size)) / 2
        inside = middle + inward * ((wall if walled else 0.0) + off)
        if not outline.covers(Point(inside)):
            inside = middle + inward * off
        x, y = place_on(inside[None]).tolist()[0]
        canvas.text(x, y + CAP_HEIGHT * size / 2, words, size, "middle", bold=True, halo=halo)
        if first != last:
            _draw_ticks(canvas, place_on(points[[0, -1]]), unit, ink)


def _draw_ticks(canvas: Canvas, ends: Array, unit: float, ink: str) -> None:
    """A small upright cross at each end of a run."""
    half = _TICK * unit / 2
    ticks = [polyline((x - half, y), (x + half, y)) for x, y in ends.tolist()]
    ticks += [polyline((x, y - half), (x, y + half)) for x, y in ends.tolist()]
    canvas.line(ticks, ink, 0.3 * unit)


def _middle(points: Array) -> tuple[Array, Array]:
    """The point half way along a line, and the unit normal of its edge there."""
    steps = np.diff(points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    along = np.cumsum(lengths)
    edge = int(np.searchsorted(along, along[-1] / 2))
    step = steps[edge] / lengths[edge]
    middle = points[edge] + step * (along[-1] / 2 - (along[edge] - lengths[edge]))
    return middle, np.array([step[1], -step[0]])
