"""From tiles to sheets: the flat half of a kit, set out, drawn and written."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from math import fsum
from typing import TypedDict, get_args

import numpy as np

from tilegen.files.stock import check_pair, verdict_of
from tilegen.lengths import Units
from tilegen.model.machines import MachineFile
from tilegen.model.materials import MaterialFile, of_thickness
from tilegen.model.words import Paper
from tilegen.sheets.assembly import assembly
from tilegen.sheets.construction import Ways
from tilegen.sheets.drawing import LAYERS, Kerf, SheetDrawing, find_arcs, with_datum
from tilegen.sheets.finish import check_paths, finished, for_the_hand, path_notes
from tilegen.sheets.formats import drawing_files
from tilegen.sheets.labels import OFF_CUT
from tilegen.sheets.least import check_features, slender_notes
from tilegen.sheets.nesting.stocking import blanks_of
from tilegen.sheets.pages import PAPERS
from tilegen.sheets.partpaths import PartPaths, draw_sheet
from tilegen.sheets.parts import Part, PartsList, list_parts
from tilegen.sheets.setout import LaidSheet, set_out_parts
from tilegen.sheets.sheetset import Sheet, SheetSet
from tilegen.sheets.work import gluing
from tilegen.tiles.doors import Piece
from tilegen.tiles.tile import Tile

__all__ = [
    "Paper",
    "Sheet",
    "SheetRecord",
    "SheetSet",
    "audit_sheets",
    "make_sheet_sets",
    "make_sheets",
    "sheet_files",
    "sheet_records",
]

ARC_SLACK_MM = 0.06
_FEW_CORNERS = 16


class SheetRecord(TypedDict):
    """What the JSON of a run says about one sheet."""

    name: str
    material: str
    size_mm: list[float]
    kerf_mm: float
    parts: int
    used: float
    cut_mm: float
    score_mm: float
    thickness_mm: float


def make_sheets(
    counts: Sequence[tuple[Tile | Piece, int]],
    material: MaterialFile,
    machine: MachineFile,
    ways: Ways = Ways(),  # noqa: B008 - it is frozen
    *,
    compensate: bool = True,
) -> SheetSet:
    """All parts of so many tiles and pieces of each type, set out on sheets of one thickness.

    Of a material whose bases take sheets of several thicknesses this is the first set of `make_sheet_sets`.
    """
    return make_sheet_sets(counts, material, machine, ways, compensate=compensate)[0]


def make_sheet_sets(
    counts: Sequence[tuple[Tile | Piece, int]],
    material: MaterialFile,
    machine: MachineFile,
    ways: Ways = Ways(),  # noqa: B008 - it is frozen
    *,
    compensate: bool = True,
    accept: str | None = None,
    numbers: Mapping[str, str] | None = None,
) -> tuple[SheetSet, ...]:
    """All parts of so many tiles and pieces of each type, set out on sheets: a set for each thickness of sheet.

    The material's own thickness comes first, then the others, the thickest first; each has its own sheets, file names
    and lists. What the builder must be told about the whole stands in the first.

    ways: the construction and the corners that the user chose in place of the material's own.
    compensate: outlines allow for the machine's kerf; else they are nominal and the machine's program must do it.
    accept: the cautions that the user accepts; without any, a pair of material and machine that only the user may
    allow is taken as allowed: ask `check_pair` first. numbers: what the types are called in the layout, by id.

    Raises:
        InputError: a blocked pair; stock that no tile can be made of; a part larger than a sheet; a feature
            narrower than the kerf.
        AnswerIsNo: there are not enough sheets on hand.
    """
    listed = list_parts(counts, material, ways)
    own = material.real_thickness
    thicknesses = sorted({part.thickness for part in listed.parts}, key=lambda t: (t != own, -t)) or [own]
    sets = []
    for number, thickness in enumerate(thicknesses):
        stock = of_thickness(material, thickness)
        check_pair(stock, machine, verdict_of(stock, machine).caution if accept is None else accept)
        parts = tuple(part for part in listed.parts if part.thickness == thickness)
        further = f"sheets of {thickness:g} mm: layers of bases; all else about them stands with {material.name}"
        notes = listed.notes if number == 0 else (further,)
        made = _one_set(PartsList(parts, listed.constructions, notes), stock, machine, compensate=compensate)
        sets.append(replace(made, numbers=dict(numbers or {})))
    doors = any(isinstance(built.made, Piece) and built.made.kind == "saddle" for built in listed.built)
    known = numbers or {}
    every = (*listed.parts, *listed.cores)
    steps = (assembly(b, every, doors=doors, number=known.get(b.made.id, "")) for b in listed.built)
    sets[0] = replace(sets[0], assemblies=tuple(steps), gluing=gluing(listed.built), cores=listed.cores)
    return tuple(sets)


def _one_set(listed: PartsList, material: MaterialFile, machine: MachineFile, *, compensate: bool) -> SheetSet:
    kerf = machine.kerf_pair(material) if compensate else (0.0, 0.0)
    check_features(listed.parts, material, machine)
    # A ruler, and a hand that scores foam after the wire, go straight.
    straight = machine.process in ("hand-knife", "hot-wire")
    sawn = machine.cuts == "edge to edge"
    room = None if sawn else _room(material, machine)
    # Where cuts begin in the waste no number stands there.
    beside = None if machine.paths.lead_in else room
    clear = OFF_CUT if machine.paths.common_lines else 0.0
    paths = [PartPaths.of(part, kerf, straight=straight, sawn=sawn, room=beside, clear=clear) for part in listed.parts]
    check_paths(machine, kerf)
    # With common lines the cuts of neighbours are one: their parts lie exactly one kerf apart.
    layer = machine.model_copy(update={"spacing": 0.0}) if machine.paths.common_lines else machine
    made = set_out_parts(listed.parts, paths, material, layer)
    title = f"{material.title}, {material.real_thickness:g} mm thick, for {machine.title}"
    sheets = tuple(
        _sheet(
            on,
            SheetDrawing(on.name, title, on.size, Kerf.of(kerf)),
            listed.parts,
            paths,
            machine,
            grain=material.grain,
        )
        for on in made.sheets
    )
    labels = {part.id: drawn.number.place for part, drawn in zip(listed.parts, paths, strict=True)}
    notes = (*listed.notes, *made.notes, *_slits(listed.parts, machine), *path_notes(machine))
    notes = (*notes, *slender_notes(listed.parts, material, machine))
    lists = (listed.parts, listed.constructions, notes, labels, made.saw)
    return SheetSet(material, machine, max(kerf), sheets, *lists)


def _room(material: MaterialFile, machine: MachineFile) -> tuple[float, float]:
    """The largest sides that a part may have, mm: those of a piece of stock less its margins."""
    width, height = max((b.width - 2 * machine.margin, b.height - 2 * machine.margin) for b in blanks_of(material))
    return (min(width, height),) * 2 if material.grain or material.alike else (width, height)


def _slits(parts: Sequence[Part], machine: MachineFile) -> Iterator[str]:
    """A word on holes that a hot wire can't get into."""
    holed = [part.id for part in parts if part.outline.interiors]
    if machine.process == "hot-wire" and holed and machine.paths.shape == "one line":
        yield f"holes in {', '.join(holed)}: the wire's line goes in through a slit from the edge; glue it shut after"
    elif machine.process == "hot-wire" and holed:
        yield (
            f"holes in {', '.join(holed)}: a wire gets into a hole only through a slit from the edge, to be glued shut "
            "after; or cut the hole with a knife"
        )


def _sheet(
    on: LaidSheet,
    blank: SheetDrawing,
    parts: Sequence[Part],
    paths: Sequence[PartPaths],
    machine: MachineFile,
    *,
    grain: bool,
) -> Sheet:
    layout = on.layout
    drawn = draw_sheet(blank, layout, paths, nominal=False)
    if machine.cuts == "edge to edge":
        said = ("edge to edge", "neighbours share their cuts: cut along the saw list, a fence or a ruler")
        drawn = replace(drawn, remarks=(*drawn.remarks, said))
    nominal = draw_sheet(blank, layout, paths, nominal=True) if drawn.kerf.widest else drawn
    used = fsum(parts[placed.item].outline.area for placed in layout) / (blank.size[0] * blank.size[1])
    cut = with_datum(finished(drawn, machine), grain=grain)
    by_hand = with_datum(for_the_hand(nominal, machine), grain=grain)
    return Sheet(blank.name, layout, cut, by_hand, used, on.offcut)


def sheet_files(sheet_set: SheetSet, *, paper: Paper = "A4", units: Units = "mm") -> dict[str, bytes]:
    """Every file of a set by its name: each sheet as drawings, one PDF, a list of parts, perhaps a saw list and cores.

    units: what the PDF speaks in; the lists are in mm.

    Raises:
        ValueError: another paper or unit.
    """
    if paper not in PAPERS or units not in get_args(Units):
        raise ValueError(
            f"paper {paper!r}, units {units!r}: expected {', '.join(PAPERS)}; {', '.join(get_args(Units))}"
        )
    # The writers' libraries take a third of a second to load: only those who write need them.
    from tilegen.sheets.listing import parts_csv  # noqa: PLC0415
    from tilegen.sheets.operations import operations_csv, rulers_csv  # noqa: PLC0415
    from tilegen.sheets.pages import Frame  # noqa: PLC0415
    from tilegen.sheets.pdf import drawing_pdf, pdf_bytes  # noqa: PLC0415
    from tilegen.sheets.saw import saw_csv  # noqa: PLC0415
    from tilegen.sheets.templates import core_words, cores_drawing  # noqa: PLC0415

    files: dict[str, bytes] = {}
    for sheet in sheet_set.sheets:
        files |= drawing_files(sheet.drawing, sheet.name)
    files[f"{sheet_set.material.name}.pdf"] = pdf_bytes(sheet_set, paper, units)
    files[f"{sheet_set.material.name}-parts.csv"] = parts_csv(sheet_set)
    files[f"{sheet_set.material.name}-operations.csv"] = operations_csv(sheet_set)
    if sheet_set.cores:
        words = core_words(sheet_set.cores)
        drawing = cores_drawing(sheet_set.cores, Frame(*PAPERS[paper]))
        title = f"Cores for {sheet_set.material.title}"
        files[f"{sheet_set.material.name}-cores.pdf"] = drawing_pdf(drawing, title, words, paper)
    if sheet_set.machine.paths.gang_cuts:
        files[f"{sheet_set.material.name}-rulers.csv"] = rulers_csv(sheet_set)
    if sheet_set.saw:
        files[f"{sheet_set.material.name}-saw.csv"] = saw_csv(sheet_set.saw)
    return files


def audit_sheets(sheet_set: SheetSet, files: Mapping[str, bytes]) -> list[str]:
    """What the auditor says of each written sheet, as `name: finding`; nothing if all are as they should be."""
    from ezdxf.filemanagement import read  # noqa: PLC0415

    from tilegen.sheets.audit import Expected, audit_document  # noqa: PLC0415

    said: list[str] = []
    rules = sheet_set.machine.paths
    # Tabs leave notches in the outline, real arcs differ from the chords of the part.
    slack = (rules.tab_recess if rules.tab_width else 0.0) + ARC_SLACK_MM
    for sheet in sheet_set.sheets:
        counts = Counter(placed.item for placed in sheet.layout)
        # Edge to edge, a real arc runs as far into the part beside it as it leaves its chords.
        beside = sheet_set.machine.cuts == "edge to edge" and any(_is_round(sheet_set.parts[n]) for n in counts)
        wanted = [
            Expected(
                part.id, part.outline, counts[number], slack if rules.tab_width or beside or _is_round(part) else 0.0
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
    """The records of the JSON; used: share of the sheet that becomes parts."""
    return [
        SheetRecord(
            name=sheet.name,
            material=sheet_set.material.kin,
            size_mm=list(sheet.drawing.size),
            kerf_mm=sheet_set.kerf,
            parts=len(sheet.layout),
            used=sheet.used,
            cut_mm=sheet.drawing.length(*(name for name, row in LAYERS.items() if row.cut)),
            score_mm=sheet.drawing.length("SCORE"),
            thickness_mm=sheet_set.material.real_thickness,
        )
        for sheet in sheet_set.sheets
    ]
