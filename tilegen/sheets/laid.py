"""What laying a tile flat gives: alike layers of one plate, and where they go."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tilegen.geometry import Point
from tilegen.sheets.alike import Flat
from tilegen.tiles.plate import Role

# alike: all layers of a wall; scored: the innermost one of a wall, or the outer ones of a leaf, with lines on its face.
# core: what a skin of card is folded round, of another stock.
Layer = Literal["", "alike", "outer", "between", "inner", "scored", "top", "below", "core"]


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a standing part goes on the plan: its outer face's start and direction, with the tile on the right.

    start: of the longer face, where an end is bevelled. folds: how far along the outer face it turns right, and by how
    much, in radians. bevels: how much further along its inner face starts and ends. laps: which of its ends are cut
    down to the skin.
    """

    start: Point
    direction: Point
    folds: tuple[tuple[float, float], ...] = ()
    bevels: tuple[float, float] = (0.0, 0.0)
    laps: tuple[bool, bool] = (False, False)


@dataclass(frozen=True, slots=True)
class Laid:
    """So many alike layers of one plate (or run of plates), flat. form: how it is made, if not cut and glued.

    layer: which of the plate's layers they are, where these are not all there is to say.
    """

    role: Role
    plate: str
    flat: Flat
    thickness: float
    layers: int = 1
    note: str = ""
    form: str = ""
    pose: Pose | None = None
    layer: Layer = ""
