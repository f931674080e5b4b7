"""What a tile cut out of a room off the grid is before it is made: its piece of floor, and the walls near it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.tiles.plate import Opening, Point

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class WallRun:
    """One straight or bent wall of a room, as far as it matters to a tile: from its line inwards, to the right.

    path: its corners on the line, mm. openings: (first, last station on the path, height, head) of each. turns: how
    far the room's outline turns right to the next wall before its start and after its end; None where none follows.
    """

    path: tuple[Point, ...]
    openings: tuple[tuple[float, float, Opening], ...] = ()
    turns: tuple[float | None, float | None] = (None, None)


@dataclass(frozen=True)
class RegionShape:
    """A tile that is a piece of a room off the grid, in the tile's own frame, mm.

    piece: nominal, seam to seam. room: the room's floor around it, less nothing but what lies too far to matter, and
    filled up behind lines that carry no wall. runs: the walls near it.
    """

    piece: Polygon
    room: BaseGeometry
    runs: tuple[WallRun, ...]

    def turned(self, side: float) -> RegionShape:
        """A quarter turn clockwise about a square of the lattice with this side, mm."""

        def move(points: Floats) -> Floats:
            return np.stack([points[:, 1], side - points[:, 0]], axis=1)

        runs = tuple(WallRun(tuple((y, side - x) for x, y in run.path), run.openings, run.turns) for run in self.runs)
        return RegionShape(shapely.transform(self.piece, move), shapely.transform(self.room, move), runs)
