"""What a material file may hold: stock, what may cut it, and how tiles are built of it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from pydantic import Field, PrivateAttr, model_validator

from tilegen.model.keys import Key
from tilegen.model.tables import (
    Above,
    Count,
    FileName,
    Length,
    NotBelow,
    Number,
    Positive,
    Share,
    Table,
    Title,
    Unsigned,
    YesNo,
    wrong,
)
from tilegen.model.words import ConstructionName, CornersName, Family, Paper, Process, StockRole

# What a slot may be narrower or wider than the sheet that goes into it, mm.
LEAST_FIT, MOST_FIT = -0.5, 1.0


class SheetStock(Table):
    """One size of sheet that a material is sold in."""

    size: Annotated[tuple[Above, Above], Key("The two sides of one sheet.")]
    count: Annotated[Count | None, Key("How many sheets are on hand; without it there is no limit.")] = None
    price: Annotated[Unsigned | None, Key("The price of one sheet, in your own currency.")] = None
    thickness: Annotated[
        Above | None, Key("The measured thickness of these sheets, where it is not the material's own (see [stack]).")
    ] = None


class OffcutStock(Table):
    """`[[offcut]]`: a rectangle left from earlier work."""

    name: Annotated[
        str,
        Field(min_length=1, max_length=40, pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._-]*$"),
        Key("What is written on the offcut."),
    ]
    size: Annotated[tuple[Above, Above], Key("The sides of the rectangle.")]
    thickness: Annotated[Above | None, Key("The thickness of the offcut, where it is not the material's own.")] = None


class Verdict(Table):
    """`[process.NAME]` of a material: whether that process may cut it."""

    verdict: Annotated[
        Literal["allow", "ask", "block"],
        Key("Whether this process may cut the material; ask: only if the user names the caution."),
    ]
    up_to: Annotated[Above | None, Key("The greatest thickness that the verdict holds for.")] = None
    beyond: Annotated[Literal["ask", "block"] | None, Key("The verdict for sheets that are thicker than up_to.")] = None
    caution: Annotated[
        str, Field(max_length=60, pattern=r"^[^,]*$"), Key("The words by which the user accepts an ask, with --accept.")
    ] = ""
    why: Annotated[str, Key("The reason for an ask or a block.")] = ""
    instead: Annotated[str, Key("What to use in place of this process.")] = ""
    least_feature: Annotated[
        NotBelow | None,
        Key("The narrowest strip or neck that this process makes here, in place of the machine's own figure."),
    ] = None
    strokes: Annotated[int, Field(strict=True, ge=1, le=50), Key("How many strokes of the blade one cut takes.")] = 1
    cautions: Annotated[list[str], Key("The cautions for this process in this material, each a sentence.")] = []

    @model_validator(mode="after")
    def _whole(self) -> Verdict:
        said = {self.verdict, self.beyond}
        if (self.up_to is None) != (self.beyond is None):
            raise wrong(
                "only one of up_to and beyond is given",
                "Give neither, or both: up_to is the thickest sheet for verdict, "
                "and beyond is the verdict for thicker ones",
            )
        if "ask" in said and not (self.caution and self.why):
            raise wrong(
                '"ask" needs a reason, and words by which you accept it',
                'Add why = "..." (the reason) and caution = "..." (the words for --accept)',
            )
        if "block" in said and not (self.why and self.instead):
            raise wrong(
                '"block" needs a reason',
                'Add why = "..." (the reason) and instead = "..." (what to use in its place)',
            )
        return self


class FoldingTable(Table):
    """`[folding]` of a material: creased card and grooved board."""

    hinge: Annotated[
        Share,
        Key("How deep under its outer face a fold turns, as a share of the sheet's thickness, or of a groove's skin."),
    ] = 0.5
    rule: Annotated[NotBelow, Key("The width of the creasing rule.")] = 0.7
    gap: Annotated[NotBelow, Key("The gap that glue takes up between card and its core.")] = 0.1
    tab: Annotated[Above, Key("The width of a glue tab.")] = 6.0
    tab_angle: Annotated[Number, Field(ge=30, le=60), Key("The angle at the ends of a glue tab, in degrees.")] = 43.0
    tuck: Annotated[
        NotBelow, Key("How much shorter the last panel of a box is than the first, so that it tucks in.")
    ] = 0.3
    longest: Annotated[Above, Key("The longest run of grooved board in one piece.")] = 450.0
    turn_under: Annotated[NotBelow, Key("The width of the strip that folds in under a tile.")] = 10.0


class GluingTable(Table):
    """`[gluing]` of a material: what glue and time its joints take."""

    face: Annotated[Unsigned, Key("How much glue a face takes, in grams per square metre.")] = 175.0
    bead: Annotated[Unsigned, Key("How much glue a bead takes, in grams per metre.")] = 4.0
    joint: Annotated[Unsigned, Key("The work of making one joint, in seconds.")] = 60.0
    drying: Annotated[Unsigned, Key("How long glue dries until a tile can be handled, in hours.")] = 24.0


class StackTable(Table):
    """`[stack]` of a material: layers of it, one on the other."""

    shim: Annotated[Above, Key("The thickness of the card that makes up what a stack lacks.")] = 0.3
    inset: Annotated[
        Length,
        Field(ge=0, le=2),
        Key("How far layers below the floor stand back all round; 0.2 to 0.3 mm keeps glue off the seams."),
    ] = 0.0
    dowel: Annotated[
        Length,
        Field(ge=0, le=10),
        Key("The diameter of two dowels that line up a stack of three layers or more; 0 for none."),
    ] = 0.0
    spread: Annotated[NotBelow, Key("How far the thickness of two sheets of one kind may differ.")] = 0.0
    step: Annotated[NotBelow, Key("The step between two floors that nobody minds.")] = 0.3
    thicknesses: Annotated[
        list[Above],
        Key("The measured thicknesses of other sheets of this material that layers of a base may be made of."),
    ] = []


class CurveTable(Table):
    """`[curve]` of a material: how a strip of it goes round a curved wall."""

    way: Annotated[
        Literal["bent", "scored", "slotted", "facets"] | None,
        Key(
            "How a strip follows a curve: bent as it is, scored, slotted or put together from facets; without it, as "
            "is usual for its family."
        ),
    ] = None
    neutral: Annotated[
        Share, Key("The depth of the line that keeps its length, as a share of the thickness from the outer face.")
    ] = 0.5
    flatness: Annotated[Length, Field(gt=0, le=5), Key("How far flats may leave the curve.")] = 0.25
    slot: Annotated[Length, Field(gt=0, le=10), Key("The width of a slot.")] = 1.0
    skin: Annotated[Above, Key("How thick a slot leaves the far face.")] = 0.8


class MaterialFile(Table):
    """Stock to cut tiles from. Every number is a default that the user's own measurement overrides."""

    name: Annotated[FileName, Key("What the command line calls it: small letters, digits and hyphens.")]
    title: Annotated[Title, Key("What people read: in lists, on sheets and in reports.")]
    family: Annotated[Family, Key("What the material is: it decides which cautions, bends and joints are usual.")] = (
        "other"
    )
    thickness: Annotated[Above, Key("The thickness of one sheet as it is sold: what the shop calls it.")]
    measured: Annotated[
        Length | None,
        Key("The thickness of a sheet that you measured, the mean of several places; it replaces `thickness`."),
    ] = None
    measured_off: Annotated[
        Number,
        Field(gt=0, le=1),
        Key("A reading that is off `thickness` by more than this share of it is taken for a slip."),
    ] = 0.5
    slot_fit: Annotated[
        Length,
        Field(ge=LEAST_FIT, le=MOST_FIT),
        Key("How much wider than the sheet a slot is that takes its edge; less than 0 for a press fit."),
    ] = 0.1
    glue_line: Annotated[NotBelow, Key("How thick the glue is in a joint between two layers.")] = 0.0
    least_lintel: Annotated[NotBelow, Key("The lowest strip over a doorway that holds.")]
    least_strip: Annotated[NotBelow, Key("The narrowest strip that survives handling.")]
    slender: Annotated[
        Positive, Key("The wall height, as a multiple of its thickness, above which a wall needs a brace.")
    ] = 8.0
    grain: Annotated[
        YesNo,
        Key("Whether the sheet has a grain, along the first of its sides: parts lie lengthwise along it."),
    ] = False
    adhesive_backed: Annotated[YesNo, Key("Whether the sheet is self-adhesive: such sheets never go into a laser.")] = (
        False
    )
    construction: Annotated[ConstructionName, Key("How tiles are built of it, unless the user says otherwise.")] = (
        "stacked"
    )
    corners: Annotated[CornersName, Key("How its walls meet at a corner, unless the user says otherwise.")] = "pinwheel"
    skin: Annotated[NotBelow, Key("How thick a groove or a rabbet leaves the far face.")] = 0.0
    folding: Annotated[FoldingTable, Key("How it folds: creases, grooves and glue tabs.")] = FoldingTable()
    stack: Annotated[StackTable, Key("How layers of it are stacked.")] = StackTable()
    curve: Annotated[CurveTable, Key("How a strip of it goes round a curved wall.")] = CurveTable()
    gluing: Annotated[GluingTable, Key("What glue and time its joints take.")] = GluingTable()
    alike: Annotated[YesNo, Key("Whether all pieces of a part lie the same way on a sheet.")] = False
    sheet: Annotated[
        SheetStock | None, Key("The usual size of a sheet; may be left out where there is a [[stock]].")
    ] = None
    stock: Annotated[list[SheetStock], Key("Further sizes of sheets, or all of them, with the keys of [sheet].")] = []
    offcut: Annotated[
        list[OffcutStock], Key("Rectangles left from earlier work: they are cut up before any sheet.")
    ] = []
    least_offcut: Annotated[
        tuple[Above, Above], Key("The shorter and the longer side of an offcut that is worth keeping.")
    ] = (60.0, 200.0)
    process: Annotated[
        dict[Process, Verdict], Key("Which process may cut it: laser, hot-wire, drag-knife or hand-knife.")
    ] = {}
    cautions: Annotated[list[str], Key("The cautions for the material, each a sentence; the report shows them.")] = []
    glue: Annotated[str, Key("Which glue suits it, in words.")] = ""
    # Of one whose sheets have another thickness: the name of the material that it is of (see `of_thickness`).
    _kin: str = PrivateAttr("")
    # Of one that is printed on (see `as_pages`): the paper.
    _printed: Paper | None = PrivateAttr(None)

    @property
    def kin(self) -> str:
        """The material's name; of sheets of another thickness the name of the material they are of."""
        return self._kin or self.name

    @property
    def printed(self) -> Paper | None:
        """The paper whose pages its sheets are, where a printer draws the parts on them."""
        return self._printed

    @property
    def sizes(self) -> tuple[SheetStock, ...]:
        """Every size of sheet it is sold in, the usual one first."""
        return (*((self.sheet,) if self.sheet else ()), *self.stock)

    @model_validator(mode="after")
    def _has_sheets(self) -> MaterialFile:
        own = [s for s in self.sizes if s.thickness is None or s.thickness == self.real_thickness]
        if not own:
            raise wrong("the material has no sheet of its own thickness", "Add a [sheet] or a [[stock]] with a size")
        return self

    @model_validator(mode="after")
    def _offcuts_differ(self) -> MaterialFile:
        names = [offcut.name for offcut in self.offcut]
        for name in names:
            if names.count(name) > 1:
                raise wrong(f'there are two offcuts called "{name}"', "Give each a name of its own")
        return self

    @model_validator(mode="after")
    def _sane(self) -> MaterialFile:
        if self.measured is not None and abs(self.measured - self.thickness) > self.measured_off * self.thickness:
            least, most = (self.thickness * (1 + sign * self.measured_off) for sign in (-1, 1))
            raise wrong(
                f"a sheet sold as {self.thickness:g} mm can't measure {self.measured:g} mm",
                f"Measure again ({least:g} to {most:g} mm is possible), or correct thickness",
            )
        if self.skin >= self.real_thickness:
            raise wrong(
                f"the sheet is too thin for a skin of {self.skin:g} mm under a groove",
                f"Use a skin of less than {self.real_thickness:g} mm",
            )
        return self

    @property
    def groove_skin(self) -> float:
        """What a V-groove leaves to bend, mm; 0 where the whole sheet bends at a crease."""
        return 0.0 if self.construction == "folded" else self.skin

    @property
    def called(self) -> str:
        """Its title without the thickness that may follow it."""
        return self.title.partition(",")[0]

    @property
    def real_thickness(self) -> float:
        """Of one sheet in mm: as measured, or as sold where nobody has measured yet."""
        return self.thickness if self.measured is None else self.measured


# What a kit is cut from, and for which of its parts.
ROLES: Mapping[StockRole, str] = {"base": "bases", "walls": "walls and posts", "skin": "faces of walls"}


@dataclass(frozen=True)
class Stock:
    """What one kit is cut from: a material for each role; of a kit from one material both are the same.

    skin: what is glued on both faces of walls.
    """

    base: MaterialFile
    walls: MaterialFile
    skin: MaterialFile | None = None

    @classmethod
    def of(cls, given: MaterialFile | Stock) -> Stock:
        """One material for all roles; a stock stays as it is."""
        return given if isinstance(given, Stock) else cls(given, given)

    @property
    def by_role(self) -> dict[StockRole, MaterialFile]:
        """The materials by what they are for."""
        found: dict[StockRole, MaterialFile] = {"base": self.base, "walls": self.walls}
        return found | ({"skin": self.skin} if self.skin else {})

    @property
    def plain(self) -> bool:
        """Whether all of it is one material."""
        return len(self.materials) == 1

    @property
    def materials(self) -> tuple[MaterialFile, ...]:
        """Each once, the base's first."""
        return tuple({m.name: m for m in self.by_role.values()}.values())

    @property
    def word(self) -> str:
        """How it is asked for, by names."""
        if self.plain:
            return self.base.name
        return ", ".join(f"{role} = {material.name}" for role, material in self.by_role.items())

    def roles_of(self, material: MaterialFile) -> tuple[StockRole, ...]:
        """What a material is for."""
        return tuple(role for role, of_it in self.by_role.items() if of_it.name == material.name)

    def purpose(self, material: MaterialFile) -> str:
        """What a material is for, in words; nothing where it is for everything."""
        return "" if self.plain else " and ".join(ROLES[role] for role in self.roles_of(material))


_SAME_MM = 1e-9


def of_thickness(material: MaterialFile, thickness: float) -> MaterialFile:
    """The material with the sheets and offcuts of one thickness only, in mm.

    Of another thickness than its own it is named and titled by that. Its sizes are then those of the stock with that
    thickness or, if none is listed, the usual one without limit or price.
    """
    sizes = [s for s in material.sizes if _same(s.thickness, thickness, material)]
    offcuts = [o for o in material.offcut if _same(o.thickness, thickness, material)]
    stock: dict[str, object] = {"sheet": None, "stock": sizes, "offcut": offcuts}
    if _same(None, thickness, material):
        return material.model_copy(update=stock)
    if not sizes:
        stock["stock"] = [SheetStock(size=material.sizes[0].size)]
    words = re.sub(r",?\s*[\d.]+ ?mm$", "", material.title)
    named = {
        "name": f"{material.name}-{thickness:g}mm".replace(".", "-"),
        "title": f"{words}, {thickness:g} mm",
        "thickness": thickness,
        "measured": None,
    }
    other = material.model_copy(update={**stock, **named})
    other._kin = material.name
    return other


# What a home printer takes (common practice, no source), and the edge of a page that it leaves blank (the same).
THICKEST_PRINTED_MM = 0.3
BLANK_EDGE_MM = 5.0


def as_pages(material: MaterialFile, paper: Paper, size: tuple[float, float]) -> MaterialFile:
    """The material in pages of a paper, of that size in mm, and in nothing else."""
    pages = material.model_copy(update={"sheet": SheetStock(size=size), "stock": [], "offcut": []})
    pages._printed = paper
    return pages


def _same(said: float | None, thickness: float, material: MaterialFile) -> bool:
    """Whether stock of the thickness said, or of the usual one, is as thick as that."""
    return abs((material.real_thickness if said is None else said) - thickness) < _SAME_MM
