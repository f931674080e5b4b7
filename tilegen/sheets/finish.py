"""From outlines to the paths of one machine: arcs, order and what else its file asks for."""

from __future__ import annotations

from dataclasses import replace

from tilegen.reading.models import MachineFile
from tilegen.sheets.drawing import SheetDrawing
from tilegen.sheets.order import in_cutting_order
from tilegen.sheets.rulers import with_ticks
from tilegen.sheets.wire import as_one_line


def finished(drawing: SheetDrawing, machine: MachineFile) -> SheetDrawing:
    """The drawing as the machine is to cut it."""
    rules = machine.paths
    if not rules.arcs:
        drawing = replace(drawing, strokes=tuple(replace(s, arcs=()) for s in drawing.strokes))
    if rules.shape == "one line":
        drawing = as_one_line(drawing)
    drawing = in_cutting_order(drawing)
    return with_ticks(drawing) if rules.gang_cuts else drawing


def for_the_hand(drawing: SheetDrawing, machine: MachineFile) -> SheetDrawing:
    """The drawing of the finished parts for who cuts along the line."""
    return with_ticks(drawing) if machine.paths.gang_cuts else drawing
