"""Papers, and how a sheet is spread over pages of them: which pages there are and what each of them shows."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon

from tilegen.lengths import MM_PER_INCH
from tilegen.model.materials import BLANK_EDGE_MM
from tilegen.model.words import Paper
from tilegen.sheets.drawing import LAYERS, SheetDrawing

_INCH = float(MM_PER_INCH)
# Width and height in mm, upright: ISO 216 for A; ANSI/ASME Y14.1 sizes A (Letter) and B (Tabloid).
PAPERS: dict[Paper, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "A0": (841.0, 1189.0),
    "Letter": (8.5 * _INCH, 11.0 * _INCH),
    "Tabloid": (11.0 * _INCH, 17.0 * _INCH),
}


OVERLAP_MM = 10.0
BAR_MM = 100.0
# Printers leave 5 to 10 mm of an edge blank (common practice, no source); the bars and the title need room besides.
_LEFT, _BOTTOM, _RIGHT, _TOP = 18.0, 18.0, 10.0, 15.0


# How much room a bar beside parts takes across, with its words; how far it stays from them; where it is tried.
BAR_ROOM_MM = 4.5
_BAR_CLEAR_MM, _BAR_STEP_MM = 1.0, 2.0


class BarPlace(NamedTuple):
    """The least corner of a bar with its words on a page, mm. upright: it stands."""

    x: float
    y: float
    upright: bool


def bar_beside(drawing: SheetDrawing) -> BarPlace | None:
    """Where a page with parts has room for a bar that the printer reaches; None: nowhere."""
    (width, height), edge = drawing.size, BLANK_EDGE_MM
    parts = [Polygon(stroke.points) for stroke in drawing.strokes if stroke.layer == "CUT_OUTER"]
    taken = shapely.union_all(parts).buffer(_BAR_CLEAR_MM)
    shapely.prepare(taken)
    for upright in (False, True):
        wide, high = (BAR_ROOM_MM, BAR_MM) if upright else (BAR_MM, BAR_ROOM_MM)
        xs, ys = (
            np.unique([*np.arange(edge, most, _BAR_STEP_MM), most])
            for most in (width - edge - wide, height - edge - high)
        )
        x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
        free = ~shapely.intersects(taken, shapely.box(x, y, x + wide, y + high))
        if free.any():
            first = int(np.argmax(free))
            return BarPlace(float(x[first]), float(y[first]), upright)
    return None


@dataclass(frozen=True, slots=True)
class Frame:
    """A page in mm and, inside it, the window that shows a piece of the sheet."""

    paper_width: float
    paper_height: float
    left: float = _LEFT
    bottom: float = _BOTTOM

    @property
    def width(self) -> float:
        """Of the window."""
        return self.paper_width - _LEFT - _RIGHT

    @property
    def height(self) -> float:
        """Of the window."""
        return self.paper_height - _BOTTOM - _TOP


@dataclass(frozen=True, eq=False, slots=True)
class Tiling:
    """A sheet on pages; rows from the top, columns from the left, both from 0. pages: those that show something."""

    drawing: SheetDrawing
    turned: bool
    frame: Frame
    rows: int
    columns: int
    pages: tuple[tuple[int, int], ...]

    @property
    def size(self) -> tuple[float, float]:
        """Of the sheet as it lies on the pages."""
        width, height = self.drawing.size
        return (height, width) if self.turned else (width, height)

    def corner(self, row: int, column: int) -> tuple[float, float]:
        """The point of the sheet in the lower left corner of a page's window."""
        # From the sheet's top down, so that what the last row has to spare stays blank at its bottom.
        step = self.frame.height - OVERLAP_MM
        return column * (self.frame.width - OVERLAP_MM), self.size[1] - self.frame.height - row * step

    def window(self, row: int, column: int) -> tuple[float, float, float, float]:
        """What a page shows of the sheet: least and greatest x and y."""
        x, y = self.corner(row, column)
        return x, max(y, 0.0), min(x + self.frame.width, self.size[0]), y + self.frame.height

    def crosses(self, row: int, column: int) -> Iterator[tuple[float, float]]:
        """Where a page's crosses stand on the sheet: in the middle of what it shares with its neighbours."""
        x, y = self.corner(row, column)
        half = OVERLAP_MM / 2
        for right in (False, True):
            for upper in (False, True):
                beside = column + (1 if right else -1)
                above = row + (-1 if upper else 1)
                if 0 <= beside < self.columns or 0 <= above < self.rows:
                    yield (
                        x + (self.frame.width - half if right else half),
                        y + (self.frame.height - half if upper else half),
                    )


def tile_pages(drawing: SheetDrawing, frame: Frame) -> Tiling:
    """The way to lay a sheet on pages, straight or turned by 90 degrees, that takes fewer of them."""
    straight, across = _tiling(drawing, frame, turned_left=False), _tiling(drawing, frame, turned_left=True)
    return across if len(across.pages) < len(straight.pages) else straight


def turned(drawing: SheetDrawing) -> SheetDrawing:
    """The drawing turned to the left by 90 degrees."""
    width, height = drawing.size
    strokes = tuple(
        replace(s, points=np.stack([height - s.points[:, 1], s.points[:, 0]], axis=1)) for s in drawing.strokes
    )
    return replace(drawing, size=(height, width), strokes=strokes)


def _tiling(drawing: SheetDrawing, frame: Frame, *, turned_left: bool) -> Tiling:
    width, height = drawing.size[::-1] if turned_left else drawing.size
    columns, rows = _count(width, frame.width), _count(height, frame.height)
    empty = Tiling(drawing, turned_left, frame, rows, columns, ())
    bounds = drawing.bounds[[LAYERS[stroke.layer].made for stroke in drawing.strokes]]
    if turned_left:
        west, south, east, north = bounds.T
        bounds = np.stack([drawing.size[1] - north, west, drawing.size[1] - south, east], axis=1)
    pages = []
    for row in range(rows):
        for column in range(columns):
            x0, y0, x1, y1 = empty.window(row, column)
            meets = (bounds[:, 0] <= x1) & (bounds[:, 2] >= x0) & (bounds[:, 1] <= y1) & (bounds[:, 3] >= y0)
            if meets.any():
                pages.append((row, column))
    return replace(empty, pages=tuple(pages))


def _count(side: float, window: float) -> int:
    return max(1, math.ceil((side - OVERLAP_MM) / (window - OVERLAP_MM) - 1e-9))
