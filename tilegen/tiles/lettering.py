"""Words cut into a plate: the single-stroke letters, widened to grooves that a nozzle can leave open."""

from __future__ import annotations

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM, Point, polygonal
from tilegen.tiles.font import ADVANCE, BELOW, CAP, WIDTH, text_strokes
from tilegen.tiles.plate import Mark

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
        raise InputError("letters that vanish on a micrometre grid", expected="larger letters")
    return polygonal(placed)


def engraving(region: Polygon | MultiPolygon, face: BaseGeometry, *, under: bool = False) -> Mark:
    """The mark of engraved words on a lying plate's top or underside, `GROOVE_DEPTH` deep."""
    return Mark((), face, region, GROOVE_DEPTH, "under" if under else "top")
