"""The two ways to make a set of tiles, for the commands that make either or both."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from tilegen.commands.common import Tools
from tilegen.lengths import Units
from tilegen.making import Made, Wanted, add_solids, doorway_notes, play_notes, position_notes, print_meshes
from tilegen.reading.machine_models import MachineFile
from tilegen.reading.material_models import MaterialFile
from tilegen.reading.printer_models import PrinterFile
from tilegen.reading.printers import read_printer
from tilegen.reading.stock import LOOSE_PIECES, cautions_of, check_pair, read_machine, read_material
from tilegen.sheets.construction import Ways
from tilegen.sheets.make import audit_sheets, make_sheet_sets, sheet_files, sheet_records
from tilegen.sheets.papers import Paper
from tilegen.sheets.sheetset import SheetSet
from tilegen.solids.build import Mesh


@dataclass(frozen=True)
class Workshop:
    """The tools of a run, read and checked before anything is made."""

    materials: tuple[MaterialFile, ...]
    machine: MachineFile
    printer: PrinterFile
    paper: Paper
    jobs: int
    ways: Ways = Ways()  # noqa: RUF009 - it is frozen
    nominal: bool = False
    underside: bool = False
    accept: str = ""


def open_workshop(tools: Tools) -> Workshop:
    """Read materials, machine and printer.

    Raises:
        InputError: a file that is wrong, a material twice, a material that this machine must not cut.
    """
    materials = {m.name: m for m in (read_material(word) for word in tools.materials)}
    machine = read_machine(tools.machine)
    for material in materials.values():
        check_pair(material, machine, tools.accept)
    return Workshop(
        tuple(materials.values()),
        machine,
        read_printer(tools.printer),
        tools.paper,
        tools.jobs,
        Ways(tools.construction, tools.corners),
        tools.nominal,
        tools.underside,
        tools.accept or "",
    )


def make_printed(made: Made, things: Wanted, workshop: Workshop) -> list[Mesh]:
    """Solids, beds and notes; the meshes for the pictures."""
    meshes, notes = print_meshes(things, workshop.printer, workshop.jobs, underside=workshop.underside)
    add_solids(made, things, meshes, workshop.printer)
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
    sets = [
        sheet_set
        for material in workshop.materials
        for sheet_set in make_sheet_sets(
            things,
            material,
            workshop.machine,
            workshop.ways,
            compensate=not workshop.nominal,
            accept=workshop.accept,
            numbers=numbers,
        )
    ]
    for sheet_set in sets:
        files = sheet_files(sheet_set, paper=workshop.paper, units=units)
        made.findings += audit_sheets(sheet_set, files)
        made.files |= {f"sheets/{name}": content for name, content in files.items()}
        made.sheets += [dict(record) for record in sheet_records(sheet_set)]
        made.notes += sheet_set.notes
    for notes in (play_notes, doorway_notes, position_notes):
        made.notes += notes(things, workshop.machine.title, workshop.machine.size_error)
    return sets


def cautions(workshop: Workshop, *, printing: bool, cutting: bool, loose: bool = False) -> list[str]:
    """The cautions for the processes and materials of a run, each once. loose: it makes loose pieces."""
    found: list[str] = []
    if cutting:
        found += [caution for m in workshop.materials for caution in cautions_of(m, workshop.machine)]
    if printing:
        found += workshop.printer.cautions
    return list(dict.fromkeys([*found, *([LOOSE_PIECES] if loose else [])]))
