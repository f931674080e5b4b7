"""From plates to flat parts: every layer of every base and wall of a set of tiles, alike ones counted together."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from tilegen.grid import Grid
from tilegen.reading.models import MaterialFile
from tilegen.sheets.alike import Bounds, Flat, Segment, at_origin, joined, own_pose
from tilegen.sheets.construction import Construction
from tilegen.tiles.doors import Piece, saddle_plates
from tilegen.tiles.identity import encode
from tilegen.tiles.openings import has_thin_lintel
from tilegen.tiles.plate import Plate, Role
from tilegen.tiles.tile import Tile, make_plates

_LETTER: dict[Role, str] = {"base": "B", "wall": "W", "post": "P", "door": "D"}
_ID_LENGTH = 4
# An end that is off square by less than this can't be told from a square one by eye or hand.
_SQUARE_DEGREES = 0.1
_SAME_MM = 1e-6

# Role, plate, region, note and number of layers that are alike.
Laid = tuple[Role, str, Flat, str, int]


@dataclass(frozen=True, slots=True)
class Use:
    """Where a part goes: pieces of it in one plate of one tile type, over all tiles of that type."""

    tile: str
    tile_name: str
    plate: str
    count: int


@dataclass(frozen=True, slots=True)
class Part:
    """A flat part, as it comes out of the cut; lengths in mm, least corner at the origin.

    id: from its role and geometry alone. count: pieces of it in the whole set.
    """

    id: str
    role: Role
    flat: Flat
    thickness: float
    count: int
    uses: tuple[Use, ...]
    notes: tuple[str, ...] = ()

    @property
    def outline(self) -> Polygon:
        """Of the finished part, exact."""
        return self.flat.outline

    @property
    def size(self) -> tuple[float, float]:
        """Of its bounding box, the longer side first."""
        west, south, east, north = self.outline.bounds
        return max(east - west, north - south), min(east - west, north - south)

    @property
    def name(self) -> str:
        """What it is, in words."""
        words: dict[Role, str] = {"base": "base layer", "wall": "wall strip", "post": "post strip", "door": "door leaf"}
        corners = len(self.outline.exterior.coords) - 1
        shape = " with an opening" if self.role in ("wall", "door") and corners > 4 else ""
        return words[self.role] + shape + (", scored" if self.flat.scores else "")


@dataclass(frozen=True)
class PartsList:
    """All parts of a set of tiles, with what the builder must be told about them."""

    parts: tuple[Part, ...]
    constructions: tuple[Construction, ...]
    notes: tuple[str, ...]


@dataclass(slots=True)
class _Found:
    """A part while it is being counted."""

    role: Role
    flat: Flat
    description: tuple[object, ...]
    uses: dict[tuple[str, str, str], int]
    notes: dict[str, None]


def list_parts(counts: Sequence[tuple[Tile | Piece, int]], material: MaterialFile) -> PartsList:
    """The flat parts of so many tiles and pieces of each type.

    Raises:
        InputError: the stock is far too thin or too thick for the grid, or a tile can't be made with it.
    """
    constructions: dict[Grid, Construction] = {}
    found: dict[tuple[Role, tuple[object, ...]], _Found] = {}
    notes: dict[str, None] = {}
    opened: dict[str, list[str]] = {}
    for made, count in counts:
        if count < 1:
            continue
        construction = constructions.setdefault(made.grid, Construction.of(made.grid, material))
        maker = _Maker(made, construction, material)
        for role, plate_name, flat, note, layers in maker.flats():
            pose, description = own_pose(flat)
            entry = found.setdefault((role, description), _Found(role, pose, description, {}, {}))
            if entry.flat.covered != pose.covered:
                common = tuple(box for box in entry.flat.covered if box in pose.covered)
                entry.flat = replace(entry.flat, covered=common)
            use = (made.id, made.name, plate_name)
            entry.uses[use] = entry.uses.get(use, 0) + count * layers
            entry.notes.update(dict.fromkeys([note] if note else []))
        notes.update(dict.fromkeys(maker.notes))
        for lintel, place in maker.opened:
            opened.setdefault(lintel, []).append(place)
    parts = _numbered(list(found.values()), material)
    built = tuple(constructions.values())
    about = dict.fromkeys(note for construction in built for note in construction.notes)
    return PartsList(parts, built, (*about, *_open_topped(opened, material), *notes, *_slight(parts, material)))


def _open_topped(opened: dict[str, list[str]], material: MaterialFile) -> Iterator[str]:
    """A word on doorways whose lintel would be too thin."""
    for lintel, places in opened.items():
        yield (
            f"open-topped doorways, as their lintel would be {lintel} mm high and {material.name} wants "
            f"{material.least_lintel:g}: {', '.join(dict.fromkeys(places))}"
        )


def _slight(parts: Sequence[Part], material: MaterialFile) -> Iterator[str]:
    """A word on parts that are narrower than the material likes."""
    slight = [part.id for part in parts if part.size[1] < material.least_strip - _SAME_MM]
    if slight:
        yield (
            f"narrower than {material.least_strip:g} mm, the least that holds in {material.name}: {', '.join(slight)}; "
            "handle with care or choose other stock"
        )


def _numbered(found: list[_Found], material: MaterialFile) -> tuple[Part, ...]:
    """Parts with ids of their own, bases first, then the largest; an id grows where two would be the same."""
    contents = [repr((_LETTER[f.role], f.description)).encode() for f in found]
    length = _ID_LENGTH
    while True:
        ids = [f"{_LETTER[f.role]}-{encode(content, length)}" for f, content in zip(found, contents, strict=True)]
        if len(set(ids)) == len(ids):
            break
        length += 1
    parts = [
        Part(
            part_id,
            f.role,
            f.flat,
            material.real_thickness,
            sum(f.uses.values()),
            tuple(Use(*use, count) for use, count in sorted(f.uses.items())),
            tuple(sorted(f.notes)),
        )
        for part_id, f in zip(ids, found, strict=True)
    ]
    order = list(_LETTER)
    return tuple(sorted(parts, key=lambda p: (order.index(p.role), -round(p.size[0], 3), -round(p.size[1], 3), p.id)))


class _Maker:
    """Lays one tile or piece flat."""

    def __init__(self, made: Tile | Piece, construction: Construction, material: MaterialFile) -> None:
        self.made, self.construction, self.material = made, construction, material
        self.notes: list[str] = []
        # Doorways cut through to the top: (lintel that would be left, where).
        self.opened: list[tuple[str, str]] = []

    def flats(self) -> Iterator[Laid]:
        """Every layer of every plate."""
        if isinstance(self.made, Piece):
            yield from self._door(self.made)
            return
        base, *standing = make_plates(self.made.shape, self.made.grid, self.construction.band)
        yield from self._base(base, standing)
        for plate in standing:
            yield from self._standing(plate)

    def _base(self, base: Plate, standing: Sequence[Plate]) -> Iterator[Laid]:
        below = self.construction.base.layers - 1
        if below:
            yield base.role, base.name, at_origin(base.foot), "", below
        scores = joined([segment for mark in base.marks for segment in _segments(mark.line)])
        top = at_origin(base.foot, scores, _boxes(standing))
        yield base.role, base.name, top, "top layer" if below and scores else "", 1

    def _standing(self, plate: Plate) -> Iterator[Laid]:
        thin = [o for o in plate.openings if has_thin_lintel(o, plate.height, self.material.least_lintel)]
        if thin:
            lintel = min(plate.height - o.height for o in thin)
            self.opened.append((f"{lintel:.2f}", f"{plate.name} of {self.made.name} ({self.made.id})"))
            opened = tuple(replace(o, height=plate.height) if o in thin else o for o in plate.openings)
            plate = replace(plate, openings=opened)
        bevels = "" if isinstance(self.made, Tile) and self.made.on_grid else _bevels(plate)
        note = "; ".join(filter(None, ("beside an open-topped doorway" if thin else "", bevels)))
        for region in _polygons(plate.face()):
            yield plate.role, plate.name, at_origin(_from_outside(region)), note, self.construction.wall.layers

    def _door(self, piece: Piece) -> Iterator[Laid]:
        # The posts beside it are of the same stock: where they are thicker than the wall, the door is shorter.
        grid = replace(piece.grid, wall_thickness=self.construction.band.inner)
        plates = saddle_plates(grid, piece.side, piece.opening, self.construction.wall.thickness)
        thin = has_thin_lintel(piece.opening, piece.grid.wall_height, self.material.least_lintel)
        if thin:
            self.notes.append(
                f"{piece.name} ({piece.id}) keeps its lintel, {piece.grid.wall_height - piece.opening.height:.2f} mm "
                "high: its leaves are glued back to back over their whole faces; handle it by the legs"
            )
        note = "glue the leaves back to back" + ("; thin lintel kept" if thin else "")
        for plate in plates:
            for region in _polygons(plate.face()):
                yield plate.role, plate.name, at_origin(region), note, self.construction.wall.layers


def _boxes(standing: Sequence[Plate]) -> list[Bounds]:
    """The feet that are rectangles along the axes, as (west, south, east, north)."""
    boxes = [plate.foot.bounds for plate in standing]
    areas = [(east - west) * (north - south) for west, south, east, north in boxes]
    return [box for box, area, p in zip(boxes, areas, standing, strict=True) if p.foot.area > area * (1 - 1e-3)]


def _from_outside(region: Polygon) -> Polygon:
    """A wall's face as seen from outside the tile, so that its number comes to lie on the side that shows least."""
    return shapely.transform(region, lambda points: points * np.array((-1.0, 1.0)))


def _segments(line: BaseGeometry) -> Iterator[Segment]:
    for part in getattr(line, "geoms", [line]):
        points = [(float(x), float(y)) for x, y, *_ in part.coords]
        yield from pairwise(points)


def _polygons(region: BaseGeometry) -> list[Polygon]:
    return [part for part in getattr(region, "geoms", [region]) if isinstance(part, Polygon)]


def _bevels(plate: Plate) -> str:
    """How the ends of a standing plate are bevelled, from what it covers on the plan; nothing if they are square."""
    if plate.edge is None:
        return ""
    (x, y), (dx, dy), depth = plate.edge[0], plate.direction, plate.thickness
    local = [((px - x) * dx + (py - y) * dy, (px - x) * dy - (py - y) * dx) for px, py in plate.foot.exterior.coords]
    outer = [s for s, d in local if d < depth * 0.01 + _SAME_MM]
    inner = [s for s, d in local if d > depth * 0.99 - _SAME_MM]
    # Seen from outside, as the part is drawn, the start of the edge is on the right.
    shifts = (("left", max(outer) - max(inner)), ("right", min(inner) - min(outer)))
    ends = []
    for end, shift in shifts:
        angle = math.degrees(math.atan2(shift, depth))
        if abs(angle) >= _SQUARE_DEGREES:
            ends.append(f"{end} end {abs(angle):.1f} deg, the {'outer' if angle > 0 else 'inner'} face longer")
    return f"bevel after gluing, seen on the outer face: {'; '.join(ends)}" if ends else ""
