"""Setting out a kit on print beds, and all of it on one endless table."""

from __future__ import annotations

import math
from collections.abc import Sequence

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM
from tilegen.reading.printer_models import PrinterFile
from tilegen.solids.build import Mesh
from tilegen.solids.formats import Item
from tilegen.solids.packing import Slot, pack

Printer = PrinterFile


def set_out(copies: Sequence[tuple[Mesh, int]], printer: PrinterFile) -> list[list[Item]]:
    """Each copy on a bed, as few beds as are found; a list of items a bed.

    Parts keep the printer's gap from each other, and its margin and brim from the bed's edge. Of parts that cover the
    same room the highest come first: a bed takes as long as its highest part.

    copies: meshes with the number wanted of each.

    Raises:
        InputError: a part larger than the bed.
        ValueError: fewer than none wanted of a part.
    """
    if any(count < 0 for _, count in copies):
        raise ValueError("fewer than none wanted of a part")
    for mesh, count in copies:
        if count:
            _check(mesh, printer)
    classes = _classes(copies)
    gap, edge = printer.gap, printer.margin + printer.brim
    sizes = [(long + gap, short + gap) for long, short in classes]
    box = printer.room[0] + gap, printer.room[1] + gap
    queues = [iter(parts) for parts in classes.values()]
    counts = [len(parts) for parts in classes.values()]
    return [[_item(next(queues[slot.kind]), slot, edge) for slot in slots] for slots in pack(sizes, counts, box)]


def _classes(copies: Sequence[tuple[Mesh, int]]) -> dict[tuple[float, float], list[Mesh]]:
    """Every copy by the (long, short) sides of the room it covers, the highest first."""
    found: dict[tuple[float, float], list[Mesh]] = {}
    for mesh, count in sorted(copies, key=lambda copy: (-round(copy[0].size[2], 6), copy[0].name)):
        x, y, _ = mesh.size
        key = math.ceil(max(x, y) / EQUAL_MM - 0.5) * EQUAL_MM, math.ceil(min(x, y) / EQUAL_MM - 0.5) * EQUAL_MM
        found.setdefault(key, []).extend([mesh] * count)
    return {key: parts for key, parts in found.items() if parts}


def _item(mesh: Mesh, slot: Slot, edge: float) -> Item:
    x, y, _ = mesh.size
    turned = abs(x - y) > EQUAL_MM and slot.turned == (x > y)
    return Item(mesh.name, edge + slot.x, edge + slot.y, turned)


def _check(mesh: Mesh, printer: PrinterFile) -> None:
    (x, y, z), (width, depth) = mesh.size, printer.room
    lies = any(a <= width + EQUAL_MM and b <= depth + EQUAL_MM for a, b in ((x, y), (y, x)))
    if not lies or z > printer.height + EQUAL_MM:
        raise InputError(
            f"a part {mesh.name} of {x:.1f} x {y:.1f} x {z:.1f} mm",
            expected=f"at most {width:.1f} x {depth:.1f} x {printer.height:.1f} mm, the bed of the {printer.title} "
            "less its margin and brim",
            cure="choose a larger printer with --printer, or make the tile smaller",
        )


def set_out_all(copies: Sequence[tuple[Mesh, int]], spacing: float) -> list[Item]:
    """The whole kit on one plane, a near-square block of equal places: to look at, or for a slicer to arrange."""
    total = sum(count for _, count in copies)
    if not total:
        return []
    pitch = max(max(mesh.size[:2]) for mesh, _ in copies) + spacing
    across = math.ceil(math.sqrt(total))
    names = [mesh.name for mesh, count in copies for _ in range(count)]
    return [Item(name, (n % across) * pitch, (n // across) * pitch) for n, name in enumerate(names)]
