"""What a printer file may hold. Every number has a default, by process, that the user's own readings override."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from tilegen.model.keys import Key
from tilegen.model.tables import (
    Above,
    FileName,
    Length,
    NotBelow,
    Number,
    Positive,
    Share,
    Table,
    Title,
    Unsigned,
    YesNo,
    wrong,
)

Fit = Literal["press", "snug", "slip", "loose"]
Few = Annotated[int, Field(strict=True, ge=0, le=100)]

# The table that each process has for itself in the file.
_OWN = {"fdm": "filament", "resin": "resin"}
# What differs by process where the file says nothing; sources as in profiles/printers/resin-190.toml.
_DEFAULTS: dict[str, dict[str, Any]] = {
    "resin": {
        "layers": {"height": 0.05, "first": 0.05},
        "clearance": {"press": 0.05, "snug": 0.075, "slip": 0.125, "loose": 0.2},
        "walls": {"least": 0.6, "sturdy": 1.5, "bridge": 1000.0},
        "hole_allowance": 0.1,
    }
}


class LayersTable(Table):
    """`[layers]`: how high they are."""

    height: Annotated[Length, Field(gt=0, le=2), Key("The height of a layer.")] = 0.2
    first: Annotated[Length, Field(gt=0, le=2), Key("The height of the first layer.")] = 0.2


class ClearanceTable(Table):
    """`[clearance]`: free space per side for each class of fit, on the finished print, mm."""

    press: Annotated[NotBelow, Key("The free space per side of a part that stays in by force.")] = 0.1
    snug: Annotated[NotBelow, Key("The free space per side of a part that goes in by hand and stays.")] = 0.15
    slip: Annotated[NotBelow, Key("The free space per side of a part that slides.")] = 0.25
    loose: Annotated[NotBelow, Key("The free space per side of a part that turns or drops in and out.")] = 0.4
    measured: Annotated[
        tuple[Literal["press", "snug", "slip", "loose", "hole"], ...],
        Key(
            "Which of these gauge --record has found, and hole for hole_allowance: printed leaves and connectors take "
            "them where the grid file gives no clearance of its own."
        ),
    ] = ()

    @model_validator(mode="after")
    def _rising(self) -> ClearanceTable:
        if not self.press <= self.snug <= self.slip <= self.loose:
            raise wrong(
                f"clearances get wider from press to loose, and these are press {self.press:g}, snug {self.snug:g}, "
                f"slip {self.slip:g}, loose {self.loose:g} mm",
                "Make each at least as wide as the one before it",
            )
        return self


class ShrinkTable(Table):
    """`[shrink]`: what a print comes out short of its drawing along each axis, as a share (0.003 = 0.3 %)."""

    x: Annotated[
        Number,
        Field(ge=-0.05, le=0.05),
        Key("How much shorter a print comes out along x, as a share (0.003 is 0.3 %): measure a bar of 100 mm."),
    ] = 0.0
    y: Annotated[
        Number,
        Field(ge=-0.05, le=0.05),
        Key("How much shorter a print comes out along y, as a share (0.003 is 0.3 %): measure a bar of 100 mm."),
    ] = 0.0
    z: Annotated[
        Number,
        Field(ge=-0.05, le=0.05),
        Key("How much shorter a print comes out along z, as a share (0.003 is 0.3 %): measure a bar of 100 mm."),
    ] = 0.0


class WallsTable(Table):
    """`[walls]`: which are refused, and which get a warning."""

    least: Annotated[Above, Key("The least thickness of a wall: thinner ones are refused.")] = 0.8
    sturdy: Annotated[Above, Key("The thickness below which a wall gets a warning.")] = 1.67
    slender: Annotated[
        Positive, Key("The height, as a multiple of its thickness, above which a wall gets a warning.")
    ] = 12.0
    bridge: Annotated[Above, Key("The widest flat head of a doorway that holds without support.")] = 35.0

    @model_validator(mode="after")
    def _rising(self) -> WallsTable:
        if self.sturdy < self.least:
            raise wrong(
                f"sturdy ({self.sturdy:g} mm) is less than least ({self.least:g} mm)", f"Use at least {self.least:g} mm"
            )
        return self


class FilamentTable(Table):
    """`[filament]` of a filament printer."""

    nozzle: Annotated[Above, Key("The diameter of the nozzle.")] = 0.4
    line: Annotated[Above, Key("The width of a printed line.")] = 0.45
    rounds: Annotated[int, Field(strict=True, ge=1, le=20), Key("How many lines go round each layer.")] = 3
    top: Annotated[Few, Key("How many full layers lie at the top.")] = 5
    bottom: Annotated[Few, Key("How many full layers lie at the bottom.")] = 4
    infill: Annotated[Share, Key("The share of the inside that is filled.")] = 0.15
    density: Annotated[
        Positive, Key("The density of the filament in grams per cubic centimetre; the spool's label decides.")
    ] = 1.24
    diameter: Annotated[Above, Key("The diameter of the filament.")] = 1.75
    waste: Annotated[Share, Key("The share on top for purging and failed prints.")] = 0.05
    spool: Annotated[Positive, Key("How much filament is on a spool, in grams.")] = 1000.0
    speed: Annotated[Positive, Key("The speed of printing in millimetres per second.")] = 60.0
    flow: Annotated[
        Number, Field(gt=0, le=1), Key("The share of line x layer x speed that a whole print keeps up.")
    ] = 0.6
    layer_time: Annotated[Unsigned, Key("What each layer takes besides, in seconds.")] = 2.0

    @model_validator(mode="after")
    def _wide_enough(self) -> FilamentTable:
        if not 0.6 * self.nozzle <= self.line <= 2.5 * self.nozzle:
            raise wrong(
                f"a nozzle of {self.nozzle:g} mm can't print lines {self.line:g} mm wide",
                f"Use {0.6 * self.nozzle:g} to {2.5 * self.nozzle:g} mm for line",
            )
        return self


class ResinTable(Table):
    """`[resin]` of a resin printer."""

    density: Annotated[Positive, Key("The density of the resin in grams per cubic centimetre.")] = 1.1
    waste: Annotated[Share, Key("The share on top for what sticks to the vat and the parts.")] = 0.1
    supports: Annotated[Share, Key("The share on top for supports.")] = 0.15
    exposure: Annotated[Positive, Key("How long a layer is exposed, in seconds.")] = 2.5
    first_exposure: Annotated[Positive, Key("How long each of the first layers is exposed, in seconds.")] = 30.0
    first_layers: Annotated[Few, Key("How many first layers are exposed longer (from memory).")] = 5
    lift: Annotated[Unsigned, Key("How long it takes from one layer to the next, in seconds.")] = 6.0
    bottle: Annotated[Positive, Key("How much resin is in a bottle, in millilitres.")] = 1000.0
    wash_bath: Annotated[Positive, Key("How much alcohol one bath takes, in millilitres.")] = 500.0
    wash_share: Annotated[Unsigned, Key("How many millilitres of alcohol each millilitre of resin uses up.")] = 0.5
    drain_hole: Annotated[Above, Key("The width of the holes through which a hollow drains.")] = 3.0
    drain_holes: Annotated[int, Field(strict=True, ge=1, le=20), Key("How many holes a hollow needs to drain.")] = 2
    vents: Annotated[YesNo, Key("Whether to make holes where a hollow traps resin.")] = False


class PrinterFile(Table):
    """What prints: its bed, layers, fits and materials; lengths in mm."""

    name: Annotated[FileName, Key("What the command line calls it: small letters, digits and hyphens.")]
    title: Annotated[Title, Key("What people read: in lists, on sheets and in reports.")]
    process: Annotated[Literal["fdm", "resin"], Key("What it prints with: filament (fdm) or resin.")] = "fdm"
    bed: Annotated[tuple[Length, Length], Key("The two sides of the bed.")]
    height: Annotated[Length, Key("The greatest height of a print.")]
    margin: Annotated[NotBelow, Key("The strip along the bed's edges that stays free.")] = 5.0
    spacing: Annotated[NotBelow, Key("The least distance between two parts.")] = 3.0
    brim: Annotated[
        Length, Field(ge=0, le=50), Key("The width of the brim round each part; it may widen margin and spacing.")
    ] = 0.0
    least_lintel: Annotated[Length, Key("The lowest strip over a doorway that prints.")] = 3.0
    size_error: Annotated[
        Length, Key("How far a printed tile may be off its size, each way; the joint play must be at least this.")
    ] = 0.2
    hole_allowance: Annotated[
        Length, Field(ge=0, le=2), Key("How much wider a hole is drawn than it should come out.")
    ] = 0.2
    pace: Annotated[
        Number, Field(gt=0, le=20), Key("How many hours a print takes for each hour of the estimate: 1 unless timed.")
    ] = 1.0
    spread: Annotated[
        Number, Field(ge=0, le=1), Key("How far an estimate of hours may be off, each way, as a share.")
    ] = 0.3
    bottom_chamfer: Annotated[
        Length,
        Field(ge=0, le=2),
        Key("The chamfer all round the underside, against the flare of the first layer; 0 for none."),
    ] = 0.0
    snap_heights: Annotated[
        YesNo, Key("Whether base, walls and openings are drawn on whole layers, else as the grid says.")
    ] = False
    layers: Annotated[LayersTable, Key("How high layers are.")] = LayersTable()
    clearance: Annotated[
        ClearanceTable, Key("The free space per side for each class of fit, on the finished print.")
    ] = ClearanceTable()
    shrink: Annotated[ShrinkTable, Key("How much shorter a print comes out along each axis, as a share.")] = (
        ShrinkTable()
    )
    walls: Annotated[WallsTable, Key("How thin walls may be.")] = WallsTable()
    filament: Annotated[FilamentTable, Key("What a filament printer prints with, and how fast.")] = FilamentTable()
    resin: Annotated[ResinTable, Key("What a resin printer prints with, and how fast.")] = ResinTable()
    cautions: Annotated[list[str], Key("The cautions for the printer, each a sentence; the report shows them.")] = (
        Field(default_factory=list)
    )

    @model_validator(mode="before")
    @classmethod
    def _by_process(cls, data: Any) -> Any:  # noqa: ANN401
        """What the file leaves out comes from its process."""
        if not isinstance(data, dict):
            return data
        merged = dict(data)
        for key, value in _DEFAULTS.get(str(data.get("process")), {}).items():
            given = merged.get(key, value)
            merged[key] = {**value, **given} if isinstance(value, dict) and isinstance(given, dict) else given
        return merged

    @model_validator(mode="after")
    def _own_tables(self) -> PrinterFile:
        own = _OWN[self.process]
        for process, table in _OWN.items():
            if table != own and table in self.model_fields_set:
                raise wrong(
                    f"the [{table}] settings are for {table} printers, and this is a {own} printer",
                    f'Use the [{own}] settings, or set process = "{process}"',
                )
        nozzle = getattr(self.own, "nozzle", math.inf)
        if self.layers.height > nozzle:
            raise wrong(
                f"a nozzle of {nozzle:g} mm can't print layers {self.layers.height:g} mm high",
                f"Use a layer height of at most {nozzle:g} mm",
            )
        return self

    @property
    def own(self) -> FilamentTable | ResinTable:
        """The table of its process."""
        table: FilamentTable | ResinTable = getattr(self, _OWN[self.process])
        return table

    @property
    def room(self) -> tuple[float, float]:
        """The part of the bed that parts may cover, mm: less margins and brims."""
        width, depth = (side - 2 * (self.margin + self.brim) for side in self.bed)
        return width, depth

    @property
    def scale(self) -> tuple[float, float, float]:
        """What written meshes are stretched by along x, y and z so that prints come out as drawn."""
        return 1 / (1 - self.shrink.x), 1 / (1 - self.shrink.y), 1 / (1 - self.shrink.z)

    def clearance_of(self, fit: Fit) -> float:
        """Free space per side for a class of fit, mm, as it is drawn before shrink is made up for.

        Clearances are absolute: the written mesh, after its scale, has the file's figure across the wider axis.
        """
        value: float = getattr(self.clearance, fit)
        return value / max(self.scale[:2])
