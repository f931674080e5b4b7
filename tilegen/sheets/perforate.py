"""Scores and creases as perforations: dashes that are cut through, for tools that can't press or cut in part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely
from shapely.ops import substring

from tilegen.model.machines import PathRules
from tilegen.sheets.drawing import SheetDrawing, Stroke


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
