"""Vertical things of a plan: rooms with floors and walls of their own height, and what stands on or in a floor.

Plan coordinates: mm from the drawing's top left corner, x to the east, y to the south.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt
from shapely.geometry import Polygon, box

from tilegen.errors import InputError, nearest
from tilegen.plans.drawing import Drawing
from tilegen.plans.furnishing import Ground, Spot, Wanted, blocks_on, check_apart
from tilegen.plans.posts import posts_of
from tilegen.tiles.blocks import PLAIN, Extra, in_order
from tilegen.tiles.shape import CORNERS, SIDES, STEPS

Cell = tuple[int, int]


@dataclass(frozen=True, slots=True)
class RoomHeights:
    """How high a room's walls and floor are; None where they are as the grid has them. place: for messages."""

    wall: float | None = None
    floor: float = 0.0
    place: str = ""


@dataclass(frozen=True, slots=True)
class PlanFeature:
    """A feature as written. cell, to: first and last cell (column, row from 1) of the rectangle that it belongs to."""

    wanted: Wanted
    cell: Cell
    to: Cell


def furnish(
    drawing: Drawing, features: Iterable[PlanFeature], heights: Mapping[str, RoomHeights] | None = None
) -> Drawing:
    """A drawing with its rooms' heights and its features.

    Raises:
        InputError: a room that isn't there, a way that can't be between two heights, a feature that does not lie on
            the floor or can't be made.
    """
    features = tuple(features)
    if not features and not heights:
        return drawing
    return _Furnishing(drawing, heights or {}).finish(features)


class _Furnishing:
    """The state while a drawing is furnished. extras: by cell (column, row from 0)."""

    def __init__(self, drawing: Drawing, heights: Mapping[str, RoomHeights]) -> None:
        self.drawing, self.grid, self.side = drawing, drawing.grid, drawing.cell_side
        self.heights = {ord(letter): found for letter, found in heights.items()}
        letters = sorted({chr(code) for code in np.unique(drawing.rooms) if code})
        for letter, found in heights.items():
            if letter not in letters:
                raise InputError(
                    f'heights for room "{letter}"',
                    expected="a room that is in the drawing",
                    cure=nearest(letter, letters),
                    place=found.place,
                )
            _check_heights(found)
        self.stands = np.array([kind.name != "nothing" for kind in drawing.kinds])
        self.posts = posts_of(drawing)

    def finish(self, features: Sequence[PlanFeature]) -> Drawing:
        self._check_ways()
        spots: dict[Cell, list[tuple[Spot, PlanFeature]]] = defaultdict(list)
        for feature in features:
            try:
                for cell, spot in self._spots(feature):
                    spots[cell].append((spot, feature))
            except InputError as error:
                raise error.located(place=feature.wanted.place) from None
        for cell, here in spots.items():
            check_apart([(spot, feature.wanted) for spot, feature in here], self._standing(cell))
        return replace(self.drawing, **self._extras(spots))

    def _extras(self, spots: Mapping[Cell, Sequence[tuple[Spot, PlanFeature]]]) -> dict[str, Any]:
        """One number for what each cell is beside its sides and posts, and what the numbers stand for."""
        kinds: dict[Extra, int] = {PLAIN: 0}
        codes = np.zeros(self.drawing.rooms.shape, np.int16)
        for room, found in self.heights.items():
            extra = Extra((), found.floor, found.wall)
            codes[self.drawing.rooms == room] = kinds.setdefault(extra, len(kinds))
        for (column, row), here in sorted(spots.items()):
            room_extra = self._room((column, row))
            blocks = in_order(block for spot, _ in here for block in spot.blocks)
            codes[row, column] = kinds.setdefault(replace(room_extra, blocks=blocks), len(kinds))
        return {"extras": codes, "extra_kinds": tuple(kinds)}

    def _room(self, cell: Cell) -> Extra:
        found = self.heights.get(int(self.drawing.rooms[cell[1], cell[0]]))
        return PLAIN if found is None else Extra((), found.floor, found.wall)

    def _spots(self, feature: PlanFeature) -> Iterator[tuple[Cell, Spot]]:
        """The share of each cell in a feature."""
        cells = list(self._cells(feature))
        clear = {cell: self._clear(cell) for cell in cells}
        levels = {self._room(cell).floor for cell in cells}
        if len(levels) > 1:
            raise InputError(
                f"floors of {_listed(levels)} mm under it", expected="one floor", cure="write one for each room"
            )
        first = cells[0]
        extra = self._room(first)
        grid = replace(
            self.grid,
            base_depth=self.grid.base_depth + extra.floor,
            wall_height=self.grid.wall_height if extra.wall_height is None else extra.wall_height,
        )
        whole = (
            self.side * cells[0][0],
            self.side * cells[0][1],
            self.side * (cells[-1][0] + 1),
            self.side * (cells[-1][1] + 1),
        )
        standing = {cell: self._standing(cell) for cell in cells}
        ground = Ground(grid, whole, clear, standing, (self.side, self.side))
        yield from blocks_on(feature.wanted, ground, rise=self._rise(feature, cells, extra.floor))

    def _cells(self, feature: PlanFeature) -> Iterator[Cell]:
        """The cells of a feature's rectangle in reading order, all of them floor."""
        rows, columns = self.drawing.rooms.shape
        (c0, r0), (c1, r1) = feature.cell, feature.to
        for column, row in (feature.cell, feature.to):
            if not (1 <= column <= columns and 1 <= row <= rows):
                raise InputError(
                    f"cell [{column}, {row}]", expected=f"a column from 1 to {columns} and a row from 1 to {rows}"
                )
        if c1 < c0 or r1 < r0:
            raise InputError(
                f"to = [{c1}, {r1}]", expected=f"a cell to the south and east of [{c0}, {r0}], or that cell"
            )
        for row in range(r0 - 1, r1):
            for column in range(c0 - 1, c1):
                if not self.drawing.rooms[row, column]:
                    raise InputError(
                        f"solid ground in cell [{column + 1}, {row + 1}]", expected="a feature that lies on the floor"
                    )
                yield column, row

    def _carried(self, cell: Cell) -> tuple[bool, bool, bool, bool]:
        """Whether a wall, a doorway or a saddle stands on each side."""
        column, row = cell
        d = self.drawing
        lines = d.across[row, column], d.down[row, column + 1], d.across[row + 1, column], d.down[row, column]
        north, east, south, west = (bool(self.stands[line]) for line in lines)
        return north, east, south, west

    def _clear(self, cell: Cell) -> tuple[float, float, float, float]:
        """What the walls of a cell leave free (posts not deducted): west, north, east, south."""
        wall = self.grid.wall_thickness
        north, east, south, west = (wall * carried for carried in self._carried(cell))
        x, y = cell[0] * self.side, cell[1] * self.side
        return x + west, y + north, x + self.side - east, y + self.side - south

    def _standing(self, cell: Cell) -> list[Polygon]:
        """The strips and posts of a cell."""
        wall, side = self.grid.wall_thickness, self.side
        x, y = cell[0] * side, cell[1] * side
        strips = (
            box(x, y, x + side, y + wall),
            box(x + side - wall, y, x + side, y + side),
            box(x, y + side - wall, x + side, y + side),
            box(x, y, x + wall, y + side),
        )
        found = [strip for strip, carried in zip(strips, self._carried(cell), strict=True) if carried]
        for corner in range(len(CORNERS)):
            if self.posts[cell[1], cell[0]] >> corner & 1:
                px, py = x + (side - wall) * (corner in (0, 1)), y + (side - wall) * (corner in (1, 2))
                found.append(box(px, py, px + wall, py + wall))
        return found

    def _rise(self, feature: PlanFeature, cells: Sequence[Cell], floor: float) -> float | None:
        """How much higher the floor beyond a stair lies, if there is one."""
        side = feature.wanted.side
        if side is None:
            return None
        dx, dy = STEPS[SIDES.index(side)]
        column, row = cells[-1] if dx > 0 or dy > 0 else cells[0]
        column, row = column + dx, row + dy
        rows, columns = self.drawing.rooms.shape
        if not (0 <= column < columns and 0 <= row < rows and self.drawing.rooms[row, column]):
            return None
        rise = self._room((column, row)).floor - floor
        return rise if rise > 0 else None

    def _check_ways(self) -> None:
        """Refuse a door between two floors that it can't stand on, or that leaves no way."""
        for way in self.drawing.ways:
            column, row = way.cell[0] - 1, way.cell[1] - 1
            dx, dy = STEPS[SIDES.index(way.side)]
            rows, columns = self.drawing.rooms.shape
            there = column + dx, row + dy
            if way.kind == "open" or not all(
                0 <= c < columns and 0 <= r < rows and self.drawing.rooms[r, c] for c, r in ((column, row), there)
            ):
                continue
            floors = sorted(self._room(cell).floor for cell in ((column, row), there))
            step = floors[1] - floors[0]
            height = way.height if way.height is not None else self.grid.doorway.height
            if way.kind == "saddle" and step:
                raise InputError(
                    f"a saddle between floors {step:g} mm apart",
                    expected="one floor on both sides, since the door piece stands on both tiles",
                    cure='use kind = "doorway" or "open"',
                    place=way.place,
                )
            if step >= height:
                raise InputError(
                    f"a doorway {height:g} mm high between floors {step:g} mm apart",
                    expected="one higher than the step, or no way would be left",
                    cure="make it higher, or use an open way and a stair",
                    place=way.place,
                )


def _listed(values: Iterable[float]) -> str:
    return " and ".join(f"{value:g}" for value in sorted(values))


def _check_heights(heights: RoomHeights) -> None:
    if heights.wall is not None and not 0 < heights.wall <= 1000:
        raise InputError(
            f"walls {heights.wall:g} mm high",
            expected="more than 0 and at most 1000 mm",
            cure="for no wall use a way of kind open",
            place=heights.place,
        )
    if not 0 <= heights.floor <= 1000:
        raise InputError(
            f"a floor at {heights.floor:g} mm",
            expected="0 to 1000 mm above the lowest one",
            cure="give the lowest room 0 and raise the others",
            place=heights.place,
        )


@dataclass(frozen=True)
class Levels:
    """How high the floor of every cell lies and its walls stand, mm."""

    floor: npt.NDArray[np.float64]
    wall: npt.NDArray[np.float64]
    blocks: dict[Cell, Extra] = field(default_factory=dict)


def levels_of(drawing: Drawing) -> Levels | None:
    """The heights of a drawing's cells and the cells with blocks; None where all is as the grid has it."""
    if drawing.extras is None:
        return None
    floor = np.array([extra.floor for extra in drawing.extra_kinds])
    height = drawing.grid.wall_height
    wall = np.array([height if extra.wall_height is None else extra.wall_height for extra in drawing.extra_kinds])
    held = np.array([bool(extra.blocks) for extra in drawing.extra_kinds])
    blocks = {
        (column, row): drawing.extra_kinds[int(drawing.extras[row, column])]
        for row, column in np.argwhere(held[drawing.extras]).tolist()
    }
    return Levels(floor[drawing.extras], wall[drawing.extras], blocks)
