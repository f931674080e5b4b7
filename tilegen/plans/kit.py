"""A plan's kit: which tiles, how many, where each lies on the table and how it is turned.

Table coordinates: millimetres from the drawing's top left corner, x to the east, y to the south. A tile's own
frame has x to the east, y to the north and (0, 0) at the south-west corner of its lattice.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import chain, repeat
from math import fsum
from pathlib import PurePath
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InFile, InputError, Place, Said
from tilegen.geometry import Points
from tilegen.model.grid import LEAVES, Grid
from tilegen.model.surface import FloorPattern
from tilegen.plans.drawing import Drawing, ends_beside
from tilegen.plans.lattices import CellKinds, Grouping, best_layout, cell_codes, in_reading_order
from tilegen.plans.loose import PostPlace, grid_at, grid_of, loose_posts
from tilegen.plans.off_grid_tiles import MATRICES, CutFloor, least_corner, off_grid_types, on_lattice
from tilegen.plans.refusals import check_any_room, check_room
from tilegen.plans.ways import WAYS, Line, Way, line_of, spot_on
from tilegen.plans.ways.kind import HungOpening
from tilegen.tiles.dressing import Ground, own_ground
from tilegen.tiles.loose import END_CLEARANCE_MM, PIECES, Piece, make_post, make_sill
from tilegen.tiles.names import name_of
from tilegen.tiles.openings import fit_openings, make_opening, mirrored, shrunk
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import SIDES, STEPS, Cell, CellShape, Shape, Side, single_cell
from tilegen.tiles.tile import Tile, make_tile


@dataclass(frozen=True)
class PieceType:
    """One type of loose piece in a kit, with the ways or corners it stands in."""

    piece: Piece
    places: tuple[Way | PostPlace, ...]

    @property
    def name(self) -> str:
        """The piece's name, its own in this kit."""
        return self.piece.name

    @property
    def count(self) -> int:
        """How many of it the plan needs."""
        return len(self.places)


def make_pieces(drawing: Drawing, cut: CutFloor | None = None) -> tuple[PieceType, ...]:
    """Every loose piece of a plan: door pieces first, then sills, posts, leaves, strips; of each the most used first.

    Pieces that are alike up to a half turn are one type. cut: the plan's pieces off the grid, if it has any.
    """
    found: dict[str, tuple[Piece, list[Way | PostPlace]]] = {}
    needed: Iterator[tuple[Piece, Way | PostPlace]] = chain(_needed(drawing), _posts(drawing, cut))
    for piece, place in needed:
        found.setdefault(piece.id, (piece, []))[1].append(place)
    pieces = sorted(found.values(), key=lambda item: (PIECES.index(type(item[0])), -len(item[1]), item[0].id))
    names = [piece.name for piece, _ in pieces]
    named = (replace(p, name=f"{p.name}-{p.id.lower()}") if names.count(p.name) > 1 else p for p, _ in pieces)
    return tuple(PieceType(piece, tuple(ways)) for piece, (_, ways) in zip(named, pieces, strict=True))


def _needed(drawing: Drawing) -> Iterator[tuple[Piece, Way]]:
    """The loose pieces of each way, with the way as seen from where they belong."""
    for way in drawing.ways:
        line = line_of(way.cell, way.side)
        found = drawing.kind_at(line)
        opening, kind = found.opening, found.facts
        if opening is None:
            continue
        way = replace(way, spot=spot_on(line, opening.centre, drawing.cell_side))  # noqa: PLW2901 - the same way
        if kind.carried and opening.leaf not in LEAVES:
            continue
        if kind.carried:
            yield from kind.pieces(_in_tiles(drawing, way, opening), drawing.cell_side)
            continue
        beside = [(c + 1, r + 1) for (c, r), _ in ends_beside(drawing, line)]
        grid = drawing.grid if found.name in WAYS else grid_at(drawing, beside[0])
        yield from kind.pieces([(opening, way, grid)], drawing.cell_side)
        if len(beside) == 1:
            yield make_sill(grid, drawing.cell_side), way
    for through in drawing.wall_ways:
        hung = [(through.opening, way, grid_of(drawing, ord(room))) for room, way in through.hung.items()]
        yield from WAYS[through.kind].pieces(hung, drawing.cell_side) if hung else ()


def _posts(drawing: Drawing, cut: CutFloor | None) -> Iterator[tuple[Piece, PostPlace]]:
    """The posts that are pieces."""
    for place in loose_posts(drawing, None if cut is None else cut.cells):
        yield make_post(grid_at(drawing, place.cell)), place


def _in_tiles(drawing: Drawing, way: Way, opening: Opening) -> list[HungOpening]:
    """The opening in each tile beside a way, the way's own first; the way as seen from there; its room's grid."""
    step = STEPS[SIDES.index(way.side)]
    beyond = replace(
        way, cell=(way.cell[0] + step[0], way.cell[1] + step[1]), side=SIDES[(SIDES.index(way.side) + 2) % 4]
    )
    found = []
    for (column, row), ends in ends_beside(drawing, line_of(way.cell, way.side)):
        where = way if (column + 1, row + 1) == way.cell else beyond
        made = opening if way.width is not None else shrunk(opening, drawing.cell_side, drawing.grid, ends)
        grid = grid_at(drawing, (column + 1, row + 1))
        # Walked clockwise, as the tile's own sides are: lines are kept from their west or north end.
        found.append((made if where.side in ("north", "east") else mirrored(made, drawing.cell_side), where, grid))
    return sorted(found, key=lambda item: item[1] is not way)


G = TypeVar("G", bound=BaseGeometry)
_Place = tuple[int, ...]


@dataclass(frozen=True)
class TileType:
    """One type of tile in a kit; places: (count, 3) column, row (from 1) and clockwise quarter turns.

    lies: (n, 2) where the (0, 0) of its own frame falls on the table, mm, at the last n of its places: those off the
    grid, of which a type of ordinary tiles may have some too.
    """

    tile: Tile
    places: npt.NDArray[np.int32]
    lies: npt.NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))

    @property
    def name(self) -> str:
        """The tile's name, its own in this kit."""
        return self.tile.name

    @property
    def count(self) -> int:
        """How many of it the plan needs."""
        return len(self.places)

    @property
    def on_grid(self) -> npt.NDArray[np.int32]:
        """The places on the grid."""
        return self.places[: self.count - len(self.lies)]

    @property
    def off_grid(self) -> npt.NDArray[np.int32]:
        """The places off the grid, as many as `lies`."""
        return self.places[self.count - len(self.lies) :]


@dataclass(frozen=True)
class Kit:
    """Everything a plan is laid from. lattice: column and row (from 0) at which the first block of cells starts.

    cut: the pieces of a drawing's rooms off the grid, if it has any. drawing: what it is the kit of.
    """

    plan: str
    grid: Grid
    types: tuple[TileType, ...]
    pieces: tuple[PieceType, ...]
    block: int
    lattice: tuple[int, int] = (0, 0)
    cut: CutFloor | None = None
    drawing: Drawing | None = field(default=None, repr=False, compare=False)

    @cached_property
    def tiles(self) -> int:
        """All tiles of all types."""
        return sum(t.count for t in self.types)


def make_kit(drawing: Drawing, lattice: tuple[int, int] | None = None) -> Kit:
    """Count the tiles of a drawing.

    lattice: at 5 ft, the (column, row) from 0 at which the first 2 x 2 block starts; the best of four if None.

    Raises:
        InputError: the drawing has no room, or a floor is chosen for a room that isn't there.
        ValueError: a lattice that does not exist, or any at 10 ft.
    """
    if lattice is not None and (drawing.by_tiles or not {*lattice} <= {0, 1}):
        raise ValueError(f"a lattice from {lattice}: expected 0 or 1 each way, at 5 ft")
    check_any_room(drawing.rooms)
    layout, cut = best_layout(drawing, lattice)
    types = named_types(_types(drawing, layout, cut))
    kit = Kit(drawing.name, drawing.grid, types, make_pieces(drawing, cut), layout.block, layout.lattice, cut, drawing)
    return _split_by_surface(kit, drawing)


def _types(drawing: Drawing, layout: Grouping, cut: CutFloor | None) -> list[TileType]:
    """The types of tiles on the grid and off it, the most used first."""
    made = [TileType(_tile(own, places, drawing), places) for own, places in layout.grouped().items()]
    off_grid = off_grid_types(drawing, cut, layout.block) if cut is not None else ()
    return sorted(
        _merged((*made, *(TileType(*found) for found in off_grid)), drawing.grid.pitch),
        key=lambda t: (-t.count, t.tile.shape.order),
    )


def _tile(own: CellShape, places: npt.NDArray[np.int32], drawing: Drawing) -> Tile:
    """A type's tile; what is wrong with it is said of its first place."""
    try:
        return _tile_of(own, drawing.grid)
    except InputError as error:
        column, row = places[0, :2].tolist()
        raise error.located(place=Place(f"the tile at cell [{column}, {row}]", cell=(column, row))) from None


# One edit of a large plan leaves nearly all of its tiles as they were.
@lru_cache(maxsize=4096)
def _tile_of(own: CellShape, grid: Grid) -> Tile:
    return make_tile(name_of(own, grid.wall_height), own, grid)


def _merged(types: Iterable[TileType], pitch: float) -> list[TileType]:
    """Types of one identity as one: shapes may differ in what a low wall cuts off, in a leaf, or by rounding.

    A tile off the grid may come out as an ordinary one does.
    """
    found: dict[str, TileType] = {}
    for kind in types:
        first = found.get(kind.tile.id)
        found[kind.tile.id] = kind if first is None else _joined(first, kind, pitch)
    return list(found.values())


def _joined(first: TileType, second: TileType, pitch: float) -> TileType:
    """Two types of one identity, in the first one's pose."""
    alike = np.array([turns for turns, pose in enumerate(first.tile.poses) if pose == second.tile.poses[0]])
    places = second.places.copy()
    places[:, 2] = ((places[:, 2:] + alike) % 4).min(axis=1)
    turned = TileType(first.tile, places, second.lies)
    lies = [
        on_lattice(lie + least_corner(second.tile, before) - least_corner(first.tile, after), pitch)
        for lie, before, after in zip(second.lies, second.off_grid[:, 2], turned.off_grid[:, 2], strict=True)
    ]
    return TileType(
        first.tile,
        np.concatenate([in_reading_order([first.on_grid, turned.on_grid]), first.off_grid, turned.off_grid]),
        np.concatenate([first.lies, np.array(lies).reshape(-1, 2)]),
    )


def named_types(types: Iterable[TileType]) -> tuple[TileType, ...]:
    """The types with names of their own: the id is added where a name would stand twice.

    The one whose doorways are all as the grid has them keeps the plain name.
    """
    types = tuple(types)
    plain = Counter(t.name for t in types if _has_plain_openings(t.tile))
    return _told_apart(types, [plain[t.name] == 1 and _has_plain_openings(t.tile) for t in types])


def _told_apart(types: Iterable[TileType], keeps: Iterable[bool] = repeat(False)) -> tuple[TileType, ...]:
    """The types, the id added to names that stand twice, but of those that keep theirs."""
    types = tuple(types)
    seen = Counter(t.name for t in types)
    return tuple(
        t if seen[t.name] == 1 or keep else replace(t, tile=t.tile.named(f"{t.name}-{t.tile.id.lower()}"))
        for t, keep in zip(types, keeps, strict=False)
    )


def _has_plain_openings(tile: Tile) -> bool:
    """Whether all doorways are as the grid has them, in the middle of their sides."""
    shape = tile.shape
    if not shape.on_grid:
        return False
    length = shape.widths[0] * tile.grid.pitch
    plain = Side("doorway", make_opening(length, tile.grid))
    for _, cell in shape.cells:
        sides = tuple(plain if side.opening else side for side in cell.sides)
        if fit_openings(Cell(sides), (length, length), tile.grid).sides != cell.sides:  # type: ignore[arg-type]
            return False
    return True


@dataclass(frozen=True, slots=True)
class Turn:
    """How one tile lies: clockwise quarter turns, and where the (0, 0) of its own frame falls on the table, in mm."""

    quarter_turns: int
    x: float
    y: float

    @property
    def matrix(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Rows of the whole-number matrix from the own frame to the table; then (x, y) is added."""
        return MATRICES[self.quarter_turns]

    def points(self, own: Points) -> Points:
        """(n, 2) points of the tile's own frame, on the table."""
        table: Points = own @ np.array(self.matrix, np.float64).T + (self.x, self.y)
        return table

    def geometry(self, own: G) -> G:
        """A geometry of the tile's own frame, on the table."""
        return shapely.transform(own, self.points)


def placed(kit: Kit, drawing: Drawing) -> Iterator[tuple[TileType, Turn]]:
    """Every tile of a kit with its place: type by type, in the order of each type's places.

    Raises:
        ValueError: a kit that is not of this drawing.
    """
    for kind, origins in placed_types(kit, drawing):
        for (_, _, turns), (x, y) in zip(kind.places.tolist(), origins.tolist(), strict=True):
            yield kind, Turn(turns, x, y)


def placed_types(kit: Kit, drawing: Drawing) -> Iterator[tuple[TileType, Points]]:
    """Every type of tile with (count, 2): where the (0, 0) of its own frame falls on the table, mm, at each place.

    Raises:
        ValueError: a kit that is not of this drawing.
    """
    finder = _FirstCells(kit, drawing)
    for kind in kit.types:
        yield kind, _origins(kind, finder)


def corners(kit: Kit, drawing: Drawing) -> Iterator[Points]:
    """Of each type's places in turn, (count, 2): how far west and north edge of the tile's bounding box lie, mm.

    The box is that of the turned solid as it is written, joint play off and pegs included.
    """
    finder = _FirstCells(kit, drawing)
    for kind in kit.types:
        west, south, east, north = shapely.total_bounds([plate.foot for plate in kind.tile.plates]).tolist()
        own = np.array([(west, south), (east, north)])
        # From where the own (0, 0) falls to the box's north-west corner, by quarter turns.
        to_box = np.array([(own @ np.array(matrix, np.float64).T).min(axis=0) for matrix in MATRICES])
        yield _origins(kind, finder) + to_box[kind.places[:, 2]]


def placed_pieces(kit: Kit, drawing: Drawing) -> Iterator[tuple[PieceType, Turn]]:
    """Every door piece, sill and post with its place, in the order of each type's places; in the frame of its plates.

    Sills come first: door pieces stand on them. Leaves stand inside their walls: `hung_pieces`.
    """
    for piece_type in sorted(kit.pieces, key=lambda one: not one.piece.on_table):
        for place in piece_type.places if piece_type.piece.laid else ():
            if isinstance(place, PostPlace):
                yield piece_type, _post_turn(place, drawing)
            else:
                yield piece_type, _piece_turn(piece_type.piece, place, drawing)


def hung_pieces(kit: Kit, drawing: Drawing) -> Iterator[tuple[PieceType, tuple[float, float]]]:
    """Every leaf with the middle of its doorway in the tile that carries it, mm from the map's north-west corner."""
    inwards = drawing.grid.wall_thickness / 2
    for piece_type in kit.pieces:
        for way in piece_type.places if piece_type.piece.hung else ():
            if isinstance(way, PostPlace) or way.spot is None:
                continue
            (x, y), out = way.spot, STEPS[SIDES.index(way.side)]
            yield piece_type, (x - inwards * out[0], -y - inwards * out[1])


def _post_turn(place: PostPlace, drawing: Drawing) -> Turn:
    """How a post lies: with its outer faces half the play off the seams."""
    side, wall, half = drawing.cell_side, drawing.grid.wall_thickness, drawing.grid.half_play
    x = (place.cell[0] - ("west" in place.side)) * side
    y = (place.cell[1] - ("north" in place.side)) * side
    return Turn(0, x - wall if "east" in place.side else x + half, y + wall if "north" in place.side else y - half)


def _piece_turn(piece: Piece, way: Way, drawing: Drawing) -> Turn:
    line = line_of(way.cell, way.side)
    array, row, column = line
    side, thickness = drawing.cell_side, drawing.grid.wall_thickness
    shift = thickness + END_CLEARANCE_MM
    if piece.on_table:
        return _sill_turn(line, shift, drawing)
    # Doors that are alike up to a half turn are one type: the others of it stand the other way round.
    same_way = drawing.kind_at(line).opening == piece.opening
    x, y = column * side, row * side
    if array == "across":
        return Turn(0, x + shift, y + thickness) if same_way else Turn(2, x + side - shift, y - thickness)
    return Turn(1, x - thickness, y + shift) if same_way else Turn(3, x + thickness, y + side - shift)


def _sill_turn(line: Line, shift: float, drawing: Drawing) -> Turn:
    """How a sill lies on the side of its line that has no room, half the play off the seam."""
    array, row, column = line
    side, half, deep = drawing.cell_side, drawing.grid.half_play, 2 * drawing.grid.wall_thickness
    ((c, r), _) = next(ends_beside(drawing, line))
    x, y = column * side, row * side
    if array == "across":
        return Turn(0, x + shift, y + deep if r < row else y - half)
    return Turn(1, x + half if c < column else x - deep, y + shift)


def _origins(kind: TileType, finder: _FirstCells) -> Points:
    """(count, 2): where the (0, 0) of a type's own frame falls on the table at each of its places, mm."""
    if not len(kind.on_grid):
        return kind.lies
    shape, drawing, on_grid = kind.tile.shape, finder.drawing, kind.on_grid
    turned = shape.turns
    if not turned:
        raise ValueError(f"tile {kind.name} is not made of cells")
    first = on_grid[:, :2] - 1.0
    if finder.block != 1:
        first = np.array([finder.first_cell(c - 1, r - 1, turned[t]) for c, r, t in on_grid.tolist()], np.float64)
    sizes = np.array([(fsum(t.widths), fsum(t.heights)) for t in turned])[on_grid[:, 2]]
    # The own south-west corner goes to the south-west, north-west, north-east, south-east.
    share = np.array([(0, 1), (0, 0), (1, 0), (1, 1)])[on_grid[:, 2]]
    origins: Points = (first * drawing.cell_spaces + sizes * share) * drawing.grid.pitch
    return np.concatenate([origins, kind.lies])


class _FirstCells:
    """Finds the first cell of a tile at 5 ft, where the place that the kit gives is its block's."""

    def __init__(self, kit: Kit, drawing: Drawing) -> None:
        self.block, self.lattice, self.drawing = kit.block, kit.lattice, drawing
        self.taken: set[tuple[int, int]] = set()

    def first_cell(self, column: int, row: int, turned: CellShape) -> tuple[int, int]:
        """Column and row from 0 of the north-westernmost cell of a tile's lattice."""
        cells = self._cells_of_block(column, row)
        if len(turned.cells) == len(cells):
            return min(c for c, _ in cells), min(r for _, r in cells)
        # A diagonal block is two tiles of one cell each: this one is the cell that carries the same.
        for cell in cells:
            if cell not in self.taken and len(turned.cells) == 1 and self._shape(cell) == turned:
                self.taken.add(cell)
                return cell
        raise ValueError(f"no tile like this in the block at column {column + 1}, row {row + 1}")

    def _cells_of_block(self, column: int, row: int) -> list[tuple[int, int]]:
        """The floor cells of the block, in reading order; a block at the edge starts outside, its place inside."""
        rows, columns = self.drawing.rooms.shape
        left = column - (column - self.lattice[0]) % 2
        top = row - (row - self.lattice[1]) % 2
        return [
            (c, r)
            for r in range(max(top, 0), min(top + 2, rows))
            for c in range(max(left, 0), min(left + 2, columns))
            if self.drawing.rooms[r, c]
        ]

    @cached_property
    def _codes(self) -> tuple[npt.NDArray[np.int64], CellKinds]:
        return cell_codes(self.drawing)

    def _shape(self, cell: tuple[int, int]) -> CellShape:
        codes, kinds = self._codes
        return single_cell(kinds.cell(int(codes[cell[1], cell[0]])), (1.0, 1.0))


def _split_by_surface(kit: Kit, drawing: Drawing) -> Kit:
    """The kit with types split where the plan's surface makes them differ.

    With `rooms` and `styles` a type is split by the rooms that its tiles lie in, with `different` in turn; a continuous
    surface makes every tile whose pattern shows a type of its own.

    Raises:
        InputError: a floor for a room that isn't there; a surface that can't be laid off the grid.
    """
    surface = drawing.grid.surface
    varied = surface.different > 1 and not (surface.plain and surface.stone is None and not surface.styles)
    if not (surface.continuous or surface.rooms or surface.styles or varied):
        return kit
    if drawing.off_grid is not None:
        raise InputError(
            "in a plan with rooms off the grid all tiles have the same floor pattern and style",
            cure=Said(
                "Give all rooms the same ones{}",
                InFile(": delete [surface.rooms], [surface.styles], continuous and different"),
            ),
            place="[surface]",
        )
    floor_of = _of_rooms(drawing, surface.rooms, "rooms")
    style_of = _of_rooms(drawing, surface.styles, "styles")
    found: dict[tuple[int, Ground | None, str, int], list[_Place]] = {}
    met: Counter[tuple[int, Ground | None, str]] = Counter()
    turns = placed(kit, drawing)
    for number, kind in enumerate(kit.types):
        shape = kind.tile.shape
        for place in kind.places.tolist():
            _, turn = next(turns)
            rooms = [int(drawing.rooms[cell]) for cell in _cells(shape, turn, drawing)]
            floors = tuple(floor_of.get(room, surface.floor) for room in rooms)
            style = style_of.get(rooms[0], surface.style)
            alike = number, _ground(shape, turn, floors, drawing), style
            variant = met[alike] % surface.different if varied else 0
            met[alike] += 1
            found.setdefault((*alike, variant), []).append(tuple(place))
    split: dict[str, TileType] = {}
    for (number, ground, style, variant), places in found.items():
        tile = kit.types[number].tile
        if ground is not None or style != surface.style or variant:
            tile = _made(tile, ground, style, places[0], variant)
        same = split[tile.id].places.tolist() if tile.id in split else []
        ordered = sorted([*map(tuple, same), *places], key=lambda p: (p[1], p[0], p[2]))
        split[tile.id] = TileType(tile, np.array(ordered, np.int32))
    return replace(kit, types=tuple(sorted(_told_apart(split.values()), key=lambda t: -t.count)))


def _of_rooms(drawing: Drawing, words: Sequence[tuple[str, str]], key: str) -> dict[int, str]:
    """What a table says of rooms, by the code point of a room's letter."""
    there = {chr(code) for code in np.unique(drawing.rooms) if code}
    for letter, _ in words:
        check_room(letter, there, f"[surface] {key}")
    return {ord(letter): word for letter, word in words}


def _cells(shape: Shape, turn: Turn, drawing: Drawing) -> Iterator[tuple[int, int]]:
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


def _ground(shape: Shape, turn: Turn, floors: tuple[FloorPattern, ...], drawing: Drawing) -> Ground | None:
    surface = drawing.grid.surface
    if surface.continuous:
        return Ground(turn.quarter_turns, turn.x, -turn.y, 0, floors)
    if set(floors) == {surface.floor}:
        return None
    return own_ground(shape, drawing.grid, floors)


def _made(tile: Tile, ground: Ground | None, style: str, place: _Place, variant: int) -> Tile:
    """A type of its own, named after its place or its floor, its style if that is its room's, and its variant."""
    surface, grid = tile.grid.surface, tile.grid
    words = [*sorted(set(ground.floors))] if ground else []
    if surface.continuous:
        words = [f"{place[0]}-{place[1]}"]
    if style != surface.style:
        letter = next(letter for letter, word in surface.styles if word == style)
        grid = replace(grid, surface=replace(surface, style=style, stone=dict(surface.stones)[letter]))
        words.append(re.sub(r"[^a-z0-9]+", "-", PurePath(style).stem.lower()).strip("-") or "own-style")
    if variant:
        seed = (surface.seed + variant) % 2**32
        grid = replace(grid, surface=replace(grid.surface, seed=seed))
        words.append(f"variant-{variant + 1}")
    return make_tile("-".join((tile.name, *words)), tile.shape, grid, ground)
