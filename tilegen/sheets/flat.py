"""Flat parts: an outline with its scores, creases and words; how its plate's layers are named; where it goes."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import ROUNDING_MM, SNAP_MM, Bounds, Point, Segment, largest_polygon, lines_of, rings_of
from tilegen.tiles.identity import canonical_ring
from tilegen.tiles.lettering import Strokes, text_size, text_strokes
from tilegen.tiles.plate import Face, Mark, Plate, Role

# Lengths such as 3/16 in lie exactly between two micrometres: this decides such ties the same way in every turn.
_TIE = 1e-3
# Capitals of the words on tabs and grooves, mm, the first that fits so far from the edge.
_WORD_HEIGHTS, _WORD_INSET_MM = (3.5, 2.5, 2.0, 1.5, 1.2), 0.3

# alike: all layers of a wall; scored: the innermost one of a wall, or the outer ones of a leaf, with lines on its face.
# bottom: of a base, with connectors cut out of it. core: what a skin of card is folded round, of another stock.
PlateLayer = Literal["", "alike", "outer", "between", "inner", "scored", "top", "below", "bottom", "core"]


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

        outer, *inner = [[turn(p) for p in ring.coords] for ring in rings_of(self.outline)]
        return self.changed(Polygon(outer, inner), turn, turned=True)

    def changed(self, outline: Polygon, change: Callable[[Point], Point], *, turned: bool = False) -> Flat:
        """With another outline, and all that is on it where `change` takes it; turned: by a quarter turn."""
        scores, creases = (tuple((change(a), change(b)) for a, b in found) for found in (self.scores, self.creases))
        corners = [(change((x0, y0)), change((x1, y1))) for x0, y0, x1, y1 in self.covered]
        covered = tuple((min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])) for a, b in corners)
        words = tuple(Word(w.text, change(w.at), w.height, w.upright != turned) for w in self.words)
        return Flat(outline, scores, covered, creases, words, self.shown)

    @property
    def description(self) -> tuple[object, ...]:
        """Rings, scores and creases in whole micrometres, in an order of their own."""
        rings = (self.outline.exterior, *self.outline.interiors)
        scores, creases = (
            tuple(sorted(tuple(sorted((_um(a), _um(b)))) for a, b in lines)) for lines in (self.scores, self.creases)
        )
        outline = sorted_rings([[_um(p) for p in ring.coords][:-1] for ring in rings])
        return (outline, scores, creases) if creases else (outline, scores)


@dataclass(frozen=True, slots=True)
class Pose:
    """Where a standing part goes on the plan: its outer face's start and direction, with the tile on the right.

    start: of the longer face, where an end is bevelled. folds: how far along the outer face it turns right, and by how
    much, in radians. bevels: how much further along its inner face starts and ends. laps: which of its ends are cut
    down to the skin.
    """

    start: Point
    direction: Point
    folds: tuple[tuple[float, float], ...] = ()
    bevels: tuple[float, float] = (0.0, 0.0)
    laps: tuple[bool, bool] = (False, False)


class Remark(NamedTuple):
    """A word on a part. of: what it is of use for, cutting, gluing or hanging, or how the ends are bevelled."""

    words: str
    of: Literal["cutting", "gluing", "hanging", "bevels"] = "cutting"


def remarks_said(remarks: Iterable[Remark]) -> str:
    """Remarks in one line."""
    return "; ".join(remark.words for remark in remarks)


@dataclass(frozen=True, slots=True)
class FlatLayers:
    """So many alike layers of one plate (or run of plates), flat. form: how it is made, if not cut and glued.

    layer: which of the plate's layers they are, where these are not all there is to say.
    """

    role: Role
    plate: str
    flat: Flat
    thickness: float
    layers: int = 1
    remarks: tuple[Remark, ...] = ()
    form: str = ""
    pose: Pose | None = None
    layer: PlateLayer = ""

    @property
    def note(self) -> str:
        """All remarks in one line."""
        return remarks_said(self.remarks)


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
    flat = Flat(outline, tuple(scores), tuple(covered), tuple(creases), tuple(words), shown)
    if abs(west) < ROUNDING_MM and abs(south) < ROUNDING_MM:
        return flat
    moved = shapely.transform(outline, lambda points: points - (west, south))
    return flat.changed(moved, lambda point: (point[0] - west, point[1] - south))


# A kit's tiles are made of few kinds of parts.
@lru_cache(maxsize=4096)
def own_pose(flat: Flat) -> tuple[Flat, tuple[object, ...]]:
    """The one of a part's four turns whose description comes first, with that description."""
    turns = [flat]
    for _ in range(3):
        turns.append(turns[-1].turned())
    described = [(turn.description, number) for number, turn in enumerate(turns)]
    description, number = min(described)
    return turns[number], description


def scores_on(plate: Plate, face: Face, part: BaseGeometry | None = None) -> tuple[Segment, ...]:
    """The lines on one face, those in one straight line as one; part: the piece of the face that is cut."""
    return scores_of([mark for mark in plate.marks if mark.on == face], part)


def floor_scores(base: Plate, part: BaseGeometry | None = None) -> tuple[Segment, ...]:
    """The lines of a base's floor, those between spaces run on under its walls: bases of one outline are one part.

    part: the piece of the base that is cut.
    """
    within = base.foot if part is None else part
    marks = [mark for mark in base.marks if mark.on == "top"]
    return scores_of([replace(mark, centres=_run_on(mark, base.foot.bounds), face=within) for mark in marks])


def _run_on(mark: Mark, bounds: Bounds) -> tuple[tuple[Point, ...], ...]:
    """The centres of a mark, those that go right across its face from bound to bound: as far as a base goes."""
    ends = [set(mark.face.bounds[axis::2]) for axis in (0, 1)]
    lines: list[tuple[Point, ...]] = []
    for line in mark.centres:
        (x0, y0), (x1, y1) = line[0], line[-1]
        if x0 == x1 and {y0, y1} == ends[1]:
            lines.append(((x0, bounds[1]), (x0, bounds[3])))
        elif y0 == y1 and {x0, x1} == ends[0]:
            lines.append(((bounds[0], y0), (bounds[2], y0)))
        else:
            lines.append(line)
    return tuple(lines)


def scores_of(marks: Sequence[Mark], part: BaseGeometry | None = None) -> tuple[Segment, ...]:
    """The lines of some marks, those in one straight line as one; part: the piece of the face that is cut."""
    found: list[Segment] = []
    for mark in marks:
        if mark.centres:
            for line in lines_of(mark.line if part is None else mark.line.intersection(part)):
                found += pairwise([(float(x), float(y)) for x, y, *_ in line.coords])
    return tuple((a, b) for a, b in joined(found) if math.dist(a, b) > SNAP_MM)


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


def run_name(names: Sequence[str]) -> str:
    """What the walls of one run are called together.

    >>> run_name(["wall north", "wall east"])
    'wall north, east'
    """
    return ", ".join([names[0], *(name.removeprefix("wall ") for name in names[1:])])


def plate_names(name: str) -> list[str]:
    """The walls that a name of `run_name` stands for.

    >>> plate_names("wall north, east")
    ['wall north', 'wall east']
    """
    first, *others = name.split(", ")
    return [first, *(f"wall {other}" for other in others)]


def word_box(word: Word) -> Polygon:
    """What a word covers."""
    width, height = text_size(word.text, word.height)[:: -1 if word.upright else 1]
    x, y = word.at
    return box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def word_strokes(word: Word) -> Strokes:
    """The strokes that write it."""
    x0, y0, x1, _ = word_box(word).bounds
    corner = (x1, y0) if word.upright else (x0, y0)
    return placed_text(word.text, word.height, corner, upright=word.upright)


def fitted_word(text: str, region: BaseGeometry) -> list[Word]:
    """A word in the middle of a region, as large as it goes; none where it is too small."""
    region = largest_polygon(region)
    if region.is_empty:
        return []
    middle = region.centroid if region.covers(region.centroid) else region.representative_point()
    room = region.buffer(-_WORD_INSET_MM)
    for height in _WORD_HEIGHTS:
        for upright in (False, True):
            word = Word(text, (middle.x, middle.y), height, upright)
            if room.covers(word_box(word)):
                return [word]
    return []


def placed_text(text: str, height: float, at: Point, *, upright: bool) -> Strokes:
    """The strokes of a text from its lower left corner on; upright: reading upwards."""
    strokes = text_strokes(text, height)
    if upright:
        strokes = tuple(np.stack([-stroke[:, 1], stroke[:, 0]], axis=1) for stroke in strokes)
    return tuple(stroke + np.array(at) for stroke in strokes)


def sorted_rings(rings: list[list[tuple[int, int]]]) -> tuple[tuple[tuple[int, int], ...], ...]:
    """The rings of a region, the outer one first, each from its least corner, walked one way."""
    outer, *holes = [canonical_ring([p for i, p in enumerate(ring) if p != ring[i - 1]]) for ring in rings]
    return (outer, *sorted(holes))


def _um(point: Sequence[float]) -> tuple[int, int]:
    return math.floor(point[0] * 1000 + 0.5 + _TIE), math.floor(point[1] * 1000 + 0.5 + _TIE)
