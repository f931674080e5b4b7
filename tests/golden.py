"""Golden values: the geometry of what ships and what is said of it, kept so that a rewrite can be compared with it.

Kept are counts, places, areas, lengths, heights and volumes, never ids, names of parts, the order of points or the
bytes of a file; of plans also who gets where, what is in sight and what there is to decide.

`python -m tests.golden` makes the data anew and prints every difference; with `--check` it only prints.

A row is a dictionary: lists under `mm`, `mm2` and `mm3` are compared with the tolerance of their unit, lists of rows
without regard to order, all else exactly. The rows of a tile have `places` (column and row of the cell) and `plates`,
whose bounds are those on the table at the first of its places (of a profile: in its own frame); the rows of flat parts
are the same for a part that is turned by a quarter.
"""

from __future__ import annotations

import io
import json
import sys
import tomllib
from collections import Counter
from contextlib import suppress
from dataclasses import replace
from functools import cache
from math import dist, fsum
from pathlib import Path
from typing import get_args

import ezdxf
import ezdxf.path
import numpy as np
from shapely.geometry import Polygon

from tilegen.errors import InputError, Said
from tilegen.files.plans import plan_of
from tilegen.files.profiles import profile_of, read_profile
from tilegen.files.stock import check_pair, read_machine, read_material, verdict_of
from tilegen.files.styles import read_style
from tilegen.files.toml import read_toml, shipped
from tilegen.fit.figures import figures_on, figures_record, reach_record, spaces_across
from tilegen.fit.finder import find_grid, found_record, trade_off, trade_off_record
from tilegen.fit.floor import spaces_of
from tilegen.fit.loops import largest_loop, loops_record, play_for, rows_of, rows_record
from tilegen.fit.placements import placements_on, placements_record
from tilegen.fit.stops import narrow_rooms, necks_of, passages_of, stops_of
from tilegen.making.things import things_of
from tilegen.model.grid import Head, Over
from tilegen.model.surface import FLOOR_PATTERNS, OF_STYLE, WALL_PATTERNS
from tilegen.plans.kit import hung_pieces, make_kit, placed, placed_pieces
from tilegen.plans.larger import cover_floor, read_kinds
from tilegen.plans.layout import lay, layout_numbers
from tilegen.plans.route import find_areas, make_route, route_record
from tilegen.plans.sight import in_sight, visible_from
from tilegen.plans.to_decide import plan_messages
from tilegen.sheets.constructions import ConstructionChoice
from tilegen.sheets.formats.dxf import write
from tilegen.sheets.make import make_sheet_sets
from tilegen.sheets.parts import list_parts
from tilegen.solids.build import build_mesh
from tilegen.tiles.coursing import Coursing
from tilegen.tiles.names import features_record
from tilegen.tiles.uprights import printed_things

OWN = Path(__file__).parent / "data" / "golden"
KEPT = Path(__file__).parent / "data" / "golden.json"
# Small random plans with what there was in November 2026, of every kind something.
DUNGEONS = OWN / "dungeons.json"
# mm: a tenth of what any of the machines holds. mm2: points rounded to whole micrometres, with errors of both signs, move
# an outline of 400 mm by less. mm3: that area over the height of a base. A wall 0.1 mm thinner loses 5 mm2 and 200 mm3.
TOLERANCES = {"mm": 0.01, "mm2": 0.05, "mm3": 0.5}
_DIGITS = {"mm": 4, "mm2": 3, "mm3": 2}
_CUTS = ("CUT_INNER", "CUT_OUTER")
_ORDINARY = ("bell-foundry", "hill-shrine")
# Curved walls folded, grooved, scored and slotted.
_OUTLINES_IN = ("card", "foam-core", "foam", "greyboard", "mdf")


def differences(kept, now, place: str) -> list[str]:
    """What differs between two values, one line each."""
    if isinstance(kept, dict) and isinstance(now, dict) and kept.keys() == now.keys():
        return [line for key in kept for line in _compared(kept[key], now[key], key, f"{place} {key}")]
    if _is_rows(kept) and _is_rows(now):
        return _rows(kept, now, place)
    return [] if kept == now else [f"{place}: kept {_short(kept)}, now {_short(now)}"]


def _compared(kept, now, key: str, place: str) -> list[str]:
    if key not in TOLERANCES or len(kept) != len(now):
        return differences(kept, now, place)
    slack = TOLERANCES[key]
    return [
        f"{place}[{i}]: kept {a}, now {b}" for i, (a, b) in enumerate(zip(kept, now, strict=True)) if abs(a - b) > slack
    ]


def _rows(kept, now, place: str) -> list[str]:
    """Two lists of rows without regard to order; of rows that are not there as they were the nearest is compared."""
    rest, missing, said = list(now), [], []
    for row in kept:
        found = next((i for i, other in enumerate(rest) if not differences(row, other, "")), None)
        if found is None:
            missing.append(row)
        else:
            rest.pop(found)
    while missing and rest:
        row = missing.pop(0)
        nearest = min(range(len(rest)), key=lambda i: (len(differences(row, rest[i], "")), i))
        said += differences(row, rest.pop(nearest), place)
    return [*said, *(f"{place}: gone {_short(r)}" for r in missing), *(f"{place}: new {_short(r)}" for r in rest)]


def _is_rows(value) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(row, dict) for row in value)


def _short(value) -> str:
    text = json.dumps(value)
    return text if len(text) < 240 else text[:240] + " ..."


def _in(unit: str, *values: float) -> list[float]:
    return [round(float(value), _DIGITS[unit]) + 0.0 for value in values]


# Solids


def made_rows(things, turns=None, places=None) -> list[dict]:
    """A row for each tile or loose piece. turns: by its number, how it lies; places: by its number."""
    meshes = [build_mesh(thing.name, thing.plates) for thing, _ in things]
    rows = []
    for number, ((thing, count), mesh) in enumerate(zip(things, meshes, strict=True)):
        turn = (turns or {}).get(number, lambda geometry: geometry)
        first = thing.plates[0].foot
        rows.append(
            {
                "count": count,
                "places": sorted((places or {}).get(number, [])),
                "mm2": _in("mm2", first.area),
                "mm": _in("mm", first.length),
                "mm3": _in("mm3", mesh.volume),
                "plates": [_plate(plate, turn) for plate in thing.plates],
            }
        )
    return rows


def _plate(plate, turn) -> dict:
    foot = turn(plate.foot)
    row = {
        "role": plate.role,
        "mm2": _in("mm2", foot.area),
        "mm": _in("mm", *foot.bounds, plate.bottom, plate.top),
    }
    if plate.openings:
        row["openings"] = len(plate.openings)
    if plate.marks:
        row["marks"] = dict(sorted(Counter(mark.on for mark in plate.marks).items()))
    return row


def plan_rows(drawing, kit) -> list[dict]:
    """Of a plan: its tiles where they lie, then its loose pieces."""
    things = things_of(kit)
    lying = [[] for _ in kit.types]
    number = {id(kind): n for n, kind in enumerate(kit.types)}
    for kind, turn in placed(kit, drawing):
        lying[number[id(kind)]].append(turn)
    turns = {}
    for n, kind in enumerate(kit.types):
        # The first place as it is read on the table, not the first of the list.
        turns[n] = min(lying[n], key=lambda turn: _in("mm", *turn.geometry(kind.tile.base.foot).bounds)).geometry
    places = {n: kind.places[:, :2].tolist() for n, kind in enumerate(kit.types)}
    start = len(kit.types)
    places |= {start + n: [[*way.cell, way.side] for way in kind.places] for n, kind in enumerate(kit.pieces)}
    return made_rows(things, turns, places)


@cache
def _planned(path: Path, scale: str | None = None, pitch: float | None = None):
    """A plan and its kit."""
    data = read_toml(path)
    tables = {"grid": {"pitch": pitch}} if pitch else {}
    drawing = plan_of({**data, "scale": scale or data["scale"]}, path.name, Over(tables=tables))
    return drawing, make_kit(drawing)


def _drawn(text: str, **tables: dict):
    """A plan given as text, and its kit. tables: instead of its own."""
    drawing = plan_of(tomllib.loads(text) | tables, "dungeon")
    return drawing, make_kit(drawing)


def _patterned(text: str) -> dict:
    """A surface of flagstones that runs on over a plan, and of planks in its first room."""
    tables = tomllib.loads(text)
    letters = (*tables["drawing"], *(shape["room"] for shape in tables.get("shape", ())))
    first = next(letter for letter in letters if letter.isalpha())
    return {"floor": "flagstones", "continuous": True, "rooms": {first: "planks"}}


def _carved(style: str, head: str):
    """A corner of stone with a doorway and a pillar."""
    opening = {"wall": "north", "kind": "doorway", "head": head}
    return profile_of(
        {
            "name": "t",
            "tile": {"size": [2, 2], "walls": ["north", "west"]},
            "opening": [opening],
            "feature": [{"kind": "pillar", "at": [1.3, 0.6], "size": 12}],
            "surface": {"style": style},
        }
    )


def _things(*paths: Path, **tables) -> list:
    return [(read_profile(path, Over(tables=tables)), 1) for path in paths]


# Plans: what is said of them


_BASES = (25.4, 50.8, 76.2)
_PIECES = "2x1, 2x2, run-3, tee"
LOOSE = {"posts": "loose", "doorways": "loose"}


def said_rows(drawing, kit) -> list[dict]:
    """Who stands and gets where, what stops them, the order of rooms, sight, errors, decisions, larger pieces."""
    spaces, areas = spaces_of(drawing), find_areas(drawing)
    passages = passages_of(spaces, areas)
    rows = [{"passage": one.kind, "rooms": one.rooms, "mm": [*one.at, one.clear]} for one in passages]
    bases = [base for base in _BASES if spaces_across(base) <= max(spaces.shape)]
    for figure in figures_on(drawing, bases, spaces):
        (stands,), (gets,) = figures_record((figure,)), reach_record((figure,))
        stops = [(one.at, one.clear, one.widened(figure.base)) for one in stops_of(figure, passages, areas)]
        stops += [(one.cell, one.clear, one.room) for one in narrow_rooms(figure, spaces, areas)]
        stops += [(one.at, one.clear, one.room) for one in necks_of(figure, spaces, areas)]
        rows.append({**stands, **gets, "stops": [{"mm": [*at, clear], "what": what} for at, clear, what in stops]})
    names = {kind.tile.id: kind.name for kind in kit.types} | {piece.piece.id: piece.name for piece in kit.pieces}
    rows += [{**stop, "number": n} for n, stop in enumerate(route_record(make_route(drawing, kit)))]
    rows += [{"number": number, "of": names[key]} for key, number in layout_numbers(kit).items()]
    rows += [{"tile": kind.name, **features_record(kind.tile.shape)} for kind in kit.types]
    seen = in_sight(drawing, kit)
    rows.append({"in sight": seen.most, "where": seen.where})
    rows += [{"doors open": int(visible_from(drawing, at, doors_open=True).sum())} for at in areas.firsts[:3]]
    loop, along = largest_loop(drawing, kit), rows_of(drawing, kit)
    play = play_for(along.longest_tiles, along.tile_error, kit.grid.joint_play)
    rows.append({**loops_record(along, loop, play, kit.grid.tile_side), **rows_record(along)})
    rows.append({"first cells": sorted(lay(drawing, kit).first_cells.tolist())})
    rows += placements_record(placements_on(drawing, kit))
    if drawing.by_tiles:
        with suppress(InputError):
            cover = cover_floor(drawing, read_kinds(_PIECES))
            rows.append({"pieces": cover.pieces, "least": cover.least, "rectangles": cover.rectangles})
    return [*map(_measured, rows), *piece_rows(drawing, kit)]


def piece_rows(drawing, kit) -> list[dict]:
    """Where loose pieces and leaves lie, and what there is to decide."""
    rows = []
    for kind, turn in placed_pieces(kit, drawing):
        plates = kind.piece.plates
        heights = [z for plate in plates for z in (plate.bottom, plate.top)]
        rows.append({"piece": kind.name, "mm": [*turn.geometry(plates[0].foot).bounds, *heights]})
    rows += [{"leaf": kind.name, "mm": at} for kind, at in hung_pieces(kit, drawing)]
    for message in plan_messages(drawing):
        cure = message.cure if message.cure.startswith("[") else ""
        keys = sorted(map(str, message.cure.things)) if isinstance(message.cure, Said) else []
        rows.append({"decide": message.level, "place": message.place, "cure": cure, "keys": keys})
    return [_measured(row) for row in rows]


def grid_rows(bases) -> list[dict]:
    """The grids for some figures, from a wall and from a largest tile, and pitch against figures."""
    limits = ({"wall": 6.35}, {"largest_tile": 60.0}, {"wall": 3.0, "largest_tile": 55.0, "spaces": 1})
    found = [found_record(find_grid(bases, **limit)) for limit in limits]
    return [_measured(row) for row in (*found, *trade_off_record(trade_off(bases, 5.0)))]


def _measured(value, key: str = ""):
    """A value as JSON holds it; ids left out, what is no whole number compared with a tolerance."""
    if isinstance(value, dict):
        return {k: _measured(v, k) for k, v in value.items() if k != "id"}
    if key in _DIGITS:
        return _in(key, *value)
    if isinstance(value, list | tuple):
        return [_measured(one) for one in value]
    return {"mm": _in("mm", value)} if isinstance(value, float) else value


def tile_rows(kit) -> list[dict]:
    """A row for each tile of a kit, in sums: without the solids, which take longer."""
    rows = []
    for kind in kit.types:
        standing = [plate for plate in kind.tile.plates if plate.edge is not None]
        marks = [mark for plate in kind.tile.plates for mark in plate.marks]
        base = kind.tile.base.foot
        rows.append(
            {
                "tile": kind.name,
                "count": kind.count,
                "plates": dict(Counter(plate.role for plate in kind.tile.plates)),
                "marks": dict(sorted(Counter(mark.on for mark in marks).items())),
                "mm2": _in(
                    "mm2", base.area, fsum(plate.foot.area for plate in standing), *(m.region.area for m in marks)
                ),
                "mm": _in("mm", base.length, *sorted(plate.height for plate in standing)),
                "mm3": _in("mm3", kind.tile.volume),
            }
        )
    return rows


def small_rows(drawing, kit, said) -> list[dict]:
    """The tiles of a small plan and what is said of it. said: `said_rows` or `piece_rows`."""
    return [*tile_rows(kit), *said(drawing, kit)]


def stone_rows(tile) -> list[dict]:
    """Of each carved wall, floor and head of a doorway how many stones it is parted into, and how large they are."""
    coursing = Coursing(tile.plates, tile.base.facing)
    rows = []
    for plate, course, stones in coursing.courses():
        sizes = [Polygon(stone.corners).area for stone in stones]
        along = [mm for stone in stones for mm in (*stone.span, stone.back)]
        sizes.append(course.region.area)
        rows.append({"wall": plate.name, "course": course.number, "mm2": _in("mm2", *sizes), "mm": _in("mm", *along)})
    for plate in coursing.standing:
        for opening in plate.openings:
            blocks, ring = coursing.head(plate, opening), coursing.ring(plate, opening)
            areas = [Polygon(block).area for block in blocks]
            rows.append(
                {"head": plate.name, "mm2": _in("mm2", *areas), "mm": _in("mm", *([] if ring is None else [ring]))}
            )
    flags = [stone.area for stone in coursing.flags(tile.base)]
    return [*rows, {"floor": len(flags), "mm2": _in("mm2", *flags)}]


def stone_sums(kit) -> list[dict]:
    """Of each tile of a carved kit how many stones its walls, heads and floor have, and sums of their sizes."""
    rows = []
    for kind in kit.types:
        parts = stone_rows(kind.tile) if kind.tile.base.facing else []
        of = [[row for row in parts if word in row] for word in ("wall", "head", "floor")]
        rows.append(
            {
                "tile": kind.name,
                "stones": [sum(len(row["mm2"]) for row in some) for some in of],
                "mm2": _in("mm2", *(fsum(mm for row in some for mm in row["mm2"]) for some in of)),
                "mm": _in("mm", fsum(mm for row in parts for mm in row.get("mm", ()))),
            }
        )
    return rows


def plate_rows(things) -> list[dict]:
    """The plates of things as they are made, without their solids."""
    return [
        {"count": count, "plates": [_plate(plate, lambda foot: foot) for plate in thing.plates]}
        for thing, count in things
    ]


# Sheets


def part_rows(things, material, ways=ConstructionChoice()) -> list[dict]:  # noqa: B008 - it is frozen
    """A row for each kind of flat part: outline, scores, creases, thickness, how many."""
    listed = list_parts(things, material, ways)
    rows = []
    for part in (*listed.parts, *listed.cores):
        flat = part.flat
        west, south, east, north = flat.outline.bounds
        lines = (fsum(dist(*line) for line in lines) for lines in (flat.scores, flat.creases))
        row = {
            "role": part.role,
            "form": part.form,
            "count": part.count,
            "holes": len(flat.outline.interiors),
            "mm2": _in("mm2", flat.outline.area),
            "mm": _in("mm", part.thickness, *sorted((east - west, north - south)), flat.outline.length, *lines),
        }
        rows.append(row)
    return rows


def drawn_rows(things, material, machine) -> list[dict]:
    """A row for each thickness of sheet: of the written DXFs the length of each layer, and what the cuts enclose.

    Not of ENGRAVE and GUIDE, which hold ids, nor of WIRE, which runs from part to part as they are nested.
    """
    rows = []
    for made in make_sheet_sets(things, material, machine):
        lengths, areas = Counter(), Counter()
        for sheet in made.sheets:
            for entity in ezdxf.read(io.StringIO(write(sheet.drawing).decode())).modelspace():
                layer = entity.dxf.layer
                if layer not in (*_CUTS, "SCORE", "CREASE"):
                    continue
                points = np.array([p.vec2 for p in ezdxf.path.make_path(entity).flattening(1e-3)])
                lengths[layer] += sheet.copies * float(np.hypot(*np.diff(points, axis=0).T).sum())
                if layer in _CUTS and len(points) > 3:
                    areas[layer] += sheet.copies * Polygon(points).area
        layers = ("CUT_INNER", "CUT_OUTER", "SCORE", "CREASE")
        rows.append(
            {
                "thickness": made.material.real_thickness,
                "mm": _in("mm", *(lengths[layer] for layer in layers)),
                "mm2": _in("mm2", *(areas[layer] for layer in _CUTS)),
            }
        )
    return rows


# Cases


def _refusable(make) -> list[dict]:
    """What is made, or that it is refused: with every word of it tested elsewhere."""
    try:
        return make()
    except InputError:
        return [{"refused": True}]


def cases() -> dict:
    """What to make, by name: functions without arguments that give rows."""
    plans, profiles = sorted(shipped("plans").glob("*.toml")), sorted(shipped("profiles").glob("*.toml"))
    own = sorted(OWN.glob("*.toml"))
    shapes = [path for path in own if "tile" in read_toml(path)]
    found = {}
    for path in [*plans, *(path for path in own if path not in shapes)]:
        found[f"plan {path.stem}"] = lambda path=path: plan_rows(*_planned(path))
        found[f"said of {path.stem}"] = lambda path=path: said_rows(*_planned(path))
    for path in plans:
        if path.stem == "hill-shrine":
            # Its features lie where only tiles of two spaces have room.
            continue
        other = "10 ft" if read_toml(path)["scale"] == "5 ft" else "5 ft"
        # At 5 ft what was drawn for 10 ft has room if a space is as wide as a tile was.
        wide = 63.5 if other == "5 ft" else None
        found[f"plan {path.stem} at {other}"] = lambda path=path, other=other, wide=wide: plan_rows(
            *_planned(path, other, wide)
        )
    for number, (name, text) in enumerate(json.loads(DUNGEONS.read_text(encoding="utf-8")).items()):
        found[f"dungeon {name}"] = lambda text=text: small_rows(*_drawn(text), said_rows)
        found[f"dungeon {name}, patterned"] = lambda text=text: _refusable(
            lambda: tile_rows(_drawn(text, surface=_patterned(text))[1])
        )
        found[f"dungeon {name}, loose"] = lambda text=text: _refusable(
            lambda: small_rows(*_drawn(text, set=LOOSE), piece_rows)
        )
        found |= _made_of_all(name, text, number)
    for path in sorted(shipped("styles").glob("*.toml")):
        if read_style(path.stem).walls == "courses":
            for head in get_args(Head):
                found[f"stones {path.stem}, {head}"] = lambda word=path.stem, head=head: stone_rows(_carved(word, head))
    found["mixed base"] = lambda: made_rows(
        printed_things(_things(*_by_name(profiles, "corner", "door", "custom-outline"), set={"base": "sheet"}))
    )
    for bases in ([25.4], [25.4, 50.8], [32.0, 76.2]):
        found[f"grid for {bases}"] = lambda bases=bases: grid_rows(bases)
    for path in [*profiles, *shapes]:
        found[f"profile {path.stem}"] = lambda path=path: made_rows(_things(path))
    return found | _sheet_cases(profiles, shapes) | _kind_cases(profiles)


# Ways to make a plan, for each the next.
_STYLES = ("dressed", "rubble", "brick", "timber")
_STOCKS = (
    ("foam", ConstructionChoice("stacked", "mitre")),
    ("card", ConstructionChoice()),
    ("foam-core", ConstructionChoice()),
    ("foam", ConstructionChoice("stacked", "rabbet")),
    ("greyboard", ConstructionChoice()),
    ("mdf", ConstructionChoice("slotted")),
    ("foam", ConstructionChoice("stacked", "pinwheel")),
)


def _made_of_all(name: str, text: str, number: int) -> dict:
    """A small plan in two of the styles, in two of the stocks, and on bases that are cut with walls that are printed."""
    found = {}
    for style in (_STYLES[(number + n) % len(_STYLES)] for n in (0, 2)):
        found[f"dungeon {name}, stones of {style}"] = lambda style=style: _refusable(
            lambda: stone_sums(_drawn(text, surface={"style": style})[1])
        )
    for stock, ways in (_STOCKS[(number + n) % len(_STOCKS)] for n in (0, 3)):
        found[f"dungeon {name}, parts of {stock} {ways.corners or ''}"] = lambda stock=stock, ways=ways: _refusable(
            lambda: part_rows(things_of(_drawn(text)[1]), read_material(stock), ways)
        )
    for kind, pieces in (("", {}), (" and loose posts", LOOSE)):
        found[f"dungeon {name}, mixed bases{kind}"] = lambda pieces=pieces: [
            row
            for thing in things_of(_drawn(text, set={"base": "sheet", **pieces})[1])
            for row in _refusable(lambda thing=thing: plate_rows(printed_things([thing])))
        ]
    return found


def _by_name(paths, *names: str) -> list[Path]:
    return [path for path in paths if path.stem in names]


def _sheet_cases(profiles, shapes) -> dict:
    found = {}
    single = _by_name(profiles, "corner", "door")
    odd = [*_by_name(profiles, "custom-outline"), *shapes]
    for name in sorted(path.stem for path in shipped("materials").glob("*.toml")):
        material = read_material(name)
        # Stock as thick as three ordinary walls wants a wider grid.
        wide = {"grid": {"pitch": 80.0, "wall_thickness": 20.0}} if material.real_thickness > 12 else {}

        def set_of(folded=material.construction == "folded", wide=wide):
            # Folded card takes long and has no pits.
            plan = shipped("plans") / f"{_ORDINARY[not folded]}.toml"
            return things_of(_planned(plan)[1]) if not wide else []

        found[f"parts {name}"] = lambda m=material, wide=wide, of=set_of: part_rows(
            [*of(), *_things(*single, **wide)], m
        )
        if name in _OUTLINES_IN:
            found[f"parts {name}, outlines"] = lambda m=material: [
                {"profile": path.stem, "parts": _refusable(lambda path=path: part_rows(_things(path), m))}
                for path in odd
            ]
        for machine in sorted(path.stem for path in shipped("machines").glob("*.toml")):
            if _allowed(material, read_machine(machine)):
                found[f"drawing {name}, {machine}"] = lambda m=material, machine=machine, wide=wide: drawn_rows(
                    _things(*single, **wide), m, read_machine(machine)
                )
    for plan, stock in (("gull-light", "foam"), ("rounds", "card"), ("rounds", "greyboard")):
        path = (OWN if plan == "rounds" else shipped("plans")) / f"{plan}.toml"
        found[f"parts {stock}, {plan}"] = lambda path=path, stock=stock: part_rows(
            things_of(_planned(path)[1]), read_material(stock)
        )
    for stock in ("foam", "mdf"):
        path = OWN / "fittings.toml"
        found[f"parts {stock}, fittings"] = lambda stock=stock, path=path: part_rows(
            things_of(_planned(path)[1]), read_material(stock)
        )
    foam = read_material("foam")
    for corners in ("butt", "pinwheel", "mitre", "rabbet"):
        for stock in ("foam", "foam-core"):
            found[f"parts {stock}, {corners}"] = lambda stock=stock, corners=corners: part_rows(
                _things(*_by_name(profiles, "corner", "corridor", "custom-outline")),
                read_material(stock),
                ConstructionChoice("stacked", corners),
            )
        ways = ConstructionChoice("stacked", corners)
        found[f"parts foam, {corners}, outlines"] = lambda ways=ways: [
            {"profile": path.stem, "parts": _refusable(lambda path=path: part_rows(_things(path), foam, ways))}
            for path in shapes
        ]
    return found


def _allowed(material, machine) -> bool:
    try:
        check_pair(material, machine, verdict_of(material, machine).caution)
    except InputError:
        return False
    return True


_STOCK = {"stacked": "mdf", "folded": "card", "grooved": "foam-core"}


def _kind_cases(profiles) -> dict:
    """Every connector by every construction, every surface."""
    found = {}
    for word in ("magnets", "magnets below", "pegs", "keys"):

        def things(word=word):
            kind, _, below = word.partition(" ")
            made = _things(*_by_name(profiles, "corner", "door", "custom-outline"), connectors={"kind": kind})
            return [(_below(tile) if below else tile, count) for tile, count in made]

        found[f"connectors {word}"] = lambda things=things: made_rows(things())
        for construction, stock in _STOCK.items():
            found[f"connectors {word}, {construction}"] = lambda things=things, c=construction, s=stock: _refusable(
                lambda: part_rows(things(), read_material(s), ConstructionChoice(c))
            )
    corner = _by_name(profiles, "corner", "door")
    for pattern in (*FLOOR_PATTERNS, *WALL_PATTERNS):
        if pattern in {"none", OF_STYLE}:
            continue
        key = "floor" if pattern in FLOOR_PATTERNS else "walls"
        for relief in ("sunk", "raised") if key == "floor" else ("sunk",):
            surface = {key: pattern, "relief": relief}
            found[f"surface {pattern} {relief}"] = lambda surface=surface: made_rows(_things(*corner, surface=surface))
        found[f"surface {pattern}, parts"] = lambda key=key, pattern=pattern: part_rows(
            _things(*corner, surface={key: pattern}), read_material("mdf")
        )
    return found


def _below(tile):
    """The same tile with its magnets in slots from below."""
    from tilegen.tiles.tile import make_tile

    grid = replace(tile.grid, connectors=replace(tile.grid.connectors, magnet_place="below"))
    return make_tile(tile.name, tile.shape, grid)


# The data


def kept() -> dict:
    """The golden values."""
    return json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else {}


def _text(values: dict) -> str:
    """The data, a row a line, in an order of its own."""
    blocks = []
    for name, rows in sorted(values.items()):
        lines = sorted(json.dumps(row, separators=(",", ":"), sort_keys=True) for row in rows)
        blocks.append(json.dumps(name) + ":[\n" + ",\n".join(lines) + "\n]")
    return "{\n" + ",\n".join(blocks) + "\n}\n"


def main(words: list[str]) -> int:
    """Print what differs from the data, and write it anew unless only asked to check."""
    before, now = kept(), {name: make() for name, make in cases().items()}
    said = [line for name in now if name in before for line in differences(before[name], now[name], name)]
    said += [f"{name}: new" for name in now.keys() - before.keys()]
    said += [f"{name}: gone" for name in before.keys() - now.keys()]
    print("\n".join(sorted(said)) or "no difference")
    if words != ["--check"]:
        KEPT.write_text(_text(now), encoding="utf-8")
    return bool(said)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
