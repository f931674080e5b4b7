"""Loose pieces: the saddle door that stands over the seam between two open sides."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from shapely.geometry import box

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.tiles.identity import short_id
from tilegen.tiles.plate import Opening, Plate

# Free space at each end between the door piece and the posts beside it, mm (0.3 to 0.5: common practice, no source).
END_CLEARANCE_MM = 0.3


@dataclass(frozen=True)
class Piece:
    """A loose piece: its plates as printed, standing on z = 0."""

    name: str
    grid: Grid
    plates: tuple[Plate, ...]
    side: float
    opening: Opening

    @cached_property
    def id(self) -> str:
        """Short, from the geometry alone."""
        return short_id(self.plates)

    @property
    def volume(self) -> float:
        """In mm3, the sum over the plates."""
        return sum(plate.volume for plate in self.plates)


def make_saddle_door(name: str, grid: Grid, side: float, opening: Opening) -> Piece:
    """The door piece between the posts of a saddle side of `side` mm: one wall plate for each of the two tiles."""
    plates = saddle_plates(grid, side, opening, grid.wall_thickness)
    return Piece(name, grid, plates, side, opening)


def saddle_plates(grid: Grid, side: float, opening: Opening, thickness: float) -> tuple[Plate, ...]:
    """Two plates back to back, each `thickness` thick, both with the opening; the south one first."""
    length = side - 2 * (grid.wall_thickness + END_CLEARANCE_MM)
    shift = grid.wall_thickness + END_CLEARANCE_MM
    if opening.width >= length:
        raise InputError(f"a saddle door {length:g} mm wide with an opening of {opening.width:g}", expected="legs")
    here = replace(opening, centre=opening.centre - shift)
    there = replace(opening, centre=length - (opening.centre - shift))
    height = grid.wall_height
    south = Plate("leaf south", "door", box(0, 0, length, thickness), 0, height, ((length, 0), (0, 0)), (there,))
    top = 2 * thickness
    north = Plate("leaf north", "door", box(0, thickness, length, top), 0, height, ((0, top), (length, top)), (here,))
    return south, north
