"""The words that several commands share; imports nothing heavy, help must be quick."""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import Annotated, Optional

import typer


class Units(str, Enum):
    """What lengths are shown in."""

    mm = "mm"
    inch = "in"


class Paper(str, Enum):
    """What the true-size PDF is printed on."""

    a4 = "A4"
    a3 = "A3"
    a2 = "A2"
    a1 = "A1"
    a0 = "A0"
    letter = "Letter"
    tabloid = "Tabloid"


class Construction(str, Enum):
    """How sheets become tiles."""

    stacked = "stacked"
    folded = "folded"
    grooved = "grooved"


class Corners(str, Enum):
    """How walls meet at a corner of a tile cut from sheets."""

    butt = "butt"
    pinwheel = "pinwheel"
    mitre = "mitre"
    rabbet = "rabbet"


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
        help="Stock to cut from: a shipped name (foam, greyboard, card, ...) or a file; may be given more than once.",
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
Vary = Annotated[
    Optional[list[str]],
    typer.Option(
        "--vary",
        metavar="NAME=VALUE,VALUE",
        help="Make every combination: pitch, wall, height, depth, play, spaces, size (2x1), walls (north+west, 1+3, "
        "none) or TABLE.KEY of a profile; may be given more than once.",
    ),
]
Variants = Annotated[
    Optional[Path],
    typer.Option(
        "--variants",
        metavar="FILE",
        help="A table with one variant a row: CSV with a parameter a column, or TOML with [[variant]]s.",
    ),
]
Scheduler = Annotated[
    Measure,
    typer.Option(
        "--scheduler",
        metavar="ADDRESS",
        help="Make the variants on a Dask cluster (extra cluster). Whoever can reach a scheduler can run code on it "
        "and here: only in a network you trust, or over tls://.",
    ),
]
Unit = Annotated[
    Measure,
    typer.Option("--unit", metavar="UNIT", help="Unit of an outline's drawing that does not say: mm, cm, m, in or ft."),
]
