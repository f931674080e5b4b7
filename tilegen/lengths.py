"""Lengths with units: the only place that knows that an inch is 25.4 mm."""

from __future__ import annotations

import math
import re
from fractions import Fraction
from typing import Literal

from tilegen.errors import InputError, as_written, nearest

Units = Literal["mm", "in"]

# The international inch is exactly 25.4 mm (National Bureau of Standards Circular 572, addendum of 1960).
MM_PER_INCH = Fraction(254, 10)
_MM_PER = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
    "foot": 12 * MM_PER_INCH,
    "feet": 12 * MM_PER_INCH,
    "'": 12 * MM_PER_INCH,
}
_LENGTH = re.compile(
    r"""\s*(?P<sign>-)?
        (?:(?P<whole>\d+)[ ]+(?P<mixed>\d+/\d+) | (?P<fraction>\d+/\d+) | (?P<decimal>\d+\.?\d*|\.\d+))
        \s*(?P<unit>[A-Za-z"']*)\s*""",
    re.VERBOSE,
)
LONGEST_MM = 100_000.0
_LONGEST_TEXT = 40


def parse_length(value: object) -> float:
    """A length in millimetres from text with a unit, or from a bare number of millimetres.

    >>> parse_length("1 1/4 in"), parse_length("31.75 mm"), parse_length(6)
    (31.75, 31.75, 6.0)

    Raises:
        InputError: not a length, an unknown unit, not finite, or longer than 100 m.
    """
    if isinstance(value, bool) or not isinstance(value, int | float | str) or value != value:  # noqa: PLR0124 - nan
        raise InputError(f"{as_written(value)} is not a length", cure=_HOW)
    mm = _from_text(value) if isinstance(value, str) else float(value) if abs(value) < 1e300 else math.inf
    if abs(mm) > LONGEST_MM:
        raise InputError(
            f"{as_written(value).strip(chr(34))} is too long", cure="Check its unit; at most 100 m is possible"
        )
    return mm


_HOW = 'Write a number and its unit, as in "1.25 in", "31.75 mm" or "1/4 in"'


def _from_text(text: str) -> float:
    match = _LENGTH.fullmatch(text) if len(text) <= _LONGEST_TEXT else None
    if match is None:
        raise InputError(f"{as_written(text, _LONGEST_TEXT)} is not a length", cure=_HOW)
    unit = match["unit"].lower() or "mm"
    if unit not in _MM_PER:
        close = nearest(unit, [name for name in _MM_PER if name.isalpha()])
        raise InputError(
            f'"{match["unit"]}" in "{text}" is not a unit of length',
            cure=close if close.endswith("?") else "Use mm, cm, m, in or ft",
        )
    try:
        number = Fraction(match["decimal"] or match["fraction"] or match["mixed"]) + Fraction(match["whole"] or 0)
    except ZeroDivisionError:
        raise InputError(f'"{text}" divides by 0', cure='Write one such as "1/4 in"') from None
    exact = number * _MM_PER[unit]
    mm = float(exact) if exact < 10**12 else math.inf
    return -mm if match["sign"] else mm


def show_length(mm: float, units: Units = "mm") -> str:
    """A length for people: two decimals of a millimetre or three of an inch, no trailing zeros.

    >>> show_length(31.75), show_length(31.75, "in")
    ('31.75 mm', '1.25 in')
    """
    return f"{show_number(mm / float(MM_PER_INCH), 3) if units == 'in' else show_number(mm)} {units}"


def show_number(value: float, digits: int = 2) -> str:
    """A number for people: a few decimals, no trailing zeros.

    >>> show_number(31.75), show_number(6.0), show_number(-0.001), show_number(1200.0)
    ('31.75', '6', '0', '1200')
    """
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def rounded_down(value: float, digits: int = 2) -> float:
    """To a few decimals, so that who types what is shown stays below the value; `rounded_up` stays above.

    >>> rounded_down(3.456), rounded_up(3.451)
    (3.45, 3.46)
    """
    scale: int = 10**digits
    return math.floor(value * scale + 1e-6) / scale


def rounded_up(value: float, digits: int = 2) -> float:
    """To a few decimals, never below the value."""
    return -rounded_down(-value, digits)


def show_point(x: float, y: float) -> str:
    """A point of a plan as its file writes it, in cells or spaces.

    >>> show_point(2.5, 1.0)
    '[2.5, 1]'
    """
    return f"[{show_number(x)}, {show_number(y)}]"


def show_spot(x: float, y: float) -> str:
    """A point of a tile or part.

    >>> show_spot(25.4, 10.0)
    '(25.4, 10) mm'
    """
    return f"({show_number(x)}, {show_number(y)}) mm"


def show_area(mm2: float, units: Units = "mm") -> str:
    """An area for people.

    >>> show_area(1290.32), show_area(1290.32, "in")
    ('1290 mm2', '2 in2')
    """
    return f"{mm2 / float(MM_PER_INCH) ** 2:.3g} in2" if units == "in" else f"{mm2:.0f} mm2"


def counted(number: int, word: str) -> str:
    """A number of things.

    >>> counted(1, "tile"), counted(2, "tile"), counted(0, "body"), counted(1, "box")
    ('1 tile', '2 tiles', '0 bodies', '1 box')
    """
    if number != 1:
        word = f"{word[:-1]}ies" if re.search("[^aeiou]y$", word) else f"{word}es" if word.endswith("x") else f"{word}s"
    return f"{number} {word}"


_NUMBER = r"[+-]?\d+(?:\.\d+)?"
# Lengths as the notes write them: alone, or in a row that ends in mm.
_SAID = re.compile(rf"(?<![\w.]){_NUMBER}(?:(?: x | \+ | to | and |, ){_NUMBER})* mm\b")


def in_units(text: str, units: Units) -> str:
    """A text for people that speaks of millimetres, in their own unit.

    >>> in_units("2 sheets of 600 x 300 mm, 6 mm thick", "in")
    '2 sheets of 23.622 x 11.811 in, 0.236 in thick'
    """
    return text if units == "mm" else _SAID.sub(_in_inches, text)


def _in_inches(said: re.Match[str]) -> str:
    inches = re.sub(_NUMBER, lambda number: _shown(number[0]), said[0])
    return re.sub(r"\bmm\b", "in", inches)


def _shown(number: str) -> str:
    shown = show_length(float(number), "in").removesuffix(" in")
    return f"+{shown}" if number.startswith("+") else shown
