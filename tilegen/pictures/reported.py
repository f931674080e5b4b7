"""What a report is made from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.route import Stop
from tilegen.reading.printer_models import PrinterFile
from tilegen.sheets.sheetset import SheetSet
from tilegen.solids.build import Mesh
from tilegen.solids.job import PrintJob
from tilegen.tiles.doors import Things


@dataclass(frozen=True)
class Report:
    """What a report is made from; files: what else the run made, by path; numbers: of the types in the layout.

    notes: all of them; cutting: those that speak of sheets.
    """

    drawing: Drawing
    kit: Kit
    things: Things
    meshes: Sequence[Mesh]
    sheets: Sequence[SheetSet]
    files: Mapping[str, bytes]
    notes: tuple[str, ...]
    printer: PrinterFile
    stops: Sequence[Stop] = ()
    job: PrintJob | None = None
    connecting: Sequence[str] = ()
    numbers: Mapping[str, str] = field(default_factory=dict)
    cutting: Sequence[str] = ()
