"""The four ways to place a wall, side by side on the same piece of the user's map."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.fit.figures import INCH, spaces_across
from tilegen.fit.floor import Bools, box_sums
from tilegen.fit.placements import PushedTiles, WallPlacement, best_laying, home_squares
from tilegen.geometry import Points, polygon_rings, polygons_of
from tilegen.lengths import Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, Rings, polyline, text_width
from tilegen.pictures.map_page import (
    QUIET,
    WHITE,
    KeyEntry,
    circle,
    cross,
    cross_mark,
    disc_mark,
    draw_key,
    place_disc,
    swatch,
    wrapped,
)
from tilegen.pictures.tile_view import FLOOR, INK, SEAM, WALL
from tilegen.plans.drawing import Drawing, posts_of
from tilegen.plans.kit import Kit
from tilegen.plans.layout import lay
from tilegen.tiles.shape import STEPS

# A piece of a plan of a few tiles, chosen because it shows best where walls clash and what never closes.

# Tiles across and down, at most.
WIDE, HIGH = 4, 3
# Of so many windows, those densest in walls, the best is sought.
_TRIED = 240
Kinds = npt.NDArray[np.int16]


@dataclass(frozen=True)
class Window:
    """Some cells of a drawing, cut out along the edges of tiles.

    left, top: column and row, from 0, of its first cell. tile_of: (rows, columns) tile of each cell, numbered
    from 0 in the window, -1 for none. across: (rows + 1, columns), down: (rows, columns + 1) kinds of its lines.
    posts: bits of each cell's posts (north-east, clockwise). homes: the square of each of its tiles, off the grid.
    """

    drawing: Drawing
    left: int
    top: int
    tile_of: npt.NDArray[np.int32]
    across: Kinds
    down: Kinds
    posts: npt.NDArray[np.uint8]
    homes: npt.NDArray[np.int64] | None

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of cells."""
        rows, columns = self.tile_of.shape
        return rows, columns

    def standing(self) -> tuple[Bools, Bools]:
        """Whether anything stands on each line: across, down."""
        stands = self.drawing.stands
        return stands[self.across], stands[self.down]

    def laying(self, apart: float) -> PushedTiles:
        """The best laying of this piece alone, walls beside the tiles."""
        across, down = self.standing()
        return best_laying(self.tile_of, down[:, 1:-1], across[1:-1], apart, self.homes)


def choose_window(drawing: Drawing, kit: Kit) -> Window:
    """The piece that never closes, if there is one; else that with most walls.

    Of equal ones that where most wall stands between two rooms that open into a third, then that with most walls,
    then the first in reading order.
    """
    tile_of = lay(drawing, kit).tile_of
    rows, columns = drawing.rooms.shape
    k = kit.block
    height, width = min(HIGH * k, rows), min(WIDE * k, columns)
    left, top = (kit.lattice[0] % k, kit.lattice[1] % k)
    firsts = [
        np.unique(np.clip(np.arange(start - k, size - side + k, k), 0, size - side))
        for start, size, side in ((top, rows, height), (left, columns, width))
    ]
    walls = _walls_between(drawing)
    density = box_sums(walls[0], height, width) + box_sums(walls[1], height, width)
    places = [(int(r), int(c)) for r in firsts[0] for c in firsts[1]]
    places.sort(key=lambda place: -int(density[place]))
    posts, homes = posts_of(drawing), home_squares(kit, tile_of)
    best: tuple[tuple[float, ...], Window] | None = None
    for row, column in places[:_TRIED]:
        window = _cut(drawing, tile_of, posts, (row, column, height, width), homes)
        if not (window.tile_of >= 0).any():
            continue
        rank = (-round(window.laying(1.0).gap, 6), -_shared(window), -int(density[row, column]), row, column)
        if best is None or rank < best[0]:
            best = rank, window
    if best is None:
        raise ValueError("a plan without a tile")
    return best[1]


def _walls_between(drawing: Drawing) -> tuple[Bools, Bools]:
    """(rows, columns): whether something stands between a cell and the next to the south, to the east; both floor."""
    stands = drawing.stands
    floor = np.pad(drawing.rooms != 0, ((0, 1), (0, 1)))
    south: Bools = stands[drawing.across[1:]] & floor[:-1, :-1] & floor[1:, :-1]
    east: Bools = stands[drawing.down[:, 1:]] & floor[:-1, :-1] & floor[:-1, 1:]
    return south, east


def _shared(window: Window) -> int:
    """Lines of wall in the window between two rooms that both open into a third, without a door."""
    rows, columns = window.shape
    rooms = window.drawing.rooms[window.top : window.top + rows, window.left : window.left + columns]
    across, down = window.standing()
    walled: Counter[tuple[int, int]] = Counter()
    opened: set[tuple[int, int]] = set()
    for one, other, stands in (
        (rooms[:-1], rooms[1:], across[1:-1]),
        (rooms[:, :-1], rooms[:, 1:], down[:, 1:-1]),
    ):
        border = (one != other) & (one != 0) & (other != 0)
        for a, b, wall in zip(one[border].tolist(), other[border].tolist(), stands[border].tolist(), strict=True):
            pair = (min(a, b), max(a, b))
            if wall:
                walled[pair] += 1
            else:
                opened.add(pair)
    beside: dict[int, set[int]] = {}
    for a, b in opened:
        beside.setdefault(a, set()).add(b)
        beside.setdefault(b, set()).add(a)
    return sum(lines for (a, b), lines in walled.items() if beside.get(a, set()) & beside.get(b, set()))


def _cut(
    drawing: Drawing,
    tile_of: npt.NDArray[np.int32],
    posts: npt.NDArray[np.uint8],
    bounds: tuple[int, int, int, int],
    homes: npt.NDArray[np.int64] | None,
) -> Window:
    """bounds: first row, first column, rows, columns."""
    row, column, height, width = bounds
    here = np.s_[row : row + height, column : column + width]
    found = tile_of[here]
    numbers, renumbered = np.unique(found, return_inverse=True)
    tiles = renumbered.reshape(found.shape).astype(np.int32) - int(numbers[0] < 0)
    return Window(
        drawing,
        column,
        row,
        tiles,
        drawing.across[row : row + height + 1, column : column + width],
        drawing.down[row : row + height, column : column + width + 1],
        posts[here],
        None if homes is None else homes[numbers[numbers >= 0]],
    )


# A piece of a plan with its walls placed in one of the four ways, to scale, as shapes in millimetres.

_LEAST_GAP_MM = 0.01


@dataclass(frozen=True)
class WallBar:
    """A wall along one side of one cell; clash: it stands on a neighbour tile's floor."""

    box: BaseGeometry
    solid: BaseGeometry
    clash: bool


@dataclass(frozen=True)
class Gap:
    """A crack between tiles; level: its width is measured from west to east."""

    box: BaseGeometry
    level: bool


@dataclass(frozen=True)
class LargeBase:
    """Where a base would be, and whether it stands there."""

    x: float
    y: float
    stands: bool


class LaidPiece:
    """A window laid in one way. Coordinates: mm, from the north-west corner of its cells as drawn.

    With a laying the tiles are pushed as it says; without, they lie as drawn and walls beside them may clash.
    """

    def __init__(self, window: Window, placement: WallPlacement, laying: PushedTiles | None = None) -> None:
        self.window, self.placement, self.laying = window, placement, laying
        self.outboard, self.shifted = placement.outboard, placement.shifted
        self.spaces = window.drawing.cell_spaces
        self.side, self.wall = self.spaces * placement.pitch, placement.wall_thickness
        self.cells = [(int(r), int(c)) for r, c in np.argwhere(window.tile_of >= 0)]
        self.cell_floors = [self._cell(r, c) for r, c in self.cells]
        self.tiles = self._tiles()
        self.bars = [bar for cell in self.cells for bar in self._bars(*cell)]
        self.posts = [] if self.outboard else [post for cell in self.cells for post in self._posts(*cell)]

    def corner(self, row: int, column: int) -> tuple[float, float]:
        """North-west corner of a cell where it lies."""
        x, y = column * self.side, row * self.side
        if self.laying is not None:
            tile = int(self.window.tile_of[row, column])
            x, y = x + float(self.laying.x[tile]), y + float(self.laying.y[tile])
        return x, y

    def bounds(self) -> tuple[float, float, float, float]:
        """West, north, east, south of all that is drawn."""
        low_x, low_y, high_x, high_y = shapely.union_all([*self.tiles, *(bar.box for bar in self.bars)]).bounds
        return low_x, low_y, high_x, high_y

    def lines(self) -> list[Points]:
        """The printed lines between squares, over the whole of each cell's floor; some lie under a tile's edge."""
        found = []
        offset = 0.5 if self.shifted else 0.0
        at = [n + offset for n in range(self.spaces + 1) if n + offset <= self.spaces]
        for row, column in self.cells:
            x, y = self.corner(row, column)
            for n in at:
                d = n * self.placement.pitch
                found += [polyline((x + d, y), (x + d, y + self.side)), polyline((x, y + d), (x + self.side, y + d))]
        return found

    def gaps(self) -> list[Gap]:
        """What stays open between tiles, or between their walls, that should touch."""
        if self.laying is None:
            return []
        found: tuple[list[BaseGeometry], list[BaseGeometry]] = ([], [])
        across, down = self.window.standing()
        for row, column in self.cells:
            x, y = self.corner(row, column)
            east, south = x + self.side, y + self.side
            if self._other_tile(row, column, 1):
                end = self.wall if down[row, column + 1] else 0.0
                low, high = east + end, self.corner(row, column + 1)[0] - end
                if high - low > _LEAST_GAP_MM:
                    found[0].append(shapely.box(low, y, high, south))
            if self._other_tile(row, column, 2):
                end = self.wall if across[row + 1, column] else 0.0
                low, high = south + end, self.corner(row + 1, column)[1] - end
                if high - low > _LEAST_GAP_MM:
                    found[1].append(shapely.box(x, low, east, high))
        return [
            Gap(part, level)
            for boxes, level in zip(found, (True, False), strict=True)
            for part in polygons_of(shapely.union_all(boxes))
        ]

    def stand(self, base: float) -> LargeBase | None:
        """Where a base is tried: in a hall if there is one, else in the first block of its size; None without one."""
        at = self._block(spaces_across(base))
        if at is None:
            return None
        row, column, cells, size = at
        x, y = self.corner(row, column)
        block = shapely.box(x, y, x + size, y + size)
        standing = [] if self.outboard else [bar.box for bar in self.bars] + self.posts
        free = block.difference(shapely.union_all(standing)) if standing else block
        middle = (x + cells * self.side / 2, y + cells * self.side / 2) if cells else (x + size / 2, y + size / 2)
        if free.is_empty:
            return LargeBase(*middle, False)
        place = place_disc(free, middle, base, self.wall)
        centre = shapely.Point(place)
        fits = free.covers(centre) and free.boundary.distance(centre) >= base / 2 - 1e-6
        return LargeBase(*(place if fits else middle), bool(fits))

    def _block(self, n: int) -> tuple[int, int, int, float] | None:
        """(row, column, cells across, side in mm) of a block of n spaces in one tile; rather between two walls."""
        cells = max(1, -(-n // self.spaces))
        across, down = self.window.standing()
        tiles, (rows, columns) = self.window.tile_of, self.window.shape
        found = []
        for row, column in self.cells:
            if row + cells > rows or column + cells > columns:
                continue
            here = tiles[row : row + cells, column : column + cells]
            inside = across[row + 1 : row + cells, column : column + cells].any()
            inside = inside or down[row : row + cells, column + 1 : column + cells].any()
            if (here != here[0, 0]).any() or inside:
                continue
            ends = [across[row + e, column : column + cells].all() for e in (0, cells)]
            ends += [down[row : row + cells, column + e].all() for e in (0, cells)]
            hall = sum((bool(ends[0] and ends[1]), bool(ends[2] and ends[3])))
            off = abs(row - (rows - cells) / 2) + abs(column - (columns - cells) / 2)
            found.append((hall != 1, off, row, column))
        if not found:
            return None
        *_, row, column = min(found)
        return row, column, cells, n * self.placement.pitch

    def _tiles(self) -> list[BaseGeometry]:
        """The floor of each tile."""
        numbers = np.array([self.window.tile_of[cell] for cell in self.cells])
        floors = np.array(self.cell_floors)
        return [shapely.union_all(floors[numbers == tile]) for tile in np.unique(numbers)]

    def _cell(self, row: int, column: int) -> BaseGeometry:
        x, y = self.corner(row, column)
        return shapely.box(x, y, x + self.side, y + self.side)

    def _other_tile(self, row: int, column: int, side: int) -> bool:
        """Whether another tile of the window lies beyond a side (north, east, south, west)."""
        dc, dr = STEPS[side]
        rows, columns = self.window.shape
        r, c = row + dr, column + dc
        inside = 0 <= r < rows and 0 <= c < columns
        return inside and int(self.window.tile_of[r, c]) not in (-1, int(self.window.tile_of[row, column]))

    def _bars(self, row: int, column: int) -> list[WallBar]:
        window = self.window
        kinds = (
            window.across[row, column],
            window.down[row, column + 1],
            window.across[row + 1, column],
            window.down[row, column],
        )
        found = []
        for side, number in enumerate(kinds):
            kind = window.drawing.kinds[int(number)]
            if not kind.facts.stands:
                continue
            beyond = self.outboard and not self._inside_tile(row, column, side)
            box = self._strip(row, column, side, 0.0, self.side, beyond=beyond)
            solid = box
            if kind.opening is not None:
                ratio = self.placement.pitch / window.drawing.grid.pitch
                low = (kind.opening.centre - kind.opening.width / 2) * ratio
                high = (kind.opening.centre + kind.opening.width / 2) * ratio
                solid = box.difference(self._strip(row, column, side, low, high, beyond=beyond))
            clash = beyond and self.laying is None and self._other_tile(row, column, side)
            found.append(WallBar(box, solid, clash))
        return found

    def _inside_tile(self, row: int, column: int, side: int) -> bool:
        dc, dr = STEPS[side]
        rows, columns = self.window.shape
        r, c = row + dr, column + dc
        return 0 <= r < rows and 0 <= c < columns and self.window.tile_of[r, c] == self.window.tile_of[row, column]

    def _strip(self, row: int, column: int, side: int, low: float, high: float, *, beyond: bool) -> BaseGeometry:
        """Along a side, from low to high of its west or north end, on the cell or beyond it."""
        x, y = self.corner(row, column)
        near = -self.wall if beyond else 0.0
        far = near + self.wall
        s = self.side
        return (
            shapely.box(x + low, y + near, x + high, y + far),
            shapely.box(x + s - far, y + low, x + s - near, y + high),
            shapely.box(x + low, y + s - far, x + high, y + s - near),
            shapely.box(x + near, y + low, x + far, y + high),
        )[side]

    def _posts(self, row: int, column: int) -> list[BaseGeometry]:
        x, y = self.corner(row, column)
        s, w, bits = self.side, self.wall, int(self.window.posts[row, column])
        corners = ((x + s - w, y), (x + s - w, y + s - w), (x, y + s - w), (x, y))
        return [shapely.box(a, b, a + w, b + w) for k, (a, b) in enumerate(corners) if bits >> k & 1]


PRINTED = "#9a9384"
# The base that is tried: one of two spaces.
LARGE_MM = 2 * INCH
WORDS = {
    "inset": ("Inset", "on the tile, inside its footprint; the grid has room for the wall"),
    "on-square": ("On the squares", "on the tile, over its own printed squares"),
    "outboard": ("Outboard", "beside the tile, outside its footprint"),
    "outboard-half-step": ("Outboard, half a step", "beside the tile, the printed squares shifted by half"),
}
# A page is as large as if the piece were so wide, mm; lettering grows with larger ones.
_PLAIN_MM = 290.0
_BAND, _BETWEEN = 12.0, 18.0


def placements_canvas(
    drawing: Drawing, kit: Kit, placements: Sequence[WallPlacement], *, units: Units = "mm"
) -> Canvas:
    """Four drawings of one piece of the map, all at one scale, with what each way costs.

    placements: the four of `placements_on`; their clash and gap are those of the whole map. Walls beside the
    tile are drawn twice: as the map has it, and pushed apart until they fit.
    """
    return _Panels(choose_window(drawing, kit), placements, units).canvas


class _Panels:
    """Draws the page: two columns, the ways on the tile above, those beside it below."""

    def __init__(self, window: Window, placements: Sequence[WallPlacement], units: Units) -> None:
        self.window, self.units = window, units
        columns: list[list[tuple[WallPlacement, list[LaidPiece]]]] = [[], []]
        for number, placement in enumerate(placements):
            pieces = [LaidPiece(window, placement)]
            if placement.outboard:
                pieces.append(LaidPiece(window, placement, window.laying(2 * placement.wall_thickness)))
            columns[number % 2].append((placement, pieces))
        sizes = [piece.bounds() for column in columns for _, pieces in column for piece in pieces]
        widest = max(east - west for west, _, east, _ in sizes)
        self.unit = unit = max(0.6, widest / _PLAIN_MM)
        self.column = max(widest, 200.0 * unit)
        width = 2 * self.column + (_BETWEEN + 2 * _BAND) * unit
        self.canvas = Canvas(width, 0.0, f"{window.drawing.name}: four ways to place a wall")
        below = self._heading()
        for row in range(max(len(column) for column in columns)):
            ends = [self._panel(n, below, *column[row]) for n, column in enumerate(columns) if row < len(column)]
            below = max(ends) + 10.0 * unit
        self.canvas.height = self._key(below) + 8.0 * unit

    def _heading(self) -> float:
        unit, window = self.unit, self.window
        rows, columns = window.shape
        self.canvas.text(_BAND * unit, 16.0 * unit, "Four ways to place a wall", 11.0 * unit, bold=True, colour=INK)
        words = (
            f"{window.drawing.name}, columns {window.left + 1} to {window.left + columns}, rows {window.top + 1} to "
            f"{window.top + rows}: the same piece of the map four times, to one scale. Numbers are for the whole map."
        )
        self.canvas.description = words
        y = 17.5 * unit
        for line in wrapped(words, 5.4 * unit, self.canvas.width - 2 * _BAND * unit, " "):
            y += 7.0 * unit
            self.canvas.text(_BAND * unit, y, line, 5.4 * unit, colour=QUIET)
        return y + 10.0 * unit

    def _panel(self, number: int, top: float, placement: WallPlacement, pieces: list[LaidPiece]) -> float:
        unit = self.unit
        left = _BAND * unit + number * (self.column + _BETWEEN * unit)
        title, words = WORDS[placement.name]
        self.canvas.text(left, top + 6.5 * unit, title, 8.0 * unit, bold=True)
        y = top + 7.3 * unit
        for line in (words, *self._caption(placement)):
            y += 7.2 * unit
            self.canvas.text(left, y, line, 5.6 * unit)
        y += 5.0 * unit
        for piece in pieces:
            if len(pieces) > 1:
                y += 7.0 * unit
                self.canvas.text(left, y, self._said(piece), 5.4 * unit, bold=True, colour=QUIET)
                y += 4.0 * unit
            west, north, _, south = piece.bounds()
            self._draw(piece, left - west, y - north)
            y += south - north + 3.0 * unit
        return y

    def _said(self, piece: LaidPiece) -> str:
        if piece.laying is None:
            clash = any(bar.clash for bar in piece.bars)
            return "As the map has it: walls want the same place" if clash else "As the map has it"
        return f"Pushed apart until the walls fit: it {'cracks' if piece.gaps() else 'closes'}"

    def _caption(self, placement: WallPlacement) -> list[str]:
        def show(mm: float) -> str:
            return show_length(mm, self.units)

        area = placement.clash_area / (INCH**2 if self.units == "in" else 1.0)
        square = f"{area:.{2 if self.units == 'in' else 1}f}".rstrip("0").rstrip(".")
        clash = f"walls clash on {square} sq {self.units}" if placement.clash_area else "no wall clashes"
        gap = f"worst gap {show(placement.worst_gap)}" if placement.worst_gap else "no gap: it closes"
        aligned = show(placement.largest_aligned) if placement.largest_aligned else "none"
        return [
            f"Spaces {show(placement.pitch)}, walls {show(placement.wall_thickness)}; a 10 ft hall keeps "
            f"{show(placement.hall_clear)} clear",
            f"Largest base in it {show(placement.largest_base)}; if it keeps to whole squares {aligned}",
            f"Whole map: {clash}; {gap}",
        ]

    # --- one drawing ---

    def _draw(self, piece: LaidPiece, x: float, y: float) -> None:
        """(x, y): where the piece's own origin falls on the page."""
        canvas, unit = self.canvas, self.unit
        move = np.array([x, y])

        def rings(shapes: Iterable[BaseGeometry]) -> list[Rings]:
            return [tuple(ring + move for ring in found) for found in polygon_rings(shapely.union_all(list(shapes)))]

        floors = [ring for tile in piece.tiles for found in rings([tile]) for ring in found]
        canvas.area([(ring,) for ring in floors], FLOOR)
        canvas.line([line + move for line in piece.lines()], PRINTED, 0.45 * unit)
        canvas.line([np.concatenate([ring, ring[:1]]) for ring in floors], SEAM, 0.8 * unit)
        bars = [bar for bar in piece.bars if not bar.clash]
        canvas.area(rings(bar.box for bar in bars), WHITE, stroke=WALL, width=0.4 * unit)
        canvas.area(rings([*(bar.solid for bar in bars), *piece.posts]), WALL)
        canvas.area(
            rings(bar.box for bar in piece.bars if bar.clash),
            WHITE,
            hatch=self._clash_hatch(),
            stroke=INK,
            width=0.6 * unit,
        )
        for gap in piece.gaps():
            self._gap(gap, x, y)
        if piece.laying is not None or not piece.outboard:
            self._figure(piece, x, y)

    def _clash_hatch(self) -> Hatch:
        return Hatch(INK, 2.6 * self.unit, 0.5 * self.unit, "crossed")

    def _gap(self, gap: Gap, x: float, y: float) -> None:
        """A crack with its width."""
        unit = self.unit
        west, north, east, south = gap.box.bounds
        west, north, east, south = west + x, north + y, east + x, south + y
        corners = [(west, north), (east, north), (east, south), (west, south), (west, north)]
        self.canvas.line([polyline(*corners)], INK, 0.7 * unit, dash=2.0 * unit)
        width = east - west if gap.level else south - north
        middle = ((west + east) / 2, (north + south) / 2)
        size, words = 6.0 * unit, show_length(width, self.units)
        room = text_width(words, size)
        if gap.level:
            arrow = [(west, middle[1] + 5 * unit), (east, middle[1] + 5 * unit)]
            self.canvas.text(middle[0], middle[1] + 0.5 * unit, words, size * min(1.0, 0.94 * width / room), "middle")
        else:
            arrow = [(west + 6 * unit, north), (west + 6 * unit, south)]
            self.canvas.text(west + 9 * unit, middle[1] + CAP_HEIGHT * size / 2, words, size)
        self.canvas.line([polyline(*arrow), *_heads(arrow, 2.0 * unit)], INK, 0.5 * unit)

    def _figure(self, piece: LaidPiece, x: float, y: float) -> None:
        found = piece.stand(LARGE_MM)
        if found is None:
            return
        unit, x, y = self.unit, x + found.x, y + found.y
        line = 1.1 * unit
        ring = circle(x, y, LARGE_MM / 2 - line / 2)
        words = show_length(LARGE_MM, self.units)
        if found.stands:
            self.canvas.discs(np.array([[x, y]]), LARGE_MM / 2, WHITE, stroke=INK, width=line)
            self.canvas.text(x, y + 1.8 * unit, words, 5.4 * unit, "middle", bold=True)
            if piece.placement.largest_aligned < LARGE_MM - 1e-6:
                self.canvas.text(x, y + 8.2 * unit, "off the squares", 4.4 * unit, "middle")
            return
        self.canvas.line([ring], WHITE, 2.6 * line)
        self.canvas.line([ring], INK, line, dash=3.0 * unit)
        arms = cross(x, y, 0.26 * LARGE_MM)
        self.canvas.line(arms, WHITE, 4.4 * unit)
        self.canvas.line(arms, INK, 2.2 * unit)

    def _key(self, top: float) -> float:
        base = show_length(LARGE_MM, self.units)
        entries = [
            KeyEntry(swatch(None, WALL), "wall"),
            KeyEntry(swatch(self._clash_hatch(), WHITE), "clash: a wall on the neighbour's floor"),
            KeyEntry(_gap_mark, "gap that stays open"),
            KeyEntry(disc_mark, f"a base of {base} stands"),
            KeyEntry(cross_mark, "it does not stand"),
        ]
        at = (_BAND * self.unit, top)
        return draw_key(self.canvas, entries, at, width=self.canvas.width - 2 * at[0], size=5.6 * self.unit)


def _gap_mark(canvas: Canvas, x: float, y: float, side: float) -> None:
    corners = [(x, y), (x + side, y), (x + side, y + side), (x, y + side), (x, y)]
    canvas.line([polyline(*corners)], INK, 0.07 * side, dash=0.2 * side)
    arrow = [(x, y + side / 2), (x + side, y + side / 2)]
    canvas.line([polyline(*arrow), *_heads(arrow, 0.2 * side)], INK, 0.06 * side)


def _heads(arrow: list[tuple[float, float]], size: float) -> list[Points]:
    """The two open heads of a dimension arrow that is upright or level."""
    (x0, y0), (x1, y1) = arrow
    half = 0.5 * size
    if y0 == y1:
        return [
            polyline((x0 + size, y0 - half), (x0, y0), (x0 + size, y0 + half)),
            polyline((x1 - size, y1 - half), (x1, y1), (x1 - size, y1 + half)),
        ]
    return [
        polyline((x0 - half, y0 + size), (x0, y0), (x0 + half, y0 + size)),
        polyline((x1 - half, y1 - size), (x1, y1), (x1 + half, y1 - size)),
    ]
