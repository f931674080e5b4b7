"""`[[feature]]` and `[heights]`: from a file's tables to what plans and tiles are furnished with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tilegen.errors import InputError, Place
from tilegen.files.tables import FeatureTable, PlanFeatureTable, RoomHeightsTable
from tilegen.model.grid import Grid
from tilegen.plans.features import PlanFeature, RoomHeights
from tilegen.plans.furnishing import FreeFloor, Spot, blocks_on, check_apart, strips_and_posts
from tilegen.tiles.blocks import Extra, in_order
from tilegen.tiles.features import FEATURES
from tilegen.tiles.features.kind import Wanted
from tilegen.tiles.shape import Cell


def plan_features(tables: Sequence[PlanFeatureTable]) -> list[PlanFeature]:
    """The features of a plan."""
    found = []
    for number, table in enumerate(tables, 1):
        words = f"[[feature]] {number} ({table.kind}, cell [{table.cell[0]}, {table.cell[1]}])"
        place = Place(words, table="feature", number=number, cell=table.cell)
        found.append(PlanFeature(_wanted(table, place), table.cell, table.to or table.cell))
    return found


def room_heights(tables: Mapping[str, RoomHeightsTable]) -> dict[str, RoomHeights]:
    """The heights of a plan's rooms by letter."""
    return {
        letter: RoomHeights(t.wall, t.floor, Place(f"[heights.{letter}]", room=letter)) for letter, t in tables.items()
    }


def _wanted(table: FeatureTable, place: str) -> Wanted:
    given = table.model_dump(exclude_none=True, exclude={"kind", "at", "size", "cell", "to"})
    size = (table.size, table.size) if isinstance(table.size, float) else table.size
    # What is not so need not be taken.
    values = {key: value for key, value in given.items() if value is not False}
    return Wanted(FEATURES[table.kind], table.at, size, values, place)


def furnished_cell(cell: Cell, spaces: tuple[float, float], grid: Grid, tables: Sequence[FeatureTable]) -> Cell:
    """A profile's one cell with its features.

    Raises:
        InputError: with the number of the feature that can't be made.
    """
    if not tables:
        return cell
    whole = (0.0, 0.0, spaces[0] * grid.pitch, spaces[1] * grid.pitch)
    wall = grid.wall_thickness
    north, east, south, west = (wall * side.carries for side in cell.sides)
    clear = {(0, 0): (west, north, whole[2] - east, whole[3] - south)}
    standing = {(0, 0): strips_and_posts(whole, wall, [side.carries for side in cell.sides], cell.posts)}
    spots: list[tuple[Spot, Wanted]] = []
    for number, table in enumerate(tables, 1):
        wanted = _wanted(table, f"[[feature]] {number} ({table.kind})")
        try:
            here = blocks_on(wanted, FreeFloor(grid, whole, clear, standing, (whole[2], whole[3])))
            spots += [(spot, wanted) for _, spot in here]
        except InputError as error:
            raise error.located(place=wanted.place) from None
    check_apart(spots, standing[0, 0])
    return Cell(cell.sides, cell.posts, Extra(in_order(block for spot, _ in spots for block in spot.blocks)))
