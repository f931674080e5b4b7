"""What a machine file may hold: its process, kerf, spacing, and how its tool goes along the lines."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from tilegen.reading.fields import Length, Title, read_length
from tilegen.reading.material_models import MaterialFile, Process
from tilegen.reading.models import Number, Table


def _kerf_pair(value: object) -> tuple[float, float]:
    """A width, or a list of two: along x and along y."""
    values = value if isinstance(value, list | tuple) else [value, value]
    if len(values) != 2:
        raise ValueError("a length, or two of them: along x and along y")
    x, y = (read_length(v) for v in values)
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
    title: Title
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
