"""The list of parts as CSV."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tilegen.files.writing import csv_bytes
from tilegen.sheets.labels import Place
from tilegen.sheets.parts import Part
from tilegen.sheets.sheetset import SheetSet

_NUMBER: dict[Place, str] = {
    "part": "",
    "waste": "number in the waste beside it",
    "back": "write its number on the back",
    "none": "not labelled",
}
HEADER = ("id", "name", "quantity", "length_mm", "width_mm", "thickness_mm", "note", "tiles", "numbers")


def parts_csv(sheet_set: SheetSet) -> bytes:
    """One row a part; its tiles as `id x pieces`, in alphabetical order."""
    rows: list[Sequence[object]] = [HEADER]
    for part in (*sheet_set.parts, *sheet_set.cores):
        notes = [*part.notes, *filter(None, [_NUMBER[sheet_set.labels.get(part.id, "part")]])]
        length, width = (f"{side:.3f}" for side in part.size)
        thickness = f"{part.thickness:g}"
        rows.append([part.id, part.name, part.count, length, width, thickness, "; ".join(notes)])
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
