"""How large the figures are: creature sizes, bases in use, and the spaces that a base covers."""

from __future__ import annotations

import math

from tilegen.errors import InputError, nearest
from tilegen.lengths import MM_PER_INCH

# Side of the square a creature takes up in a fight, in feet: System Reference Document 5.1, "Creature Size"
# (Wizards of the Coast, CC-BY-4.0). The largest is that or more.
FEET_OF_SIZE = {"tiny": 2.5, "small": 5.0, "medium": 5.0, "large": 10.0, "huge": 15.0, "gargantuan": 20.0}
# One inch on the table stands for five feet: common practice, no source.
FEET_PER_INCH = 5.0
INCH = float(MM_PER_INCH)


def spaces_across(base: float) -> int:
    """The spaces a base of this diameter (mm) covers each way: its inches rounded, halves up, and at least one.

    >>> [spaces_across(d) for d in (12.7, 25.4, 38.0, 38.1, 50.8)]
    [1, 1, 1, 2, 2]
    """
    return max(1, math.floor(base / INCH + 0.5))


def base_of_size(word: str) -> float:
    """The base, in mm, of a figure of a creature size by name.

    >>> base_of_size("Large")
    50.8

    Raises:
        InputError: not a size; offers the nearest.
    """
    feet = FEET_OF_SIZE.get(word.strip().lower())
    if feet is None:
        raise InputError(f'the size "{word}"', expected="a creature size", cure=nearest(word.lower(), FEET_OF_SIZE))
    return feet / FEET_PER_INCH * INCH


def check_base(base: float) -> None:
    """Refuse a diameter that no base has.

    Raises:
        InputError: not a finite number of millimetres above 0.
    """
    if not (math.isfinite(base) and base > 0):
        raise InputError(f"a figure with a base of {base:g} mm", expected="a diameter of more than 0", place="--figure")
