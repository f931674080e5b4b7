"""Options that go together, spelt out once; imports nothing heavy, help must be quick."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import MISSING, Field, dataclass, field, fields, is_dataclass
from functools import wraps
from typing import TYPE_CHECKING, Any, TypeVar, get_type_hints

from tilegen.options import (
    Accept,
    AsJson,
    Connect,
    Construct,
    CornerKind,
    Depth,
    FloorKind,
    GridFile,
    Height,
    Jobs,
    Lattice,
    Least,
    LeastOf,
    Machine,
    Material,
    MoreFormats,
    Nominal,
    Paper,
    PaperSize,
    Pieces,
    Pitch,
    PrinterName,
    Quiet,
    Scheduler,
    ShowUnits,
    Underside,
    Unit,
    Units,
    Variants,
    Vary,
    Wall,
    WallKind,
)

if TYPE_CHECKING:
    from pathlib import Path

    from tilegen.commands.batch import BatchWords
    from tilegen.commands.common import Measures
    from tilegen.lengths import Units as UnitsName
    from tilegen.making.plan import Covering
    from tilegen.making.workshop import Tools

Result = TypeVar("Result")


@dataclass(frozen=True)
class GridWords:
    """The grid as given on the command line."""

    grid: GridFile = None
    pitch: Pitch = None
    wall: Wall = None
    height: Height = None
    depth: Depth = None
    connectors: Connect = None
    floor: FloorKind = None
    walls: WallKind = None

    def read(self) -> Measures:
        """What the commands work with."""
        from tilegen.commands.common import Measures

        kind = self.connectors.value if self.connectors else None
        return Measures(self.grid, self.pitch, self.wall, self.height, self.depth, kind, self.floor, self.walls)


@dataclass(frozen=True)
class CoverWords:
    """Larger pieces, and where the blocks of a 5 ft plan start."""

    pieces: Pieces = None
    least: LeastOf = Least.pieces
    lattice: Lattice = None

    def read(self, own: Path | None) -> Covering:
        """What the commands work with."""
        from tilegen.making.plan import Covering

        return Covering(self.pieces, self.least.value, self.lattice, own)


@dataclass(frozen=True)
class CutWords:
    """Stock, what cuts it, and how sheets become tiles."""

    material: Material = field(default_factory=lambda: ["foam"])
    machine: Machine = "hand-knife"
    accept: Accept = None
    construction: Construct = None
    corners: CornerKind = None
    nominal: Nominal = False
    paper: PaperSize = Paper.a4


@dataclass(frozen=True)
class PrintWords:
    """What prints."""

    printer: PrinterName = "fdm-220"
    underside: Underside = False
    formats: MoreFormats = None


@dataclass(frozen=True)
class VaryWords:
    """Many variants of one profile, where they are made, and the unit of a drawing that says none."""

    vary: Vary = None
    variants: Variants = None
    scheduler: Scheduler = None
    unit: Unit = None

    @property
    def asked(self) -> bool:
        """Whether anything is varied."""
        return bool(self.vary) or self.variants is not None

    def read(self) -> BatchWords:
        """What the commands work with."""
        from tilegen.commands.batch import BatchWords

        return BatchWords(tuple(self.vary or ()), self.variants, self.scheduler, self.unit)


@dataclass(frozen=True)
class WorkWords:
    """How the work is done and told."""

    jobs: Jobs = 1
    units: ShowUnits = Units.mm
    as_json: AsJson = False
    quiet: Quiet = False

    @property
    def talk(self) -> Talk:
        """How it is told."""
        return Talk(self.units, self.as_json, self.quiet)


@dataclass(frozen=True)
class Talk:
    """What people and programs are told."""

    units: ShowUnits = Units.mm
    as_json: AsJson = False
    quiet: Quiet = False

    @property
    def told(self) -> dict[str, Any]:
        """As keywords of the commands."""
        name: UnitsName = self.units.value
        return {"units": name, "as_json": self.as_json, "quiet": self.quiet}


def tools_of(cut: CutWords | None = None, printing: PrintWords | None = None, jobs: int = 1) -> Tools:
    """What the commands work with."""
    from tilegen.making.workshop import Tools

    cut, printing = cut or CutWords(), printing or PrintWords()
    return Tools(
        tuple(cut.material),
        cut.machine,
        printing.printer,
        cut.accept,
        cut.paper.value,
        jobs,
        cut.construction.value if cut.construction else None,
        cut.corners.value if cut.corners else None,
        cut.nominal,
        printing.underside,
        tuple(str(chosen.value) for chosen in printing.formats or ()),
    )


def grouped(command: Callable[..., Result]) -> Callable[..., Result]:
    """A command each of whose groups of options is spelt out as single options, in place."""
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {}
    parameters: list[inspect.Parameter] = []
    for parameter in inspect.signature(command).parameters.values():
        kind = hints[parameter.name]
        if isinstance(kind, type) and is_dataclass(kind):
            groups[parameter.name] = kind
            own = get_type_hints(kind, include_extras=True)
            parameters += [_keyword(f.name, own[f.name], _default(f)) for f in fields(kind)]
        else:
            parameters.append(_keyword(parameter.name, kind, parameter.default))

    @wraps(command)
    def spelt_out(**given: Any) -> Result:  # noqa: ANN401 - typer gives what the parameters say
        made = {name: kind(**{f.name: given.pop(f.name) for f in fields(kind)}) for name, kind in groups.items()}
        return command(**given, **made)

    spelt_out.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    spelt_out.__annotations__ = {p.name: p.annotation for p in parameters}
    return spelt_out


def _keyword(name: str, kind: Any, default: Any) -> inspect.Parameter:  # noqa: ANN401
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=kind)


def _default(of: Field[Any]) -> Any | None:  # noqa: ANN401
    return of.default_factory() if of.default_factory is not MISSING else of.default
