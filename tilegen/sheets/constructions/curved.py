"""Curved walls from flat stock: one bent strip a layer, scored or slotted where the stock needs it, or flat facets.

A strip keeps its length along its neutral line: BA = A (r + K t) with the turn A in radians, the inside radius r and
the thickness t (derived; for metal, tables of K under 0.5 are in Machinery's Handbook). For card, foam and board no K
is published: 0.5, the middle of the sheet, is used unless the material's file gives another. Where a strip is slotted
it is the middle of what the slots leave (a machinist's calculator, machinecalcs.com, "Kerf bending").
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise
from typing import Literal

import shapely
from shapely.geometry import Polygon, box
from shapely.geometry.base import BaseGeometry

from tilegen.geometry import EQUAL_MM, Segment, polygons_of, reflected, rings_of, segments_of
from tilegen.model.materials import CurveTable, MaterialFile
from tilegen.model.words import Family
from tilegen.sheets.flat import Flat, FlatLayers, PlateLayer, Pose, Remark, at_origin
from tilegen.sheets.footprints import SLIVER_MM
from tilegen.tiles.plate import Bend, Plate

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


def way_of(material: MaterialFile) -> CurveWay:
    """How a material goes round a curve: as its file has it, else as is usual for its family."""
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
    """How many slots of a width, in mm, close over a turn in radians: each by 2 atan(w / 2 d) (derived).

    A slot of width w closes when its two mouths meet: a triangle of base w and height d, the depth of the line about
    which what is left under it bends.

    >>> slots_for(math.pi / 2, 1.0, 5.0)
    8
    """
    return max(1, math.ceil(turn / (2 * math.atan(width / (2 * depth))) - 1e-9))


def layer_depths(plate: Plate, sheet: float, layers: int, over: float = 0.0) -> list[float]:
    """How far each layer's outer face lies under the outer face of a wall with a bend, mm, from outside.

    over: how much of the wall lies outside and inside of the layers, on each side.
    """
    last = plate.thickness - sheet - 2 * over
    return [over + (last * layer / (layers - 1) if layers > 1 else 0.0) for layer in range(layers)]


def curved_layers(
    plate: Plate, material: MaterialFile, layers: int, way: CurveWay, over: float = 0.0
) -> Iterator[FlatLayers]:
    """The flat parts of a wall with a bend, layer by layer from outside; a straight one is a plain strip.

    over: as of `layer_depths`; what lies there are layers of their own.
    """
    for layer, deep in enumerate(layer_depths(plate, material.real_thickness, layers, over)):
        where = (Remark(f"layer {layer + 1} of {layers} from outside"),) if layers > 1 else ()
        last = layer == layers - 1
        which: PlateLayer = "" if layers == 1 else "outer" if layer == 0 else "inner" if last else "between"
        which = "between" if over else which
        for part in curved_layer(plate, deep, material, way):
            # Of the layers only the innermost shows, and of that only what is drawn as seen from inside.
            flat = replace(part.flat, shown=part.flat.shown and last and not over)
            yield replace(part, flat=flat, remarks=(*where, *part.remarks), layer=which)


def curved_layer(plate: Plate, deep: float, material: MaterialFile, way: CurveWay) -> Iterator[FlatLayers]:
    """The flat parts of one layer of a wall with a bend. deep: of its outer face under the wall's outer face, mm."""
    sheet, table, bend = material.real_thickness, material.curve, plate.bend
    if bend is None:
        raise ValueError(f"plate {plate.name} has no bend")
    if len(bend.outer) == 2:
        for region in polygons_of(plate.face(), EQUAL_MM):
            about = Remark("a doorway runs on over the seam")
            part = _part(plate, at_origin(region, shown=True), sheet, "", about)
            yield replace(part, pose=Pose(plate.at(region.bounds[0]), plate.direction))
        return
    turn, inward = abs(bend.turn), bend.turn > 0
    radius = bend.length_at(deep + sheet / 2) / turn if turn > EQUAL_MM else math.inf
    if way != "bent" and radius < 2 * sheet:
        way = "facets"
    neutral = table.neutral * sheet
    if way == "slotted":
        # Slots lie on the hollow side: what they leave is under the other face, and bends about its middle.
        neutral = sheet - _hinge(sheet, table) if inward else _hinge(sheet, table)
    length = bend.length_at(deep + neutral)
    face = shapely.transform(plate.face(), lambda points: points * (length / bend.length, 1.0))
    if way == "facets":
        yield from _facets(face, plate, bend, material)
        return
    stops, note = _stops(way, length, turn, sheet, table)
    said = f"; {note.format(side='inside' if inward else 'outside')}" if note else ""
    about = Remark(f"bend to a radius of {radius:.0f} mm along its middle{said}")
    for region in polygons_of(face, EQUAL_MM):
        # Seen from the side that is scored; walls are walked with their inside on the right.
        shown = region if inward else reflected(region)
        at = stops if inward else [-x for x in stops]
        scores = [segment for x in at for segment in _across(x, shown)]
        yield _part(plate, at_origin(shown, scores, shown=inward), sheet, "bent strip", about)


def _part(plate: Plate, flat: Flat, sheet: float, form: str, *remarks: Remark) -> FlatLayers:
    return FlatLayers(plate.role, plate.name, flat, sheet, remarks=remarks, form=form)


def _slot_depth(sheet: float, table: CurveTable) -> float:
    return max(sheet - table.skin, sheet / 2)


def _hinge(sheet: float, table: CurveTable) -> float:
    """How deep the middle of what a slot leaves lies under the face that is slotted."""
    return (sheet + _slot_depth(sheet, table)) / 2


def _stops(way: CurveWay, length: float, turn: float, sheet: float, table: CurveTable) -> tuple[list[float], str]:
    """Where a strip is scored or slotted, and how, in words."""
    radius = length / max(turn, EQUAL_MM)
    if way == "bent" or turn < EQUAL_MM:
        return [], ""
    if way == "scored":
        count = max(1, math.ceil(length / score_spacing(radius, table.flatness)) - 1)
        words = f"score the {{side}} face at the {count} lines"
    else:
        depth = _slot_depth(sheet, table)
        count = slots_for(turn, table.slot, _hinge(sheet, table))
        words = f"saw {count} slots {table.slot:g} mm wide and {depth:.2f} deep on the {{side}} face, at the lines"
        return [length * (k + 0.5) / count for k in range(count)], words
    return [length * k / (count + 1) for k in range(1, count + 1)], words


def _facets(face: BaseGeometry, plate: Plate, bend: Bend, material: MaterialFile) -> Iterator[FlatLayers]:
    """Flat strips side by side, their ends bevelled by half of what the wall turns from one to the next.

    Beside an end or a doorway no strip is too narrow to cut: it stays with its neighbour.
    """
    west, _, east, _ = face.bounds
    length, turn = east - west, abs(bend.turn)
    spacing = score_spacing(length / turn, material.curve.flatness) if turn > EQUAL_MM else math.inf
    count = max(1, math.ceil(length / spacing))
    longer = "outer" if bend.turn > 0 else "inner"
    outlines = [shapely.get_coordinates(ring) for part in polygons_of(face) for ring in rings_of(part)]
    jambs = [a[0] for points in outlines for a, b in pairwise(points) if abs(a[0] - b[0]) < EQUAL_MM]
    lines = [west + length * k / count for k in range(1, count)]
    lines = [x for x in lines if not any(EQUAL_MM < abs(x - jamb) < SLIVER_MM for jamb in jambs)]
    for start, end in pairwise([west, *lines, east]):
        for region in polygons_of(face.intersection(box(start, -1.0, end, plate.height + 1.0)), EQUAL_MM):
            bevel = f"bevel both ends {math.degrees(turn / count / 2):.1f} deg, the {longer} face longer"
            number = int(((region.bounds[0] + region.bounds[2]) / 2 - west) / length * count) + 1
            about = Remark(f"facet {number} of {count}"), Remark(bevel, "bevels")
            yield _part(plate, at_origin(region, shown=True), material.real_thickness, "facet", *about)


def _across(x: float, region: Polygon) -> Iterator[Segment]:
    """A line across a strip, as far as the strip goes there."""
    west, low, east, high = region.bounds
    if not west + EQUAL_MM < x < east - EQUAL_MM:
        return
    found = shapely.LineString([(x, low - 1), (x, high + 1)]).intersection(region)
    yield from segments_of(found, EQUAL_MM)
