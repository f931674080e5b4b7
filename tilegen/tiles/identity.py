"""A tile type's identity: a hash of what the tile is made from, the same in all quarter turns; never of its name.

A tile is written down as parts: each floor, wall, post, opening and feature in words, with its heights, and where it is
on the plan. Nothing in it is worked out by whoever makes the plates, and it does not matter how the tile was described:
walls that go straight on are one, and of a room's walls only what is on the piece counts.
"""

from __future__ import annotations

import hashlib
import math
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import compress, pairwise

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import LineString, MultiPoint, Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import (
    CRUMB_MM2,
    EQUAL_MM,
    NEAR_MM,
    Point,
    Segment,
    difference,
    direction_of,
    from_edge,
    intersection,
    polygons_of,
    turn_right,
)
from tilegen.model.grid import LEAVES, Grid
from tilegen.tiles.connectors.kind import kind_of, module_of, pockets_of
from tilegen.tiles.description import Description, describe
from tilegen.tiles.dressing import Ground, own_ground
from tilegen.tiles.leaves.kind import leaf_of
from tilegen.tiles.plate import Opening, Plate
from tilegen.tiles.posts import peg_of, sockets_of
from tilegen.tiles.shape import Shape
from tilegen.tiles.walls import PRINTED_JOINTS, SQUARE, Band, Run, corner_foot, walls_of

# Letters and digits that can't be read for one another, not even upside down or in strokes.
ALPHABET = "ACDEFHJKLPRTUVXY3478"
ID_LENGTH = 7
# Lengths such as 3/16 in lie exactly between two micrometres: this decides such ties the same way in every turn.
_TIE = 1e-3
# Rounding moves a corner, and the line between its neighbours, by half a micrometre's diagonal each.
_ROUNDING_UM = math.sqrt(2)
# Corners of two pieces that are cut out of one room in two poses are no further apart than this.
_SAME_UM = 5.0

# How far to the right of a line floor is looked for.
_BESIDE_MM = 0.05

Corner = tuple[int, int]
Rings = tuple[tuple[Corner, ...], ...]
# What it is, and where: a region, a line as it is walked, or points.
Part = tuple[str, BaseGeometry]
Pose = tuple[tuple[str, Rings], ...]
Ending = Callable[[Sequence[Corner]], tuple[Corner, ...]]


def short_id(poses: Sequence[Pose]) -> str:
    """Seven characters, the same for all four quarter turns."""
    return encode(repr(min(poses)).encode())


def encode(content: bytes, length: int = ID_LENGTH) -> str:
    """A hash of some bytes in the alphabet of the ids."""
    number = int.from_bytes(hashlib.sha256(content).digest()[:16], "big")
    letters = []
    for _ in range(length):
        number, rest = divmod(number, len(ALPHABET))
        letters.append(ALPHABET[rest])
    return "".join(letters)


def poses_of(parts: Sequence[Part]) -> list[Pose]:
    """The parts of a tile after 0, 1, 2 and 3 clockwise quarter turns, in micrometres from its south-west corner."""
    poses = []
    drawn = [(word, *_drawn(where)) for word, where in parts]
    for _ in range(4):
        xs, ys = zip(*(point for ring in drawn[0][2] for point in ring), strict=True)
        least = min(xs), min(ys)
        poses.append(tuple(sorted((word, _rounded(end, rings, least)) for word, end, rings in drawn)))
        drawn = [(word, end, [[(y, -x) for x, y in ring] for ring in rings]) for word, end, rings in drawn]
    return poses


def is_alike(one: Pose, other: Pose) -> bool:
    """Whether two differ by rounding alone: pieces cut out of one room may, turned or mirrored."""
    if one == other:
        return True
    if Counter(word for word, _ in one) != Counter(word for word, _ in other):
        return False
    return all(_near(_outlines(one, word), _outlines(other, word)) for word in {word for word, _ in one})


def _outlines(pose: Pose, wanted: str) -> BaseGeometry:
    """Where all parts of one word are, as lines in micrometres."""
    rings = [ring for word, where in pose if word == wanted for ring in where if ring]
    return shapely.MultiLineString([(*ring, ring[0]) for ring in rings])


def _near(one: BaseGeometry, other: BaseGeometry) -> bool:
    if one.is_empty or other.is_empty:
        return bool(one.is_empty and other.is_empty)
    apart = max(abs(a - b) for a, b in zip(one.bounds, other.bounds, strict=True))
    return apart <= _SAME_UM and float(shapely.hausdorff_distance(one, other)) <= _SAME_UM


# --- tiles ---


def parts_of_tile(shape: Shape, grid: Grid, ground: Ground | None = None) -> list[Part]:
    """What counts of a tile: its floor first."""
    described = describe(shape, grid)
    walls = list(_walls(described, grid))
    return [
        *_floors(described, grid),
        *walls,
        *_blocks(described, grid),
        *_floor_lines(described, grid),
        *_connectors(described, grid),
        *_sockets(shape, grid),
        *_surface(shape, described, grid, ground, walled=any(word.startswith("wall ") for word, _ in walls)),
    ]


def _floors(described: Description, grid: Grid) -> Iterator[Part]:
    """The floor, in one part for each height."""
    regions: dict[float, list[Polygon]] = defaultdict(list)
    for part in described.parts:
        regions[part.extra.floor].append(part.region)
    yield f"base {_um(grid.base_depth)} {_um(grid.half_play)}", described.floor
    for level, found in regions.items():
        if level:
            yield f"base raised {_um(level)}", shapely.union_all(found)


def _walls(described: Description, grid: Grid) -> Iterator[Part]:
    """Walls as far as they are on the floor, openings, and posts.

    Cut out of a room, posts are all that stands beside its walls' strips; what is missing from these is noted too.
    """
    floor, depth = described.floor, grid.wall_thickness
    lines: dict[str, list[Segment]] = defaultdict(list)
    for run in described.runs:
        lines[_standing("wall", run.levels, depth)] += _on_floor(described, run.path)
        for opening in run.openings:
            yield from _opening(described, run, opening, grid)
    walls = [(word, line) for word, found in lines.items() for line in _joined(found)]
    if not described.cut_out:
        for post in described.posts:
            yield _standing("post", post.levels, depth), corner_foot(post, (0.0, depth), (0.0, depth))
    else:
        runs = [replace(run, openings=()) for run in described.runs]
        how = Band(0.0, depth, 0.0, depth), PRINTED_JOINTS
        made = shapely.union_all([plate.foot for plate in walls_of(runs, described.posts, floor, how, 0.0)])
        walls = [(word, _to_corners(line, floor, made, depth)) for word, line in walls]
        along = intersection(shapely.union_all([_strip(line, depth) for _, line in walls]), floor)
        levels = described.parts[0].extra.wall_levels(grid)
        for word, region in (("post", difference(made, along)), ("short", difference(along, made))):
            yield from ((_standing(word, levels, depth), part) for part in polygons_of(region, CRUMB_MM2))
    yield from ((word, LineString(line)) for word, line in walls)


def _to_corners(line: Segment, floor: Polygon, made: BaseGeometry, depth: float) -> Segment:
    """A wall's line on to corners of the floor, as far as walls and posts stand there as one with it."""
    length = math.dist(*line)
    found = [0.0, length]
    for x, y in shapely.get_coordinates(floor).tolist():
        (x0, y0), (dx, dy) = line[0], direction_of(line)
        station, off = dx * (x - x0) + dy * (y - y0), dy * (x - x0) - dx * (y - y0)
        if abs(off) < NEAR_MM and not -NEAR_MM < station < length + NEAR_MM:
            reach = (station, 0.0) if station < 0 else (length, station)
            more = _strip((from_edge(line, reach[0]), from_edge(line, reach[1])), depth)
            found += [station] * (difference(more, made).area < CRUMB_MM2)
    return from_edge(line, min(found)), from_edge(line, max(found))


def _standing(word: str, levels: tuple[float, float], depth: float) -> str:
    return f"{word} {_um(levels[0])} {_um(levels[1])} {_um(depth)}"


def _strip(line: Segment, depth: float) -> Polygon:
    """What lies within a depth to the right of a line."""
    length = math.dist(*line)
    return Polygon([*line, from_edge(line, length, depth), from_edge(line, 0.0, depth)])


def _on_floor(described: Description, path: Sequence[Point]) -> Iterator[Segment]:
    """The parts of a line that a wall stands along on the floor."""
    if not described.cut_out:
        yield from pairwise(path)
        return
    floor, steps = described.floor, list(pairwise(path))
    corners = shapely.get_coordinates(floor)
    lines = np.array([LineString(step) for step in steps])
    touching = shapely.dwithin(lines, floor, NEAR_MM)
    known = {_corner(corner) for corner in corners.tolist()}
    for step, line in zip(compress(steps, touching), lines[touching], strict=True):
        stations = [0.0]
        if not {_corner(point) for point in step} <= known:
            crossed = shapely.get_coordinates(line.intersection(floor.boundary))
            cuts = np.array(shapely.points(np.concatenate([corners, crossed])))
            for station in sorted(line.project(cuts[shapely.dwithin(cuts, line, NEAR_MM)])):
                if stations[-1] + NEAR_MM < station < line.length - NEAR_MM:
                    stations.append(float(station))
        for part in pairwise([step[0], *(from_edge(step, s) for s in stations[1:]), step[1]]):
            half = math.dist(*part) / 2
            on, beside = (shapely.Point(from_edge(part, half, right)) for right in (0.0, _BESIDE_MM))
            if floor.covers(beside) and floor.distance(on) < NEAR_MM:
                yield part


def _joined(lines: Sequence[Segment]) -> Iterator[Segment]:
    """Lines that go straight on from one another as one."""
    starts: dict[Corner, list[int]] = defaultdict(list)
    for number, (start, _) in enumerate(lines):
        starts[_corner(start)].append(number)
    onward = {
        number: other
        for number, (start, end) in enumerate(lines)
        for other in starts.get(_corner(end), ())
        if abs(turn_right(start, end, lines[other][1])) < SQUARE
    }
    for number in set(range(len(lines))) - set(onward.values()):
        last = number
        while last in onward:
            last = onward[last]
        yield lines[number][0], lines[last][1]


def _opening(described: Description, run: Run, opening: Opening, grid: Grid) -> Iterator[Part]:
    """An opening as far as it is on the floor; an arch goes by its whole width."""
    low, high = (opening.centre + side * opening.width / 2 for side in (-1, 1))
    line = shapely.ops.substring(LineString(run.path), max(low, 0.0), min(high, run.length))
    path = [(x, y) for x, y in line.coords]
    found = list(_on_floor(described, path))
    if not found:
        return
    start, end = found[0][0], found[-1][1]
    height = run.levels[1] - run.levels[0]
    words = [f"opening {_um(run.levels[0])} {_um(min(opening.height, height))}"]
    if not opening.level and opening.height < height - EQUAL_MM:
        begins = LineString(run.path).project(shapely.Point(start)) - low
        words.append(f"{opening.head} {_um(opening.width)} {_um(begins)}")
    if opening.leaf in LEAVES:
        word, measures = leaf_of(opening.leaf).cut(grid)
        words += [word, *(f"{_um(mm)}" for mm in measures)]
    yield " ".join(words), LineString([start, end])


def _blocks(described: Description, grid: Grid) -> Iterator[Part]:
    """What stands on the floor or is sunk into it."""
    for part in described.parts:
        ground, (x, y) = grid.base_depth + part.extra.floor, part.centre
        for block in part.extra.blocks:
            place = box(x + block.west, y + block.south, x + block.east, y + block.north)
            if place.intersects(described.floor):
                look = f" round {_um(block.bore)}" if block.round else ""
                yield f"{block.kind} {_um(ground + block.bottom)} {_um(ground + block.top)}{look}", place


def _floor_lines(described: Description, grid: Grid) -> Iterator[Part]:
    """The lines between spaces, where they cross the floor."""
    if grid.floor.lines:
        word = f"groove {_um(grid.floor.groove_width)} {_um(grid.floor.groove_depth)}"
        yield from _lattice(word, described.floor, grid.pitch, 0.01)


def _lattice(word: str, floor: Polygon, pitch: float, off: float, least: int = 1) -> Iterator[Part]:
    """The lines of a lattice that cross a floor, by their ends; off: how far from its edge at least, in pitches.

    least: lines of one direction fewer than this are left out.
    """
    west, south, east, north = floor.bounds
    across = range(math.ceil(west / pitch + off), math.floor(east / pitch - off) + 1)
    up = range(math.ceil(south / pitch + off), math.floor(north / pitch - off) + 1)
    if len(across) >= least:
        yield from ((word, MultiPoint([(n * pitch, south), (n * pitch, north)])) for n in across)
    if len(up) >= least:
        yield from ((word, MultiPoint([(west, n * pitch), (east, n * pitch)])) for n in up)


def _connectors(described: Description, grid: Grid) -> Iterator[Part]:
    """What each module of an edge carries, and the lines that edges with connectors lie on; what is below the floor."""
    made = grid.connectors
    for pocket in kind_of(grid).under(described.floor, grid)[:1]:
        yield (
            f"{made.kind} {_um(pocket.depth)} {_um(made.magnet_diameter + made.allowance)} {_um(made.web)}",
            described.floor,
        )
    if pockets_of(grid):
        pockets = [(p.on, _um(p.depth), _rounded(*_drawn(p.outline))) for p in pockets_of(grid)]
        # An edge on which no whole module lies carries none: a single line of that direction counts for nothing.
        yield from _lattice(f"connectors {pockets}", described.floor, module_of(grid), -1e-6, least=2)


def _sockets(shape: Shape, grid: Grid) -> Iterator[Part]:
    """The sockets of loose posts."""
    peg = peg_of(grid)
    if peg is None:
        return
    for (x, y), level in sockets_of(shape, grid):
        place = box(x - peg.diameter, y - peg.diameter, x + peg.diameter, y + peg.diameter)
        yield f"socket {_um(level)} {_um(peg.diameter)} {_um(peg.length)}", place


def _surface(
    shape: Shape, described: Description, grid: Grid, ground: Ground | None, *, walled: bool
) -> Iterator[Part]:
    """The patterns of what is seen, and where they are drawn from."""
    surface = grid.surface
    if surface.stone is not None:
        detail = "" if surface.detail == "middle" else surface.detail
        yield f"{surface.stone} {surface.seed} {detail}", described.floor
    walls = surface.walls if walled else "none"
    floors = (ground.floors if ground else ()) or (surface.floor,) * len(described.parts)
    if {walls, *floors} == {"none"}:
        return
    look = f"{surface.seed} {_um(surface.groove_width)} {_um(surface.groove_depth)} {_um(surface.margin)}"
    look += f" {_um(grid.pitch)} {grid.floor.lines} {walls}"
    if surface.continuous:
        start, end = (ground or Ground()).to_tile(shapely.get_coordinates(LineString([(0, 0), (1, 0)]))).tolist()
        yield f"drawn {look}", LineString([start, end])
    else:
        salt = "" if shape.on_grid else own_ground(shape, grid).salt
        yield f"drawn {look} {salt}", described.floor
    for name in sorted({*floors} - {"none"}):
        regions = [part.region for part, floor in zip(described.parts, floors, strict=True) if floor == name]
        yield f"{surface.relief} {name}", shapely.union_all(regions)


# --- loose pieces ---


def parts_of_plates(plates: Sequence[Plate]) -> list[Part]:
    """What counts of a loose piece: its plates, their openings and marks."""
    parts: list[Part] = [(f"{p.role} {_um(p.bottom)} {_um(p.top)}", p.foot) for p in plates]
    stone = next((plate for plate in plates if plate.facing), None)
    if stone and stone.facing:
        parts.append((f"{stone.facing.style} {stone.facing.seed} {stone.facing.steps}", stone.foot))
    for plate in plates:
        parts += [(f"opening {o.head} {_um(o.height)}", plate.opening_foot(o)) for o in plate.openings]
        for mark in plate.marks:
            edge = mark.edge or plate.edge
            word = f"{mark.on} {_um(mark.depth)} {_um(mark.start)} {_rounded(*_drawn(mark.region)) if edge else ''}"
            parts.append((word, LineString(edge) if edge else mark.region))
    return parts


# --- where, in micrometres ---


def _um(mm: float) -> int:
    return math.floor(mm * 1000 + 0.5 + _TIE)


def _corner(point: Point) -> Corner:
    return _um(point[0]), _um(point[1])


def _drawn(where: BaseGeometry) -> tuple[Ending, list[list[Point]]]:
    """The outlines of regions, lines as they are walked, or points, and how each is brought into its one form."""
    if isinstance(where, LineString):
        return tuple, [shapely.get_coordinates(where).tolist()]
    if isinstance(where, MultiPoint):
        return _in_order, [shapely.get_coordinates(where).tolist()]
    rings = shapely.get_rings(shapely.get_parts(where)).tolist()
    return _as_ring, [shapely.get_coordinates(ring).tolist() for ring in rings]


def _in_order(points: Sequence[Corner]) -> tuple[Corner, ...]:
    return tuple(sorted(points))


def _as_ring(points: Sequence[Corner]) -> tuple[Corner, ...]:
    return canonical_ring([p for p, before in zip(points[1:], points, strict=False) if p != before])


def _rounded(end: Ending, rings: Sequence[Sequence[Point]], least: Point = (0.0, 0.0)) -> Rings:
    """Rings, lines or points in micrometres from a point."""
    west, south = least
    return tuple(sorted(end([(_um(x - west), _um(y - south)) for x, y in ring]) for ring in rings))


def canonical_ring(points: Sequence[Corner]) -> tuple[Corner, ...]:
    """A ring of distinct neighbours, collinear corners dropped, counter-clockwise from its least corner.

    Corners that rounding alone keeps off a straight side are collinear too; a fine curve's are none of these.
    """
    kept = [p for i, p in enumerate(points) if not _straight(points[i - 1], p, points[(i + 1) % len(points)])]
    kept = _less_rounding(kept)
    if not kept:
        return ()
    doubled = math.fsum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(kept, kept[1:] + kept[:1], strict=True))
    if doubled < 0:
        kept.reverse()
    first = kept.index(min(kept))
    return tuple(kept[first:] + kept[:first])


def _straight(a: Corner, b: Corner, c: Corner) -> bool:
    return (b[0] - a[0]) * (c[1] - b[1]) == (b[1] - a[1]) * (c[0] - b[0])


def _less_rounding(points: Sequence[Corner]) -> list[Corner]:
    """A ring without the corners between two others that are on the way from one to the other but for rounding."""
    near = [_on_the_way(points[i - 1], p, points[(i + 1) % len(points)]) for i, p in enumerate(points)]
    if all(near) or not any(near):
        return list(points)
    first = near.index(False)
    kept: list[Corner] = []
    run: list[Corner] = []
    for k in range(first, first + len(points) + 1):
        corner = points[k % len(points)]
        if near[k % len(points)]:
            run.append(corner)
            continue
        # Each of a fine curve's corners may be nearly straight; together they are not.
        if kept and not all(_on_the_way(kept[-1], p, corner) for p in run):
            kept += run
        kept.append(corner)
        run = []
    return kept[:-1]


def _on_the_way(a: Corner, b: Corner, c: Corner) -> bool:
    """Whether a corner is on the way from a to c but for the rounding of all three."""
    dx, dy = c[0] - a[0], c[1] - a[1]
    length = math.hypot(dx, dy)
    off, along = dx * (b[1] - a[1]) - dy * (b[0] - a[0]), dx * (b[0] - a[0]) + dy * (b[1] - a[1])
    slack = _ROUNDING_UM * length
    return abs(off) <= slack and -slack <= along <= length * length + slack
