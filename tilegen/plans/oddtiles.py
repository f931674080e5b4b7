"""From the pieces of rooms off the grid to tile types: alike up to quarter turns, and where each lies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.errors import InputError
from tilegen.geometry import NEAR_MM
from tilegen.plans.cutting import Cut, Piece, Square
from tilegen.plans.drawing import Drawing
from tilegen.plans.features import extra_in
from tilegen.plans.piecewalls import region_shape
from tilegen.plans.shapes import cell_box
from tilegen.tiles.featurewords import feature_words, with_words
from tilegen.tiles.identity import Description, poses, same_geometry
from tilegen.tiles.plate import Plate
from tilegen.tiles.regionshape import RegionShape
from tilegen.tiles.tile import Tile, make_tile

_KEY_MM = 1e-5
Known = dict[bytes, tuple[tuple[Plate, ...], list[Description]]]
# Own frame (y to the north) to table (y to the south), after 0 to 3 clockwise quarter turns.
MATRICES = (((1, 0), (0, -1)), ((0, 1), (1, 0)), ((-1, 0), (0, 1)), ((0, -1), (-1, 0)))


@dataclass(frozen=True)
class OddType:
    """A type of odd tile. places: (count, 3) column, row (from 1), clockwise quarter turns. lies: (count, 2) where the
    (0, 0) of its own frame falls on the table, mm.
    """

    tile: Tile
    places: npt.NDArray[np.int32]
    lies: npt.NDArray[np.float64]


@dataclass(frozen=True)
class _Made:
    piece: Piece
    shape: RegionShape
    home: Square
    plates: tuple[Plate, ...]
    turned: list[Description]


def odd_types(drawing: Drawing, cut: Cut, block: int) -> tuple[OddType, ...]:
    """The types of a cut, in the order in which they are met.

    Raises:
        InputError: a piece that no tile can be made of; with its coordinates.
    """
    found: dict[Description, list[_Made]] = {}
    known: Known = {}
    for piece in cut.pieces:
        made = _made(drawing, cut, piece, block, known)
        alike = next((least for least in found if any(same_geometry(least, turn) for turn in made.turned)), None)
        found.setdefault(alike or min(made.turned), []).append(made)
    return tuple(_type(drawing, group, block) for group in found.values())


def _made(drawing: Drawing, cut: Cut, piece: Piece, block: int, known: Known) -> _Made:
    """A piece as a tile; one that is, with all around it, where another was on its square is made like that one."""
    cell = drawing.cell_side
    home = _home(piece, cell, block)
    corner = (home[0] * cell, -(home[1] + block) * cell)
    middle = cell * block / 2
    extra = extra_in(drawing, piece.room, piece.floor, (corner[0] + middle, corner[1] + middle))
    border, inner = cut.borders[piece.room], cut.inner[piece.room]
    shape = region_shape(piece, border, inner, corner, drawing.grid.wall_thickness)
    shape = replace(shape, extra=extra, middle=middle)
    key = _key(shape)
    if key not in known:
        try:
            plates = make_tile("odd", shape, drawing.grid).plates
        except InputError as error:
            x, y = (v / cell for v in piece.floor.representative_point().coords[0])
            raise error.located(place=f'room "{chr(piece.room)}" at ({x:.3f}, {-y:.3f})') from None
        known[key] = plates, poses(plates)
    plates, turned = known[key]
    if all(plate.edge is None for plate in plates):
        # A tile without walls is the same whatever height they would have.
        shape = replace(shape, extra=replace(extra, wall_height=None))
    return _Made(piece, shape, home, plates, turned)


def _key(shape: RegionShape) -> bytes:
    """All that a tile is made from, rounded far below what it is made to."""
    piece: bytes = shapely.to_wkb(shapely.set_precision(shape.piece, _KEY_MM))
    runs = [
        (tuple((round(x / _KEY_MM), round(y / _KEY_MM)) for x, y in run.path), run.openings, run.turns)
        for run in (*shape.runs, *shape.inner.runs)
    ]
    posts = [(round(x / _KEY_MM), round(y / _KEY_MM), *towards) for x, y, *towards in shape.inner.posts]
    opens = [(*(round(v / _KEY_MM) for v in (*line.start, *line.end)), line.walled) for line in shape.opens]
    return piece + repr((runs, len(shape.runs), posts, opens, shape.extra.key)).encode()


def _home(piece: Piece, cell: float, block: int) -> Square:
    """The square of the lattice that holds most of a piece."""
    squares = sorted(piece.squares, key=lambda s: s[::-1])
    return max(squares, key=lambda s: round(piece.floor.intersection(cell_box(s[0], s[1], cell, block, block)).area, 3))


def _type(drawing: Drawing, group: Sequence[_Made], block: int) -> OddType:
    """One type, in the pose whose description comes first."""
    least = min(group[0].turned)
    shape, side = group[0].shape, drawing.cell_side * block
    for _ in range(group[0].turned.index(least)):
        shape = shape.turned(side)
    name = with_words(odd_name(group[0].plates), feature_words(shape, drawing.grid.wall_height))
    tile = make_tile(name, shape, drawing.grid)
    places, lies = [], []
    for made in group:
        turns = min((4 - k) % 4 for k, description in enumerate(made.turned) if same_geometry(description, least))
        column, row = (max(n, 0) + 1 for n in made.home)
        places.append((column, row, turns))
        lies.append(_lie(tile, made, turns, drawing, block))
    order = sorted(range(len(places)), key=lambda k: (places[k][1], places[k][0], places[k][2], lies[k]))
    return OddType(
        tile,
        np.array([places[k] for k in order], np.int32),
        np.array([lies[k] for k in order], np.float64),
    )


def _lie(tile: Tile, made: _Made, turns: int, drawing: Drawing, block: int) -> tuple[float, float]:
    """Where the own (0, 0) falls on the table, so that the tile covers its piece; on the lattice if it can be."""
    cell, pitch = drawing.cell_side, drawing.grid.pitch
    corner = np.array((made.home[0] * cell, (made.home[1] + block) * cell))
    there = np.array(made.plates[0].foot.exterior.coords) * (1.0, -1.0) + corner
    x, y = on_lattice(there.min(axis=0) - least_corner(tile, turns), pitch).tolist()
    return x, y


def least_corner(tile: Tile, turns: int) -> npt.NDArray[np.float64]:
    """The least x and y of a tile's base, turned, from where the (0, 0) of its own frame falls; mm."""
    corners = np.array(tile.base.foot.exterior.coords) @ np.array(MATRICES[turns], np.float64).T
    least: npt.NDArray[np.float64] = corners.min(axis=0)
    return least


def on_lattice(spot: npt.NDArray[np.float64], pitch: float) -> npt.NDArray[np.float64]:
    """A point of the table, moved onto the lattice of spaces if it lies on it but for rounding."""
    lattice = np.round(spot / pitch) * pitch
    return np.where(np.abs(spot - lattice) < NEAR_MM, lattice, spot)


def odd_name(plates: Sequence[Plate]) -> str:
    """A name from what a tile's floor looks like and how many walls it carries."""
    base, walls = plates[0], [plate for plate in plates if plate.role == "wall"]
    bent = any(plate.bend is not None and len(plate.bend.outer) > 2 for plate in walls)
    corners = len(shapely.get_coordinates(base.foot.simplify(0.05))) - 1
    look = "curved" if bent else {3: "triangle", 4: "slanting"}.get(corners, "odd")
    doors = sum(len(plate.openings) for plate in walls)
    words = ("open", "one-wall", "two-walls", "three-walls")
    name = f"{look}-{words[len(walls)] if len(walls) < len(words) else 'walls'}"
    return f"{name}-with-doorway" if doors else name
