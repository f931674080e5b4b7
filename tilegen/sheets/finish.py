"""From outlines to the paths of one machine: shared lines, order, tabs and what else its file asks for."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from tilegen.errors import InputError
from tilegen.model.machines import MachineFile
from tilegen.sheets.blade import for_a_blade
from tilegen.sheets.commonlines import with_common_lines
from tilegen.sheets.drawing import SheetDrawing
from tilegen.sheets.leads import with_leads
from tilegen.sheets.order import in_cutting_order
from tilegen.sheets.perforate import perforated
from tilegen.sheets.rulers import with_ticks
from tilegen.sheets.tabs import with_tabs
from tilegen.sheets.wire import as_one_line


def finished(drawing: SheetDrawing, machine: MachineFile) -> SheetDrawing:
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


def check_paths(machine: MachineFile, kerf: tuple[float, float]) -> None:
    """Refuse rules that can't be had together.

    Raises:
        InputError: says which.
    """
    rules = machine.paths
    one_line, place = rules.shape == "one line", f"machine {machine.name}: [paths]"
    if rules.common_lines and kerf[0] != kerf[1]:
        raise InputError(
            f"common lines with a kerf of {kerf[0]:g} x {kerf[1]:g} mm",
            expected="one kerf for both ways, since neighbours lie exactly one kerf apart",
            cure="set common_lines = false",
            place=place,
        )
    # Between two parts the turns of a trailing blade reach into the waste from either side.
    least = max(kerf) + rules.least_web + (2 * rules.blade_offset if rules.swivel else 0.0)
    if not (one_line or rules.common_lines) and machine.spacing < least - 1e-9:
        raise InputError(
            f"a spacing of {machine.spacing:g} mm with a kerf of {max(kerf):g} mm",
            expected=f"at least {least:g} mm, with {rules.least_web:g} mm between two cuts",
            cure="widen the spacing, or let neighbours share their cuts: common_lines = true",
            place=place,
        )
    reach = _reach(machine, kerf)
    if machine.margin < reach - 1e-9:
        raise InputError(
            f"a margin of {machine.margin:g} mm",
            expected=f"at least {reach:g} mm, or paths would leave the sheet or cut its rim to pieces",
            cure=f"set margin = {reach:g}",
            place=f"machine {machine.name}: margin",
        )
    clashes = [name for name in ("tab_width", "swivel", "common_lines", "lead_in") if getattr(rules, name)]
    if (one_line and clashes) or len(clashes) > 1:
        names = [*(['shape = "one line"'] if one_line else []), *clashes]
        raise InputError(f"{' with '.join(names)}", expected="one of them", cure="take the others out", place=place)


def _reach(machine: MachineFile, kerf: tuple[float, float]) -> float:
    """How far outside of the parts along the sheet's edge the paths of a machine go, or what must stay there, mm."""
    rules = machine.paths
    trim = max(kerf) / 2 if machine.cuts == "edge to edge" else 0.0
    blade = rules.blade_offset if rules.swivel else 0.0
    rim = rules.least_web if rules.lead_in or rules.tab_width else 0.0
    return max(trim, blade, rim)


def path_notes(machine: MachineFile) -> Iterator[str]:
    """What the builder must know about a machine's paths."""
    rules = machine.paths
    if rules.swivel:
        yield (
            f"the paths of {machine.title} allow for a blade that trails {rules.blade_offset:g} mm already: switch "
            "that off in the machine, or it is done twice"
        )
    if rules.tab_width:
        yield (
            f"tabs {rules.tab_width:g} mm wide hold the parts in their sheet, in notches {rules.tab_recess:g} mm "
            "deep: cut or break them and leave what stands in the notch"
        )
    if rules.lead_in:
        yield f"each cut begins on an arc of {rules.lead_in:g} mm in the waste: let the machine's program add none"
    if rules.perforate:
        layers = " and ".join(rules.perforate)
        yield f"{layers} are perforations: have that layer cut through; tear or fold along the dashes"
    if rules.common_lines:
        yield "neighbours share their cuts: parts come loose early and the rest of the sheet is weak; hold it down"


def for_the_hand(drawing: SheetDrawing, machine: MachineFile) -> SheetDrawing:
    """The drawing of the finished parts for who cuts along the line."""
    return with_ticks(drawing) if machine.paths.gang_cuts else drawing
