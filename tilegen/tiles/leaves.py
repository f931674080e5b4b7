"""Leaves of doorways and saddles: what the wall needs to carry one, and the leaf itself, as plates.

sliding: drops from above into a groove in each jamb. hinged: turns on a wire pin between a hole in the floor and one
through the lintel. lift-out: a piece of wall that stands in the same grooves and looks like the wall.
Both tiles of a shared wall carry the same grooves or holes; a sliding or hinged leaf stands in one of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import Point, polygonal
from tilegen.lengths import rounded_down, rounded_up, show_length
from tilegen.model.grid import Grid, Leaf
from tilegen.tiles.dressing import wall_marks
from tilegen.tiles.plate import Mark, Opening, Plate
from tilegen.tiles.seats import flat_region

# Two lines of a 0.4 mm nozzle: the least that stays beside a groove (common practice, no source).
LEAST_SKIN_MM = 0.8
# What a pin's hole is wider than the pin: 0.3 to 0.4 (common practice, no source).
PIN_PLAY_MM = 0.35
# Free space over the floor and under the lintel (common practice, no source).
FLOOR_GAP_MM = 0.4
_PIN_DEPTH_MM, _LEAST_PIN_DEPTH_MM = 3.0, 1.0
_PIN_SKIN_MM = 1.2
# Between a pin's hole and a connector's pocket below it: a layer or two (common practice, no source).
_POCKET_SKIN_MM = 0.3
_GRIP_MM = 4.0
BAR_MM, _GAP_MM, _RIM_MM = 3.0, 4.0, 3.0
# A hole between bars that is smaller than this is none.
_LEAST_HOLE_MM = 1.0
_LINE_MM, _LINE_DEPTH_MM, _PLANKS = 0.8, 0.5, 4
_ROUND = 16
_REACH_MM = 1.0


def groove_width(grid: Grid) -> float:
    """Of the groove that a leaf stands in: the leaf and its clearance on both faces, mm."""
    return grid.door.thickness + 2 * grid.door.gap


def hinge_thickness(grid: Grid) -> float:
    """Of a hinged leaf: at least the pin's hole with a skin on both sides, mm."""
    return max(grid.door.thickness, grid.door.pin + PIN_PLAY_MM + 2 * LEAST_SKIN_MM)


def check_leaf(opening: Opening, grid: Grid, jamb: float) -> None:
    """Refuse a leaf that its wall can't carry.

    jamb: the narrower jamb beside the opening, mm.

    Raises:
        InputError: a wall or a jamb too thin, or a head that the leaf does not suit.
    """
    if opening.leaf == "none":
        return
    wall = grid.wall_thickness - grid.half_play
    need = hinge_thickness(grid) if opening.leaf == "hinged" else groove_width(grid) + 2 * LEAST_SKIN_MM
    if wall < need - 1e-9:
        raise _too_small(
            opening.leaf, "a wall at least {} thick", need, wall, "Make the wall thicker, or [door] thickness smaller"
        )
    if opening.leaf == "hinged":
        _check_hinged(opening, grid)
        return
    if opening.leaf == "lift-out" and opening.head == "round":
        raise InputError("a lift-out leaf needs a flat head, and this one is round", cure='Use head = "flat"')
    if jamb < grid.door.groove_depth + LEAST_SKIN_MM - 1e-9:
        raise _too_small(
            opening.leaf,
            "at least {} of wall beside it",
            grid.door.groove_depth + LEAST_SKIN_MM,
            jamb,
            "Make the opening narrower, or [door] groove_depth smaller",
        )


def _too_small(leaf: Leaf, needed: str, least: float, given: float, cure: str) -> InputError:
    """needed: what is too small, as "a wall at least {} thick"."""
    need, here = show_length(rounded_up(least)), show_length(rounded_down(given))
    return InputError(f"a {leaf} leaf needs {needed.format(need)}, and here it has {here}", cure=cure)


def _check_hinged(opening: Opening, grid: Grid) -> None:
    if opening.head == "round" or opening.height >= grid.wall_height:
        raise InputError(
            "a hinged leaf needs a flat strip of wall above it, which holds its pin",
            cure='Use leaf = "sliding", or head = "flat" and an opening lower than the wall',
        )
    least = 2 * (FLOOR_GAP_MM + _RIM_MM)
    if opening.height < least:
        raise _too_small(
            opening.leaf,
            "an opening at least {} high",
            least,
            opening.height,
            'Make the opening higher, or use leaf = "sliding"',
        )
    if grid.surface.raised:
        raise InputError(
            "a hinged leaf can't turn over a floor whose stones stand up",
            cure='Use leaf = "sliding", or [surface] relief = "sunk"',
        )
    if grid.base_depth < _LEAST_PIN_DEPTH_MM + _PIN_SKIN_MM:
        raise _too_small(
            opening.leaf,
            "a base at least {} deep",
            _LEAST_PIN_DEPTH_MM + _PIN_SKIN_MM,
            grid.base_depth,
            'Make the base deeper, or use leaf = "sliding"',
        )
    if leaf_length(opening, grid) < 2 * hinge_thickness(grid):
        raise _too_small(
            opening.leaf,
            "an opening at least {} wide",
            3 * hinge_thickness(grid),
            opening.width,
            'Make the opening wider, or use leaf = "sliding"',
        )


def fitted(plates: tuple[Plate, ...], grid: Grid) -> tuple[Plate, ...]:
    """The plates of a tile with the grooves and holes that the leaves of its doorways need."""
    if not any(o.leaf != "none" for plate in plates for o in plate.openings):
        return plates
    pins = [(_axis(plate, o, grid), plate.bottom) for plate in plates for o in plate.openings if o.leaf == "hinged"]
    return tuple(replace(p, marks=(*p.marks, *_floor_marks(p, pins, grid), *_wall_marks(p, grid))) for p in plates)


def _floor_marks(base: Plate, pins: list[tuple[Point, float]], grid: Grid) -> Iterator[Mark]:
    """The holes under the pins that stand on this plate, less deep over a pocket.

    Raises:
        InputError: a pocket leaves too little for a hole.
    """
    for centre, foot in pins if base.role == "base" else ():
        if base.top == foot and base.foot.covers(ShapelyPoint(centre)):
            hole = _hole(centre, min(_PIN_DEPTH_MM, grid.base_depth - _PIN_SKIN_MM, base.height - _PIN_SKIN_MM), grid)
            over = base.height - _pocket_top(base, hole.region)
            if over < _LEAST_PIN_DEPTH_MM + _POCKET_SKIN_MM:
                raise InputError(
                    f"a hinged leaf has a hole for its pin in the base, and here a pocket for "
                    f"{grid.connectors.kind} is in the way",
                    cure='Use leaf = "sliding", a deeper base, or other connectors',
                )
            yield replace(hole, depth=min(hole.depth, over - _POCKET_SKIN_MM))


def _pocket_top(base: Plate, hole: BaseGeometry) -> float:
    """How high the pockets reach where a pin's hole stands over them, mm from the underside."""
    tops = [0.0]
    for mark in base.marks:
        if mark.on == "under" and mark.region.intersects(hole):
            tops.append(mark.depth)
        elif mark.on == "rim" and mark.edge and mark.depth > 0:
            shared = flat_region(mark).intersection(hole)
            if not shared.is_empty:
                along = [LineString(mark.edge).project(ShapelyPoint(p)) for p in shapely.get_coordinates(shared)]
                over = mark.region.intersection(box(min(along), 0.0, max(along), base.height))
                tops += [] if over.is_empty else [over.bounds[3]]
    return max(tops)


def _wall_marks(plate: Plate, grid: Grid) -> Iterator[Mark]:
    for opening in plate.openings:
        if opening.leaf == "hinged":
            yield _hole(_axis(plate, opening, grid), plate.height - opening.height, grid)
        elif opening.leaf != "none":
            width = groove_width(grid)
            yield groove(plate, opening, grid, (plate.thickness - width) / 2, width)


def groove(plate: Plate, opening: Opening, grid: Grid, start: float, width: float) -> Mark:
    """The slot that a leaf stands in, from the floor to the top, less the opening; start: from the outer face."""
    reach = opening.width / 2 + grid.door.groove_depth
    left, right = opening.centre - reach, opening.centre + reach
    top = plate.height if plate.is_open_topped(opening) else None
    region = polygonal(box(left, 0.0, right, plate.height).difference(opening.region(below=_REACH_MM, above=top)))
    cutter = box(left, -_REACH_MM, right, plate.height + _REACH_MM)
    return Mark((), region, region, width, "outer", start=start, cutter=cutter)


def seam_groove(plate: Plate, opening: Opening, grid: Grid) -> Mark:
    """Half of that slot, in the inner face of one of the two plates of a saddle door."""
    return replace(groove(plate, opening, grid, 0.0, groove_width(grid) / 2), on="inner")


def _axis(plate: Plate, opening: Opening, grid: Grid) -> Point:
    """The pin's place on the plan: half a leaf from the jamb at the opening's start, in the middle of the wall."""
    along = opening.centre - opening.width / 2 + hinge_thickness(grid) / 2 + grid.door.gap
    return plate.at(along, plate.thickness / 2)


def _hole(centre: Point, depth: float, grid: Grid) -> Mark:
    region = round_hole(centre, grid.door.pin + PIN_PLAY_MM)
    return Mark((), region, region, depth)


def round_hole(centre: Point, diameter: float) -> Polygon:
    """A regular 16-gon round a circle, so that a rod of that diameter goes through; turned alike in every quarter."""
    radius = diameter / 2 / math.cos(math.pi / _ROUND)
    first = [
        (radius * math.cos(math.pi * (2 * i + 1) / _ROUND), radius * math.sin(math.pi * (2 * i + 1) / _ROUND))
        for i in range(_ROUND // 4)
    ]
    ring = first + [(-y, x) for x, y in first] + [(-x, -y) for x, y in first] + [(y, -x) for x, y in first]
    return Polygon([(centre[0] + x, centre[1] + y) for x, y in ring])


def leaf_length(opening: Opening, grid: Grid) -> float:
    """Of a hinged leaf from its pin to its free edge, so that its far corners swing clear of the other jamb.

    The corner turns on a circle of radius sqrt(L^2 + (t/2)^2), which must stay within o - t/2 - c (derived).
    """
    half, clearance = hinge_thickness(grid) / 2, grid.door.gap
    room = opening.width - half - clearance
    swing = room**2 - half**2
    return min(room - clearance, math.sqrt(swing) - clearance / 4) if swing > 0 else 0.0


def leaf_room(leaf: Leaf, grid: Grid) -> float:
    """What an open leaf takes of its opening, mm: a hinged one stands in the way with its thickness."""
    return hinge_thickness(grid) + 2 * grid.door.gap if leaf == "hinged" else 0.0


def clear_width(opening: Opening, grid: Grid) -> float:
    """What an open leaf leaves of an opening, mm."""
    return opening.width - leaf_room(opening.leaf, grid)


def leaf_plates(opening: Opening, grid: Grid) -> tuple[Plate, ...]:
    """The leaf of an opening as it is printed: a sliding one flat on its back, the others upright."""
    if opening.leaf == "hinged":
        return (_hinged(opening, grid),)
    if opening.leaf == "lift-out":
        return (_lift_out(opening, grid),)
    foot, lines = sliding_face(opening, grid)
    return (Plate("leaf", "door", foot, 0.0, grid.door.thickness, marks=lines),)


def sliding_face(opening: Opening, grid: Grid, bar: float = BAR_MM) -> tuple[Polygon, tuple[Mark, ...]]:
    """The face of a sliding leaf, as high as its wall and with a grip above it, and the lines on it.

    bar: the least width of its bars and of the rim around them, mm.
    """
    depth = grid.door.groove_depth
    width, height = opening.width + 2 * depth - 2 * grid.door.gap, grid.wall_height
    grip = box(width / 4, height, width * 3 / 4, height + _GRIP_MM)
    whole = shapely.union_all([box(0.0, 0.0, width, height), grip])
    rim = max(_RIM_MM, bar)
    seen = depth + rim, rim, width - depth - rim, min(opening.height, height - rim) - rim
    return styled_face(_one(whole), seen, height, opening, bar)


def styled_face(
    whole: Polygon, seen: tuple[float, float, float, float], height: float, opening: Opening, bar: float = BAR_MM
) -> tuple[Polygon, tuple[Mark, ...]]:
    """A leaf's face as its style has it, and the lines on it.

    whole: the face without its style, least corner at the origin. seen: west, south, east, north of what bars are cut
    out of; without room for a hole in it the face stays whole. height: up to which it has lines. bar: the least width
    of a bar, mm.
    """
    west, south, east, north = seen
    if opening.style == "plain" or min(east - west, north - south) < _LEAST_HOLE_MM:
        return whole, ()
    if opening.style == "planks":
        return whole, (_plank_lines(whole, whole.bounds[2], height),)
    rails = opening.style == "portcullis"
    holes = [
        box(x0, y0, x1, y1)
        for x0, x1 in _gaps(west, east, bar)
        for y0, y1 in (_gaps(south, north, bar) if rails else [(south, north)])
    ]
    return _one(whole.difference(shapely.union_all(holes))), ()


def _gaps(start: float, end: float, bar: float) -> list[tuple[float, float]]:
    """Openings between bars, as even as they go and no narrower than a bar's share: the ends are open."""
    count = max(1, round((end - start + bar) / (max(_GAP_MM, bar) + bar)))
    step = (end - start + bar) / count
    return [(start + i * step, start + (i + 1) * step - bar) for i in range(count)]


def _plank_lines(whole: Polygon, width: float, height: float) -> Mark:
    xs = [width * n / _PLANKS for n in range(1, _PLANKS)]
    strips = [box(x - _LINE_MM / 2, _RIM_MM, x + _LINE_MM / 2, height - _RIM_MM) for x in xs]
    centres = tuple(((x, _RIM_MM), (x, height - _RIM_MM)) for x in xs)
    return Mark(centres, whole, polygonal(shapely.union_all(strips)), _LINE_DEPTH_MM)


def _hinged(opening: Opening, grid: Grid) -> Plate:
    """Upright on the plan, its pin at (0, 0), one end round; lines on both faces where it has planks."""
    half, length = hinge_thickness(grid) / 2, leaf_length(opening, grid)
    height = opening.height - 2 * FLOOR_GAP_MM
    knuckle = ShapelyPoint(0.0, 0.0).buffer(half, quad_segs=6)
    hole = round_hole((0.0, 0.0), grid.door.pin + PIN_PLAY_MM)
    foot = _one(shapely.union_all([box(0.0, -half, length, half), knuckle]).difference(hole))
    if opening.style != "planks":
        return Plate("leaf", "door", foot, 0.0, height)
    faces = (((length, -half), (0.0, -half)), ((0.0, half), (length, half)))
    strips = [
        box(length * n / _PLANKS - _LINE_MM / 2, _RIM_MM, length * n / _PLANKS + _LINE_MM / 2, height - _RIM_MM)
        for n in range(1, _PLANKS)
    ]
    lines = polygonal(shapely.union_all(strips))
    depth = min(_LINE_DEPTH_MM, (half * 2 - grid.door.pin - PIN_PLAY_MM) / 4)
    return Plate("leaf", "door", foot, 0.0, height, marks=tuple(Mark((), lines, lines, depth, "rim", e) for e in faces))


def _lift_out(opening: Opening, grid: Grid) -> Plate:
    """A piece of wall with a tongue on each side and a nick for a fingernail under its top."""
    door, wall = grid.door, grid.wall_thickness - grid.half_play
    half, tongue = opening.width / 2 - door.gap, opening.width / 2 + door.groove_depth - door.gap
    body = box(-half, -wall / 2, half, wall / 2)
    tongues = box(-tongue, -door.thickness / 2, tongue, door.thickness / 2)
    foot = _one(shapely.union_all([body, tongues]))
    nick = box(half - 4.0, grid.wall_height - 5.0, half + 4.0, grid.wall_height - 2.5)
    edge = ((half, -wall / 2), (-half, -wall / 2))
    mark = Mark((), nick, nick, min(1.0, wall / 6), "rim", edge)
    back = ((-half, wall / 2), (half, wall / 2))
    seen = tuple(replace(m, on="rim", edge=back) for m in lift_out_marks(opening, grid))
    return Plate("leaf", "door", foot, 0.0, grid.wall_height, marks=(mark, *seen))


def lift_out_marks(opening: Opening, grid: Grid) -> tuple[Mark, ...]:
    """The wall's surface on the face of a lift-out leaf that the room sees, along it and up from its foot.

    Its courses are those of the wall beside it; no margin is left plain at its sides, where the wall goes on.
    """
    if grid.surface.walls == "none":
        return ()
    width, margin = opening.width - 2 * grid.door.gap, grid.surface.margin
    seen = box(0.0, margin, width, grid.wall_height - margin)
    return wall_marks(grid, seen, 0.0, grid.surface.seed)


def _one(region: shapely.Geometry) -> Polygon:
    if not isinstance(region, Polygon):
        raise ValueError("a leaf that falls into pieces")  # noqa: TRY004 - a value of the right kind in a wrong state
    return region
