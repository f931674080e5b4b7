"""What all tables of files share: lengths, numbers and titles as files write them, and the tables of measures."""

from __future__ import annotations

import math
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, create_model

from tilegen.errors import UNSHOWN, InputError, as_written, one_line
from tilegen.lengths import parse_length
from tilegen.model.connectors import Connectors
from tilegen.model.grid import Door, DoorwaySize, Floor, Grid, SetChoices
from tilegen.model.keys import Described, Key, described
from tilegen.model.stonework import Span, Stonework
from tilegen.model.surface import FloorPattern, Surface


def wrong(text: str, cure: str) -> ValueError:
    """What is wrong with a value of a file, for a validator to raise: a model passes on no other kind of error."""
    return ValueError(InputError(text, cure=cure))


def read_length(value: object) -> float:
    """A length as files give it, in mm; for models."""
    try:
        return parse_length(value)
    except InputError as error:
        raise wrong(error.text, error.cure) from None


def _finite(value: object) -> object:
    if isinstance(value, bool) or (isinstance(value, float) and not math.isfinite(value)):
        raise wrong(f"{as_written(value)} is not a number", "Write a number without quotes, as in 1.5")
    return value


def _kilogauss(value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise wrong(f"{as_written(value)} is not a number", "Write a number of kilogauss, as in 3.0")
    return float(value)


def _shown(text: str) -> str:
    if UNSHOWN.search(text):
        raise wrong(f"{as_written(one_line(text))} has a line break or a control character", "Write it in one line")
    return text


Length = Annotated[float, BeforeValidator(read_length)]
Above = Annotated[Length, Field(gt=0)]
NotBelow = Annotated[Length, Field(ge=0)]
Number = Annotated[float, BeforeValidator(_finite)]
Positive = Annotated[Number, Field(gt=0)]
Unsigned = Annotated[Number, Field(ge=0)]
Share = Annotated[Number, Field(ge=0, le=1)]
Whole = Annotated[int, Field(strict=True)]
Count = Annotated[int, Field(strict=True, ge=0)]
YesNo = Annotated[bool, Field(strict=True)]
# What a person reads: names and titles stand in lists, on sheets and on terminals.
Title = Annotated[str, AfterValidator(_shown)]
FileName = Annotated[str, Field(min_length=1, max_length=80, pattern=r"^[a-z0-9-]+$")]


class Table(BaseModel):
    """A table of a file; a key that is not known is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True)


def _written(field: Described) -> Any:  # noqa: ANN401
    """The type of a field as files write it; words stay words."""
    ways: dict[Any, Any] = {int: Whole, bool: YesNo, float: Number}
    ways |= {"rooms": dict[str, FloorPattern], "styles": dict[str, str]}
    ways |= {"surface_field": Annotated[float, BeforeValidator(_kilogauss)]}
    lengths: dict[Any, Any] = {Span: tuple[Length, Length], tuple[float, ...]: tuple[Length, ...]}
    if field.key.is_length:
        return lengths.get(field.kind, Length)
    return ways.get(field.name) or ways.get(field.kind) or field.kind


def _keys_of(cls: type) -> Any:  # noqa: ANN401 - a base class
    """A table with the keys of a dataclass, none of which need be given."""
    found: dict[str, Any] = {f.name: (Annotated[_written(f) | None, f.key], None) for f in described(cls)}
    return create_model(f"{cls.__name__}Keys", __base__=Table, **found)


class GridTable(_keys_of(Grid)):  # type: ignore[misc]
    """`[grid]`: only what differs from the defaults."""


class FloorTable(_keys_of(Floor)):  # type: ignore[misc]
    """`[floor]`."""


class DoorwayTable(_keys_of(DoorwaySize)):  # type: ignore[misc]
    """`[doorway]`."""


class DoorTable(_keys_of(Door)):  # type: ignore[misc]
    """`[door]`: what closes doorways and saddles."""


class ConnectorsTable(_keys_of(Connectors)):  # type: ignore[misc]
    """`[connectors]`: only what differs from the defaults."""


class SurfaceTable(_keys_of(Surface)):  # type: ignore[misc]
    """`[surface]`: only what differs from the defaults."""


class StyleFile(_keys_of(Stonework)):  # type: ignore[misc]
    """What printed tiles are carved as; what is not said is as in dressed stone."""


class SetTable(_keys_of(SetChoices)):  # type: ignore[misc]
    """`[set]`: how a set is made up."""


class Measures(Table):
    """The tables that any file may carry."""

    grid: Annotated[GridTable, Key("Space, wall and base: the measures of a tile.")] = GridTable()
    floor: Annotated[FloorTable, Key("The lines between spaces.")] = FloorTable()
    doorway: Annotated[DoorwayTable, Key("The doorway that ways and openings have unless they say otherwise.")] = (
        DoorwayTable()
    )
    door: Annotated[DoorTable, Key("What closes doorways and saddles.")] = DoorTable()
    connectors: Annotated[ConnectorsTable, Key("What holds the tiles of a set together.")] = ConnectorsTable()
    surface: Annotated[SurfaceTable, Key("What floors and walls look like.")] = SurfaceTable()
    set: Annotated[SetTable, Key("What belongs to the tiles of a set, and what is a piece of its own.")] = SetTable()


def given(table: BaseModel) -> dict[str, Any]:
    """What a table of measures sets, by the names of the fields that it goes over."""
    found = {key: value for key, value in table.model_dump().items() if value is not None and value != {}}
    return {key: tuple(sorted(value.items())) if isinstance(value, dict) else value for key, value in found.items()}
