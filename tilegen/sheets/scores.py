"""What a knife or a laser scores on a plate's visible face: the centres of its marks' joints."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from shapely.geometry.base import BaseGeometry

from tilegen.geometry import SNAP_MM, Segment, lines_of
from tilegen.sheets.alike import joined
from tilegen.tiles.plate import Face, Mark, Plate


def scores_on(plate: Plate, face: Face, part: BaseGeometry | None = None) -> tuple[Segment, ...]:
    """The lines on one face, those in one straight line as one; part: the piece of the face that is cut."""
    return scores_of([mark for mark in plate.marks if mark.on == face], part)


def scores_of(marks: Sequence[Mark], part: BaseGeometry | None = None) -> tuple[Segment, ...]:
    """The lines of some marks, those in one straight line as one; part: the piece of the face that is cut."""
    found: list[Segment] = []
    for mark in marks:
        if mark.centres:
            for line in lines_of(mark.line if part is None else mark.line.intersection(part)):
                found += pairwise([(float(x), float(y)) for x, y, *_ in line.coords])
    return tuple((a, b) for a, b in joined(found) if math.dist(a, b) > SNAP_MM)


def moved(scores: tuple[Segment, ...], x: float) -> list[Segment]:
    """The lines, further along by x."""
    return [((a[0] + x, a[1]), (b[0] + x, b[1])) for a, b in scores]
