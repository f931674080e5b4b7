"""A standing plate's foot as cutting needs it: seen from its outer face, its ends, what is too small to cut."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import Polygon, box

from tilegen.geometry import EQUAL_MM, NEAR_MM, Bounds, difference, intersection, largest_polygon, straightened
from tilegen.sheets.least import narrow_places
from tilegen.tiles.plate import Plate

# An end that is off square by less than this can't be told from a square one by eye or hand.
_SQUARE_DEGREES = 0.1
# The least width at a wall's end that holds the part's number.
NUMBER_MM = 4.0
# A strip of wall narrower than this can't be held to be cut (common practice, no source).
_SLIVER_MM = 3.0
# Tips keep theirs, however sharp; what is lost less than this is rounding.
_MITRE_LIMIT = 100.0
_SHRED_MM2 = 0.01


def is_sliver(plate: Plate) -> bool:
    """Whether what is left of a wall at a tile's edge is too short or too thin to cut and hold."""
    if plate.length < _SLIVER_MM:
        return True
    corners = shapely.get_coordinates(shapely.oriented_envelope(plate.foot))
    return min(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])) < _SLIVER_MM / 2


def without_tails(foot: Polygon) -> Polygon | None:
    """A foot less its tails that are too thin to cut and hold; None if it is too thin elsewhere."""
    core = foot.buffer(-_SLIVER_MM / 4, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    kept = intersection(core.buffer(_SLIVER_MM / 4 + EQUAL_MM, join_style="mitre", mitre_limit=_MITRE_LIMIT), foot)
    if kept.is_empty:
        return None
    left = foot if difference(foot, kept).area < _SHRED_MM2 else largest_polygon(kept)
    return None if any(narrow_places(left, _SLIVER_MM / 2)) else left


def local_foot(plate: Plate) -> Polygon:
    """A standing plate's foot with x along its outer face from its start and y into the wall."""
    (x0, y0), (dx, dy) = plate.edge[0] if plate.edge else (0.0, 0.0), plate.direction
    return shapely.transform(
        plate.foot,
        lambda p: np.stack(
            [(p[:, 0] - x0) * dx + (p[:, 1] - y0) * dy, (p[:, 0] - x0) * dy - (p[:, 1] - y0) * dx], axis=1
        ),
    )


def plain_foot(plate: Plate) -> Polygon:
    """A local foot of four corners: what a reflex corner's play takes out of one is cut off square."""
    foot = straightened(local_foot(plate))
    if len(foot.exterior.coords) == 5:
        return foot
    spans = [span_at(foot, depth) for depth in (0.0, plate.thickness)]
    return box(max(low for low, _ in spans), 0.0, min(high for _, high in spans), plate.thickness)


def boxable(plate: Plate, card: float, *, as_it_is: bool) -> bool:
    """Whether a foot has two faces of its own, wide enough for a box of card.

    as_it_is: the foot that it has, not the plain one.
    """
    foot, depth = straightened(local_foot(plate)) if as_it_is else plain_foot(plate), plate.thickness
    faces = [[x for x, y in foot.exterior.coords[:-1] if abs(y - at) < NEAR_MM] for at in (0.0, depth)]
    return len(foot.exterior.coords) == 5 and all(len(f) == 2 and abs(f[0] - f[1]) > 4 * card for f in faces)


def span_at(foot: Polygon, depth: float) -> tuple[float, float]:
    """From where to where a foot reaches at a depth from its outer face, mm."""
    xs = [x for x, y in foot.exterior.coords if abs(y - depth) < NEAR_MM]
    if not xs:
        # What only stands in a corner may come to a point there.
        return foot.bounds[0], foot.bounds[2]
    return min(xs), max(xs)


def kept_bevels(shifts: tuple[float, float], whole: tuple[bool, bool]) -> tuple[float, float]:
    """The bevels of the ends that a piece still has."""
    return shifts[0] if whole[0] else 0.0, shifts[1] if whole[1] else 0.0


def lapped_ends(plate: Plate, skin: float) -> tuple[bool, bool]:
    """At which ends a wall's foot is only as deep as the skin."""
    under = [x for x, y in local_foot(plate).exterior.coords if abs(y - skin) < NEAR_MM]
    return any(abs(x) < NEAR_MM for x in under), any(abs(x - plate.length) < NEAR_MM for x in under)


def lap_words(laps: tuple[bool, bool], skin: float) -> str:
    """Which ends of a wall only their outer skin reaches, in words."""
    ends = [end for end, lap in zip(("left", "right"), laps, strict=True) if lap]
    if not ends:
        return ""
    return f"seen from inside; {' and '.join(ends)} end: cut at the score down to the far paper ({skin:g} mm), peel off"


def end_shifts(plate: Plate) -> tuple[float, float]:
    """How much further along its inner face starts, and ends, than its outer face, mm."""
    local, depth = local_foot(plate).exterior.coords, plate.thickness
    outer = [s for s, d in local if d < depth * 0.01 + EQUAL_MM]
    inner = [s for s, d in local if d > depth * 0.99 - EQUAL_MM]
    if not outer or not inner:
        return 0.0, 0.0
    return min(inner) - min(outer), max(inner) - max(outer)


def bevel_words(shifts: tuple[float, float], thickness: float) -> str:
    """How the ends of a wall are bevelled; nothing if they are square."""
    ends = []
    # Seen from outside, as the part is drawn, the start of the edge is on the right.
    for name, shift in (("left", -shifts[1]), ("right", shifts[0])):
        angle = math.degrees(math.atan2(shift, thickness))
        if abs(angle) >= _SQUARE_DEGREES:
            ends.append(f"{name} end {abs(angle):.1f} deg, the {'outer' if angle > 0 else 'inner'} face longer")
    return f"bevel after gluing, seen on the outer face: {'; '.join(ends)}" if ends else ""


def hidden_ends(plate: Plate, region: Polygon) -> list[Bounds]:
    """The ends of a wall's inner face that other walls stand against, as boxes of the piece."""
    west, low, east, high = region.bounds
    near, _, far, _ = shapely.union_all([mark.face for mark in plate.marks if mark.on == "inner"]).bounds
    return [(x0, low, x1, high) for x0, x1 in ((west, min(near, east)), (max(far, west), east)) if x1 - x0 > NUMBER_MM]


def covered(standing: Sequence[Plate]) -> list[Bounds]:
    """The feet that are rectangles along the axes, as (west, south, east, north)."""
    boxes = [plate.foot.bounds for plate in standing]
    areas = [(east - west) * (north - south) for west, south, east, north in boxes]
    return [box for box, area, p in zip(boxes, areas, standing, strict=True) if p.foot.area > area * (1 - 1e-3)]
