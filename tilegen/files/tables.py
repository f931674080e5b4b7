"""What plan and profile files may hold, as models that check what they read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, Literal

from pydantic import Field, create_model, model_validator

from tilegen.errors import either
from tilegen.model.grid import Head, Leaf, Style
from tilegen.model.keys import Key
from tilegen.model.tables import Length, Measures, Number, Table, Title, Whole, YesNo, wrong
from tilegen.plans.shapes import Arc, Circle, Corners, Hall, Outline
from tilegen.plans.ways import WayWord, ways_said
from tilegen.tiles.features import FEATURE_KEYS, FEATURES, key_said, kinds_said

SideName = Literal["north", "east", "south", "west"]
CornerName = Literal["north-east", "south-east", "south-west", "north-west"]
EdgeRun = Annotated[str, Field(pattern=r"^[0-9]{1,4}-[0-9]{1,4}$")]
CellPlace = tuple[Whole, Whole]
_FEATURE_VALUES: dict[str, Any] = {
    "spot": tuple[Number, Number] | None,
    "size": Length | tuple[Length, Length] | None,
    "length": Length | None,
    "side": SideName | None,
    "count": Whole | None,
    "yes": YesNo | None,
}
_FEATURE_FIELDS: dict[str, Any] = {
    "kind": (Annotated[Literal[tuple(FEATURES)], Key(kinds_said())], ...),
    **{key: (Annotated[_FEATURE_VALUES[sort.takes], Key(key_said(key))], None) for key, sort in FEATURE_KEYS.items()},
}


class FeatureTable(create_model("FeatureKeys", __base__=Table, **_FEATURE_FIELDS)):  # type: ignore[misc]
    """`[[feature]]` of a profile: all keys that some kind of feature takes."""

    if TYPE_CHECKING:
        kind: str
        at: tuple[float, float] | None
        size: float | tuple[float, float] | None


class OpeningTable(Table):
    """`[[opening]]` of a profile."""

    wall: Annotated[SideName | Whole, Key("The side in which the opening is, or the number of an outline's edge.")]
    kind: Annotated[Literal["doorway"], Key("What kind of opening it is.")] = "doorway"
    width: Annotated[Length | None, Key("The width of the opening; that of [doorway] if absent.")] = None
    height: Annotated[Length | None, Key("The height of the opening above its floor; that of [doorway] if absent.")] = (
        None
    )
    head: Annotated[Head | None, Key("How the opening ends at the top; that of [doorway] if absent.")] = None
    at: Annotated[
        Number | None,
        Key("The centre of the opening, in spaces from the west or north end of its side; the middle if absent."),
    ] = None
    leaf: Annotated[Leaf | None, Key("What closes the opening; that of [door] if absent.")] = None
    style: Annotated[Style | None, Key("How the leaf looks; that of [door] if absent.")] = None


class TileTable(Table):
    """`[tile]` of a profile."""

    size: Annotated[
        tuple[Number, Number] | None, Key("How many spaces the tile has from west to east and from south to north.")
    ] = None
    outline: Annotated[
        list[tuple[Number, Number]] | None, Key("The corners of the tile in spaces, x to the east and y to the north.")
    ] = None
    outline_file: Annotated[
        Annotated[str, Field(min_length=1, max_length=200)] | None,
        Key("A DXF or SVG drawing of the tile's outline, beside this file."),
    ] = None
    holes: Annotated[
        list[list[tuple[Number, Number]]], Key("Holes in an outline of points: a list of corners for each.")
    ] = []
    round: Annotated[
        Length | list[tuple[Whole, Length]] | None,
        Key("The radius of an outline's corners: one for all, or pairs of corner and radius."),
    ] = None
    walls: Annotated[
        list[SideName | Whole | EdgeRun],
        Key("The sides that carry a wall (north, east, south, west), or the numbers of an outline's edges."),
    ] = []
    posts: Annotated[list[CornerName], Key("The corners that carry a post as thick as a wall.")] = []


class ProfileFile(Measures):
    """One tile."""

    name: Annotated[
        Title,
        Field(min_length=1, max_length=80),
        Key("The name of the tile; its files are called so, and their folder like this file."),
    ]
    tile: Annotated[TileTable, Key("What the tile is: its size in spaces, or an outline.")]
    opening: Annotated[list[OpeningTable], Key("A way through one of the tile's walls.")] = []
    feature: Annotated[
        list[FeatureTable], Key("What stands on the tile's floor or is sunk into it; for tiles with a size.")
    ] = []


_HOW_PLACED = 'Write either cell = [column, row] and side = "east", or room = "A" and at = [x, y]'


class WayTable(Table):
    """`[[way]]` of a plan: by cell and side (at: its centre in spaces), or by room and point (at: [x, y] in cells)."""

    cell: Annotated[
        CellPlace | None, Key("The column and the row of the cell, counted from 1 at the drawing's top left.")
    ] = None
    side: Annotated[SideName | None, Key("The side of the cell on which the way lies.")] = None
    room: Annotated[str | None, Key("In place of cell and side: the room whose wall the way goes through.")] = None
    kind: Annotated[WayWord, Key(ways_said())]
    width: Annotated[Length | None, Key("The width of the opening; that of [doorway] if absent.")] = None
    height: Annotated[Length | None, Key("The height of the opening above its floor; that of [doorway] if absent.")] = (
        None
    )
    head: Annotated[Head | None, Key("How the opening ends at the top; that of [doorway] if absent.")] = None
    at: Annotated[
        Number | tuple[Number, Number] | None,
        Key(
            "The centre of the way, in spaces from the wall's west or north end; with room, a point near it, in cells."
        ),
    ] = None
    leaf: Annotated[Leaf | None, Key("What closes the opening; that of [door] if absent.")] = None
    style: Annotated[Style | None, Key("How the leaf looks; that of [door] if absent.")] = None

    @model_validator(mode="after")
    def _placed(self) -> WayTable:
        by_point = isinstance(self.at, tuple)
        if by_point and (self.room is None or self.cell is not None or self.side is not None):
            raise wrong("a way at a point needs a room, and neither cell nor side", _HOW_PLACED)
        if not by_point and (self.cell is None or self.side is None or self.room is not None):
            raise wrong("it is not clear where this way is", _HOW_PLACED)
        return self


class WallTable(Table):
    """`[[wall]]` of a plan."""

    cell: Annotated[CellPlace, Key("The column and the row of the cell, counted from 1 at the drawing's top left.")]
    side: Annotated[SideName, Key("The side of the cell on which the wall stands.")]


class PlanFeatureTable(FeatureTable):
    """`[[feature]]` of a plan."""

    cell: Annotated[CellPlace, Key("The column and the row of the cell, counted from 1 at the drawing's top left.")]
    to: Annotated[CellPlace | None, Key("The last cell of a feature that is on more than one.")] = None


class RoomHeightsTable(Table):
    """`[heights.LETTER]` of a plan: a room's walls above its floor, and its floor above the lowest one."""

    wall: Annotated[Length | None, Key("The height of the room's walls above its own floor.")] = None
    floor: Annotated[Length, Key("The height of the room's floor above the lowest floor.")] = 0.0


# Further off than any drawing reaches.
Cells = Annotated[Number, Field(ge=-1e5, le=1e5)]
Spot = tuple[Cells, Cells]
FORMS = ("circle", "polygon", "hall", "arc")


class CircleTable(Table):
    """`circle = {...}`, in cells from the drawing's top left corner, y down."""

    centre: Annotated[Spot, Key("The centre in cells from the drawing's top left corner, across and down.")]
    radius: Annotated[Cells, Key("The radius in cells.")]


class HallTable(Table):
    """`hall = {...}`: a straight hall at any angle, from the middle of one end to the middle of the other, in cells."""

    from_: Annotated[
        Spot,
        Field(alias="from"),
        Key("The middle of one end, in cells from the drawing's top left corner, across and down."),
    ]
    to: Annotated[
        Spot, Key("The middle of the other end, in cells from the drawing's top left corner, across and down.")
    ]
    width: Annotated[Cells, Key("The width of the hall in cells.")]


class ArcTable(Table):
    """`arc = {...}`: a curved hall, clockwise from one bearing to the other in degrees (0 north, 90 east)."""

    centre: Annotated[Spot, Key("The centre in cells from the drawing's top left corner, across and down.")]
    radius: Annotated[Cells, Key("The radius of the hall's middle line, in cells.")]
    width: Annotated[Cells, Key("The width of the hall in cells.")]
    from_: Annotated[
        Cells,
        Field(alias="from"),
        Key("The bearing at which the hall begins, in degrees: 0 is north, 90 is east."),
    ] = 0.0
    to: Annotated[Cells, Key("The bearing at which the hall ends, in degrees, clockwise from where it begins.")] = 360.0


class ShapeTable(Table):
    """`[[shape]]` of a plan: one of circle, polygon, hall and arc.

    polygon: corners [x, y] in cells, or [x, y, bow]: how far the side from there to the next corner bends outwards in
    its middle (inwards below 0).
    """

    room: Annotated[str, Key("The letter of the room that the shape belongs to.")]
    circle: Annotated[CircleTable | None, Key("A round room.")] = None
    polygon: Annotated[
        list[Spot | tuple[Cells, Cells, Cells]] | None,
        Key("Corners in cells; a third number says how far the side after the corner bends outwards, inwards below 0."),
    ] = None
    hall: Annotated[HallTable | None, Key("A straight hall at any angle.")] = None
    arc: Annotated[ArcTable | None, Key("A curved hall.")] = None

    @model_validator(mode="after")
    def _one_form(self) -> ShapeTable:
        given = [form for form in FORMS if getattr(self, form) is not None]
        if len(given) != 1:
            said = " and ".join(given) + " are given for one shape" if given else "the shape has no outline"
            raise wrong(said, f"Give one of {either(FORMS)}")
        if len(self.room) != 1 or not self.room.isalnum():
            raise wrong(f'"{self.room}" can\'t be a room', "Use one letter or digit")
        return self

    @property
    def outline(self) -> Outline:
        """The outline in plain values."""
        if self.circle is not None:
            return Circle(self.circle.centre, self.circle.radius)
        if self.hall is not None:
            return Hall(self.hall.from_, self.hall.to, self.hall.width)
        if self.arc is not None:
            return Arc(self.arc.centre, self.arc.radius, self.arc.width, self.arc.from_, self.arc.to)
        corners = self.polygon or []
        if len(corners) > 1 and corners[0][:2] == corners[-1][:2]:
            corners = corners[:-1]
        return Corners(tuple((c[0], c[1]) for c in corners), tuple(float(c[2]) if len(c) > 2 else 0.0 for c in corners))


class PlanFile(Measures):
    """A whole map."""

    name: Annotated[
        Title, Field(min_length=1, max_length=200), Key("The name of the plan in words, as the report gives it.")
    ]
    scale: Annotated[
        Literal["10 ft", "5 ft"],
        Key("10 ft: one letter per tile; 5 ft: one letter per space, and a tile is a block of 2 x 2 letters."),
    ] = "10 ft"
    drawing: Annotated[
        str, Key("The map, one character per cell: a full stop is solid ground, a letter or digit is a room.")
    ]
    rooms: Annotated[dict[str, Title], Key("Titles of rooms, by letter.")] = {}
    way: Annotated[list[WayTable], Key("A way through a wall.")] = []
    wall: Annotated[list[WallTable], Key("A wall that no room border implies.")] = []
    feature: Annotated[list[PlanFeatureTable], Key("What stands on a floor or is sunk into it.")] = []
    heights: Annotated[
        dict[str, RoomHeightsTable], Key("Rooms whose floor or walls have a height of their own, by letter.")
    ] = {}
    shape: Annotated[list[ShapeTable], Key("A room, or a part of one, that is off the grid.")] = []
