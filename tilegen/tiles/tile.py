"""From a description to plates: the tile that both the printer and the knife are fed from."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from tilegen.grid import Grid
from tilegen.tiles.cells import CellTile
from tilegen.tiles.identity import short_id
from tilegen.tiles.joints import PRINTED_JOINTS, Band, Joints, printed_band
from tilegen.tiles.outline import OutlineTile
from tilegen.tiles.plate import Plate
from tilegen.tiles.region import RegionTile
from tilegen.tiles.regionshape import RegionShape
from tilegen.tiles.shape import CellShape, Shape


@dataclass(frozen=True)
class Tile:
    """One tile type: its description, its measures and its plates as printed; the base comes first."""

    name: str
    shape: Shape
    grid: Grid
    plates: tuple[Plate, ...]

    @property
    def base(self) -> Plate:
        """The plate that lies under all others."""
        return self.plates[0]

    @cached_property
    def id(self) -> str:
        """Short, from the geometry alone: the same for every turn and in every plan."""
        return short_id(self.plates)

    @property
    def volume(self) -> float:
        """In mm3, the sum over the plates."""
        return sum(plate.volume for plate in self.plates)

    @property
    def on_grid(self) -> bool:
        """Whether the tile is made of the grid's cells."""
        return isinstance(self.shape, CellShape)


def make_tile(name: str, shape: Shape, grid: Grid) -> Tile:
    """A tile from its description.

    Raises:
        InputError: the description can't be made (a wall or the outline vanishes).
    """
    return Tile(name, shape, grid, make_plates(shape, grid, printed_band(grid)))


def make_plates(shape: Shape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> tuple[Plate, ...]:
    """The plates of a description: base, walls, posts.

    band: where the walls' faces stand. joints: how they meet.
    """
    maker: CellTile | OutlineTile | RegionTile
    if isinstance(shape, CellShape):
        maker = CellTile(shape, grid, band, joints)
    elif isinstance(shape, RegionShape):
        maker = RegionTile(shape, grid, band)
    else:
        maker = OutlineTile(shape, grid, band, joints)
    base = Plate("base", "base", maker.footprint(), 0.0, grid.base_depth, marks=maker.marks())
    return (base, *maker.standing())
