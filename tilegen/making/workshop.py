"""The tools of a run: what sheets are cut from, what cuts them, what prints; imports no geometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tilegen.errors import InputError, a_few
from tilegen.files.stock import LOOSE_PIECES, cautions_of, check_pair, read_machine, read_printer, read_stock
from tilegen.files.times import Times, read_times
from tilegen.lengths import show_length
from tilegen.making.asked import Tools
from tilegen.messages import Message
from tilegen.model.machines import MachineFile
from tilegen.model.materials import THICKEST_PRINTED_MM, MaterialFile, Stock, as_pages, of_thickness
from tilegen.model.printers import PrinterFile
from tilegen.model.words import PAPERS, Paper
from tilegen.sheets.constructions import ConstructionChoice

BOTH = ("solids", "sheets")


def command_of(halves: tuple[str, ...]) -> str:
    """The command that makes these halves."""
    return "tile" if halves == BOTH else halves[0].removesuffix("s")


@dataclass(frozen=True)
class Workshop:
    """The tools of a run, read and checked before anything is made. asked: all of it as it was asked for, by name.

    stocks: each is enough for the whole kit; more than one are alternatives. times: the maker's own log, by which the
    seconds, hours and grams of the files go already.
    """

    stocks: tuple[Stock, ...]
    machine: MachineFile
    printer: PrinterFile
    asked: Tools
    times: Times

    @property
    def materials(self) -> tuple[MaterialFile, ...]:
        """Of all stocks, each once."""
        return tuple({m.name: m for stock in self.stocks for m in stock.materials}.values())

    @property
    def ways(self) -> ConstructionChoice:
        """What replaces each material's own choices."""
        return ConstructionChoice(self.asked.construction, self.asked.corners)


def open_workshop(tools: Tools) -> Workshop:
    """Read materials, machine and printer.

    Raises:
        InputError: a file that is wrong, a material twice, a material that this machine must not cut.
    """
    read = [read_stock(word) for word in tools.materials]
    _check_stocks(read)
    if tools.thickness is not None:
        read = _as_thick(read, tools.thickness)
    if tools.print_on is not None:
        read = _printed(read, tools.print_on)
    times = read_times(tools.times) if tools.times else Times()
    stocks = {stock.word: _timed(stock, times) for stock in read}
    machine = times.of_machine(read_machine(tools.machine))
    printer = times.of_printer(read_printer(tools.printer))
    # Names, not paths: what is made does not depend on where a file lies.
    asked = replace(tools, materials=tuple(stocks), machine=machine.name, printer=printer.name, times=None)
    workshop = Workshop(tuple(stocks.values()), machine, printer, asked, times)
    for material in workshop.materials:
        check_pair(material, machine, tools.accept)
    return workshop


def _timed(stock: Stock, times: Times) -> Stock:
    """A stock whose glue takes what it takes here."""
    skin = times.of_material(stock.skin) if stock.skin else None
    return Stock(times.of_material(stock.base), times.of_material(stock.walls), skin)


def _check_stocks(stocks: Sequence[Stock]) -> None:
    """Refuse roles beside alternatives, and two materials of one name: their files would have the same names."""
    roles = next((stock.word for stock in stocks if not stock.plain), None)
    if roles and len(stocks) > 1:
        raise InputError(
            f'"{roles}" is one kit from several materials, and several --material are one kit of each',
            cure="Give only the one --material with roles, or only names without roles",
            place="--material",
        )
    for stock in stocks:
        for material in stock.by_role.values():
            if any(other.name == material.name and other != material for other in stock.materials):
                raise InputError(
                    f'two different materials are called "{material.name}"',
                    cure="Change name in one of the files",
                    place="--material",
                )


def _as_thick(stocks: Sequence[Stock], thickness: float) -> list[Stock]:
    """The one material with sheets of another thickness, mm."""
    several = list(dict.fromkeys(material.name for stock in stocks for material in stock.materials))
    if len(several) != 1:
        named = ", ".join(several)
        raise InputError(
            f"one thickness can't be that of several materials ({named})",
            cure="Give one --material, or write the thickness into each material's file",
            place="--thickness",
        )
    material = stocks[0].base
    if thickness <= material.skin:
        raise InputError(
            f"sheets of {thickness:g} mm are too thin for {material.name}",
            cure=f"Use more than {material.skin:g} mm",
            place="--thickness",
        )
    return [Stock.of(of_thickness(material, thickness))]


def _printed(stocks: Sequence[Stock], paper: Paper) -> list[Stock]:
    """The stocks with whatever a home printer takes in pages of a paper.

    Raises:
        InputError: it takes none of them.
    """
    every = [material for stock in stocks for material in stock.materials]
    if not any(material.real_thickness <= THICKEST_PRINTED_MM for material in every):
        thinnest = min(every, key=lambda material: material.real_thickness)
        raise InputError(
            f"{thinnest.name} is {show_length(thinnest.real_thickness)} thick, and home printers take card up to about "
            f"{show_length(THICKEST_PRINTED_MM)}",
            cure="Use --material thin-card, or leave out --print-on",
            place="--print-on",
        )

    def in_pages(material: MaterialFile) -> MaterialFile:
        thin = material.real_thickness <= THICKEST_PRINTED_MM
        return as_pages(material, paper, PAPERS[paper]) if thin else material

    return [
        Stock(in_pages(stock.base), in_pages(stock.walls), in_pages(stock.skin) if stock.skin else None)
        for stock in stocks
    ]


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


def times_notes(workshop: Workshop) -> list[Message]:
    """What of the maker's own log this run has no use for; nothing of it used is for the maker to decide about."""
    times = workshop.times
    names = {
        "cut": [workshop.machine.name],
        "glue": [material.kin for material in workshop.materials],
        "print": [workshop.printer.name],
    }
    unused = times.unused(names)
    if not unused:
        return []
    rest = f"{times.file} has times that this build has no use for: {a_few(unused)}."
    if len(unused) < len({key[:2] for key in times.ratios}):
        return [Message("note", rest)]
    known = ", ".join(f"{work} {name}" for work, found in names.items() for name in found)
    return [Message("decide", rest, cure=f"This build has: {known}.")]
