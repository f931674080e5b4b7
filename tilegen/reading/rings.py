"""Loose lines of a drawing to one outline with holes: joined end to end, nested, numbered from one corner."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import KDTree
from shapely.geometry import Polygon
from shapely.geometry.polygon import orient
from shapely.validation import explain_validity

from tilegen.errors import InputError
from tilegen.geometry import SNAP_MM, Point, Points

# Ends nearer than this are one point; a curve's chords are no further from it than the second.
JOIN_MM = 0.02
FURTHEST_MM = 1e6
MOST_PIECES = 20_000
MOST_POINTS = 100_000


@dataclass(frozen=True)
class Rings:
    """An outline, counter-clockwise from its southernmost (then westernmost) corner, and its holes; mm, from (0, 0)."""

    points: tuple[Point, ...]
    holes: tuple[tuple[Point, ...], ...]


def rings_of(pieces: Sequence[Points]) -> Rings:
    """One outline with holes from open and closed lines, (n, 2) each, in mm.

    Raises:
        InputError: nothing closed, a gap, a branch, lines that cross, several outlines, an island; with coordinates.
    """
    if not 1 <= len(pieces) <= MOST_PIECES or sum(map(len, pieces)) > MOST_POINTS:
        raise InputError(
            f"{len(pieces)} lines with {sum(map(len, pieces))} points",
            expected=f"an outline: 1 to {MOST_PIECES} lines, at most {MOST_POINTS} points",
        )
    bad = next((p for p in pieces if not np.isfinite(p).all() or np.abs(p).max(initial=0.0) > FURTHEST_MM), None)
    if bad is not None:
        raise InputError("a coordinate that is no length, or over 1 km", expected="an outline of a tile")
    closed = [p for p in pieces if len(p) > 2 and math.dist(p[0], p[-1]) <= JOIN_MM]
    loose = [p for p in pieces if not (len(p) > 2 and math.dist(p[0], p[-1]) <= JOIN_MM) and _extent(p) > JOIN_MM]
    rings = [ring for ring in map(_cleaned, [*closed, *_joined(loose)]) if len(ring) >= 3]
    if not rings:
        raise InputError("no closed line", expected="a closed outline")
    outer, holes = _nested([_valid(ring) for ring in rings])
    west, south = outer.bounds[:2]
    return Rings(_numbered(outer, west, south), tuple(_numbered(hole, west, south) for hole in holes))


def at(point: Sequence[float]) -> str:
    """A place in a drawing, as messages say it."""
    return f"({point[0]:.3f}, {point[1]:.3f}) mm"


def _extent(piece: Points) -> float:
    return float(np.ptp(piece, axis=0).max()) if len(piece) else 0.0


def _joined(pieces: list[Points]) -> list[Points]:
    """Rings from open lines; end 2k is the start of piece k, end 2k + 1 its end."""
    if not pieces:
        return []
    ends = np.array([end for piece in pieces for end in (piece[0], piece[-1])])
    partner = _partners(ends)
    rings, used = [], [False] * len(pieces)
    for first in range(len(pieces)):
        walk, piece, backwards = [], first, False
        while not used[piece]:
            used[piece] = True
            walk.append(pieces[piece][::-1] if backwards else pieces[piece])
            arrival = partner[2 * piece + (0 if backwards else 1)]
            piece, backwards = arrival // 2, arrival % 2 == 1
        if walk:
            rings.append(np.concatenate(walk))
    return rings


def _partners(ends: Points) -> list[int]:
    """The one other end that each end meets."""
    tree = KDTree(ends)
    partners: list[list[int]] = [[] for _ in ends]
    for a, b in sorted(tree.query_pairs(JOIN_MM)):
        partners[a].append(b)
        partners[b].append(a)
    for end, others in enumerate(partners):
        if len(others) > 1:
            raise InputError(
                f"{len(others) + 1} lines that meet at {at(ends[end])}",
                expected="two lines at each corner",
                cure="remove lines that lie on one another, and those that are not part of the outline",
            )
    lonely = [end for end, others in enumerate(partners) if not others]
    if lonely:
        other = min(lonely[1:], key=lambda end: math.dist(ends[end], ends[lonely[0]]))
        gap = math.dist(ends[other], ends[lonely[0]])
        raise InputError(
            f"an open outline: a gap of {gap:.3f} mm between {at(ends[lonely[0]])} and {at(ends[other])}",
            expected=f"ends that meet within {JOIN_MM:g} mm",
            cure="close the outline in the drawing",
        )
    return [others[0] for others in partners]


def _cleaned(ring: Points) -> Points:
    """A ring without its closing point and without points on top of the one before."""
    kept: list[int] = []
    for index in range(len(ring)):
        if not kept or math.dist(ring[kept[-1]], ring[index]) > SNAP_MM:
            kept.append(index)
    while len(kept) > 1 and math.dist(ring[kept[0]], ring[kept[-1]]) <= JOIN_MM:
        kept.pop()
    return ring[kept]


def _valid(ring: Points) -> Polygon:
    polygon = Polygon(ring)
    if not polygon.is_valid:
        raise InputError(f"a line that crosses or touches itself ({explain_validity(polygon)} mm)", expected="a ring")
    return orient(polygon)


def _nested(rings: list[Polygon]) -> tuple[Polygon, list[Polygon]]:
    """The one outer ring and the holes directly in it."""
    rings = sorted(rings, key=lambda ring: (-ring.area, ring.bounds))
    outer, holes = rings[0], rings[1:]
    for number, ring in enumerate(holes):
        for other in (outer, *holes[:number]):
            crossing = ring.exterior.intersection(other.exterior)
            if not crossing.is_empty:
                point = shapely.get_coordinates(crossing)[0]
                raise InputError(f"two lines that cross or touch at {at(point)}", expected="rings apart from another")
        inside = ring.representative_point()
        if not outer.contains(inside):
            raise InputError(
                f"a second outline or a hole outside, at {at(inside.coords[0])}", expected="one outline with its holes"
            )
        if any(other.contains(inside) for other in holes[:number]):
            raise InputError(f"an island in a hole, at {at(inside.coords[0])}", expected="one outline with its holes")
    return outer, holes


def _numbered(ring: Polygon, west: float, south: float) -> tuple[Point, ...]:
    points = [(x - west, y - south) for x, y in ring.exterior.coords[:-1]]
    first = min(range(len(points)), key=lambda i: (round(points[i][1], 6), round(points[i][0], 6)))
    return tuple(points[first:] + points[:first])
