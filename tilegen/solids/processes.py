"""Printing processes: hours and material that a print takes, what to buy for it, and what to tell about it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from typing import NamedTuple

import numpy as np

from tilegen.model.printers import PrinterFile
from tilegen.solids.build import Mesh


class PrintProcess(NamedTuple):
    """What a printing process asks of estimates, lists and reports.

    material, unit: what it prints with, and how much of that is counted. amount, places: the amount's key in the lists
    and the JSON, and its decimals there. total: the words for what a kit takes. lays: what it makes of a mesh, mm3.
    counts: that in its unit. seconds: of a print with so much material and so many layers. formula: in words. buys:
    item, quantity, unit and note of what a kit on so many beds needs. finish: what to do before prints are measured.
    on_bed: what to know about whole tiles on the bed. lines: walls are best a whole number of printed lines. traps:
    hollows hold what it prints with.
    """

    material: str
    unit: str
    amount: str
    places: int
    total: str
    lays: Callable[[Mesh, PrinterFile], float]
    counts: Callable[[float, PrinterFile], float]
    seconds: Callable[[float, int, PrinterFile], float]
    formula: Callable[[PrinterFile], str]
    buys: Callable[[Estimate, int, PrinterFile], list[list[object]]]
    finish: str
    on_bed: str = ""
    lines: bool = False
    traps: bool = False


@dataclass(frozen=True, slots=True)
class Estimate:
    """What a part, a bed or a kit takes.

    material: plastic laid down or resin cured, mm3. grams: its mass. amount: in the unit of the process: metres of
    filament, or millilitres of resin with waste and supports. hours: on one machine. layers: of the highest part.
    spread: how far off the hours may be, each way, as a share.
    """

    process: str
    material: float
    grams: float
    amount: float
    hours: float
    layers: int
    spread: float

    @property
    def hours_between(self) -> tuple[float, float]:
        """What the hours may come to."""
        return self.hours * (1 - self.spread), self.hours * (1 + self.spread)

    def record(self) -> dict[str, float | list[float]]:
        """For the JSON."""
        process = PRINT_PROCESSES[self.process]
        return {
            "grams": round(self.grams, 2),
            process.amount: round(self.amount, process.places),
            "hours": round(self.hours, 2),
            "hours_between": [round(hours, 2) for hours in self.hours_between],
        }

    def words(self) -> str:
        """For people.

        >>> Estimate("fdm", 12999.0, 16.12, 5.405, 1.115, 165, 0.3).words()
        'about 1.1 hours (0.8 to 1.4), 16.1 g, 5.4 m'
        """
        low, high = map(_rough, self.hours_between)
        amount = f"{_rough(self.amount)} {PRINT_PROCESSES[self.process].unit}"
        return f"about {_rough(self.hours)} hours ({low} to {high}), {_rough(self.grams)} g, {amount}"


def _rough(number: float) -> str:
    """An estimate for people: a decimal below 20, none above."""
    return f"{number:.1f}" if number < 20 else f"{number:.0f}"


def layers_of(height: float, printer: PrinterFile) -> int:
    """How many layers a height in mm takes."""
    return 1 + max(0, math.ceil((height - printer.layers.first) / printer.layers.height - 1e-6))


def estimate_part(mesh: Mesh, printer: PrinterFile) -> Estimate:
    """One part printed by itself."""
    return _estimate(process_of(printer).lays(mesh, printer), layers_of(mesh.size[2], printer), printer)


def together(parts: Iterable[tuple[Estimate, int]], printer: PrinterFile) -> Estimate:
    """Parts on one bed, with how many there are of each: they share their layers."""
    counted = list(parts)
    layers = max((part.layers for part, _ in counted), default=0)
    return _estimate(fsum(part.material * count for part, count in counted), layers, printer)


def in_turn(beds: Sequence[Estimate], printer: PrinterFile) -> Estimate:
    """Beds one after the other."""
    return Estimate(
        printer.process,
        material=fsum(bed.material for bed in beds),
        grams=fsum(bed.grams for bed in beds),
        amount=fsum(bed.amount for bed in beds),
        hours=fsum(bed.hours for bed in beds),
        layers=max((bed.layers for bed in beds), default=0),
        spread=printer.spread,
    )


def _estimate(material: float, layers: int, printer: PrinterFile) -> Estimate:
    process = process_of(printer)
    grams, amount = printer.own.density * material / 1000, process.counts(material, printer)
    hours = process.seconds(material, layers, printer) / 3600 * printer.pace
    return Estimate(printer.process, material, grams, amount, hours, layers, printer.spread)


# Filament: a shell of lines and a share of what is inside.


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
    shell = sides * filament.rounds * filament.line + (up * filament.top + down * filament.bottom) * layer
    shell = min(volume, shell)
    return shell + filament.infill * (volume - shell)


def flow_of(printer: PrinterFile) -> float:
    """What a filament printer lays down over a whole print, mm3/s: share x line x layer x speed."""
    filament = printer.filament
    return filament.flow * filament.line * printer.layers.height * filament.speed


def _lays_filament(mesh: Mesh, printer: PrinterFile) -> float:
    (x, y, _), brim = mesh.size, 2 * printer.brim
    foot = ((x + brim) * (y + brim) - x * y) * printer.layers.first if brim else 0.0
    sides, up, down = surfaces(mesh)
    return laid_down(mesh.volume, sides - mesh.shared, up, down, printer) + foot


def _filament_formula(printer: PrinterFile) -> str:
    f, height = printer.filament, printer.layers.height
    return (
        f"Shell = sides x {f.rounds} x {f.line:g} mm + faces above x {f.top} and below x {f.bottom} x "
        f"{height:g} mm; plastic = shell + {f.infill:.0%} of the rest; grams at {f.density:g} g/cm3, metres of "
        f"{f.diameter:g} mm filament. Hours = plastic / {flow_of(printer):.2f} mm3/s ({f.flow:g} x {f.line:g} x "
        f"{height:g} mm x {f.speed:g} mm/s) + {f.layer_time:g} s a layer."
    )


def _filament_to_buy(whole: Estimate, _beds: int, printer: PrinterFile) -> list[list[object]]:
    f = printer.filament
    grams = whole.grams * (1 + f.waste)
    note = f"{whole.grams:.0f} g in the parts and {f.waste:.0%} for losses; {whole.amount:.0f} m; an estimate"
    return [
        ["filament", math.ceil(grams), "g", note],
        ["filament spools", math.ceil(grams / f.spool), "", f"of {f.spool:g} g"],
    ]


# Resin: all that is inside is cured, and time is the same for one part as for many: layers x (exposure + lift).


def _resin_seconds(_material: float, layers: int, printer: PrinterFile) -> float:
    resin = printer.resin
    longer = min(layers, resin.first_layers) * (resin.first_exposure - resin.exposure)
    return layers * (resin.exposure + resin.lift) + longer


def _resin_formula(printer: PrinterFile) -> str:
    r = printer.resin
    return (
        f"Millilitres: volume x (1 + {r.waste:g} for losses + {r.supports:g} for supports). Hours: layers of "
        f"{printer.layers.height:g} mm x ({r.exposure:g} s + {r.lift:g} s), the first {r.first_layers} at "
        f"{r.first_exposure:g} s; how many parts share a plate does not matter."
    )


def _resin_to_buy(whole: Estimate, beds: int, printer: PrinterFile) -> list[list[object]]:
    r = printer.resin
    note = f"{whole.material / 1000:.0f} ml in the parts, {r.waste:.0%} for losses, {r.supports:.0%} for supports"
    wash = max(r.wash_bath, r.wash_share * whole.amount)
    return [
        ["resin", math.ceil(whole.amount), "ml", note],
        ["resin bottles", math.ceil(whole.amount / r.bottle), "", f"of {r.bottle:g} ml"],
        ["isopropyl alcohol", math.ceil(wash), "ml", "to wash with; burns easily, never into the drain"],
        ["nitrile gloves", beds, "pairs", "a fresh pair for each plate"],
    ]


PRINT_PROCESSES: Mapping[str, PrintProcess] = {
    "fdm": PrintProcess(
        material="filament",
        unit="m",
        amount="metres",
        places=3,
        total="{0.grams:.0f} g of filament",
        lays=_lays_filament,
        counts=lambda material, printer: material / (math.pi * printer.filament.diameter**2 / 4) / 1000,
        seconds=lambda material, layers, printer: material / flow_of(printer) + layers * printer.filament.layer_time,
        formula=_filament_formula,
        buys=_filament_to_buy,
        finish="Let everything cool to room temperature on the bed before you take it off, then scrape off what the "
        "first layer has pressed out: a burr spoils every reading.",
        lines=True,
    ),
    "resin": PrintProcess(
        material="resin",
        unit="ml",
        amount="resin_ml",
        places=2,
        total="{0.amount:.0f} ml of resin",
        lays=lambda mesh, _: mesh.volume,
        counts=lambda material, printer: material / 1000 * (1 + printer.resin.waste + printer.resin.supports),
        seconds=_resin_seconds,
        formula=_resin_formula,
        buys=_resin_to_buy,
        finish="Wash and cure the pieces as you do your tiles, and let them dry: readings change until then.",
        on_bed="A whole tile flat on the plate pulls hard at the film: if yours does not let go, tilt it 10 to 45 "
        "degrees on supports (common practice, no source).",
        traps=True,
    ),
}


def process_of(printer: PrinterFile) -> PrintProcess:
    """The row of a printer's process."""
    return PRINT_PROCESSES[printer.process]


def gap_of(printer: PrinterFile) -> float:
    """Between two parts on the bed, mm; with lines two brims and 1 mm or more (common practice, no source)."""
    return max(printer.spacing, 2 * printer.brim + 1) if process_of(printer).lines else printer.spacing
