"""Patterns of stones and boards on an endless plane: for the same seed the same on every machine.

A pattern is a partition of the plane into convex or nearly convex stones; its joints are what is left when every
stone is drawn in by half a joint. Chance comes from hashed whole numbers, so that any window on the plane shows the
same stones. Sizes are in spaces; what they are is taste, not trade.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from tilegen.geometry import Bounds, Point
from tilegen.tiles.courses import Courses, add_free, add_space
from tilegen.tiles.flagstones import BLOCK, add_flagstones
from tilegen.tiles.stones import Cut, Stones, chance

COURSES: dict[str, Courses] = {
    "planks": Courses(1 / 4, 2.4, stray=0.5, nails=True, split=(1, 2)),
    "cobbles": Courses(1 / 4, 0.27, stray=0.25, wave=0.24, rounded=0.22, split=(4, 3)),
    "rough": Courses(1 / 3, 0.45, stray=0.35, wave=0.44, split=(2, 3)),
    "brick": Courses(1 / 8, 0.34, stray=0.08),
    "ashlar": Courses(1 / 4, 0.62, stray=0.4, uneven=0.4),
    "timber": Courses(1 / 5, 1.7, stray=0.5, nails=True),
}


def floor_stones(name: str, window: Bounds, cut: Cut, *, lines: bool) -> Stones:
    """The stones of a floor that a window shows.

    lines: joints follow the lines of the spaces, which are wider; else the pattern runs free.
    """
    found = Stones()
    pitch = cut.pitch
    if lines:
        for row in _between(window[1], window[3], pitch):
            for column in _between(window[0], window[2], pitch):
                block = (column * pitch, row * pitch, (column + 1) * pitch, (row + 1) * pitch)
                here = cut.keyed(column, row)
                if name == "flagstones":
                    add_flagstones(found, block, here, border=cut.wide)
                else:
                    add_space(found, COURSES[name], block, here)
        found.joints += _space_lines(window, pitch)
    elif name == "flagstones":
        _add_free_flagstones(found, window, cut)
    else:
        courses = COURSES[name]
        add_free(found, courses, window, courses.height * pitch, cut)
    return found


def wall_stones(name: str, window: Bounds, height: float, cut: Cut) -> Stones:
    """The stones of a wall's face that a window shows; whole courses fill the wall's height."""
    found = Stones()
    courses = COURSES[name]
    course = height / max(1, round(height / (courses.height * cut.pitch)))
    add_free(found, courses, window, course, cut)
    return found


def _add_free_flagstones(found: Stones, window: Bounds, cut: Cut) -> None:
    """Blocks in bond, each sawn up by itself."""
    size = BLOCK * cut.pitch
    for row in _between(window[1], window[3], size):
        shift = chance(*cut.keys, 1, row) * size
        for column in _between(window[0] - shift, window[2] - shift, size):
            west, south = column * size + shift, row * size
            add_flagstones(found, (west, south, west + size, south + size), cut.keyed(column, row), border=cut.joint)
            found.joints.append(((west, south), (west, south + size)))
        found.joints.append(((window[0], row * size), (window[2], row * size)))


def _between(low: float, high: float, size: float) -> range:
    return range(math.floor(low / size + 1e-6), math.ceil(high / size - 1e-6))


def _space_lines(window: Bounds, pitch: float) -> Iterator[tuple[Point, ...]]:
    west, south, east, north = window
    for column in _between(west, east, pitch)[1:]:
        yield (column * pitch, south), (column * pitch, north)
    for row in _between(south, north, pitch)[1:]:
        yield (west, row * pitch), (east, row * pitch)
