"""What holds tiles together: two that meet, as if their floors were of glass, and the poles of magnets."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import polygon_rings
from tilegen.model.grid import Grid
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, polyline, rectangle
from tilegen.pictures.tile_view import DOOR, FLOOR, INK, SEAM, WALL
from tilegen.plans.kit import Turn
from tilegen.plans.layout import middles_of
from tilegen.tiles.connectors.kind import kind_of, module_of
from tilegen.tiles.connectors.magnets import BEHIND_MM, magnet_height
from tilegen.tiles.loose import make_key
from tilegen.tiles.seats import Seat, flat_region, seating_of
from tilegen.tiles.shape import Cell, single_cell
from tilegen.tiles.tile import Tile, make_tile

# The polarity sheet: which pole of which magnet shows outwards, for whoever glues them in.

# Two colours that differ in lightness too, and letters besides: nobody has to tell them apart by hue.
NORTH_COLOUR, SOUTH_COLOUR = "#b23a2e", "#9fc3e0"
_PALE, _DARK = "#ffffff", "#23272d"
_MARGIN, _GAP = 8.0, 14.0
# Room for the lines of writing.
_LEAST_WIDTH = 140.0


def polarity_canvas(grid: Grid) -> Canvas:
    """One side as seen from outside, and two tiles from above, one turned, whose magnets attract across the seam."""
    side = grid.tile_side
    width = max(2 * _MARGIN + 2 * side + _GAP, _LEAST_WIDTH)
    top = _MARGIN + 28.0
    height = top + grid.base_depth + 2 * _GAP + side + _MARGIN + 20.0
    canvas = Canvas(
        width,
        height,
        "Polarity of the magnets",
        "Seen from outside with the top up, every side of every tile has north on the left and south on the right.",
    )
    canvas.text(_MARGIN, _MARGIN + 4, "Every side, seen from outside, top up: N left, S right", 5.0, bold=True)
    pairs = round(side / module_of(grid))
    words = f"{pairs} pair{'' if pairs == 1 else 's'} a side of a tile; the letter is the pole that shows outwards"
    canvas.text(_MARGIN, _MARGIN + 11, words, 4.0)
    _elevation(canvas, grid, (width - side) / 2, top)
    below = top + grid.base_depth + 2 * _GAP
    canvas.text(_MARGIN, below - 4, "From above: north meets south however the tiles are turned", 4.0)
    _tile(canvas, grid, _MARGIN, below, 0)
    _tile(canvas, grid, _MARGIN + side + _GAP, below, 1)
    canvas.text(_MARGIN, height - _MARGIN - 6, "Mark the top of every tile: a tile upside down repels.", 4.0)
    canvas.text(_MARGIN, height - _MARGIN, "Try each tile against a finished one before the glue sets.", 4.0)
    return canvas


def _elevation(canvas: Canvas, grid: Grid, x: float, y: float) -> None:
    side, depth = grid.tile_side, grid.base_depth
    canvas.area([rectangle(x, y, x + side, y + depth)], FLOOR, stroke=SEAM, width=0.3)
    _arrow(canvas, x - 6, y + depth, y - 6)
    canvas.text(x - 9, y - 7.5, "top", 3.6)
    module, up = module_of(grid), magnet_height(grid) if grid.connectors.magnet_place == "side" else depth / 2
    for n in range(round(side / module)):
        for s, pole in kind_of(grid).law(grid):
            draw_magnet(canvas, grid, x + (n + 0.5) * module + s, y + depth - up, pole)


def _arrow(canvas: Canvas, x: float, low: float, high: float) -> None:
    canvas.line([polyline((x, low), (x, high))], INK, 0.5)
    canvas.line([polyline((x - 1.6, high + 2.4), (x, high), (x + 1.6, high + 2.4))], INK, 0.5)


def _tile(canvas: Canvas, grid: Grid, x: float, y: float, turns: int) -> None:
    """A plain tile from above, its own north at the top for no turns."""
    side = grid.tile_side
    spaces = float(grid.spaces)
    tile = make_tile("plain", single_cell(Cell(), (spaces, spaces)), grid)
    turn = Turn(turns, x, y + side) if turns == 0 else Turn(turns, x, y)
    outline = turn.points(np.array(tile.base.foot.exterior.coords)[:-1, :2])
    canvas.area([(outline,)], FLOOR, stroke=WALL, width=0.4)
    for seat in seating_of(tile.shape, grid, tile.base.foot).whole:
        for s, pole in kind_of(grid).law(grid):
            draw_magnet(canvas, grid, *_place(seat, s, grid, turn), pole)
    middle = side / 2
    ends = turn.points(np.array([(middle, middle - 6), (middle, middle + 6)]))
    canvas.line([ends], INK, 0.6)
    canvas.discs(ends[1:], 1.3, INK)
    canvas.text(x + middle, y + side / 2 + 14, "as made" if turns == 0 else "turned a quarter", 4.0, "middle")


def _place(seat: Seat, s: float, grid: Grid, turn: Turn) -> tuple[float, float]:
    """Where a magnet's letter stands: inside of its rim. s: to the right as seen from outside, against the clock."""
    inward = grid.connectors.magnet_diameter * 0.75 + 0.6
    x, y = turn.points(np.array(seat.on_plan([(-s, inward)]))).tolist()[0]
    return x, y


def draw_magnet(canvas: Canvas, grid: Grid, x: float, y: float, pole: int) -> None:
    """A magnet as a disc of its size with the letter of its pole."""
    radius = grid.connectors.magnet_diameter / 2
    canvas.discs(np.array([(x, y)]), radius, NORTH_COLOUR if pole > 0 else SOUTH_COLOUR, stroke=INK, width=0.2)
    size = radius * 1.6
    colour = _PALE if pole > 0 else _DARK
    canvas.text(x, y + CAP_HEIGHT * size / 2, "N" if pole > 0 else "S", size, "middle", colour=colour, bold=True)


# Two tiles that meet, from above, as if their floors were of glass: what holds them together.

POCKET = "#cbc3ae"
_SEAM_MARGIN, _HEAD, _FOOT, _LINE = 8.0, 13.0, 10.0, 6.0
_SAME_MM = 0.01


def seam_canvas(grid: Grid) -> Canvas:
    """A plain tile and, to its east, another one turned a quarter, at their true pitch."""
    side, spaces, words = grid.tile_side, float(grid.spaces), kind_of(grid).seen(grid)
    title, *about = words
    width, height = 2 * side + 2 * _SEAM_MARGIN, side + _HEAD + _FOOT + _LINE * len(about)
    canvas = Canvas(width, height, title, " ".join(about))
    canvas.text(_SEAM_MARGIN, _HEAD - 5, title, 5.0, bold=True)
    tile = make_tile("plain", single_cell(Cell(), (spaces, spaces)), grid)
    turns = (Turn(0, _SEAM_MARGIN, _HEAD + side), Turn(1, _SEAM_MARGIN + side, _HEAD))
    for turn in turns:
        _floor(canvas, tile, turn)
    for turn in turns:
        _held(canvas, tile, turn)
    if kind_of(grid).loose:
        _keys(canvas, tile, turns)
    for n, line in enumerate(about):
        canvas.text(_SEAM_MARGIN, _HEAD + side + _FOOT + _LINE * n, line, 4.0)
    return canvas


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
    if not kind_of(tile.grid).poles:
        return
    made = tile.grid.connectors
    inward = (
        made.skin + made.magnet_thickness / 2 if made.magnet_place == "below" else made.magnet_thickness + BEHIND_MM
    )
    for seat in seating_of(tile.shape, tile.grid, tile.base.foot).whole:
        for s, pole in kind_of(tile.grid).law(tile.grid):
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
