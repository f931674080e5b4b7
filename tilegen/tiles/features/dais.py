"""Daises: platforms to stand on."""

from __future__ import annotations

from collections.abc import Iterator

from tilegen.model.grid import Grid
from tilegen.tiles.blocks import Block
from tilegen.tiles.features.kind import AT, HEIGHT, SIZE, USUAL_STEP_MM, Bounds, FeatureKind, Wanted


def _layers(wanted: Wanted, bounds: Bounds, _: Grid, __: float | None) -> Iterator[Block]:
    yield Block("dais", *bounds, 0.0, wanted.height(USUAL_STEP_MM))


DAIS = FeatureKind(
    word="dais",
    several="daises",
    says=f"a platform, {USUAL_STEP_MM:g} mm high",
    letter="R",
    layered="daises",
    drawn="daises",
    takes={"at": AT, "size": SIZE, "height": HEIGHT},
    needs=(),
    usual_size=None,
    round=False,
    one_cell=False,
    walked=True,
    stops_sight=False,
    upright=False,
    layers=_layers,
)
