"""What `tilegen fit` says."""

from __future__ import annotations

from collections.abc import Sequence

from tilegen.cli.fit_parts import OnPlan, Search
from tilegen.cli.tables import plain_table, show
from tilegen.fit.loops import loop_error
from tilegen.fit.placements import Cost, WallPlacement
from tilegen.lengths import Units, counted, in_units, show_area, show_length


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
            f"{show_length(error.rss, units)} if independent; an error common to all tiles of one process cancels."
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
