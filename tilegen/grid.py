"""The measures that all tiles of a set share, and what follows from them. Lengths are millimetres."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from tilegen.connectors import Connectors
from tilegen.errors import InputError
from tilegen.surface import Surface

Head = Literal["flat", "round"]
# What closes a doorway: nothing; a leaf that drops into grooves; one that turns on a pin; a piece of wall to lift out.
Leaf = Literal["none", "sliding", "hinged", "lift-out"]
Style = Literal["planks", "plain", "bars", "portcullis"]


@dataclass(frozen=True, slots=True)
class Floor:
    """The lines between spaces: grooves in print, scores on sheets."""

    lines: bool = True
    groove_width: float = 1.0
    groove_depth: float = 0.6


@dataclass(frozen=True, slots=True)
class DoorwaySize:
    """What a way through a wall is, unless it says otherwise."""

    width: float = 27.94
    height: float = 30.48
    head: Head = "flat"


@dataclass(frozen=True, slots=True)
class Door:
    """The leaves of doorways and saddles, unless a way says otherwise; every number is a default to override.

    thickness: of a leaf. clearance: between parts that move, on each side; None: `gap`, or in print what the printer's
    own test pieces have told. groove_depth: of the grooves in the jambs
    (at least 1.0 mm in filament, 0.6 in resin: common practice, no source). pin: diameter of the wire or rod that a
    hinged leaf turns on. shims: also make the strips that fill a saddle's place where one side has no post.
    """

    leaf: Leaf = "none"
    style: Style = "planks"
    thickness: float = 3.0
    clearance: float | None = None
    groove_depth: float = 1.2
    pin: float = 2.0
    shims: bool = False

    @property
    def gap(self) -> float:
        """The clearance on each side, mm (0.2 in filament: common practice, no source)."""
        return 0.2 if self.clearance is None else self.clearance


@dataclass(frozen=True, slots=True)
class Grid:
    """Pitch, walls, base and play of a set of tiles.

    pitch: side of one space. spaces: spaces along one side of a standard tile. wall_thickness: a wall
    stands on its own tile, inside the footprint. wall_height: above the floor. base_depth: underside to
    floor. joint_play: the gap at each seam, half of it taken off every outside edge.
    """

    pitch: float = 31.75
    spaces: int = 2
    wall_thickness: float = 6.35
    wall_height: float = 38.1
    base_depth: float = 6.35
    joint_play: float = 0.3
    floor: Floor = field(default_factory=Floor)
    doorway: DoorwaySize = field(default_factory=DoorwaySize)
    door: Door = field(default_factory=Door)
    connectors: Connectors = field(default_factory=Connectors)
    surface: Surface = field(default_factory=Surface)

    @property
    def tile_side(self) -> float:
        """Nominal side of a standard tile, seam to seam."""
        return self.pitch * self.spaces

    @property
    def half_play(self) -> float:
        """What each outside edge gives up so that a seam is `joint_play` wide."""
        return self.joint_play / 2

    @property
    def hall_clear(self) -> float:
        """Free width between the walls of a hall one tile wide."""
        return self.tile_side - 2 * self.wall_thickness

    def check(self) -> None:
        """Refuse measures that no tile can be made with.

        Raises:
            InputError: names the measure, what it is and what it may be.
        """
        for name in ("pitch", "wall_thickness", "wall_height", "base_depth"):
            _within(name, getattr(self, name), above=0.0, most=1000.0)
        if not 1 <= self.spaces <= 20:
            raise InputError(f"spaces = {self.spaces}", expected="1 to 20", place="[grid] spaces")
        if self.wall_thickness * 2 >= self.pitch:
            raise InputError(
                f"a wall of {self.wall_thickness:g} mm at a pitch of {self.pitch:g} mm",
                expected=f"less than half the pitch, {self.pitch / 2:g} mm",
                cure="choose a thinner wall or a larger pitch",
                place="[grid] wall_thickness",
            )
        if not 0 <= self.joint_play < self.wall_thickness:
            raise InputError(
                f"a play of {self.joint_play:g} mm with walls of {self.wall_thickness:g} mm",
                expected="0 or more, and less than the wall thickness",
                place="[grid] joint_play",
            )
        self._check_floor()
        self._check_doorway()
        self.surface.check(self.pitch, self.base_depth, self.wall_thickness)

    def _check_floor(self) -> None:
        if not self.floor.lines:
            return
        _within("groove_width", self.floor.groove_width, above=0.0, most=self.pitch / 2, table="floor")
        _within("groove_depth", self.floor.groove_depth, above=0.0, most=self.base_depth * 0.9, table="floor")

    def _check_doorway(self) -> None:
        _within("width", self.doorway.width, above=0.0, most=10_000.0, table="doorway")
        _within("height", self.doorway.height, above=0.0, most=1000.0, table="doorway")
        for name in ("thickness", "clearance", "groove_depth", "pin"):
            value = self.door.gap if name == "clearance" else getattr(self.door, name)
            _within(name, value, above=0.0, most=50.0, table="door")


def _within(name: str, value: float, *, above: float, most: float, table: str = "grid") -> None:
    if not above < value <= most:
        raise InputError(
            f"{name} = {value:g} mm", expected=f"more than {above:g} and at most {most:g} mm", place=f"[{table}] {name}"
        )
