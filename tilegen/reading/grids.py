"""The grid of a run: defaults, then the file's own tables, then a grid file, then the command line."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
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
_OPTIONS = {"pitch": "--pitch", "wall_thickness": "--wall", "wall_height": "--height", "base_depth": "--depth"}


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
    stages = [(grid, {"file": file})]
    if grid_file is not None:
        grid = merged(grid, read_model(grid_file, Measures))
        stages.append((grid, {"file": str(grid_file)}))
    given = dict(overrides or {})
    if "connectors" in given:
        given["connectors"] = replace(grid.connectors, kind=given["connectors"])
    if "surface" in given:
        grid = merged(grid, check({"surface": given.pop("surface")}, Measures, "the command line"))
    if given:
        grid = replace(grid, **given)
        stages.append((grid, {"place": _options(given)}))
    if last is not None:
        grid = merged(grid, last)
    stages.append((grid, {"file": file}))
    _check(grid, stages)
    return grid


def _check(grid: Grid, stages: Sequence[tuple[Grid, Mapping[str, str]]]) -> None:
    """Refuse a grid that no tile can be made with; the first of its sources that makes it so is blamed."""
    if _fault(grid) is None:
        return
    table = ""
    for stage, where in stages:
        if "file" in where and stage.connectors != _PLAIN.connectors:
            table = where["file"]
        error = _fault(stage)
        if error is None:
            continue
        if "file" in where:
            raise error.located(file=where["file"]) from None
        # The command line only says which connectors; a file with a table of them gave their measures.
        if table and error.place.startswith("[connectors]"):
            raise error.located(file=table) from None
        raise InputError(error.found, expected=error.expected, cure=error.cure, place=where["place"]) from None


def _fault(grid: Grid) -> InputError | None:
    try:
        grid.check()
        check_connectors(grid)
    except InputError as error:
        return error
    return None


def _options(given: Iterable[str]) -> str:
    """The options of the command line that give these measures."""
    return ", ".join(_OPTIONS.get(name, f"--{name}") for name in given)


def _given(table: BaseModel) -> dict[str, Any]:
    return {key: value for key, value in table.model_dump().items() if value is not None}
