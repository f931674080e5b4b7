"""When two flat parts are alike: their geometry up to quarter turns, to a micrometre."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon

from tilegen.geometry import ROUNDING_MM, SNAP_MM, Bounds, Point, Segment, rings_of
from tilegen.tiles.identity import canonical_ring

# Lengths such as 3/16 in lie exactly between two micrometres: this decides such ties the same way in every turn.
_TIE = 1e-3


@dataclass(frozen=True, slots=True)
class Word:
    """A few letters on a part, such as a tab's number: its middle, the height of its capitals, whether it reads up."""

    text: str
    at: Point
    height: float
    upright: bool = False


@dataclass(frozen=True, slots=True)
class Flat:
    """A flat region with its scores, creases and words, least corner at the origin.

    creases: fold lines, or the two edges of a V-groove. shown: whether the face that lies up is seen on the finished
    tile; covered: boxes of it that a wall will stand on or that end up out of sight all the same.
    """

    outline: Polygon
    scores: tuple[Segment, ...] = ()
    covered: tuple[Bounds, ...] = ()
    creases: tuple[Segment, ...] = ()
    words: tuple[Word, ...] = ()
    shown: bool = False

    def turned(self) -> Flat:
        """A quarter turn to the left, moved back to the origin; every coordinate exact but for that move."""
        _, _, _, height = self.outline.bounds

        def turn(point: Sequence[float]) -> Point:
            return height - point[1], point[0]

        rings = [[turn(p) for p in ring.coords] for ring in rings_of(self.outline)]
        scores = tuple((turn(a), turn(b)) for a, b in self.scores)
        covered = tuple((height - y1, x0, height - y0, x1) for x0, y0, x1, y1 in self.covered)
        creases = tuple((turn(a), turn(b)) for a, b in self.creases)
        words = tuple(Word(w.text, turn(w.at), w.height, not w.upright) for w in self.words)
        return Flat(Polygon(rings[0], rings[1:]), scores, covered, creases, words, self.shown)

    @property
    def description(self) -> tuple[object, ...]:
        """Rings, scores and creases in whole micrometres, in an order of their own."""
        rings = (self.outline.exterior, *self.outline.interiors)
        scores, creases = (
            tuple(sorted(tuple(sorted((_um(a), _um(b)))) for a, b in lines)) for lines in (self.scores, self.creases)
        )
        outline = sorted_rings([[_um(p) for p in ring.coords][:-1] for ring in rings])
        return (outline, scores, creases) if creases else (outline, scores)


def at_origin(
    outline: Polygon,
    scores: Sequence[Segment] = (),
    covered: Sequence[Bounds] = (),
    creases: Sequence[Segment] = (),
    words: Sequence[Word] = (),
    *,
    shown: bool = False,
) -> Flat:
    """A region anywhere, moved so that its least corner is at (0, 0). shown: its upper face is seen in the end."""
    outline = shapely.remove_repeated_points(outline, SNAP_MM)
    west, south, _, _ = outline.bounds
    if abs(west) < ROUNDING_MM and abs(south) < ROUNDING_MM:
        return Flat(outline, tuple(scores), tuple(covered), tuple(creases), tuple(words), shown)
    moved = shapely.transform(outline, lambda points: points - (west, south))
    lines, folds = (
        tuple(((a[0] - west, a[1] - south), (b[0] - west, b[1] - south)) for a, b in found)
        for found in (scores, creases)
    )
    boxes = tuple((x0 - west, y0 - south, x1 - west, y1 - south) for x0, y0, x1, y1 in covered)
    texts = tuple(Word(w.text, (w.at[0] - west, w.at[1] - south), w.height, w.upright) for w in words)
    return Flat(moved, lines, boxes, folds, texts, shown)


def own_pose(flat: Flat) -> tuple[Flat, tuple[object, ...]]:
    """The one of a part's four turns whose description comes first, with that description."""
    turns = [flat]
    for _ in range(3):
        turns.append(turns[-1].turned())
    described = [(turn.description, number) for number, turn in enumerate(turns)]
    description, number = min(described)
    return turns[number], description


def sorted_rings(rings: list[list[tuple[int, int]]]) -> tuple[tuple[tuple[int, int], ...], ...]:
    """The rings of a region, the outer one first, each from its least corner, walked one way."""
    outer, *holes = [_ring(ring) for ring in rings]
    return (outer, *sorted(holes))


def _ring(points: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    return canonical_ring([p for i, p in enumerate(points) if p != points[i - 1]])


def _um(point: Sequence[float]) -> tuple[int, int]:
    return math.floor(point[0] * 1000 + 0.5 + _TIE), math.floor(point[1] * 1000 + 0.5 + _TIE)


def joined(segments: Sequence[Segment]) -> tuple[Segment, ...]:
    """Segments with those that meet end to end, or overlap, in one straight line made one.

    >>> joined([((0.0, 0.0), (2.0, 0.0)), ((2.0, 0.0), (5.0, 0.0)), ((2.0, 0.0), (2.0, 1.0))])
    (((0.0, 0.0), (5.0, 0.0)), ((2.0, 0.0), (2.0, 1.0)))
    """
    by_line: dict[tuple[int, int, int], list[Segment]] = {}
    for segment in segments:
        a, b = sorted(segment)
        length = math.dist(a, b)
        if length == 0:
            continue
        dx, dy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        line = (round(dx * 1e6), round(dy * 1e6), round((a[1] * dx - a[0] * dy) * 1e4))
        by_line.setdefault(line, []).append((a, b))
    return tuple(whole for pieces in by_line.values() for whole in _runs(sorted(pieces)))


def _runs(pieces: list[Segment]) -> list[Segment]:
    runs = [pieces[0]]
    for a, b in pieces[1:]:
        start, end = runs[-1]
        if a <= end or math.dist(a, end) < 1e-6:
            runs[-1] = (start, max(end, b))
        else:
            runs.append((a, b))
    return runs
