"""Words of the commands beside the main job: test pieces, a look at files, the local page, schemas."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Optional

import typer

from tilegen.groups import grouped
from tilegen.options import (
    Accept,
    AsJson,
    GaugeMachine,
    GaugeMagnet,
    GaugeMaterial,
    GaugePrinter,
    Out,
    Paper,
    PaperSize,
    Quiet,
    Record,
    ShowUnits,
    Units,
)

_MAGNET = "4 mm"


@grouped
def gauge(
    material: GaugeMaterial = None,
    machine: GaugeMachine = None,
    printer: GaugePrinter = None,
    magnet: GaugeMagnet = _MAGNET,
    record: Record = None,
    out: Out = Path("out"),
    accept: Accept = None,
    paper: PaperSize = Paper.a4,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Test pieces that tell kerf or clearances, slots and scale of your own machine; --record keeps the readings."""
    from tilegen.making.workshop import Tools

    if printer is not None:
        from tilegen.commands.gauge_print import check_alone, run_print_gauge

        check_alone(material, machine)
        run_print_gauge(printer, record or (), out, magnet=magnet, as_json=as_json, quiet=quiet)
        return
    from tilegen.commands.gauge import check_no_magnet, run_gauge

    check_no_magnet(magnet, _MAGNET)
    defaults = Tools()
    stock = defaults.materials if material is None else (material,)
    tools = Tools(stock, defaults.machine if machine is None else machine, accept=accept, paper=paper.value)
    run_gauge(tools, record or (), out, as_json=as_json, quiet=quiet)


@grouped
def inspect(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="STL, OBJ, 3MF, DXF or SVG files.")],
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Closed, manifold, volume, size and units of any STL, OBJ, 3MF, DXF or SVG; exit 1 if something is not closed."""
    from tilegen.commands.inspect import run_inspect

    run_inspect(files, units=units.value, as_json=as_json, quiet=quiet)


@grouped
def desk(
    plan: Annotated[
        Optional[Path], typer.Argument(metavar="[PLAN]", help="The plan file to edit; without one, an empty sheet.")
    ] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Where it listens; 0: any free port.")] = 8317,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page.")] = True,
    quiet: Quiet = False,
) -> None:
    """The local page: draw a plan, see fit and kit at once, take the files (needs the extra desk)."""
    from tilegen.commands.desk import run_desk

    run_desk(port, plan=plan, browser=browser, quiet=quiet)


def schema(
    kind: Annotated[
        str, typer.Argument(metavar="KIND", help="plan, profile, grid, material, machine, printer or shelf.")
    ],
) -> None:
    """The JSON Schema (draft 2020-12) of a kind of file, for editors that complete and check it."""
    import json

    from tilegen.reading.schemas import schema_of

    typer.echo(json.dumps(schema_of(kind), indent=1))
