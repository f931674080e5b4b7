"""Footprints as cutting needs them: seen from a wall's outer face, their ends, what is too narrow to cut."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import (
    EQUAL_MM,
    NEAR_MM,
    SNAP_MM,
    Bounds,
    Points,
    difference,
    intersection,
    largest_polygon,
    lines_of,
    polygons_of,
    straightened,
)
from tilegen.tiles.plate import Plate

# A strip of wall narrower than this can't be held to be cut (common practice, no source).
SLIVER_MM = 3.0
# Sharp corners are no narrow features, and tips keep theirs: growing back must reach them. Less lost is rounding.
_MITRE_LIMIT = 100.0
_SHRED_MM, _SHRED_MM2 = 0.02, 0.01
_CLEARLY = 0.95


class Narrow(NamedTuple):
    """A place of a part that is narrower than it may be: its width and where it is, mm in the part's own frame."""

    width: float
    x: float
    y: float


def narrow_places(outline: Polygon, least: float) -> Iterator[Narrow]:
    """Where a part is narrower than `least` mm: what is lost when it is shrunk by half of that and grown again."""
    reach = least / 2 - SNAP_MM
    if reach <= 0:
        return
    core = outline.buffer(-reach, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    # A hair too wide, so that nothing is left along straight edges.
    kept = core.buffer(reach + 2 * SNAP_MM)
    sharp = core.buffer(reach + 2 * SNAP_MM, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    lost = np.array(polygons_of(outline.difference(kept)), dtype=object)
    lost = lost[~shapely.is_empty(shapely.buffer(lost, -_SHRED_MM, quad_segs=16))]
    inner = kept.buffer(SNAP_MM) if len(lost) else kept
    for piece in lost.tolist():
        sides = _sides(piece, inner)
        if len(sides) > 1:
            yield _across(shapely.shortest_line(sides[0], shapely.union_all(sides[1:])))
        elif core.is_empty or (_length(piece) >= least and not piece.difference(sharp).buffer(-_SHRED_MM).is_empty):
            circle = shapely.maximum_inscribed_circle(piece, tolerance=SNAP_MM)
            (x, y), _ = circle.coords
            width = 2 * circle.length
            # Where all of a part is too narrow, some of it may be narrower still; the circle may be a hair too wide.
            narrower = list(narrow_places(outline, min(width, least) * _CLEARLY)) if core.is_empty else []
            yield from narrower or [Narrow(width, x, y)]


def _sides(piece: Polygon, inner: BaseGeometry) -> list[LineString]:
    """The sides of a piece that are the part's own; a neck, which joins what is wide enough, has two or more."""
    if inner.is_empty:
        return []
    own = shapely.line_merge(shapely.boundary(piece).difference(inner))
    return lines_of(own, _SHRED_MM)


def _across(line: LineString) -> Narrow:
    (x0, y0), (x1, y1) = line.coords
    return Narrow(line.length, (x0 + x1) / 2, (y0 + y1) / 2)


def _length(piece: Polygon) -> float:
    """Of a strip that sticks out: a nub that is no longer than it may be wide breaks nowhere."""
    corners = shapely.get_coordinates(shapely.oriented_envelope(piece))
    return max(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])) if len(corners) > 2 else 0.0


def is_sliver(plate: Plate) -> bool:
    """Whether what is left of a wall at a tile's edge is too short or too thin to cut and hold."""
    if plate.length < SLIVER_MM:
        return True
    corners = shapely.get_coordinates(shapely.oriented_envelope(plate.foot))
    return min(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2])) < SLIVER_MM / 2


def without_tails(foot: Polygon) -> Polygon | None:
    """A foot less its tails that are too thin to cut and hold; None if it is too thin elsewhere."""
    core = foot.buffer(-SLIVER_MM / 4, join_style="mitre", mitre_limit=_MITRE_LIMIT)
    kept = intersection(core.buffer(SLIVER_MM / 4 + EQUAL_MM, join_style="mitre", mitre_limit=_MITRE_LIMIT), foot)
    if kept.is_empty:
        return None
    left = foot if difference(foot, kept).area < _SHRED_MM2 else largest_polygon(kept)
    return None if any(narrow_places(left, SLIVER_MM / 2)) else left


def cuttable(foot: Polygon) -> Polygon:
    """A foot less its tails, or all of it where it is too thin elsewhere: the very same where it has no tail."""
    return without_tails(foot) or foot


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


def to_longer_face(region: Polygon, plate: Plate, shifts: tuple[float, float]) -> Polygon:
    """A piece of a wall's face, run on where its inner face reaches beyond the line that the wall follows.

    shifts: how much further along its inner face starts, and ends, than its outer face.
    """
    west, _, east, _ = local_foot(plate).bounds
    length = plate.length
    before = max(0.0, -west) if shifts[0] < 0 else 0.0
    after = max(0.0, east - length) if shifts[1] > 0 else 0.0
    if before < EQUAL_MM and after < EQUAL_MM:
        return region

    def run_on(points: Points) -> Points:
        x = points[:, 0]
        moved: Points = points + np.stack([after * (x > length - EQUAL_MM) - before * (x < EQUAL_MM), 0.0 * x], axis=1)
        return moved

    longer: Polygon = shapely.transform(region, run_on)
    return longer


def end_shifts(plate: Plate) -> tuple[float, float]:
    """How much further along its inner face starts, and ends, than its outer face, mm."""
    local, depth = local_foot(plate).exterior.coords, plate.thickness
    outer = [s for s, d in local if d < depth * 0.01 + EQUAL_MM]
    inner = [s for s, d in local if d > depth * 0.99 - EQUAL_MM]
    if not outer or not inner:
        return 0.0, 0.0
    return min(inner) - min(outer), max(inner) - max(outer)


def covered(standing: Sequence[Plate]) -> list[Bounds]:
    """The feet that are rectangles along the axes, as (west, south, east, north)."""
    boxes = [plate.foot.bounds for plate in standing]
    areas = [(east - west) * (north - south) for west, south, east, north in boxes]
    return [box for box, area, p in zip(boxes, areas, standing, strict=True) if p.foot.area > area * (1 - 1e-3)]
