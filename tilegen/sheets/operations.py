"""What a sheet's file can't say in lines: the order of operations by layer, and where the ruler goes."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from math import fsum

from tilegen.files.writing import csv_bytes
from tilegen.sheets.drawing import LAYERS, SheetDrawing, Stroke
from tilegen.sheets.order import travel
from tilegen.sheets.rulers import rulers
from tilegen.sheets.sheetset import SheetSet

HEADER = ("sheet", "step", "layer", "colour", "operation", "paths", "length_mm", "travel_mm", "kerf_compensated")
RULER_HEADER = ("sheet", "ruler", "lies_along", "at_mm", "edges", "strokes_mm")


def operations_csv(sheet_set: SheetSet) -> bytes:
    """One row a run of paths on one layer, in the order of the file; no powers, speeds or temperatures."""
    return csv_bytes((HEADER, *(row for sheet in sheet_set.sheets for row in _steps(sheet.drawing))))


def rulers_csv(sheet_set: SheetSet) -> bytes:
    """One row a placement of the ruler; where a stroke ends and the next begins the knife is lifted over a part."""
    return csv_bytes((RULER_HEADER, *(row for sheet in sheet_set.sheets for row in _placements(sheet.nominal))))


def _steps(drawing: SheetDrawing) -> Iterator[tuple[object, ...]]:
    before: list[Stroke] = []
    for step, (layer, found) in enumerate(groupby(drawing.made, key=lambda stroke: stroke.layer), 1):
        strokes = list(found)
        way = travel([*before, *strokes]) - travel(before)
        style = LAYERS[layer]
        kerf = drawing.kerf_words if style.cut else "does not apply"
        length = fsum(stroke.length for stroke in strokes)
        yield drawing.name, step, layer, style.colour, style.meaning, len(strokes), f"{length:.1f}", f"{way:.1f}", kerf
        before = strokes[-1:]


def _placements(drawing: SheetDrawing) -> Iterator[tuple[object, ...]]:
    for number, ruler in enumerate(rulers(drawing), 1):
        strokes = "; ".join(f"{low:.2f} to {high:.2f}" for low, high in ruler.strokes)
        yield drawing.name, number, ruler.along, f"{ruler.at:.2f}", ruler.edges, strokes
