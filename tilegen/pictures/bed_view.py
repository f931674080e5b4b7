"""A print bed from above: what lies on it, by name."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from tilegen.geometry import Points
from tilegen.lengths import counted
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas
from tilegen.pictures.lettering import text_width
from tilegen.pictures.page import QUIET
from tilegen.pictures.plan_view import FLOOR, INK
from tilegen.solids.beds import Printer
from tilegen.solids.formats import Item

_EDGE_MM = 8.0
_LETTERS_MM = 6.0


def bed_canvas(
    number: int, items: Sequence[Item], sizes: Mapping[str, tuple[float, float]], printer: Printer
) -> Canvas:
    """One bed; sizes: width and depth of each part by its name, as it stands unturned, in mm."""
    width, depth = printer.bed
    canvas = Canvas(
        width + 2 * _EDGE_MM,
        depth + 2 * _EDGE_MM,
        f"Bed {number}",
        f"{counted(len(items), 'part')} on a bed of {width:g} x {depth:g} mm.",
    )
    canvas.line([_ring(_EDGE_MM, _EDGE_MM, width, depth)], INK, 0.8)
    margin = printer.margin
    canvas.line(
        [_ring(_EDGE_MM + margin, _EDGE_MM + margin, width - 2 * margin, depth - 2 * margin)], QUIET, 0.3, dash=3.0
    )
    for item in items:
        across, along = sizes[item.name][::-1] if item.turned else sizes[item.name]
        # A bed is seen with its front edge at the bottom.
        x, y = _EDGE_MM + item.x, _EDGE_MM + depth - item.y - along
        canvas.area([(_ring(x, y, across, along)[:-1],)], FLOOR, stroke=INK, width=0.4)
        size = min(_LETTERS_MM, 0.9 * across * _LETTERS_MM / max(text_width(item.name, _LETTERS_MM), 1e-9), along * 0.8)
        canvas.text(x + across / 2, y + along / 2 + CAP_HEIGHT * size / 2, item.name, size, "middle")
    return canvas


def _ring(x: float, y: float, width: float, height: float) -> Points:
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)], np.float64)
