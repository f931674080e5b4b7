"""A collection for many plans: what they lack beyond a shelf, what that takes, what to make next and its files."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import floor, fsum
from typing import Any

import numpy as np

from tilegen.errors import InputError
from tilegen.files.stock import read_shelf
from tilegen.files.writing import csv_bytes
from tilegen.lengths import Units, counted
from tilegen.making.asked import Collecting
from tilegen.making.connecting import connector_files, connector_notes, with_keys
from tilegen.making.limits import MEASURES, Measure, check_one_stock, limits_of, no_price
from tilegen.making.plan import OpenPlan, add_costs, shopping_of
from tilegen.making.things import Made, add_cut_pages, make_cut, make_printed, mixed_messages, print_meshes
from tilegen.making.workshop import Workshop
from tilegen.messages import Message
from tilegen.model.printers import PrinterFile
from tilegen.pictures.cut_pages import CutJob
from tilegen.plans.collection import (
    Choice,
    Counts,
    Demand,
    Flags,
    NextStep,
    StandIns,
    cheapest,
    quick_cheapest,
    quick_most,
    steps,
)
from tilegen.plans.layout import count_seams
from tilegen.plans.several import SharedKit, share_kit
from tilegen.plans.shelf import Shelf, Stocktaking, shelf_toml, take_stock
from tilegen.sheets.make import quick_minutes, quick_sheets
from tilegen.sheets.parts import list_parts
from tilegen.solids.build import build_mesh
from tilegen.solids.processes import gap_of, layers_of, process_of
from tilegen.tiles.loose import Piece, Things
from tilegen.tiles.names import name_of
from tilegen.tiles.shape import CellShape
from tilegen.tiles.tile import Tile, make_tile
from tilegen.tiles.uprights import printed_things

# Much of the work on a single tile is setting up, which so many of it share (common practice, no source).
_BATCH = 24
# A stand-in's price is so many parts of a tile's, and at most as many tiles.
_SHARES = 100
# The cheapest sets beside the steps are searched for by the solver for as many maps as this, in so many nodes.
_MOST_SEARCHED, _STEP_NODES = 30, 200


@dataclass(frozen=True)
class Kind:
    """One type of tile or loose piece: owned, and to make."""

    name: str
    thing: Tile | Piece
    own: int
    make: int


@dataclass(frozen=True, eq=False)
class Collected:
    """What a shelf lays of several plans, and what to make next. lacks and steps are by `kinds`, maps by `plans`.

    Where stand-ins have a price, it is what one more type for each plan costs. weighs: whether the bound is a weight,
    not a cost. stand_ins: by plan (what is not made, what stands in for it, how many). cheaper: by step, a cheaper set
    for as many maps, if one is known. limit: in the measure's units.
    """

    plans: tuple[str, ...]
    weights: tuple[int, ...]
    measure: Measure
    kinds: tuple[Kind, ...]
    demand: Demand
    choice: Choice
    weighs: bool
    steps: tuple[NextStep, ...]
    cheaper: tuple[Counts | None, ...]
    stand_ins: tuple[tuple[tuple[str, str, int], ...], ...]
    shelf: Shelf
    stocks: tuple[Stocktaking, ...]
    limit: float | None

    def listed(self, make: Counts) -> list[tuple[Kind, int]]:
        """The types of which some are made, with how many."""
        return [(kind, count) for kind, count in zip(self.kinds, make.tolist(), strict=False) if count]

    @property
    def now(self) -> list[bool]:
        """Which maps the shelf lays."""
        return [not any(row) for row in self.demand.lacks[:, : len(self.kinds)].tolist()]

    @property
    def stand_ins_cost(self) -> int:
        """The part of the choice's cost that is the price of stand-ins."""
        new = len(self.kinds)
        return int(self.demand.costs[new:] @ self.choice.make[new:])

    @property
    def over(self) -> bool:
        """Whether the maps asked for take more than the limit."""
        return self.limit is not None and self.choice.cost > self.limit * self.measure.fine + 1e-6

    @property
    def nearest(self) -> tuple[int, int]:
        """Of the maps that can't be laid with the new tiles the one that costs least, and how much more it does."""
        left = np.flatnonzero(~self.choice.laid)
        more = np.maximum(self.demand.lacks[left] - self.choice.make, 0) @ self.demand.costs
        return int(left[more.argmin()]), int(more.min())

    @property
    def things(self) -> Things:
        """What is made."""
        return [(replace(kind.thing, name=kind.name), count) for kind, count in self.listed(self.choice.make)]

    def record(self) -> dict[str, Any]:
        """For the JSON."""
        maps = []
        for number, plan in enumerate(self.plans):
            missing = [{"id": kind.thing.id, "count": count} for kind, count in self.listed(self.demand.lacks[number])]
            laid, then = self.now[number], bool(self.choice.laid[number])
            one = {"plan": plan, "weight": self.weights[number], "laid": laid, "then": then, "missing": missing}
            stand_ins = [{"id": key, "by": by, "count": count} for key, by, count in self.stand_ins[number]]
            maps.append(one | ({"stand_ins": stand_ins} if stand_ins else {}))
        rows: dict[bool, list[dict[str, Any]]] = {True: [], False: []}
        for kind in self.kinds:
            row = {"id": kind.thing.id, "name": kind.name, "own": kind.own, "make": kind.make}
            rows[isinstance(kind.thing, Tile)].append(row)
        fine = 1 if self.weighs else self.measure.fine
        return {
            "maps": maps,
            "tiles": rows[True],
            "pieces": rows[False],
            "steps": self._steps_record(),
            "totals": {
                "laid": sum(self.now),
                "then": int(self.choice.laid.sum()),
                "weight": sum(w for w, then in zip(self.weights, self.choice.laid, strict=True) if then),
                "tiles": sum(row["make"] for row in rows[True]),
                "pieces": sum(row["make"] for row in rows[False]),
                "measure": self.measure.word,
                "cost": self.choice.cost / self.measure.fine,
                **({"stand_ins": self.stand_ins_cost / self.measure.fine} if self.stand_ins_cost else {}),
            },
            "bound": self.choice.bound / fine,
            "proven": self.choice.proven,
        }

    def _steps_record(self) -> list[dict[str, Any]]:
        def made(make: Counts) -> list[dict[str, Any]]:
            return [{"id": kind.thing.id, "count": count} for kind, count in self.listed(make)]

        return [
            {
                "make": made(step.make),
                "plans": [self.plans[number] for number in step.maps],
                "cost": self.demand.cost(step.make) / self.measure.fine,
                **({} if cheaper is None else {"cheaper": made(cheaper)}),
            }
            for step, cheaper in zip(self.steps, self.cheaper, strict=True)
        ]


def collect(
    opened: Sequence[OpenPlan],
    weights: Sequence[int],
    asked: Collecting,
    workshop: Workshop,
    tell: Callable[[str], None] = lambda _: None,
) -> Collected:
    """Which maps can be laid, and the tiles to make next.

    weights: of each plan. tell: called with the quick answer, where a better one or a proof may take longer. With a
    limit alone the maps that weigh most, else the cheapest tiles for the maps asked for.

    Raises:
        InputError: more maps than there are, options that don't go together, plans on different grids, a wrong shelf.
    """
    kits = [plan.kit for plan in opened]
    shared = share_kit(kits)
    measure = _asked(asked, len(kits), sum(weights))
    shelf = read_shelf(asked.own) if asked.own else Shelf()
    stocks = tuple(take_stock(kit, shelf, kits) for kit in kits)
    things, own, needs = needs_of(shared, stocks)
    by = np.full(len(things), -1)
    if asked.stand_ins is not None:
        things, own, needs, by = with_plain(things, own, needs, shelf)
        # A share of a tile is a whole number too.
        measure = measure._replace(fine=measure.fine * (1 if asked.stand_ins == 0 else _SHARES))
    short = needs - own
    # Only what some map lacks, or what may stand in for it, has to be estimated.
    missing: Flags = np.any(short > 0, axis=0)
    missing[by[missing & (by >= 0)]] = True
    each = zip(things, missing, strict=True)
    costs = np.array([_cost(t, measure, asked, workshop) if needed else 0 for (_, t), needed in each], np.int64)
    limit = asked.limits.get(measure.word)
    weighs = limit is not None and asked.maps is None and asked.weight is None
    budget = floor(limit * measure.fine + 1e-6) if limit is not None and weighs else None
    by_weight = weighs or asked.weight is not None
    worth = np.array(weights if by_weight else [1] * len(kits), np.int64)
    least = asked.maps or asked.weight or len(kits)
    fees = np.round(costs * (asked.stand_ins or 0)).astype(np.int64) * (by >= 0)
    swaps = StandIns(short, costs, fees, by, worth)
    if len(kits) > _MOST_SEARCHED:
        demand = swaps.demand(np.zeros_like(costs))
        quick = quick_most(demand, budget) if budget is not None else quick_cheapest(demand, least)
        laid = counted(int(demand.laid(quick).sum()), "map")
        tell(f"{laid} with {measure.words(demand.cost(quick))}; is there anything better?")
    kept, choice = swaps.best(least=least, most=budget)
    demand, used = swaps.demand(kept), swaps.used(kept)
    ids = [thing.id for _, thing in things]
    stand_ins = tuple(
        tuple((ids[kind], ids[by[kind]], count) for kind, count in enumerate(row) if count) for row in used.tolist()
    )
    kinds = tuple(
        Kind(name, thing, own=int(have), make=int(make))
        for (name, thing), have, make in zip(things, own, choice.make, strict=False)
    )
    order = tuple(steps(demand, choice.laid))
    cheaper = tuple(_cheaper(demand, order))
    return Collected(
        _names(opened),
        tuple(weights),
        measure,
        kinds,
        demand,
        choice,
        weighs,
        order,
        cheaper,
        stand_ins,
        shelf,
        stocks,
        limit,
    )


def _names(opened: Sequence[OpenPlan]) -> tuple[str, ...]:
    """The plans' names; with the file's where two are called alike."""
    names = [plan.kit.plan for plan in opened]
    return tuple(
        name if names.count(name) == 1 else f"{name} ({plan.stem})" for name, plan in zip(names, opened, strict=True)
    )


def _asked(asked: Collecting, maps: int, weight: int) -> Measure:
    """What costs are counted in.

    Raises:
        InputError: see `collect`.
    """
    limits = limits_of(asked, asked.make)
    if len(limits) > 1:
        both = " and ".join(MEASURES[word].option for word in list(limits)[:2])
        raise InputError(f"{both} are two limits", cure="Give one of them")
    if asked.maps is not None and asked.weight is not None:
        raise InputError("--maps and --weight are two goals", cure="Give one of them")
    if asked.maps is not None and asked.maps > maps:
        raise InputError(f"you gave {counted(maps, 'map')}", cure=f"Use at most {maps}", place="--maps")
    if asked.weight is not None and asked.weight > weight:
        raise InputError(f"all maps together weigh {weight}", cure=f"Use at most {weight}", place="--weight")
    if asked.stand_ins is not None and asked.stand_ins > _SHARES:
        raise InputError("this is too large", cure=f"Use at most {_SHARES}", place="--stand-ins")
    return MEASURES[next(iter(limits), "tiles")]


_Named = list[tuple[str, Tile | Piece]]


def needs_of(shared: SharedKit, stocks: Sequence[Stocktaking]) -> tuple[_Named, Counts, Counts]:
    """All types by name, how many of each are owned, and how many each plan needs."""
    things: _Named = [*((t.name, t.tile) for t in shared.types), *((p.name, p.piece) for p in shared.pieces)]
    counts = [*(t.counts for t in shared.types), *(p.counts for p in shared.pieces)]
    needs = np.array(counts, np.int64).reshape(-1, len(stocks)).T
    owned: dict[str, int] = {}
    for stock in stocks:
        for entry in (*stock.tiles, *stock.pieces):
            owned[entry.id] = max(entry.own, owned.get(entry.id, 0))
    return things, np.array([owned.get(thing.id, 0) for _, thing in things], np.int64), needs


def with_plain(things: _Named, own: Counts, needs: Counts, shelf: Shelf) -> tuple[_Named, Counts, Counts, Counts]:
    """The same with the plain tiles that may stand in for those with features, and which that are (-1 for none)."""
    found = list(things)
    places = {thing.id: number for number, (_, thing) in enumerate(found)}
    by = []
    for _, thing in things:
        plain = _plain(thing)
        if plain is None:
            by.append(-1)
            continue
        if plain.id not in places:
            places[plain.id] = len(found)
            taken = {name for name, _ in found}
            found.append((plain.name if plain.name not in taken else f"{plain.name}-{plain.id.lower()}", plain))
            words = (plain.name, plain.id.lower())
            own = np.append(own, sum(count for word, count in shelf.tiles.items() if word.lower() in words))
        by.append(places[plain.id])
    more = len(found) - len(things)
    return found, own, np.pad(needs, ((0, 0), (0, more))), np.array(by + [-1] * more, np.int64)


def _plain(thing: Tile | Piece) -> Tile | None:
    """A tile on the grid without the features on it; None for what has none."""
    if not isinstance(thing, Tile) or not isinstance(thing.shape, CellShape) or thing.ground is not None:
        return None
    shape = thing.shape
    if not any(cell.extra.blocks for _, cell in shape.cells):
        return None
    cells = tuple((place, replace(cell, extra=replace(cell.extra, blocks=()))) for place, cell in shape.cells)
    own = replace(shape, cells=cells).own_pose()
    return make_tile(name_of(own, thing.grid.wall_height), own, thing.grid)


def _cost(thing: Tile | Piece, measure: Measure, asked: Collecting, workshop: Workshop) -> int:
    """What one of a type costs, in the solver's whole numbers.

    Raises:
        InputError: several materials, or one without a price.
    """
    if measure.in_things:
        return measure.fine
    if measure.word == "hours" and asked.make == "print":
        return max(1, round(printing_hours(thing, workshop.printer) * measure.fine))
    check_one_stock(workshop)
    stock, machine = workshop.stocks[0], workshop.machine
    listed = list_parts([(thing, _BATCH)], stock, workshop.ways)
    if measure.word == "hours":
        amount = quick_minutes(listed, stock, machine) / 60
    else:
        covered = quick_sheets(listed, stock, machine)
        without = next((one.material for one in covered if one.price is None), None)
        if measure.word == "cost" and without is not None:
            raise no_price(without)
        amount = fsum(one.share * ((one.price or 0.0) if measure.word == "cost" else 1.0) for one in covered)
    return max(1, round(amount / _BATCH * measure.fine))


def printing_hours(thing: Tile | Piece, printer: PrinterFile) -> float:
    """Of what is printed of one copy, on beds full of each part; what goes by layers is shared by all there."""
    printed, process = printed_things([(thing, 1)]), process_of(printer)
    meshes, _ = print_meshes(printed, printer)
    gap, (width, depth), hours = gap_of(printer), printer.room, []
    for mesh, (_, count) in zip(meshes, printed, strict=True):
        x, y, height = mesh.size
        beside = max(1, floor((width + gap) / (x + gap)) * floor((depth + gap) / (y + gap)))
        by_layers = process.seconds(0.0, layers_of(height, printer), printer) / beside
        hours.append(count * (process.seconds(process.lays(mesh, printer), 0, printer) + by_layers) / 3600)
    return fsum(hours)


def _cheaper(demand: Demand, order: Sequence[NextStep]) -> list[Counts | None]:
    """By step a cheaper set for as many maps as can be laid then; None where none is known."""
    even = replace(demand, worth=np.ones_like(demand.worth))
    make, found = np.zeros_like(demand.costs), []
    for step in order:
        make = make + step.make
        laid = even.reached(make)
        if len(demand.worth) <= _MOST_SEARCHED:
            other = cheapest(even, laid, _STEP_NODES).make
        else:
            other = quick_cheapest(even, laid)
        found.append(other if even.cost(other) < even.cost(make) else None)
    return found


def make_collection(
    opened: Sequence[OpenPlan], found: Collected, asked: Collecting, workshop: Workshop, units: Units
) -> Made:
    """The files of the new tiles, in memory: solids and sheets, lists, and the shelf that they and the old ones are.

    Raises:
        InputError: a part that fits no bed or sheet.
        AnswerIsNo: not enough stock.
    """
    made = Made()
    laid = [plan for plan, then in zip(opened, found.choice.laid, strict=True) if then]
    seams = max((count_seams(plan.kit, plan.drawing) for plan in laid), default=0)
    things = with_keys(found.things, seams)
    pieces = [thing for thing, _ in things if isinstance(thing, Piece)]
    tiles = [thing for thing, _ in things if isinstance(thing, Tile)]
    numbers = {tile.id: str(number) for number, tile in enumerate(tiles, 1)}
    numbers |= {piece.id: f"S{number}" for number, piece in enumerate(pieces, 1)}
    made.files["collection.json"] = (json.dumps(found.record(), indent=1) + "\n").encode()
    rows: list[list[object]] = [["number", "name", "id", "count"]]
    rows += [[numbers[thing.id], thing.name, thing.id, count] for thing, count in things]
    made.files["make.csv"] = csv_bytes(rows)
    then = [(kind.thing.id, kind.name, kind.own + kind.make) for kind in found.kinds]
    made.files["shelf.toml"] = shelf_toml(then, found.shelf, found.stocks)
    printed, cut = asked.make != "cut", asked.make != "print"
    meshes = make_printed(made, things, workshop) if printed and things else []
    sets = make_cut(made, things, workshop, numbers, units=units) if cut else []
    if not printed:
        meshes = [build_mesh(thing.name, thing.plates) for thing, _ in things]
    bought = sum(count for one in sets for count in one.new_sheets.values())
    if found.measure.word == "sheets" and found.limit is not None and bought > found.limit:
        words = f"Set out, the parts take {counted(bought, 'sheet')}; you allow {found.limit:g}."
        cure = f"Allow less by area, such as --most-sheets {0.9 * found.limit * found.limit / bought:.2g}."
        made.messages.append(Message("decide", words, cure=cure))
    made.files["shopping.csv"] = shopping_of(made, sets, things, meshes, workshop, seams=seams)
    made.messages += [*connector_notes(things), *mixed_messages(things, printed=printed, cut=cut)]
    made.files |= connector_files(things, workshop.asked.pages)
    add_costs(made, sets, things, numbers)
    if sets:
        add_cut_pages(made, sets, workshop, CutJob("New tiles", sets, things, numbers, units=units))
    return made
