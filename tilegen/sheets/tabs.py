"""Tabs: short gaps in a cut that hold a part in its sheet until it is broken out."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely
from shapely import STRtree
from shapely.geometry import LinearRing, Polygon

from tilegen.geometry import Points, signed_area
from tilegen.model.machines import PathRules
from tilegen.sheets.drawing import SheetDrawing, Stroke

# What two notches that just find room for each other may miss.
_SKIN_MM = 1e-6


def with_tabs(drawing: SheetDrawing, rules: PathRules) -> SheetDrawing:
    """The drawing with tabs in its outlines; holes fall out as ever.

    Each tab sits in a notch, so that what is left of it when it breaks stays below the edge. Outlines on which no
    tab finds room stay as they are.
    """
    strokes: list[Stroke] = []
    holes = STRtree([LinearRing(s.points) for s in drawing.strokes if s.layer == "CUT_INNER" and s.closed])
    for stroke in drawing.strokes:
        if stroke.layer == "CUT_OUTER" and stroke.closed and (pieces := list(_pieces(stroke.points, rules, holes))):
            strokes += [replace(stroke, points=piece, arcs=(), opened=True) for piece in pieces]
        else:
            strokes.append(stroke)
    said = f"{rules.tab_width:g} mm wide in notches {rules.tab_recess:g} mm deep: cut or break them by hand"
    return replace(drawing, strokes=tuple(strokes), remarks=(*drawing.remarks, ("tabs", said)))


def tab_places(ring: Points, rules: PathRules, holes: STRtree | None = None) -> list[float]:
    """Where tabs sit along a ring, mm from its first corner: max(2, ceil(perimeter / tab_every)), as even as can be.

    None nearer to a corner than tab_corner (common practice, no source), measured from the end of its notch; none
    where the part is too narrow for a notch from either side with the least web between them, or a hole is that near.
    """
    ends = np.vstack([ring, ring[:1]])
    has_room = _Room(ring, rules, holes)
    steps = np.hypot(*np.diff(ends, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    total = float(along[-1])
    keep = rules.tab_corner + max(rules.tab_notch, rules.tab_width) / 2
    rooms = [(a + keep, b - keep) for a, b in itertools.pairwise(along) if b - a >= 2 * keep]
    wanted = max(2, math.ceil(total / rules.tab_every - 1e-9))
    if not rooms:
        return []
    found: list[float] = []
    gap = 2 * keep
    for number in range(wanted):
        ideal = total * (number + 0.5) / wanted
        options = [min(max(ideal, low), high) for low, high in rooms]
        options += [edge for room in rooms for edge in (*room, math.fsum(room) / 2)]
        free = [p for p in options if all(min(abs(p - q), total - abs(p - q)) >= gap for q in found)]
        nearest = sorted(free, key=lambda p: (round(min(abs(p - ideal), total - abs(p - ideal)), 6), p))
        found += itertools.islice(filter(has_room, nearest), 1)
    return sorted(found)


class _Room:
    """Whether the part behind a place on its outline is wide enough for a notch."""

    def __init__(self, ring: Points, rules: PathRules, holes: STRtree | None) -> None:
        self.ends = np.vstack([ring, ring[:1]])
        self.along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.ends, axis=0).T))])
        self.half, self.inward = (
            max(rules.tab_notch, rules.tab_width) / 2 + rules.least_web,
            math.copysign(1.0, signed_area(ring)),
        )
        self.deep = 2 * rules.tab_recess + rules.least_web if rules.tab_recess else 0.0
        self.part, self.holes = Polygon(ring), holes
        shapely.prepare(self.part)

    def __call__(self, place: float) -> bool:
        if not self.deep:
            return True
        middle, way, aside = _spot(self.ends, self.along, place, self.inward)
        near, far = aside * _SKIN_MM, aside * (self.deep - _SKIN_MM)
        first, last = middle - way * self.half, middle + way * self.half
        behind = Polygon([first + near, last + near, last + far, first + far])
        taken = self.holes is not None and len(self.holes.query(behind, predicate="intersects"))
        return self.part.covers(behind) and not taken


def _pieces(ring: Points, rules: PathRules, holes: STRtree | None = None) -> Iterator[Points]:
    """A ring as the lines between its tabs, each ending in the two half notches of its tabs."""
    places = tab_places(ring, rules, holes)
    if not places:
        return
    ends = np.vstack([ring, ring[:1]])
    steps = np.diff(ends, axis=0)
    lengths = np.hypot(*steps.T)
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    total = float(along[-1])
    inward = math.copysign(1.0, signed_area(ring))
    for place, following in zip(places, [*places[1:], places[0] + total], strict=True):
        start = _half_notch(ends, along, place, rules, inward, ahead=True)
        end = _half_notch(ends, along, following % total, rules, inward, ahead=False)
        between = [
            ring[i % len(ring)]
            for i in range(2 * len(ring))
            if place < along[i % len(ring)] + total * (i // len(ring)) < following
        ]
        yield np.vstack([start, np.array(between).reshape(-1, 2), end])


def _half_notch(ends: Points, along: Points, place: float, rules: PathRules, inward: float, *, ahead: bool) -> Points:
    """From the tab's end of the notch to the outline (ahead), or the other way."""
    middle, way, aside = _spot(ends, along, place, inward)
    aside = aside * rules.tab_recess
    sign = 1.0 if ahead else -1.0
    tab, notch = sign * rules.tab_width / 2, sign * max(rules.tab_notch, rules.tab_width) / 2
    points = np.array([middle + way * tab + aside, middle + way * notch + aside, middle + way * notch])
    if not rules.tab_recess:
        points = points[:1]
    return points if ahead else points[::-1]


def _spot(ends: Points, along: Points, place: float, inward: float) -> tuple[Points, Points, Points]:
    """A place on a ring: the point, the unit vector along its edge and that into the part."""
    edge = int(np.searchsorted(along, place, side="right")) - 1
    way = (ends[edge + 1] - ends[edge]) / (along[edge + 1] - along[edge])
    return ends[edge] + way * (place - along[edge]), way, inward * np.array((-way[1], way[0]))
