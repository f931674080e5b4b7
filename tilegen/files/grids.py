"""The grid of a run: defaults, then the file's own tables, then a grid file, then the command line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from tilegen.errors import InputError
from tilegen.files.styles import read_style
from tilegen.files.toml import check, read_model
from tilegen.model.grid import Grid, Over, option_for
from tilegen.model.surface import Surface
from tilegen.model.tables import Measures, SurfaceTable, given
from tilegen.tiles.seats import check_connectors

_PLAIN, _NOTHING = Grid(), Over()


def merged(grid: Grid, measures: Measures, folder: Path = Path()) -> Grid:
    """A grid with the tables of a file in a folder laid over it; what a file does not say costs nothing."""
    said = {
        name: replace(getattr(grid, name), **given(table))
        for name in ("floor", "doorway", "door", "connectors", "surface", "set")
        if (table := getattr(measures, name)).model_fields_set
    }
    if "surface" in said:
        said["surface"] = _carved(said["surface"], measures.surface, folder)
    if measures.grid.model_fields_set:
        said |= given(measures.grid)
    return replace(grid, **said) if said else grid


def _carved(surface: Surface, table: SurfaceTable, folder: Path) -> Surface:
    """With the figures of the styles that a table names; those of the plan under no letter, where rooms have others."""
    stone = surface.stone if table.style is None else read_style(table.style, folder)
    rooms = tuple(pair for pair in surface.stones if pair[0])
    if table.styles:
        rooms = tuple((letter, read_style(word, folder)) for letter, word in surface.styles)
    return replace(surface, stone=stone, stones=(*rooms, ("", stone)) if surface.styles else rooms)


def make_grid(measures: Measures, file: str, over: Over = _NOTHING, last: Measures | None = None) -> Grid:
    """The grid a file is made on. last: tables that go over all others.

    Raises:
        InputError: measures that no tile can be made with.
    """
    grid = merged(_PLAIN, measures, Path(file).parent)
    stages = [(grid, {"file": file})]
    if over.file is not None:
        grid = merged(grid, read_model(over.file, Measures), over.file.parent)
        stages.append((grid, {"file": str(over.file)}))
    if over.tables:
        before, grid = grid, merged(grid, _checked(over.tables))
        stages.append((grid, {"place": ", ".join(_to_blame(before, over)) if _fault(grid) else ""}))
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
        raise error.moved(place=where["place"]) from None


def _checked(tables: Mapping[str, Mapping[str, Any]], but: tuple[str, str] = ("", "")) -> Measures:
    """Tables as measures, one key left out."""
    left = {name: {key: keys[key] for key in keys if (name, key) != but} for name, keys in tables.items()}
    return check(left, Measures, "")


def _to_blame(before: Grid, over: Over) -> list[str]:
    """The options without any of which a fault would not be there; all of them where no single one mends it."""
    keys = [(table, key) for table, given in over.tables.items() for key in given]
    found = [one for one in keys if _fault(merged(before, _checked(over.tables, but=one))) is None]
    return [option_for(*one) for one in found or keys]


def _fault(grid: Grid) -> InputError | None:
    try:
        grid.check()
        check_connectors(grid)
    except InputError as error:
        return error
    return None
