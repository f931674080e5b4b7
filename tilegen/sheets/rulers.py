"""Gang cuts: edges of many parts in one line, cut along one placement of the ruler from tick to tick."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely

from tilegen.sheets.drawing import CUTS, SheetDrawing, Stroke

TICK_MM = 4.0
# Edges nearer than this lie under one ruler.
_SAME_MM = 0.02
_INSIDE_MM = 0.01

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Ruler:
    """One placement of the ruler. along: the axis it lies along; at: where on the other axis, mm.

    strokes: from where to where the knife goes; between two strokes it is lifted, since a part lies there. edges: of
    parts that lie on the line.
    """

    along: Literal["x", "y"]
    at: float
    strokes: tuple[Interval, ...]
    edges: int


def rulers(drawing: SheetDrawing) -> tuple[Ruler, ...]:
    """Every straight cut along an axis, as few placements of the ruler as there are lines."""
    cuts = [s for s in drawing.strokes if s.layer in CUTS and s.closed]
    outer = np.array([shapely.Polygon(s.points) for s in cuts if s.layer == "CUT_OUTER"], dtype=object)
    tree = shapely.STRtree(shapely.buffer(outer, -_INSIDE_MM, join_style="mitre"))
    found: list[Ruler] = []
    for axis, along in ((0, "y"), (1, "x")):
        for at, edges in _lines(cuts, axis):
            strokes = tuple(_strokes(edges, at, axis, tree))
            found.append(Ruler("y" if along == "y" else "x", at, strokes, len(edges)))
    return tuple(found)


def with_ticks(drawing: SheetDrawing) -> SheetDrawing:
    """The drawing with two ticks for each placement of the ruler, on opposite edges of the sheet."""
    width, height = drawing.size
    ticks: list[Stroke] = []
    for ruler in rulers(drawing):
        far = height if ruler.along == "y" else width
        for ends in ((0.0, TICK_MM), (far - TICK_MM, far)):
            points = [(ruler.at, end) if ruler.along == "y" else (end, ruler.at) for end in ends]
            ticks.append(Stroke("GUIDE", np.array(points), opened=True))
    return replace(drawing, strokes=(*drawing.strokes, *ticks))


def _lines(cuts: Sequence[Stroke], axis: int) -> Iterator[tuple[float, list[Interval]]]:
    """Where cuts run across an axis, with their stretches along the other one."""
    at: dict[int, list[tuple[float, float, float]]] = defaultdict(list)
    for stroke in cuts:
        ends = np.roll(stroke.points, -1, axis=0)
        straight = np.abs(stroke.points[:, axis] - ends[:, axis]) < _SAME_MM / 2
        for a, b in zip(stroke.points[straight], ends[straight], strict=True):
            low, high = sorted((float(a[1 - axis]), float(b[1 - axis])))
            if high - low > _SAME_MM:
                at[round(float(a[axis]) / _SAME_MM)].append((float(a[axis]), low, high))
    keys = sorted(at)
    for place, key in enumerate(keys):
        # Two neighbours of one step may hold one line that lies between them.
        if place and key - keys[place - 1] == 1 and keys[place - 1] in at:
            at[key] += at.pop(keys[place - 1])
    for key in sorted(at):
        yield float(np.mean([where for where, _, _ in at[key]])), sorted((low, high) for _, low, high in at[key])


def _strokes(edges: Sequence[Interval], at: float, axis: int, parts: shapely.STRtree) -> Iterator[Interval]:
    """Stretches joined through waste, parted where a part lies between."""
    start, end = edges[0]
    for low, high in edges[1:]:
        if low > end + _SAME_MM:
            gap = [(at, end), (at, low)] if axis == 0 else [(end, at), (low, at)]
            if parts.query(shapely.LineString(gap), predicate="intersects").size:
                yield start, end
                start = low
        end = max(end, high)
    yield start, end
