"""What the lines of a sheet become for one tool: tabs, lead-ins, perforations, common lines, a trailing blade."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

import numpy as np
import shapely
from shapely import STRtree
from shapely.geometry import LinearRing, Polygon
from shapely.ops import substring

from tilegen.geometry import SNAP_MM, Points, Segment, chord_angle, signed_area, turns_of
from tilegen.model.machines import PathRules
from tilegen.sheets.drawing import CUTS, LAYERS, ArcSpan, SheetDrawing, Stroke
from tilegen.sheets.flat import joined

# What two notches that just find room for each other may miss.
_SKIN_MM = 1e-6
# Of the quarter of a circle: chords as fine as anyone sees on an arc of a millimetre.
_STEPS = 6
# A corner turns by more than this.
_TURN = math.radians(20)
# How far the chords of a swivel may be from its arc.
_CHORD_MM = 0.01


# Tabs: short gaps in a cut that hold a part in its sheet until it is broken out


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
    walk = _Walk(ring)
    total, part = walk.total, Polygon(ring)
    shapely.prepare(part)
    keep = rules.tab_corner + max(rules.tab_notch, rules.tab_width) / 2
    rooms = [(a + keep, b - keep) for a, b in itertools.pairwise(walk.along) if b - a >= 2 * keep]
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
        found += itertools.islice((p for p in nearest if _has_room(walk, part, p, rules, holes)), 1)
    return sorted(found)


class _Walk:
    """A ring by the distance along it, mm from its first corner."""

    def __init__(self, ring: Points) -> None:
        self.corners = np.vstack([ring, ring[:1]])
        self.along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(self.corners, axis=0).T))])
        self.total = float(self.along[-1])
        self.inward = math.copysign(1.0, signed_area(ring))

    def at(self, place: float) -> tuple[Points, Points, Points]:
        """A place on the ring: the point, the unit vector along its edge and that into the part."""
        edge = int(np.searchsorted(self.along, place, side="right")) - 1
        start, end = self.corners[edge], self.corners[edge + 1]
        way = (end - start) / (self.along[edge + 1] - self.along[edge])
        return start + way * (place - self.along[edge]), way, self.inward * np.array((-way[1], way[0]))

    def between(self, start: float, end: float) -> Points:
        """The corners between two places, (n, 2); the second may lie up to once round further on."""
        twice = np.concatenate([self.along[:-1], self.along[:-1] + self.total])
        found: Points = np.vstack([self.corners[:-1]] * 2)[(start < twice) & (twice < end)]
        return found


def _has_room(walk: _Walk, part: Polygon, place: float, rules: PathRules, holes: STRtree | None) -> bool:
    """Whether a part is wide enough for a notch behind a place on its outline."""
    if not rules.tab_recess:
        return True
    middle, way, aside = walk.at(place)
    half, deep = max(rules.tab_notch, rules.tab_width) / 2 + rules.least_web, 2 * rules.tab_recess + rules.least_web
    near, far = aside * _SKIN_MM, aside * (deep - _SKIN_MM)
    first, last = middle - way * half, middle + way * half
    behind = Polygon([first + near, last + near, last + far, first + far])
    taken = holes is not None and len(holes.query(behind, predicate="intersects"))
    return part.covers(behind) and not taken


def _pieces(ring: Points, rules: PathRules, holes: STRtree | None = None) -> Iterator[Points]:
    """A ring as the lines between its tabs, each ending in the two half notches of its tabs."""
    places, walk = tab_places(ring, rules, holes), _Walk(ring)
    for place, following in zip(places, [*places[1:], *(p + walk.total for p in places[:1])], strict=True):
        start = _half_notch(walk, place, rules, ahead=True)
        end = _half_notch(walk, following % walk.total, rules, ahead=False)
        yield np.vstack([start, walk.between(place, following), end])


def _half_notch(walk: _Walk, place: float, rules: PathRules, *, ahead: bool) -> Points:
    """From the tab's end of the notch to the outline (ahead), or the other way."""
    middle, way, aside = walk.at(place)
    sign = 1.0 if ahead else -1.0
    tab, notch = sign * rules.tab_width / 2, sign * max(rules.tab_notch, rules.tab_width) / 2
    points = np.array([middle + way * tab, middle + way * notch, middle + way * notch])
    points[:2] += aside * rules.tab_recess
    if not rules.tab_recess:
        points = points[:1]
    return points if ahead else points[::-1]


# Lead-ins: short arcs in the waste on which a beam reaches an outline, so that it pierces beside the part


def with_leads(drawing: SheetDrawing, rules: PathRules) -> SheetDrawing:
    """The drawing with a lead-in of `lead_in` mm before each outline that has room for one.

    A quarter of a circle in the waste that runs into the first edge without a bend: at a corner of an outline, where no
    neighbour is touched; in the middle of the longest edge of a hole (1 to 2 mm, common practice, no source). After the
    last point the cut goes on by `overcut`.
    """
    lines = np.array([s.line for s in drawing.strokes if s.layer in CUTS], dtype=object)
    tree = shapely.STRtree(lines)
    away = drawing.kerf.widest + rules.least_web
    strokes: list[Stroke] = []
    leads: list[shapely.LineString] = []
    without, number = 0, 0
    for stroke in drawing.strokes:
        if stroke.layer not in CUTS:
            strokes.append(stroke)
            continue
        own, number = number, number + 1
        free = partial(_is_free, own=own, tree=tree, leads=leads, away=away)
        made = _led(stroke, rules, free) if stroke.closed else None
        if made is None:
            without += 1
        else:
            leads.append(shapely.LineString(made.points[: _STEPS + 1]))
        strokes.append(made or stroke)
    said = f"{rules.lead_in:g} mm on a quarter of a circle in the waste" + (f", none on {without}" if without else "")
    return replace(drawing, strokes=tuple(strokes), remarks=(*drawing.remarks, ("lead-ins", said)))


def lead_arc(corner: Points, way: Points, waste: float, length: float) -> Points:
    """(n, 2) points of a quarter circle of so many mm that ends in a corner along `way`, the corner left out.

    way: a unit vector. waste: 1 where the waste lies on the left of the way, -1 on its right.
    """
    radius = length * 2 / math.pi
    aside = waste * np.array((-way[1], way[0]))
    angles = np.linspace(0.0, math.pi / 2, _STEPS + 1)[:-1, None]
    found: Points = corner + radius * (aside - aside * np.sin(angles) - way * np.cos(angles))
    return found


def _led(stroke: Stroke, rules: PathRules, is_free: Callable[[Points], bool]) -> Stroke | None:
    """The stroke as a line that begins with a lead-in; None where none finds room."""
    waste = -math.copysign(1.0, signed_area(stroke.points)) * (1 if stroke.layer == "CUT_OUTER" else -1)
    for ring in _begun(stroke):
        way = ring.points[1] - ring.points[0]
        length = float(np.hypot(*way))
        way = way / length
        lead = lead_arc(ring.points[0], way, waste, rules.lead_in)
        if not is_free(lead):
            continue
        points = [lead, ring.points, ring.points[:1]]
        if rules.overcut and not any(arc.first == 0 for arc in ring.arcs):
            points.append(ring.points[:1] + way * min(rules.overcut, length))
        arcs = tuple(ArcSpan(a.first + len(lead), a.last + len(lead)) for a in ring.arcs)
        return replace(ring, points=np.vstack(points), arcs=arcs, opened=True)
    return None


def _begun(stroke: Stroke) -> Iterator[Stroke]:
    """The ring begun where a lead-in may join it, the likeliest place first."""
    size = len(stroke.points)
    inside = {i % size for arc in stroke.arcs for i in range(arc.first + 1, arc.last)}
    if stroke.layer == "CUT_INNER" and not stroke.arcs:
        # In the middle of its longest edge: a hole's corners leave no waste to come from.
        lengths = np.hypot(*(np.roll(stroke.points, -1, axis=0) - stroke.points).T)
        for first in np.argsort(-np.round(lengths, 6), kind="stable").tolist():
            ring = stroke.from_corner(first)
            middle = (ring.points[0] + ring.points[1 % size]) / 2
            yield replace(ring, points=np.vstack([middle[None], ring.points[1:], ring.points[:1]]))
        return
    turns = turns_of(stroke.points) * math.copysign(1.0, signed_area(stroke.points))
    corners = [i for i in range(size) if i not in inside and (stroke.layer == "CUT_INNER" or turns[i] > _TURN)]
    for corner in corners:
        yield stroke.from_corner(corner)


def _is_free(lead: Points, own: int, tree: shapely.STRtree, leads: Sequence[shapely.LineString], away: float) -> bool:
    """Whether a lead-in keeps off all other cuts and lead-ins, and meets its own cut at its end only."""
    line = shapely.LineString(lead)
    # The latest are the likeliest neighbours.
    if any(line.dwithin(other, away) for other in reversed(leads)):
        return False
    near: Sequence[int] = tree.query(line, predicate="dwithin", distance=away).tolist()
    return not any(number != own for number in near) and not shapely.intersects(line, tree.geometries[own])


# Perforations: dashes that are cut through, for tools that can't press or cut in part


def perforated(drawing: SheetDrawing, rules: PathRules) -> SheetDrawing:
    """The drawing with the strokes of the layers in `perforate` as dashes."""
    strokes: list[Stroke] = []
    for stroke in drawing.strokes:
        if stroke.layer in rules.perforate:
            strokes += [
                replace(stroke, points=np.array(dash)) for dash in dashes(shapely.LineString(stroke.points), rules)
            ]
        else:
            strokes.append(stroke)
    said = f"{' and '.join(rules.perforate)}: {rules.perforate_on:g} mm cut through, {rules.perforate_off:g} mm left"
    return replace(drawing, strokes=tuple(strokes), remarks=(*drawing.remarks, ("perforated", said)))


def dashes(line: shapely.LineString, rules: PathRules) -> Iterator[list[tuple[float, float]]]:
    """The dashes along a line, as many as fit, evenly from `perforate_edge` after its start to as much before its end.

    A line too short for that keeps one dash in its middle third, so that it tears at neither end.
    """
    on, off = rules.perforate_on, rules.perforate_off
    room = line.length - 2 * rules.perforate_edge
    number = int((room + off) / (on + off) + 1e-9)
    if number < 1:
        yield _piece(line, line.length / 3, line.length * 2 / 3)
        return
    # What is left over widens the gaps.
    gap = (room - number * on) / (number - 1) if number > 1 else 0.0
    start = rules.perforate_edge if number > 1 else (line.length - on) / 2
    for place in range(number):
        at = start + place * (on + gap)
        yield _piece(line, at, at + on)


def _piece(line: shapely.LineString, start: float, end: float) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in substring(line, start, end).coords]


# Common lines: neighbours that share a cut, so that it is made once


def with_common_lines(drawing: SheetDrawing) -> SheetDrawing:
    """The drawing with outlines that touch taken apart into straight lines, none of them twice.

    The outlines' own paths must touch, that is, the parts must lie one kerf apart. Outlines that touch no other stay
    closed; arcs of those that do become segments.
    """
    outer = [n for n, s in enumerate(drawing.strokes) if s.layer == "CUT_OUTER" and s.closed]
    rings = np.array([shapely.LinearRing(drawing.strokes[n].points) for n in outer], dtype=object)
    first, second = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=SNAP_MM)
    touching = {outer[i] for i, j in zip(first.tolist(), second.tolist(), strict=True) if i != j}
    rounded = _together([drawing.strokes[number].points for number in sorted(touching)])
    segments: list[Segment] = []
    for points in rounded:
        segments += pairwise([(float(x), float(y)) for x, y in np.vstack([points, points[:1]])])
    once = dict.fromkeys((min(a, b), max(a, b)) for a, b in segments if a != b)
    lines = [Stroke("CUT_OUTER", np.array(line), opened=True) for line in joined(list(once))]
    kept = [s for n, s in enumerate(drawing.strokes) if n not in touching and LAYERS[s.layer].made]
    said = ("common lines", f"{len(touching)} outlines share their cuts with neighbours")
    strokes = (*kept, *lines, *drawing.guides)
    return replace(drawing, strokes=strokes, remarks=(*drawing.remarks, said))


def _together(rings: list[Points]) -> list[Points]:
    """Rings whose coordinates, where they differ by rounding alone, are the same, so that shared lines are one."""
    if not rings:
        return []
    points = np.vstack(rings)
    for axis in (0, 1):
        order = np.argsort(points[:, axis], kind="stable")
        values = points[order, axis]
        groups = np.concatenate([[0], np.cumsum(np.diff(values) > SNAP_MM)])
        points[order, axis] = values[np.searchsorted(groups, groups)]
    return np.split(points, np.cumsum([len(ring) for ring in rings])[:-1])


# A trailing blade: where its pivot must go so that the tip cuts the outline


def for_a_blade(drawing: SheetDrawing, rules: PathRules) -> SheetDrawing:
    """The drawing with its cuts as paths of the pivot; arcs become segments, closed cuts lines that meet themselves."""
    strokes = tuple(
        replace(s, points=pivot_path(_started(s), rules, closed=s.closed), arcs=(), opened=True)
        if s.layer in CUTS
        else s
        for s in drawing.strokes
    )
    said = f"pivot of a blade that trails {rules.blade_offset:g} mm, overcut {rules.overcut:g} mm"
    return replace(drawing, strokes=strokes, remarks=(*drawing.remarks, ("blade path", said)))


def _started(stroke: Stroke) -> Points:
    """A closed stroke from where its longest edge begins: there the overcut has room."""
    if not stroke.closed:
        return stroke.points
    lengths = np.hypot(*(np.roll(stroke.points, -1, axis=0) - stroke.points).T)
    return np.roll(stroke.points, -int(np.argmax(np.round(lengths, 6))), axis=0)


def pivot_path(points: Points, rules: PathRules, *, closed: bool) -> Points:
    """The way of the pivot for a cut along (n, 2) points in mm.

    At a turn of swivel_from degrees or more the pivot runs past the corner by the blade's offset, swivels on an arc
    of that radius about the corner until the blade points along the next edge, and goes on (derived). A
    smaller turn is left to the blade. A closed cut starts at its first corner, with the blade along
    the first edge: prick it there, or lead it in waste; it ends past that corner by the overcut.
    """
    offset = rules.blade_offset
    corners = np.vstack([points, points[:2]]) if closed else points
    ways = np.diff(corners, axis=0)
    headings = ways / np.hypot(*ways.T)[:, None]
    path: list[Points] = [corners[:1] + headings[0] * offset]
    for corner, came, goes in zip(corners[1:-1], headings[:-1], headings[1:], strict=True):
        path.append(_swivel(corner, came, goes, offset, math.radians(rules.swivel_from)))
    if closed:
        # The last corner was the first one again: from here over the start by the overcut.
        end = path[-1][-1:] + headings[-1] * rules.overcut
        path += [end] if rules.overcut else []
    else:
        path.append(corners[-1:] + headings[-1] * offset)
    return np.vstack(path)


def _swivel(corner: Points, came: Points, goes: Points, offset: float, least: float) -> Points:
    turn = math.atan2(came[0] * goes[1] - came[1] * goes[0], float(came @ goes))
    if abs(turn) < least:
        return corner[None, :] + goes[None, :] * offset
    number = max(1, math.ceil(abs(turn) / chord_angle(offset, _CHORD_MM)))
    angles = math.atan2(came[1], came[0]) + turn * np.arange(number + 1) / number
    arc: Points = corner + offset * np.stack([np.cos(angles), np.sin(angles)], axis=1)
    return arc
