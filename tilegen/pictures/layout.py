"""Where tiles lie: on the table, every one numbered and with an arrow for its turn, with the legend; on a print bed."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np

from tilegen.geometry import Points
from tilegen.lengths import Units, counted, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Rings, rectangle, text_width
from tilegen.pictures.map_page import QUIET, Box, MapPage, RoomTitles, wrapped
from tilegen.pictures.tile_view import (
    FLOOR,
    INK,
    GroundPlan,
    draw_doors,
    draw_ground,
    ground_plan,
    heights_note,
    signs_note,
    write_names,
)
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, PieceType, TileType, hung_pieces, placed, placed_pieces
from tilegen.plans.layout import layout_numbers
from tilegen.solids.beds import Printer
from tilegen.solids.formats import Item

# The legend of a plan: number, small picture, name, id and count of every type of tile.


@dataclass(frozen=True)
class Entry:
    """One line of the legend."""

    key: str
    plan: GroundPlan
    name: str
    count: int
    any_way_round: bool = False
    door: bool = False
    odd: bool = False


class Legend:
    """Number, small picture, name and count of every type, in as many columns as the page has room for."""

    def __init__(self, entries: list[Entry], unit: float, tile_side: float, counted: str = "needed") -> None:
        """counted: what the counts are of."""
        self.counted = counted
        self.entries, self.unit, self.tile_side = entries, unit, tile_side
        self.size, self.row = 5.6 * unit, 19.0 * unit
        self.icon = 15.0 * unit
        names = max((text_width(entry.name, self.size) for entry in entries), default=0.0)
        self.column = 15.0 * unit + self.icon + 4.0 * unit + max(names, 30 * unit) + 22.0 * unit

    def _rows(self, width: float) -> tuple[int, int]:
        columns = max(1, min(int(width / self.column), len(self.entries)))
        return math.ceil(len(self.entries) / columns), columns

    def height(self, width: float) -> float:
        return self._rows(width)[0] * self.row

    def draw(self, canvas: Canvas, left: float, top: float, width: float) -> None:
        rows, columns = self._rows(width)
        pitch = width / columns
        for number, entry in enumerate(self.entries):
            self._entry(canvas, entry, left + number // rows * pitch, top + number % rows * self.row)

    def _entry(self, canvas: Canvas, entry: Entry, x: float, y: float) -> None:
        middle = y + self.row / 2
        canvas.text(x + 12 * self.unit, middle + 3.2 * self.unit, entry.key, 8.8 * self.unit, "end", bold=True)
        plan = entry.plan.small(x + 15 * self.unit + self.icon / 2, middle, self.icon, self.tile_side)
        if entry.door:
            draw_doors(canvas, [plan], line=0.3 * self.unit)
        else:
            draw_ground(canvas, [plan], edge=0.3 * self.unit, line=0.2 * self.unit)
        at = x + 19 * self.unit + self.icon
        canvas.text(at, middle - 0.8 * self.unit, entry.name, self.size)
        words = f"{entry.count} {self.counted}"
        canvas.text(at, middle + 6.0 * self.unit, words, 0.9 * self.size, colour=QUIET)


def tile_entries(kit: Kit) -> dict[str, Entry]:
    """The legend's lines for the tiles by their id, in the kit's order."""
    numbers = layout_numbers(kit)
    return {t.tile.id: _entry(numbers[t.tile.id], t) for t in kit.types}


def _entry(key: str, tile_type: TileType) -> Entry:
    tile = tile_type.tile
    same = len(set(tile.shape.turns)) == 1
    return Entry(key, ground_plan(tile), tile.name, tile_type.count, any_way_round=same, odd=not tile.on_grid)


def door_entries(kit: Kit) -> dict[str, Entry]:
    """The legend's lines for the loose pieces by their id."""
    numbers = layout_numbers(kit)

    def entry(piece_type: PieceType) -> Entry:
        piece = piece_type.piece
        return Entry(numbers[piece.id], ground_plan(piece), piece.name, piece_type.count, door=True)

    return {p.piece.id: entry(p) for p in kit.pieces}


# A print bed from above: what lies on it, by name.

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
        across, along = sizes[item.name][::-1] if item.turns % 2 else sizes[item.name]
        # A bed is seen with its front edge at the bottom.
        x, y = _EDGE_MM + item.x, _EDGE_MM + depth - item.y - along
        canvas.area([(_ring(x, y, across, along)[:-1],)], FLOOR, stroke=INK, width=0.4)
        size = min(_LETTERS_MM, 0.9 * across * _LETTERS_MM / max(text_width(item.name, _LETTERS_MM), 1e-9), along * 0.8)
        canvas.text(x + across / 2, y + along / 2 + CAP_HEIGHT * size / 2, item.name, size, "middle")
    return canvas


def _ring(x: float, y: float, width: float, height: float) -> Points:
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height), (x, y)], np.float64)


KEY_MM = 13.0
NAME_MM = 4.6
TITLE_MM = 8.0
# On plans this many times as large the names in the tiles could not be read: only the numbers stay.
NAMELESS = 2.0
# An arrow that points north in a square of side 1 about (0, 0).
_ARROW = np.array(
    [(0, -0.5), (0.36, 0.02), (0.11, 0.02), (0.11, 0.5), (-0.11, 0.5), (-0.11, 0.02), (-0.36, 0.02)], np.float64
)
_TURNED = (((1, 0), (0, 1)), ((0, -1), (1, 0)), ((-1, 0), (0, -1)), ((0, 1), (-1, 0)))


def layout_canvas(drawing: Drawing, kit: Kit, *, units: Units = "mm") -> Canvas:
    """The plan with every tile in place, coordinates, room titles, scale bar and legend.

    Raises:
        ValueError: a kit that is not of this drawing, or holds a tile off the grid; another unit.
    """
    if units not in get_args(Units):
        raise ValueError(f"units {units!r}: expected one of {', '.join(get_args(Units))}")
    return _Layout(drawing, kit, units).canvas


class _Layout:
    """Draws one layout, layer by layer, from the ground up."""

    def __init__(self, drawing: Drawing, kit: Kit, units: Units) -> None:
        self.drawing, self.kit, self.units = drawing, kit, units
        self.entries, self.doors = tile_entries(kit), door_entries(kit)
        # Of the first rooms of a map some types lie nowhere: their numbers are those of the whole map.
        entries = [entry for entry in (*self.entries.values(), *self.doors.values()) if entry.count]
        self.page = page = MapPage(drawing, units, "layout", least_width=Legend(entries, 1.0, 0.0).column)
        self.canvas, self.unit = page.canvas, page.unit
        self.left, self.top = page.left, page.top
        legend = Legend(entries, self.unit, kit.grid.tile_side)
        summary = self._summary()
        self.canvas.description = (
            f"{summary} Every tile is drawn in its place with the number of its type; its arrow points to the "
            "tile's own north. The legend names the types."
        )
        page.heading(summary)
        page.coordinates()
        page.ground()
        homeless = self._titles(self._tiles_and_pieces())
        below = page.notes(page.scale_bar(page.below_map), self._notes(homeless))
        legend.draw(self.canvas, page.band, below, page.inner)
        page.finish(below + legend.height(page.inner))

    def _summary(self) -> str:
        tiles, types = self.kit.tiles, sum(kind.count > 0 for kind in self.kit.types)
        doors = sum(piece.count for piece in self.kit.pieces)
        pieces = f" and {counted(doors, 'loose piece')}" if doors else ""
        size = f"{show_length(self.page.width, self.units)} x {show_length(self.page.height, self.units)} on the table"
        square = f"one numbered square is {self.drawing.scale}, {show_length(self.page.side, self.units)}"
        return f"{counted(tiles, 'tile')} of {counted(types, 'type')}{pieces}; {size}; {square}."

    def _tiles_and_pieces(self) -> list[Box]:
        """All that lies on the table, with numbers and arrows; returns the boxes of those."""
        plans, labels = [], []
        for tile_type, turn in placed(self.kit, self.drawing):
            entry = self.entries[tile_type.tile.id]
            plan = entry.plan.placed(replace(turn, x=turn.x + self.left, y=turn.y + self.top))
            plans.append(plan)
            labels.append(_Label(entry, plan, turn.quarter_turns, self.unit))
        draw_ground(self.canvas, plans, edge=0.5 * min(self.unit, 2.0))
        self.canvas.area([rectangle(*label.box) for label in labels], FLOOR)
        self.canvas.area([label.arrow for label in labels if not label.entry.any_way_round], QUIET)
        for label in labels:
            label.write(self.canvas)
        if self.unit < NAMELESS:
            write_names(self.canvas, [plan.features for plan in plans], [label.box for label in labels])
        self._pieces()
        return [label.box for label in labels]

    def _pieces(self) -> None:
        plans = []
        for piece_type, turn in placed_pieces(self.kit, self.drawing):
            entry = self.doors[piece_type.piece.id]
            plan = entry.plan.placed(replace(turn, x=turn.x + self.left, y=turn.y + self.top))
            plans.append((entry.key, plan))
        draw_doors(self.canvas, [plan for _, plan in plans])
        for key, plan in plans:
            points = np.concatenate([ring for rings in (plan.ways or plan.floor) for ring in rings])
            low, high = points.min(axis=0), points.max(axis=0)
            size = min(0.8 * float((high - low).min()), 9.0)
            x, y = ((low + high) / 2).tolist()
            self.canvas.text(x, y + CAP_HEIGHT * size / 2, key, size, "middle", bold=True)
        radius = 0.75 * self.drawing.grid.wall_thickness
        for hung, (across, down) in hung_pieces(self.kit, self.drawing):
            x, y, size = across + self.left, down + self.top, 1.3 * radius
            self.canvas.discs(np.array([(x, y)]), radius, "#ffffff", stroke=INK, width=0.5)
            key = self.doors[hung.piece.id].key
            self.canvas.text(x, y + CAP_HEIGHT * size / 2, key, size, "middle", bold=True)

    def _titles(self, labels: list[Box]) -> list[str]:
        """The rooms' titles on their floors; returns what finds no place there, with where the room starts."""
        writer = RoomTitles(self.drawing, labels, (self.left, self.top), TITLE_MM * min(self.unit, 2.0))
        return writer.draw(self.canvas)

    def _notes(self, homeless: list[str]) -> list[str]:
        """How to read the picture, below the scale bar."""
        notes = ["Arrow: where the top of the tile's picture below points. No arrow: it lies any way round."]
        if any(p.piece.over_seam for p in self.kit.pieces):
            notes[0] += " Hatched: door pieces, stood over the seam last."
        if any(p.piece.hung for p in self.kit.pieces):
            notes[0] += " In a ring: the leaf of that doorway."
        notes += signs_note([entry.plan.features for entry in self.entries.values()])
        notes += heights_note(self.drawing, self.units)
        if homeless:
            notes.append(f"Titles without space on the plan: {'; '.join(homeless)}.")
        return notes


class _Label:
    """A tile's number, its arrow beside it and its name below, in the largest free circle of its floor."""

    def __init__(self, entry: Entry, plan: GroundPlan, turns: int, unit: float) -> None:
        self.entry = entry
        x, y = plan.label
        self.size = size = min(KEY_MM * min(unit, 1.5), 0.62 * plan.reach if unit < NAMELESS else 0.75 * plan.reach)
        names = wrapped(entry.name, NAME_MM, 1.75 * plan.reach, "-")
        roomy = plan.reach > 1.5 * KEY_MM and len(names) <= 2 and unit < NAMELESS and not entry.odd
        self.names = names if roomy else []
        width = text_width(entry.key, size)
        arrow, gap = (0.0, 0.0) if entry.any_way_round else (0.8 * size, 0.18 * size)
        cap = CAP_HEIGHT * size
        # A tile with room for its name keeps the number low, so that a room's title finds space above it.
        self.baseline = y + cap / 2 + (1.0 if self.names else 0.0)
        left = x - (width + gap + arrow) / 2
        self.x = left + width / 2
        self.arrow: Rings = (
            (_ARROW * 1.1 * size * 0.8) @ np.array(_TURNED[turns], np.float64).T
            + (left + width + gap + arrow / 2, self.baseline - cap / 2),
        )
        half = max([width + gap + arrow, *(text_width(line, NAME_MM) for line in self.names)]) / 2
        below = (0.6 + 1.25 * len(self.names)) * NAME_MM if self.names else 0.0
        pad = 0.12 * size
        self.box = (x - half - pad, self.baseline - cap - pad, x + half + pad, self.baseline + below + pad)

    def write(self, canvas: Canvas) -> None:
        canvas.text(self.x, self.baseline, self.entry.key, self.size, "middle", bold=True)
        x = (self.box[0] + self.box[2]) / 2
        for number, line in enumerate(self.names, 1):
            y = self.baseline + (0.35 + 1.25 * number) * NAME_MM
            canvas.text(x, y, line, NAME_MM, "middle", colour=QUIET)
