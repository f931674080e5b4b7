"""`tilegen build`: the main job, from a plan to everything needed to make it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import fsum
from pathlib import Path
from typing import Any

from tilegen.commands.common import (
    Covering,
    Measures,
    OpenPlan,
    Tools,
    cover_words,
    distinct_stems,
    file_records,
    job_of,
    open_plan,
    print_json,
    progress,
    tell_messages,
    warn,
)
from tilegen.commands.connecting import (
    add_connectors,
    cautions_for,
    connector_items,
    connector_record,
    connector_totals,
    shopping_rows,
    with_keys,
)
from tilegen.commands.halves import make_cut, make_printed
from tilegen.commands.needs import work_out_needs
from tilegen.commands.workshop import Workshop, cautions, open_workshop
from tilegen.jobs import MANIFEST, Job, Written, check_folder, read_claim, write_files
from tilegen.lengths import Units, counted, in_units, show_length
from tilegen.lists import boxes_for, costs_csv, kit_csv, rooms_csv, shopping_csv
from tilegen.making import Made, Wanted, wanted
from tilegen.pictures.layout import layout_canvas
from tilegen.pictures.report import report_html
from tilegen.pictures.reported import Report
from tilegen.plans.kit import Kit
from tilegen.plans.messages import Message, plan_messages
from tilegen.plans.numbers import layout_numbers
from tilegen.plans.record import fill_places, kit_head, kit_json
from tilegen.plans.route import make_route
from tilegen.sheets.cores import core_rows
from tilegen.sheets.costs import cost_of_each
from tilegen.sheets.sheetset import SheetSet
from tilegen.solids.build import Mesh
from tilegen.telling import say

# Where a build writes.
_FOLDERS = (".", "solids", "sheets", "connectors")


@dataclass(frozen=True, slots=True)
class Part:
    """How much of a plan to make: just some tiles, what is not owned, what can be in sight at once."""

    only: tuple[str, ...] = ()
    own: Path | None = None
    in_sight: bool = False
    doors_open: bool = False
    cover: Covering = Covering()  # noqa: RUF009 - it is frozen

    @property
    def whole(self) -> bool:
        """Whether everything is made."""
        return not (self.only or self.own or self.in_sight)


@dataclass(frozen=True)
class Built:
    """One plan's outcome; more, totals: what is added to the kit's JSON. whole: not just a part was asked for."""

    folder: str
    job: Job
    kit: Kit
    made: Made
    more: dict[str, dict[str, Any]]
    totals: dict[str, int]
    connectors: dict[str, Any]
    cautions: Sequence[str] = ()
    whole: bool = True
    messages: tuple[Message, ...] = ()


def run_build(
    plans: Sequence[str],
    out: Path,
    measures: Measures,
    tools: Tools,
    *,
    part: Part,
    units: Units,
    as_json: bool,
    quiet: bool,
) -> None:
    """Build each plan into its own folder; everything is made before anything is written."""
    opened = [open_plan(word, measures, part.cover) for word in plans]
    folders = distinct_stems(plan.path for plan in opened)
    for folder, plan in zip(folders, opened, strict=True):
        check_folder(out / folder, _job(plan), within=_FOLDERS)
    workshop = open_workshop(tools)
    built = []
    for folder, plan in zip(folders, opened, strict=True):
        with progress(f"{folder} ...", quiet=quiet):
            built.append(build_plan(folder, plan, workshop, part=part, others=[p.kit for p in opened], units=units))
    written = [write_build(out / b.folder, b) for b in built]
    if as_json:
        _print(out, built, written)
    elif not quiet:
        for b, files in zip(built, written, strict=True):
            _tell(out / b.folder, b, len(files), workshop, units)
            tell_messages(b.messages)
        loose = any(b.kit.pieces for b in built)
        for caution in cautions(workshop, printing=True, cutting=True, loose=loose):
            say(f"  caution: {caution}")
    for b in built:
        b.made.check_closed()


def build_plan(
    folder: str,
    plan: OpenPlan,
    workshop: Workshop,
    *,
    part: Part | None = None,
    others: Sequence[Kit] = (),
    units: Units = "mm",
    tell: Callable[[str], None] = lambda _: None,
) -> Built:
    """All files of a plan, in memory.

    others: kits whose names a shelf may use too. tell: called with a word on each stage that begins.

    Raises:
        InputError: a tile named in `only` that is not in the kit, a wrong shelf, a part that fits no bed or sheet.
        AnswerIsNo: not enough stock.
    """
    part = part or Part()
    drawing, kit = plan.drawing, plan.kit
    needs = work_out_needs(plan, sight=part.in_sight, doors_open=part.doors_open, own=part.own, others=others)
    things = wanted(kit, needs.tiles | needs.pieces, part.only)
    shown = _only(kit, things) if part.only else kit
    totals = needs.totals() | connector_totals(kit, drawing)
    seams = 0 if part.only else totals.get("keys", 0)
    things = with_keys(things, seams)
    more = needs.more(kit)
    made, stops, numbers = Made(), make_route(drawing, kit), layout_numbers(kit)
    made.files["kit.json"] = ("".join(kit_json(shown, more, totals)) + "\n").encode()
    made.files["kit.csv"] = kit_csv(shown, numbers, connector_items(things, seams))
    made.files["rooms.csv"] = rooms_csv(stops, numbers)
    tell("solids")
    meshes = make_printed(made, things, workshop)
    printed = len(made.notes)
    tell("sheets")
    sets = make_cut(made, things, workshop, numbers, units=units)
    cutting = made.notes[printed:]
    made.files["shopping.csv"] = _shopping(made, sets, things, meshes, workshop, seams=seams)
    add_connectors(made, things, workshop.paper)
    _add_costs(made, sets, things, numbers)
    tell("layout and report")
    _add_layout(made, plan, units)
    messages, about = plan_messages(drawing), cautions_for(things)
    notes = tuple(dict.fromkeys([*(f"To decide: {message.words}" for message in messages), *made.notes]))
    report = Report(
        drawing,
        shown,
        things,
        meshes,
        sets,
        made.files,
        notes,
        workshop.printer,
        stops,
        made.job,
        about,
        numbers,
        cutting,
    )
    made.files["report.html"] = report_html(report, units=units).encode()
    return Built(folder, _job(plan), shown, made, more, totals, connector_record(things), about, part.whole, messages)


def _job(plan: OpenPlan) -> Job:
    return job_of("build", plan.path, plan.kit.plan)


def _add_layout(made: Made, plan: OpenPlan, units: Units) -> None:
    """The layout as pictures; and, first of what is said, how larger pieces cover the floor."""
    canvas = layout_canvas(plan.drawing, plan.kit, units=units)
    made.files["layout.svg"] = canvas.svg().encode()
    made.files["layout.png"] = canvas.png()
    if plan.cover is not None:
        made.notes.insert(0, cover_words(plan.cover))


def _only(kit: Kit, things: Wanted) -> Kit:
    """The kit less all types that are not made."""
    kept = {thing.id for thing, _ in things}
    types = tuple(t for t in kit.types if t.tile.id in kept)
    return replace(kit, types=types, pieces=tuple(p for p in kit.pieces if p.piece.id in kept))


def _shopping(
    made: Made, sets: Sequence[SheetSet], things: Wanted, meshes: Sequence[Mesh], workshop: Workshop, *, seams: int
) -> bytes:
    sheets = [(s.material.title, size, count) for s in sets for size, count in s.new_sheets.items()]
    glue = [(s.material.glue, s.gluing.grams(s.material)) for s in sets if s.material.glue and s.gluing.joints]
    hours = [(s.material.title, s.minutes / 60, s.material.gluing.drying) for s in sets]
    by_knife = workshop.machine.process in ("hand-knife", "drag-knife")
    metres = fsum(sheet.drawing.length("CUT_INNER", "CUT_OUTER") for s in sets for sheet in s.sheets) / 1000
    sizes = [(mesh.size, count) for mesh, (_, count) in zip(meshes, things, strict=True)]
    return shopping_csv(
        job=made.job,
        sheets=sheets,
        glue=glue,
        cut_metres=metres if by_knife else 0.0,
        boxes=boxes_for(sizes),
        more=[*shopping_rows(things, seams), *(row for s in sets for row in core_rows(s.cores))],
        hours=hours,
    )


def _add_costs(made: Made, sets: Sequence[SheetSet], things: Wanted, numbers: Mapping[str, str]) -> None:
    """What each type costs, where the stock files give prices."""
    counts = {thing.id: count for thing, count in things}
    rows = []
    for sheets in sets:
        each = cost_of_each(sheets, counts)
        if each is not None:
            rows += [(sheets.material.name, t.name, t.id, n, each.get(t.id, 0.0)) for t, n in things]
    if rows:
        made.files["costs.csv"] = costs_csv(rows, numbers)


def write_build(folder: Path, built: Built) -> list[Written]:
    """Write a build's files and its manifest."""
    return write_files(folder, built.made.files, job=built.job, part=not built.whole, tell=warn)


def _record(folder: Path, built: Built, written: list[Written]) -> dict[str, Any]:
    return {
        "kit": "@kit",
        "files": file_records(folder, written),
        "solids": built.made.solids,
        "sheets": built.made.sheets,
        "printing": built.made.job.record() if built.made.job else None,
        "notes": list(dict.fromkeys(built.made.notes)),
        **built.connectors,
    }


def _print(out: Path, built: list[Built], written: list[list[Written]]) -> None:
    documents = []
    for b, files in zip(built, written, strict=True):
        record = _record(out / b.folder, b, files)
        text = json.dumps({**record, "kit": kit_head(b.kit, b.more, b.totals)})
        documents.append(json.loads("".join(fill_places(text, b.kit))))
    print_json(documents[0] if len(documents) == 1 else {"builds": documents})


def _tell(folder: Path, built: Built, files: int, workshop: Workshop, units: Units) -> None:
    kit, made = built.kit, built.made
    loose = counted(sum(p.count for p in kit.pieces), "loose piece")
    say(f"{kit.plan}: {counted(kit.tiles, 'tile')} of {counted(len(kit.types), 'type')}, {loose}")
    say(f"  {folder}: {counted(files, 'file')}; begin with {folder / 'report.html'}")
    others = 0 if built.whole else len(read_claim(folder / MANIFEST).get("files", ())) - files
    if others:
        say(f"  {counted(others, 'other file')} of an earlier run left as before; lists, beds and sheets that this run")
        say("  made are of this part alone: build without --only, --own and --in-sight makes the whole set again")
    beds = sum("/bed-" in path for path in made.files)
    closed = sum(bool(record["closed"]) for record in made.solids)
    types, on_beds = counted(len(made.solids), "type"), counted(beds, "bed")
    say(f"  solids: {types}, {closed} closed; {on_beds} on {in_units(workshop.printer.title, units)}")
    if made.job:
        say(f"  printing: {made.job.whole.words()}; an estimate, the slicer rules")
    for material in workshop.materials:
        sheets = [record for record in made.sheets if record["material"] == material.name]
        several = sorted({record["thickness_mm"] for record in sheets}, reverse=True)
        thick = f" ({_thicknesses(several)})" if len(several) > 1 else ""
        kerf = show_length(workshop.machine.kerf_in(material), units) + (" left out" if workshop.nominal else "")
        stock = in_units(f"{len(sheets)} of {material.title}{thick}", units)
        say(
            f"  sheets: {stock}, {counted(sum(s['parts'] for s in sheets), 'part')}, "
            f"for {workshop.machine.title}, kerf {kerf}"
        )
    for note in dict.fromkeys(made.notes):
        say(f"  note: {in_units(note, units)}")
    for caution in built.cautions:
        say(f"  caution: {caution}")


def _thicknesses(several: Sequence[float]) -> str:
    return f"sheets of {' and '.join(f'{t:g}' for t in several)} mm"
