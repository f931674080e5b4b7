"""Where a tile carries connectors, the marks that they are on its base, and which connectors a grid can't have.

Places are measured from the shared lines of the grid, not from a tile's own edges, so that play moves nothing. An edge
carries connectors where it lies on such a line, on each whole module of it that leaves them a web all round.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon, box

from tilegen.errors import InFile, InputError, KeyRef, Said
from tilegen.geometry import EQUAL_MM, ROUNDING_MM, Point, Segment, direction_of, from_edge, polygonal, polygons_of
from tilegen.lengths import rounded_down, rounded_up, show_length, show_number, show_spot
from tilegen.model.connectors import Connectors
from tilegen.model.grid import Grid
from tilegen.tiles.connectors.kind import Pocket, kind_of, module_of, pockets_of, refused
from tilegen.tiles.plate import Mark
from tilegen.tiles.shape import Cell, Shape, single_cell

_MOST_MM = 200.0
_MAY_BE_ZERO = ("position_error", "magnet_allowance", "web")


@dataclass(frozen=True, slots=True)
class Seat:
    """A module of an edge that carries connectors.

    side: the number of the edge (from 0, as `outer_sides` has them). start, end: of that edge's rim, the tile on the
    right. middle: of the module, along the rim from its start. part: just a part of the module lies on the edge: it
    carries only what makes room for a neighbour's pegs.
    """

    side: int
    start: Point
    end: Point
    middle: float
    part: bool = False

    def pockets(self, grid: Grid) -> tuple[Pocket, ...]:
        """What it carries."""
        return tuple(pocket for pocket in pockets_of(grid) if pocket.depth > 0 or not self.part)

    @property
    def centre(self) -> Point:
        """The middle of the module on the rim, on the plan."""
        return from_edge((self.start, self.end), self.middle)

    def on_plan(self, outline: Sequence[Point]) -> list[Point]:
        """Points of the module's frame (a, inwards) on the plan."""
        return [from_edge((self.start, self.end), self.middle + a, d) for a, d in outline]


@dataclass(frozen=True, slots=True)
class Seating:
    """Where a tile carries connectors.

    bare: numbers of the edges that carry none, or fewer than they are long. struck: of those that a neighbour's pegs
    would strike.
    """

    seats: tuple[Seat, ...]
    bare: tuple[int, ...]
    struck: tuple[int, ...] = ()

    @property
    def whole(self) -> tuple[Seat, ...]:
        """The seats that carry all of a module."""
        return tuple(seat for seat in self.seats if not seat.part)


def connector_marks(shape: Shape, grid: Grid, foot: Polygon) -> tuple[Mark, ...]:
    """The pockets and pegs of a tile's base. foot: its footprint; nothing where the grid has no connectors."""
    if not grid.connectors.holds:
        return ()
    return _marks(shape.outer_sides(grid.pitch), not shape.on_grid, grid, foot)


def seating_of(shape: Shape, grid: Grid, foot: Polygon) -> Seating:
    """Where a tile carries connectors, and on which edges it doesn't."""
    return _seating(shape.outer_sides(grid.pitch), not shape.on_grid, grid, foot)


# One tile size has the same edges whatever stands on it: its pockets are composed once for all of a kit. Free edges lie
# anywhere, so the lines they may lie on count from (0, 0).
@lru_cache(maxsize=4096)
def _marks(sides: tuple[Segment, ...], free: bool, grid: Grid, foot: Polygon) -> tuple[Mark, ...]:
    seats, pockets = _seating(sides, free, grid, foot).seats, pockets_of(grid)
    marks = []
    below = [
        (pocket.depth, Polygon(seat.on_plan([(a, d) for a, d in pocket.outline.exterior.coords[:-1]])))
        for seat in seats
        for pocket in pockets
        if pocket.on == "under"
    ]
    below += [(pocket.depth, pocket.outline) for pocket in kind_of(grid).under(foot, grid)]
    if below:
        region = MultiPolygon([outline for _, outline in below])
        marks.append(Mark((), region, region, below[0][0], "under"))
    seats = tuple(seat for seat in seats if not seat.part)
    for side in dict.fromkeys(seat.side for seat in seats):
        mine = [seat for seat in seats if seat.side == side]
        edge = mine[0].start, mine[0].end
        for depth in dict.fromkeys(pocket.depth for pocket in pockets if pocket.on == "rim"):
            outlines = [p.outline for p in pockets if p.on == "rim" and p.depth == depth]
            moved = [_along(outline, seat.middle) for seat in mine for outline in outlines]
            region = MultiPolygon(moved)
            marks.append(Mark((), region, region, depth, "rim", edge))
    return tuple(marks)


def _along(outline: Polygon, middle: float) -> Polygon:
    return Polygon([(a + middle, z) for a, z in outline.exterior.coords[:-1]])


@lru_cache(maxsize=4096)
def _seating(sides: tuple[Segment, ...], free: bool, grid: Grid, foot: Polygon) -> Seating:
    if not pockets_of(grid):
        return Seating((), ())
    found, bare = [], set()
    pegs = kind_of(grid).stands_out
    for number, side in enumerate(sides):
        middles, parts = _modules(side, module_of(grid), free=free)
        if not middles or parts:
            bare.add(number)
        start, end = _rim(side, grid.half_play, free=free)
        found += [Seat(number, start, end, middle) for middle in middles]
        found += [Seat(number, start, end, middle, part=True) for middle in parts if pegs]
    kept = _with_room(found, grid, foot)
    dropped = [seat for seat in found if seat not in kept]
    _check_holes(dropped, grid, foot)
    bare |= {seat.side for seat in dropped}
    # A side of no whole modules has no place on the grid's lines of its own: pegs may come anywhere.
    struck = set() if free or not pegs else {n for n in bare if not any(seat.side == n for seat in kept)}
    if pegs:
        struck |= {seat.side for seat in dropped if any(foot.intersects(c) for c in _claims(seat, seat.pockets(grid)))}
    return Seating(tuple(kept), tuple(sorted(bare)), tuple(sorted(struck)))


def _check_holes(dropped: Sequence[Seat], grid: Grid, foot: Polygon) -> None:
    """Refuse a hole that leaves a pocket no web: unlike a corner it could have been put elsewhere.

    Raises:
        InputError: names the place of the pocket.
    """
    holes = shapely.union_all([Polygon(ring) for ring in foot.interiors])
    for seat in dropped:
        if any(claim.distance(holes) < grid.connectors.web - EQUAL_MM for claim in _claims(seat, seat.pockets(grid))):
            x, y = seat.centre
            raise InputError(
                Said(
                    "the hole{} comes within {} of a pocket for {}",
                    InFile(f" near {show_spot(x, y)}"),
                    show_length(grid.connectors.web),
                    grid.connectors.kind,
                ),
                # Those of a base from sheets are the pegs' of what is printed for it.
                cure=Said("Use {}, or other connectors", KeyRef("base", "full", "set"))
                if grid.set.mixed
                else "Move the hole further from the edge, or choose other connectors",
                place="[connectors] kind",
            )


def _rim(side: Segment, half_play: float, *, free: bool) -> Segment:
    """A side moved inwards by half the play, as the footprint's is; an outline's lies on the micrometre grid."""
    dx, dy = direction_of(side)
    (x0, y0), (x1, y1) = ((x + dy * half_play, y - dx * half_play) for x, y in side)
    if free:
        return (round(x0, 3), round(y0, 3)), (round(x1, 3), round(y1, 3))
    return (x0, y0), (x1, y1)


def _modules(side: Segment, module: float, *, free: bool) -> tuple[list[float], list[float]]:
    """The middles of a side's whole modules from its start, and of those of which it has just a part."""
    (x0, y0), (x1, y1) = side
    length = math.hypot(x1 - x0, y1 - y0)
    if not free:
        count = round(length / module)
        if count < 1 or abs(count * module - length) > EQUAL_MM:
            return [], []
        return [(n + 0.5) * module for n in range(count)], []
    if min(abs(x1 - x0), abs(y1 - y0)) > EQUAL_MM:
        return [], []
    level = abs(y1 - y0) <= EQUAL_MM
    line, here, there = (y0, x0, x1) if level else (x0, y0, y1)
    if abs(round(line / module) * module - line) > EQUAL_MM:
        return [], []
    low, high = min(here, there) / module, max(here, there) / module
    whole = range(math.ceil(low - EQUAL_MM), math.floor(high + EQUAL_MM))
    touched = range(math.floor(low + EQUAL_MM), math.ceil(high - EQUAL_MM))
    sign = 1 if there > here else -1
    middles = {n: sign * ((n + 0.5) * module - here) for n in touched}
    return [middles[n] for n in whole], [middles[n] for n in touched if n not in whole]


def _with_room(seats: Sequence[Seat], grid: Grid, foot: Polygon) -> list[Seat]:
    """The seats whose pockets, with a web all round, lie on the tile and apart from those before them."""
    if not seats:
        return []
    web = grid.connectors.web
    claims = [list(_claims(seat, seat.pockets(grid))) for seat in seats]
    number = np.repeat(np.arange(len(seats)), [len(c) for c in claims])
    boxes = np.array([polygon for found in claims for polygon in found])
    near = shapely.buffer(boxes, web, join_style="mitre").tolist()
    room = foot.buffer(EQUAL_MM, join_style="mitre")
    shapely.prepare(room)
    # The side that faces out of the tile needs no web.
    outside = np.array([_outwards(seats[n], web) for n in number.tolist()])
    inside = shapely.covers(room, shapely.difference(np.array(near), outside))
    fits = np.ones(len(seats), bool)
    np.logical_and.at(fits, number, inside)
    first, second = shapely.STRtree(boxes).query(boxes, predicate="dwithin", distance=max(web - EQUAL_MM, 0.0))
    for a, b in sorted(zip(number[first].tolist(), number[second].tolist(), strict=True)):
        if a < b and fits[a] and fits[b]:
            fits[b] = False
    return [seat for seat, good in zip(seats, fits.tolist(), strict=True) if good]


def _claims(seat: Seat, pockets: Sequence[Pocket]) -> Iterator[Polygon]:
    """What a seat's pockets take of the plan, as rectangles; pegs just the rim they stand on."""
    for pocket in pockets:
        low, high = pocket.span
        near = pocket.outline.bounds[1] if pocket.on == "under" else 0.0
        yield Polygon(seat.on_plan([(low, near), (high, near), (high, pocket.reach), (low, pocket.reach)]))


def _outwards(seat: Seat, web: float) -> Polygon:
    """What lies in front of a side's rim, a little further than a web."""
    far = math.dist(seat.start, seat.end) + 4 * web
    return Polygon(seat.on_plan([(-far, -2 * web), (far, -2 * web), (far, 0.0), (-far, 0.0)]))


def magnets_of(shape: Shape, grid: Grid, foot: Polygon) -> int:
    """How many magnets one tile takes."""
    kind = kind_of(grid)
    if not kind.magnetic:
        return 0
    return len(kind.law(grid)) * len(seating_of(shape, grid, foot).whole) + len(kind.under(foot, grid))


def bare_words(shape: Shape, grid: Grid, foot: Polygon) -> str:
    """Which sides of a tile carry no connectors, or not all along; nothing if all do."""
    kind = kind_of(grid)
    if not pockets_of(grid):
        return "" if not grid.connectors.holds or kind.under(foot, grid) else f"no {kind.word} (no room for one)"
    seating = seating_of(shape, grid, foot)
    if not seating.bare:
        return ""
    sides = shape.outer_sides(grid.pitch)
    named = _named(shape, sides, seating.bare)
    reason = f"not whole modules of {module_of(grid):g} mm on the grid's lines, or no room"
    more = (
        f"; a neighbour's pegs would strike {', '.join(_named(shape, sides, seating.struck))}" if seating.struck else ""
    )
    return f"no {grid.connectors.kind}, or not all along, on {', '.join(named)} ({reason}){more}"


def _named(shape: Shape, sides: Sequence[Segment], numbers: Sequence[int]) -> list[str]:
    if not shape.on_grid:
        return [f"edge {n + 1}" for n in numbers]
    return list(dict.fromkeys(_compass(direction_of(sides[n])) for n in numbers))


def _compass(direction: Point) -> str:
    """The side of a tile that is walked clockwise in a direction; the nearest of eight where it slants."""
    eighths = round(math.degrees(math.atan2(-direction[1], direction[0])) / 45) % 8
    return ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")[eighths]


def flat_region(mark: Mark) -> Polygon | MultiPolygon:
    """What a mark on an upright rim covers on the plan: what it takes from the base, or adds to it."""
    if mark.edge is None:
        return mark.region
    strips = []
    for outline in polygons_of(mark.region):
        low, _, high, _ = outline.bounds
        ring = ((low, 0.0), (high, 0.0), (high, mark.depth), (low, mark.depth))
        strips.append(Polygon([from_edge(mark.edge, a, d) for a, d in ring]))
    return polygonal(shapely.union_all(strips))


def check_connectors(grid: Grid) -> None:
    """Refuse what can't be made.

    Raises:
        InputError: a measure out of range, a base too thin, pockets that meet, a play that no seam closes with; names
            what would do.
    """
    made = grid.connectors
    if not made.holds:
        return
    _check_measures(made)
    kind_of(grid).check(grid)
    if pockets_of(grid):
        _check_room(grid)


def _check_measures(made: Connectors) -> None:
    for entry in fields(made):
        value = getattr(made, entry.name)
        if isinstance(value, str) or value is None or entry.name == "clearance":
            continue
        low_enough = value >= 0 if entry.name in _MAY_BE_ZERO else value > 0
        if not low_enough or value > _MOST_MM:
            unit = " kG" if entry.name == "surface_field" else " mm"
            least = "0 or more" if entry.name in _MAY_BE_ZERO else "more than 0"
            raise refused(
                entry.name, f"{show_number(value)}{unit} is out of range", f"Use {least} and at most {_MOST_MM:g}{unit}"
            )


def _check_room(grid: Grid) -> None:
    """Every side of a plain tile, and of the smallest one, must hold its pockets with a web between them."""
    made, module = grid.connectors, module_of(grid)
    pockets = pockets_of(grid)
    spans = sorted(pocket.span for pocket in pockets if pocket.depth > 0 or kind_of(grid).stands_out)
    low, high = spans[0][0], max(span[1] for span in spans)
    fewer = "" if made.every == "tile" else Said(", or {}", KeyRef("every", "tile"))
    if high - low + made.web > module + ROUNDING_MM:
        raise refused(
            "kind",
            f"{made.kind} take {show_length(rounded_up(high - low))} of an edge, and only "
            f"{show_length(rounded_down(module - made.web))} are free",
            Said("Use smaller ones{}", fewer),
        )
    for spaces in sorted({module / grid.pitch, float(grid.spaces)}):
        half, side = grid.half_play, spaces * grid.pitch
        foot = box(half, half, side - half, side - half)
        if seating_of(single_cell(Cell(), (spaces, spaces)), grid, foot).bare:
            raise refused(
                "kind",
                f"on a tile {show_length(side)} wide the pockets for {made.kind} would run into one another",
                Said("Use {}, a larger pitch{}", kind_of(grid).smaller, fewer),
            )
