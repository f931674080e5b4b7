"""Pits: hollows in the floor."""

from __future__ import annotations

from collections.abc import Iterator

from tilegen.model.grid import Grid
from tilegen.tiles.blocks import Block
from tilegen.tiles.features.kind import AT, DEPTH, SIZE, Bounds, FeatureKind, Wanted


def _layers(wanted: Wanted, bounds: Bounds, grid: Grid, _: float | None) -> Iterator[Block]:
    yield Block("pit", *bounds, -wanted.depth(grid), 0.0)


PIT = FeatureKind(
    word="pit",
    several="pits",
    says="a hollow, as deep as the base allows",
    letter="",
    layered="",
    drawn="",
    takes={"at": AT, "size": SIZE, "depth": DEPTH},
    needs=(),
    usual_size=None,
    round=False,
    one_cell=False,
    walked=False,
    stops_sight=False,
    upright=False,
    layers=_layers,
)
