"""From parts to sheets: the way that a machine's cuts ask for, on the stock there is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import NamedTuple

from tilegen.files.stock import verdict_of
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile
from tilegen.sheets.nesting.guillotine import Size
from tilegen.sheets.nesting.layout import Layout, Rectangle
from tilegen.sheets.nesting.odd import OddShape, is_odd, nest_mixed
from tilegen.sheets.nesting.stocking import FilledSheet, Rules, blanks_of, nest_on_stock
from tilegen.sheets.partpaths import PartPaths
from tilegen.sheets.parts import Part
from tilegen.sheets.replay import replay
from tilegen.sheets.saw import Fence, SawList, Start, saw_list


class LaidSheet(NamedTuple):
    """One piece of stock. layout: where the boxes of what is cut lie; offcut: its name, empty for a new sheet."""

    name: str
    size: Size
    layout: Layout
    offcut: str = ""


class SetOut(NamedTuple):
    """All sheets of a material; saw: where every cut runs edge to edge."""

    sheets: tuple[LaidSheet, ...]
    saw: SawList | None
    notes: tuple[str, ...]


def set_out_parts(
    parts: Sequence[Part], paths: Sequence[PartPaths], material: MaterialFile, machine: MachineFile
) -> SetOut:
    """Every part on a piece of stock. paths: what is cut for each part, the kerf allowed for.

    Raises:
        InputError: a part larger than any piece of stock.
        AnswerIsNo: the stock does not suffice; says what is left over.
    """
    straight = machine.cuts == "edge to edge"
    kerf = machine.kerf_in(material)
    gap = kerf if straight else machine.spacing
    rules = Rules(machine.margin, gap, not material.grain, material.alike, straight)
    boxes = [drawn.size for drawn in paths]
    sizes = [_box(part) for part in parts] if straight else boxes
    items = [Rectangle(part.id, *size, part.count) for part, size in zip(parts, sizes, strict=True)]
    laid: tuple[FilledSheet, ...] = ()
    notes: tuple[str, ...] = ()
    if straight:
        laid = nest_on_stock(items, blanks_of(material), rules) if parts else ()
    elif parts:
        shapes = [OddShape(part.id, drawn.outer, part.count) for part, drawn in zip(parts, paths, strict=True)]
        laid, notes = nest_mixed(items, shapes, _odd(parts, material, machine), blanks_of(material), rules)
    names = [f"{material.name}-{number:02d}" for number in range(1, len(laid) + 1)]
    saw = _saw(laid, names, items, _fence(material, machine)) if straight else None
    if saw is not None:
        saw = replace(saw, after=tuple(_after(parts)))
    grown = [((b[0] - s[0]) / 2, (b[1] - s[1]) / 2) for b, s in zip(boxes, sizes, strict=True)]
    sheets = tuple(
        LaidSheet(name, (on.blank.width, on.blank.height), _moved(on.layout, grown), on.blank.name)
        for name, on in zip(names, laid, strict=True)
    )
    return SetOut(sheets, saw, (*notes, *_offcut_notes(sheets), *(_saw_notes(saw) if saw else ())))


def _odd(parts: Sequence[Part], material: MaterialFile, machine: MachineFile) -> list[int]:
    """The numbers of parts that nest by their outlines.

    Where the kerf differs in x and y a turned outline is another outline: all lie in their boxes then.
    """
    across, up = machine.kerf_pair(material)
    return [number for number, part in enumerate(parts) if is_odd(part.outline)] if across == up else []


def _box(part: Part) -> Size:
    west, south, east, north = part.outline.bounds
    return east - west, north - south


def _moved(layout: Layout, grown: Sequence[Size]) -> Layout:
    """The boxes of what is cut around those of the finished parts."""
    shifts = [(dx, dy) if not p.turned else (dy, dx) for p in layout for dx, dy in (grown[p.item],)]
    return tuple(p._replace(x=p.x - dx, y=p.y - dy) for p, (dx, dy) in zip(layout, shifts, strict=True))


def _fence(material: MaterialFile, machine: MachineFile) -> Fence:
    kerf = machine.kerf_in(material)
    together = max(1, int(machine.stack_height / material.real_thickness + 1e-9))
    seconds = machine.work.cut, machine.work.metre * verdict_of(material, machine).strokes
    rules = machine.fence_zero, machine.merge_settings, material.least_offcut
    return Fence(kerf, machine.margin, *rules, together, seconds)


def _saw(laid: Sequence[FilledSheet], names: Sequence[str], items: Sequence[Rectangle], fence: Fence) -> SawList:
    """The saw list, followed once on rectangles before anyone follows it on foam."""
    starts = [
        Start(name, (on.blank.width, on.blank.height), on.tree)
        for name, on in zip(names, laid, strict=True)
        if on.tree is not None
    ]
    saw = saw_list(starts, {n: (i.name, (i.width, i.height)) for n, i in enumerate(items)}, fence)
    replay(saw, {i.name: ((i.width, i.height), i.number) for i in items if i.number})
    return saw


def _after(parts: Sequence[Part]) -> Iterator[tuple[str, str]]:
    """What no fence does: bevels and mitres, since sharp edges come last; then what is not a rectangle."""
    yield from ((p.id, note) for p in parts if p.count for note in p.notes if note.startswith(("bevel", "mitre")))
    for part in parts:
        width, height = _box(part)
        if part.count and part.outline.area < width * height * (1 - 1e-6):
            yield part.id, f"cut out of its {width:.2f} x {height:.2f} mm rectangle along the drawing"


def _offcut_notes(sheets: Sequence[LaidSheet]) -> Iterator[str]:
    used = [f"{sheet.offcut} as {sheet.name}" for sheet in sheets if sheet.offcut]
    if used:
        yield f"offcuts cut up first: {', '.join(used)}"


def _saw_notes(saw: SawList) -> Iterator[str]:
    # Without a tolerance only sizes that are equal but for rounding share a setting.
    if saw.merged and saw.fence.tolerance:
        pairs = ", ".join(f"{size:g} to {cut:g}" for size, cut in saw.merged)
        fewer = saw.without - saw.settings
        yield (
            f"sizes less than {saw.fence.tolerance:g} mm apart are cut on one setting ({pairs} mm): {fewer} fence "
            f"setting{'' if fewer == 1 else 's'} saved"
        )
