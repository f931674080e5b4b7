"""Setting out a kit on print beds, and all of it on one endless table."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tilegen.errors import InputError
from tilegen.solids.build import Mesh
from tilegen.solids.threemf import Item

_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Printer:
    """What parts are set out on, in mm.

    bed: its sides. height: usable. margin: free all round. spacing: between parts. least_lintel: the thinnest
    strip it makes over a doorway. size_error: of a printed tile, each way.
    """

    name: str
    title: str
    bed: tuple[float, float]
    height: float
    margin: float
    spacing: float
    least_lintel: float
    size_error: float
    cautions: tuple[str, ...] = ()


def set_out(copies: Sequence[tuple[Mesh, int]], printer: Printer) -> list[list[Item]]:
    """Each copy on a bed, in rows, deepest first; a list of items a bed.

    copies: meshes with the number wanted of each.

    Raises:
        InputError: a part larger than the bed.
    """
    width, depth = (side - 2 * printer.margin for side in printer.bed)
    ordered = sorted(copies, key=lambda copy: (-min(copy[0].size[:2]), copy[0].name))
    beds: list[list[Item]] = []
    x = y = row = math.inf
    for mesh, count in ordered:
        turned, across, along = _lying(mesh, width, depth, printer)
        for _ in range(count):
            if x + across > width + _ROUNDING:
                x, y = 0.0, y + row + printer.spacing
                row = along
            if y + along > depth + _ROUNDING:
                beds.append([])
                x, y, row = 0.0, 0.0, along
            beds[-1].append(Item(mesh.name, printer.margin + x, printer.margin + y, turned))
            x += across + printer.spacing
            row = max(row, along)
    return beds


def _lying(mesh: Mesh, width: float, depth: float, printer: Printer) -> tuple[bool, float, float]:
    """Whether to turn the part so that its long side runs along the row, and its sides then."""
    x, y, z = mesh.size
    turned = y > x and y <= width
    across, along = (y, x) if turned else (x, y)
    if across > width + _ROUNDING or along > depth + _ROUNDING or z > printer.height + _ROUNDING:
        raise InputError(
            f"a part {mesh.name} of {x:.1f} x {y:.1f} x {z:.1f} mm",
            expected=f"at most {width:.1f} x {depth:.1f} x {printer.height:.1f} mm, the bed of {printer.title}",
            cure="choose a larger printer with --printer",
        )
    return turned, across, along


def set_out_all(copies: Sequence[tuple[Mesh, int]], spacing: float) -> list[Item]:
    """The whole kit on one plane, a near-square block of equal places: to look at, or for a slicer to arrange."""
    total = sum(count for _, count in copies)
    if not total:
        return []
    pitch = max(max(mesh.size[:2]) for mesh, _ in copies) + spacing
    across = math.ceil(math.sqrt(total))
    names = [mesh.name for mesh, count in copies for _ in range(count)]
    return [Item(name, (n % across) * pitch, (n // across) * pitch) for n, name in enumerate(names)]
