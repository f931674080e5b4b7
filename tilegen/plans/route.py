"""Which tile lies on which cell, and the order in which a party meets the rooms: the list to lay out by."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from tilegen.errors import InputError
from tilegen.plans.drawing import NOTHING, PLAIN_WALL, Drawing, Way
from tilegen.plans.kit import Kit, cell_codes
from tilegen.plans.oddlay import odd_tiles
from tilegen.tiles.shape import SIDES, STEPS, CellShape, four_turns, single_cell

Indexes = npt.NDArray[np.int32]
Place = tuple[int, int]


@dataclass(frozen=True)
class Laid:
    """A kit laid out as drawn.

    tile_of: (rows, columns) number of the tile on each cell, -1 on solid ground; tiles are numbered in reading
    order of their blocks. type_of: (tiles,) index into the kit's types. first_cells: (tiles, 2) column and row,
    from 1, of each tile's first cell in reading order.
    """

    tile_of: Indexes
    type_of: Indexes
    first_cells: Indexes


def lay(drawing: Drawing, kit: Kit) -> Laid:
    """Which tile of the kit lies on which cell of its drawing.

    Raises:
        ValueError: the kit is not of this drawing.
    """
    if kit.block == 1 and any(isinstance(t.tile.shape, CellShape) and len(t.tile.shape.cells) > 1 for t in kit.types):
        return _laid_pieces(drawing, kit)
    if kit.cut is None:
        return _lay_cells(drawing, kit, drawing.rooms != 0)
    ordinary = _lay_cells(drawing, kit, (drawing.rooms != 0) & ~kit.cut.odd)
    number, types, firsts = odd_tiles(drawing, kit)
    count = len(ordinary.type_of)
    tile_of = np.where((number >= 0) & kit.cut.odd, number + count, ordinary.tile_of)
    first_cells = np.concatenate([ordinary.first_cells, firsts])
    order = np.lexsort((first_cells[:, 0], first_cells[:, 1]))
    rank = np.full(len(order) + 1, -1, np.int32)
    rank[order] = np.arange(len(order))
    return Laid(rank[tile_of], np.concatenate([ordinary.type_of, types])[order], first_cells[order])


def _lay_cells(drawing: Drawing, kit: Kit, floor: npt.NDArray[np.bool_]) -> Laid:
    """The ordinary tiles, on the cells of `floor`."""
    rows, columns = drawing.rooms.shape
    if kit.block == 1:
        keys = np.where(floor, np.arange(rows * columns).reshape(rows, columns), -1)
    else:
        keys = _block_keys(floor, kit.lattice)
    where = np.flatnonzero(floor.ravel())
    _, first, inverse = np.unique(keys.ravel()[where], return_index=True, return_inverse=True)
    tile_of = np.full(rows * columns, -1, np.int32)
    tile_of[where] = inverse
    firsts = where[first]
    first_cells = np.stack([firsts % columns + 1, firsts // columns + 1], axis=1).astype(np.int32)
    tile_of = tile_of.reshape(rows, columns)
    return Laid(tile_of, _types(drawing, kit, keys, firsts), first_cells)


def _laid_pieces(drawing: Drawing, kit: Kit) -> Laid:
    """Larger pieces: every place covers the squares of its turned shape."""
    tile_of = np.full(drawing.rooms.shape, -1, np.int32)
    type_of: list[int] = []
    firsts: list[Place] = []
    for index, kind in enumerate(kit.types):
        if not isinstance(kind.tile.shape, CellShape):
            raise ValueError(f"tile {kind.name} is not made of cells")  # noqa: TRY004 - a value of the kit
        turned = four_turns(kind.tile.shape)
        for column, row, turns in kind.places.tolist():
            cells = [(column + c, row + r) for (c, r), _ in turned[turns].cells]
            for c, r in cells:
                tile_of[r - 1, c - 1] = len(type_of)
            type_of.append(index)
            firsts.append(min(cells, key=lambda cell: (cell[1], cell[0])))
    order = sorted(range(len(firsts)), key=lambda n: (firsts[n][1], firsts[n][0]))
    rank = np.full(len(order) + 1, -1, np.int32)
    rank[order] = np.arange(len(order))
    return Laid(rank[tile_of], np.array(type_of, np.int32)[order], np.array(firsts, np.int32)[order])


def _block_keys(floor: npt.NDArray[np.bool_], lattice: Place) -> npt.NDArray[np.int64]:
    """One number for each 5 ft cell's tile: its block's, and which half of a block that is only a diagonal."""
    rows, columns = floor.shape
    left, top = (-lattice[0]) % 2, (-lattice[1]) % 2
    padded = np.pad(floor, ((top, (rows + top) % 2), (left, (columns + left) % 2)))
    a, b, c, d = padded[0::2, 0::2], padded[0::2, 1::2], padded[1::2, 0::2], padded[1::2, 1::2]
    diagonal = (a & d & ~b & ~c) | (b & c & ~a & ~d)
    row, column = np.arange(rows) + top, np.arange(columns) + left
    block_row, block_column = row[:, None] // 2, column[None, :] // 2
    lower = diagonal[block_row, block_column] & (row[:, None] % 2 == 1)
    keys = (block_row * np.int64(padded.shape[1] // 2) + block_column) * 2 + lower
    keys[~floor] = -1
    found: npt.NDArray[np.int64] = keys
    return found


def _types(drawing: Drawing, kit: Kit, keys: npt.NDArray[np.int64], firsts: npt.NDArray[np.int64]) -> Indexes:
    """The type of every tile, in the order of their keys."""
    rows, columns = drawing.rooms.shape
    by_place = np.full((rows, columns), -1, np.int32)
    for index, kind in enumerate(kit.types):
        if kind.lies is not None:
            continue
        by_place[kind.places[:, 1] - 1, kind.places[:, 0] - 1] = index
    if kit.block == 1:
        found = by_place.ravel()[firsts]
    else:
        # A place names its block's first cell, which need not be floor; half a diagonal block is found by what it is.
        left, top = (-kit.lattice[0]) % 2, (-kit.lattice[1]) % 2
        row, column = firsts // columns, firsts % columns
        found = by_place[np.maximum((row + top) // 2 * 2 - top, 0), np.maximum((column + left) // 2 * 2 - left, 0)]
        own = keys.ravel()[firsts]
        halves = np.isin(own ^ 1, own)
        found[halves] = _types_of_halves(drawing, kit, firsts[halves])
    if (found < 0).any():
        raise ValueError("the kit is not of this drawing")
    return found


def _types_of_halves(drawing: Drawing, kit: Kit, cells: npt.NDArray[np.int64]) -> Indexes:
    codes, kinds = cell_codes(drawing)
    index_of = {kind.tile.shape: index for index, kind in enumerate(kit.types)}
    distinct, inverse = np.unique(codes.ravel()[cells], return_inverse=True)
    shapes = [single_cell(kinds.cell(int(code)), (1.0, 1.0)).own_pose() for code in distinct]
    types = np.array([index_of.get(shape, -1) for shape in shapes], np.int32)
    found: Indexes = types[inverse]
    return found


@dataclass(frozen=True)
class Areas:
    """The connected parts of a plan's rooms.

    of: (rows, columns) number of each cell's area, -1 on solid ground; areas are numbered in reading order.
    letters: each area's room. firsts: column and row, from 1, of each area's first cell. sizes: cells in each.
    """

    of: Indexes
    letters: tuple[str, ...]
    firsts: tuple[Place, ...]
    sizes: tuple[int, ...]


def find_areas(drawing: Drawing) -> Areas:
    """Cells of one letter that are joined across lines on which nothing stands make one area."""
    rooms = drawing.rooms
    rows, columns = rooms.shape
    raster = np.zeros((2 * rows - 1, 2 * columns - 1), bool)
    raster[0::2, 0::2] = rooms != 0
    raster[1::2, 0::2] = (rooms[1:] == rooms[:-1]) & (rooms[1:] != 0) & (drawing.across[1:-1] == NOTHING)
    raster[0::2, 1::2] = (rooms[:, 1:] == rooms[:, :-1]) & (rooms[:, 1:] != 0) & (drawing.down[:, 1:-1] == NOTHING)
    labels, _ = ndimage.label(raster)
    flat = labels[0::2, 0::2].ravel()
    where = np.flatnonzero(flat)
    _, first, inverse, sizes = np.unique(flat[where], return_index=True, return_inverse=True, return_counts=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    of = np.full(rows * columns, -1, np.int32)
    of[where] = rank[inverse]
    cells = where[first[order]]
    return Areas(
        of.reshape(rows, columns),
        tuple(chr(code) for code in rooms.ravel()[cells]),
        tuple(zip((cells % columns + 1).tolist(), (cells // columns + 1).tolist(), strict=True)),
        tuple(sizes[order].tolist()),
    )


def ways_in(drawing: Drawing) -> tuple[Way, ...]:
    """The ways between a room and solid ground, as written."""
    return tuple(way for way in drawing.ways if 0 in _beside(drawing.rooms, way))


def _beside(values: npt.NDArray[Any], way: Way, outside: int = 0) -> tuple[int, int]:
    """The values of the way's cell and of the cell beyond it; `outside` beyond the drawing."""
    rows, columns = values.shape
    column, row = way.cell[0] - 1, way.cell[1] - 1
    step = STEPS[SIDES.index(way.side)]
    beyond = column + step[0], row + step[1]
    inside = 0 <= beyond[0] < columns and 0 <= beyond[1] < rows
    return int(values[row, column]), int(values[beyond[1], beyond[0]]) if inside else outside


@dataclass(frozen=True, slots=True)
class Stop:
    """One room, or one connected part of it, on the way through a plan.

    steps: ways gone through since the start, None where the party can't get to. came_from: number (from 1) of
    the stop it was entered from. tiles, pieces: (name, id, count) to have ready here; what already lies is left out.
    """

    room: str
    title: str
    first_cell: Place
    cells: int
    steps: int | None
    came_from: int | None
    tiles: tuple[tuple[str, str, int], ...]
    pieces: tuple[tuple[str, str, int], ...]


def make_route(drawing: Drawing, kit: Kit, start: tuple[Place, str] | None = None) -> tuple[Stop, ...]:
    """The rooms in the order the party meets them, breadth first through the ways, with the tiles for each.

    start: cell (column, row from 1) and side of the way in; the first way in of the plan if None, or the
    largest room if the plan has none. Rooms that no way leads to come last, in reading order. A tile that lies
    in two rooms is laid with the first; so is a door piece between two.

    Raises:
        InputError: no way in at `start`.
    """
    areas = find_areas(drawing)
    before, steps = _breadth_first(_neighbours(drawing, areas), _start(drawing, areas, start))
    met = list(before)
    order = met + [area for area in range(len(areas.letters)) if area not in before]
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    tiles, pieces = _tiles_by_stop(drawing, kit, areas, rank), _pieces_by_stop(kit, areas, rank)
    stops = []
    for number, area in enumerate(order):
        letter, came = areas.letters[area], before.get(area)
        stops.append(
            Stop(
                letter,
                drawing.titles.get(letter, ""),
                areas.firsts[area],
                areas.sizes[area],
                steps.get(area),
                None if came is None else int(rank[came]) + 1,
                tiles[number],
                pieces[number],
            )
        )
    return tuple(stops)


def _start(drawing: Drawing, areas: Areas, start: tuple[Place, str] | None) -> int:
    entries = ways_in(drawing)
    if start is not None:
        wanted = _line_of(*start)
        entries = tuple(way for way in entries if _line_of(way.cell, way.side) == wanted)
        if not entries:
            raise InputError(
                f"no way in at cell [{start[0][0]}, {start[0][1]}], {start[1]}",
                expected="a way between a room and solid ground",
                cure=_offer_ways(ways_in(drawing)),
            )
    if not entries:
        return int(np.argmax(areas.sizes))
    return max(_beside(areas.of, entries[0], -1))


def _offer_ways(ways: tuple[Way, ...]) -> str:
    shown = [f"[{way.cell[0]}, {way.cell[1]}] {way.side}" for way in ways[:5]]
    return "this plan's ways in: " + "; ".join(shown) if shown else "this plan has no way in: leave the start out"


def _line_of(cell: Place, side: str) -> tuple[bool, int, int]:
    column, row = cell
    if side in ("north", "south"):
        return True, column, row + (side == "south")
    return False, column + (side == "east"), row


def _neighbours(drawing: Drawing, areas: Areas) -> dict[int, list[int]]:
    """The areas that ways lead to, from each, in reading order of the ways."""
    of = areas.of
    pairs = []
    for first, second, lines in (
        (of[:-1], of[1:], drawing.across[1:-1]),
        (of[:, :-1], of[:, 1:], drawing.down[:, 1:-1]),
    ):
        through = (first != second) & (first >= 0) & (second >= 0) & (lines != PLAIN_WALL)
        pairs.append(np.stack([first[through], second[through]], axis=1))
    both = np.concatenate(pairs)
    both = np.unique(np.concatenate([both, both[:, ::-1]]), axis=0)
    found: dict[int, list[int]] = {}
    for a, b in both.tolist():
        found.setdefault(a, []).append(b)
    return found


def _breadth_first(neighbours: dict[int, list[int]], start: int) -> tuple[dict[int, int | None], dict[int, int]]:
    before: dict[int, int | None] = {start: None}
    steps = {start: 0}
    queue = deque([start])
    while queue:
        area = queue.popleft()
        for other in neighbours.get(area, []):
            if other not in before:
                before[other], steps[other] = area, steps[area] + 1
                queue.append(other)
    return before, steps


def _tiles_by_stop(
    drawing: Drawing, kit: Kit, areas: Areas, rank: npt.NDArray[np.int64]
) -> list[tuple[tuple[str, str, int], ...]]:
    laid = lay(drawing, kit)
    floor = laid.tile_of >= 0
    stop = np.full(len(laid.type_of), len(rank), np.int64)
    np.minimum.at(stop, laid.tile_of[floor], rank[areas.of[floor]])
    # A tile off the grid may be on no cell the most of what lies there.
    lost = np.flatnonzero(stop == len(rank))
    stop[lost] = rank[areas.of[laid.first_cells[lost, 1] - 1, laid.first_cells[lost, 0] - 1]]
    pairs, counts = np.unique(np.stack([stop, laid.type_of], axis=1), axis=0, return_counts=True)
    tiles: list[list[tuple[str, str, int]]] = [[] for _ in rank]
    for (number, index), count in zip(pairs.tolist(), counts.tolist(), strict=True):
        kind = kit.types[index]
        tiles[number].append((kind.name, kind.tile.id, count))
    return [tuple(entries) for entries in tiles]


def _pieces_by_stop(kit: Kit, areas: Areas, rank: npt.NDArray[np.int64]) -> list[tuple[tuple[str, str, int], ...]]:
    counted: list[Counter[tuple[str, str]]] = [Counter() for _ in rank]
    for kind in kit.pieces:
        for way in kind.places:
            beside = [int(rank[area]) for area in _beside(areas.of, way, -1) if area >= 0]
            counted[min(beside)][kind.name, kind.piece.id] += 1
    return [tuple((name, key, count) for (name, key), count in counter.items()) for counter in counted]


def route_record(stops: tuple[Stop, ...]) -> list[dict[str, Any]]:
    """The lay-out list as JSON, in the order of the stops."""
    return [
        {
            "room": stop.room,
            "title": stop.title,
            "first_cell": list(stop.first_cell),
            "cells": stop.cells,
            "steps": stop.steps,
            "came_from": stop.came_from,
            "tiles": [{"name": name, "id": key, "count": count} for name, key, count in stop.tiles],
            "pieces": [{"name": name, "id": key, "count": count} for name, key, count in stop.pieces],
        }
        for stop in stops
    ]
