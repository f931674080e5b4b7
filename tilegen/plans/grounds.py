"""Surfaces that belong to the plan: tiles told apart by the floors of their rooms, or each by its place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace

import numpy as np

from tilegen.errors import InputError, nearest
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, TileType
from tilegen.plans.placing import Turn, placed
from tilegen.surface import FloorPattern
from tilegen.tiles.shape import CellShape
from tilegen.tiles.surfaces import Ground, own_ground
from tilegen.tiles.tile import Tile, make_tile

_Place = tuple[int, ...]


def with_grounds(kit: Kit, drawing: Drawing) -> Kit:
    """The kit with types split where the plan's surface makes them differ.

    With `rooms` a type is split by the floors of the rooms that its tiles lie in; a continuous surface makes every
    tile whose pattern shows a type of its own.

    Raises:
        InputError: a floor for a room that isn't there.
    """
    surface = drawing.grid.surface
    if not surface.continuous and not surface.rooms:
        return kit
    floor_of = _floor_of_rooms(drawing)
    found: dict[tuple[int, Ground | None], list[_Place]] = {}
    for number, place, turn in _with_places(kit, drawing):
        shape = kit.types[number].tile.shape
        if not isinstance(shape, CellShape):
            raise TypeError("the tiles of a plan are made of cells")
        floors = tuple(floor_of.get(int(drawing.rooms[cell]), surface.floor) for cell in _cells(shape, turn, drawing))
        found.setdefault((number, _ground(shape, turn, floors, drawing)), []).append(place)
    split: dict[str, TileType] = {}
    for (number, ground), places in found.items():
        tile = kit.types[number].tile if ground is None else _made(kit.types[number].tile, ground, places[0])
        same = split[tile.id].places.tolist() if tile.id in split else []
        ordered = sorted([*map(tuple, same), *places], key=lambda p: (p[1], p[0], p[2]))
        split[tile.id] = TileType(tile, np.array(ordered, np.int32))
    return replace(kit, types=tuple(sorted(_distinct(split.values()), key=lambda t: -t.count)))


def _floor_of_rooms(drawing: Drawing) -> dict[int, FloorPattern]:
    """By the code point of a room's letter."""
    there = {chr(code) for code in np.unique(drawing.rooms) if code}
    for letter, _ in drawing.grid.surface.rooms:
        if letter not in there:
            raise InputError(
                f'a floor for the room "{letter}"',
                expected="a room of the drawing",
                cure=nearest(letter, sorted(there)),
                place="[surface] rooms",
            )
    return {ord(letter): floor for letter, floor in drawing.grid.surface.rooms}


def _with_places(kit: Kit, drawing: Drawing) -> Iterator[tuple[int, _Place, Turn]]:
    """Every tile: the number of its type, its place in the kit and how it lies."""
    turns = placed(kit, drawing)
    for number, tile_type in enumerate(kit.types):
        for place in tile_type.places.tolist():
            yield number, tuple(place), next(turns)[1]


def _cells(shape: CellShape, turn: Turn, drawing: Drawing) -> Iterator[tuple[int, int]]:
    """Row and column in the drawing of each cell of a tile, in the order of its shape."""
    columns, rows = len(shape.widths), len(shape.heights)
    places = [place for place, _ in shape.cells]
    for _ in range(turn.quarter_turns):
        places = [(rows - 1 - row, column) for column, row in places]
        columns, rows = rows, columns
    side = drawing.cell_side
    # The own south-west corner lies to the south-west, north-west, north-east, south-east.
    west = round(turn.x / side) - (0, 0, columns, columns)[turn.quarter_turns]
    north = round(turn.y / side) - (rows, 0, 0, rows)[turn.quarter_turns]
    yield from ((north + row, west + column) for column, row in places)


def _ground(shape: CellShape, turn: Turn, floors: tuple[FloorPattern, ...], drawing: Drawing) -> Ground | None:
    surface = drawing.grid.surface
    if surface.continuous:
        return Ground(turn.quarter_turns, turn.x, -turn.y, 0, floors)
    if set(floors) == {surface.floor}:
        return None
    return own_ground(shape, drawing.grid, floors)


def _made(tile: Tile, ground: Ground, place: _Place) -> Tile:
    """A type of its own, named after its place or its floor."""
    floors = sorted(set(ground.floors))
    word = f"{place[0]}-{place[1]}" if tile.grid.surface.continuous else "-".join(floors)
    return make_tile(f"{tile.name}-{word}", tile.shape, tile.grid, ground)


def _distinct(types: Iterable[TileType]) -> list[TileType]:
    """Types with names of their own."""
    types = list(types)
    seen = Counter(t.name for t in types)
    return [
        t if seen[t.name] == 1 else replace(t, tile=replace(t.tile, name=f"{t.name}-{t.tile.id.lower()}"))
        for t in types
    ]
