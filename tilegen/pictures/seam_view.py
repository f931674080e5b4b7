"""Two tiles that meet, from above, as if their floors were of glass: what holds them together."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import polygon_rings
from tilegen.grid import Grid
from tilegen.pictures.canvas import Canvas
from tilegen.pictures.plan_view import DOOR, FLOOR, INK, SEAM
from tilegen.pictures.polarity import draw_magnet
from tilegen.plans.placing import Turn
from tilegen.plans.seams import middles_of
from tilegen.tiles.connectors import flat_region, seating_of
from tilegen.tiles.keys import make_key
from tilegen.tiles.pockets import BEHIND_MM, law_of
from tilegen.tiles.shape import Cell, single_cell
from tilegen.tiles.tile import Tile, make_tile

POCKET = "#cbc3ae"
_MARGIN, _HEAD, _FOOT, _LINE = 8.0, 13.0, 10.0, 6.0
_SAME_MM = 0.01


def seam_canvas(grid: Grid) -> Canvas:
    """A plain tile and, to its east, another one turned a quarter, at their true pitch."""
    side, spaces, words = grid.tile_side, float(grid.spaces), _words(grid)
    title, *about = words
    width, height = 2 * side + 2 * _MARGIN, side + _HEAD + _FOOT + _LINE * len(about)
    canvas = Canvas(width, height, title, " ".join(about))
    canvas.text(_MARGIN, _HEAD - 5, title, 5.0, bold=True)
    tile = make_tile("plain", single_cell(Cell(), (spaces, spaces)), grid)
    turns = (Turn(0, _MARGIN, _HEAD + side), Turn(1, _MARGIN + side, _HEAD))
    for turn in turns:
        _floor(canvas, tile, turn)
    for turn in turns:
        _held(canvas, tile, turn)
    if grid.connectors.kind == "keys":
        _keys(canvas, tile, turns)
    for n, line in enumerate(about):
        canvas.text(_MARGIN, _HEAD + side + _FOOT + _LINE * n, line, 4.0)
    return canvas


def _words(grid: Grid) -> tuple[str, ...]:
    made = grid.connectors
    if made.kind == "magnets":
        place = "in the sides" if made.magnet_place == "side" else "upright, from below"
        return f"Magnets {place}", "Seen from outside every side has", "north left and south right."
    if made.kind == "pegs":
        return "Pegs", "Seen from outside every side has", "its pegs left, its sockets right."
    return "Keys", "The same pockets in every side, open", "from below; loose keys lie in them."


def _area(canvas: Canvas, region: BaseGeometry, turn: Turn, fill: str, width: float) -> None:
    canvas.area(list(polygon_rings(turn.geometry(region))), fill, stroke=INK, width=width)


def _floor(canvas: Canvas, tile: Tile, turn: Turn) -> None:
    _area(canvas, tile.base.foot, turn, FLOOR, 0.25)
    sunk = shapely.union_all([flat_region(mark) for mark in tile.base.marks if mark.on != "top" and mark.depth > 0])
    canvas.area(list(polygon_rings(turn.geometry(sunk))), POCKET, stroke=SEAM, width=0.15)


def _held(canvas: Canvas, tile: Tile, turn: Turn) -> None:
    """Pegs, or the letters of the magnets."""
    pegs = shapely.union_all([flat_region(mark) for mark in tile.base.marks if mark.on != "top" and mark.depth < 0])
    _area(canvas, pegs, turn, DOOR, 0.2)
    if tile.grid.connectors.kind != "magnets":
        return
    made = tile.grid.connectors
    inward = (
        made.skin + made.magnet_thickness / 2 if made.magnet_place == "below" else made.magnet_thickness + BEHIND_MM
    )
    for seat in seating_of(tile.shape, tile.grid, tile.base.foot).whole:
        for s, pole in law_of(tile.grid):
            place = seat.on_plan([(-s, inward + made.magnet_diameter * 0.7)])
            x, y = turn.points(np.array(place)).tolist()[0]
            draw_magnet(canvas, tile.grid, x, y, pole)


def _keys(canvas: Canvas, tile: Tile, turns: tuple[Turn, Turn]) -> None:
    """A key wherever pockets of both tiles meet."""
    here, there = (turn.points(middles_of(tile)) for turn in turns)
    key = rotate(make_key(tile.grid).plates[0].foot, 90, origin=(0, 0))
    for x, y in here.tolist():
        if np.hypot(*(there - (x, y)).T).min() < _SAME_MM:
            canvas.area(list(polygon_rings(shapely.affinity.translate(key, x, y))), DOOR, stroke=INK, width=0.25)
