"""The tools of a run: what sheets are cut from, what cuts them, what prints; imports no geometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tilegen.errors import InputError
from tilegen.files.stock import LOOSE_PIECES, cautions_of, check_pair, read_machine, read_material, read_printer
from tilegen.making.asked import Tools
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile, of_thickness
from tilegen.model.printers import PrinterFile
from tilegen.sheets.constructions import ConstructionChoice

BOTH = ("solids", "sheets")


def command_of(halves: tuple[str, ...]) -> str:
    """The command that makes these halves."""
    return "tile" if halves == BOTH else halves[0].removesuffix("s")


@dataclass(frozen=True)
class Workshop:
    """The tools of a run, read and checked before anything is made. asked: all of it as it was asked for, by name."""

    materials: tuple[MaterialFile, ...]
    machine: MachineFile
    printer: PrinterFile
    asked: Tools

    @property
    def ways(self) -> ConstructionChoice:
        """What replaces each material's own choices."""
        return ConstructionChoice(self.asked.construction, self.asked.corners)


def open_workshop(tools: Tools) -> Workshop:
    """Read materials, machine and printer.

    Raises:
        InputError: a file that is wrong, a material twice, a material that this machine must not cut.
    """
    stock = [read_material(word) for word in tools.materials]
    if tools.thickness is not None:
        stock = _as_thick(stock, tools.thickness)
    materials = {m.name: m for m in stock}
    machine = read_machine(tools.machine)
    for material in materials.values():
        check_pair(material, machine, tools.accept)
    printer = read_printer(tools.printer)
    # Names, not paths: what is made does not depend on where a file lies.
    asked = replace(tools, materials=tuple(materials), machine=machine.name, printer=printer.name)
    return Workshop(tuple(materials.values()), machine, printer, asked)


def _as_thick(stock: Sequence[MaterialFile], thickness: float) -> list[MaterialFile]:
    """The one material with sheets of another thickness, mm."""
    if len(stock) != 1:
        named = ", ".join(material.name for material in stock)
        raise InputError(
            f"one thickness can't be that of several materials ({named})",
            cure="Give one --material, or write the thickness into each material's file",
            place="--thickness",
        )
    material = stock[0]
    if thickness <= material.skin:
        raise InputError(
            f"sheets of {thickness:g} mm are too thin for {material.name}",
            cure=f"Use more than {material.skin:g} mm",
            place="--thickness",
        )
    return [of_thickness(material, thickness)]


def cautions(workshop: Workshop, *, printing: bool, cutting: bool, loose: bool = False) -> list[str]:
    """The cautions for the processes and materials of a run, each once. loose: it makes loose pieces."""
    found: list[str] = []
    if cutting:
        found += [caution for m in workshop.materials for caution in cautions_of(m, workshop.machine)]
    if printing:
        found += workshop.printer.cautions
    return list(dict.fromkeys([*found, *([LOOSE_PIECES] if loose else [])]))


def first_cautions(workshop: Workshop, *, printing: bool, cutting: bool) -> list[str]:
    """One line for each process of a run: the first caution of its machine and the first of each material in it."""
    found = []
    if cutting:
        machine, lines = workshop.machine, [*workshop.machine.cautions[:1]]
        for material in workshop.materials:
            own = [line for line in cautions_of(material, machine) if line not in machine.cautions]
            lines += own[:1]
        found.append(f"{machine.title}: {' '.join(dict.fromkeys(lines))}")
    if printing:
        found.append(f"{workshop.printer.title}: {' '.join(workshop.printer.cautions[:1])}")
    return found
