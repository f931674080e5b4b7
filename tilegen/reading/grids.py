"""The grid of a run: defaults, then the file's own tables, then a grid file, then the command line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from tilegen.connectors import Connectors
from tilegen.errors import InputError
from tilegen.grid import Door, DoorwaySize, Floor, Grid
from tilegen.reading.files import check, read_model
from tilegen.reading.models import Measures
from tilegen.reading.surfaces import laid_over
from tilegen.tiles.connector_checks import check_connectors


def merged(grid: Grid, measures: Measures) -> Grid:
    """A grid with the tables of a file laid over it."""
    floor: Floor = replace(grid.floor, **_given(measures.floor))
    doorway: DoorwaySize = replace(grid.doorway, **_given(measures.doorway))
    door: Door = replace(grid.door, **_given(measures.door))
    connectors: Connectors = replace(grid.connectors, **_given(measures.connectors))
    surface = laid_over(grid.surface, measures.surface)
    tables: dict[str, Any] = {"floor": floor, "doorway": doorway, "door": door, "connectors": connectors}
    return replace(grid, **_given(measures.grid), **tables, surface=surface)


def make_grid(
    measures: Measures,
    file: str,
    *,
    grid_file: Path | None = None,
    overrides: Mapping[str, Any] | None = None,
    last: Measures | None = None,
) -> Grid:
    """The grid a file is made on.

    overrides: measures by name in mm, from the command line; "connectors": their kind; "surface": a table of that kind.
    last: tables that go over all others.

    Raises:
        InputError: measures that no tile can be made with.
    """
    grid = merged(Grid(), measures)
    if grid_file is not None:
        grid = merged(grid, read_model(grid_file, Measures))
    given = dict(overrides or {})
    if "connectors" in given:
        given["connectors"] = replace(grid.connectors, kind=given["connectors"])
    words = check({"surface": given.pop("surface", {})}, Measures, "the command line")
    grid = replace(merged(grid, words), **given)
    if last is not None:
        grid = merged(grid, last)
    try:
        grid.check()
        check_connectors(grid)
    except InputError as error:
        raise error.located(file=file) from None
    return grid


def _given(table: BaseModel) -> dict[str, Any]:
    return {key: value for key, value in table.model_dump().items() if value is not None}
