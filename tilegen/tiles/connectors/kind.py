"""What a kind of connector defines, and what all kinds share.

Whatever an edge carries must fit every other edge, however the tiles are turned. An edge is walked counter-clockwise
round its tile, which is from left to right for someone who looks at it from outside; s is measured from the middle of
the edge. Two tiles that meet walk their common seam in opposite directions: what stands at s on one faces what stands
at -s on the other. So poles (N = +1, S = -1) and profiles (out = +1, in = -1) must be antisymmetric, p(-s) = -p(s);
what lies half in both tiles must be symmetric. Repeated every module, edges of several modules and edges shifted by
whole modules match as well. The tests try every case.

Pockets are in the frame of their module: a along the edge walked clockwise (the tile on the right), from the middle of
the module; inwards from the rim, or up from the underside. Someone who looks at the edge from outside sees a grow to
the left.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib import import_module

from shapely.geometry import Polygon

from tilegen.errors import InputError, KeyRef, Said
from tilegen.geometry import ROUNDING_MM, Point
from tilegen.lengths import rounded_down, rounded_up, show_length
from tilegen.model.grid import Grid
from tilegen.tiles.plate import Face

# What stands where along an edge: (s in mm, value).
Law = tuple[tuple[float, int], ...]
# Room over a peg or key in its pocket, and beyond a peg's tip.
OVER_MM = 0.3
BEYOND_MM = 0.5
# A peg's tip and foot are so much slimmer all round: the one leads it in, the other makes up for a first layer that
# flares (0.3 to 0.5: common practice, no source).
LEAD_MM = 0.5
# A part of a key, peg or head that is narrower than this breaks (pegs of 3 mm and more: common practice, no source).
LEAST_PEG_MM = 3.0
# A circle is cut as a polygon round it, so that the hole is nowhere too small; few sides, since they cost time.
SIDES_OF_A_CIRCLE = 16
DIGITS = 3


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


@dataclass(frozen=True, slots=True)
class ConnectorKind:
    """One kind of connector.

    word: as files write it. carried: what layers of a base that are cut out for it are called with. seen: the words of
    the picture of a seam. smaller: what to choose where it takes too much room. steps: how to lay tiles with it.

    poles: whether it shows north and south. loose: whether a loose piece of its own lies in every seam. slides: whether
    parts go into each other, with a clearance. stands_out: whether it reaches beyond the tile's edge. through: whether
    it may be cut through the whole base. rounds_up: whether layers must be cut at least so deep; else the nearest
    depth that layers give will do. magnetic: whether discs are glued in.

    along_edge: the pockets of one module. law: what a module shows, s from left to right. under: pockets that lie
    anywhere below a base, from its foot. check: refuses what can't be made. cut: how deep it is cut out of layers from
    below, mm; None where it is bored from the side. cautions: what whoever makes or uses such tiles must know.
    """

    word: str
    carried: str = ""
    seen: Callable[[Grid], tuple[str, ...]] = lambda _: ()
    smaller: str = ""
    steps: str = ""
    poles: bool = False
    loose: bool = False
    slides: bool = False
    stands_out: bool = False
    through: bool = False
    rounds_up: bool = False
    magnetic: bool = False
    along_edge: Callable[[Grid], tuple[Pocket, ...]] = lambda _: ()
    law: Callable[[Grid], Law] = lambda _: ()
    under: Callable[[Polygon, Grid], tuple[Pocket, ...]] = lambda _, __: ()
    check: Callable[[Grid], None] = lambda _: None
    cut: Callable[[Grid], float | None] = lambda _: None
    cautions: Callable[[Grid], tuple[str, ...]] = lambda _: ()


def kind_of(grid: Grid) -> ConnectorKind:
    """The kind that a grid has chosen: the file of its name."""
    kind: ConnectorKind = import_module(f"tilegen.tiles.connectors.{grid.connectors.kind.replace('-', '_')}").KIND
    return kind


@cache
def pockets_of(grid: Grid) -> tuple[Pocket, ...]:
    """All of one module of an edge, worked out once for a grid."""
    return kind_of(grid).along_edge(grid)


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
    stones = [stone for stone in (grid.surface.stone, *dict(grid.surface.stones).values()) if stone]
    if stones:
        # The same on every tile of the set, whatever its room's style.
        return max(stone.floor_depth for stone in stones)
    sunk = grid.surface.patterned and not grid.surface.raised
    return max(lines, grid.surface.groove_depth) if sunk else lines


def circle_around(radius: float, sides: int = SIDES_OF_A_CIRCLE) -> list[Point]:
    """The corners of a regular polygon about the origin whose sides touch the circle from outside, one of them on top.

    Its corners lie r / cos(pi / n) out.
    """
    out = radius / math.cos(math.pi / sides)
    angles = [(2 * k + 1) * math.pi / sides for k in range(sides)]
    return [(out * math.sin(a), out * math.cos(a)) for a in angles]


def rounded(x: float, y: float) -> Point:
    """On the micrometre grid, as all derived points."""
    return round(x, DIGITS), round(y, DIGITS)


def refused(key: str, text: str, cure: str) -> InputError:
    """The refusal of a key of `[connectors]`."""
    return InputError(text, cure=cure, place=f"[connectors] {key}")


def too_thin(key: str, value: float) -> InputError:
    """The refusal of a peg or key that would break."""
    return refused(key, f"at {show_length(value)} it would break", f"Use at least {show_length(LEAST_PEG_MM)}")


def less_or_deeper(most: float, needed: float) -> str:
    """The cure for what takes up too much of the base's depth: the most it may be, the depth that it needs, mm."""
    less = f"Use at most {show_length(rounded_down(most))}, or make" if most > 0 else "Make"
    return f"{less} the base at least {show_length(rounded_up(needed))} deep"


def check_clearance(grid: Grid) -> None:
    """Refuse parts that go into each other with less play than the seam has."""
    given, least = clearance_of(grid), least_clearance(grid)
    if given <= 0:
        raise refused(
            "clearance", f"with a clearance of {show_length(given)} nothing would go in", "Make it more than 0"
        )
    if given < least - ROUNDING_MM:
        raise refused(
            "clearance",
            Said(
                "with a clearance of {} tiles would not close: {} and {} take up {}",
                show_length(given),
                KeyRef("joint_play"),
                KeyRef("position_error"),
                show_length(rounded_up(least)),
            ),
            f"Use at least {show_length(rounded_up(least))}",
        )


def check_roof(grid: Grid, key: str, height: float) -> None:
    """Refuse what leaves too little of the base over a pocket from below, under the grooves."""
    needed = height + OVER_MM + groove_of(grid) + grid.connectors.skin
    if needed > grid.base_depth + ROUNDING_MM:
        most = grid.base_depth - OVER_MM - groove_of(grid) - grid.connectors.skin
        raise refused(
            key,
            f"at {show_length(height)} too little of the base, {show_length(grid.base_depth)} deep, is left above it",
            less_or_deeper(most, needed),
        )
