"""A page with a plan's map on it, to scale: heading, coordinates, ground, scale bar and notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tilegen.fit.floor import Spaces
from tilegen.geometry import Points, polygon_rings
from tilegen.lengths import MM_PER_INCH, Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, polyline, rectangle, text_width
from tilegen.pictures.plan_view import INK, LINE, SEAM, draw_doors, draw_ground, ground_plan
from tilegen.pictures.titles import runs, wrapped
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.placing import placed, placed_pieces
from tilegen.tiles.shape import CellShape

GROUND = "#ffffff"
FAINT = "#dcdcd8"
QUIET = "#565c63"
# Up to this size on the table the lettering is as large as given; on larger plans it grows with them.
PLAIN_MM = 600.0
NOTE_MM = 5.0
_BAND_MM, _HEAD_MM = 12.0, 27.0
_LEAST_PAGE_MM = 200.0


class MapPage:
    """One page. unit: what a millimetre of lettering is on it; (left, top): the drawing's north-west corner, mm.

    The canvas has no height before `finish`.
    """

    def __init__(self, drawing: Drawing, units: Units, what: str, *, least_width: float = 0.0) -> None:
        """what: named in the picture's title, after the plan's name; least_width: of what stands below, in units."""
        self.drawing, self.units = drawing, units
        rows, columns = drawing.rooms.shape
        self.side = drawing.cell_side
        self.width: float = columns * self.side
        self.height: float = rows * self.side
        self.unit: float = max(1.0, max(self.width, self.height) / PLAIN_MM)
        self.band = _BAND_MM * self.unit
        wide = max(self.width, least_width * self.unit) + 2 * self.band
        self.page_width = max(wide, _LEAST_PAGE_MM * self.unit)
        self.left, self.top = (self.page_width - self.width) / 2, self.band + _HEAD_MM * self.unit
        self.canvas = Canvas(self.page_width, 0.0, f"{drawing.name}: {what}", background=GROUND)

    @property
    def inner(self) -> float:
        """The width between the page's bands, mm."""
        return float(self.page_width - 2 * self.band)

    @property
    def below_map(self) -> float:
        """Where what stands below the map starts."""
        return float(self.top + self.height + self.band + 4.0 * self.unit)

    def heading(self, summary: str) -> None:
        """The plan's name and one line below it, made to fit."""
        for words, y, size, bold in ((self.drawing.name, 16.0, 11.0, True), (summary, 24.5, 5.4, False)):
            fitted = size * self.unit * min(1.0, self.inner / max(text_width(words, size * self.unit), 1e-9))
            self.canvas.text(self.band, y * self.unit, words, fitted, bold=bold, colour=INK if bold else QUIET)

    def coordinates(self) -> None:
        """Column and row numbers on all four sides."""
        rows, columns = self.drawing.rooms.shape
        size = min(6.5 * self.unit, self.side * 0.4)
        gap, middle = 3.0 * self.unit, CAP_HEIGHT * size / 2
        text = self.canvas.text
        for n in range(columns):
            x = self.left + (n + 0.5) * self.side
            text(x, self.top - gap, str(n + 1), size, "middle", colour=QUIET)
            text(x, self.top + self.height + gap + 2 * middle, str(n + 1), size, "middle", colour=QUIET)
        for n in range(rows):
            y = self.top + (n + 0.5) * self.side + middle
            text(self.left - gap, y, str(n + 1), size, "end", colour=QUIET)
            text(self.left + self.width + gap, y, str(n + 1), size, colour=QUIET)

    def ground(self, *, hatched: bool = True) -> None:
        """The squares of the drawing, and under the floor what shows through the seams."""
        rows, columns = self.drawing.rooms.shape
        right, bottom = self.left + self.width, self.top + self.height
        xs = [self.left + n * self.side for n in range(columns + 1)]
        ys = [self.top + n * self.side for n in range(rows + 1)]
        lines = [polyline((x, self.top), (x, bottom)) for x in xs] + [polyline((self.left, y), (right, y)) for y in ys]
        floor = self.drawing.rooms != 0
        off_grid = self.drawing.off_grid
        if off_grid is not None:
            floor = floor & off_grid.whole
        solid, covered = (
            [rectangle(xs[a], ys[row], xs[b], ys[row + 1]) for row in range(rows) for a, b in runs(cells[row])]
            for cells in (~floor, floor)
        )
        hatch = Hatch(FAINT, 4.0 * self.unit, 0.4 * self.unit) if hatched else None
        self.canvas.area(solid, GROUND, hatch=hatch)
        self.canvas.line(lines, FAINT, 0.6 * self.unit)
        self.canvas.area(covered, SEAM)
        if off_grid is not None:
            corner = np.array([self.left, self.top])
            for region in off_grid.regions.values():
                self.canvas.area(
                    [tuple(ring * (1.0, -1.0) + corner for ring in rings) for rings in polygon_rings(region)], SEAM
                )

    def tiles(self, kit: Kit, spaces: Spaces) -> None:
        """All tiles and door pieces in place, with the lines between spaces whether or not the floor carries them."""
        own = {t.tile.id: ground_plan(t.tile) for t in kit.types}
        plans = []
        for tile_type, turn in placed(kit, self.drawing):
            there = replace(turn, x=turn.x + self.left, y=turn.y + self.top)
            plan = own[tile_type.tile.id]
            # Tiles off the grid have their own lines, where their floor carries any.
            on_grid = isinstance(tile_type.tile.shape, CellShape)
            plans.append((replace(plan, lines=()) if on_grid else plan).placed(there))
        corner = np.array([self.left, self.top])
        thin = 0.5 * min(self.unit, 2.0)
        draw_ground(self.canvas, plans, edge=thin)
        self.canvas.line([line + corner for line in space_lines(spaces)], LINE, 0.8 * thin)
        doors = {p.piece.id: ground_plan(p.piece) for p in kit.pieces}
        pieces = []
        for piece_type, turn in placed_pieces(kit, self.drawing):
            there = replace(turn, x=turn.x + self.left, y=turn.y + self.top)
            pieces.append(doors[piece_type.piece.id].placed(there))
        draw_doors(self.canvas, pieces)

    def scale_bar(self, y: float) -> float:
        """A bar with its length on the table; returns the y below it."""
        x, unit = self.band, self.unit
        steps = (1, 2, 5, 10, 20, 50) if self.units == "mm" else (1, 2, 3, 6, 12, 24)
        one = 100.0 if self.units == "mm" else 4 * float(MM_PER_INCH)
        length = max([one * step for step in steps if one * step <= 130 * unit], default=one)
        parts, height = 4 if self.units == "in" else 5, 3.0 * unit
        boxes = [rectangle(x + length * n / parts, y, x + length * (n + 1) / parts, y + height) for n in range(parts)]
        self.canvas.area(boxes[1::2], GROUND, stroke=INK, width=0.4 * unit)
        self.canvas.area(boxes[::2], INK, stroke=INK, width=0.4 * unit)
        words = f"{show_length(length, self.units)} on the table"
        self.canvas.text(x + length + 4 * unit, y + height, words, NOTE_MM * unit, colour=QUIET)
        return y + height

    def notes(self, y: float, notes: Sequence[str]) -> float:
        """Lines of text across the page; returns the y below."""
        size = NOTE_MM * self.unit
        for note in notes:
            for line in wrapped(note, size, self.inner, " "):
                y += 1.5 * size
                self.canvas.text(self.band, y, line, size, colour=QUIET)
        return y + 0.5 * size

    def finish(self, below: float) -> Canvas:
        """The canvas, as high as what stands on it."""
        self.canvas.height = below + 8.0 * self.unit
        return self.canvas


def space_lines(spaces: Spaces) -> list[Points]:
    """The lines between the spaces of one cell, from the drawing's north-west corner, as far as no wall covers them."""
    k, pitch, wall = spaces.drawing.cell_spaces, spaces.drawing.grid.pitch, spaces.drawing.grid.wall_thickness
    row, column = np.nonzero(spaces.floor if spaces.off_grid is None else spaces.floor & ~spaces.off_grid.spaces)
    north, east, south, west = ((spaces.strips[row, column] >> side & 1) * wall for side in range(4))
    upright, level = column % k != 0, row % k != 0
    x, y = column * pitch, row * pitch
    down = np.stack([np.stack([x, y + north], axis=1), np.stack([x, y + pitch - south], axis=1)], axis=1)[upright]
    along = np.stack([np.stack([x + west, y], axis=1), np.stack([x + pitch - east, y], axis=1)], axis=1)[level]
    return [*down, *along]
