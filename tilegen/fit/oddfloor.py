"""The floor off the grid, for figures: which spaces it has whole, and the largest disc beside its walls.

A space of a cell off the grid counts as floor where all of it, to its borders, is floor of one room; a block that
touches such a cell takes the largest disc that fits inside it and clear of the walls as drawn, arcs as their chords.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from tilegen.fit.inscribed import largest_disc_in
from tilegen.geometry import EQUAL_MM, polygons_of
from tilegen.plans.cutting import cut_pieces
from tilegen.plans.drawing import Drawing
from tilegen.plans.innerwalls import less_inner_walls
from tilegen.tiles.features import FEATURES

Bools = npt.NDArray[np.bool_]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Door:
    """A way through an outline: its middle in map coordinates, its width in mm, the rooms it leads into by code."""

    spot: tuple[float, float]
    width: float
    rooms: tuple[int, ...]


@dataclass(frozen=True)
class OddFloor:
    """Spaces off the grid: (rows, columns) of the plan's spaces.

    whole: spaces that are floor, plain ones too. spaces: those of cells off the grid. free: each room's floor less its
    walls, by code point, in map coordinates (mm, y to the north). walked: the same less what stops figures. rooms: code
    point of each space's room. wall: its thickness, mm. doors: ways through outlines.
    """

    whole: Bools
    spaces: Bools
    rooms: npt.NDArray[np.uint32]
    free: Mapping[int, BaseGeometry]
    walked: Mapping[int, BaseGeometry]
    pitch: float
    wall: float = 0.0
    doors: tuple[Door, ...] = ()
    known: dict[tuple[int, int, int], float] = field(default_factory=dict)

    def touches(self, rows: Ints, columns: Ints, across: int) -> Bools:
        """Which blocks of `across` spaces each way have a space off the grid."""
        found: Bools = np.zeros(len(rows), bool)
        for r in range(across):
            for c in range(across):
                found |= self.spaces[rows + r, columns + c]
        return found

    def room_left(self, row: int, column: int, across: int) -> BaseGeometry:
        """What walls leave of a block, in map coordinates."""
        p = self.pitch
        block = box(column * p, -(row + across) * p, (column + across) * p, -row * p)
        free = self.free.get(int(self.rooms[row, column]), block)
        return block.intersection(free)

    def largest_disc(self, row: int, column: int, across: int) -> float:
        """The diameter of the largest disc in a block, mm."""
        key = row, column, across
        if key not in self.known:
            self.known[key] = largest_disc_of(self.room_left(row, column, across))
        return self.known[key]

    def place_of(self, row: int, column: int, across: int, base: float) -> tuple[float, float]:
        """Where a base stands in a block, as near its middle as its walls let it, in map coordinates."""
        half = across * self.pitch / 2
        middle = shapely.Point(column * self.pitch + half, -row * self.pitch - half)
        free = self.room_left(row, column, across)
        spots = free.buffer(-base / 2 + EQUAL_MM)
        if spots.is_empty:
            return float(middle.x), float(middle.y)
        x, y = shapely.shortest_line(spots, middle).coords[0]
        return float(x), float(y)

    def links(self, labels: Ints, base: float, across: int) -> tuple[list[tuple[int, int]], list[int]]:
        """Labels of standing positions that a base joins off the lattice: pairs, and those it comes in to from outside.

        Within a room a base goes wherever a disc of its size does, off the lattice too; through a way in an outline if
        it is no wider, lifted over the wall by hand.
        """
        pairs: list[tuple[int, int]] = []
        entries: list[int] = []
        parts = {code: self._parts(code, labels, base, across) for code in self.free}
        for found in parts.values():
            for _, members in found:
                pairs += [(members[0], other) for other in members[1:]]
        for door in self.doors:
            if door.width + EQUAL_MM < base:
                continue
            near = [self._at_door(door, parts.get(code, []), base) for code in door.rooms]
            beside = [label for side in near for label in side]
            pairs += [(beside[0], other) for other in beside[1:]]
            entries += beside if len(door.rooms) == 1 else []
        return pairs, entries

    def _parts(self, code: int, labels: Ints, base: float, across: int) -> list[tuple[BaseGeometry, list[int]]]:
        """Where a disc's centre may be in a room, part by part, with the labels of the positions in each."""
        rows, columns = np.nonzero((labels > 0) & (self.rooms[: labels.shape[0], : labels.shape[1]] == code))
        p, half = self.pitch, across * self.pitch / 2
        middles = shapely.points((columns * p + half), -(rows * p + half))
        found = []
        centres = self.walked[code].buffer(-base / 2 + EQUAL_MM)
        for part in shapely.get_parts(centres).tolist():
            reach = max(half - base / 2, 0.0) + EQUAL_MM
            near = shapely.distance(middles, part) <= reach * np.sqrt(2)
            members = np.unique(labels[rows[near], columns[near]]).tolist()
            if members:
                found.append((part, [int(label) for label in members]))
        return found

    def _at_door(self, door: Door, parts: list[tuple[BaseGeometry, list[int]]], base: float) -> list[int]:
        """The labels of the part of a room that a door opens into."""
        spot = shapely.Point(door.spot)
        # The wall of the room on the other side may stand a wall's thickness behind this one's line.
        reach = 2 * self.wall + base
        return [label for part, members in parts if part.distance(spot) <= reach for label in members]


def largest_disc_of(region: BaseGeometry) -> float:
    """The diameter of the largest disc in any part of a region, mm."""
    parts = polygons_of(region, EQUAL_MM)
    return max((largest_disc_in(part) for part in parts), default=0.0)


def odd_floor(drawing: Drawing) -> OddFloor | None:
    """The floor off the grid of a drawing, None if it has none."""
    if drawing.off_grid is None:
        return None
    cut = cut_pieces(drawing, drawing.off_grid, (0, 0), 1)
    k, pitch, wall = drawing.cell_spaces, drawing.grid.pitch, drawing.grid.wall_thickness
    whole = drawing.off_grid.whole.repeat(k, axis=0).repeat(k, axis=1)
    rooms = drawing.rooms.repeat(k, axis=0).repeat(k, axis=1)
    for row, column in np.argwhere((rooms != 0) & ~whole).tolist():
        space = box(column * pitch, -(row + 1) * pitch, (column + 1) * pitch, -row * pitch)
        # Regions lie on a grid of their own: what only they round off is floor.
        for code, region in drawing.off_grid.regions.items():
            if space.difference(region).area < pitch * 4 * EQUAL_MM:
                whole[row, column], rooms[row, column] = True, code
    free = {
        code: less_inner_walls(border.filled.buffer(-wall, join_style="mitre", mitre_limit=2.0), cut.inner[code], wall)
        for code, border in cut.borders.items()
    }
    walked = {code: floor.difference(_not_walked(drawing, code)) for code, floor in free.items()}
    spaces = cut.odd.repeat(k, axis=0).repeat(k, axis=1)
    doors = tuple(Door(w.spot, w.opening.width, tuple(ord(r) for r in w.rooms)) for w in drawing.wall_ways if w.spot)
    return OddFloor(whole, spaces, rooms, free, walked, pitch, wall, doors)


def _not_walked(drawing: Drawing, room: int) -> BaseGeometry:
    """The features of a room that stop figures, a round one with the square around it."""
    side = drawing.cell_side
    found = []
    for code, (column, row), block in drawing.blocks:
        if code == room and not FEATURES[block.kind].walked:
            here = block.moved((column + 0.5) * side, -(row + 0.5) * side)
            found.append(box(here.west, here.south, here.east, here.north))
    return shapely.union_all(found)
