"""The loose key that holds two tiles together from below."""

from __future__ import annotations

from dataclasses import dataclass

from tilegen.grid import Grid
from tilegen.tiles.connectors.keys import key_shape
from tilegen.tiles.doors import Piece
from tilegen.tiles.plate import Opening, Plate

KEY_NAME = "seam-key"
_NO_OPENING = Opening(0.0, 0.0, 0.0)


@dataclass(frozen=True)
class SeamKey(Piece):
    """A key: one lying plate, alike from both sides and either way round."""

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:  # noqa: ARG002 - it stands in no opening
        """The key of a grid with other clearances."""
        return make_key(grid).plates


def make_key(grid: Grid) -> SeamKey:
    """The key of a grid whose connectors are keys; the middle of its seam is its origin."""
    made = grid.connectors
    plate = Plate("key", "key", key_shape(grid), 0.0, made.key_thickness)
    return SeamKey(KEY_NAME, grid, (plate,), made.key_length, _NO_OPENING)
