"""Common lines: neighbours that share a cut, so that it is made once."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely

from tilegen.sheets.alike import Segment, joined
from tilegen.sheets.drawing import Points, SheetDrawing, Stroke
from tilegen.tiles.plate import Point

# Outlines nearer than this share a line.
_NEAR_MM = 1e-3


def with_common_lines(drawing: SheetDrawing) -> SheetDrawing:
    """The drawing with outlines that touch taken apart into straight lines, none of them twice.

    The outlines' own paths must touch, that is, the parts must lie one kerf apart. Outlines that touch no other stay
    closed; arcs of those that do become segments.
    """
    outer = [n for n, s in enumerate(drawing.strokes) if s.layer == "CUT_OUTER" and s.closed]
    rings = np.array([shapely.LinearRing(drawing.strokes[n].points) for n in outer], dtype=object)
    first, second = shapely.STRtree(rings).query(rings, predicate="dwithin", distance=_NEAR_MM)
    touching = {outer[i] for i, j in zip(first.tolist(), second.tolist(), strict=True) if i != j}
    segments: list[Segment] = []
    for number in sorted(touching):
        points = drawing.strokes[number].points
        segments += pairwise(_on_grid(np.vstack([points, points[:1]])))
    lines = [Stroke("CUT_OUTER", np.array(line), opened=True) for line in _without_overlap(segments)]
    kept = [s for n, s in enumerate(drawing.strokes) if n not in touching]
    marks = [s for s in kept if s.layer != "GUIDE"]
    said = ("common lines", f"{len(touching)} outlines share their cuts with neighbours")
    strokes = (*marks, *lines, *(s for s in kept if s.layer == "GUIDE"))
    return replace(drawing, strokes=strokes, remarks=(*drawing.remarks, said))


def _on_grid(points: Points) -> list[Point]:
    """Corners on a grid of a micrometre, so that lines that were meant to be one are one."""
    return [(float(x), float(y)) for x, y in np.round(points, 3)]


def _without_overlap(segments: list[Segment]) -> list[Segment]:
    by_way: dict[Segment, None] = defaultdict(None)
    for a, b in segments:
        if a != b:
            by_way.setdefault((min(a, b), max(a, b)))
    return list(joined(list(by_way)))
