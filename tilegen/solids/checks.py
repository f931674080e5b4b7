"""What a printer can't make of tiles, or not well: walls too thin, slender or off whole lines, strips over doorways."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM
from tilegen.lengths import rounded_down, rounded_up, show_length
from tilegen.messages import Message
from tilegen.model.printers import PrinterFile
from tilegen.solids.processes import process_of
from tilegen.tiles.plate import Plate

# Names of tiles and pieces, each with its plates.
Named = Sequence[tuple[str, Sequence[Plate]]]


def width_of_lines(lines: int, line: float, layer: float) -> float:
    """How thick a wall of so many lines is, mm: w + (n - 1)(w - h (1 - pi/4)).

    line: width w of one; layer: its height h. A line is a rectangle with half-round ends. Neighbours overlap by as much
    as their round ends leave empty, so that a wall is solid (derived on the formulas page).

    >>> [round(width_of_lines(n, 0.45, 0.2), 2) for n in (2, 3, 4, 6)]
    [0.86, 1.26, 1.67, 2.49]
    """
    return line + (lines - 1) * (line - layer * (1 - math.pi / 4))


@dataclass(frozen=True, slots=True)
class WallLines:
    """A wall against whole lines. lines: the nearest whole number; thickness: of that many, mm; share: how many fit."""

    lines: int
    thickness: float
    share: float


def wall_lines(thickness: float, printer: PrinterFile) -> WallLines:
    """The whole number of lines nearest to a wall's thickness in mm."""
    line, layer = printer.filament.line, printer.layers.height
    one, two = (width_of_lines(n, line, layer) for n in (1, 2))
    share = 1 + (thickness - one) / (two - one)
    lines = max(1, math.floor(share + 0.5))
    return WallLines(lines, width_of_lines(lines, line, layer), share)


def check_walls(named: Named, printer: PrinterFile) -> list[Message]:
    """Warnings about the standing plates of tiles and pieces by name: thin, slender, off whole lines.

    Raises:
        InputError: a wall thinner than the printer makes.
    """
    found: dict[tuple[float, float], str] = {}
    for name, plates in named:
        for thickness, height in _standing(plates, printer):
            found.setdefault((thickness, height), name)
    notes: list[Message] = []
    for (thickness, height), name in found.items():
        _refuse(name, thickness, printer)
        if thickness < printer.walls.sturdy - EQUAL_MM:
            words = f"Walls {thickness:g} mm thick ({name}) break when they are handled."
            cure = f"Make them {printer.walls.sturdy:g} mm or more for the {printer.title} (--wall)."
            notes.append(Message("decide", words, cure=cure))
        elif height > printer.walls.slender * thickness + EQUAL_MM:
            words = f"Walls {height:g} mm high and {thickness:g} mm thick ({name}) wobble as they print."
            cure = f"Make them lower, or at least {show_length(rounded_up(height / printer.walls.slender, 1))} thick."
            notes.append(Message("decide", words, cure=cure))
    return notes + _whole_lines({thickness for thickness, _ in found}, printer)


def _standing(plates: Sequence[Plate], printer: PrinterFile) -> set[tuple[float, float]]:
    """(thickness, height) of the standing plates of one part, those left out that are thin only beside others."""
    upright = [plate for plate in plates if plate.edge is not None]
    sizes = {(round(plate.thickness, 3), round(plate.height, 3)): plate for plate in upright}
    doubtful = max(printer.walls.sturdy, *(height / printer.walls.slender for _, height in sizes), 0.0)
    if all(thickness >= doubtful for thickness, _ in sizes):
        return set(sizes)
    whole = shapely.union_all([plate.foot for plate in upright])
    return {size for size, plate in sizes.items() if size[0] >= doubtful or _is_thin(plate, whole)}


def _is_thin(plate: Plate, whole: BaseGeometry) -> bool:
    """Whether a plate is thin where it stands, and not just what its neighbours leave of a corner.

    A disc a little wider than the plate does not fit into what stands there, over most of the plate's foot.
    """
    radius = 0.55 * plate.thickness
    opened = whole.buffer(-radius).buffer(radius)
    return float(plate.foot.intersection(opened).area) < plate.foot.area / 2


def wall_records(plates: Iterable[Plate], printer: PrinterFile) -> list[dict[str, float]]:
    """Each thickness of the standing plates in lines, and the nearest whole number of them, if it prints in lines."""
    if not process_of(printer).lines:
        return []
    records = []
    for thickness in sorted({round(plate.thickness, 3) for plate in plates if plate.edge is not None}):
        found = wall_lines(thickness, printer)
        records.append(
            {
                "thickness_mm": thickness,
                "lines": round(found.share, 2),
                "whole_lines": found.lines,
                "whole_mm": round(found.thickness, 3),
            }
        )
    return records


def _refuse(name: str, thickness: float, printer: PrinterFile) -> None:
    if thickness >= printer.walls.least - EQUAL_MM:
        return
    raise InputError(
        f"{name} has a wall {show_length(rounded_down(thickness))} thick, and printer {printer.name} prints walls from "
        f"{show_length(printer.walls.least)} up",
        cure="Make the wall thicker with --wall, or only cut it, with tilegen sheet",
    )


def _whole_lines(thicknesses: set[float], printer: PrinterFile) -> list[Message]:
    """Walls that lines fill without infill and that are no whole number of lines: a gap or an overlap stays inside."""
    if not process_of(printer).lines:
        return []
    notes = []
    for thickness in sorted(thicknesses):
        found = wall_lines(thickness, printer)
        all_lines = found.lines <= 2 * printer.filament.rounds
        if all_lines and abs(found.thickness - thickness) > printer.size_error / 4:
            words = f"Walls {thickness:g} mm thick are {found.share:.1f} printed lines wide, so a gap stays inside."
            notes.append(Message("note", f"{words} {found.thickness:.2f} mm is {found.lines} whole lines."))
    return notes


def lintel_notes(named: Named, printer: PrinterFile) -> list[Message]:
    """What the printer's thinnest strip and widest bridge mean for the doorways of these tiles."""
    heads = [
        (name, plate.height - opening.height, opening)
        for name, plates in named
        for plate in plates
        for opening in plate.openings
        if not plate.is_open_topped(opening)
    ]
    thin = dict.fromkeys(name for name, lintel, _ in heads if lintel < printer.least_lintel)
    bridge = printer.walls.bridge
    wide = {name: o.width for name, _, o in heads if o.level and o.width > bridge}
    notes = []
    if thin:
        words = (
            f"The strip over the doorway is under {printer.least_lintel:g} mm on {', '.join(thin)}: it may not print."
        )
        notes.append(Message("decide", words, cure="Make the doorway lower, or the wall higher."))
    if wide:
        width = show_length(max(wide.values()))
        words = f"Doorways up to {width} wide have flat heads, wider than the {bridge:g} mm that print without support"
        cure = 'Let the slicer support them, or give them round heads (head = "round").'
        notes.append(Message("decide", f"{words}: {', '.join(wide)}.", cure=cure))
    return notes
