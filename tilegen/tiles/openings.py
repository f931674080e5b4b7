"""Openings in walls: their default size, and the checks that keep jambs standing."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

from tilegen.errors import InputError, KeyRef, Said
from tilegen.lengths import rounded_down, rounded_up, show_length, show_number
from tilegen.model.grid import LEAVES, Grid, Head, Leaf, Style
from tilegen.tiles.heads import rise
from tilegen.tiles.leaves.kind import check_leaf, leaf_of
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import Cell, Side

_ROUNDING = 1e-9
Ends = tuple[float, float]


def make_opening(
    side: float,
    grid: Grid,
    *,
    width: float | None = None,
    height: float | None = None,
    head: Head | None = None,
    centre: float | None = None,
    ends: Ends = (0.0, 0.0),
    leaf: Leaf = "none",
    style: Style | None = None,
) -> Opening:
    """An opening in a side of `side` mm; what is not given comes from the grid.

    ends: what stands at the side's start and end and takes from its clear part. The default width shrinks to what
    leaves half a wall thickness of jamb on each side of the clear part. A default height at or over the wall's
    leaves the opening without a lintel; a lift-out leaf always does, since it stands as high as the wall.

    Raises:
        InputError: the opening asked for does not fit its side or its wall, or its leaf does not.
        ValueError: a word that no head, leaf or style has.
    """
    for word, known in ((head, get_args(Head)), (leaf, get_args(Leaf)), (style, get_args(Style))):
        if word is not None and word not in known:
            raise ValueError(f"{word!r} is none of {', '.join(known)}")
    if leaf_of(leaf).of_wall:
        height, head = grid.wall_height, head or "flat"
    made = Opening(
        side / 2 if centre is None else centre,
        usual_width(grid, leaf) if width is None else width,
        min(grid.doorway.height, grid.wall_height) if height is None else height,
        head or grid.doorway.head,
        leaf,
        (style or grid.door.style) if leaf in LEAVES else "planks",
    )
    if width is None:
        made = shrunk(made, side, grid, ends)
    check_opening(made, side, grid, ends)
    return made


def usual_width(grid: Grid, leaf: Leaf) -> float:
    """How wide an opening is that says nothing, mm: the grid's width, and what an open leaf takes of it."""
    return grid.doorway.width + leaf_of(leaf).room(grid)


def room_for(centre: float, side: float, grid: Grid, ends: Ends) -> float:
    """The widest opening that leaves half a wall thickness of jamb on each side of the clear part, mm."""
    return 2 * min(centre - ends[0], side - ends[1] - centre) - grid.wall_thickness


def shrunk(opening: Opening, side: float, grid: Grid, ends: Ends) -> Opening:
    """An opening made narrower, if it must be, so that its jambs stand; as it is where there is no room at all."""
    room = room_for(opening.centre, side, grid, ends)
    return opening if opening.width <= room + _ROUNDING or room <= _ROUNDING else replace(opening, width=room)


def ends_of(cell: Cell, side: int, grid: Grid) -> Ends:
    """What the walls beside one side of a cell take from its start and end, walking clockwise."""
    before, after = cell.sides[(side + 3) % 4], cell.sides[(side + 1) % 4]
    return tuple(grid.wall_thickness if beside.carries else 0.0 for beside in (before, after))  # type: ignore[return-value]


def fit_openings(cell: Cell, lengths: tuple[float, float], grid: Grid) -> Cell:
    """A cell whose openings leave their jambs; lengths: of its north and south, and of its east and west sides."""
    if not any(side.opening for side in cell.sides):
        return cell
    sides = tuple(
        Side(side.kind, shrunk(side.opening, lengths[k % 2], grid, ends_of(cell, k, grid))) if side.opening else side
        for k, side in enumerate(cell.sides)
    )
    return Cell(sides, cell.posts, cell.extra)  # type: ignore[arg-type]


def check_opening(opening: Opening, side: float, grid: Grid, ends: Ends) -> None:
    """Refuse an opening that does not fit.

    Raises:
        InputError: it lies off its side, leaves too little jamb, is too high, or its round head does not fit.
    """
    if not (0 < opening.centre < side):
        raise InputError(
            f"the middle of the opening is not on its wall, which is {show_length(side)} long",
            cure=f"Use a number of spaces from 0 to {show_number(rounded_down(side / grid.pitch))} for at",
        )
    check_measures(opening, grid)
    room = room_for(opening.centre, side, grid, ends)
    if opening.width > room + _ROUNDING:
        raise InputError(
            f"the opening is {show_length(opening.width)} wide, but the wall has room for only "
            f"{show_length(rounded_down(max(room, 0.0)))} there",
            cure="Make it narrower, or move it to the middle of the wall",
        )
    check_leaf(opening, grid, room / 2 + grid.wall_thickness / 2 - opening.width / 2)


def check_measures(opening: Opening, grid: Grid) -> None:
    """Refuse an opening that fits in no wall.

    Raises:
        InputError: it has no width or height, is too high, or the arch of its head does not fit.
    """
    for size, name in ((opening.width, "wide"), (opening.height, "high")):
        if size <= 0:
            raise InputError(f"an opening can't be {show_length(size)} {name}", cure="Make it more than 0")
    if opening.height > grid.wall_height + _ROUNDING:
        raise InputError(
            f"the opening is {show_length(opening.height)} high, but the wall only {show_length(grid.wall_height)}",
            cure="Make it lower, or the wall higher",
        )
    if opening.spring < 0:
        raise InputError(
            f"a {opening.head} head {show_length(opening.width)} wide needs an opening at least "
            f"{show_length(rounded_up(rise(opening.arcs)))} high, and this one is {show_length(opening.height)}",
            cure=Said("Make it higher or narrower, or use {}", KeyRef("head", "flat")),
        )


def mirrored(opening: Opening, side: float) -> Opening:
    """The same opening seen from the tile on the other side of the wall, where the side is walked the other way."""
    if opening.centre == side - opening.centre:
        return opening
    return replace(opening, centre=side - opening.centre)


def has_thin_lintel(opening: Opening, wall_height: float, least: float) -> bool:
    """Whether the strip over an opening is there but lower than `least` mm."""
    return _ROUNDING < wall_height - opening.height < least
