"""Plates to one closed solid, with manifold3d."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import manifold3d
import numpy as np
import numpy.typing as npt
import shapely
from manifold3d import Manifold, Mesh64
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from tilegen.errors import TilegenError
from tilegen.tiles.plate import Plate

# How far cutters reach past the faces they cut, so that no skin stays.
_REACH_MM = 0.5


class SolidError(TilegenError):
    """A solid came out open, empty or in several bodies: names the part and the reason."""


@dataclass(frozen=True)
class Mesh:
    """Triangles: vertices (n, 3) float64 in mm, least corner at the origin; triangles (m, 3), outward, closed."""

    name: str
    vertices: npt.NDArray[np.float64]
    triangles: npt.NDArray[np.uint32]
    volume: float

    @property
    def size(self) -> tuple[float, float, float]:
        """Extent along x, y and z in mm."""
        x, y, z = self.vertices.max(axis=0).tolist()
        return x, y, z


def build_mesh(name: str, plates: Sequence[Plate]) -> Mesh:
    """The closed mesh of a tile or piece.

    Raises:
        SolidError: the plates do not make one body.
    """
    return to_mesh(name, build_solid(name, plates))


def build_solid(name: str, plates: Sequence[Plate]) -> Manifold:
    """The plates joined into one body; grooves and openings cut out.

    Raises:
        SolidError: not one closed body.
    """
    lying = [_lying(plate) for plate in plates if plate.edge is None]
    standing = [plate for plate in plates if plate.edge is not None]
    parts = [*lying, *(_standing(standing))]
    solid = parts[0] if len(parts) == 1 else Manifold.batch_boolean(parts, manifold3d.OpType.Add)
    status = solid.status()
    if status != manifold3d.Error.NoError or solid.is_empty():
        raise SolidError(f"{name}: the solid could not be built ({status.name})")
    bodies = len(solid.decompose()) if len(parts) > 1 else 1
    if bodies != 1:
        raise SolidError(f"{name}: the solid falls into {bodies} bodies; expected one")
    return solid


def to_mesh(name: str, solid: Manifold) -> Mesh:
    """A solid's triangles, moved so that its least corner is the origin."""
    mesh = solid.to_mesh64()
    vertices = np.asarray(mesh.vert_properties, np.float64)[:, :3]
    return Mesh(name, vertices - vertices.min(axis=0), np.asarray(mesh.tri_verts, np.uint32), solid.volume())


def _lying(plate: Plate) -> Manifold:
    solid = _extruded(plate.foot, plate.bottom, plate.top)
    for mark in plate.marks:
        solid -= _extruded(mark.region, plate.top - mark.depth, plate.top + _REACH_MM)
    return solid


def _standing(plates: Sequence[Plate]) -> list[Manifold]:
    """Standing plates as solids, joined on the plan first.

    A ring of plates that only touch can keep a crack at a corner when it is joined in 3D.
    """
    solids = []
    for bottom, top in sorted({(p.bottom, p.top) for p in plates}):
        level = [p for p in plates if (p.bottom, p.top) == (bottom, top)]
        feet = [p.foot for p in level]
        joined = shapely.union_all(feet) if len(feet) > 1 else feet[0]
        solids.append(_cut(_extruded(joined, bottom, top), level))
    return solids


def _cut(solid: Manifold, plates: Iterable[Plate]) -> Manifold:
    """A joined wall less the openings of its plates."""
    cutters = []
    for plate in plates:
        for opening in plate.openings:
            above = plate.height + _REACH_MM if opening.height >= plate.height else None
            cutters.append(_through(plate, opening.region(below=_REACH_MM, above=above)))
    return Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract) if cutters else solid


def _through(plate: Plate, region: Polygon) -> Manifold:
    """A cutter of a region of the plate's face, reaching past both faces; exact along the axes."""
    if plate.edge is None:
        raise ValueError("only standing plates have openings")
    (x, y), (dx, dy) = plate.edge[0], plate.direction
    near, far = -_REACH_MM, plate.thickness + _REACH_MM
    ring = np.asarray(region.exterior.coords)[:-1]
    s, up = ring[:, 0], ring[:, 1] + plate.bottom
    # Inwards is to the right of the edge: depth d moves a point by (dy, -dx) * d.
    levels = [np.stack([x + dx * s + dy * d, y + dy * s - dx * d, up], axis=1) for d in (near, far)]
    return _prism([ring], levels[0], levels[1])


def _extruded(region: BaseGeometry, bottom: float, top: float) -> Manifold:
    """A region of the plan between two heights; coordinates are kept bit for bit."""
    rings = []
    for polygon in getattr(region, "geoms", [region]):
        oriented = orient(polygon)
        rings += [np.asarray(r.coords)[:-1, :2] for r in (oriented.exterior, *oriented.interiors)]
    flat = np.concatenate(rings)
    levels = [np.column_stack([flat, np.full(len(flat), z)]) for z in (bottom, top)]
    return _prism(rings, levels[0], levels[1])


def _prism(
    rings: Sequence[npt.NDArray[np.float64]], near: npt.NDArray[np.float64], far: npt.NDArray[np.float64]
) -> Manifold:
    """A prism over flat rings (outer ones counter-clockwise, holes clockwise) between two placings of their points.

    Built by hand, since cross-sections round to a grid of their own and flush faces must stay flush.
    """
    count = len(near)
    caps = np.asarray(manifold3d.triangulate(rings), np.uint64)
    here = np.arange(count, dtype=np.uint64)
    following = np.roll(here, -1)
    start = 0
    for ring in rings:
        following[start + len(ring) - 1] = start
        start += len(ring)
    sides = [
        np.stack([here, following, following + count], axis=1),
        np.stack([here, following + count, here + count], axis=1),
    ]
    triangles = np.concatenate([caps[:, ::-1], caps + np.uint64(count), *sides])
    return Manifold(Mesh64(np.concatenate([near, far]), triangles))
