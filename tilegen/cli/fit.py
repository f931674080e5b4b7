"""`tilegen fit`: who stands where, how to place a wall, which grid, what closes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import typer

from tilegen.cli.common import file_records, open_word, print_json, tell_messages, warn
from tilegen.cli.fit_parts import OnPlan, Search
from tilegen.cli.fit_words import tell
from tilegen.cli.options import FitWords
from tilegen.cli.telling import say
from tilegen.errors import InputError
from tilegen.fit.figures import base_of, figures_on, figures_record, reach_record
from tilegen.fit.finder import find_grid, found_record, thickest_wall, trade_off, trade_off_record
from tilegen.fit.loops import largest_loop, loops_record, play_for, rows_of, rows_record
from tilegen.fit.placements import (
    ConventionalGrid,
    Cost,
    WallPlacement,
    cost_of,
    cost_record,
    placements_on,
    placements_record,
    placements_without_plan,
)
from tilegen.grid import Grid, Over
from tilegen.jobs import Job, portable, write_files
from tilegen.lengths import Units, parse_length
from tilegen.making.plan import OpenPlan
from tilegen.model.tables import Measures
from tilegen.plans.messages import messages_record, plan_messages
from tilegen.reading.grids import make_grid

DEFAULT_FIGURES = ("1 in", "2 in")


def run_fit(
    plan: str | None, over: Over, asked: FitWords, *, out: Path | None, units: Units, as_json: bool, quiet: bool
) -> None:
    """Work out the numbers and show them; exit 1 if a figure does not fit."""
    _check_asked(plan, asked)
    opened = None if plan is None else open_word(plan, over)
    grid = make_grid(Measures(), "", over) if opened is None else opened.kit.grid
    reference = _reference(asked)
    on_plan = None if opened is None else _on_plan(opened, asked)
    placements = (
        placements_without_plan(grid, reference)
        if opened is None
        else placements_on(opened.drawing, opened.kit, reference)
    )
    search = _search(grid, over, asked) if asked.wants else None
    cost = cost_of(grid, reference)
    files = [] if out is None else _pictures(out, on_plan, placements, search, units)
    if as_json:
        print_json(_document(on_plan, placements, cost, search, files))
    elif not quiet:
        tell(on_plan, placements, cost, search, units)
        tell_messages(plan_messages(opened.drawing) if opened is not None else ())
        for record in files:
            say(record["path"])
    if not _all_fit(on_plan, search):
        raise typer.Exit(1)


def _check_asked(plan: str | None, asked: FitWords) -> None:
    """Refuse words that ask for nothing, or for something without what it needs."""
    if plan is None and not asked.wants:
        raise InputError(
            "neither a plan nor --want", expected="at least one of them", cure="tilegen fit --help says more"
        )
    if asked.largest_tile is not None and not asked.wants:
        raise InputError(f'"{asked.largest_tile}" and no --want', expected="--want beside it", place="--largest-tile")


def _length(text: str, place: str) -> float:
    try:
        return parse_length(text)
    except InputError as error:
        raise error.located(place=place) from None


def _figure(text: str, place: str) -> float:
    """A base as a length, or a creature size by name."""
    try:
        return base_of(text)
    except InputError as error:
        raise error.located(place=place) from None


def _reference(asked: FitWords) -> ConventionalGrid:
    if asked.reference is None:
        return ConventionalGrid()
    pitch, wall = (_length(text, "--reference") for text in asked.reference)
    reference = ConventionalGrid(pitch, wall)
    if not (pitch > 0 and 0 <= wall < pitch):
        raise InputError(
            f"spaces of {pitch:g} mm with walls of {wall:g} mm",
            expected="a wall thinner than a space",
            place="--reference",
        )
    return reference


def _on_plan(opened: OpenPlan, asked: FitWords) -> OnPlan:
    bases = [_figure(text, "--figure") for text in asked.figures or DEFAULT_FIGURES]
    figures = figures_on(opened.drawing, bases)
    error = _length(asked.tile_error, "--tile-error")
    rows = rows_of(opened.drawing, opened.kit, error)
    loop = largest_loop(opened.drawing, opened.kit)
    longest = max(rows.longest_tiles, loop.across if loop else 0, loop.down if loop else 0)
    return OnPlan(opened, figures, rows, loop, play_for(longest, error, opened.kit.grid.joint_play))


def _search(grid: Grid, over: Over, asked: FitWords) -> Search:
    """From a wall (the grid's, if none is given) or a largest tile; at a given pitch the thickest wall."""
    bases = [_figure(text, "--want") for text in asked.wants]
    largest = None if asked.largest_tile is None else _length(asked.largest_tile, "--largest-tile")
    wall: float | None = grid.wall_thickness
    if over.gives("grid", "pitch") and not over.gives("grid", "wall_thickness"):
        largest, wall = grid.tile_side, None
    elif largest is not None and not over.gives("grid", "wall_thickness"):
        wall = None
    found = find_grid(bases, wall=wall, largest_tile=largest, spaces=grid.spaces)
    shown = found.wall if found.wall > 0 else max(thickest_wall(bases, found.pitch, grid.spaces), grid.wall_thickness)
    return Search(found, trade_off(bases, shown, spaces=grid.spaces), shown)


def _all_fit(on_plan: OnPlan | None, search: Search | None) -> bool:
    figures = on_plan.figures if on_plan else ()
    return all(f.stands == f.positions > 0 for f in figures) and (search is None or search.found.done)


def _document(
    on_plan: OnPlan | None,
    placements: Sequence[WallPlacement],
    cost: Cost,
    search: Search | None,
    files: list[dict[str, str]],
) -> dict[str, Any]:
    document: dict[str, Any] = {}
    if on_plan is not None:
        document["plan"] = on_plan.plan.kit.plan
        document["messages"] = messages_record(plan_messages(on_plan.plan.drawing))
        document["figures"] = figures_record(on_plan.figures)
    document["placements"] = placements_record(tuple(placements))
    if on_plan is not None:
        document["rows"] = rows_record(on_plan.rows)
        document["reach"] = reach_record(on_plan.figures)
        document["loops"] = loops_record(on_plan.rows, on_plan.loop, on_plan.play, on_plan.plan.kit.grid.tile_side)
    document["cost"] = cost_record(cost)
    if search is not None:
        document["grid_found"] = found_record(search.found)
        document["trade_off"] = trade_off_record(search.rows)
    document["files"] = files
    return json.loads(json.dumps(document))  # type: ignore[no-any-return]


def _pictures(
    out: Path, on_plan: OnPlan | None, placements: Sequence[WallPlacement], search: Search | None, units: Units
) -> list[dict[str, str]]:
    """The same numbers drawn: who stands where, the four ways, the trade-off."""
    from tilegen.pictures.fit_view import fit_canvas
    from tilegen.pictures.placements_view import placements_canvas
    from tilegen.pictures.tradeoff_view import tradeoff_canvas

    canvases = {}
    folder, job = out, Job("fit")
    if on_plan is not None:
        drawing, kit = on_plan.plan.drawing, on_plan.plan.kit
        folder, job = out / portable(on_plan.plan.stem), replace(on_plan.plan.job, command="fit")
        for figure in on_plan.figures:
            canvases[f"fit-{figure.base:.2f}-mm"] = fit_canvas(drawing, kit, figure, units=units)
        canvases["placements"] = placements_canvas(drawing, kit, placements, units=units)
    if search is not None:
        bases = [figure.base for figure in search.found.figures]
        canvases["trade-off"] = tradeoff_canvas(search.rows, bases, search.wall, pitch=search.found.pitch, units=units)
    files = {}
    for name, canvas in canvases.items():
        files[f"fit/{name}.svg"] = canvas.svg().encode()
        files[f"fit/{name}.png"] = canvas.png()
    written = write_files(folder, files, job=job, manifest="fit/manifest.json", part=True, tell=warn)
    return file_records(folder, written)
