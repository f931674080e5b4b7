"""From a description to plates: the tile that both the printer and the knife are fed from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import fsum

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.tiles.cells import CellTile
from tilegen.tiles.description import check_curves, describe
from tilegen.tiles.dressing import Ground, dressed
from tilegen.tiles.identity import Pose, parts_of_tile, poses_of, short_id
from tilegen.tiles.joints import PRINTED_JOINTS, Band, Joints, printed_band
from tilegen.tiles.leaves import fitted
from tilegen.tiles.piece import PieceTile
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.seats import connector_marks
from tilegen.tiles.shape import CellShape, OutlineShape, Shape
from tilegen.tiles.shape_checks import check_shape


@dataclass(frozen=True)
class Tile:
    """One tile type: its description, its measures and its plates as printed; the base comes first.

    ground: where its surface's pattern lies on it, if that is not the type's own.
    """

    name: str
    shape: Shape
    grid: Grid
    plates: tuple[Plate, ...]
    ground: Ground | None = None

    @property
    def base(self) -> Plate:
        """The plate that lies under all others."""
        return self.plates[0]

    @cached_property
    def poses(self) -> list[Pose]:
        """What it is made from, normalised, in its four quarter turns."""
        return poses_of(parts_of_tile(self.shape, self.grid, self.ground))

    @cached_property
    def id(self) -> str:
        """Short, from what it is made from, whatever its name: the same for every turn and in every plan."""
        return short_id(self.poses)

    @property
    def volume(self) -> float:
        """In mm3, the sum over the plates."""
        return fsum(plate.volume for plate in self.plates)

    @property
    def on_grid(self) -> bool:
        """Whether the tile is made of the grid's cells."""
        return isinstance(self.shape, CellShape)


def make_tile(name: str, shape: Shape, grid: Grid, ground: Ground | None = None) -> Tile:
    """A tile from its description. ground: of a tile whose surface is its place's, not its type's.

    Raises:
        InputError: the description can't be made (it has no inside, a wall or the outline vanishes).
    """
    check_shape(shape)
    return Tile(name, shape, grid, make_plates(shape, grid, printed_band(grid), ground=ground), ground)


def make_plates(
    shape: Shape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS, ground: Ground | None = None
) -> tuple[Plate, ...]:
    """The plates of a description: base, walls, posts.

    band: where the walls' faces stand. joints: how they meet. ground: see `make_tile`.
    """
    surface = grid.surface
    floors = (ground.floors if ground else ()) or (surface.floor,)
    # Joints of a patterned floor follow the spaces' lines and take their place.
    patterned = set(floors) != {"none"}
    lines = replace(grid, floor=replace(grid.floor, lines=False)) if patterned else grid
    maker = maker_of(shape, lines, band, joints)
    foot = maker.footprint()
    if not isinstance(shape, OutlineShape) and shape.furnished:
        floor = _connected(maker.floor(), connector_marks(shape, grid, foot), grid, shape.sunk)
    else:
        marks = (*maker.marks(), *connector_marks(shape, grid, foot))
        floor = (Plate("base", "base", foot, 0.0, grid.base_depth, marks=marks),)
    plates = (*floor, *maker.standing())
    if patterned or surface.walls != "none":
        plates = dressed(plates, shape, grid, ground)
    return fitted(plates, grid)


def maker_of(shape: Shape, grid: Grid, band: Band, joints: Joints = PRINTED_JOINTS) -> CellTile | PieceTile:
    """Whoever works out the plates of a shape."""
    if isinstance(shape, CellShape):
        return CellTile(shape, grid, band, joints)
    if isinstance(shape, OutlineShape) and joints.longest:
        check_curves(shape, band.inner)
    return PieceTile(describe(shape, grid), grid, band, joints)


def _connected(floor: tuple[Plate, ...], marks: tuple[Mark, ...], grid: Grid, sunk: Sequence[str]) -> tuple[Plate, ...]:
    """A base in layers, with the pockets and pegs of its edges in the lowest one.

    Raises:
        InputError: a hollow leaves too little of the base to hold them.
    """
    lowest, *others = floor
    if not marks:
        return floor
    if lowest.top < grid.base_depth:
        raise InputError(
            f"a {sunk[0]} over a floor of {lowest.top:g} mm in a tile with {grid.connectors.kind}",
            expected="a base that is whole along its edges",
            cure=f"leave the {sunk[0]} out, or choose connectors = none",
        )
    return (replace(lowest, marks=(*lowest.marks, *marks)), *others)
