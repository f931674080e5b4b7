"""`[[shape]]` and ways by a point in plans: what the file may hold, and what it means."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

from pydantic import Field, model_validator

from tilegen.errors import InputError
from tilegen.grid import Grid
from tilegen.plans.off_grid_ways import WallWay
from tilegen.plans.shapes import Arc, Circle, Corners, DrawnShape, Hall, Outline
from tilegen.plans.ways import WAYS
from tilegen.reading.models import Number, PlanFile, Table, WayTable
from tilegen.tiles.plate import Opening

# Further off than any drawing reaches.
Cells = Annotated[Number, Field(ge=-1e5, le=1e5)]
Spot = tuple[Cells, Cells]
FORMS = ("circle", "polygon", "hall", "arc")


class CircleTable(Table):
    """`circle = {...}`, in cells from the drawing's top left corner, y down."""

    centre: Spot
    radius: Cells


class HallTable(Table):
    """`hall = {...}`: a straight hall at any angle, from the middle of one end to the middle of the other, in cells."""

    from_: Annotated[Spot, Field(alias="from")]
    to: Spot
    width: Cells


class ArcTable(Table):
    """`arc = {...}`: a curved hall, clockwise from one bearing to the other in degrees (0 north, 90 east).

    radius: of its middle line, in cells.
    """

    centre: Spot
    radius: Cells
    width: Cells
    from_: Annotated[Cells, Field(alias="from")] = 0.0
    to: Cells = 360.0


class ShapeTable(Table):
    """`[[shape]]` of a plan: one of circle, polygon, hall and arc.

    polygon: corners [x, y] in cells, or [x, y, bow]: how far the side from there to the next corner bends outwards in
    its middle (inwards below 0).
    """

    room: str
    circle: CircleTable | None = None
    polygon: list[Spot | tuple[Cells, Cells, Cells]] | None = None
    hall: HallTable | None = None
    arc: ArcTable | None = None

    @model_validator(mode="after")
    def _one_form(self) -> ShapeTable:
        given = [form for form in FORMS if getattr(self, form) is not None]
        if len(given) != 1:
            raise ValueError(f"found {' and '.join(given) or 'no outline'}; expected one of {', '.join(FORMS)}")
        if len(self.room) != 1 or not self.room.isalnum():
            raise ValueError(f'found the room "{self.room}"; expected one letter or digit')
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


class ShapedPlanFile(PlanFile):
    """A whole map, with rooms off the grid."""

    shape: Annotated[list[ShapeTable], Field(default_factory=list)]


def drawn_shapes(tables: Sequence[ShapeTable]) -> list[DrawnShape]:
    """The shapes of a plan, each with its place in the file."""
    return [DrawnShape(t.room, t.outline, f'[[shape]] {n} (room "{t.room}")') for n, t in enumerate(tables, 1)]


def wall_ways(tables: Sequence[WayTable], grid: Grid) -> list[WallWay]:
    """The ways of a plan that are given by a room and a point.

    Raises:
        InputError: measures that no opening has.
    """
    found = []
    for number, table in enumerate(tables, 1):
        if not isinstance(table.at, tuple):
            continue
        place = f'[[way]] {number} (room "{table.room}" at {list(table.at)})'
        opening = _opening(table, grid, place)
        fixed = table.width is not None
        found.append(
            WallWay(
                table.room or "", table.at, table.kind, opening, fixed, None, place, leaf=table.leaf, style=table.style
            )
        )
    return found


def _opening(table: WayTable, grid: Grid, place: str) -> Opening:
    width = grid.doorway.width if table.width is None else table.width
    height = min(grid.doorway.height, grid.wall_height) if table.height is None else table.height
    head = table.head or grid.doorway.head
    if not WAYS[table.kind].stands:
        height, head = grid.wall_height, "flat"
    if width <= 0 or not 0 < height <= grid.wall_height + 1e-9:
        raise InputError(
            f"an opening {width:g} mm wide and {height:g} high",
            expected=f"a width above 0 and a height up to the wall's {grid.wall_height:g} mm",
            place=place,
        )
    if head == "round" and height < width / 2:
        raise InputError(
            f"a round head {height:g} mm high over a width of {width:g}",
            expected="a height of at least half the width",
            place=place,
        )
    return Opening(0.0, width, height, head)
