"""How sizes become settings of a fence."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum
from typing import NamedTuple

from tilegen.geometry import EQUAL_MM
from tilegen.sheets.cuttree import Size


class Fence(NamedTuple):
    """How sizes become settings. kerf: full width of the cut. trim: taken off each sheet's two reference edges.

    zero: what a cut piece measures more than the scale says (c0, from a test cut). tolerance: sizes that differ by
    less are cut on one setting. least_offcut: what is worth keeping; all in mm. together: strips that are cross-cut at
    one go, on each other. seconds: of work for a pass and for a metre of it.
    """

    kerf: float
    trim: float
    zero: float = 0.0
    tolerance: float = 0.0
    least_offcut: Size = (60.0, 200.0)
    together: int = 1
    seconds: tuple[float, float] = (0.0, 0.0)


def fence_settings(sizes: Sequence[float], tolerance: float) -> dict[float, float]:
    """The size that each size is cut to: sizes less than the tolerance apart become the smallest of them.

    The smallest, so that no tile comes out larger than its place. Common practice, no source.

    >>> fence_settings([50.0, 63.0, 63.2], 0.3)
    {50.0: 50.0, 63.0: 63.0, 63.2: 63.0}
    """
    found: dict[float, float] = {}
    first = None
    for size in sorted(set(sizes)):
        if first is None or size - first >= max(tolerance, EQUAL_MM):
            first = size
        found[size] = first
    return found


def fence_zero(readings: Sequence[tuple[float, float]]) -> float:
    """c0 = the mean of (measured - set) over test cuts, mm; then a size is cut at size - c0.

    >>> round(20.0 - fence_zero([(20.0, 19.6), (50.0, 49.6)]), 6)
    20.4
    """
    return fsum(measured - scale for scale, measured in readings) / len(readings)


def strips(stock: float, size: float, kerf: float, trims: Size) -> tuple[int, float]:
    """How many strips a sheet gives and what is left over; each trim takes its own kerf along, all mm.

    >>> strips(600, 50, 1, (5, 5))
    (11, 34)
    """
    number = int((stock - fsum(trims) + kerf + EQUAL_MM) // (size + kerf))
    return number, stock - trims[0] - number * (size + kerf)
