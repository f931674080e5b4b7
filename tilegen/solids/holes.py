"""Round holes in prints: polygons that the hole's circle fits inside, and the allowance for what printing closes."""

from __future__ import annotations

import math

from shapely.geometry import Polygon

from tilegen.geometry import CHORD_MM, Point, chord_angle


def corners_for(radius: float, error: float = CHORD_MM) -> int:
    """The corners a polygon needs to stay within `error` mm of a circle: n >= pi / acos(1 - error / r) (derived).

    >>> corners_for(3.1)
    28
    """
    if radius <= error:
        return 8
    return max(8, math.ceil(math.tau / chord_angle(radius, error) - 1e-9))


def inscribed_loss(diameter: float, corners: int) -> float:
    """What a polygon with its corners on the circle is short of the diameter, across its flats: d(1 - cos(pi/n)).

    >>> [round(inscribed_loss(6.2, n), 2) for n in (16, 32)]
    [0.12, 0.03]
    """
    return diameter * (1 - math.cos(math.pi / corners))


def hole(diameter: float, centre: Point = (0.0, 0.0), *, allowance: float = 0.0, error: float = CHORD_MM) -> Polygon:
    """A polygon round the circle of a hole: its flats touch the circle, so that a pin of that size goes in.

    diameter, allowance: mm; the allowance is on the diameter (`hole_allowance` of the printer).
    """
    radius = (diameter + allowance) / 2
    corners = corners_for(radius, error)
    outer = radius / math.cos(math.pi / corners)
    angles = (math.pi * (2 * k + 1) / corners for k in range(corners))
    return Polygon([(centre[0] + outer * math.cos(a), centre[1] + outer * math.sin(a)) for a in angles])
