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
    strips = line_strips(visible.bounds, grid)
    if strips is None:
        return ()
    region = polygons_of(strips.intersection(visible))
    line = lines_of(lattice_lines(visible.bounds, grid).intersection(visible))
    if region.is_empty or line.is_empty:
        return ()
    return (Mark(line, region, grid.floor.groove_depth),)


def line_strips(bounds: Bounds, grid: Grid) -> BaseGeometry | None:
    """The grooves of the lattice's lines inside some bounds, joined; None if there are none."""
    west, south, east, north = bounds
    half = grid.floor.groove_width / 2
    strips = [box(x - half, south, x + half, north) for x in _between(west, east, grid.pitch)]
    strips += [box(west, y - half, east, y + half) for y in _between(south, north, grid.pitch)]
    return shapely.union_all(strips) if strips else None


def lattice_lines(bounds: Bounds, grid: Grid) -> MultiLineString:
    """The lattice's lines inside some bounds."""
    west, south, east, north = bounds
    lines = [LineString([(x, south), (x, north)]) for x in _between(west, east, grid.pitch)]
    lines += [LineString([(west, y), (east, y)]) for y in _between(south, north, grid.pitch)]
    return MultiLineString(lines)


def _between(low: float, high: float, pitch: float) -> list[float]:
    """Lattice lines strictly inside, at least a hundredth of a pitch from either end."""
    first, last = math.ceil(low / pitch + 0.01), math.floor(high / pitch - 0.01)
    return [n * pitch for n in range(first, last + 1)]


def lines_of(geometry: BaseGeometry) -> BaseGeometry:
    """The lines of a geometry, points dropped."""
    parts = [g for g in getattr(geometry, "geoms", [geometry]) if isinstance(g, LineString) and g.length > 0]
    return parts[0] if len(parts) == 1 else MultiLineString(parts)
