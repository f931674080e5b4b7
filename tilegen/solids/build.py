"""Plates to one closed solid, with manifold3d."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import fsum

import manifold3d
import numpy as np
import numpy.typing as npt
import shapely
from manifold3d import Manifold, Mesh64
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.errors import TilegenError
from tilegen.geometry import EQUAL_MM, ROUNDING_MM, Points, oriented_rings, polygons_of, rings_of
from tilegen.solids.masonry import carved
from tilegen.solids.prisms import REACH_MM, across, at, edge_of, extruded, mark_body, prism, sides
from tilegen.solids.rock import ragged, without_lines
from tilegen.solids.stones import tones_of
from tilegen.tiles.features import FEATURES
from tilegen.tiles.plate import BEND_REACH_MM, Mark, Plate

# A lying plate with sunk or raised marks put together layer by layer, without a boolean: several times quicker.

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


# How far walls reach into their floor where they can't be joined by their feet.
_SUNK_MM = 0.05
# A plate whose outline and marks have no more points than this is cheaper to cut with a boolean.
_PLAIN_CORNERS = 24
# A body of no more than this is a crack.
_CRACK_MM3 = 1e-9
# More walls than this are put on their base without a boolean, if they share their points with it.
_MANY_WALLS = 8
# How often stones are drawn anew where they leave the mesh open.
_DRAWS = 6
# What lies nearer than this to a loose body is named beside it.
_NEAR_MM = 0.1
# Triangles flatter than single precision are joined with their neighbours within these, mm, the finest that does.
_FLAT_MM = (1e-5, 3e-5, 1e-4, 1e-3)
# So many of them are mended one by one, again and again, before that.
_FEW, _FLIPS = 100, 4


Vertices = npt.NDArray[np.float64]


class SolidError(TilegenError):
    """A solid came out open, empty or in several bodies: names the part and the reason."""


@dataclass(frozen=True)
class Mesh:
    """Triangles: vertices (n, 3) float64 in mm, least corner at the origin; triangles (m, 3), outward, closed.

    shared: what a shell round every side of it counts twice, as sides, mm2, where a base is hollow. tones: (m,), how
    bright each triangle is in pictures, about 1; None: all alike.
    """

    name: str
    vertices: npt.NDArray[np.float64]
    triangles: npt.NDArray[np.uint32]
    volume: float
    shared: float = 0.0
    tones: npt.NDArray[np.float64] | None = None

    @property
    def size(self) -> tuple[float, float, float]:
        """Extent along x, y and z in mm."""
        x, y, z = self.vertices.max(axis=0).tolist()
        return x, y, z


def nine_digits(vertices: Vertices) -> Vertices:
    """Vertices as text in nine significant digits keeps them."""
    return np.array([float(f"{v:.9g}") for v in vertices.ravel().tolist()]).reshape(-1, 3)


def is_closed(vertices: Vertices, triangles: npt.NDArray[np.uint32]) -> bool:
    """Whether triangles, welded by position, use every edge twice, once each way, round a volume."""
    # Plus nothing: there are two zeros.
    _, index = np.unique(np.ascontiguousarray(vertices + 0.0).view("V24"), return_inverse=True)
    first, second, third = index.ravel()[triangles].T.astype(np.int64)
    start, end = np.concatenate([first, second, third]), np.concatenate([second, third, first])
    many = np.int64(index.max() + 1) if len(index) else np.int64(1)
    forward, backward = np.sort(start * many + end), np.sort(end * many + start)
    once = bool((np.diff(forward) > 0).all()) and bool((start != end).all())
    corners = vertices[triangles]
    volume = float(np.einsum("ij,ij->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))) / 6
    return once and np.array_equal(forward, backward) and volume > 0


def build_mesh(name: str, plates: Sequence[Plate]) -> Mesh:
    """The closed mesh of a tile or piece.

    Raises:
        SolidError: the plates do not make one body.
    """
    solid, mesh = _built(name, plates)
    return mesh or to_mesh(name, solid)


def build_solid(name: str, plates: Sequence[Plate]) -> Manifold:
    """The plates joined into one body; grooves and openings cut out, or carved as the stone that they are faced with.

    Raises:
        SolidError: not one closed body.
    """
    return _built(name, plates)[0]


def _built(name: str, plates: Sequence[Plate]) -> tuple[Manifold, Mesh | None]:
    """The solid, and its mesh where that was needed to see whether it is closed."""
    if not any(plate.facing for plate in plates):
        return _plain(name, plates), None
    facing = next(plate.facing for plate in plates if plate.facing)
    rock = facing.style.walls == "rock"
    # Joints of stones take the place of lines and patterns, cracks of rock that of lines.
    bare = (
        without_lines(plates, facing)
        if rock
        else [replace(plate, marks=tuple(mark for mark in plate.marks if not mark.centres)) for plate in plates]
    )
    plain = _plain(name, bare)
    for draw in range(_DRAWS):
        solid = ragged(plain, plates, facing, draw) if rock else carved(plain, bare, facing, draw)
        if solid is None:
            continue
        mesh = to_mesh(name, solid)
        # Now and then an edge of a stone lies within a hair of another one, and a file in single precision is open.
        if is_closed(mesh.vertices.astype(np.float32).astype(np.float64), mesh.triangles):
            return solid, mesh
    # Odd thin outlines whose stones would not hang together stay as they are drawn.
    return _plain(name, plates), None


def _plain(name: str, plates: Sequence[Plate]) -> Manifold:
    """The plates joined into one body."""
    lying: list[Plate] = []
    standing: list[Plate] = []
    for plate in plates:
        (lying if plate.edge is None and not _is_beside(plate, plates) else standing).append(plate)
    whole = _walled(lying[0], standing) if len(lying) == 1 and len(standing) > _MANY_WALLS else None
    parts = [*map(_lying, lying), *_standing(standing)] if whole is None else [whole]
    solid = parts[0] if len(parts) == 1 else Manifold.batch_boolean(parts, manifold3d.OpType.Add)
    if whole is None and lying and standing and _has_meeting(_mesh(name, solid)):
        # The joint left a fold between faces that only touch: walls that reach into their floor have no such faces.
        deeper = Manifold.batch_boolean(
            [*map(_lying, lying), *_standing(standing, sunk=_SUNK_MM)], manifold3d.OpType.Add
        )
        solid = deeper if abs(deeper.volume() - solid.volume()) < _CRACK_MM3 * solid.volume() else solid
    status = solid.status()
    if status != manifold3d.Error.NoError or solid.is_empty():
        raise SolidError(f"{name}: the solid could not be built ({status.name})")
    # A crack between parts that touch is a skin without volume, which counts as a body.
    found = solid.decompose() if len(parts) > 1 or whole is not None else [solid]
    bodies = [body for body in found if abs(body.volume()) > _CRACK_MM3] if len(found) > 1 else found
    if len(bodies) != 1:
        raise SolidError(_in_bodies(name, solid, bodies, plates))
    return solid if len(found) == 1 else bodies[0]


def _in_bodies(name: str, solid: Manifold, bodies: Sequence[Manifold], plates: Sequence[Plate]) -> str:
    """What to tell of a solid in several bodies: where the least of them is, beside what, and what to do."""
    least = min(bodies, key=lambda body: abs(body.volume()))
    what = "a sealed hollow" if least.volume() < 0 else "a loose part"
    west, south, low, east, north, high = least.bounding_box()
    near = box(west, south, east, north).buffer(_NEAR_MM)
    beside = [p for p in plates if p.foot.intersects(near) and p.bottom <= high + _NEAR_MM and p.top >= low - _NEAR_MM]
    corner = solid.bounding_box()
    x, y, z = ((a + b) / 2 - corner[k] for k, (a, b) in enumerate(((west, east), (south, north), (low, high))))
    features = [plate.name for plate in beside if plate.role in FEATURES]
    cure = f"Move {features[0]} or change its size" if features else "Change the size of one of them"
    return (
        f"{name}: found {len(bodies)} bodies, the least of them {what} of {abs(least.volume()):.3g} mm3 at "
        f"({x:.1f}, {y:.1f}, {z:.1f}) mm from the lower south-west corner, at {', '.join(p.name for p in beside)}; "
        f"expected one body. {cure}"
    )


def to_mesh(name: str, solid: Manifold) -> Mesh:
    """A solid's triangles, moved so that its least corner is the origin.

    Triangles so flat that they turn over when they are written in single precision are parted anew with a neighbour, or
    joined with it; corners that would meet there, as along a crack without width, become one.
    """
    made, has_flat = _flipped(_mesh(name, solid))
    for tolerance in _FLAT_MM:
        if not (has_flat or _has_meeting(made)):
            return made
        simpler = solid.simplify(tolerance)
        # Near a fold the library may take away more than it says.
        if abs(simpler.volume() - solid.volume()) <= tolerance * solid.surface_area():
            made, has_flat = _flipped(_mesh(name, simpler))
    return _welded(made) if _has_meeting(made) else made


def _welded(mesh: Mesh) -> Mesh:
    """A mesh whose corners that meet in single precision are one; as it is where that does not leave it closed."""
    single = mesh.vertices.astype(np.float32)
    _, first, same = np.unique(single.view("V12").ravel(), return_index=True, return_inverse=True)
    triangles = same.astype(np.uint32)[mesh.triangles]
    a, b, c = triangles.T
    kept = (a != b) & (b != c) & (c != a)
    tones = None if mesh.tones is None else mesh.tones[kept]
    welded = replace(mesh, vertices=mesh.vertices[first], triangles=triangles[kept], tones=tones)
    return welded if is_closed(single[first].astype(np.float64), welded.triangles) else mesh


def _mesh(name: str, solid: Manifold) -> Mesh:
    mesh = solid.to_mesh64()
    vertices = np.asarray(mesh.vert_properties, np.float64)[:, :3]
    corners, tones = np.asarray(mesh.tri_verts, np.uint32), tones_of(np.asarray(mesh.face_id, np.uint64))
    return Mesh(name, vertices - vertices.min(axis=0), corners, solid.volume(), tones=tones)


def _has_meeting(mesh: Mesh) -> bool:
    """Whether corners that are distinct meet in single precision."""
    x, y, z = mesh.vertices.astype(np.float32).T
    order = np.lexsort((x, y, z))
    same = [column[order][1:] == column[order][:-1] for column in (x, y, z)]
    return bool((same[0] & same[1] & same[2]).any())


def _flat(mesh: Mesh) -> npt.NDArray[np.int64]:
    """The triangles whose normals are lost or turned over in single precision."""
    exact = _normals(mesh.vertices, mesh.triangles)
    written = _normals(mesh.vertices.astype(np.float32).astype(np.float64), mesh.triangles)
    return np.flatnonzero(exact[0] * written[0] + exact[1] * written[1] + exact[2] * written[2] <= 0)


def _flipped(mesh: Mesh) -> tuple[Mesh, bool]:
    """A mesh whose flat triangles, where that mends them, are parted from the one at their longest side the other way.

    A triangle is flat mostly because a corner lies on its longest side. Also whether there are any left.
    """
    flat = _flat(mesh)
    for _ in range(_FLIPS):
        if not 0 < len(flat) <= _FEW:
            break
        triangles, tones = mesh.triangles.copy(), None if mesh.tones is None else mesh.tones.copy()
        for one in flat.tolist():
            other = _flip(mesh.vertices, triangles, one)
            if tones is not None and other is not None:
                tones[one] = tones[other]
        mesh = replace(mesh, triangles=triangles, tones=tones)
        flat = _flat(mesh)
    return mesh, len(flat) > 0


def _flip(vertices: Vertices, triangles: npt.NDArray[np.uint32], one: int) -> int | None:
    """Part a triangle and the one at its longest side the other way; the other one, None where that is no good."""
    corners = triangles[one]
    sides = vertices[np.roll(corners, -1)] - vertices[corners]
    a, b, c = np.roll(corners, -int(np.argmax((sides**2).sum(axis=1)))).tolist()
    first, second, third = triangles.T

    def has(corner: int) -> npt.NDArray[np.bool_]:
        found: npt.NDArray[np.bool_] = (first == corner) | (second == corner) | (third == corner)
        return found

    others = [other for other in np.flatnonzero(has(a) & has(b)).tolist() if other != one]
    if len(others) != 1:
        return None
    other = others[0]
    d = next(corner for corner in triangles[other].tolist() if corner not in (a, b))
    pair = np.array([(a, d, c), (d, b, c)], np.uint32)
    before, after = (np.stack(_normals(vertices, faces), axis=1) for faces in (triangles[[other]], pair))
    if (has(c) & has(d)).any() or (after @ before[0] <= 0).any():
        return None
    triangles[[one, other]] = pair
    return other


def _normals(
    vertices: npt.NDArray[np.float64], triangles: npt.NDArray[np.uint32]
) -> tuple[npt.NDArray[np.float64], ...]:
    """The normals' x, y and z, as long as twice the areas; written out: quicker than a call for few triangles."""
    x, y, z = vertices.T
    a, b, c = triangles.T
    ux, uy, uz = x[b] - x[a], y[b] - y[a], z[b] - z[a]
    vx, vy, vz = x[c] - x[a], y[c] - y[a], z[c] - z[a]
    return uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx


def _lying(plate: Plate) -> Manifold:
    corners = len(plate.foot.exterior.coords) + sum(int(shapely.get_num_coordinates(m.region)) for m in plate.marks)
    if plate.marks and corners > _PLAIN_CORNERS:
        solid = layered(plate)
        if solid is not None and solid.status() == manifold3d.Error.NoError:
            return solid
    return _marked(extruded(plate.foot, plate.bottom, plate.top), [plate])


def _walled(base: Plate, standing: Sequence[Plate]) -> Manifold | None:
    """A base with many walls on it put together without joining solids; None where they do not share their points."""
    if {(plate.bottom, plate.height) for plate in standing} != {(base.top, standing[0].height)}:
        return None
    try:
        joined = shapely.coverage_union_all([plate.foot for plate in standing])
    except shapely.GEOSException:
        return None
    # Feet that cross or share a part of a side only do not make a valid region, or not of their area.
    if not joined.is_valid or abs(joined.area - fsum(plate.foot.area for plate in standing)) > EQUAL_MM:
        return None
    solid = layered(base, joined, standing[0].height)
    if solid is None or solid.status() != manifold3d.Error.NoError:
        return None
    return _cut(solid, standing, [base, *standing], below=0.0)


def _is_beside(plate: Plate, plates: Sequence[Plate]) -> bool:
    """Whether a plate lies on another and something stands or lies against its side."""
    low, high = plate.bottom, plate.top
    return low > min(other.bottom for other in plates) and any(
        other is not plate and other.bottom < high and other.top > low and plate.foot.distance(other.foot) < EQUAL_MM
        for other in plates
    )


def _standing(plates: Sequence[Plate], sunk: float = 0.0) -> list[Manifold]:
    """Walls, and what lies against a side of them or of each other, as a solid, joined on the plan first.

    Plates that only touch can keep a crack where they are joined in 3D, and so can blocks whose faces overlap.
    sunk: how far to reach below the feet.
    """
    if not plates:
        return []
    blocks = [replace(plate, bottom=plate.bottom - sunk) for plate in plates] if sunk else plates
    first = blocks[0]
    if all((plate.bottom, plate.top) == (first.bottom, first.top) for plate in blocks):
        joined = extruded(shapely.union_all([plate.foot for plate in blocks]), first.bottom, first.top)
    else:
        joined = stacked(blocks)
    if joined.status() != manifold3d.Error.NoError:
        joined = Manifold.batch_boolean([extruded(p.foot, p.bottom, p.top) for p in blocks], manifold3d.OpType.Add)
    return [_cut(joined, plates, plates, below=sunk + REACH_MM)]


def _cut(solid: Manifold, plates: Sequence[Plate], within: Sequence[Plate], below: float = REACH_MM) -> Manifold:
    """A joined wall less the openings of its plates, with their marks.

    within: all plates that the solid is made of. below: how far to cut under the walls' feet.
    """
    cutters = []
    for plate in plates:
        for opening in plate.openings:
            above = plate.height + REACH_MM if plate.is_open_topped(opening) else None
            if plate.bend is not None:
                start, end = opening.centre - opening.width / 2, opening.centre + opening.width / 2
                foot = plate.bend.foot(start, end, before=BEND_REACH_MM, beyond=BEND_REACH_MM)
                top = plate.bottom + (above or opening.height)
                cutter = extruded(foot, plate.bottom - below, top)
            else:
                # The wall behind a backed one may have a narrower opening: leave it alone.
                span = 0.0 if plate.backed else -REACH_MM, plate.thickness + REACH_MM
                cutter = across(edge_of(plate), opening.region(below=below, above=above), span, plate.bottom)
            cutters.append(_kept_off(cutter, plate, within))
    return _marked(solid, plates, cutters, within)


def _kept_off(cutter: Manifold, own: Plate, plates: Sequence[Plate]) -> Manifold:
    """A cutter that keeps its reach away from other plates than its own.

    A wall with openings behind it has the same ones (the two leaves of a door over a seam), or backs it.
    """
    west, south, low, east, north, high = cutter.bounding_box()
    window = box(west, south, east, north)
    others = [plate for plate in plates if plate is not own and not plate.openings]
    near = [p for p in others if p.bottom < high and p.top > low and p.foot.intersects(window)]
    prisms = [extruded(plate.foot, plate.bottom, plate.top) for plate in near]
    reached = [(p, prism) for p, prism in zip(near, prisms, strict=True) if (cutter ^ prism).volume() > _CRACK_MM3]
    # Faces of a cutter that touch another plate would leave triangles without area: beside its own it stops short.
    around = [(p, p.foot.buffer(REACH_MM, join_style="mitre").difference(own.foot)) for p, _ in reached]
    rims = [extruded(foot, p.bottom - REACH_MM, p.top + REACH_MM) for p, foot in around if not foot.is_empty]
    kept = [*(prism for _, prism in reached), *rims]
    return Manifold.batch_boolean([cutter, *kept], manifold3d.OpType.Subtract) if kept else cutter


def _marked(
    solid: Manifold, plates: Sequence[Plate], cutters: Sequence[Manifold] = (), within: Sequence[Plate] = ()
) -> Manifold:
    """A solid with what stands out from its plates added, then `cutters` and what is sunk into them taken away.

    within: all plates that the solid is made of, of which marks take nothing but from their own.
    """
    marks = [(plate, mark) for plate in plates for mark in plate.marks]
    raised = [mark_body(plate, mark) for plate, mark in marks if mark.depth < 0]
    # Without a cutter of its own a mark stays where its face is seen.
    sunk = [
        _kept_off(mark_body(plate, mark), plate, within if mark.cutter else ())
        for plate, mark in marks
        if mark.depth > 0
    ]
    if raised:
        solid = Manifold.batch_boolean([solid, *raised], manifold3d.OpType.Add)
    if cutters:
        solid = Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract)
        if sunk:
            # Worked out at once: openings and patterns together would be joined with each other first, at some cost.
            solid.status()
    return Manifold.batch_boolean([solid, *sunk], manifold3d.OpType.Subtract) if sunk else solid


# Words cut into the underside of a finished solid: after its chamfer, which would break the letters' edges.

_LETTER_REACH_MM = 0.5


def engraved_below(solid: Manifold, marks: Sequence[Mark]) -> Manifold:
    """A solid that stands on z = 0 less marks of its underside, in plan coordinates."""
    if not marks:
        return solid
    return Manifold.batch_boolean([solid, *map(_cutter, marks)], manifold3d.OpType.Subtract)


def _cutter(mark: Mark) -> Manifold:
    rings = oriented_rings(mark.region)
    flat = np.concatenate(rings)
    return prism(rings, at(flat, -_LETTER_REACH_MM), at(flat, mark.depth))
