"""The measures that all tiles of a set share, and what follows from them. Lengths are millimetres."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from tilegen.errors import InputError, Place
from tilegen.lengths import rounded_down, show_length
from tilegen.model.connectors import Connectors
from tilegen.model.keys import Key, described
from tilegen.model.surface import Surface

# How a doorway ends at the top. Each kind is a row in `tiles/heads.py`, as the arcs that it is drawn by.
HEADS: Mapping[str, str] = {
    "flat": "a straight lintel",
    "round": "half a circle",
    "pointed": "two arcs that meet in a point",
}
# What closes a doorway, and how. Each kind is a file in `tiles/leaves/`, which is loaded when tiles are made.
LEAVES: Mapping[str, str] = {
    "sliding": "drops from above into the grooves",
    "hinged": "turns on a wire put through the lintel into the floor",
    "lift-out": "stands as a piece of the wall",
}
if TYPE_CHECKING:
    Head = str
    Leaf = str
else:
    Head = Literal[tuple(HEADS)]
    Leaf = Literal[("none", *LEAVES)]
Style = Literal["planks", "plain", "bars", "portcullis"]
Base = Literal["full", "hollow", "sheet"]


@dataclass(frozen=True, slots=True)
class Floor:
    """The lines between spaces: grooves in print, scores on sheets."""

    lines: Annotated[bool, Key("Whether the lines between spaces are drawn: grooves in print, scores on sheets.")] = (
        True
    )
    groove_width: Annotated[float, Key("The width of a printed line between spaces.", takes="mm")] = 1.0
    groove_depth: Annotated[float, Key("The depth of a printed line between spaces.", takes="mm")] = 0.6


@dataclass(frozen=True, slots=True)
class DoorwaySize:
    """Default sizes of a way through a wall."""

    width: Annotated[
        float,
        Key(
            "The clear width of a doorway: a hinged leaf adds its own to it, where half a wall stays on each side.",
            takes="mm",
        ),
    ] = 27.94
    height: Annotated[
        float, Key("The height of a doorway above the floor; as high as the wall leaves no lintel.", takes="mm")
    ] = 30.48
    head: Annotated[Head, Key("How a doorway ends at the top.")] = "flat"


@dataclass(frozen=True, slots=True)
class Door:
    """Defaults for the leaves of doorways and saddles; a way may override each.

    groove_depth: at least 1.0 mm in filament, 0.6 in resin (common practice, no source).
    """

    leaf: Annotated[Leaf, Key("What closes a doorway; a way may say its own.")] = "none"
    style: Annotated[Style, Key("How a leaf looks.")] = "planks"
    thickness: Annotated[float, Key("The thickness of a leaf.", takes="mm")] = 3.0
    clearance: Annotated[
        float | None,
        Key(
            "The gap on each side of a part that moves; 0.2 mm, or in print what gauge --record found, if absent.",
            takes="mm",
        ),
    ] = None
    groove_depth: Annotated[float, Key("The depth of the grooves in which a leaf slides.", takes="mm")] = 1.2
    pin: Annotated[float, Key("The diameter of the wire or rod on which a hinged leaf turns.", takes="mm")] = 2.0
    shims: Annotated[bool, Key("Whether to make strips that stand in for a missing post beside a saddle.")] = False

    @property
    def gap(self) -> float:
        """The clearance on each side, mm (0.2 in filament: common practice, no source)."""
        return 0.2 if self.clearance is None else self.clearance


Posts = Literal["fixed", "loose", "none"]
Doorways = Literal["fixed", "loose"]


@dataclass(frozen=True, slots=True)
class SetChoices:
    """How a set is made up: what belongs to its tiles, and what is a piece of its own. The drawing stays the same."""

    posts: Annotated[
        Posts,
        Key(
            "Posts in the corners of tiles: part of the tile, loose pieces, or left out but beside door pieces.",
            "--posts",
        ),
    ] = "fixed"
    doorways: Annotated[
        Doorways, Key("Doorways: in the walls of the tiles, or door pieces that stand over open sides.", "--doorways")
    ] = "fixed"
    base: Annotated[
        Base,
        Key(
            "Bases: printed full, or hollow from below with ribs, or cut from sheet, with printed walls on pegs.",
            "--base",
        ),
    ] = "full"

    @property
    def mixed(self) -> bool:
        """Whether bases are cut and walls printed."""
        return self.base == "sheet"


@dataclass(frozen=True, slots=True)
class Grid:
    """Pitch, walls, base and play of a set of tiles."""

    pitch: Annotated[
        float,
        Key('The side of one space, the square in which one medium figure stands, e.g. "1.25 in".', "--pitch", "mm"),
    ] = 31.75
    spaces: Annotated[int, Key("How many spaces lie along one side of a standard tile.")] = 2
    wall_thickness: Annotated[
        float, Key("The thickness of a wall; it stands on its own tile, inside the footprint.", "--wall", "mm")
    ] = 6.35
    wall_height: Annotated[float, Key("The height of a wall above the floor.", "--height", "mm")] = 38.1
    base_depth: Annotated[float, Key("The depth of a base from its underside to the floor.", "--depth", "mm")] = 6.35
    joint_play: Annotated[
        float,
        Key(
            "The gap at each seam so that rows and loops close; half of it is taken off every outside edge.", takes="mm"
        ),
    ] = 0.3
    floor: Floor = field(default_factory=Floor)
    doorway: DoorwaySize = field(default_factory=DoorwaySize)
    door: Door = field(default_factory=Door)
    connectors: Connectors = field(default_factory=Connectors)
    surface: Surface = field(default_factory=Surface)
    set: SetChoices = field(default_factory=SetChoices)

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
            raise InputError(
                f"a tile can't have {self.spaces} spaces a side",
                cure="Use 1 to 20",
                place=_place("spaces"),
            )
        if self.wall_thickness * 2 >= self.pitch:
            raise InputError(
                f"walls {self.wall_thickness:g} mm thick leave no room in spaces of {self.pitch:g} mm",
                cure=f"Use walls thinner than {show_length(rounded_down(self.pitch / 2))}, or a larger pitch",
                place=_place("wall_thickness"),
            )
        if not 0 <= self.joint_play < self.wall_thickness:
            raise InputError(
                f"a joint play of {self.joint_play:g} mm is not possible",
                cure=f"Use at least 0 mm, and less than the wall's {self.wall_thickness:g} mm",
                place=_place("joint_play"),
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


# The tables of measures by name, as files write them.
TABLES: dict[str, type] = {
    "grid": Grid,
    "floor": Floor,
    "doorway": DoorwaySize,
    "door": Door,
    "connectors": Connectors,
    "surface": Surface,
    "set": SetChoices,
}


@dataclass(frozen=True, slots=True)
class Over:
    """What goes over the measures of a plan or profile: a grid file, then single keys by table, as options give."""

    file: Path | None = None
    tables: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)

    def gives(self, table: str, key: str) -> bool:
        """Whether one key is among those given by itself."""
        return key in self.tables.get(table, {})


def option_for(table: str, key: str) -> str:
    """The option that gives a key of these tables; its place in a file, if it has none."""
    found = next((field.key.option for field in described(TABLES[table]) if field.name == key), "")
    return found or f"[{table}] {key}"


def _place(key: str, table: str = "grid") -> Place:
    return Place(f"[{table}] {key}", table=table, key=key)


def _within(name: str, value: float, *, above: float, most: float, table: str = "grid") -> None:
    if not above < value <= most:
        raise InputError(
            f"{value:g} mm is too {'small' if value <= above else 'large'}",
            cure=f"Use more than {above:g} and at most {most:g} mm",
            place=_place(name, table),
        )
