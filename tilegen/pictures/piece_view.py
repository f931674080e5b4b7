"""A piece of a plan with its walls placed in one of the four ways, to scale, as shapes in millimetres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.fit.figures import spaces_across
from tilegen.fit.placements import PushedTiles, WallPlacement
from tilegen.geometry import Points, polygons_of
from tilegen.pictures.canvas import polyline
from tilegen.pictures.stand import place_disc
from tilegen.pictures.window import Window
from tilegen.tiles.shape import STEPS

_LEAST_GAP_MM = 0.01


@dataclass(frozen=True)
class Bar:
    """A wall along one side of one cell; clash: it stands on a neighbour tile's floor."""

    box: BaseGeometry
    solid: BaseGeometry
    clash: bool


@dataclass(frozen=True)
class Gap:
    """A crack between tiles; level: its width is measured from west to east."""

    box: BaseGeometry
    level: bool


@dataclass(frozen=True)
class Stand:
    """Where a base would be, and whether it stands there."""

    x: float
    y: float
    stands: bool


class LaidPiece:
    """A window laid in one way. Coordinates: mm, from the north-west corner of its cells as drawn.

    With a laying the tiles are pushed as it says; without, they lie as drawn and walls beside them may clash.
    """

    def __init__(self, window: Window, placement: WallPlacement, laying: PushedTiles | None = None) -> None:
        self.window, self.placement, self.laying = window, placement, laying
        self.outboard = placement.name.startswith("outboard")
        self.shifted = placement.name == "outboard-half-step"
        self.spaces = window.drawing.cell_spaces
        self.side, self.wall = self.spaces * placement.pitch, placement.wall_thickness
        self.cells = [(int(r), int(c)) for r, c in np.argwhere(window.tile_of >= 0)]
        self.cell_floors = [self._cell(r, c) for r, c in self.cells]
        self.tiles = self._tiles()
        self.bars = [bar for cell in self.cells for bar in self._bars(*cell)]
        self.posts = [] if self.outboard else [post for cell in self.cells for post in self._posts(*cell)]

    def corner(self, row: int, column: int) -> tuple[float, float]:
        """North-west corner of a cell where it lies."""
        x, y = column * self.side, row * self.side
        if self.laying is not None:
            tile = int(self.window.tile_of[row, column])
            x, y = x + float(self.laying.x[tile]), y + float(self.laying.y[tile])
        return x, y

    def bounds(self) -> tuple[float, float, float, float]:
        """West, north, east, south of all that is drawn."""
        low_x, low_y, high_x, high_y = shapely.union_all([*self.tiles, *(bar.box for bar in self.bars)]).bounds
        return low_x, low_y, high_x, high_y

    def lines(self) -> list[Points]:
        """The printed lines between squares, over the whole of each cell's floor; some lie under a tile's edge."""
        found = []
        offset = 0.5 if self.shifted else 0.0
        at = [n + offset for n in range(self.spaces + 1) if n + offset <= self.spaces]
        for row, column in self.cells:
            x, y = self.corner(row, column)
            for n in at:
                d = n * self.placement.pitch
                found += [polyline((x + d, y), (x + d, y + self.side)), polyline((x, y + d), (x + self.side, y + d))]
        return found

    def gaps(self) -> list[Gap]:
        """What stays open between tiles, or between their walls, that should touch."""
        if self.laying is None:
            return []
        found: tuple[list[BaseGeometry], list[BaseGeometry]] = ([], [])
        across, down = self.window.standing()
        for row, column in self.cells:
            x, y = self.corner(row, column)
            east, south = x + self.side, y + self.side
            if self._other_tile(row, column, 1):
                end = self.wall if down[row, column + 1] else 0.0
                low, high = east + end, self.corner(row, column + 1)[0] - end
                if high - low > _LEAST_GAP_MM:
                    found[0].append(shapely.box(low, y, high, south))
            if self._other_tile(row, column, 2):
                end = self.wall if across[row + 1, column] else 0.0
                low, high = south + end, self.corner(row + 1, column)[1] - end
                if high - low > _LEAST_GAP_MM:
                    found[1].append(shapely.box(x, low, east, high))
        return [
            Gap(part, level)
            for boxes, level in zip(found, (True, False), strict=True)
            for part in polygons_of(shapely.union_all(boxes))
        ]

    def stand(self, base: float) -> Stand | None:
        """Where a base is tried: in a hall if there is one, else in the first block of its size; None without one."""
        at = self._block(spaces_across(base))
        if at is None:
            return None
        row, column, cells, size = at
        x, y = self.corner(row, column)
        block = shapely.box(x, y, x + size, y + size)
        standing = [] if self.outboard else [bar.box for bar in self.bars] + self.posts
        free = block.difference(shapely.union_all(standing)) if standing else block
        middle = (x + cells * self.side / 2, y + cells * self.side / 2) if cells else (x + size / 2, y + size / 2)
        if free.is_empty:
            return Stand(*middle, False)
        place = place_disc(free, middle, base, self.wall)
        centre = shapely.Point(place)
        fits = free.covers(centre) and free.boundary.distance(centre) >= base / 2 - 1e-6
        return Stand(*(place if fits else middle), bool(fits))

    def _block(self, n: int) -> tuple[int, int, int, float] | None:
        """(row, column, cells across, side in mm) of a block of n spaces in one tile; rather between two walls."""
        cells = max(1, -(-n // self.spaces))
        across, down = self.window.standing()
        tiles, (rows, columns) = self.window.tile_of, self.window.shape
        found = []
        for row, column in self.cells:
            if row + cells > rows or column + cells > columns:
                continue
            here = tiles[row : row + cells, column : column + cells]
            inside = across[row + 1 : row + cells, column : column + cells].any()
            inside = inside or down[row : row + cells, column + 1 : column + cells].any()
            if (here != here[0, 0]).any() or inside:
                continue
            ends = [across[row + e, column : column + cells].all() for e in (0, cells)]
            ends += [down[row : row + cells, column + e].all() for e in (0, cells)]
            hall = sum((bool(ends[0] and ends[1]), bool(ends[2] and ends[3])))
            off = abs(row - (rows - cells) / 2) + abs(column - (columns - cells) / 2)
            found.append((hall != 1, off, row, column))
        if not found:
            return None
        *_, row, column = min(found)
        return row, column, cells, n * self.placement.pitch

    def _tiles(self) -> list[BaseGeometry]:
        """The floor of each tile."""
        numbers = np.array([self.window.tile_of[cell] for cell in self.cells])
        floors = np.array(self.cell_floors)
        return [shapely.union_all(floors[numbers == tile]) for tile in np.unique(numbers)]

    def _cell(self, row: int, column: int) -> BaseGeometry:
        x, y = self.corner(row, column)
        return shapely.box(x, y, x + self.side, y + self.side)

    def _other_tile(self, row: int, column: int, side: int) -> bool:
        """Whether another tile of the window lies beyond a side (north, east, south, west)."""
        dc, dr = STEPS[side]
        rows, columns = self.window.shape
        r, c = row + dr, column + dc
        inside = 0 <= r < rows and 0 <= c < columns
        return inside and int(self.window.tile_of[r, c]) not in (-1, int(self.window.tile_of[row, column]))

    def _bars(self, row: int, column: int) -> list[Bar]:
        window = self.window
        kinds = (
            window.across[row, column],
            window.down[row, column + 1],
            window.across[row + 1, column],
            window.down[row, column],
        )
        found = []
        for side, number in enumerate(kinds):
            kind = window.drawing.kinds[int(number)]
            if not kind.facts.stands:
                continue
            beyond = self.outboard and not self._inside_tile(row, column, side)
            box = self._strip(row, column, side, 0.0, self.side, beyond=beyond)
            solid = box
            if kind.opening is not None:
                ratio = self.placement.pitch / window.drawing.grid.pitch
                low = (kind.opening.centre - kind.opening.width / 2) * ratio
                high = (kind.opening.centre + kind.opening.width / 2) * ratio
                solid = box.difference(self._strip(row, column, side, low, high, beyond=beyond))
            clash = beyond and self.laying is None and self._other_tile(row, column, side)
            found.append(Bar(box, solid, clash))
        return found

    def _inside_tile(self, row: int, column: int, side: int) -> bool:
        dc, dr = STEPS[side]
        rows, columns = self.window.shape
        r, c = row + dr, column + dc
        return 0 <= r < rows and 0 <= c < columns and self.window.tile_of[r, c] == self.window.tile_of[row, column]

    def _strip(self, row: int, column: int, side: int, low: float, high: float, *, beyond: bool) -> BaseGeometry:
        """Along a side, from low to high of its west or north end, on the cell or beyond it."""
        x, y = self.corner(row, column)
        near = -self.wall if beyond else 0.0
        far = near + self.wall
        s = self.side
        return (
            shapely.box(x + low, y + near, x + high, y + far),
            shapely.box(x + s - far, y + low, x + s - near, y + high),
            shapely.box(x + low, y + s - far, x + high, y + s - near),
            shapely.box(x + near, y + low, x + far, y + high),
        )[side]

    def _posts(self, row: int, column: int) -> list[BaseGeometry]:
        x, y = self.corner(row, column)
        s, w, bits = self.side, self.wall, int(self.window.posts[row, column])
        corners = ((x + s - w, y), (x + s - w, y + s - w), (x, y + s - w), (x, y))
        return [shapely.box(a, b, a + w, b + w) for k, (a, b) in enumerate(corners) if bits >> k & 1]
