"""The auditor of sheets: looks at a written DXF through another library's eyes, apart from what wrote it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import maximum_bipartite_matching
from shapely.affinity import affine_transform
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, SNAP_MM, Geometries, quarter_turned
from tilegen.sheets.sheetfile import CUTS, MARKS, Finding, Path, SheetFile, read_sheet

if TYPE_CHECKING:
    from ezdxf.document import Drawing


# Lines nearer than this are one line to any machine, and an end this near to a line lies on it; mm.
NEAR_MM = 0.02
_DOUBLED_MM = 1.0
_BLADE_MM = 0.1
_NOTCH_MM = 0.5
# How far the chords of a round edge, on which scores end, may be from the arc that the file holds.
_CHORD_MM = 0.05
# Lines never closer than this (common practice, no source); a machine's own figure comes before it.
LEAST_WEB_MM = 0.5
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


def audit_document(
    document: Drawing, expected: Sequence[Expected] | None = None, least_web: float = LEAST_WEB_MM
) -> list[Finding]:
    """Everything wrong with a sheet, in the order of the table of findings.

    expected: the parts that must come out of it, if the caller knows; else only their number is checked, by the
    outlines in the file. least_web: between two cuts, mm.
    """
    sheet = read_sheet(document)
    found = [*_file(sheet), *_steps(sheet)]
    if expected is not None and sheet.kerf is None:
        found.append(Finding(18, 'no "kerf compensated" among the custom properties'))
    found += [*_bounds(sheet), *_order(sheet), *_wire(sheet)]
    if not any(finding.number == 7 for finding in found):
        cuts = _Cuts(sheet, least_web)
        found += [*cuts.open_ends(), *cuts.crossings(), *cuts.webs(), *cuts.nesting(), *cuts.marks()]
        if not {f.number for f in found} & {6, 8, 9}:
            found += _check_kerf(sheet, expected)
    return sorted(found, key=lambda finding: finding.number)


def _file(sheet: SheetFile) -> Iterator[Finding]:
    if not sheet.in_millimetres:
        yield Finding(1, "set the units of the drawing to millimetres")
    for number, names in (
        (2, sheet.undeclared),
        (3, sheet.strange_layers),
        (4, sheet.texts),
        (5, sheet.strange),
    ):
        yield from (Finding(number, name) for name in dict.fromkeys(names))


def _steps(sheet: SheetFile) -> Iterator[Finding]:
    for path in sheet.paths:
        if len(path.points) < 2 or path.shortest <= EQUAL_MM:
            yield Finding(7, f"on {path.layer} at {path.place if len(path.points) else 'no place'}")


def _bounds(sheet: SheetFile) -> Iterator[Finding]:
    if sheet.size is None:
        return
    west, south, east, north = sheet.size
    for path in sheet.paths:
        if path.layer in ("WIRE", "GUIDE"):
            continue
        (x0, y0), (x1, y1) = path.points.min(axis=0), path.points.max(axis=0)
        if min(x0 - west, y0 - south, east - x1, north - y1) < -SNAP_MM:
            yield Finding(11, f"on {path.layer} from ({x0:.2f}, {y0:.2f}) to ({x1:.2f}, {y1:.2f})")


def _order(sheet: SheetFile) -> Iterator[Finding]:
    ranks = {layer: rank for rank, layer in enumerate((*MARKS, "CUT", "WIRE", "GUIDE"))}
    last = 0
    for path in sheet.paths:
        rank = ranks.get("CUT" if path.layer in CUTS else path.layer, last)
        if rank < last:
            yield Finding(16, f"{path.layer} at {path.place} comes too late")
            return
        last = rank


def _wire(sheet: SheetFile) -> Iterator[Finding]:
    wires = sheet.on("WIRE")
    if not wires:
        return
    if len(wires) > 1:
        yield Finding(17, f"{len(wires)} polylines")
    if sheet.size is None:
        return
    west, south, east, north = sheet.size
    for path in wires:
        for x, y in (path.points[0], path.points[-1]):
            if path.closed or (west < x < east and south < y < north):
                yield Finding(17, f"it starts or ends at ({x:.2f}, {y:.2f}), inside the sheet")
                break


class _Cuts:
    """The cut lines of a sheet and how they lie to each other."""

    def __init__(self, sheet: SheetFile, least_web: float) -> None:
        self.sheet, self.web = sheet, least_web
        self.kerf = max(sheet.kerf or (0.0, 0.0))
        self.swivelled = "blade path" in sheet.said
        self.shared = "common lines" in sheet.said
        self.touching = "edge to edge" in sheet.said
        self.paths = sheet.on(*CUTS)
        self.lines = _as_lines(self.paths)
        self.tree = shapely.STRtree(self.lines)
        rings = [i for i, path in enumerate(self.paths) if path.closed and len(path.points) > 2]
        self.rings = np.array(rings, dtype=int)
        self.regions: Geometries = np.array([shapely.Polygon(self.paths[i].points) for i in rings], dtype=object)
        self.layers = [self.paths[i].layer for i in rings]
        if self.shared:
            # Lines shared by neighbours close their outlines together: the faces of the net are what they cut out.
            net = [line for line, path in zip(self.lines, self.paths, strict=True) if not path.closed]
            faces = shapely.get_parts(shapely.polygonize([shapely.union_all(net)]))
            self.regions = np.concatenate([self.regions, faces])
            self.layers += ["CUT_OUTER"] * len(faces)
        shapely.prepare(self.regions)

    def open_ends(self) -> Iterator[Finding]:
        """Ends that join no other cut. A path whose ends lie on itself is closed, whatever its flag says."""
        open_ones = [i for i, path in enumerate(self.paths) if not path.closed]
        if not open_ones:
            return
        # The pivot of a trailing blade cuts corners that the blade itself does not.
        gap = NEAR_MM + (_BLADE_MM if self.swivelled else 0.0)
        ends = [(i, self.paths[i].points[end]) for i in open_ones for end in (0, -1)]
        points: Geometries = np.array([shapely.Point(p) for _, p in ends], dtype=object)
        meets, others = self.tree.query(points, predicate="dwithin", distance=gap)
        joined = {int(m) for m, other in zip(meets, others, strict=True) if ends[m][0] != other}
        for number, (index, (x, y)) in enumerate(ends):
            own = self.paths[index].points
            rest = own[2:] if number % 2 == 0 else own[:-2]
            on_itself = len(rest) > 1 and shapely.LineString(rest).distance(points[number]) <= gap
            if number not in joined and not on_itself:
                yield Finding(6, f"{self.paths[index].layer} ends at ({x:.2f}, {y:.2f})")

    def crossings(self) -> Iterator[Finding]:
        """Cuts that cross or double themselves or each other, scores that run along a cut."""
        if not self.swivelled:
            for index in np.flatnonzero(~shapely.is_simple(self.lines)):
                yield Finding(8, f"{self.paths[index].layer} at {self.paths[index].place} crosses itself")
        first, second = self.tree.query(self.lines, predicate="dwithin", distance=NEAR_MM)
        for i, j in zip(first, second, strict=True):
            if i < j and self._side_by_side(int(i), int(j)):
                continue
            if i < j:
                yield from self._pair(self.lines[i], self.lines[j], f"{self.paths[i].place} and {self.paths[j].place}")
        for lead in _as_lines(self.sheet.leads):
            end = lead.boundary.geoms[-1].buffer(NEAR_MM)
            for i in self.tree.query(lead, predicate="intersects"):
                if not end.covers(lead.intersection(self.lines[i])):
                    yield Finding(8, f"a lead-in and the cut at {self.paths[i].place}")
        marks = self.sheet.on("SCORE", "CREASE")
        lines = _as_lines(marks)
        first, second = self.tree.query(lines, predicate="dwithin", distance=NEAR_MM)
        for i, j in zip(first, second, strict=True):
            if _along(lines[i], self.lines[j]) > _DOUBLED_MM:
                yield Finding(9, f"{marks[i].layer} at {marks[i].place} runs along a cut")
        first, second = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=NEAR_MM)
        for i, j in zip(first, second, strict=True):
            if i < j and _along(lines[i], lines[j]) > _DOUBLED_MM:
                yield Finding(9, f"{marks[i].layer} at {marks[i].place} and {marks[j].place}")

    def _side_by_side(self, i: int, j: int) -> bool:
        """Whether two outlines may share a line: where every cut runs edge to edge, unless they overlap."""
        one, other = self.paths[i], self.paths[j]
        if not self.touching or not (one.layer == other.layer == "CUT_OUTER" and one.closed and other.closed):
            return False
        overlap = shapely.Polygon(one.points).intersection(shapely.Polygon(other.points)).area
        return bool(overlap <= NEAR_MM * min(self.lines[i].length, self.lines[j].length))

    def _pair(self, a: BaseGeometry, b: BaseGeometry, places: str) -> Iterator[Finding]:
        # Slanted edges of neighbours that share their lines may lie at any small angle to each other.
        doubled = a.intersection(b).length if self.shared else _along(a, b)
        if doubled > _DOUBLED_MM:
            yield Finding(9, f"cuts at {places}")
        elif not self.shared and shapely.crosses(a, b):
            yield Finding(8, f"cuts at {places}")

    def webs(self) -> Iterator[Finding]:
        """Cuts that leave too little between them, after the kerf; shared lines are no web."""
        if self.web <= 0:
            return
        reach = self.kerf + self.web - NEAR_MM
        first, second = self.tree.query(self.lines, predicate="dwithin", distance=reach)
        pairs = first < second
        first, second = first[pairs], second[pairs]
        gaps = shapely.distance(self.lines[first], self.lines[second])
        for i, j, gap in zip(first, second, gaps, strict=True):
            # Where neighbours share their lines there is waste only between two outlines, however thin.
            waste = (self.shared or self.touching) and self.paths[i].layer == self.paths[j].layer == "CUT_OUTER"
            if gap > NEAR_MM and not waste:
                left = max(gap - self.kerf, 0.0)
                yield Finding(10, f"{left:.2f} mm left between {self.paths[i].place} and {self.paths[j].place}")
        outer = [n for n, path in enumerate(self.rings) if self.paths[path].layer == "CUT_OUTER"]
        cores = shapely.buffer(self.regions[outer], -(reach / 2), quad_segs=2)
        for n, core in zip(outer, cores, strict=True):
            if core.is_empty or core.geom_type != "Polygon":
                yield Finding(10, f"the part at {self.paths[self.rings[n]].place}")

    def nesting(self) -> Iterator[Finding]:
        """Outlines belong outside of parts, or in their holes; holes belong in parts."""
        if not len(self.rings) or self.shared:
            return
        inside, outside = self._nested()
        depth = np.zeros(len(self.rings), dtype=int)
        np.add.at(depth, inside, 1)
        for n, d in enumerate(depth):
            path = self.paths[self.rings[n]]
            if d % 2 != (path.layer == "CUT_INNER"):
                yield Finding(12, f"{path.layer} at {path.place} lies inside of {d} other outlines")
        for lead in self.sheet.leads:
            # In the waste: outside of all outlines, or in a hole of one.
            if np.count_nonzero(shapely.contains_xy(self.regions, *lead.points[0])) % 2:
                yield Finding(12, f"a lead-in at {lead.place}")
        position = {int(i): place for place, i in enumerate(self.rings)}
        order = [
            (position[int(self.rings[a])], position[int(self.rings[b])]) for a, b in zip(inside, outside, strict=True)
        ]
        for a, b in order:
            if a > b:
                path = self.paths[self.rings[b]]
                yield Finding(16, f"the outline at {path.place} is cut before what lies inside of it")

    def _nested(self) -> tuple[npt.NDArray[np.intp], npt.NDArray[np.intp]]:
        """Pairs of outlines, the first inside of the second."""
        starts: Geometries = np.asarray(shapely.points(np.array([self.paths[i].points[0] for i in self.rings])))
        inside, outside = shapely.STRtree(self.regions).query(starts, predicate="within")
        inside, outside = inside[inside != outside], outside[inside != outside]
        # A start on another's own line says nothing: neighbours may share their cuts.
        clear = shapely.distance(shapely.boundary(self.regions[outside]), starts[inside]) > NEAR_MM
        spots, areas = np.asarray(shapely.point_on_surface(self.regions)), shapely.area(self.regions)
        clear |= shapely.contains(self.regions[outside], spots[inside]) & (areas[inside] < areas[outside])
        return inside[clear], outside[clear]

    def marks(self) -> Iterator[Finding]:
        """Scores and creases lie on parts; engraving too, or wholly in the waste."""
        marks = self.sheet.on(*MARKS)
        if not marks or not len(self.regions):
            return
        lines = _as_lines(marks)
        outer = np.array([layer == "CUT_OUTER" for layer in self.layers])
        # A score may end at an edge that the notch of a tab takes back.
        grown = shapely.buffer(self.regions[outer], _CHORD_MM + (_NOTCH_MM if "tabs" in self.sheet.said else 0.0))
        shapely.prepare(grown)
        on_part = set(shapely.STRtree(grown).query(lines, predicate="covered_by")[0].tolist())
        # A score may end on the edge of a hole, and on a chord where the file has the arc.
        holes = shapely.buffer(self.regions[~outer], -_CHORD_MM)
        in_hole = set(shapely.STRtree(holes).query(lines, predicate="crosses")[0].tolist())
        in_hole |= set(shapely.STRtree(holes).query(lines, predicate="within")[0].tolist())
        # Numbers may stand in the waste, clear of all that is cut.
        met = set(self.tree.query(lines, predicate="dwithin", distance=NEAR_MM)[0].tolist())
        for n, mark in enumerate(marks):
            free = mark.layer == "ENGRAVE" and n not in met
            if not free and (n not in on_part or n in in_hole):
                yield Finding(15, f"{mark.layer} at {mark.place}")


def _as_lines(paths: Sequence[Path]) -> Geometries:
    """Paths as lines, closed ones as rings, built at one go."""
    if not paths:
        return np.array([], dtype=object)
    rings = [path.walked for path in paths]
    counts = [len(ring) for ring in rings]
    indices = np.repeat(np.arange(len(rings)), counts)
    return np.array(shapely.linestrings(np.vstack(rings), indices=indices), dtype=object)


def _along(a: BaseGeometry, b: BaseGeometry) -> float:
    """How much of a line runs along another."""
    return float(a.intersection(b.buffer(NEAR_MM, cap_style="flat")).length)


# The kerf check: a sheet less all that the tool takes away must fall into exactly the parts that were wanted


def _check_kerf(sheet: SheetFile, expected: Sequence[Expected] | None) -> Iterator[Finding]:
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
            yield Finding(13, f"{found} pieces, by its outlines there ought to be {wanted + wastes}")
    elif expected is None and len(pieces) < 2:
        yield Finding(13, "nothing comes loose")
    if expected is not None:
        yield from _ledger(pieces, expected, kerf, slits=bool(sheet.on("WIRE")))


def _pieces(paths: Sequence[Path], size: tuple[float, ...], kerf: tuple[float, float]) -> Geometries:
    """What a sheet falls into; where the kerf differs in x and y all is stretched until the tool is round."""
    scale = np.array(kerf) / max(kerf)
    pieces = _left(np.array([shapely.linestrings(path.walked / scale) for path in paths]), size, kerf)
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
            # The knife's stand-in goes along the part's own outline.
            knifed = turned.buffer(-_KNIFE_MM / 2, join_style="mitre", mitre_limit=1000)
            wanted = _centred(tooled(turned, kerf) if max(kerf) > _KNIFE_MM else knifed)
            like = free & (np.abs(sizes - 2 * np.array(wanted.bounds[2:])) <= 2 * reach).all(axis=1)
            like &= np.abs(areas - wanted.area) <= reach * wanted.length + (wanted.area if slits else 0)
            for index in np.flatnonzero(like):
                if _same(moved[index], wanted, reach, max(kerf), slits=slits):
                    free[index] = False
                    pairs.append((int(index), number))
    for part, count in zip(expected, _assigned(pairs, len(pieces), [part.number for part in expected]), strict=True):
        if count != part.number:
            yield Finding(14, f"{part.name}: {count} of {part.number} come out true")


def _assigned(pairs: Sequence[tuple[int, int]], pieces: int, numbers: Sequence[int]) -> list[int]:
    """How many pieces each part gets where as many as can be get one that they pass for.

    pairs: of a piece and a part that it passes for; parts may be so like each other that a piece passes for several.
    """
    owners = np.repeat(np.arange(len(numbers)), numbers)
    fits = np.zeros((pieces, len(numbers)), dtype=bool)
    fits[tuple(np.array(pairs, dtype=int).reshape(-1, 2).T)] = True
    given = maximum_bipartite_matching(csr_matrix(fits[:, owners]), perm_type="row")
    return [int(n) for n in np.bincount(owners[given >= 0], minlength=len(numbers))]


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
