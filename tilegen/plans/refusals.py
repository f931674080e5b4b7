"""What more than one part of a plan is refused for, in one wording each."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from tilegen.errors import CellRef, InputError, RoomRef, Said, nearest
from tilegen.lengths import counted

Rooms = npt.NDArray[np.uint32]


def check_room(letter: str, rooms: Iterable[str], place: str) -> None:
    """Refuse the letter of a room that is not drawn.

    Raises:
        InputError: it offers the rooms that are.
    """
    known = sorted(rooms)
    if letter not in known:
        raise InputError(Said("the drawing has no {}", RoomRef(letter)), cure=nearest(letter, known), place=place)


def check_cell(cell: tuple[int, int], rooms: Rooms, place: str = "", name: str = "") -> None:
    """Refuse a cell (column, row from 1) outside a drawing. name: of the cell, where the place does not name it.

    Raises:
        InputError: it gives the drawing's size.
    """
    (column, row), (rows, columns) = cell, rooms.shape
    if not (1 <= column <= columns and 1 <= row <= rows):
        size = f"{counted(columns, 'column')} and {counted(rows, 'row')}"
        raise InputError(
            Said("{} is outside the drawing, which has {}", name or "this square", size),
            cure="Count columns from the left and rows from the top, both from 1",
            place=place,
        )


def check_in_room(cell: tuple[int, int], rooms: Rooms) -> None:
    """Refuse a cell outside a drawing, or of solid ground.

    Raises:
        InputError: as told.
    """
    check_cell(cell, rooms)
    if not rooms[cell[1] - 1, cell[0] - 1]:
        raise InputError(Said("{} is solid ground", CellRef(*cell)), cure="Choose a square of a room")


def check_any_room(rooms: Rooms) -> None:
    """Refuse a drawing of nothing but solid ground.

    Raises:
        InputError: as told.
    """
    if not rooms.any():
        raise InputError(
            "there is no room in the drawing", cure='Draw one with letters; "." is solid ground', place="drawing"
        )


def no_wall(place: str, cure: str) -> InputError:
    """The refusal of a way without a wall to go through. place: names the cell and the side."""
    return InputError("there is no wall on this side of the square", cure=cure, place=place)
