"""The edits that the page may ask for."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from tilegen.desk.adding import (
    Feature,
    FeatureAway,
    PointWay,
    Shape,
    ShapeAway,
    WayAway,
)
from tilegen.errors import InputError
from tilegen.plans.ways import WayWord

MOST_ACROSS = 200
# Further off than a page shows; a drawing refuses to grow so far.
Coordinate = Annotated[int, Field(strict=True, ge=-10_000, le=10_000)]
CellPlace = tuple[Coordinate, Coordinate]
Side = Literal["north", "east", "south", "west"]


class _Edit(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Paint(_Edit):
    """Cells (column, row from 1; less than 1 lies beyond the drawing) that become one room, or solid ground."""

    do: Literal["paint"]
    cells: Annotated[list[CellPlace], Field(max_length=MOST_ACROSS * MOST_ACROSS)]
    room: Annotated[str, Field(min_length=1, max_length=1)]


class SetWay(_Edit):
    """A way on one side of a cell; kind None takes it away."""

    do: Literal["way"]
    cell: CellPlace
    side: Side
    kind: WayWord | None = None
    leaf: Literal["none", "sliding", "hinged", "lift-out"] | None = None
    head: Literal["flat", "round"] | None = None
    width: Annotated[str, Field(max_length=40)] = ""
    height: Annotated[str, Field(max_length=40)] = ""


class SetWall(_Edit):
    """A wall that no room border implies, put up or taken away."""

    do: Literal["wall"]
    cell: CellPlace
    side: Side
    stands: Annotated[bool, Field(strict=True)]


class Title(_Edit):
    """A room's title; an empty one takes it away."""

    do: Literal["title"]
    room: Annotated[str, Field(min_length=1, max_length=1)]
    title: Annotated[str, Field(max_length=80)]


class Rename(_Edit):
    """The plan's name."""

    do: Literal["name"]
    name: Annotated[str, Field(min_length=1, max_length=200)]


class SetScale(_Edit):
    """What one cell stands for."""

    do: Literal["scale"]
    scale: Literal["10 ft", "5 ft"]


class SetMeasure(_Edit):
    """One measure of the grid, as text with a unit; an empty one goes back to the default."""

    do: Literal["measure"]
    key: Literal["pitch", "wall_thickness", "wall_height", "base_depth", "joint_play"]
    value: Annotated[str, Field(max_length=40)]


Edit = Annotated[
    Paint
    | SetWay
    | SetWall
    | Title
    | Rename
    | SetScale
    | SetMeasure
    | Shape
    | ShapeAway
    | PointWay
    | WayAway
    | Feature
    | FeatureAway,
    Field(discriminator="do"),
]
_EDITS: TypeAdapter[list[Edit]] = TypeAdapter(list[Edit])


def read_edits(data: object) -> list[Edit]:
    """Edits as the page sends them.

    Raises:
        InputError: one that is none of them.
    """
    try:
        return _EDITS.validate_python(data)
    except ValidationError as error:
        fault = error.errors(include_url=False, include_context=False)[0]
        place = ".".join(map(str, fault["loc"]))
        raise InputError("an edit that is not understood", expected=fault["msg"], place=place) from None
