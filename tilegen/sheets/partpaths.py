"""Parts as paths on a sheet: outlines that allow for the kerf, marks, the part's number.

The cut runs half the kerf outside of a part's outline and half of it inside of its holes.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, cast

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError, a_few
from tilegen.geometry import EQUAL_MM, Points, Segment, polygons_of, rings_of, segments_of
from tilegen.lengths import show_length, show_number, show_spot
from tilegen.sheets.drawing import (
    CHECK_SIDE_MM,
    LAYERS,
    ArcSpan,
    Kerf,
    Layer,
    SheetDrawing,
    Stroke,
    find_arcs,
    layered,
    leaves_box,
    rectangle,
)
from tilegen.sheets.flat import word_strokes
from tilegen.sheets.labels import Label, Room, label_place
from tilegen.sheets.nesting.layout import Layout
from tilegen.sheets.parts import Part
from tilegen.sheets.toolpaths.order import fewest_lifts

# A corner this near to the line between its neighbours is none.
_STRAIGHT_MM = 1e-7
# A score this near to a crease runs along it.
_BESIDE_MM = 0.02
# Half the width of what joins a part and its number beside it, while they are set out.
_BRIDGE_MM = 0.5
# Nearer than this two lines would be one to any machine; shorter leftovers are where lines only cross or touch.
_NEAR_MM, _SHORT_MM = 0.05, 1.0
# Sharper corners are cut off beyond the part's own corner, so the part stays sharp whatever the limit.
_MITRE_LIMIT = 2.0
# The way back is to lose nothing in the sharpest inner corner, nor where one of two widths is next to nothing.
_NO_LIMIT = 1e9
_LOST_MM2 = 1e-4
# Of the square of half the kerf: what a round tool leaves in a right-angled inner corner anyway, 1 - pi / 4.
_RESIDUE = 0.22
# Stands for a width of 0 along one axis where the other has one: no machine sees a tenth of a micrometre.
_LEAST_WIDTH = 1e-4


class Trace(NamedTuple):
    """A path of a part: (n, 2) in mm, and which runs of its corners stand for arcs."""

    points: Points
    arcs: tuple[ArcSpan, ...] = ()


Paths = Mapping[Layer, tuple[Trace, ...]]


@dataclass(frozen=True, eq=False)
class PartPaths:
    """A part's paths for one kerf, in the frame whose origin is the least corner of what is cut.

    cut: as it lies; cut_turned: for lying turned by 90 degrees, the same where the kerf is the same both ways.
    nominal: kerf left out. number: in the part's frame; claim: what is cut and the place of a number beside it.
    """

    part: Part
    size: tuple[float, float]
    cut: Paths
    cut_turned: Paths
    nominal: Paths
    number: Label
    claim: Points

    @classmethod
    def of(
        cls,
        part: Part,
        width: float | tuple[float, float],
        *,
        straight: bool = False,
        sawn: bool = False,
        room: Room = None,
        clear: float = 0.0,
    ) -> PartPaths:
        """Offsets the outline and writes the part's number: the slow part, done once for each kind of part.

        straight: scores stay straight lines, for a ruler; else they are joined to need the fewest lifts of the tool.
        sawn: parts are sawn apart from edge to edge first, and no path leaves the rectangle that is sawn for its part.
        room: what a sheet has for a part with its number beside it, where there is waste.
        clear: what is kept free round a number in the waste, mm, where the spacing of parts is not enough for it.

        Raises:
            InputError: the kerf closes a hole or a notch.
        """
        kerf = Kerf.of(width)
        outline = compensated(part.outline, kerf, part.number)
        across = outline if kerf.x == kerf.y else compensated(part.outline, kerf.turned, part.number)
        if sawn:
            outline, across = _sawn(outline, part.outline, kerf), _sawn(across, part.outline, kerf.turned)
        low = np.minimum(outline.bounds[:2], across.bounds[:2])
        high = np.maximum(outline.bounds[2:], across.bounds[2:])
        number = label_place(part.flat, part.number, None if sawn else room)
        claim: Polygon = outline
        if number.place == "waste":
            claim = _with_number(outline, number, clear)
            high = np.maximum(high, claim.bounds[2:])
        creases = [np.array(s) for s in without_doubles(part.flat.creases, part.outline)]
        scores = [np.array(s) for s in without_doubles(off_creases(part.flat.scores, part.flat.creases), part.outline)]
        words = [stroke for word in part.flat.words for stroke in word_strokes(word)]
        layer: Layer = "GUIDE" if number.place == "back" else "ENGRAVE"
        written = tuple(Trace(stroke - low) for stroke in number.strokes)
        marks: dict[Layer, tuple[Trace, ...]] = {
            "ENGRAVE": tuple(Trace(stroke - low) for stroke in (*number.leader, *words)),
            "SCORE": tuple(Trace(line - low) for line in (scores if straight else fewest_lifts(scores))),
            "CREASE": tuple(Trace(line - low) for line in creases),
        }
        marks[layer] = (*written, *marks.get(layer, ()))
        cut = {**marks, **_outlines(outline, -low, boxed=sawn)}
        turned = cut if kerf.x == kerf.y else {**marks, **_outlines(across, -low, boxed=sawn)}
        nominal = {**marks, **_outlines(part.outline, -low, boxed=sawn)} if kerf.widest else cut
        width_mm, height_mm = (high - low).tolist()
        corners = np.array(claim.exterior.coords)[:-1] - low
        return cls(part, (width_mm, height_mm), cut, turned, nominal, number, corners)

    def paths(self, *, nominal: bool, turned: bool, half: bool = False) -> Paths:
        """One of the two sets of paths.

        turned: by 90 degrees, the way that leaves the number readable; half: by 180 degrees more.
        """
        paths = self.nominal if nominal else self.cut_turned if turned else self.cut
        if turned:
            paths = {
                layer: tuple(Trace(self._turned(t.points), t.arcs) for t in found) for layer, found in paths.items()
            }
        if half:
            size = np.array(self.size[::-1] if turned else self.size)
            paths = {layer: tuple(Trace(size - t.points, t.arcs) for t in found) for layer, found in paths.items()}
            layer: Layer = "GUIDE" if self.number.place == "back" else "ENGRAVE"
            paths = {**paths, layer: self._righted(paths[layer])}
        return paths

    def _righted(self, marks: tuple[Trace, ...]) -> tuple[Trace, ...]:
        """The marks with the part's number, which comes first, turned in its place so that it is not upside down."""
        number, others = marks[: len(self.number.strokes)], marks[len(self.number.strokes) :]
        if not number:
            return marks
        points = np.vstack([t.points for t in number])
        ends = points.min(axis=0) + points.max(axis=0)
        return (*(Trace(ends - t.points) for t in number), *others)

    def outer(self, turned: bool, half: bool) -> Points:
        """The outline that nothing else may enter, for one way to lie; of one kerf both ways."""
        points = self._turned(self.claim) if turned else self.claim
        return np.array(self.size[::-1] if turned else self.size) - points if half else points

    def _turned(self, points: Points) -> Points:
        width, height = self.size
        x, y = points[:, 0], points[:, 1]
        return np.stack([y, width - x] if self.number.upright else [height - y, x], axis=1)


def off_creases(scores: Sequence[Segment], creases: Sequence[Segment]) -> list[Segment]:
    """Scores less what runs along a crease or a fold's groove, where they would be cut twice; crossings stay."""
    strips = [LineString(crease).buffer(_BESIDE_MM) for crease in creases]
    kept: list[Segment] = []
    for score in scores:
        line: BaseGeometry = LineString(score)
        beside = [strip for strip in strips if line.intersection(strip).length > 4 * _BESIDE_MM]
        if not beside:
            kept.append(score)
            continue
        rest = line.difference(shapely.union_all(beside))
        kept += segments_of(rest, _BESIDE_MM)
    return kept


def _with_number(outline: Polygon, number: Label, clear: float) -> Polygon:
    """What is cut, less its holes, with the place of a number in the waste, joined where they are nearest."""
    west, south, east, north = number.bounds
    whole = Polygon(outline.exterior)
    least = whole.bounds[:2]
    place = box(max(west - clear, least[0]), max(south - clear, least[1]), east + clear, north + clear)
    bridge = shapely.shortest_line(whole, place).buffer(_BRIDGE_MM)
    # Only as far as the part and its number reach: the box of both is what is set out.
    joined = shapely.union_all([whole, place, bridge.intersection(shapely.union_all([whole, place]).envelope)])
    return Polygon(joined.exterior) if isinstance(joined, Polygon) else whole


def _sawn(path: Polygon, outline: Polygon, kerf: Kerf) -> Polygon:
    """A path less the tips of its sharp corners beyond the cuts round the part's rectangle: what they free is free."""
    west, south, east, north = outline.bounds
    sawn = box(west - kerf.x / 2, south - kerf.y / 2, east + kerf.x / 2, north + kerf.y / 2)
    return path if sawn.buffer(EQUAL_MM, join_style="mitre").covers(path) else cast(Polygon, path.intersection(sawn))


def draw_sheet(blank: SheetDrawing, layout: Layout, parts: Sequence[PartPaths], *, nominal: bool) -> SheetDrawing:
    """A set-out sheet as strokes. nominal: the parts as they come out, for cutting by hand along the line."""
    cache: dict[tuple[int, bool, bool], Paths] = {}
    strokes: list[Stroke] = []
    for number, (item, x, y, turned, half) in enumerate(layout):
        key = (item, turned, half)
        if key not in cache:
            cache[key] = parts[item].paths(nominal=nominal, turned=turned, half=half)
        at = np.array((x, y))
        for layer, found in cache[key].items():
            opened = not LAYERS[layer].made
            strokes += [Stroke(layer, t.points + at, t.arcs, opened, number) for t in found]
    outlines = [stroke.points for stroke in strokes if stroke.layer == "CUT_OUTER"]
    # The sheet's edge comes first of the guides.
    guides = [Stroke("GUIDE", points) for points in _guides(blank.size, outlines)]
    return replace(blank, kerf=Kerf(0.0, 0.0) if nominal else blank.kerf, strokes=layered((*guides, *strokes)))


def _outlines(outline: Polygon, shift: Points, *, boxed: bool) -> dict[Layer, tuple[Trace, ...]]:
    """The paths of an outline. boxed: no arc leaves the box of its chords, where the next part may begin."""
    outer, *inner = (_plain(np.array(ring.coords)[:-1]) + shift for ring in rings_of(outline))
    arcs = tuple(arc for arc in find_arcs(outer) if not boxed or not leaves_box(outer, arc))
    return {"CUT_INNER": tuple(Trace(r, find_arcs(r)) for r in inner), "CUT_OUTER": (Trace(outer, arcs),)}


def _plain(ring: Points) -> Points:
    """A ring without corners that go straight on: a machine may slow down or a blade turn at each."""
    ring = ring[np.hypot(*(ring - np.roll(ring, 1, axis=0)).T) > EQUAL_MM]
    came, goes = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cross = came[:, 0] * goes[:, 1] - came[:, 1] * goes[:, 0]
    straight = (np.abs(cross) <= _STRAIGHT_MM * np.hypot(*(came + goes).T)) & ((came * goes).sum(axis=1) > 0)
    kept: Points = ring[~straight]
    return kept


def _guides(size: tuple[float, float], outlines: Sequence[Points]) -> Iterator[Points]:
    """The sheet's edge, and a square to check the scale by, in the corner where it covers the fewest parts."""
    width, height = size
    yield rectangle(0.0, 0.0, width, height)
    side = CHECK_SIDE_MM
    corners = [(0.0, 0.0), (width - side, 0.0), (0.0, height - side), (width - side, height - side)]
    if width < side or height < side:
        corners = corners[:1]
    low = np.array([outline.min(axis=0) for outline in outlines]).reshape(-1, 2)
    high = np.array([outline.max(axis=0) for outline in outlines]).reshape(-1, 2)
    met = [((low < (x + side, y + side)) & (high > (x, y))).all(axis=1).sum() for x, y in corners]
    x, y = corners[met.index(min(met))]
    yield rectangle(x, y, side, side)


def without_doubles(segments: Sequence[Segment], outline: Polygon) -> list[Segment]:
    """Marks less what runs along the outline's own edges: there the cut wins."""
    if not segments:
        return []
    edges = outline.boundary.buffer(_NEAR_MM, cap_style="flat")
    lines = [LineString(segment) for segment in segments]
    along = [line.intersection(edges).length for line in lines]
    kept: list[Segment] = []
    for segment, line, doubled in zip(segments, lines, along, strict=True):
        if doubled < _SHORT_MM:
            kept.append(segment)
            continue
        kept += segments_of(line.difference(edges), _SHORT_MM)
    return kept


def compensated(outline: Polygon, width: float | tuple[float, float], name: str) -> Polygon:
    """The path of the cut's centre for a part, so that what comes out measures `outline`.

    width: the full width of the cut, mm, or one along x and one along y; half of it goes to each side. Where the two
    differ the part is stretched until the tool is round, offset, and stretched back. name: of the part, for messages.

    Raises:
        InputError: a hole, a notch or the part itself is narrower than the kerf and would vanish; names each.

    >>> from shapely.geometry import box
    >>> compensated(box(0, 0, 50, 50), 0.2, "W").bounds
    (-0.1, -0.1, 50.1, 50.1)
    >>> [round(v, 9) for v in compensated(box(0, 0, 50, 50), (0.1, 0.2), "W").bounds]
    [-0.05, -0.1, 50.05, 50.1]
    """
    kerf = Kerf.of(width)
    if not kerf.widest:
        return outline
    # What is whole stays whole as it grows.
    path = cast(Polygon, _offset(outline, kerf, +1))
    lost = list(_lost(outline, path, kerf))
    if lost:
        raise InputError(
            f"a cut {_width(kerf)} mm wide would close holes or notches of part {name} at {a_few(lost)}",
            cure="Make them wider, or cut with a finer tool",
        )
    return path


def _offset(outline: BaseGeometry, kerf: Kerf, sign: int) -> BaseGeometry:
    limit = _MITRE_LIMIT if sign > 0 else _NO_LIMIT
    if kerf.x == kerf.y:
        return outline.buffer(sign * kerf.x / 2, join_style="mitre", mitre_limit=limit)
    scale = (max(kerf.x, _LEAST_WIDTH), max(kerf.y, _LEAST_WIDTH))
    round_tool = shapely.transform(outline, lambda points: points / scale)
    path = round_tool.buffer(sign * 0.5, join_style="mitre", mitre_limit=limit)
    return shapely.transform(path, lambda points: points * scale)


def _lost(outline: Polygon, path: Polygon, kerf: Kerf) -> Iterator[str]:
    """What an offset swallowed: holes by their size, notches by the place, in mm of the part's own frame."""
    left = [Polygon(ring) for ring in path.interiors]
    closed = []
    for hole in map(Polygon, outline.interiors):
        inside = sum(hole.covers(ring) for ring in left)
        if inside != 1:
            closed.append(hole)
            west, south, east, north = hole.bounds
            yield f"{_place(hole)} ({show_number(east - west)} x {show_length(north - south)})"
    filled = _offset(path, kerf, -1).difference(shapely.union_all([outline, *closed]))
    for gap in polygons_of(filled, max(_LOST_MM2, _RESIDUE * kerf.x * kerf.y / 4)):
        yield _place(gap)


def _place(shape: BaseGeometry) -> str:
    x, y = shape.representative_point().coords[0]
    return show_spot(x, y)


def _width(kerf: Kerf) -> str:
    return show_number(kerf.x) if kerf.x == kerf.y else f"{show_number(kerf.x)} x {show_number(kerf.y)}"
