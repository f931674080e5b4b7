"""What a shape must be before it is made: files are checked where they are read, shapes from Python here."""

from __future__ import annotations

import math

from shapely import LinearRing

from tilegen.errors import InputError
from tilegen.geometry import Point
from tilegen.tiles.regionshape import RegionShape
from tilegen.tiles.shape import CellShape, OutlineShape, Shape


def check_shape(shape: Shape) -> None:
    """Refuse what has no inside.

    Raises:
        InputError: a side that is not longer than 0; an outline of fewer than three corners, one that crosses itself,
            or a number that none of its edges has.
    """
    if isinstance(shape, RegionShape):
        return
    if isinstance(shape, CellShape):
        for spaces in (*shape.widths, *shape.heights):
            if not 0 < spaces < math.inf:
                raise InputError(f"a side of {spaces:g} spaces", expected="more than 0", place="[tile] size")
        return
    _check_outline(shape)


def _check_outline(shape: OutlineShape) -> None:
    for ring, place in ((shape.points, "outline"), *((hole, "holes") for hole in shape.holes)):
        _check_ring(ring, f"[tile] {place}")
    edges = len(shape.points)
    for number in (*shape.walls, *(edge for edge, _ in shape.openings)):
        if not 1 <= number <= edges:
            raise InputError(f"edge {number}", expected=f"an edge from 1 to {edges}", place="[tile] walls")


def _check_ring(ring: tuple[Point, ...], place: str) -> None:
    if len(ring) < 3:
        raise InputError(f"{len(ring)} corners", expected="at least 3", place=place)
    if not all(math.isfinite(value) for point in ring for value in point):
        raise InputError("a coordinate that is not a number", expected="millimetres", place=place)
    if not LinearRing(ring).is_simple:
        raise InputError("a ring that crosses or touches itself", expected="one that does not", place=place)
