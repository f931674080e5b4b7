"""Folded card: the net of a wall as a closed box, seen from outside; every crease folds away from the viewer."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import (
    EQUAL_MM,
    NEAR_MM,
    Bounds,
    Point,
    Segment,
    from_edge,
    largest_polygon,
    lines_of,
    one_polygon,
    polygons_of,
    reflected,
    segments_of,
    welded,
)
from tilegen.model.materials import FoldingTable
from tilegen.sheets.alike import Flat, Word, at_origin
from tilegen.sheets.folds import fold_to_fold
from tilegen.sheets.labels import fitted_word
from tilegen.tiles.plate import Opening

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
        """The panels as one piece of card, less the holes."""
        panels = welded(self.panels, _JOIN_MM, EQUAL_MM)
        return one_polygon(shapely.difference(panels, shapely.union_all(self.holes), grid_size=_JOIN_MM))

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
        words = _paired([word for text, region in regions for word in fitted_word(text, region)])
        pieces = [piece for region in hidden for piece in polygons_of(region)]
        boxes: list[Bounds] = [piece.bounds for piece in pieces if _is_nearly_a_box(piece)]
        return at_origin(whole, scores, boxes, creases, words, shown=True)


def _paired(words: Sequence[Word]) -> list[Word]:
    """The numbers of which both the tab and the panel that it goes behind had room for theirs."""
    texts = {word.text for word in words}
    return [word for word in words if (word.text[:-1] if word.text.endswith("'") else f"{word.text}'") in texts]


def _is_nearly_a_box(region: BaseGeometry) -> bool:
    """Whether a region fills most of its bounds."""
    west, south, east, north = region.bounds
    return isinstance(region, Polygon) and region.area > _NEARLY * (east - west) * (north - south)


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
        self.outer, self.inner = _span(foot, 0.0), _span(foot, self.width)
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
        crest = opening.height - (opening.width / 2 if opening.head == "round" else 0.0) - SLIT_MM
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
            glued = tab(*_upright(tip, low, crest, sign), width, card.folding.tab_angle)
            self.net.creases.append(((tip, low), (tip, crest)))
            flap = shapely.union_all([flap, glued])
        # The crease lies a hinge's depth inside the jamb: the flap is cut free above and below as far as that.
        for z in (low - SLIT_MM, crest):
            self.net.holes.append(box(min(fold, edge), z, max(fold, edge), z + SLIT_MM))
        return hole.difference(flap)


def _upright(x: float, low: float, high: float, sign: int) -> Segment:
    """An upright line with the side that `sign` points to on its left."""
    return ((x, high), (x, low)) if sign > 0 else ((x, low), (x, high))


def _span(foot: Polygon, depth: float) -> tuple[float, float]:
    """How far a foot reaches along its wall at some depth."""
    xs = [x for x, y in foot.exterior.coords if abs(y - depth) < NEAR_MM]
    return min(xs), max(xs)


def _strip(foot: Polygon, a: float, b: float) -> Polygon:
    """The part of a foot between two depths."""
    west, _, east, _ = foot.bounds
    return largest_polygon(foot.intersection(box(west - 1, min(a, b), east + 1, max(a, b))))


def _mapped(region: Polygon, change: Callable[[float, float], Point]) -> Polygon:
    return Polygon([change(x, y) for x, y in region.exterior.coords])
