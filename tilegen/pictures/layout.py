"""The plan as it lies on the table: every tile in its place, numbered and with an arrow that shows how it is turned."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from tilegen.lengths import MM_PER_INCH, Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, Points, Rings, polyline, rectangle, text_width
from tilegen.pictures.plan_view import FLOOR, INK, LINE, SEAM, GroundPlan, draw_doors, draw_ground, ground_plan
from tilegen.plans.drawing import Drawing
from tilegen.plans.kit import Kit, PieceType, TileType
from tilegen.plans.placing import placed, placed_pieces
from tilegen.tiles.shape import CellShape

GROUND = "#ffffff"
FAINT = "#dcdcd8"
QUIET = "#565c63"
# Up to this size on the table the lettering is as large as given; on larger plans it grows with them.
PLAIN_MM = 600.0
KEY_MM = 13.0
NAME_MM = 4.6
TITLE_MM = 8.0
NOTE_MM = 5.0
# On plans this many times as large the names in the tiles could not be read: only the numbers stay.
NAMELESS = 2.0
# An arrow that points north in a square of side 1 about (0, 0).
_ARROW = np.array(
    [(0, -0.5), (0.36, 0.02), (0.11, 0.02), (0.11, 0.5), (-0.11, 0.5), (-0.11, 0.02), (-0.36, 0.02)], np.float64
)
_TURNED = (((1, 0), (0, 1)), ((0, -1), (1, 0)), ((-1, 0), (0, -1)), ((0, 1), (-1, 0)))
Box = tuple[float, float, float, float]


@dataclass(frozen=True)
class Entry:
    """One line of the legend."""

    key: str
    plan: GroundPlan
    name: str
    id: str
    count: int
    any_way_round: bool = False
    door: bool = False


def layout_svg(drawing: Drawing, kit: Kit, *, units: Units = "mm") -> str:
    """The layout as an SVG in millimetres of the table: printed at 100 % it is as large as the built map."""
    return layout_canvas(drawing, kit, units=units).svg()


def layout_png(drawing: Drawing, kit: Kit, *, units: Units = "mm") -> bytes:
    """The layout as a PNG of at most about 4000 pixels on its long side."""
    return layout_canvas(drawing, kit, units=units).png()


def layout_canvas(drawing: Drawing, kit: Kit, *, units: Units = "mm") -> Canvas:
    """The plan with every tile in place, coordinates, room titles, scale bar and legend.

    Raises:
        ValueError: a kit that is not of this drawing, or holds a tile off the grid.
    """
    return _Layout(drawing, kit, units).canvas


class _Layout:
    """Draws one layout, layer by layer, from the ground up."""

    def __init__(self, drawing: Drawing, kit: Kit, units: Units) -> None:
        self.drawing, self.kit, self.units = drawing, kit, units
        rows, columns = drawing.rooms.shape
        self.side = drawing.cell_side
        self.width, self.height = columns * self.side, rows * self.side
        self.unit: float = max(1.0, max(self.width, self.height) / PLAIN_MM)
        self.entries, self.doors = _entries(kit), _door_entries(kit)
        legend = _Legend([*self.entries.values(), *self.doors.values()], self.unit, kit.grid.tile_side)
        band = 12.0 * self.unit
        self.page_width = max(self.width + 2 * band, legend.column + 2 * band, 200 * self.unit)
        self.left, self.top = (self.page_width - self.width) / 2, band + 27.0 * self.unit
        inner = self.page_width - 2 * band
        self.canvas = Canvas(
            self.page_width,
            0.0,  # known when the notes and the legend are set
            f"{drawing.name}: layout",
            f"{self._summary()} Every tile is drawn in its place with the number of its type; its arrow points to the "
            "tile's own north. The legend names the types.",
            GROUND,
        )
        self._heading(band)
        self._coordinates()
        self._ground()
        homeless = self._titles(self._tiles_and_pieces())
        below = self._scale_bar(band, self.top + self.height + band + 4.0 * self.unit)
        below = self._notes(band, below, homeless)
        legend.draw(self.canvas, band, below, inner)
        self.canvas.height = below + legend.height(inner) + 8.0 * self.unit

    def _summary(self) -> str:
        tiles, types = self.kit.tiles, len(self.kit.types)
        doors = sum(piece.count for piece in self.kit.pieces)
        pieces = f" and {_counted(doors, 'door piece')}" if doors else ""
        size = f"{show_length(self.width, self.units)} x {show_length(self.height, self.units)} on the table"
        square = f"one numbered square is {self.drawing.scale}, {show_length(self.side, self.units)}"
        return f"{_counted(tiles, 'tile')} of {_counted(types, 'type')}{pieces}; {size}; {square}."

    def _heading(self, x: float) -> None:
        room = self.page_width - 2 * x
        for words, y, size, bold in (
            (self.drawing.name, 16.0, 11.0, True),
            (self._summary(), 24.5, 5.4, False),
        ):
            fitted = size * self.unit * min(1.0, room / max(text_width(words, size * self.unit), 1e-9))
            self.canvas.text(x, y * self.unit, words, fitted, bold=bold, colour=INK if bold else QUIET)

    def _coordinates(self) -> None:
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

    def _ground(self) -> None:
        """The squares of the drawing, and under the floor what shows through the seams."""
        rows, columns = self.drawing.rooms.shape
        right, bottom = self.left + self.width, self.top + self.height
        xs = [self.left + n * self.side for n in range(columns + 1)]
        ys = [self.top + n * self.side for n in range(rows + 1)]
        lines = [polyline((x, self.top), (x, bottom)) for x in xs] + [polyline((self.left, y), (right, y)) for y in ys]
        floor = self.drawing.rooms != 0
        solid, covered = (
            [rectangle(xs[a], ys[row], xs[b], ys[row + 1]) for row in range(rows) for a, b in _runs(cells[row])]
            for cells in (~floor, floor)
        )
        self.canvas.area(solid, GROUND, hatch=Hatch(FAINT, 4.0 * self.unit, 0.4 * self.unit))
        self.canvas.line(lines, FAINT, 0.6 * self.unit)
        self.canvas.area(covered, SEAM)

    def _tiles_and_pieces(self) -> list[Box]:
        """All that lies on the table, with numbers and arrows; returns the boxes of those."""
        plans, labels = [], []
        for tile_type, turn in placed(self.kit, self.drawing):
            entry = self.entries[tile_type.tile.id]
            plan = entry.plan.placed(replace(turn, x=turn.x + self.left, y=turn.y + self.top))
            plans.append(plan)
            labels.append(_Label(entry, plan, turn.quarter_turns, self.unit))
        draw_ground(self.canvas, plans, edge=0.5 * min(self.unit, 2.0))
        self.canvas.area([rectangle(*label.box) for label in labels], FLOOR)
        self.canvas.area([label.arrow for label in labels if not label.entry.any_way_round], QUIET)
        for label in labels:
            label.write(self.canvas)
        self._pieces()
        return [label.box for label in labels]

    def _pieces(self) -> None:
        plans = []
        for piece_type, turn in placed_pieces(self.kit, self.drawing):
            entry = self.doors[piece_type.piece.id]
            plan = entry.plan.placed(replace(turn, x=turn.x + self.left, y=turn.y + self.top))
            plans.append((entry.key, plan))
        draw_doors(self.canvas, [plan for _, plan in plans])
        for key, plan in plans:
            points = np.concatenate([ring for rings in (plan.ways or plan.floor) for ring in rings])
            low, high = points.min(axis=0), points.max(axis=0)
            size = min(0.8 * float((high - low).min()), 9.0)
            x, y = ((low + high) / 2).tolist()
            self.canvas.text(x, y + CAP_HEIGHT * size / 2, key, size, "middle", bold=True)

    def _titles(self, labels: list[Box]) -> list[str]:
        """The rooms' titles on their floors; returns what finds no place there, with where the room starts."""
        writer = _RoomTitles(self.drawing, labels, (self.left, self.top), TITLE_MM * min(self.unit, 2.0))
        return writer.draw(self.canvas)

    def _scale_bar(self, x: float, y: float) -> float:
        """Returns the y below it."""
        steps = (1, 2, 5, 10, 20, 50) if self.units == "mm" else (1, 2, 3, 6, 12, 24)
        one = 100.0 if self.units == "mm" else 4 * float(MM_PER_INCH)
        length = max([one * step for step in steps if one * step <= 130 * self.unit], default=one)
        parts, height = 4 if self.units == "in" else 5, 3.0 * self.unit
        boxes = [rectangle(x + length * n / parts, y, x + length * (n + 1) / parts, y + height) for n in range(parts)]
        self.canvas.area(boxes[1::2], GROUND, stroke=INK, width=0.4 * self.unit)
        self.canvas.area(boxes[::2], INK, stroke=INK, width=0.4 * self.unit)
        words = f"{show_length(length, self.units)} on the table"
        self.canvas.text(x + length + 4 * self.unit, y + height, words, NOTE_MM * self.unit, colour=QUIET)
        return y + height

    def _notes(self, x: float, y: float, homeless: list[str]) -> float:
        """How to read the picture, below the scale bar; returns the y below."""
        notes = ["Arrow: where the top of the tile's picture below points. No arrow: it lies any way round."]
        if self.kit.pieces:
            notes[0] += " Hatched: door pieces, stood over the seam last."
        if homeless:
            notes.append(f"Titles without space on the plan: {'; '.join(homeless)}.")
        size = NOTE_MM * self.unit
        for note in notes:
            for line in _wrapped(note, size, self.page_width - 2 * x, " "):
                y += 1.5 * size
                self.canvas.text(x, y, line, size, colour=QUIET)
        return y + 0.5 * size


class _Label:
    """A tile's number, its arrow beside it and its name below, in the largest free circle of its floor."""

    def __init__(self, entry: Entry, plan: GroundPlan, turns: int, unit: float) -> None:
        self.entry = entry
        x, y = plan.label
        self.size = size = min(KEY_MM * min(unit, 1.5), 0.62 * plan.reach if unit < NAMELESS else 0.75 * plan.reach)
        names = _wrapped(entry.name, NAME_MM, 1.75 * plan.reach, "-")
        roomy = plan.reach > 1.5 * KEY_MM and len(names) <= 2 and unit < NAMELESS
        self.names = names if roomy else []
        width = text_width(entry.key, size)
        arrow, gap = (0.0, 0.0) if entry.any_way_round else (0.8 * size, 0.18 * size)
        cap = CAP_HEIGHT * size
        # A tile with room for its name keeps the number low, so that a room's title finds space above it.
        self.baseline = y + cap / 2 + (1.0 if self.names else 0.0)
        left = x - (width + gap + arrow) / 2
        self.x = left + width / 2
        self.arrow: Rings = (
            (_ARROW * 1.1 * size * 0.8) @ np.array(_TURNED[turns], np.float64).T
            + (left + width + gap + arrow / 2, self.baseline - cap / 2),
        )
        half = max([width + gap + arrow, *(text_width(line, NAME_MM) for line in self.names)]) / 2
        below = (0.6 + 1.25 * len(self.names)) * NAME_MM if self.names else 0.0
        pad = 0.12 * size
        self.box = (x - half - pad, self.baseline - cap - pad, x + half + pad, self.baseline + below + pad)

    def write(self, canvas: Canvas) -> None:
        canvas.text(self.x, self.baseline, self.entry.key, self.size, "middle", bold=True)
        x = (self.box[0] + self.box[2]) / 2
        for number, line in enumerate(self.names, 1):
            y = self.baseline + (0.35 + 1.25 * number) * NAME_MM
            canvas.text(x, y, line, NAME_MM, "middle", colour=QUIET)


class _RoomTitles:
    """Finds each room's title a place on its floor that no number stands on."""

    def __init__(self, drawing: Drawing, labels: list[Box], corner: tuple[float, float], size: float) -> None:
        self.drawing, self.size, self.corner = drawing, size, corner
        self.taken = np.array(labels, np.float64).reshape(-1, 4)

    def draw(self, canvas: Canvas) -> list[str]:
        """Write the titles; returns those that would cover a number or leave the floor, with where the room starts."""
        homeless = []
        for letter, title in self.drawing.titles.items():
            room = ord(letter)
            found = min(self._choices(room, title), key=lambda choice: choice[0], default=None)
            if found is None or found[0][0]:
                row, column = np.argwhere(self.drawing.rooms == room)[0].tolist()
                homeless.append(f"{title} (column {column + 1}, row {row + 1})")
            else:
                self._write(canvas, *found[1:])
        return homeless

    def _write(self, canvas: Canvas, x: float, y: float, size: float, lines: list[str]) -> None:
        half = max(text_width(line, size) for line in lines) / 2
        box = (x - half - 0.4 * size, y - 0.1 * size, x + half + 0.4 * size, y + (1.2 * len(lines) + 0.1) * size)
        canvas.area([rectangle(*box)], FLOOR, stroke=LINE, width=0.05 * size)
        for number, line in enumerate(lines):
            canvas.text(x, y + (0.92 + 1.2 * number) * size, line, size, "middle", colour=INK)
        self.taken = np.vstack([self.taken, box])

    def _choices(self, room: int, title: str) -> Iterator[tuple[tuple[float, ...], float, float, float, list[str]]]:
        """(badness, middle x, top y, size, lines) of every place considered for a title."""
        side, wall = self.drawing.cell_side, self.drawing.grid.wall_thickness
        for x0, x1, top, off_centre in self._rows_of(room):
            for shrink in (1.0, 0.8, 0.65, 0.5):
                size = self.size * shrink
                width = x1 - x0 - 2 * wall - 1.2 * size
                lines = _wrapped(title, size, max(width, 0.1), " ")
                half, height = max(text_width(line, size) for line in lines) / 2, (1.2 * len(lines) + 0.2) * size
                low, high = top + wall + 0.3 * size, top + side - wall - height - 0.1 * size
                spill = max(2 * half - width, 0.0) + max(low - high, 0.0)
                x = (x0 + x1) / 2
                for order, y in enumerate((low, max(high, low), max((low + high) / 2, low))):
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
            for a, b in _runs(inside[row], self.drawing.down[row, 1:-1] != 0):
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


class _Legend:
    """Number, small picture, name, id and count of every type, in as many columns as the page has room for."""

    def __init__(self, entries: list[Entry], unit: float, tile_side: float) -> None:
        self.entries, self.unit, self.tile_side = entries, unit, tile_side
        self.size, self.row = 5.6 * unit, 19.0 * unit
        self.icon = 15.0 * unit
        names = max((text_width(entry.name, self.size) for entry in entries), default=0.0)
        self.column = 15.0 * unit + self.icon + 4.0 * unit + max(names, 30 * unit) + 22.0 * unit

    def _rows(self, width: float) -> tuple[int, int]:
        columns = max(1, min(int(width / self.column), len(self.entries)))
        return math.ceil(len(self.entries) / columns), columns

    def height(self, width: float) -> float:
        return self._rows(width)[0] * self.row

    def draw(self, canvas: Canvas, left: float, top: float, width: float) -> None:
        rows, columns = self._rows(width)
        pitch = width / columns
        for number, entry in enumerate(self.entries):
            self._entry(canvas, entry, left + number // rows * pitch, top + number % rows * self.row)

    def _entry(self, canvas: Canvas, entry: Entry, x: float, y: float) -> None:
        middle = y + self.row / 2
        canvas.text(x + 12 * self.unit, middle + 3.2 * self.unit, entry.key, 8.8 * self.unit, "end", bold=True)
        plan = entry.plan.mapped(self._icon_map(entry.plan, x + 15 * self.unit + self.icon / 2, middle))
        if entry.door:
            draw_doors(canvas, [plan], line=0.3 * self.unit)
        else:
            draw_ground(canvas, [plan], edge=0.3 * self.unit, line=0.2 * self.unit)
        at = x + 19 * self.unit + self.icon
        canvas.text(at, middle - 0.8 * self.unit, entry.name, self.size)
        count = f"{entry.count} needed"
        words = f"{count}, id {entry.id}"
        canvas.text(at, middle + 6.0 * self.unit, words, 0.9 * self.size, colour=QUIET)

    def _icon_map(self, plan: GroundPlan, x: float, y: float) -> Callable[[Points], Points]:
        """From a tile's own frame to its little picture about (x, y), all tiles at one scale."""
        points = np.concatenate([ring for rings in plan.floor for ring in rings])
        low, high = points.min(axis=0), points.max(axis=0)
        scale = self.icon / max(self.tile_side, float((high - low).max()))
        centre = (low + high) / 2

        def mapped(own: Points) -> Points:
            small: Points = (own - centre) * (scale, -scale) + (x, y)
            return small

        return mapped


def _entries(kit: Kit) -> dict[str, Entry]:
    """The legend's lines for the tiles by their id, in the kit's order."""
    return {t.tile.id: _entry(str(number), t) for number, t in enumerate(kit.types, 1)}


def _entry(key: str, tile_type: TileType) -> Entry:
    tile = tile_type.tile
    same = isinstance(tile.shape, CellShape) and tile.shape.turned() == tile.shape
    return Entry(key, ground_plan(tile), tile.name, tile.id, tile_type.count, any_way_round=same)


def _door_entries(kit: Kit) -> dict[str, Entry]:
    def entry(number: int, piece_type: PieceType) -> Entry:
        piece = piece_type.piece
        key = "S" if len(kit.pieces) == 1 else f"S{number}"
        return Entry(key, ground_plan(piece), piece.name, piece.id, piece_type.count, door=True)

    return {p.piece.id: entry(number, p) for number, p in enumerate(kit.pieces, 1)}


def _runs(inside: npt.NDArray[np.bool_], broken: npt.NDArray[np.bool_] | None = None) -> list[tuple[int, int]]:
    """First and one past the last of each run of true values; broken: a run ends between n and n + 1 where set."""
    starts = np.flatnonzero(inside)
    if not len(starts):
        return []
    cuts = np.diff(starts) > 1
    if broken is not None:
        cuts |= broken[starts[:-1]]
    edges = [0, *(np.flatnonzero(cuts) + 1).tolist(), len(starts)]
    return [(int(starts[a]), int(starts[b - 1]) + 1) for a, b in pairwise(edges)]


def _wrapped(words: str, size: float, width: float, mark: str) -> list[str]:
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


def _counted(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
