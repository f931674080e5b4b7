"""The pockets and pegs of one module of an edge, in the module's own frame.

Frame: a along the edge walked clockwise (the tile on the right), from the middle of the module; inwards from the rim,
or up from the underside. Someone who looks at the edge from outside sees a grow to the left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import shapely
from shapely.geometry import Polygon, box

from tilegen.geometry import Point
from tilegen.grid import Grid
from tilegen.tiles.laws import Law
from tilegen.tiles.plate import Face

# A pocket in a side holds its magnet, a bed of glue and a recess, so that faces meet before magnets (0.1 to 0.2 of
# recess: common practice, no source).
BEHIND_MM = 0.3
# What an upright slot is deeper than its magnet, so that no magnet stands out under the tile.
BELOW_MM = 0.1
# Room over a peg or key in its pocket, and beyond a peg's tip.
OVER_MM = 0.3
BEYOND_MM = 0.5
# A peg's tip and foot are so much slimmer all round: the one leads it in, the other makes up for a first layer that
# flares (0.3 to 0.5: common practice, no source).
LEAD_MM = 0.5
# What a key's head must bear on, on either side, when it has slid as far as the play lets it: two printed lines.
BEARING_MM = 0.8
# A circle is cut as a polygon round it, so that the hole is nowhere too small; few sides, since they cost time.
SIDES_OF_A_CIRCLE = 16
_DIGITS = 3


@dataclass(frozen=True)
class Pocket:
    """One thing on an edge. depth: into the face, less than 0 stands out.

    outline: (a, inwards from the rim) on the under face, (a, up) on the rim. reach: how far inwards it goes in all.
    """

    on: Face
    depth: float
    outline: Polygon
    reach: float

    @property
    def span(self) -> tuple[float, float]:
        """From where to where along the edge."""
        west, _, east, _ = self.outline.bounds
        return west, east


def module_of(grid: Grid) -> float:
    """The length after which an edge's connectors repeat, mm.

    The greatest length that divides a space and half a tile: tiles of whole spaces and half tiles, laid on the lines of
    spaces or of half tiles, only ever shift by whole modules, and all their sides are whole modules long.
    """
    if grid.connectors.every == "tile":
        return grid.tile_side
    return grid.pitch if grid.spaces % 2 == 0 else grid.pitch / 2


def least_clearance(grid: Grid) -> float:
    """On each side of a peg or key: half of the play of a seam, and how far a pocket may be off.

    So the whole play of a connector is the play of the seam and twice the error of position: tiles may still be
    pushed together or lie on their true places.
    """
    return grid.half_play + grid.connectors.position_error


def clearance_of(grid: Grid) -> float:
    """On each side of a peg or key, mm."""
    given = grid.connectors.clearance
    return least_clearance(grid) if given is None else given


def groove_of(grid: Grid) -> float:
    """How deep the floor's lines, or the joints of its surface, reach into the base, mm."""
    lines = grid.floor.groove_depth if grid.floor.lines else 0.0
    patterned = grid.surface.floor != "none" or any(floor != "none" for floor in dict(grid.surface.rooms).values())
    return max(lines, grid.surface.groove_depth) if patterned and not grid.surface.raised else lines


def offset_of(grid: Grid) -> float:
    """How far the pair of a module stands from the module's middle, mm; 0 for keys, which stand in the middle.

    Pegs stand evenly along the edge. Magnets stand nearer together than that: then a tile shifted by half a module
    along its neighbour has no magnet within 1.5 diameters of another one, rather than like poles face to face.
    """
    made, module = grid.connectors, module_of(grid)
    if made.kind == "pegs":
        return round(module / 4, _DIGITS)
    if made.kind != "magnets":
        return 0.0
    least = (made.magnet_diameter + made.allowance + made.web) / 2
    return round(max(module / 4 - 0.75 * made.magnet_diameter, least), _DIGITS)


def law_of(grid: Grid) -> Law:
    """What a module shows: N or peg left, S or socket right; s from left to right."""
    d = offset_of(grid)
    return {"magnets": ((-d, 1), (d, -1)), "pegs": ((-d, 1), (d, -1)), "keys": ((0.0, -1),)}.get(
        grid.connectors.kind, ()
    )


@cache
def pockets_of(grid: Grid) -> tuple[Pocket, ...]:
    """All of one module, worked out once for a grid."""
    kind = grid.connectors.kind
    if kind == "magnets":
        make = _side_pocket if grid.connectors.magnet_place == "side" else _slot
        return tuple(make(grid, sign * offset_of(grid)) for sign in (1, -1))
    if kind == "pegs":
        # To the left from outside is where a grows.
        return (*_peg(grid, offset_of(grid)), _socket(grid, -offset_of(grid)))
    return (_key_pocket(grid),) if kind == "keys" else ()


def magnet_height(grid: Grid) -> float:
    """Of the middle of a side pocket over the underside: half way up to the floor's grooves, mm."""
    return round((grid.base_depth - groove_of(grid)) / 2, _DIGITS)


def _side_pocket(grid: Grid, at: float) -> Pocket:
    made, up = grid.connectors, magnet_height(grid)
    radius = (made.magnet_diameter + made.allowance) / 2
    depth = made.magnet_thickness + BEHIND_MM
    circle = [_rounded(x + at, y + up) for x, y in circle_around(radius)]
    return Pocket("rim", depth, Polygon(circle), depth)


def circle_around(radius: float, sides: int = SIDES_OF_A_CIRCLE) -> list[Point]:
    """The corners of a regular polygon about the origin whose sides touch the circle from outside, one of them on top.

    Its corners lie r / cos(pi / n) out.
    """
    out = radius / math.cos(math.pi / sides)
    angles = [(2 * k + 1) * math.pi / sides for k in range(sides)]
    return [(out * math.sin(a), out * math.cos(a)) for a in angles]


def _slot(grid: Grid, at: float) -> Pocket:
    made = grid.connectors
    half = (made.magnet_diameter + made.allowance) / 2
    far = made.skin + made.magnet_thickness + made.allowance
    return Pocket("under", made.magnet_diameter + BELOW_MM, box(at - half, made.skin, at + half, far), far)


def _peg(grid: Grid, at: float) -> tuple[Pocket, Pocket]:
    """A peg that stands on the printer's bed: a core, and a collar that ends sooner and is slimmer at its foot."""
    made = grid.connectors
    half, top, inner, roof = (
        made.peg_width / 2,
        made.peg_height,
        made.peg_width / 2 - LEAD_MM,
        made.peg_height - LEAD_MM,
    )
    core = [(-inner, 0.0), (inner, 0.0), (inner, roof), (-inner, roof)]
    outside = [(inner, 0.0), (half, LEAD_MM), (half, top), (-half, top), (-half, LEAD_MM), (-inner, 0.0)]
    collar = [*outside, (-inner, roof), (inner, roof)]
    return (
        Pocket("rim", -made.peg_length, _moved(core, at), 0.0),
        Pocket("rim", LEAD_MM - made.peg_length, _moved(collar, at), 0.0),
    )


def _socket(grid: Grid, at: float) -> Pocket:
    made = grid.connectors
    half, far = made.peg_width / 2 + clearance_of(grid), made.peg_length + BEYOND_MM
    return Pocket("under", made.peg_height + OVER_MM, box(at - half, 0.0, at + half, far), far)


def key_shape(grid: Grid) -> Polygon:
    """A key from above, about the middle of its seam: x along the seam, y across it.

    Derived from what it has to do:
    - Whatever lies half on each of two equal edges must look the same from both tiles and either way up: it is
      symmetric about the seam and about its own axis. The least of that kind is a plain bar across the seam.
    - A plain bar in a plain slot keeps two tiles from sliding along each other, not from drifting apart. So its ends
      must be wider than what lies between them, by no more than the play asks. Pushed to one side by the clearance c
      while the slot's throat is c too wide on either side, a head that is wider by h on each side still bears on
      h - 2 c there: h = 2 c + b, with b the bearing.
    - The shoulders slope by 45 degrees, which draws two pulled tiles back into line and leaves no sharp inner corner
      in foam or print; across the seam a clearance c then gives c x sqrt 2 before they bear. The far corners are
      chamfered by as much.
    - Between rim and shoulder the tile keeps one web: the shoulders begin at half the play, a web, and what the pocket
      is offset by, c x tan 22.5 degrees, from the middle of the seam.
    """
    made, c = grid.connectors, clearance_of(grid)
    neck, end, wider = made.key_neck / 2, made.key_length / 2, head_wider(grid)
    start = shoulder_start(grid)
    quarter = [(neck, start), (neck + wider, start + wider), (neck + wider, end - wider), (neck, end)]
    right = [*((x, -y) for x, y in reversed(quarter)), *quarter]
    ring = [*right, *((-x, y) for x, y in reversed(right))]
    if start + 2 * wider + c > end:
        ring = []
    return Polygon([_rounded(x, y) for x, y in ring])


def head_wider(grid: Grid) -> float:
    """How much wider a key's head is than its neck, on each side: 2 c + b."""
    return 2 * clearance_of(grid) + BEARING_MM


def shoulder_start(grid: Grid) -> float:
    """How far from the middle of the seam a key's shoulders begin, mm."""
    return grid.half_play + grid.connectors.web + clearance_of(grid) * math.tan(math.pi / 8)


def _key_pocket(grid: Grid) -> Pocket:
    """Half of a key and its clearance all round, mitred, from the rim inwards."""
    key, c, rim = key_shape(grid), clearance_of(grid), grid.half_play
    if key.is_empty:
        return Pocket("under", 0.0, key, 0.0)
    grown = key.buffer(c, join_style="mitre", mitre_limit=5.0)
    west, _, east, far = grown.bounds
    half = grown.intersection(box(west, rim, east, far))
    points = [_rounded(x, y - rim) for x, y in shapely.get_coordinates(half).tolist()]
    return Pocket("under", grid.connectors.key_thickness + OVER_MM, Polygon(points), far - rim)


def _moved(points: list[Point], at: float) -> Polygon:
    return Polygon([_rounded(x + at, y) for x, y in points])


def _rounded(x: float, y: float) -> Point:
    """On the micrometre grid, as all derived points."""
    return round(x, _DIGITS), round(y, _DIGITS)
