"""Patterns of stones and boards on an endless plane: for the same seed the same on every machine.

A pattern is a partition of the plane into convex or nearly convex stones; its joints are what is left when every
stone is drawn in by half a joint. Chance comes from hashed whole numbers, so that any window on the plane shows the
same stones. Sizes are in spaces; what they are is taste, not trade.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from importlib import import_module
from typing import Protocol

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.geometry import Bounds, Point
from tilegen.model.surface import PATTERNS, SPACE_LINE

Polygons = npt.NDArray[np.object_]
_MASK = 2**64 - 1
_STEP, _FIRST, _SECOND = 0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9, 0x94D049BB133111EB


@dataclass
class Stones:
    """What a window shows: stones less their joints, the joints' centres (each once) and small pits in the stones."""

    stones: list[Polygons] = field(default_factory=list)
    joints: list[tuple[Point, ...]] = field(default_factory=list)
    pits: list[Polygons] = field(default_factory=list)

    def shifted(self, x: float) -> Stones:
        """The same stones and pits further along by x; the joints stay."""

        def move(points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
            moved: npt.NDArray[np.float64] = points + np.array((x, 0.0))
            return moved

        stones, pits = ([shapely.transform(part, move) for part in group] for group in (self.stones, self.pits))
        return Stones(stones, self.joints, pits)


@dataclass(frozen=True, slots=True)
class Cut:
    """How a pattern is cut: side of a space and width of a joint in mm, and what chance hangs on."""

    pitch: float
    joint: float
    keys: tuple[int, ...]

    @property
    def wide(self) -> float:
        """Of the joints on the lines of the spaces, mm."""
        return self.joint * SPACE_LINE

    def keyed(self, *keys: int) -> Cut:
        """The same with more keys."""
        return replace(self, keys=(*self.keys, *keys))


def chance(*keys: int) -> float:
    """A number in [0, 1) from whole numbers: the mixing steps of splitmix64 (Steele, Lea, Flood 2014), from memory."""
    state = _STEP
    for key in keys:
        state = (state ^ (key & _MASK)) + _STEP & _MASK
        state = (state ^ state >> 30) * _FIRST & _MASK
        state = (state ^ state >> 27) * _SECOND & _MASK
        state ^= state >> 31
    return (state >> 11) * 2.0**-53


def chances(keys: tuple[int, ...], shape: tuple[int, int]) -> npt.NDArray[np.float64]:
    """A table of such numbers from the same keys, row by row."""
    state = np.arange(shape[0] * shape[1], dtype=np.uint64) + np.uint64(int(chance(*keys) * 2**53))
    state = (state + np.uint64(1)) * np.uint64(_STEP)
    state = (state ^ state >> np.uint64(30)) * np.uint64(_FIRST)
    state = (state ^ state >> np.uint64(27)) * np.uint64(_SECOND)
    state ^= state >> np.uint64(31)
    return (state >> np.uint64(11)).astype(np.float64).reshape(shape) * 2.0**-53


class Pattern(Protocol):
    """A pattern: what fills the plane with stones."""

    def fill_space(self, found: Stones, block: Bounds, cut: Cut) -> None:
        """Add the stones of one space, whose lines are wider joints."""

    def fill(self, found: Stones, window: Bounds, cut: Cut, height: float | None) -> None:
        """Add the stones that a window shows; whole courses fill a wall's height, mm."""


def pattern_of(word: str) -> Pattern:
    """A pattern by its word."""
    pattern: Pattern = import_module(f"tilegen.tiles.surfaces.{PATTERNS[word].file}").PATTERNS[word]
    return pattern


def floor_stones(name: str, window: Bounds, cut: Cut, *, lines: bool) -> Stones:
    """The stones of a floor that a window shows.

    lines: joints follow the lines of the spaces, which are wider; else the pattern runs free.
    """
    found, pattern, pitch = Stones(), pattern_of(name), cut.pitch
    if lines:
        for row in cells_between(window[1], window[3], pitch):
            for column in cells_between(window[0], window[2], pitch):
                block = (column * pitch, row * pitch, (column + 1) * pitch, (row + 1) * pitch)
                pattern.fill_space(found, block, cut.keyed(column, row))
        found.joints += space_lines(window, pitch)
    else:
        pattern.fill(found, window, cut, None)
    return found


def wall_stones(name: str, window: Bounds, height: float, cut: Cut) -> Stones:
    """The stones of a wall's face that a window shows; whole courses fill the wall's height."""
    found = Stones()
    pattern_of(name).fill(found, window, cut, height)
    return found


def cells_between(low: float, high: float, size: float) -> range:
    """The numbers of the cells of a size that a stretch lies on."""
    return range(math.floor(low / size + 1e-6), math.ceil(high / size - 1e-6))


def space_lines(window: Bounds, pitch: float) -> Iterator[tuple[Point, ...]]:
    """The lines between the spaces that a window shows."""
    west, south, east, north = window
    for column in cells_between(west, east, pitch)[1:]:
        yield (column * pitch, south), (column * pitch, north)
    for row in cells_between(south, north, pitch)[1:]:
        yield (west, row * pitch), (east, row * pitch)
