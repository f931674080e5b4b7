"""From a drawing to a kit: which tiles, how many, where each lies and how it is turned."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.plans.cutting import Cut
from tilegen.plans.drawing import Drawing
from tilegen.plans.lattices import Layout, best_layout, in_reading_order
from tilegen.plans.loose import PieceType, make_pieces
from tilegen.plans.oddtiles import least_corner, odd_types, on_lattice
from tilegen.tiles.identity import poses
from tilegen.tiles.names import name_of
from tilegen.tiles.openings import fit_openings, make_opening
from tilegen.tiles.shape import Cell, CellShape, Side
from tilegen.tiles.tile import Tile, make_tile


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
    cut: Cut | None = None
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
        ValueError: a lattice that is none of the four, or one at 10 ft.
    """
    if lattice is not None and (drawing.scale != "5 ft" or not {*lattice} <= {0, 1}):
        raise ValueError(f"a lattice from {lattice}: expected 0 or 1 each way, at 5 ft")
    if not drawing.rooms.any():
        raise InputError("a drawing without a room", expected="at least one letter or digit", place="drawing")
    layout, cut = best_layout(drawing, lattice)
    types = named_types(_types(drawing, layout, cut))
    kit = Kit(drawing.name, drawing.grid, types, make_pieces(drawing), layout.block, layout.lattice, cut, drawing)
    return _with_surface(kit, drawing)


def _types(drawing: Drawing, layout: Layout, cut: Cut | None) -> list[TileType]:
    """The types of tiles on the grid and off it, the most used first."""
    made = [TileType(_tile(own, places, drawing), places) for own, places in layout.grouped().items()]
    odd = odd_types(drawing, cut, layout.block) if cut is not None else ()
    return sorted(
        _merged((*made, *(TileType(kind.tile, kind.places, kind.lies) for kind in odd)), drawing.grid.pitch),
        key=lambda t: (-t.count, t.tile.shape.order if isinstance(t.tile.shape, CellShape) else ()),
    )


def _merged(types: Iterable[TileType], pitch: float) -> list[TileType]:
    """Types of the same plates as one: shapes may differ in what a low wall cuts off, in a leaf, or by rounding.

    A tile off the grid may come out as an ordinary one does.
    """
    found: dict[str, TileType] = {}
    for kind in types:
        first = found.get(kind.tile.id)
        found[kind.tile.id] = kind if first is None else _joined(first, kind, pitch)
    return list(found.values())


def _joined(first: TileType, second: TileType, pitch: float) -> TileType:
    """Two types of the same plates up to quarter turns, in the first one's pose."""
    own = poses(second.tile.plates)[0]
    alike = np.array([turns for turns, pose in enumerate(poses(first.tile.plates)) if pose == own])
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


def _with_surface(kit: Kit, drawing: Drawing) -> Kit:
    """The kit with types split where the plan's surface makes them differ."""
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
