"""Loose posts: a peg below each, sockets in the corners of tiles where two open sides meet, and how firm they stand."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

import shapely
from shapely.geometry import box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError, KeyRef, Said
from tilegen.geometry import Point, polygonal
from tilegen.lengths import rounded_up, show_length
from tilegen.model.grid import Grid
from tilegen.tiles.connectors.kind import kind_of
from tilegen.tiles.description import FAR, CellLines
from tilegen.tiles.leaves.hinged import pocket_top, round_hole
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.shape import CellShape, Shape

# A peg is at most so thick and so long, and half as thick as its post; a thinner or shorter one breaks or does not
# hold (common practice, no source).
_MOST_PEG_MM, _MOST_LONG_MM = 3.0, 4.0
_LEAST_PEG_MM, _LEAST_LONG_MM = 1.5, 2.0
# Below a peg in its socket, and below the socket (common practice, no source).
_BELOW_MM, _SKIN_MM = 0.3, 1.2
# Plastic and air, kg/m3, and gravity: PLA solid (common practice, no source); ISO 80000-3.
_DENSITY, _GRAVITY = 1240.0, 9.80665


@dataclass(frozen=True, slots=True)
class Peg:
    """The peg of a loose post, mm."""

    diameter: float
    length: float


def post_depth(grid: Grid) -> float:
    """The side of a loose post: a wall less what the play takes, mm."""
    return grid.wall_thickness - grid.half_play


@cache
def peg_of(grid: Grid) -> Peg | None:
    """The peg of a grid's loose posts; None where walls or bases are too thin for one, above pockets in the corners."""
    square = box(0.0, 0.0, grid.tile_side, grid.tile_side)
    pocket = max((pocket.depth for pocket in kind_of(grid).under(square, grid)), default=0.0)
    thick = min(_MOST_PEG_MM, post_depth(grid) / 2)
    long = min(_MOST_LONG_MM, grid.base_depth - pocket - _SKIN_MM - _BELOW_MM)
    return Peg(thick, long) if thick >= _LEAST_PEG_MM and long >= _LEAST_LONG_MM else None


def post_plates(grid: Grid) -> tuple[Plate, ...]:
    """A loose post as printed: upside down, its peg on top."""
    deep, peg = post_depth(grid), peg_of(grid)
    post = Plate("post", "post", box(0.0, 0.0, deep, deep), 0.0, grid.wall_height)
    if peg is None:
        return (post,)
    foot = round_hole((deep / 2, deep / 2), peg.diameter)
    return post, Plate("peg", "post", foot, grid.wall_height, grid.wall_height + peg.length)


# --- sockets ---


def sockets_of(shape: Shape, grid: Grid) -> Iterator[tuple[Point, float]]:
    """The middle of each socket on the plan and the height of its floor, mm: where a loose post may stand.

    That is every corner of a tile of one cell whose two sides there are open, but where a feature of the floor is in
    the way, or a hollow beside it is shallower than the sockets are deep.
    """
    peg = peg_of(grid)
    if grid.set.posts == "fixed" or peg is None or not isinstance(shape, CellShape):
        return
    hollows = [-block.bottom for _, cell in shape.cells for block in cell.extra.blocks if block.hollow]
    small = len(shape.cells) > 1 or min(*shape.widths, *shape.heights) < grid.spaces
    if small or min(hollows, default=math.inf) < peg.length + 2 * _BELOW_MM:
        return
    lines = CellLines(shape, grid)
    middle = (grid.half_play + grid.wall_thickness) / 2
    for place, cell in shape.cells:
        for corner in range(4):
            sides = corner, (corner + 1) % 4
            if cell.posts[corner] or any(cell.sides[side].carries for side in sides):
                continue
            at = lines.corner(place, corner)
            x, y = (at[k] + middle * (-1.0 if _far(k, sides) else 1.0) for k in (0, 1))
            cx, cy = lines.centre(place)
            square = box(x - middle, y - middle, x + middle, y + middle)
            blocks = (box(b.west + cx, b.south + cy, b.east + cx, b.north + cy) for b in cell.extra.blocks)
            if not any(square.intersects(block) for block in blocks):
                yield (x, y), grid.base_depth + cell.extra.floor


def _far(axis: int, sides: tuple[int, int]) -> bool:
    """Whether a corner lies at the far end of its cell, along x or y."""
    (side,) = (side for side in sides if (side % 2 == 1) == (axis == 0))
    return FAR[side]


def with_sockets(floor: Sequence[Plate], shape: Shape, grid: Grid) -> tuple[Plate, ...]:
    """The plates of a floor with the sockets of loose posts.

    Raises:
        InputError: a pocket or a hollow leaves too little of the base for one.
    """
    peg, sockets = peg_of(grid), list(sockets_of(shape, grid))
    if not sockets or peg is None:
        return tuple(floor)
    return tuple(_socketed(plate, sockets, peg, grid) if plate.role == "base" else plate for plate in floor)


def _socketed(base: Plate, sockets: Sequence[tuple[Point, float]], peg: Peg, grid: Grid) -> Plate:
    """A base with the sockets whose floor is its top."""
    wide, deep = peg.diameter + 2 * grid.door.gap, peg.length + _BELOW_MM
    holes = [round_hole(at, wide) for at, level in sockets if level == base.top and base.foot.covers(shapely.Point(at))]
    if not holes:
        return base
    for hole in holes:
        if base.height - pocket_top(base, hole) < deep + _BELOW_MM:
            raise InputError(
                f"a loose post needs a socket {show_length(rounded_up(deep))} deep in the base, and something below "
                "is in the way",
                cure=Said(
                    "Use {}, a deeper base, or no connectors or hollows in corners", KeyRef("posts", "fixed", "set")
                ),
            )
    region = polygonal(shapely.union_all(holes))
    # No line between spaces reaches a socket. Patterns are added later and leave the sockets free.
    return replace(base, marks=(*base.marks, Mark((), region, region, deep)))


def stood_on(mark: Mark, grid: Grid) -> BaseGeometry | None:
    """What posts cover around the sockets of a mark; None if it is another mark. Patterns leave it plain."""
    peg = peg_of(grid)
    if grid.set.posts == "fixed" or peg is None or mark.centres or mark.on != "top":
        return None
    return polygonal(mark.region.buffer((post_depth(grid) - peg.diameter) / 2 - grid.door.gap, join_style="mitre"))


# --- how firm they stand ---


@dataclass(frozen=True, slots=True)
class Stand:
    """How a loose post stands: the tilt at which it falls, the tilt at which its peg holds it (None without a peg),
    both in degrees, and the push at its top that tips it without a peg, in mN.
    """

    falls: float
    held: float | None
    push: float

    @property
    def firm(self) -> bool:
        """Whether the peg holds it before it falls."""
        return self.held is not None and self.held < self.falls


def stand_of(grid: Grid) -> Stand:
    """How the loose posts of a grid stand.

    A square post of side b and height h falls once its middle is over its edge, tan = b / h; a push F at its top lifts
    it at F h = m g b / 2 (both derived, statics of a rigid body). A peg of length l with a clearance c on each side
    jams at tan = 2 c / l (derived).
    """
    side, high, peg = post_depth(grid), grid.wall_height, peg_of(grid)
    mass = _DENSITY * side**2 * high * 1e-9
    held = None if peg is None else math.degrees(math.atan(2 * grid.door.gap / peg.length))
    return Stand(math.degrees(math.atan(side / high)), held, mass * _GRAVITY * side / (2 * high) * 1000)


def least_gained(grid: Grid) -> float:
    """The least base that may gain places where a post is left out of a corner, mm; up to the pitch it may.

    The largest disc in a space with a post in one corner touches the two sides across from it and the post's corner:
    (P - w) (4 - 2 sqrt 2), for a pitch P and a wall w (derived).
    """
    return (grid.pitch - grid.wall_thickness) * (4 - 2 * math.sqrt(2))
