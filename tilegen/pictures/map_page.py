"""A page with a plan's map on it, to scale: rooms' titles, marks for figures, key, coordinates, scale bar."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from string import ascii_lowercase
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, Points, polygon_rings
from tilegen.lengths import MM_PER_INCH, Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, polyline, rectangle, text_width
from tilegen.pictures.tile_view import FLOOR, INK, LINE, SEAM, draw_doors, draw_ground, ground_plan
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, placed, placed_pieces

if TYPE_CHECKING:
    from tilegen.fit.floor import Bools, Bytes, OffGridFloor, Spaces

# Where a room's title stands on its floor, and text in lines.

Box = tuple[float, float, float, float]


class RoomTitles:
    """Finds each room's title a place on its floor that no number stands on."""

    def __init__(
        self,
        drawing: Drawing,
        labels: list[Box],
        corner: tuple[float, float],
        size: float,
        *,
        shrinks: Sequence[float] = (1.0, 0.8, 0.65, 0.5),
        keys: bool = False,
    ) -> None:
        """size: of the text, mm; shrinks: shares of it that may be tried, the largest first.

        keys: where a title has no room a letter stands for it, anywhere along a row of the room's cells.
        """
        self.drawing, self.size, self.corner, self.shrinks, self.keys = drawing, size, corner, shrinks, keys
        self.taken = np.array(labels, np.float64).reshape(-1, 4)

    def draw(self, canvas: Canvas) -> list[str]:
        """Write the titles; returns those that would cover a number or leave the floor.

        Each with its letter, or with where the room starts.
        """
        titles = [(ord(letter), title) for letter, title in self.drawing.titles.items()]
        homeless = [(room, title) for room, title in titles if not self._written(canvas, room, title)]
        said, keys = [], iter(ascii_lowercase if self.keys else "")
        key = next(keys, "")
        for room, title in homeless:
            if key and self._written(canvas, room, key):
                said.append(f"{key}: {title}")
                key = next(keys, "")
            else:
                row, column = np.argwhere(self.drawing.rooms == room)[0].tolist()
                said.append(f"{title} (column {column + 1}, row {row + 1})")
        return said

    def _written(self, canvas: Canvas, room: int, title: str) -> bool:
        found = min(self._choices(room, title), key=lambda choice: choice[0], default=None)
        if self.keys and (found is None or found[0][0]):
            found = next((choice for choice in self._choices(room, title, all_along=True) if not choice[0][0]), None)
        if found is None or found[0][0]:
            return False
        self._write(canvas, *found[1:])
        return True

    def _write(self, canvas: Canvas, x: float, y: float, size: float, lines: list[str]) -> None:
        half = max(text_width(line, size) for line in lines) / 2
        box = (x - half - 0.4 * size, y - 0.1 * size, x + half + 0.4 * size, y + (1.2 * len(lines) + 0.1) * size)
        canvas.area([rectangle(*box)], FLOOR, stroke=LINE, width=0.05 * size)
        for number, line in enumerate(lines):
            canvas.text(x, y + (0.92 + 1.2 * number) * size, line, size, "middle", colour=INK)
        self.taken = np.vstack([self.taken, box])

    def _choices(
        self, room: int, title: str, *, all_along: bool = False
    ) -> Iterator[tuple[tuple[float, ...], float, float, float, list[str]]]:
        """(badness, middle x, top y, size, lines) of every place considered: amid a row, or all along it."""
        side, wall = self.drawing.cell_side, self.drawing.grid.wall_thickness
        for x0, x1, top, off_centre in self._rows_of(room):
            for shrink in self.shrinks:
                size = self.size * shrink
                width = x1 - x0 - 2 * wall - 1.2 * size
                lines = wrapped(title, size, max(width, 0.1), " ")
                half, height = max(text_width(line, size) for line in lines) / 2, (1.2 * len(lines) + 0.2) * size
                low, high = top + wall + 0.3 * size, top + side - wall - height - 0.1 * size
                spill = max(2 * half - width, 0.0) + max(low - high, 0.0)
                xs = [(x0 + x1) / 2]
                if all_along:
                    room_for = x0 + wall + 0.6 * size + half, x1 - wall - 0.6 * size - half
                    xs = [] if spill else np.arange(*room_for, side / 8).tolist()
                for order, (x, y) in enumerate(product(xs, (low, max(high, low), max((low + high) / 2, low)))):
                    box = (x - half - 0.4 * size, y - 0.1 * size, x + half + 0.4 * size, y + height)
                    covered = self._covered(box)
                    bad = (float(covered > 0 or spill > 0), covered + spill * size, -shrink, len(lines), order)
                    yield (*bad, off_centre), x, y, size, lines

    def _rows_of(self, room: int) -> list[tuple[float, float, float, float]]:
        """(west, east, north, distance from the room's middle) of unbroken rows of its cells, the best few."""
        inside = self.drawing.rooms == room
        rows, columns = np.nonzero(inside)
        middle = (float(columns.mean()) + 0.5, float(rows.mean()) + 0.5)
        side, (left, top) = self.drawing.cell_side, self.corner
        found = []
        for row in np.unique(rows).tolist():
            for a, b in runs(inside[row], self.drawing.down[row, 1:-1] != 0):
                off = abs((a + b) / 2 - middle[0]) + abs(row + 0.5 - middle[1])
                found.append((b - a, off, (left + a * side, left + b * side, top + row * side, off)))
        found.sort(key=lambda item: (-min(item[0], 6), item[1]))
        return [place for *_, place in found[:24]]

    def _covered(self, box: Box) -> float:
        """The area of a box that numbers and other titles stand on, in mm2."""
        if not len(self.taken):
            return 0.0
        wide = np.minimum(self.taken[:, 2], box[2]) - np.maximum(self.taken[:, 0], box[0])
        high = np.minimum(self.taken[:, 3], box[3]) - np.maximum(self.taken[:, 1], box[1])
        return float((np.maximum(wide, 0) * np.maximum(high, 0)).sum())


def runs(inside: npt.NDArray[np.bool_], broken: npt.NDArray[np.bool_] | None = None) -> list[tuple[int, int]]:
    """First and one past the last of each run of true values; broken: a run ends between n and n + 1 where set."""
    starts = np.flatnonzero(inside)
    if not len(starts):
        return []
    cuts = np.diff(starts) > 1
    if broken is not None:
        cuts |= broken[starts[:-1]]
    edges = [0, *(np.flatnonzero(cuts) + 1).tolist(), len(starts)]
    return [(int(starts[a]), int(starts[b - 1]) + 1) for a, b in pairwise(edges)]


def wrapped(words: str, size: float, width: float, mark: str) -> list[str]:
    """Text in lines of at most `width` where its breaks after `mark` allow it."""
    parts = words.split(mark)
    pieces = [part + mark for part in parts[:-1]] + parts[-1:]
    lines = [pieces[0]]
    for piece in pieces[1:]:
        if text_width((lines[-1] + piece).rstrip(), size) <= width:
            lines[-1] += piece
        else:
            lines.append(piece)
    return [line.rstrip() for line in lines]


# A page with a plan's map on it, to scale: heading, coordinates, ground, scale bar and notes.

GROUND = "#ffffff"
FAINT = "#dcdcd8"
QUIET = "#565c63"
# Up to this size on the table the lettering is as large as given; on larger plans it grows with them.
PLAIN_MM = 600.0
NOTE_MM = 5.0
_BAND_MM, _HEAD_MM = 12.0, 27.0
_LEAST_PAGE_MM = 200.0


class MapPage:
    """One page. unit: what a millimetre of lettering is on it; (left, top): the drawing's north-west corner, mm.

    The canvas has no height before `finish`.
    """

    def __init__(self, drawing: Drawing, units: Units, what: str, *, least_width: float = 0.0) -> None:
        """what: named in the picture's title, after the plan's name; least_width: of what stands below, in units."""
        self.drawing, self.units = drawing, units
        rows, columns = drawing.rooms.shape
        self.side = drawing.cell_side
        self.width: float = columns * self.side
        self.height: float = rows * self.side
        self.unit: float = max(1.0, max(self.width, self.height) / PLAIN_MM)
        self.band = _BAND_MM * self.unit
        wide = max(self.width, least_width * self.unit) + 2 * self.band
        self.page_width = max(wide, _LEAST_PAGE_MM * self.unit)
        self.left, self.top = (self.page_width - self.width) / 2, self.band + _HEAD_MM * self.unit
        self.canvas = Canvas(self.page_width, 0.0, f"{drawing.name}: {what}", background=GROUND)

    @property
    def inner(self) -> float:
        """The width between the page's bands, mm."""
        return float(self.page_width - 2 * self.band)

    @property
    def below_map(self) -> float:
        """Where what stands below the map starts."""
        return float(self.top + self.height + self.band + 4.0 * self.unit)

    def heading(self, summary: str) -> None:
        """The plan's name and one line below it, made to fit."""
        for words, y, size, bold in ((self.drawing.name, 16.0, 11.0, True), (summary, 24.5, 5.4, False)):
            fitted = size * self.unit * min(1.0, self.inner / max(text_width(words, size * self.unit), 1e-9))
            self.canvas.text(self.band, y * self.unit, words, fitted, bold=bold, colour=INK if bold else QUIET)

    def coordinates(self) -> None:
        """Column and row numbers on all four sides."""
        rows, columns = self.drawing.rooms.shape
        size = min(6.5 * self.unit, self.side * 0.4)
        gap, middle = 3.0 * self.unit, CAP_HEIGHT * size / 2
        text = self.canvas.text
        for n in range(columns):
            x = self.left + (n + 0.5) * self.side
            text(x, self.top - gap, str(n + 1), size, "middle", colour=QUIET)
            text(x, self.top + self.height + gap + 2 * middle, str(n + 1), size, "middle", colour=QUIET)
        for n in range(rows):
            y = self.top + (n + 0.5) * self.side + middle
            text(self.left - gap, y, str(n + 1), size, "end", colour=QUIET)
            text(self.left + self.width + gap, y, str(n + 1), size, colour=QUIET)

    def ground(self, *, hatched: bool = True) -> None:
        """The squares of the drawing, and under the floor what shows through the seams."""
        rows, columns = self.drawing.rooms.shape
        right, bottom = self.left + self.width, self.top + self.height
        xs = [self.left + n * self.side for n in range(columns + 1)]
        ys = [self.top + n * self.side for n in range(rows + 1)]
        lines = [polyline((x, self.top), (x, bottom)) for x in xs] + [polyline((self.left, y), (right, y)) for y in ys]
        floor = self.drawing.rooms != 0
        off_grid = self.drawing.off_grid
        if off_grid is not None:
            floor = floor & off_grid.whole
        solid, covered = (
            [rectangle(xs[a], ys[row], xs[b], ys[row + 1]) for row in range(rows) for a, b in runs(cells[row])]
            for cells in (~floor, floor)
        )
        hatch = Hatch(FAINT, 4.0 * self.unit, 0.4 * self.unit) if hatched else None
        self.canvas.area(solid, GROUND, hatch=hatch)
        self.canvas.line(lines, FAINT, 0.6 * self.unit)
        self.canvas.area(covered, SEAM)
        if off_grid is not None:
            corner = np.array([self.left, self.top])
            for region in off_grid.regions.values():
                self.canvas.area(
                    [tuple(ring * (1.0, -1.0) + corner for ring in rings) for rings in polygon_rings(region)], SEAM
                )

    def tiles(self, kit: Kit, spaces: Spaces) -> None:
        """All tiles and door pieces in place, with the lines between spaces whether or not the floor carries them."""
        own = {t.tile.id: ground_plan(t.tile) for t in kit.types}
        plans = []
        for tile_type, turn in placed(kit, self.drawing):
            there = replace(turn, x=turn.x + self.left, y=turn.y + self.top)
            plan = own[tile_type.tile.id]
            # Tiles off the grid have their own lines, where their floor carries any.
            plans.append((replace(plan, lines=()) if tile_type.tile.on_grid else plan).placed(there))
        corner = np.array([self.left, self.top])
        thin = 0.5 * min(self.unit, 2.0)
        draw_ground(self.canvas, plans, edge=thin)
        self.canvas.line([line + corner for line in space_lines(spaces)], LINE, 0.8 * thin)
        doors = {p.piece.id: ground_plan(p.piece) for p in kit.pieces}
        pieces = []
        for piece_type, turn in placed_pieces(kit, self.drawing):
            there = replace(turn, x=turn.x + self.left, y=turn.y + self.top)
            pieces.append(doors[piece_type.piece.id].placed(there))
        draw_doors(self.canvas, pieces)

    def scale_bar(self, y: float) -> float:
        """A bar with its length on the table; returns the y below it."""
        x, unit = self.band, self.unit
        steps = (1, 2, 5, 10, 20, 50) if self.units == "mm" else (1, 2, 3, 6, 12, 24)
        one = 100.0 if self.units == "mm" else 4 * float(MM_PER_INCH)
        length = max([one * step for step in steps if one * step <= 130 * unit], default=one)
        parts, height = 4 if self.units == "in" else 5, 3.0 * unit
        boxes = [rectangle(x + length * n / parts, y, x + length * (n + 1) / parts, y + height) for n in range(parts)]
        self.canvas.area(boxes[1::2], GROUND, stroke=INK, width=0.4 * unit)
        self.canvas.area(boxes[::2], INK, stroke=INK, width=0.4 * unit)
        words = f"{show_length(length, self.units)} on the table"
        self.canvas.text(x + length + 4 * unit, y + height, words, NOTE_MM * unit, colour=QUIET)
        return y + height

    def notes(self, y: float, notes: Sequence[str]) -> float:
        """Lines of text across the page; returns the y below."""
        size = NOTE_MM * self.unit
        for note in notes:
            for line in wrapped(note, size, self.inner, " "):
                y += 1.5 * size
                self.canvas.text(self.band, y, line, size, colour=QUIET)
        return y + 0.5 * size

    def finish(self, below: float) -> Canvas:
        """The canvas, as high as what stands on it."""
        self.canvas.height = below + 8.0 * self.unit
        return self.canvas


def space_lines(spaces: Spaces) -> list[Points]:
    """The lines between the spaces of one cell, from the drawing's north-west corner, as far as no wall covers them."""
    k, pitch, wall = spaces.drawing.cell_spaces, spaces.drawing.grid.pitch, spaces.drawing.grid.wall_thickness
    row, column = np.nonzero(spaces.floor if spaces.off_grid is None else spaces.floor & ~spaces.off_grid.spaces)
    north, east, south, west = ((spaces.strips[row, column] >> side & 1) * wall for side in range(4))
    upright, level = column % k != 0, row % k != 0
    x, y = column * pitch, row * pitch
    down = np.stack([np.stack([x, y + north], axis=1), np.stack([x, y + pitch - south], axis=1)], axis=1)[upright]
    along = np.stack([np.stack([x + west, y], axis=1), np.stack([x + pitch - east, y], axis=1)], axis=1)[level]
    return [*down, *along]


# What pictures of figures share: a block's free floor, a place for a disc in it, circles and crosses.

# Places tried on either axis where no simple one will do.
_TRIED = 33
_CORNERS_OF_CIRCLE = 72


def free_floor(strips: Bytes, posts: Bytes, pitch: float, wall: float) -> BaseGeometry:
    """A block's floor less strips and posts, mm from its north-west corner, y to the south; (n, n) spaces."""
    rows, columns = strips.shape
    taken = []
    for row in range(rows):
        for column in range(columns):
            west, north = column * pitch, row * pitch
            east, south = west + pitch, north + pitch
            bars = (
                (west, north, east, north + wall),
                (east - wall, north, east, south),
                (west, south - wall, east, south),
                (west, north, west + wall, south),
            )
            corners = (
                (east - wall, north, east, north + wall),
                (east - wall, south - wall, east, south),
                (west, south - wall, west + wall, south),
                (west, north, west + wall, north + wall),
            )
            taken += [bars[k] for k in range(4) if strips[row, column] >> k & 1]
            taken += [corners[k] for k in range(4) if posts[row, column] >> k & 1]
    boxes = [shapely.box(*bounds) for bounds in taken]
    return shapely.box(0, 0, columns * pitch, rows * pitch).difference(shapely.union_all(boxes))


def place_disc(free: BaseGeometry, middle: tuple[float, float], diameter: float, wall: float) -> tuple[float, float]:
    """Where a disc stands on a free floor, as near as it can to the middle; if nowhere, where it comes nearest."""
    r = diameter / 2
    west, north, east, south = free.bounds
    xs, ys = (
        np.unique([m, (a + b) / 2, a + r, b - r, a + wall + r, b - wall - r, *np.linspace(a, b, _TRIED)])
        for m, a, b in ((middle[0], west, east), (middle[1], north, south))
    )
    x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
    points = shapely.points(x, y)
    room = np.where(shapely.covers(free, points), shapely.distance(free.boundary, points), 0.0)
    away = np.hypot(x - middle[0], y - middle[1])
    fits = room >= r - EQUAL_MM
    best = int(np.argmin(np.where(fits, away, math.inf)) if fits.any() else np.argmax(room))
    return float(x[best]), float(y[best])


def clear_region(spaces: Spaces, chosen: Bools, corner: tuple[float, float]) -> BaseGeometry:
    """The floor of chosen spaces less strips and posts; corner: the drawing's north-west corner on the page."""
    pitch, wall = spaces.drawing.grid.pitch, spaces.drawing.grid.wall_thickness
    row, column = np.nonzero(chosen)
    north, east, south, west = ((spaces.strips[row, column] >> side & 1) * wall for side in range(4))
    x, y = corner[0] + column * pitch, corner[1] + row * pitch
    floor = shapely.union_all(shapely.box(x + west, y + north, x + pitch - east, y + pitch - south))
    posts = []
    for bit, (south_end, east_end) in enumerate(((0, 1), (1, 1), (1, 0), (0, 0))):
        has = (spaces.posts[row, column] >> bit & 1).astype(bool)
        left, top = x[has] + east_end * (pitch - wall), y[has] + south_end * (pitch - wall)
        posts.append(shapely.box(left, top, left + wall, top + wall))
    clear = floor.difference(shapely.union_all(np.concatenate(posts)))
    return clear if spaces.off_grid is None else _clear_off_grid(spaces.off_grid, chosen, clear, corner)


def _clear_off_grid(
    off_grid: OffGridFloor, chosen: Bools, clear: BaseGeometry, corner: tuple[float, float]
) -> BaseGeometry:
    """The same where cells off the grid are cut to what is floor there, less its walls."""
    p = off_grid.pitch
    row, column = np.nonzero(off_grid.spaces)
    x, y = corner[0] + column * p, corner[1] + row * p
    cells = shapely.box(x, y, x + p, y + p)
    free = shapely.transform(shapely.union_all(list(off_grid.free.values())), lambda q: q * (1.0, -1.0) + corner)
    inside = shapely.union_all(cells[chosen[row, column]]).intersection(free)
    return clear.difference(shapely.union_all(cells)).union(inside)


def circle(x: float, y: float, radius: float) -> Points:
    """A closed ring of points around a centre."""
    turn = np.linspace(0.0, 2 * math.pi, _CORNERS_OF_CIRCLE + 1)
    ring: npt.NDArray[np.float64] = np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)
    return ring


def cross(x: float, y: float, arm: float) -> list[Points]:
    """Two lines across a point, each reaching `arm` from it along both axes."""
    return [polyline((x - arm, y - arm), (x + arm, y + arm)), polyline((x - arm, y + arm), (x + arm, y - arm))]


# The key of a picture: a row of small marks, each with what it means.

WHITE = "#ffffff"
# Draws a mark in a square: canvas, its left and top, its side.
Mark = Callable[[Canvas, float, float, float], None]


@dataclass(frozen=True, slots=True)
class KeyEntry:
    """A mark and what it means."""

    mark: Mark
    words: str


def draw_key(
    canvas: Canvas, entries: Sequence[KeyEntry], at: tuple[float, float], *, width: float, size: float
) -> float:
    """Marks and words from left to right in as many rows as it takes; size: of the text, mm; returns the y below."""
    side, gap = 1.8 * size, 0.5 * size
    left, y = at
    x = left
    for entry in entries:
        wide = side + gap + text_width(entry.words, size)
        if x > left and x + wide > left + width:
            x, y = left, y + side + gap
        entry.mark(canvas, x, y, side)
        canvas.text(x + side + gap, y + (side + CAP_HEIGHT * size) / 2, entry.words, size)
        x += wide + 1.4 * size
    return y + side


def disc_mark(canvas: Canvas, x: float, y: float, side: float) -> None:
    """A white disc with an outline."""
    centre = np.array([[x + side / 2, y + side / 2]])
    canvas.discs(centre, 0.36 * side, WHITE, stroke=INK, width=0.07 * side)


def cross_mark(canvas: Canvas, x: float, y: float, side: float) -> None:
    """A cross."""
    canvas.line(cross(x + side / 2, y + side / 2, 0.3 * side), INK, 0.16 * side)


def dashed_circle_mark(canvas: Canvas, x: float, y: float, side: float) -> None:
    """A dashed circle."""
    canvas.line([circle(x + side / 2, y + side / 2, 0.45 * side)], INK, 0.07 * side, dash=0.16 * side)


def swatch(hatch: Hatch | None, fill: str = FLOOR) -> Mark:
    """A square with an outline, filled and hatched."""

    def mark(canvas: Canvas, x: float, y: float, side: float) -> None:
        box = rectangle(x, y, x + side, y + side)
        canvas.area([box], fill, hatch=hatch)
        canvas.line([np.concatenate([box[0], box[0][:1]])], INK, 0.04 * side)

    return mark
