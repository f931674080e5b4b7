"""Every place on a plan where a larger piece fits, and the kit of those that are chosen."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import fsum

import numpy as np
import numpy.typing as npt
from scipy import sparse

from tilegen.plans.cellcodes import cell_codes
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, TileType, named_types
from tilegen.plans.loose import make_pieces
from tilegen.plans.piecekinds import Cell, PieceKind
from tilegen.plans.ways import NOTHING
from tilegen.tiles.names import name_of
from tilegen.tiles.shape import CellShape, quarter_turns
from tilegen.tiles.tile import make_tile

# What a piece counts for beside its material, cm3.
LITTLE = 1e-3


@dataclass(frozen=True)
class Stock:
    """Each place's type, and of each type the volume of one in cm3 and how many are owned."""

    type_of: npt.NDArray[np.int64]
    volumes: npt.NDArray[np.float64]
    owned: npt.NDArray[np.int64]

    def new_material(self, chosen: Sequence[int]) -> float:
        """Of the pieces that are not owned, in cm3; a little for every piece, so that of equals the fewest win."""
        used = np.bincount(self.type_of[list(chosen)], minlength=len(self.volumes))
        return float((np.maximum(used - self.owned, 0) * self.volumes).sum()) + LITTLE * len(chosen)


class Places:
    """Every place where a piece fits, single squares among them; rows of the matrix are squares, columns places."""

    def __init__(self, drawing: Drawing, kinds: Sequence[PieceKind]) -> None:
        self.drawing = drawing
        self.codes, self.cell_kinds = cell_codes(drawing)
        self.floor = drawing.rooms != 0
        self.squares = int(self.floor.sum())
        self.number = np.full(self.floor.shape, -1, np.int64)
        self.number[self.floor] = np.arange(self.squares)
        single = PieceKind("1x1", ((0, 0),))
        self.kinds = (*(k for k in kinds if len(k.cells) > 1), single)
        self.found = [(kind, *where) for kind in self.kinds for where in self._where(kind)]

    def _where(self, kind: PieceKind) -> list[Cell]:
        """The first squares (column, row from 0) of all places of a kind, in reading order."""
        rows, columns = self.floor.shape
        width, depth = (max(axis) + 1 for axis in zip(*kind.cells, strict=True))
        if width > columns or depth > rows:
            return []
        fits = np.ones((rows - depth + 1, columns - width + 1), bool)
        inside = set(kind.cells)
        for c, r in kind.cells:
            fits &= self._part(self.floor, c, r, fits.shape)
            for step, lines, column, row in (
                ((0, -1), self.drawing.across, c, r),
                ((0, 1), self.drawing.across, c, r + 1),
                ((-1, 0), self.drawing.down, c, r),
                ((1, 0), self.drawing.down, c + 1, r),
            ):
                part = self._part(lines, column, row, fits.shape)
                if (c + step[0], r + step[1]) in inside:
                    fits &= part == NOTHING
                elif kind.corridor and not self._is_end(kind, (c, r), step):
                    fits &= part != NOTHING
        found: list[Cell] = [(int(column), int(row)) for row, column in np.argwhere(fits)]
        return found

    @staticmethod
    def _part(array: npt.NDArray[np.generic], column: int, row: int, shape: tuple[int, ...]) -> npt.NDArray[np.generic]:
        return array[row : row + shape[0], column : column + shape[1]]

    @staticmethod
    def _is_end(kind: PieceKind, cell: Cell, step: Cell) -> bool:
        """Whether a side of one of a corridor's squares is where the corridor goes on: opposite the square before."""
        return (cell[0] - step[0], cell[1] - step[1]) in kind.cells and _degree(kind, cell) == 1

    def cells(self, place: int) -> list[Cell]:
        """The squares that a place covers."""
        kind, column, row = self.found[place]
        return [(column + c, row + r) for c, r in kind.cells]

    def matrix(self) -> sparse.csc_array:
        """(squares, places): 1 where a place covers a square."""
        rows, columns = [], []
        for place in range(len(self.found)):
            for c, r in self.cells(place):
                rows.append(int(self.number[r, c]))
                columns.append(place)
        ones = np.ones(len(rows))
        return sparse.csc_array((ones, (rows, columns)), shape=(self.squares, len(self.found)))

    def shape(self, place: int) -> CellShape:
        """What a place's piece is, as it lies there."""
        kind, column, row = self.found[place]
        spaces = float(self.drawing.cell_spaces)
        width, depth = (max(axis) + 1 for axis in zip(*kind.cells, strict=True))
        cells = tuple(((c, r), self.cell_kinds.cell(int(self.codes[row + r, column + c]))) for c, r in kind.cells)
        return CellShape((spaces,) * width, (spaces,) * depth, cells)

    def stock(self, owned: dict[str, int]) -> Stock:
        """The type of each place, what its squares take as single tiles in cm3, and how many are owned.

        A larger piece counts as its squares do: what it saves or takes at its seams is no reason to choose it.
        """
        known: dict[CellShape, int] = {}
        single: dict[Cell, float] = {}
        for place, (kind, column, row) in enumerate(self.found):
            if len(kind.cells) == 1:
                single[column, row] = make_tile("t", self.shape(place), self.drawing.grid).volume / 1000
        type_of: list[int] = []
        volumes: list[float] = []
        counts: list[int] = []
        for place in range(len(self.found)):
            own = self.shape(place).own_pose()
            if own not in known:
                known[own] = len(volumes)
                volumes.append(fsum(single[cell] for cell in self.cells(place)))
                counts.append(owned.get(make_tile("t", own, self.drawing.grid).id, 0) if owned else 0)
            type_of.append(known[own])
        return Stock(np.array(type_of), np.array(volumes), np.array(counts))

    def kit(self, chosen: Iterable[int]) -> Kit:
        """The kit of the places chosen, the loose pieces of the plan with it."""
        by_own: dict[CellShape, list[tuple[int, int, int]]] = defaultdict(list)
        turned: dict[CellShape, tuple[CellShape, int]] = {}
        for place in chosen:
            shape = self.shape(place)
            if shape not in turned:
                own = shape.own_pose()
                turned[shape] = own, quarter_turns(own, shape)
            own, turns = turned[shape]
            _, column, row = self.found[place]
            by_own[own].append((column + 1, row + 1, turns))
        types = []
        for own, places in by_own.items():
            ordered = np.array(sorted(places, key=lambda p: (p[1], p[0], p[2])), np.int32)
            types.append(TileType(make_tile(_piece_name(own), own, self.drawing.grid), ordered))
        types.sort(key=lambda t: (-len(t.tile.shape.cells), -t.count, t.tile.shape.order))  # type: ignore[union-attr]
        return replace(_loose_only(self.drawing), types=named_types(types))


def _degree(kind: PieceKind, cell: Cell) -> int:
    return sum((cell[0] + dx, cell[1] + dy) in kind.cells for dx, dy in ((0, -1), (1, 0), (0, 1), (-1, 0)))


def _loose_only(drawing: Drawing) -> Kit:
    return Kit(drawing.name, drawing.grid, (), make_pieces(drawing), 1, drawing=drawing)


def _piece_name(shape: CellShape) -> str:
    """A single square keeps its name; a larger piece is called by its size, and by what stands on it."""
    if len(shape.cells) == 1:
        return name_of(shape)
    columns, rows = len(shape.widths), len(shape.heights)
    if len(shape.cells) < columns * rows:
        return {4: "tee", 5: "cross"}.get(len(shape.cells), "piece")
    return name_of(shape, size=f"{max(columns, rows)}x{min(columns, rows)}-")
