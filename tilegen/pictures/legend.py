"""The legend of a plan: number, small picture, name, id and count of every type of tile."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from tilegen.geometry import Points
from tilegen.pictures.canvas import Canvas, text_width
from tilegen.pictures.page import QUIET
from tilegen.pictures.plan_view import GroundPlan, draw_doors, draw_ground, ground_plan
from tilegen.plans.kit import Kit, TileType
from tilegen.plans.loose import PieceType
from tilegen.plans.numbers import layout_numbers
from tilegen.tiles.shape import CellShape


@dataclass(frozen=True)
class Entry:
    """One line of the legend."""

    key: str
    plan: GroundPlan
    name: str
    id: str
    count: int
    any_way_round: bool = False
    door: bool = False
    odd: bool = False


class Legend:
    """Number, small picture, name, id and count of every type, in as many columns as the page has room for."""

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
        plan = entry.plan.mapped(self._icon_map(entry.plan, x + 15 * self.unit + self.icon / 2, middle))
        if entry.door:
            draw_doors(canvas, [plan], line=0.3 * self.unit)
        else:
            draw_ground(canvas, [plan], edge=0.3 * self.unit, line=0.2 * self.unit)
        at = x + 19 * self.unit + self.icon
        canvas.text(at, middle - 0.8 * self.unit, entry.name, self.size)
        count = f"{entry.count} {self.counted}"
        words = f"{count}, id {entry.id}"
        canvas.text(at, middle + 6.0 * self.unit, words, 0.9 * self.size, colour=QUIET)

    def _icon_map(self, plan: GroundPlan, x: float, y: float) -> Callable[[Points], Points]:
        """From a tile's own frame to its little picture about (x, y), all tiles at one scale."""
        points = np.concatenate([ring for rings in plan.floor for ring in rings])
        low, high = points.min(axis=0), points.max(axis=0)
        scale = self.icon / max(self.tile_side, float((high - low).max()))
        centre = (low + high) / 2

        def mapped(own: Points) -> Points:
            small: Points = (own - centre) * (scale, -scale) + (x, y)
            return small

        return mapped


def tile_entries(kit: Kit) -> dict[str, Entry]:
    """The legend's lines for the tiles by their id, in the kit's order."""
    numbers = layout_numbers(kit)
    return {t.tile.id: _entry(numbers[t.tile.id], t) for t in kit.types}


def _entry(key: str, tile_type: TileType) -> Entry:
    tile = tile_type.tile
    same = isinstance(tile.shape, CellShape) and tile.shape.turned() == tile.shape
    return Entry(key, ground_plan(tile), tile.name, tile.id, tile_type.count, any_way_round=same, odd=not tile.on_grid)


def door_entries(kit: Kit) -> dict[str, Entry]:
    """The legend's lines for the loose pieces by their id."""
    numbers = layout_numbers(kit)

    def entry(piece_type: PieceType) -> Entry:
        piece = piece_type.piece
        return Entry(numbers[piece.id], ground_plan(piece), piece.name, piece.id, piece_type.count, door=True)

    return {p.piece.id: entry(p) for p in kit.pieces}
