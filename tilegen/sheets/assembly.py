"""How a tile's parts go together: where each lies, seen from above, and the steps of gluing it in words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from typing import NamedTuple

import shapely
from shapely.geometry import LineString, Polygon, box

from tilegen.geometry import EQUAL_MM, largest_polygon, polygons_of
from tilegen.lengths import show_length
from tilegen.sheets.flat import FlatLayers, PlateLayer, plate_names
from tilegen.sheets.parts import BuiltTile
from tilegen.tiles.loose import Piece, is_foot
from tilegen.tiles.plate import Plate
from tilegen.tiles.uprights import is_mixed, uprights_of

# What is said of a layer after its part's number, in the order of the layers from outside or from the top.
_LAYERS: dict[PlateLayer, str] = {
    "top": " on top",
    "below": " below",
    "bottom": " below",
    "": "",
    "alike": "",
    "outer": " outside",
    "between": " between",
    "core": " as its core",
    "inner": " inside",
    "scored": " inside, its lines to the room",
}
# From where to where along a wall, mm.
Span = tuple[float, float]
# A wall's end that is so near the base's edge reaches it, for who glues it; and how near parts are that touch.
_AT_EDGE_MM, _TOUCHES_MM = 0.3, 0.1
# So near a distance is said in halves of a millimetre.
_MARKED_MM = 0.05 + EQUAL_MM
# The sides of a base as seen from above, by the direction in which a wall's outer face runs there.
_SIDES = {(1, 0): "top", (0, -1): "right", (-1, 0): "bottom", (0, 1): "left"}


@dataclass(frozen=True, slots=True)
class PlacedPart:
    """Parts that lie or stand on each other at one place of a tile. foot: on the plan; words: their numbers.

    number: the one to write on the picture. role: as the plate's. turned: it runs up the plan, however short it is.
    """

    number: str
    words: str
    foot: Polygon
    role: str
    turned: bool


@dataclass(frozen=True, slots=True)
class Assembly:
    """How one type of tile or loose piece is built. outline: its base on the plan (y to the north); of a piece, all
    that it covers. parts: in the order in which they are glued. ways: doorways that go through, on the plan.
    base: what the first step glues its base of, if it does. before: what holds for all tiles with such a base. floor:
    from a base's edge to the inner face of a wall along it, mm. heights: of the base and of the walls on it.
    """

    id: str
    name: str
    count: int
    outline: Polygon
    parts: tuple[PlacedPart, ...]
    ways: tuple[Polygon, ...]
    steps: tuple[str, ...]
    base: str = ""
    before: str = ""
    floor: float = 0.0
    heights: tuple[float, float] = (0.0, 0.0)


def assembly(built: BuiltTile) -> Assembly:
    """The steps for one tile or piece.

    First the base, from below; then the walls, those that others stand against first; posts (common practice, no
    source).
    """
    made, plates = built.made, built.plates or built.made.plates
    ways = tuple(plate.opening_foot(opening) for plate in plates for opening in plate.openings)
    if isinstance(made, Piece):
        outline = box(*shapely.union_all([plate.foot for plate in plates]).bounds)
        whole = tuple(_placed(built, plates)), ways, tuple(_piece_steps(made, built))
        return Assembly(made.id, made.name, built.count, outline, *whole)
    base, *standing = plates
    floor = built.construction.band.inner - made.grid.half_play
    parts = _in_order(list(_placed(built, standing)), base.foot)
    before, glued = _base_step(built, base, standing)
    steps = [f"Base: {glued}"] if glued else []
    for part, where in zip(parts, _places(built, parts, base, floor), strict=True):
        steps.append(f"{part.words}{':' if ',' in part.words else ''} {where}")
    if gap := _gap([plate for plate in standing if plate.role in ("wall", "post")], parts, ways):
        steps.append(f"Fill the gaps that are left between walls, up to {show_length(gap)} wide")
    if is_mixed(made):
        printed = " and ".join(f"{f'{n} x ' if n > 1 else ''}{piece.name}" for piece, n in uprights_of(made))
        steps += [f"Press the pegs of {printed} (printed) into the holes of the base and glue them"] if printed else []
    walls = max((plate.height for plate in made.plates if plate.role in ("wall", "post")), default=0.0)
    heights = built.construction.base.thickness, walls
    return Assembly(
        made.id, made.name, built.count, base.foot, tuple(parts), ways, tuple(steps), glued, before, floor, heights
    )


class _Layers(NamedTuple):
    """What is glued together at one place: parts and how many of each, as which layers."""

    found: dict[tuple[str, PlateLayer], int]

    @classmethod
    def of(cls, layers: Iterable[tuple[FlatLayers, str]]) -> _Layers:
        """Layers with their parts' numbers, those of one part in one layer counted together."""
        found: dict[tuple[str, PlateLayer], int] = {}
        for flat, number in layers:
            found[number, flat.layer] = found.get((number, flat.layer), 0) + flat.layers
        return cls(found)

    @property
    def words(self) -> str:
        order = sorted(self.found.items(), key=lambda item: list(_LAYERS).index(item[0][1]))
        return ", ".join(f"{f'{n} x ' if n > 1 else ''}{part}{_LAYERS[layer]}" for (part, layer), n in order)

    @property
    def number(self) -> str:
        """The one that shows: the scored one, or the first."""
        order = sorted(self.found, key=lambda key: (key[1] != "scored", list(_LAYERS).index(key[1])))
        return order[0][0]


def _placed(built: BuiltTile, plates: Sequence[Plate]) -> Iterator[PlacedPart]:
    """What lies at each place, in the plates' order: pieces of a wall beside a doorway are places of their own."""
    for named, layers in _groups(built, plates):
        joined = shapely.union_all([plate.foot for plate in named])
        whole = largest_polygon(joined if joined.geom_type == "Polygon" else joined.convex_hull)
        for span, found in _at_places(named, layers):
            if span is not None:
                foot = _piece_of(named[0], span, whole)
            else:
                foot = whole if len(named) == 1 else _folded_foot(named, found[0][0], whole)
            about = _Layers.of(found)
            yield PlacedPart(about.number, about.words, foot, named[0].role, _is_turned(named, foot))


def _is_turned(plates: Sequence[Plate], foot: Polygon) -> bool:
    if len(plates) == 1 and plates[0].edge is not None:
        dx, dy = plates[0].direction
        return abs(dy) > abs(dx)
    west, south, east, north = foot.bounds
    return north - south > east - west


def _gap(plates: Sequence[Plate], parts: Sequence[PlacedPart], ways: Sequence[Polygon]) -> float:
    """How wide the widest place is that no part covers of what walls should, to 0.1 mm; 0: none is as wide."""
    if all(plate.foot.area > plate.foot.envelope.area - EQUAL_MM for plate in plates):
        return 0.0
    covered = shapely.union_all([*(part.foot for part in parts), *ways]).buffer(_TOUCHES_MM / 10)
    left = polygons_of(shapely.union_all([plate.foot for plate in plates]).difference(covered))
    wide = max((2 * shapely.maximum_inscribed_circle(piece, tolerance=0.01).length for piece in left), default=0.0)
    return round(wide + 0.05, 1) if wide > _TOUCHES_MM else 0.0


_Laid = list[tuple[FlatLayers, str]]


def _at_places(named: Sequence[Plate], layers: _Laid) -> Iterator[tuple[Span | None, _Laid]]:
    """The layers of a wall by the stretch of it that they stand on; None: all of it.

    Layers that lie over one another are glued together, even where some are shorter at an end.
    """
    plate, *others = named
    if others or plate.edge is None:
        yield None, list(layers)
        return
    placed: list[tuple[Span, _Laid]] = []
    loose: _Laid = []
    for flat, number in layers:
        if flat.pose is None or flat.pose.folds:
            loose.append((flat, number))
            continue
        (x, y), (dx, dy) = flat.pose.start, plate.direction
        low = (x - plate.edge[0][0]) * dx + (y - plate.edge[0][1]) * dy
        west, _, east, _ = flat.flat.outline.bounds
        high = low + east - west
        for n, ((start, end), found) in enumerate(placed):
            if min(end, high) - max(start, low) > 0.5 * min(end - start, high - low):
                placed[n] = ((min(start, low), max(end, high)), [*found, (flat, number)])
                break
        else:
            placed.append(((low, high), [(flat, number)]))
    if not placed:
        yield None, loose
    for n, (span, found) in enumerate(placed):
        # What has no place of its own, such as a cap, goes with the first.
        yield span, [*found, *loose] if n == 0 else found


def _groups(built: BuiltTile, plates: Sequence[Plate]) -> Iterator[tuple[list[Plate], list[tuple[FlatLayers, str]]]]:
    """The plates that are set at one go, with their layers: one by one, or the walls of a run that is folded."""
    by_name = {plate.name: plate for plate in plates}
    runs: dict[tuple[str, ...], list[tuple[FlatLayers, str]]] = {}
    for flat, number in built.layers:
        names = tuple(name for name in plate_names(flat.plate) if name in by_name)
        if names:
            runs.setdefault(names, []).append((flat, number))
    for names, layers in runs.items():
        yield [by_name[name] for name in names], layers


def _piece_of(plate: Plate, span: Span, foot: Polygon) -> Polygon:
    """What of a wall's foot a stretch of it covers."""
    deep = plate.thickness + 1.0
    low, high = span
    corners = [plate.at(s, d) for s, d in ((low, -1.0), (high, -1.0), (high, deep), (low, deep))]
    piece = largest_polygon(foot.intersection(Polygon(corners)))
    return foot if piece.is_empty else piece


def _folded_foot(plates: Sequence[Plate], flat: FlatLayers, feet: Polygon) -> Polygon:
    """What of the feet of walls that are folded as one strip it stands on: a doorway may end it early."""
    pose = flat.pose
    if pose is None or any(plate.edge is None or plate.bend is not None for plate in plates):
        return feet
    west, _, east, _ = flat.flat.outline.bounds
    deep = max(plate.thickness for plate in plates) + 1.0
    (x, y), (dx, dy), at = pose.start, pose.direction, 0.0
    strips = []
    for number, (fold, turn) in enumerate((*pose.folds, (east - west, 0.0))):
        long = fold - at
        # Round a fold a strip runs on: what is beyond the outer corner stands on nothing.
        low, high = -deep if number else 0.0, long + (deep if number < len(pose.folds) else 0.0)
        corners = ((low, -1.0), (high, -1.0), (high, deep), (low, deep))
        strips.append(Polygon([(x + s * dx + d * dy, y + s * dy - d * dx) for s, d in corners]))
        x, y, at = x + long * dx, y + long * dy, fold
        dx, dy = dx * math.cos(turn) + dy * math.sin(turn), dy * math.cos(turn) - dx * math.sin(turn)
    # Folds add to a strip's length: it ends where the feet or a doorway do.
    ways = shapely.union_all([plate.opening_foot(opening) for plate in plates for opening in plate.openings])
    pieces = [*polygons_of(feet.difference(ways)), *polygons_of(feet.intersection(ways))]
    strip = shapely.union_all(strips)
    kept = [piece for piece in pieces if strip.intersection(piece).area > 0.5 * piece.area]
    return largest_polygon(shapely.union_all(kept)) if kept else feet


def _base_step(built: BuiltTile, base: Plate, standing: Sequence[Plate]) -> tuple[str, str]:
    """How such bases are put together, and the parts of this one; those round pits and low floors are steps by
    themselves.
    """
    layers = _Layers.of((flat, number) for flat, number in built.layers if flat.plate == base.name)
    total = sum(layers.found.values())
    if not total and any(plate.role == "base" for plate in standing):
        return "", ""
    words = built.construction.base_step(total or built.construction.base.layers)
    before = f"{words[:1].upper()}{words[1:]}." if total > 1 or ":" in words else ""
    return before, layers.words


def _piece_steps(piece: Piece, built: BuiltTile) -> Iterator[str]:
    """How a loose piece is put together and tried."""
    plates = built.plates or piece.plates
    if piece.over_seam:
        feet = {plate.name for plate in plates if is_foot(plate)}
        yield f"Glue the two halves back to back, their numbers between them: {_all(built, without=feet)}"
        if feet:
            yield f"Glue a foot to both faces of each leg, flush below: {_all(built, only=feet)}"
        yield f"Try it dry {piece.try_it}."
        return
    hanging = [remark.words for flat, _ in built.layers for remark in flat.remarks if remark.of == "hanging"]
    steps = [*dict.fromkeys(hanging), f"try it dry {piece.try_it}."]
    if sum(flat.layers for flat, _ in built.layers) > 1:
        steps.insert(0, f"glue its layers, edges flush: {_all(built)}")
    elif built.layers:
        steps[0] = f"{_all(built)}: {steps[0]}"
    yield from (f"{step[:1].upper()}{step[1:]}" for step in steps)


def _all(built: BuiltTile, *, only: AbstractSet[str] | None = None, without: AbstractSet[str] = frozenset()) -> str:
    """The parts of a loose piece, or of some of its plates."""
    named = ((layer, set(plate_names(layer[0].plate))) for layer in built.layers)
    return _Layers.of(layer for layer, names in named if not names & without and (only is None or names & only)).words


# Order, and words for places


def _in_order(parts: list[PlacedPart], base: Polygon) -> list[PlacedPart]:
    """What is under others first; walls clockwise from the top left, each after those that it stands against."""
    middle = base.envelope.centroid

    def clockwise(part: PlacedPart) -> float:
        at = part.foot.centroid
        return (math.radians(135) - math.atan2(at.y - middle.y, at.x - middle.x)) % math.tau

    def rank(part: PlacedPart) -> tuple[float, ...]:
        layer = {"base": 0, "wall": 2, "post": 3}.get(part.role, 1)
        if part.role != "wall":
            return layer, 0, clockwise(part)
        ends = sum(end is not None for end in _stops(part, parts))
        return layer, ends, clockwise(part)

    waiting, ordered = sorted(parts, key=rank), []
    while waiting:
        ordered.append(_next(waiting, parts))
        waiting.remove(ordered[-1])
    return ordered


def _next(waiting: Sequence[PlacedPart], parts: Sequence[PlacedPart]) -> PlacedPart:
    """The first that stands against nothing that is still waiting."""
    walls = [part for part in waiting if part.role == "wall"]
    if not walls or waiting[0].role != "wall":
        return waiting[0]
    before = [[q for q in _stops(wall, parts) if q in waiting] for wall in walls]
    if posts := [q for stops in before for q in stops if q is not None and q.role == "post"]:
        free = [wall for wall, stops in zip(walls, before, strict=True) if not stops]
        return free[0] if free else posts[0]
    # Of walls in a ring the one that most others wait for.
    asked = [q for stops in before for q in stops]
    ranked = [(len(stops), -asked.count(wall) if stops else 0) for wall, stops in zip(walls, before, strict=True)]
    return walls[ranked.index(min(ranked))]


def _places(built: BuiltTile, parts: Sequence[PlacedPart], base: Plate, floor: float) -> Iterator[str]:
    """Where each of them goes, in words. floor: from the base's edge to the inner face of a wall, mm."""
    edge = max(_AT_EDGE_MM, floor - built.construction.wall.thickness + _TOUCHES_MM)
    for part in parts:
        yield _place(part, parts, base.foot, floor, edge)


def _place(part: PlacedPart, parts: Sequence[PlacedPart], base: Polygon, floor: float, edge: float) -> str:
    west, south, east, north = part.foot.bounds
    left, bottom, right, top = base.bounds
    if part.foot.area < part.foot.envelope.area * (1 - 1e-3) or part.role == "base":
        return "as drawn"
    gaps = {"top": top - north, "right": right - east, "bottom": south - bottom, "left": west - left}
    near = [side for side, gap in gaps.items() if gap <= edge]
    if part.role == "post" and len(near) >= 2:
        return f"in the {' '.join(side for side in ('top', 'bottom', 'left', 'right') if side in near)} corner"
    if part.role == "wall":
        side = _side_of(part, gaps, floor)
        return f"{side}{_ends(part, parts, gaps, edge)}"
    level = min(("left", "right"), key=lambda side: gaps[side])
    high = min(("top", "bottom"), key=lambda side: gaps[side])
    wide, deep = east - west, north - south
    way = "" if abs(wide - deep) < _TOUCHES_MM else f", its {show_length(wide)} side from left to right"
    return f"{_off(gaps[level], level)}, {_off(gaps[high], high)}{way}"


def _off(gap: float, side: str) -> str:
    # Half a millimetre as a ruler shows it, where that is as near as anyone marks.
    half = round(2 * gap) / 2
    shown = half if half and abs(half - gap) < _MARKED_MM else gap
    return f"at the {side} edge" if gap < _TOUCHES_MM else f"{show_length(shown)} from the {side} edge"


def _side_of(part: PlacedPart, gaps: dict[str, float], floor: float) -> str:
    """The side of the base that a wall runs along, or how far inside its faces stand."""
    west, south, east, north = part.foot.bounds
    sides, deep = (("left", "right"), east - west) if part.turned else (("top", "bottom"), north - south)
    for side in sides:
        if abs(gaps[side] + deep - floor) < _TOUCHES_MM:
            return side
    side = min(sides, key=lambda name: gaps[name])
    return _off(gaps[side], side)


def _stops(part: PlacedPart, parts: Sequence[PlacedPart]) -> tuple[PlacedPart | None, PlacedPart | None]:
    """What a wall's two ends stand against, the left or the lower one first."""
    west, south, east, north = part.foot.bounds
    if part.turned:
        ends = LineString([(west, south), (east, south)]), LineString([(west, north), (east, north)])
    else:
        ends = LineString([(west, south), (west, north)]), LineString([(east, south), (east, north)])
    found: list[PlacedPart | None] = [None, None]
    for number, end in enumerate(ends):
        middle = end.interpolate(0.5, normalized=True)
        for other in parts:
            if other is not part and other.role in ("wall", "post") and other.foot.distance(middle) < _TOUCHES_MM:
                found[number] = other
    return found[0], found[1]


def _ends(part: PlacedPart, parts: Sequence[PlacedPart], gaps: dict[str, float], edge: float) -> str:
    """From where to where a wall runs."""
    names = ("bottom", "top") if part.turned else ("left", "right")
    there = parts[: parts.index(part)]
    met = _stops(part, parts)
    stops = [stop.number if stop is not None and stop in there else "" for stop in met]
    at_edge = [gaps[name] <= edge and not stop for name, stop in zip(names, met, strict=True)]
    if all(at_edge) and abs(gaps[names[0]] - gaps[names[1]]) <= 2 * _TOUCHES_MM + EQUAL_MM:
        return ", edge to edge"
    if all(stops):
        return f", between {stops[0]} and {stops[1]}" if stops[0] != stops[1] else f", between the two {stops[0]}"
    for n in (0, 1):
        if stops[n]:
            from_edge = f", from the {names[1 - n]} edge to {stops[n]}"
            return from_edge if at_edge[1 - n] else f", its {names[n]} end against {stops[n]}"
    for n, (name, stop) in enumerate(zip(names, met, strict=True)):
        if stop is not None:
            # Of walls in a ring the first leaves room for the last; of those with a core it is the layers that differ.
            cored = _LAYERS["core"] in part.words and at_edge[1 - n]
            return f", from the {names[1 - n]} edge" if cored else f", {_off(gaps[name], name)}"
    # An end that lets a wall across it stand back from the edge does so too: it sets a doorway's place.
    nearest = min(names, key=lambda name: gaps[name])
    return f", from the {nearest} edge" if gaps[nearest] < _TOUCHES_MM else f", {_off(gaps[nearest], nearest)}"
