"""A tile's name, its id and an arrow to its own north, cut into the underside to be read from below."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry import LineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import Point, from_edge, polygonal
from tilegen.tiles.lettering import GROOVE_DEPTH, GROOVE_WIDTH, engraved, engraving, snapped, words_size
from tilegen.tiles.plate import Mark, Plate

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
        across, up = words_size([identity.upper()], _HEIGHTS[-1])
        west, south, east, north = face.bounds
        raise NoRoomBelowError(
            f"{name}, {east - west:.1f} x {north - south:.1f} mm: no free place for its id on the underside",
            expected=f"{across:.1f} x {up:.1f} mm for letters of {_HEIGHTS[-1]:g} mm and {_ARROW:g} mm for an arrow, "
            f"{_MARGIN + margin:g} mm from edges and pockets",
            cure="leave out --underside",
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
