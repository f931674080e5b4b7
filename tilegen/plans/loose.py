"""The loose pieces of a plan: saddle doors, the leaves of doorways and saddles, strips beside saddles."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.plans.drawing import Drawing, ends_beside
from tilegen.plans.ways import LINES, Way, line_of
from tilegen.tiles.blocks import PLAIN
from tilegen.tiles.doors import Piece, leaf_name, make_leaf, make_saddle_door, make_shim
from tilegen.tiles.leaves import check_leaf
from tilegen.tiles.openings import mirrored, shrunk
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import SIDES, STEPS

_SHIMS_PER_SADDLE = 2


@dataclass(frozen=True)
class PieceType:
    """One type of loose piece in a kit, with the ways it stands in."""

    piece: Piece
    places: tuple[Way, ...]

    @property
    def name(self) -> str:
        """The piece's name, its own in this kit."""
        return self.piece.name

    @property
    def count(self) -> int:
        """How many of it the plan needs."""
        return len(self.places)


def make_pieces(drawing: Drawing) -> tuple[PieceType, ...]:
    """Every loose piece of a plan: saddle doors first, then leaves, then strips; of each the most used first.

    Pieces that are alike up to a half turn are one type.
    """
    found: dict[str, tuple[Piece, list[Way]]] = {}
    for piece, way in [*_saddles(drawing), *_leaves(drawing)]:
        found.setdefault(piece.id, (piece, []))[1].append(way)
    kinds = ("saddle", "leaf", "shim")
    pieces = sorted(found.values(), key=lambda item: (kinds.index(item[0].kind), -len(item[1]), item[0].id))
    names = [piece.name for piece, _ in pieces]
    named = (replace(p, name=f"{p.name}-{p.id.lower()}") if names.count(p.name) > 1 else p for p, _ in pieces)
    return tuple(PieceType(piece, tuple(ways)) for piece, (_, ways) in zip(named, pieces, strict=True))


def _opening_of(drawing: Drawing, way: Way) -> Opening | None:
    array, row, column = line_of(way.cell, way.side)
    lines = drawing.across if array == "across" else drawing.down
    return drawing.kinds[int(lines[row, column])].opening


def _saddles(drawing: Drawing) -> Iterator[tuple[Piece, Way]]:
    for way in drawing.saddles:
        opening = _opening_of(drawing, way)
        if opening is None:
            raise ValueError("a saddle without an opening")
        yield make_saddle_door("saddle-door", drawing.grid, drawing.cell_side, opening), way
        if drawing.grid.door.shims:
            shim = make_shim("saddle-strip", drawing.grid, drawing.cell_side, opening)
            yield from ((shim, way) for _ in range(_SHIMS_PER_SADDLE))


def _leaves(drawing: Drawing) -> Iterator[tuple[Piece, Way]]:
    """One leaf for each way; a wall that lifts out needs one on both of its tiles.

    Raises:
        InputError: with the way's place, a leaf that the walls of its room can't hold.
    """
    for way in drawing.ways:
        opening = _opening_of(drawing, way)
        if opening is None or opening.leaf == "none":
            continue
        name = leaf_name(opening)
        if LINES[way.kind].loose:
            yield make_leaf(name, drawing.grid, drawing.cell_side, opening), way
            continue
        fitted = list(_fitted(drawing, way, opening))
        for here, where, grid in fitted if opening.leaf == "lift-out" else fitted[:1]:
            try:
                check_leaf(here, grid, math.inf)
            except InputError as error:
                raise error.located(place=way.place) from None
            yield make_leaf(name, grid, drawing.cell_side, here), where


def _fitted(drawing: Drawing, way: Way, opening: Opening) -> Iterator[tuple[Opening, Way, Grid]]:
    """The opening in each tile beside a way, the way's own first; the way as seen from there; its room's grid."""
    step = STEPS[SIDES.index(way.side)]
    beyond = replace(
        way, cell=(way.cell[0] + step[0], way.cell[1] + step[1]), side=SIDES[(SIDES.index(way.side) + 2) % 4]
    )
    found = []
    for (column, row), ends in ends_beside(drawing, line_of(way.cell, way.side)):
        where = way if (column + 1, row + 1) == way.cell else beyond
        made = opening if way.width is not None else shrunk(opening, drawing.cell_side, drawing.grid, ends)
        grid = drawing.heights.get(int(drawing.rooms[row, column]), PLAIN).on(drawing.grid)
        # Walked clockwise, as the tile's own sides are: lines are kept from their west or north end.
        found.append((made if where.side in ("north", "east") else mirrored(made, drawing.cell_side), where, grid))
    return iter(sorted(found, key=lambda item: item[1] is not way))
