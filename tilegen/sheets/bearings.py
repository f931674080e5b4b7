"""What tells a builder how a sheet lies: the datum corner, and the grain where the stock has one. Not cut."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from tilegen.sheets.drawing import SheetDrawing, Stroke

_ARM_MM = 6.0
_ARROW_MM = 40.0
_HEAD_MM = 2.0


def bearings(size: tuple[float, float], *, grain: bool) -> tuple[Stroke, ...]:
    """Guide lines: an angle in the datum corner (lower left), an arrow along x for the grain; both in the margin."""
    lines = [np.array([(1.0, _ARM_MM), (1.0, 1.0), (_ARM_MM, 1.0)])]
    if grain:
        middle, y = size[0] / 2, size[1] - 2.5
        left, right = middle - _ARROW_MM / 2, middle + _ARROW_MM / 2
        lines.append(np.array([(left, y), (right, y)]))
        for end, way in ((left, 1.0), (right, -1.0)):
            tip = [(end + way * _HEAD_MM * 1.5, y + _HEAD_MM), (end, y), (end + way * _HEAD_MM * 1.5, y - _HEAD_MM)]
            lines.append(np.array(tip))
    return tuple(Stroke("GUIDE", points, opened=True) for points in lines)


def with_bearings(drawing: SheetDrawing, *, grain: bool) -> SheetDrawing:
    """The drawing with its bearings after everything else."""
    return replace(drawing, strokes=(*drawing.strokes, *bearings(drawing.size, grain=grain)))
