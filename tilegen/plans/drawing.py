"""A plan as drawn: which cell belongs to which room, and what stands on every line between cells."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError, nearest
from tilegen.grid import Grid, Head, Leaf, Style
from tilegen.plans.outlines import DrawnShape
from tilegen.plans.shapes import OffGrid, survey
from tilegen.plans.wallways import WallWay, line_beside, located_ways
from tilegen.tiles.blocks import PLAIN, Extra
from tilegen.tiles.leaves import clear_width
from tilegen.tiles.openings import Ends, check_opening, make_opening, mirrored, shrunk
from tilegen.tiles.plate import Opening
from tilegen.tiles.shape import OPEN, SIDES, STEPS, WALL, Side

Scale = Literal["10 ft", "5 ft"]
WayKind = Literal["open", "doorway", "saddle"]
LineKindName = Literal["nothing", "wall", "doorway", "saddle"]
Codes = npt.NDArray[np.int16]
NOTHING, PLAIN_WALL = 0, 1
# Which array a line stands in (across or down), its row and its column there.
Line = tuple[str, int, int]


@dataclass(frozen=True, slots=True)
class Way:
    """A way through a wall, as written: cell (column, row from 1), side, kind and what differs from the grid."""

    cell: tuple[int, int]
    side: str
    kind: WayKind
    width: float | None = None
    height: float | None = None
    head: Head | None = None
    at: float | None = None
    place: str = ""
    leaf: Leaf | None = None
    style: Style | None = None


@dataclass(frozen=True, slots=True)
class ExtraWall:
    """A wall that no room border implies."""

    cell: tuple[int, int]
    side: str
    place: str = ""


@dataclass(frozen=True, slots=True)
class LineKind:
    """What stands on a line; an opening is measured from the line's west or north end."""

    name: LineKindName
    opening: Opening | None = None


@dataclass(frozen=True)
class Drawing:
    """A plan worked out.

    rooms: (rows, columns) code point of each cell's room, 0 for solid ground. across: (rows + 1, columns)
    kind of the line above each row's cells; down: (rows, columns + 1) kind of the line left of each
    column's cells; both are indexes into `kinds`. extras: (rows, columns) index into `extra_kinds`: what is on each
    cell's floor and how high that and its walls are; None where no cell has any of it. off_grid: what shapes make of
    it, if it has any: a cell of which a shape has a part counts as a cell of the room that has most of it. wall_ways:
    ways through slanting and curved walls.
    """

    name: str
    scale: Scale
    grid: Grid
    rooms: npt.NDArray[np.uint32]
    across: Codes
    down: Codes
    kinds: tuple[LineKind, ...]
    titles: Mapping[str, str] = field(default_factory=dict)
    saddles: tuple[Way, ...] = ()
    ways: tuple[Way, ...] = ()
    extras: Codes | None = None
    extra_kinds: tuple[Extra, ...] = (PLAIN,)
    off_grid: OffGrid | None = None
    wall_ways: tuple[WallWay, ...] = ()

    @property
    def cell_spaces(self) -> int:
        """Spaces along one side of a cell."""
        return self.grid.spaces if self.scale == "10 ft" else 1

    @property
    def cell_side(self) -> float:
        """Nominal side of a cell in mm."""
        return self.cell_spaces * self.grid.pitch

    def side_codes(self) -> tuple[tuple[Side, ...], Codes, Codes]:
        """What a line of each kind is to the cell beside it.

        Returns the distinct sides, and for every line kind the index of its side as walked clockwise by the
        cell to the south or west of it (walked from its west or north end) and by the cell on the other side.
        """
        sides: dict[Side, int] = {OPEN: 0, WALL: 1}
        forward, backward = [], []
        for kind in self.kinds:
            first = second = OPEN if kind.name in ("nothing", "saddle") else WALL
            if kind.name == "doorway" and kind.opening is not None:
                # The look of a leaf is no matter of the tile that carries it.
                opening = replace(kind.opening, style="planks")
                first, second = Side("doorway", opening), Side("doorway", mirrored(opening, self.cell_side))
            forward.append(sides.setdefault(first, len(sides)))
            backward.append(sides.setdefault(second, len(sides)))
        return tuple(sides), np.array(forward, np.int16), np.array(backward, np.int16)


def draw(
    *,
    name: str,
    scale: Scale,
    grid: Grid,
    rooms: npt.NDArray[np.uint32],
    titles: Mapping[str, str],
    ways: Iterable[Way] = (),
    walls: Iterable[ExtraWall] = (),
    shapes: Iterable[DrawnShape] = (),
    wall_ways: Iterable[WallWay] = (),
) -> Drawing:
    """Work out the lines of a plan: walls where neighbouring cells differ, extra walls, ways through them.

    rooms: (rows, columns) code points, 0 for solid ground.

    Raises:
        InputError: a wall or a way that can't stand where it is written; a title without a room.
        ValueError: an array without rows and columns; another scale.
    """
    if rooms.ndim != 2 or not rooms.size:
        raise ValueError(f"rooms of shape {rooms.shape}: expected (rows, columns), at least 1 x 1")
    if scale not in get_args(Scale):
        raise ValueError(f"a scale of {scale!r}: expected one of {', '.join(get_args(Scale))}")
    drafting = _Drafting(name, scale, grid, rooms, dict(titles))
    drafting.lay_shapes(tuple(shapes))
    return drafting.finish(tuple(ways), tuple(walls), tuple(wall_ways))


class _Drafting:
    """The state while a drawing is worked out."""

    def __init__(
        self, name: str, scale: Scale, grid: Grid, rooms: npt.NDArray[np.uint32], titles: dict[str, str]
    ) -> None:
        self.name, self.scale, self.grid, self.rooms, self.titles = name, scale, grid, rooms, titles
        rows, columns = rooms.shape
        padded = np.zeros((rows + 2, columns + 2), rooms.dtype)
        padded[1:-1, 1:-1] = rooms
        self.across = (padded[:-1, 1:-1] != padded[1:, 1:-1]).astype(np.int16)
        self.down = (padded[1:-1, :-1] != padded[1:-1, 1:]).astype(np.int16)
        self.kinds: dict[LineKind, int] = {LineKind("nothing"): NOTHING, LineKind("wall"): PLAIN_WALL}
        self.side = (grid.spaces if scale == "10 ft" else 1) * grid.pitch
        self.off_grid: OffGrid | None = None

    def lay_shapes(self, shapes: tuple[DrawnShape, ...]) -> None:
        if shapes:
            found = survey(self.rooms, shapes, self.side)
            self.rooms, self.across, self.down, self.off_grid = found.rooms, found.across, found.down, found.off_grid

    def finish(
        self, ways: tuple[Way, ...], walls: tuple[ExtraWall, ...], wall_ways: tuple[WallWay, ...] = ()
    ) -> Drawing:
        self._check_titles()
        located = located_ways(wall_ways, self.off_grid, self.side)
        for wall in walls:
            self._add_wall(wall)
        kept: dict[Line, tuple[Way, LineKind]] = {}
        for way in ways:
            self._add_way(way, kept)
        for (array, row, column), (_, kind) in kept.items():
            lines = self.across if array == "across" else self.down
            lines[row, column] = self.kinds.setdefault(kind, len(self.kinds))
        first = (*(way for way, _ in kept.values()), *self._stand_ins(located))
        drawing = Drawing(
            self.name,
            self.scale,
            self.grid,
            self.rooms,
            self.across,
            self.down,
            tuple(self.kinds),
            self.titles,
            tuple(way for way in first if way.kind == "saddle"),
            first,
            off_grid=self.off_grid,
            wall_ways=located,
        )
        for line, (way, kind) in kept.items():
            if kind.name == "doorway" and kind.opening is not None:
                self._check_jambs(drawing, line, way, kind.opening)
        return drawing

    def _stand_ins(self, wall_ways: tuple[WallWay, ...]) -> Iterator[Way]:
        """Ways between cells that stand for those through outlines, where only cells are looked at."""
        for way in wall_ways if self.off_grid is not None else ():
            beside = line_beside(way, self.off_grid, self.rooms, self.side) if self.off_grid is not None else None
            if beside is None:
                continue
            stand_in = Way(beside[:2], beside[2], way.kind, place=way.place)
            array, row, column = self._line(stand_in)
            lines = self.across if array == "across" else self.down
            opening = replace(way.opening, centre=self.side / 2)
            kind = LineKind("nothing") if way.kind == "open" else LineKind("doorway", opening)
            lines[row, column] = self.kinds.setdefault(kind, len(self.kinds))
            yield stand_in

    def _check_titles(self) -> None:
        letters = {chr(code) for code in np.unique(self.rooms) if code}
        for letter in self.titles:
            if letter not in letters:
                raise InputError(
                    f'a title for room "{letter}"',
                    expected="a room that is in the drawing",
                    cure=nearest(letter, sorted(letters)),
                    place=f"[rooms] {letter}",
                )

    def _line(self, item: Way | ExtraWall) -> Line:
        """(array, row, column) of the line at a cell's side."""
        column, row = item.cell[0] - 1, item.cell[1] - 1
        rows, columns = self.rooms.shape
        if not (0 <= column < columns and 0 <= row < rows):
            raise InputError(
                f"cell [{item.cell[0]}, {item.cell[1]}]",
                expected=f"a column from 1 to {columns} and a row from 1 to {rows}",
                place=item.place,
            )
        if item.side in ("north", "south"):
            return "across", row + (item.side == "south"), column
        return "down", row, column + (item.side == "east")

    def _room_at(self, column: int, row: int) -> int:
        rows, columns = self.rooms.shape
        return int(self.rooms[row, column]) if 0 <= row < rows and 0 <= column < columns else 0

    def _beside(self, item: Way | ExtraWall) -> tuple[int, int]:
        """The rooms on both sides of the line: the cell's own, and the one beyond."""
        column, row = item.cell[0] - 1, item.cell[1] - 1
        step = STEPS[SIDES.index(item.side)]
        return self._room_at(column, row), self._room_at(column + step[0], row + step[1])

    def _add_wall(self, wall: ExtraWall) -> None:
        array, row, column = self._line(wall)
        lines = self.across if array == "across" else self.down
        if lines[row, column]:
            raise InputError("a wall where one stands already", expected="a line without one", place=wall.place)
        if not any(self._beside(wall)):
            raise InputError("a wall in solid ground", expected="a line inside a room", place=wall.place)
        lines[row, column] = PLAIN_WALL

    def _add_way(self, way: Way, kept: dict[Line, tuple[Way, LineKind]]) -> None:
        array, row, column = line = self._line(way)
        lines = self.across if array == "across" else self.down
        if self.off_grid is not None:
            self.off_grid.check_way(array, row, column, way.place)
        if not lines[row, column]:
            raise InputError(
                "a way where no wall is",
                expected="a line between two rooms, between a room and solid ground, or with a wall of its own",
                place=way.place,
            )
        if way.kind == "saddle" and not all(self._beside(way)):
            raise InputError(
                "a saddle to solid ground",
                expected="a room on both sides, since the door piece stands on both tiles",
                cure='use kind = "doorway" or "open" for a way in',
                place=way.place,
            )
        kind = self._kind(way)
        if line in kept and kept[line][1] != kind:
            raise InputError(
                f'a line given two kinds: "{kept[line][0].kind}" and "{way.kind}"'
                if kept[line][0].kind != way.kind
                else f'a line given two ways of kind "{way.kind}" with different measures',
                expected="one way for each line",
                place=way.place,
            )
        kept.setdefault(line, (way, kind))

    def _leaf(self, way: Way) -> Leaf:
        """A saddle carries a sliding leaf or none: it has no floor for a pin, and no wall to lift out."""
        leaf = way.leaf or self.grid.door.leaf
        if way.kind == "doorway" or leaf == "none":
            return leaf
        if way.leaf in ("hinged", "lift-out"):
            raise InputError(
                f'leaf = "{way.leaf}" in a saddle',
                expected='leaf = "sliding" or "none"',
                cure='use kind = "doorway" for the others',
                place=way.place,
            )
        return "sliding"

    def _kind(self, way: Way) -> LineKind:
        """What a way makes of its line; a doorway of default width is fitted to each of its two cells later."""
        if way.kind == "open":
            if way.leaf not in (None, "none"):
                raise InputError("a leaf in an open way", expected="a doorway or a saddle", place=way.place)
            return LineKind("nothing")
        centre = None if way.at is None else way.at * self.grid.pitch
        # A saddle stands between posts or walls: they take a wall's thickness at both ends.
        wall = self.grid.wall_thickness if way.kind == "saddle" else 0.0
        try:
            opening = make_opening(
                self.side,
                self.grid,
                width=way.width,
                height=way.height,
                head=way.head,
                centre=centre,
                ends=(wall, wall),
                leaf=self._leaf(way),
                style=way.style,
            )
        except InputError as error:
            raise error.located(place=way.place) from None
        if way.kind == "saddle" and opening.height >= self.grid.wall_height:
            raise InputError(
                f"a saddle door open at the top ({opening.height:g} mm high under a wall of {self.grid.wall_height:g})",
                expected="an opening lower than the wall, so that the door piece holds together",
                place=way.place,
            )
        return LineKind(way.kind, opening)

    def _check_jambs(self, drawing: Drawing, line: Line, way: Way, opening: Opening) -> None:
        """Refuse a doorway that leaves too little jamb in one of its two cells, now that all walls stand."""
        for ends in ends_beside(drawing, line):
            fitted = opening if way.width is not None else shrunk(opening, self.side, self.grid, ends)
            try:
                check_opening(fitted, self.side, self.grid, ends)
            except InputError as error:
                raise error.located(place=way.place) from None


def ends_beside(drawing: Drawing, line: Line) -> Iterator[Ends]:
    """What walls take of a line's west or north end and of its other end, in each of the two cells beside it."""
    array, row, column = line
    rows, columns = drawing.rooms.shape
    carries = np.array([kind.name in ("wall", "doorway") for kind in drawing.kinds])
    wall = drawing.grid.wall_thickness
    for step in (-1, 0):
        r, c = (row + step, column) if array == "across" else (row, column + step)
        if not (0 <= r < rows and 0 <= c < columns and drawing.rooms[r, c]):
            continue
        beside = drawing.down[r, c : c + 2] if array == "across" else drawing.across[r : r + 2, c]
        first, last = carries[beside].tolist()
        yield wall * first, wall * last


def way_widths(drawing: Drawing) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """How wide a base goes through each line (across, down), mm: any where nothing stands, none through a wall.

    A doorway is as wide as the narrower of its openings in the two cells beside it; a hinged leaf stands in its way.
    """
    width = {"nothing": np.inf, "wall": 0.0}
    by_kind = np.array(
        [width.get(k.name, clear_width(k.opening, drawing.grid) if k.opening else 0.0) for k in drawing.kinds]
    )
    doorway = np.array([kind.name == "doorway" for kind in drawing.kinds])
    found = []
    for array, lines in (("across", drawing.across), ("down", drawing.down)):
        widths = by_kind[lines]
        for row, column in np.argwhere(doorway[lines]).tolist():
            opening = drawing.kinds[lines[row, column]].opening
            if opening is not None:
                fitted = (
                    clear_width(shrunk(opening, drawing.cell_side, drawing.grid, ends), drawing.grid)
                    for ends in ends_beside(drawing, (array, row, column))
                )
                widths[row, column] = min(fitted, default=0.0)
        found.append(widths)
    return found[0], found[1]


def posts_of(drawing: Drawing) -> npt.NDArray[np.uint8]:
    """Which corners of each cell carry a post of their own: bit k for corner k (NE, SE, SW, NW).

    A post stands where both of a cell's sides at a corner are open and either the other two lines that meet
    there both carry something, or one of the two sides is a saddle.
    """
    standing = np.array([kind.name != "nothing" for kind in drawing.kinds])
    saddle = np.array([kind.name == "saddle" for kind in drawing.kinds])
    rows, columns = drawing.rooms.shape
    across, down = np.pad(drawing.across, ((0, 0), (1, 1))), np.pad(drawing.down, ((1, 1), (0, 0)))
    posts = np.zeros((rows, columns), np.uint8)
    for corner, (south, east) in enumerate(((0, 1), (1, 1), (1, 0), (0, 0))):
        # The four lines that meet at the corner: two of the cell's own, two beyond it.
        own_a = across[south : south + rows, 1 : columns + 1]
        own_d = down[1 : rows + 1, east : east + columns]
        far_a = across[south : south + rows, 2 * east : 2 * east + columns]
        far_d = down[2 * south : 2 * south + rows, east : east + columns]
        free = (~standing[own_a] | saddle[own_a]) & (~standing[own_d] | saddle[own_d])
        need = (standing[far_a] & standing[far_d]) | saddle[own_a] | saddle[own_d]
        posts |= (free & need).astype(np.uint8) << corner
    posts[drawing.rooms == 0] = 0
    return posts


def as_text(drawing: Drawing) -> list[str]:
    """The drawing's rows, one character a cell."""
    return ["".join(chr(code) if code else "." for code in row) for row in drawing.rooms.tolist()]
