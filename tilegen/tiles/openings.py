"""Openings in walls: their default size, and the checks that keep jambs standing."""

from __future__ import annotations

from tilegen.errors import InputError
from tilegen.grid import Grid, Head
from tilegen.lengths import show_length
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import CellShape

_ROUNDING = 1e-9


def make_opening(
    side: float,
    grid: Grid,
    *,
    width: float | None = None,
    height: float | None = None,
    head: Head | None = None,
    centre: float | None = None,
) -> Opening:
    """An opening in a side of `side` mm between its corners; what is not given comes from the grid.

    The default width shrinks to what leaves half a wall thickness of jamb on each side of the clear side
    (the side less a wall at each end). A default height at or over the wall's leaves the opening without a lintel.

    Raises:
        InputError: the opening asked for does not fit its side or its wall.
    """
    at = side / 2 if centre is None else centre
    room = 2 * min(at, side - at) - 3 * grid.wall_thickness
    made = Opening(
        at,
        min(grid.doorway.width, room) if width is None else width,
        min(grid.doorway.height, grid.wall_height) if height is None else height,
        head or grid.doorway.head,
    )
    _check(made, side, grid)
    return made


def _check(opening: Opening, side: float, grid: Grid) -> None:
    if not (0 < opening.centre < side):
        raise InputError(
            f"an opening centred {show_length(opening.centre)} along a side of {show_length(side)}",
            expected=f"between 0 and {show_length(side)}",
        )
    room = 2 * min(opening.centre, side - opening.centre) - 3 * grid.wall_thickness
    if not 0 < opening.width <= room + _ROUNDING:
        raise InputError(
            f"an opening of {show_length(opening.width)} in a side of {show_length(side)}",
            expected=f"more than 0 and at most {show_length(max(room, 0.0))}, so that jambs of half a wall stay",
            cure="make it narrower, move it to the middle, or use a way of kind open",
        )
    if not 0 < opening.height <= grid.wall_height + _ROUNDING:
        raise InputError(
            f"an opening {show_length(opening.height)} high in a wall of {show_length(grid.wall_height)}",
            expected="more than 0 and at most the wall's height",
        )
    if opening.head == "round" and opening.height < opening.width / 2:
        raise InputError(
            f"a round head {show_length(opening.height)} high over a width of {show_length(opening.width)}",
            expected="a height of at least half the width",
        )


def mirrored(opening: Opening, side: float) -> Opening:
    """The same opening seen from the tile on the other side of the wall, where the side is walked the other way."""
    if opening.centre == side - opening.centre:
        return opening
    return Opening(side - opening.centre, opening.width, opening.height, opening.head)


def has_thin_lintel(opening: Opening, wall_height: float, least: float) -> bool:
    """Whether the strip over an opening is there but lower than `least` mm."""
    return opening.height < wall_height and wall_height - opening.height < least


def openings_of(shape: CellShape) -> list[Opening]:
    """All openings in a shape's walls."""
    return [side.opening for _, cell in shape.cells for side in cell.sides if side.opening is not None]
