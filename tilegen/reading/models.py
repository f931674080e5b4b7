"""What the files on disk may hold, as models that check what they read."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, create_model, model_validator

from tilegen.plans.ways import WayWord
from tilegen.reading.connector_model import ConnectorsTable
from tilegen.reading.fields import Length, Title
from tilegen.reading.surfaces import SurfaceTable
from tilegen.tiles.features import FEATURE_KEYS, FEATURES, key_said, kinds_said


def _finite(value: object) -> object:
    if isinstance(value, bool):
        raise ValueError("a number is needed")  # noqa: TRY004 - pydantic wants a ValueError
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("a finite number is needed")
    return value


Number = Annotated[float, BeforeValidator(_finite)]
SideName = Literal["north", "east", "south", "west"]
CornerName = Literal["north-east", "south-east", "south-west", "north-west"]
HeadName = Literal["flat", "round"]
LeafName = Literal["none", "sliding", "hinged", "lift-out"]
StyleName = Literal["planks", "plain", "bars", "portcullis"]
EdgeRun = Annotated[str, Field(pattern=r"^[0-9]{1,4}-[0-9]{1,4}$")]
CellPlace = tuple[Annotated[int, Field(strict=True)], Annotated[int, Field(strict=True)]]


class Table(BaseModel):
    """A table of a file; a key that is not known is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class GridTable(Table):
    """`[grid]`: only what differs from the defaults."""

    pitch: Length | None = None
    spaces: Annotated[int, Field(strict=True)] | None = None
    wall_thickness: Length | None = None
    wall_height: Length | None = None
    base_depth: Length | None = None
    joint_play: Length | None = None


class FloorTable(Table):
    """`[floor]`."""

    lines: Annotated[bool, Field(strict=True)] | None = None
    groove_width: Length | None = None
    groove_depth: Length | None = None


class DoorwayTable(Table):
    """`[doorway]`."""

    width: Length | None = None
    height: Length | None = None
    head: HeadName | None = None


class DoorTable(Table):
    """`[door]`: what closes doorways and saddles."""

    leaf: LeafName | None = None
    style: StyleName | None = None
    thickness: Length | None = None
    clearance: Length | None = None
    groove_depth: Length | None = None
    pin: Length | None = None
    shims: Annotated[bool, Field(strict=True)] | None = None


class Measures(Table):
    """The tables that any file may carry."""

    grid: GridTable = GridTable()
    floor: FloorTable = FloorTable()
    doorway: DoorwayTable = DoorwayTable()
    door: DoorTable = DoorTable()
    connectors: ConnectorsTable = ConnectorsTable()
    surface: SurfaceTable = SurfaceTable()


class OpeningTable(Table):
    """`[[opening]]` of a profile."""

    wall: SideName | Annotated[int, Field(strict=True)]
    kind: Literal["doorway"] = "doorway"
    width: Length | None = None
    height: Length | None = None
    head: HeadName | None = None
    at: Number | None = None
    leaf: LeafName | None = None
    style: StyleName | None = None


class TileTable(Table):
    """`[tile]` of a profile."""

    size: tuple[Number, Number] | None = None
    outline: list[tuple[Number, Number]] | None = None
    outline_file: Annotated[str, Field(min_length=1, max_length=200)] | None = None
    holes: list[list[tuple[Number, Number]]] = []
    round: Length | list[tuple[Annotated[int, Field(strict=True)], Length]] | None = None
    walls: list[SideName | Annotated[int, Field(strict=True)] | EdgeRun] = []
    posts: list[CornerName] = []


_FEATURE_VALUES: dict[str, Any] = {
    "spot": tuple[Number, Number] | None,
    "size": Length | tuple[Length, Length] | None,
    "length": Length | None,
    "side": SideName | None,
    "count": Annotated[int, Field(strict=True)] | None,
    "yes": Annotated[bool, Field(strict=True)] | None,
}
_FEATURE_FIELDS: dict[str, Any] = {
    "kind": (Literal[tuple(FEATURES)], Field(description=kinds_said())),
    **{
        key: (_FEATURE_VALUES[sort.takes], Field(None, description=key_said(key))) for key, sort in FEATURE_KEYS.items()
    },
}


class FeatureTable(create_model("FeatureKeys", __base__=Table, **_FEATURE_FIELDS)):  # type: ignore[misc]
    """`[[feature]]` of a profile: all keys that some kind of feature takes."""

    if TYPE_CHECKING:
        kind: str
        at: tuple[float, float] | None
        size: float | tuple[float, float] | None


class ProfileFile(Measures):
    """One tile."""

    name: Annotated[Title, Field(min_length=1, max_length=80)]
    tile: TileTable
    opening: list[OpeningTable] = []
    feature: list[FeatureTable] = []


class WayTable(Table):
    """`[[way]]` of a plan: by cell and side (at: its centre in spaces), or by room and point (at: [x, y] in cells)."""

    cell: CellPlace | None = None
    side: SideName | None = None
    room: str | None = None
    kind: WayWord
    width: Length | None = None
    height: Length | None = None
    head: HeadName | None = None
    at: Number | tuple[Number, Number] | None = None
    leaf: LeafName | None = None
    style: StyleName | None = None

    @model_validator(mode="after")
    def _placed(self) -> WayTable:
        by_point = isinstance(self.at, tuple)
        if by_point and (self.room is None or self.cell is not None or self.side is not None):
            raise ValueError("found a way at a point without its room, or with a cell; expected room and at = [x, y]")
        if not by_point and (self.cell is None or self.side is None or self.room is not None):
            raise ValueError("found a way without cell and side; expected these, or room and at = [x, y]")
        return self


class WallTable(Table):
    """`[[wall]]` of a plan."""

    cell: CellPlace
    side: SideName


class PlanFeatureTable(FeatureTable):
    """`[[feature]]` of a plan; to: the last cell, if it is on more than one."""

    cell: CellPlace
    to: CellPlace | None = None


class RoomHeightsTable(Table):
    """`[heights.LETTER]` of a plan: a room's walls above its floor, and its floor above the lowest one."""

    wall: Length | None = None
    floor: Length = 0.0


class PlanFile(Measures):
    """A whole map."""

    name: Annotated[Title, Field(min_length=1, max_length=200)]
    scale: Literal["10 ft", "5 ft"] = "10 ft"
    drawing: str
    rooms: dict[str, Title] = {}
    way: list[WayTable] = []
    wall: list[WallTable] = []
    feature: list[PlanFeatureTable] = []
    heights: dict[str, RoomHeightsTable] = {}


def plain(value: object) -> Any:  # noqa: ANN401
    """A short text of a value found in a file."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
