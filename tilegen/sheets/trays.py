"""Folded card: a tile's skin, its floor with sides that fold down and turn in under it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry import Point as Point2D
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tilegen.geometry import (
    Bounds,
    Point,
    corners_of,
    from_edge,
    intersection,
    one_polygon,
    polygons_of,
    segments_of,
    straightened,
    turn_right,
    unit_vector,
)
from tilegen.sheets.alike import Flat
from tilegen.sheets.bends import CurvedPart
from tilegen.sheets.feet import without_tails
from tilegen.sheets.least import narrow_places
from tilegen.sheets.nets import LEAST_TAB_MM, SLIT_MM, Card, Net, tab
from tilegen.sheets.scores import scores_on
from tilegen.tiles.plate import Plate

# Shorter edges get no side of their own: a loose strip goes round them.
_LEAST_EDGE_MM = 8.0
# What is shorter is no edge: the sides beside it meet.
_NO_EDGE_MM = 0.05
# Narrower necks tear (common practice, no source).
_NECK_MM = 1.5
_LEAST_TURN = math.radians(8)
_TOUCH_MM2 = 1e-5
# A smaller corner tab holds nothing: the corner is taped instead (common practice, no source).
_LEAST_TAB_MM2 = 6.0
_TAB_SHARES = (1.0, 0.75, 0.5)
_BLUNT = f"a tip of the floor under {_NECK_MM:g} mm wide is left off; fill it with putty"


CORE_NOTE = "of foam or board, glue layers if need be"
# A narrower tongue of a core carries nothing.
_LEAST_CORE_MM = 2.0


def core_outlines(foot: Polygon, inset: float) -> Iterator[Polygon]:
    """What a skin is folded round: its outline drawn in by card and glue; nothing where that leaves nothing to cut."""
    inner = (without_tails(foot) or foot).buffer(-inset, join_style="mitre")
    for part in polygons_of(inner):
        if not part.buffer(-_LEAST_CORE_MM / 2).is_empty:
            yield part


@dataclass(frozen=True, slots=True)
class _Edge:
    """One edge of the floor in the net, walked with the floor on the left; turns: of the outline at its two ends."""

    start: Point
    end: Point
    outside: float
    turns: tuple[float, float]

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end)

    def at(self, along: float, out: float) -> Point:
        """A point so far along the edge from its start and so far out from the floor."""
        return from_edge((self.start, self.end), along, out)

    def box(self, start: float, end: float, near: float, far: float) -> Polygon:
        """A rectangle along the edge, so far out from the floor."""
        return Polygon([self.at(a, o) for a, o in ((start, near), (end, near), (end, far), (start, far))])


def tray_parts(plate: Plate, card: Card, covered: Sequence[Bounds]) -> Iterator[CurvedPart]:
    """The skin of a base, and loose strips for the edges that can't carry a side of their own.

    covered: boxes on the footprint that walls will stand on.
    """
    foot = without_tails(plate.foot) or plate.foot
    outline = orient(straightened(shapely.remove_repeated_points(foot, _NO_EDGE_MM)))
    points = corners_of(outline.exterior)
    loose = {i for i in range(len(points)) if _is_of_a_curve(points, i)}
    while (tray := _Tray(points, outline, plate.height, card, loose)).loose != loose or tray.pinched():
        loose = tray.loose
    tray.net.hidden += [box(*bounds) for bounds in covered]
    for score in scores_on(plate, "top"):
        tray.net.scores += segments_of(LineString(score).intersection(tray.floor), SLIT_MM)
    chains = [
        chain
        for chain in _chains(sorted(loose), len(points))
        if math.fsum(tray.edges[i].outside for i in chain) >= LEAST_TAB_MM
    ]
    yield CurvedPart(tray.net.flat(), "" if foot is plate.foot else _BLUNT, "folded skin", 0.0)
    for strip in (*(tray.strip(chain) for chain in chains), *tray.hole_strips()):
        yield CurvedPart(strip, "glue round the core under the floor's edge", "edge strip", 0.0)


class _Tray:
    """Lays out the floor and its sides; `loose` comes back with the edges whose sides would overlap."""

    def __init__(self, points: list[Point], outline: Polygon, depth: float, card: Card, loose: set[int]) -> None:
        self.points, self.outline, self.depth, self.card = points, outline, depth, card
        self.loose = set(loose)
        self.edges = list(self._edges())
        while crossed := self._crossed():
            self.loose |= crossed
            self.edges = list(self._edges())
        self.net = Net()
        self.floor = self._floor()
        self.net.panels.append(self.floor)
        self.sides: dict[int, BaseGeometry] = {}
        for number, edge in enumerate(self.edges):
            if number not in self.loose:
                self._add_side(number, edge)
        for number, edge in enumerate(self.edges):
            if number not in self.loose and self._joined(number):
                self._add_tab(number, edge)

    @property
    def _drop(self) -> float:
        """From the floor's fold to the fold at the foot of a side, or to its free edge."""
        return self.card.between(self.depth, 2 if self.card.folding.turn_under else 1)

    def _joined(self, number: int) -> bool:
        """Whether a side meets the one before it at a corner that a tab can join."""
        before = (number - 1) % len(self.edges)
        return self.edges[number].turns[0] > _LEAST_TURN and before not in self.loose

    def _start(self, number: int) -> float:
        """Where a side starts: the one before covers its edge, so it stands a thickness back."""
        turn = self.edges[number].turns[0]
        if turn < -_LEAST_TURN:
            return SLIT_MM
        return self.card.thickness / max(math.sin(turn), 0.2) if self._joined(number) else 0.0

    def _edges(self) -> Iterator[_Edge]:
        """The floor's edges: drawn in by the hinge's depth where a side folds down."""
        count = len(self.points)
        insets = [0.0 if i in self.loose else self.card.hinge for i in range(count)]
        corners = []
        for i in range(count):
            before, here, after = (self.points[(i + k) % count] for k in (-1, 0, 1))
            corners.append(_drawn_in(before, here, after, insets[i - 1], insets[i]))
        for i in range(count):
            j = (i + 1) % count
            turns = (_turn(self.points, i), _turn(self.points, j))
            yield _Edge(corners[i][1], corners[j][0], math.dist(self.points[i], self.points[j]), turns)

    def _floor(self) -> Polygon:
        corners = [point for edge in self.edges for point in (edge.start, edge.end)]
        ring = [point for before, point in zip([corners[-1], *corners], corners, strict=False) if point != before]
        return Polygon(ring, [hole.coords for hole in self.outline.interiors])

    def _crossed(self) -> set[int]:
        """The edges whose sides have to be loose, or drawing the floor in by the hinge would turn it over there."""
        count, found = len(self.edges), set()
        for i, edge in enumerate(self.edges):
            along, kept = unit_vector(self.points[i], self.points[(i + 1) % count]), _between(edge.start, edge.end)
            left = along[0] * kept[0] + along[1] * kept[1]
            if i in self.loose and left <= 0:
                found |= {(i - 1) % count, (i + 1) % count}
            elif i not in self.loose and left < LEAST_TAB_MM:
                found.add(i)
        found -= self.loose
        return found if found or self._floor().is_valid else set(range(count)) - self.loose

    def pinched(self) -> bool:
        """Whether a side leaves a neck beside it that is too narrow to cut: the nearest is loose then."""
        for neck in narrow_places(self.net.outline(), _NECK_MM):
            place = Point2D(neck.x, neck.y)
            gap, side = min(((shape.distance(place), n) for n, shape in self.sides.items()), default=(math.inf, 0))
            if gap < LEAST_TAB_MM:
                self.loose = self.loose | {side}
                return True
        return False

    def _add_side(self, number: int, edge: _Edge) -> None:
        """One side and what turns in under the tile, unless they would lie on the floor or on another side."""
        card, drop, start = self.card, self._drop, self._start(number)
        after = (number + 1) % len(self.edges)
        # It covers the next one's edge in turn: out to the corner of the outside.
        covers = after not in self.loose and self._joined(after)
        end = edge.length + (card.hinge * math.tan(edge.turns[1] / 2) if covers else 0.0)
        fold_end = edge.length - (SLIT_MM if edge.turns[1] < -_LEAST_TURN else 0.0)
        side = edge.box(start, fold_end, 0.0, drop)
        if covers:
            # A little below the floor's corner, or a sharp notch would stay there.
            lip = [(start, 0), (edge.length, 0), (edge.length, SLIT_MM), (end, SLIT_MM), (end, drop), (start, drop)]
            side = Polygon([edge.at(along, out) for along, out in lip])
        under = self._under(edge, (start, fold_end), drop)
        whole = shapely.union_all([panel for panel in (side, under) if panel is not None])
        # On an edge shorter than its covers a side would cross itself: a loose strip then.
        taken = (self.floor, *self.sides.values())
        if not whole.is_valid or math.fsum(intersection(whole, other).area for other in taken) > _TOUCH_MM2:
            self.loose.add(number)
            return
        self.sides[number] = whole
        self.net.panels.append(side)
        self.net.creases.append((edge.at(start, 0), edge.at(fold_end, 0)))
        if under is not None:
            self.net.panels.append(under)
            self.net.creases.append((edge.at(start, drop), edge.at(fold_end, drop)))
            self.net.hidden.append(under)

    def _add_tab(self, number: int, edge: _Edge) -> None:
        """The corner tab at a side's start, as large as its neighbours leave room for."""
        fold, start, drop = self.card.folding, self._start(number), self._drop
        others = shapely.union_all([shape for other, shape in self.sides.items() if other != number])
        widest = min(fold.tab, 0.5 * self.edges[number - 1].length)
        for share in _TAB_SHARES:
            for near in np.arange(SLIT_MM, drop - LEAST_TAB_MM, SLIT_MM).tolist():
                flap = tab(edge.at(start, drop), edge.at(start, near), widest * share, fold.tab_angle)
                if flap.distance(others) >= SLIT_MM / 2 and flap.area >= _LEAST_TAB_MM2:
                    self.net.panels.append(flap)
                    self.net.creases.append((edge.at(start, near), edge.at(start, drop)))
                    before = self.edges[number - 1]
                    panel = before.box(before.length - widest, before.length, 0.0, drop)
                    self.net.words += [(f"{number + 1}", flap), (f"{number + 1}'", panel)]
                    return

    def _under(self, edge: _Edge, along: tuple[float, float], drop: float) -> Polygon | None:
        """What turns in under the tile; its ends slant so that neighbours stay apart."""
        fold = self.card.folding
        slants = []
        for turn in edge.turns:
            inside = math.degrees(math.pi - turn) / 2 - 3 if turn > 0 else 90.0
            slants.append(1 / math.tan(math.radians(min(fold.tab_angle, inside))) if turn > 0 else 0.0)
        low, high = along[0] + SLIT_MM / 2, along[1] - SLIT_MM / 2
        narrow = one_polygon(self.outline.minimum_rotated_rectangle)
        sides = [math.dist(a, b) for a, b in pairwise(narrow.exterior.coords)]
        width = min(fold.turn_under, 0.4 * min(sides), 0.9 * (high - low) / max(math.fsum(slants), 1e-9))
        if width < SLIT_MM:
            return None
        corners = (
            (low, drop),
            (high, drop),
            (high - slants[1] * width, drop + width),
            (low + slants[0] * width, drop + width),
        )
        return Polygon([edge.at(a, o) for a, o in corners])

    def strip(self, chain: list[int]) -> Flat:
        """A loose strip round a chain of edges, under the floor's edge, creased at the corners."""
        return self._strip([(self.edges[i].outside, self.edges[i].turns[1]) for i in chain])

    def hole_strips(self) -> Iterator[Flat]:
        """A strip round the inside of each hole."""
        for ring in self.outline.interiors:
            points = corners_of(ring)
            count = len(points)
            yield self._strip(
                [(math.dist(points[i], points[(i + 1) % count]), _turn(points, (i + 1) % count)) for i in range(count)]
            )

    def _strip(self, sides: list[tuple[float, float]]) -> Flat:
        height = self.depth - self.card.thickness
        net, at = Net(), 0.0
        for number, (length, turn) in enumerate(sides):
            at += length
            if number < len(sides) - 1 and abs(turn) > _LEAST_TURN:
                net.creases.append(((at, 0.0), (at, height)))
        net.panels.append(box(0.0, 0.0, at, height))
        return net.flat()


def _drawn_in(before: Point, here: Point, after: Point, first: float, second: float) -> tuple[Point, Point]:
    """Where two edges end and begin at their corner once they have moved to their left by `first` and `second`.

    That is one point, but where an edge that moves meets one at a flat angle that does not: a step.
    """
    a, b = unit_vector(before, here), unit_vector(here, after)
    cross = a[0] * b[1] - a[1] * b[0]
    if abs(cross) < 1e-9:
        point = here[0] - b[1] * second, here[1] + b[0] * second
        return point, point
    # The point whose distances to the left of both edges are `first` and `second`.
    x = (first * b[0] - second * a[0]) / cross
    y = (first * b[1] - second * a[1]) / cross
    still = before if not first else after if not second else None
    if still and a[0] * b[0] + a[1] * b[1] > 0 and math.hypot(x, y) > math.dist(here, still) / 2:
        return (here[0] - a[1] * first, here[1] + a[0] * first), (here[0] - b[1] * second, here[1] + b[0] * second)
    return (here[0] + x, here[1] + y), (here[0] + x, here[1] + y)


def _between(a: Point, b: Point) -> Point:
    return b[0] - a[0], b[1] - a[1]


def _turn(points: Sequence[Point], i: int) -> float:
    """How far the outline turns left at a corner, in radians; negative where it turns right."""
    return -turn_right(points[i - 1], points[i], points[(i + 1) % len(points)])


def _is_of_a_curve(points: Sequence[Point], number: int) -> bool:
    """Whether an edge is too short for a side of its own, or one of the chords of a curve."""

    def length(i: int) -> float:
        return math.dist(points[i % len(points)], points[(i + 1) % len(points)])

    if length(number) < _LEAST_EDGE_MM:
        return True
    beside = ((number, number - 1), ((number + 1) % len(points), number + 1))
    return any(abs(_turn(points, i)) < _LEAST_TURN and length(number) < 2 * length(j) for i, j in beside)


def _chains(numbers: list[int], count: int) -> list[list[int]]:
    """Neighbouring edges together, round the outline."""
    chains: list[list[int]] = []
    for number in numbers:
        if chains and chains[-1][-1] == number - 1:
            chains[-1].append(number)
        else:
            chains.append([number])
    if len(chains) > 1 and chains[0][0] == 0 and chains[-1][-1] == count - 1:
        chains[0] = chains.pop() + chains[0]
    return chains
