"""Where a room's title stands on its floor, and text in lines."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from tilegen.pictures.canvas import Canvas, rectangle, text_width
from tilegen.pictures.plan_view import FLOOR, INK, LINE
from tilegen.plans.drawing import Drawing

Box = tuple[float, float, float, float]


class RoomTitles:
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
                lines = wrapped(title, size, max(width, 0.1), " ")
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
