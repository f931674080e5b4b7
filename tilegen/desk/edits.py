"""Edits to a plan: what the page asks for, as models, and what each does to the plan's text."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, TypeAdapter, ValidationError, model_validator

from tilegen.desk import rooms
from tilegen.desk.document import Document, document_of, number, usual_looks
from tilegen.desk.sketch import MOST_ACROSS, Sketch, line_of, opposite, way_line
from tilegen.errors import InputError
from tilegen.files.tables import FORMS, PlanFile
from tilegen.files.toml import check
from tilegen.model.connectors import ConnectorWord
from tilegen.model.grid import Head, Leaf, Posts, Style
from tilegen.plans.ways import WAYS, PointWayWord, WayWord
from tilegen.tiles.features import FEATURE_KEYS, FEATURES
from tilegen.tiles.shape import SIDES, STEPS

# Further off than a page shows; a drawing refuses to grow so far.
Coordinate = Annotated[int, Field(strict=True, ge=-10_000, le=10_000)]
CellPlace = tuple[Coordinate, Coordinate]
Side = Literal["north", "east", "south", "west"]
Text = Annotated[str, Field(max_length=40)]
Cells = Annotated[float, Field(ge=-10_000, le=10_000, allow_inf_nan=False, strict=True)]
Span = Annotated[float, Field(gt=0, le=10_000, allow_inf_nan=False, strict=True)]
Index = Annotated[int, Field(strict=True, ge=0, le=100_000)]
Spot = tuple[Cells, Cells]


def _is_room(room: str) -> str:
    if not room.isalnum():
        raise ValueError("a room is a letter or a digit")
    return room


Room = Annotated[str, Field(min_length=1, max_length=1), AfterValidator(_is_room)]


class _Edit(BaseModel):
    """An edit, or a part of one. places: its fields that hold points, boxes or lists of them, or parts that do."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)
    places: ClassVar[tuple[str, ...]] = ("cell", "to")

    def moved(self, west: int, north: int) -> Self:
        """The edit on a drawing that has grown since."""
        if not (west or north):
            return self
        given = {key: value for key in self.places if (value := getattr(self, key, None)) is not None}
        return self.model_copy(update={key: _moved(value, west, north) for key, value in given.items()})


def _moved(value: Any, west: int, north: int) -> Any:  # noqa: ANN401 - a part of an edit, points
    if isinstance(value, _Edit):
        return value.moved(west, north)
    if isinstance(value, list):
        return [_moved(one, west, north) for one in value]
    return (value[0] + west, value[1] + north, *value[2:])


# --- rooms ---


class Paint(_Edit):
    """Cells (column, row from 1; less than 1 lies beyond the drawing) that become one room, or solid ground."""

    do: Literal["paint"]
    cells: Annotated[list[CellPlace], Field(max_length=MOST_ACROSS * MOST_ACROSS)]
    room: Annotated[str, Field(min_length=1, max_length=1)]
    places = ("cells",)


class _OfRoom(_Edit):
    room: Room


class MoveRoom(_OfRoom):
    """A room with all that is in it, and the doors in its walls; by cells."""

    do: Literal["move"]
    by: Spot


class CopyRoom(_OfRoom):
    """The same once more, as another room."""

    do: Literal["copy"]
    to: Room
    by: Spot


class TurnRoom(_OfRoom):
    """A room turned clockwise, its box's north-west corner where it was."""

    do: Literal["turn"]
    quarters: Annotated[int, Field(strict=True, ge=-3, le=3)] = 1


class MirrorRoom(_OfRoom):
    """A room mirrored: along x its east becomes its west."""

    do: Literal["mirror"]
    axis: Literal["x", "y"]


class ResizeRoom(_OfRoom):
    """A room in another box (west, north, width, height in cells)."""

    do: Literal["resize"]
    box: tuple[Cells, Cells, Span, Span]
    places = ("box",)


class DeleteRoom(_OfRoom):
    """A room with all that is in it and the doors in its walls."""

    do: Literal["delete"]


class Title(_OfRoom):
    """A room's title; an empty one takes it away."""

    do: Literal["title"]
    title: Annotated[str, Field(max_length=80)]


class Height(_OfRoom):
    """How high a room's floor lies, or its walls are; an empty value goes back to the default."""

    do: Literal["height"]
    value: Text
    key: Literal["floor", "wall"] = "floor"


class RoomStyle(_OfRoom):
    """How a room is carved when it is printed (style) or what its floor looks like (floor); empty: as the others."""

    do: Literal["room-style"]
    style: Annotated[str, Field(max_length=80)] | None = None
    floor: Text | None = None


class HallOf(_Edit):
    """A straight hall from the middle of one end to the middle of the other, in cells."""

    start: Annotated[Spot, Field(alias="from")]
    end: Annotated[Spot, Field(alias="to")]
    width: Span
    places = ("start", "end")


class HallBetween(HallOf):
    """A hall from room to room: its ends are cut off at their walls and opened. room: a letter of its own."""

    do: Literal["hall"]
    room: Room | None = None


# --- ways and walls ---


class _WayKeys(_Edit):
    leaf: Leaf | None = None
    head: Head | None = None
    style: Style | None = None
    width: Text = ""
    height: Text = ""

    def keys(self, kind: str, usual: Mapping[str, str]) -> dict[str, Any]:
        """What its table holds beside its place; usual: what a way is that says nothing."""
        takes = WAYS[kind].takes
        given = {key: getattr(self, key) for key in ("width", "height", "head", "leaf", "style") if key in takes}
        return {"kind": kind, **{key: value for key, value in given.items() if value not in (None, "", usual.get(key))}}


class SetWay(_WayKeys):
    """A way on one side of a cell; kind None takes it away."""

    do: Literal["way"]
    cell: CellPlace
    side: Side
    kind: WayWord | None = None


class PointWay(_WayKeys):
    """A way through a wall of a room, at a point near it, in cells."""

    do: Literal["point-way"]
    room: Room
    at: Spot
    kind: PointWayWord
    places = ("at",)


class WayChange(_Edit):
    """Other keys of one way; what is not given stays, an empty text goes back to the default."""

    do: Literal["way-change"]
    index: Index
    kind: WayWord | None = None
    leaf: Leaf | Literal[""] | None = None
    head: Head | Literal[""] | None = None
    style: Style | Literal[""] | None = None
    width: Text | None = None
    height: Text | None = None


class WaySlide(_Edit):
    """One way to another wall: to a side of a cell, or to a point of a room's wall."""

    do: Literal["way-slide"]
    index: Index
    cell: CellPlace | None = None
    side: Side | None = None
    room: Room | None = None
    at: Spot | None = None
    places = ("cell", "at")

    @model_validator(mode="after")
    def _one_place(self) -> WaySlide:
        if (self.cell is None) != (self.side is None) or (self.cell is None) == (self.at is None):
            raise ValueError("a way has cell and side, or at")
        return self


class SetWall(_Edit):
    """A wall that no room border implies, put up or taken away."""

    do: Literal["wall"]
    cell: CellPlace
    side: Side
    stands: Annotated[bool, Field(strict=True)]


# --- shapes ---


class CircleOf(_Edit):
    """A circle, in cells from the drawing's top left corner, y down."""

    centre: Spot
    radius: Span
    places = ("centre",)


class ArcOf(_Edit):
    """A curved hall, clockwise from one bearing to the other in degrees (0 north, 90 east)."""

    centre: Spot
    radius: Span
    width: Span
    start: Annotated[Cells, Field(alias="from")] = 0.0
    end: Annotated[Cells, Field(alias="to")] = 360.0
    places = ("centre",)


class _Form(_Edit):
    circle: CircleOf | None = None
    hall: HallOf | None = None
    arc: ArcOf | None = None
    polygon: Annotated[list[Spot | tuple[Cells, Cells, Cells]], Field(min_length=3, max_length=500)] | None = None
    places = FORMS

    @model_validator(mode="after")
    def _one_form(self) -> _Form:
        if sum(getattr(self, form) is not None for form in FORMS) != 1:
            raise ValueError("a shape is one of circle, hall, polygon and arc")
        return self

    def form(self) -> dict[str, Any]:
        """The keys of its table."""
        found: dict[str, Any] = _written(self.model_dump(by_alias=True, include=set(FORMS), exclude_none=True))
        return found


def _written(value: Any) -> Any:  # noqa: ANN401 - numbers in lists and tables
    if isinstance(value, dict):
        return {key: _written(one) for key, one in value.items()}
    return [_written(one) for one in value] if isinstance(value, list | tuple) else number(value)


class Shape(_Form):
    """A shape that becomes part of a room."""

    do: Literal["shape"]
    room: Room


class ShapeChange(_Form):
    """Another form of one shape."""

    do: Literal["shape-change"]
    index: Index


# --- features ---


def _known_feature(kind: str) -> str:
    if kind not in FEATURES:
        raise ValueError(f"a feature is one of {', '.join(FEATURES)}")
    return kind


def _known_key(key: str) -> str:
    if key not in FEATURE_KEYS or key in ("at", "size"):
        raise ValueError(f"the keys of a feature are {', '.join(FEATURE_KEYS)}")
    return key


Values = dict[Annotated[str, AfterValidator(_known_key)], bool | Coordinate | Text]
Size = Annotated[list[Text], Field(max_length=2)]


class Feature(_Edit):
    """A feature on a cell or on all from `cell` to `to`.

    at: its centre in spaces from the north-west corner of the first cell. size: one length, or
    two: west to east, north to south. values: its other keys.
    """

    do: Literal["feature"]
    kind: Annotated[str, AfterValidator(_known_feature)]
    cell: CellPlace
    to: CellPlace | None = None
    at: Spot | None = None
    size: Size = []
    values: Values = {}


class FeatureChange(_Edit):
    """Another size or other values of one feature; an empty text takes a key away."""

    do: Literal["feature-change"]
    index: Index
    size: Size | None = None
    values: Values = {}


class FeatureMove(_Edit):
    """One feature elsewhere: its first cell, and its centre there if that is given."""

    do: Literal["feature-move"]
    index: Index
    cell: CellPlace
    at: Spot | None = None


class FeatureTurn(_Edit):
    """One feature turned clockwise where it is."""

    do: Literal["feature-turn"]
    index: Index
    quarters: Annotated[int, Field(strict=True, ge=-3, le=3)] = 1


class Away(_Edit):
    """One way, shape or feature less, by its number from 0."""

    do: Literal["way-away", "shape-away", "feature-away"]
    index: Index


# --- the plan as a whole ---


class Rename(_Edit):
    """The plan's name."""

    do: Literal["name"]
    name: Annotated[str, Field(min_length=1, max_length=200)]


class SetScale(_Edit):
    """What one cell stands for."""

    do: Literal["scale"]
    scale: Literal["10 ft", "5 ft"]


class SetMeasure(_Edit):
    """One measure, as text with a unit; an empty one goes back to the default."""

    do: Literal["measure"]
    key: Literal[
        "pitch", "wall_thickness", "wall_height", "base_depth", "joint_play", "doorway_width", "doorway_height"
    ]
    value: Text


class SetChoice(_Edit):
    """Whether posts or doorways are a part of their tiles; the default leaves the key out."""

    do: Literal["choice"]
    key: Literal["posts", "doorways"]
    value: Posts


class SetSurface(_Edit):
    """What floors and walls look like; an empty value goes back to the default."""

    do: Literal["surface"]
    key: Literal["style", "detail", "floor", "walls", "relief"]
    value: Annotated[str, Field(max_length=80)]


class SetConnector(_Edit):
    """What holds tiles together, and measures of it; None takes it all away."""

    do: Literal["connector"]
    kind: ConnectorWord | None
    values: dict[Annotated[str, Field(pattern=r"^[a-z_]{1,40}$")], bool | Cells | Text] = {}


Edit = Annotated[
    Paint
    | MoveRoom
    | CopyRoom
    | TurnRoom
    | MirrorRoom
    | ResizeRoom
    | DeleteRoom
    | Title
    | Height
    | RoomStyle
    | HallBetween
    | SetWay
    | PointWay
    | WayChange
    | WaySlide
    | SetWall
    | Shape
    | ShapeChange
    | Feature
    | FeatureChange
    | FeatureMove
    | FeatureTurn
    | Away
    | Rename
    | SetScale
    | SetMeasure
    | SetChoice
    | SetSurface
    | SetConnector,
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
        place = ".".join(map(str, error.errors()[0]["loc"]))
        raise InputError("the page sent a change that is not known", cure="Reload the page", place=place) from None


@dataclass(frozen=True)
class Edited:
    """A plan after some edits; said: what was removed because of them; grown: cells added to the west and north."""

    document: Document
    said: tuple[str, ...]
    grown: tuple[int, int]

    @property
    def text(self) -> str:
        """The plan's text."""
        return self.document.text


def apply_edits(plan: str | Document, edits: Sequence[Edit]) -> Edited:
    """The plan after some edits that were all drawn on it as it is: those after one that makes it grow move along.

    Raises:
        InputError: the text is no plan, or an edit can't be made.
    """
    sketch = Sketch(parse(plan) if isinstance(plan, str) else plan)
    # What goes by its number is known by the number it had.
    ordered = sorted(edits, key=lambda edit: (0, 0) if not isinstance(edit, Away) else (1, -edit.index))
    for edit in ordered:
        _WORK[type(edit)](sketch, edit.moved(*sketch.grown))
    return Edited(sketch.document, tuple(sketch.said), sketch.grown)


def parse(text: str) -> Document:
    """A plan's text in its parts; what its tables mean may still be wrong.

    Raises:
        InputError: broken TOML, no drawing in it, or a table that no plan has.
    """
    document = document_of(text)
    check(document.data, PlanFile, "")
    return document


def name_in(text: str) -> str:
    """A plan's name, of any text."""
    try:
        return str(document_of(text).data.get("name", ""))
    except InputError:
        return ""


# --- what each does ---


def _paint(sketch: Sketch, edit: Paint) -> None:
    if edit.room != ".":
        _is_room_or_refuse(edit.room)
    joined = sketch.joined()
    sketch.paint(dict.fromkeys(edit.cells, edit.room))
    sketch.prune(joined)


def _is_room_or_refuse(room: str) -> None:
    if not room.isalnum():
        raise InputError(f'"{room}" can\'t be a room', cure="Use a letter or a digit", place="drawing")


def _set_way(sketch: Sketch, edit: SetWay) -> None:
    line = line_of(edit.cell, edit.side)
    document = sketch.document
    old = [k for k, table in enumerate(document.tables("way")) if way_line(table) == line]
    if edit.kind is None:
        sketch.document = document.without("way", old)
        return
    values = {**_from_floor(sketch, edit.cell, edit.side), **edit.keys(edit.kind, usual_looks(document.data))}
    sketch.document = document.without("way", old).plus("way", values)


def _from_floor(sketch: Sketch, cell: CellPlace, side: str) -> dict[str, Any]:
    """A line as it is written: from the side of the floor."""
    if sketch.room_at(cell) == ".":
        step = STEPS[SIDES.index(side)]
        cell, side = (cell[0] + step[0], cell[1] + step[1]), opposite(side)
    return {"cell": list(cell), "side": side}


def _point_way(sketch: Sketch, edit: PointWay) -> None:
    values = {"room": edit.room, "at": _written(edit.at), **edit.keys(edit.kind, usual_looks(sketch.document.data))}
    sketch.document = sketch.document.plus("way", values)


def _way_change(sketch: Sketch, edit: WayChange) -> None:
    table = sketch.table("way", edit.index)
    kind = edit.kind or str(table["kind"])
    takes = WAYS[kind].takes
    values: dict[str, Any] = {"kind": kind}
    usual = usual_looks(sketch.document.data)
    for key in ("leaf", "head", "style", "width", "height"):
        given = getattr(edit, key)
        if key not in takes:
            values[key] = None
        elif given is not None:
            values[key] = None if given in ("", usual.get(key)) else given
    sketch.document = sketch.document.changed("way", edit.index, values)


def _way_slide(sketch: Sketch, edit: WaySlide) -> None:
    table = sketch.table("way", edit.index)
    if edit.cell is not None and edit.side is not None:
        line = line_of(edit.cell, edit.side)
        if any(way_line(t) == line and k != edit.index for k, t in enumerate(sketch.document.tables("way"))):
            raise InputError("there is a way on this line already", cure="Choose another line")
        values: dict[str, Any] = {**_from_floor(sketch, edit.cell, edit.side), "room": None, "at": None}
    else:
        was = way_line(table)
        beside = [room for room in sketch.rooms_beside(was) if room != "."] if was else []
        room = edit.room or table.get("room") or next(iter(beside), ".")
        values = {"cell": None, "side": None, "room": room, "at": _written(edit.at or ())}
    sketch.document = sketch.document.changed("way", edit.index, values)


def _set_wall(sketch: Sketch, edit: SetWall) -> None:
    line = line_of(edit.cell, edit.side)
    old = [k for k, t in enumerate(sketch.document.tables("wall")) if line_of(t["cell"], t["side"]) == line]
    sketch.document = sketch.document.without("wall", old)
    if edit.stands:
        sketch.document = sketch.document.plus("wall", {"cell": list(edit.cell), "side": edit.side})
    sketch.prune()


def _shape(sketch: Sketch, edit: Shape) -> None:
    sketch.hold(edit.form())
    sketch.document = sketch.document.plus("shape", {"room": edit.room, **edit.moved(*sketch.just_grown).form()})
    sketch.prune()


def _shape_change(sketch: Sketch, edit: ShapeChange) -> None:
    sketch.table("shape", edit.index)
    sketch.hold(edit.form())
    form = edit.moved(*sketch.just_grown).form()
    others = {key: None for key in FORMS if key not in form}
    sketch.document = sketch.document.changed("shape", edit.index, {**others, **form})
    sketch.prune()


def _feature(sketch: Sketch, edit: Feature) -> None:
    values: dict[str, Any] = {"kind": edit.kind, "cell": list(edit.cell)}
    if edit.to is not None and edit.to != edit.cell:
        pairs = list(zip(edit.cell, edit.to, strict=True))
        values["cell"], values["to"] = [min(pair) for pair in pairs], [max(pair) for pair in pairs]
    if edit.at is not None:
        values["at"] = _written(edit.at)
    values |= _size(edit.size) | {k: v for k, v in _plain(edit.values).items() if v is not None}
    sketch.document = sketch.document.plus("feature", values)


def _size(size: Sequence[str]) -> dict[str, Any]:
    given = [text.strip() for text in size if text.strip()]
    return {"size": given if len(given) > 1 else given[0]} if given else {}


def _plain(values: Mapping[str, Any]) -> dict[str, Any]:
    """Values as they are written; what is empty is None."""
    said = {key: value.strip() if isinstance(value, str) else value for key, value in values.items()}
    return {key: None if value == "" or value is False else value for key, value in said.items()}


def _feature_change(sketch: Sketch, edit: FeatureChange) -> None:
    sketch.table("feature", edit.index)
    values = _plain(edit.values)
    if edit.size is not None:
        values = {"size": None, **_size(edit.size), **values}
    sketch.document = sketch.document.changed("feature", edit.index, values)


def _feature_move(sketch: Sketch, edit: FeatureMove) -> None:
    table = sketch.table("feature", edit.index)
    values: dict[str, Any] = {"cell": list(edit.cell)}
    if "to" in table:
        values["to"] = [edit.cell[k] + table["to"][k] - table["cell"][k] for k in (0, 1)]
    if edit.at is not None:
        values["at"] = _written(edit.at)
    sketch.document = sketch.document.changed("feature", edit.index, values)


def _feature_turn(sketch: Sketch, edit: FeatureTurn) -> None:
    table = sketch.table("feature", edit.index)
    turned = table
    for _ in range(edit.quarters % 4):
        turned = rooms.feature_turned(turned, sketch.spaces)
    gone = {key: None for key in table if key not in turned}
    sketch.document = sketch.document.changed("feature", edit.index, {**gone, **turned})


def _away(sketch: Sketch, edit: Away) -> None:
    name = edit.do.removesuffix("-away")
    sketch.table(name, edit.index)
    sketch.document = sketch.document.without(name, [edit.index])
    if name == "shape":
        sketch.prune()


def _title(sketch: Sketch, edit: Title) -> None:
    sketch.put(["rooms", edit.room], edit.title)


def _height(sketch: Sketch, edit: Height) -> None:
    sketch.put(["heights", edit.room, edit.key], edit.value.strip())


def _room_style(sketch: Sketch, edit: RoomStyle) -> None:
    if edit.style is not None:
        sketch.put(["surface", "styles", edit.room], edit.style)
    if edit.floor is not None:
        sketch.put(["surface", "rooms", edit.room], edit.floor)


def _measure(sketch: Sketch, edit: SetMeasure) -> None:
    table, _, key = edit.key.rpartition("_") if edit.key.startswith("doorway_") else ("grid", "", edit.key)
    sketch.put([table, key], edit.value.strip())


def _connector(sketch: Sketch, edit: SetConnector) -> None:
    kind = None if edit.kind == "none" else edit.kind
    if kind is None:
        for key in list(sketch.document.data.get("connectors", {})):
            sketch.put(["connectors", key], None)
        return
    for key, value in {"kind": kind, **edit.values}.items():
        sketch.put(["connectors", key], value)


_WORK: dict[type[BaseModel], Callable[[Sketch, Any], None]] = {
    Paint: _paint,
    MoveRoom: lambda sketch, edit: rooms.move(sketch, edit.room, edit.by),
    CopyRoom: lambda sketch, edit: rooms.copy(sketch, edit.room, edit.to, edit.by),
    TurnRoom: lambda sketch, edit: rooms.turn(sketch, edit.room, edit.quarters),
    MirrorRoom: lambda sketch, edit: rooms.mirror(sketch, edit.room, edit.axis),
    ResizeRoom: lambda sketch, edit: rooms.resize(sketch, edit.room, edit.box),
    DeleteRoom: lambda sketch, edit: rooms.delete(sketch, edit.room),
    HallBetween: lambda sketch, edit: rooms.hall(sketch, edit.start, edit.end, edit.width, edit.room),
    Title: _title,
    Height: _height,
    RoomStyle: _room_style,
    SetWay: _set_way,
    PointWay: _point_way,
    WayChange: _way_change,
    WaySlide: _way_slide,
    SetWall: _set_wall,
    Shape: _shape,
    ShapeChange: _shape_change,
    Feature: _feature,
    FeatureChange: _feature_change,
    FeatureMove: _feature_move,
    FeatureTurn: _feature_turn,
    Away: _away,
    Rename: lambda sketch, edit: sketch.put(["name"], edit.name),
    SetScale: lambda sketch, edit: sketch.put(["scale"], edit.scale),
    SetMeasure: _measure,
    SetChoice: lambda sketch, edit: sketch.put(["set", edit.key], None if edit.value == "fixed" else edit.value),
    SetSurface: lambda sketch, edit: sketch.put(["surface", edit.key], edit.value.strip()),
    SetConnector: _connector,
}
