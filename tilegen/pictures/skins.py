"""`papers.pdf`: floors and walls in colour, in true size, to print, cut out and glue on the parts of tiles.

What they show is the style's drawing in stones (`tilegen.tiles.coursing`), or the user's own image. The paper of a wall
is one strip: its inner face, its top and its outer face upside down, to be folded over; with a flap round each end that
is seen, and flaps into its doorways. The paper of a floor has flaps down its rim. Colour runs over every cut.
"""

from __future__ import annotations

import colorsys
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from pathlib import Path

import numpy as np
import shapely
from shapely.affinity import scale, translate
from shapely.geometry import LineString, MultiPoint, Polygon, box
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tilegen.geometry import EQUAL_MM, Point, polygon_rings, polygonal, polygons_of
from tilegen.lengths import Units, show_length
from tilegen.model.stonework import Stonework
from tilegen.model.words import Paper
from tilegen.pictures.canvas import Area, Discs, Photo, Polylines, Rings, Shape
from tilegen.pictures.paper import INK, Booklet
from tilegen.pictures.template_pages import Head, Template, lay_templates
from tilegen.sheets.parts import BuiltTile
from tilegen.tiles.coursing import Coursing, cracks, lies, merged
from tilegen.tiles.dressing import stone_of
from tilegen.tiles.loose import Piece, is_foot
from tilegen.tiles.plate import Opening, Plate

# How far colour runs over the cuts; from the cut to the ticks that show where to fold, and how long these are
# (common practice, no source: printers' bleed is some 3 mm, of a hand and a ruler less).
_BLEED_MM, _OFF_MM, _TICK_MM = 2.0, 0.6, 2.5
# Sides shorter than this, such as those of a curve, have no flap; ends so near to something else are not seen.
_LEAST_FLAP_MM, _TOUCHES_MM = 10.0, 0.4
# The papers of so many tiles of a type differ.
_VARIANTS = 3
# Light from the upper left: how wide lit and shaded edges of a stone are; joints, lit and shaded edges, and the darkest
# and brightest stones, as shares of a stone's own brightness.
_EDGE_MM, _JOINT, _LIT, _SHADED = 0.38, 0.5, 1.13, 0.82
_TONES = (0.88, 0.94, 1.0, 1.06, 1.1)
# Specks per mm2, how large they are, and their shares of their stone's brightness.
_SPECKS, _SPECK_MM, _SPECKLED = 0.035, (0.12, 0.34), (0.86, 0.92, 1.07)
# Grains of grit in joints per mm2, how large they are, and their shares of the joints' brightness.
_GRIT, _GRIT_MM, _GRITTY = 0.8, (0.09, 0.17), (0.7, 1.25, 1.5)
# Between lines of grain.
_GRAIN_MM = 1.3
# A sheet of 80 g/m2 (common practice, no source).
PAPER_MM = 0.1

_HOW = (
    "Print on paper or label stock at 100 %, not fitted to the page, and measure the bars: 100 mm each. Cut along the "
    "thin lines; colour runs over them. Press the folds at the ticks. Glue each paper on its part before you glue the "
    "parts together: walls from the inner face over the top to the outer one, flaps last."
)
_LEGEND = "Thin line: cut. Ticks outside: fold from tick to tick."


@dataclass(frozen=True)
class _Stone:
    """One stone on a paper. long: whether its grain runs along x."""

    region: BaseGeometry
    long: bool = True


@dataclass
class _Sheet:
    """A paper while it is drawn, y up.

    cut: its outline. folds: lines to fold at. stones: what is on it. upside_down: where it is seen the other way up.
    bare: where it stays white, so that glue holds.
    """

    style: Stonework
    floor: bool
    cut: BaseGeometry
    folds: list[LineString] = field(default_factory=list)
    stones: list[_Stone] = field(default_factory=list)
    upside_down: BaseGeometry = field(default_factory=Polygon)
    bare: BaseGeometry = field(default_factory=Polygon)

    @cached_property
    def colours(self) -> tuple[str, ...]:
        return self.style.colours_of(floor=self.floor)

    @property
    def wood(self) -> bool:
        return self.style.floor == "boards" if self.floor else self.style.head == "beam"


def papers(
    name: str, built: Sequence[BuiltTile], numbers: Mapping[str, str], units: Units = "mm", paper: Paper = "A4"
) -> Booklet:
    """The papers of so many tiles, one for each that is built. numbers: of the types in the layout, by id."""
    book = Booklet(name, paper, units)
    found = [one for tile in built for one in _of_tile(tile, numbers, units)]
    lay_templates(book, [(one,) for one in found], Head(_LEGEND, "Papers in true size", _HOW))
    return book


def _of_tile(built: BuiltTile, numbers: Mapping[str, str], units: Units) -> Iterator[Template]:
    plates = [plate for plate in built.plates if not is_foot(plate)]
    parts = {flat.plate: number for flat, number in reversed(built.layers)}
    tile = numbers.get(built.made.id, "") or built.made.name
    stone = stone_of(built.made.grid)
    faced = tuple(replace(plate, facing=stone) for plate in plates)
    drawn: list[list[Template]] = []
    for variant in range(min(built.count, _VARIANTS)):
        coursing = Coursing(faced, stone, variant)
        rng = np.random.Generator(np.random.PCG64((stone.seed, variant)))
        drawn.append([])
        for plate, sheet in _sheets(faced, coursing, stone.style, loose=isinstance(built.made, Piece)):
            number = next((parts[key] for key in parts if plate.name in key.split(", ")), "")
            what = "floor" if sheet.floor else "wall" if plate.role == "wall" else plate.role
            drawn[-1].append(_drawn(sheet, rng, (number or what, f"{what} of {tile}", plate.name), units))
    for copy in range(built.count):
        yield from drawn[copy % _VARIANTS]


def _sheets(
    plates: Sequence[Plate], coursing: Coursing, style: Stonework, *, loose: bool
) -> Iterator[tuple[Plate, _Sheet]]:
    """Each plate that is seen, with its paper."""
    rows: dict[str, list[tuple[float, float, float, float]]] = {}
    for plate, course, pieces in coursing.courses():
        low, high = course.low - plate.bottom, course.high - plate.bottom
        rows.setdefault(plate.name, []).extend((*piece.span, low, high) for piece in pieces)
    for plate in plates:
        if lies(plate):
            yield plate, _floor(plate, coursing, style)
        elif plate.edge is not None and plate.bend is None:
            yield plate, _wall(plate, plates, coursing, rows.get(plate.name, []), style, loose=loose)
        elif plate.bend is not None:
            yield from ((plate, sheet) for sheet in _bent(plate, coursing, rows.get(plate.name, []), style))


# Floors


def _floor(plate: Plate, coursing: Coursing, style: Stonework) -> _Sheet:
    """A floor, with flaps down its rim where these don't meet one another."""
    foot = plate.foot
    flaps: list[tuple[Polygon, LineString]] = []
    for (x0, y0), (x1, y1) in pairwise(shapely.get_coordinates(orient(foot).exterior).tolist()):
        length = math.hypot(x1 - x0, y1 - y0)
        if length < _LEAST_FLAP_MM:
            continue
        # Outwards is to the right of a ring that runs counter-clockwise.
        dx, dy = (y1 - y0) / length * plate.top, -(x1 - x0) / length * plate.top
        flap = Polygon([(x0, y0), (x0 + dx, y0 + dy), (x1 + dx, y1 + dy), (x1, y1)])
        if flap.intersection(foot).area < EQUAL_MM and all(flap.disjoint(other.buffer(-0.1)) for other, _ in flaps):
            flaps.append((flap, LineString([(x0, y0), (x1, y1)])))
    cut = shapely.union_all([foot, *(flap for flap, _ in flaps)]).buffer(0.001, join_style="mitre")
    hidden = foot.difference(coursing.seen(plate)).buffer(-_BLEED_MM, join_style="mitre")
    sheet = _Sheet(style, floor=True, cut=cut, folds=[fold for _, fold in flaps], bare=hidden)
    half = style.floor_joint / 2
    if style.walls == "rock":
        # Spaces can still be counted.
        west, south, east, north = foot.bounds
        p = coursing.pitch
        lines = [((x * p, south), (x * p, north)) for x in range(math.ceil(west / p), math.ceil(east / p))]
        lines += [((west, y * p), (east, y * p)) for y in range(math.ceil(south / p), math.ceil(north / p))]
        rng = np.random.Generator(np.random.PCG64(round(foot.area)))
        joints = cracks(lines, coursing.seen(plate), p, half, rng).intersection(foot)
        facets = _rock(cut.buffer(_BLEED_MM, join_style="mitre"), style)
        sheet.stones += [_Stone(facet.difference(joints)) for facet in facets]
        return sheet
    for stone in coursing.flags(plate):
        west, south, east, north = stone.bounds
        sheet.stones.append(_Stone(_round(stone, half, style.floor_radius[0]), east - west > north - south))
    for flap, fold in flaps:
        sheet.stones += [_Stone(_round(part, half, style.floor_radius[0])) for part in _rim(flap, fold, style)]
    return sheet


def _rim(flap: Polygon, fold: LineString, style: Stonework) -> Iterator[Polygon]:
    """The stones of a rim: about as long as those of the floor, the flap's colour over its cuts with them."""
    number = max(1, round(fold.length / (1.2 * sum(style.floor_stone) / 2)))
    (x0, y0), (x1, y1) = fold.coords
    (ox, oy) = flap.exterior.coords[1]
    out = np.array((ox - x0, oy - y0)) * (1 + _BLEED_MM / math.dist((ox, oy), (x0, y0)))
    along = np.array((x1 - x0, y1 - y0)) / fold.length
    start = np.array((x0, y0))
    for n in range(number):
        near, far = (fold.length * k / number for k in (n, n + 1))
        near, far = near - _BLEED_MM * (n == 0), far + _BLEED_MM * (n == number - 1)
        a, b = start + along * near, start + along * far
        yield Polygon([a, b, b + out, a + out])


# Walls


def _wall(
    plate: Plate,
    plates: Sequence[Plate],
    coursing: Coursing,
    rows: Sequence[tuple[float, float, float, float]],
    style: Stonework,
    *,
    loose: bool,
) -> _Sheet:
    """A straight wall's paper; x along it, y up its inner face from the foot, on over its top and down its outer one.

    loose: it is one of two leaves that stand back to back, with nothing seen of its outer face.
    """
    thick, high = plate.thickness, plate.height
    outer = not (plate.backed or loose)
    corners = _in_frame(plate)
    near, far = _span(corners, 0.0), _span(corners, thick)
    inner_face = box(far[0], 0.0, far[1], high)
    top = MultiPoint([(x, high + thick - d) for x, d in corners]).convex_hull
    down = 2 * high + thick

    def over(region: BaseGeometry) -> BaseGeometry:
        """From the inner face's frame to the outer face as it lies here: upside down."""
        return scale(region, 1.0, -1.0, origin=(0.0, down / 2))

    parts = [inner_face, top]
    folds = [LineString([(far[0], high), (far[1], high)])]
    ends = [thick if _is_seen(plate, plates, at) else 0.0 for at in (-_TOUCHES_MM, plate.length + _TOUCHES_MM)]
    ends = [end if len(corners) == 4 and abs(near[n] - far[n]) < _TOUCHES_MM else 0.0 for n, end in enumerate(ends)]
    if outer:
        parts.append(over(box(near[0] - ends[0], 0.0, near[1] + ends[1], high)))
        folds.append(LineString([(near[0], high + thick), (near[1], high + thick)]))
        folds += [LineString([(x, high + thick), (x, down)]) for x, end in zip(near, ends, strict=True) if end]
    # A wall cut off at an odd angle may end in a point on one face.
    folds = [fold for fold in folds if fold.length > _TOUCHES_MM]
    cut = shapely.union_all([part for part in parts if part.area > EQUAL_MM])
    heads = []
    for opening in plate.openings:
        hole, jambs, head = _opening(plate, opening, thick)
        cut = cut.difference(hole.difference(head))
        heads.append(head)
        if outer:
            cut = cut.difference(over(hole.difference(jambs)))
    sheet = _Sheet(style, floor=False, cut=cut, folds=folds)
    sheet.upside_down = over(box(near[0] - 99, -99, near[1] + 99, high))
    sheet.stones += [_Stone(stone) for stone in _face(plate, coursing, rows, style)]
    if outer:
        sheet.stones += [_Stone(over(stone)) for stone in _face(plate, coursing, rows, style, jambs=True)]
    if style.walls == "rock":
        sheet.stones += [_Stone(stone) for stone in _rock(box(near[0] - 3, high, near[1] + 3, high + thick), style)]
        return sheet
    # The top shows the uppermost course.
    half = style.joint / 2
    for a, b, _, up in rows:
        if up > high - EQUAL_MM:
            out = [99 * (a < EQUAL_MM), 99 * (b > plate.length - EQUAL_MM)]
            stone = box(a - out[0], high, b + out[1], high + thick)
            sheet.stones.append(_Stone(_round(stone, half, style.radius[0])))
    return sheet


def _in_frame(plate: Plate) -> list[Point]:
    """The corners of a plate's foot along its edge and inwards from it."""
    (x, y), (dx, dy) = plate.at(0.0), plate.direction
    points = shapely.get_coordinates(plate.foot.exterior)[:-1] - (x, y)
    return [(px * dx + py * dy, px * dy - py * dx) for px, py in points.tolist()]


def _span(corners: Sequence[Point], deep: float) -> tuple[float, float]:
    """From where to where a plate's face at a depth runs."""
    found = [x for x, d in corners if abs(d - deep) < _TOUCHES_MM] or [x for x, _ in corners]
    return min(found), max(found)


def _is_seen(plate: Plate, plates: Sequence[Plate], along: float) -> bool:
    """Whether nothing stands against a plate's end."""
    spot = shapely.Point(plate.at(along, plate.thickness / 2))
    beside = [p for p in plates if p is not plate and p.bottom < plate.top and p.top > plate.bottom + EQUAL_MM]
    return all(p.foot.distance(spot) > EQUAL_MM for p in beside)


def _opening(plate: Plate, opening: Opening, thick: float) -> tuple[BaseGeometry, BaseGeometry, BaseGeometry]:
    """A doorway in the face, the flaps of its jambs (of the outer face) and of its head (of the inner one)."""
    high = plate.is_open_topped(opening)
    hole = opening.region(below=_BLEED_MM + 1.0, above=plate.height + 1.0 if high else None)
    deep = min(thick, opening.width / 2 - 0.5)
    a, b = opening.centre - opening.width / 2, opening.centre + opening.width / 2
    spring = plate.height if high else opening.spring
    jambs = shapely.union(box(a - 1, 0.0, a + deep, spring), box(b - deep, 0.0, b + 1, spring))
    flat = opening.level and not high
    head = box(a, opening.height - min(thick, opening.height / 2), b, opening.height + 1) if flat else Polygon()
    return hole, jambs, head


def _face(
    plate: Plate,
    coursing: Coursing,
    rows: Sequence[tuple[float, float, float, float]],
    style: Stonework,
    *,
    jambs: bool = False,
) -> Iterator[BaseGeometry]:
    """The stones of a wall's face, along it and up from its foot; they run on over its ends, its foot and flaps.

    jambs: its flaps go into doorways from their sides, else from their heads.
    """
    if style.walls == "rock":
        beside = plate.thickness + _BLEED_MM
        yield from _rock(box(-beside, -_BLEED_MM, plate.length + beside, plate.height), style)
        return
    half = style.joint / 2
    edges = {x for o in plate.openings for x in (o.centre - o.width / 2, o.centre + o.width / 2)}
    rooms = [room for o in plate.openings if (room := coursing.head_room(plate, o)) is not None]
    more = plate.thickness + _BLEED_MM
    aside, under = (more, _BLEED_MM) if jambs else (_BLEED_MM, more)
    courses: dict[float, list[Polygon]] = {}
    for a, b, low, high in rows:
        near = a - (more if a < EQUAL_MM else aside * _is_one_of(a, edges))
        far = b + (more if b > plate.length - EQUAL_MM else aside * _is_one_of(b, edges))
        stone = box(near, low - _BLEED_MM * (low < EQUAL_MM), far, high)
        courses.setdefault(low, []).extend(polygons_of(stone.difference(shapely.union_all(rooms))))
    # What an arch leaves of a stone goes to the next one.
    yield from (_round(stone, half, style.radius[0]) for course in courses.values() for stone in merged(course))
    for opening in plate.openings:
        for block in coursing.head(plate, opening):
            (x0, y0), (x1, _) = block[0], block[1]
            # Below a flat one lies the head's flap.
            below = box(x0, y0 - under, x1, y0 + EQUAL_MM) if opening.level else Polygon()
            yield _round(shapely.union(Polygon(block), below), half, style.radius[0])


def _is_one_of(value: float, others: set[float]) -> bool:
    return any(abs(value - other) < EQUAL_MM for other in others)


def _bent(
    plate: Plate, coursing: Coursing, rows: Sequence[tuple[float, float, float, float]], style: Stonework
) -> Iterator[_Sheet]:
    """A wall that follows a curve: a paper for each face, as long as it is there, and one for the top."""
    bend = plate.bend
    assert bend is not None
    for length in (bend.length_at(plate.thickness), bend.length):
        share = length / plate.length
        cut: BaseGeometry = box(0.0, 0.0, length, plate.height)
        for opening in plate.openings:
            hole, _, _ = _opening(plate, opening, plate.thickness)
            cut = cut.difference(scale(hole, share, 1.0, origin=(0.0, 0.0)))
        sheet = _Sheet(style, floor=False, cut=cut)
        sheet.stones = [
            _Stone(scale(stone, share, 1.0, origin=(0.0, 0.0))) for stone in _face(plate, coursing, rows, style)
        ]
        yield sheet
    top = _Sheet(style, floor=False, cut=plate.foot)
    for a, b, _, up in rows:
        if up > plate.height - EQUAL_MM:
            top.stones.append(_Stone(_round(bend.foot(a, b, before=3.0, beyond=3.0), style.joint / 2, 0.3)))
    yield top


# Drawing


def _round(stone: BaseGeometry, drawn: float, radius: float) -> BaseGeometry:
    """A stone less half a joint, its corners round."""
    inner = stone.buffer(-drawn - radius, join_style="mitre")
    return inner.buffer(radius, quad_segs=3) if not inner.is_empty else stone.buffer(-drawn, join_style="mitre")


def _rock(region: BaseGeometry, style: Stonework) -> list[BaseGeometry]:
    """Facets of rock over a region; no joints."""
    west, south, east, north = region.bounds
    size = style.length[0] * 0.8
    rng = np.random.Generator(np.random.PCG64(round(region.area)))
    number = max(8, round((east - west) * (north - south) / size**2))
    spots = rng.random((number, 2)) * (east - west, north - south) + (west, south)
    cells = shapely.get_parts(shapely.voronoi_polygons(shapely.multipoints(spots), extend_to=region))
    return [cell.intersection(region) for cell in cells.tolist()]


def _shade(colour: str, share: float) -> str:
    """A colour, brighter or darker."""
    red, green, blue = (int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5))
    hue, light, full = colorsys.rgb_to_hls(red, green, blue)
    found = colorsys.hls_to_rgb(hue, min(light * share, 0.97), full)
    return "#" + "".join(f"{round(255 * part):02x}" for part in found)


def _drawn(sheet: _Sheet, rng: np.random.Generator, words: tuple[str, str, str], units: Units) -> Template:
    """The paper as it stands on a page: y down, its upper left corner at (0, 0).

    words: its part's number, what it is and the name of its plate.
    """
    number, what, name = words
    cut = polygonal(sheet.cut)
    west, south, east, north = cut.bounds
    ground = cut.buffer(_BLEED_MM, join_style="mitre").difference(sheet.bare)

    def there(shape: BaseGeometry) -> list[Rings]:
        moved = shapely.transform(shape, lambda p: (p - (west, north)) * (1.0, -1.0))
        return list(polygon_rings(moved))

    shapes: list[Shape] = []
    image = sheet.style.floor_image if sheet.floor else sheet.style.wall_image
    if image:
        shapes += _photos(sheet, image, ground, there)
    else:
        shapes += _stones(sheet, ground, rng, there)
    lines = [np.concatenate([ring, ring[:1]]) for rings in there(cut) for ring in rings]
    shapes.append(Polylines(tuple(lines), INK, 0.12))
    ticks = [tick for fold in sheet.folds for tick in _ticks(fold, cut)]
    if ticks:
        found = tuple((shapely.get_coordinates(tick) - (west, north)) * (1.0, -1.0) for tick in ticks)
        shapes.append(Polylines(found, INK, 0.2))
    wide, high = east - west, north - south
    size = " x ".join(show_length(round(side, 1), units) for side in (wide, high))
    return Template(number, 1, (wide, high), tuple(shapes), (f"{name}, {size}",), _BLEED_MM + _TICK_MM, beside=what)


def _photos(sheet: _Sheet, image: str, ground: BaseGeometry, there: object) -> Iterator[Shape]:
    """The user's image over all of a paper; upside down where the paper is folded over."""
    from PIL import Image  # noqa: PLC0415 - for those who have an image

    assert callable(there)
    data = Path(image).read_bytes()
    with Image.open(Path(image)) as opened:
        wide, high = opened.size
    width = sheet.style.image_width
    turned = ground.intersection(sheet.upside_down)
    for region, upside_down in ((ground.difference(turned), False), (turned, True)):
        if rings := there(region):
            yield Photo(tuple(rings), data, 0.0, 0.0, (width, width * high / wide), upside_down)


def _stones(sheet: _Sheet, ground: BaseGeometry, rng: np.random.Generator, there: object) -> Iterator[Shape]:
    """Stones with lit and shaded edges on the colour of their joints."""
    assert callable(there)
    yield Area(tuple(there(ground)), _shade(sheet.colours[0], _JOINT))
    yield from _grit(sheet, ground, rng)
    layers: dict[str, list[Rings]] = {}
    lit: dict[str, list[Rings]] = {}
    grain: list[np.ndarray] = []
    specks: dict[str, list[Point]] = {}
    west, _, _, north = sheet.cut.bounds
    for stone in sheet.stones:
        region = stone.region.intersection(ground)
        if region.is_empty or region.area < 0.2:
            continue
        tone = _TONES[int(rng.integers(len(_TONES)))]
        colour = sheet.colours[int(rng.integers(len(sheet.colours)))]
        body = _shade(colour, tone)
        layers.setdefault(body, []).extend(there(region))
        edge = _EDGE_MM * math.sqrt(0.5)
        for share, (x, y) in ((_LIT, (edge, -edge)), (_SHADED, (-edge, edge))):
            rim = polygonal(region.difference(translate(region, x, y)))
            lit.setdefault(_shade(colour, tone * share), []).extend(there(rim))
        if sheet.wood:
            grain += _grain(region, rng, long=stone.long)
        x0, y0, x1, y1 = region.bounds
        spots = rng.random((int(rng.poisson(region.area * _SPECKS)), 2)) * (x1 - x0, y1 - y0) + (x0, y0)
        inside = spots[shapely.contains_xy(region, spots)].tolist()
        specks.setdefault(_shade(colour, tone * float(rng.choice(_SPECKLED))), []).extend(inside)
    for found in (layers, lit):
        yield from (Area(tuple(rings), colour) for colour, rings in found.items() if rings)
    for speck, found_spots in ((speck, found) for speck, found in specks.items() if found):
        radius = float(rng.uniform(*_SPECK_MM))
        yield Discs((np.array(found_spots) - (west, north)) * (1.0, -1.0), radius, speck)
    if grain:
        lines = tuple((line - (west, north)) * (1.0, -1.0) for line in grain)
        yield Polylines(lines, _shade(sheet.colours[0], 0.8), 0.14)


def _grit(sheet: _Sheet, ground: BaseGeometry, rng: np.random.Generator) -> Iterator[Shape]:
    """Grains of sand in the joints; none between beams and boards."""
    joints = ground.difference(shapely.union_all([stone.region for stone in sheet.stones])).intersection(sheet.cut)
    joints = joints.buffer(-_GRIT_MM[1])
    if sheet.wood or joints.is_empty:
        return
    shapely.prepare(joints)
    low, high = np.array(joints.bounds).reshape(2, 2)
    spots = low + (high - low) * rng.random((round(float(np.prod(high - low)) * _GRIT), 2))
    spots = spots[shapely.contains_xy(joints, spots)]
    west, _, _, north = sheet.cut.bounds
    for mine, share in zip(np.array_split(spots, len(_GRITTY)), _GRITTY, strict=True):
        if len(mine):
            colour = _shade(sheet.colours[0], _JOINT * share)
            yield Discs((mine - (west, north)) * (1.0, -1.0), float(rng.uniform(*_GRIT_MM)), colour)


def _grain(region: BaseGeometry, rng: np.random.Generator, *, long: bool) -> list[np.ndarray]:
    """Wavy lines along a board."""
    x0, y0, x1, y1 = region.bounds
    low, high, start, end = (y0, y1, x0, x1) if long else (x0, x1, y0, y1)
    found = []
    at = low + float(rng.uniform(0.5, _GRAIN_MM))
    while at < high - 0.4:
        steps = np.linspace(start, end, 9)
        wave = at + 0.22 * np.sin(steps / float(rng.uniform(6, 11)) + float(rng.uniform(0, 6)))
        line = np.column_stack([steps, wave] if long else [wave, steps])
        inside = LineString(line).intersection(region.buffer(-0.4))
        found += [shapely.get_coordinates(part) for part in shapely.get_parts(inside) if part.length > 2.0]
        at += float(rng.uniform(0.6, 1.4)) * _GRAIN_MM
    return found


def _ticks(fold: LineString, cut: BaseGeometry) -> Iterator[LineString]:
    """Short lines outside of a paper that carry on a fold."""
    (x0, y0), (x1, y1) = fold.coords
    dx, dy = (x1 - x0) / fold.length, (y1 - y0) / fold.length
    for (x, y), way in (((x0, y0), -1.0), ((x1, y1), 1.0)):
        ends = [(x + dx * way * reach, y + dy * way * reach) for reach in (_OFF_MM, _OFF_MM + _TICK_MM)]
        tick = LineString(ends)
        if tick.disjoint(cut):
            yield tick
