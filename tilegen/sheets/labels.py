"""Part numbers: where on a part there is room for its number, and the strokes that write it there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, NamedTuple

import numpy as np
import shapely
from shapely.geometry import MultiLineString, Polygon, box

from tilegen.geometry import EQUAL_MM, Point, Points, polygons_of
from tilegen.sheets.flat import Flat, placed_text, word_box
from tilegen.tiles.lettering import Strokes, text_size

# Capitals in mm, the first that fits; 2.5 mm is the least (3 or more engraves better: common practice, no source).
HEIGHTS = (4.0, 3.0, 2.5)
# Distance to the part's edge: 2 mm where there is room, less on narrow strips.
INSETS = (2.0, 1.5, 1.0, 0.5)
_MOST_CORNERS = 60


# Between a number in the waste and the part, what its leader keeps off the cut, and the least waste all round it.
_BESIDE, OFF_CUT, _AROUND_WASTE = 2.0, 0.5, 1.0

# part: on a face that nobody sees; waste: in the waste; back: to be written on the back by hand; none: too small.
Place = Literal["part", "waste", "back", "none"]
# The sides that a part with its number beside it may have, mm; None: there is no waste beside it.
Room = tuple[float, float] | None


class Label(NamedTuple):
    """A part's number as strokes, (n, 2) in mm in the part's own frame; upright: it reads upwards.

    place: where it is. leader: from a number in the waste beside the part to the part.
    """

    strokes: Strokes = ()
    upright: bool = False
    place: Place = "none"
    leader: Strokes = ()

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Of the number and its leader."""
        points = np.concatenate([*self.strokes, *self.leader])
        (west, south), (east, north) = points.min(axis=0).tolist(), points.max(axis=0).tolist()
        return west, south, east, north


def label_place(flat: Flat, text: str, room: Room) -> Label:
    """A part's number where nobody looks; the same way for all parts and processes.

    A face that is glued or turned outwards takes it anywhere; one that is seen takes it only where something will
    cover it. Else it goes into the waste: in a hole or notch of the part, or beside it with a line that points at it.
    Where parts share their cuts and there is no waste it is drawn as a guide, to be written on the back by hand.
    """
    found = _on_face(flat, text)
    if found.strokes:
        return found._replace(place="part")
    found = _in_waste(flat, text, beside=room is not None)
    if found.strokes and (found.place == "waste" or _fits(flat, found, room)):
        return found._replace(place="waste")
    if not flat.shown:
        return Label()
    # Nothing of a guide is cut in: it may cross the lines of a surface.
    found = _first_fit([flat.outline], replace(flat, scores=(), creases=()), text)
    return found._replace(place="back") if found.strokes else found


def _on_face(flat: Flat, text: str) -> Label:
    """Where a wall will stand, if one does; else, on a face that is not seen, in a corner."""
    largest = sorted(flat.covered, key=lambda b: (-(b[2] - b[0]) * (b[3] - b[1]), b))
    zones = [box(*bounds).intersection(flat.outline) for bounds in largest]
    if not flat.shown:
        zones.append(flat.outline)
    return _first_fit([zone for zone in zones if isinstance(zone, Polygon)], flat, text)


def _first_fit(zones: Sequence[Polygon], flat: Flat, text: str) -> Label:
    """In the first zone with room for it, clear of the part's scores, creases and words."""
    for zone in zones:
        for inset in INSETS:
            room = zone.buffer(-inset + EQUAL_MM, join_style="mitre")
            for part in polygons_of(room):
                found = _fitted(part, flat, text) if isinstance(part, Polygon) and not part.is_empty else Label()
                if found.strokes:
                    return found
    return Label()


def _in_waste(flat: Flat, text: str, *, beside: bool) -> Label:
    """In a hole or notch of the part, which needs no line to say whose it is; else beside a rectangle in the waste."""
    outline = flat.outline
    waste = polygons_of(outline.envelope.difference(outline))
    for piece in sorted(waste, key=lambda part: -float(part.area)):
        room = piece.buffer(-_AROUND_WASTE, join_style="mitre")
        for part in polygons_of(room):
            found = _fitted(part, Flat(outline), text)
            if found.strokes:
                return found._replace(place="waste")
    square = outline.envelope.area - Polygon(outline.exterior).area < EQUAL_MM * outline.envelope.area
    return _beside(outline, text) if beside and square else Label()


def _beside(outline: Polygon, text: str) -> Label:
    """Along the shorter side of the part's box, above it or on its right, with a short line to its edge."""
    _, _, east, north = outline.bounds
    along_x = east <= north
    ring = np.array(outline.exterior.coords)
    if not along_x:
        ring = ring[:, ::-1]
    high = float(ring[:, 1].max())
    top = ring[np.abs(ring[:, 1] - high) < EQUAL_MM, 0]
    middle = float(top.min() + top.max()) / 2 if _is_side(ring, high) else float(top.min())
    width, height = text_size(text, HEIGHTS[-1])
    side = float(ring[:, 0].max())
    left = min(max(middle - width / 2, 0.0), max(side - width, 0.0))
    leader = np.array([(middle, high + OFF_CUT), (middle, high + _BESIDE - OFF_CUT)])
    if along_x:
        return _placed(text, HEIGHTS[-1], (left, high + _BESIDE), upright=False)._replace(leader=(leader,))
    corner = (high + _BESIDE + height, left)
    return _placed(text, HEIGHTS[-1], corner, upright=True)._replace(leader=(leader[:, ::-1],))


def _is_side(ring: Points, high: float) -> bool:
    """Whether a ring's highest points are the two ends of one level side."""
    level = np.abs(ring[:, 1] - high) < EQUAL_MM
    return int((level[:-1] & level[1:]).sum()) == 1


def _fits(flat: Flat, found: Label, room: Room) -> bool:
    """Whether the part with its number beside it still goes on a sheet."""
    points = np.vstack([np.array(flat.outline.bounds).reshape(2, 2), np.array(found.bounds).reshape(2, 2)])
    sides = sorted((points.max(axis=0) - points.min(axis=0)).tolist())
    return room is not None and sides[0] <= min(room) and sides[1] <= max(room)


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
                return _placed(text, height, (x1, y0) if upright else (x0, y0), upright=upright)
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
    return np.hstack([low + EQUAL_MM, low + np.array(size) - EQUAL_MM])


def _placed(text: str, height: float, at: Point, *, upright: bool) -> Label:
    return Label(placed_text(text, height, at, upright=upright), upright)
