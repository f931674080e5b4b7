"""From outlines to the paths of one machine: shared lines, order, tabs and what else `[paths]` of its file asks for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import NamedTuple

from tilegen.errors import InputError
from tilegen.lengths import rounded_up, show_length, show_number
from tilegen.messages import Message
from tilegen.model.machines import MachineFile
from tilegen.model.words import Process
from tilegen.sheets.drawing import SheetDrawing
from tilegen.sheets.toolpaths.order import in_cutting_order
from tilegen.sheets.toolpaths.outlines import for_a_blade, perforated, with_common_lines, with_leads, with_tabs
from tilegen.sheets.toolpaths.wire import as_one_line


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
    made = drawing
    if not rules.arcs:
        made = replace(made, strokes=tuple(replace(s, arcs=()) for s in made.strokes))
    if rules.common_lines:
        made = with_common_lines(made)
    if rules.perforate:
        made = perforated(made, rules)
    if rules.one_line:
        return in_cutting_order(as_one_line(made))
    made = in_cutting_order(made)
    if rules.tab_width:
        made = with_tabs(made, rules)
    if rules.lead_in:
        made = with_leads(made, rules)
    return for_a_blade(made, rules) if rules.swivel else made


def check_paths(machine: MachineFile, kerf: tuple[float, float]) -> None:
    """Refuse settings that exclude each other.

    Raises:
        InputError: says which.
    """
    rules = machine.paths
    one_line, place = rules.one_line, f"machine {machine.name}, [paths]"
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
    trim = max(kerf) / 2 if machine.edge_to_edge else 0.0
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
