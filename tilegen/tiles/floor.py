"""What is under and on the floor of a tile: levels of the base, hollows in it, features, the lines between spaces."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM, Bounds, Point, Segment, corners_of, is_box, polygonal, polygons_of, rings_of
from tilegen.lengths import show_length, show_spot
from tilegen.model.grid import Grid
from tilegen.tiles.blocks import Extra
from tilegen.tiles.features import FEATURES
from tilegen.tiles.pinches import unpinched
from tilegen.tiles.plate import Mark, Plate


def lines_on_face(visible: BaseGeometry, grid: Grid) -> tuple[Mark, ...]:
    """The space lines on any visible face: those of the lattice through (0, 0) that cross it."""
    strips = lattice_strips(visible.bounds, grid)
    if not len(strips):
        return ()
    return marks_of(polygonal(shapely.union_all(strips).intersection(visible)), visible, grid)


def marks_of(region: BaseGeometry, visible: BaseGeometry, grid: Grid) -> tuple[Mark, ...]:
    """The lattice's lines with a groove region that is clipped already; none if it is empty."""
    if region.is_empty:
        return ()
    bounds = visible.bounds
    centres = _centres(bounds, *_lattice(bounds, grid))
    return (Mark(centres, visible, polygonal(region), grid.floor.groove_depth),)


def lattice_strips(bounds: Bounds, grid: Grid) -> npt.NDArray[np.object_]:
    """The grooves of the lattice's lines inside some bounds, one rectangle each."""
    west, south, east, north = bounds
    xs, ys = _lattice(bounds, grid)
    half = grid.floor.groove_width / 2
    strips = [box(x - half, south, x + half, north) for x in xs] + [box(west, y - half, east, y + half) for y in ys]
    return np.array(strips, dtype=object)


def _lattice(bounds: Bounds, grid: Grid) -> tuple[list[float], list[float]]:
    west, south, east, north = bounds
    return _between(west, east, grid.pitch), _between(south, north, grid.pitch)


def _centres(bounds: Bounds, xs: list[float], ys: list[float]) -> tuple[Segment, ...]:
    west, south, east, north = bounds
    return (*(((x, south), (x, north)) for x in xs), *(((west, y), (east, y)) for y in ys))


def _between(low: float, high: float, pitch: float) -> list[float]:
    """Lattice lines strictly inside, at least a hundredth of a pitch from either end."""
    first, last = math.ceil(low / pitch + 0.01), math.floor(high / pitch - 0.01)
    return [n * pitch for n in range(first, last + 1)]


Lines = Callable[[BaseGeometry], tuple[Mark, ...]]
# Corners of a drum: a multiple of four, so that it is the same in every quarter turn.
ROUND_CORNERS = 48
# How far hollows stop short of a point that they would meet in: 1.7 mm of floor stay between, which a knife can cut.
_WEB_MM = 1.2


class Sort(NamedTuple):
    """What blocks have in common that become one plate or one hollow: their kind, their heights, what they are."""

    kind: str
    bottom: float
    top: float
    round: bool
    hollow: bool


@dataclass(frozen=True, slots=True)
class FloorPart:
    """A part of a tile's floor on the plan, the point that what is on it is placed from, and what is on it."""

    region: Polygon
    centre: Point
    extra: Extra


def floor_plates(
    footprint: Polygon, cells: Sequence[FloorPart], standing: Sequence[Plate], grid: Grid
) -> tuple[Plate, ...]:
    """Everything but the walls and posts: the base first, in one plate or in layers, then what is on it.

    standing: the walls and posts, which stay where they are: what would reach under them is cut off at their faces.

    Raises:
        InputError: parts that touch only at a corner, or a base that can't hold its hollows.
    """
    walls = shapely.union_all([plate.foot for plate in standing]) if standing else Polygon()
    floors = [(cell.region, cell.extra.floor) for cell in cells]
    regions = _regions(footprint, cells, walls)
    ground = FloorPlan(footprint, floors, regions, standing)
    return layered_floor(ground, grid, lambda face: lines_on_face(face, grid))


@dataclass(frozen=True)
class FloorPlan:
    """A tile's floor on the plan. floors: parts of the footprint with their heights. regions: what each sort of block
    covers of what walls leave. standing: the walls and posts.
    """

    footprint: Polygon
    floors: Sequence[tuple[Polygon, float]]
    regions: Mapping[Sort, BaseGeometry]
    standing: Sequence[Plate]


def layered_floor(plan: FloorPlan, grid: Grid, lines: Lines) -> tuple[Plate, ...]:
    """The base in one plate or in layers, then what is on it. lines: the grooves on a part of the floor.

    Raises:
        InputError: parts that touch only at a corner, or a base that can't hold its hollows.
    """
    on_floor = list(_on_floor(plan.regions, grid))
    covered = shapely.union_all([plate.foot for plate in (*plan.standing, *on_floor)])
    base = list(_base(plan, covered, grid, lines))
    check_corners([*base, *on_floor, *plan.standing])
    return (*base, *on_floor)


def hollows_on(footprint: Polygon, cells: Sequence[FloorPart], standing: Sequence[Plate]) -> dict[str, BaseGeometry]:
    """What the hollows of each kind cover on the plan."""
    walls = shapely.union_all([plate.foot for plate in standing]) if standing else Polygon()
    return hollows_of(_regions(footprint, cells, walls))


def hollows_of(regions: Mapping[Sort, BaseGeometry]) -> dict[str, BaseGeometry]:
    """The hollows of each kind among what blocks cover."""
    found: dict[str, list[BaseGeometry]] = defaultdict(list)
    for sort, region in regions.items():
        if sort.hollow:
            found[sort.kind].append(region)
    return {kind: shapely.union_all(parts) for kind, parts in found.items()}


def _regions(footprint: Polygon, cells: Sequence[FloorPart], walls: BaseGeometry) -> dict[Sort, BaseGeometry]:
    """What each sort of block covers between its two heights (above the underside of a base of no raised floor)."""
    points = shapely.get_coordinates([footprint, walls]).tolist()
    lines = sorted({x for x, _ in points}), sorted({y for _, y in points})
    found: dict[Sort, list[BaseGeometry]] = defaultdict(list)
    for cell in cells:
        for sort, shape in block_shapes(cell, lines):
            found[sort].append(shape.intersection(cell.region).difference(walls))
    return {sort: shapely.union_all(parts) for sort, parts in sorted(found.items(), key=lambda item: item[0])}


def block_shapes(part: FloorPart, lines: tuple[list[float], list[float]]) -> Iterator[tuple[Sort, Polygon]]:
    """What each block covers before walls take their share. lines: x and y of the sides that a block may lie on."""
    (x, y), (xs, ys), level = part.centre, lines, part.extra.floor
    for block in part.extra.blocks:
        sort = Sort(block.kind, level + block.bottom, level + block.top, block.round, block.hollow)
        if block.round:
            # Middle and radius, so that it is as wide as it is deep.
            middle = x + _rounded((block.west + block.east) / 2), y + _rounded((block.south + block.north) / 2)
            yield sort, drum(middle, _rounded((block.east - block.west) / 2), _rounded(block.bore))
        else:
            west, south, east, north = (_rounded(edge) for edge in (block.west, block.south, block.east, block.north))
            bounds = _snapped(x + west, xs), _snapped(y + south, ys), _snapped(x + east, xs), _snapped(y + north, ys)
            yield sort, box(*bounds)


def _rounded(value: float) -> float:
    """A distance from a cell's middle, on a micrometre grid; the same in every turn of the cell."""
    # First rid of what sums leave, which would decide a tie one way or the other.
    return round(round(value, 6), 3)


def _snapped(value: float, lines: list[float]) -> float:
    """The line a coordinate is meant to lie on, else the coordinate as it is."""
    nearest = min(lines, key=lambda line: abs(line - value), default=value)
    return nearest if abs(nearest - value) <= SNAP_MM else value


def drum(middle: Point, radius: float, bore: float = 0.0) -> Polygon:
    """A regular polygon for a circle, the same in every quarter turn, on a micrometre grid; bore: of a hole in it."""
    return Polygon(_circle(middle, radius), [_circle(middle, bore)] if bore else None)


def _circle(middle: Point, radius: float) -> list[Point]:
    x, y = middle
    steps = [math.pi / 2 * (n + 0.5) / (ROUND_CORNERS // 4) for n in range(ROUND_CORNERS // 4)]
    quarter = [(round(radius * math.cos(a), 3), round(radius * math.sin(a), 3)) for a in steps]
    ring = [*quarter, *((-b, a) for a, b in quarter), *((-a, -b) for a, b in quarter), *((b, -a) for a, b in quarter)]
    return [(x + dx, y + dy) for dx, dy in ring]


def _base(plan: FloorPlan, covered: BaseGeometry, grid: Grid, lines: Lines) -> Iterator[Plate]:
    """The base in layers, from below: whole up to the lowest floor or hollow, then less hollows and low floors."""
    depth = grid.base_depth
    levels = sorted({level for _, level in plan.floors})
    hollows = [(s.bottom + depth, s.top + depth, region) for s, region in plan.regions.items() if s.hollow]
    heights = sorted({*(depth + level for level in levels), *(bottom for bottom, _, _ in hollows)})
    if heights[0] <= 0:
        kind = next(s.kind for s in plan.regions if s.hollow and s.bottom + depth == heights[0])
        raise InputError(
            f"a {kind} {show_length(depth - heights[0])} deep leaves no floor in a base of {show_length(depth)}",
            cure=f"Make the {kind} shallower, or the base deeper",
        )
    for below, top in pairwise((0.0, *heights)):
        region: BaseGeometry = plan.footprint
        if below:
            low = shapely.union_all([part for part, level in plan.floors if depth + level < top])
            holes = shapely.union_all([hole for bottom, ceiling, hole in hollows if bottom < top <= ceiling])
            # Hollows keep a web where they meet each other or a low floor in a point; low floors are cut out whole.
            region = region.difference(low.union(unpinched(low.union(holes), _WEB_MM)))
        here = [part for part, level in plan.floors if depth + level == top]
        open_floor = shapely.union_all(here).intersection(region).difference(covered) if here else Polygon()
        yield from _layer(region, open_floor, below, top, lines if grid.floor.lines else lambda _: ())


def _layer(region: BaseGeometry, open_floor: BaseGeometry, below: float, top: float, lines: Lines) -> Iterator[Plate]:
    """One layer of the base, its grooves where nothing stands on it."""
    for number, part in enumerate(polygons_of(region), 1):
        face = polygonal(open_floor.intersection(part))
        marks = () if face.is_empty else lines(face)
        # A groove ends where its layer does: no deeper than the hollow beside it.
        marks = tuple(replace(mark, depth=min(mark.depth, top - below)) for mark in marks)
        name = "base" if not below else f"base {number} from {below:.2f} mm"
        yield Plate(name, "base", part, below, top, marks=marks)


def _on_floor(regions: Mapping[Sort, BaseGeometry], grid: Grid) -> Iterator[Plate]:
    """What stands on the floor: a plate for each part of a sort of block."""
    numbers: Counter[str] = Counter()
    for sort, region in regions.items():
        for part in polygons_of(region) if not sort.hollow else ():
            numbers[sort.kind] += 1
            name, heights = (
                f"{sort.kind} {numbers[sort.kind]}",
                (grid.base_depth + sort.bottom, grid.base_depth + sort.top),
            )
            upright = FEATURES[sort.kind].upright and not sort.round and is_box(part)
            yield Plate(name, sort.kind, part, *heights, _south_edge(part) if upright else None)


def _south_edge(part: Polygon) -> Segment:
    """The outer face of a box that stands: its south side, walked with the box on the right."""
    west, south, east, _ = part.bounds
    return (east, south), (west, south)


def check_corners(plates: Sequence[Plate]) -> None:
    """Refuse parts that touch along an upright edge only: no closed solid can be made of them.

    Raises:
        InputError: with the place on the tile.
    """
    heights = sorted({z for plate in plates for z in (plate.bottom, plate.top)})
    for low, high in pairwise(heights):
        feet = [plate.foot for plate in plates if plate.bottom <= low and plate.top >= high]
        joined = shapely.union_all(feet)
        points = [point for part in polygons_of(joined) for ring in rings_of(part) for point in corners_of(ring)]
        twice = [point for point, count in Counter(points).items() if count > 1]
        if twice:
            x, y = twice[0]
            raise InputError(
                f"two parts touch only at a corner, {show_spot(x, y)} from the tile's south-west corner",
                cure="Make one of them larger or smaller, or move it",
            )
