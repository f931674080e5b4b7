"""Pillars: they stand like a piece of wall, square or round."""

from __future__ import annotations

from collections.abc import Iterator

from tilegen.model.grid import Grid
from tilegen.tiles.blocks import Block
from tilegen.tiles.features.kind import AT, HEIGHT, SIZE, Bounds, FeatureKey, FeatureKind, Wanted


def _layers(wanted: Wanted, bounds: Bounds, grid: Grid, _: float | None) -> Iterator[Block]:
    yield Block("pillar", *bounds, 0.0, wanted.height(grid.wall_height), wanted.round)


PILLAR = FeatureKind(
    word="pillar",
    several="pillars",
    says="stands like a wall, two wall thicknesses across and as high as its room's walls",
    letter="C",
    layered="pillars of layers",
    drawn="pillars",
    takes={"at": AT, "size": SIZE, "height": HEIGHT, "round": FeatureKey("yes", "A drum instead of a block.")},
    needs=(),
    usual_size=lambda grid: 2 * grid.wall_thickness,
    round=False,
    one_cell=True,
    walked=False,
    stops_sight=True,
    upright=True,
    layers=_layers,
)
