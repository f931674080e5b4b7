"""What setting out gives: sheets, their drawings, the parts on them and what the builder must be told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tilegen.reading.models import MachineFile, MaterialFile
from tilegen.sheets.construction import Construction
from tilegen.sheets.drawing import SheetDrawing
from tilegen.sheets.kerf import Kerf
from tilegen.sheets.nest import Layout
from tilegen.sheets.parts import Part

Paper = Literal["A4", "Letter"]


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet of stock: what lies on it, the drawing for the machine and the one for the hand (kerf left out)."""

    name: str
    layout: Layout
    drawing: SheetDrawing
    nominal: SheetDrawing
    used: float


@dataclass(frozen=True, eq=False)
class SheetSet:
    """The flat half of a kit. kerf: the wider one that outlines allow for, 0 if they are nominal; mm.

    unlabelled: ids of parts too small for their number.
    """

    material: MaterialFile
    machine: MachineFile
    kerf: float
    sheets: tuple[Sheet, ...]
    parts: tuple[Part, ...]
    constructions: tuple[Construction, ...]
    notes: tuple[str, ...]
    unlabelled: tuple[str, ...]

    @property
    def kerf_words(self) -> str:
        """Whether the outlines in DXF and SVG allow for the kerf already."""
        return Kerf.of(self.machine.kerf_pair(self.material) if self.kerf else 0.0).words
