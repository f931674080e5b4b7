"""From outlines to the paths of one machine: shared lines, order, tabs and what else the `[paths]` of its file ask for.

Gang cuts: edges of many parts in one line, cut along one placement of the ruler from tick to tick.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
import shapely

from tilegen.errors import InputError
from tilegen.lengths import rounded_up, show_length, show_number
from tilegen.messages import Message
from tilegen.model.machines import MachineFile
from tilegen.model.words import Process
from tilegen.sheets.drawing import CUTS, SheetDrawing, Stroke
from tilegen.sheets.toolpaths.order import in_cutting_order
from tilegen.sheets.toolpaths.outlines import for_a_blade, perforated, with_common_lines, with_leads, with_tabs
from tilegen.sheets.toolpaths.wire import as_one_line

TICK_MM = 4.0
# Edges nearer than this lie under one ruler.
_SAME_MM = 0.02
_INSIDE_MM = 0.01

Interval = tuple[float, float]


class CutProcess(NamedTuple):
    """What a cutting process asks of drawings and lists.

    straight: its marks are straight lines, drawn along a ruler. slits: it gets into a hole only from the edge. fence:
    it runs along a fence, whose scale test cuts correct. blades: they wear, so that there must be new ones.
    """

    straight: bool = False
    slits: bool = False
    fence: bool = False
    blades: bool = False


CUT_PROCESSES: Mapping[Process, CutProcess] = {
    "laser": CutProcess(),
    # Foam is scored by hand after the wire.
    "hot-wire": CutProcess(straight=True, slits=True, fence=True),
    "drag-knife": CutProcess(blades=True),
    "hand-knife": CutProcess(straight=True, blades=True),
}


def paths_of(drawing: SheetDrawing, machine: MachineFile) -> SheetDrawing:
    """The drawing as the machine is to cut it, by the `[paths]` of its file."""
    rules = machine.paths
    # Ticks are for the ruler that follows outlines: they are read off before these are taken apart.
    made = with_ticks(drawing) if rules.gang_cuts else drawing
    if not rules.arcs:
        made = replace(made, strokes=tuple(replace(s, arcs=()) for s in made.strokes))
    if rules.common_lines:
        made = with_common_lines(made)
    if rules.perforate:
        made = perforated(made, rules)
    if rules.shape == "one line":
        return in_cutting_order(as_one_line(made))
    made = in_cutting_order(made)
    if rules.tab_width:
        made = with_tabs(made, rules)
    if rules.lead_in:
        made = with_leads(made, rules)
    return for_a_blade(made, rules) if rules.swivel else made


def for_the_hand(drawing: SheetDrawing, machine: MachineFile) -> SheetDrawing:
    """The drawing of the finished parts for who cuts along the line."""
    return with_ticks(drawing) if machine.paths.gang_cuts else drawing


def check_paths(machine: MachineFile, kerf: tuple[float, float]) -> None:
    """Refuse settings that exclude each other.

    Raises:
        InputError: says which.
    """
    rules = machine.paths
    one_line, place = rules.shape == "one line", f"machine {machine.name}, [paths]"
    if rules.common_lines and kerf[0] != kerf[1]:
        raise InputError(
            f"common_lines needs one kerf for both ways, and this is {show_number(kerf[0])} x {show_length(kerf[1])}",
            cure="Use common_lines = false",
            place=place,
        )
    # Between two parts the turns of a trailing blade reach into the waste from either side.
    least = max(kerf) + rules.least_web + (2 * rules.blade_offset if rules.swivel else 0.0)
    if not (one_line or rules.common_lines) and machine.spacing < least - 1e-9:
        raise InputError(
            f"with a kerf of {show_length(max(kerf))} a spacing of {show_length(machine.spacing)} leaves too little "
            "between parts",
            cure=f'Use spacing = "{show_length(rounded_up(least))}" or more, or common_lines = true',
            place=place,
        )
    reach = _reach(machine, kerf)
    if machine.margin < reach - 1e-9:
        raise InputError(
            f"the margin of {show_length(machine.margin)} is too narrow: cuts reach {show_length(rounded_up(reach))} "
            "beyond the parts",
            cure=f'Use margin = "{show_length(rounded_up(reach))}"',
            place=f"machine {machine.name}",
        )
    clashes = [name for name in ("tab_width", "swivel", "common_lines", "lead_in") if getattr(rules, name)]
    if (one_line and clashes) or len(clashes) > 1:
        names = [*(['shape = "one line"'] if one_line else []), *clashes]
        raise InputError(f"{' and '.join(names)} can't be used together", cure="Delete all but one", place=place)


def _reach(machine: MachineFile, kerf: tuple[float, float]) -> float:
    """How far outside of the parts along the sheet's edge the paths of a machine go, or what must stay there, mm."""
    rules = machine.paths
    trim = max(kerf) / 2 if machine.cuts == "edge to edge" else 0.0
    blade = rules.blade_offset if rules.swivel else 0.0
    rim = rules.least_web if rules.lead_in or rules.tab_width else 0.0
    return max(trim, blade, rim)


def path_notes(machine: MachineFile) -> Iterator[Message]:
    """What the builder must know about a machine's paths."""
    rules = machine.paths
    if rules.swivel:
        offset = f"The paths already allow for a blade that trails by {rules.blade_offset:g} mm."
        yield Message("note", f"{offset} Switch blade offset off in the machine's program, or it is done twice.")
    if rules.tab_width:
        tabs = f"Tabs {rules.tab_width:g} mm wide hold the parts in the sheet."
        yield Message(
            "note", f"{tabs} Cut or break them; each lies in a notch {rules.tab_recess:g} mm deep, so stubs may stay."
        )
    if rules.lead_in:
        arc = f"Each cut begins on an arc of {rules.lead_in:g} mm in the waste."
        yield Message("note", f"{arc} Let the machine's program add no lead-in of its own.")
    if rules.perforate:
        layers = " and ".join(rules.perforate)
        yield Message("note", f"{layers}: perforations. Cut these layers through, then tear or fold along the dashes.")
    if rules.common_lines:
        loose = "Neighbouring parts share their cuts, so parts come loose early and the sheet gets weak."
        yield Message("note", f"{loose} Hold it down.")


@dataclass(frozen=True, slots=True)
class Ruler:
    """One placement of the ruler. along: the axis it lies along; at: where on the other axis, mm.

    strokes: from where to where the knife goes; between two strokes it is lifted, since a part lies there. edges: of
    parts that lie on the line.
    """

    along: Literal["x", "y"]
    at: float
    strokes: tuple[Interval, ...]
    edges: int


def rulers(drawing: SheetDrawing) -> tuple[Ruler, ...]:
    """Every straight cut along an axis, as few placements of the ruler as there are lines."""
    cuts = [s for s in drawing.strokes if s.layer in CUTS and s.closed]
    outer = np.array([shapely.Polygon(s.points) for s in cuts if s.layer == "CUT_OUTER"], dtype=object)
    tree = shapely.STRtree(shapely.buffer(outer, -_INSIDE_MM, join_style="mitre"))
    return tuple(
        Ruler("x" if axis else "y", at, tuple(_strokes(edges, at, axis, tree)), len(edges))
        for axis in (0, 1)
        for at, edges in _lines(cuts, axis)
    )


def with_ticks(drawing: SheetDrawing) -> SheetDrawing:
    """The drawing with two ticks for each placement of the ruler, on opposite edges of the sheet."""
    width, height = drawing.size
    ticks: list[Stroke] = []
    for ruler in rulers(drawing):
        far = height if ruler.along == "y" else width
        for ends in ((0.0, TICK_MM), (far - TICK_MM, far)):
            points = [(ruler.at, end) if ruler.along == "y" else (end, ruler.at) for end in ends]
            ticks.append(Stroke("GUIDE", np.array(points), opened=True))
    return replace(drawing, strokes=(*drawing.strokes, *ticks))


def _lines(cuts: Sequence[Stroke], axis: int) -> Iterator[tuple[float, list[Interval]]]:
    """Where cuts run across an axis, with their stretches along the other one."""
    at: dict[int, list[tuple[float, float, float]]] = defaultdict(list)
    for stroke in cuts:
        ends = np.roll(stroke.points, -1, axis=0)
        straight = np.abs(stroke.points[:, axis] - ends[:, axis]) < _SAME_MM / 2
        for a, b in zip(stroke.points[straight], ends[straight], strict=True):
            low, high = sorted((float(a[1 - axis]), float(b[1 - axis])))
            if high - low > _SAME_MM:
                at[round(float(a[axis]) / _SAME_MM)].append((float(a[axis]), low, high))
    keys = sorted(at)
    for place, key in enumerate(keys):
        # Two neighbours of one step may hold one line that lies between them.
        if place and key - keys[place - 1] == 1 and keys[place - 1] in at:
            at[key] += at.pop(keys[place - 1])
    for key in sorted(at):
        yield float(np.mean([where for where, _, _ in at[key]])), sorted((low, high) for _, low, high in at[key])


def _strokes(edges: Sequence[Interval], at: float, axis: int, parts: shapely.STRtree) -> Iterator[Interval]:
    """Stretches joined through waste, parted where a part lies between."""
    start, end = edges[0]
    for low, high in edges[1:]:
        if low > end + _SAME_MM:
            gap = [(at, end), (at, low)] if axis == 0 else [(end, at), (low, at)]
            if parts.query(shapely.LineString(gap), predicate="intersects").size:
                yield start, end
                start = low
        end = max(end, high)
    yield start, end
