"""`tilegen kit`: which tiles, how many; what must be on the table at once; what is owned already."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from tilegen.cli.common import file_records, open_word, plain_table, print_json, show, tell_messages, warn
from tilegen.cli.options import KitWords
from tilegen.cli.telling import say
from tilegen.errors import InputError
from tilegen.files.stock import read_shelf
from tilegen.files.writing import portable, write_files
from tilegen.lengths import Units, counted, show_length
from tilegen.making.asked import Covering
from tilegen.making.connecting import connector_totals
from tilegen.making.lists import sides_of
from tilegen.making.plan import Needs, OpenPlan, cover_words, work_out_needs
from tilegen.model.grid import Over
from tilegen.plans.kit import Kit
from tilegen.plans.layout import layout_numbers
from tilegen.plans.record import kit_json
from tilegen.plans.route import Stop, make_route, route_record
from tilegen.plans.several import SharedKit, share_kit, shared_record
from tilegen.plans.shelf import Ranked, rank_plans, rank_record
from tilegen.plans.sight import visible_from
from tilegen.plans.to_decide import plan_messages
from tilegen.tiles.shape import SIDES


def run_kit(
    plans: Sequence[str],
    over: Over,
    words: KitWords,
    cover: Covering,
    out: Path,
    *,
    units: Units,
    as_json: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    """Count one plan's kit, or one kit for several plans, and show it."""
    if words.choices:
        _check_one(plans, "--choices")
        _choices(plans[0], over, cover, as_json=as_json, quiet=quiet)
        return
    opened = [open_word(word, over, cover, words.own) for word in plans]
    if len(opened) == 1:
        _one(opened[0], words, out, units=units, as_json=as_json, quiet=quiet, verbose=verbose)
        return
    for option, given in (("--in-sight", words.in_sight), ("--by-room", words.by_room), ("--from", words.sight_from)):
        if given:
            _check_one(plans, option)
    shared = share_kit([plan.kit for plan in opened], together=words.together)
    ranked = rank_plans([plan.kit for plan in opened], read_shelf(words.own)) if words.own else ()
    if as_json:
        record = shared_record(shared)
        print_json({**record, "ranking": rank_record(ranked)} if words.own else record)
    elif not quiet:
        _tell_shared(shared, ranked)


def _check_one(plans: Sequence[str], option: str) -> None:
    if len(plans) > 1:
        raise InputError(f"this works on one plan, not on {len(plans)}", cure="Name one plan", place=option)


def _choices(word: str, over: Over, cover: Covering, *, as_json: bool, quiet: bool) -> None:
    """The choices of the set side by side."""
    # Counting a kit needs neither solids nor sheets, which take longer to import.
    from tilegen.making.asked import Tools
    from tilegen.making.choices import compare_choices
    from tilegen.making.workshop import open_workshop

    if cover.pieces is not None:
        raise InputError("larger pieces keep their posts", cure="Leave --pieces out", place="--choices")
    workshop = open_workshop(Tools())
    found = list(compare_choices(lambda grid: open_word(word, grid, cover).kit, over, workshop))
    if as_json:
        print_json({"choices": [choice.record() for choice in found]})
    elif not quiet:
        priced = any(choice.cost is not None for choice in found)
        heads = ("posts", "doorways", "kinds of tile", "tiles", "loose pieces", "shapes in all", "hours", "sheets")
        rows = [
            (
                *(c.posts, c.doorways, *map(str, (c.types, c.tiles, c.pieces, c.shapes)), f"{c.print_hours:.0f}"),
                *c.paid[: 2 if priced else 1],
            )
            for c in found
        ]
        title = "Posts and doorways: choose with --posts and --doorways, or under [set]"
        show(plain_table((*heads, *(["cost"] if priced else [])), rows, title))
        stock = workshop.stocks[0].base.title
        say(f"Hours: {workshop.printer.title}, beds full. Sheets: {stock}, at least so many by area.")


def _one(
    plan: OpenPlan, words: KitWords, out: Path, *, units: Units, as_json: bool, quiet: bool, verbose: bool
) -> None:
    kit = plan.kit
    needs = work_out_needs(plan, words)
    stops = make_route(plan.drawing, kit, _way_in(words.way_in)) if words.by_room or words.way_in else ()
    files = _sight_picture(plan, words, out, units) if words.sight_from else []
    totals = needs.totals() | connector_totals(kit, plan.drawing) | _cover_totals(plan)
    if as_json and (stops or files):
        document = _parsed(kit, needs, totals)
        document |= {"rooms": route_record(tuple(stops))} if stops else {}
        print_json(document | ({"files": files} if files else {}))
    elif as_json:
        for text in kit_json(kit, needs.more(kit), totals):
            sys.stdout.write(text)
        sys.stdout.write("\n")
    elif not quiet:
        _tell(kit, needs, stops, units)
        tell_messages(plan_messages(plan.drawing), units, verbose=verbose)
        if plan.cover is not None:
            show(cover_words(plan.cover))
        for name, count in connector_totals(kit, plan.drawing).items():
            say(f"{name}: {count}")
        for record in files:
            say(record["path"])


def _cover_totals(plan: OpenPlan) -> dict[str, int]:
    """What `--pieces` adds to the totals."""
    cover = plan.cover
    if cover is None:
        return {}
    return {"squares": cover.squares, "least_pieces": cover.least, "least_rectangles": cover.rectangles}


def _parsed(kit: Kit, needs: Needs, totals: dict[str, int]) -> dict[str, Any]:
    import json

    document: dict[str, Any] = json.loads("".join(kit_json(kit, needs.more(kit), totals)))
    return document


def _cell(text: str, place: str) -> tuple[int, int]:
    match = re.fullmatch(r"\s*(\d{1,7})\s*,\s*(\d{1,7})\s*", text)
    if match is None:
        raise InputError(
            f'"{text}" is not a cell', cure="Write column,row counted from the top left, as in 3,2", place=place
        )
    return int(match[1]), int(match[2])


def _way_in(text: str | None) -> tuple[tuple[int, int], str] | None:
    """A way in as written on the command line: column,row,side."""
    if text is None:
        return None
    cell, _, side = text.rpartition(",")
    if side.strip() not in ("north", "east", "south", "west"):
        raise InputError(f'"{text}" is not a way in', cure="Write column,row,side, as in 1,1,west", place="--way-in")
    return _cell(cell, "--way-in"), side.strip()


def _sight_picture(plan: OpenPlan, words: KitWords, out: Path, units: Units) -> list[dict[str, str]]:
    from tilegen.pictures.sight_view import sight_canvas

    cell = _cell(words.sight_from or "", "--from")
    try:
        seen = visible_from(plan.drawing, cell, plan.kit, doors_open=words.doors_open)
    except InputError as error:
        raise error.located(file=str(plan.path), place="--from") from None
    canvas = sight_canvas(plan.drawing, plan.kit, seen, cell, doors_open=words.doors_open, units=units)
    name = f"sight/from-{cell[0]}-{cell[1]}"
    files = {f"{name}.svg": canvas.svg().encode(), f"{name}.png": canvas.png()}
    folder, job = out / portable(plan.stem), replace(plan.job, command="kit")
    return file_records(
        folder, write_files(folder, files, job=job, manifest="sight/manifest.json", part=True, tell=warn)
    )


def _tell(kit: Kit, needs: Needs, stops: Sequence[Stop], units: Units) -> None:
    columns: dict[str, dict[str, str]] = {}
    if needs.sight is not None:
        columns["in sight"] = {t.tile.id: str(n) for t, n in zip(kit.types, needs.sight.most, strict=True)}
    if needs.stock is not None:
        entries = (*needs.stock.tiles, *needs.stock.pieces)
        columns["own"] = {entry.id: str(entry.own) for entry in entries}
        columns["make"] = {key: str(count) for key, count in (needs.tiles | needs.pieces).items()}
        columns["spare"] = {entry.id: str(entry.spare) for entry in entries}
    show(kit_table(kit, units, columns))
    if needs.sight is not None:
        column, row = needs.sight.most_where
        show(
            f"In sight at once: {counted(needs.sight.tiles, 'tile')} to lay all that can be seen from any one place; "
            f"most are seen from [{column}, {row}], {counted(needs.sight.most_tiles, 'tile')}."
        )
    if needs.stock is not None and needs.stock.unused:
        show(
            "You own these, but this map does not use them: "
            + ", ".join(f"{count} x {name}" for name, count in needs.stock.unused)
        )
    if stops:
        show(rooms_table(stops))


def kit_table(kit: Kit, units: Units, columns: Mapping[str, Mapping[str, str]]) -> object:
    """The kit: count, name, id, sides and posts of each type; columns: further ones by heading, values by id."""
    grid, numbers = kit.grid, layout_numbers(kit)
    title = (
        f"{kit.plan}: {counted(kit.tiles, 'tile')} of {counted(len(kit.types), 'type')}, "
        f"each {show_length(grid.tile_side, units)} with walls of {show_length(grid.wall_thickness, units)}"
    )
    rows: list[tuple[str, ...]] = []
    for t in kit.types:
        edges, posts = sides_of(t.tile)
        extra = [values.get(t.tile.id, "") for values in columns.values()]
        rows.append((numbers[t.tile.id], str(t.count), *extra, t.name, t.tile.id, *edges, ", ".join(posts)))
    for p in kit.pieces:
        extra = [values.get(p.piece.id, "") for values in columns.values()]
        rows.append((numbers[p.piece.id], str(p.count), *extra, p.name, p.piece.id, "", "", "", "", ""))
    return plain_table(("no.", "count", *columns, "tile", "id", *SIDES, "posts"), rows, title)


def rooms_table(stops: Sequence[Stop]) -> object:
    """The lay-out list: rooms in the order the party meets them, with the tiles for each."""
    rows = []
    for number, stop in enumerate(stops, 1):
        tiles = ", ".join(f"{count} {name}" for name, _, count in (*stop.tiles, *stop.pieces))
        came = "the way in" if stop.steps == 0 else "no way" if stop.came_from is None else f"{stop.came_from}"
        rows.append((str(number), f"{stop.room} {stop.title}".strip(), came, tiles))
    return plain_table(("no.", "room", "from", "have ready"), rows, "Room by room")


def _tell_shared(shared: SharedKit, ranked: Sequence[Ranked]) -> None:
    how = "all of them at once" if shared.together else "any one of them"
    rows = [(str(t.count), t.name, t.tile.id, *map(str, t.counts)) for t in shared.types]
    rows += [(str(p.count), p.name, p.piece.id, *map(str, p.counts)) for p in shared.pieces]
    title = f"One kit of {counted(shared.tiles, 'tile')} that lays {how}"
    show(plain_table(("count", "tile", "id", *shared.plans), rows, title))
    if ranked:
        lines = [(r.plan, str(r.tiles), str(r.missing_tiles), str(r.missing_pieces)) for r in ranked]
        show(plain_table(("plan", "tiles", "tiles missing", "pieces missing"), lines, "What the shelf lays"))
