"""Where a wall's two faces stand, and which of two walls runs through a corner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from tilegen.grid import Grid

# Two walls at a corner: one pair runs through; each runs through at one end; both bevelled; a lap of one skin.
Corners = Literal["butt", "pinwheel", "mitre", "rabbet"]


@dataclass(frozen=True, slots=True)
class Band:
    """The strip a wall stands in: distances of its outer and inner face from the line it belongs to.

    outer, inner: where the line is the tile's edge. within_outer, within_inner: where it runs inside the tile.
    """

    outer: float
    inner: float
    within_outer: float
    within_inner: float

    @property
    def thickness(self) -> float:
        """Of the wall."""
        return self.inner - self.outer


def printed_band(grid: Grid) -> Band:
    """A printed wall: inner face where the grid puts it, the play taken off the outer face."""
    return Band(grid.half_play, grid.wall_thickness, 0.0, grid.wall_thickness)


def stock_band(grid: Grid, thickness: float) -> Band:
    """A wall cut from stock: the inner face rules and the outer face moves, unless that would overhang the footprint.

    thickness: of the finished wall (all its layers), in mm.
    """
    inner = max(grid.wall_thickness, grid.half_play + thickness)
    within = max(grid.wall_thickness, thickness)
    return Band(inner - thickness, inner, within - thickness, within)


@dataclass(frozen=True, slots=True)
class Joints:
    """How walls meet.

    longest: where walls cross or meet in a T the longest straight run passes (ties: north and south before east and
    west); else those to the north and south always do. skin: what a rabbet leaves of the wall that laps over, mm.
    """

    corners: Corners = "pinwheel"
    longest: bool = True
    skin: float = 0.0

    def square_end(self, faces: tuple[float, float], *, start: bool, first: bool) -> tuple[float, bool]:
        """Where a wall ends at a right-angled corner, unless both are mitred.

        faces: depths of the other wall's faces under its line, mm. start: whether the wall starts there, walking
        clockwise. first: whether it comes before the other one: the longer, or the more level.

        Returns: how deep under the other's line it ends, mm, and whether only its outer skin goes that far.
        """
        outer, inner = faces
        if start if self.corners == "pinwheel" else first:
            return outer, self.corners == "rabbet"
        return (outer + self.skin if self.corners == "rabbet" else inner), False


PRINTED_JOINTS = Joints(longest=False)
