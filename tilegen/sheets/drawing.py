"""A sheet as strokes in cutting order: what every writer is fed with.

Its layers, the kerf that its outlines allow for, and the arcs among their chords, for files that can hold arcs.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from math import fsum
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely

from tilegen.geometry import EQUAL_MM, Points, circle_through, turns_of
from tilegen.tiles.lettering import text_strokes

Layer = Literal["ENGRAVE", "SCORE", "CREASE", "CUT_INNER", "CUT_OUTER", "WIRE", "GUIDE"]


class LayerRow(NamedTuple):
    """What a layer is for, and how it looks: a plain colour and a dash, so that a drawing reads in black and white too.

    colour: #rrggbb. aci: the index a DXF layer is declared with. dash: mm on and off. width: of the line, mm. cut:
    whether the tool goes through. closed: whether its strokes are outlines. made: whether a tool makes it at all.
    """

    colour: str
    aci: int
    dash: tuple[float, ...]
    width: float
    meaning: str
    cut: bool = False
    closed: bool = False
    made: bool = True


# In cutting order: what marks the sheet, then what frees things, the deepest nested first; the guides are not cut.
LAYERS: Mapping[Layer, LayerRow] = {
    "ENGRAVE": LayerRow("#4f6d8f", 5, (), 0.12, "engrave or write: part numbers"),
    "SCORE": LayerRow("#1e7d72", 94, (3.0, 1.2), 0.18, "score: press or cut in, not through"),
    "CREASE": LayerRow(
        "#7b5391", 6, (4.0, 1.0, 0.6, 1.0), 0.18, "crease: press for a fold; on foam core the two edges of a V-groove"
    ),
    "CUT_INNER": LayerRow("#a8551b", 30, (), 0.3, "cut through: holes, before the outlines", cut=True, closed=True),
    "CUT_OUTER": LayerRow("#151515", 7, (), 0.2, "cut through: outlines", cut=True, closed=True),
    "WIRE": LayerRow("#96264f", 1, (6.0, 0.8), 0.25, "path of a hot wire in one go", cut=True),
    "GUIDE": LayerRow(
        "#8c8c8c", 9, (0.4, 1.2), 0.15, "guide, not cut: sheet edge, 100 mm check square", closed=True, made=False
    ),
}
CUTS: tuple[Layer, ...] = tuple(name for name, row in LAYERS.items() if row.cut and row.closed)
MARKS: tuple[Layer, ...] = tuple(name for name, row in LAYERS.items() if row.made and not row.cut)

CHECK_SIDE_MM = 100.0
# The datum's arms; the arrow for the grain and its head.
_ARM_MM = 6.0
_ARROW_MM = 40.0
_HEAD_MM = 2.0
# What passes for an arc: at least so many chords, each turning by no more than so much, every corner this near to one
# circle and every chord no further from it than a cut can show.
_LEAST_CHORDS = 6
_MOST_TURN = math.radians(12)
_OFF_CIRCLE_MM = 0.005
_SAGITTA_MM = 0.05
_SAME_LENGTH = 0.02
# Offsetting for the kerf makes a half turn a hair more.
_HALF_TURN = math.pi * 1.01


class Kerf(NamedTuple):
    """The full width of a cut in mm, as measured along x and along y."""

    x: float
    y: float

    @classmethod
    def of(cls, width: float | tuple[float, float]) -> Kerf:
        """From one width for both ways, or a pair."""
        return cls(*width) if isinstance(width, tuple) else cls(width, width)

    @property
    def turned(self) -> Kerf:
        """As a part sees it that lies turned by 90 degrees."""
        return Kerf(self.y, self.x)

    @property
    def widest(self) -> float:
        """The larger of the two."""
        return max(self)

    @property
    def words(self) -> str:
        """Whether outlines made with it allow for it already, so that nobody does it twice."""
        if not self.widest:
            return "no, nominal"
        return f"yes, k = {self.x:g} mm" if self.x == self.y else f"yes, k = {self.x:g} mm in x, {self.y:g} mm in y"


class ArcSpan(NamedTuple):
    """A run of corners of a ring that lie on a circle, by their first and last index; the last may run past the end."""

    first: int
    last: int


class Curve(NamedTuple):
    """An arc as files hold it. bulge: tan(angle / 4), positive to the left; radius in mm."""

    bulge: float
    radius: float


@dataclass(frozen=True, eq=False, slots=True)
class Stroke:
    """A polyline on one layer: (n, 2) in mm, y up, the sheet's least corner at the origin.

    arcs: runs of corners that stand for arcs. opened: a line where its layer usually has closed outlines. part: the
    number of the placement it belongs to, -1 for none.
    """

    layer: Layer
    points: Points
    arcs: tuple[ArcSpan, ...] = ()
    opened: bool = False
    part: int = -1

    @property
    def closed(self) -> bool:
        """Whether its last point joins its first; that point is not repeated."""
        return LAYERS[self.layer].closed and not self.opened

    @property
    def is_written(self) -> bool:
        """Whether it is one of a number that is written by hand: solid, though guides are dotted."""
        return not LAYERS[self.layer].made and self.part >= 0

    @property
    def walked(self) -> Points:
        """Its points, the first once more at the end where it is closed."""
        return np.vstack([self.points, self.points[:1]]) if self.closed else self.points

    @property
    def line(self) -> shapely.LineString:
        """All of it, as a line."""
        return shapely.LineString(self.walked)

    @property
    def length(self) -> float:
        """Of the whole stroke, mm."""
        return float(np.hypot(*np.diff(self.walked, axis=0).T).sum())

    def from_corner(self, first: int) -> Stroke:
        """The same closed stroke begun at another corner, which must not lie inside an arc."""
        size = len(self.points)
        arcs = tuple(
            sorted(ArcSpan((a.first - first) % size, (a.first - first) % size + a.last - a.first) for a in self.arcs)
        )
        return replace(self, points=np.roll(self.points, -first, axis=0), arcs=arcs)


@dataclass(frozen=True, eq=False)
class SheetDrawing:
    """One sheet, ready to write: its strokes come in cutting order, layer by layer.

    remarks: what else a reader of the file must know, as name and value.
    """

    name: str
    title: str
    size: tuple[float, float]
    kerf: Kerf
    strokes: tuple[Stroke, ...] = ()
    remarks: tuple[tuple[str, str], ...] = ()

    @property
    def guides(self) -> tuple[Stroke, ...]:
        """What no tool makes."""
        return tuple(stroke for stroke in self.strokes if not LAYERS[stroke.layer].made)

    @property
    def made(self) -> tuple[Stroke, ...]:
        """All but the guides."""
        return tuple(stroke for stroke in self.strokes if LAYERS[stroke.layer].made)

    def length(self, *layers: Layer) -> float:
        """Of all strokes on some layers, mm."""
        return float(fsum(s.length for s in self.strokes if s.layer in layers))

    @cached_property
    def bounds(self) -> Points:
        """(n, 4) least and greatest corner of each stroke."""
        return np.array([(*s.points.min(axis=0), *s.points.max(axis=0)) for s in self.strokes]).reshape(-1, 4)


def layered(strokes: Iterable[Stroke]) -> tuple[Stroke, ...]:
    """Strokes layer by layer, each layer's in the order they come in."""
    return tuple(sorted(strokes, key=lambda stroke: list(LAYERS).index(stroke.layer)))


def rectangle(x: float, y: float, width: float, height: float) -> Points:
    """Its corners, (4, 2), from the least corner round to the left."""
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], float)


def written(text: str, x: float, y: float, height: float) -> Iterator[Stroke]:
    """A text as engraved strokes, its lower left corner at (x, y); height: of its capitals, mm."""
    for points in text_strokes(text, height):
        yield Stroke("ENGRAVE", points + np.array((x, y)))


def with_datum(drawing: SheetDrawing, *, grain: bool) -> SheetDrawing:
    """The drawing with marks for how the sheet lies: guides, after everything else, in the margin.

    An angle in the datum corner (lower left), and an arrow along x where the stock has a grain.
    """
    lines = [np.array([(1.0, _ARM_MM), (1.0, 1.0), (_ARM_MM, 1.0)])]
    if grain:
        middle, y = drawing.size[0] / 2, drawing.size[1] - 2.5
        left, right = middle - _ARROW_MM / 2, middle + _ARROW_MM / 2
        lines.append(np.array([(left, y), (right, y)]))
        for end, way in ((left, 1.0), (right, -1.0)):
            tip = [(end + way * _HEAD_MM * 1.5, y + _HEAD_MM), (end, y), (end + way * _HEAD_MM * 1.5, y - _HEAD_MM)]
            lines.append(np.array(tip))
    guides = (Stroke("GUIDE", points, opened=True) for points in lines)
    return replace(drawing, strokes=(*drawing.strokes, *guides))


def find_arcs(ring: Points) -> tuple[ArcSpan, ...]:
    """The arcs of a closed ring, (n, 2) without its first point repeated; none is longer than a half turn."""
    if len(ring) <= _LEAST_CHORDS:
        return ()
    edges = np.roll(ring, -1, axis=0) - ring
    lengths = np.hypot(edges[:, 0], edges[:, 1])
    turns = turns_of(ring)
    same = np.abs(lengths - np.roll(lengths, 1)) <= _SAME_LENGTH * lengths
    bends = np.where(same & (np.abs(turns) <= _MOST_TURN) & (np.abs(turns) > 1e-6), np.sign(turns), 0).astype(int)
    found: list[ArcSpan] = []
    for first, last in _runs(bends):
        found += _halves(ring, ArcSpan(first - 1, last + 1))
    return tuple(sorted(ArcSpan(a.first % len(ring), a.first % len(ring) + a.last - a.first) for a in found))


def leaves_box(ring: Points, arc: ArcSpan) -> bool:
    """Whether an arc stands out of the box round its ring's corners, as far as it leaves its chords."""
    points = ring[np.arange(arc.first, arc.last + 1) % len(ring)]
    centre, radius = circle_through(points[0], points[len(points) // 2], points[-1])
    chord = float(np.hypot(*np.diff(points, axis=0).T).max())
    tips = centre + radius * np.array([(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0)])
    reached = [tip for tip in tips if np.hypot(*(points - tip).T).min() < chord]
    low, high = ring.min(axis=0) - EQUAL_MM, ring.max(axis=0) + EQUAL_MM
    return any((tip < low).any() or (tip > high).any() for tip in reached)


def curve(ring: Points, arc: ArcSpan) -> Curve:
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


def _halves(ring: Points, arc: ArcSpan) -> Iterator[ArcSpan]:
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
    yield from (ArcSpan(a, b) for a, b in itertools.pairwise(cuts))
