"""Curved walls from flat stock: one bent strip a layer, scored or slotted where the stock needs it, or flat facets.

A strip keeps its length along its neutral line: BA = A (r + K t) with the turn A in radians, the inside radius r and
the thickness t (bendmath.com; worked there for metal, where K is under 0.5). For card, foam and board no K is
published: 0.5, the middle of the sheet, is taken unless the material's file says otherwise.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import accumulate, pairwise
from typing import Literal

import numpy as np
import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, Segment, largest_polygon, polygons_of, reflected, segments_of
from tilegen.model.materials import CurveTable, MaterialFile
from tilegen.model.words import Family
from tilegen.sheets.alike import Flat, at_origin
from tilegen.sheets.construction import Construction
from tilegen.sheets.feet import without_tails
from tilegen.sheets.laid import Layer
from tilegen.tiles.bend import Bend
from tilegen.tiles.plate import Plate

CurveWay = Literal["bent", "scored", "slotted", "facets"]
# Thin card, EVA and cork follow a curve by themselves; paper-faced and brittle stock wants scores; sawn board slots;
# the rest is put together from facets (common practice, no source).
_USUAL: dict[Family, CurveWay] = {
    "card": "bent",
    "eva": "bent",
    "cork": "bent",
    "greyboard": "scored",
    "foam-core": "scored",
    "xps": "scored",
    "eps": "scored",
    "mdf": "slotted",
    "plywood": "slotted",
}


@dataclass(frozen=True, slots=True)
class CurvedPart:
    """One part of a curved wall, flat. deep: of its outer face under the wall's outer face, mm."""

    flat: Flat
    note: str
    form: str
    deep: float
    layer: Layer = ""


def way_of(material: MaterialFile) -> CurveWay:
    """How a material goes round a curve: as its file says, else as is usual for its family."""
    return material.curve.way or _USUAL.get(material.family, "facets")


def bend_allowance(turn: float, radius: float, thickness: float, k: float = 0.5) -> float:
    """The length of the neutral line round a bend, mm: A (r + K t); turn in radians, radius: of the inside.

    >>> round(bend_allowance(math.pi / 2, 3.0, 2.0, 0.44), 4)
    6.0947
    """
    return turn * (radius + k * thickness)


def score_spacing(radius: float, error: float) -> float:
    """Between scores, so that the flats between them leave a curve by `error` at most, mm: 2 sqrt(e (2 r - e)).

    The chord of a circle whose height is e (Euclid III.35: half the chord squared is e times the rest of the diameter).

    >>> round(score_spacing(50.0, 0.25), 3)
    9.987
    """
    return 2 * math.sqrt(error * (2 * radius - error)) if radius > error else 2 * radius


def slots_for(turn: float, width: float, depth: float) -> int:
    """How many slots of a width and depth, in mm, close over a turn in radians: each by 2 atan(w / 2 d) (derived).

    A slot of width w closes when its two mouths meet: a triangle of base w and height d.

    >>> slots_for(math.pi / 2, 1.0, 5.0)
    8
    """
    return max(1, math.ceil(turn / (2 * math.atan(width / (2 * depth))) - 1e-9))


def curved_parts(plate: Plate, construction: Construction) -> Iterator[CurvedPart]:
    """The flat parts of a wall with a bend, layer by layer from outside; a straight one is a plain strip."""
    bend = plate.bend
    if bend is None:
        raise ValueError(f"plate {plate.name} has no bend")
    layers = 2 if construction.kind == "folded" else construction.wall.layers
    material, sheet = construction.material, construction.material.real_thickness
    for layer in range(layers):
        last = bend.thickness - sheet
        deep = last * layer / (layers - 1) if layers > 1 else 0.0
        where = f"layer {layer + 1} of {layers} from outside" if layers > 1 else ""
        for part in _layer(plate, bend, deep, material, folded=construction.kind == "folded"):
            note = "; ".join(filter(None, (where, part.note)))
            # Of the layers only the innermost shows, and of that only what is drawn as seen from inside.
            shown = part.flat.shown and layer == layers - 1
            yield CurvedPart(replace(part.flat, shown=shown), note, part.form, deep, _which(layer, layers))
    if construction.kind == "folded" and (cap := without_tails(plate.foot)) is not None:
        yield CurvedPart(at_origin(cap, shown=True), "glue on top of the two skins", "cap", 0.0)


def _which(layer: int, layers: int) -> Layer:
    """Which one of a wall's layers, counted from outside."""
    if layers == 1:
        return ""
    return "outer" if layer == 0 else "inner" if layer == layers - 1 else "between"


def wrapped_parts(plate: Plate, card: float) -> Iterator[CurvedPart]:
    """A standing plate of any foot, from card: one strip folded round it, with creases at its corners, and a cap."""
    foot = largest_polygon(plate.foot.simplify(card / 10))
    ring = [(float(x), float(y)) for x, y in foot.exterior.coords]
    lengths = [math.dist(a, b) for a, b in pairwise(ring)]
    creases: list[Segment] = []
    for at in list(accumulate(lengths))[:-1]:
        creases.append(((at, 0.0), (at, plate.height)))
    strip = box(0.0, 0.0, math.fsum(lengths), plate.height)
    cap = without_tails(foot)
    round_what = "into a tube too thin for a cap" if cap is None else "round the cap"
    note = f"fold {round_what}, join the ends with tape"
    yield CurvedPart(at_origin(strip, (), (), creases, shown=True), note, "folded strip", 0.0)
    if cap is not None:
        yield CurvedPart(at_origin(cap, shown=True), "glue on top, inside the folded strip", "cap", 0.0)


def rolled_parts(plate: Plate, card: float) -> Iterator[CurvedPart]:
    """A round pillar from card: a strip rolled round two discs, as long as the middle of the card is round it."""
    corners = shapely.get_coordinates(plate.foot.exterior) - shapely.get_coordinates(plate.foot.centroid)
    around = bend_allowance(2 * math.pi, float(np.hypot(*corners.T).max()) - card, card)
    strip = box(0.0, 0.0, around, plate.height)
    yield CurvedPart(at_origin(strip), "roll round the two discs; the ends meet, tape them inside", "rolled strip", 0.0)
    disc = at_origin(largest_polygon(plate.foot.buffer(-card)))
    for end in ("foot", "top"):
        yield CurvedPart(disc, f"inside the rolled strip, level with its {end}", "cap", card)


def _layer(plate: Plate, bend: Bend, deep: float, material: MaterialFile, *, folded: bool) -> Iterator[CurvedPart]:
    sheet, table = material.real_thickness, material.curve
    if len(bend.outer) == 2:
        for region in polygons_of(plate.face(), EQUAL_MM):
            yield CurvedPart(at_origin(region, shown=True), "a doorway runs on over the seam", "", deep)
        return
    way = "bent" if folded else way_of(material)
    length, turn = bend.length_at(deep + table.neutral * sheet), abs(bend.turn)
    radius = bend.length_at(deep + sheet / 2) / turn if turn > EQUAL_MM else math.inf
    if way != "bent" and radius < 2 * sheet:
        way = "facets"
    face = shapely.transform(plate.face(), lambda points: points * (length / bend.length, 1.0))
    inward = bend.turn > 0
    side = "inside" if inward else "outside"
    if way == "facets":
        yield from _facets(face, plate, bend, deep, table)
        return
    stops, note = _stops(way, length, turn, sheet, table)
    words = f"bend to a radius of {radius:.0f} mm along its middle" + (f"; {note.format(side=side)}" if note else "")
    for region in polygons_of(face, EQUAL_MM):
        # Seen from the side that is scored; walls are walked with their inside on the right.
        shown = region if inward else reflected(region)
        at = stops if inward else [-x for x in stops]
        scores = [segment for x in at for segment in _across(x, shown)]
        yield CurvedPart(at_origin(shown, scores, shown=inward), words, "bent strip", deep)


def _stops(way: CurveWay, length: float, turn: float, sheet: float, table: CurveTable) -> tuple[list[float], str]:
    """Where a strip is scored or slotted, and how, in words."""
    radius = length / max(turn, EQUAL_MM)
    if way == "bent" or turn < EQUAL_MM:
        return [], ""
    if way == "scored":
        count = max(1, math.ceil(length / score_spacing(radius, table.flatness)) - 1)
        words = f"score the {{side}} face at the {count} lines"
    else:
        depth = max(sheet - table.skin, sheet / 2)
        count = slots_for(turn, table.slot, depth)
        words = f"saw {count} slots {table.slot:g} mm wide and {depth:.2f} deep on the {{side}} face, at the lines"
    return [length * (k + 0.5) / count for k in range(count)] if way == "slotted" else [
        length * k / (count + 1) for k in range(1, count + 1)
    ], words


def _facets(face: BaseGeometry, plate: Plate, bend: Bend, deep: float, table: CurveTable) -> Iterator[CurvedPart]:
    """Flat strips side by side, their ends bevelled by half of what the wall turns from one to the next."""
    west, _, east, _ = face.bounds
    length, turn = east - west, abs(bend.turn)
    radius = length / turn if turn > EQUAL_MM else math.inf
    count = max(1, math.ceil(length / score_spacing(radius, table.flatness))) if turn > EQUAL_MM else 1
    bevel = math.degrees(turn / count / 2)
    for k in range(count):
        strip = box(west + length * k / count, -1.0, west + length * (k + 1) / count, plate.height + 1.0)
        for region in polygons_of(face.intersection(strip), EQUAL_MM):
            word = f"facet {k + 1} of {count}; bevel both ends {bevel:.1f} deg, the "
            yield CurvedPart(
                at_origin(region, shown=True),
                word + ("outer" if bend.turn > 0 else "inner") + " face longer",
                "facet",
                deep,
            )


def _across(x: float, region: Polygon) -> Iterator[Segment]:
    """A line across a strip, as far as the strip goes there."""
    west, low, east, high = region.bounds
    if not west + EQUAL_MM < x < east - EQUAL_MM:
        return
    found = shapely.LineString([(x, low - 1), (x, high + 1)]).intersection(region)
    yield from segments_of(found, EQUAL_MM)
