"""Patterns of stones and boards on an endless plane: for the same seed the same on every machine.

A pattern is a partition of the plane into convex or nearly convex stones; its joints are what is left when every
stone is drawn in by half a joint. Chance comes from hashed whole numbers, so that any window on the plane shows the
same stones. Sizes are in spaces; what they are is taste, not trade.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.surface import SPACE_LINE
from tilegen.tiles.plate import Point

Bounds = tuple[float, float, float, float]
Polygons = npt.NDArray[np.object_]
_MASK = 2**64 - 1
_LEAST_WEB_MM = 0.8
# Of flagstones, in spaces: the block a free floor is sawn from, the longest side and the largest stone that stay.
_BLOCK, _LONGEST, _LARGEST = 1.6, 0.62, 0.24
# Radius of a nail's pit, a share of the board's width.
_NAIL = 0.07


def chance(*keys: int) -> float:
    """A number in [0, 1) from whole numbers: the mixing steps of splitmix64 (Steele, Lea, Flood 2014), from memory."""
    state = 0x9E3779B97F4A7C15
    for key in keys:
        state = (state ^ (key & _MASK)) + 0x9E3779B97F4A7C15 & _MASK
        state = (state ^ state >> 30) * 0xBF58476D1CE4E5B9 & _MASK
        state = (state ^ state >> 27) * 0x94D049BB133111EB & _MASK
        state ^= state >> 31
    return (state >> 11) * 2.0**-53


@dataclass
class Stones:
    """What a window shows: stones less their joints, the joints' centres (each once) and small pits in the stones."""

    stones: list[Polygons] = field(default_factory=list)
    joints: list[tuple[Point, ...]] = field(default_factory=list)
    pits: list[Polygons] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Courses:
    """Stones in courses. In spaces: height of a course, length of a stone; as shares of these: how far joints stray.

    stray: along the course. wave: how far corners are off the course's line. uneven: how far the lines themselves are.
    rounded: radius of corners, a share of the height. nails: at the ends of boards. split: of a space's lines, how
    many stones a course has (and in every other one).
    """

    height: float
    length: float
    stray: float = 0.0
    wave: float = 0.0
    uneven: float = 0.0
    rounded: float = 0.0
    nails: bool = False
    split: tuple[int, int] = (1, 1)


COURSES: dict[str, Courses] = {
    "planks": Courses(1 / 4, 2.4, stray=0.5, nails=True, split=(1, 2)),
    "cobbles": Courses(1 / 4, 0.27, stray=0.25, wave=0.24, rounded=0.22, split=(4, 3)),
    "rough": Courses(1 / 3, 0.45, stray=0.35, wave=0.44, split=(2, 3)),
    "brick": Courses(1 / 8, 0.34, stray=0.08),
    "ashlar": Courses(1 / 4, 0.62, stray=0.4, uneven=0.4),
    "timber": Courses(1 / 5, 1.7, stray=0.5, nails=True),
}


def floor_stones(name: str, window: Bounds, pitch: float, joint: float, seed: int, *, lines: bool) -> Stones:
    """The stones of a floor that a window shows.

    lines: joints follow the lines of the spaces, which are wider; else the pattern runs free.
    """
    found = Stones()
    if lines:
        for column, row in _squares(window, pitch):
            block = (column * pitch, row * pitch, (column + 1) * pitch, (row + 1) * pitch)
            _add_space(found, name, block, pitch, joint, (seed, column, row))
        found.joints += _space_lines(window, pitch)
    elif name == "flagstones":
        size = _BLOCK * pitch
        for row in _between(window[1], window[3], size):
            shift = chance(seed, 1, row) * size
            for column in _between(window[0] - shift, window[2] - shift, size):
                west, south = column * size + shift, row * size
                block = (west, south, west + size, south + size)
                _add_flagstones(found, block, pitch, (joint, joint), (seed, column, row))
                found.joints.append(((west, south), (west, south + size)))
            found.joints.append(((window[0], row * size), (window[2], row * size)))
    else:
        courses = COURSES[name]
        _add_free(found, courses, window, pitch, courses.height * pitch, joint, seed)
    return found


def wall_stones(name: str, window: Bounds, pitch: float, height: float, joint: float, seed: int) -> Stones:
    """The stones of a wall's face that a window shows; whole courses fill the wall's height."""
    found = Stones()
    courses = COURSES[name]
    course = height / max(1, round(height / (courses.height * pitch)))
    _add_free(found, courses, window, pitch, course, joint, seed)
    return found


@dataclass(frozen=True, slots=True)
class _Line:
    """A line between courses, or a joint across one: where it is, its number, whether its ends may stray."""

    at: float
    number: int
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class _Row:
    """One course: its number and the joints across it, from west to east."""

    number: int
    joints: tuple[_Line, ...]


def _squares(window: Bounds, size: float) -> Iterator[tuple[int, int]]:
    """Columns and rows of the squares that a window meets."""
    for row in _between(window[1], window[3], size):
        for column in _between(window[0], window[2], size):
            yield column, row


def _between(low: float, high: float, size: float) -> range:
    return range(math.floor(low / size + 1e-6), math.ceil(high / size - 1e-6))


def _space_lines(window: Bounds, pitch: float) -> Iterator[tuple[Point, ...]]:
    west, south, east, north = window
    for column in _between(west, east, pitch)[1:]:
        yield (column * pitch, south), (column * pitch, north)
    for row in _between(south, north, pitch)[1:]:
        yield (west, row * pitch), (east, row * pitch)


def _add_space(found: Stones, name: str, block: Bounds, pitch: float, joint: float, keys: tuple[int, ...]) -> None:
    """The stones of one space, whose lines are wider joints."""
    if name == "flagstones":
        _add_flagstones(found, block, pitch, (joint, joint * SPACE_LINE), keys)
        return
    courses = COURSES[name]
    west, south, east, north = block
    count = round(1 / courses.height)
    height = (north - south) / count
    levels = [
        _Line(
            south + height * (n + (courses.uneven * (chance(*keys, 1, n) - 0.5) if 0 < n < count else 0.0)),
            n,
            n in (0, count),
        )
        for n in range(count + 1)
    ]
    first = int(chance(*keys, 2) * 2)
    rows = []
    for n in range(count):
        stones = courses.split[(n + first) % 2]
        length = (east - west) / stones
        at = [west + length * (m + courses.stray * (chance(*keys, 3, n, m) - 0.5)) for m in range(1, stones)]
        ends = [_Line(west, 0, True), *(_Line(x, m) for m, x in enumerate(at, 1)), _Line(east, stones, True)]
        rows.append(_Row(n, tuple(ends)))
    inner = shapely.box(*_shrunk(block, joint * SPACE_LINE / 2))
    _add_courses(found, levels, rows, courses, height, joint, keys, inner)


def _shrunk(bounds: Bounds, by: float) -> Bounds:
    return bounds[0] + by, bounds[1] + by, bounds[2] - by, bounds[3] - by


def _add_free(
    found: Stones, courses: Courses, window: Bounds, pitch: float, height: float, joint: float, seed: int
) -> None:
    """Courses without end, one row and some stones beyond the window on all sides."""
    west, south, east, north = window
    length = courses.length * pitch
    numbers = range(math.floor(south / height) - 1, math.ceil(north / height) + 3)
    levels = [_Line(height * (k + courses.uneven * (chance(seed, 1, k) - 0.5)), k) for k in numbers]
    rows = []
    for k in numbers[:-1]:
        # Joints of one course keep off those of the next by a half, give or take.
        shift = (k % 2) / 2 + courses.stray * (chance(seed, 2, k) - 0.5)
        joints = [
            _Line(length * (m + shift + courses.stray * (chance(seed, 3, k, m) - 0.5)), m)
            for m in range(math.floor(west / length) - 3, math.ceil(east / length) + 3)
        ]
        rows.append(_Row(k, tuple(joints)))
    _add_courses(found, levels, rows, courses, height, joint, (seed,), None)


def _add_courses(
    found: Stones,
    levels: Sequence[_Line],
    rows: Sequence[_Row],
    courses: Courses,
    height: float,
    joint: float,
    keys: tuple[int, ...],
    inner: shapely.Polygon | None,
) -> None:
    """Courses between their lines. inner: what the stones are cut to."""
    corners = partial(_corner, courses.wave * height, keys)
    ends = [
        [(corners(r, j, levels[n], 0), corners(r, j, levels[n + 1], 1)) for j in r.joints] for n, r in enumerate(rows)
    ]
    lines: list[list[Point]] = []
    for n in range(len(levels)):
        points = [top for _, top in ends[n - 1]] if n > 0 else []
        points += [bottom for bottom, _ in ends[n]] if n < len(rows) else []
        lines.append(sorted(set(points)))
    if courses.wave:
        stones = _wavy(ends, lines)
        rounded = courses.rounded * height
        stones = shapely.buffer(stones, -joint / 2 - rounded, join_style="mitre")
        if rounded:
            stones = shapely.buffer(stones, rounded, quad_segs=2)
    else:
        sides = (
            np.array(
                [
                    (west.at, levels[n].at, east.at, levels[n + 1].at)
                    for n, row in enumerate(rows)
                    for west, east in zip(row.joints, row.joints[1:], strict=False)
                ]
            )
            + np.array((joint, joint, -joint, -joint)) / 2
        )
        stones = shapely.box(*sides.T)
    if inner is not None:
        stones = shapely.intersection(stones, inner)
    found.stones.append(stones)
    for level, line in zip(levels, lines, strict=True):
        if not level.fixed:
            found.joints.append(tuple(line) if courses.wave else (line[0], line[-1]))
    found.joints += [
        pair
        for row, pairs in zip(rows, ends, strict=True)
        for j, pair in zip(row.joints, pairs, strict=True)
        if not j.fixed
    ]
    if courses.nails:
        found.pits.append(_nails(levels, rows, height, joint))


def _corner(wave: float, keys: tuple[int, ...], row: _Row, joint: _Line, level: _Line, side: int) -> Point:
    """Where a joint across a course meets the line under (0) or over (1) it."""
    x, y = joint.at, level.at
    if wave and not joint.fixed:
        x += wave * (chance(*keys, 4, row.number, joint.number, side) - 0.5)
    if wave and not level.fixed:
        y += wave * (chance(*keys, 5, row.number, joint.number, side) - 0.5)
    return x, y


def _wavy(ends: Sequence[Sequence[tuple[Point, Point]]], lines: Sequence[Sequence[Point]]) -> Polygons:
    """The stones between lines that stray: every corner of either course is a corner of both."""
    at = [{point: n for n, point in enumerate(line)} for line in lines]
    points: list[Point] = []
    ring: list[int] = []
    count = 0
    for n, pairs in enumerate(ends):
        for (low, up), (next_low, next_up) in zip(pairs, pairs[1:], strict=False):
            bottom = lines[n][at[n][low] : at[n][next_low] + 1]
            top = lines[n + 1][at[n + 1][up] : at[n + 1][next_up] + 1]
            points += [*bottom, *reversed(top)]
            ring += [count] * (len(bottom) + len(top))
            count += 1
    made: Polygons = shapely.polygons(shapely.linearrings(np.array(points), indices=np.array(ring)))
    return made


def _nails(levels: Sequence[_Line], rows: Sequence[_Row], height: float, joint: float) -> Polygons:
    """Two small pits at both ends of every board; none where boards are too narrow for them."""
    radius = _NAIL * height
    if (0.28 - _NAIL) * height < joint / 2 + _LEAST_WEB_MM:
        return np.array([], dtype=object)
    at = np.array(
        [
            (joint_.at + side * 0.32 * height, levels[n].at + share * height)
            for n, row in enumerate(rows)
            for k, joint_ in enumerate(row.joints)
            for side in ((1,) if k == 0 else (-1,) if k == len(row.joints) - 1 else (-1, 1))
            for share in (0.28, 0.72)
        ]
    )
    turn = np.arange(8) * math.tau / 8 + math.pi / 8
    ring = radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    made: Polygons = shapely.polygons(at[:, None, :] + ring[None, :, :])
    return made


def _add_flagstones(
    found: Stones, block: Bounds, pitch: float, joints: tuple[float, float], keys: tuple[int, ...]
) -> None:
    """A block sawn and sawn again across its longer side. joints: width inside the block and round it."""
    stones: list[Bounds] = []
    waiting: list[tuple[Bounds, int]] = [(block, 1)]
    while waiting:
        (west, south, east, north), number = waiting.pop()
        width, depth = east - west, north - south
        if max(width, depth) <= _LONGEST * pitch and width * depth <= _LARGEST * pitch**2:
            stones.append((west, south, east, north))
            continue
        share = 0.4 + 0.2 * chance(*keys, number)
        level = width > depth if abs(width - depth) > 1e-6 else chance(*keys, number, 1) < 0.5
        if level:
            x = west + share * width
            halves: tuple[Bounds, Bounds] = ((west, south, x, north), (x, south, east, north))
            found.joints.append(((x, south), (x, north)))
        else:
            y = south + share * depth
            halves = ((west, south, east, y), (west, y, east, north))
            found.joints.append(((west, y), (east, y)))
        waiting += [(halves[0], 2 * number), (halves[1], 2 * number + 1)]
    inner, outer = joints[0] / 2, joints[1] / 2
    boxes = np.array(stones) + np.array((inner, inner, -inner, -inner))
    low, high = np.array(block[:2]) + outer, np.array(block[2:]) - outer
    boxes[:, :2], boxes[:, 2:] = np.maximum(boxes[:, :2], low), np.minimum(boxes[:, 2:], high)
    found.stones.append(_chipped(boxes, pitch, keys))


def _chipped(boxes: npt.NDArray[np.float64], pitch: float, keys: tuple[int, ...]) -> Polygons:
    """Boxes with their corners knocked off, some more than others."""
    luck = np.array([[chance(*keys, 7, n, k) for k in range(8)] for n in range(len(boxes))])
    cuts = pitch * np.where(luck[:, :4] < 0.2, 0.05 + 0.04 * luck[:, 4:], 0.01 + 0.02 * luck[:, 4:])
    west, south, east, north = boxes.T
    a, b, c, d = cuts.T
    xs = [west + a, east - b, east, east, east - c * 1.3, west + d, west, west]
    ys = [south, south, south + b * 1.3, north - c, north, north, north - d * 1.3, south + a]
    made: Polygons = shapely.polygons(np.stack([np.stack(xs, axis=1), np.stack(ys, axis=1)], axis=2))
    return made
