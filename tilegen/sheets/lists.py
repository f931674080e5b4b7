"""Lists of a set as CSV: its parts, and the order of operations by layer."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from math import fsum

from tilegen.files.writing import csv_bytes
from tilegen.sheets.drawing import LAYERS, Stroke
from tilegen.sheets.labels import Place
from tilegen.sheets.parts import Part
from tilegen.sheets.sheetset import Sheet, SheetSet
from tilegen.sheets.toolpaths.order import travel

_NUMBER: dict[Place, str] = {
    "part": "",
    "waste": "number in the waste beside it",
    "back": "write its number on the back",
    "none": "not labelled",
}
_PARTS = ("part", "id", "name", "quantity", "length_mm", "width_mm", "thickness_mm", "note", "tiles", "numbers")
_OPERATIONS = (
    "sheet", "copies", "step", "layer", "colour", "operation", "paths", "length_mm", "travel_mm", "kerf_compensated",
)  # fmt: skip


def parts_csv(sheet_set: SheetSet) -> bytes:
    """One row a part; its tiles as `id x pieces`, in alphabetical order."""
    rows: list[Sequence[object]] = [_PARTS]
    for part in (*sheet_set.parts, *sheet_set.cores):
        notes = [*part.notes, *filter(None, [_NUMBER[sheet_set.labels.get(part.id, "part")]])]
        length, width = (f"{side:.3f}" for side in part.size)
        thickness = f"{part.thickness:g}"
        rows.append([part.number, part.id, part.name, part.count, length, width, thickness, "; ".join(notes)])
        rows[-1] = [*rows[-1], *_tiles(part, sheet_set.numbers)]
    return csv_bytes(rows)


def _tiles(part: Part, numbers: Mapping[str, str]) -> tuple[str, str]:
    """The tiles by their ids, and once more by what they are called in the layout, where there is one."""
    counts: dict[str, int] = {}
    for use in part.uses:
        counts[use.tile] = counts.get(use.tile, 0) + use.count
    by_id = sorted(counts.items())
    known = [f"{numbers[tile]} x {count}" for tile, count in by_id if tile in numbers]
    return "; ".join(f"{tile} x {count}" for tile, count in by_id), "; ".join(known)


def operations_csv(sheet_set: SheetSet) -> bytes:
    """One row a run of paths on one layer, in the order of the file; no powers, speeds or temperatures.

    Sheets that are cut alike are listed once, with the number of copies.
    """
    return csv_bytes((_OPERATIONS, *(row for sheet in sheet_set.sheets for row in _steps(sheet))))


def _steps(sheet: Sheet) -> Iterator[tuple[object, ...]]:
    drawing = sheet.drawing
    before: list[Stroke] = []
    for step, (layer, found) in enumerate(groupby(drawing.made, key=lambda stroke: stroke.layer), 1):
        strokes = list(found)
        way = travel([*before, *strokes]) - travel(before)
        style = LAYERS[layer]
        kerf = drawing.kerf.words if style.cut else "does not apply"
        length = fsum(stroke.length for stroke in strokes)
        what = (layer, style.colour, style.meaning, len(strokes))
        yield sheet.name, sheet.copies, step, *what, f"{length:.1f}", f"{way:.1f}", kerf
        before = strokes[-1:]
