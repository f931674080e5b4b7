"""How thick things become when they are built up from sheets of one stock."""

from __future__ import annotations

import math
from dataclasses import dataclass

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.reading.models import MaterialFile
from tilegen.tiles.joints import Band, stock_band

_MOST_LAYERS = 60
# Differences that no builder can measure are not worth a word.
_UNSEEN_MM = 0.005


@dataclass(frozen=True, slots=True)
class Stack:
    """Layers of one sheet glued face to face; all in mm. target: what the stack ought to measure."""

    layers: int
    sheet: float
    glue_line: float
    target: float

    @property
    def thickness(self) -> float:
        """Of the finished stack, its glue lines included."""
        return self.layers * self.sheet + (self.layers - 1) * self.glue_line

    @property
    def residual(self) -> float:
        """What it measures more (+) or less (-) than its target."""
        return self.thickness - self.target

    @property
    def words(self) -> str:
        """The recipe in one phrase."""
        layers = "1 layer" if self.layers == 1 else f"{self.layers} layers"
        glue = f" with glue lines of {self.glue_line:.2f}" if self.layers > 1 and self.glue_line else ""
        outcome = f"{self.thickness:.2f} mm for {self.target:.2f} ({self.residual:+.2f})"
        return f"{layers} of {self.sheet:.2f} mm{glue}: {outcome}"


def stack_up(target: float, sheet: float, glue_line: float) -> Stack:
    """The number of layers that comes nearest to a target; of two equally near ones the smaller.

    Raises:
        InputError: the sheet is so thin that the stack would have more than 60 layers.

    >>> stack_up(7.0, 2.0, 0.05).words
    '3 layers of 2.00 mm with glue lines of 0.05: 6.10 mm for 7.00 (-0.90)'
    """
    layers = max(1, math.ceil((target + glue_line) / (sheet + glue_line) - 0.5))
    if layers > _MOST_LAYERS:
        raise InputError(
            f"{layers} layers of {sheet:g} mm for {target:g} mm",
            expected=f"at most {_MOST_LAYERS} layers",
            cure="choose thicker stock",
        )
    return Stack(layers, sheet, glue_line, target)


@dataclass(frozen=True, slots=True)
class Construction:
    """How the tiles of one grid are built from one stock."""

    grid: Grid
    base: Stack
    wall: Stack

    @classmethod
    def of(cls, grid: Grid, material: MaterialFile) -> Construction:
        """Base to its depth, walls to the thickness they have in print."""
        sheet, glue = material.real_thickness, material.glue_line
        wall = grid.wall_thickness - grid.half_play
        made = cls(grid, stack_up(grid.base_depth, sheet, glue), stack_up(wall, sheet, glue))
        if made.band.inner * 2 >= grid.pitch:
            raise InputError(
                f"walls of {made.wall.thickness:g} mm at a pitch of {grid.pitch:g} mm",
                expected=f"a wall that leaves room: less than {grid.pitch / 2 - grid.half_play:g} mm",
                cure=f"choose thinner stock than {sheet:g} mm",
            )
        return made

    @property
    def band(self) -> Band:
        """Where the finished walls' faces stand."""
        return stock_band(self.grid, self.wall.thickness)

    @property
    def floor_lost(self) -> float:
        """How far a wall's inner face stands inside of where the grid puts it, mm."""
        return max(0.0, self.band.inner - self.grid.wall_thickness)

    @property
    def notes(self) -> tuple[str, ...]:
        """What the builder should know about thicknesses."""
        notes = [f"bases: {self.base.words}", f"walls: {self.wall.words}"]
        if self.floor_lost > _UNSEEN_MM:
            notes.append(
                "floor lost: the stock is thicker than the wall, so each wall's inner face stands "
                f"{self.floor_lost:.2f} mm further in; a hall keeps {self.grid.hall_clear - 2 * self.floor_lost:.2f} mm"
            )
        elif self.wall.residual < -_UNSEEN_MM:
            notes.append(
                f"walls stand {-self.wall.residual:.2f} mm back from the base's edge; their inner faces stand where "
                "the grid puts them"
            )
        return tuple(notes)
