"""From plates to the mesh that is written: whole layers, chamfer, vents and shrink as the printer's file has them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from math import fsum
from typing import Literal, TypeVar

import manifold3d
import numpy as np
import shapely
import shapely.affinity
from manifold3d import Manifold, Mesh64
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import (
    EQUAL_MM,
    ROUNDING_MM,
    Point,
    Points,
    opened,
    oriented_rings,
    polygonal,
    polygons_of,
    rings_of,
    signed_area,
    turns_of,
)
from tilegen.lengths import counted, show_length
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.printers import LayersTable, PrinterFile
from tilegen.solids.build import Mesh, build_solid, engraved_below, to_mesh
from tilegen.solids.prisms import at, prism
from tilegen.solids.processes import process_of
from tilegen.tiles.connectors.kind import kind_of, least_clearance
from tilegen.tiles.leaves.kind import check_leaf, leaf_of
from tilegen.tiles.loose import Piece
from tilegen.tiles.plate import Mark, Opening, Plate
from tilegen.tiles.seats import check_connectors
from tilegen.tiles.tile import Tile, make_tile

# Heights on whole layers.

Shape = TypeVar("Shape", bound=BaseGeometry)


def snap(height: float, layers: LayersTable) -> float:
    """The height above the bed of the nearest whole layer, mm: lh1 + lh round((h - lh1) / lh), ties upwards.

    0 stays 0; anything above it is at least the first layer.
    """
    if height <= 0:
        return height
    count = math.floor((height - layers.first) / layers.height + 0.5 + EQUAL_MM)
    return layers.first + layers.height * max(count, 0)


def snap_down(height: float, layers: LayersTable) -> float:
    """The highest whole layer at or below a height above the bed, mm; at least the first layer."""
    count = math.floor((height - layers.first) / layers.height + EQUAL_MM)
    return layers.first + layers.height * max(count, 0)


def snapped(plates: Sequence[Plate], layers: LayersTable) -> tuple[Plate, ...]:
    """The plates with their undersides, tops, openings and grooves on whole layers; nothing moves sideways.

    Raises:
        InputError: a plate that would vanish.
    """
    return tuple(_snapped(plate, layers) for plate in plates)


def _snapped(plate: Plate, layers: LayersTable) -> Plate:
    bottom, top = snap(plate.bottom, layers), snap(plate.top, layers)
    if top - bottom < layers.height / 2:
        raise InputError(
            f"{plate.name} is only {show_length(plate.height)} high, less than a layer of {show_length(layers.height)}",
            cure="Use thinner layers, or make it higher",
        )
    openings = tuple(_opening(plate, opening, bottom, layers) for opening in plate.openings)
    moved = replace(plate, bottom=bottom, top=top, openings=openings, marks=())
    return replace(moved, marks=tuple(_mark(plate, moved, mark, layers) for mark in plate.marks))


def _opening(plate: Plate, opening: Opening, bottom: float, layers: LayersTable) -> Opening:
    return replace(opening, height=snap(plate.bottom + opening.height, layers) - bottom)


def _mark(plate: Plate, moved: Plate, mark: Mark, layers: LayersTable) -> Mark:
    """A mark on a flat face as deep as whole layers, at least one; one on an upright face clipped to what is left."""
    if mark.on in ("top", "under"):
        face, way = (plate.top, -1) if mark.on == "top" else (plate.bottom, 1)
        start, end = (snap(face + way * d, layers) for d in (mark.start, mark.start + mark.depth))
        depth = way * (end - start)
        under = way * (start - (moved.top if mark.on == "top" else moved.bottom))
        least = math.copysign(layers.height, mark.depth)
        return replace(mark, start=under if mark.start else 0.0, depth=depth if depth * mark.depth > 0 else least)
    if plate.edge is None:
        return mark
    factor = moved.height / plate.height
    region = polygonal(_stretched(mark.region, factor).intersection(moved.face()))
    return replace(mark, region=region, cutter=_stretched(mark.cutter, factor) if mark.cutter else None)


def _stretched(shape: Shape, factor: float) -> Shape:
    """A shape on an upright face with its heights above the foot changed."""
    return shapely.affinity.scale(shape, 1.0, factor, origin=(0, 0))


def heights_of(plates: Iterable[Plate]) -> dict[str, float]:
    """The heights above the bed that a builder would check, by name, mm."""
    found: dict[str, float] = {}
    for plate in plates:
        found.setdefault("floor" if plate.role == "base" else f"top of {plate.role}", plate.top)
        for opening in plate.openings:
            if not plate.is_open_topped(opening):
                found.setdefault("head of opening", plate.bottom + opening.height)
        for mark in plate.marks:
            if mark.on == "top" and mark.depth > 0:
                found.setdefault("bottom of groove", plate.top - mark.depth)
            elif mark.on == "top":
                found.setdefault("top of raised stones", plate.top - mark.depth)
    return found


def layer_notes(plates: Iterable[Plate], printer: PrinterFile) -> list[Message]:
    """What heights lie off whole layers, and where they go; one note for all plates of a run.

    Rounding moves a height by up to half a layer, and by more only below the first layer: a note for each.
    """
    layers = printer.layers
    moved = {
        name: (height, snap(height, layers))
        for name, height in heights_of(plates).items()
        if abs(snap(height, layers) - height) > EQUAL_MM
    }
    if not moved:
        return []
    words = ", ".join(f"{name} {show_length(was)} to {show_length(now)}" for name, (was, now) in moved.items())
    far = any(abs(now - was) > layers.height / 2 + EQUAL_MM for was, now in moved.values())
    by = ", some by more than half a layer" if far else ""
    if printer.snap_heights:
        return [Message("note", f"Heights are rounded to layers of {layers.height:g} mm{by}: {words}.")]
    rounds = f"These heights are not whole layers of {layers.height:g} mm, so the slicer will round them{by}: {words}."
    cure = f'To draw them rounded: --printer "{printer.name}, snap_heights=true"'
    return [Message("note", rounds, cure=cure)]


# A chamfer round everything that touches the bed, against the flare of the first layer.

# How far the shape that is kept reaches past the solid's faces, as a share of the chamfer.
_REACH = 0.1
_STEPS = 4
# So much wider than too narrow is left alone between two rings, whose corners are cut off a little.
_HAIR_MM = 0.05
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


def chamfer_of(region: Polygon | MultiPolygon, depth: float, kept: BaseGeometry | None = None) -> Chamfer:
    """A chamfer round a region of the bed: plan coordinates, mm. kept: where nothing will be taken away.

    Raises:
        InputError: part of the region is too narrow for it.
    """
    inset = polygonal(region.buffer(-depth, join_style="mitre", mitre_limit=2.0))
    left = inset if kept is None else inset.union(region.intersection(kept))
    parts = polygons_of(region)
    if len(polygons_of(left)) != len(parts) or not all(part.intersects(inset) for part in parts):
        raise InputError(
            f"something here is less than {show_length(2 * depth)} wide at the bed, too narrow for a chamfer of "
            f"{show_length(depth)}",
            cure="Use a smaller bottom_chamfer, or 0",
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
    narrow = _narrow(region, depth + least / 2)
    # And so far beside it that it stays joined to the rest; of a pocket the whole lip, which would be left in shreds.
    lips = [Polygon(ring) for part in polygons_of(region) for ring in part.interiors if narrow.distance(ring) < depth]
    narrow = narrow.buffer(2 * depth + least, join_style="mitre").union(
        shapely.union_all(lips).buffer(2 * depth, join_style="mitre")
    )
    cutters = chamfer_of(region, depth, narrow).cutters()
    if not narrow.is_empty:
        kept = _extruded(polygonal(narrow), -depth, 2 * depth)
        cutters = [cutter - kept for cutter in cutters]
    return Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract)


def _narrow(region: Polygon | MultiPolygon, half: float) -> BaseGeometry:
    """Where a region is less than 2 `half` wide; the crumbs that fine corners leave dropped.

    Between two rings, as round a pocket near an edge, from ring to ring; elsewhere by what opening it takes away.
    """
    near = [ring.buffer(half + _HAIR_MM) for part in polygons_of(region) for ring in rings_of(part)]
    between = [a.intersection(b) for a, b in combinations(near, 2) if a.intersects(b)]
    return shapely.union_all([opened(region.difference(opened(region, half)), half / 8), *between])


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


# Hollows that trap resin or hold on to the plate by suction, and the holes that let it out.

HollowKind = Literal["void", "bell", "cup"]
# Voids less than this, and cups and bells shallower than this, are no matter: a groove, a hair (common practice, no
# source).
LEAST_MM3, LEAST_MM = 5.0, 1.0
_MARGIN = 1.0
_HAIR = 1e-3
_SEGMENTS = 24
_WORDS = {
    "void": "a void that resin can't leave",
    "bell": "a hollow that the plate shuts: it sucks and holds liquid resin",
    "cup": "a cup while it prints: it sucks at every layer and holds liquid resin",
}


@dataclass(frozen=True)
class TrappedAir:
    """Trapped air. kind: how it is shut in; space: its shape; volume: mm3."""

    kind: HollowKind
    space: Manifold

    @property
    def volume(self) -> float:
        """In mm3."""
        return float(self.space.volume())

    @property
    def low(self) -> float:
        """Its lowest point above the bed, mm."""
        return float(self.space.bounding_box()[2])


def hollows_of(solid: Manifold) -> list[TrappedAir]:
    """All hollows of a solid that stands on its lowest point; every one once, by the worst way in which it is shut."""
    low, high = _span(solid)
    found: list[TrappedAir] = []
    for kind, bottom, top in (
        ("void", low - _MARGIN, high + _MARGIN),
        ("bell", low, high + _MARGIN),
        *(("cup", low, level - _HAIR) for level in _levels(solid)),
    ):
        shut = [s for s in _shut_in(solid, bottom, top) if kind == "void" or _depth(s) >= LEAST_MM]
        # A cup that grows is reported once, at its largest; what is shut is reported already.
        found = [f for f in found if f.kind != "cup" or not any(_meet(f.space, s) for s in shut if kind == "cup")]
        found += [TrappedAir(kind, s) for s in shut if not any(_meet(f.space, s) for f in found)]  # type: ignore[arg-type]
    return found


def hollow_notes(name: str, hollows: Sequence[TrappedAir], printer: PrinterFile) -> list[Message]:
    """What to do about a part's hollows on a resin printer."""
    notes = []
    for kind in ("void", "bell", "cup"):
        some = [h for h in hollows if h.kind == kind]
        if some:
            volume = fsum(h.volume for h in some) / 1000
            holes, width = printer.resin.drain_holes, printer.resin.drain_hole
            many = f" in {len(some)} places" if len(some) > 1 else ""
            cure = f"Drain it by {holes} holes of {width:g} mm at its lowest point, or tilt the tile; --printer "
            cure += f'"{printer.name}, resin.vents=true" drills holes through the nearest side.'
            notes.append(Message("decide", f"{name} has {_WORDS[kind]} ({volume:.1f} ml{many}).", cure=cure))
    return notes


def vent(start: Point, end: Point, z: float, diameter: float) -> Manifold:
    """A round hole lying along a line of the plan, its middle at height z: a cutter, for whatever asks for a vent.

    Its sides lie round the circle, so that it is nowhere narrower than its diameter; mm.
    """
    (x, y), (dx, dy) = start, (end[0] - start[0], end[1] - start[1])
    length = float(np.hypot(dx, dy))
    radius = diameter / 2 / float(np.cos(np.pi / _SEGMENTS))
    along = Manifold.cylinder(length, radius, radius, _SEGMENTS).rotate((0.0, 90.0, 0.0))
    return along.rotate((0.0, 0.0, float(np.degrees(np.arctan2(dy, dx))))).translate((x, y, z))


def vented(solid: Manifold, hollows: Sequence[TrappedAir], printer: PrinterFile, name: str = "the part") -> Manifold:
    """The solid with side holes from each hollow, at its lowest point, to the nearest side of the part.

    Raises:
        InputError: a hollow too low for a hole.
    """
    cutters = [cutter for hollow in hollows for cutter in _vents_of(solid, hollow, printer, name)]
    return Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract) if cutters else solid


def _vents_of(solid: Manifold, hollow: TrappedAir, printer: PrinterFile, name: str) -> list[Manifold]:
    """Holes of the printer's width, or half the hollow's height if that is less, side by side."""
    west, south, low, east, north, high = hollow.space.bounding_box()
    diameter = min(printer.resin.drain_hole, (high - low) * 0.9)
    if diameter < printer.resin.drain_hole / 2:
        raise InputError(
            f"a hollow {show_length(high - low)} high has no room for a drain hole",
            cure="Make it deeper, or use vents = false in the printer's file",
            place=name,
        )
    # Clear of the plate by a tenth of the hole's width, so that its foot does not break through the first layers.
    z = low + diameter * (0.6 if high - low > diameter * 1.1 else 0.55)
    places = _vent_places(solid.bounding_box(), (west, south, east, north), diameter, printer.resin.drain_holes)
    return [vent(inside, outside, z, diameter) for inside, outside in places]


def _vent_places(
    outer: Sequence[float], hollow: tuple[float, float, float, float], diameter: float, holes: int
) -> list[tuple[Point, Point]]:
    """From inside a hollow to past the part's side: all to the nearest side, or one a side where they would meet."""
    west, south, east, north = hollow
    gaps = (west - outer[0], south - outer[1], outer[3] - east, outer[4] - north)
    near = sorted(range(4), key=lambda side: gaps[side])
    along = (east - west) if near[0] % 2 else (north - south)
    apart = along / (holes + 1) >= 1.5 * diameter
    sides = [(near[0], (k + 1) / (holes + 1)) for k in range(holes)] if apart else [(s, 0.5) for s in near[:holes]]
    ends = (outer[0] - _MARGIN, outer[1] - _MARGIN, outer[3] + _MARGIN, outer[4] + _MARGIN)
    places: list[tuple[Point, Point]] = []
    for side, share in sides:
        x, y = west + (east - west) * share, south + (north - south) * share
        upright = side % 2 == 1
        inside = (x, (south + north) / 2) if upright else ((west + east) / 2, y)
        places.append((inside, (x, ends[side]) if upright else (ends[side], y)))
    return places


def _span(solid: Manifold) -> tuple[float, float]:
    box = solid.bounding_box()
    return float(box[2]), float(box[5])


def _levels(solid: Manifold) -> list[float]:
    """Heights at which the solid has flat faces, the lowest first: just under each, a rim that ends there is whole."""
    mesh = solid.to_mesh64()
    z = np.asarray(mesh.vert_properties, np.float64)[:, 2][np.asarray(mesh.tri_verts)]
    flat = z[(z == z[:, :1]).all(axis=1), 0]
    low = _span(solid)[0]
    return [float(level) for level in np.unique(np.round(flat, 6)) if level > low + 2 * _HAIR]


def _shut_in(solid: Manifold, bottom: float, top: float) -> list[Manifold]:
    """The pieces of air between two heights that don't reach the open air beside the part."""
    west, south, _, east, north, _ = solid.bounding_box()
    size = (east - west + 2 * _MARGIN, north - south + 2 * _MARGIN, top - bottom)
    air = Manifold.cube(size).translate((west - _MARGIN, south - _MARGIN, bottom)) - solid
    pieces = air.decompose()
    return [p for p in pieces if p.bounding_box()[0] > west - _MARGIN / 2 and p.volume() > LEAST_MM3]


def _depth(space: Manifold) -> float:
    low, high = _span(space)
    return high - low


def _meet(a: Manifold, b: Manifold) -> bool:
    return bool((a ^ b).volume() > LEAST_MM3 / 10)


def plates_to_print(thing: Tile | Piece, printer: PrinterFile) -> tuple[Plate, ...]:
    """The plates of a tile or piece with the fits and heights of this printer; its id stays that of its description.

    What the printer's test pieces gave is used where the grid has no value of its own. With heights on whole layers
    a piece that stands on a tile's floor is as high as the wall beside it comes out, or a little lower.

    Raises:
        InputError: the tile can't carry what the printer asks for.
    """
    try:
        return _to_print(thing, fitted_grid(thing.grid, printer), printer)
    except InputError as error:
        raise _named(error, thing.name).located(file=f"printer {printer.name}") from None


def _to_print(thing: Tile | Piece, grid: Grid, printer: PrinterFile) -> tuple[Plate, ...]:
    if isinstance(thing, Tile):
        if grid == thing.grid:
            return thing.plates
        for plate in thing.plates:
            for opening in plate.openings:
                check_leaf(opening, grid, math.inf)
        return make_tile(thing.name, thing.shape, grid, thing.ground).plates
    opening = thing.opening
    if printer.snap_heights:
        floor = snap(grid.base_depth, printer.layers)
        wall, head = (snap(grid.base_depth + h, printer.layers) - floor for h in (grid.wall_height, opening.height))
        opening = replace(opening, height=head)
        lies, thickness = leaf_of(opening.leaf).lies, grid.door.thickness
        thickness = snap_down(thickness, printer.layers) if lies else thickness
        grid = replace(grid, wall_height=snap_down(wall, printer.layers), door=replace(grid.door, thickness=thickness))
    return thing.plates if (grid, opening) == (thing.grid, thing.opening) else thing.plates_on(grid, opening)


def fitted_grid(grid: Grid, printer: PrinterFile) -> Grid:
    """A grid with the clearances that the printer's test pieces gave, where it has none of its own.

    Leaves and keys slide, pegs go in by hand; a peg or key keeps at least what the play asks for.
    """
    told, door, connectors = printer.clearance.measured, grid.door, grid.connectors
    if "slip" in told and door.clearance is None:
        door = replace(door, clearance=printer.clearance_of("slip"))
    if "slip" in told and connectors.clearance is None and kind_of(grid).slides:
        connectors = replace(connectors, clearance=max(least_clearance(grid), printer.clearance_of("slip")))
    if "hole" in told and connectors.magnet_allowance is None and kind_of(grid).magnetic:
        connectors = replace(connectors, magnet_allowance=printer.hole_allowance)
    fitted = replace(grid, door=door, connectors=connectors)
    check_connectors(fitted)
    return fitted


def as_printed(
    name: str, plates: Sequence[Plate], printer: PrinterFile, below: Sequence[Mark] = ()
) -> tuple[Mesh, list[Message]]:
    """The closed mesh of a tile or piece as it is written, and what to know about it.

    What has pegs, below z = 0, is turned upside down. below: what is cut into the underside, which the chamfer leaves
    alone: words, pockets. With a printer's defaults (heights as drawn, no
    chamfer, no shrink) this is the plain solid of the plates.

    Raises:
        SolidError: the plates do not make one body.
        InputError: too thin or too narrow for what the printer's file asks for; names the part.
    """
    try:
        return _as_printed(name, plates, printer, below)
    except InputError as error:
        raise _named(error, name) from None


def _as_printed(
    name: str, plates: Sequence[Plate], printer: PrinterFile, below: Sequence[Mark]
) -> tuple[Mesh, list[Message]]:
    solid = build_solid(name, snapped(plates, printer.layers) if printer.snap_heights else plates)
    low = solid.bounding_box()[2]
    if low < -ROUNDING_MM:
        solid = solid.rotate((180.0, 0.0, 0.0))
        low = solid.bounding_box()[2]
    if abs(low) > ROUNDING_MM:
        solid = solid.translate((0.0, 0.0, -low))
    if printer.bottom_chamfer:
        _check_depth(plates, printer.bottom_chamfer)
        solid = chamfered(solid, printer.bottom_chamfer, printer.walls.least)
    solid = engraved_below(solid, below)
    notes: list[Message] = []
    if process_of(printer).traps:
        hollows = hollows_of(solid)
        if hollows and printer.resin.vents:
            solid = vented(solid, hollows, printer, name)
            words = f"{name}: side holes let the resin out of {counted(len(hollows), 'hollow')}."
            notes.append(Message("note", words))
        else:
            notes += hollow_notes(name, hollows, printer)
    return scaled(to_mesh(name, solid), printer.scale), notes


def _check_depth(plates: Sequence[Plate], chamfer: float) -> None:
    lowest = min(plate.bottom for plate in plates)
    thinnest = min(plate.height for plate in plates if plate.bottom == lowest)
    if thinnest <= chamfer:
        raise InputError(
            f"something here is only {show_length(thinnest)} high, too low for a chamfer of {show_length(chamfer)}",
            cure="Use a smaller bottom_chamfer, or 0",
            place="bottom_chamfer",
        )


def scaled(mesh: Mesh, scale: tuple[float, float, float]) -> Mesh:
    """A mesh stretched along x, y and z, to make up for what a print shrinks by."""
    if scale == (1.0, 1.0, 1.0):
        return mesh
    x, y, z = scale
    return replace(mesh, vertices=mesh.vertices * np.asarray(scale), volume=mesh.volume * x * y * z)


def _named(error: InputError, name: str) -> InputError:
    """The same error, with the part's name before its place."""
    return error.moved(file=error.file, place=", ".join(filter(None, (name, error.place))))
