"""A hot wire's path: one line from outside of the sheet through all its outlines and out again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely.geometry import LinearRing, LineString, Polygon

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM, Points
from tilegen.lengths import show_length, show_number
from tilegen.sheets.drawing import CUTS, SheetDrawing, Stroke

# How far outside of the sheet the line starts and ends, so that the wire comes in and goes out at full heat.
LEAD_MM = 5.0


@dataclass
class _Ring:
    """An outline on the way. branches: at which distance along it another one hangs, from where to where."""

    points: Points
    line: LinearRing
    branches: list[tuple[float, Points, Points, int]] = field(default_factory=list)


def as_one_line(drawing: SheetDrawing) -> SheetDrawing:
    """The drawing with its cuts joined to one polyline on WIRE; arcs become segments.

    Outlines hang together by the shortest connectors between them (a least spanning tree), so these lie in the waste
    and never cross a third outline; a hole hangs on its part's outline by a slit. The line goes once round each outline
    and over each connector there and back; it comes in from the left and goes out at the bottom, at one corner.

    Raises:
        InputError: no corner from which the sheet's edge can be reached.
    """
    cuts = [s for s in drawing.strokes if s.layer in CUTS]
    if not cuts:
        return drawing
    rings = [_Ring(s.points, LinearRing(s.points)) for s in cuts]
    links = _links(rings)
    root, corner, way_in, way_out = _gate(cuts, drawing.size)
    _hang(rings, links, root)
    points = np.array([way_in, *_walk(rings, root, corner), way_out])
    # Without points on which the wire would only stand still.
    points = points[np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > EQUAL_MM])]
    marks = [s for s in drawing.made if s.layer not in CUTS]
    return replace(drawing, strokes=(*marks, Stroke("WIRE", points), *drawing.guides))


def _links(rings: Sequence[_Ring]) -> list[tuple[int, int]]:
    """A least spanning tree of the rings by the distance between their lines (Kruskal)."""
    lines = np.array([ring.line for ring in rings], dtype=object)
    tree, reach = shapely.STRtree(lines), 4.0
    while True:
        first, second = tree.query(lines, predicate="dwithin", distance=reach)
        once = first < second
        first, second = first[once], second[once]
        gaps = shapely.distance(lines[first], lines[second])
        owner = list(range(len(rings)))
        links = []
        for k in np.lexsort((second, first, np.round(gaps, 6))).tolist():
            a, b = _top(owner, int(first[k])), _top(owner, int(second[k]))
            if a != b:
                owner[b] = a
                links.append((int(first[k]), int(second[k])))
        if len(links) == len(rings) - 1:
            return links
        reach *= 3


def _top(owner: list[int], item: int) -> int:
    while owner[item] != item:
        owner[item] = owner[owner[item]]
        item = owner[item]
    return item


def _gate(cuts: Sequence[Stroke], size: tuple[float, float]) -> tuple[int, int, Points, Points]:
    """The corner of an outline, near the sheet's own, from which straight lines reach two edges through waste."""
    outlines = [n for n, s in enumerate(cuts) if s.layer == "CUT_OUTER"]
    tree = shapely.STRtree([Polygon(cuts[n].points) for n in outlines])
    corners = [(float(x + y), n, i, x, y) for n in outlines for i, (x, y) in enumerate(cuts[n].points.tolist())]
    for _, ring, index, x, y in sorted(corners):
        ends = np.array([(-LEAD_MM, y), (x, -LEAD_MM)])
        if all(not tree.query(LineString([(x, y), end]), predicate="crosses").size for end in ends):
            return ring, index, ends[0], ends[1]
    raise InputError(
        "the wire can't get from the left and lower edge of the sheet to any part in straight lines",
        cure=f"Use a larger sheet than {show_number(size[0])} x {show_length(size[1])}",
    )


def _hang(rings: list[_Ring], links: Sequence[tuple[int, int]], root: int) -> None:
    """Turn the tree of links into branches, from the root outwards."""
    near: dict[int, list[int]] = defaultdict(list)
    for a, b in links:
        near[a].append(b)
        near[b].append(a)
    waiting, seen = [root], {root}
    while waiting:
        at = waiting.pop()
        for other in sorted(near[at]):
            if other in seen:
                continue
            seen.add(other)
            waiting.append(other)
            link = shapely.shortest_line(rings[at].line, rings[other].line)
            start, end = np.array(link.coords)
            along = float(rings[at].line.project(shapely.Point(start)))
            rings[at].branches.append((along, start, end, other))


def _walk(rings: Sequence[_Ring], root: int, corner: int) -> Iterator[Points]:
    """All points of the way, from the root's corner round to it again; branches on the way are walked in full."""
    stack = [_round(rings[root], rings[root].points[corner])]
    while stack:
        step = next(stack[-1], None)
        if step is None:
            stack.pop()
            continue
        point, branch = step
        yield point
        if branch is not None:
            start, end, other = branch
            stack.append(iter([(start, None)]))
            stack.append(_round(rings[other], end))


def _round(ring: _Ring, start: Points) -> Iterator[tuple[Points, tuple[Points, Points, int] | None]]:
    """Once round a ring from a point on it; where a branch hangs, that too."""
    length = ring.line.length
    begin = float(ring.line.project(shapely.Point(start)))
    steps = np.hypot(*np.diff(np.vstack([ring.points, ring.points[:1]]), axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)[:-1]])
    stops: list[tuple[float, int, Points, tuple[Points, Points, int] | None]] = []
    for distance, corner in zip(along.tolist(), ring.points, strict=True):
        stops.append(((distance - begin) % length, 0, corner, None))
    for distance, at, end, other in ring.branches:
        stops.append(((distance - begin) % length, 1, at, (at, end, other)))
    # What lies at the start itself may come out a hair before the end.
    stops = [(0.0 if length - d < EQUAL_MM else d, kind, point, branch) for d, kind, point, branch in stops]
    yield start, None
    for _, _, point, branch in sorted(stops, key=lambda stop: stop[:2]):
        yield point, branch
    yield start, None
