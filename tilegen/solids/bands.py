"""A lying plate with sunk or raised marks put together layer by layer, without a boolean: several times quicker."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import manifold3d
import numpy as np
import numpy.typing as npt
import shapely
from manifold3d import Manifold, Mesh64
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import ROUNDING_MM, Points, oriented_rings, polygons_of, rings_of
from tilegen.tiles.plate import Mark, Plate

Rings = list[Points]


def layered(plate: Plate, walls: BaseGeometry | None = None, height: float = 0.0) -> Manifold | None:
    """A plate with marks on its top, its underside or both, each face's of one depth; None for other marks.

    walls: what stands on its top, off its marks, as high as `height` mm.
    Closed where the outline has a point wherever a groove or a wall ends on it, and a wall where a groove does; else
    its status says that it is not.
    """
    above, under = (_level(plate, face) for face in ("top", "under"))
    if above is None or under is None or len(above) + len(under) < len(plate.marks):
        return None
    foot, bottom, top = plate.foot, plate.bottom, plate.top
    floor, roof = top - (above[0].depth if above else 0.0), bottom + (under[0].depth if under else 0.0)
    low, high = max(bottom, roof), min(top, floor)
    if high <= low:
        return None
    whole = oriented_rings(foot)
    shells: list[tuple[Rings, float, float]] = [(whole, low, high)]
    caps: list[tuple[Rings, float, bool]] = []
    for marks, level, face in ((above, floor, top), (under, roof, bottom)):
        upwards = face == top
        standing = walls if upwards else None
        if standing is not None:
            block = oriented_rings(standing)
            shells.append((block, face, face + height))
            caps.append((block, face + height, True))
        if not marks:
            caps.append((oriented_rings(foot.difference(standing)) if standing is not None else whole, level, upwards))
            continue
        region = _joined(marks)
        seen = foot.difference(region)
        rest, marked = oriented_rings(seen), oriented_rings(region)
        shells.append((marked if marks[0].depth < 0 else rest, min(level, face), max(level, face)))
        bare = oriented_rings(seen.difference(standing)) if standing is not None else rest
        caps += [(bare, face, upwards), (marked, level, upwards)]
    return _put_together(shells, caps)


def stacked(plates: Sequence[Plate]) -> Manifold:
    """Plates without their marks and openings, as they lie and stand: between two heights as they cover the plan.

    Its status says where it is not closed, as where two of them touch along an upright edge alone.
    """
    levels = sorted({z for plate in plates for z in (plate.bottom, plate.top)})
    spans = list(pairwise(levels))
    areas = [
        shapely.union_all([p.foot for p in plates if p.bottom <= low and high <= p.top] or [Polygon()])
        for low, high in spans
    ]
    if len(areas) > 1:
        nodes = np.unique(shapely.get_coordinates(shapely.union_all([area.boundary for area in areas])), axis=0)
        areas = [_noded(area, nodes) for area in areas]
    shells = [
        (oriented_rings(area), low, high) for area, (low, high) in zip(areas, spans, strict=True) if not area.is_empty
    ]
    caps: list[tuple[Rings, float, bool]] = []
    for z, (below, above) in zip(levels, pairwise([Polygon(), *areas, Polygon()]), strict=True):
        caps += [
            (oriented_rings(below.difference(above)), z, True),
            (oriented_rings(above.difference(below)), z, False),
        ]
    return _put_together(shells, caps)


def _noded(area: BaseGeometry, nodes: Points) -> BaseGeometry:
    """An area with a corner wherever one of these points lies on its outline."""

    def ring(points: Points) -> Points:
        found = []
        for start, end in pairwise(points):
            way = end - start
            length = np.hypot(*way)
            along, off = (nodes - start) @ way / length, np.abs((nodes - start) @ (-way[1], way[0])) / length
            on = (along > ROUNDING_MM) & (along < length - ROUNDING_MM) & (off < ROUNDING_MM)
            found += [start[None], nodes[on][np.argsort(along[on])]]
        return np.concatenate([*found, points[-1:]])

    parts = [[ring(shapely.get_coordinates(r)) for r in rings_of(part)] for part in polygons_of(area)]
    return shapely.multipolygons([Polygon(outer, holes) for outer, *holes in parts])


def _level(plate: Plate, face: str) -> list[Mark] | None:
    """The marks of one face, if all are equally deep, or stand out equally far."""
    marks = [mark for mark in plate.marks if mark.on == face]
    depths = {mark.depth for mark in marks}
    return marks if len(depths) <= 1 and not any(mark.start for mark in marks) else None


def _joined(marks: Sequence[Mark]) -> BaseGeometry:
    regions = [mark.region for mark in marks]
    return regions[0] if len(regions) == 1 else shapely.union_all(regions)


def _put_together(shells: Sequence[tuple[Rings, float, float]], caps: Sequence[tuple[Rings, float, bool]]) -> Manifold:
    """Upright walls over rings between two heights, and flat caps that look up or down."""
    points: list[Points] = []
    triangles: list[npt.NDArray[np.uint64]] = []
    count = 0
    for bounds, low, high in shells:
        flat = np.concatenate(bounds)
        triangles.append(sides(bounds) + np.uint64(count))
        points += [at(flat, low), at(flat, high)]
        count += 2 * len(flat)
    for bounds, z, upwards in caps:
        # Walls may cover a base whole; the library ends the program over no rings at all.
        if not bounds:
            continue
        cap = np.asarray(manifold3d.triangulate(bounds), np.uint64)
        triangles.append((cap if upwards else cap[:, ::-1]) + np.uint64(count))
        points.append(at(np.concatenate(bounds), z))
        count += len(points[-1])
    every = np.ascontiguousarray(np.concatenate(points)) + 0.0
    _, first, same = np.unique(every.view("V24").ravel(), return_index=True, return_inverse=True)
    return Manifold(Mesh64(every[first], same.astype(np.uint64)[np.concatenate(triangles)]))


def at(flat: Points, z: float) -> Points:
    """Points of the plan at a height."""
    placed = np.empty((len(flat), 3))
    placed[:, :2] = flat
    placed[:, 2] = z
    return placed


def sides(bounds: Sequence[Points]) -> npt.NDArray[np.uint64]:
    """Two triangles a ring edge, between the rings' points and the same points again."""
    count = sum(map(len, bounds))
    here = np.arange(count, dtype=np.uint64)
    following = here + np.uint64(1)
    start = 0
    for ring in bounds:
        following[start + len(ring) - 1] = start
        start += len(ring)
    above = here + np.uint64(count)
    return np.stack(
        [here, following, following + np.uint64(count), here, following + np.uint64(count), above], axis=1
    ).reshape(-1, 3)
