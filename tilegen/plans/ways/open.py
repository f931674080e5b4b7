"""An open way: no wall between two rooms."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from tilegen.errors import InputError, KeyRef, Said
from tilegen.model.grid import LEAVES, Grid
from tilegen.plans.ways.kind import HungOpening, Way, WayKind, WayMeasures
from tilegen.tiles.loose import Piece
from tilegen.tiles.plate import Opening


def _on_line(way: Way, _length: float, _grid: Grid) -> None:
    if way.leaf in LEAVES:
        raise InputError(
            "an open way can't have a leaf",
            cure=Said("Leave the leaf out, or use {} or {}", KeyRef("kind", "doorway"), KeyRef("kind", "saddle")),
            place=way.place,
        )


def _at_point(way: WayMeasures, length: float, grid: Grid) -> Opening:
    """As high as the wall, and as wide as there is room."""
    return Opening(0.0, length if way.width is None else way.width, grid.wall_height, "flat")


def _pieces(_openings: Sequence[HungOpening], _length: float) -> Iterator[tuple[Piece, Way]]:
    yield from ()


OPEN_WAY = WayKind(
    word="open",
    says="no wall",
    takes=(),
    stands=False,
    carried=False,
    loose=False,
    walked=True,
    seen="always",
    on_line=_on_line,
    at_point=_at_point,
    pieces=_pieces,
)
