"""Nets of folded card, closed boxes and skins over cores, seen from outside: creases fold away from the viewer."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry import Point as Point2D
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tilegen.geometry import (
    EQUAL_MM,
    Bounds,
    Point,
    Segment,
    corners_of,
    from_edge,
    intersection,
    largest_polygon,
    lines_of,
    one_polygon,
    polygons_of,
    reflected,
    segments_of,
    straightened,
    turn_right,
    unit_vector,
    welded,
)
from tilegen.model.materials import FoldingTable
from tilegen.sheets.flat import Flat, at_origin, fitted_word, floor_scores
from tilegen.sheets.footprints import cuttable, narrow_places, span_at
from tilegen.tiles.plate import Opening, Plate

# Panels of a net are joined on this grid, far finer than any cut.
_JOIN_MM = 1e-7
# Between a number and the creases about it.
_CLEAR_MM = 0.1
# A crease this near to an edge runs along it, for any knife.
_EDGE_MM = 0.03
# Free space between the edge of a flap and what it would rub against, mm (0.5 to 1 with a knife: common practice).
SLIT_MM = 0.6
_NEARLY = 0.6
# A tab narrower than this holds nothing (common practice, no source).
LEAST_TAB_MM = 2.5
# Shorter edges get no side of their own: a loose strip goes round them.
_LEAST_EDGE_MM = 8.0
# What is shorter is no edge: the sides beside it meet.
_NO_EDGE_MM = 0.05
# Narrower necks tear (common practice, no source).
NECK_MM = 1.5
_LEAST_TURN = math.radians(8)
_TOUCH_MM2 = 1e-5
# A smaller corner tab holds nothing: the corner is taped instead (common practice, no source).
_LEAST_TAB_MM2 = 6.0
_TAB_SHARES = (1.0, 0.75, 0.5)
# A part with a smaller share of a net's area is not a panel.
_CRUMB = 0.01


@dataclass(frozen=True, slots=True)
class Card:
    """The card a net is made of: its thickness in mm and how it folds."""

    thickness: float
    folding: FoldingTable

    @property
    def hinge(self) -> float:
        """How far under the outer face a fold's hinge lies, mm."""
        return self.folding.hinge * self.thickness

    def between(self, outside: float, folds: int = 2) -> float:
        """A panel's measure in the net for its outside size."""
        return fold_to_fold(outside, self.thickness, self.folding.hinge, folds)


@dataclass
class Net:
    """A net while it is drawn: panels, what is cut out of them, creases, words and places out of sight."""

    panels: list[Polygon] = field(default_factory=list)
    holes: list[BaseGeometry] = field(default_factory=list)
    creases: list[Segment] = field(default_factory=list)
    words: list[tuple[str, Polygon]] = field(default_factory=list)
    hidden: list[Polygon] = field(default_factory=list)
    scores: list[Segment] = field(default_factory=list)

    def outline(self) -> Polygon:
        """The panels as one piece of card, less the holes.

        A crumb that hangs on nothing is left out: of an underside beside a doorway that a seam cuts at a slant.
        """
        panels = welded(self.panels, _JOIN_MM, EQUAL_MM)
        whole = shapely.difference(panels, shapely.union_all(self.holes), grid_size=_JOIN_MM)
        largest = largest_polygon(whole)
        return largest if whole.area - largest.area < _CRUMB * whole.area else one_polygon(whole)

    def flat(self, *, mirrored: bool = False) -> Flat:
        """The finished net; mirrored: drawn from inside, wanted from outside. Creases end where the card ends."""
        whole = self.outline()
        creases = [piece for crease in self.creases for piece in _on_card(crease, whole)]
        folds = shapely.union_all([LineString(crease) for crease in creases]).buffer(_CLEAR_MM)
        regions = [(text, region.intersection(whole).difference(folds)) for text, region in self.words]
        hidden = [region.intersection(whole) for region in self.hidden]
        scores = self.scores
        if mirrored:
            scores = [((-a[0], a[1]), (-b[0], b[1])) for a, b in scores]
            whole = one_polygon(reflected(whole))
            creases = [((-a[0], a[1]), (-b[0], b[1])) for a, b in creases]
            regions = [(text, reflected(region)) for text, region in regions]
            hidden = [reflected(region) for region in hidden]
        words = [word for text, region in regions for word in fitted_word(text, region)]
        # The numbers of which both the tab and the panel that it goes behind had room for theirs.
        texts = {word.text for word in words}
        words = [w for w in words if (w.text[:-1] if w.text.endswith("'") else f"{w.text}'") in texts]
        pieces = [piece for region in hidden for piece in polygons_of(region)]
        boxes = [piece.bounds for piece in pieces if piece.area > _NEARLY * piece.envelope.area]
        return at_origin(whole, scores, boxes, creases, words, shown=True)


def _on_card(crease: Segment, card: Polygon) -> list[Segment]:
    """The parts of a crease that have card on both sides."""
    line = LineString(crease)
    edge = line.intersection(card.boundary.buffer(_EDGE_MM))
    along = lines_of(edge, SLIT_MM / 2)
    # On floating coordinates a slanting line keeps what lies on it.
    inside = shapely.difference(line, shapely.union_all(along), grid_size=_JOIN_MM).intersection(card)
    return segments_of(inside, SLIT_MM / 2)


def tab(start: Point, end: Point, width: float, angle: float) -> Polygon:
    """A glue tab to the left of a line: its ends slant at `angle` degrees, less where it is short."""
    length = math.dist(start, end)
    slant = min(width / math.tan(math.radians(angle)), length / 4)
    edge = start, end
    return Polygon([start, end, from_edge(edge, length - slant, -width), from_edge(edge, slant, -width)])


def box_net(
    height: float, foot: Polygon, openings: Sequence[Opening], card: Card, scores: Sequence[Segment] = ()
) -> Flat:
    """The net of a standing plate of some height as a box.

    foot: what it covers, x along its outer face and y into the wall. scores: on its inner face, x along, y up.
    Up the net: outer face, top, inner face (upside down) with an end flap on each side, underside, glue tab.
    """
    made = _BoxNet(height, foot, openings, card)
    made.net.scores += [((x0, made.fold_under - y0), (x1, made.fold_under - y1)) for (x0, y0), (x1, y1) in scores]
    return made.net.flat(mirrored=True)


class _BoxNet:
    """Lays out one box, seen from inside: s along the outer face, v up the net."""

    def __init__(self, height: float, foot: Polygon, openings: Sequence[Opening], card: Card) -> None:
        self.height, self.foot, self.openings, self.card = height, foot, openings, card
        self.net = Net()
        self.width = foot.bounds[3] - foot.bounds[1]
        self.outer, self.inner = span_at(foot, 0.0), span_at(foot, self.width)
        hinge = card.hinge
        self.fold_top = card.between(height, 1)
        self.fold_inner = self.fold_top + card.between(self.width)
        self.fold_under = self.fold_inner + card.between(height)
        # The underside ends inside the outer face, so it is a thickness shorter.
        self.fold_tab = self.fold_under + card.between(self.width - card.thickness) - card.folding.tuck
        self.hinge = hinge
        self._tab(self._faces())
        for at_start in (True, False):
            self._end_flap(at_start=at_start)
        for opening in openings:
            self._opening(opening)

    def _faces(self) -> Polygon:
        """Outer face, top, inner face and underside; gives the underside."""
        net, (o0, o1), (i0, i1) = self.net, self.outer, self.inner
        h = self.hinge
        near, far = _strip(self.foot, h, self.width - h), _strip(self.foot, self.width - h, h)
        top = _mapped(near, lambda s, d: (s, self.fold_top + d - h))
        under = _mapped(far, lambda s, d: (s, self.fold_under + self.width - d - h))
        west, _, east, _ = under.bounds
        under = one_polygon(under.intersection(box(west, self.fold_under, east, self.fold_tab)))
        faces = box(o0, 0, o1, self.fold_top), top, box(i0 + h, self.fold_inner, i1 - h, self.fold_under), under
        net.panels += [face for face in faces if isinstance(face, Polygon)]
        # The outer face is turned away from the tile: there is room for the number.
        net.hidden += [box(o0, 0, o1, self.fold_top), under]
        for v in (self.fold_top, self.fold_inner, self.fold_under):
            net.creases.append(((min(o0, i0), v), (max(o1, i1), v)))
        return under

    def _tab(self, under: Polygon) -> None:
        """Along the underside, glued inside the outer face."""
        # No further than the underside reaches there, but for a nub: its ends may slant.
        free = [x for x, v in under.exterior.coords if v > self.fold_tab - EQUAL_MM]
        o0 = max(self.outer[0], min(free, default=math.inf) - self.card.thickness - SLIT_MM)
        o1 = min(self.outer[1], max(free, default=-math.inf) + self.card.thickness + SLIT_MM)
        width = min(self.card.folding.tab, 0.5 * self.fold_top)
        gaps = sorted((o.centre - o.width / 2, o.centre + o.width / 2) for o in self.openings)
        starts, ends = [o0, *(right for _, right in gaps)], [*(left for left, _ in gaps), o1]
        for start, end in zip(starts, ends, strict=True):
            line = (end - self.card.thickness, self.fold_tab), (start + self.card.thickness, self.fold_tab)
            if line[0][0] - line[1][0] < LEAST_TAB_MM:
                continue
            flap = tab(line[1], line[0], width, self.card.folding.tab_angle)
            self.net.panels.append(flap)
            self.net.creases.append((line[1], line[0]))
            self.net.words.append(("1", flap))
            self.net.words.append(("1'", box(line[1][0], 0, line[0][0], width)))

    def _end_flap(self, *, at_start: bool) -> None:
        """Closes an end: hangs on the inner face, tucked under top and underside, its tab behind the outer face."""
        card, sign = self.card, -1 if at_start else 1
        fold = (self.inner[0] + self.hinge) if at_start else (self.inner[1] - self.hinge)
        skew = (self.outer[0] - self.inner[0]) if at_start else (self.outer[1] - self.inner[1])
        reach = card.between(math.hypot(self.width, skew) - card.thickness)
        clear = card.thickness - self.hinge + card.folding.tuck
        low, high = self.fold_inner + clear, self.fold_under - clear
        tip = fold + sign * reach
        self.net.panels.append(box(min(fold, tip), low, max(fold, tip), high))
        width = min(card.folding.tab, 0.4 * (self.outer[1] - self.outer[0]))
        ends = ((tip, low), (tip, high)) if at_start else ((tip, high), (tip, low))
        flap = tab(*ends, width, card.folding.tab_angle)
        self.net.panels.append(flap)
        self.net.creases += [((fold, low), (fold, high)), ((tip, low), (tip, high))]
        number = "2" if at_start else "3"
        self.net.words.append((number, flap))
        edge = self.outer[0] if at_start else self.outer[1] - width
        self.net.words.append((f"{number}'", box(edge, width + 1, edge + width, self.fold_top - 1)))

    def _opening(self, opening: Opening) -> None:
        """A hole in both faces and the underside; the outer face's jambs turn in where there is room."""
        hole: BaseGeometry = opening.region(below=1.0)
        left, right = opening.centre - opening.width / 2, opening.centre + opening.width / 2
        for edge, sign in ((left, 1), (right, -1)):
            hole = self._jamb(hole, opening, edge, sign)
        self.net.holes.append(hole)
        reach = self.fold_tab + self.card.folding.tab + 1 - self.fold_under - self.hinge
        zero = self.fold_under + self.hinge
        self.net.holes.append(_mapped(opening.region(below=reach), lambda s, z: (s, zero - z)))

    def _jamb(self, hole: BaseGeometry, opening: Opening, edge: float, sign: int) -> BaseGeometry:
        """The hole less a flap that lines the jamb at `edge`; sign: towards the opening's middle."""
        card = self.card
        crest = opening.spring - SLIT_MM
        low = card.thickness + card.folding.tuck
        fold = edge - sign * self.hinge
        tip = fold + sign * card.between(self.width - card.thickness)
        room = opening.width / 2 - SLIT_MM / 2 - abs(tip - edge)
        ends = [self.outer[0] if sign > 0 else self.outer[1]]
        ends += [o.centre + sign * o.width / 2 for o in self.openings if (edge - o.centre) * sign > o.width / 2]
        jamb = min(abs(edge - end) for end in ends)
        if room < 0 or crest - low < LEAST_TAB_MM:
            return hole
        flap: BaseGeometry = box(min(edge, tip), low, max(edge, tip), crest)
        self.net.creases.append(((fold, low), (fold, crest)))
        width = min(card.folding.tab, room, jamb - card.folding.tab - 2 * card.thickness)
        if width >= LEAST_TAB_MM:
            # The side that `sign` points to lies on its left.
            line = ((tip, crest), (tip, low)) if sign > 0 else ((tip, low), (tip, crest))
            glued = tab(*line, width, card.folding.tab_angle)
            self.net.creases.append(((tip, low), (tip, crest)))
            flap = shapely.union_all([flap, glued])
        # The crease lies a hinge's depth inside the jamb: the flap is cut free above and below as far as that.
        for z in (low - SLIT_MM, crest):
            self.net.holes.append(box(min(fold, edge), z, max(fold, edge), z + SLIT_MM))
        return hole.difference(flap)


def _strip(foot: Polygon, a: float, b: float) -> Polygon:
    """The part of a foot between two depths."""
    west, _, east, _ = foot.bounds
    return largest_polygon(foot.intersection(box(west - 1, min(a, b), east + 1, max(a, b))))


def _mapped(region: Polygon, change: Callable[[float, float], Point]) -> Polygon:
    return Polygon([change(x, y) for x, y in region.exterior.coords])


# Skins over cores: a floor with sides that fold down and turn in under it


def tray_nets(plate: Plate, card: Card, covered: Sequence[Bounds]) -> tuple[Flat, list[Flat]]:
    """The skin of a base, and loose strips for the edges that can't carry a side of their own.

    covered: boxes on the footprint that walls will stand on.
    """
    outline = orient(straightened(shapely.remove_repeated_points(cuttable(plate.foot), _NO_EDGE_MM)))
    points = corners_of(outline.exterior)
    loose = {i for i in range(len(points)) if _is_of_a_curve(points, i)}
    while (tray := _Tray(points, outline, plate.height, card, loose)).loose != loose or tray.pinched():
        loose = tray.loose
    tray.net.hidden += [box(*bounds) for bounds in covered]
    for score in floor_scores(plate):
        tray.net.scores += segments_of(LineString(score).intersection(tray.floor), SLIT_MM)
    chains = [
        chain
        for chain in _chains(sorted(loose), len(points))
        if math.fsum(tray.edges[i].outside for i in chain) >= LEAST_TAB_MM
    ]
    return tray.net.flat(), [*(tray.strip(chain) for chain in chains), *tray.hole_strips()]


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
            along = unit_vector(self.points[i], self.points[(i + 1) % count])
            left = along[0] * (edge.end[0] - edge.start[0]) + along[1] * (edge.end[1] - edge.start[1])
            if i in self.loose and left <= 0:
                found |= {(i - 1) % count, (i + 1) % count}
            elif i not in self.loose and left < LEAST_TAB_MM:
                found.add(i)
        found -= self.loose
        return found if found or self._floor().is_valid else set(range(count)) - self.loose

    def pinched(self) -> bool:
        """Whether a side leaves a neck beside it that is too narrow to cut: the nearest is loose then."""
        for neck in narrow_places(self.net.outline(), NECK_MM):
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


def fold_to_fold(outside: float, thickness: float, hinge: float, folds: int = 2) -> float:
    """From one fold line to the next, or to a free edge, for an outside size; everything in mm.

    hinge: depth of the hinge under the outer face, as a share of the thickness. folds: how many of the panel's two
    ends are folds: L - 2 a t between two folds of 90 degrees, H - a t for a flap with a free end (derived).

    >>> fold_to_fold(50, 0.5, 0.5), fold_to_fold(8, 0.5, 0.5, folds=1)
    (49.5, 7.75)
    """
    return outside - folds * hinge * thickness
