"""One tile from above: what it covers, what stands on it, the ways through; in its own frame, ready to be placed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Points, largest_polygon, lines_of, polygon_rings
from tilegen.lengths import Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, Rings, polyline, text_width
from tilegen.pictures.edge_numbers import draw_edge_numbers
from tilegen.pictures.feature_view import PLAIN_VIEW, FeatureView, draw_features, feature_view
from tilegen.plans.placing import Turn
from tilegen.tiles.doors import Piece
from tilegen.tiles.features import FEATURES
from tilegen.tiles.identity import opening_feet
from tilegen.tiles.plate import Plate
from tilegen.tiles.shape import OutlineShape
from tilegen.tiles.tile import Tile

# A calm palette of our own: chalk and slate, told apart by lightness alone.
FLOOR = "#f2eee3"
WALL = "#333a42"
SEAM = "#8b8f94"
LINE = "#c9c3b4"
INK = "#23272d"
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
    features: FeatureView = PLAIN_VIEW

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


def ground_plan(thing: Tile | Piece) -> GroundPlan:
    """What one tile or loose piece looks like from above."""
    standing = [plate for plate in thing.plates if plate.edge is not None and plate.role not in FEATURES]
    stops = [p.foot for p in thing.plates if p.role in FEATURES and not FEATURES[p.role].walked]
    feet = [foot for plate in standing for foot in opening_feet(plate)]
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
    return [np.array(foot.exterior.coords)[2:4, :2] for foot in opening_feet(plate)]


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


def draw_ground(canvas: Canvas, plans: list[GroundPlan], *, edge: float = 0.2, line: float = 0.35) -> None:
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


def plan_view_canvas(thing: Tile | Piece, *, units: Units = "mm") -> Canvas:
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
