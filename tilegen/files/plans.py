"""Plan files: from their tables to a drawing that is worked out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError, Place
from tilegen.files.features import plan_features, room_heights
from tilegen.files.grids import make_grid
from tilegen.files.tables import PlanFile, ShapeTable, WayTable
from tilegen.files.toml import check, read_toml
from tilegen.lengths import counted, show_point
from tilegen.model.grid import Grid, Over
from tilegen.plans.drafting import draw
from tilegen.plans.drawing import Drawing
from tilegen.plans.features import extras_of, furnish
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.shapes import DrawnShape
from tilegen.plans.ways import ExtraWall, Way, wall_opening
from tilegen.tiles.openings import check_measures
from tilegen.tiles.plate import Opening

MOST_CELLS = 20_000_000


def read_plan(path: Path, over: Over = Over()) -> Drawing:  # noqa: B008 - it is frozen
    """A plan file, worked out. over: what goes over its own measures.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    return plan_of(read_toml(path), str(path), over)


def plan_of(data: dict[str, Any], file: str, over: Over = Over()) -> Drawing:  # noqa: B008 - it is frozen
    """A plan's tables, worked out; file: what messages call it.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    return drawing_of(check(data, PlanFile, file), file, over)


def drawing_of(model: PlanFile, file: str, over: Over = Over()) -> Drawing:  # noqa: B008 - it is frozen
    """A plan that was read, worked out; file: what messages call it.

    Raises:
        InputError: with the file, the place in it and the cure.
    """
    grid = make_grid(model, file, over)
    heights = room_heights(model.heights)
    try:
        drawing = draw(
            name=model.name,
            scale=model.scale,
            grid=grid,
            rooms=read_drawing(model.drawing),
            titles=model.rooms,
            ways=list(_ways(model.way)),
            walls=[ExtraWall(w.cell, w.side, _at("wall", i, w.cell, w.side)) for i, w in enumerate(model.wall)],
            shapes=drawn_shapes(model.shape),
            wall_ways=wall_ways(model.way, grid),
            heights=extras_of(heights),
        )
        return furnish(drawing, plan_features(model.feature), heights)
    except InputError as error:
        raise error.located(file=file) from None


def read_drawing(text: str) -> npt.NDArray[np.uint32]:
    """The code points of a drawing's cells, 0 for solid ground; blanks between cells are ignored.

    Raises:
        InputError: a ragged drawing, or a character that is neither a letter, a digit nor a full stop.
    """
    lines = [line for line in ("".join(raw.split()) for raw in text.splitlines()) if line]
    if not lines:
        raise InputError(
            "the drawing is empty", cure='Draw rooms with letters, and solid ground with "."', place="drawing"
        )
    width = len(lines[0])
    for number, line in enumerate(lines, 1):
        if len(line) != width:
            raise InputError(
                f"this row has {counted(len(line), 'cell')}, and the first one has {width}",
                cure='Make all rows equally long: fill up with "." for solid ground',
                place=f"drawing, row {number}",
            )
    if width * len(lines) > MOST_CELLS:
        raise InputError(
            f"a drawing of {width} x {len(lines)} cells is too large",
            cure=f"Use at most {MOST_CELLS:,} cells",
            place="drawing",
        )
    cells = np.array([np.frombuffer(line.encode("utf-32-le"), np.uint32) for line in lines])
    cells[cells == ord(".")] = 0
    _check_characters(cells)
    return cells


def drawn_shapes(tables: Sequence[ShapeTable]) -> list[DrawnShape]:
    """The shapes of a plan, each with its place in the file."""
    return [DrawnShape(t.room, t.outline, _place("shape", n, f'room "{t.room}"')) for n, t in enumerate(tables, 1)]


def wall_ways(tables: Sequence[WayTable], grid: Grid) -> list[WallWay]:
    """The ways of a plan that are given by a room and a point.

    Raises:
        InputError: measures that no opening has.
    """
    found = []
    for number, table in enumerate(tables, 1):
        if not isinstance(table.at, tuple):
            continue
        place = _place("way", number, f'room "{table.room}" at {show_point(*table.at)}')
        opening = _opening(table, grid, place)
        fixed = table.width is not None
        found.append(
            WallWay(
                table.room or "", table.at, table.kind, opening, fixed, None, place, leaf=table.leaf, style=table.style
            )
        )
    return found


def _opening(table: WayTable, grid: Grid, place: str) -> Opening:
    opening = wall_opening(table, grid.doorway.width, grid)
    try:
        check_measures(opening, grid)
    except InputError as error:
        raise error.located(place=place) from None
    return opening


def _ways(tables: list[WayTable]) -> Iterator[Way]:
    """The ways that are given by cell and side."""
    for i, w in enumerate(tables):
        if w.cell is not None and w.side is not None and not isinstance(w.at, tuple):
            place = _at("way", i, w.cell, w.side)
            yield Way(w.cell, w.side, w.kind, w.width, w.height, w.head, w.at, place, w.leaf, w.style)


def _check_characters(cells: npt.NDArray[np.uint32]) -> None:
    for code in np.unique(cells):
        character = chr(code)
        if code and not character.isalnum():
            row, column = np.argwhere(cells == code)[0]
            shown = f'"{character}"' if character.isprintable() else f"the character U+{int(code):04X}"
            raise InputError(
                f"{shown} is no room",
                cure='Use letters and digits for rooms, and "." for solid ground',
                place=f"drawing, row {row + 1}, column {column + 1}",
            )


def _at(table: str, index: int, cell: tuple[int, int], side: str) -> Place:
    return _place(table, index + 1, f"cell [{cell[0]}, {cell[1]}], {side}", cell)


def _place(table: str, number: int, words: str, cell: tuple[int, int] | None = None) -> Place:
    return Place(f"[[{table}]] {number} ({words})", table=table, number=number, cell=cell)
