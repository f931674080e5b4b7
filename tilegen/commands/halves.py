"""The two ways to make a set of tiles, for the commands that make either or both."""

from __future__ import annotations

from collections.abc import Mapping

from tilegen.commands.workshop import Workshop
from tilegen.errors import InputError
from tilegen.lengths import Units
from tilegen.making import Made, Wanted, add_solids, doorway_notes, play_notes, position_notes, print_meshes
from tilegen.sheets.make import audit_sheets, make_sheet_sets, sheet_files, sheet_records
from tilegen.sheets.sheetset import SheetSet
from tilegen.solids.build import Mesh


def make_printed(made: Made, things: Wanted, workshop: Workshop) -> list[Mesh]:
    """Solids, beds and notes; the meshes for the pictures."""
    meshes, notes = print_meshes(things, workshop.printer, workshop.jobs, underside=workshop.underside)
    add_solids(made, things, meshes, workshop.printer, formats=workshop.formats)
    for more in (play_notes, doorway_notes, position_notes):
        notes += more(things, workshop.printer.title, workshop.printer.size_error)
    made.notes += notes
    return meshes


def make_cut(
    made: Made, things: Wanted, workshop: Workshop, numbers: Mapping[str, str] | None = None, *, units: Units = "mm"
) -> list[SheetSet]:
    """Sheets of each material, their lists and notes. numbers: of the types in the layout, by id. units: of the PDF."""
    if not things:
        return []
    sets: list[SheetSet] = []
    for material in workshop.materials:
        try:
            sets += make_sheet_sets(
                things,
                material,
                workshop.machine,
                workshop.ways,
                compensate=not workshop.nominal,
                accept=workshop.accept,
                numbers=numbers,
            )
        except InputError as error:
            raise error.located(file=f"material {material.name}") from None
    for sheet_set in sets:
        files = sheet_files(sheet_set, paper=workshop.paper, units=units)
        made.findings += audit_sheets(sheet_set, files)
        made.files |= {f"sheets/{name}": content for name, content in files.items()}
        made.sheets += [dict(record) for record in sheet_records(sheet_set)]
        made.notes += sheet_set.notes
    for notes in (play_notes, doorway_notes, position_notes):
        made.notes += notes(things, workshop.machine.title, workshop.machine.size_error)
    return sets
