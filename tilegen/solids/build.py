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
from tilegen.tiles.plate import BEND_REACH_MM, Mark, Plate

# How far cutters reach past the faces they cut, so that no skin stays.
_REACH_MM = 0.5
# A footprint with no more points than this is cheaper to cut with a boolean.
_PLAIN_CORNERS = 9
# Triangles flatter than single precision are joined with their neighbours within these, mm, the finest that does.
_FLAT_MM = (1e-5, 3e-5, 1e-4, 1e-3)


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
    """A solid's triangles, moved so that its least corner is the origin.

    Triangles so flat that they turn over when they are written in single precision are joined with their neighbours.
    """
    made = _mesh(name, solid)
    for tolerance in _FLAT_MM:
        if not _has_flat(made):
            break
        made = _mesh(name, solid.simplify(tolerance))
    return made


def _mesh(name: str, solid: Manifold) -> Mesh:
    mesh = solid.to_mesh64()
    vertices = np.asarray(mesh.vert_properties, np.float64)[:, :3]
    return Mesh(name, vertices - vertices.min(axis=0), np.asarray(mesh.tri_verts, np.uint32), solid.volume())


def _has_flat(mesh: Mesh) -> bool:
    """Whether any triangle's normal is lost or turned over in single precision."""
    exact = mesh.vertices[mesh.triangles]
    written = mesh.vertices.astype(np.float32)[mesh.triangles].astype(np.float64)
    normals = [np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]) for c in (exact, written)]
    return bool((np.einsum("ij,ij->i", normals[0], normals[1]) <= 0).any())


def _lying(plate: Plate) -> Manifold:
    if len(plate.marks) == 1 and len(plate.foot.exterior.coords) > _PLAIN_CORNERS:
        layered = _layered(plate, plate.marks[0])
        if layered.status() == manifold3d.Error.NoError:
            return layered
    solid = _extruded(plate.foot, plate.bottom, plate.top)
    for mark in plate.marks:
        solid -= _extruded(mark.region, plate.top - mark.depth, plate.top + _REACH_MM)
    return solid


def _layered(plate: Plate, mark: Mark) -> Manifold:
    """A grooved plate put together from two layers without a boolean: cheaper for outlines of many corners.

    Closed where the outline has a point wherever a groove ends on it; else its status says that it is not.
    """
    levels = plate.bottom, plate.top - mark.depth, plate.top
    foot, rest, floor = (_rings(g) for g in (plate.foot, plate.foot.difference(mark.region), mark.region))
    shells = [(foot, levels[0], levels[1]), (rest, levels[1], levels[2])]
    caps = [(foot, levels[0], False), (rest, levels[2], True), (floor, levels[1], True)]
    points: list[npt.NDArray[np.float64]] = []
    triangles: list[npt.NDArray[np.uint64]] = []
    for rings, low, high in shells:
        flat = np.concatenate(rings)
        triangles.append(_sides(rings) + np.uint64(sum(map(len, points))))
        points += [_at(flat, low), _at(flat, high)]
    for rings, z, upwards in caps:
        cap = np.asarray(manifold3d.triangulate(rings), np.uint64)
        triangles.append((cap if upwards else cap[:, ::-1]) + np.uint64(sum(map(len, points))))
        points.append(_at(np.concatenate(rings), z))
    every = np.ascontiguousarray(np.concatenate(points)) + 0.0
    _, first, same = np.unique(every.view("V24").ravel(), return_index=True, return_inverse=True)
    return Manifold(Mesh64(every[first], same.astype(np.uint64)[np.concatenate(triangles)]))


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
            if plate.bend is not None:
                start, end = opening.centre - opening.width / 2, opening.centre + opening.width / 2
                foot = plate.bend.foot(start, end, before=BEND_REACH_MM, beyond=BEND_REACH_MM)
                top = plate.bottom + (above or opening.height)
                cutters.append(_extruded(foot, plate.bottom - _REACH_MM, top))
                continue
            cutters.append(_through(plate, opening.region(below=_REACH_MM, above=above)))
    return Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract) if cutters else solid


def _through(plate: Plate, region: Polygon) -> Manifold:
    """A cutter of a region of the plate's face, reaching past both faces; exact along the axes."""
    if plate.edge is None:
        raise ValueError("only standing plates have openings")
    (x, y), (dx, dy) = plate.edge[0], plate.direction
    # The wall behind a backed one may have a narrower opening: leave it alone.
    near, far = 0.0 if plate.backed else -_REACH_MM, plate.thickness + _REACH_MM
    ring = np.asarray(region.exterior.coords)[:-1]
    s, up = ring[:, 0], ring[:, 1] + plate.bottom
    # Inwards is to the right of the edge: depth d moves a point by (dy, -dx) * d.
    levels = [np.stack([x + dx * s + dy * d, y + dy * s - dx * d, up], axis=1) for d in (near, far)]
    return _prism([ring], levels[0], levels[1])


def _extruded(region: BaseGeometry, bottom: float, top: float) -> Manifold:
    """A region of the plan between two heights; coordinates are kept bit for bit."""
    rings = _rings(region)
    flat = np.concatenate(rings)
    return _prism(rings, _at(flat, bottom), _at(flat, top))


def _rings(region: BaseGeometry) -> list[npt.NDArray[np.float64]]:
    """The rings of a region, outer ones counter-clockwise, holes clockwise."""
    rings = []
    for polygon in getattr(region, "geoms", [region]):
        oriented = orient(polygon)
        rings += [shapely.get_coordinates(r)[:-1] for r in (oriented.exterior, *oriented.interiors)]
    return rings


def _at(flat: npt.NDArray[np.float64], z: float) -> npt.NDArray[np.float64]:
    placed = np.empty((len(flat), 3))
    placed[:, :2] = flat
    placed[:, 2] = z
    return placed


def _prism(
    rings: Sequence[npt.NDArray[np.float64]], near: npt.NDArray[np.float64], far: npt.NDArray[np.float64]
) -> Manifold:
    """A prism over flat rings (outer ones counter-clockwise, holes clockwise) between two placings of their points.

    Built by hand, since cross-sections round to a grid of their own and flush faces must stay flush.
    """
    caps = np.asarray(manifold3d.triangulate(rings), np.uint64)
    triangles = np.concatenate([caps[:, ::-1], caps + np.uint64(len(near)), _sides(rings)])
    return Manifold(Mesh64(np.concatenate([near, far]), triangles))


def _sides(rings: Sequence[npt.NDArray[np.float64]]) -> npt.NDArray[np.uint64]:
    """Two triangles a ring edge, between the rings' points and the same points again."""
    count = sum(map(len, rings))
    here = np.arange(count, dtype=np.uint64)
    following = here + np.uint64(1)
    start = 0
    for ring in rings:
        following[start + len(ring) - 1] = start
        start += len(ring)
    above = here + np.uint64(count)
    return np.stack(
        [here, following, following + np.uint64(count), here, following + np.uint64(count), above], axis=1
    ).reshape(-1, 3)
