"""From a drawing to a kit: which tiles, how many, where each lies and how it is turned."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.plans.cutting import Cut, cut_pieces
from tilegen.plans.drawing import Drawing
from tilegen.plans.loose import PieceType, make_pieces
from tilegen.plans.oddtiles import odd_types
from tilegen.plans.posts import posts_of
from tilegen.tiles.blocks import PLAIN, Extra
from tilegen.tiles.names import name_of
from tilegen.tiles.openings import fit_openings, make_opening
from tilegen.tiles.shape import Cell, CellShape, Side, four_turns, quarter_turns, single_cell
from tilegen.tiles.tile import Tile, make_tile

# The four lattices of 2 x 2 blocks at 5 ft, by the column and row a first block starts at.
LATTICES = ((0, 0), (0, 1), (1, 0), (1, 1))
Codes = npt.NDArray[np.int64]


@dataclass(frozen=True)
class TileType:
    """One type of tile in a kit; places: (count, 3) column, row (from 1) and clockwise quarter turns.

    lies: of tiles off the grid, (count, 2) where the (0, 0) of its own frame falls on the table, mm.
    """

    tile: Tile
    places: npt.NDArray[np.int32]
    lies: npt.NDArray[np.float64] | None = None

    @property
    def name(self) -> str:
        """The tile's name, its own in this kit."""
        return self.tile.name

    @property
    def count(self) -> int:
        """How many of it the plan needs."""
        return len(self.places)


@dataclass(frozen=True)
class Kit:
    """Everything a plan is laid from. lattice: column and row (from 0) at which the first block of cells starts.

    cut: the pieces of a drawing's rooms off the grid, if it has any.
    """

    plan: str
    grid: Grid
    types: tuple[TileType, ...]
    pieces: tuple[PieceType, ...]
    block: int
    lattice: tuple[int, int] = (0, 0)
    cut: Cut | None = None

    @cached_property
    def tiles(self) -> int:
        """All tiles of all types."""
        return sum(t.count for t in self.types)


def make_kit(drawing: Drawing, lattice: tuple[int, int] | None = None) -> Kit:
    """Count the tiles of a drawing.

    lattice: at 5 ft, the (column, row) from 0 at which the first 2 x 2 block starts; the best of four if None.

    Raises:
        InputError: the drawing has no room, or a floor is chosen for a room that isn't there.
        ValueError: a lattice that is none of the four, or one at 10 ft.
    """
    if lattice is not None and (drawing.scale != "5 ft" or not {*lattice} <= {0, 1}):
        raise ValueError(f"a lattice from {lattice}: expected 0 or 1 each way, at 5 ft")
    if not drawing.rooms.any():
        raise InputError("a drawing without a room", expected="at least one letter or digit", place="drawing")
    layout, cut = _best_layout(drawing, lattice)
    grouped = layout.grouped()
    odd = odd_types(drawing, cut, layout.block) if cut is not None else ()
    types = sorted(
        (
            *(TileType(_tile(own, places, drawing), places) for own, places in grouped.items()),
            *(TileType(kind.tile, kind.places, kind.lies) for kind in odd),
        ),
        key=lambda t: (-t.count, t.tile.shape.order if isinstance(t.tile.shape, CellShape) else ()),
    )
    pieces = make_pieces(drawing)
    kit = Kit(drawing.name, drawing.grid, named_types(types), pieces, layout.block, layout.lattice, cut)
    surface = drawing.grid.surface
    if not surface.continuous and not surface.rooms:
        return kit
    if drawing.off_grid is not None:
        raise InputError(
            "a surface by room, or one that runs over the seams, in a plan with rooms off the grid",
            expected="one floor for all tiles",
            cure="leave [surface.rooms] and continuous out",
            place="[surface]",
        )
    from tilegen.plans.grounds import with_grounds  # noqa: PLC0415 - it needs the kit to find each tile's place

    return with_grounds(kit, drawing)


def _tile(own: CellShape, places: npt.NDArray[np.int32], drawing: Drawing) -> Tile:
    """A type's tile; what is wrong with it is said of its first place."""
    try:
        return make_tile(name_of(own, drawing.grid.wall_height), own, drawing.grid)
    except InputError as error:
        raise error.located(place=f"the tile at cell [{places[0, 0]}, {places[0, 1]}]") from None


def _best_layout(drawing: Drawing, lattice: tuple[int, int] | None) -> tuple[_Squares | _Blocks, Cut | None]:
    """The squares or blocks of cells, and the pieces off the grid; of the lattices at 5 ft the best."""
    if drawing.off_grid is None:
        return (_Squares(drawing) if drawing.scale == "10 ft" else _best_blocks(drawing, lattice)), None
    if drawing.scale == "10 ft":
        cut = cut_pieces(drawing, drawing.off_grid, (0, 0), 1)
        return _Squares(drawing, cut.odd), cut
    found = []
    for at in LATTICES if lattice is None else (lattice,):
        cut = cut_pieces(drawing, drawing.off_grid, at, 2)
        blocks = _best_blocks(drawing, at, cut.odd)
        tiles, types, *_ = blocks.rank
        found.append(((tiles + len(cut.pieces), types, at), blocks, cut))
    _, blocks, cut = min(found, key=lambda item: item[0])
    return blocks, cut


@dataclass(frozen=True)
class CellKinds:
    """What the numbers of `cell_codes` stand for."""

    sides: tuple[Side, ...]
    length: float
    grid: Grid
    extras: tuple[Extra, ...] = (PLAIN,)

    def cell(self, code: int) -> Cell:
        """The cell of a code, its openings fitted between its walls."""
        digits, extra = divmod(code - 1, len(self.extras))
        digits, posts = divmod(digits, 16)
        found = []
        walled = posts > 0
        for _ in range(4):
            digits, digit = divmod(digits, len(self.sides))
            found.append(self.sides[digit])
            walled = walled or self.sides[digit].carries
        west, south, east, north = found
        corners = (bool(posts & 1), bool(posts & 2), bool(posts & 4), bool(posts & 8))
        cell = Cell((north, east, south, west), corners, self._extra(extra, walled=walled))
        return fit_openings(cell, (self.length, self.length), self.grid)

    def _extra(self, number: int, *, walled: bool) -> Extra:
        """A cell without walls is the same whatever height they would have."""
        extra = self.extras[number]
        tells = walled and extra.wall_height not in (None, self.grid.wall_height)
        return extra if tells or extra.wall_height is None else replace(extra, wall_height=None)


def cell_codes(drawing: Drawing) -> tuple[Codes, CellKinds]:
    """One number for all that a cell carries, 0 for solid ground, and what the numbers stand for."""
    sides, forward, backward = drawing.side_codes()
    base = np.int64(len(sides))
    codes = forward[drawing.across[:-1]].astype(np.int64)
    for strip in (forward[drawing.down[:, 1:]], backward[drawing.across[1:]], backward[drawing.down[:, :-1]]):
        codes *= base
        codes += strip
    codes *= 16
    codes += posts_of(drawing)
    if drawing.extras is not None:
        codes *= len(drawing.extra_kinds)
        codes += drawing.extras
    codes += 1
    codes[drawing.rooms == 0] = 0
    return codes, CellKinds(sides, drawing.cell_side, drawing.grid, drawing.extra_kinds)


class _Squares:
    """A 10 ft drawing: every cell is a tile."""

    block = 1
    lattice = (0, 0)

    def __init__(self, drawing: Drawing, odd: npt.NDArray[np.bool_] | None = None) -> None:
        """odd: cells that are no ordinary tiles."""
        self.codes, self.kinds = cell_codes(drawing)
        if odd is not None:
            self.codes[odd] = 0
        self.spaces = float(drawing.cell_spaces)

    def grouped(self) -> dict[CellShape, npt.NDArray[np.int32]]:
        """The places of each type, by its shape in its own pose, in reading order."""
        columns = self.codes.shape[1]
        by_own: dict[CellShape, list[npt.NDArray[np.int32]]] = defaultdict(list)
        for code, where in _groups(self.codes.ravel()):
            shape = single_cell(self.kinds.cell(code), (self.spaces, self.spaces))
            own = shape.own_pose()
            by_own[own].append(_places(where % columns + 1, where // columns + 1, quarter_turns(own, shape)))
        return {own: _in_reading_order(parts) for own, parts in by_own.items()}


class _Blocks:
    """A 5 ft drawing on one of its four lattices: every 2 x 2 block of cells is a tile, or two."""

    block = 2

    def __init__(
        self,
        interned: Codes,
        distinct: Codes,
        kinds: CellKinds,
        lattice: tuple[int, int],
        own: dict[CellShape, CellShape],
    ) -> None:
        """Own poses found are added to `own`: the four lattices share most shapes."""
        self.lattice, self.kinds, self.distinct = lattice, kinds, distinct
        rows, columns = interned.shape
        left, top = (2 - lattice[0]) % 2, (2 - lattice[1]) % 2
        padded = np.pad(interned, ((top, (rows + top) % 2), (left, (columns + left) % 2)))
        base = np.int64(len(distinct) + 1)
        self.codes = padded[0::2, 0::2].copy()
        for quarter in (padded[0::2, 1::2], padded[1::2, 0::2], padded[1::2, 1::2]):
            self.codes *= base
            self.codes += quarter
        self.groups = _groups(self.codes.ravel())
        self.shapes = {code: self._shapes(code, int(base)) for code, _ in self.groups}
        for shapes in self.shapes.values():
            for shape in shapes:
                if shape not in own:
                    turns = four_turns(shape)
                    own.update(dict.fromkeys(turns, min(turns, key=lambda turn: turn.order)))
        self.own = own

    def _shapes(self, code: int, base: int) -> list[CellShape]:
        cells = {}
        for place in ((1, 1), (0, 1), (1, 0), (0, 0)):
            code, digit = divmod(code, base)
            if digit:
                cells[place] = self.kinds.cell(int(self.distinct[digit - 1]))
        diagonal = set(cells) in ({(0, 0), (1, 1)}, {(1, 0), (0, 1)})
        parts = [{place: cell} for place, cell in sorted(cells.items())] if diagonal else [cells]
        return [_trimmed(part) for part in parts]

    @property
    def rank(self) -> tuple[int, int, int, int]:
        """What the four lattices are chosen by: tiles, types, first column, first row."""
        tiles = sum(len(where) * len(self.shapes[code]) for code, where in self.groups)
        types = {self.own[shape] for shapes in self.shapes.values() for shape in shapes}
        return tiles, len(types), *self.lattice

    def grouped(self) -> dict[CellShape, npt.NDArray[np.int32]]:
        """The places of each type, by its shape in its own pose, in reading order."""
        across = self.codes.shape[1]
        left, top = (-self.lattice[0]) % 2, (-self.lattice[1]) % 2
        by_own: dict[CellShape, list[npt.NDArray[np.int32]]] = defaultdict(list)
        for code, where in self.groups:
            columns = np.maximum(where % across * 2 - left, 0) + 1
            rows = np.maximum(where // across * 2 - top, 0) + 1
            for shape in self.shapes[code]:
                own = self.own[shape]
                by_own[own].append(_places(columns, rows, quarter_turns(own, shape)))
        return {own: _in_reading_order(parts) for own, parts in by_own.items()}


def _best_blocks(
    drawing: Drawing, lattice: tuple[int, int] | None, odd: npt.NDArray[np.bool_] | None = None
) -> _Blocks:
    """odd: cells that no block of ordinary ones has."""
    codes, kinds = cell_codes(drawing)
    if odd is not None:
        codes[odd] = 0
    distinct, inverse = np.unique(codes, return_inverse=True)
    interned = inverse.reshape(codes.shape).astype(np.int64)
    if distinct[0] == 0:
        distinct = distinct[1:]
    else:
        interned += 1
    lattices = LATTICES if lattice is None else (lattice,)
    own: dict[CellShape, CellShape] = {}
    return min((_Blocks(interned, distinct, kinds, at, own) for at in lattices), key=lambda blocks: blocks.rank)


def _groups(codes: Codes) -> list[tuple[int, npt.NDArray[np.int64]]]:
    """Each code but 0 with the places it stands at, ascending."""
    where = np.flatnonzero(codes)
    if not len(where):
        return []
    found = codes[where]
    order = np.argsort(found, kind="stable")
    found, where = found[order], where[order]
    starts = np.flatnonzero(np.diff(found, prepend=-1))
    return list(zip(found[starts].tolist(), np.split(where, starts[1:]), strict=True))


def _places(columns: npt.NDArray[np.int64], rows: npt.NDArray[np.int64], turns: int) -> npt.NDArray[np.int32]:
    return np.stack([columns, rows, np.full_like(columns, turns)], axis=1).astype(np.int32)


def _in_reading_order(parts: list[npt.NDArray[np.int32]]) -> npt.NDArray[np.int32]:
    places = np.concatenate(parts)
    if len(parts) > 1:
        places = places[np.lexsort((places[:, 2], places[:, 0], places[:, 1]))]
    return places


def _trimmed(cells: dict[tuple[int, int], Cell]) -> CellShape:
    """Cells of a block as a shape of its own, moved to the north-west."""
    left, top = min(c for c, _ in cells), min(r for _, r in cells)
    moved = {(c - left, r - top): cell for (c, r), cell in cells.items()}
    columns, rows = max(c for c, _ in moved) + 1, max(r for _, r in moved) + 1
    ordered = tuple(sorted(moved.items(), key=lambda item: (item[0][1], item[0][0])))
    return CellShape((1.0,) * columns, (1.0,) * rows, ordered)


def named_types(types: Iterable[TileType]) -> tuple[TileType, ...]:
    """The types with names of their own: the id is added where a name would stand twice.

    The one whose doorways are all as the grid has them keeps the plain name.
    """
    types = tuple(types)
    seen = Counter(t.name for t in types)
    plain = Counter(t.name for t in types if _has_plain_openings(t.tile))
    return tuple(
        t
        if seen[t.name] == 1 or (plain[t.name] == 1 and _has_plain_openings(t.tile))
        else replace(t, tile=replace(t.tile, name=f"{t.name}-{t.tile.id.lower()}"))
        for t in types
    )


def _has_plain_openings(tile: Tile) -> bool:
    """Whether all doorways are as the grid has them, in the middle of their sides."""
    shape = tile.shape
    if not isinstance(shape, CellShape):
        return False
    length = shape.widths[0] * tile.grid.pitch
    plain = Side("doorway", make_opening(length, tile.grid))
    for _, cell in shape.cells:
        sides = tuple(plain if side.opening else side for side in cell.sides)
        if fit_openings(Cell(sides), (length, length), tile.grid).sides != cell.sides:  # type: ignore[arg-type]
            return False
    return True
