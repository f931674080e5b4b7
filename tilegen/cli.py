"""Words to calls, nothing else. Each command imports what it needs when it runs: help must be quick."""

from __future__ import annotations

import logging
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Optional

import typer

from tilegen.cli_aids import desk, gauge, inspect, schema
from tilegen.groups import CoverWords, CutWords, GridWords, PrintWords, Talk, VaryWords, WorkWords, grouped, tools_of
from tilegen.options import (
    AsJson,
    DoorsOpen,
    Either,
    InSight,
    Measure,
    Only,
    Out,
    Own,
    Plans,
    Profiles,
    Quiet,
)
from tilegen.telling import never_fail, say, told

if TYPE_CHECKING:
    from tilegen.making.workshop import Tools

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
    as_json: AsJson = False,
    quiet: Quiet = False,
) -> None:
    """Make a folder to begin in: a small commented plan, a grid file, a first profile."""
    from tilegen.commands.start import run_start

    run_start(folder, as_json=as_json, quiet=quiet)


@app.command()
@grouped
def build(
    plans: Plans,
    *,
    out: Out = Path("out"),
    only: Only = None,
    own: Own = None,
    in_sight: InSight = False,
    doors_open: DoorsOpen = False,
    cover: CoverWords,
    cut: CutWords,
    printing: PrintWords,
    grid: GridWords,
    work: WorkWords,
) -> None:
    """The main job: count the kit, write every tile as a solid and as sheets, the layout, the lists."""
    from tilegen.commands.build import run_build
    from tilegen.making.plan import Part

    part = Part(tuple(only or ()), own, in_sight=in_sight, doors_open=doors_open, cover=cover.read(own))
    run_build(plans, out, grid.read(), tools_of(cut, printing, work.jobs), part=part, **work.talk.told)


@app.command()
@grouped
def kit(
    plans: Plans,
    *,
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
    cover: CoverWords,
    grid: GridWords,
    talk: Talk,
) -> None:
    """Which tiles, how many, where and how turned; several plans: one kit that lays any one of them."""
    from tilegen.commands.kit import KitWords, run_kit

    run_kit(
        plans,
        grid.read(),
        KitWords(in_sight, doors_open, own, together, by_room, way_in, sight_from, out, cover.read(own)),
        **talk.told,
    )


@app.command()
@grouped
def fit(
    *,
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
    grid: GridWords,
    talk: Talk,
) -> None:
    """Which figures stand where; the four ways to place a wall; --want finds a grid. Exit 1: a figure does not fit."""
    from tilegen.commands.fit import run_fit
    from tilegen.commands.fit_parts import Asked

    run_fit(
        plan,
        grid.read(),
        Asked(tuple(figure or ()), tuple(want or ()), largest_tile, tile_error, reference),
        out=out,
        **talk.told,
    )


@app.command()
@grouped
def tile(
    profiles: Profiles,
    *,
    out: Out = Path("out"),
    vary: VaryWords,
    cut: CutWords,
    printing: PrintWords,
    grid: GridWords,
    work: WorkWords,
) -> None:
    """Single tiles, one-offs too: solid and sheet; --vary or --variants for batches.

    Exit 1: some variants failed, the others are made; 2: nothing can be made.
    """
    tools = tools_of(cut, printing, work.jobs)
    _make(profiles, out, grid, tools, vary, halves=("solids", "sheets"), plans_too=False, work=work)


@app.command()
@grouped
def solid(
    things: Either,
    *,
    out: Out = Path("out"),
    vary: VaryWords,
    printing: PrintWords,
    grid: GridWords,
    work: WorkWords,
) -> None:
    """Only the printed half of a tile or a plan."""
    tools = tools_of(printing=printing, jobs=work.jobs)
    _make(things, out, grid, tools, vary, halves=("solids",), plans_too=True, work=work)


@app.command()
@grouped
def sheet(
    things: Either,
    *,
    out: Out = Path("out"),
    vary: VaryWords,
    cut: CutWords,
    grid: GridWords,
    work: WorkWords,
) -> None:
    """Only the cut half of a tile or a plan."""
    tools = tools_of(cut, jobs=work.jobs)
    _make(things, out, grid, tools, vary, halves=("sheets",), plans_too=True, work=work)


def _make(
    things: list[str],
    out: Path,
    grid: GridWords,
    tools: Tools,
    vary: VaryWords,
    *,
    halves: tuple[str, ...],
    plans_too: bool,
    work: WorkWords,
) -> None:
    """A batch if anything is varied, else each thing by itself."""
    if vary.asked:
        from tilegen.commands.batch import run_batch

        run_batch(things, out, grid.read(), tools, vary.read(), halves=halves, as_json=work.as_json, quiet=work.quiet)
        return
    if vary.scheduler is not None:
        from tilegen.errors import InputError

        raise InputError("a scheduler and nothing to vary", expected="--vary or --variants", place="--scheduler")
    from tilegen.commands.single import run_single

    run_single(things, out, grid.read(), tools, unit=vary.unit, halves=halves, plans_too=plans_too, **work.talk.told)


for _aid in (gauge, inspect, desk, schema):
    app.command()(_aid)

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
