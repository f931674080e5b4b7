"""A plot of pitch against the largest base: what a grid gives in halls of one and two spaces and in corners."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from tilegen.fit.figures import INCH
from tilegen.fit.finder import TradeOff
from tilegen.geometry import Points
from tilegen.lengths import Units, show_length
from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, polyline, rectangle, text_width
from tilegen.pictures.map_page import FAINT, QUIET
from tilegen.pictures.tile_view import INK

WIDTH, HEIGHT = 250.0, 165.0
LEFT, TOP, RIGHT, BOTTOM = 24.0, 34.0, 52.0, 22.0
LABEL, SMALL = 5.0, 4.4
WANTED, FOUND = "#8a5a12", "#565c63"
# What is plotted: words, value, dash of the line in mm (0: full).
CURVES: tuple[tuple[str, Callable[[TradeOff], float], float], ...] = (
    ("two-space hall", lambda row: row.two_space_hall, 0.0),
    ("corner", lambda row: row.corner, 5.0),
    ("one-space hall", lambda row: row.one_space_hall, 1.6),
)
_MOST_TICKS = 9
# Labels of lines this close together are moved apart, in text heights.
_APART = 1.25


def tradeoff_canvas(
    rows: Sequence[TradeOff], wanted: Sequence[float], wall: float, *, pitch: float | None = None, units: Units = "mm"
) -> Canvas:
    """Pitch from left to right, the largest base that stands upwards.

    wanted: bases, drawn level with their size. pitch: the user's or the found one, drawn upright. All in mm.

    Raises:
        ValueError: fewer than two rows.
    """
    if len(rows) < 2:
        raise ValueError("a plot takes at least two pitches")
    return _Plot(sorted(rows, key=lambda row: row.pitch), sorted(set(wanted)), wall, pitch, units).canvas


def round_ticks(low: float, high: float, units: Units) -> list[float]:
    """Ticks in mm at round numbers of the unit shown, at most nine: steps of 1, 2 or 5, or of binary fractions.

    >>> round_ticks(0.0, 100.0, "mm")
    [0.0, 20.0, 40.0, 60.0, 80.0, 100.0]
    >>> [round(tick / 25.4, 6) for tick in round_ticks(25.4, 50.8, "in")]
    [1.0, 1.125, 1.25, 1.375, 1.5, 1.625, 1.75, 1.875, 2.0]
    """
    one = INCH if units == "in" else 1.0
    if units == "in":
        steps = [2.0**n for n in range(-5, 8)]
    else:
        steps = [m * 10.0**n for n in range(-2, 5) for m in (1, 2, 5)]
    first, last = low / one, high / one
    for step in steps:
        start, end = math.ceil(first / step - 1e-9), math.floor(last / step + 1e-9)
        if end - start + 1 <= _MOST_TICKS:
            return [n * step * one for n in range(start, end + 1)]
    return [low, high]


class _Plot:
    """Draws one plot."""

    def __init__(
        self, rows: Sequence[TradeOff], wanted: Sequence[float], wall: float, pitch: float | None, units: Units
    ) -> None:
        self.rows, self.wanted, self.pitch, self.units = rows, wanted, pitch, units
        ends = [rows[0].pitch, rows[-1].pitch] + ([pitch] if pitch is not None else [])
        self.low, self.high = min(ends), max(ends)
        top = max([*(row.two_space_hall for row in rows), *(1.04 * base for base in wanted)])
        step = round_ticks(0.0, top, units)[1]
        self.up = [n * step for n in range(math.ceil(top / step - 1e-9) + 1)]
        self.top = self.up[-1]
        walls = f"walls of {show_length(wall, units)}"
        self.canvas = Canvas(WIDTH, HEIGHT, f"Pitch against the largest base, with {walls}")
        self.canvas.description = self._description()
        self.canvas.text(8.0, 13.0, "How large a base stands at which pitch", 8.0, bold=True, colour=INK)
        said = f"With {walls}. A base stands in every hall or corner whose line runs above the base's own."
        size = LABEL * min(1.0, (WIDTH - 16.0) / text_width(said, LABEL))
        self.canvas.text(8.0, 21.0, said, size, colour=QUIET)
        # Of all lines: where they end (y, x), what they are called, and whether they are grids' own.
        self.labels: list[tuple[float, float, str, bool]] = []
        self._axes()
        self._wanted()
        self._found()
        self._curves()
        self._labels()

    def _description(self) -> str:
        def said(name: str, value: Callable[[TradeOff], float]) -> str:
            first, last = (show_length(max(0.0, value(row)), self.units) for row in (self.rows[0], self.rows[-1]))
            return f"{name} {first} to {last}"

        ends = " to ".join(show_length(row.pitch, self.units) for row in (self.rows[0], self.rows[-1]))
        return f"Pitch {ends}: " + "; ".join(said(name, value) for name, value, _ in CURVES) + "."

    def _x(self, pitch: float) -> float:
        return LEFT + (pitch - self.low) / (self.high - self.low) * (WIDTH - LEFT - RIGHT)

    def _y(self, base: float) -> float:
        return HEIGHT - BOTTOM - base / self.top * (HEIGHT - TOP - BOTTOM)

    def _axes(self) -> None:
        canvas, right, bottom = self.canvas, WIDTH - RIGHT, HEIGHT - BOTTOM
        across, up = round_ticks(self.low, self.high, self.units), self.up
        canvas.line([polyline((self._x(t), TOP), (self._x(t), bottom)) for t in across], FAINT, 0.25)
        canvas.line([polyline((LEFT, self._y(t)), (right, self._y(t))) for t in up], FAINT, 0.25)
        for tick in across:
            canvas.text(self._x(tick), bottom + 6.0, self._number(tick), SMALL, "middle", colour=QUIET)
        for tick in up:
            y = self._y(tick) + CAP_HEIGHT * SMALL / 2
            canvas.text(LEFT - 2.0, y, self._number(tick), SMALL, "end", colour=QUIET)
        canvas.line([polyline((LEFT, TOP), (LEFT, bottom), (right, bottom))], INK, 0.45)
        canvas.text((LEFT + right) / 2, bottom + 14.0, f"pitch, {self.units}", LABEL, "middle")
        canvas.text(8.0, (TOP + bottom) / 2, f"largest base, {self.units}", LABEL, "middle", -90.0)

    def _number(self, mm: float) -> str:
        return show_length(mm, self.units).split(" ")[0]

    def _wanted(self) -> None:
        right = WIDTH - RIGHT
        for base in self.wanted:
            y = self._y(base)
            self.canvas.line([polyline((LEFT, y), (right, y))], WANTED, 0.4)
            self.labels.append((y, right, f"wanted: {show_length(base, self.units)}", False))

    def _found(self) -> None:
        if self.pitch is None:
            return
        x, bottom = self._x(self.pitch), HEIGHT - BOTTOM
        self.canvas.line([polyline((x, TOP - 2.0), (x, bottom))], FOUND, 0.9)
        words = f"this grid: {show_length(self.pitch, self.units)}"
        half = text_width(words, SMALL) / 2
        middle = min(max(x, LEFT + half), WIDTH - half - 2.0)
        self.canvas.text(middle, TOP - 3.5, words, SMALL, "middle", bold=True)

    def _curves(self) -> None:
        for words, value, dash in CURVES:
            points = self._points(value)
            if len(points) < 2:
                continue
            self.canvas.line([points], INK, 0.9, dash=dash)
            self.labels.append((float(points[-1, 1]), float(points[-1, 0]), words, True))
        # The lowest line has its figure below it, the others above.
        for number, (_, value, _) in enumerate(CURVES):
            self._dot(value, above=number < len(CURVES) - 1)

    def _labels(self) -> None:
        """Every line's name at its right end, moved down where two would stand on each other."""
        last = -math.inf
        for y, x, words, bold in sorted(self.labels):
            at = max(y, last + _APART * LABEL)
            last = at
            right = WIDTH - RIGHT
            self.canvas.line([polyline((x + 0.6, y), (right + 1.0, y), (right + 3.5, at))], INK, 0.2)
            self.canvas.text(right + 4.2, at + CAP_HEIGHT * LABEL / 2, words, LABEL, bold=bold)

    def _points(self, value: Callable[[TradeOff], float]) -> Points:
        """The part of a line above 0, (n, 2) on the page; it starts where it leaves the axis."""
        pitches = np.array([row.pitch for row in self.rows])
        bases = np.array([value(row) for row in self.rows])
        above = np.flatnonzero(bases >= 0)
        if not len(above):
            return np.zeros((0, 2))
        first = int(above[0])
        points = list(zip(pitches[first:].tolist(), bases[first:].tolist(), strict=True))
        if first:
            share = -bases[first - 1] / (bases[first] - bases[first - 1])
            points.insert(0, (float(pitches[first - 1] + share * (pitches[first] - pitches[first - 1])), 0.0))
        return np.array([(self._x(pitch), self._y(base)) for pitch, base in points])

    def _dot(self, value: Callable[[TradeOff], float], *, above: bool) -> None:
        """Where a line crosses this grid's pitch, with the base that stands there."""
        if self.pitch is None:
            return
        pitches, bases = [row.pitch for row in self.rows], [value(row) for row in self.rows]
        if not pitches[0] <= self.pitch <= pitches[-1]:
            return
        base = float(np.interp(self.pitch, pitches, bases))
        if base < 0:
            return
        x, y = self._x(self.pitch), self._y(base)
        self.canvas.discs(np.array([[x, y]]), 1.5, "#ffffff", stroke=INK, width=0.6)
        words = show_length(base, self.units)
        wide = text_width(words, SMALL)
        left, top = (x - 2.6 - wide, y - 2.6 - SMALL) if above else (x + 2.6, y + 1.8)
        if left + wide > WIDTH - 2.0:
            left = x - 2.6 - wide
        if left < LEFT + 1.0:
            left = x + 2.6
        self.canvas.area([rectangle(left - 0.6, top, left + wide + 0.6, top + 1.3 * SMALL)], "#ffffff")
        self.canvas.text(left, top + 0.3 * SMALL + CAP_HEIGHT * SMALL, words, SMALL, bold=True)
