"""Every outline of a set of parts once, in true size, with how many to cut and the lines to carry over."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.affinity import rotate, translate
from shapely.geometry import LineString, Polygon, box

from tilegen.geometry import Points, Segment, largest_polygon, lines_of, polygon_rings, polygons_of, rings_of
from tilegen.lengths import Units, show_length
from tilegen.pictures.canvas import (
    CAP_HEIGHT,
    Area,
    Canvas,
    Hatch,
    Photo,
    Polylines,
    Shape,
    Text,
    moved,
    polyline,
    printed_width,
)
from tilegen.pictures.paper import BAR_MM, INK, LEADING, MARGIN, SMALL, TEXT, Booklet, bars, wrapped_text
from tilegen.sheets.assembly import Assembly, PlacedPart
from tilegen.sheets.flat import Flat, remarks_said
from tilegen.sheets.parts import Part
from tilegen.sheets.sheetset import SheetSet

_GAP, _NUMBER, _LEAST_CAPTION = 5.0, 4.4, 34.0
# Ticks outside of an outline, for lines to carry over to stock that can't be seen through; where they begin and end.
_TICK, _OFF = 4.0, 0.8
# An edge that ends so near the outline is carried over; lines nearer than this to one another are one.
_REACHES, _SAME = 1.6, 0.4
_OVERLAP, _EXACT = 10.0, 1e-6
_CUT, _FINE, _FOLD = 0.25, 0.15, 0.3
_WALL = Hatch("#b5b5b5", 1.6, 0.15)
_TITLE = "Templates in true size"
_HOW = (
    'Print at 100 %, not "fit to page", and measure the bars: 100 mm each. Cut the outlines from paper or card and '
    "draw round them; or lay a base on its drawing and carry the lines over from the ticks outside."
)


@dataclass(frozen=True)
class Head:
    """What stands on pages of templates: a title, what to do with them, what their lines mean."""

    legend: str
    title: str = _TITLE
    how: str = _HOW


@dataclass(frozen=True)
class Template:
    """One outline to cut. shapes: in true size, y down, the outline's upper left corner at (0, 0).

    beyond: how far its ticks reach outside. words: under its number. measured: its lines in words, where these and its
    measures say all of it. beside: what stands beside its number, if not how many to cut.
    """

    number: str
    count: int
    size: tuple[float, float]
    shapes: tuple[Shape, ...]
    words: tuple[str, ...]
    beyond: float = 0.0
    outline: Polygon = field(default_factory=Polygon)
    measured: str | None = None
    beside: str = ""

    @property
    def many(self) -> str:
        """What stands beside its number."""
        return self.beside or f"cut {self.count}"

    def width(self) -> float:
        """With its ticks and its caption."""
        head = printed_width(f"{self.number}  {self.many}", _NUMBER, bold=True)
        return max(self.size[0] + 2 * self.beyond, head, _LEAST_CAPTION if len(self.words) > 1 else 0.0)

    def caption(self, width: float) -> list[str]:
        """Its words in lines."""
        return [line for text in self.words for line in wrapped_text(text, SMALL, width)]

    def height(self) -> float:
        """With its ticks and its caption."""
        lines = len(self.caption(self.width()))
        return self.size[1] + 2 * self.beyond + _NUMBER * 1.4 + lines * SMALL * LEADING


def template_pages(book: Booklet, sets: Sequence[SheetSet]) -> None:
    """All templates of a kit, on as few pages as they go, with the gluing block."""
    assemblies = [made for one in sets for made in one.assemblies]
    block = block_of(sets, book.units)
    head = Head(_legend(sets, assemblies, book.units))
    found = sorted([*templates_of(sets, book.units), *([(block,)] if block else [])], key=lambda ways: _order(ways[0]))
    lay_templates(book, found, head)


def lay_templates(book: Booklet, found: Sequence[tuple[Template, ...]], head: Head) -> None:
    """Templates on as few pages as they go, each in one of the ways that it may lie."""
    fitting = [[one for one in ways if _fits(one, book)] for ways in found]
    large = [ways[0] for ways, fit in zip(found, fitting, strict=True) if not fit]
    small = [fit for fit in fitting if fit]
    # In the order of their numbers if that takes no more pages.
    orders = (small, sorted(small, key=lambda ways: -min(one.height() for one in ways)))
    tried: list[_Pages] = [_laid(order, book) for order in orders]
    best: _Pages = min(tried, key=len)
    for number, page in enumerate(best):
        _first(book, head, more=number > 0)
        for one, x, y in page:
            _draw(book.page, one, MARGIN + x, book.y + y)
        book.y += max(y + one.height() for one, _, y in page) + _GAP
    for one in large:
        (_spread if one.measured is None else _measured)(book, one, head)


# Of each page its templates and where they lie on it.
_Pages = list[list[tuple[Template, float, float]]]


def _fits(one: Template, book: Booklet) -> bool:
    return one.width() <= book.width and one.height() <= _room(book)


def _laid(found: Sequence[Sequence[Template]], book: Booklet) -> _Pages:
    """Which template lies where on which page, and which way: as high up as it goes, on the first page with room."""
    pages: _Pages = []
    # Of each page its skyline from left to right: (x, how far down it is full), the last up to the right margin.
    skylines: list[list[tuple[float, float]]] = []
    width, height = book.width + _GAP, _room(book) + _GAP
    for ways in found:
        for number in range(len(pages) + 1):
            if number == len(pages):
                pages.append([])
                skylines.append([(0.0, 0.0)])
            line = skylines[number]
            places = [(one, _highest(line, one.width() + _GAP, one.height() + _GAP, width, height)) for one in ways]
            free = [(place[1] + one.height(), place, one) for one, place in places if place]
            if free:
                _, (x, y), one = min(free, key=lambda each: each[:2])
                pages[number].append((one, x, y))
                _cover(line, x, x + one.width() + _GAP, y + one.height() + _GAP)
                break
    return pages


def _highest(
    line: Sequence[tuple[float, float]], wide: float, high: float, width: float, height: float
) -> tuple[float, float] | None:
    """The place nearest to the top, then to the left, for a box below a skyline."""
    found = []
    ends = [*(start for start, _ in line[1:]), width]
    for x, _ in line:
        if x + wide > width + 1e-9:
            continue
        top = max(y for (start, y), end in zip(line, ends, strict=True) if start < x + wide - 1e-9 and end > x + 1e-9)
        if top + high <= height + 1e-9:
            found.append((top, x))
    if not found:
        return None
    top, x = min(found)
    return x, top


def _cover(line: list[tuple[float, float]], start: float, end: float, down: float) -> None:
    """Lower a skyline between two places."""
    after = [y for x, y in line if x <= end + 1e-9][-1]
    kept = [(x, y) for x, y in line if x < start - 1e-9 or x > end + 1e-9]
    line[:] = sorted([*kept, (start, down), (end, after)])


_BARS, _HEAD = 9.0, 24.0


def _room(book: Booklet) -> float:
    return book.bottom - MARGIN - _HEAD - _BARS


def _legend(sets: Sequence[SheetSet], assemblies: Sequence[Assembly], units: Units) -> str:
    """What the lines of templates mean."""
    parts = [part for one in sets for part in one.parts if part.count]
    floors = {round(made.floor, 2) for made in assemblies if made.floor and made.parts}
    words = ["Lines: full, cut"]
    words += ["dashed, press and not through"] if any(part.flat.scores for part in parts) else []
    words += ["short dashes, fold"] if any(part.flat.creases for part in parts) else []
    inside = f", inside {show_length(round(floors.pop(), 1), units)} from the edge" if len(floors) == 1 else ""
    words += [f"hatched, walls{inside}"] if any(part.role == "base" for part in parts) and assemblies else []
    return f"{'; '.join(words)}."


def _first(book: Booklet, head: Head, *, more: bool = False) -> None:
    """A page of templates, with its bars and what its lines mean."""
    book.turn()
    book.heading(head.title, "Print at 100 %, as the first page of them." if more else "")
    if not more:
        book.paragraph(head.how)
    book.y = MARGIN + _HEAD if not more else book.y + 2.0
    bars(book.page, MARGIN, book.bottom - 6.0)
    for number, line in enumerate(wrapped_text(head.legend, SMALL, book.width - BAR_MM - 8.0)):
        book.page.text(MARGIN + BAR_MM + 8.0, book.bottom - 4.0 + number * SMALL * LEADING, line, SMALL, colour=INK)
    bars(book.page, book.page.width - MARGIN + 2.6, book.bottom - BAR_MM - 10.0, upright=True)


def _order(one: Template) -> tuple[int, str, int]:
    """Bases, walls and posts, then the rest."""
    letter, digits = one.number[:1], re.sub(r"\D", "", one.number)
    return "BWP".find(letter) % 4, letter, int(digits or 0)


def _draw(page: Canvas, one: Template, x: float, y: float) -> None:
    page.shapes += [moved(shape, x + one.beyond, y + one.beyond) for shape in one.shapes]
    y += one.size[1] + 2 * one.beyond + _NUMBER
    page.text(x, y, one.number, _NUMBER, bold=True, colour=INK)
    after = printed_width(one.number, _NUMBER, bold=True) + 2.0
    page.text(x + after, y, one.many, TEXT, bold=True, colour=INK)
    for line in one.caption(one.width()):
        y += SMALL * LEADING
        page.text(x, y, line, SMALL, colour=INK)


def templates_of(sets: Sequence[SheetSet], units: Units = "mm") -> Iterator[tuple[Template, ...]]:
    """The template of each outline, with the parts of all sets that have it: standing and lying, if it may lie so."""
    assemblies = [made for one in sets for made in one.assemblies]
    groups: dict[str, list[Part]] = {}
    stock: dict[str, str] = {}
    for one in sets:
        # What is printed on its sheet needs no template.
        for part in (*(one.parts if one.material.printed is None else ()), *one.cores):
            if part.count:
                groups.setdefault(_stem(part.number), []).append(part)
                of = "" if part.form == "core" else f" {one.material.called}"
                stock[part.number] = f"{show_length(part.thickness, units)}{of}"
    several = len(set(stock.values())) > 1
    for number, parts in groups.items():
        of_stock = stock[parts[0].number] if several or parts[0].form == "core" else ""
        yield tuple(_ways(number, parts, assemblies, of_stock, units))


def _stem(number: str) -> str:
    """A part's number less the letter that tells apart what is on it."""
    return (re.match(r"[A-Z]\d*", number) or [number])[0]


_Users = list[tuple[Polygon, list[PlacedPart]]]


def _ways(
    number: str, parts: Sequence[Part], assemblies: Sequence[Assembly], thickness: str, units: Units
) -> Iterator[Template]:
    """An outline's template in the ways that it may lie on a page."""
    first = max(parts, key=lambda part: (len(part.flat.scores), len(part.flat.creases), part.number))
    users = _users(first.outline, assemblies) if first.role == "base" and not first.flat.creases else []
    west, south, east, north = first.outline.bounds
    ways = [first.flat]
    if not users and first.role in {"wall", "door"} and first.outline.area < first.outline.envelope.area * 0.999:
        ways = [min(_turns(first.flat), key=_at_foot)]
    elif not users:
        ways.insert(0 if east - west > north - south else 1, first.flat.turned())
    for flat in ways:
        yield _template(number, parts, flat, users, thickness, units)


def _template(  # noqa: PLR0917 - all of it says what one template is
    number: str, parts: Sequence[Part], flat: Flat, users: _Users, thickness: str, units: Units
) -> Template:
    outline, marks = flat.outline, []
    scores, creases = list(flat.scores), list(flat.creases)
    if users:
        # As the tile lies in its picture, not as the part lies on its sheet.
        outline, turn = users[0][0], _turn_between(flat.outline, users[0][0])
        scores = [_turned_line(line, flat.outline, turn) for line in scores]
        marks = [part for _, found in users for part in found]
    _, _, width, height = outline.bounds
    canvas = Canvas(width, height, "")
    feet = [part.foot for part in marks]
    ticks: list[LineString] = []
    if feet:
        joined = [_flipped(foot, height) for foot in polygons_of(shapely.union_all(feet))]
        canvas.area([rings for foot in joined for rings in polygon_rings(foot)], "", hatch=_WALL)
        edges = _edges(feet, outline)
        canvas.line([_flip(line, height) for line in edges], INK, _FINE)
        ticks = [*_ticks([LineString(edge) for edge in edges], outline)]
    ticks += _ticks([LineString(line) for line in scores], outline) if users else []
    canvas.line([_flip(line, height) for line in scores], INK, 0.2, dash=2.2)
    canvas.line([_flip(line, height) for line in creases], INK, _FOLD, dash=1.1)
    canvas.line([_flip(np.array(tick.coords), height) for tick in ticks], INK, _FINE)
    rings = [np.array(ring.coords) for ring in rings_of(outline)]
    canvas.line([_flip(ring, height) for ring in rings], INK, _CUT)
    for word in flat.words if not users else ():
        size = word.height / CAP_HEIGHT
        (x, y), turn_text = word.at, -90.0 if word.upright else 0.0
        canvas.text(x, height - y + (0.0 if word.upright else size * 0.36), word.text, size, "middle", turn_text)
    if len(users) == 1:
        number_parts(canvas, [(p.number, _flipped(p.foot, height)) for p in marks], SMALL)
    words = tuple(_words(parts, outline, thickness, units))
    return Template(
        number,
        sum(part.count for part in parts),
        (width, height),
        tuple(canvas.shapes),
        words,
        _TICK + _OFF if ticks else 0.0,
        outline,
        _in_words(outline, scores, units) if not creases else None,
    )


def _in_words(outline: Polygon, scores: Sequence[Segment], units: Units) -> str | None:
    """The lines of a rectangle, if all of them run right across it; None: it takes a drawing."""
    _, _, width, height = outline.bounds
    upright = {x for (x, y0), (x1, y1) in scores if abs(x - x1) < _EXACT and abs(abs(y1 - y0) - height) < _EXACT}
    level = {y for (x0, y), (x1, y1) in scores if abs(y - y1) < _EXACT and abs(abs(x1 - x0) - width) < _EXACT}
    if not _is_rectangle(outline) or len(upright) + len(level) < len(scores):
        return None
    said = [
        f"{', '.join(_short(at, units) for at in sorted(places))} {units} from the {edge} edge"
        for places, edge in ((upright, "left"), (level, "lower"))
        if places
    ]
    return f"press lines {' and '.join(said)}" if said else ""


def _is_rectangle(outline: Polygon) -> bool:
    return outline.area > outline.envelope.area * (1 - _EXACT)


def _turns(flat: Flat) -> Iterator[Flat]:
    """A part in its four turns."""
    for _ in range(4):
        yield flat
        flat = flat.turned()


def _at_foot(flat: Flat) -> tuple[float, float]:
    """Least where a part's openings or tabs are at its foot: how much of its lower side it fills, how low it lies."""
    _, _, width, height = flat.outline.bounds
    filled = flat.outline.intersection(LineString([(0.0, 0.05), (width, 0.05)])).length / width
    return round(filled, 3), -flat.outline.centroid.y / height


def _words(parts: Sequence[Part], outline: Polygon, thickness: str, units: Units) -> Iterator[str]:
    """Measures, and what the parts of one outline differ in."""
    _, _, width, height = outline.bounds
    size = f"{_short(width, units)} x {show_length(round(height, 1), units)}"
    yield f"{size if _is_rectangle(outline) else f'in a box of {size}'}{f', {thickness}' if thickness else ''}"
    if len(parts) > 1:
        for part in parts:
            lines = "press its lines" if part.flat.scores else "plain"
            yield f"{part.number}: {part.count}, {lines}"
    told = [remarks for part in parts for remarks in part.remarks]
    various = len({remark.words for remarks in told for remark in remarks if remark.of == "bevels"}) > 1
    left_out = ("gluing", "hanging", "bevels") if various else ("gluing", "hanging")
    kept = (remarks_said(remark for remark in remarks if remark.of not in left_out) for remarks in told)
    yield from filter(None, dict.fromkeys(kept))
    if various:
        yield "bevel its ends after gluing, to fit each place"


def _short(value: float, units: Units) -> str:
    return show_length(round(value, 1), units).removesuffix(f" {units}")


def _users(outline: Polygon, assemblies: Sequence[Assembly]) -> _Users:
    """The tiles whose base has this outline: that base at the origin and what stands on it, all turned alike."""
    found: _Users = []
    for made in assemblies:
        if abs(made.outline.area - outline.area) > 1.0:
            continue
        for turn in range(4):
            west, south, _, _ = _rotated(made.outline, turn).bounds
            placed = translate(_rotated(made.outline, turn), -west, -south)
            if not _same(placed, found[0][0] if found else placed) or not (found or _any_turn(placed, outline)):
                continue
            parts = [
                PlacedPart(p.number, p.words, translate(_rotated(p.foot, turn), -west, -south), p.role, p.turned)
                for p in made.parts
                if p.role != "base"
            ]
            found.append((placed, parts))
            break
    return found


def _rotated(shape: Polygon, turn: int) -> Polygon:
    return rotate(shape, 90.0 * turn, origin=(0, 0)) if turn else shape


def _same(a: Polygon, b: Polygon) -> bool:
    # Where it is the same region, its corners may still be counted differently.
    return a is b or float(a.symmetric_difference(b).area) < 0.05 * (1 + a.length / 100)


def _any_turn(placed: Polygon, outline: Polygon) -> bool:
    return _turn_between(outline, placed) >= 0


def _turn_between(outline: Polygon, placed: Polygon) -> int:
    """How many quarter turns to the left take an outline at the origin to a placed one; -1: none does."""
    for turn in range(4):
        west, south, _, _ = _rotated(outline, turn).bounds
        if _same(translate(_rotated(outline, turn), -west, -south), placed):
            return turn
    return -1


def _turned_line(line: Segment, outline: Polygon, turn: int) -> Segment:
    west, south, _, _ = _rotated(outline, turn).bounds
    turned = rotate(LineString(line), 90.0 * turn, origin=(0, 0))
    (x0, y0), (x1, y1) = turned.coords
    return (x0 - west, y0 - south), (x1 - west, y1 - south)


def _flip(line: object, height: float) -> Points:
    points = np.array(line, np.float64)[:, :2]
    return points * (1.0, -1.0) + (0.0, height)


def _flipped(shape: Polygon, height: float) -> Polygon:
    found: Polygon = shapely.transform(shape, lambda p: p * (1.0, -1.0) + (0.0, height))
    return found


def _edges(feet: Sequence[Polygon], outline: Polygon) -> list[Points]:
    """The edges of feet that don't run along the outline, each once."""
    found: dict[tuple[int, ...], Points] = {}
    border = outline.exterior
    for foot in feet:
        for a, b in pairwise(np.array(foot.exterior.coords)):
            near = shapely.distance(border, shapely.points([a, (a + b) / 2, b])) < _REACHES
            if math.dist(a, b) < _REACHES / 3 or near.all():
                continue
            ends = sorted((tuple(a.tolist()), tuple(b.tolist())))
            key = tuple(round(v / _SAME) for end in ends for v in end)
            found.setdefault(key, np.array(ends))
    return list(found.values())


def _ticks(lines: Sequence[LineString], outline: Polygon) -> list[LineString]:
    """Short lines outside of the outline that carry on lines which reach it; each once."""
    found: dict[tuple[int, ...], LineString] = {}
    for line in lines:
        ends = np.array(line.coords)
        for end, other in ((ends[0], ends[1]), (ends[-1], ends[-2])):
            away = (end - other) / max(math.dist(end, other), 1e-9)
            ray = LineString([end - away * 0.01, end + away * (_REACHES + 2.0)])
            crossed = ray.intersection(outline.exterior)
            if crossed.is_empty or outline.exterior.distance(shapely.Point(end)) > _REACHES:
                continue
            at = np.array(crossed.geoms[0].coords[0] if hasattr(crossed, "geoms") else crossed.coords[0])
            tick = LineString([at + away * _OFF, at + away * (_OFF + _TICK)])
            if tick.intersects(outline):
                continue
            key = tuple(round(v / _SAME) for v in (*at.tolist(), *(away * 10).tolist()))
            found.setdefault(key, tick)
    return list(found.values())


def number_parts(
    page: Canvas, parts: Sequence[tuple[str, Polygon]], size: float, taken: Sequence[Polygon] = ()
) -> None:
    """Write each part's number along its foot; beside it, with a line to it, where the foot is too small.

    parts: (number, foot on the page). size: of the text, mm. taken: what no number may cover.
    """
    covered = list(taken)
    outside = []
    for number, foot in parts:
        (x, y), turn, room = _along(foot)
        own = min(size, 0.95 * room)
        label = _label(number, (x, y), own, turn)
        if own < _LEAST_LABEL or foot.buffer(0.3).intersection(label).area < 0.97 * label.area:
            outside.append((number, (x, y)))
            continue
        covered.append(label)
        _write_turned(page, number, (x, y), own, turn)
    feet = shapely.union_all([foot for _, foot in parts])
    for number, (x, y) in outside:
        in_the_way = shapely.union_all([*covered, feet])
        places = [
            (x + away * math.cos(angle * math.pi / 8), y + away * math.sin(angle * math.pi / 8))
            for away in _AWAY
            for angle in range(16)
        ]
        labels = [_label(number, place, size) for place in places]
        crossed = shapely.union_all([shape for shape in covered if not shape.covers(shapely.Point(x, y))])
        hidden = [
            label.intersection(in_the_way).area + LineString([(x, y), place]).intersection(crossed).length
            for label, place in zip(labels, places, strict=True)
        ]
        best = min(range(len(places)), key=lambda n: (round(hidden[n], 1), n))
        line = LineString([(x, y), places[best]]).difference(labels[best])
        covered += [labels[best].buffer(0.5), line.buffer(0.2)]
        if not line.is_empty:
            page.line([np.array(line.coords)], INK, _FINE)
        _write_turned(page, number, places[best], size, 0.0)


# The least size of a number on its part; how far from a part's middle one is tried that has no room on it, mm.
_LEAST_LABEL, _AWAY = 2.1, (3.5, 4.5, 5.5, 7.0, 9.0)


def _along(foot: Polygon) -> tuple[tuple[float, float], float, float]:
    """The place for a number on a part: in the middle across it; which way it runs there, degrees, and its width."""
    middle = foot.centroid
    # Straight across from the edge nearest to its middle, which lies beside a part that bends; halfway through.
    near = np.array(shapely.shortest_line(middle, foot.boundary).coords)
    across = (near[0] - near[1]) * (1.0 if foot.covers(middle) else -1.0)
    ray = LineString([near[1], near[1] + across * 200.0 / max(math.dist(*near), 1e-9)])
    crossed = min(lines_of(ray.intersection(foot)), key=shapely.Point(near[1]).distance, default=None)
    middle = crossed.interpolate(0.5, normalized=True) if crossed else middle
    ends = np.concatenate(
        [np.stack([ring[:-1], ring[1:]], axis=1) for ring in map(shapely.get_coordinates, rings_of(foot))]
    )
    sides = shapely.linestrings(ends)
    near_by = shapely.distance(sides, middle)
    room = 2 * float(near_by.min())
    # Of the sides beside it the longest shows which way it runs.
    side = ends[:, 1] - ends[:, 0]
    dx, dy = side[np.argmax(np.hypot(*side.T) * (near_by < 0.51 * room + 0.1))].tolist()
    turn = math.degrees(math.atan2(dy, dx))
    # Read from below or from the right.
    turn -= 180.0 * math.ceil((turn - 80.0) / 180.0)
    return (middle.x, middle.y), turn, room


def _label(number: str, place: tuple[float, float], size: float, turn: float = 0.0) -> Polygon:
    """What a number covers about its middle."""
    half = printed_width(number, size, bold=True) / 2
    flat = box(-half, -0.4 * size, half, 0.4 * size)
    return translate(rotate(flat, turn, origin=(0, 0)), *place)


def _write_turned(page: Canvas, words: str, middle: tuple[float, float], size: float, turn: float) -> None:
    down, angle = 0.36 * size, math.radians(turn)
    x, y = middle[0] - down * math.sin(angle), middle[1] + down * math.cos(angle)
    page.text(x, y, words, size, "middle", turn, colour=INK, bold=True, halo="#ffffff")


def block_of(sets: Sequence[SheetSet], units: Units = "mm") -> Template | None:
    """The gluing block of a kit; none where slots set the walls."""
    if any(construction.walls_step() for one in sets for construction in one.constructions):
        return None
    return gluing_block([made for one in sets for made in one.assemblies], units)


def gluing_block(assemblies: Sequence[Assembly], units: Units) -> Template | None:
    """A block that sets walls and posts of square tiles: one side between two walls, one from a wall to the edge."""
    squares = {
        (round(side, 6), round(made.floor, 6))
        for made in assemblies
        if made.floor and any(part.role in {"wall", "post"} for part in made.parts)
        for side in [made.outline.bounds[2] - made.outline.bounds[0]]
        if abs(made.outline.area - side * side) < _EXACT and abs(made.outline.envelope.area - side * side) < _EXACT
    }
    if len(squares) != 1:
        return None
    ((side, floor),) = squares
    width, height = side - floor, side - 2 * floor
    if height < 3 * floor:
        return None
    notch = box(width - floor, height - floor, width, height)
    outline = largest_polygon(box(0, 0, width, height).difference(notch))
    canvas = Canvas(width, height, "")
    canvas.line([_flip(outline.exterior.coords, height)], INK, _CUT)
    middle = width / 2
    canvas.text(middle, height / 2, "gluing block", TEXT, "middle", bold=True, colour=INK)
    canvas.text(middle, height / 2 + TEXT * LEADING, "not glued in", SMALL, "middle", colour=INK)
    words = (
        f"{_short(width, units)} x {show_length(round(height, 1), units)}, one corner cut out "
        f"{_short(floor, units)} x {show_length(round(floor, 1), units)}; from scrap"
    )
    return Template("J", 1, (width, height), tuple(canvas.shapes), (words,), 0.0, outline)


def _measured(book: Booklet, one: Template, head: Head) -> None:
    """A rectangle larger than a page, by its measures."""
    width, height = one.size
    scale = min(30.0 / height, 60.0 / width)
    if not book.pages or book.room < height * scale + _GAP + _BARS:
        _first(book, head, more=bool(book.pages))
    book.place(one.shapes, MARGIN, book.y, scale)
    left = MARGIN + width * scale + 4.0
    book.page.text(left, book.y + _NUMBER, one.number, _NUMBER, bold=True, colour=INK)
    book.page.text(left, book.y + 2.2 * _NUMBER, f"{one.many}; not in true size: measure it", TEXT, colour=INK)
    words = [*one.words, *([one.measured] if one.measured else [])]
    for n, line in enumerate(words, 1):
        book.page.text(left, book.y + 2.2 * _NUMBER + n * TEXT * LEADING, line, SMALL, colour=INK)
    book.y += max(height * scale, 2.2 * _NUMBER + len(words) * TEXT * LEADING) + _GAP


def _spread(book: Booklet, one: Template, head: Head) -> None:
    """A template larger than a page: over several, joined at crosses."""
    width, height = one.size
    wide, high = book.width, _room(book)
    columns = max(1, math.ceil((width - _OVERLAP) / (wide - _OVERLAP)))
    rows = max(1, math.ceil((height - _OVERLAP) / (high - _OVERLAP)))
    for row in range(rows):
        for column in range(columns):
            _first(book, head, more=True)
            x0, y0 = column * (wide - _OVERLAP), row * (high - _OVERLAP)
            window = box(x0, y0, x0 + wide, y0 + high)
            top = book.bottom - _BARS - high
            for shape in one.shapes:
                for clipped in _clipped(shape, window):
                    book.page.shapes.append(moved(clipped, MARGIN - x0, top - y0))
            # Crosses in the middle of what two pages share.
            half = _OVERLAP / 2
            beside = [x for x, there in ((wide - half, column + 1 < columns), (half, column > 0)) if there]
            below = [y for y, there in ((high - half, row + 1 < rows), (half, row > 0)) if there]
            for x, y in [(x, s * high) for x in beside for s in (0.2, 0.8)] + [
                (s * wide, y) for y in below for s in (0.2, 0.8)
            ]:
                _cross(book.page, x + MARGIN, y + top)
            place = f"{one.number}, {one.many}: row {row + 1} of {rows}, column {column + 1} of {columns}"
            book.page.text(MARGIN + 90, MARGIN + 7.0, place, TEXT, bold=True, colour=INK)
    book.y = book.bottom


def _cross(page: Canvas, x: float, y: float) -> None:
    page.line([polyline((x - 3, y), (x + 3, y)), polyline((x, y - 3), (x, y + 3))], INK, _FINE)


def _clipped(shape: Shape, window: Polygon) -> Iterator[Shape]:
    """What of a shape lies in a window."""
    if isinstance(shape, Polylines):
        found = [line for points in shape.lines for line in lines_of(LineString(points).intersection(window))]
        if found:
            yield replace(shape, lines=tuple(shapely.get_coordinates(line) for line in found))
    elif isinstance(shape, Area):
        regions = [Polygon(rings[0], rings[1:]).intersection(window) for rings in shape.polygons]
        kept = [rings for region in regions for part in polygons_of(region) for rings in polygon_rings(part)]
        if kept:
            yield replace(shape, polygons=tuple(kept))
    elif isinstance(shape, Photo):
        kept = [rings for part in polygons_of(shape.region.intersection(window)) for rings in polygon_rings(part)]
        if kept:
            yield replace(shape, polygons=tuple(kept))
    elif isinstance(shape, Text) and window.covers(shapely.Point(shape.x, shape.y)):
        yield shape
