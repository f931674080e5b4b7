"""What a picture is made of: areas, lines, discs and text, in millimetres with y down."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from tilegen.geometry import Points

# An outer ring and its holes, each (n, 2).
Rings = tuple[Points, ...]
Anchor = Literal["start", "middle", "end"]
Look = Literal["rising", "falling", "crossed", "dotted"]


@dataclass(frozen=True, slots=True)
class Hatch:
    """Lines at 45 degrees, or dots, over a fill. spacing: between lines or rows, in mm; width: of a line, of a dot.

    rising: from the lower left to the upper right; falling: the other way; crossed: both.
    """

    colour: str
    spacing: float
    width: float
    look: Look = "rising"


@dataclass(frozen=True, slots=True)
class Area:
    """Filled polygons that look alike, each with its holes, none over another.

    Without a fill the hatch lies over what is there.
    """

    polygons: tuple[Rings, ...]
    fill: str
    hatch: Hatch | None = None
    stroke: str = ""
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Line:
    """Lines that look alike. dash: length of the strokes and of the gaps in mm, 0 for a full line."""

    lines: tuple[Points, ...]
    stroke: str
    width: float
    dash: float = 0.0


@dataclass(frozen=True, slots=True)
class Discs:
    """Discs of one size, filled and outlined. centres: (n, 2); radius: to the outside of the outline, in mm."""

    centres: Points
    radius: float
    fill: str
    stroke: str = ""
    width: float = 0.0


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text. (x, y): on the baseline at the anchor; turn: clockwise degrees about it; halo: its backing."""

    x: float
    y: float
    words: str
    size: float
    anchor: Anchor = "start"
    turn: float = 0.0
    colour: str = "#23272d"
    bold: bool = False
    halo: str = ""


Shape = Area | Line | Discs | Text


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Rings:
    """An upright rectangle as rings."""
    return (np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)], np.float64),)


def polyline(*points: tuple[float, float]) -> Points:
    """Points as an array."""
    return np.array(points, np.float64)
