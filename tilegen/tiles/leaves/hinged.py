"""A hinged leaf: it turns on a wire pin between a hole in the floor and one through the lintel."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError, KeyRef, Said
from tilegen.geometry import Point
from tilegen.model.grid import Grid
from tilegen.tiles.leaves.kind import (
    FLOOR_GAP_MM,
    LEAST_SKIN_MM,
    LINE_DEPTH_MM,
    RIM_MM,
    LeafKind,
    one,
    plank_lines,
    too_small,
)
from tilegen.tiles.plate import Mark, Opening, Plate
from tilegen.tiles.seats import flat_region

# What a pin's hole is wider than the pin: 0.3 to 0.4 (common practice, no source).
_PIN_PLAY_MM = 0.35
_PIN_DEPTH_MM, _LEAST_PIN_DEPTH_MM = 3.0, 1.0
_PIN_SKIN_MM = 1.2
# Between a pin's hole and a connector's pocket below it: a layer or two (common practice, no source).
_POCKET_SKIN_MM = 0.3
_ROUND = 16

_SLIDING = KeyRef("leaf", "sliding")


def hinge_thickness(grid: Grid) -> float:
    """Of a hinged leaf: at least the pin's hole with a skin on both sides, mm."""
    return max(grid.door.thickness, grid.door.pin + _PIN_PLAY_MM + 2 * LEAST_SKIN_MM)


def _check(opening: Opening, grid: Grid, _jamb: float) -> None:
    if not opening.level or opening.height >= grid.wall_height:
        raise InputError(
            "a hinged leaf needs a flat strip of wall above it, which holds its pin",
            cure=Said("Use {}, or {} and an opening lower than the wall", _SLIDING, KeyRef("head", "flat")),
        )
    high, deep = 2 * (FLOOR_GAP_MM + RIM_MM), _LEAST_PIN_DEPTH_MM + _PIN_SKIN_MM
    if opening.height < high:
        cure = Said("Make the opening higher, or use {}", _SLIDING)
        raise too_small(opening.leaf, "an opening at least {} high", high, opening.height, cure)
    if grid.surface.raised:
        raise InputError(
            "a hinged leaf can't turn over a floor whose stones stand up",
            cure=Said("Use {}, or {}", _SLIDING, KeyRef("relief", "sunk", "surface")),
        )
    if grid.base_depth < deep:
        cure = Said("Make the base deeper, or use {}", _SLIDING)
        raise too_small(opening.leaf, "a base at least {} deep", deep, grid.base_depth, cure)
    if leaf_length(opening, grid) < 2 * hinge_thickness(grid):
        cure = Said("Make the opening wider, or use {}", _SLIDING)
        raise too_small(opening.leaf, "an opening at least {} wide", 3 * hinge_thickness(grid), opening.width, cure)


def _marks(plate: Plate, wall: Plate, opening: Opening, grid: Grid) -> Iterator[Mark]:
    """A hole for the pin: through the lintel, and in the base below, less deep over a pocket.

    Raises:
        InputError: a pocket leaves too little for a hole.
    """
    # The pin stands half a leaf from the jamb at the opening's start, in the middle of the wall.
    along = opening.centre - opening.width / 2 + hinge_thickness(grid) / 2 + grid.door.gap
    axis = wall.at(along, wall.thickness / 2)
    if plate is wall:
        yield _hole(axis, wall.height - opening.height, grid)
    elif plate.role == "base" and plate.top == wall.bottom and plate.foot.covers(ShapelyPoint(axis)):
        hole = _hole(axis, min(_floor_hole(grid), plate.height - _PIN_SKIN_MM), grid)
        over = plate.height - pocket_top(plate, hole.region)
        if over < _LEAST_PIN_DEPTH_MM + _POCKET_SKIN_MM:
            raise InputError(
                f"a hinged leaf has a hole for its pin in the base, and here a pocket for "
                f"{grid.connectors.kind} is in the way",
                cure=Said("Use {}, a deeper base, or other connectors", _SLIDING),
            )
        yield replace(hole, depth=min(hole.depth, over - _POCKET_SKIN_MM))


def _floor_hole(grid: Grid) -> float:
    """How deep the hole in the floor is where nothing is in its way, mm."""
    return min(_PIN_DEPTH_MM, grid.base_depth - _PIN_SKIN_MM)


def _wire(grid: Grid) -> float:
    """From the floor hole's bottom, or from the table through a base of sheet, to the top of the wall."""
    return grid.wall_height + (grid.base_depth if grid.set.mixed else _floor_hole(grid))


def pocket_top(base: Plate, hole: BaseGeometry) -> float:
    """How high the pockets reach where a pin's hole stands over them, mm from the underside."""
    tops = [0.0]
    for mark in base.marks:
        if mark.on == "under" and mark.region.intersects(hole):
            tops.append(mark.depth)
        elif mark.on == "rim" and mark.edge and mark.depth > 0:
            shared = flat_region(mark).intersection(hole)
            if not shared.is_empty:
                along = [LineString(mark.edge).project(ShapelyPoint(p)) for p in shapely.get_coordinates(shared)]
                over = mark.region.intersection(box(min(along), 0.0, max(along), base.height))
                tops += [] if over.is_empty else [over.bounds[3]]
    return max(tops)


def _hole(centre: Point, depth: float, grid: Grid) -> Mark:
    region = round_hole(centre, grid.door.pin + _PIN_PLAY_MM)
    return Mark((), region, region, depth)


def round_hole(centre: Point, diameter: float) -> Polygon:
    """A regular 16-gon round a circle, so that a rod of that diameter goes through; turned alike in every quarter."""
    radius = diameter / 2 / math.cos(math.pi / _ROUND)
    first = [
        (radius * math.cos(math.pi * (2 * i + 1) / _ROUND), radius * math.sin(math.pi * (2 * i + 1) / _ROUND))
        for i in range(_ROUND // 4)
    ]
    ring = first + [(-y, x) for x, y in first] + [(-x, -y) for x, y in first] + [(y, -x) for x, y in first]
    return Polygon([(centre[0] + x, centre[1] + y) for x, y in ring])


def leaf_length(opening: Opening, grid: Grid) -> float:
    """Of a hinged leaf from its pin to its free edge, so that its far corners swing clear of the other jamb.

    The corner turns on a circle of radius sqrt(L^2 + (t/2)^2), which must stay within o - t/2 - c (derived).
    """
    half, clearance = hinge_thickness(grid) / 2, grid.door.gap
    room = opening.width - half - clearance
    swing = room**2 - half**2
    return min(room - clearance, math.sqrt(swing) - clearance / 4) if swing > 0 else 0.0


def _solid(opening: Opening, grid: Grid) -> tuple[Polygon, float, tuple[Mark, ...]]:
    """Upright on the plan, its pin at (0, 0), one end round; lines on both faces where it has planks."""
    half, length = hinge_thickness(grid) / 2, leaf_length(opening, grid)
    height = opening.height - 2 * FLOOR_GAP_MM
    knuckle = ShapelyPoint(0.0, 0.0).buffer(half, quad_segs=6)
    hole = round_hole((0.0, 0.0), grid.door.pin + _PIN_PLAY_MM)
    foot = one(shapely.union_all([box(0.0, -half, length, half), knuckle]).difference(hole))
    if opening.style != "planks":
        return foot, height, ()
    _, lines = plank_lines(length, height)
    depth = min(LINE_DEPTH_MM, (half * 2 - grid.door.pin - _PIN_PLAY_MM) / 4)
    faces = (((length, -half), (0.0, -half)), ((0.0, half), (length, half)))
    return foot, height, tuple(Mark((), lines, lines, depth, "rim", edge) for edge in faces)


KIND = LeafKind(
    solid=_solid,
    least_wall=hinge_thickness,
    check=_check,
    # It stands in the way with its thickness.
    room=lambda grid: hinge_thickness(grid) + 2 * grid.door.gap,
    marks=_marks,
    cut=lambda grid: ("pin", (grid.door.pin, hinge_thickness(grid), grid.door.gap)),
    wire=_wire,
)
