"""What a run is asked to make and with what: plain values, each option beside its field; imports nothing heavy."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

from tilegen.errors import InputError
from tilegen.model.keys import Key
from tilegen.model.words import ConstructionName, CornersName, Paper
from tilegen.solids.formats import SOLID_FORMATS

if TYPE_CHECKING:
    FormatName = str
else:
    FormatName = Literal[tuple(SOLID_FORMATS)]

_USUAL = ", ".join(row.word for row in SOLID_FORMATS.values() if row.usual)
_OTHERS = "; ".join(f"{row.word} ({row.says})" for row in SOLID_FORMATS.values() if not row.usual)

# An option of test pieces too, which have no other part of `Cutting`.
ACCEPT = Key("Accept a caution by its name, which the message that asks for it says.", "--accept", "CAUTION")


@dataclass(frozen=True)
class Cutting:
    """Stock, what cuts it, and how sheets become tiles."""

    materials: Annotated[
        tuple[str, ...],
        Key(
            "Stock to cut from: a shipped name (foam, greyboard, card, ...) or a file; given more than once, each is a "
            'kit of its own. One kit from several: "base = foam, walls = greyboard, skin = card".',
            "--material",
            "NAME",
        ),
    ] = ("foam",)
    thickness: Annotated[
        float | None,
        Key("The thickness of your sheets, where it is not the one in the material's file.", "--thickness", "mm"),
    ] = None
    print_on: Annotated[
        Paper | None,
        Key("Print card on a home printer: its sheets are pages of this paper, each with whole parts.", "--print-on"),
    ] = None
    machine: Annotated[
        str, Key("What cuts: a shipped name (hand-knife, drag-knife, laser, hot-wire) or a file.", "--machine", "NAME")
    ] = "hand-knife"
    accept: Annotated[str | None, ACCEPT] = None
    construction: Annotated[
        ConstructionName | None,
        Key(
            "Layers and strips (with tabs: slotted), folded card, or V-grooved board; the material's own if absent.",
            "--construction",
        ),
    ] = None
    corners: Annotated[
        CornersName | None, Key("How walls meet at a corner; the material's own if absent.", "--corners")
    ] = None
    nominal: Annotated[
        bool, Key("Leave the kerf out of DXF and SVG: the machine's program allows for it.", "--nominal")
    ] = False
    paper: Annotated[
        Paper | None, Key("Paper of the true-size PDF; that of --print-on, or A4, if absent.", "--paper")
    ] = None
    sheet_pages: Annotated[
        bool, Key("Write whole sheets as true-size pages too, to transfer a sheet as it is.", "--sheet-pages")
    ] = False

    papers: Annotated[
        bool,
        Key(
            "Write papers.pdf too: floors and walls in colour, as the style draws them, to glue on the parts.",
            "--papers",
        ),
    ] = False

    @property
    def pages(self) -> Paper:
        """The paper of what is printed for cutting."""
        return self.paper or self.print_on or "A4"


@dataclass(frozen=True)
class Printing:
    """What prints."""

    printer: Annotated[
        str,
        Key(
            'What prints: a shipped name or a file; settings may follow, as in "fdm-220, snap_heights=true".',
            "--printer",
            "NAME",
        ),
    ] = "fdm-220"
    underside: Annotated[
        bool, Key("Cut each tile's name, id and an arrow to its own north into its underside.", "--underside")
    ] = False
    formats: Annotated[
        tuple[FormatName, ...], Key(f"Write solids in this format too, besides {_USUAL}: {_OTHERS}.", "--format")
    ] = ()


@dataclass(frozen=True)
class Work:
    """How the work is done, and what is drawn of it."""

    pictures: Annotated[
        bool,
        Key(
            "Draw each tile as a picture of 1,200 x 900 pixels, and the dungeon large, to show or sell it by.",
            "--pictures",
        ),
    ] = False
    jobs: Annotated[int, Key("Processes to work with.", "--jobs", least=1, most=256)] = 1
    times: Annotated[
        Path | None,
        Key("Your own log of what took how long, times.csv: hours, minutes and glue go by it.", "--times", "FILE"),
    ] = None


@dataclass(frozen=True)
class Tools(Cutting, Printing, Work):
    """Materials, machine and printer by name, and how the work is done."""


@dataclass(frozen=True)
class Covering:
    """How a plan's cells become tiles."""

    pieces: Annotated[
        str | None,
        Key(
            'Cover the floor with fewer, larger tiles: "2x1, 2x2, 4x2, run-3, tee, cross" (10 ft plans).',
            "--pieces",
            "LIST",
        ),
    ] = None
    least: Annotated[
        Literal["pieces", "material"],
        Key("With --pieces: the fewest pieces, or the least material beyond what you own.", "--least"),
    ] = "pieces"
    lattice: Annotated[
        str | None,
        Key(
            "5 ft plans: where the first block of 2 x 2 cells starts, 0,0 to 1,1; the best of the four if absent.",
            "--lattice",
            "COLUMN,ROW",
        ),
    ] = None

    def first_block(self) -> tuple[int, int] | None:
        """Where the first block of a 5 ft plan starts, if that is given.

        Raises:
            InputError: not one of the four.
        """
        if self.lattice is None:
            return None
        found = tuple(part.strip() for part in self.lattice.split(","))
        if len(found) != 2 or not set(found) <= {"0", "1"}:
            raise InputError(
                f'"{self.lattice}" is not a place to begin', cure="Use 0,0 or 0,1 or 1,0 or 1,1", place="--lattice"
            )
        return int(found[0]), int(found[1])


@dataclass(frozen=True)
class Share:
    """What of a plan's kit is needed: all of it, what can be in sight at once, less what is owned."""

    own: Annotated[Path | None, Key("A shelf file of what you own: make only what is missing.", "--own", "FILE")] = None
    in_sight: Annotated[
        bool, Key("Only what can be in sight at once: the smallest kit that always lays it.", "--in-sight")
    ] = False
    doors_open: Annotated[bool, Key("Sight goes through doorways and saddles.", "--doors-open")] = False


# Whole plans and collections have it.
MAKE = Key("What to make: sheets to cut, solids to print, or both.", "--make")


@dataclass(frozen=True)
class Limits:
    """What a run may take at most."""

    most_tiles: Annotated[
        float | None, Key("No more new tiles and loose pieces than this.", "--most-tiles", "N", least=0)
    ] = None
    most_hours: Annotated[
        float | None,
        Key("No more hours: of the printer with --make print, else of work by hand.", "--most-hours", "X", least=0),
    ] = None
    most_sheets: Annotated[float | None, Key("No more new sheets.", "--most-sheets", "X", least=0)] = None
    most_cost: Annotated[
        float | None, Key("No more money, by the sheets' prices in the material's file.", "--most-cost", "X", least=0)
    ] = None

    @property
    def limits(self) -> dict[str, float]:
        """What is limited, by its word."""
        found = {word: getattr(self, f"most_{word}") for word in ("tiles", "hours", "sheets", "cost")}
        return {word: limit for word, limit in found.items() if limit is not None}


@dataclass(frozen=True)
class Collecting(Limits):
    """What a collection is to lay, and what that may take."""

    own: Annotated[Path | None, Key("A shelf file of what you own.", "--own", "FILE")] = None
    maps: Annotated[
        int | None,
        Key("How many of the maps are to become possible, any one at a time; all if absent.", "--maps", "M", least=1),
    ] = None
    weight: Annotated[
        int | None, Key("Instead of --maps: maps that together weigh at least so much.", "--weight", "W", least=1)
    ] = None
    most_sheets: Annotated[
        float | None,
        Key(
            "No more sheets, by the area of the parts: they may take more once set out.", "--most-sheets", "X", least=0
        ),
    ] = None
    stand_ins: Annotated[
        float | None,
        Key(
            "Plain tiles may stand in for those with features, such as pillars or stairs. Each place counts as X of "
            "the tile: 0 is free, 0.2 a fifth.",
            "--stand-ins",
            "X",
            least=0,
        ),
    ] = None
    make: Annotated[Literal["both", "cut", "print"], MAKE] = "both"


@dataclass(frozen=True)
class PlanPart(Limits, Share):
    """How much of a plan to make. Limits: the first rooms that keep within them."""

    make: Annotated[Literal["both", "cut", "print"], MAKE] = "both"
    only: Annotated[
        tuple[str, ...],
        Key("Make just this tile, by name or id; may be given more than once.", "--only", "TILE"),
    ] = ()

    figures: Annotated[
        bool, Key("Stand figures in the dungeon's picture, one per room, to show its scale.", "--figures")
    ] = False

    @property
    def whole(self) -> bool:
        """Whether everything is made."""
        return self.whole_kit and self.make == "both"

    @property
    def whole_kit(self) -> bool:
        """Whether every tile is made, in one way or both."""
        return not (self.only or self.own or self.in_sight or self.limits)

    @property
    def cut(self) -> bool:
        """Whether sheets are made."""
        return self.make != "print"

    @property
    def printed(self) -> bool:
        """Whether solids are made; a limit on sheets is for who cuts."""
        return self.make == "print" or (self.make == "both" and self.most_sheets is None and self.most_cost is None)
