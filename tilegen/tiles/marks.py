"""Marks on the floor: the lines between spaces, clipped to the face that stays visible."""

from __future__ import annotations

import math

import shapely
from shapely.geometry import LineString, MultiLineString, box
from shapely.geometry.base import BaseGeometry

from tilegen.grid import Grid
from tilegen.tiles.plate import Mark, polygons_of

Bounds = tuple[float, float, float, float]


def lines_in_box(clear: Bounds, xs: list[float], ys: list[float], grid: Grid) -> tuple[Mark, ...]:
    """The space lines inside a clear rectangle (west, south, east, north): the quick way for a plain tile."""
    west, south, east, north = clear
    half = grid.floor.groove_width / 2
    lines = [LineString([(x, south), (x, north)]) for x in xs] + [LineString([(west, y), (east, y)]) for y in ys]
    if not lines:
        return ()
    strips = [box(x - half, south, x + half, north) for x in xs] + [box(west, y - half, east, y + half) for y in ys]
    region = polygons_of(shapely.union_all(strips))
    line = MultiLineString(lines) if len(lines) > 1 else lines[0]
    return (Mark(line, region, grid.floor.groove_depth),)


def lines_on_face(visible: BaseGeometry, grid: Grid) -> tuple[Mark, ...]:
    """The space lines on any visible face: those of the lattice through (0, 0) that cross it."""
    west, south, east, north = visible.bounds
    xs = _between(west, east, grid.pitch)
    ys = _between(south, north, grid.pitch)
    if not xs and not ys:
        return ()
    half = grid.floor.groove_width / 2
    strips = [box(x - half, south, x + half, north) for x in xs] + [box(west, y - half, east, y + half) for y in ys]
    lines = [LineString([(x, south), (x, north)]) for x in xs] + [LineString([(west, y), (east, y)]) for y in ys]
    region = polygons_of(shapely.union_all(strips).intersection(visible))
    line = lines_of(MultiLineString(lines).intersection(visible))
    if region.is_empty or line.is_empty:
        return ()
    return (Mark(line, region, grid.floor.groove_depth),)


def _between(low: float, high: float, pitch: float) -> list[float]:
    """Lattice lines strictly inside, at least a hundredth of a pitch from either end."""
    first, last = math.ceil(low / pitch + 0.01), math.floor(high / pitch - 0.01)
    return [n * pitch for n in range(first, last + 1)]


def lines_of(geometry: BaseGeometry) -> BaseGeometry:
    """The lines of a geometry, points dropped."""
    parts = [g for g in getattr(geometry, "geoms", [geometry]) if isinstance(g, LineString) and g.length > 0]
    return parts[0] if len(parts) == 1 else MultiLineString(parts)
