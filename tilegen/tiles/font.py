"""Letters as single strokes: what a laser, a pen or a knife can follow. Our own drawing, on a grid of 4 by 6."""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt

from tilegen.errors import InputError

Strokes = tuple[npt.NDArray[np.float64], ...]

CAP, WIDTH, ADVANCE = 6.0, 4.0, 6.0
# Room under the line of writing for the bar that tells 6 from 9 and W from M whichever way up they lie.
BELOW = 1.2
_BAR = "0 -1.2 4 -1.2"
_ROUND = "1 0 0 1 0 5 1 6 3 6 4 5 4 1 3 0 1 0"

_GLYPHS: dict[str, tuple[str, ...]] = {
    " ": (),
    "A": ("0 0 2 6 4 0", "0.7 2 3.3 2"),
    "B": ("0 3 3 3 4 4 4 5 3 6 0 6 0 0 3 0 4 1 4 2 3 3",),
    "C": ("4 5 3 6 1 6 0 5 0 1 1 0 3 0 4 1",),
    "D": ("0 0 0 6 2.5 6 4 4.5 4 1.5 2.5 0 0 0",),
    "E": ("4 6 0 6 0 0 4 0", "0 3 3 3"),
    "F": ("4 6 0 6 0 0", "0 3 3 3"),
    "G": ("4 5 3 6 1 6 0 5 0 1 1 0 3 0 4 1 4 3 2.2 3",),
    "H": ("0 0 0 6", "4 0 4 6", "0 3 4 3"),
    "I": ("1 6 3 6", "2 6 2 0", "1 0 3 0"),
    "J": ("1.5 6 4 6 4 1 3 0 1 0 0 1",),
    "K": ("0 0 0 6", "4 6 0 2.5", "1.5 3.8125 4 0"),
    "L": ("0 6 0 0 4 0",),
    "M": ("0 0 0 6 2 3 4 6 4 0", _BAR),
    "N": ("0 0 0 6 4 0 4 6",),
    "O": (_ROUND,),
    "P": ("0 0 0 6 3 6 4 5 4 4 3 3 0 3",),
    "Q": (_ROUND, "2.4 1.6 4.4 -0.4"),
    "R": ("0 0 0 6 3 6 4 5 4 4 3 3 0 3", "1.8 3 4 0"),
    "S": ("4 5 3 6 1 6 0 5 0 4 1 3 3 3 4 2 4 1 3 0 1 0 0 1",),
    "T": ("0 6 4 6", "2 6 2 0"),
    "U": ("0 6 0 1 1 0 3 0 4 1 4 6",),
    "V": ("0 6 2 0 4 6",),
    "W": ("0 6 0.8 0 2 3.5 3.2 0 4 6", _BAR),
    "X": ("0 0 4 6", "0 6 4 0"),
    "Y": ("0 6 2 3 4 6", "2 3 2 0"),
    "Z": ("0 6 4 6 0 0 4 0", "1 3 3 3"),
    "0": (_ROUND, "0.9 1.3 3.1 4.7"),
    "1": ("0.8 4.6 2 6 2 0",),
    "2": ("0 5 1 6 3 6 4 5 4 4 0 0 4 0",),
    "3": ("0 5 1 6 3 6 4 5 4 4 3 3 4 2 4 1 3 0 1 0 0 1", "1.5 3 3 3"),
    "4": ("3 0 3 6 0 2 4 2",),
    "5": ("4 6 0.4 6 0 3.2 1 3.7 3 3.7 4 2.7 4 1 3 0 1 0 0 1",),
    "6": ("3.4 6 1.4 5 0 2.6 0 1 1 0 3 0 4 1 4 2.4 3 3.4 1 3.4 0 2.6", _BAR),
    "7": ("0 6 4 6 1.5 0",),
    "8": ("1 3 0 4 0 5 1 6 3 6 4 5 4 4 3 3 1 3 0 2 0 1 1 0 3 0 4 1 4 2 3 3",),
    "9": ("0.6 0 2.6 1 4 3.4 4 5 3 6 1 6 0 5 0 3.6 1 2.6 3 2.6 4 3.4", _BAR),
    "-": ("0.6 3 3.4 3",),
    "/": ("0.4 0 3.6 6",),
    ".": ("1.7 0 2.3 0 2.3 0.6 1.7 0.6 1.7 0",),
    "'": ("2 6 1.6 4.4",),
    "+": ("0.6 3 3.4 3", "2 1.6 2 4.4"),
}


def text_size(text: str, height: float) -> tuple[float, float]:
    """Width and height in mm of a line of text, the bar under it included; `height` is that of its capitals."""
    unit = height / CAP
    return (ADVANCE * len(text) - (ADVANCE - WIDTH)) * unit, (CAP + BELOW) * unit


def text_strokes(text: str, height: float) -> Strokes:
    """A line of text as open polylines, (n, 2) in mm, least corner of its box at (0, 0).

    Raises:
        InputError: a character that has no strokes.
    """
    unit = height / CAP
    strokes = []
    for place, character in enumerate(text):
        for glyph in _glyph(character):
            strokes.append((glyph + np.array((ADVANCE * place, BELOW))) * unit)
    return tuple(strokes)


@cache
def _glyph(character: str) -> Strokes:
    if character not in _GLYPHS:
        raise InputError(
            f'the character "{character}" in a label', expected=f"one of {''.join(_GLYPHS).strip()} or a blank"
        )
    return tuple(np.array([float(n) for n in line.split()]).reshape(-1, 2) for line in _GLYPHS[character])
