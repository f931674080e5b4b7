"""What a file means, worked out from its own numbers by plain geometry: volumes, sizes, floors. Lengths are mm.

The rules are the words of README.md, written a second time; nothing of the tool is used.
"""

from __future__ import annotations

import math

import shapely
from shapely.geometry import LineString, Point, Polygon, box

from tests.oracle import SIDES, Plain

# How high an arch rises, and what lies over its springing line, of an opening of width 1: half a disc; what two discs
# with a radius of three quarters have in common (Weisstein, Circle-circle intersection, MathWorld), its upper half. A
# head is a polygon: what is over the line comes out smaller by no more than the last share.
ARCHES = {
    "round": (0.5, math.pi / 8, 4e-3),
    "pointed": (math.sqrt(0.5), 0.75**2 * math.acos(1 / 3) - 0.125 * math.sqrt(2), 4.3e-3),
}
USUAL_DOOR = {"width": 27.94, "height": 30.48, "head": "flat"}


def grid_of(tables: dict) -> dict:
    usual = {
        "pitch": 31.75,
        "spaces": 2,
        "wall_thickness": 6.35,
        "wall_height": 38.1,
        "base_depth": 6.35,
        "joint_play": 0.3,
    }
    return {**usual, **tables.get("grid", {})}


def is_plain(tables: dict) -> bool:
    """Whether a tile or plan has nothing but bases, walls, posts and doorways: then its volume is a closed formula."""
    surface = tables.get("surface", {})
    bare = surface.get("floor", "none") == surface.get("walls", "none") == "none"
    lines = tables.get("floor", {}).get("lines", True)
    kinds = {"connectors", "feature", "heights", "shape"} & set(tables)
    leaves = any("leaf" in o for o in (*tables.get("opening", []), *tables.get("way", [])))
    return bare and not lines and not kinds and not leaves


def _door(opening: dict, tables: dict, side: float, ends: tuple[float, float]) -> tuple[float, float, float]:
    """(area, the same with true arcs, height) of a doorway in a side between two walls."""
    grid, usual = grid_of(tables), {**USUAL_DOOR, **tables.get("doorway", {})}
    centre = opening["at"] * grid["pitch"] if "at" in opening else side / 2
    room = 2 * min(centre - ends[0], side - ends[1] - centre) - grid["wall_thickness"]
    width = opening.get("width", min(usual["width"], room))
    height = opening.get("height", min(usual["height"], grid["wall_height"]))
    head = opening.get("head", usual["head"])
    if head in ARCHES:
        rise, over, less = ARCHES[head][0] * width, ARCHES[head][1] * width**2, ARCHES[head][2]
        if height >= grid["wall_height"]:
            # As high as the wall: open at the top, the corners over the arch go too.
            return width * height, width * height, height
        return width * (height - rise) + over * (1 - less), width * (height - rise) + over, height
    return width * height, width * height, height


def profile_volume(tables: dict) -> tuple[float, float]:
    """Least and greatest volume of a plain tile by its size, mm3: they differ by arches only."""
    grid, tile = grid_of(tables), tables["tile"]
    pitch, thick, half = grid["pitch"], grid["wall_thickness"], grid["joint_play"] / 2
    width, deep = (s * pitch for s in tile["size"])
    walls, posts = set(tile["walls"]), tile.get("posts", [])
    foot = box(half, half, width - half, deep - half)
    strips = {"north": box(0, 0, width, thick), "south": box(0, deep - thick, width, deep),
              "west": box(0, 0, thick, deep), "east": box(width - thick, 0, width, deep)}  # fmt: skip
    standing = [strips[w] for w in walls]
    for post in posts:
        x, y = (width - thick) * ("east" in post), (deep - thick) * ("south" in post)
        standing.append(box(x, y, x + thick, y + thick))
    volume = foot.area * grid["base_depth"] + shapely.union_all(standing).intersection(foot).area * grid["wall_height"]
    most = least = 0.0
    for opening in tables.get("opening", []):
        level = opening["wall"] in ("north", "south")
        across = ("west", "east") if level else ("north", "south")
        ends = tuple(thick * (side in walls) for side in across)
        area, whole, _ = _door(opening, tables, width if level else deep, ends)
        least, most = least + area * (thick - half), most + whole * (thick - half)
    return volume - most, volume - least


def profile_size(tables: dict) -> tuple[float, float, float] | None:
    """Of a tile without features, mm."""
    grid, tile = grid_of(tables), tables["tile"]
    width, deep = (s * grid["pitch"] - grid["joint_play"] for s in tile["size"])
    walled = tile["walls"] or tile.get("posts")
    return width, deep, grid["base_depth"] + (grid["wall_height"] if walled else 0.0)


def plain_plan(tables: dict) -> Plain:
    """A plan's cells and lines by the rules written a second time."""
    ways = {(*way["cell"], way["side"]): way["kind"] for way in tables.get("way", [])}
    walls = {(*wall["cell"], wall["side"]) for wall in tables.get("wall", [])}
    return Plain(tables["drawing"].split(), ways, walls)


def plan_volume(tables: dict) -> tuple[float, float]:
    """Least and greatest volume of all tiles of a plain plan: at 10 ft, or at 5 ft without play."""
    grid, plain = grid_of(tables), plain_plan(tables)
    side = grid["pitch"] * (grid["spaces"] if tables["scale"] == "10 ft" else 1)
    thick, half = grid["wall_thickness"], grid["joint_play"] / 2
    ways = {plain.line(*way["cell"], way["side"]): way for way in tables.get("way", [])}
    low = high = 0.0
    for c, r in cells_of(plain):
        edges, posts = plain.cell(c, r)
        walls = [s for s, kind in zip(SIDES, edges, strict=True) if kind != "open"]
        tile = {"size": [side / grid["pitch"]] * 2, "walls": walls, "posts": list(posts)}
        doors = [
            {**ways[plain.line(c, r, s)], "wall": s}
            for s, kind in zip(SIDES, edges, strict=True) if kind == "doorway"
        ]  # fmt: skip
        least, most = profile_volume({**tables, "tile": tile, "opening": doors})
        low, high = low + least, high + most
    assert half == 0 or tables["scale"] == "10 ft"
    assert thick > 0
    return low, high


def cells_of(plain: Plain) -> list[tuple[int, int]]:
    """Cells with a room, column and row from 1."""
    return [(c, r) for r in range(1, plain.height + 1) for c in range(1, plain.width + 1) if plain.room(c, r) != "."]


def floor_area(tables: dict) -> tuple[float, float]:
    """Area of all floors of a plan with shapes, in square cells, and the length of its arcs' outlines."""
    plain = plain_plan(tables)
    regions = [box(c - 1, r - 1, c, r) for c, r in cells_of(plain)]
    slack = 0.0
    for shape in tables.get("shape", []):
        region = region_of(shape)
        slack += region.length
        regions.append(region)
    return shapely.union_all(regions).area, slack


def region_of(shape: dict) -> Polygon:
    if "circle" in shape:
        return Point(*shape["circle"]["centre"]).buffer(shape["circle"]["radius"], quad_segs=256)
    if "hall" in shape:
        return LineString([shape["hall"]["from"], shape["hall"]["to"]]).buffer(
            shape["hall"]["width"] / 2, cap_style="flat"
        )
    if "arc" in shape:
        arc = shape["arc"]
        (x, y), n = arc["centre"], 720
        turns = [math.radians(arc["from"] + (arc["to"] - arc["from"]) * k / n) for k in range(n + 1)]
        radii = arc["radius"] + arc["width"] / 2, arc["radius"] - arc["width"] / 2
        rings = [[(x + radius * math.sin(t), y - radius * math.cos(t)) for t in turns] for radius in radii]
        return Polygon(rings[0] + rings[1][::-1])
    corners = shape["polygon"]
    points: list[tuple[float, float]] = []
    ccw = Polygon([c[:2] for c in corners]).exterior.is_ccw
    for (x, y, *bow), (x1, y1, *_) in zip(corners, corners[1:] + corners[:1], strict=True):
        points += _bowed((x, y), (x1, y1), (bow[0] if bow else 0.0) * (1 if ccw else -1))
    return Polygon(points)


def _bowed(start: tuple, end: tuple, bow: float) -> list[tuple[float, float]]:
    """Points along an arc from start to just before end whose middle lies `bow` to the right of the way."""
    if not bow:
        return [start]
    (x, y), (x1, y1) = start, end
    chord = math.dist(start, end)
    radius = (chord**2 / 4 + bow**2) / (2 * abs(bow))
    right = ((y1 - y) / chord, -(x1 - x) / chord)
    sign = math.copysign(1, bow)
    middle = ((x + x1) / 2 + right[0] * bow, (y + y1) / 2 + right[1] * bow)
    centre = (middle[0] - right[0] * sign * radius, middle[1] - right[1] * sign * radius)
    first, last = (math.atan2(p[1] - centre[1], p[0] - centre[0]) for p in (start, end))
    sweep = (last - first) * sign % (2 * math.pi) * sign
    return [
        (centre[0] + radius * math.cos(first + sweep * k / 200), centre[1] + radius * math.sin(first + sweep * k / 200))
        for k in range(200)
    ]
