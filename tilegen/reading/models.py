"""What the files on disk may hold, as models that check what they read."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from tilegen.errors import InputError
from tilegen.lengths import parse_length


def _length(value: object) -> float:
    try:
        return parse_length(value)
    except InputError as error:
        raise ValueError(f"found {error.found}; expected {error.expected}") from None


def _finite(value: object) -> object:
    if isinstance(value, bool):
        raise ValueError("a number is needed")  # noqa: TRY004 - pydantic wants a ValueError
    if isinstance(value, float) and not math.isfinite(value):
        raise ValueError("a finite number is needed")
    return value


Length = Annotated[float, BeforeValidator(_length)]
Number = Annotated[float, BeforeValidator(_finite)]
SideName = Literal["north", "east", "south", "west"]
CornerName = Literal["north-east", "south-east", "south-west", "north-west"]
HeadName = Literal["flat", "round"]
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


class Measures(Table):
    """The tables that any file may carry."""

    grid: GridTable = GridTable()
    floor: FloorTable = FloorTable()
    doorway: DoorwayTable = DoorwayTable()


class OpeningTable(Table):
    """`[[opening]]` of a profile."""

    wall: SideName | Annotated[int, Field(strict=True)]
    kind: Literal["doorway"] = "doorway"
    width: Length | None = None
    height: Length | None = None
    head: HeadName | None = None
    at: Number | None = None


class TileTable(Table):
    """`[tile]` of a profile."""

    size: tuple[Number, Number] | None = None
    outline: list[tuple[Number, Number]] | None = None
    walls: list[SideName | Annotated[int, Field(strict=True)]] = []
    posts: list[CornerName] = []


class ProfileFile(Measures):
    """One tile."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    tile: TileTable
    opening: list[OpeningTable] = []


class WayTable(Table):
    """`[[way]]` of a plan."""

    cell: CellPlace
    side: SideName
    kind: Literal["open", "doorway", "saddle"]
    width: Length | None = None
    height: Length | None = None
    head: HeadName | None = None
    at: Number | None = None


class WallTable(Table):
    """`[[wall]]` of a plan."""

    cell: CellPlace
    side: SideName


class PlanFile(Measures):
    """A whole map."""

    name: Annotated[str, Field(min_length=1, max_length=200)]
    scale: Literal["10 ft", "5 ft"] = "10 ft"
    drawing: str
    rooms: dict[str, str] = {}
    way: list[WayTable] = []
    wall: list[WallTable] = []


class SheetStock(Table):
    """One size of sheet that a material is sold in; count: sheets on hand, no limit if absent; price: of one."""

    size: tuple[Annotated[Length, Field(gt=0)], Annotated[Length, Field(gt=0)]]
    count: Annotated[int, Field(strict=True, ge=0)] | None = None
    price: Annotated[Number, Field(ge=0)] | None = None


class OffcutStock(Table):
    """`[[offcut]]`: a rectangle left from earlier work; name: what is written on it."""

    name: Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._-]*$")]
    size: tuple[Annotated[Length, Field(gt=0)], Annotated[Length, Field(gt=0)]]


class MaterialFile(Table):
    """Stock to cut tiles from. Every number is a default that the user's own measurement overrides.

    sheet: the usual size; stock: further ones. offcut: cut up before any sheet. alike: all pieces of a part lie the
    same way. least_offcut: what is worth keeping.
    process: what may cut it: "allow", "ask: reason" or "block: reason and what to use instead".
    """

    name: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[a-z0-9-]+$")]
    title: str
    thickness: Annotated[Length, Field(gt=0)]
    measured: Annotated[Length, Field(gt=0)] | None = None
    glue_line: Annotated[Length, Field(ge=0)] = 0.0
    least_lintel: Annotated[Length, Field(ge=0)]
    least_strip: Annotated[Length, Field(ge=0)]
    grain: Annotated[bool, Field(strict=True)] = False
    alike: Annotated[bool, Field(strict=True)] = False
    sheet: SheetStock
    stock: list[SheetStock] = []
    offcut: list[OffcutStock] = []
    least_offcut: tuple[Annotated[Length, Field(gt=0)], Annotated[Length, Field(gt=0)]] = (60.0, 200.0)
    process: dict[
        Literal["laser", "hot-wire", "drag-knife", "hand-knife"],
        Annotated[str, Field(pattern=r"^(allow\b|ask: .|block: .)")],
    ] = {}
    cautions: list[str] = []
    glue: str = ""

    @model_validator(mode="before")
    @classmethod
    def _first_size(cls, data: object) -> object:
        """Where no `[sheet]` is given the first `[[stock]]` is the usual size."""
        if isinstance(data, dict) and "sheet" not in data and isinstance(data.get("stock"), list) and data["stock"]:
            first, *others = data["stock"]
            return {**data, "sheet": first, "stock": others}
        return data

    @model_validator(mode="after")
    def _offcuts_differ(self) -> MaterialFile:
        names = [offcut.name for offcut in self.offcut]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f'two offcuts called "{name}"; give each a name of its own')
        return self

    @property
    def real_thickness(self) -> float:
        """Of one sheet in mm: as measured, or the nominal one where nobody has measured yet."""
        return self.thickness if self.measured is None else self.measured


class MachineFile(Table):
    """What cuts: its process, kerf (by material name, or the default), spacing and margins.

    kerf: the full width of the cut. spacing: between the cut lines of two parts. margin: from the sheet's edge.
    cuts: "edge to edge": each cut runs right across, as a fence or a ruler guides it: parts lie one kerf apart, the
    margin is trimmed off. fence_zero: what a piece measures more than the fence's scale says; merge_settings: sizes
    that differ by less are cut on one setting.
    size_error: of a finished tile, each way; the joint play must be at least this.
    """

    name: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[a-z0-9-]+$")]
    title: str
    process: Literal["laser", "hot-wire", "drag-knife", "hand-knife"]
    kerf: Annotated[Length, Field(ge=0, le=10)]
    kerf_by_material: dict[str, Annotated[Length, Field(ge=0, le=10)]] = {}
    spacing: Annotated[Length, Field(ge=0)]
    margin: Annotated[Length, Field(ge=0)]
    cuts: Literal["edge to edge", "free"] = "free"
    fence_zero: Annotated[Length, Field(ge=-20, le=20)] = 0.0
    merge_settings: Annotated[Length, Field(ge=0, le=5)] = 0.0
    size_error: Annotated[Length, Field(ge=0)]
    cautions: list[str] = []

    def kerf_in(self, material: MaterialFile) -> float:
        """The full width of the cut in a material, mm."""
        return self.kerf_by_material.get(material.name, self.kerf)


class PrinterFile(Table):
    """What prints: its bed and how parts are set out on it."""

    name: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[a-z0-9-]+$")]
    title: str
    process: Literal["fdm", "resin"]
    bed: tuple[Length, Length]
    height: Length
    margin: Length
    spacing: Length
    least_lintel: Length
    size_error: Length
    cautions: list[str] = []


def plain(value: object) -> Any:  # noqa: ANN401
    """A short text of a value found in a file."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
