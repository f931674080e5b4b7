"""A chamfer round everything that touches the bed, against the flare of the first layer.

Outline, holes and pockets that open at the bed get it alike: it follows the section of the solid at the bed. Where
offset corners stay apart it is one slope of 45 degrees; where the outline is too finely bent for that it goes in steps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import manifold3d
import numpy as np
import shapely
from manifold3d import Manifold, Mesh64
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import Points, opened, oriented_rings, polygonal, polygons_of, signed_area, turns_of
from tilegen.solids.bands import at
from tilegen.solids.build import prism

# How far the shape that is kept reaches past the solid's faces, as a share of the chamfer.
_REACH = 0.1
_STEPS = 4
_STRAIGHT = 1e-9


@dataclass(frozen=True)
class Chamfer:
    """A chamfer of `depth` mm round a region of the bed, and what it takes away, mm3.

    rings: the region's rings with their offset directions, the material on the left; None: it goes in steps.
    """

    region: Polygon | MultiPolygon
    depth: float
    rings: tuple[tuple[Points, Points], ...] | None

    @property
    def volume(self) -> float:
        """Taken away from walls that rise straight from the region, mm3.

        One slope: P c^2 / 2 - K c^3 / 3, with the perimeter P, holes included, and K the sum over the corners of
        tan(half the angle turned there), less than 0 at inner corners (derived: the area inset by t with mitred
        corners is A - P t + K t^2). In steps: the sum of areas times heights.
        """
        if self.rings is None:
            high = self.depth / _STEPS
            return float(math.fsum((self.region.area - step.area) * high for step in self._steps()))
        return self.region.length * self.depth**2 / 2 - self._corners() * self.depth**3 / 3

    def cutters(self) -> list[Manifold]:
        """What is taken away: shapes that cross the solid's faces, so that nothing lies flush with them."""
        reach = _REACH * self.depth
        if self.rings is not None:
            return [_wedge(ring, inwards, self.depth, reach) for ring, inwards in self.rings]
        wide = self.region.buffer(reach, join_style="mitre", mitre_limit=2.0)
        high = self.depth / _STEPS
        return [
            _extruded(polygonal(wide.difference(step)), -reach, (i + 1) * high) for i, step in enumerate(self._steps())
        ]

    def _steps(self) -> list[Polygon | MultiPolygon]:
        """The region inset by what the slope takes away half way up each step."""
        insets = [self.depth * (1 - (i + 0.5) / _STEPS) for i in range(_STEPS)]
        return [polygonal(self.region.buffer(-t, join_style="mitre", mitre_limit=2.0)) for t in insets]

    def _corners(self) -> float:
        total = 0.0
        for ring, _ in self.rings or ():
            total += float(np.tan(turns_of(ring) / 2).sum())
        return total


def chamfer_of(region: Polygon | MultiPolygon, depth: float) -> Chamfer:
    """A chamfer round a region of the bed: plan coordinates, mm.

    Raises:
        InputError: part of the region is too narrow for it.
    """
    inset = polygonal(region.buffer(-depth, join_style="mitre", mitre_limit=2.0))
    if len(polygons_of(inset)) != len(polygons_of(region)):
        raise InputError(
            f"a chamfer of {depth:g} mm round something less than {2 * depth:g} mm wide at the bed",
            expected="a smaller chamfer, or none",
            place="bottom_chamfer",
        )
    directed = tuple((ring, _inwards(ring)) for ring in _rings(region))
    reach = _REACH * depth
    slope = all(_holds(region, directed, t) for t in (depth + reach, -reach))
    return Chamfer(region, depth, directed if slope else None)


def bed_region(solid: Manifold) -> Polygon | MultiPolygon:
    """What of a solid lies on the bed: its lowest flat faces, pockets that open there left out; points bit for bit."""
    mesh = solid.to_mesh64()
    points = np.asarray(mesh.vert_properties, np.float64)[:, :3]
    corners = points[np.asarray(mesh.tri_verts)]
    flat = corners[(corners[:, :, 2] == points[:, 2].min()).all(axis=1)][:, :, :2]
    return polygonal(shapely.union_all(shapely.polygons(flat)))


def chamfered(solid: Manifold, depth: float, least: float = 0.0) -> Manifold:
    """A solid that stands on z = 0 with a chamfer of `depth` mm round all that touches the bed.

    least: what would be left thinner than this between two chamfers, mm, keeps its edges.

    Raises:
        InputError: something is too narrow for it.
    """
    region = _straight_region(solid, depth)
    cutters = chamfer_of(region, depth).cutters()
    # And so far beside it that it stays joined to the rest.
    narrow = _narrow(region, depth + least / 2).buffer(max(2 * depth, least), join_style="mitre")
    if not narrow.is_empty:
        kept = _extruded(polygonal(narrow), -depth, 2 * depth)
        cutters = [cutter - kept for cutter in cutters]
    return Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract)


def _narrow(region: Polygon | MultiPolygon, half: float) -> BaseGeometry:
    """Where a region is less than 2 `half` wide; the crumbs that fine corners leave dropped."""
    return opened(region.difference(opened(region, half)), half / 8)


def _straight_region(solid: Manifold, depth: float) -> Polygon | MultiPolygon:
    """What lies on the bed, and what hangs out beyond it below the chamfer's top, as the foot of a peg does.

    What slopes outwards needs no chamfer: cut there it would leave fins. The region is a little larger than it.
    """
    region, reach = bed_region(solid), _REACH * depth
    rings = [ring for ring in solid.slice(depth).to_polygons() if len(ring) > 2]
    above = shapely.make_valid(shapely.union_all([Polygon(r) for r in rings if signed_area(r) > 0])).difference(
        shapely.union_all([Polygon(r) for r in rings if signed_area(r) <= 0])
    )
    hanging = above.difference(region).buffer(-reach / 2, join_style="mitre")
    return region if hanging.is_empty else polygonal(region.union(hanging.buffer(1.5 * reach, join_style="mitre")))


def _wedge(ring: Points, inwards: Points, depth: float, reach: float) -> Manifold:
    """A bar with a triangle for its section, bent round a ring: below the slope, and past it on all sides."""
    count = len(ring)
    foot, low, high = ring + (depth + reach) * inwards, ring - reach * inwards, ring - reach * inwards
    points = np.concatenate([at(foot, -reach), at(low, -reach), at(high, depth + reach)])
    here = np.arange(count)
    after = np.roll(here, -1)
    strips = []
    for a, b in ((0, 1), (1, 2), (2, 0)):
        strips += [[here + a * count, here + b * count, after + a * count]]
        strips += [[after + a * count, here + b * count, after + b * count]]
    triangles = np.concatenate([np.stack(strip, axis=1) for strip in strips])
    solid = Manifold(Mesh64(points, triangles.astype(np.uint64)))
    return solid if solid.volume() > 0 else Manifold(Mesh64(points, triangles[:, ::-1].astype(np.uint64)))


def _rings(region: BaseGeometry) -> list[Points]:
    """Outer rings counter-clockwise, holes clockwise, without the corners that don't turn."""
    return [ring[np.abs(turns_of(ring)) > _STRAIGHT] for ring in oriented_rings(region)]


def _extruded(region: BaseGeometry, bottom: float, top: float) -> Manifold:
    rings = _rings(region)
    flat = np.concatenate(rings)
    return prism(rings, at(flat, bottom), at(flat, top))


def _ways(ring: Points) -> Points:
    """Unit vectors from each corner to the next."""
    steps = np.roll(ring, -1, axis=0) - ring
    return np.asarray(steps / np.linalg.norm(steps, axis=1, keepdims=True))


def _inwards(ring: Points) -> Points:
    """Where each corner goes when both its sides move in by 1: the mitre."""
    way = _ways(ring)
    normal = np.stack([-way[:, 1], way[:, 0]], axis=1)
    before = np.roll(normal, 1, axis=0)
    return np.asarray((normal + before) / (1 + (normal * before).sum(axis=1, keepdims=True)))


def _holds(region: Polygon | MultiPolygon, rings: Sequence[tuple[Points, Points]], inset: float) -> bool:
    """Whether the offset rings are still simple, in order, and every side runs its old way."""
    if any(len(ring) < 3 for ring, _ in rings):
        return False
    moved = [ring + inset * inwards for ring, inwards in rings]
    if any(((_ways(new) * _ways(old)).sum(axis=1) < 0.5).any() for new, (old, _) in zip(moved, rings, strict=True)):
        return False
    counted = iter(moved)
    parts = []
    for part in polygons_of(region):
        outer = next(counted)
        parts.append(Polygon(outer, [next(counted) for _ in part.interiors]))
    whole = MultiPolygon(parts)
    # A mitre at a sharp corner runs far out: the area says whether the offset is the one the formula means.
    return bool(whole.is_valid) and not math.isclose(whole.area, 0.0)
