"""A doorway: both tiles keep their wall, with an opening in it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from tilegen.errors import InputError
from tilegen.model.grid import LEAVES, Grid
from tilegen.plans.ways.kind import HungOpening, Way, WayKind, WayMeasures, as_measured, framed
from tilegen.plans.ways.saddle import SADDLE
from tilegen.tiles.leaves.kind import check_leaf, leaf_of
from tilegen.tiles.loose import Piece, leaf_name, make_leaf
from tilegen.tiles.plate import Opening


def _on_line(way: Way, length: float, grid: Grid) -> Opening:
    """One of the grid's width is fitted to each of its two cells later."""
    return framed(way, length, grid, end=0.0, leaf=way.leaf or grid.door.leaf)


def _at_point(way: WayMeasures, length: float, grid: Grid) -> Opening:
    return as_measured(way, length, grid, leaf=way.leaf or grid.door.leaf)


def _pieces(openings: Sequence[HungOpening], length: float) -> Iterator[tuple[Piece, Way]]:
    """One leaf; a wall that lifts out needs one on both of its tiles.

    Raises:
        InputError: with the way's place, a leaf that the walls of its room can't hold.
    """
    one_each = leaf_of(openings[0][0].leaf).of_wall
    for opening, way, grid in openings if one_each else openings[:1]:
        if opening.leaf not in LEAVES:
            continue
        try:
            check_leaf(opening, grid, math.inf)
        except InputError as error:
            raise error.located(place=way.place) from None
        yield make_leaf(leaf_name(opening), grid, length, opening), way


DOORWAY = WayKind(
    word="doorway",
    says="an opening in both tiles' walls",
    takes=("width", "height", "head", "at", "leaf", "style"),
    stands=True,
    carried=True,
    loose=False,
    walked=True,
    seen="doors open",
    on_line=_on_line,
    at_point=_at_point,
    pieces=_pieces,
)

# The same where a set's doorways are pieces of their own: no wall, but a door piece, also towards solid ground.
LOOSE_DOORWAY = replace(SADDLE, word="loose-doorway", says="a doorway as a door piece")
