"""Prisms over regions of the plan or of an upright face, bit for bit where they were drawn."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import manifold3d
import numpy as np
import numpy.typing as npt
from manifold3d import Manifold, Mesh64
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import Points, Segment, direction_of, oriented_rings, polygons_of
from tilegen.tiles.plate import Mark, Plate

# How far cutters reach past the faces they cut, so that no skin stays; less than any hall is wide.
REACH_MM = 0.01
# What stays plain round a pocket.
_ROUND_POCKET_MM = 0.8


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


def mark_body(plate: Plate, mark: Mark) -> Manifold:
    """What a mark takes away, reaching past its face, or adds, reaching under it."""
    low, high = sorted((-REACH_MM if mark.depth > 0 else REACH_MM, mark.depth))
    if mark.start:
        low, high = mark.start, mark.start + mark.depth
    region = mark.cutter or mark.region
    if mark.on == "top":
        return extruded(region, plate.top - high, plate.top - low)
    if mark.on == "under":
        return extruded(region, plate.bottom + low, plate.bottom + high)
    if mark.on == "inner":
        depth = plate.thickness
        return across(edge_of(plate), region, (depth - high, depth - low), plate.bottom)
    return across(mark.edge if mark.edge else edge_of(plate), region, (low, high), plate.bottom)


def round_pockets(plates: Sequence[Plate]) -> Iterator[Manifold]:
    """What stands out from faces, and what is left round pockets where a tile is carved: no joint comes near them."""
    for plate in plates:
        for mark in plate.marks:
            if mark.depth < 0:
                yield mark_body(plate, mark)
            elif not mark.centres:
                wide = mark.region.buffer(_ROUND_POCKET_MM, join_style="mitre")
                deep = replace(mark, region=wide, cutter=None, depth=mark.depth + _ROUND_POCKET_MM, start=0.0)
                yield from (mark_body(plate, replace(deep, region=part)) for part in polygons_of(wide))


def edge_of(plate: Plate) -> Segment:
    """A standing plate's outer face on the plan.

    Raises:
        ValueError: it lies.
    """
    if plate.edge is None:
        raise ValueError(f"plate {plate.name} lies flat: only standing plates have openings and faces along an edge")
    return plate.edge


def across(edge: Segment, region: BaseGeometry, span: tuple[float, float], foot: float) -> Manifold:
    """A prism over a region of an upright face, between two depths to the right of the face's edge.

    Exact along the axes. region: along the edge, and up from `foot`.
    """
    (x, y), (dx, dy) = edge[0], direction_of(edge)
    bounds = oriented_rings(region)
    flat = np.concatenate(bounds)
    s, up = flat[:, 0], flat[:, 1] + foot
    # Inwards is to the right of the edge: depth d moves a point by (dy, -dx) * d.
    levels = [np.stack([x + dx * s + dy * d, y + dy * s - dx * d, up], axis=1) for d in span]
    return prism(bounds, levels[0], levels[1])


def extruded(region: BaseGeometry, bottom: float, top: float, face: np.uint64 | None = None) -> Manifold:
    """A region of the plan between two heights; coordinates are kept bit for bit. face: the number of its faces."""
    bounds = oriented_rings(region)
    flat = np.concatenate(bounds)
    return prism(bounds, at(flat, bottom), at(flat, top), face)


def prism(
    bounds: Sequence[npt.NDArray[np.float64]],
    near: npt.NDArray[np.float64],
    far: npt.NDArray[np.float64],
    face: np.uint64 | None = None,
) -> Manifold:
    """A prism over flat rings (outer ones counter-clockwise, holes clockwise) between two placings of their points.

    Built by hand, since cross-sections round to a grid of their own and flush faces must stay flush.

    Raises:
        ValueError: rings without a point, which the solid's library does not survive.
    """
    if not len(near):
        raise ValueError("a prism over nothing")
    caps = np.asarray(manifold3d.triangulate(bounds), np.uint64)
    triangles = np.concatenate([caps[:, ::-1], caps + np.uint64(len(near)), sides(bounds)])
    points = np.concatenate([near, far])
    if face is None:
        return Manifold(Mesh64(points, triangles))
    return Manifold(Mesh64(points, triangles, face_id=np.full(len(triangles), face)))
