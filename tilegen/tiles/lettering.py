"""Words cut into a plate: single-stroke letters, widened to grooves that a nozzle can print; a tile's underside."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from functools import cache

import numpy as np
import numpy.typing as npt
import shapely
import shapely.affinity
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM, Point, from_edge, polygonal
from tilegen.tiles.plate import Mark, Plate

Strokes = tuple[npt.NDArray[np.float64], ...]

CAP, WIDTH, ADVANCE = 6.0, 4.0, 6.0
# Room under the line of writing for the bar that tells 6 from 9 and W from M whichever way up they lie.
BELOW = 1.2
_BAR = "0 -1.2 4 -1.2"
_ROUND = "1 0 0 1 0 5 1 6 3 6 4 5 4 1 3 0 1 0"

_GLYPHS: dict[str, tuple[str, ...]] = {
    " ": (),
    "A": ("0 0 2 6 4 0", "0.7 2 3.3 2"),
    "B": ("0 3 3 3 4 4 4 5 3 6 0 6 0 0 3 0 4 1 4 2 3 3",),
    "C": ("4 5 3 6 1 6 0 5 0 1 1 0 3 0 4 1",),
    "D": ("0 0 0 6 2.5 6 4 4.5 4 1.5 2.5 0 0 0",),
    "E": ("4 6 0 6 0 0 4 0", "0 3 3 3"),
    "F": ("4 6 0 6 0 0", "0 3 3 3"),
    "G": ("4 5 3 6 1 6 0 5 0 1 1 0 3 0 4 1 4 3 2.2 3",),
    "H": ("0 0 0 6", "4 0 4 6", "0 3 4 3"),
    "I": ("1 6 3 6", "2 6 2 0", "1 0 3 0"),
    "J": ("1.5 6 4 6 4 1 3 0 1 0 0 1",),
    "K": ("0 0 0 6", "4 6 0 2.5", "1.5 3.8125 4 0"),
    "L": ("0 6 0 0 4 0",),
    "M": ("0 0 0 6 2 3 4 6 4 0", _BAR),
    "N": ("0 0 0 6 4 0 4 6",),
    "O": (_ROUND,),
    "P": ("0 0 0 6 3 6 4 5 4 4 3 3 0 3",),
    "Q": (_ROUND, "2.4 1.6 4.4 -0.4"),
    "R": ("0 0 0 6 3 6 4 5 4 4 3 3 0 3", "1.8 3 4 0"),
    "S": ("4 5 3 6 1 6 0 5 0 4 1 3 3 3 4 2 4 1 3 0 1 0 0 1",),
    "T": ("0 6 4 6", "2 6 2 0"),
    "U": ("0 6 0 1 1 0 3 0 4 1 4 6",),
    "V": ("0 6 2 0 4 6",),
    "W": ("0 6 0.8 0 2 3.5 3.2 0 4 6", _BAR),
    "X": ("0 0 4 6", "0 6 4 0"),
    "Y": ("0 6 2 3 4 6", "2 3 2 0"),
    "Z": ("0 6 4 6 0 0 4 0", "1 3 3 3"),
    "0": (_ROUND, "0.9 1.3 3.1 4.7"),
    "1": ("0.8 4.6 2 6 2 0",),
    "2": ("0 5 1 6 3 6 4 5 4 4 0 0 4 0",),
    "3": ("0 5 1 6 3 6 4 5 4 4 3 3 4 2 4 1 3 0 1 0 0 1", "1.5 3 3 3"),
    "4": ("3 0 3 6 0 2 4 2",),
    "5": ("4 6 0.4 6 0 3.2 1 3.7 3 3.7 4 2.7 4 1 3 0 1 0 0 1",),
    "6": ("3.4 6 1.4 5 0 2.6 0 1 1 0 3 0 4 1 4 2.4 3 3.4 1 3.4 0 2.6", _BAR),
    "7": ("0 6 4 6 1.5 0",),
    "8": ("1 3 0 4 0 5 1 6 3 6 4 5 4 4 3 3 1 3 0 2 0 1 1 0 3 0 4 1 4 2 3 3",),
    "9": ("0.6 0 2.6 1 4 3.4 4 5 3 6 1 6 0 5 0 3.6 1 2.6 3 2.6 4 3.4", _BAR),
    "-": ("0.6 3 3.4 3",),
    "/": ("0.4 0 3.6 6",),
    ".": ("1.7 0 2.3 0 2.3 0.6 1.7 0.6 1.7 0",),
    "'": ("2 6 1.6 4.4",),
    "+": ("0.6 3 3.4 3", "2 1.6 2 4.4"),
}


def text_size(text: str, height: float) -> tuple[float, float]:
    """Width and height in mm of a line of text, the bar under it included; `height` is that of its capitals."""
    unit = height / CAP
    return (ADVANCE * len(text) - (ADVANCE - WIDTH)) * unit, (CAP + BELOW) * unit


def text_strokes(text: str, height: float) -> Strokes:
    """A line of text as open polylines, (n, 2) in mm, least corner of its box at (0, 0).

    Raises:
        InputError: a character that has no strokes.
    """
    unit = height / CAP
    strokes = []
    for place, character in enumerate(text):
        for glyph in _glyph(character):
            strokes.append((glyph + np.array((ADVANCE * place, BELOW))) * unit)
    return tuple(strokes)


@cache
def _glyph(character: str) -> Strokes:
    if character not in _GLYPHS:
        raise InputError(
            f'labels have no letter for "{character}"',
            cure=f"Use blanks and these characters: {''.join(_GLYPHS).strip()}",
        )
    return tuple(np.array([float(n) for n in line.split()]).reshape(-1, 2) for line in _GLYPHS[character])


# Letters in a print: at least 4 mm high and 0.4 mm deep (common practice, no source); a groove of one and a half lines
# of a 0.4 mm nozzle stays open.
LETTER_HEIGHT, GROOVE_WIDTH, GROOVE_DEPTH = 4.0, 0.6, 0.4
# From one line of writing to the next, as a share of the height of capitals.
LINE_PITCH = 1.6
# What reads as a letter or a digit when it lies upside down.
# Where it is not told apart by a bar of its own, as 6, 9, M and W are.
_TURNS_OVER = frozenset("HINOSXZ058-. ")
# What takes less room than a letter: where it begins in its own place, and how far on the next one begins.
_NARROW = {".": (1.2, 3.4), "-": (0.6, 4.6)}


def reads_upside_down(text: str) -> bool:
    """Whether a line of text still reads as one when it lies upside down, and so needs a bar under it.

    >>> reads_upside_down("H8X"), reads_upside_down("H8A")
    (True, False)
    """
    return all(character in _TURNS_OVER for character in text)


def _places(text: str) -> tuple[list[float], float]:
    """Where each character begins, and the width of the line, in units of the font's grid."""
    begins, at = [], 0.0
    for character in text:
        shift, advance = _NARROW.get(character, (0.0, ADVANCE))
        begins.append(at - shift)
        at += advance
    return begins, at - (ADVANCE - WIDTH)


def words_size(lines: list[str], height: float = LETTER_HEIGHT) -> Point:
    """Width and height in mm of lines of text as they are engraved, the grooves' own width counted."""
    unit = height / CAP
    across = max(_places(text)[1] for text in lines) * unit
    up = height * (1 + LINE_PITCH * (len(lines) - 1)) + BELOW * unit
    return across + GROOVE_WIDTH, up + GROOVE_WIDTH


def engraved(
    lines: list[str],
    centre: Point,
    *,
    height: float = LETTER_HEIGHT,
    width: float = GROOVE_WIDTH,
    turn: float = 0.0,
    from_below: bool = False,
    bar: bool = True,
) -> Polygon | MultiPolygon:
    """The grooves of lines of text, one under the other, the middle of their box at `centre`.

    height: of the capitals, mm. width: of the grooves, mm. turn: degrees, counter-clockwise. from_below: mirrored, to
    be read from the other side of the plate. bar: under a line that would read as one upside down.

    Raises:
        InputError: a character that has no strokes.
    """
    unit, step = height / CAP, height * LINE_PITCH
    _, up = words_size(lines, height)
    strokes: list[BaseGeometry] = []
    for place, text in enumerate(lines):
        begins, wide = _places(text)
        left, foot = -wide / 2 * unit, (up - GROOVE_WIDTH) / 2 - height - BELOW * unit - place * step
        for begin, character in zip(begins, text, strict=True):
            moved = np.array((left + begin * unit, foot))
            strokes += [LineString(points + moved) for points in text_strokes(character, height)]
        if bar and reads_upside_down(text):
            strokes.append(LineString([(left, foot), (-left, foot)]))
    shape = shapely.union_all([stroke.buffer(width / 2, quad_segs=3) for stroke in strokes])
    if from_below:
        shape = shapely.affinity.scale(shape, -1.0, 1.0, origin=(0, 0))
    if turn:
        shape = shapely.affinity.rotate(shape, turn, origin=(0, 0))
    return snapped(shapely.affinity.translate(shape, *centre))


def snapped(shape: BaseGeometry) -> Polygon | MultiPolygon:
    """A shape on the micrometre grid.

    Raises:
        InputError: it would vanish there.
    """
    placed = shapely.set_precision(shape, SNAP_MM)
    if placed.is_empty or abs(placed.area - shape.area) > 0.01 * shape.area:
        raise InputError("the letters are too small to engrave", cure="Use larger letters")
    return polygonal(placed)


def engraving(region: Polygon | MultiPolygon, face: BaseGeometry, *, under: bool = False) -> Mark:
    """The mark of engraved words on a lying plate's top or underside, `GROOVE_DEPTH` deep."""
    return Mark((), face, region, GROOVE_DEPTH, "under" if under else "top")


# Kept free to the outline and to every pocket, and what a groove must leave of the base above it, mm.
_MARGIN, _SKIN = 1.2, 0.8
_HEIGHTS = (6.0, 5.0, 4.0)
# The arrow's length and width, and the room round it, mm.
_ARROW, _ARROW_WIDTH, _APART = 5.0, 4.0, 1.0
# Places tried along each side.
_TRIES = 17
_PLANS: tuple[float, ...] = (0.0, 90.0)


class NoRoomBelowError(InputError):
    """No free place on a tile's underside for its id: the tile can be made without."""


def underside_mark(name: str, identity: str, plates: Sequence[Plate], *, margin: float = 0.0) -> Mark | None:
    """The mark for the underside of a tile: name and id, or the id alone where the name is too long, and the arrow.

    margin: further room along the outline, for a chamfer, mm. None: nothing lies on the ground (a loose piece that
    stands).

    Raises:
        NoRoomBelowError: not even the id fits.
        InputError: a character that has no strokes.
    """
    ground = [p for p in plates if p.edge is None and p.bottom == min(q.bottom for q in plates)]
    if not ground:
        return None
    face = polygonal(shapely.union_all([plate.foot for plate in ground]))
    free = free_underside(ground, margin=margin)
    arrow = _arrow_in(free)
    room = free if arrow is None else free.difference(arrow.buffer(_APART + GROOVE_WIDTH))
    words = _words_in(room, name, identity)
    if arrow is None or words is None:
        raise NoRoomBelowError(
            f"the underside of {name} has no room for its id",
            cure="Leave --underside out",
            place="--underside",
        )
    return engraving(polygonal(shapely.union_all([arrow, words])), face, under=True)


def free_underside(ground: Sequence[Plate], *, margin: float = 0.0) -> BaseGeometry:
    """Where letters may go: the plates' feet less a margin, other pockets and what is too thin above a groove."""
    face = shapely.union_all([plate.foot for plate in ground])
    taken = [area for plate in ground for mark in plate.marks for area in _taken(plate, mark)]
    taken += [plate.foot for plate in ground if plate.height < GROOVE_DEPTH + _SKIN]
    inside = face.buffer(-(_MARGIN + margin), join_style="mitre")
    return inside.difference(shapely.union_all(taken).buffer(_MARGIN)) if taken else inside


def _taken(plate: Plate, mark: Mark) -> list[BaseGeometry]:
    """What a mark takes of the plan where letters can't go under it."""
    if mark.depth <= 0:
        return []
    if mark.on == "under":
        return [mark.region]
    if mark.on == "top":
        return [mark.region] if plate.height - mark.depth < GROOVE_DEPTH + _SKIN else []
    near, low, far, _ = mark.region.bounds
    if mark.edge is None or low >= GROOVE_DEPTH + _SKIN:
        return []
    corners = [from_edge(mark.edge, s, d) for s in (near, far) for d in (0.0, mark.depth)]
    return [shapely.convex_hull(shapely.MultiPoint(corners))]


def _arrow_in(free: BaseGeometry) -> Polygon | MultiPolygon | None:
    """An arrow to the north, as near to the middle of the northern side as it fits."""
    if free.is_empty:
        return None
    half = _ARROW / 2
    shaft, wide = LineString([(0, -half), (0, half)]), _ARROW_WIDTH / 2
    head = LineString([(-wide, half - wide), (0, half), (wide, half - wide)])
    shape = shapely.union_all([shaft, head]).buffer(GROOVE_WIDTH / 2, quad_segs=3, join_style="mitre")
    west, _, east, north = free.bounds
    place = _place(free, shape.bounds, ((west + east) / 2, north))
    return None if place is None else snapped(shapely.affinity.translate(shape, *place))


def _words_in(free: BaseGeometry, name: str, identity: str) -> Polygon | MultiPolygon | None:
    """Name and id as large as they fit, else the id alone; None where that does not fit either."""
    if free.is_empty:
        return None
    middle = (free.envelope.centroid.x, free.envelope.centroid.y)
    for lines, height, turn in itertools.chain(
        itertools.product(_layouts(name, identity), _HEIGHTS, _PLANS),
        itertools.product([[identity.upper()]], _HEIGHTS, _PLANS),
    ):
        across, up = words_size(lines, height)
        wide, high = (up, across) if turn else (across, up)
        place = _place(free, (-wide / 2, -high / 2, wide / 2, high / 2), middle)
        if place is not None:
            return engraved(lines, place, height=height, turn=turn, from_below=True)
    return None


def _layouts(name: str, identity: str) -> list[list[str]]:
    """The name on one line or broken at its hyphens, fewest lines first; the id below."""
    parts = name.upper().removesuffix(f"-{identity.upper()}").split("-")
    found: list[list[str]] = []
    for longest in sorted({len("-".join(parts[i:j])) for i in range(len(parts)) for j in range(i + 1, len(parts) + 1)}):
        lines = [""]
        for part in parts:
            longer = f"{lines[-1]}-{part}" if lines[-1] else part
            if len(longer) <= longest:
                lines[-1] = longer
            else:
                lines.append(part)
        if max(map(len, lines)) <= longest and [*lines, identity.upper()] not in found:
            found.append([*lines, identity.upper()])
    return sorted(found, key=len)


def _place(free: BaseGeometry, bounds: tuple[float, float, float, float], wish: Point) -> Point | None:
    """Where a box goes, as near to a wish as it fits inside; None if nowhere that is tried."""
    west, south, east, north = free.bounds
    left, low, right, high = bounds
    if right - left > east - west or high - low > north - south:
        return None
    xs, ys = np.linspace(west - left, east - right, _TRIES), np.linspace(south - low, north - high, _TRIES)
    tried = sorted(
        itertools.product(xs.tolist(), ys.tolist()),
        key=lambda at: (round(max(abs(at[0] - wish[0]), abs(at[1] - wish[1])), 6), -at[1], at[0]),
    )
    shapely.prepare(free)
    for x, y in tried:
        if free.covers(box(x + left, y + low, x + right, y + high)):
            return x, y
    return None
