"""Words to calls, nothing else. Each command imports what it needs when it runs: help must be quick."""

from __future__ import annotations

import logging
import signal
import sys
from pathlib import Path
from typing import Annotated, Optional

import typer

from tilegen.options import (
    Accept,
    AsJson,
    Construction,
    Corners,
    Depth,
    Either,
    GridFile,
    Height,
    Jobs,
    Machine,
    Material,
    Measure,
    Only,
    Out,
    Paper,
    PaperSize,
    Pitch,
    Plans,
    PrinterName,
    Profiles,
    Quiet,
    ShowUnits,
    Units,
    Wall,
)
from tilegen.telling import told

app = typer.Typer(
    name="tilegen",
    help="From a drawn dungeon map, or a single tile, to what the printer and the knife need.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode="rich",
)


def _show_version(asked: bool) -> None:
    if asked:
        from tilegen import __version__

        typer.echo(f"tilegen {__version__}")
        raise typer.Exit


InSight = Annotated[
    bool, typer.Option("--in-sight", help="Only what can be in sight at once: the smallest kit that always lays it.")
]
DoorsOpen = Annotated[bool, typer.Option("--doors-open", help="Sight goes through doorways and saddles.")]
Own = Annotated[
    Optional[Path],
    typer.Option("--own", metavar="FILE", help="A shelf file of what you own: make only what is missing."),
]

Construct = Annotated[
    Optional[Construction],
    typer.Option(
        "--construction", help="Layers and strips, folded card, or V-grooved board; the material's own if absent."
    ),
]
CornerKind = Annotated[
    Optional[Corners], typer.Option("--corners", help="How walls meet at a corner; the material's own if absent.")
]
Nominal = Annotated[
    bool, typer.Option("--nominal", help="Leave the kerf out of DXF and SVG: the machine's program allows for it.")
]


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Show the version and stop.", callback=_show_version, is_eager=True)
    ] = False,
) -> None:
    """Options that stand before a command."""


@app.command()
def start(
    folder: Annotated[Path, typer.Argument(help="A new folder to begin in.")],
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Make a folder to begin in: a small commented plan, a grid file, a first profile."""
    from tilegen.commands.start import run_start

    run_start(folder, as_json=as_json, quiet=quiet)


@app.command()
def build(
    plans: Plans,
    out: Out = Path("out"),
    only: Only = None,
    own: Own = None,
    in_sight: InSight = False,
    doors_open: DoorsOpen = False,
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
    jobs: Jobs = 1,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """The main job: count the kit, write every tile as a solid and as sheets, the layout, the lists."""
    from tilegen.commands.build import Part, run_build
    from tilegen.commands.common import Measures, Tools

    run_build(
        plans,
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
        part=Part(tuple(only or ()), own, in_sight=in_sight, doors_open=doors_open),
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


@app.command()
def kit(
    plans: Plans,
    in_sight: InSight = False,
    doors_open: DoorsOpen = False,
    own: Own = None,
    together: Annotated[
        bool, typer.Option("--together", help="Several plans: one kit that lays all of them at once, not any one.")
    ] = False,
    by_room: Annotated[
        bool, typer.Option("--by-room", help="A lay-out list: rooms in the order the party meets them.")
    ] = False,
    way_in: Annotated[
        Measure, typer.Option("--way-in", metavar="COLUMN,ROW,SIDE", help="Where the party comes in, for --by-room.")
    ] = None,
    sight_from: Annotated[
        Measure, typer.Option("--from", metavar="COLUMN,ROW", help="Draw what is in sight from this cell.")
    ] = None,
    out: Out = Path("out"),
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Which tiles, how many, where and how turned; several plans: one kit that lays any one of them."""
    from tilegen.commands.common import Measures
    from tilegen.commands.kit import KitWords, run_kit

    run_kit(
        plans,
        Measures(grid, pitch, wall, height, depth),
        KitWords(in_sight, doors_open, own, together, by_room, way_in, sight_from, out),
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


@app.command()
def fit(
    plan: Annotated[
        Optional[str], typer.Argument(metavar="[PLAN]", help="A plan file, or a shipped plan's name.")
    ] = None,
    figure: Annotated[
        Optional[list[str]],
        typer.Option(
            "--figure", metavar="BASE", help='A base, e.g. "1 in", "30 mm" or large; may be given more than once.'
        ),
    ] = None,
    want: Annotated[
        Optional[list[str]],
        typer.Option("--want", metavar="BASE", help="Find a grid for this base; may be given more than once."),
    ] = None,
    largest_tile: Annotated[
        Measure, typer.Option("--largest-tile", metavar="LENGTH", help="With --want: no tile larger than this.")
    ] = None,
    tile_error: Annotated[
        str, typer.Option("--tile-error", metavar="LENGTH", help="Size error of one tile.")
    ] = "0.3 mm",
    reference: Annotated[
        Optional[tuple[str, str]],
        typer.Option("--reference", metavar="SPACE WALL", help="The conventional grid to compare with (1 in, 0.5 in)."),
    ] = None,
    out: Annotated[
        Optional[Path], typer.Option("--out", "-o", metavar="FOLDER", help="Draw the numbers into this folder too.")
    ] = None,
    grid: GridFile = None,
    pitch: Pitch = None,
    wall: Wall = None,
    height: Height = None,
    depth: Depth = None,
    units: ShowUnits = Units.mm,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Which figures stand where; the four ways to place a wall; --want finds a grid. Exit 1: a figure does not fit."""
    from tilegen.commands.common import Measures
    from tilegen.commands.fit import Asked, run_fit

    run_fit(
        plan,
        Measures(grid, pitch, wall, height, depth),
        Asked(tuple(figure or ()), tuple(want or ()), largest_tile, tile_error, reference),
        out=out,
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


@app.command()
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
    construction: Construct = None,
    corners: CornerKind = None,
    nominal: Nominal = False,
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
        halves=("sheets",),
        plans_too=True,
        units=units.value,
        as_json=as_json,
        quiet=quiet,
    )


@app.command()
def gauge(
    material: Annotated[str, typer.Option("--material", metavar="NAME", help="Stock to test.")] = "foam",
    machine: Machine = "hand-knife",
    record: Annotated[
        Optional[list[str]],
        typer.Option(
            "--record", metavar="NAME=READING", help="Keep a reading, e.g. comb-x=98.5; may be given more than once."
        ),
    ] = None,
    out: Out = Path("out"),
    accept: Accept = None,
    paper: PaperSize = Paper.a4,
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Test pieces that tell kerf, slots, scale and folds of your own machine; --record keeps the readings."""
    from tilegen.commands.common import Tools
    from tilegen.commands.gauge import run_gauge

    run_gauge(
        Tools((material,), machine, accept=accept, paper=paper.value),
        tuple(record or ()),
        out,
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


_INTERRUPTED = 130


def main() -> None:
    """Run the command line; errors that a user can mend end in a message and an exit code, without a traceback."""
    if hasattr(signal, "SIGPIPE"):
        # Output into `head`: end as other commands do, not with an answer's exit code.
        signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    # The DXF library logs that it found no folder to cache fonts in: nothing that a user of sheets needs to know.
    logging.getLogger("ezdxf").addHandler(logging.NullHandler())
    try:
        code = app(prog_name="tilegen", standalone_mode=False)
    except (KeyboardInterrupt, typer.Abort):
        code = _INTERRUPTED
    except Exception as error:  # the last place where anything can be told to the user
        sys.exit(told(error))
    if code == _INTERRUPTED:
        typer.echo("tilegen: stopped; what was there before is there still", err=True)
    sys.exit(code if isinstance(code, int) else 0)
