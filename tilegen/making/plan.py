"""A plan, from its file to everything that is made of it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from itertools import product
from math import fsum
from pathlib import Path
from typing import Any, get_args

from tilegen.errors import AnswerIsNo, InputError
from tilegen.files.plans import read_plan
from tilegen.files.stock import read_shelf
from tilegen.files.times import Times
from tilegen.files.writing import Job, Tell, Written, file_stem, job_of, write_files
from tilegen.lengths import Units, counted
from tilegen.making.asked import Covering, PlanPart, Share
from tilegen.making.connecting import (
    cautions_for,
    connector_files,
    connector_items,
    connector_notes,
    connector_record,
    connector_totals,
    shopping_rows,
    with_keys,
)
from tilegen.making.dungeon import dungeon_files
from tilegen.making.limits import Fit, limits_of, most_rooms
from tilegen.making.lists import (
    blade_metres,
    boxes_for,
    costs_csv,
    kit_csv,
    rooms_csv,
    shopping_csv,
    wire_items,
    wire_rows,
)
from tilegen.making.things import (
    LARGE,
    Made,
    add_cut_pages,
    list_stocks,
    make_cut,
    make_printed,
    mixed_messages,
    things_of,
)
from tilegen.making.work import work_messages
from tilegen.making.workshop import Workshop, times_notes
from tilegen.messages import Message
from tilegen.model.grid import Doorways, Over, Posts
from tilegen.pictures.choices_view import Bar
from tilegen.pictures.cut_pages import CutJob
from tilegen.pictures.layout import layout_canvas
from tilegen.pictures.report import FEW, Report, report_html
from tilegen.pictures.soft_view import soft_png, tints_of
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, make_kit
from tilegen.plans.larger import Cover, cover_floor, read_kinds
from tilegen.plans.layout import layout_numbers
from tilegen.plans.record import kit_json
from tilegen.plans.route import Route, Stop, make_route, route_record
from tilegen.plans.shelf import Shelf, Stocktaking, shelf_toml, take_stock
from tilegen.plans.sight import InSight, in_sight
from tilegen.plans.to_decide import plan_messages
from tilegen.sheets.sheetset import SheetSet
from tilegen.sheets.templates import core_rows
from tilegen.solids.build import Mesh, build_mesh
from tilegen.tiles.loose import Things

# The folders that a build writes into, from its own.
FOLDERS = (".", "solids", "sheets", "connectors", "pictures")
# What is owned once all of it is made, where limits leave some for later.
SHELF = "shelf.toml"


@dataclass(frozen=True)
class OpenPlan:
    """A plan read, worked out and counted; path: its file, if it has one; cover: how larger pieces cover it.

    over: what went over the file's own measures.
    """

    drawing: Drawing
    kit: Kit
    path: Path | None = None
    cover: Cover | None = None
    over: Over = Over()  # noqa: RUF009 - it is frozen

    @property
    def job(self) -> Job:
        """Who writes the files of a build of it."""
        return job_of("build", self.path, self.kit.plan)

    @property
    def stem(self) -> str:
        """What its folder is called."""
        return self.path.stem if self.path else file_stem(self.drawing.name) or "plan"


def open_plan(
    path: Path,
    over: Over = Over(),  # noqa: B008 - it is frozen
    covering: Covering = Covering(),  # noqa: B008
    own: Path | None = None,
) -> OpenPlan:
    """Read a plan file and count its kit.

    over: what goes over the file's own measures. own: a shelf, whose pieces a cover takes first.

    Raises:
        InputError: not found, or something in it is wrong.
    """
    drawing = read_plan(path, over)
    lattice = covering.first_block()
    if lattice is not None and drawing.by_tiles:
        raise InputError(
            "on a plan of 10 ft every cell is a tile: there is nothing to choose",
            cure='Leave out --lattice, or draw the plan at scale = "5 ft"',
            place="--lattice",
        )
    try:
        if covering.pieces is None:
            return OpenPlan(drawing, make_kit(drawing, lattice), path, over=over)
        owned = owned_by_id(make_kit(drawing), read_shelf(own).tiles) if own else {}
        cover = cover_floor(drawing, read_kinds(covering.pieces), owned=owned, least=covering.least)
        return OpenPlan(drawing, cover.kit, path, cover, over)
    except InputError as error:
        raise error.located(file=str(path)) from None


def kits_by_choice(kit_of: Callable[[Over], Kit], over: Over) -> Iterator[tuple[Posts, Doorways, Kit]]:
    """A plan's kit with every choice of posts and doorways, fixed ones first. kit_of: the kit on a grid."""
    for doorways, posts in product(get_args(Doorways), get_args(Posts)):
        tables = {**over.tables, "set": {**over.tables.get("set", {}), "posts": posts, "doorways": doorways}}
        yield posts, doorways, kit_of(replace(over, tables=tables))


def _choices(plan: OpenPlan) -> list[Bar]:
    """What each choice of posts and doorways takes; nothing where there is none to make, or it would save little."""
    path, chosen = plan.path, plan.kit.grid.set
    few = (chosen.posts, chosen.doorways) == ("fixed", "fixed") and len(plan.kit.types) <= FEW
    if path is None or plan.cover is not None or not plan.drawing.by_tiles or few:
        return []
    try:
        found = list(kits_by_choice(lambda over: open_plan(path, over).kit, plan.over))
    except InputError:
        # Walls or bases may be too thin for loose posts.
        return []
    return [
        Bar(
            posts,
            doorways,
            len(kit.types),
            len(kit.pieces),
            kit.tiles,
            sum(piece.count for piece in kit.pieces),
            (posts, doorways) == (chosen.posts, chosen.doorways),
        )
        for posts, doorways, kit in found
    ]


def owned_by_id(kit: Kit, shelf: Mapping[str, int]) -> dict[str, int]:
    """What a shelf holds, by id: single squares may stand there by name, larger pieces by their id."""
    ids = {t.name: t.tile.id for t in kit.types}
    found: dict[str, int] = {}
    for word, count in shelf.items():
        key = ids.get(word, word.rsplit("-", 1)[-1].upper())
        found[key] = found.get(key, 0) + count
    return found


def cover_words(cover: Cover) -> str:
    """How good a cover is, in one line."""
    proven = (
        "this is the fewest possible with these pieces" if cover.proven else f"at least {cover.least} would be needed"
    )
    return (
        f"{counted(cover.squares, 'square')} covered by {counted(cover.pieces, 'piece')}; {proven}; "
        f"rectangles of any size: at least {cover.rectangles}."
    )


@dataclass(frozen=True)
class BuiltPlan:
    """One plan's outcome; more, totals: what is added to the kit's JSON. part: how much was asked for.

    messages: about the plan and about what is made of it, each once. rooms: where limits allow only some.
    """

    job: Job
    kit: Kit
    made: Made
    more: dict[str, dict[str, Any]]
    totals: dict[str, int]
    connectors: dict[str, Any]
    cautions: Sequence[str]
    part: PlanPart
    messages: tuple[Message, ...]
    rooms: FirstRooms | None


@dataclass(frozen=True)
class Needs:
    """How many of each type to make, by id, and how that came about."""

    sight: InSight | None
    stock: Stocktaking | None
    tiles: dict[str, int]
    pieces: dict[str, int]

    def more(self, kit: Kit) -> dict[str, dict[str, Any]]:
        """What is added to each tile of the kit's JSON: `in_sight`, `own`, `make`."""
        found: dict[str, dict[str, Any]] = {t.tile.id: {} for t in kit.types}
        if self.sight is not None:
            for kind, most in zip(kit.types, self.sight.most, strict=True):
                found[kind.tile.id]["in_sight"] = most
        if self.stock is not None:
            for entry in self.stock.tiles:
                found[entry.id] |= {"own": entry.own, "make": self.tiles[entry.id]}
        return found

    def totals(self) -> dict[str, int]:
        """What is added to the totals."""
        return {} if self.sight is None else {"in_sight_tiles": self.sight.tiles}


def work_out_needs(plan: OpenPlan, share: Share, others: Sequence[Kit] = ()) -> Needs:
    """What to make of a plan's kit. others: kits whose names a shelf may use too.

    Raises:
        InputError: a shelf that can't be read or names an unknown tile.
    """
    kit = plan.kit
    seen = in_sight(plan.drawing, kit, doors_open=share.doors_open) if share.in_sight else None
    stock = take_stock(kit, read_shelf(share.own), others) if share.own is not None else None
    wanted = {t.tile.id: t.count if seen is None else seen.most[i] for i, t in enumerate(kit.types)}
    pieces = {p.piece.id: p.count for p in kit.pieces}
    owned = {} if stock is None else {entry.id: entry.own for entry in (*stock.tiles, *stock.pieces)}
    return Needs(
        seen,
        stock,
        {key: max(0, count - owned.get(key, 0)) for key, count in wanted.items()},
        {key: max(0, count - owned.get(key, 0)) for key, count in pieces.items()},
    )


@dataclass(frozen=True, eq=False)
class FirstRooms:
    """The first rooms of a plan, in the order the party meets them, as many as limits allow.

    plan: these rooms alone. stops: of all rooms. things: what is made for these rooms; left: for the others.
    """

    plan: OpenPlan
    stops: tuple[Stop, ...]
    fit: Fit
    things: Things
    left: Things

    @property
    def told(self) -> list[str]:
        """What is made and what is not, in sentences."""
        fit, rooms = self.fit, len(self.stops)
        which = (
            f"{fit.number} of {rooms} rooms"
            if fit.number < rooms
            else f"all {rooms} rooms"
            if rooms > 1
            else "the one room"
        )
        said = [
            f"This is {which}, in the order the party meets them.",
            f"It takes {fit.words(fit.takes)}; your limit is {fit.words(fit.limits)}.",
        ]
        if fit.number < rooms:
            left = sum(count for _, count in self.left)
            said += [self._next, f"Left for next time: {left} tiles and loose pieces."]
        return said

    @property
    def on_paper(self) -> list[str]:
        """The same with which rooms these are."""
        these, *rest = self.told
        return [these, f"They are: {', '.join(map(room_words, self.stops[: self.fit.number]))}.", *rest]

    @property
    def _next(self) -> str:
        """Why there are no more rooms."""
        fit, room = self.fit, room_words(self.stops[self.fit.number])
        takes = f"it would be {fit.words(fit.too_much)}" if fit.too_much else "there is too little stock"
        if fit.proven:
            return f"With the next room, {room}, {takes}."
        words = f"With the next room, {room}, {takes} as the parts were set out"
        return f"{words}; by their area {counted(fit.bound, 'room')} might be possible."

    def record(self) -> dict[str, Any]:
        """For the JSON."""
        return {
            "built": self.fit.number,
            "bound": self.fit.bound,
            "proven": self.fit.proven,
            "takes": dict(self.fit.takes),
            "made": route_record(self.stops[: self.fit.number]),
            "left": route_record(self.stops[self.fit.number :]),
        }


def room_words(stop: Stop) -> str:
    """A room by its title, or its letter."""
    return stop.title or f"room {stop.room}"


def first_rooms(plan: OpenPlan, workshop: Workshop, part: PlanPart, others: Sequence[Kit]) -> FirstRooms:
    """The first rooms of a plan, as many as the limits allow.

    Raises:
        InputError: limits that don't go together with what else is asked, see `limits_of` and `most_rooms`.
        AnswerIsNo: not even the first room that takes anything keeps within the limits.
    """
    limits = limits_of(part, part.make)
    for option, given in (("--only", part.only), ("--in-sight", part.in_sight)):
        if given:
            raise InputError("this and a limit are two ways to make less", cure="Leave one of them out", place=option)
    route, known = Route.of(plan.drawing, plan.kit), (*others, plan.kit)

    def opened(number: int) -> OpenPlan:
        drawing, kit = route.first(number)
        return replace(plan, drawing=drawing, kit=kit, cover=None)

    def things(number: int) -> Things:
        return _to_make(opened(number), part, known)[1]

    fit = most_rooms(len(route.stops), things, limits, workshop, part.make)
    made = things(fit.number)
    if fit.number < len(route.stops) and not made:
        room = room_words(route.stops[fit.number])
        takes = fit.words(fit.too_much) or "more sheets than there are"
        raise AnswerIsNo(
            f"the {'next' if fit.number else 'first'} room, {room}, takes {takes}, and you allow {fit.words(limits)}. "
            "Allow more, or make single tiles with --only TILE"
        )
    before = {thing.id: count for thing, count in made}
    left = [(thing, count - before.get(thing.id, 0)) for thing, count in things(len(route.stops))]
    return FirstRooms(opened(fit.number), route.stops, fit, made, [one for one in left if one[1]])


def _to_make(plan: OpenPlan, part: PlanPart, others: Sequence[Kit]) -> tuple[Needs, Things, dict[str, int]]:
    """What a plan needs, what is made for it, and what its totals say besides."""
    needs = work_out_needs(plan, part, others)
    totals = needs.totals() | connector_totals(plan.kit, plan.drawing)
    things = things_of(plan.kit, needs.tiles | needs.pieces, part.only)
    return needs, with_keys(things, 0 if part.only else totals.get("keys", 0)), totals


def build_plan(
    plan: OpenPlan,
    workshop: Workshop,
    *,
    part: PlanPart = PlanPart(),  # noqa: B008 - it is frozen
    others: Sequence[Kit] = (),
    units: Units = "mm",
    tell: Callable[[str], None] = lambda _: None,
    warn: Callable[[Message], None] = lambda _: None,
) -> BuiltPlan:
    """All files of a plan, in memory.

    others: kits whose names a shelf may use too. tell: called with a word on each stage that begins. warn: called with
    what to know before the work begins.

    Raises:
        InputError: a tile named in `only` that is not in the kit, a wrong shelf, a part that fits no bed or sheet.
        AnswerIsNo: not enough stock.
    """
    whole, rooms = plan, first_rooms(plan, workshop, part, others) if part.limits else None
    plan = plan if rooms is None else rooms.plan
    drawing, kit = plan.drawing, plan.kit
    needs, things, totals = _to_make(plan, part, others)
    shown = _only(kit, {thing.id for thing, _ in things}) if part.only else kit
    shown = shown if rooms is None else _only(kit, _laid(kit))
    seams = 0 if part.only else totals.get("keys", 0)
    more = needs.more(kit)
    made, numbers = Made(), layout_numbers(kit)
    stops = make_route(drawing, kit) if rooms is None else rooms.stops[: rooms.fit.number]
    made.files["kit.json"] = ("".join(kit_json(shown, more, totals)) + "\n").encode()
    made.files["kit.csv"] = kit_csv(
        shown, numbers, [*connector_items(things, seams), *(wire_items(things) if part.printed else ())]
    )
    made.files["rooms.csv"] = rooms_csv(stops, numbers)
    if rooms is not None:
        made.files[SHELF] = _shelf_then(whole.kit, things, part, others)
    listed = list_stocks(things, workshop) if part.cut and things else []
    larger = drawing if plan.cover is None and part.whole_kit else None
    made.messages += [*times_notes(workshop), *(work_messages(things, workshop, listed, larger) if listed else ())]
    for message in made.messages:
        warn(message)
    tell("solids")
    # The report's pictures show solids, whatever they are made of.
    pictured = [] if part.printed else [build_mesh(thing.name, thing.plates) for thing, _ in things]
    meshes = make_printed(made, things, workshop) if part.printed else pictured
    printed = len(made.messages)
    tell("sheets")
    try:
        sets = make_cut(made, things, workshop, numbers, units=units, listed=listed) if part.cut else []
    except AnswerIsNo as error:
        here = sum(size.count or 0 for material in workshop.materials for size in material.sizes)
        raise AnswerIsNo(f"{error}, or add --most-sheets {here} to make the rooms that it is enough for") from None
    cutting = made.messages[printed:]
    made.files["shopping.csv"] = shopping_of(made, sets, things, meshes, workshop, seams=seams)
    made.messages += [*connector_notes(things), *mixed_messages(things, printed=part.printed, cut=part.cut)]
    made.files |= connector_files(things, workshop.asked.pages)
    add_costs(made, sets, things, numbers)
    limited, left = ((), ()) if rooms is None else (rooms.on_paper, rooms.stops[rooms.fit.number :])
    tell("layout and report")
    if sets:
        pages = CutJob(drawing.name or plan.stem, sets, things, numbers, drawing=drawing, kit=kit, units=units)
        add_cut_pages(made, sets, workshop, replace(pages, limited=limited))
    made.files |= _layout_files(plan, units)
    if workshop.asked.pictures:
        made.files |= dict(_pictures(things, meshes))
    if part.whole_kit:
        by_id = {thing.id: mesh for (thing, _), mesh in zip(things, meshes, strict=True)}
        made.files |= dungeon_files(kit, drawing, by_id, figures=part.figures, fine=workshop.asked.pictures)
    covered = [] if plan.cover is None else [Message("note", cover_words(plan.cover))]
    messages = tuple(dict.fromkeys([*covered, *plan_messages(whole.drawing), *made.messages]))
    report = Report(
        drawing,
        shown,
        things,
        meshes,
        sets,
        made.files,
        messages,
        workshop.printer,
        stops,
        made.job,
        about := cautions_for(things),
        numbers,
        cutting,
        limited,
        left,
        _choices(whole),
        workshop.times,
    )
    made.files["report.html"] = report_html(report, units=units).encode()
    return BuiltPlan(plan.job, shown, made, more, totals, connector_record(things), about, part, messages, rooms)


def _pictures(things: Things, meshes: Sequence[Mesh]) -> Iterator[tuple[str, bytes]]:
    """Each type by itself, large."""
    for (thing, _), mesh in zip(things, meshes, strict=True):
        drawn = soft_png(mesh.vertices, mesh.triangles, tints_of(thing, mesh), size=LARGE)
        yield f"pictures/{mesh.name}.png", drawn


def _layout_files(plan: OpenPlan, units: Units) -> dict[str, bytes]:
    """The layout as pictures."""
    canvas = layout_canvas(plan.drawing, plan.kit, units=units)
    return {"layout.svg": canvas.svg().encode(), "layout.png": canvas.png()}


def _only(kit: Kit, kept: AbstractSet[str]) -> Kit:
    """The kit with no other types than these, by id."""
    types = tuple(t for t in kit.types if t.tile.id in kept)
    return replace(kit, types=types, pieces=tuple(p for p in kit.pieces if p.piece.id in kept))


def _laid(kit: Kit) -> set[str]:
    """The types that lie anywhere, by id."""
    return {t.tile.id for t in kit.types if t.count} | {p.piece.id for p in kit.pieces if p.count}


def _shelf_then(kit: Kit, made: Things, part: PlanPart, others: Sequence[Kit]) -> bytes:
    """The shelf once these are made."""
    shelf = read_shelf(part.own) if part.own else Shelf()
    stock, counts = take_stock(kit, shelf, others), {thing.id: count for thing, count in made}
    rows = [(one.id, one.name, one.own + counts.get(one.id, 0)) for one in (*stock.tiles, *stock.pieces)]
    return shelf_toml(rows, shelf, [stock])


def shopping_of(
    made: Made, sets: Sequence[SheetSet], things: Things, meshes: Sequence[Mesh], workshop: Workshop, *, seams: int
) -> bytes:
    """What to buy for what is made. seams: places where two tiles meet, for keys and magnets."""
    sheets = [(s.material.title, s.purpose, size, count) for s in sets for size, count in s.new_sheets.items()]
    glue = [(s.material.glue, s.gluing.grams(s.material)) for s in sets if s.material.glue and s.gluing.joints]
    hours = [(s.material.title, s.minutes / 60, _how_sure(s, workshop.times), s.material.gluing.drying) for s in sets]
    sizes = [(mesh.size, count) for mesh, (_, count) in zip(meshes, things, strict=True)]
    # A leaf that is cut hangs on tape.
    wires = wire_rows(things) if made.job else []
    return shopping_csv(
        job=made.job,
        sheets=sheets,
        glue=glue,
        cut_metres=blade_metres(sets, workshop.machine),
        boxes=boxes_for(sizes),
        more=[*shopping_rows(things, seams), *wires, *(row for s in sets for row in core_rows(s.cores))],
        hours=hours,
    )


def _how_sure(sheets: SheetSet, times: Times) -> str:
    """How sure the hours by hand of a set are, in words."""
    found = (
        (sheets.cutting_minutes, times.pace("cut", sheets.machine.name)),
        (sheets.gluing_minutes, times.pace("glue", sheets.material.kin)),
    )
    if not any(pace.entries for _, pace in found):
        return "a rough estimate: half as long or twice as long is possible"
    low, high = (
        fsum(m / p.factor * bound / 60 for (m, p), bound in zip(found, bounds, strict=True))
        for bounds in zip(*(p[1:3] for _, p in found), strict=True)
    )
    return f"by your log: {low:.1f} to {high:.1f} hours"


def add_costs(made: Made, sets: Sequence[SheetSet], things: Things, numbers: Mapping[str, str]) -> None:
    """What each type costs, where the stock files give prices."""
    counts = {thing.id: count for thing, count in things}
    rows = []
    for sheets in sets:
        each = sheets.cost_of_each(counts)
        if each is not None:
            rows += [(sheets.material.name, t.name, t.id, n, each.get(t.id, 0.0)) for t, n in things]
    if rows:
        made.files["costs.csv"] = costs_csv(rows, numbers)


def write_build(folder: Path, built: BuiltPlan, tell: Tell = lambda _: None) -> list[Written]:
    """Write a build's files and its manifest; tell: called with a sentence on each file of the user's that is kept."""
    return write_files(folder, built.made.files, job=built.job, part=not built.part.whole, tell=tell)
