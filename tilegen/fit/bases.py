"""Which figures stand where: the largest disc in every block of spaces, and the rooms a figure can't get to.

How a figure moves here: by steps of one space, from a block where it stands to the next one where it stands,
across any line on which nothing stands (an open way too). Through a doorway or a saddle it goes if its base is
at most as wide as the opening: from a block that touches the door's cell side to one on the other side of it. In
between it is lifted by hand: the gap between two posts is not measured. So a base that does not stand beside a
wall gets through no doorway either, however wide.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage, sparse
from scipy.sparse import csgraph

from tilegen.errors import InputError
from tilegen.fit.sizes import check_base, spaces_across
from tilegen.fit.spaces import Bools, Bytes, Spaces, blocks_of, box_sums, spaces_of
from tilegen.grid import Grid
from tilegen.plans.drawing import Drawing
from tilegen.plans.route import Areas, find_areas

# How exactly a disc is said to fit, mm (the contract's).
TOLERANCE_MM = 1e-6
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Unreached:
    """A connected part of a room that a figure can't get to; first_cell: column and row from 1."""

    room: str
    title: str
    first_cell: tuple[int, int]
    cells: int


@dataclass(frozen=True)
class Figure:
    """Where a figure stands.

    blocks: (rows, columns) whether a block of spaces_across spaces each way starts there; standing: whether the
    figure stands in it; least, most: the smallest and largest disc that any block takes, 0 without a block.
    unreached: parts of rooms it can't get to; from_ways_in: whether it was let in by the plan's ways in (else the
    largest connected part of where it stands counts as got to).
    """

    base: float
    spaces_across: int
    blocks: Bools
    standing: Bools
    least: float
    most: float
    unreached: tuple[Unreached, ...]
    from_ways_in: bool

    @cached_property
    def positions(self) -> int:
        """Blocks of floor with no wall line inside."""
        return int(self.blocks.sum())

    @cached_property
    def stands(self) -> int:
        """Positions where the figure stands."""
        return int(self.standing.sum())

    @cached_property
    def blocked(self) -> Ints:
        """(n, 2) column and row, from 1, of the first space of each position where it does not stand."""
        row, column = np.nonzero(self.blocks & ~self.standing)
        return np.stack([column + 1, row + 1], axis=1)

    @property
    def rooms_unreached(self) -> tuple[str, ...]:
        """Letters of which some part can't be got to, in alphabetical order."""
        return tuple(sorted({part.room for part in self.unreached}))


def figures_on(drawing: Drawing, bases: list[float]) -> tuple[Figure, ...]:
    """Where figures with these bases (diameters in mm) stand on a plan.

    Raises:
        InputError: a base that is not above 0, not finite, or larger than the map.
    """
    spaces, areas, longest = spaces_of(drawing), find_areas(drawing), max(drawing.rooms.shape) * drawing.cell_side
    found = []
    for base in bases:
        check_base(base)
        if spaces_across(base) > max(spaces.shape):
            raise InputError(
                f"a figure with a base of {base:g} mm",
                expected=f"one that is not larger than the map, {max(spaces.shape)} spaces or {longest:g} mm long",
                place="--figure",
            )
        found.append(_figure(spaces, areas, base))
    return tuple(found)


def figures_record(figures: tuple[Figure, ...]) -> list[dict[str, Any]]:
    """`figures` of the fit's JSON."""
    return [
        {
            "base_mm": figure.base,
            "spaces_across": figure.spaces_across,
            "positions": figure.positions,
            "stands": figure.stands,
            "blocked": figure.blocked.tolist(),
        }
        for figure in figures
    ]


def reach_record(figures: tuple[Figure, ...]) -> list[dict[str, Any]]:
    """For each figure, the parts of rooms it can't get to, as JSON."""
    return [
        {
            "base_mm": figure.base,
            "from_ways_in": figure.from_ways_in,
            "unreached": [
                {"room": part.room, "title": part.title, "first_cell": list(part.first_cell), "cells": part.cells}
                for part in figure.unreached
            ],
        }
        for figure in figures
    ]


def _figure(spaces: Spaces, areas: Areas, base: float) -> Figure:
    across = spaces_across(base)
    blocks = blocks_of(spaces, across)
    largest, which = _largest_by_block(spaces, blocks, across)
    standing = np.zeros(blocks.shape, bool)
    standing[blocks] = (largest + TOLERANCE_MM >= base)[which]
    reached, from_ways_in = _reached(spaces, standing, base, across)
    return Figure(
        base,
        across,
        blocks,
        standing,
        float(largest.min(initial=np.inf)) if len(largest) else 0.0,
        float(largest.max(initial=0.0)),
        _unreached(spaces, areas, reached, across),
        from_ways_in,
    )


# --- the largest disc ------------------------------------------------------------------------------------------


def _largest_by_block(spaces: Spaces, blocks: Bools, across: int) -> tuple[Floats, Ints]:
    """The largest disc of each distinct kind of block, and the kind of every block in reading order."""
    kinds = _kinds(spaces, blocks, across)
    _, first, which = np.unique(kinds, return_index=True, return_inverse=True)
    rows, columns = np.nonzero(blocks)
    known: dict[tuple[bytes, bytes], float] = {}
    largest = []
    for at in first.tolist():
        here = np.s_[rows[at] : rows[at] + across, columns[at] : columns[at] + across]
        largest.append(_known_disc(spaces.strips[here], spaces.posts[here], spaces.drawing.grid, known))
    return np.array(largest), which.astype(np.int64)


def _kinds(spaces: Spaces, blocks: Bools, across: int) -> Ints:
    """One number for each distinct content of the blocks."""
    codes = spaces.strips.astype(np.int64) * 16 + spaces.posts
    if across == 1:
        return codes[blocks]
    # Only the outermost spaces of a block can hold anything: walls would be inside otherwise.
    row, column = np.nonzero(blocks)
    _, codes = np.unique(codes, return_inverse=True)
    codes = codes.reshape(spaces.shape)
    last = across - 1
    ring = [(0, c) for c in range(across)] + [(last, c) for c in range(across)]
    ring += [(r, c) for r in range(1, last) for c in (0, last)]
    kinds = np.zeros(len(row), np.int64)
    for r, c in ring:
        kinds = kinds * (int(codes.max()) + 1) + codes[row + r, column + c]
        if kinds.max(initial=0) > 2**40:
            _, kinds = np.unique(kinds, return_inverse=True)
    return kinds


def _known_disc(strips: Bytes, posts: Bytes, grid: Grid, known: dict[tuple[bytes, bytes], float]) -> float:
    """The largest disc of a block, worked out once for its four turns and their mirror images."""
    alike = []
    for _ in range(4):
        for one, other in ((strips, posts), _mirrored(strips, posts)):
            alike.append((one.tobytes(), other.tobytes()))
        strips, posts = _turned(strips, posts)
    key = min(alike)
    if key not in known:
        known[key] = largest_disc(strips, posts, grid.pitch, grid.wall_thickness)
    return known[key]


def _turned(strips: Bytes, posts: Bytes) -> tuple[Bytes, Bytes]:
    """A quarter turn clockwise: north becomes east, the north-east corner the south-east one."""
    strips, posts = np.rot90(strips, -1), np.rot90(posts, -1)
    return (strips << 1 & 15 | strips >> 3).astype(np.uint8), (posts << 1 & 15 | posts >> 3).astype(np.uint8)


def _mirrored(strips: Bytes, posts: Bytes) -> tuple[Bytes, Bytes]:
    """East and west exchanged; so are corners 0 and 3 (north) and 1 and 2 (south)."""
    strips, posts = strips[:, ::-1], posts[:, ::-1]
    strips = (strips & 5 | (strips & 2) << 2 | (strips & 8) >> 2).astype(np.uint8)
    posts = ((posts & 1) << 3 | (posts & 8) >> 3 | (posts & 2) << 1 | (posts & 4) >> 1).astype(np.uint8)
    return strips, posts


def largest_disc(strips: Bytes, posts: Bytes, pitch: float, wall: float) -> float:
    """The diameter, in mm, of the largest disc in a block's floor less strips and posts (square, n x n spaces).

    The floor's edges are axis-parallel lines and its inward corners points. The centre of a largest disc is as
    far from three of them (or it could grow), so every such centre is worked out in closed form, and the one
    with most room around it taken: exact to rounding. With one post only: (pitch - wall)(4 - 2 sqrt 2).
    """
    side = len(strips) * pitch
    taken = _taken(strips, posts, pitch, wall)
    upright = {(0.0, 1), (side, -1)} | {(x, 1) for x in taken[:, 2]} | {(x, -1) for x in taken[:, 0]}
    level = {(0.0, 1), (side, -1)} | {(y, 1) for y in taken[:, 3]} | {(y, -1) for y in taken[:, 1]}
    points = {(x, y) for x0, y0, x1, y1 in taken for x in (x0, x1) for y in (y0, y1) if 0 < x < side and 0 < y < side}
    lines = [sorted((a, s) for a, s in group if 0 <= a <= side) for group in (upright, level)]
    centres = [(side / 2, side / 2), *_centres(lines[0], lines[1], sorted(points))]
    centres += [(x, y) for y, x in _centres(lines[1], lines[0], sorted((y, x) for x, y in points))]
    return 2 * float(_room_around(np.array(centres), taken, side).max())


def _taken(strips: Bytes, posts: Bytes, pitch: float, wall: float) -> Floats:
    """(m, 4) rectangles west, north, east, south that strips and posts take; strips in a row are one."""
    found: set[tuple[float, float, float, float]] = set()
    n = len(strips)
    for r in range(n):
        for c in range(n):
            west, north, east, south = c * pitch, r * pitch, (c + 1) * pitch, (r + 1) * pitch
            for k in range(4):
                if strips[r, c] >> k & 1:
                    first, last = _run(strips[r], k, c) if k in (0, 2) else _run(strips[:, c], k, r)
                    low, high = first * pitch, (last + 1) * pitch
                    found.add(
                        (
                            (low, north, high, north + wall),
                            (east - wall, low, east, high),
                            (low, south - wall, high, south),
                            (west, low, west + wall, high),
                        )[k]
                    )
                if posts[r, c] >> k & 1:
                    x, y = (east - wall if k in (0, 1) else west), (south - wall if k in (1, 2) else north)
                    found.add((x, y, x + wall, y + wall))
    return np.array(sorted(found)).reshape(-1, 4)


def _run(strips: Bytes, side: int, at: int) -> tuple[int, int]:
    """First and last of the places in a row, around one of them, that carry a strip along a side."""
    carried = [bool(strip >> side & 1) for strip in strips.tolist()]
    first = last = at
    while first > 0 and carried[first - 1]:
        first -= 1
    while last + 1 < len(carried) and carried[last + 1]:
        last += 1
    return first, last


Line = tuple[float, int]
Point = tuple[float, float]


def _centres(upright: list[Line], level: list[Line], points: list[Point]) -> list[Point]:
    """Centres as far from three features as from each other: those with an upright line in them, and three points.

    A line (a, s): the floor lies to its growing side if s = 1, to its falling side if s = -1.
    """
    found: list[Point] = []
    for (a, s), (b, t) in combinations(upright, 2):
        if s == t:
            continue
        x, r = (a + b) / 2, abs(b - a) / 2
        found += [(x, c + u * r) for c, u in level]
        for px, py in points:
            found += [(x, py + e) for e in _roots(1.0, 0.0, (x - px) ** 2 - r * r)]
    for a, s in upright:
        for b, t in level:
            for px, py in points:
                u, v = a - px, b - py
                found += [(a + s * r, b + t * r) for r in _roots(1.0, 2 * (s * u + t * v), u * u + v * v)]
        for (px, py), (qx, qy) in combinations(points, 2):
            found += _line_and_points(a, (px, py), (qx, qy))
    found += [centre for three in combinations(points, 3) for centre in _circumcentre(*three)]
    return found


def _line_and_points(a: float, p: Point, q: Point) -> list[Point]:
    """Centres as far from an upright line as from two points: where two parabolas meet."""
    u, v = a - p[0], a - q[0]
    if u == 0 or v == 0:
        return []
    ys = _roots(
        v - u,
        2 * (u * q[1] - v * p[1]),
        v * u * u + v * p[1] ** 2 - u * v * v - u * q[1] ** 2,
    )
    return [(a - (u * u + (y - p[1]) ** 2) / (2 * u), y) for y in ys]


def _circumcentre(p: Point, q: Point, r: Point) -> list[Point]:
    ax, ay, bx, by = q[0] - p[0], q[1] - p[1], r[0] - p[0], r[1] - p[1]
    d = 2 * (ax * by - ay * bx)
    if abs(d) < 1e-12:
        return []
    a, b = ax * ax + ay * ay, bx * bx + by * by
    return [(p[0] + (by * a - ay * b) / d, p[1] + (ax * b - bx * a) / d)]


def _roots(a: float, b: float, c: float) -> list[float]:
    """Real roots of a x^2 + b x + c, without cancellation; a double root that rounding pushed off the axis too."""
    if abs(a) < 1e-12:
        return [] if b == 0 else [-c / b]
    d = b * b - 4 * a * c
    if d < -1e-9 * max(b * b, abs(4 * a * c), 1e-300):
        return []
    q = -(b + (1 if b >= 0 else -1) * max(d, 0.0) ** 0.5) / 2
    return [q / a] if q == 0 else [q / a, c / q]


def _room_around(centres: Floats, taken: Floats, side: float) -> Floats:
    """How far each centre is from the block's sides and from all that is taken; negative outside the block."""
    x, y = centres.T
    room: Floats = np.minimum.reduce([x, y, side - x, side - y])
    for west, north, east, south in taken:
        beside, beyond = np.maximum(west - x, x - east), np.maximum(north - y, y - south)
        inside = np.maximum(beside, beyond)
        room = np.minimum(room, np.where(inside < 0, inside, np.hypot(beside.clip(0), beyond.clip(0))))
    return room


# --- who gets where --------------------------------------------------------------------------------------------


def _reached(spaces: Spaces, standing: Bools, base: float, across: int) -> tuple[Bools, bool]:
    """The positions that are got to, from the ways in or else in the largest connected part."""
    rows, columns = standing.shape
    has_ways_in = any(at.any() for at in _entries(spaces, 0.0))
    if not standing.any():
        return standing, has_ways_in
    raster = np.zeros((2 * rows - 1, 2 * columns - 1), bool)
    raster[0::2, 0::2] = standing
    raster[1::2, 0::2] = standing[1:] & standing[:-1]
    raster[0::2, 1::2] = standing[:, 1:] & standing[:, :-1]
    if across == 1:
        raster[1::2, 0::2] &= ~spaces.shut_across[1:-1]
        raster[0::2, 1::2] &= ~spaces.shut_down[:, 1:-1]
    labels = ndimage.label(raster)[0][0::2, 0::2].astype(np.int64)
    parts = _joined_through_doors(spaces, labels, base, across)[labels]
    if not has_ways_in:
        sizes = np.bincount(parts.ravel(), weights=standing.ravel())
        return (parts == int(np.argmax(sizes))) & standing, False
    entered = [
        parts[r, c]
        for upright, lines in enumerate(_entries(spaces, base))
        for line in np.argwhere(lines)
        for r, c in _touching(spaces, labels, (int(line[0]), int(line[1])), across, upright=bool(upright))
    ]
    return np.isin(parts, np.array(entered, np.int64)) & standing, True


def _widths(spaces: Spaces) -> Floats:
    """How wide a base goes through a line of each kind."""
    width = {"nothing": np.inf, "wall": 0.0}
    return np.array([width.get(k.name, k.opening.width if k.opening else 0.0) for k in spaces.drawing.kinds])


def _entries(spaces: Spaces, base: float) -> tuple[Bools, Bools]:
    """Lines of the drawing between a room and solid ground that let a base through: across, down."""
    drawing = spaces.drawing
    lets = _widths(spaces) + TOLERANCE_MM >= max(base, 2 * TOLERANCE_MM)
    floor = np.pad(drawing.rooms != 0, 1)
    return (
        lets[drawing.across] & (floor[:-1, 1:-1] != floor[1:, 1:-1]),
        lets[drawing.down] & (floor[1:-1, :-1] != floor[1:-1, 1:]),
    )


def _touching(
    spaces: Spaces, labels: Ints, line: tuple[int, int], across: int, *, upright: bool
) -> list[tuple[int, int]]:
    """Standing positions on either side of a line of the drawing whose blocks touch its cell side."""
    k = spaces.drawing.cell_spaces
    at, along = (line[1], line[0]) if upright else line
    found = []
    for beyond in (at * k - across, at * k):
        for step in range(along * k - across + 1, along * k + k):
            r, c = (step, beyond) if upright else (beyond, step)
            if 0 <= r < labels.shape[0] and 0 <= c < labels.shape[1] and labels[r, c]:
                found.append((r, c))
    return found


def _joined_through_doors(spaces: Spaces, labels: Ints, base: float, across: int) -> Ints:
    """For each label, the connected part it is in once doorways and saddles wide enough join the labels."""
    drawing, k = spaces.drawing, spaces.drawing.cell_spaces
    count = int(labels.max()) + 1
    lets = np.array([kind.opening is not None for kind in drawing.kinds]) & (_widths(spaces) + TOLERANCE_MM >= base)
    pairs = [np.zeros((0, 2), np.int64)]
    for grid, lines in ((labels, lets[drawing.across]), (labels.T, lets[drawing.down].T)):
        at, along = np.nonzero(lines)
        pairs += list(_pairs_across(grid, at * k, along * k, across, k))
    edges = np.unique(np.concatenate(pairs), axis=0)
    graph = sparse.coo_array((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(count, count))
    return csgraph.connected_components(graph, directed=False)[1].astype(np.int64)


def _pairs_across(labels: Ints, at: Ints, along: Ints, across: int, k: int) -> list[Ints]:
    """Pairs of labels right above and right below door lines, for all places of blocks that touch the door's side."""
    padded = np.pad(labels, across)
    steps = range(-across + 1, k)
    limit = labels.shape[1] + 2 * across
    columns = [(along + step + across).clip(0, limit - 1) for step in steps]
    above = [padded[at, column] for column in columns]
    # Beyond the last row of positions the padding answers "none".
    below = [padded[np.minimum(at + across, padded.shape[0] - 1), column] for column in columns]
    pairs = []
    for over in above:
        for under in below:
            both = (over > 0) & (under > 0)
            pairs.append(np.stack([over[both], under[both]], axis=1))
    return pairs


def _unreached(spaces: Spaces, areas: Areas, reached: Bools, across: int) -> tuple[Unreached, ...]:
    """The areas of which no space is covered by a position that is got to."""
    rows, columns = spaces.shape
    padded = np.zeros((rows + across - 1, columns + across - 1), bool)
    if reached.size:
        padded[across - 1 : across - 1 + reached.shape[0], across - 1 : across - 1 + reached.shape[1]] = reached
    covered = box_sums(padded, across, across) > 0
    k = spaces.drawing.cell_spaces
    space_area = areas.of.repeat(k, axis=0).repeat(k, axis=1)
    got_to = np.zeros(len(areas.letters), bool)
    got_to[space_area[covered & spaces.floor]] = True
    titles = spaces.drawing.titles
    return tuple(
        Unreached(areas.letters[n], titles.get(areas.letters[n], ""), areas.firsts[n], areas.sizes[n])
        for n in np.flatnonzero(~got_to).tolist()
    )
