"""Words to calls, nothing else. Each command imports what it needs when it runs: help must be quick."""

from __future__ import annotations

import logging
import signal
import sys
from dataclasses import asdict
from pathlib import Path
from typing import Annotated, Optional

import typer

from tilegen.cli.options import (
    Either,
    FitWords,
    GaugeWords,
    GridWords,
    KitWords,
    Notes,
    Out,
    Plans,
    Profiles,
    Quietly,
    SheetWords,
    Talk,
    VaryWords,
    grouped,
)
from tilegen.cli.telling import never_fail, say, told
from tilegen.making.asked import Collecting, Covering, Cutting, PlanPart, Printing, Tools, Work

app = typer.Typer(
    name="tilegen",
    help="From a drawn dungeon map, or a single tile, to what the printer and the knife need.",
    no_args_is_help=True,
    add_completion=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _show_version(asked: bool) -> None:
    if asked:
        from tilegen.version import __version__

        say(f"tilegen {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", help="Show the version and stop.", callback=_show_version, is_eager=True)
    ] = False,
) -> None:
    """Options that stand before a command."""


@app.command()
@grouped
def start(
    folder: Annotated[Path, typer.Argument(help="A new folder to begin in.")],
    talk: Quietly,
) -> None:
    """Make a folder to begin in: a small commented plan, a grid file, a first profile."""
    from tilegen.cli.start import run_start

    run_start(folder, **asdict(talk))


@app.command()
@grouped
def build(
    plans: Plans,
    *,
    out: Out = Path("out"),
    part: PlanPart,
    cover: Covering,
    cut: Cutting,
    printing: Printing,
    grid: GridWords,
    work: Work,
    talk: Notes,
) -> None:
    """The main job: count the kit, write every tile as a solid and as sheets, the layout, the lists.

    With a limit (--most-...), per plan: as many rooms as keep within it, in the order the party meets them.
    """
    from tilegen.cli.build import run_build

    run_build(plans, out, grid.read(), _tools(cut, printing, work), part=part, cover=cover, **talk.told)


@app.command()
@grouped
def kit(
    plans: Plans,
    *,
    words: KitWords,
    out: Out = Path("out"),
    cover: Covering,
    grid: GridWords,
    talk: Notes,
) -> None:
    """Which tiles, how many, where and how turned; several plans: one kit that lays any one of them."""
    from tilegen.cli.kit import run_kit

    run_kit(plans, grid.read(), words, cover, out, **talk.told)


@app.command()
@grouped
def collection(
    plans: Annotated[
        list[str],
        typer.Argument(
            metavar="PLAN...",
            help="Plan files, folders of them, or shipped plans; PLAN=3 gives one the weight of three.",
        ),
    ],
    *,
    asked: Collecting,
    out: Annotated[
        Optional[Path], typer.Option("--out", "-o", metavar="FOLDER", help="Make the new tiles into this folder too.")
    ] = None,
    cut: Cutting,
    printing: Printing,
    grid: GridWords,
    work: Work,
    talk: Notes,
) -> None:
    """Which maps you can lay; the fewest new tiles for more of them, or the most maps for what you can spend.

    Exit 1: so many maps take more than you allow.
    """
    from tilegen.cli.collection import run_collection

    run_collection(plans, grid.read(), asked, _tools(cut, printing, work), out, **talk.told)


@app.command()
@grouped
def fit(
    *,
    plan: Annotated[
        Optional[str], typer.Argument(metavar="[PLAN]", help="A plan file, or a shipped plan's name.")
    ] = None,
    asked: FitWords,
    out: Annotated[
        Optional[Path], typer.Option("--out", "-o", metavar="FOLDER", help="Draw the numbers into this folder too.")
    ] = None,
    grid: GridWords,
    talk: Notes,
) -> None:
    """Which figures stand where; the four ways to place a wall; --want finds a grid. Exit 1: a figure does not fit."""
    from tilegen.cli.fit import run_fit

    run_fit(plan, grid.read(), asked, out=out, **talk.told)


@app.command()
@grouped
def tile(
    profiles: Profiles,
    *,
    out: Out = Path("out"),
    vary: VaryWords,
    cut: Cutting,
    printing: Printing,
    grid: GridWords,
    work: Work,
    talk: Notes,
) -> None:
    """Single tiles, one-offs too: solid and sheet; --vary or --variants for batches.

    Exit 1: some variants failed, the others are made; 2: nothing can be made.
    """
    _make(profiles, out, grid, _tools(cut, printing, work), vary, talk, halves=("solids", "sheets"))


@app.command()
@grouped
def solid(
    things: Either,
    *,
    out: Out = Path("out"),
    vary: VaryWords,
    printing: Printing,
    grid: GridWords,
    work: Work,
    talk: Notes,
) -> None:
    """Only the printed half of a tile or a plan."""
    _make(things, out, grid, _tools(printing, work), vary, talk, halves=("solids",))


@app.command()
@grouped
def sheet(
    things: Either,
    *,
    out: Out = Path("out"),
    vary: VaryWords,
    cut: Cutting,
    grid: GridWords,
    work: Work,
    talk: Notes,
) -> None:
    """Only the cut half of a tile or a plan."""
    _make(things, out, grid, _tools(cut, work), vary, talk, halves=("sheets",))


def _tools(*groups: Cutting | Printing | Work) -> Tools:
    return Tools(**{name: value for group in groups for name, value in vars(group).items()})


def _make(
    things: list[str],
    out: Path,
    grid: GridWords,
    tools: Tools,
    vary: VaryWords,
    talk: Notes,
    *,
    halves: tuple[str, ...],
) -> None:
    """A batch if anything is varied, else each thing by itself."""
    if vary.asked:
        from tilegen.cli.batch import run_batch

        run_batch(things, out, grid.read(), tools, vary, halves=halves, as_json=talk.as_json, quiet=talk.quiet)
        return
    if vary.scheduler is not None:
        from tilegen.errors import InputError

        raise InputError(
            "a cluster makes variants, and nothing is varied",
            cure="Add --vary or --variants, or leave out --scheduler",
            place="--scheduler",
        )
    from tilegen.cli.tile import run_single

    run_single(things, out, grid.read(), tools, unit=vary.unit, halves=halves, **talk.told)


@app.command()
@grouped
def gauge(
    *,
    words: GaugeWords,
    out: Out = Path("out"),
    sheet: SheetWords,
    talk: Quietly,
) -> None:
    """Test pieces that show kerf or clearances, slots and scale of your own machine; --record keeps the readings."""
    if words.printer is not None:
        from tilegen.cli.gauge import check_alone, run_print_gauge

        check_alone(words.material, words.machine)
        run_print_gauge(words.printer, words.record, out, magnet=words.magnet, **asdict(talk))
        return
    from tilegen.cli.gauge import check_no_magnet, run_gauge

    check_no_magnet(words.magnet, GaugeWords.magnet)
    stock = Tools.materials if words.material is None else (words.material,)
    machine = Tools.machine if words.machine is None else words.machine
    tools = Tools(materials=stock, machine=machine, accept=sheet.accept, paper=sheet.paper)
    run_gauge(tools, words.record, out, **asdict(talk))


@app.command()
@grouped
def inspect(
    files: Annotated[list[Path], typer.Argument(metavar="FILE...", help="STL, OBJ, 3MF, DXF or SVG files.")],
    talk: Talk,
) -> None:
    """Closed, manifold, volume, size and units of any STL, OBJ, 3MF, DXF or SVG; exit 1 if something is not closed."""
    from tilegen.cli.inspect import run_inspect

    run_inspect(files, **talk.told)


@app.command()
def desk(
    plan: Annotated[
        Optional[Path], typer.Argument(metavar="[PLAN]", help="The plan file to edit; without one, an empty sheet.")
    ] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Where it listens; 0: any free port.")] = 8317,
    browser: Annotated[bool, typer.Option("--browser/--no-browser", help="Open the page.")] = True,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Say nothing unless something is wrong.")] = False,
) -> None:
    """The local page: draw a plan, see fit and kit at once, take the files (needs the extra desk)."""
    from tilegen.cli.desk import run_desk

    run_desk(port, plan=plan, browser=browser, quiet=quiet)


@app.command()
def schema(
    kind: Annotated[
        str, typer.Argument(metavar="KIND", help="plan, profile, grid, material, machine, printer, shelf or style.")
    ],
) -> None:
    """The JSON Schema (draft 2020-12) of a kind of file, for editors that complete and check it."""
    from tilegen.cli.common import print_json
    from tilegen.files.schemas import schema_of

    print_json(schema_of(kind))


_INTERRUPTED = 130


def main() -> None:
    """Run the command line; errors that a user can mend end in a message and an exit code, without a traceback."""
    never_fail()
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
        say("tilegen: stopped; what was there before is there still", err=True)
    sys.exit(code if isinstance(code, int) else 0)
