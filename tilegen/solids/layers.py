"""Heights on whole layers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

import shapely.affinity
from shapely.geometry.base import BaseGeometry

from tilegen.errors import InputError
from tilegen.geometry import EQUAL_MM, polygonal
from tilegen.reading.printer_models import LayersTable, PrinterFile
from tilegen.tiles.plate import Mark, Opening, Plate

Shape = TypeVar("Shape", bound=BaseGeometry)


def snap(height: float, layers: LayersTable) -> float:
    """The height above the bed of the nearest whole layer, mm: lh1 + lh round((h - lh1) / lh), ties upwards.

    After printparams.com, "Designing for real-world fit". 0 stays 0; anything above it is at least the first layer.
    """
    if height <= 0:
        return height
    count = math.floor((height - layers.first) / layers.height + 0.5 + EQUAL_MM)
    return layers.first + layers.height * max(count, 0)


def snap_down(height: float, layers: LayersTable) -> float:
    """The highest whole layer at or below a height above the bed, mm; at least the first layer."""
    count = math.floor((height - layers.first) / layers.height + EQUAL_MM)
    return layers.first + layers.height * max(count, 0)


def snapped(plates: Sequence[Plate], layers: LayersTable) -> tuple[Plate, ...]:
    """The plates with their undersides, tops, openings and grooves on whole layers; nothing moves sideways.

    Raises:
        InputError: a plate that would vanish.
    """
    return tuple(_snapped(plate, layers) for plate in plates)


def _snapped(plate: Plate, layers: LayersTable) -> Plate:
    bottom, top = snap(plate.bottom, layers), snap(plate.top, layers)
    if top - bottom < layers.height / 2:
        raise InputError(
            f"{plate.name} is {plate.height:g} mm high", expected=f"at least one layer of {layers.height:g} mm"
        )
    openings = tuple(_opening(plate, opening, bottom, layers) for opening in plate.openings)
    moved = replace(plate, bottom=bottom, top=top, openings=openings, marks=())
    return replace(moved, marks=tuple(_mark(plate, moved, mark, layers) for mark in plate.marks))


def _opening(plate: Plate, opening: Opening, bottom: float, layers: LayersTable) -> Opening:
    return replace(opening, height=snap(plate.bottom + opening.height, layers) - bottom)


def _mark(plate: Plate, moved: Plate, mark: Mark, layers: LayersTable) -> Mark:
    """A mark on a flat face as deep as whole layers, at least one; one on an upright face clipped to what is left."""
    if mark.on in ("top", "under"):
        face, way = (plate.top, -1) if mark.on == "top" else (plate.bottom, 1)
        start, end = (snap(face + way * d, layers) for d in (mark.start, mark.start + mark.depth))
        depth = way * (end - start)
        under = way * (start - (moved.top if mark.on == "top" else moved.bottom))
        least = math.copysign(layers.height, mark.depth)
        return replace(mark, start=under if mark.start else 0.0, depth=depth if depth * mark.depth > 0 else least)
    if plate.edge is None:
        return mark
    factor = moved.height / plate.height
    region = polygonal(_stretched(mark.region, factor).intersection(moved.face()))
    return replace(mark, region=region, cutter=_stretched(mark.cutter, factor) if mark.cutter else None)


def _stretched(shape: Shape, factor: float) -> Shape:
    """A shape on an upright face with its heights above the foot changed."""
    return shapely.affinity.scale(shape, 1.0, factor, origin=(0, 0))


def heights_of(plates: Iterable[Plate]) -> dict[str, float]:
    """The heights above the bed that a builder would check, by name, mm."""
    found: dict[str, float] = {}
    for plate in plates:
        found.setdefault("floor" if plate.role == "base" else f"top of {plate.role}", plate.top)
        for opening in plate.openings:
            if not plate.is_open_topped(opening):
                found.setdefault("head of opening", plate.bottom + opening.height)
        for mark in plate.marks:
            if mark.on == "top" and mark.depth > 0:
                found.setdefault("bottom of groove", plate.top - mark.depth)
            elif mark.on == "top":
                found.setdefault("top of raised stones", plate.top - mark.depth)
    return found


def layer_notes(plates: Iterable[Plate], printer: PrinterFile) -> list[str]:
    """What heights lie off whole layers, and where they go; one note for all plates of a run.

    Rounding moves a height by up to half a layer, and by more only below the first layer: that is said.
    """
    layers = printer.layers
    moved = {
        name: (height, snap(height, layers))
        for name, height in heights_of(plates).items()
        if abs(snap(height, layers) - height) > EQUAL_MM
    }
    if not moved:
        return []
    words = "; ".join(f"{name} {was:.4g} to {now:.4g} mm" for name, (was, now) in moved.items())
    far = any(abs(now - was) > layers.height / 2 + EQUAL_MM for was, now in moved.values())
    by = ", some by more than half a layer" if far else ""
    if printer.snap_heights:
        return [f"Heights drawn on layers of {layers.height:g} mm{by}: {words}."]
    return [
        f"Heights between two layers of {layers.height:g} mm{by} (to the nearest layer): {words}. The slicer "
        'rounds them its own way; snap_heights=true after its name (--printer "NAME, snap_heights=true") draws them so.'
    ]
