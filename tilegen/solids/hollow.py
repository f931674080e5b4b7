"""Bases hollow from below: pockets between a rim and ribs, under a closed floor that the printer bridges."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, SNAP_MM, opened, polygonal, polygons_of
from tilegen.lengths import show_length
from tilegen.messages import Message
from tilegen.model.grid import Grid
from tilegen.model.printers import PrinterFile
from tilegen.solids.processes import laid_down, process_of
from tilegen.tiles.connectors.kind import groove_of
from tilegen.tiles.plate import Mark, Plate
from tilegen.tiles.seats import flat_region

# Shallower or narrower pockets are left out, mm (common practice, no source).
_LEAST_DEPTH, _LEAST_WIDTH = 1.0, 5.0


@dataclass(frozen=True)
class Pockets:
    """Pockets in the underside of a base. marks: one for each height of the floor above them.

    shared: of their sides, mm2, what is printed already: see `Mesh.shared`.
    """

    marks: tuple[Mark, ...] = ()
    shared: float = 0.0


def roof_of(grid: Grid, printer: PrinterFile) -> float:
    """How thick the floor over a pocket is, mm: the printer's thinnest wall under the deepest joint of the floor."""
    return groove_of(grid) + printer.walls.least


def span_of(grid: Grid, printer: PrinterFile) -> float:
    """How wide a pocket may be, mm: no wider than the printer bridges, nor than a space, on which a figure stands."""
    return min(printer.walls.bridge, grid.pitch)


def pockets_below(plates: Sequence[Plate], grid: Grid, printer: PrinterFile, below: Sequence[Mark] = ()) -> Pockets:
    """The pockets in the underside of a tile's base; none where they would save nothing, or it has no base.

    They keep clear of all that stands on the base, of its edges, and of connectors, holes and letters, by the width of
    the rim. plates: as they are printed. below: what is cut into the underside besides.
    """
    base = [plate for plate in plates if plate.role == "base"]
    # Pockets that meet at a corner of what stands above are parted by a thin wall: half of it goes round each.
    rim, half = printer.walls.sturdy, printer.walls.least / 2
    areas: list[BaseGeometry] = [plate.foot for plate in plates if plate.role != "base"]
    areas += [area for plate in base for area in _taken(plate, grid, rim - half)]
    areas += [area for mark in below for area in _plain(mark, rim - half)]
    taken = shapely.union_all(areas)
    marks, shared = [], 0.0
    for top in sorted({plate.top for plate in base}):
        deep = round(top - roof_of(grid, printer), 6)
        if deep < _LEAST_DEPTH:
            continue
        here = shapely.union_all([plate.foot for plate in base if plate.top == top])
        area = here.difference(shapely.union_all([plate.foot for plate in base if plate.top > top]))
        free = area.buffer(half - rim, join_style="mitre").difference(taken).buffer(-half, join_style="mitre")
        found = [pocket for part in _wide(free) for pocket in _ribbed(part, span_of(grid, printer), rim)]
        if not found:
            continue
        mark = Mark((), area, polygonal(shapely.multipolygons(found)), deep, "under")
        common = _shared(area, mark, top, printer)
        if not process_of(printer).lines or _saved(area, mark, top, common, printer) > 0:
            marks.append(mark)
            shared += common
    return Pockets(tuple(marks), shared)


def _taken(plate: Plate, grid: Grid, rim: float) -> Iterator[BaseGeometry]:
    """What a base's marks keep clear of pockets: all but the joints of its floor, with a rim round each."""
    for mark in plate.marks:
        if mark.on in ("under", "rim"):
            # Behind a peg as much is solid as it stands out.
            yield flat_region(mark).buffer(max(rim, -mark.depth), join_style="mitre")
        elif mark.depth > groove_of(grid) + EQUAL_MM:
            yield mark.region.buffer(rim, join_style="mitre")


def _plain(mark: Mark, rim: float) -> Iterator[BaseGeometry]:
    """Plain ground round letters, the gaps between them closed."""
    yield from (part.envelope.buffer(rim, join_style="mitre") for part in polygons_of(mark.region))


def _wide(region: BaseGeometry) -> list[Polygon]:
    """The parts of a region that are wide enough, on the micrometre grid."""
    wide = opened(region, _LEAST_WIDTH / 2).intersection(region)
    return polygons_of(shapely.set_precision(wide, SNAP_MM))


def _ribbed(part: Polygon, span: float, rib: float) -> Iterator[Polygon]:
    """A part cut into strips no wider than a span, by as few ribs as do, across its narrower side."""
    west, south, east, north = part.bounds
    upright = east - west <= north - south
    start, end = (west, east) if upright else (south, north)
    count = math.ceil((end - start + rib) / (span + rib) - EQUAL_MM)
    wide = (end - start - (count - 1) * rib) / count
    for number in range(count):
        low = start + number * (wide + rib)
        strip = box(low, south, low + wide, north) if upright else box(west, low, east, low + wide)
        yield from _wide(part.intersection(strip))


def _shared(area: BaseGeometry, pockets: Mark, top: float, printer: PrinterFile) -> float:
    """What a shell round every side counts twice with pockets in an area of the base, as sides, mm2.

    Ribs and rim are narrower than the lines along both their sides, and the floor than its full layers.
    """
    filament, region = printer.filament, pockets.region
    lines, layers = filament.rounds * filament.line, (filament.top + filament.bottom) * printer.layers.height

    def shell(region: BaseGeometry) -> float:
        return float(region.area - region.buffer(-lines, join_style="mitre").area)

    upright = region.length * lines - (shell(area.difference(region)) - shell(area))
    flat = region.area * max(0.0, layers - (top - pockets.depth))
    return float(upright * pockets.depth + flat) / lines


def _saved(area: BaseGeometry, pockets: Mark, top: float, shared: float, printer: PrinterFile) -> float:
    """How much less is laid down of an area of the base with its pockets, mm3: their sides are printed too."""
    full = laid_down(area.area * top, area.length * top, area.area, area.area, printer)
    sides = area.length * top + pockets.region.length * pockets.depth - shared
    return full - laid_down(area.area * top - pockets.volume, sides, area.area, area.area, printer)


def hollow_base_notes(grid: Grid, printer: PrinterFile, full: Sequence[str], count: int) -> Iterator[Message]:
    """What to know about hollow bases. full: the tiles, of so many, in which pockets save nothing."""
    if len(full) == count:
        yield Message(
            "decide",
            f"Every base stays full: in bases {show_length(grid.base_depth)} deep with this little open floor, pockets "
            "would save nothing.",
            cure='Leave out base = "hollow", or make bases deeper (--depth).',
        )
        return
    roof, span = show_length(roof_of(grid, printer)), show_length(span_of(grid, printer))
    rib = show_length(printer.walls.sturdy)
    kept = f" These stay full, since pockets would save nothing: {', '.join(full)}." if full else ""
    yield Message(
        "note",
        f"Bases are hollow from below: a floor {roof} thick over pockets up to {span} wide, rim and ribs {rib} thick. "
        f"Print them flat and without supports: the printer bridges the pockets.{kept}",
    )
