"""Random but legal examples: grids, profiles, outlines, plans, stock, machines, printers; as the files a user writes."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import strategies as st
from shapely.geometry import Polygon

from tests.examples import Example, toml
from tests.meant import grid_of, region_of
from tests.oracle import SIDES
from tests.outlines import random_outline
from tests.plans import furnished
from tilegen.files.toml import shipped
from tilegen.model.surface import FLOOR_PATTERNS, WALL_PATTERNS
from tilegen.tiles.shape import OutlineShape

CORNERS = ("north-east", "north-west", "south-east", "south-west")


def lengths(low: float, high: float, digits: int = 2) -> st.SearchStrategy[float]:
    """Millimetres with few digits; the ends come often."""
    scale, high = 10**digits, max(low, high)
    inside = st.integers(math.ceil(low * scale), max(math.ceil(low * scale), math.floor(high * scale))).map(
        lambda n: n / scale
    )
    return st.one_of(inside, inside, inside, st.sampled_from([low, high]))


def maybe(strategy: st.SearchStrategy, least: int = 3) -> st.SearchStrategy:
    """None once in a while."""
    return st.one_of(*[strategy] * least, st.none())


def _said(table: dict) -> dict:
    return {key: value for key, value in table.items() if value is not None}


@st.composite
def grids(draw: st.DrawFn, *, plain: bool | None = None) -> dict:
    """[grid], [floor], [doorway]: from tiny to huge, walls nearly half a pitch, play nearly a wall."""
    if draw(st.integers(0, 4)) == 0:
        return {"floor": {"lines": False}} if plain else {}
    pitch = draw(
        st.one_of(lengths(20, 40), lengths(20, 40), lengths(4, 400), st.sampled_from([25.4, 31.75, 38.1, 30.0]))
    )
    wall = draw(st.one_of(lengths(pitch * 0.08, pitch * 0.3), lengths(pitch * 0.03, pitch * 0.49), st.just(pitch / 5)))
    base = draw(st.one_of(lengths(2, 12), lengths(0.5, 60)))
    table = {
        "pitch": pitch,
        "spaces": draw(st.sampled_from([2, 2, 2, 2, 1, 3, 4])),
        "wall_thickness": round(wall, 4),
        "wall_height": draw(st.one_of(lengths(10, 60), lengths(0.5, 300))),
        "base_depth": base,
        "joint_play": draw(
            st.one_of(st.just(0.0), lengths(0, 0.6), lengths(0, wall * 0.99).filter(lambda p: p < wall))
        ),
    }
    lines = False if plain else draw(st.booleans())
    floor = {"lines": lines, "groove_width": draw(lengths(0.2, pitch / 2)) if draw(st.booleans()) else None,
             "groove_depth": draw(lengths(0.1, base * 0.85)) if draw(st.booleans()) else min(0.6, base / 2)}  # fmt: skip
    doorway = {
        "width": draw(lengths(pitch * 0.2, pitch * 2)),
        "height": draw(lengths(table["wall_height"] * 0.2, table["wall_height"] * 1.3)),
        "head": draw(st.sampled_from(["flat", "flat", "round", "pointed"])),
    }
    if doorway["head"] != "flat" and table["wall_height"] < _RISES[doorway["head"]] * doorway["width"] + 1:
        doorway["head"] = "flat"
    if doorway["head"] != "flat":
        doorway["height"] = max(doorway["height"], _RISES[doorway["head"]] * doorway["width"] + 1)
    return {"grid": table, "floor": _said(floor), "doorway": doorway}


@st.composite
def _opening(draw: st.DrawFn, wall: str, spaces: float, grid: dict, doors: dict) -> dict:
    made: dict = {"wall": wall, "kind": "doorway"}
    length, thick = spaces * grid["pitch"], grid["wall_thickness"]
    if draw(st.booleans()):
        made["at"] = round(spaces * draw(st.sampled_from([0.5, 0.5, 0.45, 0.6, 0.35])), 3)
    room = (
        2 * min(made.get("at", spaces / 2) * grid["pitch"], length - made.get("at", spaces / 2) * grid["pitch"])
        - 3 * thick
    )
    if room > 1 and draw(st.booleans()):
        made["width"] = draw(lengths(room * 0.2, room))
        low = [head for head, rise in _RISES.items() if rise * made["width"] < grid["wall_height"]]
        made["head"] = draw(st.sampled_from(low))
        high = draw(lengths(grid["wall_height"] * 0.3, grid["wall_height"]))
        made["height"] = min(max(high, _RISES[made["head"]] * made["width"] + 0.5), grid["wall_height"])
    if doors and draw(st.integers(0, 3)) == 0:
        made["leaf"] = draw(st.sampled_from(["sliding", "hinged", "lift-out"]))
    return made


HOLLOW, ONE_CELL = ("pit", "well"), ("pillar", "well")


@st.composite
def _features(draw: st.DrawFn, size: tuple, grid: dict) -> list[dict]:
    """Up to three boxes in separate thirds of the free floor."""
    pitch, clear = grid["pitch"], grid["wall_thickness"] + 0.6
    width, depth = (s * pitch - 2 * clear for s in size)
    found = []
    many = draw(st.sampled_from([0, 0, 1, 2, 3]))
    if width / max(1, many) < 4 or depth < 4:
        return []
    for n in range(many):
        w = draw(lengths(2, width / many - 1.2))
        d = draw(lengths(2, depth - 1))
        at = ((clear + (n + 0.5) * width / many) / pitch, (clear + depth * 0.5) / pitch)
        kind = draw(st.sampled_from(["pillar", "dais", "stair", "pit", "well"]))
        thing: dict = {"kind": kind, "at": [round(v, 4) for v in at], "size": [w, d]}
        if kind in HOLLOW and grid["base_depth"] < 1.6:
            continue
        if kind == "well" and min(w, d) < 6.5:
            thing["kind"] = kind = "pit"
        if kind == "stair" and min(w, d) < 3:
            thing["kind"] = kind = "dais"
        if kind in HOLLOW:
            thing["depth"] = draw(lengths(0.2, grid["base_depth"] - 1.2))
        else:
            thing["height"] = draw(lengths(1, grid["wall_height"]))
        if kind == "well":
            thing["size"], thing["rim_width"] = min(w, d), draw(lengths(2, min(w, d) / 2 - 1.1))
            thing["rim_height"] = draw(lengths(1, grid["wall_height"]))
        if kind == "stair":
            thing["side"], thing["steps"] = (
                draw(st.sampled_from(SIDES)),
                draw(st.integers(1, max(1, min(4, int(min(w, d) / 3))))),
            )
        if kind == "pillar" and draw(st.booleans()):
            thing["round"], thing["size"] = True, min(w, d)
        found.append(thing)
    return found


# How high each head rises, in widths of its opening; an arch of three quarters of the span: half the root of 2.
_RISES = {"flat": 0.0, "round": 0.5, "pointed": 0.7072}
_SURFACES = st.fixed_dictionaries(
    {"floor": st.sampled_from(FLOOR_PATTERNS), "walls": st.sampled_from(WALL_PATTERNS),
     "seed": st.integers(0, 999), "relief": st.sampled_from(["sunk", "sunk", "raised"])}
)  # fmt: skip
_CONNECTORS = st.one_of(
    st.fixed_dictionaries({"kind": st.sampled_from(["pegs", "keys"])}),
    st.fixed_dictionaries({"kind": st.just("tray-magnets"), "magnet_diameter": st.sampled_from([3.0, 5.0, 8.0])}),
    st.fixed_dictionaries(
        {
            "kind": st.just("magnets"),
            "every": st.sampled_from(["space", "tile"]),
            "magnet_diameter": st.just(3.0),
            "magnet_place": st.sampled_from(["side", "below"]),
        }
    ),
)


@st.composite
def profile_tables(draw: st.DrawFn, *, plain: bool = False, grid: dict | None = None) -> dict:
    """A tile by its size. plain: nothing on it but walls, posts, doorways."""
    tables = draw(grids(plain=plain)) if grid is None else grid
    own = grid_of(tables)
    spaces = draw(st.one_of(st.integers(1, 4), st.just(2), st.sampled_from([1.5, 2.5, 0.75, 8])))
    size = [spaces, draw(st.one_of(st.just(spaces), st.integers(1, 3)))]
    size = [max(s, math.ceil(2.2 * own["wall_thickness"] / own["pitch"] * 100) / 100) for s in size]
    walls = draw(st.lists(st.sampled_from(SIDES), unique=True))
    posts = draw(st.lists(st.sampled_from(CORNERS), unique=True, max_size=2)) if draw(st.booleans()) else []
    made = {"name": "t", **tables, "tile": {"size": size, "walls": walls, "posts": posts}}
    doors = not plain and draw(st.integers(0, 3)) == 0
    openings = []
    for wall in walls:
        if draw(st.integers(0, 2)) == 0:
            openings.append(
                draw(_opening(wall, size[0 if wall in ("north", "south") else 1], own, {"leaf": 1} if doors else {}))
            )
    if openings:
        made["opening"] = openings
    if not plain:
        things = draw(_features(size, own)) if not posts else []
        if things:
            made["feature"] = things
        if draw(st.integers(0, 3)) == 0 and own["pitch"] > 20 and min(own["base_depth"], own["wall_thickness"]) > 1.5:
            made["surface"] = draw(_SURFACES)
        if draw(st.integers(0, 2)) == 0 and own["pitch"] >= 25 and own["base_depth"] >= 6 and own["joint_play"] <= 0.5:
            made["connectors"] = draw(_CONNECTORS)
    return made


@st.composite
def grid_examples(draw: st.DrawFn) -> Example:
    """A grid file, and a tile that is to be made on it."""
    tables = draw(grids())
    tile = draw(profile_tables(grid=tables))
    for name in ("grid", "floor", "doorway"):
        tile.pop(name, None)
    return Example("grid", {"grid.toml": toml(tables), "t.toml": toml(tile)})


@st.composite
def _beside_walls(draw: st.DrawFn, size: tuple, grid: dict, walls: list) -> list[dict]:
    """One thing that fills the clear floor, or leans against its sides; what is next to it decides nothing."""
    clear = [grid["wall_thickness"] if side in walls else grid["joint_play"] / 2 for side in SIDES]
    north, east, south, west = clear
    width, depth = size[0] * grid["pitch"] - west - east, size[1] * grid["pitch"] - north - south
    if min(width, depth) < 6:
        return []
    kind = draw(st.sampled_from(["dais", "stair", "pit", "pillar", "well", "stair"]))
    thing: dict = {"kind": kind}
    if kind in HOLLOW:
        thing["depth"] = draw(lengths(0.2, max(0.3, grid["base_depth"] - 1.3)))
    else:
        thing["height"] = draw(lengths(1, grid["wall_height"]))
    if kind == "stair":
        thing["side"], thing["steps"] = draw(st.sampled_from(SIDES)), draw(st.integers(1, 3))
    # Of the clear floor: all of it, or half of it in a corner, from the wall's face on.
    if kind in ONE_CELL or draw(st.booleans()):
        w, d = (math.floor(v * draw(st.sampled_from([0.5, 0.5, 1.0])) * 1e4) / 1e4 for v in (width, depth))
        if kind == "well":
            w = d = min(w, d)
            thing["rim_width"] = max(2, round(w / 4, 3))
        thing["size"] = [w, d]
        thing["at"] = [round((west + w / 2) / grid["pitch"], 6), round((north + d / 2) / grid["pitch"], 6)]
    return [thing]


@st.composite
def dressed_tables(draw: st.DrawFn) -> dict:
    """A tile with everything on at once: features against walls, surfaces, connectors, leaves, posts."""
    pitch, spaces = draw(st.sampled_from([25.4, 30.0, 31.75, 38.1])), draw(st.sampled_from([2, 2, 1, 3]))
    grid = {
        "pitch": pitch, "spaces": spaces, "wall_thickness": draw(lengths(5, pitch / 4)),
        "wall_height": draw(lengths(12, 60)), "base_depth": draw(lengths(6, 10)), "joint_play": draw(lengths(0, 0.5)),
    }  # fmt: skip
    size = [draw(st.sampled_from([1, 2, 2, 3, 4, 1.5])), draw(st.integers(1, 4))]
    walls = draw(st.lists(st.sampled_from(SIDES), unique=True, min_size=1))
    tables: dict = {"name": "t", "grid": grid, "floor": {"lines": draw(st.booleans())}}
    tables["tile"] = {"size": size, "walls": walls, "posts": []}
    tables["surface"] = {**draw(_SURFACES), "continuous": draw(st.booleans())}
    # Half a space is too little for two of them.
    if spaces == 2 and draw(st.booleans()):
        tables["connectors"] = draw(_CONNECTORS)
    # As wide as leaves, jambs and walls leave room for, in the side's middle.
    side = draw(st.sampled_from(walls))
    room = size[0 if side in ("north", "south") else 1] * pitch - 2 * grid["wall_thickness"] - 5
    if room > 12 and draw(st.booleans()):
        high = draw(lengths(8, grid["wall_height"]))
        door = {
            "wall": side,
            "kind": "doorway",
            "head": "flat",
            "height": high,
            "width": draw(lengths(10, min(room, 40))),
        }
        leaf = draw(st.sampled_from(["none", "sliding", "lift-out", "hinged"]))
        if leaf != "hinged" or (tables["surface"]["relief"] == "sunk" and high < grid["wall_height"] - 2 and room > 16):
            door["leaf"] = leaf
        tables["door"] = {"thickness": 2.0, "groove_depth": 1.0, "pin": 1.5}
        tables["opening"] = [door]
    things = draw(_beside_walls(tuple(size), grid, walls)) if draw(st.integers(0, 4)) else draw(_features(size, grid))
    if "connectors" in tables:
        things = [thing for thing in things if thing["kind"] not in HOLLOW]
    if things:
        tables["feature"] = things
    else:
        tables["tile"]["posts"] = draw(st.lists(st.sampled_from(CORNERS), max_size=2, unique=True))
    return tables


@st.composite
def profile_examples(draw: st.DrawFn) -> Example:
    tables = dressed_tables() if draw(st.booleans()) else profile_tables(plain=draw(st.booleans()))
    return Example("profile", {"t.toml": toml(draw(tables))})


STYLES = sorted(path.stem for path in shipped("styles").glob("*.toml"))


@st.composite
def stone_examples(draw: st.DrawFn) -> Example:
    """A tile with everything on, carved as stone; without lines and patterns, which stones take the place of."""
    tables = draw(dressed_tables())
    tables["floor"] = {"lines": False}
    tables["surface"] = {"style": draw(st.sampled_from(STYLES)), "seed": draw(st.integers(0, 99))}
    return Example("stone", {"t.toml": toml(tables)})


def _can_be_a_tile(shape: OutlineShape) -> bool:
    """Whether a ring is one with its holes inside and its corners apart; thin places are left to the tool."""
    ring = np.array([*shape.points, shape.points[0]])
    steps = np.hypot(*np.diff(ring, axis=0).T)
    holes = [Polygon(hole) for hole in shape.holes]
    whole = Polygon(shape.points) if len(shape.points) > 2 else Polygon()
    apart = all(hole.buffer(0.3).within(whole) for hole in holes) and all(
        a.distance(b) > 0.3 for n, a in enumerate(holes) for b in holes[:n]
    )
    return whole.is_valid and not whole.is_empty and bool(steps.min() > 0.06) and apart


@st.composite
def outline_tables(draw: st.DrawFn) -> dict:
    """Star-shaped rings of 3 to 200 corners with holes, necks and walls; rounded now and then."""
    random, few = np.random.default_rng(draw(st.integers(0, 2**32 - 1))), draw(st.integers(0, 9))
    shape = random_outline(random)
    for _ in range(20 if few else 0):
        if _can_be_a_tile(shape):
            break
        shape = random_outline(random)
    # In spaces of 10 to 40 mm, with room for the wall.
    pitch = draw(lengths(10, 40))
    grid = {
        "pitch": pitch,
        "wall_thickness": draw(lengths(1, pitch / 8)),
        "joint_play": draw(st.one_of(st.just(0.0), lengths(0, 0.6))),
    }
    tables = {"grid": {**grid, "wall_height": draw(lengths(1, 60))}, "floor": {"lines": draw(st.booleans())}}
    tables["grid"]["base_depth"] = draw(lengths(1, 12))
    unit = tables["grid"]["pitch"]

    def ring(points: tuple) -> list:
        # On whole micrometres, as a drawing has them.
        return [[round(x, 3) / unit, round(y, 3) / unit] for x, y in points]

    walls = list(shape.walls) if draw(st.booleans()) else []
    tile: dict = {"outline": ring(shape.points), "walls": walls, "holes": [ring(hole) for hole in shape.holes]}
    if len(shape.points) < 12 and draw(st.integers(0, 3)) == 0:
        tile["round"] = draw(lengths(0.5, 6))
    return {"name": "t", **tables, "tile": tile}


@st.composite
def outline_examples(draw: st.DrawFn) -> Example:
    return Example("outline", {"t.toml": toml(draw(outline_tables()))})


@st.composite
def plan_tables(draw: st.DrawFn) -> dict:
    """A small plan: rooms, ways with measures, walls, heights, features; at 10 ft or 5 ft; shapes now and then."""
    rows, ways, walls = draw(furnished())
    tables = {"name": "p", "scale": draw(st.sampled_from(["10 ft", "10 ft", "5 ft"]))}
    tables |= (
        draw(grids(plain=draw(st.booleans()))) if draw(st.booleans()) else {"floor": {"lines": draw(st.booleans())}}
    )
    tables["drawing"] = "\n".join(rows)
    own = grid_of(tables)
    per_cell = own["spaces"] if tables["scale"] == "10 ft" else 1
    way_tables = []
    for (c, r, side), kind in ways.items():
        way: dict = {"cell": [c, r], "side": side, "kind": kind}
        if kind == "doorway" and draw(st.integers(0, 3)) == 0:
            way["at"] = round(per_cell * draw(st.sampled_from([0.4, 0.5, 0.55])), 3)
        if kind == "doorway" and draw(st.integers(0, 3)) == 0:
            way["height"] = draw(lengths(own["wall_height"] * 0.3, own["wall_height"]))
            way["head"] = "flat"
        way_tables.append(way)
    if way_tables:
        tables["way"] = way_tables
    if walls:
        tables["wall"] = [{"cell": [c, r], "side": side} for c, r, side in sorted(walls)]
    letters = sorted({c for row in rows for c in row} - {"."})
    if draw(st.integers(0, 3)) == 0 and tables["scale"] == "10 ft":
        _with_shapes(tables, draw, letters, len(rows[0]), len(rows))
    shapes = tables.get("shape", [])
    letters = sorted({*letters, *(shape["room"] for shape in shapes)})
    if draw(st.integers(0, 3)) == 0:
        heights = {
            letter: _said({"floor": draw(maybe(lengths(0, own["base_depth"]))), "wall": draw(maybe(lengths(own["wall_height"] * 0.4, own["wall_height"])))})
            for letter in letters if draw(st.booleans())
        }  # fmt: skip
        if heights:
            tables["heights"] = heights
    if draw(st.integers(0, 2)) == 0:
        tables["feature"] = draw(_plan_features(rows, own, per_cell, shapes))
        if not tables["feature"]:
            del tables["feature"]
    return tables


@st.composite
def _plan_features(draw: st.DrawFn, rows: list[str], grid: dict, per_cell: int, shapes: list[dict] = ()) -> list[dict]:
    """On cells with a letter, and on those under the middle half of a shape."""
    cells = [(c, r) for r, row in enumerate(rows, 1) for c, letter in enumerate(row, 1) if letter != "."]
    for shape in shapes:
        west, north, east, south = region_of(shape).bounds
        across, down = (east - west) / 4, (south - north) / 4
        for row in range(math.floor(north + down), math.ceil(south - down)):
            for column in range(math.floor(west + across), math.ceil(east - across)):
                cells.append((column + 1, row + 1))
    cells = sorted(set(cells))
    found = []
    for cell in draw(st.lists(st.sampled_from(cells), unique=True, max_size=3)):
        for thing in draw(_features((per_cell, per_cell), grid))[:1]:
            found.append({**thing, "cell": list(cell)})
            if draw(st.booleans()) and thing["kind"] not in ONE_CELL:
                # The whole clear floor.
                del found[-1]["at"], found[-1]["size"]
    return found


def _with_shapes(tables: dict, draw: st.DrawFn, letters: list[str], width: int, height: int) -> None:
    """Circles, halls, arcs and polygons beside the drawing, or reaching into its own room."""
    if min(width, height) < 2:
        return
    shapes = []
    # Into the drawing the room itself may reach, and few others.
    rooms = letters if len(letters) == 1 and draw(st.integers(0, 3)) else [*letters, "X", "Y"]
    for _ in range(draw(st.integers(1, 2))):
        room = draw(st.sampled_from(rooms))

        def at(low: float, high: float) -> float:
            """A quarter of a cell, so far off the drawing's edges."""
            return draw(st.integers(math.ceil(low * 4), max(math.ceil(low * 4), math.floor(high * 4)))) / 4

        kind = draw(st.sampled_from(["circle", "polygon", "hall", "arc"]))
        if kind == "circle":
            radius = draw(st.sampled_from([r for r in (0.5, 0.75, 1.0, 1.5, 2.0) if 2 * r <= min(width, height)]))
            what = {"centre": [at(radius, width - radius), at(radius, height - radius)], "radius": radius}
        elif kind == "hall":
            what = {
                "from": [at(0.75, width - 0.75), 0.5],
                "to": [at(0.75, width - 0.75), height - 0.5],
                "width": draw(st.sampled_from([0.5, 1.0])),
            }
        elif kind == "arc" and min(width, height) >= 4:
            turn = draw(st.sampled_from([0, 45, 90]))
            what = {
                "centre": [at(2, width - 2), at(2, height - 2)],
                "radius": 1.5,
                "width": draw(st.sampled_from([0.75, 1.0])),
                "from": turn,
                "to": turn + draw(st.sampled_from([90, 180, 270])),
            }
        else:
            kind, bow, x, y = "polygon", draw(st.sampled_from([0.0, 0.0, -0.2])), at(0, width - 2), at(0, height - 2)
            what = [[x, y, bow] if bow else [x, y], [x + 2.0, y + 0.25], [x + 1.5, y + 1.75], [x, y + 1.5]]
        shapes.append({"room": room, kind: what})
    tables["shape"] = shapes


@st.composite
def plan_examples(draw: st.DrawFn) -> Example:
    return Example("plan", {"p.toml": toml(draw(plan_tables()))})


_FOLDED = ("--material", "card", "--machine", "hand-knife")
_SHIPPED = [_FOLDED, _FOLDED, ("--material", "foam", "--machine", "hot-wire"),
            ("--material", "greyboard", "--machine", "hand-knife"), ("--material", "greyboard", "--machine", "laser")]  # fmt: skip


@st.composite
def off_grid_examples(draw: st.DrawFn) -> Example:
    """One slanting, round or winding room anywhere on the squares, for shipped stock and machines."""
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    kind = draw(st.sampled_from(["hall", "polygon", "circle", "arc"]))
    what: object
    if kind == "hall":
        angle, long = random.uniform(0, 2 * math.pi), random.uniform(0.7, 1.6)
        step = (long * math.cos(angle), long * math.sin(angle))
        ends = [[round(3 + sign * d, 2) for d in step] for sign in (-1, 1)]
        what = {"from": ends[0], "to": ends[1], "width": round(random.uniform(0.8, 1.6), 2)}
    elif kind == "polygon":
        angles = np.arange(n := int(random.integers(4, 8))) * 2 * math.pi / n + random.uniform(-0.2, 0.2, n)
        what = [[round(3 + r * math.cos(a), 2), round(3 + r * math.sin(a), 2)]
                for a, r in zip(angles, random.uniform(1.3, 2.4, n), strict=True)]  # fmt: skip
    elif kind == "circle":
        middle = [round(v, 2) for v in random.uniform(2.8, 3.2, 2).tolist()]
        what = {"centre": middle, "radius": round(random.uniform(1.2, 2.4), 2)}
    else:
        start = int(random.integers(0, 360))
        what = {"centre": [3.0, 3.0], "radius": round(random.uniform(1.3, 1.9), 2),
                "width": round(random.uniform(0.8, 1.4), 2), "from": start, "to": start + int(random.integers(60, 270))}  # fmt: skip
    drawing = "\n".join(["......"] * 6)
    tables = {"name": "p", "scale": "10 ft", "drawing": drawing, "shape": [{"room": "A", kind: what}]}
    return Example("off_grid", {"p.toml": toml(tables)}, draw(st.sampled_from(_SHIPPED)))


@st.composite
def stock_tables(draw: st.DrawFn, process: str, thickness: float, construction: str) -> dict:
    """A material that the process may cut; sheets large and small, offcuts, glue, corners."""
    sides = st.sampled_from([120.0, 300.0, 420.0, 600.0, 1200.0])
    made = {
        "name": "stock",
        "title": "stock",
        "thickness": thickness,
        "least_lintel": draw(st.sampled_from([0.0, 1.0, 12.0])),
        "least_strip": 0.0,
        "slot_fit": draw(st.sampled_from([-0.05, 0.0, 0.1, 0.1, 0.3])),
        "glue_line": draw(st.sampled_from([0.0, 0.0, 0.05])),
        "grain": draw(st.booleans()),
        "alike": draw(st.integers(0, 4)) == 0,
        "construction": construction,
        "corners": draw(st.sampled_from(["butt", "pinwheel", "mitre", "rabbet"])),
        "skin": round(thickness * 0.1, 3),
        "sheet": _said({"size": [draw(sides), draw(sides)], "count": draw(st.sampled_from([None, None, None, 1, 40]))}),
        "process": {process: {"verdict": "allow"}},
    }
    if draw(st.integers(0, 3)) == 0:
        made["offcut"] = [{"name": "left", "size": [draw(sides) - 30, draw(sides) - 50]}]
    if draw(st.integers(0, 5)) == 0:
        made["stack"] = {"inset": 0.2, "dowel": draw(st.sampled_from([0.0, 3.0]))}
    return made


@st.composite
def machine_tables(draw: st.DrawFn, process: str) -> dict:
    """kerf along x and y apart; cuts free or edge to edge; paths with what the process allows."""
    kerf = draw(st.one_of(st.just(0.0), lengths(0.05, 0.5), lengths(0.05, 1.5)))
    other = draw(st.one_of(st.none(), lengths(0.05, 0.6))) if kerf else None
    straight = process in ("hand-knife", "hot-wire")
    made = {
        "name": "cutter",
        "title": "cutter",
        "process": process,
        "kerf": kerf,
        "kerf_y": other,
        "spacing": round(max(kerf, other or 0.0) + draw(lengths(0.5, 5)), 3),
        "margin": draw(st.one_of(lengths(1, 6), lengths(1, 10), lengths(1, 15), lengths(0, 1))),
        "cuts": draw(st.sampled_from(["edge to edge", "free"])) if straight else "free",
        "size_error": 0.1,
    }
    if made["cuts"] == "edge to edge":
        made["guide"] = draw(st.sampled_from(["fence", "ruler"]))
    paths: dict = {"arcs": draw(st.booleans())}
    if process == "laser" and draw(st.integers(0, 3)) == 0:
        paths |= draw(
            st.sampled_from(
                [
                    {"tab_width": 0.4},
                    {"lead_in": 1.0, "overcut": 0.1},
                    {"perforate": ["CREASE"]},
                    {"common_lines": True},
                ]
            )
        )
    if process == "drag-knife" and draw(st.integers(0, 3)) == 0:
        paths |= {"swivel": True, "overcut": draw(st.sampled_from([0.0, 1.0]))}
        made["spacing"] += 0.5
    if process == "hot-wire" and made["cuts"] == "free" and draw(st.booleans()):
        paths["shape"] = "one line"
    return _said({**made, "paths": paths})


def _foldable(tables: dict) -> None:
    """Walls and doorways that card can be folded to: a doorway lower than a flap is no doorway."""
    for key, name, least in (("grid", "wall_height", 6.0), ("doorway", "height", 3.0)):
        if name in tables.get(key, {}):
            tables[key] = {**tables[key], name: max(tables[key][name], least)}
    for opening in tables.get("opening", []):
        if "height" in opening:
            opening["height"] = max(opening["height"], 3.0)


@st.composite
def sheet_examples(draw: st.DrawFn) -> Example:
    """A tile, an outline or a plan with a material and a machine. In some the plates are whole layers of the stock."""
    process = draw(st.sampled_from(["laser", "laser", "hand-knife", "hot-wire", "drag-knife"]))
    construction = draw(st.sampled_from(["stacked", "stacked", "slotted", "grooved", "folded"]))
    thickness = draw(st.sampled_from([1.5, 2.0, 3.0, 5.0, 6.2, 6.0]))
    if construction == "folded":
        thickness = draw(st.sampled_from([0.3, 0.5, 0.8]))
    kind = draw(st.sampled_from(["whole", "profile", "profile", "outline", "plan"]))
    if kind == "whole":
        construction = "stacked"
        thickness = draw(st.sampled_from([1.5, 2.0, 3.0, 5.0]))
        play = draw(st.sampled_from([0.0, 0.25, 0.5]))
        grid = {"grid": {"pitch": draw(lengths(28, 40)), "base_depth": thickness * draw(st.integers(1, 3)), "joint_play": play,
                         "wall_thickness": thickness * draw(st.integers(1, max(1, int(9 / thickness)))) + play / 2},
                "floor": {"lines": False}}  # fmt: skip
        tables = draw(profile_tables(plain=True, grid=grid))
    elif kind == "outline":
        tables = draw(outline_tables())
    elif kind == "plan":
        tables = draw(plan_tables())
    else:
        tables = draw(profile_tables())
    if construction == "folded":
        _foldable(tables)
    stock = draw(stock_tables(process, thickness, construction))
    if kind == "whole":
        stock |= {"glue_line": 0.0, "least_lintel": 0.0, "corners": draw(st.sampled_from(["butt", "pinwheel"]))}
        stock.pop("stack", None)
    files = {"t.toml": toml(tables), "stock.toml": toml(stock), "cutter.toml": toml(draw(machine_tables(process)))}
    words = ("--nominal",) if draw(st.integers(0, 5)) == 0 else ()
    return Example("sheet", files, words)


@st.composite
def print_examples(draw: st.DrawFn) -> Example:
    """A plan or a tile with a printer: bed, margins, shrink, whole layers, chamfer."""
    tables = draw(st.one_of(plan_tables(), profile_tables(), dressed_tables()))
    resin = draw(st.integers(0, 2)) == 0
    bed = st.sampled_from([120.0, 180.0, 220.0, 300.0])
    printer: dict = {
        "name": "own", "title": "own", "process": "resin" if resin else "fdm",
        "bed": [draw(bed), draw(bed)], "height": draw(st.sampled_from([100.0, 250.0])),
        "margin": draw(lengths(0, 10)), "spacing": draw(lengths(0, 6)), "brim": draw(st.sampled_from([0.0, 0.0, 4.0])),
        "bottom_chamfer": draw(st.sampled_from([0.0, 0.0, 0.0, 0.4])), "snap_heights": draw(st.integers(0, 3)) == 0,
        "walls": {"least": 0.1, "sturdy": 1.0},
    }  # fmt: skip
    if draw(st.booleans()):
        printer["shrink"] = {axis: draw(st.sampled_from([0.0, 0.003, 0.02, -0.01])) for axis in "xyz"}
    words = ("--underside",) if draw(st.integers(0, 4)) == 0 else ()
    return Example("print", {"t.toml": toml(tables), "own.toml": toml(printer)}, words)
