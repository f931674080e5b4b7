"""What a kind of leaf defines, and what all kinds share.

Both tiles of a shared wall carry the same grooves or holes; a leaf stands in one of them, or in both.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cache
from importlib import import_module

import shapely
from shapely.affinity import scale
from shapely.geometry import MultiPolygon, Point, Polygon, box

from tilegen.errors import InputError, KeyRef, Said
from tilegen.geometry import SNAP_MM, Segment, polygonal
from tilegen.lengths import rounded_down, rounded_up, show_length
from tilegen.model.grid import LEAVES, Grid, Leaf
from tilegen.tiles.plate import Mark, Opening, Plate

# Two lines of a 0.4 mm nozzle: the least that stays beside a groove (common practice, no source).
LEAST_SKIN_MM = 0.8
# Free space over the floor and under the lintel (common practice, no source).
FLOOR_GAP_MM = 0.4
BAR_MM, _GAP_MM, RIM_MM = 3.0, 4.0, 3.0
# A hole between bars that is smaller than this is none.
_LEAST_HOLE_MM = 1.0
_LINE_MM, LINE_DEPTH_MM, _PLANKS = 0.8, 0.5, 4
# Of iron on a carved leaf: its straps, the studs on them and how far these are apart, a ring's radii; the strip round a
# leaf and the lines of grain; what is smaller has none of it.
_STRAP_MM, _STUD_MM, _STUDS_MM, _RING_MM = 2.6, 0.6, 4.2, (1.3, 2.2)
_FRAME_MM, _GRAIN_MM, _LEAST_IRON_MM = 0.6, 0.4, 12.0
# The face of a leaf, and the lines on it.
LeafFace = tuple[Polygon, tuple[Mark, ...]]


def hung_face(opening: Opening, grid: Grid, bar: float) -> LeafFace:
    """The face of a leaf that hangs in its opening; bar: the least width of its bars and of the rim around them, mm."""
    width, height = opening.width - 2 * grid.door.gap, opening.height - 2 * FLOOR_GAP_MM
    seen = bar, bar, width - bar, min(height, height - bar)
    return styled_face(box(0.0, 0.0, width, height), seen, height, opening, bar)


@dataclass(frozen=True, slots=True)
class LeafKind:
    """One kind of leaf, or that there is none.

    slides: whether it stands in a groove in each jamb. of_wall: whether it is a piece of both tiles' walls: as high,
    with their layers and surface instead of a style, one for each. lies: whether it is printed on its back.

    solid: its foot, height and marks as printed. face: its face as cut from sheets, with bars of at least a width.
    least_wall: how thick a wall must be to carry it, mm. check: refuses what can't be made, with the narrower jamb
    beside the opening, mm. room: what it takes of its opening when it is open, mm. marks: what it needs in a plate of
    its tile; the opening is in the second plate. seam_mark: what it needs in either plate of a saddle door; None if it
    can't close a saddle. cut: for identities, what walls carry for it, as a word and its measures, mm. wire: how long
    the wire is that it turns on in print, mm; 0 for none.
    """

    solid: Callable[[Opening, Grid], tuple[Polygon, float, tuple[Mark, ...]]]
    face: Callable[[Opening, Grid, float], LeafFace] = hung_face
    slides: bool = False
    of_wall: bool = False
    lies: bool = False
    least_wall: Callable[[Grid], float] = lambda _: 0.0
    check: Callable[[Opening, Grid, float], None] = lambda _, __, ___: None
    room: Callable[[Grid], float] = lambda _: 0.0
    marks: Callable[[Plate, Plate, Opening, Grid], Iterable[Mark]] = lambda _, __, ___, ____: ()
    seam_mark: Callable[[Plate, Opening, Grid], Mark] | None = None
    cut: Callable[[Grid], tuple[str, tuple[float, ...]]] = lambda _: ("", ())
    wire: Callable[[Grid], float] = lambda _: 0.0


_NONE = LeafKind(solid=lambda _, __: (Polygon(), 0.0, ()))


@cache
def leaf_of(word: Leaf) -> LeafKind:
    """The kind of a word: the file of its name."""
    if word not in LEAVES:
        return _NONE
    kind: LeafKind = import_module(f"tilegen.tiles.leaves.{word.replace('-', '_')}").KIND
    return kind


def check_leaf(opening: Opening, grid: Grid, jamb: float) -> None:
    """Refuse a leaf that its wall can't carry.

    jamb: the narrower jamb beside the opening, mm.

    Raises:
        InputError: a wall or a jamb too thin, or a head that the leaf does not suit.
    """
    if opening.leaf not in LEAVES:
        return
    kind, wall = leaf_of(opening.leaf), grid.wall_thickness - grid.half_play
    need = kind.least_wall(grid)
    if wall < need - 1e-9:
        cure = Said("Make the wall thicker, or {} smaller", KeyRef("thickness", table="door"))
        raise too_small(opening.leaf, "a wall at least {} thick", need, wall, cure)
    kind.check(opening, grid, jamb)


def too_small(leaf: Leaf, needed: str, least: float, given: float, cure: str) -> InputError:
    """needed: what is too small, as "a wall at least {} thick"."""
    need, here = show_length(rounded_up(least)), show_length(rounded_down(given))
    return InputError(f"a {leaf} leaf needs {needed.format(need)}, and here it has {here}", cure=cure)


def fitted(plates: tuple[Plate, ...], grid: Grid) -> tuple[Plate, ...]:
    """The plates of a tile with the grooves and holes that the leaves of its doorways need."""
    closed = [(wall, o) for wall in plates for o in wall.openings if o.leaf in LEAVES]
    if not closed:
        return plates
    marks = [[m for wall, o in closed for m in leaf_of(o.leaf).marks(p, wall, o, grid)] for p in plates]
    return tuple(replace(p, marks=(*p.marks, *more)) for p, more in zip(plates, marks, strict=True))


def clear_width(opening: Opening, grid: Grid) -> float:
    """What an open leaf leaves of an opening, mm."""
    return opening.width - leaf_of(opening.leaf).room(grid)


def leaf_plates(opening: Opening, grid: Grid) -> tuple[Plate, ...]:
    """The leaf of an opening as it is printed."""
    foot, height, marks = leaf_of(opening.leaf).solid(opening, grid)
    if grid.surface.stone is not None and opening.style == "planks" and not leaf_of(opening.leaf).of_wall:
        marks = tuple(part for mark in marks for part in _with_iron(mark, height))
    return (Plate("leaf", "door", foot, 0.0, height, marks=marks),)


# How a leaf looks


def styled_face(
    whole: Polygon, seen: tuple[float, float, float, float], height: float, opening: Opening, bar: float
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
        centres, lines = plank_lines(whole.bounds[2], height)
        return whole, (Mark(centres, whole, lines, LINE_DEPTH_MM),)
    rails = opening.style == "portcullis"
    holes = [
        box(x0, y0, x1, y1)
        for x0, x1 in _gaps(west, east, bar)
        for y0, y1 in (_gaps(south, north, bar) if rails else [(south, north)])
    ]
    return one(whole.difference(shapely.union_all(holes))), ()


def _with_iron(lines: Mark, height: float) -> Iterator[Mark]:
    """A leaf's planks sunk round two straps with studs and a ring, which stay where its face is, with grain in them.

    lines: those between its planks, to be made deeper. height: of an upright leaf.
    """
    face = box(0.0, 0.0, math.dist(*lines.edge), height) if lines.edge else lines.face
    west, south, east, north = face.bounds
    wide, high = east - west, north - south
    wood = face.buffer(-_FRAME_MM, join_style="mitre")
    if min(wide, high) < _LEAST_IRON_MM or lines.depth < LINE_DEPTH_MM / 2:
        yield lines
        return
    levels = [south + share * high for share in (0.2, 0.78)]
    straps = [box(west, y - _STRAP_MM / 2, east - 0.14 * wide, y + _STRAP_MM / 2) for y in levels]
    tips = [Point(east - 0.14 * wide, y).buffer(_STRAP_MM * 0.8, quad_segs=4) for y in levels]
    count = max(2, int(0.8 * wide / _STUDS_MM))
    studs = [
        Point(west + (0.86 * wide) * (n + 0.5) / count, y).buffer(_STUD_MM, quad_segs=3)
        for y in levels
        for n in range(count)
    ]
    middle = Point(west + 0.8 * wide, south + 0.49 * high)
    ring = middle.buffer(_RING_MM[1], quad_segs=5).difference(middle.buffer(_RING_MM[0], quad_segs=5))
    iron = shapely.union_all([*straps, *tips])
    planks = wood.difference(shapely.union_all([iron, ring, lines.region]))
    # Two lines of grain in each plank, one of them not all the way.
    step = wide / _PLANKS
    ends = [(n, share, low, up) for n in range(_PLANKS) for share, low, up in ((0.33, 0.1, 0.72), (0.68, 0.34, 0.92))]
    grain = shapely.union_all(
        [
            box(x - _GRAIN_MM / 2, south + (low + 0.04 * (n % 3)) * high, x + _GRAIN_MM / 2, south + up * high)
            for n, share, low, up in ends
            for x in (west + (n + share) * step,)
        ]
    ).intersection(planks.buffer(-_GRAIN_MM / 2))
    deep = lines.depth / 2
    sunk = (
        (lines.region.intersection(wood).difference(shapely.union_all([iron, ring])), lines.depth + deep / 2),
        (planks.difference(grain), deep),
        (grain, lines.depth),
        (iron.intersection(wood).difference(shapely.union_all([*studs, ring])), deep / 2),
    )
    # The ring is away from the hinge, whichever way its face runs.
    back = lines.edge is not None and lines.edge[0] > lines.edge[1]
    for region, depth in sunk:
        seen = scale(region, -1.0, 1.0, origin=((west + east) / 2, 0.0)) if back else region
        areas = polygonal(shapely.set_precision(seen, SNAP_MM))
        if not areas.is_empty:
            yield replace(lines, centres=(), region=areas, depth=depth)


def _gaps(start: float, end: float, bar: float) -> list[tuple[float, float]]:
    """Openings between bars, as even as they go and no narrower than a bar's share: the ends are open."""
    count = max(1, round((end - start + bar) / (max(_GAP_MM, bar) + bar)))
    step = (end - start + bar) / count
    return [(start + i * step, start + (i + 1) * step - bar) for i in range(count)]


def plank_lines(width: float, height: float) -> tuple[tuple[Segment, ...], Polygon | MultiPolygon]:
    """The lines between the planks of a leaf: their middles, and what they cover."""
    xs = [width * n / _PLANKS for n in range(1, _PLANKS)]
    strips = [box(x - _LINE_MM / 2, RIM_MM, x + _LINE_MM / 2, height - RIM_MM) for x in xs]
    return tuple(((x, RIM_MM), (x, height - RIM_MM)) for x in xs), polygonal(shapely.union_all(strips))


def one(region: shapely.Geometry) -> Polygon:
    """A leaf's outline; in one piece, else it is no leaf.

    Raises:
        ValueError: it falls into pieces.
    """
    if not isinstance(region, Polygon):
        raise ValueError("a leaf that falls into pieces")  # noqa: TRY004 - a value of the right kind in a wrong state
    return region
