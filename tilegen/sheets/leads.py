"""Lead-ins: short arcs in the waste on which a beam reaches an outline, so that it pierces beside the part."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import shapely

from tilegen.geometry import Points, signed_area, turns_of
from tilegen.model.machines import PathRules
from tilegen.sheets.drawing import CUTS, ArcSpan, SheetDrawing, Stroke

# Of the quarter of a circle: chords as fine as anyone sees on an arc of a millimetre.
_STEPS = 6
# A corner turns by more than this.
_TURN = math.radians(20)


def with_leads(drawing: SheetDrawing, rules: PathRules) -> SheetDrawing:
    """The drawing with a lead-in of `lead_in` mm before each outline that has room for one.

    A quarter of a circle in the waste that runs into the first edge without a bend: at a corner of an outline, where no
    neighbour is touched; in the middle of the longest edge of a hole (1 to 2 mm, common practice, no source). After the
    last point the cut goes on by `overcut`.
    """
    lines = np.array([_line(s) for s in drawing.strokes if s.layer in CUTS], dtype=object)
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
        if rules.overcut and not _in_arc(ring):
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


def _in_arc(ring: Stroke) -> bool:
    return any(arc.first == 0 for arc in ring.arcs)


def _line(stroke: Stroke) -> shapely.LineString:
    return shapely.LineString(np.vstack([stroke.points, stroke.points[:1]]) if stroke.closed else stroke.points)


def _is_free(lead: Points, own: int, tree: shapely.STRtree, leads: Sequence[shapely.LineString], away: float) -> bool:
    """Whether a lead-in keeps off all other cuts and lead-ins, and meets its own cut at its end only."""
    line = shapely.LineString(lead)
    # The latest are the likeliest neighbours.
    if any(line.dwithin(other, away) for other in reversed(leads)):
        return False
    near: Sequence[int] = tree.query(line, predicate="dwithin", distance=away).tolist()
    return not any(number != own for number in near) and not shapely.intersects(line, tree.geometries[own])
