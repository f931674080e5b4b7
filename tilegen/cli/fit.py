"""`tilegen fit`: who stands where, how to place a wall, which grid, what closes."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import typer

from tilegen.cli.common import file_records, open_word, plain_table, print_json, show, tell_messages, warn
from tilegen.cli.options import FitWords
from tilegen.cli.telling import command_line, say
from tilegen.errors import InputError
from tilegen.files.grids import make_grid
from tilegen.files.writing import Job, portable, write_files
from tilegen.fit.figures import Figure, base_of, figures_on, figures_record, reach_record
from tilegen.fit.finder import FoundGrid, TradeOff, find_grid, found_record, thickest_wall, trade_off, trade_off_record
from tilegen.fit.loops import Loop, Play, Rows, largest_loop, loop_error, loops_record, play_for, rows_of, rows_record
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
from tilegen.lengths import Units, counted, in_units, parse_length, show_area, show_length
from tilegen.making.plan import OpenPlan
from tilegen.messages import messages_record
from tilegen.model.grid import Grid, Over
from tilegen.model.tables import Measures
from tilegen.plans.to_decide import plan_messages

DEFAULT_FIGURES = ("1 in", "2 in")


@dataclass(frozen=True)
class OnPlan:
    """The numbers of a plan."""

    plan: OpenPlan
    figures: tuple[Figure, ...]
    rows: Rows
    loop: Loop | None
    play: Play


@dataclass(frozen=True)
class Search:
    """The grid that was looked for, and the trade-off round it."""

    found: FoundGrid
    rows: tuple[TradeOff, ...]
    wall: float


def run_fit(
    plan: str | None,
    over: Over,
    asked: FitWords,
    *,
    out: Path | None,
    units: Units,
    as_json: bool,
    quiet: bool,
    verbose: bool,
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
        tell_messages(plan_messages(opened.drawing) if opened is not None else (), units, verbose=verbose)
        for record in files:
            say(record["path"])
    if not _all_fit(on_plan, search):
        raise typer.Exit(1)


def tell(
    on_plan: OnPlan | None, placements: Sequence[WallPlacement], cost: Cost, search: Search | None, units: Units
) -> None:
    """All of it as tables and sentences on standard output."""
    if on_plan is not None:
        _tell_figures(on_plan, units)
    _tell_placements(placements, cost, units)
    if on_plan is not None:
        _tell_loops(on_plan, units)
    if search is not None:
        _tell_search(search, units)


def _tell_figures(on_plan: OnPlan, units: Units) -> None:
    rows = []
    for figure in on_plan.figures:
        verdict = "stands everywhere" if figure.stands == figure.positions > 0 else "does not stand everywhere"
        if figure.rooms_unreached:
            verdict += ", can't get to all rooms"
        first = ", ".join(f"[{c}, {r}]" for c, r in figure.blocked[:6].tolist())
        rows.append(
            (
                show_length(figure.base, units),
                str(figure.spaces_across),
                f"{figure.stands} of {figure.positions}",
                verdict,
                show_length(figure.least, units),
                first + (" ..." if len(figure.blocked) > 6 else ""),
                ", ".join(figure.rooms_unreached),
            )
        )
    headings = ("base", "spaces", "stands at", "", "tightest position takes", "blocked (first space)", "can't get to")
    show(plain_table(headings, rows, f"{on_plan.plan.kit.plan}: who stands where"))


def _tell_placements(placements: Sequence[WallPlacement], cost: Cost, units: Units) -> None:
    rows = [
        (
            p.name,
            show_length(p.pitch, units),
            show_length(p.wall_thickness, units),
            show_length(p.hall_clear, units),
            show_length(p.largest_base, units),
            show_length(p.largest_aligned, units),
            show_area(p.clash_area, units),
            show_length(p.worst_gap, units),
        )
        for p in placements
    ]
    headings = ("way", "space", "wall", "10 ft hall clear", "largest base", "on whole squares", "clash", "worst gap")
    show(plain_table(headings, rows, "Four ways to place a wall"))
    show(
        f"Room for the wall costs {cost.length_lost:.0%} of the table's length, {cost.area_lost:.0%} of its area, "
        "against the conventional grid."
    )


def _tell_loops(on_plan: OnPlan, units: Units) -> None:
    rows, play, loop = on_plan.rows, on_plan.play, on_plan.loop
    show(
        f"Longest row: {counted(rows.longest_tiles, 'tile')}. With {show_length(rows.tile_error, units)} of error "
        f"each: {show_length(rows.worst_case, units)} at worst, {show_length(rows.rss, units)} if independent."
    )
    if loop is not None:
        error = loop_error(max(loop.across, loop.down), rows.tile_error)
        show(
            f"Largest loop: {counted(loop.tiles, 'tile')}, {loop.across} across and {loop.down} down, round cell "
            f"[{loop.first_cell[0]}, {loop.first_cell[1]}]: {show_length(error.worst_case, units)} at worst, "
            f"{show_length(error.rss, units)} if independent; an error that all tiles share does not matter."
        )
    verdict = "rows and loops close" if play.closes else f"too little: {show_length(play.least, units)} would always do"
    widest, likely = show_length(play.widest_seam, units), show_length(play.likely, units)
    show(f"Play {show_length(play.play, units)}: {verdict}. Seams are up to {widest} wide; {likely} would likely do.")


def _tell_search(search: Search, units: Units) -> None:
    found = search.found
    if found.done:
        show(
            f"Grid found: pitch {show_length(found.pitch, units)}, wall {show_length(found.wall, units)}, "
            f"tile {show_length(found.tile_side, units)}."
        )
    else:
        show("No grid of this kind will do.")
    for text in found.cannot:
        show(f"  {in_units(text, units)}")
    rows = [
        (
            show_length(row.pitch, units),
            show_length(row.one_space_hall, units),
            show_length(row.two_space_hall, units),
            show_length(row.corner, units),
            show_length(row.beside_post, units),
            f"{row.length_lost:.0%}",
            f"{row.stand} of {len(found.figures)}",
        )
        for row in search.rows
    ]
    headings = (
        "pitch",
        "one-space hall",
        "two-space hall",
        "corner",
        "beside a post",
        "table lost",
        "wanted that stand",
    )
    show(plain_table(headings, rows, f"Largest base at each pitch, walls of {show_length(search.wall, units)}"))


def _check_asked(plan: str | None, asked: FitWords) -> None:
    """Refuse words that ask for nothing, or for something without what it needs."""
    if plan is None and not asked.wants:
        raise InputError(
            "there is no plan and no size of a base",
            cure=f"Give a plan, or the size of a base, as in: {command_line('fit', '--want', '2 in')}",
        )
    if asked.largest_tile is not None and not asked.wants:
        raise InputError(
            "a largest tile is only used to look for a grid", cure="Add --want with a base", place="--largest-tile"
        )


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
            f"walls of {wall:g} mm can't go with spaces of {pitch:g} mm",
            cure="Give the space first, and a wall that is thinner",
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
