"""What a material file may hold: stock, what may cut it, and how tiles are built of it."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, PrivateAttr, model_validator

from tilegen.reading.fields import Length, Title
from tilegen.reading.models import Number, Table

Process = Literal["laser", "hot-wire", "drag-knife", "hand-knife"]
Family = Literal[
    "xps", "eps", "foam-core", "eva", "card", "greyboard", "mdf", "plywood", "cork", "pvc", "other"
]  # fmt: skip
ConstructionName = Literal["stacked", "folded", "grooved"]
CornersName = Literal["butt", "pinwheel", "mitre", "rabbet"]


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
    """`[folding]` of a material. hinge: its depth under the outer face, as a share of the sheet (of a groove's skin).

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

    thicknesses: as measured, of other sheets of the same material that base layers may be made of. inset: how far
    the layers below the top one stand back all round (0.2 to 0.3 keeps glue off the edge that meets the next tile).
    dowel: diameter of two dowels that line up a stack of three layers or more; 0 for none.
    """

    shim: Annotated[Length, Field(gt=0)] = 0.3
    inset: Annotated[Length, Field(ge=0, le=2)] = 0.0
    dowel: Annotated[Length, Field(ge=0, le=10)] = 0.0
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
    title: Title
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
    def groove_skin(self) -> float:
        """What a V-groove leaves to bend, mm; 0 where the whole sheet bends at a crease."""
        return 0.0 if self.construction == "folded" else self.skin

    @property
    def real_thickness(self) -> float:
        """Of one sheet in mm: as measured, or the nominal one where nobody has measured yet."""
        return self.thickness if self.measured is None else self.measured
