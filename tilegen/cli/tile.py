"""`tilegen tile`, `solid` and `sheet`: profiles or plans, either half or both."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tilegen.cli.common import (
    distinct_stems,
    file_records,
    find_as,
    open_word,
    print_json,
    progress,
    tell_cautions,
    tell_messages,
    warn,
)
from tilegen.cli.telling import say
from tilegen.errors import InputError
from tilegen.files.profiles import open_profile, profile_grid, profile_tile
from tilegen.files.toml import find, read_toml
from tilegen.files.writing import MANIFEST, Job, Written, check_folder, job_of, write_files
from tilegen.lengths import Units, counted, show_length
from tilegen.making.asked import Tools
from tilegen.making.connecting import cautions_for, connector_record, connector_totals, with_keys
from tilegen.making.things import Made, make_things, things_of, tile_things
from tilegen.making.workshop import BOTH, Workshop, cautions, command_of, first_cautions, open_workshop
from tilegen.messages import Message, messages_record
from tilegen.model.grid import Over
from tilegen.plans.layout import layout_numbers
from tilegen.tiles.loose import Piece, Things
from tilegen.tiles.uprights import printed_things


def run_single(
    words: Sequence[str],
    out: Path,
    over: Over,
    tools: Tools,
    *,
    halves: tuple[str, ...],
    units: Units,
    as_json: bool,
    quiet: bool,
    verbose: bool,
    unit: str | None = None,
) -> None:
    """Make each profile (or plan) into its own folder; everything is made before anything is written."""
    plans_too = halves != BOTH
    paths = [_find(word, plans_too=plans_too) for word in words]
    folders, jobs = distinct_stems(paths), [_job(path, halves) for path in paths]
    for folder, job in zip(folders, jobs, strict=True):
        check_folder(out / folder, job, manifest=_manifest(halves), within=(".", *halves, "connectors"))
    workshop = open_workshop(tools)
    everything = []
    for path, folder in zip(paths, folders, strict=True):
        with progress(f"{folder} ...", quiet=quiet):
            things, numbers, said = _things(path, over, unit, plans_too=plans_too)
            made = make_things(things, workshop, halves, numbers, units)
            made.messages[:0] = said
            everything.append((folder, things, made))
    results = [
        (folder, made, write_files(out / folder, made.files, job=job, manifest=_manifest(halves), tell=warn))
        for (folder, _, made), job in zip(everything, jobs, strict=True)
    ]
    if as_json:
        _print(out, results, halves, connector_record([thing for _, things, _ in everything for thing in things]))
    elif not quiet:
        for (folder, things, made), (_, _, written) in zip(everything, results, strict=True):
            for line in _lines(out / folder, things, made, len(written), units):
                say(line)
            paper = workshop.asked.pages
            for name, pages in made.pages.items():
                say(f"  To cut it, start with {out / folder / name}: print its {pages} {paper} pages at 100 %")
            tell_messages(made.messages, units, verbose=verbose, rest="--verbose shows them")
        _tell_cautions([things for _, things, _ in everything], workshop, halves, units, verbose=verbose)
    for _, made, _ in results:
        made.check_closed()


def _tell_cautions(
    everything: Sequence[Things], workshop: Workshop, halves: tuple[str, ...], units: Units, *, verbose: bool
) -> None:
    """Each caution once: of the machines and materials, then of what the things carry."""
    loose = any(isinstance(thing, Piece) for things in everything for thing, _ in things)
    about = [caution for things in everything for caution in cautions_for(things)]
    printing, cutting = "solids" in halves, "sheets" in halves
    usual = cautions(workshop, printing=printing, cutting=cutting, loose=loose)
    first = first_cautions(workshop, printing=printing, cutting=cutting)
    tell_cautions(usual, first, about, units, verbose=verbose, rest="--verbose shows them")


def _find(word: str, *, plans_too: bool) -> Path:
    if not plans_too:
        return find_as(word, "profiles")
    if Path(word).is_file():
        return find(word, "profiles")
    try:
        return find(word, "profiles")
    except InputError:
        return find(word, "plans")


def _things(
    path: Path, over: Over, unit: str | None, *, plans_too: bool
) -> tuple[Things, dict[str, str], list[Message]]:
    """A profile is one tile of its own; a plan its kit, with the layout's numbers; and what is to be said of it."""
    if plans_too and "drawing" in read_toml(path):
        plan = open_word(str(path), over)
        keys = connector_totals(plan.kit, plan.drawing).get("keys", 0)
        return with_keys(things_of(plan.kit), keys), layout_numbers(plan.kit), []
    profile = open_profile(path, unit)
    tile = profile_tile(profile, profile_grid(profile, over))
    said = [Message("note", profile.drawn.said)] if profile.drawn else []
    return tile_things(tile), {}, said


def _job(path: Path, halves: tuple[str, ...]) -> Job:
    tables = read_toml(path) if path.suffix == ".toml" else {}
    kind = "plan" if "drawing" in tables else "profile"
    return job_of(command_of(halves), path, str(tables.get("name", "")), kind)


def _manifest(halves: tuple[str, ...]) -> str:
    """Either half alone is a job in a folder of its own."""
    return MANIFEST if halves == BOTH else f"{halves[0]}/{MANIFEST}"


def _print(
    out: Path, results: list[tuple[str, Made, list[Written]]], halves: tuple[str, ...], more: dict[str, Any]
) -> None:
    document: dict[str, object] = {
        "files": [record for folder, _, written in results for record in file_records(out / folder, written)]
    }
    if "solids" in halves:
        document["solids"] = [record for _, made, _ in results for record in made.solids]
        jobs = [made.job.record() for _, made, _ in results if made.job]
        document["printing"] = jobs[0] if len(jobs) == 1 else jobs
    if "sheets" in halves:
        document["sheets"] = [record for _, made, _ in results for record in made.sheets]
    messages = [message for _, made, _ in results for message in made.messages]
    document |= {"notes": [message.words for message in messages], "messages": messages_record(messages)}
    print_json(document | more)


def _lines(folder: Path, things: Things, made: Made, files: int, units: Units) -> list[str]:
    lines = [f"{folder}: {counted(files, 'file')}"]
    counts = {thing.name: (thing.id, count) for thing, count in printed_things(things)}
    for solid in made.solids:
        size = " x ".join(show_length(v, units) for v in solid["size_mm"])
        identity, count = counts[solid["name"]]
        lines.append(
            f"  {count} x {solid['name']} ({identity}): {size}, {solid['volume_mm3'] / 1000:.2f} cm3, {_closed(solid)}"
            + (f"; {made.job.parts[solid['name']].words()}" if made.job else "")
        )
    if made.job and sum(count for _, count in things) > 1:
        lines += [f"  {bed.name}: {counted(len(bed.items), 'part')}; {bed.estimate.words()}" for bed in made.job.beds]
        lines.append(f"  all beds: {made.job.whole.words()}")
    for sheet in made.sheets:
        size = " x ".join(show_length(v, units) for v in sheet["size_mm"])
        name = sheet["name"] if sheet["copies"] == 1 else f"{sheet['name']} x {sheet['copies']}"
        lines.append(f"  sheet {name}: {size}, {counted(sheet['parts'], 'part')}, {sheet['used']:.0%} used")
    return lines


def _closed(solid: dict[str, Any]) -> str:
    return "closed" if solid["closed"] else "NOT CLOSED"
