"""Where connectors of two tiles meet when a kit is laid out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from tilegen.geometry import direction_of
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit
from tilegen.plans.placing import placed
from tilegen.tiles.connectors import seating_of
from tilegen.tiles.tile import Tile

_FINENESS_MM = 0.01


def middles_of(tile: Tile) -> npt.NDArray[np.float64]:
    """(n, 2) middles of a tile's modules with connectors, on the grid's lines, in the tile's own frame; mm."""
    half = tile.grid.half_play
    middles = []
    for seat in seating_of(tile.shape, tile.grid, tile.base.foot).whole:
        (x, y), (dx, dy) = seat.centre, direction_of((seat.start, seat.end))
        middles.append((x - dy * half, y + dx * half))
    return np.array(middles, np.float64).reshape(-1, 2)


def count_seams(kit: Kit, drawing: Drawing) -> int:
    """How many modules of the laid-out plan have connectors on both sides of the seam: one key each, for instance."""
    if drawing.grid.connectors.kind == "none":
        return 0
    own = {kind.tile.id: middles_of(kind.tile) for kind in kit.types}
    laid = [turn.points(own[kind.tile.id]) for kind, turn in placed(kit, drawing)]
    middles = np.round(np.concatenate(laid) / _FINENESS_MM).astype(np.int64)
    _, times = np.unique(middles, axis=0, return_counts=True)
    return int((times == 2).sum())
