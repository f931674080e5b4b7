"""What the files on disk may hold, as models that check what they read."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

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
    """One size of sheet that a material is sold in; count: sheets on hand, no limit if absent."""

    size: tuple[Annotated[Length, Field(gt=0)], Annotated[Length, Field(gt=0)]]
    count: Annotated[int, Field(strict=True, ge=0)] | None = None


class MaterialFile(Table):
    """Stock to cut tiles from. Every number is a default that the user's own measurement overrides.

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
    sheet: SheetStock
    process: dict[
        Literal["laser", "hot-wire", "drag-knife", "hand-knife"],
        Annotated[str, Field(pattern=r"^(allow\b|ask: .|block: .)")],
    ] = {}
    cautions: list[str] = []
    glue: str = ""

    @property
    def real_thickness(self) -> float:
        """Of one sheet in mm: as measured, or the nominal one where nobody has measured yet."""
        return self.thickness if self.measured is None else self.measured


def _kerf_pair(value: object) -> tuple[float, float]:
    """A width, or a list of two: along x and along y."""
    values = value if isinstance(value, list | tuple) else [value, value]
    if len(values) != 2:
        raise ValueError("a length, or two of them: along x and along y")
    x, y = (_length(v) for v in values)
    if not (0 <= x <= WIDEST_KERF and 0 <= y <= WIDEST_KERF):
        raise ValueError(f"a width between 0 and {WIDEST_KERF:g} mm is needed")
    return x, y


WIDEST_KERF = 10.0
KerfWidth = Annotated[Length, Field(ge=0, le=WIDEST_KERF)]


class PathRules(Table):
    """`[paths]` of a machine: how the tool goes along the outlines. Every number is a default to override.

    shape: each outline by itself, or one line through all of them (hot wire). arcs: round edges as arcs, else as
    segments. least_web: between two cuts. tab_width: 0 for no tabs; tab_every: length of outline to a tab;
    tab_corner: distance from corners; tab_recess: depth of the notch that hides a broken tab, over tab_notch.
    common_lines: neighbours share a cut. gang_cuts: ruler ticks on the sheet's edges. swivel: arcs for a trailing
    blade of blade_offset at turns of swivel_from degrees or more; overcut: past the start of a closed cut.
    """

    shape: Literal["outlines", "one line"] = "outlines"
    arcs: Annotated[bool, Field(strict=True)] = True
    least_web: Annotated[Length, Field(ge=0)] = 0.5
    tab_width: Annotated[Length, Field(ge=0, le=10)] = 0.0
    tab_every: Annotated[Length, Field(ge=10)] = 150.0
    tab_corner: Annotated[Length, Field(ge=0)] = 5.0
    tab_recess: Annotated[Length, Field(ge=0, le=2)] = 0.3
    tab_notch: Annotated[Length, Field(gt=0)] = 3.0
    common_lines: Annotated[bool, Field(strict=True)] = False
    gang_cuts: Annotated[bool, Field(strict=True)] = False
    swivel: Annotated[bool, Field(strict=True)] = False
    blade_offset: Annotated[Length, Field(gt=0, le=5)] = 0.25
    swivel_from: Annotated[Number, Field(gt=0, le=90)] = 20.0
    overcut: Annotated[Length, Field(ge=0, le=10)] = 0.0


class MachineFile(Table):
    """What cuts: its process, kerf (by material name, or the default), spacing and margins.

    kerf: the full width of the cut; kerf_y: what it measures along y, where that differs from what it measures along
    x. spacing: between the cut lines of two parts. margin: from the sheet's edge. size_error: of a finished tile,
    each way; the joint play must be at least this.
    """

    name: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[a-z0-9-]+$")]
    title: str
    process: Literal["laser", "hot-wire", "drag-knife", "hand-knife"]
    kerf: KerfWidth
    kerf_y: KerfWidth | None = None
    kerf_by_material: dict[str, Annotated[tuple[float, float], BeforeValidator(_kerf_pair)]] = {}
    spacing: Annotated[Length, Field(ge=0)]
    margin: Annotated[Length, Field(ge=0)]
    size_error: Annotated[Length, Field(ge=0)]
    cautions: list[str] = []
    paths: PathRules = PathRules()

    def kerf_pair(self, material: MaterialFile) -> tuple[float, float]:
        """The full width of the cut in a material along x and along y, mm."""
        return self.kerf_by_material.get(material.name, (self.kerf, self.kerf if self.kerf_y is None else self.kerf_y))

    def kerf_in(self, material: MaterialFile) -> float:
        """The full width of the cut in a material, mm; the wider one where x and y differ."""
        return max(self.kerf_pair(material))


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
