"""Surfaces on plates: patterns clipped to what stays visible, as marks that are printed and that the knife scores."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate, pairwise
from typing import cast

import numpy as np
import numpy.typing as npt
import shapely
from shapely.affinity import translate
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, SNAP_MM, Point, Points, lines_of, opened, polygonal, polygons_of, rings_of
from tilegen.model.grid import Grid
from tilegen.model.stonework import Stonework
from tilegen.model.surface import DETAILS, OF_STYLE, SPACE_LINE, FloorPattern, Surface
from tilegen.tiles.coursing import Coursing, merged
from tilegen.tiles.features import FEATURES
from tilegen.tiles.pinches import touchless, unpinched
from tilegen.tiles.plate import Face, Facing, Mark, Plate
from tilegen.tiles.posts import stood_on
from tilegen.tiles.shape import Shape
from tilegen.tiles.surfaces.stones import Cut, Stones, floor_stones, space_lines, wall_stones

# Nearer to a seam than this a groove reaches it: what is between would be a web without width in single precision.
_SLIVER_MM = 0.01
# A groove narrower than this share of its width is dropped: what an edge or a wall has cut off a joint.
_NARROWEST = 0.9
# How far beside a wall's face another wall is looked for.
_BESIDE_MM = 0.02
# A raised stone narrower than this is dropped: a printer of 0.4 mm nozzle leaves it out or loses it.
_LEAST_RAISED_MM = 0.6
# A nail's pit keeps this much web to joints and edges; smaller crumbs than this share of a square joint are dropped.
_PIT_WEB_MM = 0.75
_LEAST_AREA = 1.5
_POLYGON = 3
_LEAST_MM2 = 1e-6
# Faces are rounded so far before they are cut up: the same face is the same bit for bit, whichever way it is turned.
_DECIMALS = 6
_TURNS = (((1, 0), (0, 1)), ((0, 1), (-1, 0)), ((-1, 0), (0, -1)), ((0, -1), (1, 0)))
Move = Callable[[Points], Points]


@dataclass(frozen=True, slots=True)
class Ground:
    """Where a tile lies on the plane that its pattern is drawn on, y to the north.

    turns: clockwise quarter turns from the tile's frame to the pattern's; then (x, y) is added. salt: sets one type's
    pattern apart from another's. floors: of each cell of the shape, in its order; the surface's own if empty.
    """

    turns: int = 0
    x: float = 0.0
    y: float = 0.0
    salt: int = 0
    floors: tuple[FloorPattern, ...] = ()

    def to_pattern(self, points: Points) -> Points:
        """(n, 2) points of the tile's frame on the pattern's plane."""
        turned: Points = points @ np.array(_TURNS[self.turns], np.float64).T + (self.x, self.y)
        return turned

    def to_tile(self, points: Points) -> Points:
        """(n, 2) points of the pattern's plane in the tile's frame."""
        back: Points = (points - (self.x, self.y)) @ np.array(_TURNS[self.turns], np.float64)
        return back


def own_ground(shape: Shape, grid: Grid, floors: tuple[FloorPattern, ...] = ()) -> Ground:
    """The ground of a type: the pattern is drawn on its own pose, so that all turns of it show the same."""
    if not shape.turns:
        return Ground(salt=_salt(repr(shape)))
    own = min(shape.turns, key=lambda turn: turn.order)
    turns = (4 - own.turns.index(shape)) % 4
    width, height = math.fsum(shape.widths) * grid.pitch, math.fsum(shape.heights) * grid.pitch
    x, y = ((0.0, 0.0), (0.0, width), (width, height), (height, 0.0))[turns]
    return Ground(turns, x, y, _salt(repr((own.widths, own.heights, own.order, floors))), floors)


def dressed(plates: Sequence[Plate], shape: Shape, grid: Grid, ground: Ground | None) -> tuple[Plate, ...]:
    """Plates with the marks of the grid's surface. ground: of a tile of a plan whose pattern runs over the seams."""
    surface = grid.surface
    if ground is None:
        ground = Ground() if surface.continuous else own_ground(shape, grid)
    dresser = _Dresser(plates, shape, grid, ground)
    return tuple(dresser.dressed(plate) for plate in plates)


# What is lower or thinner than this stays plain; else what stones and joints leave of it may fall apart.
_LEAST_OF_STONE_MM = 4.0
_OF_STONE = ("base", "wall", "post", "door", *FEATURES)


def faced(
    plates: Sequence[Plate], grid: Grid, salt: int = 0, turned: Mapping[str, Plate] | None = None
) -> tuple[Plate, ...]:
    """Floors, walls and what is built of stone with the stone that they are carved as; as they are on a plain grid.

    salt: sets one type's stones apart from another's. turned: by name, walls as they are in every second course.
    """
    if grid.surface.stone is None:
        return tuple(plates)
    facing = stone_of(grid, salt)
    return tuple(
        replace(plate, facing=replace(facing, turned=(turned or {}).get(plate.name))) if _takes_stone(plate) else plate
        for plate in plates
    )


def stone_of(grid: Grid, salt: int = 0) -> Facing:
    """The stone of a grid's style, dressed stone if it is plain. salt: as of `faced`."""
    surface = grid.surface
    style = surface.stone or Stonework()
    seed, line = _salt(f"{surface.seed} {salt}"), (grid.floor.groove_width, grid.floor.groove_depth)
    return Facing(style, seed, grid.half_play, grid.pitch, line, DETAILS.index(surface.detail))


def _takes_stone(plate: Plate) -> bool:
    if plate.role not in _OF_STONE:
        return False
    return plate.role == "base" or min(plate.height, plate.thickness) > _LEAST_OF_STONE_MM


class _Dresser:
    """Works out the marks of one tile's plates."""

    def __init__(self, plates: Sequence[Plate], shape: Shape, grid: Grid, ground: Ground) -> None:
        self.plates, self.shape, self.grid, self.ground = plates, shape, grid, ground
        self.surface: Surface = grid.surface
        # Only seams along the grid meet a neighbour.
        self.to_seams = self.surface.continuous and shape.on_grid
        self.seed = _salt(f"{self.surface.seed} {ground.salt}")

    def dressed(self, plate: Plate) -> Plate:
        """One plate with its marks."""
        if plate.role == "base" and plate.top in self._levels:
            floors = [mark for region, name in self._floors(plate) for mark in self._floor(plate, region, name)]
            return replace(plate, marks=(*plate.marks, *floors)) if floors else plate
        if plate.role == "wall" and self.surface.walls != "none":
            return replace(plate, marks=(*plate.marks, *self._wall(plate)))
        return plate

    @cached_property
    def _levels(self) -> set[float]:
        """How high the floors lie; the bottoms of pits stay plain."""
        return {self.grid.base_depth + extra.floor for extra in self.shape.extras}

    @cached_property
    def _beside(self) -> shapely.STRtree:
        """The plates' feet, a hair wider than they are."""
        return shapely.STRtree([plate.foot.buffer(_BESIDE_MM / 2) for plate in self.plates])

    def _floors(self, base: Plate) -> Iterator[tuple[BaseGeometry, FloorPattern]]:
        """The visible floor, less a margin, by pattern."""
        margin = self.surface.margin
        standing = [plate.foot for plate in self.plates if plate.bottom <= base.top < plate.top]
        covered = shapely.union_all([*standing, *(stood_on(mark, self.grid) for mark in base.marks)])
        if self.to_seams:
            visible = base.foot.difference(covered.buffer(margin, join_style="mitre"))
        else:
            visible = base.foot.difference(covered).buffer(-margin, join_style="mitre")
        floors = self.ground.floors or (self.surface.floor,)
        if len(set(floors)) == 1:
            yield visible, floors[0]
            return
        for name in sorted(set(floors)):
            mine = shapely.union_all([self._cell(n) for n, floor in enumerate(floors) if floor == name])
            other = shapely.union_all([self._cell(n) for n, floor in enumerate(floors) if floor != name])
            yield visible.intersection(mine).difference(other.buffer(margin, join_style="mitre")), name

    def _cell(self, number: int) -> Polygon:
        """A cell of the shape on the plan, seam to seam."""
        (column, row), _ = self.shape.cells[number]
        widths, heights, pitch = self.shape.widths, self.shape.heights, self.grid.pitch
        west, south = math.fsum(widths[:column]) * pitch, math.fsum(heights[row + 1 :]) * pitch
        return box(west, south, west + widths[column] * pitch, south + heights[row] * pitch)

    def _floor(self, base: Plate, visible: BaseGeometry, name: FloorPattern) -> tuple[Mark, ...]:
        if name == "none" or visible.is_empty:
            return ()
        # Worked out on the pattern's plane, so that all turns of a type round alike.
        there = shapely.transform(visible, lambda points: self.ground.to_pattern(points).round(_DECIMALS))
        if name == OF_STYLE:
            flags = self._coursing.flags(self._there(base))
            found = _of_style(
                list(flags), self.surface.groove_width, self.grid.pitch if self.grid.floor.lines else None
            )
        else:
            found = floor_stones(name, there.bounds, self._cut(self.seed), lines=self.grid.floor.lines)
        region: BaseGeometry = grooves(found, there, self.surface.groove_width)
        raised = self.surface.relief == "raised"
        if raised:
            region = _standing_out(region, there)
        region = shapely.transform(region, self.ground.to_tile)
        if self.to_seams:
            region = _out_to(touchless(_out_to(region, visible), visible), visible)
        # Joints end where their layer does, beside a pit that is shallower than they are.
        depth = -self.surface.groove_depth if raised else min(self.surface.groove_depth, base.height)
        return _marks(region, visible, _moved(found.joints, self.ground.to_tile), depth, "top")

    @property
    def _coursing(self) -> Coursing:
        """The tile on the pattern's plane, parted into stones: all turns of it alike."""
        stone = stone_of(self.grid, self.ground.salt)
        plates = [self._there(replace(p, facing=stone) if p.role in _OF_STONE else p) for p in self.plates]
        return Coursing(sorted(plates, key=lambda p: (p.role, p.edge or (), p.foot.bounds)), stone)

    def _there(self, plate: Plate) -> Plate:
        """A plate on the pattern's plane, its openings where they are along it."""

        def move(points: Points) -> Points:
            moved: Points = self.ground.to_pattern(points).round(_DECIMALS)
            return moved

        def moved(points: Sequence[Point]) -> tuple[Point, ...]:
            return tuple((x, y) for x, y in move(np.array(points)).tolist())

        edge = (moved(plate.edge)[0], moved(plate.edge)[1]) if plate.edge else None
        bend = plate.bend and replace(plate.bend, outer=moved(plate.bend.outer))
        return replace(plate, foot=shapely.transform(plate.foot, move), edge=edge, bend=bend)

    @cached_property
    def _rows(self) -> dict[str, list[Polygon]]:
        return _faces_of(self._coursing)

    def _cut(self, seed: int) -> Cut:
        return Cut(self.grid.pitch, self.surface.groove_width, (seed,))

    def _wall(self, plate: Plate) -> tuple[Mark, ...]:
        visible = self._inner_face(plate)
        if visible.is_empty or plate.edge is None or plate.bend is not None:
            return ()
        if self.surface.walls == OF_STYLE:
            found = _of_style(self._rows.get(plate.name, []), self.surface.groove_width)
            region = grooves(found, visible, self.surface.groove_width)
            return _marks(region, visible, tuple(found.joints), self.surface.groove_depth, "inner")
        # On the pattern's plane walls of one line share their joints, whichever tile they stand on.
        (inner,) = self.ground.to_pattern(np.array([plate.at(0.0, plate.thickness)])).tolist()
        dx, dy = (np.array(_TURNS[self.ground.turns]) @ plate.direction).tolist()
        along = round(dx * inner[0] + dy * inner[1], _DECIMALS)
        line = round((dx * inner[1] - dy * inner[0]) / self.grid.pitch)
        return wall_marks(self.grid, visible, along, _salt(f"{self.seed} {line} {round(math.atan2(dy, dx) * 1000)}"))

    def _inner_face(self, plate: Plate) -> BaseGeometry:
        """What is seen of a wall's inner face, less a margin: along its edge, and up from its foot.

        That is the face less its contacts with other plates: a groove behind one would make a tunnel or a void.
        """
        margin = self.surface.margin
        low, high = _inner_span(plate, self.surface.groove_depth + margin)
        if min(high - low, plate.height) <= 2 * margin:
            return Polygon()
        probe = LineString([plate.at(s, plate.thickness + _BESIDE_MM) for s in (low, high)])
        hidden = []
        for number in sorted(self._beside.query(probe, predicate="intersects").tolist()):
            other = self.plates[number]
            if other is plate or other.bottom >= plate.top or other.top <= plate.bottom:
                continue
            bottom, top = other.bottom - plate.bottom - margin, other.top - plate.bottom + margin
            for part in shapely.get_parts(probe.intersection(self._beside.geometries[number])).tolist():
                ends = [low + probe.project(shapely.Point(point)) for point in part.coords]
                hidden.append(box(min(ends) - margin, bottom, max(ends) + margin, top))
        for opening in plate.openings:
            above = plate.height if plate.is_open_topped(opening) else None
            hidden.append(opening.region(below=margin, above=above).buffer(margin, join_style="mitre"))
        face: BaseGeometry = box(low + margin, margin, high - margin, plate.height - margin)
        face = face.difference(shapely.union_all(hidden))
        return polygonal(shapely.transform(face, lambda points: points.round(_DECIMALS)))


def _faces_of(coursing: Coursing) -> dict[str, list[Polygon]]:
    """Of each wall the stones of its face as the style has them: along it and up from its foot."""

    def heads(plate: Plate) -> list[Polygon]:
        return [Polygon(block) for opening in plate.openings for block in coursing.head(plate, opening)]

    found: dict[str, list[Polygon]] = {}
    for plate, course, pieces in coursing.courses():
        low, high = course.low - plate.bottom, course.high - plate.bottom
        boxes = [box(near, low, far, high) for near, far in (piece.span for piece in pieces)]
        over = shapely.union_all(heads(plate))
        parts = [part for each in boxes for part in polygons_of(each.difference(over))]
        found.setdefault(plate.name, []).extend(merged(parts))
    for plate in coursing.standing:
        found.setdefault(plate.name, []).extend(heads(plate))
    return found


def _of_style(stones: Sequence[Polygon], joint: float, pitch: float | None = None) -> Stones:
    """Stones less their joints, with the middles of these. pitch: of spaces whose lines are wider joints."""
    drawn = np.array([stone.buffer(-joint / 2, join_style="mitre") for stone in stones])
    # Stones on both sides of the tip of an arch have the same side, but for rounding: it is one line.
    sides = shapely.union_all([stone.boundary for stone in stones], grid_size=EQUAL_MM)
    # No line where the stones end.
    sides = shapely.line_merge(sides.difference(shapely.union_all(stones).boundary.buffer(SNAP_MM)))
    if pitch is not None and len(stones):
        spaces = MultiLineString(list(space_lines(shapely.total_bounds(drawn).tolist(), pitch)))
        drawn = shapely.difference(drawn, spaces.buffer(joint * SPACE_LINE / 2, cap_style="square"))
    joints = [tuple((x, y) for x, y, *_ in line.coords) for line in lines_of(sides)]
    return Stones([drawn], joints)


def wall_marks(grid: Grid, visible: BaseGeometry, along: float, seed: int) -> tuple[Mark, ...]:
    """The stones of what is seen of a wall's face: along it and up from its foot, mm.

    along: where the face's zero lies on the pattern's line. Courses lie at the same heights on all walls of a grid
    unless their pattern is uneven; joints across them go by the seed.
    """
    surface = grid.surface
    west, south, east, north = visible.bounds
    if surface.walls == OF_STYLE:
        # A wall by itself, seen from inside.
        thick = grid.wall_thickness
        edge = (west, thick), (east, thick)
        wall = Plate("wall", "wall", box(west, 0.0, east, thick), 0.0, grid.wall_height, edge)
        stone = stone_of(grid, seed)
        rows = _faces_of(Coursing([replace(wall, facing=stone)], stone))[wall.name]
        rows = [translate(row, west) for row in rows]
        found = _of_style(rows, surface.groove_width)
        joints = grooves(found, visible, surface.groove_width)
        return _marks(joints, visible, tuple(found.joints), surface.groove_depth, "inner")
    cut = Cut(grid.pitch, surface.groove_width, (seed,))
    window = (west + along, south, east + along, north)
    found = wall_stones(surface.walls, window, grid.wall_height, cut).shifted(-along)
    centres = tuple(tuple((x - along, y) for x, y in line) for line in found.joints)
    return _marks(grooves(found, visible, surface.groove_width), visible, centres, surface.groove_depth, "inner")


def _marks(
    region: BaseGeometry, visible: BaseGeometry, centres: tuple[tuple[Point, ...], ...], depth: float, on: Face
) -> tuple[Mark, ...]:
    areas = polygonal(region)
    return () if areas.is_empty else (Mark(centres, visible, areas, depth, on),)


def grooves(found: Stones, visible: BaseGeometry, width: float) -> Polygon | MultiPolygon:
    """The joints between stones on a face, on the micrometre grid; what is too narrow to cut is dropped."""
    joints = visible.difference(_together(np.concatenate(found.stones)))
    half = width * _NARROWEST / 2
    kept = opened(joints, half)
    # Without narrow places the joints come out as they went in.
    if abs(kept.area - joints.area) < _LEAST_MM2:
        kept = joints
    elif not _upright(joints):
        # Mitred corners that the narrowing has made reach further than the joints did, but never square ones.
        kept = kept.intersection(joints)
    pieces = shapely.get_parts(unpinched(shapely.set_precision(kept, SNAP_MM)))
    pieces = pieces[shapely.area(pieces) > _LEAST_AREA * width**2]
    if found.pits:
        pits = np.concatenate(found.pits)
        room = visible.difference(kept).buffer(-_PIT_WEB_MM)
        pieces = np.append(pieces, shapely.set_precision(pits[shapely.covers(room, pits)], SNAP_MM))
    return polygonal(_together(pieces))


def _upright(region: BaseGeometry) -> bool:
    """Whether all sides of a region run along the axes."""
    rings = [ring for part in polygons_of(region) for ring in rings_of(part)]
    return not any(np.diff(shapely.get_coordinates(ring), axis=0).all(axis=1).any() for ring in rings)


def _standing_out(joints: BaseGeometry, visible: BaseGeometry) -> Polygon | MultiPolygon:
    """What the joints leave of a face, on the micrometre grid; what is too narrow to print is dropped."""
    stones = visible.difference(joints)
    half = _LEAST_RAISED_MM / 2
    kept = opened(stones, half).intersection(stones)
    kept = stones if abs(kept.area - stones.area) < _LEAST_MM2 else kept
    pieces = shapely.get_parts(unpinched(shapely.set_precision(kept, SNAP_MM)))
    return polygonal(_together(pieces[shapely.area(pieces) > _LEAST_RAISED_MM**2]))


def _out_to(region: BaseGeometry, visible: BaseGeometry) -> BaseGeometry:
    """Areas that end a hair before an edge along the axes, drawn back by snapping or so cut, out to it."""
    corners = shapely.get_coordinates(visible)

    def reach(points: Points) -> Points:
        reached = points.copy()
        for axis in (0, 1):
            for edge in np.unique(corners[:, axis]):
                reached[np.abs(points[:, axis] - edge) < _SLIVER_MM, axis] = edge
        return reached

    return shapely.transform(region, reach)


def _together(parts: npt.NDArray[np.object_]) -> MultiPolygon:
    """The polygons among some geometries that do not overlap, as one."""
    parts = shapely.get_parts(parts)
    return cast("MultiPolygon", shapely.multipolygons(parts[shapely.get_type_id(parts) == _POLYGON]))


def _moved(lines: Sequence[tuple[Point, ...]], move: Move) -> tuple[tuple[Point, ...], ...]:
    counts = accumulate(len(line) for line in lines[:-1])
    points = list(map(tuple, move(np.array([point for line in lines for point in line]).reshape(-1, 2)).tolist()))
    return tuple(tuple(points[start:end]) for start, end in pairwise((0, *counts, len(points))))


def _inner_span(plate: Plate, behind: float) -> tuple[float, float]:
    """Where a standing plate's inner face starts and ends along its edge, as far as the wall behind it is that thick.

    An end cut off at an odd angle tapers to nothing: a groove would come out at its other side.
    """
    (x, y), (dx, dy) = plate.at(0.0), plate.direction
    points = shapely.get_coordinates(plate.foot) - (x, y)
    depth, along = points[:, 0] * dy - points[:, 1] * dx, points[:, 0] * dx + points[:, 1] * dy
    inner = along[depth > plate.thickness - _BESIDE_MM / 2]
    deep = plate.thickness - behind
    line = LineString([plate.at(s, deep) for s in (along.min() - 1.0, along.max() + 1.0)]).intersection(plate.foot)
    under = (shapely.get_coordinates(line) - (x, y)) @ (dx, dy)
    if not len(under) or not len(inner):
        return 0.0, 0.0
    return max(float(inner.min()), float(under.min())), min(float(inner.max()), float(under.max()))


def _salt(text: str) -> int:
    """A whole number from a text, the same on every machine."""
    return int.from_bytes(hashlib.sha256(text.encode()).digest()[:8], "big")
