"""Rooms off the grid as tiles: cut by the lattice into pieces, slivers joined with their neighbours; types.

A square of the lattice whose floor and walls are those of ordinary cells stays an ordinary tile. Of every other square
each room's floor is a piece. A piece is a sliver if it covers less than a third of a square, or is nowhere as wide as
three wall thicknesses: it joins the piece or whole square of the same room with which it shares the longest seam, of
equal ones the first met walking clockwise round the sliver from where its wall ends. The smallest go first. A piece's
walls and openings are those of its room.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import accumulate, pairwise

import numpy as np
import numpy.typing as npt
import shapely
from scipy import ndimage
from shapely.geometry import Polygon, box
from shapely.geometry.polygon import orient

from tilegen.errors import InputError, Place
from tilegen.geometry import (
    EQUAL_MM,
    NEAR_MM,
    SNAP_MM,
    Point,
    corners_of,
    largest_polygon,
    polygons_of,
    sides_of,
    turn_right,
)
from tilegen.plans.drawing import Drawing, posts_of
from tilegen.plans.features import extra_in, flipped
from tilegen.plans.furnishing import strips_and_posts
from tilegen.plans.off_grid_walls import Border, RoomWalls
from tilegen.plans.shapes import Bools, Floats, OffGrid, cell_box
from tilegen.tiles.identity import Pose, is_alike
from tilegen.tiles.names import feature_words, with_words
from tilegen.tiles.plate import Plate
from tilegen.tiles.shape import InnerWalls, OpenLine, RegionShape, WallRun
from tilegen.tiles.tile import Tile, make_tile

SLIVER_SHARE = 1 / 3
SLIVER_WALLS = 3.0
# What ordinary walls and those of the outline may differ by on a cell, mm2, before it counts as off the grid.
_SAME_MM2 = 0.5
Square = tuple[int, int]
_KEY_MM = 1e-5
Known = dict[bytes, Tile]
# Own frame (y to the north) to table (y to the south), after 0 to 3 clockwise quarter turns.
MATRICES = (((1, 0), (0, -1)), ((0, 1), (1, 0)), ((-1, 0), (0, 1)), ((0, -1), (-1, 0)))
# A tile; (count, 3) column, row (from 1), clockwise quarter turns of its places; (count, 2) where the (0, 0) of its own
# frame falls on the table, mm.
TileLies = tuple[Tile, npt.NDArray[np.int32], npt.NDArray[np.float64]]


@dataclass(eq=False)
class FloorPiece:
    """A piece of a room's floor that is one tile, in map coordinates; squares: those of the lattice it lies on.

    sliver: whether it is too small or too narrow to stay alone; None if nobody has looked.
    """

    room: int
    floor: Polygon
    squares: set[Square] = field(default_factory=set)
    sliver: bool | None = None


@dataclass(frozen=True)
class CutFloor:
    """A drawing on one lattice: the cells (rows, columns) that no ordinary tile covers, the pieces there, all walls."""

    cells: Bools
    pieces: tuple[FloorPiece, ...]
    walls: RoomWalls


def cut_pieces(drawing: Drawing, off_grid: OffGrid, lattice: Square, block: int) -> CutFloor:
    """Cut a drawing's rooms off the grid.

    lattice: column and row at which the first square starts; block: cells along a square's side.

    Raises:
        InputError: a wall inside a room that the room's outline crosses; a way that does not fit.
    """
    return _Cutter(drawing, off_grid, lattice, block).cut()


class _Cutter:
    """The state while a drawing is cut."""

    def __init__(self, drawing: Drawing, off_grid: OffGrid, lattice: Square, block: int) -> None:
        self.drawing, self.off_grid, self.lattice, self.block = drawing, off_grid, lattice, block
        self.cell = drawing.cell_side
        self.walls = RoomWalls(drawing)

    def cut(self) -> CutFloor:
        squares = {self._square(c, r) for r, c in np.argwhere(self._off_grid_cells()).tolist()}
        pieces = [piece for square in sorted(squares, key=lambda s: s[::-1]) for piece in self._pieces_on(square)]
        pieces = self._merged(pieces, squares)
        cells = np.zeros(self.drawing.rooms.shape, bool)
        for column, row in squares:
            cells[max(row, 0) : row + self.block, max(column, 0) : column + self.block] = True
        return CutFloor(cells, tuple(pieces), self.walls)

    def _square(self, column: int, row: int) -> Square:
        """The first cell (maybe outside the drawing) of the square that a cell is in."""
        b = self.block
        return column - (column - self.lattice[0]) % b, row - (row - self.lattice[1]) % b

    def _off_grid_cells(self) -> Bools:
        """Cells of the rooms with shapes that are not all floor, or that carry what no ordinary cell does."""
        rooms, whole = self.drawing.rooms, self.off_grid.whole
        shaped = np.isin(rooms, np.array(sorted(self.off_grid.regions), np.uint32))
        found: Bools = self.off_grid.part.copy()
        near = ndimage.binary_dilation(found, np.ones((3, 3), bool))
        posts = posts_of(self.drawing)
        for row, column in np.argwhere(near & shaped & whole).tolist():
            found[row, column] = not self._ordinary(row, column, int(posts[row, column]))
        return found | self._opened_cells()

    def _opened_cells(self) -> Bools:
        """Cells whose walls a way at a point goes through: no ordinary tile has an opening there."""
        rooms = self.drawing.rooms
        found = np.zeros(rooms.shape, bool)
        for way in self.drawing.wall_ways:
            reach = way.opening.width / 2 - SNAP_MM
            for room in way.rooms:
                for x, y in way.spots_in(room):
                    north, south = self._cells_within(-y, reach)
                    west, east = self._cells_within(x, reach)
                    found[north:south, west:east] |= rooms[north:south, west:east] == ord(room)
        return found

    def _cells_within(self, middle: float, reach: float) -> tuple[int, int]:
        """The first row or column that is within reach of a place along it, and the one after the last, from 0."""
        return max(math.floor((middle - reach) / self.cell), 0), math.ceil((middle + reach) / self.cell)

    def _ordinary(self, row: int, column: int, posts: int) -> bool:
        """Whether a whole cell's walls are the strips along its sides and its posts."""
        mixed = self.off_grid.mixed_across[row : row + 2, column].any() or (
            self.off_grid.mixed_down[row, column : column + 2].any()
        )
        if mixed:
            return False
        d, square = self.drawing, cell_box(column, row, self.cell)
        x0, y0, x1, y1 = square.bounds
        carried = [bool(d.carried[line]) for line in d.lines_at(row, column)]
        corners = [bool(posts >> corner & 1) for corner in range(4)]
        expected = strips_and_posts((x0, -y1, x1, -y0), d.grid.wall_thickness, carried, corners)
        walls = square.difference(self.walls.free(int(d.rooms[row, column]), near=square))
        return float(walls.symmetric_difference(flipped(shapely.union_all(expected))).area) < _SAME_MM2

    def _pieces_on(self, square: Square) -> Iterator[FloorPiece]:
        """Each room's floor on a square of the lattice."""
        column, row = square
        floor = cell_box(column, row, self.cell, self.block, self.block)
        rows, columns = self.drawing.rooms.shape
        part = self.drawing.rooms[
            max(row, 0) : min(row + self.block, rows), max(column, 0) : min(column + self.block, columns)
        ]
        codes = {int(code) for code in np.unique(part) if code} | set(self.off_grid.regions)
        for code in sorted(codes):
            found = shapely.intersection(self.walls.region(code), floor, grid_size=EQUAL_MM)
            yield from (FloorPiece(code, polygon, {square}) for polygon in polygons_of(found))

    # --- slivers ---

    def _is_sliver(self, piece: FloorPiece) -> bool:
        if piece.sliver is None:
            piece.sliver = self._too_slight(piece)
        return piece.sliver

    def _too_slight(self, piece: FloorPiece) -> bool:
        side = self.cell * self.block
        width = SLIVER_WALLS * self.drawing.grid.wall_thickness
        if piece.floor.area < SLIVER_SHARE * side**2 - 1e-6:
            return True
        return bool(piece.floor.buffer(-width / 2 + 1e-6).is_empty)

    def _merged(self, pieces: list[FloorPiece], squares: set[Square]) -> list[FloorPiece]:
        """Slivers joined with what they share the longest seam with, the smallest first."""
        left = sorted((p for p in pieces if self._is_sliver(p)), key=_order)
        alone: list[FloorPiece] = []
        while left:
            sliver = left.pop(0)
            pieces.remove(sliver)
            beside = self._beside(sliver, pieces, squares)
            if beside is None:
                alone.append(sliver)
                continue
            if beside not in pieces:
                pieces += self._cut_too(next(iter(beside.squares)), squares)
                beside = next(
                    p for p in pieces if p.room == beside.room and p.floor.intersection(beside.floor).area > 0
                )
            beside.floor = largest_polygon(shapely.union_all([beside.floor, sliver.floor], grid_size=EQUAL_MM))
            beside.squares |= sliver.squares
            beside.sliver = None
            left = sorted((p for p in pieces if self._is_sliver(p)), key=_order)
        return sorted([*pieces, *alone], key=lambda p: (_order(p)[1:], p.room))

    def _cut_too(self, square: Square, squares: set[Square]) -> list[FloorPiece]:
        squares.add(square)
        return list(self._pieces_on(square))

    def _beside(self, sliver: FloorPiece, pieces: list[FloorPiece], squares: set[Square]) -> FloorPiece | None:
        """The neighbour of a sliver with the longest seam; None if it has none."""
        candidates = [p for p in pieces if p.room == sliver.room and p.floor.distance(sliver.floor) < SNAP_MM]
        for square in self._whole_squares_near(sliver, squares):
            floor = shapely.intersection(
                self.walls.region(sliver.room), cell_box(*square, self.cell, self.block, self.block), grid_size=EQUAL_MM
            )
            candidates += [
                FloorPiece(sliver.room, part, {square})
                for part in polygons_of(floor)
                if part.distance(sliver.floor) < SNAP_MM
            ]
        seams = [(_seam(sliver.floor, p.floor), p) for p in candidates]
        longest = max((length for length, _ in seams), default=0.0)
        if longest < SNAP_MM:
            return None
        best = [p for length, p in seams if length > longest - SNAP_MM]
        return best[0] if len(best) == 1 else self._first_clockwise(sliver, best)

    def _whole_squares_near(self, sliver: FloorPiece, squares: set[Square]) -> Iterator[Square]:
        west, south, east, north = (v / self.cell for v in sliver.floor.bounds)
        found = {
            self._square(c, r)
            for r in range(int(-north) - 1, int(-south) + 2)
            for c in range(int(west) - 1, int(east) + 2)
        }
        yield from sorted(found - squares, key=lambda s: s[::-1])

    def _first_clockwise(self, sliver: FloorPiece, best: list[FloorPiece]) -> FloorPiece:
        """Of neighbours with equal seams, the first met walking clockwise from where the sliver's wall ends."""
        ring = corners_of(orient(sliver.floor, -1.0).exterior)
        boundary = self.walls.region(sliver.room).boundary
        sides = [shapely.LineString(side) for side in sides_of(ring)]
        walls = [boundary.distance(side.interpolate(0.5, normalized=True)) < SNAP_MM for side in sides]
        start = next((k for k in range(len(sides)) if walls[k - 1] and not walls[k]), 0)
        for side in (*sides[start:], *sides[:start]):
            middle = side.interpolate(0.5, normalized=True)
            for piece in best:
                if piece.floor.distance(middle) < SNAP_MM and not boundary.distance(middle) < SNAP_MM:
                    return piece
        return best[0]


def _order(piece: FloorPiece) -> tuple[float, float, float]:
    """Smallest first, then in reading order."""
    west, _, _, north = piece.floor.bounds
    return round(piece.floor.area, 3), round(-north, 3), round(west, 3)


def _seam(one: Polygon, other: Polygon) -> float:
    return float(one.intersection(other.buffer(SNAP_MM, join_style="mitre")).area / SNAP_MM)


@dataclass(frozen=True)
class _Made:
    piece: FloorPiece
    shape: RegionShape
    home: Square
    tile: Tile


def off_grid_types(drawing: Drawing, cut: CutFloor, block: int) -> Iterator[TileLies]:
    """The types of a cut, in the order in which they are met.

    Raises:
        InputError: a piece that no tile can be made of; with its coordinates.
    """
    found: dict[Pose, list[_Made]] = {}
    known: Known = {}
    for piece in cut.pieces:
        made = _made(drawing, cut, piece, block, known)
        poses = made.tile.poses
        alike = next((least for least in found if any(is_alike(least, pose) for pose in poses)), None)
        found.setdefault(alike or min(poses), []).append(made)
    return (_type(drawing, group, block) for group in found.values())


def _made(drawing: Drawing, cut: CutFloor, piece: FloorPiece, block: int, known: Known) -> _Made:
    """A piece as a tile; one that is, with all around it, where another was on its square is made like that one."""
    cell = drawing.cell_side
    home = _home(piece, cell, block)
    corner = (home[0] * cell, -(home[1] + block) * cell)
    middle = cell * block / 2
    extra = extra_in(drawing, piece.room, piece.floor, (corner[0] + middle, corner[1] + middle))
    border, inner = cut.walls.border(piece.room), cut.walls.inner(piece.room)
    shape = region_shape(piece, border, inner, corner, drawing.grid.wall_thickness)
    shape = replace(shape, extra=extra, middle=middle)
    key = _key(shape)
    if key not in known:
        try:
            known[key] = make_tile("odd", shape, drawing.grid)
        except InputError as error:
            x, y = (v / cell for v in piece.floor.representative_point().coords[0])
            place = Place(f'room "{chr(piece.room)}" at ({x:.3f}, {-y:.3f})', room=chr(piece.room))
            raise error.located(place=place) from None
    if all(plate.edge is None for plate in known[key].plates):
        # A tile without walls is the same whatever height they would have.
        shape = replace(shape, extra=replace(extra, wall_height=None))
    return _Made(piece, shape, home, known[key])


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


def _home(piece: FloorPiece, cell: float, block: int) -> Square:
    """The square of the lattice that holds most of a piece."""
    squares = sorted(piece.squares, key=lambda s: s[::-1])
    return max(squares, key=lambda s: round(piece.floor.intersection(cell_box(s[0], s[1], cell, block, block)).area, 3))


def _type(drawing: Drawing, group: Sequence[_Made], block: int) -> TileLies:
    """One type, in the pose whose description comes first."""
    first, shape, side = group[0].tile, group[0].shape, drawing.cell_side * block
    least = min(first.poses)
    for _ in range(first.poses.index(least)):
        shape = shape.turned(side)
    name = with_words(off_grid_name(first.plates), feature_words(shape, drawing.grid.wall_height))
    tile = first.named(name) if shape is first.shape else make_tile(name, shape, drawing.grid)
    places, lies = [], []
    for made in group:
        turns = min((4 - k) % 4 for k, description in enumerate(made.tile.poses) if is_alike(description, least))
        column, row = (max(n, 0) + 1 for n in made.home)
        places.append((column, row, turns))
        lies.append(_lie(tile, made, turns, drawing, block))
    order = sorted(range(len(places)), key=lambda k: (places[k][1], places[k][0], places[k][2], lies[k]))
    return tile, np.array([places[k] for k in order], np.int32), np.array([lies[k] for k in order], np.float64)


def _lie(tile: Tile, made: _Made, turns: int, drawing: Drawing, block: int) -> tuple[float, float]:
    """Where the own (0, 0) falls on the table, so that the tile covers its piece; on the lattice if it can be."""
    cell, pitch = drawing.cell_side, drawing.grid.pitch
    corner = np.array((made.home[0] * cell, (made.home[1] + block) * cell))
    there = np.array(made.tile.base.foot.exterior.coords) * (1.0, -1.0) + corner
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


def off_grid_name(plates: Sequence[Plate]) -> str:
    """A name from what a tile's floor looks like and how many walls it carries."""
    base, walls = plates[0], [plate for plate in plates if plate.role == "wall"]
    bent = any(plate.bend is not None and len(plate.bend.outer) > 2 for plate in walls)
    corners = len(shapely.get_coordinates(base.foot.simplify(0.05))) - 1
    look = "curved" if bent else {3: "triangle", 4: "slanting"}.get(corners, "odd")
    doors = sum(len(plate.openings) for plate in walls)
    words = ("open", "one-wall", "two-walls", "three-walls")
    name = f"{look}-{words[len(walls)] if len(walls) < len(words) else 'walls'}"
    return f"{name}-with-doorway" if doors else name


def region_shape(
    piece: FloorPiece, border: Border, inner: InnerWalls, home: tuple[float, float], wall: float
) -> RegionShape:
    """A piece as the description of a tile. home: the south-west corner of its own square, map coordinates."""
    west, south, east, north = piece.floor.bounds
    far = 6 * wall
    window = box(west - far, south - far, east + far, north + far)
    runs = [part for run in border.runs for part in _near(run, piece.floor, 3 * wall)]

    def move(points: Floats) -> Floats:
        moved: Floats = points - np.array(home)
        return moved

    def spot(point: Point) -> Point:
        return point[0] - home[0], point[1] - home[1]

    moved = tuple(WallRun(tuple(map(spot, run.path)), run.openings, run.turns) for run in runs)
    opens = tuple(
        OpenLine(spot(line.start), spot(line.end), line.walled)
        for line in border.opens
        if window.intersects(shapely.LineString((line.start, line.end)))
    )
    near = piece.floor.buffer(3 * wall)
    beside = InnerWalls(
        tuple(run for run in inner.runs if near.intersects(shapely.LineString(run.path))),
        tuple(post for post in inner.posts if near.intersects(shapely.Point(post[:2]))),
    )
    return RegionShape(shapely.transform(piece.floor, move), moved, beside.moved(move), opens=opens)


def _near(run: WallRun, floor: Polygon, reach: float) -> Iterator[WallRun]:
    """The stretches of a wall's facets within reach of a piece; a wall all round it comes as two halves."""
    steps = list(pairwise(run.path))
    lines = np.array([shapely.LineString(step) for step in steps], dtype=object)
    away = shapely.distance(lines, floor)
    stations = [0.0, *accumulate(math.dist(a, b) for a, b in steps)]
    count, closed = len(steps), run.path[0] == run.path[-1]
    smooth = closed and run.turns == (None, None)
    beside = shapely.distance(shapely.line_interpolate_point(lines, 0.5, normalized=True), floor)
    if closed and (beside < SNAP_MM).all():
        first = _clear_of_openings(run, stations) if smooth else 0
        order = [(first + k) % count for k in range(count)]
        yield _stretch(run, order[: count // 2], stations)
        yield _stretch(run, order[count // 2 :], stations)
        return
    first = int(beside.argmax()) if smooth else 0
    group: list[int] = []
    for k in [*((first + k) % count for k in range(count)), -1]:
        if k >= 0 and away[k] < reach:
            group.append(k)
        elif group:
            yield _stretch(run, group, stations)
            group = []


def _clear_of_openings(run: WallRun, stations: Sequence[float]) -> int:
    """The facet of a closed wall at which its two halves begin furthest from any opening."""
    total, count = stations[-1], len(stations) - 1
    centres = [(low + high) / 2 for low, high, _ in run.openings]

    def clear(first: int) -> float:
        cuts = stations[first], stations[(first + count // 2) % count]
        return round(min((abs((c - s + total / 2) % total - total / 2) for c in centres for s in cuts), default=0.0), 3)

    return max(range(count), key=clear)


def _stretch(run: WallRun, group: Sequence[int], stations: Sequence[float]) -> WallRun:
    """Some facets in a row, with the openings measured from where they start (round a closed wall if need be)."""
    total, start = stations[-1], stations[group[0]]
    path = (run.path[group[0]], *(run.path[k + 1] for k in group))
    length = math.fsum(stations[k + 1] - stations[k] for k in group)
    openings = []
    for low, high, look in run.openings:
        for shift in (0.0, total, -total) if run.path[0] == run.path[-1] else (0.0,):
            if low + shift - start < length and high + shift - start > 0:
                openings.append((low + shift - start, high + shift - start, look))
    return WallRun(path, tuple(openings), (_turn(run, group[0]), _turn(run, group[-1] + 1)))


def _turn(run: WallRun, corner: int) -> float | None:
    """How far a run, or the room's outline at its ends, turns right at one of its corners."""
    path, last = run.path, len(run.path) - 1
    if 0 < corner < last:
        return turn_right(*path[corner - 1 : corner + 2])
    if path[0] == path[-1] and run.turns == (None, None):
        return turn_right(path[-2], path[0], path[1])
    return run.turns[0] if corner == 0 else run.turns[1]
