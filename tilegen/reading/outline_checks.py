"""What an outline, its holes and its walls must be, told with the place of the fault."""

from __future__ import annotations

import math
from collections.abc import Sequence

from shapely.geometry import Polygon
from shapely.validation import explain_validity

from tilegen.errors import InputError
from tilegen.geometry import Point
from tilegen.grid import Grid
from tilegen.reading.rings import at

OUTLINE = "[tile] outline"
MOST_SPACES = 40.0
MOST_CORNERS = 2000
_LEAST_MM = 0.01


def check_outline(points: tuple[Point, ...], grid: Grid) -> None:
    """Refuse an outline that no tile can be cut along.

    points: corners in mm.

    Raises:
        InputError: with the coordinates of the fault.
    """
    _check_corners(points)
    outline = Polygon(points)
    if not outline.is_valid:
        raise InputError(
            f"an outline that crosses itself ({explain_validity(outline)} mm)",
            expected="a simple outline",
            place=OUTLINE,
        )
    west, south, east, north = outline.bounds
    if max(east - west, north - south) > MOST_SPACES * grid.pitch:
        raise InputError(
            f"a very large outline: {east - west:.0f} x {north - south:.0f} mm, up to {at((east, north))}",
            expected=f"at most {MOST_SPACES:g} spaces ({MOST_SPACES * grid.pitch:g} mm) across",
            cure=f"the numbers of a point count spaces: divide lengths in mm by {grid.pitch:g}",
            place=OUTLINE,
        )
    if outline.area < 1.0:
        raise InputError(
            f"an outline of {outline.area:.3g} mm2 at {at(points[0])}", expected="at least 1 mm2", place=OUTLINE
        )


def _check_corners(points: tuple[Point, ...]) -> None:
    """How many there are, and that each is apart from the next."""
    if not 3 <= len(points) <= MOST_CORNERS:
        where = f", at {at(points[0])}" if points else ""
        raise InputError(f"{len(points)} corners{where}", expected=f"3 to {MOST_CORNERS}", place=OUTLINE)
    for number, (here, following) in enumerate(zip(points, points[1:] + points[:1], strict=True), 1):
        apart = math.dist(here, following)
        if apart < _LEAST_MM:
            raise InputError(
                f"corners {number} and {number % len(points) + 1} at {at(here)} {apart:.3f} mm apart",
                expected=f"corners at least {_LEAST_MM:g} mm apart",
                place=OUTLINE,
            )


def check_holes(points: tuple[Point, ...], holes: tuple[tuple[Point, ...], ...]) -> None:
    """Refuse holes that are none.

    Raises:
        InputError: with the coordinates of the fault.
    """
    outer = Polygon(points)
    for number, hole in enumerate(holes, 1):
        _check_hole(hole, outer, f"[tile] holes {number}")
    whole = Polygon(points, holes)
    if holes and not whole.is_valid:
        raise InputError(
            f"holes that meet the outline or one another ({explain_validity(whole)} mm)",
            expected="holes apart",
            place="[tile] holes",
        )


def _check_hole(hole: tuple[Point, ...], outer: Polygon, place: str) -> None:
    """One hole by itself: a simple ring inside the outline."""
    if not 3 <= len(hole) <= MOST_CORNERS:
        raise InputError(f"{len(hole)} corners", expected=f"3 to {MOST_CORNERS}", place=place)
    ring = Polygon(hole)
    if not ring.is_valid or ring.area == 0:
        raise InputError(
            f"a hole that crosses itself or has no area ({explain_validity(ring)} mm, from {at(hole[0])})",
            expected="a simple ring",
            place=place,
        )
    outside = ring.difference(outer)
    if not outside.is_empty:
        raise InputError(
            f"a hole outside of the outline, at {at(outside.representative_point().coords[0])}",
            expected="holes inside",
            place=place,
        )


def walled_edges(walls: Sequence[int | str], edges: int) -> list[int]:
    """Numbers of the edges with a wall, from numbers and runs such as "3-7".

    Raises:
        InputError: an edge that is not there, or the side of a square tile.
    """
    found: set[int] = set()
    for wall in walls:
        first, dash, last = str(wall).partition("-")
        ends = (first, last if dash else first)
        numbers = [int(end) if end.isdecimal() and len(end) < 6 else 0 for end in ends]
        if not 1 <= numbers[0] <= numbers[1] <= edges:
            raise InputError(f"the wall {wall}", expected=f"an edge from 1 to {edges}", place="[tile] walls")
        found.update(range(numbers[0], numbers[1] + 1))
    return sorted(found)
