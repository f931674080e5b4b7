"""Common lines: neighbours that share a cut, so that it is made once."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely

from tilegen.geometry import SNAP_MM, Points, Segment
from tilegen.sheets.alike import joined
from tilegen.sheets.drawing import LAYERS, SheetDrawing, Stroke


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
    lines = [Stroke("CUT_OUTER", np.array(line), opened=True) for line in _without_overlap(segments)]
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


def _without_overlap(segments: list[Segment]) -> list[Segment]:
    by_way: dict[Segment, None] = defaultdict(None)
    for a, b in segments:
        if a != b:
            by_way.setdefault((min(a, b), max(a, b)))
    return list(joined(list(by_way)))
