"""The four ways to place a wall, side by side on the same piece of the user's map."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.fit.figures import INCH
from tilegen.fit.placements import WallPlacement
from tilegen.geometry import Points, polygon_rings
from tilegen.lengths import Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, Rings, polyline, text_width
from tilegen.pictures.key import WHITE, KeyEntry, cross_mark, disc_mark, draw_key, swatch
from tilegen.pictures.page import QUIET
from tilegen.pictures.piece_view import Gap, LaidPiece
from tilegen.pictures.plan_view import FLOOR, INK, SEAM, WALL
from tilegen.pictures.stand import circle, cross
from tilegen.pictures.titles import wrapped
from tilegen.pictures.window import Window, choose_window
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit

PRINTED = "#9a9384"
# The base that is tried: one of two spaces.
LARGE_MM = 2 * INCH
WORDS = {
    "inset": ("Inset", "on the tile, inside its footprint; the grid has room for the wall"),
    "on-square": ("On the squares", "on the tile, over its own printed squares"),
    "outboard": ("Outboard", "beside the tile, outside its footprint"),
    "outboard-half-step": ("Outboard, half a step", "beside the tile, the printed squares shifted by half"),
}
# A page is as large as if the piece were so wide, mm; lettering grows with larger ones.
_PLAIN_MM = 290.0
_BAND, _BETWEEN = 12.0, 18.0


def placements_canvas(
    drawing: Drawing, kit: Kit, placements: Sequence[WallPlacement], *, units: Units = "mm", base: float = LARGE_MM
) -> Canvas:
    """Four drawings of one piece of the map, all at one scale, with what each way costs.

    placements: the four of `placements_on`; their clash and gap are those of the whole map. base: the figure
    that is tried, mm. Walls beside the tile are drawn twice: as the map has it, and pushed apart until they fit.
    """
    return _Panels(choose_window(drawing, kit), placements, units, base).canvas


class _Panels:
    """Draws the page: two columns, the ways on the tile above, those beside it below."""

    def __init__(self, window: Window, placements: Sequence[WallPlacement], units: Units, base: float) -> None:
        self.window, self.units, self.base = window, units, base
        columns: list[list[tuple[WallPlacement, list[LaidPiece]]]] = [[], []]
        for number, placement in enumerate(placements):
            pieces = [LaidPiece(window, placement)]
            if placement.name.startswith("outboard"):
                pieces.append(LaidPiece(window, placement, window.laying(2 * placement.wall_thickness)))
            columns[number % 2].append((placement, pieces))
        sizes = [piece.bounds() for column in columns for _, pieces in column for piece in pieces]
        widest = max(east - west for west, _, east, _ in sizes)
        self.unit = unit = max(0.6, widest / _PLAIN_MM)
        self.column = max(widest, 200.0 * unit)
        width = 2 * self.column + (_BETWEEN + 2 * _BAND) * unit
        self.canvas = Canvas(width, 0.0, f"{window.drawing.name}: four ways to place a wall")
        below = self._heading()
        for row in range(max(len(column) for column in columns)):
            ends = [self._panel(n, below, *column[row]) for n, column in enumerate(columns) if row < len(column)]
            below = max(ends) + 10.0 * unit
        self.canvas.height = self._key(below) + 8.0 * unit

    def _heading(self) -> float:
        unit, window = self.unit, self.window
        rows, columns = window.shape
        self.canvas.text(_BAND * unit, 16.0 * unit, "Four ways to place a wall", 11.0 * unit, bold=True, colour=INK)
        words = (
            f"{window.drawing.name}, columns {window.left + 1} to {window.left + columns}, rows {window.top + 1} to "
            f"{window.top + rows}: the same piece of the map four times, to one scale. Numbers are for the whole map."
        )
        self.canvas.description = words
        y = 17.5 * unit
        for line in wrapped(words, 5.4 * unit, self.canvas.width - 2 * _BAND * unit, " "):
            y += 7.0 * unit
            self.canvas.text(_BAND * unit, y, line, 5.4 * unit, colour=QUIET)
        return y + 10.0 * unit

    def _panel(self, number: int, top: float, placement: WallPlacement, pieces: list[LaidPiece]) -> float:
        unit = self.unit
        left = _BAND * unit + number * (self.column + _BETWEEN * unit)
        title, words = WORDS[placement.name]
        self.canvas.text(left, top + 6.5 * unit, title, 8.0 * unit, bold=True)
        y = top + 7.3 * unit
        for line in (words, *self._caption(placement)):
            y += 7.2 * unit
            self.canvas.text(left, y, line, 5.6 * unit)
        y += 5.0 * unit
        for piece in pieces:
            if len(pieces) > 1:
                y += 7.0 * unit
                self.canvas.text(left, y, self._said(piece), 5.4 * unit, bold=True, colour=QUIET)
                y += 4.0 * unit
            west, north, _, south = piece.bounds()
            self._draw(piece, left - west, y - north)
            y += south - north + 3.0 * unit
        return y

    def _said(self, piece: LaidPiece) -> str:
        if piece.laying is None:
            clash = any(bar.clash for bar in piece.bars)
            return "As the map has it: walls want the same place" if clash else "As the map has it"
        return f"Pushed apart until the walls fit: it {'cracks' if piece.gaps() else 'closes'}"

    def _caption(self, placement: WallPlacement) -> list[str]:
        def show(mm: float) -> str:
            return show_length(mm, self.units)

        area = placement.clash_area / (INCH**2 if self.units == "in" else 1.0)
        square = f"{area:.{2 if self.units == 'in' else 1}f}".rstrip("0").rstrip(".")
        clash = f"walls clash on {square} sq {self.units}" if placement.clash_area else "no wall clashes"
        gap = f"worst gap {show(placement.worst_gap)}" if placement.worst_gap else "no gap: it closes"
        aligned = show(placement.largest_aligned) if placement.largest_aligned else "none"
        return [
            f"Spaces {show(placement.pitch)}, walls {show(placement.wall_thickness)}; a 10 ft hall keeps "
            f"{show(placement.hall_clear)} clear",
            f"Largest base in it {show(placement.largest_base)}; if it keeps to whole squares {aligned}",
            f"Whole map: {clash}; {gap}",
        ]

    # --- one drawing ---

    def _draw(self, piece: LaidPiece, x: float, y: float) -> None:
        """(x, y): where the piece's own origin falls on the page."""
        canvas, unit = self.canvas, self.unit
        move = np.array([x, y])

        def rings(shapes: Iterable[BaseGeometry]) -> list[Rings]:
            return [tuple(ring + move for ring in found) for found in polygon_rings(shapely.union_all(list(shapes)))]

        floors = [ring for tile in piece.tiles for found in rings([tile]) for ring in found]
        canvas.area([(ring,) for ring in floors], FLOOR)
        canvas.line([line + move for line in piece.lines()], PRINTED, 0.45 * unit)
        canvas.line([np.concatenate([ring, ring[:1]]) for ring in floors], SEAM, 0.8 * unit)
        bars = [bar for bar in piece.bars if not bar.clash]
        canvas.area(rings(bar.box for bar in bars), WHITE, stroke=WALL, width=0.4 * unit)
        canvas.area(rings([*(bar.solid for bar in bars), *piece.posts]), WALL)
        canvas.area(
            rings(bar.box for bar in piece.bars if bar.clash),
            WHITE,
            hatch=self._clash_hatch(),
            stroke=INK,
            width=0.6 * unit,
        )
        for gap in piece.gaps():
            self._gap(gap, x, y)
        if piece.laying is not None or not piece.outboard:
            self._figure(piece, x, y)

    def _clash_hatch(self) -> Hatch:
        return Hatch(INK, 2.6 * self.unit, 0.5 * self.unit, "crossed")

    def _gap(self, gap: Gap, x: float, y: float) -> None:
        """A crack with its width."""
        unit = self.unit
        west, north, east, south = gap.box.bounds
        west, north, east, south = west + x, north + y, east + x, south + y
        corners = [(west, north), (east, north), (east, south), (west, south), (west, north)]
        self.canvas.line([polyline(*corners)], INK, 0.7 * unit, dash=2.0 * unit)
        width = east - west if gap.level else south - north
        middle = ((west + east) / 2, (north + south) / 2)
        size, words = 6.0 * unit, show_length(width, self.units)
        room = text_width(words, size)
        if gap.level:
            arrow = [(west, middle[1] + 5 * unit), (east, middle[1] + 5 * unit)]
            self.canvas.text(middle[0], middle[1] + 0.5 * unit, words, size * min(1.0, 0.94 * width / room), "middle")
        else:
            arrow = [(west + 6 * unit, north), (west + 6 * unit, south)]
            self.canvas.text(west + 9 * unit, middle[1] + CAP_HEIGHT * size / 2, words, size)
        self.canvas.line([polyline(*arrow), *_heads(arrow, 2.0 * unit)], INK, 0.5 * unit)

    def _figure(self, piece: LaidPiece, x: float, y: float) -> None:
        found = piece.stand(self.base)
        if found is None:
            return
        unit, x, y = self.unit, x + found.x, y + found.y
        line = 1.1 * unit
        ring = circle(x, y, self.base / 2 - line / 2)
        words = show_length(self.base, self.units)
        if found.stands:
            self.canvas.discs(np.array([[x, y]]), self.base / 2, WHITE, stroke=INK, width=line)
            self.canvas.text(x, y + 1.8 * unit, words, 5.4 * unit, "middle", bold=True)
            if piece.placement.largest_aligned < self.base - 1e-6:
                self.canvas.text(x, y + 8.2 * unit, "off the squares", 4.4 * unit, "middle")
            return
        self.canvas.line([ring], WHITE, 2.6 * line)
        self.canvas.line([ring], INK, line, dash=3.0 * unit)
        arms = cross(x, y, 0.26 * self.base)
        self.canvas.line(arms, WHITE, 4.4 * unit)
        self.canvas.line(arms, INK, 2.2 * unit)

    def _key(self, top: float) -> float:
        base = show_length(self.base, self.units)
        entries = [
            KeyEntry(swatch(None, WALL), "wall"),
            KeyEntry(swatch(self._clash_hatch(), WHITE), "clash: a wall on the neighbour's floor"),
            KeyEntry(_gap_mark, "gap that stays open"),
            KeyEntry(disc_mark, f"a base of {base} stands"),
            KeyEntry(cross_mark, "it does not stand"),
        ]
        at = (_BAND * self.unit, top)
        return draw_key(self.canvas, entries, at, width=self.canvas.width - 2 * at[0], size=5.6 * self.unit)


def _gap_mark(canvas: Canvas, x: float, y: float, side: float) -> None:
    corners = [(x, y), (x + side, y), (x + side, y + side), (x, y + side), (x, y)]
    canvas.line([polyline(*corners)], INK, 0.07 * side, dash=0.2 * side)
    arrow = [(x, y + side / 2), (x + side, y + side / 2)]
    canvas.line([polyline(*arrow), *_heads(arrow, 0.2 * side)], INK, 0.06 * side)


def _heads(arrow: list[tuple[float, float]], size: float) -> list[Points]:
    """The two open heads of a dimension arrow that is upright or level."""
    (x0, y0), (x1, y1) = arrow
    half = 0.5 * size
    if y0 == y1:
        return [
            polyline((x0 + size, y0 - half), (x0, y0), (x0 + size, y0 + half)),
            polyline((x1 - size, y1 - half), (x1, y1), (x1 - size, y1 + half)),
        ]
    return [
        polyline((x0 - half, y0 + size), (x0, y0), (x0 + half, y0 + size)),
        polyline((x1 - half, y1 - size), (x1, y1), (x1 + half, y1 - size)),
    ]
