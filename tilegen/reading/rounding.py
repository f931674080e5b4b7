"""Rounded corners of an outline: arcs as chords, with the numbers that its edges had before."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tilegen.errors import InputError
from tilegen.geometry import Point, chord_angle, turn_right, unit_vector
from tilegen.reading.rings import at

_PLACE = "[tile] round"
_LEAST_MM = 0.01


@dataclass(frozen=True)
class Rounded:
    """points: corners in mm, from the middle of the arc at corner 1; numbers: for each new edge that of the given one.

    straights: for each given edge, from 1, the number of its straight part (0: arcs take all of it) and the length in
    mm that the arc at its first point takes.
    """

    points: tuple[Point, ...]
    numbers: tuple[int, ...]
    straights: tuple[tuple[int, float], ...]


def radii_of(given: float | Sequence[tuple[int, float]], corners: int) -> list[float]:
    """The radius of each corner in mm, from one for all or from (corner number, radius) pairs; 0 keeps it sharp.

    Raises:
        InputError: a corner that is not there or comes twice, a radius under 0.
    """
    pairs = list(given) if isinstance(given, Sequence) else [(n, given) for n in range(1, corners + 1)]
    radii: dict[int, float] = {}
    for corner, radius in pairs:
        if not 1 <= corner <= corners or corner in radii:
            raise InputError(f"the corner {corner}", expected=f"each of 1 to {corners} at most once", place=_PLACE)
        if radius < 0:
            raise InputError(f"a radius of {radius:g} mm at corner {corner}", expected="0 or more", place=_PLACE)
        radii[corner] = radius
    return [radii.get(n, 0.0) for n in range(1, corners + 1)]


def rounded(points: Sequence[Point], radii: Sequence[float]) -> Rounded:
    """A simple outline with its corners rounded, convex and concave ones; half of each arc goes to either edge.

    An arc touches both edges r tan(turn / 2) from the corner and is cut into an even number of equal chords whose ends
    lie on it, no further from it than CHORD_ERROR_MM.

    Raises:
        InputError: arcs that do not fit on an edge; with its corners.
    """
    count = len(points)
    turns = [-turn_right(points[n - 1], points[n], points[(n + 1) % count]) for n in range(count)]
    taken = [r * math.tan(abs(turn) / 2) for r, turn in zip(radii, turns, strict=True)]
    _check_room(points, taken)
    arcs = [_arc(points[n - 1], points[n], radii[n], turns[n], taken[n]) for n in range(count)]
    made: list[Point] = []
    numbers: list[int] = []
    straights: list[tuple[int, float]] = []
    for n in range(count):
        here, there = arcs[n], arcs[(n + 1) % count]
        after, before = here[len(here) // 2 :], there[: len(there) // 2 + 1]
        touching = math.dist(after[-1], before[0]) < _LEAST_MM
        straights.append((0 if touching else len(made) + len(after), taken[n]))
        line = after[:-1] + before if touching else after + before
        made += line[:-1]
        numbers += [n + 1] * (len(line) - 1)
    return Rounded(tuple(made), tuple(numbers), tuple(straights))


def _check_room(points: Sequence[Point], taken: Sequence[float]) -> None:
    """Refuse arcs that meet on an edge. taken: what the arc at each corner takes of either edge, mm."""
    count = len(points)
    for n in range(count):
        first, second = points[n], points[(n + 1) % count]
        needed, length = taken[n] + taken[(n + 1) % count], math.dist(first, second)
        if needed > length + 1e-9:
            raise InputError(
                f"arcs that take {needed:.3f} mm of edge {n + 1}, {length:.3f} mm from {at(first)} to {at(second)}",
                expected="arcs that fit on the edge between them",
                cure="a smaller radius there",
                place=_PLACE,
            )


def _arc(before: Point, corner: Point, radius: float, turn: float, taken: float) -> list[Point]:
    """The points of the arc at a corner, an odd number; the corner alone where it stays sharp."""
    if taken < _LEAST_MM:
        return [corner]
    ux, uy = unit_vector(before, corner)
    half = max(1, math.ceil(abs(turn) / chord_angle(radius) / 2 - 1e-9))
    left = math.copysign(radius, turn)
    x, y = corner[0] - ux * taken, corner[1] - uy * taken
    angles = [turn * k / (2 * half) for k in range(2 * half + 1)]
    # From the touching point: radius times (sin along the edge, 1 - cos across it).
    along = [(radius * math.sin(abs(angle)), left * (1 - math.cos(angle))) for angle in angles]
    return [(x + ux * s - uy * c, y + uy * s + ux * c) for s, c in along]
