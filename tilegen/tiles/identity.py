"""A tile type's identity: its geometry up to quarter turns, rounded to a micrometre; never its name."""

from __future__ import annotations

import hashlib
import math
from collections import Counter
from collections.abc import Iterable, Sequence

import shapely
import shapely.affinity
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import from_edge, quarter_turned
from tilegen.tiles.plate import Mark, Plate

# Letters and digits that can't be read for one another, not even upside down or in strokes.
ALPHABET = "ACDEFHJKLPRTUVXY3478"
ID_LENGTH = 7
# Lengths such as 3/16 in lie exactly between two micrometres: this decides such ties the same way in every turn.
_TIE = 1e-3
# Rounding moves a corner, and the line between its neighbours, by half a micrometre's diagonal each.
_ROUNDING_UM = math.sqrt(2)
# Derived corners of one geometry, worked out in two poses, are no further apart than this.
_SAME_UM = 5.0

Corner = tuple[int, int]
Rings = tuple[tuple[Corner, ...], ...]
Description = tuple[tuple[str, int, int, Rings], ...]


def short_id(plates: Sequence[Plate]) -> str:
    """Seven characters from the plates' geometry, the same for all four quarter turns."""
    return encode(repr(canonical(plates)).encode())


def encode(content: bytes, length: int = ID_LENGTH) -> str:
    """A hash of some bytes in the alphabet of the ids."""
    number = int.from_bytes(hashlib.sha256(content).digest()[:16], "big")
    letters = []
    for _ in range(length):
        number, rest = divmod(number, len(ALPHABET))
        letters.append(ALPHABET[rest])
    return "".join(letters)


def canonical(plates: Sequence[Plate]) -> Description:
    """The least of the four turned descriptions of the plates' geometry, joints left out, in micrometres."""
    return min(poses(plates))


def poses(plates: Sequence[Plate]) -> list[Description]:
    """The descriptions after 0, 1, 2 and 3 clockwise quarter turns."""
    parts = _parts(plates)
    descriptions = []
    for _ in range(4):
        west, south, _, _ = parts[0][3].bounds
        descriptions.append(tuple(sorted((n, b, t, _rings(g, west, south)) for n, b, t, g in parts)))
        parts = [(n, b, t, shapely.transform(g, quarter_turned)) for n, b, t, g in parts]
    return descriptions


def same_geometry(one: Description, other: Description) -> bool:
    """Whether two descriptions differ by rounding alone: turned and mirrored pieces of one geometry may."""
    if one == other:
        return True
    if Counter(part[:3] for part in one) != Counter(part[:3] for part in other):
        return False
    return all(_near(_lines(one, key), _lines(other, key)) for key in {part[:3] for part in one})


def _lines(description: Description, key: tuple[str, int, int]) -> BaseGeometry:
    """The outlines of the parts of one kind and height, in micrometres."""
    rings = [ring for part in description if part[:3] == key for ring in part[3] if ring]
    return shapely.MultiLineString([(*ring, ring[0]) for ring in rings])


def _near(one: BaseGeometry, other: BaseGeometry) -> bool:
    if one.is_empty or other.is_empty:
        return bool(one.is_empty and other.is_empty)
    apart = max(abs(a - b) for a, b in zip(one.bounds, other.bounds, strict=True))
    return apart <= _SAME_UM and float(shapely.hausdorff_distance(one, other)) <= _SAME_UM


def _parts(plates: Sequence[Plate]) -> list[tuple[str, int, int, BaseGeometry]]:
    """(kind, bottom, top, region on the plan): what lies (if anything), all that stands as one, openings, grooves."""
    lying = [p for p in plates if p.edge is None]
    standing = [p for p in plates if p.edge is not None]
    parts: list[tuple[str, int, int, BaseGeometry]] = [(p.role, _um(p.bottom), _um(p.top), p.foot) for p in lying]
    for bottom, top in sorted({(p.bottom, p.top) for p in standing}):
        feet = [p.foot for p in standing if (p.bottom, p.top) == (bottom, top)]
        parts.append(("standing", _um(bottom), _um(top), shapely.union_all(feet)))
    for plate in standing:
        for opening, foot in zip(plate.openings, opening_feet(plate), strict=True):
            # Where nothing of the wall is over it, no head is to be seen.
            head = "flat" if plate.is_open_topped(opening) else opening.head
            parts.append((f"opening {head}", _um(plate.bottom), _um(plate.bottom + opening.height), foot))
    return parts + [_mark_part(plate, mark) for plate in plates for mark in plate.marks]


def _mark_part(plate: Plate, mark: Mark) -> tuple[str, int, int, BaseGeometry]:
    """A mark's kind, heights and what it covers on the plan; its shape on an upright face goes into the kind."""
    if mark.on == "top":
        return "groove", _um(plate.top - mark.depth), _um(plate.top), mark.region
    if mark.on == "under":
        return "under", _um(plate.bottom), _um(plate.bottom + mark.depth), mark.region
    edge = mark.edge or plate.edge
    if edge is None:
        raise ValueError(f"plate {plate.name} lies flat: a mark on its {mark.on} needs an edge")
    near, _, far, _ = mark.region.bounds
    sign = -1 if mark.on == "inner" else 1
    start = (plate.thickness if mark.on == "inner" else 0.0) + sign * mark.start
    inwards = start + sign * mark.depth
    corners = [from_edge(edge, s, d) for d in (start, inwards) for s in (near, far)]
    shape = shapely.affinity.translate(mark.region, -near, plate.bottom)
    kind = f"{mark.on} {'raised' if mark.depth < 0 else 'sunk'} {_rings(shape, 0.0, 0.0)}"
    return kind, 0, 0, shapely.convex_hull(shapely.MultiPoint(corners))


def opening_feet(plate: Plate) -> list[Polygon]:
    """What each opening of a standing plate covers on the plan, through the plate's thickness."""
    return [] if plate.edge is None else [plate.opening_foot(opening) for opening in plate.openings]


def _um(mm: float) -> int:
    return math.floor(mm * 1000 + 0.5 + _TIE)


def _rings(region: BaseGeometry, west: float, south: float) -> Rings:
    polygons: Iterable[BaseGeometry] = getattr(region, "geoms", [region])
    rings = []
    for polygon in polygons:
        if isinstance(polygon, Polygon):
            rings += [_ring(ring.coords, west, south) for ring in (polygon.exterior, *polygon.interiors)]
    return tuple(sorted(rings))


def _ring(coordinates: Iterable[Sequence[float]], west: float, south: float) -> tuple[Corner, ...]:
    """A ring in micrometres, collinear corners dropped, from its least corner, in one sense of walking."""
    points = [(_um(x - west), _um(y - south)) for x, y, *_ in coordinates]
    return canonical_ring([p for p, before in zip(points[1:], points, strict=False) if p != before])


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
