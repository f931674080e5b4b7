"""The grid of a run: defaults, then the file's own tables, then a grid file, then the command line."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import BaseModel

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.reading.files import check, read_model
from tilegen.reading.models import Measures
from tilegen.reading.surfaces import laid_over
from tilegen.tiles.connector_checks import check_connectors

_PLAIN = Grid()


def merged(grid: Grid, measures: Measures) -> Grid:
    """A grid with the tables of a file laid over it; what a file does not say costs nothing."""
    said = {
        name: replace(getattr(grid, name), **_given(getattr(measures, name)))
        for name in ("floor", "doorway", "door", "connectors")
        if getattr(measures, name).model_fields_set
    }
    if measures.surface.model_fields_set:
        said["surface"] = laid_over(grid.surface, measures.surface)
    if measures.grid.model_fields_set:
        said |= _given(measures.grid)
    return replace(grid, **said) if said else grid


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
    grid = merged(_PLAIN, measures)
    if grid_file is not None:
        grid = merged(grid, read_model(grid_file, Measures))
    given = dict(overrides or {})
    if "connectors" in given:
        given["connectors"] = replace(grid.connectors, kind=given["connectors"])
    if "surface" in given:
        grid = merged(grid, check({"surface": given.pop("surface")}, Measures, "the command line"))
    if given:
        grid = replace(grid, **given)
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
