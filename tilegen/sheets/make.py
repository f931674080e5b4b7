"""From tiles to sheets: the flat half of a kit, set out, drawn and written."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TypedDict

from tilegen.reading.models import MachineFile, MaterialFile
from tilegen.reading.stock import check_pair
from tilegen.sheets.drawing import PartPaths, SheetFrame, draw_sheet
from tilegen.sheets.parts import Part, list_parts
from tilegen.sheets.setout import LaidSheet, set_out_parts
from tilegen.sheets.sheetset import Paper, Sheet, SheetSet
from tilegen.tiles.doors import Piece
from tilegen.tiles.tile import Tile

__all__ = ["Paper", "Sheet", "SheetRecord", "SheetSet", "make_sheets", "sheet_files", "sheet_records"]


class SheetRecord(TypedDict):
    """What the JSON of a run says about one sheet."""

    name: str
    material: str
    size_mm: list[float]
    kerf_mm: float
    parts: int
    used: float
    cut_mm: float
    score_mm: float


def make_sheets(counts: Sequence[tuple[Tile | Piece, int]], material: MaterialFile, machine: MachineFile) -> SheetSet:
    """All parts of so many tiles and pieces of each type, set out on sheets.

    A pair of material and machine that only the user may allow is taken as allowed: ask `check_pair` first.

    Raises:
        InputError: a blocked pair; stock that no tile can be made of; a part larger than a sheet; a feature
            narrower than the kerf.
        AnswerIsNo: there are not enough sheets on hand.
    """
    check_pair(material, machine, accepted=material.name)
    kerf = machine.kerf_in(material)
    listed = list_parts(counts, material)
    paths = [PartPaths.of(part, kerf) for part in listed.parts]
    made = set_out_parts(listed.parts, paths, material, machine)
    title = f"{material.title}, {material.real_thickness:g} mm thick, for {machine.title}"
    sheets = tuple(_sheet(on, SheetFrame(on.name, title, on.size, kerf), listed.parts, paths) for on in made.sheets)
    unlabelled = tuple(part.id for part, drawn in zip(listed.parts, paths, strict=True) if not drawn.number.strokes)
    notes = (*listed.notes, *made.notes, *_slits(listed.parts, machine))
    return SheetSet(material, machine, kerf, sheets, listed.parts, listed.constructions, notes, unlabelled, made.saw)


def _slits(parts: Sequence[Part], machine: MachineFile) -> Iterator[str]:
    """A word on holes that a hot wire can't get into."""
    holed = [part.id for part in parts if part.outline.interiors]
    if machine.process == "hot-wire" and holed:
        yield (
            f"holes in {', '.join(holed)}: a wire gets into a hole only through a slit from the edge, to be glued shut "
            "after; or cut the hole with a knife"
        )


def _sheet(on: LaidSheet, frame: SheetFrame, parts: Sequence[Part], paths: Sequence[PartPaths]) -> Sheet:
    layout = on.layout
    drawing = draw_sheet(frame, layout, paths, nominal=False)
    nominal = draw_sheet(frame, layout, paths, nominal=True) if frame.kerf else drawing
    used = sum(parts[placed.item].outline.area for placed in layout) / (frame.size[0] * frame.size[1])
    return Sheet(frame.name, layout, drawing, nominal, used, on.offcut)


def sheet_files(sheet_set: SheetSet, *, paper: Paper = "A4") -> dict[str, bytes]:
    """Every file of a set by its name: DXF and SVG a sheet, one PDF, a list of parts, perhaps a saw list."""
    # The writers' libraries take a third of a second to load: only those who write need them.
    from tilegen.sheets.dxf import dxf_bytes  # noqa: PLC0415
    from tilegen.sheets.listing import parts_csv  # noqa: PLC0415
    from tilegen.sheets.pdf import pdf_bytes  # noqa: PLC0415
    from tilegen.sheets.sawlist import saw_csv  # noqa: PLC0415
    from tilegen.sheets.svg import svg_bytes  # noqa: PLC0415

    files: dict[str, bytes] = {}
    for sheet in sheet_set.sheets:
        files[f"{sheet.name}.dxf"] = dxf_bytes(sheet.drawing)
        files[f"{sheet.name}.svg"] = svg_bytes(sheet.drawing)
    files[f"{sheet_set.material.name}.pdf"] = pdf_bytes(sheet_set, paper)
    files[f"{sheet_set.material.name}-parts.csv"] = parts_csv(sheet_set)
    if sheet_set.saw:
        files[f"{sheet_set.material.name}-saw.csv"] = saw_csv(sheet_set.saw)
    return files


def sheet_records(sheet_set: SheetSet) -> list[SheetRecord]:
    """The records of the JSON; used: share of the sheet that becomes parts."""
    return [
        SheetRecord(
            name=sheet.name,
            material=sheet_set.material.name,
            size_mm=list(sheet.drawing.size),
            kerf_mm=sheet_set.kerf,
            parts=len(sheet.layout),
            used=sheet.used,
            cut_mm=sheet.drawing.length("CUT_INNER", "CUT_OUTER", "WIRE"),
            score_mm=sheet.drawing.length("SCORE"),
        )
        for sheet in sheet_set.sheets
    ]
