"""`tilegen build`: the main job, from a plan to everything needed to make it."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from math import fsum
from pathlib import Path
from typing import Any

from tilegen.cli.common import (
    distinct_stems,
    file_records,
    open_word,
    print_json,
    progress,
    tell_cautions,
    tell_messages,
    warn,
)
from tilegen.cli.telling import say
from tilegen.errors import InputError
from tilegen.files.writing import MANIFEST, Written, check_folder, read_claim
from tilegen.lengths import Units, counted, in_units, show_length
from tilegen.making.asked import Covering, PlanPart, Tools
from tilegen.making.plan import FOLDERS, SHELF, BuiltPlan, OpenPlan, build_plan, cover_words, write_build
from tilegen.making.workshop import Workshop, cautions, first_cautions, open_workshop
from tilegen.messages import Message, messages_record
from tilegen.model.grid import Over
from tilegen.plans.record import fill_places, kit_head


def run_build(
    plans: Sequence[str],
    out: Path,
    over: Over,
    tools: Tools,
    *,
    part: PlanPart,
    cover: Covering,
    units: Units,
    as_json: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Build each plan into its own folder; everything is made before anything is written."""
    opened = [open_word(word, over, cover, part.own) for word in plans]
    folders = [out / stem for stem in distinct_stems(plan.path for plan in opened)]
    for folder, plan in zip(folders, opened, strict=True):
        check_folder(folder, plan.job, within=FOLDERS)
        if part.limits and part.own is not None and part.own.resolve() == (folder / SHELF).resolve():
            raise InputError(
                f"{part.own} would be written over", cure="Use another folder, such as -o next", place="--own"
            )
    workshop = open_workshop(tools)
    built = []
    told: list[Message] = []

    def warn_of(name: str, message: Message) -> None:
        told.append(message)
        if not (quiet or as_json):
            tell_messages([replace(message, place=name) if len(opened) > 1 else message], units)

    for folder, plan in zip(folders, opened, strict=True):
        with progress(f"{folder.name} ...", quiet=quiet):
            built.append(
                build_plan(
                    plan,
                    workshop,
                    part=part,
                    others=[p.kit for p in opened],
                    units=units,
                    warn=partial(warn_of, folder.name),
                )
            )
    written = [write_build(folder, b, warn) for folder, b in zip(folders, built, strict=True)]
    if as_json:
        _print(folders, built, written)
    elif not quiet:
        for folder, plan, b, files in zip(folders, opened, built, written, strict=True):
            _tell(folder, plan, b, len(files), workshop, units)
            left = [message for message in b.messages if message not in told]
            tell_messages(left, units, verbose=verbose, rest="in the report")
        usual = cautions(workshop, printing=part.printed, cutting=part.cut, loose=any(b.kit.pieces for b in built))
        first = first_cautions(workshop, printing=part.printed, cutting=part.cut)
        of_pieces = [caution for b in built for caution in b.cautions]
        tell_cautions(usual, first, of_pieces, units, verbose=verbose, rest="in the report")
    for b in built:
        b.made.check_closed()


def _record(folder: Path, built: BuiltPlan, written: list[Written]) -> dict[str, Any]:
    return {
        "kit": "@kit",
        "files": file_records(folder, written),
        "solids": built.made.solids,
        "sheets": built.made.sheets,
        "printing": built.made.job.record() if built.made.job else None,
        "notes": [message.words for message in built.messages],
        "messages": messages_record(built.messages),
        **built.connectors,
        **({} if built.rooms is None else {"first_rooms": built.rooms.record()}),
    }


def _print(folders: list[Path], built: list[BuiltPlan], written: list[list[Written]]) -> None:
    documents = []
    for folder, b, files in zip(folders, built, written, strict=True):
        record = _record(folder, b, files)
        text = json.dumps({**record, "kit": kit_head(b.kit, b.more, b.totals)})
        documents.append(json.loads("".join(fill_places(text, b.kit))))
    print_json(documents[0] if len(documents) == 1 else {"builds": documents})


def _tell(folder: Path, plan: OpenPlan, built: BuiltPlan, files: int, workshop: Workshop, units: Units) -> None:
    kit, made, rooms = built.kit, built.made, built.rooms
    loose = f", {counted(sum(p.count for p in kit.pieces), 'loose piece')}" if kit.pieces else ""
    say(f"{kit.plan}: {counted(kit.tiles, 'tile')} of {counted(len(kit.types), 'type')}{loose}")
    first = "cut.pdf" if not built.part.printed and "cut.pdf" in made.files else "report.html"
    pages = f"{made.pages.get(first, 0)} {workshop.asked.pages} pages"
    hint = f": print its {pages} at 100 %" if first == "cut.pdf" else ""
    say(f"  Start with {folder / first}{hint} ({counted(files, 'file')} in its folder)")
    others = 0 if built.part.whole else len(read_claim(folder / MANIFEST).get("files", ())) - files
    if others:
        say(f"  {counted(others, 'other file')} of an earlier run left as before; lists, beds and sheets that this run")
        say("  made are of this part alone: build without --make, --only, --own and --in-sight makes it all again")
    if made.job:
        beds = counted(len(made.job.beds), "bed")
        say(f"  Print: {beds} on the {in_units(workshop.printer.title, units)}; {made.job.whole.words()}")
    if rooms is not None:
        for words in rooms.told:
            say(f"  {words}")
        if rooms.left:
            say(f"  Next time: add --own {folder / SHELF} and another folder, -o next")
    elif plan.cover is not None:
        say(f"  {cover_words(plan.cover)}")
    purposes = {m.name: stock.purpose(m) for stock in workshop.stocks for m in stock.materials}
    for material in workshop.materials if built.part.cut else ():
        sheets = [record for record in made.sheets if record["material"] == material.kin]
        purpose = f" for {purposes[material.name]}" if purposes[material.name] else ""
        cut = sum(record["copies"] for record in sheets)
        bought = math.ceil(fsum(record["copies"] / record["pieces"] for record in sheets) - 1e-9)
        pieces = f", cut into {counted(cut, 'piece')}" if cut > bought else ""
        several = sorted({record["thickness_mm"] for record in sheets}, reverse=True)
        thick = f" ({_thicknesses(several)})" if len(several) > 1 else ""
        width = workshop.machine.kerf_in(material)
        left_out = " left out" if workshop.asked.nominal else ""
        kerf = f", kerf {show_length(width, units)}{left_out}" if width else ""
        stock = in_units(f"{counted(bought, 'sheet')} of {material.title}{thick}{purpose}{pieces}", units)
        parts = counted(sum(s["copies"] * s["parts"] for s in sheets), "part")
        say(f"  Cut: {stock} with the {workshop.machine.title}; {parts}{kerf}")


def _thicknesses(several: Sequence[float]) -> str:
    return f"sheets of {' and '.join(f'{t:g}' for t in several)} mm"
