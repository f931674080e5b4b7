"""What the files on disk may hold, as models that check what they read."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PrivateAttr, model_validator

from tilegen.errors import InputError
from tilegen.lengths import parse_length
from tilegen.reading.connector_model import ConnectorsTable
from tilegen.reading.surfaces import SurfaceTable


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
LeafName = Literal["none", "sliding", "hinged", "lift-out"]
StyleName = Literal["planks", "plain", "bars", "portcullis"]
EdgeRun = Annotated[str, Field(pattern=r"^[0-9]{1,4}-[0-9]{1,4}$")]
Process = Literal["laser", "hot-wire", "drag-knife", "hand-knife"]
Family = Literal[
    "xps", "eps", "foam-core", "eva", "card", "greyboard", "mdf", "plywood", "cork", "pvc", "other"
]  # fmt: skip
ConstructionName = Literal["stacked", "folded", "grooved"]
CornersName = Literal["butt", "pinwheel", "mitre", "rabbet"]
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


class FeatureTable(Table):
    """`[[feature]]` of a profile. at: its centre, in spaces; size: one length or (west to east, north to south)."""

    kind: Literal["pillar", "dais", "stair", "pit"]
    at: tuple[Number, Number] | None = None
    size: Length | tuple[Length, Length] | None = None
    height: Length | None = None
    depth: Length | None = None
    side: SideName | None = None
    steps: Annotated[int, Field(strict=True)] | None = None
    round: Annotated[bool, Field(strict=True)] = False


class ProfileFile(Measures):
    """One tile."""

    name: Annotated[str, Field(min_length=1, max_length=80)]
    tile: TileTable
    opening: list[OpeningTable] = []
    feature: list[FeatureTable] = []


class WayTable(Table):
    """`[[way]]` of a plan: by cell and side (at: its centre in spaces), or by room and point (at: [x, y] in cells)."""

    cell: CellPlace | None = None
    side: SideName | None = None
    room: str | None = None
    kind: Literal["open", "doorway", "saddle"]
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
        if by_point and self.leaf not in (None, "none"):
            raise ValueError("found a leaf in a way through an outline; expected leaf none")
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

    name: Annotated[str, Field(min_length=1, max_length=200)]
    scale: Literal["10 ft", "5 ft"] = "10 ft"
    drawing: str
    rooms: dict[str, str] = {}
    way: list[WayTable] = []
    wall: list[WallTable] = []
    feature: list[PlanFeatureTable] = []
    heights: dict[str, RoomHeightsTable] = {}


class SheetStock(Table):
    """One size of sheet that a material is sold in; count: sheets on hand, no limit if absent; price: of one.

    thickness: as measured, of sheets of another thickness than the material's own (see `[stack]`).
    """

    size: tuple[Annotated[Length, Field(gt=0)], Annotated[Length, Field(gt=0)]]
    count: Annotated[int, Field(strict=True, ge=0)] | None = None
    price: Annotated[Number, Field(ge=0)] | None = None
    thickness: Annotated[Length, Field(gt=0)] | None = None


class OffcutStock(Table):
    """`[[offcut]]`: a rectangle left from earlier work; name: what is written on it; thickness: if not the usual."""

    name: Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._-]*$")]
    size: tuple[Annotated[Length, Field(gt=0)], Annotated[Length, Field(gt=0)]]
    thickness: Annotated[Length, Field(gt=0)] | None = None


class Verdict(Table):
    """`[process.NAME]` of a material: whether that process may cut it.

    up_to: the greatest thickness that the verdict holds for; beyond: the verdict for thicker sheets. caution: the
    words with which the user accepts an "ask". why, instead: the reason, and what to use in its place. least_feature:
    the narrowest strip or neck that this process makes in this material, in place of the machine's own figure.
    strokes: of the blade along one cut. cautions: for this process in this material.
    """

    verdict: Literal["allow", "ask", "block"]
    up_to: Annotated[Length, Field(gt=0)] | None = None
    beyond: Literal["ask", "block"] | None = None
    caution: Annotated[str, Field(max_length=60, pattern=r"^[^,]*$")] = ""
    why: str = ""
    instead: str = ""
    least_feature: Annotated[Length, Field(ge=0)] | None = None
    strokes: Annotated[int, Field(strict=True, ge=1, le=50)] = 1
    cautions: list[str] = []

    @model_validator(mode="after")
    def _whole(self) -> Verdict:
        said = {self.verdict, self.beyond}
        if (self.up_to is None) != (self.beyond is None):
            raise ValueError("found up_to or beyond alone; expected both or neither")
        if "ask" in said and not (self.caution and self.why):
            raise ValueError("found an ask without its words; expected caution and why")
        if "block" in said and not (self.why and self.instead):
            raise ValueError("found a block without a reason; expected why and instead")
        return self


class FoldingTable(Table):
    """`[folding]` of a material. hinge: depth of the hinge under the outer face, as a share of the thickness.

    gap: glue between card and core. tuck: what a box's last panel is short of. turn_under: what folds in under a tile.
    longest: grooved run.
    """

    hinge: Annotated[Number, Field(ge=0, le=1)] = 0.5
    rule: Annotated[Length, Field(ge=0)] = 0.7
    gap: Annotated[Length, Field(ge=0)] = 0.1
    tab: Annotated[Length, Field(gt=0)] = 6.0
    tab_angle: Annotated[Number, Field(ge=30, le=60)] = 43.0
    tuck: Annotated[Length, Field(ge=0)] = 0.3
    longest: Annotated[Length, Field(gt=0)] = 450.0
    turn_under: Annotated[Length, Field(ge=0)] = 10.0


class GluingTable(Table):
    """`[gluing]` of a material. face: g of glue to the m2; bead: g to the m of a line; joint: seconds to make one.

    drying: hours until a tile can be handled.
    """

    face: Annotated[Number, Field(ge=0)] = 175.0
    bead: Annotated[Number, Field(ge=0)] = 4.0
    joint: Annotated[Number, Field(ge=0)] = 60.0
    drying: Annotated[Number, Field(ge=0)] = 24.0


class StackTable(Table):
    """`[stack]` of a material: the card that makes up what a stack lacks, how far sheets differ, a step one can bear.

    thicknesses: as measured, of other sheets of the same material that base layers may be made of.
    """

    shim: Annotated[Length, Field(gt=0)] = 0.3
    spread: Annotated[Length, Field(ge=0)] = 0.0
    step: Annotated[Length, Field(ge=0)] = 0.3
    thicknesses: list[Annotated[Length, Field(gt=0)]] = []


class CurveTable(Table):
    """`[curve]` of a material: how a strip of it goes round a curved wall.

    way: bent as it is, scored, slotted (kerf-bent) or put together from facets; usual for its family if absent.
    neutral: depth of the line that keeps its length, as a share of the thickness from the outer face. flatness: how
    far flats may leave the curve. slot, skin: width of a slot, and what it leaves of the far face.
    """

    way: Literal["bent", "scored", "slotted", "facets"] | None = None
    neutral: Annotated[Number, Field(ge=0, le=1)] = 0.5
    flatness: Annotated[Length, Field(gt=0, le=5)] = 0.25
    slot: Annotated[Length, Field(gt=0, le=10)] = 1.0
    skin: Annotated[Length, Field(gt=0)] = 0.8


class MaterialFile(Table):
    """Stock to cut tiles from. Every number is a default that the user's own measurement overrides.

    sheet: the usual size; stock: further ones, or all of them. offcut: cut up before any sheet. alike: all pieces of
    a part lie the same way. least_offcut: what is worth keeping.
    process: what may cut it. construction, corners: how tiles are built of it unless the user says otherwise.
    skin: what a groove or a rabbet leaves of the far face. slender: wall height over thickness that needs a brace.
    measured_off: a reading further off the nominal thickness than this share of it is taken for a slip.
    """

    name: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[a-z0-9-]+$")]
    title: str
    family: Family = "other"
    thickness: Annotated[Length, Field(gt=0)]
    measured: Length | None = None
    measured_off: Annotated[Number, Field(gt=0, le=1)] = 0.5
    glue_line: Annotated[Length, Field(ge=0)] = 0.0
    least_lintel: Annotated[Length, Field(ge=0)]
    least_strip: Annotated[Length, Field(ge=0)]
    slender: Annotated[Number, Field(gt=0)] = 8.0
    grain: Annotated[bool, Field(strict=True)] = False
    adhesive_backed: Annotated[bool, Field(strict=True)] = False
    construction: ConstructionName = "stacked"
    corners: CornersName = "pinwheel"
    skin: Annotated[Length, Field(ge=0)] = 0.0
    folding: FoldingTable = FoldingTable()
    stack: StackTable = StackTable()
    curve: CurveTable = CurveTable()
    gluing: GluingTable = GluingTable()
    alike: Annotated[bool, Field(strict=True)] = False
    sheet: SheetStock | None = None
    stock: list[SheetStock] = []
    offcut: list[OffcutStock] = []
    least_offcut: tuple[Annotated[Length, Field(gt=0)], Annotated[Length, Field(gt=0)]] = (60.0, 200.0)
    process: dict[Process, Verdict] = {}
    cautions: list[str] = []
    glue: str = ""
    # Of one whose sheets have another thickness: the name of the material that it is of (see `thicknesses.py`).
    _kin: str = PrivateAttr("")

    @property
    def kin(self) -> str:
        """The material's name; of sheets of another thickness the name of the material they are of."""
        return self._kin or self.name

    @property
    def sizes(self) -> tuple[SheetStock, ...]:
        """Every size of sheet it is sold in, the usual one first."""
        return (*((self.sheet,) if self.sheet else ()), *self.stock)

    @model_validator(mode="after")
    def _has_sheets(self) -> MaterialFile:
        own = [s for s in self.sizes if s.thickness is None or s.thickness == self.real_thickness]
        if not own:
            raise ValueError("found no sheet of its own thickness; expected a [sheet] or a [[stock]] with a size")
        return self

    @model_validator(mode="after")
    def _offcuts_differ(self) -> MaterialFile:
        names = [offcut.name for offcut in self.offcut]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f'two offcuts called "{name}"; give each a name of its own')
        return self

    @model_validator(mode="after")
    def _sane(self) -> MaterialFile:
        if self.measured is not None and abs(self.measured - self.thickness) > self.measured_off * self.thickness:
            least, most = (self.thickness * (1 + sign * self.measured_off) for sign in (-1, 1))
            raise ValueError(
                f"found a measured thickness of {self.measured:g} mm on stock of {self.thickness:g} mm; expected "
                f"{least:g} to {most:g} mm (nominal less and plus {self.measured_off:.0%}, measured_off)"
            )
        if self.skin >= self.real_thickness:
            raise ValueError(f"found a skin of {self.skin:g} mm; expected less than the sheet's thickness")
        return self

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
    blade of blade_offset at turns of swivel_from degrees or more; overcut: past the start of a closed cut. lead_in:
    length of the arc in the waste that leads to an outline, 0 for none. perforate: layers that become dashes cut
    through, perforate_on long and about perforate_off apart, none nearer than perforate_edge to a line's ends.
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
    lead_in: Annotated[Length, Field(ge=0, le=10)] = 0.0
    perforate: list[Literal["SCORE", "CREASE"]] = []
    perforate_on: Annotated[Length, Field(ge=0.2, le=50)] = 2.0
    perforate_off: Annotated[Length, Field(ge=0.2, le=50)] = 1.0
    perforate_edge: Annotated[Length, Field(ge=0, le=20)] = 1.5


class LeastFeature(Table):
    """`[least_feature]`, `[good_feature]` of a machine: how narrow a strip or neck of a part may be; the largest rules.

    width: in any material; kerfs: so many times the kerf; thicknesses: so many times the sheet's thickness.
    """

    width: Annotated[Length, Field(ge=0)] = 0.0
    kerfs: Annotated[Number, Field(ge=0)] = 0.0
    thicknesses: Annotated[Number, Field(ge=0)] = 0.0


class WorkTable(Table):
    """`[work]` of a machine: seconds by hand. cut: to set up and make one; metre: along it; sheet: to lay and clear."""

    cut: Annotated[Number, Field(ge=0)] = 0.0
    metre: Annotated[Number, Field(ge=0)] = 0.0
    sheet: Annotated[Number, Field(ge=0)] = 120.0


class MachineFile(Table):
    """What cuts: its process, kerf (by material name, or the default), spacing and margins.

    kerf: the full width of the cut; kerf_y: what it measures along y, where that differs from what it measures along
    x. spacing: between the cut lines of two parts. margin: from the sheet's edge.
    cuts: "edge to edge": each cut runs right across, as a fence or a ruler guides it: parts lie one kerf apart, the
    margin is trimmed off. fence_zero: what a piece measures more than the fence's scale says; merge_settings: sizes
    that differ by less are cut on one setting.
    size_error: of a finished tile, each way; the joint play must be at least this. least_feature: parts with anything
    narrower are refused; good_feature: they are named. stack_height: of strips that are cross-cut at one go, 0: one by
    one.
    """

    name: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[a-z0-9-]+$")]
    title: str
    process: Process
    kerf: KerfWidth
    kerf_y: KerfWidth | None = None
    kerf_by_material: dict[str, Annotated[tuple[float, float], BeforeValidator(_kerf_pair)]] = {}
    spacing: Annotated[Length, Field(ge=0)]
    margin: Annotated[Length, Field(ge=0)]
    cuts: Literal["edge to edge", "free"] = "free"
    fence_zero: Annotated[Length, Field(ge=-20, le=20)] = 0.0
    merge_settings: Annotated[Length, Field(ge=0, le=5)] = 0.0
    size_error: Annotated[Length, Field(ge=0)]
    cautions: list[str] = []
    paths: PathRules = PathRules()
    least_feature: LeastFeature = LeastFeature()
    good_feature: LeastFeature = LeastFeature()
    stack_height: Annotated[Length, Field(ge=0, le=300)] = 0.0
    work: WorkTable = WorkTable()

    def kerf_pair(self, material: MaterialFile) -> tuple[float, float]:
        """The full width of the cut in a material along x and along y, mm."""
        usual = (self.kerf, self.kerf if self.kerf_y is None else self.kerf_y)
        return self.kerf_by_material.get(material.name, self.kerf_by_material.get(material.kin, usual))

    def kerf_in(self, material: MaterialFile) -> float:
        """The full width of the cut in a material, mm; the wider one where x and y differ."""
        return max(self.kerf_pair(material))


def plain(value: object) -> Any:  # noqa: ANN401
    """A short text of a value found in a file."""
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "..."
