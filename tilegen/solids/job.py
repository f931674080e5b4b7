"""A print job: parts on beds, with what each part, each bed and the whole kit takes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from typing import Any

from tilegen.reading.printer_models import PrinterFile
from tilegen.solids.beds import set_out
from tilegen.solids.build import Mesh
from tilegen.solids.estimate import Estimate, estimate_part, formula, in_turn, together
from tilegen.solids.formats import Item


@dataclass(frozen=True)
class Bed:
    """One bed. used: share of its room that parts cover; height: of the highest part, mm."""

    name: str
    items: tuple[Item, ...]
    used: float
    height: float
    estimate: Estimate

    @property
    def counts(self) -> dict[str, int]:
        """How many of each part."""
        return dict(Counter(item.name for item in self.items))

    def record(self) -> dict[str, Any]:
        """For the JSON."""
        return {
            "name": self.name,
            "parts": len(self.items),
            "counts": self.counts,
            "used": round(self.used, 4),
            "height_mm": self.height,
            **self.estimate.record(),
        }


@dataclass(frozen=True)
class PrintJob:
    """All of a kit. parts: what one copy of each takes by itself; walls: their thicknesses in lines."""

    printer: PrinterFile
    beds: tuple[Bed, ...]
    parts: Mapping[str, Estimate]
    whole: Estimate
    walls: tuple[Mapping[str, float], ...] = ()

    @property
    def formula(self) -> str:
        """How the figures come about, in words."""
        return formula(self.printer)

    def record(self) -> dict[str, Any]:
        """For the JSON: the printer, each bed, the whole, and how that was reckoned."""
        return {
            "printer": self.printer.name,
            "process": self.printer.process,
            "beds": [bed.record() for bed in self.beds],
            **self.whole.record(),
            "formula": self.formula,
            **({"walls": [dict(wall) for wall in self.walls]} if self.walls else {}),
        }


def make_job(
    copies: Sequence[tuple[Mesh, int]], printer: PrinterFile, walls: Sequence[Mapping[str, float]] = ()
) -> PrintJob:
    """Parts, with the number wanted of each, set out and reckoned; walls: told along with it.

    Raises:
        InputError: a part larger than the bed.
    """
    parts = {mesh.name: estimate_part(mesh, printer) for mesh, _ in copies}
    meshes = {mesh.name: mesh for mesh, _ in copies}
    beds = []
    for number, items in enumerate(set_out(copies, printer), 1):
        counts = Counter(item.name for item in items)
        covered = fsum(meshes[name].size[0] * meshes[name].size[1] * n for name, n in counts.items())
        beds.append(
            Bed(
                f"bed-{number:02d}",
                tuple(items),
                covered / (printer.room[0] * printer.room[1]),
                max(meshes[name].size[2] for name in counts),
                together([(parts[name], n) for name, n in counts.items()], printer),
            )
        )
    return PrintJob(printer, tuple(beds), parts, in_turn([bed.estimate for bed in beds]), tuple(walls))
