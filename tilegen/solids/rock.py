"""Ragged rock: the plain tile with its faces moved inwards here and there. What is carved only takes away from it.

The surface is cut into small triangles and each corner is moved inwards by noise in space. Near seams the noise is the
same in every space and whichever way a tile is turned, so that tiles meet; what meets another tile stays as it is.
Lines between spaces are cracks, which waver from corner to corner of the spaces.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from manifold3d import Manifold, Mesh64, OpType
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from shapely.geometry import LineString, Polygon

from tilegen.geometry import EQUAL_MM, Point, polygons_of, rings_of
from tilegen.solids.masonry import deepest
from tilegen.solids.prisms import extruded, round_pockets
from tilegen.solids.stones import STONES
from tilegen.tiles.coursing import cracks, lies
from tilegen.tiles.plate import Facing, Mark, Plate

Floats = npt.NDArray[np.float64]
# The longest side of a triangle by how fine the tile is; bumps are some times larger.
_STEPS_MM = 4.0, 2.6, 1.7
# Of the lattice that noise is read from: how many values it has along each axis before it begins again.
_LATTICE = 16
# The share of the finer of two noises, and how much finer it is; strata: how much flatter than wide bumps are.
_FINE, _FINER, _STRATA = 0.3, 2.3, 1.5
# How steep hollows are.
_SHARP = 2.2
# From a seam up to here noise that all tiles share goes over into a tile's own.
_TO_SEAM_MM = 7.0
# How far rims are moved, mm: tiles meet there.
_AT_RIM = 0.2
# What lies on a plane, and where a face begins to be another one.
_ON_MM, _FACING = 0.05, 0.6
# The foot of a tile stays whole.
_FOOT_MM = 0.8
# Never on the plain face.
_OFF_FACE_MM = 0.03
# What may break off, at most.
_CRUMB_MM3 = 1.0
# How often moves are halved that turn a triangle over, and how much of its area must look the old way.
_HALVINGS, _TURNED = 8, 0.15
# A triangle less high than that has corners that move alike.
_SLIVER_MM = 0.05
# How much deeper a crack is than a line, as a share of the deepest floor.
_UNDER = 0.6
# Height of the bands of one tone in pictures.
_BAND_MM = 5.0


def ragged(plain: Manifold, plates: Sequence[Plate], facing: Facing, draw: int = 0) -> Manifold | None:
    """A plain tile as rock; None where that does not leave one body. draw: another number gives other rock.

    plain: without the lines between spaces, which the plates have.
    """
    mesh = plain.refine_to_length(_STEPS_MM[facing.steps]).to_mesh64()
    points = np.asarray(mesh.vert_properties, np.float64)[:, :3]
    triangles = np.asarray(mesh.tri_verts, np.int64)
    noise = _Noise(facing, draw)
    moved = points - _unfolded(points, triangles, _inwards(points, triangles, plates, facing, noise))
    owners = noise.bands(points[triangles].mean(axis=1)) + STONES
    whole = Manifold(Mesh64(moved, triangles.astype(np.uint64), face_id=owners))
    if whole.is_empty():
        return None
    whole = Manifold.batch_boolean([whole, *_cracks(plates, facing)], OpType.Subtract)
    solid = Manifold.batch_boolean([whole, *round_pockets(plates)], OpType.Add) ^ plain
    parts = [part for part in solid.decompose() if part.volume() > _CRUMB_MM3]
    return parts[0] if len(parts) == 1 else None


def without_lines(plates: Sequence[Plate], facing: Facing) -> list[Plate]:
    """Plates without the lines between spaces; where these would end on a floor's edge it has a corner.

    So the edges of all tiles are cut into triangles alike, and meet.
    """
    pitch = facing.pitch

    def ring(corners: Floats) -> Floats:
        found = []
        for start, end in pairwise(corners):
            found.append(start[None])
            (axis, *_), way = np.argsort(-np.abs(end - start)), end - start
            if not way[1 - axis]:
                low, high = sorted((start[axis], end[axis]))
                first, last = math.floor(low / pitch + EQUAL_MM) + 1, math.ceil(high / pitch - EQUAL_MM)
                at = np.arange(first, last) * pitch
                between = np.repeat(start[None], len(at), axis=0)
                between[:, axis] = at if way[axis] > 0 else at[::-1]
                found.append(between)
        return np.concatenate(found)

    def floor(plate: Plate) -> Polygon:
        outer, *holes = (ring(shapely.get_coordinates(one)) for one in rings_of(plate.foot))
        return Polygon(outer, holes)

    return [
        replace(
            plate,
            foot=floor(plate) if plate.role == "base" else plate.foot,
            marks=tuple(mark for mark in plate.marks if not _is_crack(mark, pitch)),
        )
        for plate in plates
    ]


def _is_crack(mark: Mark, pitch: float) -> bool:
    """Whether a mark is lines between spaces, which in rock are cracks."""

    def between(line: Sequence[Point]) -> bool:
        (x0, y0), (x1, y1) = line[0], line[-1]
        across = [a for a, b in ((x0, x1), (y0, y1)) if abs(a - b) < EQUAL_MM]
        return len(line) == 2 and len(across) == 1 and abs(across[0] - round(across[0] / pitch) * pitch) < EQUAL_MM

    return mark.on == "top" and bool(mark.centres) and all(map(between, mark.centres))


def _cracks(plates: Sequence[Plate], facing: Facing) -> Iterator[Manifold]:
    """What the lines between spaces take away."""
    rng = np.random.Generator(np.random.PCG64((facing.seed, 4)))
    pitch = facing.pitch
    for plate in plates:
        # As deep under the floor as it comes to lie.
        depth = min(facing.line[1] + _UNDER * facing.style.floor_face[1], plate.height / 2)
        for mark in plate.marks:
            if _is_crack(mark, pitch):
                others = [other.region for other in plate.marks if other is not mark and other.on == "top"]
                free = mark.face.difference(shapely.union_all(others))
                found = cracks(mark.centres, free, pitch, facing.line[0], rng)
                # Past the tile's edges.
                region = found.difference(plate.foot.difference(free))
                yield from (extruded(p, plate.top - depth, plate.top + _FOOT_MM) for p in polygons_of(region))


class _Noise:
    """Values from 0 to 1 in space: a tile's own, and those that every tile has at its seams."""

    def __init__(self, facing: Facing, draw: int) -> None:
        self.pitch = facing.pitch
        self.size = facing.style.length[1]
        self._own, self._shared = (
            np.random.Generator(np.random.PCG64(seed)).random((_LATTICE,) * 3) for seed in (facing.seed + draw, 0)
        )

    def own(self, points: Floats) -> Floats:
        return _summed(self._own, points / self.size * (1, 1, _STRATA))

    def bands(self, points: Floats) -> npt.NDArray[np.uint64]:
        """The number of the layer of rock that a point is in, which has one tone in pictures."""
        wavy = points[:, 2] / _BAND_MM + 3 * _read(self._own, points / (3 * self.size))
        return np.floor(wavy).clip(0).astype(np.uint64)

    def shared(self, points: Floats) -> Floats:
        """The same in every space, in each of its turns and mirrored."""
        folded = np.abs((points[:, :2] / self.pitch) % 1.0 - 0.5) * self.pitch
        low, high = np.sort(folded, axis=1).T
        return _summed(self._shared, np.stack([low, high, points[:, 2] * _STRATA], axis=1) / self.size)


def _summed(table: Floats, at: Floats) -> Floats:
    """Sharp ridges, and hollows between them."""
    wide, fine = (np.minimum(_SHARP * np.abs(2 * _read(table, p) - 1), 1.0) for p in (at, at * _FINER + 5.3))
    found: Floats = (1 - _FINE) * wide + _FINE * fine
    return found


def _read(table: Floats, at: Floats) -> Floats:
    """Value noise: a lattice's values with smooth steps between them (K. Perlin, "An image synthesizer", 1985)."""
    cell = np.floor(at).astype(np.int64)
    share = at - cell
    share = share * share * (3 - 2 * share)
    found = np.zeros(len(at))
    for corner in np.ndindex(2, 2, 2):
        weights = np.where(corner, share, 1 - share).prod(axis=1)
        x, y, z = ((cell + corner) % len(table)).T
        found += weights * table[x, y, z]
    return found


def _inwards(
    points: Floats, triangles: npt.NDArray[np.int64], plates: Sequence[Plate], facing: Facing, noise: _Noise
) -> Floats:
    """How far each corner is moved out of the way, along the mean of its faces' normals."""
    style = facing.style
    normals = _normals(points, triangles)
    low, high = points.min(axis=0), points.max(axis=0)
    floor = max((plate.top for plate in plates if plate.role == "base"), default=0.0)
    below = points[:, 2] < floor + EQUAL_MM
    # From the seams across a face: the outer face of a wall runs along one, and is not near it.
    beside = np.minimum(np.abs(points[:, :2] - low[:2]), np.abs(points[:, :2] - high[:2]))
    across = (np.abs(normals[:, :2]) < _FACING) | below[:, None]
    away = np.where(across, beside, np.inf).min(axis=1)
    share = np.clip(away / _TO_SEAM_MM, 0, 1)
    share = share * share * (3 - 2 * share)
    rough = share * noise.own(points) + (1 - share) * noise.shared(points)
    # Of floors, and the rims below them, less than of walls.
    standing = [plate for plate in plates if plate.facing and not lies(plate)]
    face = style.face[0], deepest(standing, style.face[1])
    least, most = (np.where(below, *pair) for pair in zip(style.floor_face, face, strict=True))
    depth = np.maximum(least + (most - least) * rough, _OFF_FACE_MM)
    depth *= np.clip((points[:, 2] - _FOOT_MM) / _FOOT_MM, 0, 1)
    depth = np.minimum(depth, _over_openings(points, standing))
    moved: Floats = normals * depth[:, None]
    # What meets the next tile stays in its plane, and rims close to it.
    rims = below & (beside.min(axis=1) < _ON_MM)
    moved[rims, :2] *= _AT_RIM / max(style.floor_face[1], _AT_RIM)
    spots = shapely.points(points[:, :2])
    outer = [LineString(plate.edge) for plate in plates if plate.edge and plate.bend is None]
    faces = shapely.distance(shapely.union_all(outer), spots) < _ON_MM if outer else np.zeros(len(points), bool)
    for axis in (0, 1):
        on_seam = beside[:, axis] < _ON_MM
        moved[on_seam & ~faces & (points[:, 2] > floor + EQUAL_MM), axis] = 0.0
    return moved


def _over_openings(points: Floats, standing: Sequence[Plate]) -> Floats:
    """How far points over openings may move: what is thin there keeps a third of itself."""
    most = np.full(len(points), np.inf)
    for plate in standing:
        for opening in plate.openings:
            if plate.is_open_topped(opening):
                continue
            over = points[:, 2] > plate.bottom + opening.spring - _ON_MM
            # And what is joined to it by a triangle.
            foot = plate.opening_foot(opening).buffer(_STEPS_MM[0])
            over[over] = shapely.contains_xy(foot, points[over, :2])
            most[over] = np.minimum(most[over], (plate.height - opening.height) / 3)
    return most


def _unfolded(points: Floats, triangles: npt.NDArray[np.int64], inwards: Floats) -> Floats:
    """The moves, less where they would turn a triangle over: steps and grooves are thinner than bumps are deep."""
    before = _across(points, triangles)
    one = _by_slivers(points, triangles, before)
    lengths = np.linalg.norm(inwards, axis=1)
    least = np.full(one.max() + 1, np.inf)
    np.minimum.at(least, one, lengths)
    inwards = inwards * np.divide(least[one], lengths, out=np.zeros_like(lengths), where=lengths > 0)[:, None]
    for _ in range(_HALVINGS):
        after = _across(points - inwards, triangles)
        turned = (before * after).sum(axis=1) < _TURNED * (before**2).sum(axis=1)
        # What has no area has no side.
        turned &= (before**2).sum(axis=1) > EQUAL_MM
        if not turned.any():
            return inwards
        inwards[np.isin(one, one[triangles[turned]])] *= 0.5
    inwards[np.isin(one, one[triangles[turned]])] = 0.0
    return inwards


def _by_slivers(points: Floats, triangles: npt.NDArray[np.int64], across: Floats) -> npt.NDArray[np.int64]:
    """A number for each corner, the same for those of slivers that hang together: they move alike, or leave fins."""
    longest = np.max(
        [np.linalg.norm(points[triangles[:, k]] - points[triangles[:, k - 1]], axis=1) for k in range(3)], 0
    )
    slivers = triangles[np.linalg.norm(across, axis=1) < _SLIVER_MM * longest]
    start, end = np.concatenate([slivers[:, :2], slivers[:, 1:]]).T
    joined = coo_array((np.ones(len(start)), (start, end)), shape=(len(points),) * 2)
    found: npt.NDArray[np.int64] = connected_components(joined, directed=False)[1].astype(np.int64)
    return found


def _across(points: Floats, triangles: npt.NDArray[np.int64]) -> Floats:
    a, b, c = (points[triangles[:, k]] for k in range(3))
    found: Floats = np.cross(b - a, c - a)
    return found


def _normals(points: Floats, triangles: npt.NDArray[np.int64]) -> Floats:
    """Of each corner: the sum of the directions that its faces have, each once, no longer than one."""
    across = _across(points, triangles)
    summed = np.zeros_like(points)
    for k in range(3):
        np.add.at(summed, triangles[:, k], across)
    lengths = np.sqrt((summed**2).sum(axis=1, keepdims=True))
    found: Floats = summed / np.where(lengths > 0, lengths, 1.0)
    return found
