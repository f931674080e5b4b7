"""Four ways to place a wall, side by side on one map: what halls keep, where walls clash, and what never closes.

A tile is a cell of a 10 ft drawing or a block of a 5 ft drawing, as the kit has it. At 5 ft a tile's side is
taken cell by cell where it carries something along a part of it only (clash area), and as a whole where it asks
how far two tiles stand apart (worst gap): one wall anywhere between them keeps the whole tiles apart.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
from scipy import optimize, sparse
from scipy.sparse import csgraph

from tilegen.fit.figures import INCH
from tilegen.model.grid import Grid
from tilegen.plans.drawing import Drawing, beside_lines
from tilegen.plans.kit import Kit
from tilegen.plans.layout import lay

PlacementName = Literal["inset", "on-square", "outboard", "outboard-half-step"]
NAMES: tuple[PlacementName, ...] = ("inset", "on-square", "outboard", "outboard-half-step")
# Those whose walls stand beside the tile, and of these the one whose printed squares are shifted by half of one.
_OUTBOARD, _SHIFTED = NAMES[2:], NAMES[3]
# Spaces of 1 in with walls of 0.5 in: common practice, no source.
REFERENCE_PITCH_MM = INCH
REFERENCE_WALL_MM = INCH / 2
# Spaces along 10 ft at 5 ft a space.
HALL_SPACES_5FT = 2
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class ConventionalGrid:
    """The conventional grid that the other three ways stand on; mm."""

    pitch: float = REFERENCE_PITCH_MM
    wall_thickness: float = REFERENCE_WALL_MM


@dataclass(frozen=True, slots=True)
class WallPlacement:
    """One way to place a wall; lengths in mm, areas in mm2.

    hall_clear: free width of a 10 ft hall. largest_base: the largest disc that stands in it. largest_aligned:
    the largest that keeps to whole printed squares (0 if none does). clash_area: where two walls want the same
    place, or a wall its neighbour's floor. worst_gap: how far the best laying still falls apart.
    """

    name: PlacementName
    pitch: float
    wall_thickness: float
    hall_clear: float
    largest_base: float
    largest_aligned: float
    clash_area: float = 0.0
    worst_gap: float = 0.0

    @property
    def outboard(self) -> bool:
        """Whether its walls stand beside the tile."""
        return self.name in _OUTBOARD

    @property
    def shifted(self) -> bool:
        """Whether its printed squares are shifted by half of one."""
        return self.name == _SHIFTED


@dataclass(frozen=True)
class PushedTiles:
    """Tiles laid with walls beside them, as well as it goes. x, y: (tiles,) pushes, mm; gap: the worst, mm."""

    gap: float
    x: Floats
    y: Floats


@dataclass(frozen=True, slots=True)
class Cost:
    """What room for the wall costs against the conventional grid: shares of table length and of table area."""

    length_lost: float
    area_lost: float


def placements_without_plan(grid: Grid, reference: ConventionalGrid | None = None) -> tuple[WallPlacement, ...]:
    """The four ways on no map in particular: clash and gap are 0."""
    return _placed(grid, reference or ConventionalGrid(), grid.spaces, 0.0, 0.0)


def placements_on(drawing: Drawing, kit: Kit, reference: ConventionalGrid | None = None) -> tuple[WallPlacement, ...]:
    """The four ways on this map, in the contract's order."""
    chosen = reference or ConventionalGrid()
    spaces = drawing.grid.spaces if drawing.by_tiles else HALL_SPACES_5FT
    sides = clashing_cell_sides(drawing, kit)
    clash = sides * (drawing.cell_spaces * chosen.pitch * chosen.wall_thickness)
    gap = worst_gap(drawing, kit, 2 * chosen.wall_thickness)
    return _placed(drawing.grid, chosen, spaces, clash, gap)


def cost_of(grid: Grid, reference: ConventionalGrid | None = None) -> Cost:
    """What the user's grid loses of the table against the conventional one: 1 - 1/1.25 = 20 % of length, 36 % of area.

    Negative where the user's pitch is the smaller one.
    """
    share = (reference or ConventionalGrid()).pitch / grid.pitch
    return Cost(1 - share, 1 - share**2)


def placements_record(placements: tuple[WallPlacement, ...]) -> list[dict[str, Any]]:
    """`placements` of the fit's JSON."""
    return [
        {
            "name": p.name,
            "pitch_mm": p.pitch,
            "wall_thickness_mm": p.wall_thickness,
            "hall_clear_mm": p.hall_clear,
            "largest_base_mm": p.largest_base,
            "largest_aligned_mm": p.largest_aligned,
            "clash_area_mm2": p.clash_area,
            "worst_gap_mm": p.worst_gap,
        }
        for p in placements
    ]


def cost_record(cost: Cost) -> dict[str, float]:
    """The cost as JSON: shares from 0 to 1."""
    return {"length_lost": cost.length_lost, "area_lost": cost.area_lost}


def _placed(
    grid: Grid, reference: ConventionalGrid, spaces: int, clash: float, gap: float
) -> tuple[WallPlacement, ...]:
    rows = []
    for name in NAMES:
        pitch = grid.pitch if name == "inset" else reference.pitch
        wall = grid.wall_thickness if name == "inset" else reference.wall_thickness
        outboard = name in _OUTBOARD
        clear = max(0.0, spaces * pitch - (0 if outboard else 2 * wall))
        aligned = largest_aligned(pitch, 0.0 if outboard else wall, spaces - (name == _SHIFTED))
        more = (clash, gap) if outboard else (0.0, 0.0)
        # A disc stands in a hall where it is no wider than the hall.
        rows.append(WallPlacement(name, pitch, wall, clear, clear, aligned, *more))
    return tuple(rows)


def largest_aligned(pitch: float, wall: float, whole: int) -> float:
    """The largest disc, in mm, that stands in a block of spaces_across(d) whole printed squares in a hall.

    whole: whole squares across the hall, from wall to wall; wall: how far each wall reaches over the outermost
    ones. A block of n touches both walls if n = whole, one if it is one less, none if it is smaller still; it
    keeps n pitch less those walls. A disc counts for n where spaces_across(d) = n, so d < 25.4 (n + 1/2): where
    that is what stops it, the limit itself is returned.
    """
    best = 0.0
    for n in range(1, whole + 1):
        clear = n * pitch - wall * {0: 2, 1: 1}.get(whole - n, 0)
        least, limit = (0.0 if n == 1 else INCH * (n - 0.5)), INCH * (n + 0.5)
        if clear > 0 and clear >= least:
            best = max(best, min(clear, limit))
    return best


def clashing_cell_sides(drawing: Drawing, kit: Kit) -> int:
    """Cell sides that carry a wall, doorway or saddle towards another tile; a line between two tiles has two."""
    stands = drawing.stands
    lines = 0
    for codes, (first, second) in zip(
        (drawing.across, drawing.down), beside_lines(lay(drawing, kit).tile_of, outside=-1), strict=True
    ):
        lines += int((stands[codes] & (first >= 0) & (second >= 0) & (first != second)).sum())
    return 2 * lines


def worst_gap(drawing: Drawing, kit: Kit, apart: float) -> float:
    """The least z of the contract's linear programme, in mm: along columns and along rows, the larger.

    apart: how far two tiles stand apart where anything stands between them (two wall thicknesses).
    """
    tile_of = lay(drawing, kit).tile_of
    stands = drawing.stands
    lines = stands[drawing.down[:, 1:-1]], stands[drawing.across[1:-1]]
    beside, above = _side_by_side(tile_of, *lines, home_squares(kit, tile_of))
    tiles = int(tile_of.max()) + 1
    return apart * max(least_gap(tiles, beside, above), least_gap(tiles, above, beside))


def home_squares(kit: Kit, tile_of: npt.NDArray[np.int32]) -> Ints | None:
    """(tiles, 2): column and row of the square of the lattice that has most cells of each tile; None on the grid.

    A tile off the grid reaches over several squares, and two may share one. Who lies beside whom goes by these
    squares: tiles of neighbouring squares in one row lie side by side, in one column one above the other.
    """
    if kit.cut is None:
        return None
    rows, columns = np.nonzero(tile_of >= 0)
    found = np.stack(
        [tile_of[rows, columns], *((at - n) // kit.block for at, n in zip((columns, rows), kit.lattice, strict=True))]
    )
    squares, counts = np.unique(found, axis=1, return_counts=True)
    homes = np.zeros((int(tile_of.max(initial=-1)) + 1, 2), np.int64)
    # The last one written counts: the square with most cells, the first of equal ones.
    order = np.lexsort((-np.arange(len(counts)), counts))
    homes[squares[0, order]] = squares[1:, order].T
    return homes


def _side_by_side(tile_of: npt.NDArray[np.int32], down: Bools, across: Bools, homes: Ints | None) -> tuple[Ints, Ints]:
    """The pairs of tiles side by side, and one above the other, with what stands between."""
    return (
        _pairs(tile_of[:, :-1], tile_of[:, 1:], down, homes, (1, 0)),
        _pairs(tile_of[:-1], tile_of[1:], across, homes, (0, 1)),
    )


def best_laying(
    tile_of: npt.NDArray[np.int32], down: Bools, across: Bools, apart: float, homes: Ints | None = None
) -> PushedTiles:
    """The laying that the worst gap is of; of all those with that gap, one with the least sum of gaps.

    tile_of: (rows, columns) number of the tile on each cell, -1 for none. down: (rows, columns - 1), across:
    (rows - 1, columns): whether anything stands between neighbouring cells. apart: as for `worst_gap`. homes: as
    `home_squares` gives them. Pushes start at 0 in every part of the map that lies for itself.
    """
    tiles = int(tile_of.max(initial=-1)) + 1
    beside, above = _side_by_side(tile_of, down, across, homes)
    (gap_x, x), (gap_y, y) = _pushed(tiles, beside, above), _pushed(tiles, above, beside)
    return PushedTiles(apart * max(gap_x, gap_y), apart * x, apart * y)


def _pushed(tiles: int, along: Ints, across: Ints) -> tuple[float, Floats]:
    """The least gap, and how far each tile is pushed then, in needs; the sum of all gaps is as small as it can be."""
    gap = least_gap(tiles, along, across)
    if not along[:, 2].any():
        return gap, np.zeros(tiles)
    graph = sparse.coo_array((np.ones(len(across)), (across[:, 0], across[:, 1])), shape=(tiles, tiles))
    count, unknown = csgraph.connected_components(graph, directed=False)
    low, high = unknown[along[:, 0]], unknown[along[:, 1]]
    pairs, need = len(along), along[:, 2].astype(float)
    row, ones = np.arange(pairs), np.ones(pairs)
    # x_i - x_j <= -need;  x_j - x_i <= need + gap, with the room that rounding the gap took.
    rows, columns = np.concatenate([row, row, pairs + row, pairs + row]), np.concatenate([low, high, high, low])
    entries = np.concatenate([ones, -ones, ones, -ones])
    matrix: Any = sparse.csr_array((entries, (rows, columns)), shape=(2 * pairs, count))
    cost = np.bincount(high, minlength=count) - np.bincount(low, minlength=count).astype(float)
    limits = np.concatenate([-need, need + gap + 1e-8])
    found = optimize.linprog(cost, A_ub=matrix, b_ub=limits, bounds=(None, None), method="highs-ds")
    if found.status != 0 or found.x is None:
        raise ArithmeticError(f"the linear programme of the best laying was not solved: {found.message}")
    graph = sparse.coo_array((ones, (low, high)), shape=(count, count))
    parts, part = csgraph.connected_components(graph, directed=False)
    start = np.full(parts, np.inf)
    np.minimum.at(start, part, found.x)
    pushed: Floats = np.round(found.x - start[part], 6)[unknown] + 0.0
    return gap, pushed


def _pairs(
    first: Any,  # noqa: ANN401
    second: Any,  # noqa: ANN401
    stands: npt.NDArray[np.bool_],
    homes: Ints | None,
    step: tuple[int, int],
) -> Ints:
    """(n, 3) for every two tiles that lie side by side: one, the other, and whether anything stands between.

    step: from the square of the one to that of the other.
    """
    meet = (first >= 0) & (second >= 0) & (first != second)
    if homes is not None:
        meet &= (homes[second] - homes[first] == step).all(axis=-1)
    rows = np.stack([first[meet], second[meet], stands[meet]], axis=1).astype(np.int64)
    rows = rows[np.lexsort(rows.T[::-1])]
    # Of one pair's rows the last has the larger need.
    last = np.ones(len(rows), bool)
    last[:-1] = (rows[1:, :2] != rows[:-1, :2]).any(axis=1)
    return rows[last]


def least_gap(tiles: int, along: Ints, across: Ints) -> float:
    """Minimise z with 0 <= x_j - x_i - need <= z for the pairs along, x_i = x_j for the pairs across; needs 0 or 1.

    Tiles held equal are one unknown. Of the pairs between the same two unknowns only the least and the largest
    need count: largest <= x_j - x_i <= least + z. Unknowns that no need can move apart are left out.
    """
    graph = sparse.coo_array((np.ones(len(across)), (across[:, 0], across[:, 1])), shape=(tiles, tiles))
    _, unknown = csgraph.connected_components(graph, directed=False)
    if not along[:, 2].any():
        return 0.0
    low, high, least, largest = _between(unknown[along[:, 0]].astype(np.int64), unknown[along[:, 1]], along[:, 2])
    count = int(unknown.max()) + 1
    graph = sparse.coo_array((np.ones(len(low)), (low, high)), shape=(count, count))
    _, part = csgraph.connected_components(graph, directed=False)
    needy = np.zeros(count, bool)
    needy[part[low[largest > 0]]] = True
    kept = needy[part[low]]
    return _solve(low[kept], high[kept], least[kept], largest[kept])


def _between(low: Ints, high: npt.NDArray[Any], need: Ints) -> tuple[Ints, Ints, Ints, Ints]:
    """The pairs of unknowns, each once, with the least and the largest need between them."""
    rows = np.stack([low, high, need], axis=1).astype(np.int64)
    rows = rows[np.lexsort(rows.T[::-1])]
    new = np.ones(len(rows), bool)
    new[1:] = (rows[1:, :2] != rows[:-1, :2]).any(axis=1)
    first = np.flatnonzero(new)
    last = np.append(first[1:], len(rows)) - 1
    return rows[first, 0], rows[first, 1], rows[first, 2], rows[last, 2]


def _solve(low: Ints, high: Ints, least: Ints, largest: Ints) -> float:
    used, number = np.unique(np.concatenate([low, high]), return_inverse=True)
    low, high = number[: len(low)], number[len(low) :]
    pairs, count = len(low), len(used)
    row = np.arange(pairs)
    ones = np.ones(pairs)
    # x_i - x_j <= -largest;  x_j - x_i - z <= least
    entries = np.concatenate([ones, -ones, ones, -ones, -ones])
    rows = np.concatenate([row, row, pairs + row, pairs + row, pairs + row])
    columns = np.concatenate([low, high, high, low, np.full(pairs, count)])
    matrix: Any = sparse.csr_array((entries, (rows, columns)), shape=(2 * pairs, count + 1))
    cost = np.zeros(count + 1)
    cost[-1] = 1.0
    bounds: Any = np.column_stack([np.append(np.full(count, -np.inf), 0.0), np.full(count + 1, np.inf)])
    limits = np.concatenate([-largest, least]).astype(float)
    found = optimize.linprog(cost, A_ub=matrix, b_ub=limits, bounds=bounds, method="highs-ds")
    if found.status != 0 or found.fun is None:
        raise ArithmeticError(f"the linear programme of the worst gap was not solved: {found.message}")
    # In needs of 0 and 1 the least z is a ratio of whole numbers: take the solver's last digits off.
    gap = round(float(found.fun), 9)
    return 0.0 if math.isclose(gap, 0.0, abs_tol=1e-9) else gap
