"""What is in sight from one cell: plain floor in sight, the rest hatched, and the tiles that must lie on the table."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import shapely

from tilegen.fit.floor import Bools, Spaces, spaces_of
from tilegen.geometry import polygon_rings
from tilegen.lengths import Units, counted
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, rectangle, text_width
from tilegen.pictures.layout import Legend, tile_entries
from tilegen.pictures.map_page import NOTE_MM, QUIET, Box, KeyEntry, MapPage, RoomTitles, clear_region, draw_key, swatch
from tilegen.pictures.tile_view import FLOOR, INK
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.layout import Place, lay
from tilegen.plans.refusals import check_in_room

TITLE_MM = 7.0


def sight_canvas(
    drawing: Drawing, kit: Kit, seen: Bools, cell: Place, *, doors_open: bool = False, units: Units = "mm"
) -> Canvas:
    """The plan with what is in sight from a cell, and how many tiles of each type that takes.

    seen: (rows, columns), from `visible_from` of the same drawing, kit and doors. cell: column and row from 1.

    Raises:
        InputError: the cell is outside the drawing or solid ground.
        ValueError: `seen` or the kit is not of this drawing.
    """
    if seen.shape != drawing.rooms.shape:
        raise ValueError("what is in sight is not of this drawing")
    check_in_room(cell, drawing.rooms)
    return _SightMap(drawing, kit, seen, cell, units, doors_open=doors_open).canvas


def tiles_in_sight(drawing: Drawing, kit: Kit, seen: Bools) -> tuple[int, ...]:
    """How many tiles of each of the kit's types have a cell in sight."""
    laid = lay(drawing, kit)
    tiles = np.unique(laid.tile_of[seen & (laid.tile_of >= 0)])
    counted_types = Counter(laid.type_of[tiles].tolist())
    return tuple(counted_types[n] for n in range(len(kit.types)))


class _SightMap:
    """Draws one picture, from the ground up."""

    def __init__(self, drawing: Drawing, kit: Kit, seen: Bools, cell: Place, units: Units, *, doors_open: bool) -> None:
        self.drawing, self.kit, self.cell = drawing, kit, cell
        counts = tiles_in_sight(drawing, kit, seen)
        entries = [
            replace(entry, count=count)
            for entry, count in zip(tile_entries(kit).values(), counts, strict=True)
            if count
        ]
        self.page = page = MapPage(drawing, units, "what is in sight", least_width=Legend(entries, 1.0, 0.0).column)
        self.canvas, self.unit = page.canvas, page.unit
        doors = "doors open" if doors_open else "doors shut"
        summary = (
            f"In sight from column {cell[0]}, row {cell[1]}, {doors}: {sum(counts)} of {counted(kit.tiles, 'tile')}, "
            f"of {counted(len(entries), 'type')}."
        )
        page.heading(summary)
        self.canvas.description = f"{summary} The rest of the floor is hatched."
        page.coordinates()
        page.ground(hatched=False)
        spaces = spaces_of(drawing)
        page.tiles(kit, spaces)
        self.hatch = Hatch(INK, min(3.4 * self.unit, page.side / 4), min(0.55 * self.unit, page.side / 24))
        hidden = self._hatch_unseen(spaces, seen)
        homeless = self._titles(self._here())
        below = self._key(page.scale_bar(page.below_map), hidden=hidden)
        if homeless:
            below = page.notes(below, [f"Titles without space on the plan: {'; '.join(homeless)}."])
        below += 3.0 * self.unit
        legend = Legend(entries, self.unit, kit.grid.tile_side, "in sight")
        legend.draw(self.canvas, page.band, below, page.inner)
        page.finish(below + legend.height(page.inner))

    def _hatch_unseen(self, spaces: Spaces, seen: Bools) -> bool:
        """Hatch the floor that is out of sight; whether there is any."""
        k = self.drawing.cell_spaces
        floor = spaces.floor if spaces.off_grid is None else spaces.floor | spaces.off_grid.spaces
        hidden = floor & ~seen.repeat(k, axis=0).repeat(k, axis=1)
        if hidden.any():
            region = clear_region(spaces, hidden, (self.page.left, self.page.top))
            self.canvas.area(polygon_rings(region), "", hatch=self.hatch)
        return bool(hidden.any())

    def _here(self) -> list[Box]:
        """The viewer's tile: its edge, a dot in the cell and a word."""
        page, unit = self.page, self.unit
        tile_of = lay(self.drawing, self.kit).tile_of
        column, row = self.cell[0] - 1, self.cell[1] - 1
        own = [
            shapely.box(c * page.side, r * page.side, (c + 1) * page.side, (r + 1) * page.side)
            for r, c in np.argwhere(tile_of == tile_of[row, column]).tolist()
        ]
        edge = 0.03 * page.side
        outline = shapely.union_all(own).buffer(-edge, join_style="mitre")
        corner = np.array([page.left, page.top])
        rings = [ring + corner for rings in polygon_rings(outline) for ring in rings]
        self.canvas.line([np.concatenate([ring, ring[:2]]) for ring in rings], INK, 2 * edge)
        x, y = page.left + (column + 0.5) * page.side, page.top + (row + 0.5) * page.side
        size = min(max(7.0 * unit, 0.2 * page.side), 0.3 * page.side)
        radius = 0.12 * page.side
        self.canvas.discs(np.array([[x, y - 0.6 * size]]), radius, INK)
        half = text_width("here", size) / 2 + 0.2 * size
        top = y - 0.6 * size + radius + 0.25 * size
        box = (x - half, top, x + half, top + 1.1 * size)
        self.canvas.area([rectangle(*box)], FLOOR)
        self.canvas.text(x, top + 0.2 * size + CAP_HEIGHT * size, "here", size, "middle", bold=True)
        return [(x - max(half, radius), y - 0.6 * size - radius, x + max(half, radius), box[3])]

    def _titles(self, taken: list[Box]) -> list[str]:
        corner = (self.page.left, self.page.top)
        return RoomTitles(self.drawing, taken, corner, TITLE_MM * min(self.unit, 2.0)).draw(self.canvas)

    def _key(self, top: float, *, hidden: bool) -> float:
        unit = self.unit
        entries = [KeyEntry(swatch(None), "in sight: lies on the table")]
        if hidden:
            entries.append(KeyEntry(swatch(Hatch(INK, 2.2 * unit, 0.4 * unit)), "out of sight: need not lie"))
        at = (self.page.band, top + 5.0 * unit)
        below = draw_key(self.canvas, entries, at, width=self.page.inner, size=NOTE_MM * unit)
        self.canvas.text(
            self.page.band, below + 11.0 * unit, "Tiles in sight", 1.3 * NOTE_MM * unit, bold=True, colour=QUIET
        )
        return below + 12.0 * unit
