"""The key of a picture: a row of small marks, each with what it means."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from tilegen.pictures.canvas import CAP_HEIGHT, Canvas, Hatch, rectangle, text_width
from tilegen.pictures.plan_view import FLOOR, INK
from tilegen.pictures.stand import circle, cross

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
