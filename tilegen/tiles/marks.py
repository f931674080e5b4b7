"""Marks on the floor: the lines between spaces, clipped to the face that stays visible."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Bounds, Segment, polygonal
from tilegen.grid import Grid
from tilegen.tiles.plate import Mark


def lines_in_box(clear: Bounds, xs: list[float], ys: list[float], grid: Grid) -> tuple[Mark, ...]:
    """The space lines inside a clear rectangle (west, south, east, north): the quick way for a plain tile."""
    if not xs and not ys:
        return ()
    strips = _strips(clear, xs, ys, grid)
    region = polygonal(shapely.union_all(strips))
    return (Mark(_centres(clear, xs, ys), box(*clear), region, grid.floor.groove_depth),)


def lines_on_face(visible: BaseGeometry, grid: Grid) -> tuple[Mark, ...]:
    """The space lines on any visible face: those of the lattice through (0, 0) that cross it."""
    strips = lattice_strips(visible.bounds, grid)
    if not len(strips):
        return ()
    return marks_of(polygonal(shapely.union_all(strips).intersection(visible)), visible, grid)


def marks_of(region: BaseGeometry, visible: BaseGeometry, grid: Grid) -> tuple[Mark, ...]:
    """The lattice's lines with a groove region that is clipped already; none if it is empty."""
    if region.is_empty:
        return ()
    bounds = visible.bounds
    centres = _centres(bounds, *_lattice(bounds, grid))
    return (Mark(centres, visible, polygonal(region), grid.floor.groove_depth),)


def lattice_strips(bounds: Bounds, grid: Grid) -> npt.NDArray[np.object_]:
    """The grooves of the lattice's lines inside some bounds, one rectangle each."""
    return _strips(bounds, *_lattice(bounds, grid), grid)


def _lattice(bounds: Bounds, grid: Grid) -> tuple[list[float], list[float]]:
    west, south, east, north = bounds
    return _between(west, east, grid.pitch), _between(south, north, grid.pitch)


def _strips(bounds: Bounds, xs: list[float], ys: list[float], grid: Grid) -> npt.NDArray[np.object_]:
    west, south, east, north = bounds
    half = grid.floor.groove_width / 2
    strips = [box(x - half, south, x + half, north) for x in xs] + [box(west, y - half, east, y + half) for y in ys]
    return np.array(strips, dtype=object)


def _centres(bounds: Bounds, xs: list[float], ys: list[float]) -> tuple[Segment, ...]:
    west, south, east, north = bounds
    return (*(((x, south), (x, north)) for x in xs), *(((west, y), (east, y)) for y in ys))


def _between(low: float, high: float, pitch: float) -> list[float]:
    """Lattice lines strictly inside, at least a hundredth of a pitch from either end."""
    first, last = math.ceil(low / pitch + 0.01), math.floor(high / pitch - 0.01)
    return [n * pitch for n in range(first, last + 1)]
