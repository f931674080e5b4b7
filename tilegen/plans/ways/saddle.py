"""A saddle: no wall, but a free-standing door piece on the seam between two tiles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tilegen.errors import InputError, KeyRef, Said
from tilegen.lengths import show_length
from tilegen.model.grid import LEAVES, Grid, Leaf
from tilegen.plans.ways.kind import HungOpening, Way, WayKind, as_measured, framed
from tilegen.tiles.leaves.kind import leaf_of
from tilegen.tiles.loose import Piece, leaf_name, make_leaf, make_saddle_door, make_shim
from tilegen.tiles.plate import Opening

_SHIMS = 2


def _on_line(way: Way, length: float, grid: Grid) -> Opening:
    """It stands between posts or walls, which take a wall's thickness at both ends."""
    opening = framed(way, length, grid, end=grid.wall_thickness, leaf=_leaf(way, grid.door.leaf))
    if opening.height >= grid.wall_height:
        raise InputError(
            "the opening of a saddle is as high as the wall, so its door piece would fall apart",
            cure=f"Make it lower than {show_length(grid.wall_height)}",
            place=way.place,
        )
    return opening


def _leaf(way: Way, usual: Leaf) -> Leaf:
    """A sliding leaf or none: there is no floor for a pin, and no wall to lift out."""
    leaf = way.leaf or usual
    if leaf not in LEAVES or leaf_of(leaf).seam_mark:
        return leaf
    if way.leaf:
        raise InputError(
            Said("a saddle can't have {}", KeyRef("leaf", way.leaf)),
            cure=Said(
                "Use {} or {}, or {}", KeyRef("leaf", "sliding"), KeyRef("leaf", "none"), KeyRef("kind", "doorway")
            ),
            place=way.place,
        )
    return "sliding"


def _pieces(openings: Sequence[HungOpening], length: float) -> Iterator[tuple[Piece, Way]]:
    """The door piece, strips beside it if the grid wants them, and its leaf."""
    for opening, way, grid in openings:
        yield make_saddle_door("saddle-door", grid, length, opening), way
        if grid.door.shims:
            shim = make_shim("saddle-strip", grid, length, opening)
            yield from ((shim, way) for _ in range(_SHIMS))
        if opening.leaf in LEAVES:
            yield make_leaf(leaf_name(opening), grid, length, opening), way


SADDLE = WayKind(
    word="saddle",
    says="no wall, but a free-standing door piece on the seam",
    takes=("width", "height", "head", "at", "leaf", "style"),
    stands=True,
    carried=False,
    loose=True,
    walked=True,
    seen="doors open",
    on_line=_on_line,
    at_point=as_measured,
    pieces=_pieces,
)
