"""Stairs: one layer per step, each less deep than the last."""

from __future__ import annotations

from collections.abc import Iterator

from tilegen.errors import InputError
from tilegen.lengths import counted, rounded_down, show_length
from tilegen.model.grid import Grid
from tilegen.tiles.blocks import Block
from tilegen.tiles.features.kind import AT, HEIGHT, SIZE, USUAL_STEP_MM, Bounds, FeatureKey, FeatureKind, Wanted

# The least depth of a tread, mm, and the most steps (common practice, no source).
LEAST_TREAD_MM = 3.0
MOST_STEPS = 40
_ROUNDING = 1e-6


def _layers(wanted: Wanted, bounds: Bounds, _: Grid, rise: float | None) -> Iterator[Block]:
    height = wanted.height(rise)
    side = wanted.values["side"]
    steps: int = wanted.values.get("steps", max(1, round(height / USUAL_STEP_MM)))
    west, south, east, north = bounds
    run = (north - south if side in ("north", "south") else east - west) / max(steps, 1)
    if not 1 <= steps <= MOST_STEPS:
        raise InputError(f"a stair can't have {counted(steps, 'step')}", cure=f"Use 1 to {MOST_STEPS}")
    if run < LEAST_TREAD_MM - _ROUNDING:
        raise InputError(
            f"{counted(steps, 'step')} would be only {show_length(rounded_down(run))} deep here",
            cure=f"Use fewer steps or more room, so that they are at least {show_length(LEAST_TREAD_MM)} deep",
        )
    for step in range(steps):
        gone = step * run
        layer = {
            "north": (west, south + gone, east, north),
            "south": (west, south, east, north - gone),
            "east": (west + gone, south, east, north),
            "west": (west, south, east - gone, north),
        }[side]
        yield Block("stair", *layer, height * step / steps, height * (step + 1) / steps)


STAIR = FeatureKind(
    word="stair",
    several="stairs",
    says="climbs to a side, as high as the floor beyond it",
    letter="T",
    layered="steps of stairs",
    drawn="stairs with a line a step (the smallest is the highest)",
    takes={
        "at": AT,
        "size": SIZE,
        "height": HEIGHT,
        "side": FeatureKey("side", "The side that it climbs to."),
        "steps": FeatureKey("count", f"As many as make them about {USUAL_STEP_MM:g} mm high if absent."),
    },
    needs=("side",),
    usual_size=None,
    round=False,
    one_cell=False,
    walked=True,
    stops_sight=False,
    upright=False,
    layers=_layers,
)
