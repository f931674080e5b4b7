"""What a machine file may hold: its process, kerf, spacing, and how its tool goes along the lines."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from tilegen.model.keys import Key
from tilegen.model.materials import MaterialFile
from tilegen.model.tables import (
    Above,
    FileName,
    Length,
    NotBelow,
    Number,
    Table,
    Title,
    Unsigned,
    YesNo,
    read_length,
    wrong,
)
from tilegen.model.words import Process


def _kerf_pair(value: object) -> tuple[float, float]:
    """A width, or a list of two: along x and along y."""
    values = value if isinstance(value, list | tuple) else [value, value]
    if len(values) != 2:
        raise wrong(f"a kerf is one width or two, not {len(values)}", "Give one, or two: along x and along y")
    x, y = (read_length(v) for v in values)
    if not (0 <= x <= WIDEST_KERF and 0 <= y <= WIDEST_KERF):
        raise wrong("this kerf is out of range", f"Use 0 to {WIDEST_KERF:g} mm")
    return x, y


WIDEST_KERF = 10.0
KerfWidth = Annotated[Length, Field(ge=0, le=WIDEST_KERF)]


class PathRules(Table):
    """`[paths]` of a machine: how the tool goes along the outlines. Every number is a default to override."""

    shape: Annotated[
        Literal["outlines", "one line"],
        Key("Whether the tool follows each outline by itself, or one line through all of them (hot wire)."),
    ] = "outlines"
    arcs: Annotated[YesNo, Key("Whether round edges are written as arcs, else as short segments.")] = True
    least_web: Annotated[NotBelow, Key("The least web between two cuts.")] = 0.5
    tab_width: Annotated[
        Length,
        Field(ge=0, le=10),
        Key(
            "The width of the tabs that hold parts in the sheet: 0.2 to 0.25 mm in card, 0.3 to 0.5 mm in MDF (common "
            "practice, no source); 0 for none."
        ),
    ] = 0.0
    tab_every: Annotated[Length, Field(ge=10), Key("The length of outline per tab.")] = 150.0
    tab_corner: Annotated[NotBelow, Key("How far tabs stay from corners.")] = 5.0
    tab_recess: Annotated[
        Length, Field(ge=0, le=2), Key("The depth of the notch that hides what is left of a broken tab.")
    ] = 0.3
    tab_notch: Annotated[Above, Key("The length of the notch that hides what is left of a broken tab.")] = 3.0
    common_lines: Annotated[YesNo, Key("Whether neighbouring parts lie one kerf apart and share a cut.")] = False
    swivel: Annotated[YesNo, Key("Whether corners get arcs on which a trailing blade turns.")] = False
    blade_offset: Annotated[Length, Field(gt=0, le=5), Key("How far a trailing blade's tip lies behind its axis.")] = (
        0.25
    )
    swivel_from: Annotated[
        Number, Field(gt=0, le=90), Key("The least turn, in degrees, at which a trailing blade gets an arc.")
    ] = 20.0
    overcut: Annotated[Length, Field(ge=0, le=10), Key("How far a closed cut goes on past its start.")] = 0.0
    lead_in: Annotated[
        Length, Field(ge=0, le=10), Key("The length of the arc in the waste that leads to an outline; 0 for none.")
    ] = 0.0
    perforate: Annotated[list[Literal["SCORE", "CREASE"]], Key("Which layers become dashes that are cut through.")] = []
    perforate_on: Annotated[Length, Field(ge=0.2, le=50), Key("The length of a dash.")] = 2.0
    perforate_off: Annotated[Length, Field(ge=0.2, le=50), Key("What is left between two dashes.")] = 1.0
    perforate_edge: Annotated[
        Length, Field(ge=0, le=20), Key("How far dashes stay from the ends of a line, so that it does not tear.")
    ] = 1.5

    @property
    def one_line(self) -> bool:
        """Whether one line runs through all outlines of a sheet."""
        return self.shape == "one line"


class LeastFeature(Table):
    """`[least_feature]`, `[good_feature]` of a machine: how narrow a strip or neck may be; the largest key decides."""

    width: Annotated[NotBelow, Key("The least width in any material.")] = 0.0
    kerfs: Annotated[Unsigned, Key("The least width as a multiple of the kerf.")] = 0.0
    thicknesses: Annotated[Unsigned, Key("The least width as a multiple of the sheet's thickness.")] = 0.0


class WorkTable(Table):
    """`[work]` of a machine: what it takes by hand."""

    cut: Annotated[Unsigned, Key("The work of setting up and making one cut, in seconds.")] = 0.0
    metre: Annotated[Unsigned, Key("The work of cutting one metre, in seconds.")] = 0.0
    sheet: Annotated[Unsigned, Key("The work of laying in and clearing one sheet, in seconds.")] = 120.0


class MachineFile(Table):
    """What cuts: its process, kerf (by material name, or the default), spacing and margins.

    Where cuts run from edge to edge, parts lie one kerf apart and the margin is trimmed off.
    """

    name: Annotated[FileName, Key("What the command line calls it: small letters, digits and hyphens.")]
    title: Annotated[Title, Key("What people read: in lists, on sheets and in reports.")]
    process: Annotated[Process, Key("Which process it is; material files say which may cut them.")]
    kerf: Annotated[KerfWidth, Key("The full width of the cut; along x, where kerf_y is given too.")]
    kerf_y: Annotated[
        KerfWidth | None, Key("The full width of the cut along y, where that differs from the one along x.")
    ] = None
    kerf_by_material: Annotated[
        dict[str, Annotated[tuple[float, float], BeforeValidator(_kerf_pair)]],
        Key("The full width of the cut by the material's name: one, or two along x and y."),
    ] = {}
    spacing: Annotated[NotBelow, Key("The least distance between the cut lines of two parts.")]
    margin: Annotated[
        NotBelow, Key("The strip along the sheet's edges that stays free: 3 to 5 mm (common practice, no source).")
    ]
    work_area: Annotated[
        tuple[Above, Above] | None,
        Key(
            "The largest piece that the machine takes, its two sides: larger sheets are cut down first; any if absent."
        ),
    ] = None
    cuts: Annotated[
        Literal["edge to edge", "free"],
        Key("Whether each cut runs right across, as a fence or a ruler guides it, or follows any line."),
    ] = "free"
    guide: Annotated[
        Literal["fence", "ruler"],
        Key("What guides a cut that runs right across: a fence set to each size, or a ruler laid on marks."),
    ] = "fence"
    fence_zero: Annotated[
        Length, Field(ge=-20, le=20), Key("How much more a piece measures than the fence's scale says.")
    ] = 0.0
    merge_settings: Annotated[
        Length, Field(ge=0, le=5), Key("Sizes that differ by less than this are cut on one setting of the fence.")
    ] = 0.0
    size_error: Annotated[
        NotBelow, Key("How far a finished tile may be off its size, each way; the joint play must be at least this.")
    ]
    cautions: Annotated[list[str], Key("The cautions for the machine, each a sentence; the report shows them.")] = []
    paths: Annotated[PathRules, Key("How the tool goes along the lines.")] = PathRules()
    least_feature: Annotated[
        LeastFeature, Key("How narrow a strip or neck may be: parts with a narrower one are refused.")
    ] = LeastFeature()
    good_feature: Annotated[LeastFeature, Key("How narrow a strip or neck may be without a note.")] = LeastFeature()
    stack_height: Annotated[
        Length,
        Field(ge=0, le=300),
        Key("The height of a stack of strips that are cross-cut at one go; 0 for one by one."),
    ] = 0.0
    work: Annotated[WorkTable, Key("What it takes by hand.")] = WorkTable()

    @property
    def edge_to_edge(self) -> bool:
        """Whether every cut runs right across."""
        return self.cuts == "edge to edge"

    def kerf_pair(self, material: MaterialFile) -> tuple[float, float]:
        """The full width of the cut in a material along x and along y, mm."""
        usual = (self.kerf, self.kerf if self.kerf_y is None else self.kerf_y)
        return self.kerf_by_material.get(material.name, self.kerf_by_material.get(material.kin, usual))

    def kerf_in(self, material: MaterialFile) -> float:
        """The full width of the cut in a material, mm; the wider one where x and y differ."""
        return max(self.kerf_pair(material))
