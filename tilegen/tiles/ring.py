"""A printed wall on every edge of an outline: each foot worked out from its corners, without cutting strips.

The quick way for the frequent case. It gives nothing where walls meet across the outline or run into holes, or where a
corner is too sharp: there strips are cut and the faces between them counted, as in `outline.py`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LinearRing, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import NEAR_MM, SNAP_MM, Point, polygonal
from tilegen.grid import Grid

_RIGHT_ANGLE = 1e-9
# Reflex corners beyond this turn, in radians, are not filled to their tips.
_MOST_REFLEX = math.pi * 0.49
# A point that was rounded to the micrometre grid is no further than this from where it was.
_ROUNDED_MM = 0.75 * SNAP_MM
# Shorter faces of a wall are left to the careful way.
_LEAST_MM = 0.01

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Divided:
    """A footprint divided among its walls, on the plan: the base, each wall's foot by number, grooves, what is seen."""

    whole: Polygon
    feet: dict[int, BaseGeometry]
    grooved: BaseGeometry
    visible: BaseGeometry


def walled_ring(
    points: Sequence[Point], inset: Polygon, grid: Grid, grooves: BaseGeometry, least: float
) -> Divided | None:
    """The footprint where every edge has a wall; None where that takes more than the corners.

    points: of the nominal outline, mm. inset: the outline less half the play, with its holes. grooves: of the floor,
    not yet clipped. least: area of a wall's foot, mm2.
    """
    walked, numbers = _clockwise(points)
    step = np.roll(walked, -1, axis=0) - walked
    along = step / np.hypot(step[:, 0], step[:, 1])[:, None]
    before = np.roll(along, 1, axis=0)
    turn = np.arctan2(before[:, 1] * along[:, 0] - before[:, 0] * along[:, 1], (before * along).sum(axis=1))
    if (turn < -_MOST_REFLEX).any() or (turn > math.pi * 0.99).any():
        return None
    outer, inner = (_snapped(_moved(walked, before, along, depth)) for depth in (grid.half_play, grid.wall_thickness))
    square = np.abs(turn - math.pi / 2) < _RIGHT_ANGLE
    butted = {int(k): bool(numbers[k - 1] < numbers[k]) for k in np.flatnonzero(square)}
    starts, ends = _shared(outer, inner, (before, along), butted)
    if min(_least_along(a, along) for a in (ends[1] - starts[1], np.roll(inner, -1, axis=0) - inner)) < _LEAST_MM:
        return None
    ring = _outline_of(starts, ends)
    whole, clear = Polygon(ring, list(inset.interiors)), Polygon(inner)
    parted = _with_grooves(whole, inner, grooves) if _sound(whole, clear, inset) else None
    if parted is None:
        return None
    whole, visible, grooved, sides = parted
    feet = _feet(sides, (starts, ends))
    if shapely.area(feet).min() <= least:
        return None
    return Divided(whole, dict(sorted(zip(map(int, numbers), feet, strict=True))), grooved, visible)


def _clockwise(points: Sequence[Point]) -> tuple[Floats, npt.NDArray[np.int64]]:
    """The corners walked with the inside on the right, and the number of the edge that starts at each."""
    given = np.array(points, np.float64)
    count = len(given)
    if LinearRing(given).is_ccw:
        return given[::-1], (count - 2 - np.arange(count)) % count + 1
    return given, np.arange(count) + 1


def _moved(points: Floats, before: Floats, along: Floats, depth: float) -> Floats:
    """The corners of a ring moved to the right by a depth, mitred."""
    normals = [np.stack([d[:, 1], -d[:, 0]], axis=1) for d in (before, along)]
    share = depth / (1 + (before * along).sum(axis=1))
    moved: Floats = points + (normals[0] + normals[1]) * share[:, None]
    return moved


def _snapped(points: Floats) -> Floats:
    return np.round(points / SNAP_MM) * SNAP_MM


Ends = tuple[list[list[Floats]], Floats]


def _shared(
    outer: Floats, inner: Floats, steps: tuple[Floats, Floats], butted: Mapping[int, bool]
) -> tuple[Ends, Ends]:
    """The outer points of each wall's start and end in the order walked, and where its own outer face begins and ends.

    steps: unit vectors before and after each corner. butted: the right-angled corners, and whether the wall before it
    takes it (that of the lower number); elsewhere both are mitred.
    """
    starts, ends = [[p] for p in outer], [[p] for p in np.roll(outer, -1, axis=0)]
    first, last = outer.copy(), np.roll(outer, -1, axis=0).copy()
    for k, lower in butted.items():
        line = steps[lower][k]
        butt = _snapped(outer[k] + line * ((inner[k] - outer[k]) @ line))
        if lower:
            ends[k - 1], starts[k], first[k] = [outer[k], butt], [butt], butt
        else:
            ends[k - 1], starts[k], last[k - 1] = [butt], [butt, outer[k]], butt
    return (starts, first), (ends, last)


def _least_along(steps: Floats, along: Floats) -> float:
    least: float = (steps * along).sum(axis=1).min()
    return float(least)


def _outline_of(starts: Ends, ends: Ends) -> Floats:
    """The outer ring: its corners and the points where walls butt."""
    ring: list[Floats] = []
    for start, end in zip(starts[0], ends[0], strict=True):
        ring += [*start, *end[:-1]] if len(end) > 1 else [*start, *end]
    points: Floats = np.array(ring)
    kept: Floats = points[(points != np.roll(points, 1, axis=0)).any(axis=1)]
    return kept


def _sound(whole: Polygon, clear: Polygon, inset: Polygon) -> bool:
    """Whether the outer ring is the inset's, to the micrometre, and no hole reaches into the walls."""
    holes = [Polygon(hole) for hole in inset.interiors]
    return bool(
        clear.is_valid
        and whole.is_valid
        and shapely.hausdorff_distance(whole.exterior, inset.exterior) < NEAR_MM
        and shapely.contains_properly(clear, holes).all()
    )


def _with_grooves(
    whole: Polygon, inner: Floats, grooves: BaseGeometry
) -> tuple[Polygon, Polygon, BaseGeometry, Sequence[Sequence[Floats]]] | None:
    """The base, what is seen of it, its grooves, and each wall's inner face; with a point wherever a groove ends."""
    rings = [inner, *(shapely.get_coordinates(hole)[:-1] for hole in whole.interiors)]
    visible = Polygon(rings[0], rings[1:])
    if grooves.is_empty:
        return whole, visible, Polygon(), [[point] for point in inner]
    grooved = polygonal(shapely.intersection(grooves, visible, grid_size=SNAP_MM))
    noded = _noded(rings, grooved)
    flat = [np.array([point for step in ring for point in step]) for ring in noded]
    visible, whole = Polygon(flat[0], flat[1:]), Polygon(whole.exterior, flat[1:])
    return (whole, visible, grooved, noded[0]) if visible.is_valid and whole.is_valid else None


def _noded(rings: Sequence[Floats], region: BaseGeometry) -> list[list[list[Floats]]]:
    """For each step of some rings its first point and the region's corners on it, in order."""
    starts = np.concatenate(rings)
    steps = np.concatenate([np.roll(ring, -1, axis=0) - ring for ring in rings])
    lengths = np.hypot(steps[:, 0], steps[:, 1])
    points = np.unique(shapely.get_coordinates(region), axis=0)
    away = points[:, None] - starts[None]
    unit = steps / lengths[:, None]
    at = away[:, :, 0] * unit[:, 0] + away[:, :, 1] * unit[:, 1]
    across = np.abs(away[:, :, 0] * unit[:, 1] - away[:, :, 1] * unit[:, 0])
    off = np.hypot(across, np.maximum(np.maximum(-at, at - lengths), 0.0))
    nearest = off.argmin(axis=1)
    known = np.any(np.all(np.abs(away) < SNAP_MM / 2, axis=2), axis=1)
    found: dict[int, list[tuple[float, int]]] = {}
    for n in np.flatnonzero((off.min(axis=1) < _ROUNDED_MM) & ~known):
        found.setdefault(int(nearest[n]), []).append((float(at[n, nearest[n]]), int(n)))
    steps_of = [[start] + [points[n] for _, n in sorted(found.get(k, ()))] for k, start in enumerate(starts)]
    bounds = accumulate(map(len, rings), initial=0)
    return [steps_of[low:high] for low, high in pairwise(bounds)]


def _feet(sides: Sequence[Sequence[Floats]], ends: tuple[Ends, Ends]) -> npt.NDArray[np.object_]:
    """One polygon a wall: its outer points, then those of its inner face back again."""
    rings = []
    for k, (start, end) in enumerate(zip(ends[0][0], ends[1][0], strict=True)):
        rings.append([*start, *end, sides[(k + 1) % len(sides)][0], *reversed(sides[k])])
    which = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    corners = np.array([point for ring in rings for point in ring])
    return np.asarray(shapely.polygons(shapely.linearrings(corners, indices=which)), np.object_)
