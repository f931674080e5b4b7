"""Part numbers: where on a part there is room for its number, and the strokes that write it there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiLineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.sheets.alike import Flat, Segment, Word
from tilegen.tiles.font import Strokes, text_size, text_strokes
from tilegen.tiles.plate import polygons_of

# Capitals in mm, the first that fits; 2.5 mm is the least (3 or more engraves better: common practice, no source).
HEIGHTS = (4.0, 3.0, 2.5)
# Distance to the part's edge: 2 mm where there is room, less on narrow strips.
INSETS = (2.0, 1.5, 1.0, 0.5)
# Of the words on tabs and grooves.
_WORD_HEIGHTS = (3.5, 2.5, 2.0, 1.5, 1.2)
_ROUNDING = 1e-6
# Round a number that stands among scores, and the shortest score that stays there.
_AROUND, _LEAST_SCORE = 0.5, 0.5
_MOST_CORNERS = 60
Points = npt.NDArray[np.float64]


class Label(NamedTuple):
    """A part's number as strokes, (n, 2) in mm in the part's own frame; upright: it reads upwards."""

    strokes: Strokes = ()
    upright: bool = False


def label(flat: Flat, text: str) -> Label:
    """A part's number inside the part, clear of its scores, creases and words.

    It goes where a wall will stand, if one does; else into a corner, so that the floor stays as plain as can be.
    """
    for zone in _zones(flat):
        for inset in INSETS:
            room = zone.buffer(-inset + _ROUNDING, join_style="mitre")
            for part in getattr(room, "geoms", [room]):
                found = _fitted(part, flat, text) if isinstance(part, Polygon) and not part.is_empty else Label()
                if found.strokes:
                    return found
    return Label()


def label_among(flat: Flat, text: str) -> tuple[Label, tuple[Segment, ...]]:
    """A part's number, with the scores that stay: where a surface leaves no room they make way for it."""
    found = label(flat, text)
    if found.strokes or not flat.scores:
        return found, flat.scores
    found = label(replace(flat, scores=()), text)
    if not found.strokes:
        return found, flat.scores
    points = np.concatenate(found.strokes)
    room = box(*points.min(axis=0), *points.max(axis=0)).buffer(_AROUND, join_style="mitre")
    rest = [line for score in flat.scores for line in shapely.get_parts(LineString(score).difference(room)).tolist()]
    kept = [line.coords for line in rest if line.length > _LEAST_SCORE]
    return found, tuple(((a[0], a[1]), (b[0], b[1])) for a, b in kept)


def word_box(word: Word) -> Polygon:
    """What a word covers."""
    width, height = text_size(word.text, word.height)[:: -1 if word.upright else 1]
    x, y = word.at
    return box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def word_strokes(word: Word) -> Strokes:
    """The strokes that write it."""
    x0, y0, x1, _ = word_box(word).bounds
    corner = np.array((x1, y0) if word.upright else (x0, y0))
    return _placed(word.text, word.height, corner, upright=word.upright).strokes


def fitted_word(text: str, region: BaseGeometry, inset: float = 0.3) -> list[Word]:
    """A word in the middle of a region, as large as it goes; none where it is too small."""
    region = max(shapely.get_parts(polygons_of(region)).tolist(), key=lambda part: float(part.area), default=Polygon())
    if region.is_empty:
        return []
    middle = region.centroid if region.covers(region.centroid) else region.representative_point()
    room = region.buffer(-inset)
    for height in _WORD_HEIGHTS:
        for upright in (False, True):
            word = Word(text, (middle.x, middle.y), height, upright)
            if room.covers(word_box(word)):
                return [word]
    return []


def _zones(flat: Flat) -> Iterator[Polygon]:
    for bounds in sorted(flat.covered, key=lambda b: (-(b[2] - b[0]) * (b[3] - b[1]), b)):
        covered = box(*bounds).intersection(flat.outline)
        if isinstance(covered, Polygon):
            yield covered
    yield flat.outline


def _fitted(room: Polygon, flat: Flat, text: str) -> Label:
    west, south, east, north = room.bounds
    along_x = east - west >= north - south
    shapely.prepare(room)
    marks = MultiLineString([list(segment) for segment in (*flat.scores, *flat.creases)])
    scores = shapely.union_all([marks, *(word_box(word) for word in flat.words)])
    for height in HEIGHTS:
        size = text_size(text, height)
        for upright in (not along_x, along_x):
            boxes = _boxes(room, size[::-1] if upright else size)
            areas = shapely.box(*boxes.T)
            fits = np.flatnonzero(shapely.covers(room, areas) & ~shapely.intersects(scores, areas))
            if fits.size:
                x0, y0, x1, _ = boxes[fits[0]]
                return _placed(text, height, np.array((x1, y0) if upright else (x0, y0)), upright=upright)
    return Label()


def _boxes(room: Polygon, size: tuple[float, float]) -> Points:
    """Boxes of one size with a corner in a corner of the room, lowest first, and one in its middle."""
    width, depth = size
    corners = np.array(room.exterior.coords)[:_MOST_CORNERS]
    corners = corners[np.lexsort((corners[:, 0], corners[:, 1]))]
    shifts = np.array([(0.0, 0.0), (-width, 0.0), (0.0, -depth), (-width, -depth)])
    low = (corners[:, None, :] + shifts[None, :, :]).reshape(-1, 2)
    x, y = room.representative_point().coords[0]
    low = np.vstack([low, [(x - width / 2, y - depth / 2)]])
    # A hair smaller, so that a box that fits exactly is not lost to rounding.
    return np.hstack([low + _ROUNDING, low + np.array(size) - _ROUNDING])


def _placed(text: str, height: float, at: Points, *, upright: bool) -> Label:
    strokes = text_strokes(text, height)
    if upright:
        strokes = tuple(np.stack([-stroke[:, 1], stroke[:, 0]], axis=1) for stroke in strokes)
    return Label(tuple(stroke + at for stroke in strokes), upright)
