"""One tile from above: what it covers, what stands on it, the ways through, the numbers of its edges."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, Points, largest_polygon, lines_of, polygon_rings, polygons_of
from tilegen.lengths import Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, Rings, polyline, rectangle, text_width
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Turn
from tilegen.tiles.features import FEATURES
from tilegen.tiles.loose import Piece
from tilegen.tiles.plate import Plate
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import Tile, maker_of
from tilegen.tiles.walls import printed_band

# The numbers of an outline's edges, drawn on the tile; edges too short for a number share one, as in "4-12".

# Sizes in units of the picture: letters, how far inside a number stands, the length of outline that a run is cut into.
_LETTERS = 4.6
_INSIDE = 3.6
_RUN = 16.0
_TICK = 1.6

Run = tuple[int, int]
Array = npt.NDArray[np.float64]
Turned = Callable[[Array], Array]


def edge_runs(shape: OutlineShape, unit: float) -> list[Run]:
    """First and last number of the edges that share a label, in order; unit: the picture's, in mm."""
    if shape.numbers:
        given = sorted(set(shape.numbers))
        return [(1 + shape.numbers.index(n), shape.numbers.index(n) + shape.numbers.count(n)) for n in given]
    lengths = [float(np.hypot(b[0] - a[0], b[1] - a[1])) for a, b in pairwise((*shape.points, shape.points[0]))]
    runs: list[tuple[int, int, float]] = []
    for number, length in enumerate(lengths, 1):
        alone = length >= text_width(str(number), _LETTERS * unit) * 0.6
        if alone or not runs or runs[-1][2] >= _RUN * unit:
            # What is left of a curve goes to the run before.
            runs.append((number, number, math.inf if alone else length))
        else:
            first, _, so_far = runs[-1]
            runs[-1] = (first, number, so_far + length)
    kept: list[tuple[int, int, float]] = []
    for run in runs:
        if kept and run[2] < _RUN * unit / 2 and kept[-1][2] < math.inf:
            kept[-1] = (kept[-1][0], run[1], kept[-1][2] + run[2])
        else:
            kept.append(run)
    return [(first, last) for first, last, _ in kept]


def draw_edge_numbers(
    canvas: Canvas,
    shape: OutlineShape,
    place_on: Turned,
    *,
    wall: float,
    unit: float,
    ink: str,
    halo: str,
) -> None:
    """Each run's number beside its middle, on the inside of its wall, and a tick where runs that share one meet.

    wall: its thickness in mm. place_on: from the tile's frame to the canvas, (n, 2) to (n, 2).
    """
    outline = Polygon(shape.points, shape.holes)
    size = _LETTERS * unit
    for first, last in edge_runs(shape, unit):
        points = np.array([shape.points[k % len(shape.points)] for k in range(first - 1, last + 1)])
        middle, inward = _middle(points)
        if not outline.covers(Point(middle + inward * 0.01)):
            inward = -inward
        walled = any(first <= number <= last for number in shape.walls)
        words = str(first) if first == last else f"{first}-{last}"
        if shape.numbers:
            words = str(shape.numbers[first - 1])
        # Wide words keep off an upright edge by half their width.
        off = _INSIDE * unit + abs(inward[0]) * (text_width(words, size) - text_width("1", size)) / 2
        inside = middle + inward * ((wall if walled else 0.0) + off)
        if not outline.covers(Point(inside)):
            inside = middle + inward * off
        x, y = place_on(inside[None]).tolist()[0]
        canvas.text(x, y + CAP_HEIGHT * size / 2, words, size, "middle", bold=True, halo=halo)
        if first != last:
            _draw_ticks(canvas, place_on(points[[0, -1]]), unit, ink)


def _draw_ticks(canvas: Canvas, ends: Array, unit: float, ink: str) -> None:
    """A small upright cross at each end of a run."""
    half = _TICK * unit / 2
    ticks = [polyline((x - half, y), (x + half, y)) for x, y in ends.tolist()]
    ticks += [polyline((x, y - half), (x, y + half)) for x, y in ends.tolist()]
    canvas.line(ticks, ink, 0.3 * unit)


def _middle(points: Array) -> tuple[Array, Array]:
    """The point half way along a line, and the unit normal of its edge there."""
    steps = np.diff(points, axis=0)
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    along = np.cumsum(lengths)
    edge = int(np.searchsorted(along, along[-1] / 2))
    step = steps[edge] / lengths[edge]
    middle = points[edge] + step * (along[-1] / 2 - (along[edge] - lengths[edge]))
    return middle, np.array([step[1], -step[0]])


# What is on and in a tile's floor, from above: what is walked on in outline, hollows hatched, all else dark.

INK = "#23272d"
RAISED = "#fbf9f4"
SUNK = "#c3bfb4"
DARK = "#333a42"
# Lettering of features on a layout, mm.
NAME_MM = 4.2


@dataclass(frozen=True)
class FeatureView:
    """In the tile's own frame (y to the north): raised parts from the lowest up, hollows, what else stands; names.

    names: (word, centre, width it may take, height it may take). standing, hollow:
    the kinds on the tile.
    """

    raised: tuple[Rings, ...] = ()
    sunk: tuple[Rings, ...] = ()
    dark: tuple[Rings, ...] = ()
    names: tuple[tuple[str, tuple[float, float], float, float], ...] = ()
    standing: frozenset[str] = frozenset()
    hollow: frozenset[str] = frozenset()

    def mapped(self, move: Callable[[Points], Points]) -> FeatureView:
        """The same with all its points moved; what names may take is measured again."""
        raised, sunk, dark = (
            tuple(tuple(move(ring) for ring in rings) for rings in group)
            for group in (self.raised, self.sunk, self.dark)
        )
        names = []
        for word, (x, y), width, height in self.names:
            corners = move(np.array([(x - width / 2, y - height / 2), (x + width / 2, y + height / 2)]))
            low, high = corners.min(axis=0), corners.max(axis=0)
            cx, cy = ((low + high) / 2).tolist()
            names.append((word, (cx, cy), float(high[0] - low[0]), float(high[1] - low[1])))
        return FeatureView(raised, sunk, dark, tuple(names), self.standing, self.hollow)


PLAIN_VIEW = FeatureView()


def feature_view(tile: Tile) -> FeatureView:
    """A tile's features as they are drawn."""
    if not tile.shape.furnished:
        return PLAIN_VIEW
    bases = [p for p in tile.plates if p.role == "base"]
    placed = [p for p in tile.plates if p.role in FEATURES]
    raised = [p for p in bases[1:] if p.bottom >= tile.grid.base_depth - EQUAL_MM]
    raised += [p for p in placed if FEATURES[p.role].walked]
    hollows = maker_of(tile.shape, tile.grid, printed_band(tile.grid)).hollows()
    # The lowest layer of what has several.
    named = [(p.role, p.foot) for p in raised if p.role in FEATURES and p.bottom in {base.top for base in bases}]
    named += [(word, part) for word, region in hollows.items() for part in polygons_of(region)]
    return FeatureView(
        tuple(rings for p in sorted(raised, key=lambda p: p.bottom) for rings in polygon_rings(p.foot)),
        tuple(rings for region in hollows.values() for rings in polygon_rings(region)),
        tuple(rings for p in placed if not FEATURES[p.role].walked for rings in polygon_rings(p.foot)),
        tuple((word, *_room(area)) for word, area in named),
        frozenset(p.role for p in placed),
        frozenset(hollows),
    )


def draw_features(canvas: Canvas, views: Sequence[FeatureView], *, line: float, pitch: float) -> None:
    """Features on a canvas, above the floor; line: width in mm; pitch: between the lines of a hollow's hatch."""
    canvas.area([rings for v in views for rings in v.sunk], SUNK, hatch=Hatch(INK, pitch, line), stroke=INK, width=line)
    depth = max((len(v.raised) for v in views), default=0)
    for level in range(depth):
        layer = [v.raised[level] for v in views if len(v.raised) > level]
        canvas.area(layer, RAISED, stroke=INK, width=line)
    canvas.area([rings for v in views for rings in v.dark], DARK)


def write_names(
    canvas: Canvas, views: Sequence[FeatureView], taken: Sequence[tuple[float, float, float, float]]
) -> None:
    """The word for each feature on it, where there is room beside what is written already (boxes)."""
    boxes = [shapely.box(*box) for box in taken]
    tree = shapely.STRtree(boxes)
    for view in views:
        for word, (x, y), width, height in view.names:
            half = text_width(word, NAME_MM) / 2 + 0.8
            for dy in (0.0, -0.3 * height, 0.3 * height):
                box = shapely.box(x - half, y + dy - 0.7 * NAME_MM, x + half, y + dy + 0.7 * NAME_MM)
                if (
                    2 * half <= width
                    and 1.4 * NAME_MM + 2 * abs(dy) <= height
                    and not len(tree.query(box, "intersects"))
                ):
                    if word in view.hollow:
                        canvas.area([rectangle(*box.bounds)], RAISED)
                    canvas.text(x, y + dy + CAP_HEIGHT * NAME_MM / 2, word, NAME_MM, "middle", halo=RAISED)
                    break


def heights_note(drawing: Drawing, units: Units) -> list[str]:
    """A line on rooms whose floor or walls have a height of their own; nothing if there are none."""
    said: dict[str, str] = {}
    for room, extra in drawing.heights.items():
        words = []
        if extra.floor:
            words.append(f"floor {show_length(extra.floor, units)} up")
        if extra.wall_height is not None:
            words.append(f"walls {show_length(extra.wall_height, units)} high")
        if words:
            said[chr(room)] = ", ".join(words)
    rooms = (f"{drawing.titles.get(letter) or f'room {letter}'}: {words}" for letter, words in sorted(said.items()))
    return [f"Heights. {'; '.join(rooms)}."] if said else []


def signs_note(views: Sequence[FeatureView]) -> list[str]:
    """How features are drawn, as far as there are any."""
    standing = [kind for word, kind in FEATURES.items() if any(word in v.standing for v in views)]
    signs = {
        "dark blocks inside a tile": [kind.drawn for kind in standing if not kind.walked],
        "light outlined areas": [kind.drawn for kind in standing if kind.walked],
        "hatched areas": [kind.several for word, kind in FEATURES.items() if any(word in v.hollow for v in views)],
    }
    words = [f"{sign}: {', '.join(what)}" for sign, what in signs.items() if what]
    return [f"Features: {'; '.join(words)}."] if words else []


def _room(area: BaseGeometry) -> tuple[tuple[float, float], float, float]:
    west, south, east, north = area.bounds
    return ((west + east) / 2, (south + north) / 2), east - west, north - south


# One tile from above: what it covers, what stands on it, the ways through; in its own frame, ready to be placed.

# A calm palette of our own: chalk and slate, told apart by lightness alone.
FLOOR = "#f2eee3"
WALL = "#333a42"
SEAM = "#8b8f94"
LINE = "#c9c3b4"
DOOR = "#d3a94f"
THRESHOLD = "#fbf9f4"
# Longest side of a plan view as shown, in mm.
SHOWN_MM = 60.0
_FINENESS = 0.25


@dataclass(frozen=True)
class GroundPlan:
    """A tile or piece from above, in its own frame (y to the north).

    standing: walls and posts less their openings; ways: what the openings leave free; sills: lines across each
    way, on the inner face; label, reach: centre and radius of the largest free circle on the floor.
    """

    floor: tuple[Rings, ...]
    standing: tuple[Rings, ...]
    ways: tuple[Rings, ...]
    sills: tuple[Points, ...]
    lines: tuple[Points, ...]
    label: tuple[float, float]
    reach: float
    features: FeatureView

    def placed(self, turn: Turn) -> GroundPlan:
        """The same on the table (y to the south)."""
        return self.mapped(turn.points)

    def mapped(self, move: Callable[[Points], Points]) -> GroundPlan:
        """The same with all its points moved, (n, 2) to (n, 2); the reach stays."""
        x, y = move(np.array([self.label])).tolist()[0]
        floor, standing, ways = (
            tuple(tuple(move(ring) for ring in rings) for rings in group)
            for group in (self.floor, self.standing, self.ways)
        )
        sills, lines = (tuple(move(line) for line in group) for group in (self.sills, self.lines))
        return GroundPlan(floor, standing, ways, sills, lines, (x, y), self.reach, self.features.mapped(move))

    def small(self, x: float, y: float, side: float, least: float = 0.0) -> GroundPlan:
        """The same in a square of that side about (x, y), north at the top. least: the extent that fills the square."""
        points = np.concatenate([ring for rings in self.floor for ring in rings])
        low, high = points.min(axis=0), points.max(axis=0)
        scale, centre = side / max(least, float((high - low).max())), (low + high) / 2

        def move(own: Points) -> Points:
            found: Points = (own - centre) * (scale, -scale) + (x, y)
            return found

        return replace(self.mapped(move), reach=self.reach * scale)


def ground_plan(thing: Tile | Piece) -> GroundPlan:
    """What one tile or loose piece looks like from above."""
    standing = [plate for plate in thing.plates if plate.edge is not None and plate.role not in FEATURES]
    stops = [p.foot for p in thing.plates if p.role in FEATURES and not FEATURES[p.role].walked]
    feet = [plate.opening_foot(opening) for plate in standing for opening in plate.openings]
    # A leaf is printed as it lies: seen from above it shows its whole foot.
    shown = standing if isinstance(thing, Tile) else thing.plates
    walls = shapely.union_all([plate.foot for plate in shown])
    ways = shapely.union_all(feet).intersection(walls) if feet else Polygon()
    solid = walls.difference(ways)
    floor = thing.base.foot if isinstance(thing, Tile) else walls
    marks = [m for plate in thing.plates for m in plate.marks if m.on == "top"] if isinstance(thing, Tile) else []
    free = floor.difference(shapely.union_all([walls, *stops])) if isinstance(thing, Tile) else walls
    label, reach = _largest_circle(free)
    return GroundPlan(
        polygon_rings(floor),
        polygon_rings(solid),
        polygon_rings(ways),
        tuple(sill for plate in standing for sill in _sills(plate)),
        tuple(shapely.get_coordinates(line) for mark in marks for line in lines_of(mark.line)),
        label,
        reach,
        feature_view(thing) if isinstance(thing, Tile) else PLAIN_VIEW,
    )


def _sills(plate: Plate) -> list[Points]:
    """Each opening's line across the way, on the plate's inner face: the far side of what it covers on the plan."""
    if plate.bend is not None:
        return [np.array(plate.bend.inner_line(o.centre - o.width / 2, o.centre + o.width / 2)) for o in plate.openings]
    return [np.array(plate.opening_foot(opening).exterior.coords)[2:4, :2] for opening in plate.openings]


def _largest_circle(free: BaseGeometry) -> tuple[tuple[float, float], float]:
    """Centre and radius of the largest free circle; of equal ones that nearest the middle of the floor."""
    if free.is_empty:
        return (0.0, 0.0), 0.0
    part = largest_polygon(free)
    west, south, east, north = part.bounds
    middle = Point((west + east) / 2, (south + north) / 2)
    line = shapely.maximum_inscribed_circle(part, tolerance=_FINENESS)
    radius = line.length
    if part.covers(middle) and part.boundary.distance(middle) >= radius - 2 * _FINENESS:
        return (middle.x, middle.y), part.boundary.distance(middle)
    (x, y), _ = line.coords
    return (x, y), radius


def draw_ground(canvas: Canvas, plans: list[GroundPlan], *, edge: float, line: float = 0.35) -> None:
    """Tiles on a canvas, in layers: floors, space lines, ways, walls, outlines. edge, line: widths in mm."""
    floors = [rings for plan in plans for rings in plan.floor]
    canvas.area(floors, FLOOR)
    canvas.line([points for plan in plans for points in plan.lines], LINE, line)
    draw_features(canvas, [plan.features for plan in plans], line=0.8 * line, pitch=8 * line)
    canvas.area([rings for plan in plans for rings in plan.ways], THRESHOLD)
    canvas.area([rings for plan in plans for rings in plan.standing], WALL)
    canvas.line([points for plan in plans for points in plan.sills], WALL, 2.5 * line)
    canvas.line([np.concatenate([ring, ring[:1]]) for rings in floors for ring in rings], SEAM, edge)


def draw_doors(canvas: Canvas, plans: list[GroundPlan], *, line: float = 0.5) -> None:
    """Loose door pieces on a canvas."""
    canvas.area([rings for plan in plans for rings in plan.ways], THRESHOLD, stroke=INK, width=line)
    hatch = Hatch(INK, 2.4, 0.5)
    canvas.area([rings for plan in plans for rings in plan.standing], DOOR, hatch=hatch, stroke=INK, width=line)


def plan_view_svg(thing: Tile | Piece, *, units: Units = "mm") -> str:
    """A small picture of one tile or loose piece from above, in true proportion, with its outside measures."""
    canvas = plan_view_canvas(thing, units=units)
    return canvas.svg()


def plan_view_canvas(thing: Tile | Piece, *, units: Units) -> Canvas:
    """The picture of `plan_view_svg` as a canvas."""
    own = ground_plan(thing)
    points = np.concatenate([ring for rings in (*own.floor, *own.standing) for ring in rings])
    (west, south), (east, north) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    width, height = east - west, north - south
    unit = max(width, height) / SHOWN_MM
    # Room for the two dimension lines to the south and to the west.
    left, top, gap = 10.0 * unit, 3.0 * unit, 4.0 * unit
    across, down = show_length(width, units), show_length(height, units)
    canvas = Canvas(
        left + width + top,
        top + height + left,
        f"{thing.name} from above",
        f"{across} from west to east, {down} from north to south, its own north at the top.",
    )
    canvas.scale = SHOWN_MM / max(canvas.width, canvas.height)
    turn = Turn(0, left - west, top + north)
    plan = own.placed(turn)
    if isinstance(thing, Piece):
        draw_doors(canvas, [plan], line=0.3 * unit)
    else:
        draw_ground(canvas, [plan], edge=0.3 * unit, line=0.4 * unit)
        if isinstance(thing.shape, OutlineShape):
            draw_edge_numbers(
                canvas, thing.shape, turn.points, wall=thing.grid.wall_thickness, unit=unit, ink=INK, halo=FLOOR
            )
    _dimension(canvas, (left, top + height + gap), (left + width, top + height + gap), across, unit)
    _dimension(canvas, (left - gap, top + height), (left - gap, top), down, unit)
    return canvas


def _dimension(canvas: Canvas, start: tuple[float, float], end: tuple[float, float], words: str, unit: float) -> None:
    """A dimension line between two ticks; upright ones read from the right hand side."""
    (x0, y0), (x1, y1) = start, end
    tick = 1.2 * unit
    dx, dy = (0.0, tick) if y0 == y1 else (tick, 0.0)
    ends = [polyline((x - dx, y - dy), (x + dx, y + dy)) for x, y in (start, end)]
    canvas.line([polyline(start, end), *ends], INK, 0.25 * unit)
    length = max(abs(x1 - x0), abs(y1 - y0))
    size = min(4.2 * unit, 4.2 * unit * 1.3 * length / max(text_width(words, 4.2 * unit), 1e-9))
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    if y0 == y1:
        canvas.text(x, y + tick + CAP_HEIGHT * size + 0.4 * unit, words, size, "middle")
    else:
        canvas.text(x - tick - 0.4 * unit, y, words, size, "middle", -90.0)
