"""Arcs in outlines: found again in the chords that stand for them, for files that can hold the arc itself."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from tilegen.geometry import EQUAL_MM, Points, circle_through, turns_of

# What passes for an arc: at least so many chords, each turning by no more than so much, every corner this near to one
# circle and every chord no further from it than a cut can show.
_LEAST_CHORDS = 6
_MOST_TURN = math.radians(12)
_OFF_CIRCLE_MM = 0.005
_SAGITTA_MM = 0.05
_SAME_LENGTH = 0.02
# Offsetting for the kerf makes a half turn a hair more.
_HALF_TURN = math.pi * 1.01


class Arc(NamedTuple):
    """A run of corners of a ring that lie on a circle, by their first and last index; the last may run past the end."""

    first: int
    last: int


class Curve(NamedTuple):
    """An arc as files hold it. bulge: tan(angle / 4), positive to the left; radius in mm."""

    bulge: float
    radius: float


def find_arcs(ring: Points) -> tuple[Arc, ...]:
    """The arcs of a closed ring, (n, 2) without its first point repeated; none is longer than a half turn."""
    if len(ring) <= _LEAST_CHORDS:
        return ()
    edges = np.roll(ring, -1, axis=0) - ring
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    turns = turns_of(ring)
    same = np.abs(lengths - np.roll(lengths, 1)) <= _SAME_LENGTH * lengths
    bends = np.where(same & (np.abs(turns) <= _MOST_TURN) & (np.abs(turns) > 1e-6), np.sign(turns), 0).astype(int)
    found: list[Arc] = []
    for first, last in _runs(bends):
        found += _halves(ring, Arc(first - 1, last + 1))
    return tuple(sorted(Arc(a.first % len(ring), a.first % len(ring) + a.last - a.first) for a in found))


def leaves_box(ring: Points, arc: Arc) -> bool:
    """Whether an arc stands out of the box round its ring's corners, as far as it leaves its chords."""
    points = ring[np.arange(arc.first, arc.last + 1) % len(ring)]
    centre, radius = circle_through(points[0], points[len(points) // 2], points[-1])
    chord = float(np.hypot(*np.diff(points, axis=0).T).max())
    tips = centre + radius * np.array([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)])
    reached = [tip for tip in tips if np.hypot(*(points - tip).T).min() < chord]
    low, high = ring.min(axis=0) - EQUAL_MM, ring.max(axis=0) + EQUAL_MM
    return any((tip < low).any() or (tip > high).any() for tip in reached)


def curve(ring: Points, arc: Arc) -> Curve:
    """The bulge and radius of an arc that `find_arcs` found.

    Source of the bulge: Autodesk, GetBulge method: the tangent of a quarter of the included angle, negative clockwise.
    """
    a, m, b = (ring[i % len(ring)] for i in (arc.first, (arc.first + arc.last) // 2, arc.last))
    centre, radius = circle_through(a, m, b)
    start, end = (math.atan2(*(p - centre)[::-1]) for p in (a, b))
    left = (m - a)[0] * (b - m)[1] - (m - a)[1] * (b - m)[0] > 0
    angle = (end - start) % math.tau if left else -((start - end) % math.tau)
    return Curve(math.tan(angle / 4), radius)


def _runs(bends: npt.NDArray[np.int_]) -> Iterator[tuple[int, int]]:
    """First and last index of runs of corners that bend one way, around the ring; a whole circle starts at 0."""
    size = len(bends)
    if (bends == bends[0]).all():
        if bends[0]:
            yield 1, size - 1
        return
    start = next(i for i in range(size) if bends[i] != bends[i - 1])
    first = start
    for i in range(start + 1, start + size + 1):
        if bends[i % size] != bends[first % size] or i == start + size:
            if bends[first % size]:
                yield first, i - 1
            first = i


def _halves(ring: Points, arc: Arc) -> Iterator[Arc]:
    """An arc in pieces of no more than a half turn, if it is one."""
    if arc.last - arc.first < _LEAST_CHORDS:
        return
    points = ring[np.arange(arc.first, arc.last + 1) % len(ring)]
    centre, radius = circle_through(points[0], points[len(points) // 3], points[2 * len(points) // 3])
    off = np.abs(np.hypot(*(points - centre).T) - radius)
    chord = float(np.hypot(*np.diff(points, axis=0).T).max())
    if off.max() > _OFF_CIRCLE_MM or chord >= radius or radius - math.sqrt(radius**2 - chord**2 / 4) > _SAGITTA_MM:
        return
    angle = 2 * math.asin(chord / 2 / radius) * (arc.last - arc.first)
    pieces = math.ceil(angle / _HALF_TURN)
    cuts = [arc.first + (arc.last - arc.first) * i // pieces for i in range(pieces + 1)]
    yield from (Arc(a, b) for a, b in itertools.pairwise(cuts))
