"""Stones and boards in courses: how they are laid, and the table of such patterns."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import cast

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from tilegen.geometry import Bounds, Point
from tilegen.tiles.surfaces.stones import Cut, Polygons, Stones, chance

_LEAST_WEB_MM = 0.8
# Nails, as shares of the board's width: radius of the pit, distance from the board's sides and from its end.
_NAIL, _NAIL_SIDE, _NAIL_END = 0.07, 0.28, 0.32
_NAIL_CORNERS = 8
# Corners of two courses are one if they are no further apart than this share of the wave.
_NEAR = 0.35


@dataclass(frozen=True, slots=True)
class Courses:
    """Stones in courses. In spaces: height of a course, length of a stone; as shares of these: how far joints stray.

    stray: along the course. wave: how far corners are off the course's line. uneven: how far the lines themselves are.
    rounded: radius of corners, a share of the height. nails: at the ends of boards. split: where the spaces' lines are
    kept, how many stones a space has in one course and in the next.
    """

    height: float
    length: float
    stray: float = 0.0
    wave: float = 0.0
    uneven: float = 0.0
    rounded: float = 0.0
    nails: bool = False
    split: tuple[int, int] = (1, 1)

    def fill_space(self, found: Stones, block: Bounds, cut: Cut) -> None:
        """The stones of one space, whose lines are wider joints."""
        west, south, east, north = block
        count, keys = round(1 / self.height), cut.keys
        height = (north - south) / count
        levels = [_Line(south + height * n, n, n in (0, count)) for n in range(count + 1)]
        first = int(chance(*keys, 2) * 2)
        rows = []
        for n in range(count):
            stones = self.split[(n + first) % 2]
            length = (east - west) / stones
            at = [west + length * (m + self.stray * (chance(*keys, 3, n, m) - 0.5)) for m in range(1, stones)]
            ends = [_Line(west, 0, True), *(_Line(x, m) for m, x in enumerate(at, 1)), _Line(east, stones, True)]
            rows.append(_Row(n, tuple(ends)))
        inset = cut.wide / 2
        inner = box(west + inset, south + inset, east - inset, north - inset)
        _Coursing(levels, rows, self, height, cut).add(found, inner)

    def fill(self, found: Stones, window: Bounds, cut: Cut, height: float | None) -> None:
        """Courses without end, a row and some stones beyond the window on all sides; whole ones on a wall's height."""
        course = self.height * cut.pitch
        course = course if height is None else height / max(1, round(height / course))
        west, south, east, north = window
        length, keys = self.length * cut.pitch, cut.keys
        numbers = range(math.floor(south / course) - 1, math.ceil(north / course) + 3)
        levels = [_Line(course * (k + self.uneven * (chance(*keys, 1, k) - 0.5)), k) for k in numbers]
        # Where lines stray, a stone's shape hangs on stones further out.
        beyond = 3 if self.wave else 2
        rows = []
        for k in numbers[:-1]:
            # Joints of one course keep off those of the next by half a stone, give or take.
            shift = (k % 2) / 2 + self.stray * (chance(*keys, 2, k) - 0.5)
            joints = [
                _Line(length * (m + shift + self.stray * (chance(*keys, 3, k, m) - 0.5)), m)
                for m in range(math.floor(west / length) - beyond, math.ceil(east / length) + beyond)
            ]
            rows.append(_Row(k, tuple(joints)))
        _Coursing(levels, rows, self, course, cut).add(found)


@dataclass(frozen=True, slots=True)
class _Line:
    """A line between courses, or a joint across one: where it is, its number, whether its ends may not stray."""

    at: float
    number: int
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class _Row:
    """One course: its number and the joints across it, from west to east."""

    number: int
    joints: tuple[_Line, ...]


class _Coursing:
    """Courses between their lines; rows[n] lies between levels n and n + 1."""

    def __init__(
        self, levels: Sequence[_Line], rows: Sequence[_Row], courses: Courses, height: float, cut: Cut
    ) -> None:
        self.levels, self.rows, self.courses, self.height, self.cut = levels, rows, courses, height, cut
        # Of each joint across a course: where it meets the line under it and the line over it.
        self.ends = [
            [((joint.at, levels[n].at), (joint.at, levels[n + 1].at)) for joint in row.joints]
            if not courses.wave
            else [tuple(self._corner(row, joint, levels[n + side], side) for side in (0, 1)) for joint in row.joints]
            for n, row in enumerate(rows)
        ]
        self.lines = [self._line(n) for n in range(len(levels))]

    def _line(self, number: int) -> list[Point]:
        """The corners along one line between courses; those of either side that nearly meet are one."""
        under = [end[1] for end in self.ends[number - 1]] if number > 0 else []
        over = [end[0] for end in self.ends[number]] if number < len(self.rows) else []
        near = _NEAR * self.courses.wave * self.height
        if near and under and over:
            # Else a short steep piece of the line could cross a joint.
            xs = np.array(under)[:, 0]
            for n, point in enumerate(over):
                nearest = int(np.abs(xs - point[0]).argmin())
                if abs(xs[nearest] - point[0]) < near:
                    over[n] = under[nearest]
            self.ends[number] = [(low, end[1]) for low, end in zip(over, self.ends[number], strict=True)]
        return sorted({*under, *over})

    def add(self, found: Stones, inner: Polygon | None = None) -> None:
        """Stones, joints and nails; inner: what the stones are cut to."""
        stones = self._wavy() if self.courses.wave else self._square()
        found.stones.append(stones if inner is None else shapely.intersection(stones, inner))
        for level, line in zip(self.levels, self.lines, strict=True):
            if not level.fixed:
                found.joints.append(tuple(line) if self.courses.wave else (line[0], line[-1]))
        for row, ends in zip(self.rows, self.ends, strict=True):
            found.joints += [end for joint, end in zip(row.joints, ends, strict=True) if not joint.fixed]
        if self.courses.nails:
            found.pits.append(self._nails())

    def _corner(self, row: _Row, joint: _Line, level: _Line, side: int) -> Point:
        """Where a joint across a course meets the line under (0) or over (1) it."""
        x, y, wave = joint.at, level.at, self.courses.wave * self.height
        if wave and not joint.fixed:
            x += wave / 2 * (chance(*self.cut.keys, 4, row.number, joint.number, side) - 0.5)
        if wave and not level.fixed:
            y += wave * (chance(*self.cut.keys, 5, row.number, joint.number, side) - 0.5)
        return x, y

    def _square(self) -> Polygons:
        """Stones between straight lines, less half a joint all round."""
        sides = [
            (west.at, self.levels[n].at, east.at, self.levels[n + 1].at)
            for n, row in enumerate(self.rows)
            for west, east in pairwise(row.joints)
        ]
        return cast("Polygons", shapely.box(*(np.array(sides) + np.array((1, 1, -1, -1)) * self.cut.joint / 2).T))

    def _wavy(self) -> Polygons:
        """Stones between lines that stray: every corner of either course is a corner of both."""
        at = [{point: n for n, point in enumerate(line)} for line in self.lines]
        points: list[Point] = []
        ring: list[int] = []
        count = 0
        for n, ends in enumerate(self.ends):
            for (low, up), (next_low, next_up) in pairwise(ends):
                bottom = self.lines[n][at[n][low] : at[n][next_low] + 1]
                top = self.lines[n + 1][at[n + 1][up] : at[n + 1][next_up] + 1]
                points += [*bottom, *reversed(top)]
                ring += [count] * (len(bottom) + len(top))
                count += 1
        stones = shapely.polygons(shapely.linearrings(np.array(points), indices=np.array(ring)))
        rounded = self.courses.rounded * self.height
        drawn_in = shapely.buffer(stones, -self.cut.joint / 2 - rounded, join_style="mitre")
        return cast("Polygons", shapely.buffer(drawn_in, rounded, quad_segs=2) if rounded else drawn_in)

    def _nails(self) -> Polygons:
        """Two small pits at both ends of every board; none where boards are too narrow for them."""
        if (_NAIL_SIDE - _NAIL) * self.height < self.cut.joint / 2 + _LEAST_WEB_MM:
            return np.array([], dtype=object)
        at = [
            (joint.at + side * _NAIL_END * self.height, self.levels[n].at + share * self.height)
            for n, row in enumerate(self.rows)
            for joints in pairwise(row.joints)
            for joint, side in zip(joints, (1, -1), strict=True)
            for share in (_NAIL_SIDE, 1 - _NAIL_SIDE)
        ]
        turn = (np.arange(_NAIL_CORNERS) + 0.5) * math.tau / _NAIL_CORNERS
        ring = _NAIL * self.height * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        return cast("Polygons", shapely.polygons(np.array(at)[:, None, :] + ring[None, :, :]))


PATTERNS = {
    # Courses of eight on a space.
    "brick": Courses(1 / 8, 0.34, stray=0.08),
    # Squared blocks in courses of uneven height.
    "ashlar": Courses(1 / 4, 0.62, stray=0.4, uneven=0.4),
    # Long boards nailed at both ends.
    "timber": Courses(1 / 5, 1.7, stray=0.5, nails=True),
    # Boards nailed at both ends.
    "planks": Courses(1 / 4, 2.4, stray=0.5, nails=True, split=(1, 2)),
    # Small round stones in wavy courses.
    "cobbles": Courses(1 / 4, 0.27, stray=0.25, wave=0.24, rounded=0.22, split=(4, 3)),
    # Wavy courses of uneven blocks.
    "rough": Courses(1 / 3, 0.45, stray=0.35, wave=0.44, split=(2, 3)),
}
