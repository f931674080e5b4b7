"""The words that several commands share; imports nothing heavy, help must be quick."""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import Annotated, Optional

import typer

from tilegen.solids.formats import SOLID_FORMATS


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


class Least(str, Enum):
    """What larger pieces should save."""

    pieces = "pieces"
    material = "material"


class Corners(str, Enum):
    """How walls meet at a corner of a tile cut from sheets."""

    butt = "butt"
    pinwheel = "pinwheel"
    mitre = "mitre"
    rabbet = "rabbet"


class Connecting(str, Enum):
    """What holds the tiles of a set together."""

    none = "none"
    magnets = "magnets"
    pegs = "pegs"
    keys = "keys"


class FloorSurface(str, Enum):
    """What a floor looks like."""

    none = "none"
    flagstones = "flagstones"
    planks = "planks"
    cobbles = "cobbles"
    rough = "rough"


class WallSurface(str, Enum):
    """What the inner faces of walls look like."""

    none = "none"
    brick = "brick"
    ashlar = "ashlar"
    timber = "timber"


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
FloorKind = Annotated[Optional[FloorSurface], typer.Option("--floor", help="The floor's surface, over the file's own.")]
WallKind = Annotated[
    Optional[WallSurface], typer.Option("--walls", help="The surface of the walls' inner faces, over the file's own.")
]
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
PrinterName = Annotated[
    str,
    typer.Option(
        "--printer",
        metavar="NAME",
        help='What prints: a shipped name or a file; settings may follow, as in "fdm-220, snap_heights=true".',
    ),
]
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
InSight = Annotated[
    bool, typer.Option("--in-sight", help="Only what can be in sight at once: the smallest kit that always lays it.")
]
DoorsOpen = Annotated[bool, typer.Option("--doors-open", help="Sight goes through doorways and saddles.")]
Own = Annotated[
    Optional[Path],
    typer.Option("--own", metavar="FILE", help="A shelf file of what you own: make only what is missing."),
]

GaugeMaterial = Annotated[
    Optional[str], typer.Option("--material", metavar="NAME", help="Stock to test (foam if absent).")
]
GaugeMachine = Annotated[
    Optional[str], typer.Option("--machine", metavar="NAME", help="What cuts it (hand-knife if absent).")
]
GaugePrinter = Annotated[
    Optional[str], typer.Option("--printer", metavar="NAME", help="Printed test pieces instead, for this printer.")
]
GaugeMagnet = Annotated[
    str, typer.Option("--magnet", metavar="LENGTH", help="With --printer: the magnet that the pockets are for.")
]
Record = Annotated[
    Optional[list[str]],
    typer.Option(
        "--record", metavar="NAME=READING", help="Keep a reading, e.g. comb-x=98.5; may be given more than once."
    ),
]
Connect = Annotated[
    Optional[Connecting],
    typer.Option("--connectors", help="What holds tiles together; the grid's own choice if absent."),
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
Pieces = Annotated[
    Optional[str],
    typer.Option(
        "--pieces",
        metavar="LIST",
        help='Cover the floor with fewer, larger tiles: "2x1, 2x2, 4x2, run-3, tee, cross" (10 ft plans).',
    ),
]
LeastOf = Annotated[
    Least, typer.Option("--least", help="With --pieces: the fewest pieces, or the least material beyond what you own.")
]
Lattice = Annotated[
    Optional[str],
    typer.Option(
        "--lattice",
        metavar="COLUMN,ROW",
        help="5 ft plans: where the first block of 2 x 2 cells starts, 0,0 to 1,1; the best of the four if absent.",
    ),
]
Underside = Annotated[
    bool, typer.Option("--underside", help="Cut each tile's name, id and an arrow to its own north into its underside.")
]
Format = Enum("Format", {word: word for word in SOLID_FORMATS})  # type: ignore[misc]
MoreFormats = Annotated[
    Optional[list[Format]],
    typer.Option(
        "--format",
        help="Write solids in this format too, besides "
        f"{' and '.join(row.word for row in SOLID_FORMATS.values() if row.usual)}: "
        f"{'; '.join(f'{row.word} ({row.says})' for row in SOLID_FORMATS.values() if not row.usual)}.",
    ),
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
