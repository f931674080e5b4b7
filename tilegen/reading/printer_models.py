"""What a printer file may hold. Every number has a default, by process, that the user's own readings override."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from tilegen.reading.fields import Length, Title
from tilegen.reading.models import Number, Table

Fit = Literal["press", "snug", "slip", "loose"]
Above = Annotated[Length, Field(gt=0)]
NotBelow = Annotated[Length, Field(ge=0)]
Share = Annotated[Number, Field(ge=0, le=1)]
Positive = Annotated[Number, Field(gt=0)]
Count = Annotated[int, Field(strict=True, ge=0, le=100)]

# What differs on a resin printer, where its file says nothing; sources as in profiles/printers/resin-190.toml.
_RESIN: dict[str, Any] = {
    "layers": {"height": 0.05, "first": 0.05},
    "clearance": {"press": 0.05, "snug": 0.075, "slip": 0.125, "loose": 0.2},
    "walls": {"least": 0.6, "sturdy": 1.5, "bridge": 1000.0},
    "hole_allowance": 0.1,
}


class LayersTable(Table):
    """`[layers]`. height: of a layer; first: of the first one."""

    height: Annotated[Length, Field(gt=0, le=2)] = 0.2
    first: Annotated[Length, Field(gt=0, le=2)] = 0.2


class ClearanceTable(Table):
    """`[clearance]`: free space per side for each class of fit, on the finished print, mm.

    measured: which of them, and `hole` for the printer's hole_allowance, test pieces have told: these rule the printed
    leaves and connectors of grids that say nothing of their own.
    """

    press: NotBelow = 0.1
    snug: NotBelow = 0.15
    slip: NotBelow = 0.25
    loose: NotBelow = 0.4
    measured: tuple[Literal["press", "snug", "slip", "loose", "hole"], ...] = ()

    @model_validator(mode="after")
    def _rising(self) -> ClearanceTable:
        if not self.press <= self.snug <= self.slip <= self.loose:
            raise ValueError(
                f"found press {self.press:g}, snug {self.snug:g}, slip {self.slip:g}, loose {self.loose:g} mm; "
                "expected each at least as wide as the one before it"
            )
        return self


class ShrinkTable(Table):
    """`[shrink]`: what a print comes out short of its drawing along each axis, as a share (0.003 = 0.3 %)."""

    x: Annotated[Number, Field(ge=-0.05, le=0.05)] = 0.0
    y: Annotated[Number, Field(ge=-0.05, le=0.05)] = 0.0
    z: Annotated[Number, Field(ge=-0.05, le=0.05)] = 0.0


class WallsTable(Table):
    """`[walls]`. least: thinner walls are refused. sturdy: thinner ones get a warning, and ones higher than `slender`
    times their thickness. bridge: the widest flat head of a doorway that holds without support.
    """

    least: Above = 0.8
    sturdy: Above = 1.67
    slender: Positive = 12.0
    bridge: Above = 20.0

    @model_validator(mode="after")
    def _rising(self) -> WallsTable:
        if self.sturdy < self.least:
            raise ValueError(f"found sturdy {self.sturdy:g} mm; expected at least {self.least:g} mm, the least wall")
        return self


class FilamentTable(Table):
    """`[filament]` of a filament printer.

    line: width of a line. perimeters, top, bottom: lines round each layer, full layers above and below. infill: share
    of the inside that is filled. density: g/cm3. waste: share on top for purging and failed prints. spool: g.
    speed: mm/s; flow: the share of line x layer x speed that a print keeps up; layer_time: added to each layer, s.
    """

    nozzle: Above = 0.4
    line: Above = 0.45
    perimeters: Annotated[int, Field(strict=True, ge=1, le=20)] = 3
    top: Count = 5
    bottom: Count = 4
    infill: Share = 0.15
    density: Positive = 1.24
    diameter: Above = 1.75
    waste: Share = 0.05
    spool: Positive = 1000.0
    speed: Positive = 60.0
    flow: Annotated[Number, Field(gt=0, le=1)] = 0.6
    layer_time: Annotated[Number, Field(ge=0)] = 2.0

    @model_validator(mode="after")
    def _wide_enough(self) -> FilamentTable:
        if not 0.6 * self.nozzle <= self.line <= 2.5 * self.nozzle:
            raise ValueError(
                f"found a line of {self.line:g} mm from a nozzle of {self.nozzle:g} mm; "
                f"expected {0.6 * self.nozzle:g} to {2.5 * self.nozzle:g} mm"
            )
        return self


class ResinTable(Table):
    """`[resin]` of a resin printer.

    density: g/cm3. waste: share on top of the parts, for what sticks to vat and parts. supports: a further share.
    exposure, first_exposure: seconds a layer, and each of the first `first_layers`; lift: seconds between two layers.
    bottle: ml. wash_bath: ml of alcohol in one bath; wash_share: ml of alcohol used up by each ml of resin.
    drain_hole, drain_holes: width and number of the holes that a hollow needs. vents: make them where one is found.
    """

    density: Positive = 1.1
    waste: Share = 0.1
    supports: Share = 0.15
    exposure: Positive = 2.5
    first_exposure: Positive = 30.0
    first_layers: Count = 5
    lift: Annotated[Number, Field(ge=0)] = 6.0
    bottle: Positive = 1000.0
    wash_bath: Positive = 500.0
    wash_share: Annotated[Number, Field(ge=0)] = 0.5
    drain_hole: Above = 3.0
    drain_holes: Annotated[int, Field(strict=True, ge=1, le=20)] = 2
    vents: Annotated[bool, Field(strict=True)] = False


class PrinterFile(Table):
    """What prints: its bed, layers, fits and materials; lengths in mm.

    bed: its sides. height: usable. margin: free all round. spacing: between parts; brim: round each part, which may
    widen both. size_error: of a printed tile, each way. least_lintel: the thinnest strip over a doorway.
    hole_allowance: on the diameter of a hole. bottom_chamfer: against the flare of the first layer; 0 for none.
    snap_heights: draw base, walls and openings on whole layers.
    """

    name: Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[a-z0-9-]+$")]
    title: Title
    process: Literal["fdm", "resin"] = "fdm"
    bed: tuple[Length, Length]
    height: Length
    margin: NotBelow = 5.0
    spacing: NotBelow = 3.0
    brim: Annotated[Length, Field(ge=0, le=50)] = 0.0
    least_lintel: Length = 3.0
    size_error: Length = 0.2
    hole_allowance: Annotated[Length, Field(ge=0, le=2)] = 0.2
    bottom_chamfer: Annotated[Length, Field(ge=0, le=2)] = 0.0
    snap_heights: Annotated[bool, Field(strict=True)] = False
    layers: LayersTable = LayersTable()
    clearance: ClearanceTable = ClearanceTable()
    shrink: ShrinkTable = ShrinkTable()
    walls: WallsTable = WallsTable()
    filament: FilamentTable = FilamentTable()
    resin: ResinTable = ResinTable()
    cautions: list[str] = Field(default_factory=list)

    @model_validator(mode="before")
    @classmethod
    def _by_process(cls, data: Any) -> Any:  # noqa: ANN401
        """What the file leaves out comes from its process."""
        if not isinstance(data, dict) or data.get("process") != "resin":
            return data
        merged = dict(data)
        for key, value in _RESIN.items():
            given = merged.get(key, value)
            merged[key] = {**value, **given} if isinstance(value, dict) and isinstance(given, dict) else given
        return merged

    @model_validator(mode="after")
    def _own_tables(self) -> PrinterFile:
        if "filament" in self.model_fields_set and self.process == "resin":
            raise ValueError('found a [filament] table with process "resin"; expected [resin]')
        if "resin" in self.model_fields_set and self.process == "fdm":
            raise ValueError('found a [resin] table with process "fdm"; expected [filament]')
        if self.process == "fdm" and self.layers.height > self.filament.nozzle:
            raise ValueError(
                f"found layers of {self.layers.height:g} mm from a nozzle of {self.filament.nozzle:g} mm; "
                "expected at most the nozzle's width"
            )
        return self

    @property
    def gap(self) -> float:
        """Between two parts on the bed, mm; with filament two brims and 1 mm or more (common practice, no source)."""
        return max(self.spacing, 2 * self.brim + 1) if self.process == "fdm" else self.spacing

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
