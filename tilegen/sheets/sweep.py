"""The kerf sweep: a sheet less all that the tool takes away must fall into exactly the parts that were wanted."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching
from shapely.affinity import affine_transform
from shapely.geometry import Polygon, box

from tilegen.geometry import Geometries, quarter_turned
from tilegen.sheets.auditread import CUTS, Path, SheetFile
from tilegen.sheets.findings import Finding

# Without a kerf a cut still parts: wide enough for float64, far narrower than any tool.
_KNIFE_MM = 0.004
_ROUNDNESS = 8
# What a part's outline may be off by: rounding, and the chords that stand for the tool's round sweep.
_TOLERANCE_MM = 0.01
_OF_KERF = 0.015
_MITRE_LIMIT = 2.0
# Smaller pieces are dust.
_DUST_MM2 = 0.01


class Expected(NamedTuple):
    """Pieces of one part that must come out of a sheet. slack: mm that its outline may be off besides (tabs, arcs)."""

    name: str
    outline: Polygon
    number: int
    slack: float = 0.0


def check_sweep(sheet: SheetFile, expected: Sequence[Expected] | None) -> Iterator[Finding]:
    """Cut the sheet as its file says and look at what falls out of it."""
    if sheet.size is None or "blade path" in sheet.said:
        return
    paths = [*sheet.on(*CUTS), *sheet.leads, *sheet.on("WIRE")]
    if not paths:
        return
    x, y = sheet.kerf or (0.0, 0.0)
    kerf = (max(x, _KNIFE_MM), max(y, _KNIFE_MM))
    pieces = _pieces(paths, sheet.size, kerf)
    rings = sheet.on(*CUTS)
    if "edge to edge" in sheet.said or "common lines" in sheet.said:
        # The lines of neighbours meet: what lies between them falls into any number of pieces.
        pass
    elif not sheet.on("WIRE") and all(path.closed for path in rings):
        outer, inner = ([path.points for path in sheet.on(layer)] for layer in ("CUT_OUTER", "CUT_INNER"))
        wanted = len(outer) + _slugs(inner, kerf)
        found = int((shapely.area(pieces) > _DUST_MM2).sum())
        all_rings = [*outer, *inner]
        wastes = 1 if _within(all_rings, sheet.size, kerf) else _wastes(all_rings, sheet.size, kerf)
        # Where nothing reaches the edge, a slit hardly wider than the cut may still leave islands of waste.
        if found != wanted + wastes and found != wanted + (wastes := _wastes(all_rings, sheet.size, kerf)):
            yield Finding("S13", f"{found} pieces, by its outlines there ought to be {wanted + wastes}")
    elif expected is None and len(pieces) < 2:
        yield Finding("S13", "nothing comes loose")
    if expected is not None:
        yield from _ledger(pieces, expected, kerf, slits=bool(sheet.on("WIRE")))


def _pieces(paths: Sequence[Path], size: tuple[float, ...], kerf: tuple[float, float]) -> Geometries:
    """What a sheet falls into; where the kerf differs in x and y all is stretched until the tool is round."""
    scale = np.array(kerf) / max(kerf)
    lines = []
    for path in paths:
        ring = np.vstack([path.points, path.points[:1]]) if path.closed else path.points
        lines.append(shapely.linestrings(ring / scale))
    pieces = _left(np.array(lines), size, kerf)
    return pieces if scale.min() == 1 else shapely.transform(pieces, lambda points: points * scale)


def _slugs(holes: Sequence[npt.NDArray[np.float64]], kerf: tuple[float, float]) -> int:
    """How many pieces fall out of holes; the tool leaves nothing of one no wider than itself, or several of a waist."""
    scale = np.array(kerf) / max(kerf)
    left = shapely.buffer([Polygon(hole / scale) for hole in holes], -max(kerf) / 2)
    return int((shapely.area(shapely.get_parts(left)) * scale.prod() > _DUST_MM2).sum())


def _within(rings: Sequence[npt.NDArray[np.float64]], size: tuple[float, ...], kerf: tuple[float, float]) -> bool:
    """Whether no cut reaches the sheet's own edge."""
    west, south, east, north = size
    reach, corners = np.array(kerf) / 2, np.vstack(rings)
    return bool((corners - reach > (west, south)).all() and (corners + reach < (east, north)).all())


def _wastes(rings: Sequence[npt.NDArray[np.float64]], size: tuple[float, ...], kerf: tuple[float, float]) -> int:
    """Into how many pieces the waste round the parts falls."""
    scale = np.array(kerf) / max(kerf)
    left = _left(np.array([Polygon(ring / scale) for ring in rings]), size, kerf)
    return int((shapely.area(left) * scale.prod() > _DUST_MM2).sum())


def _left(cut: Geometries, size: tuple[float, ...], kerf: tuple[float, float]) -> Geometries:
    """What a sheet falls into less all within half a kerf of what is cut, stretched as that is."""
    west, south, east, north = np.array(size) / np.tile(np.array(kerf) / max(kerf), 2)
    rest = box(west, south, east, north).difference(
        shapely.union_all(shapely.buffer(cut, max(kerf) / 2, quad_segs=_ROUNDNESS))
    )
    return np.array(shapely.get_parts(rest), dtype=object)


def _ledger(
    pieces: Geometries, expected: Sequence[Expected], kerf: tuple[float, float], *, slits: bool
) -> Iterator[Finding]:
    """Each part comes out as often as it should, whichever way it lies; never mirrored."""
    bounds = shapely.bounds(pieces)
    sizes, areas = bounds[:, 2:] - bounds[:, :2], shapely.area(pieces)
    # By the middle: what a curve adds to a part, it adds on both sides.
    shifts = np.repeat((bounds[:, :2] + bounds[:, 2:]) / 2, shapely.get_num_coordinates(pieces), axis=0)
    moved = shapely.transform(pieces, lambda points: points - shifts)
    pairs: list[tuple[int, int]] = []
    for number, part in enumerate(expected):
        reach = _OF_KERF * max(kerf) + _TOLERANCE_MM + part.slack
        free = np.ones(len(pieces), dtype=bool)
        for turned in _turns(part.outline):
            wanted = _centred(tooled(turned, kerf) if max(kerf) > _KNIFE_MM else _knifed(turned))
            like = free & (np.abs(sizes - 2 * np.array(wanted.bounds[2:])) <= 2 * reach).all(axis=1)
            like &= np.abs(areas - wanted.area) <= reach * wanted.length + (wanted.area if slits else 0)
            for index in np.flatnonzero(like):
                if _same(moved[index], wanted, reach, max(kerf), slits=slits):
                    free[index] = False
                    pairs.append((int(index), number))
    for part, count in zip(expected, _assigned(pairs, len(pieces), [part.number for part in expected]), strict=True):
        if count != part.number:
            yield Finding("S14", f"{part.name}: {count} of {part.number} come out true")


def _assigned(pairs: Sequence[tuple[int, int]], pieces: int, numbers: Sequence[int]) -> list[int]:
    """How many pieces each part gets where as many as can be get one that they pass for.

    pairs: of a piece and a part that it passes for; parts may be so like each other that a piece passes for several.
    """
    owners = np.repeat(np.arange(len(numbers)), numbers)
    fits = np.zeros((pieces, len(numbers)), dtype=bool)
    fits[tuple(np.array(pairs, dtype=int).reshape(-1, 2).T)] = True
    given = maximum_bipartite_matching(csr_matrix(fits[:, owners]), perm_type="row")
    return [int(n) for n in np.bincount(owners[given >= 0], minlength=len(numbers))]


def _knifed(part: Polygon) -> Polygon:
    """A part as the knife's stand-in leaves it, whose path is the part's own outline."""
    return part.buffer(-_KNIFE_MM / 2, join_style="mitre", mitre_limit=1000)


def tooled(part: Polygon, kerf: tuple[float, float]) -> Polygon:
    """A part as a round tool leaves it: (sqrt 2 - 1) of its radius stays in each inner corner of 90 degrees."""
    scale = np.array(kerf) / max(kerf)
    path = shapely.transform(part, lambda points: points / scale).buffer(
        max(kerf) / 2, join_style="mitre", mitre_limit=_MITRE_LIMIT
    )
    left = path.buffer(-max(kerf) / 2, quad_segs=_ROUNDNESS)
    return shapely.transform(left, lambda points: points * scale)


def _centred(part: Polygon) -> Polygon:
    west, south, east, north = part.bounds
    return affine_transform(part, [1, 0, 0, 1, -(west + east) / 2, -(south + north) / 2])


def _turns(outline: Polygon) -> Iterator[Polygon]:
    """The four quarter turns of a part about the origin; equal ones once."""
    seen: list[Polygon] = []
    for _ in range(4):
        outline = shapely.transform(outline, quarter_turned)
        turned = _centred(outline)
        if not any(turned.equals(other) for other in seen):
            seen.append(turned)
            yield turned


def _same(piece: Polygon, part: Polygon, reach: float, kerf: float, *, slits: bool) -> bool:
    """Nearer to the part than a round tool's residue everywhere; a wire's slits to its holes may be missing."""
    if len(piece.interiors) == len(part.interiors):
        apart = piece.symmetric_difference(part)
        # Tips of spikes are further apart than they are wide.
        near = piece.hausdorff_distance(part) <= reach or apart.buffer(-reach / 2).is_empty
        # That distance is taken at corners alone: a notch in the wrong one of two parallel sides has none.
        if near and apart.area <= reach * part.length:
            return True
    if not slits or not part.interiors:
        return False
    # What a wire takes away on its way into a hole is as narrow as the wire's cut.
    lost = part.difference(piece)
    return piece.difference(part).buffer(-reach).is_empty and lost.buffer(-(kerf / 2 + reach)).is_empty
