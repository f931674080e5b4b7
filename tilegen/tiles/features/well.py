"""Wells: a round pit with a raised rim."""

from __future__ import annotations

from collections.abc import Iterator

from tilegen.errors import InputError, KeyRef, Said
from tilegen.lengths import show_length
from tilegen.model.grid import Grid
from tilegen.tiles.blocks import Block
from tilegen.tiles.features.kind import AT, DEPTH, LEAST_MM, SIZE, Bounds, FeatureKey, FeatureKind, Wanted


def _layers(wanted: Wanted, bounds: Bounds, grid: Grid, _: float | None) -> Iterator[Block]:
    west, south, east, north = bounds
    rim: float = wanted.values.get("rim_width", grid.wall_thickness)
    # Both circles on a micrometre grid, so that the rim ends exactly where the pit begins.
    x, y, radius = (west + east) / 2, (south + north) / 2, round((east - west) / 2, 3)
    bore = round(radius - rim, 3)
    if rim < LEAST_MM:
        raise InputError(
            f"the rim of a well can't be {show_length(rim)} wide",
            cure=Said("Use a {} of at least {}", KeyRef("rim_width"), show_length(LEAST_MM)),
        )
    if 2 * bore < LEAST_MM:
        raise InputError(
            f"a rim {show_length(rim)} wide leaves a hole of less than {show_length(LEAST_MM)} in a well "
            f"{show_length(2 * radius)} across",
            cure=Said("Make the well larger, or {} smaller", KeyRef("rim_width")),
        )
    height = wanted.height(grid.pitch / 2, "rim_height")
    yield Block("well", x - radius, y - radius, x + radius, y + radius, 0.0, height, round=True, bore=bore)
    yield Block("well", x - bore, y - bore, x + bore, y + bore, -wanted.depth(grid), 0.0, round=True)


WELL = FeatureKind(
    word="well",
    several="wells",
    says="a round pit with a raised rim, a space across",
    letter="L",
    layered="rims of wells",
    drawn="rims of wells",
    takes={
        "at": AT,
        "size": SIZE,
        "depth": DEPTH,
        "rim_height": FeatureKey("length", "Above its floor; half a space if absent."),
        "rim_width": FeatureKey("length", "From its outside to the pit; a wall thickness if absent."),
    },
    needs=(),
    usual_size=lambda grid: grid.pitch,
    round=True,
    one_cell=True,
    walked=False,
    stops_sight=False,
    upright=False,
    layers=_layers,
)
