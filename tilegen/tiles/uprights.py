"""Walls and posts printed for a base that is cut from sheets: upside down, with pegs that go into holes in the base."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InFile, InputError, KeyRef, Said
from tilegen.geometry import CRUMB_MM2, EQUAL_MM, Point, polygonal, polygons_of
from tilegen.model.grid import Grid
from tilegen.tiles.connectors.kind import groove_of
from tilegen.tiles.leaves.hinged import round_hole
from tilegen.tiles.loose import Piece, Things
from tilegen.tiles.plate import Opening, Plate
from tilegen.tiles.posts import Peg, peg_of
from tilegen.tiles.tile import Tile, make_tile

# Roles of what is printed; what lies on a floor is cut, as its base is.
_PRINTED = ("wall", "post")
# A stretch of wall has two pegs from so many times their width on, and none where it is less than so many times.
_TWO_PEGS, _ONE_PEG = 5.0, 1.5
# Less than this over a doorway does not hold the two sides together, mm (common practice, no source).
_LEAST_LINTEL_MM, _HAIR_MM, _OFF_FACETS_MM = 1.0, 0.01, 0.2
# What is to be left between a peg's hole and the edge of a base, where there is room (common practice, no source).
_RIM_MM = 2.0


@dataclass(frozen=True)
class Uprights(Piece):
    """Walls and posts of one tile that hang together. number: which of the tile's it is, from 0."""

    kind = "walls"
    tile: Tile | None = None
    number: int = 0

    def plates_on(self, grid: Grid, opening: Opening) -> tuple[Plate, ...]:  # noqa: ARG002 - its tile has them
        """The same with other clearances; its pegs are as much thinner as they get more room."""
        if self.tile is None:
            return self.plates
        made = make_tile(self.tile.name, self.tile.shape, replace(grid, wall_height=self.grid.wall_height))
        return _plates(_groups(made)[self.number], _bases(made), self.tile.grid, grid.door.gap)


def is_mixed(thing: Tile | Piece) -> bool:
    """Whether bases are cut and walls printed."""
    return thing.grid.set.mixed


def printed_things(things: Things) -> Things:
    """What is printed of these things: all of them, or of a mixed kit the walls of its tiles and its pieces."""
    found: list[tuple[Tile | Piece, int]] = []
    for thing, count in things:
        if not is_mixed(thing):
            found.append((thing, count))
        elif isinstance(thing, Tile):
            found += [(piece, count * number) for piece, number in uprights_of(thing)]
        elif not _lies(thing):
            found.append((thing, count))
    return found


def cut_things(things: Things) -> Things:
    """What is cut of these things: all of them, or of a mixed kit its tiles, and pieces that are a part of floor."""
    return [(t, n) for t, n in things if isinstance(t, Tile) or not is_mixed(t) or _lies(t)]


def _lies(piece: Piece) -> bool:
    return all(plate.role == "base" for plate in piece.plates)


def uprights_of(tile: Tile) -> list[tuple[Uprights, int]]:
    """What stands on a tile's base, in pieces to be printed, with how many of each."""
    groups = _groups(tile)
    found: dict[str, tuple[Uprights, int]] = {}
    for number, group in enumerate(groups):
        plates = _plates(group, _bases(tile), tile.grid, tile.grid.door.gap)
        name = f"{tile.name}-walls" if any(p.role == "wall" for p in group) else f"{tile.name}-post"
        side = max(shapely.union_all([plate.foot for plate in plates]).bounds)
        piece = Uprights(name, tile.grid, plates, side, Opening(0.0, 0.0, 0.0), tile, number)
        first, count = found.get(piece.id, (piece, 0))
        found[piece.id] = (first, count + 1)
    names = [piece.name for piece, _ in found.values()]
    return [
        (replace(p, name=f"{p.name}-{n}") if names.count(p.name) > 1 else p, count)
        for n, (p, count) in enumerate(found.values(), 1)
    ]


def holed(tile: Tile) -> tuple[Plate, ...]:
    """The base of a tile and what lies on it, with holes for the pegs of its walls and loose posts and for hinge pins.

    Raises:
        InputError: a base too thin for pegs, or with connectors where one goes.
    """
    gap = tile.grid.door.gap
    holes: list[BaseGeometry] = [
        round_hole(at, _peg(tile.grid).diameter + 2 * gap)
        for group in _groups(tile)
        for _, at in _places(group, _bases(tile), tile.grid)
    ]
    floor = [plate for plate in tile.plates if plate.role not in _PRINTED]
    # What goes deeper into a floor than its joints.
    deep = groove_of(tile.grid) + EQUAL_MM
    marks = [mark for plate in floor if plate.role == "base" for mark in plate.marks if mark.on == "top"]
    holes += [mark.region for mark in marks if not mark.centres and mark.depth > deep]
    cut = shapely.union_all(holes)
    if not holes:
        return tuple(floor)
    return tuple(replace(p, foot=_less(p.foot, cut)) if p.role == "base" else p for p in floor)


def _less(foot: Polygon, cut: shapely.Geometry) -> Polygon:
    left = polygonal(foot.difference(cut))
    return left if isinstance(left, Polygon) else foot


def _peg(grid: Grid) -> Peg:
    peg = peg_of(grid)
    if peg is None:
        raise InputError(
            "the printed walls of a base from sheets need pegs, and walls or bases are too thin for them",
            cure=Said("Make them thicker{}, or use {}", InFile(" (--wall, --depth)"), KeyRef("base", "full")),
            place="[set] base",
        )
    return peg


def _groups(tile: Tile) -> list[list[Plate]]:
    """The walls and posts of a tile that hang together and are of one height, so that they print upside down."""
    found = []
    standing = [plate for plate in tile.plates if plate.role in _PRINTED]
    for top in sorted({plate.top for plate in standing}):
        alike = [plate for plate in standing if plate.top == top]
        for part in polygons_of(shapely.union_all([plate.foot for plate in alike]).buffer(EQUAL_MM)):
            group = [plate for plate in alike if part.covers(plate.foot.representative_point())]
            _check_whole(part, group)
            found.append(group)
    return found


def _check_whole(foot: Polygon, group: Sequence[Plate]) -> None:
    """Refuse walls that doorways without a lintel cut in two: in print their base would join them.

    Raises:
        InputError: names the wall.
    """
    cut = [(p, p.opening_foot(o)) for p in group for o in p.openings if o.height > p.height - _LEAST_LINTEL_MM]
    ways = shapely.union_all([way.buffer(EQUAL_MM + _HAIR_MM, join_style="mitre") for _, way in cut])
    if cut and len(polygons_of(foot.difference(ways), CRUMB_MM2)) > 1:
        raise InputError(
            f"the doorway in {cut[0][0].name} has no lintel, so it cuts the printed wall in two",
            cure=Said("Make the doorway lower, or use {}", KeyRef("base", "full")),
            place="[set] base",
        )


def _bases(tile: Tile) -> BaseGeometry:
    """What bases cover on the plan."""
    return shapely.union_all([plate.foot for plate in tile.plates if plate.role == "base"])


def _plates(group: Sequence[Plate], bases: BaseGeometry, grid: Grid, gap: float) -> tuple[Plate, ...]:
    """Walls and posts with the pegs under their feet, the lowest foot at z = 0.

    gap: of the printer, on each side of a peg; holes are drawn with the grid's.
    """
    peg, low = _peg(grid), min(plate.bottom for plate in group)
    thick = peg.diameter + 2 * (grid.door.gap - gap)
    standing = [replace(plate, bottom=plate.bottom - low, top=plate.top - low) for plate in group]
    pegs = [
        Plate(f"peg {n}", "post", round_hole(at, thick), bottom - low - peg.length, bottom - low)
        for n, (bottom, at) in enumerate(_places(group, bases, grid), 1)
    ]
    return (*standing, *pegs)


def _places(group: Sequence[Plate], bases: BaseGeometry, grid: Grid) -> Iterator[tuple[float, Point]]:
    """The height of a foot and the middle of each peg under it, at the wall's inner face, well in from the base's edge.

    Two for each stretch of wall that is long enough, else one; none where even that has no room.
    """
    half = _peg(grid).diameter / 2 + grid.door.gap
    feet, edge = shapely.union_all([plate.foot for plate in group]).buffer(EQUAL_MM), bases.boundary

    def rim(point: ShapelyPoint) -> float:
        return min(edge.distance(point) - half, _RIM_MM) if feet.covers(point.buffer(half - EQUAL_MM)) else -1.0

    for plate in group:
        deep = max(plate.thickness - half, plate.thickness / 2)
        tries = [[plate.foot.representative_point()]]
        if plate.edge is not None:
            tries = [[_on_plan(plate, along, deep) for along in peg] for peg in _along(plate, 2 * half)]
        for points in tries:
            # The first of those with most left round the hole.
            point = max(points, key=lambda at: round(rim(at), 3))
            if rim(point) > -1.0:
                yield plate.bottom, (round(point.x, 3), round(point.y, 3))


def _along(plate: Plate, wide: float) -> Iterator[list[float]]:
    """How far along a wall each of its pegs may be, beside its openings: from an end of the stretch to its middle."""
    gaps = sorted((o.centre - o.width / 2, o.centre + o.width / 2) for o in plate.openings)
    starts, ends = [0.0, *(end for _, end in gaps)], [*(start for start, _ in gaps), plate.length]
    for start, end in zip(starts, ends, strict=True):
        if end - start >= _TWO_PEGS * wide:
            steps = range(int((end - start) / wide - _TWO_PEGS) + 1)
            yield [start + (1.5 + step / 2) * wide for step in steps]
            yield [end - (1.5 + step / 2) * wide for step in steps]
        elif end - start >= _ONE_PEG * wide:
            yield [(start + end) / 2]


def _on_plan(plate: Plate, along: float, deep: float) -> ShapelyPoint:
    """A point of a wall's foot. In a bent wall a little off the inner face, whose facets would cut into a peg."""
    bend = plate.bend
    if bend is None:
        return ShapelyPoint(plate.at(along, deep))
    inner = LineString(bend.inner_line(along - deep / 2, along + deep / 2)).interpolate(0.5, normalized=True)
    across = LineString([bend.point(along), (inner.x, inner.y)])
    return across.interpolate(max(deep - _OFF_FACETS_MM, bend.thickness / 2) / bend.thickness, normalized=True)
