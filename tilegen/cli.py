"""Words to calls, nothing else. Each command imports what it needs when it runs: help must be quick."""

from __future__ import annotations

import sys
from enum import Enum
from pathlib import Path
from typing import Annotated, Optional

import typer

app = typer.Typer(
    name="tilegen",
    help="From a drawn dungeon map, or a single tile, to what the printer and the knife need.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)


class Units(str, Enum):
    """What lengths are shown in."""

    mm = "mm"
    inch = "in"


class Paper(str, Enum):
    """What the true-size PDF is printed on."""

    a4 = "A4"
    letter = "Letter"


Plans = Annotated[list[str], typer.Argument(metavar="PLAN...", help="Plan files, or names of shipped plans.")]
Profiles = Annotated[list[str], typer.Argument(metavar="PROFILE...", help="Profile files, or shipped names.")]
Either = Annotated[
    list[str], typer.Argument(metavar="PROFILE|PLAN...", help="Profile or plan files, or names of shipped ones.")
]
Out = Annotated[
    Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where to write; each plan or tile gets a folder in it.")
]
AsJson = Annotated[bool, typer.Option("--json", help="One JSON document on standard output, nothing else there.")]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Say nothing unless something is wrong.")]
GridFile = Annotated[
    Optional[Path], typer.Option("--grid", metavar="FILE", help="A grid file whose tables go over the plan's own.")
]
Measure = Optional[str]
Pitch = Annotated[Measure, typer.Option("--pitch", metavar="LENGTH", help='One space, e.g. "1.25 in".')]
Wall = Annotated[Measure, typer.Option("--wall", metavar="LENGTH", help="Wall thickness.")]
Height = Annotated[Measure, typer.Option("--height", metavar="LENGTH", help="Wall height above the floor.")]
Depth = Annotated[Measure, typer.Option("--depth", metavar="LENGTH", help="Base depth, underside to floor.")]
Jobs = Annotated[int, typer.Option("--jobs", min=1, max=256, help="Processes to work with.")]
ShowUnits = Annotated[Units, typer.Option("--units", help="What lengths are shown in.")]
PaperSize = Annotated[Paper, typer.Option("--paper", help="Paper of the true-size PDF.")]
Material = Annotated[
    list[str],
    typer.Option(
        "--material",
        metavar="NAME",
        help="Stock to cut from: a shipped name (foam, card) or a file; may be given more than once.",
    ),
]
Machine = Annotated[
    str,
    typer.Option(
        "--machine",
        metavar="NAME",
        help="What cuts: a shipped name (hand-knife, drag-knife, laser, hot-wire) or a file.",
    ),
]
PrinterName = Annotated[str, typer.Option("--printer", metavar="NAME", help="What prints: a shipped name or a file.")]
Accept = Annotated[
    Measure,
    typer.Option(
        "--accept", metavar="CAUTION", help="Names the caution of a material and process that ask for consent."
    ),
]
Only = Annotated[
    Optional[list[str]],
    typer.Option("--only", metavar="TILE", help="Make just this tile, by name or id; may be given more than once."),
]


def _show_version(asked: bool) -> None:
    if asked:
        from tilegen import __version__

        typer.echo(f"tilegen {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Show the version and stop.", callback=_show_version, is_eager=True)
    ] = False,
) -> None:
    """Options that stand before a command."""


@app.command()
def start(folder: Annotated[Path, typer.Argument(help="A new folder to begin in.")], quiet: Quiet = False) -> None:
    """Make a folder to begin in: a small commented plan, a grid file, a first profile."""
    from tilegen.commands.start import run_start

    run_start(folder, quiet=quiet)


@app.command()
def build(
    plans: Plans,
    out: Out = Path("out"),
    only: Only = None,
    material: Material = ["foam"],
    machine: Machine = "hand-knife",
    printer: PrinterName = "fdm-220",
    accept: Accept = None,
    paper: PaperSize = Paper.a4,
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    jobs: Jobs = 1,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """The main job: count the kit, write every tile as a solid and as sheets, the layout, the lists."""
    from tilegen.commands.build import run_build
    from tilegen.commands.common import Measures, Tools

    run_build(
        plans,
        out,
        Measures(grid, pitch, wall, height, depth),
        Tools(tuple(material), machine, printer, accept, paper.value, jobs),
        only=tuple(only or ()),
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


@app.command()
def kit(
    plans: Plans,
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Which tiles a plan needs, how many of each, where each lies and how it is turned."""
    from tilegen.commands.common import Measures
    from tilegen.commands.kit import run_kit

    run_kit(plans, Measures(grid, pitch, wall, height, depth), units=units.value, as_json=as_json, quiet=quiet)


@app.command()
def tile(
    profiles: Profiles,
    out: Out = Path("out"),
    material: Material = ["foam"],
    machine: Machine = "hand-knife",
    printer: PrinterName = "fdm-220",
    accept: Accept = None,
    paper: PaperSize = Paper.a4,
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    jobs: Jobs = 1,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Single tiles, one-offs too: solid and sheet."""
    from tilegen.commands.common import Measures, Tools
    from tilegen.commands.single import run_single

    run_single(
        profiles,
        out,
        Measures(grid, pitch, wall, height, depth),
        Tools(tuple(material), machine, printer, accept, paper.value, jobs),
        halves=("solids", "sheets"),
        plans_too=False,
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


@app.command()
def solid(
    things: Either,
    out: Out = Path("out"),
    printer: PrinterName = "fdm-220",
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    jobs: Jobs = 1,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Only the printed half of a tile or a plan."""
    from tilegen.commands.common import Measures, Tools
    from tilegen.commands.single import run_single

    run_single(
        things,
        out,
        Measures(grid, pitch, wall, height, depth),
        Tools(printer=printer, jobs=jobs),
        halves=("solids",),
        plans_too=True,
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


@app.command()
def sheet(
    things: Either,
    out: Out = Path("out"),
    material: Material = ["foam"],
    machine: Machine = "hand-knife",
    accept: Accept = None,
    paper: PaperSize = Paper.a4,
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    jobs: Jobs = 1,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Only the cut half of a tile or a plan."""
    from tilegen.commands.common import Measures, Tools
    from tilegen.commands.single import run_single

    run_single(
        things,
        out,
        Measures(grid, pitch, wall, height, depth),
        Tools(tuple(material), machine, accept=accept, paper=paper.value, jobs=jobs),
        halves=("sheets",),
        plans_too=True,
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


@app.command()
def inspect(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="STL, 3MF, DXF or SVG files.")],
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Closed, manifold, volume, size and units of any STL, 3MF, DXF or SVG; exit 1 if something is not closed."""
    from tilegen.commands.inspect import run_inspect

    run_inspect(files, units=units.value, as_json=as_json, quiet=quiet)


def main() -> None:
    """Run the command line; errors that a user can mend end in a message and an exit code, without a traceback."""
    try:
        app()
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(1)
    except Exception as error:  # the last place where anything can be told to the user
        sys.exit(_told(error))


def _told(error: Exception) -> int:
    from tilegen.errors import TilegenError

    if isinstance(error, TilegenError):
        typer.echo(f"tilegen: {error}", err=True)
        return error.exit_code
    if isinstance(error, OSError):
        name = f"{error.filename}: " if error.filename else ""
        typer.echo(f"tilegen: {name}{error.strerror or error}", err=True)
        return 2
    if isinstance(error, MemoryError):
        typer.echo("tilegen: not enough memory for this job", err=True)
        return 2
    raise error
