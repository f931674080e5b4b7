"""One number for all that a cell of a drawing carries, so that whole plans are compared at once."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from tilegen.grid import Grid
from tilegen.plans.drawing import Drawing
from tilegen.plans.posts import posts_of
from tilegen.tiles.blocks import PLAIN, Extra
from tilegen.tiles.openings import fit_openings
from tilegen.tiles.shape import Cell, Side

Codes = npt.NDArray[np.int64]


@dataclass(frozen=True)
class CellKinds:
    """What the numbers of `cell_codes` stand for."""

    sides: tuple[Side, ...]
    length: float
    grid: Grid
    extras: tuple[Extra, ...] = (PLAIN,)

    def cell(self, code: int) -> Cell:
        """The cell of a code, its openings fitted between its walls."""
        digits, extra = divmod(code - 1, len(self.extras))
        digits, posts = divmod(digits, 16)
        found = []
        walled = posts > 0
        for _ in range(4):
            digits, digit = divmod(digits, len(self.sides))
            found.append(self.sides[digit])
            walled = walled or self.sides[digit].carries
        west, south, east, north = found
        corners = (bool(posts & 1), bool(posts & 2), bool(posts & 4), bool(posts & 8))
        cell = Cell((north, east, south, west), corners, self._extra(extra, walled=walled))
        return fit_openings(cell, (self.length, self.length), self.grid)

    def _extra(self, number: int, *, walled: bool) -> Extra:
        """A cell without walls is the same whatever height they would have."""
        extra = self.extras[number]
        tells = walled and extra.wall_height not in (None, self.grid.wall_height)
        return extra if tells or extra.wall_height is None else replace(extra, wall_height=None)


def cell_codes(drawing: Drawing) -> tuple[Codes, CellKinds]:
    """One number for all that a cell carries, 0 for solid ground, and what the numbers stand for."""
    sides, forward, backward = drawing.side_codes()
    base = np.int64(len(sides))
    codes = forward[drawing.across[:-1]].astype(np.int64)
    for strip in (forward[drawing.down[:, 1:]], backward[drawing.across[1:]], backward[drawing.down[:, :-1]]):
        codes *= base
        codes += strip
    codes *= 16
    codes += posts_of(drawing)
    if drawing.extras is not None:
        codes *= len(drawing.extra_kinds)
        codes += drawing.extras
    codes += 1
    codes[drawing.rooms == 0] = 0
    return codes, CellKinds(sides, drawing.cell_side, drawing.grid, drawing.extra_kinds)
