"""Options of the command line, made from the fields beside which they are declared; imports nothing heavy.

A command takes dataclasses whose fields have a `Key` with an option; `grouped` spells them out for the parser. A new
option is a key with an option beside its field, nothing else.
"""

from __future__ import annotations

import inspect
import types
from collections.abc import Callable
from dataclasses import dataclass, is_dataclass, make_dataclass
from enum import Enum
from functools import wraps
from pathlib import Path
from typing import Annotated, Any, Literal, Optional, TypeVar, Union, get_args, get_origin, get_type_hints

import typer

from tilegen.errors import InputError
from tilegen.lengths import Units, parse_length
from tilegen.making.asked import ACCEPT, Share
from tilegen.model.grid import TABLES, Over
from tilegen.model.keys import Described, Key, described
from tilegen.model.words import Paper

Result = TypeVar("Result")

Plans = Annotated[list[str], typer.Argument(metavar="PLAN...", help="Plan files, or names of shipped plans.")]
Profiles = Annotated[list[str], typer.Argument(metavar="PROFILE...", help="Profile files, or shipped names.")]
Either = Annotated[
    list[str], typer.Argument(metavar="PROFILE|PLAN...", help="Profile or plan files, or names of shipped ones.")
]
Out = Annotated[
    Path, typer.Option("--out", "-o", metavar="FOLDER", help="Where to write; each plan or tile gets a folder in it.")
]

_LENGTH = "LENGTH"
_GRID = Key("A grid file; its values replace the plan's own.", "--grid", "FILE")
_MEASURES = [
    (f"{table}_{field.name}", table, field)
    for table, kind in TABLES.items()
    for field in described(kind)
    if field.key.option
]
_Given: Any = make_dataclass(
    "_Given",
    [
        ("grid", Annotated[Optional[Path], _GRID], None),
        *((name, Annotated[Optional[f.kind], f.key], None) for name, _, f in _MEASURES),
    ],
    frozen=True,
)


class GridWords(_Given):  # type: ignore[misc]
    """The grid as given on the command line: a file, and every key of its tables that has an option."""

    def read(self) -> Over:
        """What goes over the file's own measures."""
        tables: dict[str, dict[str, Any]] = {}
        for name, table, field in _MEASURES:
            value = getattr(self, name)
            if value is not None:
                tables.setdefault(table, {})[field.name] = value
        return Over(self.grid, tables)


@dataclass(frozen=True)
class KitWords(Share):
    """What a kit is asked beyond its count."""

    together: Annotated[
        bool, Key("Several plans: one kit that lays all of them at once, not any one.", "--together")
    ] = False
    by_room: Annotated[bool, Key("A lay-out list: rooms in the order the party meets them.", "--by-room")] = False
    way_in: Annotated[Optional[str], Key("Where the party comes in, for --by-room.", "--way-in", "COLUMN,ROW,SIDE")] = (
        None
    )
    choices: Annotated[
        bool, Key("Compare posts and doorways fixed, loose and left out: kinds of tile, pieces, hours.", "--choices")
    ] = False
    sight_from: Annotated[Optional[str], Key("Draw what is in sight from this cell.", "--from", "COLUMN,ROW")] = None


@dataclass(frozen=True)
class FitWords:
    """What `fit` is asked, lengths as text."""

    figures: Annotated[
        tuple[str, ...], Key('A base, e.g. "1 in", "30 mm" or large; may be given more than once.', "--figure", "BASE")
    ] = ()
    wants: Annotated[
        tuple[str, ...], Key("Find a grid for this base; may be given more than once.", "--want", "BASE")
    ] = ()
    largest_tile: Annotated[Optional[str], Key("With --want: no tile larger than this.", "--largest-tile", _LENGTH)] = (
        None
    )
    tile_error: Annotated[str, Key("Size error of one tile.", "--tile-error", _LENGTH)] = "0.3 mm"
    reference: Annotated[
        Optional[tuple[str, str]],
        Key("The conventional grid to compare with (1 in, 0.5 in).", "--reference", "SPACE WALL"),
    ] = None


@dataclass(frozen=True)
class VaryWords:
    """Many variants of one profile, where they are made, and the unit of a drawing that has none."""

    vary: Annotated[
        tuple[str, ...],
        Key(
            "Make every combination: pitch, wall, height, depth, play, spaces, size (2x1), walls (north+west, 1+3, "
            "none) or TABLE.KEY of a profile; may be given more than once.",
            "--vary",
            "NAME=VALUE,VALUE",
        ),
    ] = ()
    variants: Annotated[
        Optional[Path],
        Key(
            "Variants from a file: CSV with one per row and a parameter per column, or TOML with [[variant]] tables.",
            "--variants",
            "FILE",
        ),
    ] = None
    scheduler: Annotated[
        Optional[str],
        Key(
            "Make the variants on a Dask cluster (extra cluster). Whoever can reach a scheduler can run code on it "
            "and here: only in a network you trust, or over tls://.",
            "--scheduler",
            "ADDRESS",
        ),
    ] = None
    unit: Annotated[
        Optional[str],
        Key("Unit of an outline drawing that does not state one: mm, cm, m, in or ft.", "--unit", "UNIT"),
    ] = None

    @property
    def asked(self) -> bool:
        """Whether anything is varied."""
        return bool(self.vary) or self.variants is not None


@dataclass(frozen=True)
class GaugeWords:
    """What test pieces are for."""

    material: Annotated[Optional[str], Key("Stock to test (foam if absent).", "--material", "NAME")] = None
    machine: Annotated[Optional[str], Key("What cuts it (hand-knife if absent).", "--machine", "NAME")] = None
    printer: Annotated[Optional[str], Key("Printed test pieces instead, for this printer.", "--printer", "NAME")] = None
    magnet: Annotated[str, Key("With --printer: the magnet that the pockets are for.", "--magnet", _LENGTH)] = "4 mm"
    record: Annotated[
        tuple[str, ...],
        Key("Keep a reading, e.g. comb-x=98.5; may be given more than once.", "--record", "NAME=READING"),
    ] = ()


@dataclass(frozen=True)
class SheetWords:
    """How a sheet of test pieces is made."""

    accept: Annotated[Optional[str], ACCEPT] = None
    paper: Annotated[Paper, Key("Paper of the true-size PDF.", "--paper")] = "A4"


@dataclass(frozen=True)
class Quietly:
    """How much is printed, and for whom."""

    as_json: Annotated[bool, Key("Print the result as one JSON document and nothing else.", "--json")] = False
    quiet: Annotated[bool, Key("Say nothing unless something is wrong.", "--quiet -q")] = False


@dataclass(frozen=True)
class Talk(Quietly):
    """How much is printed, and in which form."""

    units: Annotated[Units, Key("What lengths are shown in.", "--units")] = "mm"

    @property
    def told(self) -> dict[str, Any]:
        """As keywords of the commands."""
        return {"units": self.units, "as_json": self.as_json, "quiet": self.quiet}


@dataclass(frozen=True)
class Notes(Talk):
    """How much is told of what is made."""

    verbose: Annotated[bool, Key("Show every note and every caution.", "--verbose -v")] = False

    @property
    def told(self) -> dict[str, Any]:
        """As keywords of the commands."""
        return {**super().told, "verbose": self.verbose}


def grouped(command: Callable[..., Result]) -> Callable[..., Result]:
    """A command each of whose groups of options is spelt out as single options, in place."""
    hints = get_type_hints(command, include_extras=True)
    groups: dict[str, Any] = {}
    parameters: list[inspect.Parameter] = []
    for parameter in inspect.signature(command).parameters.values():
        kind = hints[parameter.name]
        if isinstance(kind, type) and is_dataclass(kind):
            groups[parameter.name] = kind
            parameters += map(_parameter, described(kind))
        else:
            parameters.append(_keyword(parameter.name, kind, parameter.default))

    @wraps(command)
    def spelt_out(**given: Any) -> Result:  # noqa: ANN401 - typer gives what the parameters say
        made = {
            name: kind(**{f.name: _plain(given.pop(f.name), f) for f in described(kind)})
            for name, kind in groups.items()
        }
        return command(**given, **made)

    spelt_out.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    spelt_out.__annotations__ = {p.name: p.annotation for p in parameters}
    return spelt_out


def _parameter(field: Described) -> inspect.Parameter:
    """One field as the parser takes it: words as a choice, several values as a list."""
    key = field.key
    option = typer.Option(
        *key.option.split(),
        metavar=_LENGTH if key.is_length else key.takes or None,
        help=key.means,
        min=key.least,
        max=key.most,
    )
    kind = Optional[str] if key.is_length else _parsed(field.name, field.kind)
    default = field.default
    if isinstance(kind, type) and issubclass(kind, Enum):
        default = kind(default)
    if get_origin(field.kind) is tuple:
        default = list(default) or None
        kind = kind if default else Optional[kind]
    return _keyword(field.name, Annotated[kind, option], default)


def _parsed(name: str, kind: Any) -> Any:  # noqa: ANN401
    """A field's type in the words of the parser."""
    origin, inner = get_origin(kind), get_args(kind)
    if origin is Literal:
        return Enum(name.title(), {word: word for word in inner}, type=str)
    if origin is tuple and inner[-1] is Ellipsis:
        return list[_parsed(name, inner[0])]  # type: ignore[misc]
    if origin in (Union, types.UnionType):
        return Optional[_parsed(name, inner[0])]
    return kind


def _plain(value: Any, field: Described) -> Any:  # noqa: ANN401
    """What the parser gives for a field, as the groups have it: lengths in mm.

    Raises:
        InputError: not a length.
    """
    if value is None:
        return field.default
    if field.key.is_length:
        try:
            return parse_length(value)
        except InputError as error:
            raise error.located(place=field.key.option) from None
    if isinstance(value, list):
        return tuple(item.value if isinstance(item, Enum) else item for item in value)
    return value.value if isinstance(value, Enum) else value


def _keyword(name: str, kind: Any, default: Any) -> inspect.Parameter:  # noqa: ANN401
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=kind)
