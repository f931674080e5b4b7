"""From tiles to sheets: the flat half of a kit, set out, drawn and written."""

from __future__ import annotations

import io
import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import fsum
from typing import NamedTuple, TypedDict

import numpy as np

from tilegen.files.stock import check_pair, verdict_of
from tilegen.geometry import ROUNDING_MM
from tilegen.lengths import counted, show_length, show_number
from tilegen.messages import Message
from tilegen.model.machines import MachineFile
from tilegen.model.materials import BLANK_EDGE_MM, MaterialFile, Stock, of_thickness
from tilegen.sheets.assembly import assembly
from tilegen.sheets.constructions import ConstructionChoice
from tilegen.sheets.drawing import LAYERS, Kerf, SheetDrawing, find_arcs, with_datum
from tilegen.sheets.flat import remarks_said
from tilegen.sheets.formats import drawing_files
from tilegen.sheets.labels import OFF_CUT
from tilegen.sheets.nesting.guillotine import Size
from tilegen.sheets.nesting.layout import Layout, Rectangle
from tilegen.sheets.nesting.odd import OddShape, is_odd, nest_beside, nest_mixed
from tilegen.sheets.nesting.stocking import FilledSheet, Rules, blanks_of, cut_down_words, each_once, nest_on_stock
from tilegen.sheets.nesting.strips import least_sheets
from tilegen.sheets.partpaths import PartPaths, draw_sheet
from tilegen.sheets.parts import Part, PartsList, check_features, list_parts, of_material, slender_notes
from tilegen.sheets.replay import replay
from tilegen.sheets.saw import Fence, HandStep, SawList, Start, saw_csv, saw_list
from tilegen.sheets.sheetset import Sheet, SheetSet, gluing, operations_csv, parts_csv
from tilegen.sheets.toolpaths import CUT_PROCESSES, check_paths, path_notes, paths_of
from tilegen.tiles.loose import Piece
from tilegen.tiles.tile import Tile

# How far a real arc may be from the chords of a part; more corners than these may be an arc of chords.
_ARC_SLACK_MM = 0.06
_FEW_CORNERS = 16
# How full sheets usually become (measured on the shipped plans).
_FULL = 0.85
# Sizes are marked from two edges of a sheet; at the other two this much is left, since no edge of the factory's becomes
# a part's (common practice, no source).
_FAR_MM = 3.0


class SheetRecord(TypedDict):
    """One sheet in the JSON of a run. copies: how many are cut just like it; all other figures are of one of them."""

    name: str
    copies: int
    material: str
    size_mm: list[float]
    kerf_mm: float
    parts: int
    used: float
    cut_mm: float
    score_mm: float
    thickness_mm: float
    pieces: int


def make_sheets(
    counts: Sequence[tuple[Tile | Piece, int]],
    material: MaterialFile,
    machine: MachineFile,
    choice: ConstructionChoice = ConstructionChoice(),  # noqa: B008 - it is frozen
    *,
    compensate: bool = True,
) -> SheetSet:
    """All parts of so many tiles and pieces of each type, set out on sheets of one thickness.

    Of a material whose bases take sheets of several thicknesses this is the first set of `make_sheet_sets`.
    """
    return make_sheet_sets(counts, material, machine, choice, compensate=compensate)[0]


def make_sheet_sets(
    counts: Sequence[tuple[Tile | Piece, int]],
    material: MaterialFile | Stock,
    machine: MachineFile,
    choice: ConstructionChoice = ConstructionChoice(),  # noqa: B008 - it is frozen
    *,
    compensate: bool = True,
    accept: str | None = None,
    numbers: Mapping[str, str] | None = None,
    listed: PartsList | None = None,
) -> tuple[SheetSet, ...]:
    """All parts of so many tiles and pieces of each type, set out on sheets: a set for each material and thickness.

    The base's material comes first; of each its own thickness, then the others, the thickest first. Each set has its
    own sheets, file names and lists. Notes about the whole stand in the first.

    choice: the construction and the corners that the user chose in place of the material's own.
    compensate: outlines allow for the machine's kerf; else they are nominal and the machine's program must do it.
    accept: the cautions that the user accepts; without any, a pair of material and machine that only the user may
    allow is taken as allowed: ask `check_pair` first. numbers: what the types are called in the layout, by id.
    listed: the parts, if they are known already.

    Raises:
        InputError: a blocked pair; stock that no tile can be made of; a part larger than a sheet; a feature
            narrower than the kerf.
        AnswerIsNo: there are not enough sheets on hand.
    """
    stock = Stock.of(material)
    listed = listed or list_parts(counts, stock, choice)
    known = numbers or {}
    steps = tuple(assembly(b) for b in listed.built)
    sets: list[SheetSet] = []
    used = [m for m in stock.materials if of_material(listed.parts, m, stock)] or stock.materials[:1]
    for each in used:
        glue = gluing(listed.built, stock.roles_of(each))
        for number, (sheet, parts) in enumerate(_by_thickness(of_material(listed.parts, each, stock), each)):
            check_pair(sheet, machine, verdict_of(sheet, machine).caution if accept is None else accept)
            notes = listed.notes if not sets else ()
            if number:
                thick = show_length(sheet.real_thickness)
                words = f"Sheets of {thick} are for layers of bases; see {each.name} for all else."
                notes = (*notes, Message("note", words))
            tool = _for_pages(sheet, machine)
            made = _one_set(PartsList(parts, listed.constructions, notes), sheet, tool, compensate=compensate)
            made = replace(made, numbers=dict(known), purpose=stock.purpose(each))
            sets.append(made if number else replace(made, gluing=glue))
    sets[0] = replace(sets[0], assemblies=steps, cores=listed.cores)
    return tuple(sets)


def _by_thickness(parts: Sequence[Part], material: MaterialFile) -> Iterator[tuple[MaterialFile, tuple[Part, ...]]]:
    """The parts of a material for each thickness of sheet: its own first, then the others, the thickest first."""
    own = material.real_thickness
    for thickness in sorted({part.thickness for part in parts}, key=lambda t: (t != own, -t)) or [own]:
        yield of_thickness(material, thickness), tuple(part for part in parts if part.thickness == thickness)


def quick_minutes(listed: PartsList, stock: Stock, machine: MachineFile) -> float:
    """About what `minutes` of the sets of these parts will be, from the sizes of the parts alone: nothing is nested.

    Where a fence or a ruler guides the cuts: one for each strip and for each part, parts of one width in shared strips.
    """
    found = []
    for material in stock.materials:
        for sheet, parts in _by_thickness(of_material(listed.parts, material, stock), material):
            found.append(_quick_cutting(parts, sheet, _for_pages(sheet, machine)))
        found.append(gluing(listed.built, stock.roles_of(material)).joints * material.gluing.joint / 60)
    return fsum(found)


def _quick_cutting(parts: Sequence[Part], material: MaterialFile, machine: MachineFile) -> float:
    """Minutes to cut parts from sheets of one thickness."""
    sizes = [(*sorted(_box(part)), part.count) for part in parts]
    straight = machine.edge_to_edge
    fence = _fence(material, machine)
    gap = fence.kerf if straight else machine.spacing
    blank = max(blanks_of(material, machine, [_box(part) for part in parts]), key=lambda b: b.width * b.height)
    across, up = (side - 2 * machine.margin + gap for side in (blank.width, blank.height))
    area = fsum((short + gap) * (long + gap) * count for short, long, count in sizes)
    sheets = math.ceil(area / (across * up * _FULL))
    seconds = sheets * machine.work.sheet
    if straight:
        shares: dict[float, float] = {}
        for short, long, count in sizes:
            shares[short] = shares.get(short, 0.0) + count / max(1, int(across / (long + gap)))
        strips = sum(math.ceil(share) for share in shares.values())
        crossed = fsum(short * count for short, _, count in sizes) / fence.together
        cuts = strips + sum(count for _, _, count in sizes) / fence.together + 2 * sheets
        metres = (strips * blank.width + crossed + sheets * (blank.width + blank.height)) / 1000
        seconds += cuts * fence.seconds[0] + metres * fence.seconds[1]
    return seconds / 60


class Covered(NamedTuple):
    """How much of sheets of one material and thickness parts cover, before anything is nested.

    area: of the parts, mm2. offcuts: what those on hand have room for, mm2. room: of the largest sheet, mm2. sizes: the
    room of each size of sheet and its price, if it has one.
    """

    material: MaterialFile
    area: float
    offcuts: float
    room: float
    sizes: Sequence[tuple[float, float | None]]

    @property
    def share(self) -> float:
        """Of the largest sheet, or how many of it."""
        return self.area / self.room

    @property
    def price(self) -> float | None:
        """Of the largest sheet."""
        return dict(self.sizes)[self.room]

    @property
    def least(self) -> tuple[int, float]:
        """No layout takes fewer new sheets, or cheaper ones."""
        left = max(self.area - self.offcuts, 0.0)
        cheapest = min((price or 0.0) / room for room, price in self.sizes)
        return math.ceil(left / self.room - ROUNDING_MM), left * cheapest


def quick_sheets(listed: PartsList, stock: Stock, machine: MachineFile) -> list[Covered]:
    """What the parts cover of each material and thickness."""
    found = []
    for material in stock.materials:
        for sheet, parts in _by_thickness(of_material(listed.parts, material, stock), material):
            tool = _for_pages(sheet, machine)
            margins = tool.margin + min(tool.margin, _FAR_MM)
            blanks = blanks_of(sheet, tool, [_box(part) for part in parts])
            # A sheet that the margins leave nothing of is refused once parts are set out.
            rooms = [(b, max(b.width - margins, 1.0) * max(b.height - margins, 1.0) * b.pieces) for b in blanks]
            sizes = [(room, b.price and b.price * b.pieces) for b, room in rooms if not b.name]
            area = fsum(part.outline.area * part.count for part in parts)
            offcuts = fsum(room for b, room in rooms if b.name)
            found.append(Covered(sheet, area, offcuts, max(room for room, _ in sizes), sizes))
    return found


def least_sheets_and_price(listed: PartsList, stock: Stock, machine: MachineFile) -> tuple[int, float]:
    """How many new sheets the parts take at least, and what these cost at least, whatever the layout."""
    found = [covered.least for covered in quick_sheets(listed, stock, machine)]
    return sum(sheets for sheets, _ in found), fsum(price for _, price in found)


def _for_pages(material: MaterialFile, machine: MachineFile) -> MachineFile:
    """The machine with the margins of a page, if the material is printed on: what a hand cuts has no other."""
    if material.printed is None:
        return machine
    margin = BLANK_EDGE_MM if machine.edge_to_edge else max(BLANK_EDGE_MM, machine.margin)
    return machine.model_copy(update={"margin": margin})


def _one_set(listed: PartsList, material: MaterialFile, machine: MachineFile, *, compensate: bool) -> SheetSet:
    kerf = machine.kerf_pair(material) if compensate else (0.0, 0.0)
    check_features(listed.parts, material, machine)
    straight = CUT_PROCESSES[machine.process].straight
    sawn = machine.edge_to_edge
    room = None if sawn else _room(listed.parts, material, machine)
    # Where cuts begin in the waste no number stands there.
    beside = None if machine.paths.lead_in else room
    clear = OFF_CUT if machine.paths.common_lines else 0.0
    paths = [PartPaths.of(part, kerf, straight=straight, sawn=sawn, room=beside, clear=clear) for part in listed.parts]
    check_paths(machine, kerf)
    # With common lines the cuts of neighbours are one: their parts lie exactly one kerf apart.
    tool = machine.model_copy(update={"spacing": 0.0}) if machine.paths.common_lines else machine
    filled, saw, said = _set_out(paths, material, tool)
    sheets = tuple(_sheet(on, paths, material, machine, Kerf.of(kerf)) for on in filled)
    labels = {drawn.part.id: drawn.number.place for drawn in paths}
    notes = (*listed.notes, *said, *_slits(listed.parts, machine), *path_notes(machine))
    notes = (*notes, *slender_notes(listed.parts, material, machine), *_page_notes(material))
    return SheetSet(material, machine, max(kerf), sheets, listed.parts, listed.constructions, notes, labels, saw)


def _page_notes(material: MaterialFile) -> Iterator[Message]:
    """How to print, where that is done."""
    if material.printed:
        words = f"Print on {material.printed} sheets of {material.title}, at 100 % and not fitted to the page"
        yield Message("note", f"{words}. Measure the 100 mm bar on a page before you print the rest.")


def _room(parts: Sequence[Part], material: MaterialFile, machine: MachineFile) -> tuple[float, float]:
    """The largest sides that a part may have, mm: those of a piece of stock less its margins."""
    blanks = blanks_of(material, machine, [_box(part) for part in parts])
    width, height = max((b.width - 2 * machine.margin, b.height - 2 * machine.margin) for b in blanks)
    return (min(width, height),) * 2 if material.grain or material.alike else (width, height)


def _set_out(
    paths: Sequence[PartPaths], material: MaterialFile, machine: MachineFile
) -> tuple[list[FilledSheet], SawList | None, list[Message]]:
    """Every part on a piece of stock, the way that the machine's cuts ask for, with notes.

    paths: what is cut for each part, the kerf allowed for; layouts say where the boxes of these lie. The saw list:
    where every cut runs edge to edge.

    Raises:
        InputError: a part larger than any piece of stock.
        AnswerIsNo: there is not enough stock; the message names what is left over.
    """
    straight = machine.edge_to_edge
    gap = machine.kerf_in(material) if straight else machine.spacing
    ruler = straight and machine.guide == "ruler"
    # A printer leaves its margin on all sides.
    far = min(machine.margin, _FAR_MM) if ruler and not material.printed else None
    rules = Rules(
        machine.margin,
        gap,
        not material.grain,
        material.alike,
        straight,
        page=bool(material.printed),
        strips=ruler,
        far=far,
    )
    boxes = [drawn.size for drawn in paths]
    parts = [drawn.part for drawn in paths]
    sizes = [_box(part) for part in parts] if straight else boxes
    items = [Rectangle(part.number, *size, part.count) for part, size in zip(parts, sizes, strict=True)]
    notes: list[Message] = []
    filled: Sequence[FilledSheet] = ()
    blanks = blanks_of(material, machine, sizes)
    shapes = [OddShape(drawn.part.number, drawn.outer, drawn.part.count) for drawn in paths]
    # Where the kerf differs in x and y a turned outline is another outline: all lie in their boxes then.
    across, up = machine.kerf_pair(material)
    odd = [number for number, part in enumerate(parts) if across == up and is_odd(part.outline)]
    if ruler and parts:
        filled = nest_beside(items, shapes, odd, blanks, rules, spacing=machine.spacing)
    elif straight and parts:
        filled = nest_on_stock(items, blanks, rules)
    elif parts:
        filled, said = nest_mixed(items, shapes, odd, blanks, rules)
        notes += said
    sheets = [on._replace(name=f"{material.name}-{number:02d}") for number, on in enumerate(each_once(filled), 1)]
    if used := [f"{on.blank.name} as {on.name}" for on in sheets if on.blank.name]:
        notes.append(Message("note", f"Offcuts are used up first: {', '.join(used)}."))
    notes += [Message("note", words) for words in cut_down_words(filled, machine)]
    if ruler and filled and len(blanks) == 1 and all(on.tree for on in filled):
        least = least_sheets(items, rules.area(blanks[0]), len(filled))
        words = f"No layout in strips takes fewer than {counted(least, 'sheet')}; this one takes {len(filled)}."
        notes.append(Message("note", words))
    saw = _saw(sheets, items, parts, _fence(material, machine)) if straight else None
    notes += _saw_notes(saw) if saw else ()
    grown = [((b[0] - s[0]) / 2, (b[1] - s[1]) / 2) for b, s in zip(boxes, sizes, strict=True)]
    # Outlines that lie free were laid as they are cut.
    return [on._replace(layout=_moved(on.layout, grown)) if on.tree else on for on in sheets], saw, notes


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


def _saw(sheets: Sequence[FilledSheet], items: Sequence[Rectangle], parts: Sequence[Part], fence: Fence) -> SawList:
    """The saw list, followed once on rectangles before anyone follows it on foam."""
    starts = [Start(on.name, on.size, on.tree, on.copies) for on in sheets if on.tree is not None]
    saw = saw_list(starts, {n: (i.name, (i.width, i.height)) for n, i in enumerate(items)}, fence)
    # Odd outlines may lie free, on sheets of their own.
    free = Counter(p.item for on in sheets if on.tree is None for _ in range(on.copies) for p in on.layout)
    sawn = {n: item.number - free[n] for n, item in enumerate(items) if item.number > free[n]}
    replay(saw, {items[n].name: (items[n][1:3], number) for n, number in sawn.items()})
    return replace(saw, after=tuple(_after([parts[n] for n in sawn])))


def _after(parts: Sequence[Part]) -> Iterator[HandStep]:
    """What no fence does: bevels, since sharp edges come last; then what is not a rectangle."""
    told = [(part.number, remarks) for part in parts if part.count for remarks in part.remarks]
    for number, remarks in told:
        if any(remark.of == "bevels" for remark in remarks):
            yield HandStep(number, remarks_said(remarks), along_drawing=False)
    for part in parts:
        width, height = _box(part)
        if part.count and part.outline.area < width * height * (1 - 1e-6):
            words = f"cut out of its {width:.2f} x {height:.2f} mm rectangle along the drawing"
            yield HandStep(part.number, words, along_drawing=True)


def _saw_notes(saw: SawList) -> Iterator[Message]:
    # Without a tolerance only sizes that are equal but for rounding share a setting.
    if saw.merged and saw.fence.tolerance:
        pairs = ", ".join(f"{show_number(size)} becomes {show_number(cut)}" for size, cut in saw.merged)
        fewer = saw.without - saw.settings
        alike = f"sizes that differ by {saw.fence.tolerance:g} mm or less are all cut at the smaller one"
        yield Message("note", f"To save {counted(fewer, 'setting')}, {alike}: {pairs} mm.")


def _sheet(
    on: FilledSheet, paths: Sequence[PartPaths], material: MaterialFile, machine: MachineFile, kerf: Kerf
) -> Sheet:
    title = f"{material.title}, {material.real_thickness:g} mm thick, for {machine.title}"
    drawn = draw_sheet(SheetDrawing(on.name, title, on.size, kerf), on.layout, paths, nominal=False)
    nominal = draw_sheet(drawn, on.layout, paths, nominal=True) if kerf.widest else drawn
    if on.tree is not None and machine.edge_to_edge:
        said = ("edge to edge", "neighbours share their cuts: cut along the saw list, a fence or a ruler")
        drawn = replace(drawn, remarks=(*drawn.remarks, said))
    if on.copies > 1:
        drawn = replace(drawn, remarks=(*drawn.remarks, ("copies", f"{on.copies} sheets are cut like this one")))
    used = fsum(paths[placed.item].part.outline.area for placed in on.layout) / (on.size[0] * on.size[1])
    cut = with_datum(paths_of(drawn, machine), grain=material.grain)
    by_hand = with_datum(nominal, grain=material.grain)
    return Sheet(on.name, on.layout, cut, by_hand, used, on.blank.name, on.copies, on.blank.bought, on.blank.pieces)


def _slits(parts: Sequence[Part], machine: MachineFile) -> Iterator[Message]:
    """A word on holes that a hot wire can't get into."""
    holed = ", ".join(part.number for part in parts if part.outline.interiors)
    if not holed or not CUT_PROCESSES[machine.process].slits:
        return
    if machine.paths.one_line:
        words = f"Holes in {holed}: the wire's line enters through a slit from the edge. Glue the slit shut afterwards."
    else:
        words = f"Holes in {holed}: cut them with a knife, or enter from the edge and glue that slit shut."
    yield Message("note", words)


def sheet_files(sheet_set: SheetSet, pages: Mapping[str, bytes] | None = None) -> dict[str, bytes]:
    """Every file of a set by its name: each sheet as drawings, lists of parts and operations, perhaps a saw list.

    pages: its sheets as pages to print, if there are such, which stand behind the drawings.
    """
    name = sheet_set.material.name
    files: dict[str, bytes] = {}
    for sheet in sheet_set.sheets:
        files |= drawing_files(sheet.drawing, sheet.name)
    files |= pages or {}
    files[f"{name}-parts.csv"] = parts_csv(sheet_set)
    files[f"{name}-operations.csv"] = operations_csv(sheet_set)
    if sheet_set.saw:
        files[f"{name}-saw.csv"] = saw_csv(sheet_set.saw)
    return files


def audit_sheets(sheet_set: SheetSet, files: Mapping[str, bytes]) -> list[str]:
    """The auditor's findings on each written sheet, as `name: finding`; none if all are as they should be."""
    from ezdxf.filemanagement import read  # noqa: PLC0415

    from tilegen.sheets.audit import Expected, audit_document  # noqa: PLC0415

    said: list[str] = []
    rules = sheet_set.machine.paths
    # Tabs leave notches in the outline, real arcs differ from the chords of the part.
    slack = (rules.tab_recess if rules.tab_width else 0.0) + _ARC_SLACK_MM
    for sheet in sheet_set.sheets:
        counts = Counter(placed.item for placed in sheet.layout)
        # Edge to edge, a real arc runs as far into the part beside it as it leaves its chords.
        beside = sheet_set.machine.edge_to_edge and any(_is_round(sheet_set.parts[n]) for n in counts)
        wanted = [
            Expected(
                part.number,
                part.outline,
                counts[number],
                slack if rules.tab_width or beside or _is_round(part) else 0.0,
            )
            for number, part in enumerate(sheet_set.parts)
            if counts[number]
        ]
        document = read(io.StringIO(files[f"{sheet.name}.dxf"].decode()))
        said += [f"{sheet.name}: {finding}" for finding in audit_document(document, wanted, rules.least_web)]
    return said


def _is_round(part: Part) -> bool:
    """Whether its path may have arcs: a flat curve may be one as the tool goes, but not yet as the part is."""
    rings = [np.array(ring.coords)[:-1] for ring in (part.outline.exterior, *part.outline.interiors)]
    return any(len(ring) > _FEW_CORNERS or find_arcs(ring) for ring in rings)


def sheet_records(sheet_set: SheetSet) -> list[SheetRecord]:
    """The records of the JSON; used: share of the sheet that becomes parts; pieces: as many come out of one sheet."""
    return [
        SheetRecord(
            name=sheet.name,
            copies=sheet.copies,
            material=sheet_set.material.kin,
            size_mm=list(sheet.drawing.size),
            kerf_mm=sheet_set.kerf,
            parts=len(sheet.layout),
            used=sheet.used,
            cut_mm=sheet.drawing.length(*(name for name, row in LAYERS.items() if row.cut)),
            score_mm=sheet.drawing.length("SCORE"),
            thickness_mm=sheet_set.material.real_thickness,
            pieces=sheet.pieces,
        )
        for sheet in sheet_set.sheets
    ]
