"""Which tile lies on which cell, and the order in which a party meets the rooms: the list to lay out by."""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from tilegen.errors import InputError, a_few
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.layout import Indexes, Layout, Place, lay
from tilegen.plans.loose import PostPlace
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.ways import NOTHING, WAYS, Way, line_of
from tilegen.tiles.shape import SIDES, STEPS

Numbers = npt.NDArray[np.int64]


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
    return tuple(way for way in drawing.ways if _walked(way) and 0 in both_sides(drawing.rooms, way))


def _walked(way: Way | WallWay) -> bool:
    return WAYS[way.kind].walked


def both_sides(values: npt.NDArray[Any], way: Way, outside: int = 0) -> tuple[int, int]:
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
    """The stops of `Route.of`."""
    return Route.of(drawing, kit, start).stops


@dataclass(frozen=True, eq=False)
class Route:
    """The rooms in the order the party meets them, and with which of them everything is laid.

    laid, stop_of: where each tile lies, and (tiles,) the number from 0 of its stop. stops_of: of each loose piece at
    each place of each type.
    """

    drawing: Drawing
    kit: Kit
    stops: tuple[Stop, ...]
    laid: Layout
    stop_of: Numbers
    stops_of: tuple[tuple[int, ...], ...]

    @staticmethod
    def of(drawing: Drawing, kit: Kit, start: tuple[Place, str] | None = None) -> Route:
        """Breadth first through the ways, with the tiles for each stop.

        start: cell (column, row from 1) and side of the way in; the first way in of the plan if None, or the
        largest room if the plan has none. Rooms that no way leads to come last, in reading order. A tile that lies
        in two rooms is laid with the first; so is a door piece between two.

        Raises:
            InputError: no way in at `start`.
        """
        areas = find_areas(drawing)
        before, steps = _breadth_first(neighbours(drawing, areas), _start(drawing, areas, start))
        met = list(before)
        order = met + [area for area in range(len(areas.letters)) if area not in before]
        rank = np.empty(len(order), np.int64)
        rank[order] = np.arange(len(order))
        laid = lay(drawing, kit)
        stop_of = _stops_of_tiles(laid, areas, rank)
        stops_of = tuple(tuple(_stop_of_piece(place, areas, rank) for place in kind.places) for kind in kit.pieces)
        tiles, pieces = _tiles_by_stop(kit, laid, stop_of, len(rank)), _pieces_by_stop(kit, stops_of, len(rank))
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
        return Route(drawing, kit, tuple(stops), laid, stop_of, stops_of)

    def first(self, number: int) -> tuple[Drawing, Kit]:
        """The first rooms alone: their floor and titles, and the kit's tiles and pieces that are laid with them.

        A tile is what it is in the whole map, so the kit is not that of the drawing's walls. It has all types, some
        without a place: their numbers stay.
        """
        kit, laid = self.kit, self.laid
        kept = self.stop_of < number
        types = []
        for index, kind in enumerate(kit.types):
            here = np.sort(laid.place_of[kept & (laid.type_of == index)])
            off_grid = here[here >= len(kind.on_grid)] - len(kind.on_grid)
            types.append(replace(kind, places=kind.places[here], lies=kind.lies[off_grid]))
        pieces = (
            replace(kind, places=tuple(way for way, stop in zip(kind.places, stops, strict=True) if stop < number))
            for kind, stops in zip(kit.pieces, self.stops_of, strict=True)
        )
        rooms = np.where((laid.tile_of >= 0) & np.append(kept, False)[laid.tile_of], self.drawing.rooms, 0)
        letters = {stop.room for stop in self.stops[:number]}
        off_grid_rooms = self.drawing.off_grid
        if off_grid_rooms is not None:
            regions = {code: region for code, region in off_grid_rooms.regions.items() if chr(code) in letters}
            off_grid_rooms = replace(off_grid_rooms, regions=regions)
        titles = {letter: title for letter, title in self.drawing.titles.items() if ord(letter) in rooms}
        return (
            replace(self.drawing, rooms=rooms, titles=titles, off_grid=off_grid_rooms),
            replace(kit, types=tuple(types), pieces=tuple(pieces)),
        )


def _start(drawing: Drawing, areas: Areas, start: tuple[Place, str] | None) -> int:
    entries = ways_in(drawing)
    if start is not None:
        wanted = line_of(*start)
        entries = tuple(way for way in entries if line_of(way.cell, way.side) == wanted)
        if not entries:
            raise InputError(
                f"there is no way in on the {start[1]} side of cell [{start[0][0]}, {start[0][1]}]",
                cure=_offer_ways(ways_in(drawing)),
            )
    if not entries:
        return int(np.argmax(areas.sizes))
    return max(both_sides(areas.of, entries[0], -1))


def _offer_ways(ways: tuple[Way, ...]) -> str:
    shown = [f"[{way.cell[0]}, {way.cell[1]}] {way.side}" for way in ways]
    return f"Start at {a_few(shown)}" if shown else "Leave the start out, since this plan has no way in"


def neighbours(drawing: Drawing, areas: Areas) -> dict[int, list[int]]:
    """The areas that ways lead to, from each, in reading order.

    Only ways count: where a slanting wall crosses it, a line between two rooms' cells is open without being one.
    """
    pairs = [both_sides(areas.of, way, outside=-1) for way in filter(_walked, drawing.ways)]
    pairs += [
        pair for way in drawing.wall_ways if _walked(way) for pair in combinations(areas_at(drawing, areas, way), 2)
    ]
    both = np.array([pair for pair in pairs if -1 not in pair], np.int64).reshape(-1, 2)
    both = np.unique(np.concatenate([both, both[:, ::-1]]), axis=0)
    found: dict[int, list[int]] = {}
    for a, b in both.tolist():
        found.setdefault(a, []).append(b)
    return found


def areas_at(drawing: Drawing, areas: Areas, way: WallWay) -> list[int]:
    """The areas whose walls a way at a point goes through: of each room the area with the cell nearest to it."""
    found = []
    for room in dict.fromkeys(way.rooms):
        cells = np.argwhere(drawing.rooms == ord(room))
        for spot in way.spots_in(room) if len(cells) else ():
            x, y = spot[0] / drawing.cell_side - 0.5, -spot[1] / drawing.cell_side - 0.5
            row, column = cells[np.hypot(*(cells - (y, x)).T).argmin()].tolist()
            found.append(int(areas.of[row, column]))
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


def _stops_of_tiles(laid: Layout, areas: Areas, rank: Numbers) -> Numbers:
    floor = laid.tile_of >= 0
    stop = np.full(len(laid.type_of), len(rank), np.int64)
    np.minimum.at(stop, laid.tile_of[floor], rank[areas.of[floor]])
    # A tile off the grid may be on no cell the most of what lies there.
    lost = np.flatnonzero(stop == len(rank))
    stop[lost] = rank[areas.of[laid.first_cells[lost, 1] - 1, laid.first_cells[lost, 0] - 1]]
    return stop


def _stop_of_piece(place: Way | PostPlace, areas: Areas, rank: Numbers) -> int:
    if isinstance(place, PostPlace):
        column, row = place.cell
        return int(rank[areas.of[row - 1, column - 1]])
    return min(int(rank[area]) for area in both_sides(areas.of, place, -1) if area >= 0)


def _tiles_by_stop(kit: Kit, laid: Layout, stop_of: Numbers, stops: int) -> list[tuple[tuple[str, str, int], ...]]:
    pairs, counts = np.unique(np.stack([stop_of, laid.type_of], axis=1), axis=0, return_counts=True)
    tiles: list[list[tuple[str, str, int]]] = [[] for _ in range(stops)]
    for (number, index), count in zip(pairs.tolist(), counts.tolist(), strict=True):
        kind = kit.types[index]
        tiles[number].append((kind.name, kind.tile.id, count))
    return [tuple(entries) for entries in tiles]


def _pieces_by_stop(
    kit: Kit, stops_of: tuple[tuple[int, ...], ...], stops: int
) -> list[tuple[tuple[str, str, int], ...]]:
    counted: list[Counter[tuple[str, str]]] = [Counter() for _ in range(stops)]
    for kind, at in zip(kit.pieces, stops_of, strict=True):
        for number in at:
            counted[number][kind.name, kind.piece.id] += 1
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
