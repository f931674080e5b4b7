"""Fewer, larger tiles: the floor of a plan covered by pieces of several squares, never across a wall.

A quick choice of pieces comes first, then the solver's; beside it stands a bound that no choice goes below.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import fsum

import numpy as np
import numpy.typing as npt
from scipy import ndimage, optimize, sparse
from scipy.sparse import csgraph

from tilegen.errors import InputError
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, TileType, make_pieces, named_types
from tilegen.plans.lattices import cell_codes
from tilegen.plans.refusals import check_any_room
from tilegen.plans.ways import NOTHING
from tilegen.solver import least_cost
from tilegen.tiles.names import name_of
from tilegen.tiles.shape import CellShape
from tilegen.tiles.tile import make_tile

LONGEST = 20
_CHOOSE = "Choose from sizes such as 2x1, 2x2 or 4x2, run-3 (a corridor 3 squares long), tee and cross"
Cell = tuple[int, int]
# What a piece counts for beside its material, cm3.
LITTLE = 1e-3
# Beyond so many places the exact search is left to the quick one, which then has only the weaker bound beside it.
MOST_PLACES = 30_000
_NODES, _NEAR = 200, 1e-4
Floor = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class PieceKind:
    """A larger piece that may be used: the squares it covers, and whether it is a piece of corridor.

    cells: (column, row) from its first square. corridor: walls must stand along it wherever it does not end.
    """

    word: str
    cells: tuple[Cell, ...]
    corridor: bool = False


def read_kinds(text: str) -> tuple[PieceKind, ...]:
    """The pieces of a list such as "2x1, 4x2, run-3, tee", in every turn.

    Raises:
        InputError: a word that is none of them.
    """
    kinds: dict[tuple[tuple[Cell, ...], bool], PieceKind] = {}
    for word in filter(None, re.split(r"[,\s]+", text.lower())):
        for kind in _kinds_of(word):
            kinds.setdefault((kind.cells, kind.corridor), kind)
    if not kinds:
        raise InputError("no piece is named", cure=_CHOOSE, place="--pieces")
    return tuple(kinds.values())


def _kinds_of(word: str) -> Iterator[PieceKind]:
    if match := re.fullmatch(r"(\d{1,3})x(\d{1,3})", word):
        width, depth = int(match[1]), int(match[2])
        if 1 <= width <= LONGEST and 1 <= depth <= LONGEST:
            for w, d in ((width, depth), (depth, width)):
                yield PieceKind(word, tuple((c, r) for r in range(d) for c in range(w)))
            return
    elif match := re.fullmatch(r"run-(\d{1,3})", word):
        length = int(match[1])
        if 2 <= length <= LONGEST:
            yield PieceKind(word, tuple((c, 0) for c in range(length)), corridor=True)
            yield PieceKind(word, tuple((0, r) for r in range(length)), corridor=True)
            return
    elif word in ("tee", "cross"):
        arms = ((1, 0), (2, 1), (1, 2), (0, 1))
        for left_out in range(4) if word == "tee" else (None,):
            cells = [(1, 1), *(arm for k, arm in enumerate(arms) if k != left_out)]
            column, row = min(c for c, _ in cells), min(r for _, r in cells)
            moved = sorted(((c - column, r - row) for c, r in cells), key=lambda cell: (cell[1], cell[0]))
            yield PieceKind(word, tuple(moved), corridor=True)
        return
    raise InputError(
        f'there is no piece "{word}" (they are up to {LONGEST} squares long)', cure=_CHOOSE, place="--pieces"
    )


@dataclass(frozen=True)
class Cover:
    """A plan's floor covered by pieces.

    pieces: how many. least: what no choice of these pieces can go below. rectangles: the fewest rectangles of any
    size that the same floors can be cut into. proven: whether `pieces` is the least.
    """

    kit: Kit
    squares: int
    pieces: int
    least: int
    rectangles: int

    @property
    def proven(self) -> bool:
        """Whether no choice of these pieces takes fewer."""
        return self.pieces == self.least

    @property
    def gap(self) -> float:
        """How much more than the bound, as a share of it."""
        return self.pieces / self.least - 1 if self.least else 0.0


def cover_floor(
    drawing: Drawing, kinds: Sequence[PieceKind], *, owned: dict[str, int] | None = None, least: str = "pieces"
) -> Cover:
    """Cover a 10 ft plan with as few pieces as can be, or with as little new material.

    owned: how many there are of each type, by id. least: "pieces", or "material": what is not owned, by volume.

    Raises:
        InputError: a 5 ft plan, or a floor of no squares.
    """
    if not drawing.by_tiles:
        raise InputError(
            "larger pieces need a plan drawn at 10 ft, and this one is drawn at 5 ft",
            cure="Leave --pieces out",
            place="--pieces",
        )
    places = Places(drawing, kinds)
    check_any_room(drawing.rooms)
    stock = places.stock(owned or {}) if least == "material" else None
    chosen, bound = choose(places, stock)
    kit = places.kit(chosen)
    pieces = sum(t.count for t in kit.types)
    rectangles = sum(fewest_rectangles(floor) for floor in _floors(drawing))
    return Cover(kit, places.squares, pieces, min(bound, pieces), rectangles)


def _floors(drawing: Drawing) -> Iterator[npt.NDArray[np.bool_]]:
    """Each floor that can be crossed without a wall, cut out of the drawing."""
    rows, columns = drawing.rooms.shape
    number = np.arange(rows * columns).reshape(rows, columns)
    floor = drawing.rooms != 0
    pairs = []
    for first, second, lines in (
        (np.s_[:-1], np.s_[1:], drawing.across[1:-1]),
        (np.s_[:, :-1], np.s_[:, 1:], drawing.down[:, 1:-1]),
    ):
        through = floor[first] & floor[second] & (lines == NOTHING)
        pairs.append(np.stack([number[first][through], number[second][through]]))
    ends = np.concatenate(pairs, axis=1)
    graph = sparse.csr_array((np.ones(ends.shape[1], np.int8), (ends[0], ends[1])), shape=(rows * columns,) * 2)
    _, of = csgraph.connected_components(graph, directed=False)
    areas = np.where(floor, of.reshape(rows, columns) + 1, 0)
    for index, where in enumerate(ndimage.find_objects(areas), 1):
        if where is not None:
            yield areas[where] == index


@dataclass(frozen=True)
class Owned:
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
        # A post inside a larger piece is part of it: it joins the walls that meet there.
        grid = replace(drawing.grid, set=replace(drawing.grid.set, posts="fixed"))
        self.drawing = drawing = replace(drawing, grid=grid)
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

    def stock(self, owned: dict[str, int]) -> Owned:
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
        return Owned(np.array(type_of), np.array(volumes), np.array(counts))

    def kit(self, chosen: Iterable[int]) -> Kit:
        """The kit of the places chosen, the loose pieces of the plan with it."""
        by_own: dict[CellShape, list[tuple[int, int, int]]] = defaultdict(list)
        turned: dict[CellShape, tuple[CellShape, int]] = {}
        for place in chosen:
            shape = self.shape(place)
            if shape not in turned:
                own = shape.own_pose()
                turned[shape] = own, own.turns.index(shape)
            own, turns = turned[shape]
            _, column, row = self.found[place]
            by_own[own].append((column + 1, row + 1, turns))
        types = []
        for own, places in by_own.items():
            ordered = np.array(sorted(places, key=lambda p: (p[1], p[0], p[2])), np.int32)
            types.append(TileType(make_tile(_piece_name(own), own, self.drawing.grid), ordered))
        types.sort(key=lambda t: (-len(t.tile.shape.cells), -t.count, t.tile.shape.order))
        return replace(_loose_only(self.drawing), types=named_types(types))


def _degree(kind: PieceKind, cell: Cell) -> int:
    return sum((cell[0] + dx, cell[1] + dy) in kind.cells for dx, dy in ((0, -1), (1, 0), (0, 1), (-1, 0)))


def _piece_name(shape: CellShape) -> str:
    """A single square keeps its name; a larger piece is called by its size, and by what stands on it."""
    if len(shape.cells) == 1:
        return name_of(shape)
    columns, rows = len(shape.widths), len(shape.heights)
    if len(shape.cells) < columns * rows:
        return {4: "tee", 5: "cross"}.get(len(shape.cells), "piece")
    return name_of(shape, size=f"{max(columns, rows)}x{min(columns, rows)}-")


def choose(places: Places, stock: Owned | None) -> tuple[list[int], int]:
    """The places to lay, in their order, and a bound on the number of pieces."""
    quick = _greedy(places)
    largest = max(len(kind.cells) for kind in places.kinds)
    bound = -(-places.squares // largest)
    if len(places.found) > MOST_PLACES:
        return quick, bound
    exact, least = _fewest(places) if stock is None else (_least_material(places, stock), bound)
    if exact is None:
        return quick, max(bound, least)
    worth = len if stock is None else stock.new_material
    return (exact if worth(exact) <= worth(quick) + 1e-9 else quick), max(bound, least)


def _fewest(places: Places) -> tuple[list[int] | None, int]:
    """The fewest pieces that the solver finds in so many nodes, and its bound."""
    count = len(places.found)
    once = optimize.LinearConstraint(places.matrix(), 1, 1)
    values, bound = least_cost(np.ones(count), once, 1, nodes=_NODES, near=_NEAR)
    found = None if values is None else np.flatnonzero(np.round(values)).tolist()
    return found, int(np.ceil(bound - 1e-6)) if np.isfinite(bound) else 0


def _least_material(places: Places, stock: Owned) -> list[int] | None:
    """The least new material: beside the places there is one unknown a type, how many of it must be made."""
    count, types = len(places.found), len(stock.volumes)
    uses = sparse.csc_array((np.ones(count), (stock.type_of, np.arange(count))), shape=(types, count))
    nothing = sparse.csc_array((places.squares, types))
    rows = [sparse.hstack([places.matrix(), nothing]), sparse.hstack([uses, -sparse.eye_array(types)])]
    low = np.concatenate([np.ones(places.squares), np.full(types, -np.inf)])
    high = np.concatenate([np.ones(places.squares), stock.owned])
    values, _ = least_cost(
        np.concatenate([np.full(count, LITTLE), stock.volumes]),
        optimize.LinearConstraint(sparse.csc_array(sparse.vstack(rows)), low, high),
        np.concatenate([np.ones(count), np.full(types, np.inf)]),
        whole=np.arange(count + types) < count,
        nodes=_NODES,
        near=_NEAR,
    )
    return None if values is None else np.flatnonzero(np.round(values[:count])).tolist()


def _greedy(places: Places) -> list[int]:
    """The largest pieces first, each where it still fits, in reading order."""
    sizes = [len(kind.cells) for kind, _, _ in places.found]
    ranked = sorted(range(len(sizes)), key=lambda p: (-sizes[p], places.found[p][2], places.found[p][1], p))
    free = places.floor.copy()
    chosen = []
    for place in ranked:
        cells = places.cells(place)
        if all(free[r, c] for c, r in cells):
            chosen.append(place)
            for c, r in cells:
                free[r, c] = False
    return sorted(chosen)


def fewest_rectangles(floor: Floor) -> int:
    """The fewest rectangles, of any size, that partition a floor.

    floor: (rows, columns), true where there is floor; several separate floors add up.

    N - L - H + C: N reflex corners, L the most chords between two of them on one line that do not meet each other,
    H holes, C floors that hang together by sides (Lipski, Lodi, Luccio, Mugnai, Pagli 1979, "On two-dimensional data
    organization II"; Ohtsuki 1982, "Minimum dissection of rectilinear regions"; for one floor C = 1).
    """
    padded = np.pad(floor, 1)
    quarters = (padded[:-1, :-1], padded[:-1, 1:], padded[1:, :-1], padded[1:, 1:])
    around = sum(quarter.astype(np.int8) for quarter in quarters)
    reflex = np.asarray(around == 3)
    _, floors = ndimage.label(floor)
    # Solid ground that meets at a corner hangs together: the floor does not.
    _, grounds = ndimage.label(~padded, structure=np.ones((3, 3)))
    holes = grounds - 1
    return int(reflex.sum()) - _most_chords(padded, reflex) - holes + floors


def _most_chords(padded: Floor, reflex: Floor) -> int:
    """The largest set of chords of which no two meet: all of them less a largest matching of those that do."""
    level = _chords(padded, reflex)
    upright = [(a[::-1], b[::-1]) for a, b in _chords(padded.T, reflex.T)]
    if not level or not upright:
        return len(level) + len(upright)
    pairs = [
        (i, j)
        for i, ((row, left), (_, right)) in enumerate(level)
        for j, ((top, column), (bottom, _)) in enumerate(upright)
        if left <= column <= right and top <= row <= bottom
    ]
    if not pairs:
        return len(level) + len(upright)
    rows, columns = np.array(pairs).T
    meets = sparse.csr_array((np.ones(len(pairs), np.int8), (rows, columns)), shape=(len(level), len(upright)))
    matched = csgraph.maximum_bipartite_matching(meets, perm_type="column")
    return len(level) + len(upright) - int((matched >= 0).sum())


def _chords(padded: Floor, reflex: Floor) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    """Level lines from one reflex corner to the next with floor on both sides all the way, by their end corners."""
    found = []
    inside = padded[:-1, 1:-1] & padded[1:, 1:-1]
    for row in np.flatnonzero(reflex.any(axis=1)).tolist():
        corners = np.flatnonzero(reflex[row]).tolist()
        for left, right in pairwise(corners):
            if inside[row, left:right].all():
                found.append(((row, left), (row, right)))
    return found


def _loose_only(drawing: Drawing) -> Kit:
    return Kit(drawing.name, drawing.grid, (), make_pieces(drawing), 1, drawing=drawing)
