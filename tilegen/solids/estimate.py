"""How much a print takes: grams, metres and hours of filament, or millilitres and hours of resin.

Reckoned from the surfaces of the mesh; a slicer, which knows the paths, rules.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from tilegen.reading.printer_models import PrinterFile
from tilegen.solids.build import Mesh

# How far off an estimate of hours may be (common practice, no source).
SPREAD = 0.3


@dataclass(frozen=True, slots=True)
class Estimate:
    """What a part, a bed or a kit takes.

    material: plastic laid down or resin cured, mm3. grams: its mass. metres: of filament, 0 for resin. millilitres: of
    resin with waste and supports, 0 for filament. hours: on one machine. layers: of the highest part.
    """

    material: float
    grams: float
    metres: float
    millilitres: float
    hours: float
    layers: int

    def record(self) -> dict[str, float | list[float]]:
        """For the JSON: only what the process has."""
        amount = {"resin_ml": round(self.millilitres, 2)} if self.millilitres else {"metres": round(self.metres, 3)}
        between = [round(self.hours * (1 - SPREAD), 2), round(self.hours * (1 + SPREAD), 2)]
        return {
            "grams": round(self.grams, 2),
            **amount,
            "hours": round(self.hours, 2),
            "hours_between": between,
        }

    def words(self) -> str:
        """For people.

        >>> Estimate(12999.0, 16.12, 5.405, 0.0, 1.115, 165).words()
        '16.1 g, 5.4 m, 1.1 h (0.8 to 1.4)'
        """
        amount = f"{self.millilitres:.1f} ml" if self.millilitres else f"{self.metres:.1f} m"
        low, high = self.hours * (1 - SPREAD), self.hours * (1 + SPREAD)
        return f"{self.grams:.1f} g, {amount}, {self.hours:.1f} h ({low:.1f} to {high:.1f})"


def surfaces(mesh: Mesh) -> tuple[float, float, float]:
    """Area seen from the sides, from above and from below, mm2; a slope counts by its shadow in each direction."""
    corners = mesh.vertices[mesh.triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) / 2
    up = normals[:, 2]
    sides = float(np.hypot(normals[:, 0], normals[:, 1]).sum())
    return sides, float(up[up > 0].sum()), float(-up[up < 0].sum())


def laid_down(volume: float, sides: float, up: float, down: float, printer: PrinterFile) -> float:
    """Plastic in a filament print, mm3: the shell, and the filled share of what is inside.

    V_shell = min(V, S_side n ew + A_up n_t lh + A_dn n_b lh); V_p = V_shell + f (V - V_shell) (derived). Areas in mm2.
    """
    filament, layer = printer.filament, printer.layers.height
    shell = sides * filament.perimeters * filament.line + (up * filament.top + down * filament.bottom) * layer
    shell = min(volume, shell)
    return shell + filament.infill * (volume - shell)


def layers_of(height: float, printer: PrinterFile) -> int:
    """How many layers a height in mm takes."""
    return 1 + max(0, math.ceil((height - printer.layers.first) / printer.layers.height - 1e-6))


def estimate_part(mesh: Mesh, printer: PrinterFile) -> Estimate:
    """One part printed by itself."""
    if printer.process == "resin":
        return _resin(mesh.volume, mesh.size[2], printer)
    brim = 0.0
    if printer.brim:
        x, y, _ = mesh.size
        brim = ((x + 2 * printer.brim) * (y + 2 * printer.brim) - x * y) * printer.layers.first
    return _filament(laid_down(mesh.volume, *surfaces(mesh), printer) + brim, layers_of(mesh.size[2], printer), printer)


def together(parts: Iterable[tuple[Estimate, int]], printer: PrinterFile) -> Estimate:
    """Parts on one bed, with how many there are of each: they share their layers."""
    counted = list(parts)
    material = math.fsum(part.material * count for part, count in counted)
    layers = max((part.layers for part, _ in counted), default=0)
    return _of(material, layers, printer)


def in_turn(beds: Sequence[Estimate]) -> Estimate:
    """Beds one after the other."""
    return Estimate(
        material=math.fsum(bed.material for bed in beds),
        grams=math.fsum(bed.grams for bed in beds),
        metres=math.fsum(bed.metres for bed in beds),
        millilitres=math.fsum(bed.millilitres for bed in beds),
        hours=math.fsum(bed.hours for bed in beds),
        layers=max((bed.layers for bed in beds), default=0),
    )


def formula(printer: PrinterFile) -> str:
    """How the figures come about, in words, with the printer's own numbers."""
    layers = printer.layers
    if printer.process == "resin":
        r = printer.resin
        return (
            f"Millilitres: volume x (1 + {r.waste:g} for losses + {r.supports:g} for supports). Hours: layers of "
            f"{layers.height:g} mm x ({r.exposure:g} s + {r.lift:g} s), the first {r.first_layers} at "
            f"{r.first_exposure:g} s; how many parts share a plate does not matter. +-{SPREAD:.0%}: the slicer rules."
        )
    f = printer.filament
    return (
        f"Shell = sides x {f.perimeters} x {f.line:g} mm + faces above x {f.top} and below x {f.bottom} x "
        f"{layers.height:g} mm; plastic = shell + {f.infill:.0%} of the rest; grams at {f.density:g} g/cm3, metres of "
        f"{f.diameter:g} mm filament. Hours = plastic / {flow_of(printer):.2f} mm3/s ({f.flow:g} x {f.line:g} x "
        f"{layers.height:g} mm x {f.speed:g} mm/s) + {f.layer_time:g} s a layer. +-{SPREAD:.0%}: the slicer rules."
    )


def flow_of(printer: PrinterFile) -> float:
    """What a filament printer lays down over a whole print, mm3/s: share x line x layer x speed."""
    filament = printer.filament
    return filament.flow * filament.line * printer.layers.height * filament.speed


def _of(material: float, layers: int, printer: PrinterFile) -> Estimate:
    if printer.process == "fdm":
        return _filament(material, layers, printer)
    return _resin(material, printer.layers.first + (layers - 1) * printer.layers.height, printer)


def _filament(material: float, layers: int, printer: PrinterFile) -> Estimate:
    filament = printer.filament
    section = math.pi * filament.diameter**2 / 4
    seconds = material / flow_of(printer) + layers * filament.layer_time
    return Estimate(
        material, filament.density * material / 1000, material / section / 1000, 0.0, seconds / 3600, layers
    )


def _resin(volume: float, height: float, printer: PrinterFile) -> Estimate:
    """Time is the same for one part as for many: layers x (exposure + lift)."""
    resin, layers = printer.resin, layers_of(height, printer)
    millilitres = volume / 1000 * (1 + resin.waste + resin.supports)
    longer = min(layers, resin.first_layers) * (resin.first_exposure - resin.exposure)
    seconds = layers * (resin.exposure + resin.lift) + longer
    return Estimate(volume, resin.density * volume / 1000, 0.0, millilitres, seconds / 3600, layers)
