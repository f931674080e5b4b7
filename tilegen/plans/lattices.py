"""Cells to shapes of tiles: each cell one at 10 ft; blocks of 2 x 2, on the best of four lattices, at 5 ft.

One number stands for all that a cell carries, so that whole plans are compared at once.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from tilegen.model.grid import Grid
from tilegen.plans.drawing import Drawing
from tilegen.plans.loose import tile_posts
from tilegen.plans.off_grid_tiles import CutFloor, cut_pieces
from tilegen.tiles.blocks import Extra
from tilegen.tiles.openings import fit_openings
from tilegen.tiles.shape import Cell, CellShape, Side, single_cell

Codes = npt.NDArray[np.int64]
# The four lattices of 2 x 2 blocks at 5 ft, by the column and row a first block starts at.
LATTICES = ((0, 0), (0, 1), (1, 0), (1, 1))


@dataclass(frozen=True)
class CellKinds:
    """What the numbers of `cell_codes` stand for."""

    sides: tuple[Side, ...]
    length: float
    grid: Grid
    extras: tuple[Extra, ...]

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


def cell_codes(drawing: Drawing, cut: CutFloor | None = None) -> tuple[Codes, CellKinds]:
    """One number for all that a cell carries, 0 for solid ground and cells off the grid, and what the numbers mean."""
    sides, forward, backward = drawing.side_codes()
    base = np.int64(len(sides))
    codes = forward[drawing.across[:-1]].astype(np.int64)
    for strip in (forward[drawing.down[:, 1:]], backward[drawing.across[1:]], backward[drawing.down[:, :-1]]):
        codes *= base
        codes += strip
    codes *= 16
    codes += tile_posts(drawing, None if cut is None else cut.cells)
    if drawing.extras is not None:
        codes *= len(drawing.extra_kinds)
        codes += drawing.extras
    codes += 1
    codes[drawing.rooms == 0] = 0
    if cut is not None:
        codes[cut.cells] = 0
    return codes, CellKinds(sides, drawing.cell_side, drawing.grid, drawing.extra_kinds)


def best_layout(drawing: Drawing, lattice: tuple[int, int] | None) -> tuple[Grouping, CutFloor | None]:
    """The squares or blocks of cells, and the pieces off the grid; of the lattices at 5 ft the best."""
    if drawing.off_grid is None:
        return (Squares(drawing) if drawing.by_tiles else _best_blocks(drawing, lattice)), None
    if drawing.by_tiles:
        cut = cut_pieces(drawing, drawing.off_grid, (0, 0), 1)
        return Squares(drawing, cut), cut
    found = []
    for at in LATTICES if lattice is None else (lattice,):
        cut = cut_pieces(drawing, drawing.off_grid, at, 2)
        blocks = _best_blocks(drawing, at, cut)
        tiles, types, *_ = blocks.rank
        found.append(((tiles + len(cut.pieces), types, at), blocks, cut))
    _, blocks, cut = min(found, key=lambda item: item[0])
    return blocks, cut


class Squares:
    """A 10 ft drawing: every cell is a tile."""

    block = 1
    lattice = (0, 0)

    def __init__(self, drawing: Drawing, cut: CutFloor | None = None) -> None:
        self.codes, self.kinds = cell_codes(drawing, cut)
        self.spaces = float(drawing.cell_spaces)

    def grouped(self) -> dict[CellShape, npt.NDArray[np.int32]]:
        """The places of each type, by its shape in its own pose, in reading order."""
        columns = self.codes.shape[1]
        by_own: dict[CellShape, list[npt.NDArray[np.int32]]] = defaultdict(list)
        for code, where in _groups(self.codes.ravel()):
            shape = single_cell(self.kinds.cell(code), (self.spaces, self.spaces))
            own = shape.own_pose()
            by_own[own].append(_places(where % columns + 1, where // columns + 1, own.turns.index(shape)))
        return {own: in_reading_order(parts) for own, parts in by_own.items()}


class Blocks:
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
                    turns = shape.turns
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
                by_own[own].append(_places(columns, rows, own.turns.index(shape)))
        return {own: in_reading_order(parts) for own, parts in by_own.items()}


def _best_blocks(drawing: Drawing, lattice: tuple[int, int] | None, cut: CutFloor | None = None) -> Blocks:
    """The blocks on the best lattice."""
    codes, kinds = cell_codes(drawing, cut)
    distinct, inverse = np.unique(codes, return_inverse=True)
    interned = inverse.reshape(codes.shape).astype(np.int64)
    if distinct[0] == 0:
        distinct = distinct[1:]
    else:
        interned += 1
    lattices = LATTICES if lattice is None else (lattice,)
    own: dict[CellShape, CellShape] = {}
    return min((Blocks(interned, distinct, kinds, at, own) for at in lattices), key=lambda blocks: blocks.rank)


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


def in_reading_order(parts: list[npt.NDArray[np.int32]]) -> npt.NDArray[np.int32]:
    """Places, (count, 3) each, as one list by row, column and turns."""
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


# How the cells of a drawing are grouped into tiles.
Grouping = Squares | Blocks
