"""The words of the commands that make single tiles, and of `schema`; imports nothing heavy, like cli.py."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from tilegen.options import (
    Accept,
    AsJson,
    Construct,
    CornerKind,
    Depth,
    Either,
    GridFile,
    Height,
    Jobs,
    Machine,
    Material,
    Nominal,
    Out,
    Paper,
    PaperSize,
    Pitch,
    PrinterName,
    Profiles,
    Quiet,
    Scheduler,
    ShowUnits,
    Unit,
    Units,
    Variants,
    Vary,
    Wall,
)

if TYPE_CHECKING:
    from tilegen.commands.common import Measures, Tools


def tile(
    profiles: Profiles,
    out: Out = Path("out"),
    material: Material = ["foam"],
    machine: Machine = "hand-knife",
    printer: PrinterName = "fdm-220",
    accept: Accept = None,
    construction: Construct = None,
    corners: CornerKind = None,
    nominal: Nominal = False,
    paper: PaperSize = Paper.a4,
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    vary: Vary = None,
    variants: Variants = None,
    scheduler: Scheduler = None,
    unit: Unit = None,
    jobs: Jobs = 1,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Single tiles, one-offs too: solid and sheet; --vary or --variants for batches.

    Exit 1: some variants failed, the others are made; 2: nothing can be made.
    """
    from tilegen.commands.common import Measures, Tools

    _make(
        profiles,
        out,
        Measures(grid, pitch, wall, height, depth),
        Tools(
            tuple(material),
            machine,
            printer,
            accept,
            paper.value,
            jobs,
            construction.value if construction else None,
            corners.value if corners else None,
            nominal,
        ),
        batch=(vary, variants, scheduler),
        unit=unit,
        halves=("solids", "sheets"),
        plans_too=False,
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


def solid(
    things: Either,
    out: Out = Path("out"),
    printer: PrinterName = "fdm-220",
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    vary: Vary = None,
    variants: Variants = None,
    scheduler: Scheduler = None,
    unit: Unit = None,
    jobs: Jobs = 1,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Only the printed half of a tile or a plan."""
    from tilegen.commands.common import Measures, Tools

    _make(
        things,
        out,
        Measures(grid, pitch, wall, height, depth),
        Tools(printer=printer, jobs=jobs),
        batch=(vary, variants, scheduler),
        unit=unit,
        halves=("solids",),
        plans_too=True,
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


def sheet(
    things: Either,
    out: Out = Path("out"),
    material: Material = ["foam"],
    machine: Machine = "hand-knife",
    accept: Accept = None,
    construction: Construct = None,
    corners: CornerKind = None,
    nominal: Nominal = False,
    paper: PaperSize = Paper.a4,
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    vary: Vary = None,
    variants: Variants = None,
    scheduler: Scheduler = None,
    unit: Unit = None,
    jobs: Jobs = 1,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Only the cut half of a tile or a plan."""
    from tilegen.commands.common import Measures, Tools

    _make(
        things,
        out,
        Measures(grid, pitch, wall, height, depth),
        Tools(
            tuple(material),
            machine,
            accept=accept,
            paper=paper.value,
            jobs=jobs,
            construction=construction.value if construction else None,
            corners=corners.value if corners else None,
            nominal=nominal,
        ),
        batch=(vary, variants, scheduler),
        unit=unit,
        halves=("sheets",),
        plans_too=True,
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


def schema(
    kind: Annotated[
        str, typer.Argument(metavar="KIND", help="plan, profile, grid, material, machine, printer or shelf.")
    ],
) -> None:
    """The JSON Schema (draft 2020-12) of a kind of file, for editors that complete and check it."""
    import json

    from tilegen.reading.schemas import schema_of

    typer.echo(json.dumps(schema_of(kind), indent=1))


def _make(
    things: list[str],
    out: Path,
    measures: Measures,
    tools: Tools,
    *,
    batch: tuple[list[str] | None, Path | None, str | None],
    unit: str | None,
    halves: tuple[str, ...],
    plans_too: bool,
    units: Literal["mm", "in"],
    as_json: bool,
    quiet: bool,
) -> None:
    """A batch if anything is varied, else each thing by itself."""
    vary, variants, scheduler = batch
    if vary or variants is not None:
        from tilegen.commands.batch import BatchWords, run_batch

        words = BatchWords(tuple(vary or ()), variants, scheduler, unit)
        run_batch(things, out, measures, tools, words, halves=halves, as_json=as_json, quiet=quiet)
        return
    if scheduler is not None:
        from tilegen.errors import InputError

        raise InputError("a scheduler and nothing to vary", expected="--vary or --variants", place="--scheduler")
    from tilegen.commands.single import run_single

    run_single(
        things,
        out,
        measures,
        tools,
        unit=unit,
        halves=halves,
        plans_too=plans_too,
        units=units,
        as_json=as_json,
        quiet=quiet,
    )
