"""Random dungeons that mix what users mix, through the whole chain of commands: kit, fit, solids, sheets, report.

A dungeon is drawn from a number, the same one every time. What is drawn is meant to be legal (rooms apart from each
other, ways where two rooms meet, features where there is room), so that a refusal is rare and worth a look.
`python -m tests.proof.properties 2000 --only chain` is the long run; `--only kit` stops before the sheets.
"""

from __future__ import annotations

import math
import tempfile
import zlib
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from itertools import pairwise
from pathlib import Path
from random import Random
from unittest.mock import patch

import shapely
from shapely.geometry import LineString, Point, Polygon, box

from tests.examples import Example, toml
from tests.making import Refused, run, searching_less, written
from tests.properties import PROPERTIES, check_solids
from tilegen.making import plan as plans_module
from tilegen.making.plan import OpenPlan
from tilegen.model.surface import FLOOR_PATTERNS, WALL_PATTERNS
from tilegen.sheets.nesting import odd

SIDES = {"north": (0, -1), "east": (1, 0), "south": (0, 1), "west": (-1, 0)}
# Stocks that a machine may cut by the shipped files; the first four are what most people have.
STOCKS = [
    ("foam", "hand-knife"), ("card", "hand-knife"), ("greyboard", "laser"), ("foam-core", "hand-knife"),
    ("foam", "hot-wire"), ("mdf", "laser"), ("greyboard", "hand-knife"), ("card", "laser"), ("plywood", "laser"),
    ("card", "drag-knife"), ("cork", "hand-knife"), ("eva", "hand-knife"), ("pvc", "hand-knife"),
]  # fmt: skip
FLOORS, WALLS = list(FLOOR_PATTERNS[1:]), list(WALL_PATTERNS[1:])
LEAVES = {"doorway": ["sliding", "hinged", "lift-out"], "saddle": ["sliding"]}


def dungeon(rng: Random, *, small: bool = False) -> dict:
    """The tables of a plan: 10 ft or 5 ft, rooms on and off the grid, ways, walls, features, heights, and how it is made."""
    five = rng.random() < 0.3
    width, height = (rng.randint(3, 7), rng.randint(3, 6)) if five else (rng.randint(2, 6), rng.randint(2, 5))
    if small:
        width, height = min(width, 4), min(height, 3)
    tables: dict = {"name": "p", "scale": "5 ft" if five else "10 ft", **_measures(rng)}
    cells = _drawn_rooms(rng, width, height)
    shapes = _shapes(rng, cells, width, height)
    if not cells and not shapes:
        cells = {(1, 1): "A"}
    rows = ["".join(cells.get((c, r), ".") for c in range(1, width + 1)) for r in range(1, height + 1)]
    tables["drawing"] = "\n".join(rows)
    if shapes:
        tables["shape"] = [{"room": room, kind: what} for room, kind, what, _ in shapes]
    heights = _heights(rng, sorted({*cells.values(), *(s[0] for s in shapes)}))
    tables["way"] = [*_ways(rng, cells, heights), *_shape_ways(rng, cells, shapes)]
    tables["wall"] = _inner_walls(rng, cells, tables["way"])
    kinds = ["pillar", "pillar", "dais", "stair"]
    # A base with pockets along its edges has no room for a pit that fills the floor.
    kinds += [] if "connectors" in tables else ["pit", "well"]
    tables["feature"] = _features(rng, cells, shapes, 1 if five else 2, kinds)
    if heights:
        tables["heights"] = heights
    if rng.random() < 0.3:
        tables["rooms"] = {letter: f"Room {letter}" for letter in sorted(set(cells.values()))}
    return {key: value for key, value in tables.items() if value != []}


def _measures(rng: Random) -> dict:
    """Another grid, surfaces, connectors, doors: each now and then."""
    found: dict = {}
    if rng.random() < 0.25:
        found["grid"] = {
            "pitch": rng.choice([28, 30, "1.25 in", 38.1]), "wall_thickness": rng.choice([5.5, 6, "1/4 in", 8]),
            "wall_height": rng.choice([25, 30, "1.5 in"]), "base_depth": rng.choice([6, "1/4 in", 8]),
            "joint_play": rng.choice([0, 0.2, 0.3, 0.5]),
        }  # fmt: skip
        found["doorway"] = {"height": 20, "width": 22}
    if rng.random() < 0.3:
        found["surface"] = {
            key: rng.choice(words) for key, words in (("floor", FLOORS), ("walls", WALLS)) if rng.random() < 0.7
        }
    if rng.random() < 0.2:
        found["connectors"] = {"kind": rng.choice(["pegs", "magnets", "keys", "tray-magnets"])}
    if rng.random() < 0.15:
        found["door"] = {
            "leaf": rng.choice(["sliding", "hinged"]),
            "style": rng.choice(["planks", "plain", "bars", "portcullis"]),
        }
    if rng.random() < 0.2:
        found["floor"] = {"lines": False}
    return {key: value for key, value in found.items() if value}


def _drawn_rooms(rng: Random, width: int, height: int) -> dict[tuple[int, int], str]:
    """Up to four rectangles and a hall between two of them, by cell."""
    cells: dict[tuple[int, int], str] = {}
    middles = []
    for letter in "ABCD"[: rng.randint(0 if rng.random() < 0.3 else 1, 4)]:
        w, h = rng.randint(1, 3), rng.randint(1, 3)
        c, r = rng.randint(1, max(1, width - w + 1)), rng.randint(1, max(1, height - h + 1))
        wanted = [(x, y) for x in range(c, min(c + w, width + 1)) for y in range(r, min(r + h, height + 1))]
        if not any(cell in cells for cell in wanted):
            cells |= dict.fromkeys(wanted, letter)
            middles.append(rng.choice(wanted))
    if len(middles) > 1 and rng.random() < 0.6:
        (c, r), (x, y) = middles[:2]
        bend = [(k, r) for k in range(min(c, x), max(c, x) + 1)] + [(x, k) for k in range(min(r, y), max(r, y) + 1)]
        cells |= {cell: "H" for cell in bend if cell not in cells}
    return cells


def _around(cells: dict[tuple[int, int], str], letter: str = "") -> Polygon:
    """The floor of a room on the grid, or of all, in cells from the drawing's corner."""
    return shapely.union_all([box(c - 1, r - 1, c, r) for (c, r), own in cells.items() if letter in ("", own)])


def _place(rng: Random, low: float, high: float) -> float:
    """Mostly a quarter of a cell, as people draw."""
    found = rng.uniform(low, max(low, high))
    return min(max(round(found * 4) / 4 if rng.random() < 0.6 else round(found, 2), low), max(low, high))


def _shapes(
    rng: Random, cells: dict[tuple[int, int], str], width: int, height: int
) -> list[tuple[str, str, object, Polygon]]:
    """Rooms off the grid: (letter, kind, its table, floor), apart from the drawn ones and from each other."""
    found: list = []
    taken = _around(cells) if cells else Polygon()
    for letter in "TUV"[: rng.choice([0, 1, 1, 1, 2, 3])]:
        for _ in range(40):
            kind, what, floor = rng.choice([_circle, _circle, _polygon, _hall, _arc])(rng, width, height)
            inside = box(0, 0, width, height).buffer(1e-9).contains(floor)
            if floor.is_valid and inside and floor.intersection(taken).area < 1e-9:
                found.append((letter, kind, what, floor))
                taken = taken.union(floor)
                break
    return found


def _circle(rng: Random, width: int, height: int) -> tuple[str, object, Polygon]:
    radius = min(
        rng.choice([0.5, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0, round(rng.uniform(0.5, 2), 2)]), width / 2, height / 2
    )
    centre = [_place(rng, radius, width - radius), _place(rng, radius, height - radius)]
    return "circle", {"centre": centre, "radius": radius}, Point(centre).buffer(radius, quad_segs=64)


def _polygon(rng: Random, width: int, height: int) -> tuple[str, object, Polygon]:
    """Corners about a centre, some sides bent."""
    number, reach = rng.randint(3, 7), min(rng.uniform(0.9, 2.2), width / 2, height / 2)
    x, y = _place(rng, reach, width - reach), _place(rng, reach, height - reach)
    begin = rng.uniform(0, 7)
    corners: list[list[float]] = []
    for k in range(number):
        turn = begin + 2 * math.pi * (k + rng.uniform(-0.25, 0.25)) / number
        far = reach * rng.uniform(0.65, 1)
        corners.append([round(x + far * math.cos(turn), 2), round(y + far * math.sin(turn), 2)])
    floor = Polygon(corners)
    if rng.random() < 0.3:
        k = rng.randrange(number)
        side = LineString([corners[k], corners[(k + 1) % number]])
        bow = round(side.length * rng.uniform(0.05, 0.2), 2)
        floor = floor.union(side.buffer(bow))
        corners[k].append(bow)
    return "polygon", corners, floor


def _hall(rng: Random, width: int, height: int) -> tuple[str, object, Polygon]:
    wide = rng.choice([0.5, 0.75, 1, 1, 1.25, round(rng.uniform(0.5, 1.5), 2)])
    ends = [[_place(rng, wide / 2, width - wide / 2), _place(rng, wide / 2, height - wide / 2)] for _ in range(2)]
    if math.dist(*ends) < 1:
        ends[1] = [ends[0][0] + 1.5, ends[0][1]]
    return "hall", {"from": ends[0], "to": ends[1], "width": wide}, LineString(ends).buffer(wide / 2, cap_style="flat")


def _arc(rng: Random, width: int, height: int) -> tuple[str, object, Polygon]:
    wide, radius = rng.choice([0.75, 1.0]), rng.choice([1.0, 1.5, 2.0, 2.5])
    start, span = rng.choice([0, 45, 90, 180, 270, rng.randrange(360)]), rng.choice([60, 90, 120, 180, 270])
    x, y = _place(rng, 0, width), _place(rng, 0, height)
    turns = [math.radians(start + span * k / 48) for k in range(49)]
    middle = LineString([(x + radius * math.sin(t), y - radius * math.cos(t)) for t in turns])
    table = {"centre": [x, y], "radius": radius, "width": wide, "from": start, "to": start + span}
    return "arc", table, middle.buffer(wide / 2, cap_style="flat")


def _heights(rng: Random, letters: list[str]) -> dict:
    """Floors and walls of their own for some rooms."""
    if rng.random() > 0.25:
        return {}
    found = {}
    for letter in letters:
        if rng.random() < 0.5:
            found[letter] = {"floor": rng.choice([0.0, 6.35, "1/2 in"])} | (
                {"wall": rng.choice([20, 30])} if rng.random() < 0.4 else {}
            )
    return found


def _ways(rng: Random, cells: dict[tuple[int, int], str], heights: dict) -> list[dict]:
    """A way between any two rooms that meet on the grid, now and then two, and a way in."""
    borders: dict[tuple[str, str], list[tuple[int, int, str]]] = {}
    for (c, r), letter in cells.items():
        for side, (dx, dy) in SIDES.items():
            other = cells.get((c + dx, r + dy), ".")
            if other != letter and (other == "." or side in ("east", "south")):
                borders.setdefault((min(letter, other), max(letter, other)), []).append((c, r, side))
    found = []
    for (one, other), places in sorted(borders.items()):
        if one == "." and rng.random() < 0.8:
            continue
        for c, r, side in rng.sample(places, min(len(places), rng.choice([1, 1, 1, 2]))):
            level = heights.get(one, {}).get("floor", 0.0) == heights.get(other, {}).get("floor", 0.0)
            kind = rng.choice(["open", "doorway", "doorway", *(["saddle"] if one != "." and level else [])])
            way: dict = {"cell": [c, r], "side": side, "kind": kind}
            if kind in LEAVES and rng.random() < 0.25:
                way |= {
                    "leaf": rng.choice(LEAVES[kind]),
                    "style": rng.choice(["planks", "plain", "bars", "portcullis"]),
                }
            if kind == "doorway" and rng.random() < 0.15:
                way["width"] = 12
            if kind == "doorway" and rng.random() < 0.2:
                # Under an arch there is no lintel for a hinge, and no straight edge for a piece that is lifted out.
                way |= {"head": rng.choice(["round", "pointed"])} | (
                    {"leaf": "sliding"} if "leaf" in way else {"leaf": "none"}
                )
            found.append(way)
    return found


def _shape_ways(rng: Random, cells: dict[tuple[int, int], str], shapes: list) -> list[dict]:
    """Ways through the walls of rooms off the grid: where they meet another room, if they do, or out."""
    found = []
    for letter, _, _, floor in shapes:
        others = [_around(cells)] if cells else []
        others += [other for name, _, _, other in shapes if name != letter]
        meeting = shapely.union_all(others).buffer(1e-6).intersection(floor.exterior) if others else LineString()
        # Straight walls of some length; those of a circle are a hundred short ones, any of which will do.
        walls = [LineString(pair) for pair in pairwise(floor.exterior.coords)]
        longest = max(wall.length for wall in walls)
        walls = [wall for wall in walls if wall.length > 0.7 * longest]
        shared = [p for p in getattr(meeting, "geoms", [meeting]) if p.length > 0.4]
        if not shared and rng.random() < 0.4:
            continue
        point = rng.choice(shared or walls).interpolate(0.5, normalized=True)
        way: dict = {
            "room": letter,
            "at": [round(point.x, 3), round(point.y, 3)],
            "kind": rng.choice(["open", "doorway"]),
        }
        if longest < 0.9:
            way["width"] = 12
        if way["kind"] == "doorway" and rng.random() < (0.5 if shared else 0.1):
            way |= {"leaf": rng.choice(LEAVES["doorway"]), "style": rng.choice(["planks", "bars"])}
        found.append(way)
    return found


def _inner_walls(rng: Random, cells: dict[tuple[int, int], str], ways: list[dict]) -> list[dict]:
    """A wall inside a room."""
    inner = [(c, r, s) for (c, r), own in cells.items() for s in ("east", "south")
             if cells.get((c + SIDES[s][0], r + SIDES[s][1])) == own]  # fmt: skip
    if not inner or rng.random() > 0.2:
        return []
    c, r, side = rng.choice(inner)
    return [{"cell": [c, r], "side": side}]


def _features(
    rng: Random, cells: dict[tuple[int, int], str], shapes: list, spaces: int, kinds: list[str]
) -> list[dict]:
    """Up to three things on floors, one a cell, small enough for the middle of it; in rooms off the grid too."""
    if rng.random() > 0.4:
        return []
    places = list(cells)
    for _, _, _, floor in shapes:
        low_x, low_y, high_x, high_y = floor.bounds
        whole = [(c, r) for c in range(int(low_x) + 1, int(high_x) + 2) for r in range(int(low_y) + 1, int(high_y) + 2)]
        places += [(c, r) for c, r in whole if floor.buffer(1e-6).contains(box(c - 1, r - 1, c, r))]
    if not places:
        return []
    found = []
    for c, r in rng.sample(sorted(set(places)), min(len(set(places)), rng.randint(1, 3))):
        kind = rng.choice(kinds)
        size = rng.choice(["0.4 in", 12] if spaces == 1 else ["0.5 in", 18, "1 in"])
        thing: dict = {"kind": kind, "cell": [c, r]}
        if kind == "pillar":
            thing |= {"size": size, "round": rng.random() < 0.5}
        elif kind == "well":
            thing |= {"size": size, "rim_width": rng.choice([2, "1/8 in"]), "rim_height": rng.choice([4, "1/2 in"])}
        elif rng.random() < 0.5:
            thing |= {"size": size, "at": [spaces / 2, spaces / 2]}
        if kind == "stair":
            thing |= {"side": rng.choice(list(SIDES)), "height": rng.choice([6.35, "1/2 in"])}
        if kind == "dais" and rng.random() < 0.4:
            thing["height"] = rng.choice([4, 8])
        found.append(thing)
    return found


def example(number: int, whole: bool = True) -> Example:
    """Dungeon `number`; whole: with four stocks that its sheets are cut from, and most of them small."""
    rng = Random(number)
    tables = dungeon(rng, small=whole and number % 4 > 0)
    # No hollow can be folded into card.
    hollow = any(thing["kind"] in ("pit", "well") for thing in tables.get("feature", []))
    fit = [[stock for stock in half if stock[0] != "card" or not hollow] for half in (STOCKS[:4], STOCKS[4:])]
    stocks = [rng.choice(half) for half in fit] if whole else []
    if whole:
        stocks += rng.sample([stock for half in fit for stock in half if stock not in stocks], 2)
    return Example("chain" if whole else "kit", {"p.toml": toml(tables)}, tuple(map(" by ".join, stocks)))


def smaller(whole: Example) -> Iterator[Example]:
    """The same dungeon less one of its tables, rooms or stocks: what to try while a failure is made small."""
    tables = whole.table("p.toml")
    tables["drawing"] = tables["drawing"].strip()
    for key, value in tables.items():
        if key in ("name", "scale", "drawing"):
            continue
        yield _changed(whole, {k: v for k, v in tables.items() if k != key})
        if isinstance(value, list) and len(value) > 1:
            for k in range(len(value)):
                yield _changed(whole, {**tables, key: value[:k] + value[k + 1 :]})
        if isinstance(value, dict):
            for inner in value:
                yield _changed(whole, {**tables, key: {k: v for k, v in value.items() if k != inner}})
    for letter in sorted(set(tables["drawing"]) - set(".\n")):
        yield _changed(whole, {**tables, "drawing": tables["drawing"].replace(letter, ".")})
    for k in range(len(whole.words)):
        if len(whole.words) > 1:
            yield Example(whole.property, whole.files, whole.words[:k] + whole.words[k + 1 :])


def _changed(whole: Example, tables: dict) -> Example:
    return Example(
        whole.property, {"p.toml": toml({k: v for k, v in tables.items() if v not in ([], {})})}, whole.words
    )


@contextmanager
def reading_once() -> Iterator[None]:
    """The plan is read and its kit made once for all commands: they make the same of the same file, again and again."""

    plans: dict[str, OpenPlan] = {}

    read = plans_module.open_plan

    def opened(*given: object) -> OpenPlan:
        key = repr(given)
        if key not in plans:
            plans[key] = read(*given)  # type: ignore[arg-type]
        return plans[key]

    with patch.object(plans_module, "open_plan", opened):
        yield


def check_kit(example: Example) -> None:
    """Kit, fit and solids agree: every tile of the kit is a closed solid."""
    with tempfile.TemporaryDirectory() as name, reading_once():
        _kit(written(Path(name), example) / "p.toml")


def _kit(plan: Path) -> dict:
    counted: dict = run(plan.parent, "kit", plan).said
    run(plan.parent, "fit", plan, "--figure", "1 in", "--figure", "2 in")
    solids = check_solids(run(plan.parent, "solid", plan))
    assert {tile["name"] for tile in counted["tiles"]} <= solids.keys(), "a tile of the kit has no solid"
    return counted


def strips_now_and_then(example: Example) -> AbstractContextManager[object]:
    """Most as without the extra `nest`, whose library takes its time."""
    strips = zlib.crc32(example.files["p.toml"].encode()) % 4 == 0
    return patch.object(odd, "can_nest_odd", lambda: strips)


def check_chain(example: Example) -> None:
    """As the kit; and each stock's sheets come out without a finding, build with the report for the first of them."""
    with tempfile.TemporaryDirectory() as name, reading_once(), searching_less(), strips_now_and_then(example):
        plan = written(Path(name), example) / "p.toml"
        counted = _kit(plan)
        refused = []
        for k, stock in enumerate(example.words):
            material, machine = stock.split(" by ")
            words = ["build" if k == 0 else "sheet", plan, "--material", material, "--machine", machine]
            try:
                made = run(plan.parent, *words, out=f"out-{k}")
            except Refused as why:
                refused.append(why)
                continue
            assert made.code == 0, f"{stock}: exit {made.code}"
            if k == 0:
                assert made.said["kit"]["totals"] == counted["totals"]
                assert len(made.files("html")) == 1
        # What the auditor finds on a sheet that was made is no refusal.
        findings = [str(why) for why in refused if ": finding " in str(why)]
        assert not findings, findings[0][:300]
        if refused:
            raise refused[0]


ALL = {**PROPERTIES, "kit": check_kit, "chain": check_chain}
