"""What the page shows of a plan: its lines to scale, its kit, who fits; all from the commands' own functions."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Protocol, get_args

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Point

from tilegen.desk.sketch import shape_cells
from tilegen.desk.taking import Wish, tools_of
from tilegen.desk.words import error_on_page, on_page
from tilegen.errors import CellRef, InputError, Place, RoomRef, Said, TilegenError, as_sentence
from tilegen.files.starting import STARTING_PLAN
from tilegen.files.stock import read_machine, read_material, read_printer, read_shelf
from tilegen.files.toml import shipped
from tilegen.fit.figures import FEET_OF_SIZE, Figure, base_of, base_of_size, check_base, figures_on, spaces_across
from tilegen.fit.finder import find_grid
from tilegen.fit.floor import Spaces, spaces_of
from tilegen.fit.stops import (
    NarrowRoom,
    Neck,
    Passage,
    narrow_rooms,
    narrowest,
    necks_of,
    passages_of,
    stops_of,
    widest_opening,
)
from tilegen.geometry import ROUNDING_MM
from tilegen.lengths import MM_PER_INCH, Units, in_units, rounded_up, show_length, show_number
from tilegen.making.collection import printing_hours
from tilegen.making.things import things_of
from tilegen.making.workshop import Workshop, cautions, open_workshop
from tilegen.messages import Message
from tilegen.model.connectors import CONNECTORS
from tilegen.model.grid import HEADS, LEAVES
from tilegen.model.surface import DETAILS, FLOOR_PATTERNS, WALL_PATTERNS
from tilegen.model.words import Paper
from tilegen.pictures.layout import bed_canvas, layout_canvas
from tilegen.pictures.tile_view import ground_plan
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, placed_pieces, placed_types
from tilegen.plans.layout import layout_numbers
from tilegen.plans.off_grid_tiles import MATRICES
from tilegen.plans.route import Areas, find_areas
from tilegen.plans.shelf import take_stock
from tilegen.plans.sight import visible_from
from tilegen.plans.to_decide import plan_messages
from tilegen.plans.ways import WAYS, LineKind, line_of
from tilegen.sheets.make import least_sheets_and_price, make_sheets, quick_minutes, quick_sheets, sheet_files
from tilegen.sheets.parts import list_parts
from tilegen.solids.beds import set_out
from tilegen.solids.build import build_mesh, build_solid, to_mesh
from tilegen.solids.formats.stl import stl_bytes
from tilegen.solids.processes import gap_of
from tilegen.tiles.features import FEATURES
from tilegen.tiles.loose import Things
from tilegen.tiles.openings import usual_width
from tilegen.tiles.shape import SIDES, STEPS

FILE = "the plan"


class Worked(Protocol):
    """A plan and what is made of it, if it can be built and is not empty."""

    drawing: Drawing
    kit: Kit

    @property
    def written(self) -> dict[str, Any]: ...
    @property
    def fault(self) -> InputError | None: ...
    @property
    def good(self) -> bool: ...


def error_record(error: TilegenError) -> dict[str, str]:
    """What is wrong, in the parts of its message."""
    if isinstance(error, InputError):
        return {"place": error.place, "text": error.text, "cure": error.cure, "file": error.file}
    return {"place": "", "text": str(error), "cure": ""}


# What things look like, by the identity of their plates, which are kept with it: they stay from edit to edit.
_LOOKS: dict[int, tuple[Any, dict[str, Any]]] = {}


def _shape_record(thing: Any) -> dict[str, Any]:  # noqa: ANN401 - a tile or a piece
    known = _LOOKS.get(id(thing.plates))
    if known is None:
        if len(_LOOKS) > 8000:
            _LOOKS.clear()
        known = _LOOKS[id(thing.plates)] = (thing.plates, _look_of(thing))
    return known[1]


def _look_of(thing: Any) -> dict[str, Any]:  # noqa: ANN401 - a tile or a piece
    plan = ground_plan(thing)
    return {
        "id": thing.id,
        "floor": _path(ring for rings in plan.floor for ring in rings),
        "walls": _path(ring for rings in plan.standing for ring in rings),
        "ways": _path(ring for rings in plan.ways for ring in rings),
        "lines": _path(plan.lines, closed=False),
        "sunk": _path(ring for rings in plan.features.sunk for ring in rings),
        "raised": [_path(rings) for rings in plan.features.raised],
        "dark": _path(ring for rings in plan.features.dark for ring in rings),
    }


def _path(rings: Iterable[npt.NDArray[np.float64]], *, closed: bool = True) -> str:
    """Rings or lines as the d of an SVG path."""
    end = "Z" if closed else ""
    return "".join("M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in ring.tolist()) + end for ring in rings)


def _figure(drawing: Drawing, word: str) -> Figure | str:
    """A figure of a base in words; one that is larger than the map stands nowhere; why it is no base."""
    try:
        base = base_of(word)
        check_base(base)
    except InputError as error:
        return str(error)
    try:
        return figures_on(drawing, [base])[0]
    except InputError:
        none = np.zeros((0, 0), bool)
        return Figure(base, 1, none, none, none, 0.0, 0.0, (), False)


def _figure_record(figure: Figure, word: str) -> dict[str, Any]:
    return {
        "word": word,
        "base_mm": figure.base,
        "spaces_across": figure.spaces_across,
        "positions": figure.positions,
        "stands": figure.stands,
        "unreached": [
            {"room": p.room, "title": p.title, "first_cell": list(p.first_cell), "cells": p.cells}
            for p in figure.unreached
        ],
    }


def tiles_record(drawing: Drawing, kit: Kit) -> dict[str, Any]:
    """Each type's outlines once, in its own frame, by id; of each, in turn, quarter turns and place on the table."""
    lie: dict[str, list[float]] = {}
    shapes: dict[str, dict[str, Any]] = {}
    keys = layout_numbers(kit)
    for kind in kit.types:
        shapes[kind.tile.id] = {
            **_shape_record(kind.tile),
            "name": kind.name,
            "key": keys[kind.tile.id],
            "loose": False,
        }
    for one in kit.pieces:
        shapes[one.piece.id] = {**_shape_record(one.piece), "name": one.name, "key": "", "loose": True}
    for kind, origins in placed_types(kit, drawing):
        flat = np.column_stack([kind.places[:, 2], origins.round(4)]).ravel()
        lie[kind.tile.id] = flat.tolist()
    for piece, turn in placed_pieces(kit, drawing):
        lie.setdefault(piece.piece.id, []).extend((turn.quarter_turns, round(turn.x, 4), round(turn.y, 4)))
    return {
        "cell_mm": drawing.cell_side,
        "wall_mm": drawing.grid.wall_thickness,
        "base_mm": drawing.grid.base_depth,
        "turns": [[a, b, c, d] for (a, c), (b, d) in MATRICES],
        "shapes": shapes,
        "lie": lie,
        "doors": _doors_record(drawing),
    }


def _doors_record(drawing: Drawing) -> dict[str, Any]:
    """Where a doorway may stand; see the page's types."""
    cell = drawing.cell_side
    signs = np.array([_sign(kind) for kind in drawing.kinds])
    plain = signs == "w"
    if drawing.scale == "10 ft" and usual_width(drawing.grid, drawing.grid.door.leaf) > cell:
        signs[plain] = "x"
    found: dict[str, Any] = {
        name: ["".join(row) for row in signs[lines].tolist()]
        for name, lines in (("across", drawing.across), ("down", drawing.down))
    }
    most = {}
    for way in drawing.ways:
        index, line = _index_of(way.place, "way"), line_of(way.cell, way.side)
        opening = drawing.kind_at(line).opening
        if index is not None and opening is not None:
            most[str(index)] = round(widest_opening(drawing, line, opening) / cell, 4)
    return {**found, "most": most, "width": round(drawing.grid.doorway.width / cell, 4)}


def _sign(kind: LineKind) -> str:
    if not kind.facts.stands:
        return "o" if kind.stand_in else "."
    return "d" if kind.opening is not None else "w"


def answers(plan: Worked, figures: Sequence[str]) -> dict[str, Any]:
    """All that is worked out of a plan beside its tiles."""
    totals: dict[str, Any] = {"tiles": 0, "types": 0, "pieces": 0}
    totals |= dict.fromkeys(("sheets", "beds", "hours", "print_hours", "cost", "own", "make"))
    if not plan.good:
        pins = [] if plan.fault is None else [_fault_pin(plan.fault, plan.written)]
        return {"fit": [], "narrowest": None, "kit": [], "totals": totals, "pins": pins}
    drawing, kit = plan.drawing, plan.kit
    keys = layout_numbers(kit)
    rows = [
        {"key": keys[t.tile.id], "id": t.tile.id, "name": t.name, "count": t.count, "loose": False} for t in kit.types
    ]
    rows += [{"key": "", "id": p.piece.id, "name": p.name, "count": p.count, "loose": True} for p in kit.pieces]
    totals |= counts(kit)
    areas = find_areas(drawing)
    spaces = spaces_of(drawing)
    passages = passages_of(spaces, areas)
    least = narrowest(passages)
    return {
        "fit": [
            _with_stops(figure, word, passages, (spaces, areas), plan.written)
            for figure, word in _figures(spaces, figures)
        ],
        "narrowest": None if least is None else _narrowest_record(least),
        "kit": [{**row, "own": None, "make": None} for row in rows],
        "totals": totals,
        "pins": [_pin(message, plan.written) for message in plan_messages(drawing) if message.level != "note"],
    }


def _figures(spaces: Spaces, words: Sequence[str]) -> Iterator[tuple[Figure | str, str]]:
    """The figures of bases in words, or why a word is none."""
    found: dict[str, Figure | str] = {}
    bases = {}
    for word in words:
        try:
            bases[word] = base_of(word)
            check_base(bases[word])
        except InputError as error:
            bases.pop(word, None)
            found[word] = str(error)
    # One that is larger than the map is asked about by itself.
    drawing, longest = spaces.drawing, max(spaces.shape)
    usual = [word for word, base in bases.items() if spaces_across(base) <= longest]
    found |= dict(zip(usual, figures_on(drawing, [bases[word] for word in usual], spaces), strict=True))
    for word in words:
        yield found[word] if word in found else _figure(drawing, word), word


def _with_stops(
    figure: Figure | str,
    word: str,
    passages: tuple[Passage, ...],
    floor: tuple[Spaces, Areas],
    written: dict[str, Any],
) -> dict[str, Any]:
    """Where one figure stands, and what keeps it from getting on."""
    if isinstance(figure, str):
        return {"word": word, "wrong": figure, "stops": []}
    spaces, areas = floor
    rooms, away = set(areas.letters), {part.first_cell for part in figure.unreached}
    got_to = [n for n, first in enumerate(areas.firsts) if first not in away]
    largest = max(got_to, key=lambda n: areas.sizes[n], default=None)
    narrow = narrow_rooms(figure, spaces, areas) if figure.positions else ()
    signs = np.where(figure.standing, ord("s"), np.where(figure.blocks, ord("b"), ord("."))).astype(np.uint8)
    return {
        **_figure_record(figure, word),
        "blocks": [row.tobytes().decode() for row in signs],
        "rooms": len(rooms),
        "rooms_reached": len(rooms) - len(figure.rooms_unreached),
        "from": "." if figure.from_ways_in else "" if largest is None else areas.letters[largest],
        "stops": [
            *(_stop_record(passage, figure.base) for passage in stops_of(figure, passages, areas)),
            *(_narrow_record(room, _floor_in(*room.cell, written), "room") for room in narrow),
            *(_narrow_record(neck, _at(neck.at), "neck") for neck in necks_of(figure, spaces, areas)),
        ],
    }


def _stop_record(passage: Passage, base: float) -> dict[str, Any]:
    return {
        **_at(passage.at),
        "between": list(passage.rooms),
        "what": passage.kind,
        "width_mm": round(passage.clear, 2),
        "index": _index_of(passage.place, "way"),
        "widen": passage.widened(base),
    }


def _narrow_record(narrow: NarrowRoom | Neck, at: dict[str, float], what: str) -> dict[str, Any]:
    words = {"between": [narrow.room], "what": what, "width_mm": round(narrow.clear, 2)}
    return {**at, **words, "index": None, "widen": None}


def grid_record(drawing: Drawing, figures: Sequence[str], units: Units) -> dict[str, Any]:
    """The smallest spaces, with a plan's walls, on which figures stand everywhere: in lengths, and as edits.

    pitch, tile: of that grid; now: the plan's spaces; cannot: what no such grid can do, in words.

    Raises:
        InputError: no figure.
    """
    bases = []
    for word in figures:
        with suppress(InputError):
            base = base_of(word)
            check_base(base)
            bases.append(base)
    if not bases:
        raise InputError("there is no figure to find a grid for", cure="Add a figure first")
    grid, spaces = drawing.grid, drawing.cell_spaces
    found = find_grid(bases, wall=grid.wall_thickness, spaces=spaces)
    unit = float(MM_PER_INCH) if units == "in" else 1.0
    # Never rounded down: the figures would not stand.
    value = rounded_up(found.pitch / unit - ROUNDING_MM, 3 if units == "in" else 2)
    pitch = f"{value:g} {units}"
    return {
        "pitch": pitch,
        "tile": f"{show_number(value * spaces, 3)} {units}",
        "now": show_length(grid.pitch, units),
        "larger": value * unit > grid.pitch + ROUNDING_MM,
        "same": abs(value * unit - grid.pitch) <= ROUNDING_MM * unit,
        "cannot": [in_units(words, units) for words in found.cannot],
        "edits": [{"do": "measure", "key": "pitch", "value": pitch}],
    }


def _narrowest_record(passage: Passage) -> dict[str, Any]:
    words = f"bases up to {show_length(passage.clear)} get through"
    return {"mm": round(passage.clear, 2), **_at(passage.at), "index": _index_of(passage.place, "way"), "words": words}


def _at(spot: Sequence[float]) -> dict[str, float]:
    return {"x": round(spot[0], 3), "y": round(spot[1], 3)}


def _index_of(place: str, name: str) -> int | None:
    """The number from 0 of the table that a place in the file names."""
    return place.number - 1 if isinstance(place, Place) and place.table == name and place.number else None


def _pin(message: Message, written: dict[str, Any]) -> dict[str, Any]:
    """What is to be decided, where it is, with the edits that mend it."""
    record: dict[str, Any] = {"x": None, "y": None, "level": message.level, "ghost": None}
    record["text"] = as_sentence(on_page(message.text, written["letters"]))
    cure = cure_of(message.cure)
    record |= _place_of(message.place, message.text, written) | cure.place
    if cure.edits is None and (index := _index_of(message.place, "way")) is not None:
        cure = Cure("Take the way out.", [{"do": "way-away", "index": index}], cure.place)
    return {**record, "cure": on_page(cure.words, written["letters"]), "edits": cure.edits}


@dataclass(frozen=True)
class Cure:
    """What mends something: in words, as edits, and where that is (x, y, ghost)."""

    words: str
    edits: list[dict[str, Any]] | None
    place: dict[str, Any]


def cure_of(text: str) -> Cure:
    """What mends something: a sentence, or lines of TOML, which become edits."""
    if not text.startswith("[["):
        return Cure(text, None, {})
    edits: list[dict[str, Any]] = []
    place: dict[str, Any] = {}
    tables = tomllib.loads(text)
    for way in tables.get("way", []):
        if "cell" in way:
            edits.append({"do": "way", "cell": way["cell"], "side": way["side"], "kind": way["kind"]})
            dx, dy = STEPS[SIDES.index(way["side"])]
            x, y = way["cell"][0] - 0.5 + dx / 2, way["cell"][1] - 0.5 + dy / 2
            across, down = abs(dy) / 4, abs(dx) / 4
            place = {"x": x, "y": y, "ghost": [x - across, y - down, x + across, y + down]}
        else:
            edits.append({"do": "point-way", "room": way["room"], "at": way["at"], "kind": way["kind"]})
            place = _at(way["at"])
    for shape in tables.get("shape", []):
        edits.append({"do": "shape", **shape})
        place = {"ghost": [*shape["hall"]["from"], *shape["hall"]["to"]]} if "hall" in shape else {}
    return Cure("Draw the hall." if "shape" in tables else "Put a doorway here.", edits, place)


def _place_of(place: str, text: str, written: dict[str, Any]) -> dict[str, float]:
    """Where something is that a message has by its number in the file, its cell or its room."""
    for name, key in (("way", "ways"), ("feature", "features"), ("shape", "shapes"), ("wall", "walls")):
        index = _index_of(place, name)
        if index is not None and index < len(written[key]):
            record = written[key][index]
            if "spot" in record:
                return _at(record["spot"])
            if isinstance(box := record.get("box"), list):
                return _at((box[0] + box[2] / 2, box[1] + box[3] / 2))
    things: tuple[object, ...] = text.things if isinstance(text, Said) else ()
    cells = [thing for thing in things if isinstance(thing, CellRef)]
    rooms = [thing.letter for thing in things if isinstance(thing, RoomRef)]
    if isinstance(place, Place):
        cells, rooms = [*([CellRef(*place.cell)] if place.cell else []), *cells], [*filter(None, [place.room]), *rooms]
    if cells:
        return _floor_in(cells[0].column, cells[0].row, written)
    letter = written["letters"].get(rooms[0]) if rooms else None
    return _at(letter["centre"]) if letter else {}


def _floor_in(column: int, row: int, written: dict[str, Any]) -> dict[str, float]:
    """The middle of a cell; where shapes leave that outside, a point of the floor of the one that has most of the cell.

    Not of its part in the cell: that may be a sliver along a wall.
    """
    rows, middle = written["rows"], Point(column - 0.5, row - 0.5)
    drawn = rows[row - 1][column - 1] != "." if 1 <= row <= len(rows) and 1 <= column <= len(rows[0]) else False
    found: list[tuple[float, dict[str, float]]] = []
    for record in written["shapes"] if not drawn else ():
        outline, shares = shape_cells({"room": record["room"], record["form"]: record["values"]})
        if outline is not None and (column, row) in shares:
            if outline.contains(middle):
                break
            found.append((shares[column, row], _at(record["at"])))
    else:
        if found:
            return max(found, key=lambda one: one[0])[1]
    return _at((middle.x, middle.y))


def _fault_pin(fault: InputError, written: dict[str, Any]) -> dict[str, Any]:
    """What is wrong with a plan that can't be built, where it is; what is to blame can be taken away."""
    said = error_on_page(fault, written["letters"])
    record: dict[str, Any] = {"x": None, "y": None, "level": "stop", "ghost": None, "edits": None}
    record |= {"text": as_sentence(said.text), "cure": said.cure}
    for name in ("way", "feature", "shape"):
        index = _index_of(fault.place, name)
        if index is not None:
            record["edits"] = [{"do": f"{name}-away", "index": index}]
    return record | _place_of(fault.place, fault.text, written)


def sight_record(plan: Worked, cell: tuple[int, int], *, doors_open: bool) -> dict[str, Any]:
    """Which cells are in sight from one: rows of 0 and 1.

    Raises:
        InputError: a cell without floor, or a plan that is wrong.
    """
    try:
        seen = visible_from(plan.drawing, cell, plan.kit, doors_open=doors_open)
    except InputError as error:
        raise error_on_page(error, plan.written["letters"]) from None
    return {"cell": list(cell), "rows": ["".join("1" if c else "0" for c in row) for row in seen.tolist()]}


def solid_stl(plan: Worked, tile_id: str) -> tuple[bytes, tuple[float, float]]:
    """The binary STL of one tile or piece of a plan, and where its least corner lies in its own frame.

    Raises:
        InputError: no such tile in its kit.
    """
    kit = plan.kit
    things = {t.tile.id: t.tile.plates for t in kit.types} | {p.piece.id: p.piece.plates for p in kit.pieces}
    if tile_id not in things:
        raise InputError(f'this plan has no tile "{tile_id[:20]}"', cure="Reload the page: the plan has changed")
    solid = build_solid(tile_id, things[tile_id])
    west, south, *_ = solid.bounding_box()
    return stl_bytes(to_mesh(tile_id, solid)), (west, south)


_MOST_PICTURES = 24


def draw(plan: Worked, what: str, wish: Wish) -> list[dict[str, str]]:
    """Pictures by name, as SVG: "layout", "sheets" or "beds".

    Raises:
        InputError: a plan that is wrong, tools that do not go together, or another word.
    """
    if what == "layout":
        return [{"name": "layout", "svg": layout_canvas(plan.drawing, plan.kit, units=wish.units).svg()}]
    with workshop_of(wish) as (workshop, _):
        return _pictures_of(plan, what, workshop)


def _pictures_of(plan: Worked, what: str, workshop: Workshop) -> list[dict[str, str]]:
    if what == "sheets":
        found = []
        for material in workshop.materials:
            sheets = make_sheets(things_of(plan.kit), material, workshop.machine, workshop.ways)
            files = sheet_files(sheets)
            found += [{"name": s.words, "svg": files[f"{s.name}.svg"].decode()} for s in sheets.sheets]
        return found[:_MOST_PICTURES]
    if what == "beds":
        things = things_of(plan.kit)
        meshes = [(build_mesh(thing.name, thing.plates), count) for thing, count in things]
        sizes = {mesh.name: (mesh.size[0], mesh.size[1]) for mesh, _ in meshes}
        beds = set_out(meshes, workshop.printer)
        return [
            {"name": f"bed {number}", "svg": bed_canvas(number, items, sizes, workshop.printer).svg()}
            for number, items in enumerate(beds[:_MOST_PICTURES], 1)
        ]
    raise InputError(f'there is no picture "{what}"', cure="Choose one of: layout, sheets, beds")


@contextmanager
def workshop_of(wish: Wish) -> Iterator[tuple[Workshop, Path | None]]:
    """The tools of a wish, read and checked, and the file of what is owned, if anything is.

    Raises:
        InputError: a name that there is not, a file of one's own that is wrong, a pair that must not be.
    """
    with tools_of(wish) as (tools, own):
        yield open_workshop(tools), own


# Hours to print one of a thing, by its plates' identity (kept with it, as in _LOOKS) and the printer.
_HOURS: dict[tuple[int, str], tuple[Any, float]] = {}


def counts(kit: Kit) -> dict[str, int]:
    """How many tiles, types and loose pieces a kit has."""
    return {"tiles": kit.tiles, "types": len(kit.types), "pieces": sum(p.count for p in kit.pieces)}


def totals(plan: Worked, wish: Wish, go_on: Callable[[], bool]) -> dict[str, Any]:
    """What a plan takes with the tools of a wish; what is not known is None. go_on: asked from time to time.

    sheets, cost: at least, by area. beds, print_hours: on beds full of each part.

    Raises:
        InputError: see `workshop_of`.
    """
    none: dict[str, Any] = dict.fromkeys(("sheets", "beds", "hours", "print_hours", "cost", "own", "make"))
    if not plan.good:
        return none
    with workshop_of(wish) as (workshop, own):
        stock = take_stock(plan.kit, read_shelf(own)) if own else None
        entries = {e.id: e for e in (*stock.tiles, *stock.pieces)} if stock else {}
        counts = {thing.id: entries[thing.id].make if thing.id in entries else n for thing, n in things_of(plan.kit)}
        things = tuple((thing, counts[thing.id]) for thing, _ in things_of(plan.kit) if counts[thing.id])
        if stock:
            none["own"] = sum(min(entry.own, entry.need) for entry in entries.values())
            none["make"] = sum(entry.make for entry in entries.values())
            none["rows"] = {entry.id: [entry.own, entry.make] for entry in entries.values()}
        if wish.make != "print" and things:
            none |= _cut_totals(things, workshop)
        if wish.make != "cut" and things:
            none |= _print_totals(things, workshop, go_on)
    return none


def _cut_totals(things: Things, workshop: Workshop) -> dict[str, Any]:
    stock, machine = workshop.stocks[0], workshop.machine
    try:
        listed = list_parts(things, stock, workshop.ways)
    except InputError:
        return {}
    sheets, cost = least_sheets_and_price(listed, stock, machine)
    priced = all(covered.price is not None for covered in quick_sheets(listed, stock, machine))
    hours = round(quick_minutes(listed, stock, machine) / 60, 1)
    return {"sheets": sheets, "hours": hours, "cost": f"{cost:.2f}" if priced else None}


def _print_totals(things: Things, workshop: Workshop, go_on: Callable[[], bool]) -> dict[str, Any]:
    hours, beds = 0.0, 0.0
    (width, depth), gap = workshop.printer.room, gap_of(workshop.printer)
    for thing, count in things:
        key = id(thing.plates), repr(workshop.printer)
        if key not in _HOURS:
            if not go_on():
                return {}
            if len(_HOURS) > 8000:
                _HOURS.clear()
            _HOURS[key] = thing.plates, printing_hours(thing, workshop.printer)
        hours += _HOURS[key][1] * count
        west, south, east, north = shapely.total_bounds([plate.foot for plate in thing.plates]).tolist()
        beside = math.floor((width + gap) / (east - west + gap)) * math.floor((depth + gap) / (north - south + gap))
        beds += count / max(1, beside)
    return {"beds": math.ceil(beds), "print_hours": round(hours, 1)}


def example_plans() -> list[dict[str, str]]:
    """The plan to begin with and the shipped ones, with their text."""
    found = [{"name": "A first plan", "text": STARTING_PLAN}]
    for path in sorted(shipped("plans").glob("*.toml")):
        found.append({"name": path.stem, "text": path.read_text(encoding="utf-8")})
    return found


def tools() -> dict[str, Any]:
    """Materials, machines, printers by name, with their titles, the cautions of each pair; what each feature takes."""
    materials = {path.stem: read_material(path.stem) for path in sorted(shipped("materials").glob("*.toml"))}
    machines = {path.stem: read_machine(path.stem) for path in sorted(shipped("machines").glob("*.toml"))}
    printers = {path.stem: read_printer(path.stem) for path in sorted(shipped("printers").glob("*.toml"))}
    pairs: dict[str, dict[str, Any]] = {}
    for machine in machines:
        for material in materials:
            pairs[f"{material}/{machine}"] = _pair(material, machine)
    return {
        "materials": {name: m.title for name, m in materials.items()},
        "machines": {name: m.title for name, m in machines.items()},
        "printers": {name: p.title for name, p in printers.items()},
        "printer_cautions": {name: list(p.cautions) for name, p in printers.items()},
        "pairs": pairs,
        "ways": {word: f"{word}: {kind.says}" for word, kind in WAYS.items()},
        "features": {
            word: {key: asdict(sort) for key, sort in kind.takes.items() if key not in ("at", "size")}
            for word, kind in FEATURES.items()
        },
        "feature_says": {word: kind.says for word, kind in FEATURES.items()},
        "leaves": dict(LEAVES),
        "heads": dict(HEADS),
        "connectors": dict(CONNECTORS),
        "styles": ["plain", *sorted(path.stem for path in shipped("styles").glob("*.toml"))],
        "details": list(DETAILS),
        "floors": list(FLOOR_PATTERNS),
        "walls": list(WALL_PATTERNS),
        "sizes": {word: base_of_size(word) for word in FEET_OF_SIZE},
        "papers": list(get_args(Paper)),
    }


def _pair(material: str, machine: str) -> dict[str, Any]:
    """Whether a machine may cut a material; "ask": the caution that must be taken on first."""
    verdict = read_material(material).process.get(read_machine(machine).process)
    ask = verdict.caution if verdict is not None and verdict.verdict == "ask" else ""
    wish = Wish(materials=[material], machine=machine, accept=[ask] if ask else [])
    try:
        with workshop_of(wish) as (workshop, _):
            found = cautions(workshop, printing=False, cutting=True)
    except TilegenError as error:
        return {"ok": False, "why": str(error), "ask": "", "cautions": []}
    why = verdict.why if ask and verdict is not None else ""
    return {"ok": not ask, "why": why, "ask": ask, "cautions": found}
