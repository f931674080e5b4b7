"""Hollows that trap resin or hold on to the plate by suction, and the holes that let it out.

Parts stand on the plate floor down, as they are set out. A hollow is air that is shut in at some height of the print:
for good (a void), by the plate (a pocket or a bell that opens at the bed), or until the print has grown past it (a
cup: a pit, or a room walled all round).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum
from typing import Literal

import manifold3d
import numpy as np
from manifold3d import Manifold

from tilegen.errors import InputError
from tilegen.geometry import Point
from tilegen.reading.printer_models import PrinterFile

HollowKind = Literal["void", "bell", "cup"]
# Voids less than this, and cups and bells shallower than this, are no matter: a groove, a hair (common practice, no
# source).
LEAST_MM3, LEAST_MM = 5.0, 1.0
_MARGIN = 1.0
_HAIR = 1e-3
_SEGMENTS = 24
_WORDS = {
    "void": "a void that resin can't leave",
    "bell": "a hollow that the plate shuts: it sucks and holds liquid resin",
    "cup": "a cup while it prints: it sucks at every layer and holds liquid resin",
}


@dataclass(frozen=True)
class Hollow:
    """Trapped air. kind: how it is shut in; space: its shape; volume: mm3."""

    kind: HollowKind
    space: Manifold

    @property
    def volume(self) -> float:
        """In mm3."""
        return float(self.space.volume())

    @property
    def low(self) -> float:
        """Its lowest point above the bed, mm."""
        return float(self.space.bounding_box()[2])


def hollows_of(solid: Manifold) -> list[Hollow]:
    """All hollows of a solid that stands on its lowest point; every one once, by the worst way in which it is shut."""
    low, high = _span(solid)
    found: list[Hollow] = []
    for kind, bottom, top in (
        ("void", low - _MARGIN, high + _MARGIN),
        ("bell", low, high + _MARGIN),
        *(("cup", low, level - _HAIR) for level in _levels(solid)),
    ):
        shut = [s for s in _shut_in(solid, bottom, top) if kind == "void" or _depth(s) >= LEAST_MM]
        # A cup that grows is told once, at its largest; what is shut already is told already.
        found = [f for f in found if f.kind != "cup" or not any(_meet(f.space, s) for s in shut if kind == "cup")]
        found += [Hollow(kind, s) for s in shut if not any(_meet(f.space, s) for f in found)]  # type: ignore[arg-type]
    return found


def hollow_notes(name: str, hollows: Sequence[Hollow], printer: PrinterFile) -> list[str]:
    """What to do about a part's hollows on a resin printer."""
    notes = []
    for kind in ("void", "bell", "cup"):
        some = [h for h in hollows if h.kind == kind]
        if some:
            volume = fsum(h.volume for h in some) / 1000
            holes, width = printer.resin.drain_holes, printer.resin.drain_hole
            many = f" in {len(some)} places" if len(some) > 1 else ""
            notes.append(
                f"{name} has {_WORDS[kind]} ({volume:.1f} ml{many}). Drain it by {holes} holes of {width:g} mm at its "
                "lowest point (vents = true in the printer's file makes them through the nearest side), or tilt it."
            )
    return notes


def vent(start: Point, end: Point, z: float, diameter: float) -> Manifold:
    """A round hole lying along a line of the plan, its middle at height z: a cutter, for whatever asks for a vent.

    Its sides lie round the circle, so that it is nowhere narrower than its diameter; mm.
    """
    (x, y), (dx, dy) = start, (end[0] - start[0], end[1] - start[1])
    length = float(np.hypot(dx, dy))
    radius = diameter / 2 / float(np.cos(np.pi / _SEGMENTS))
    along = Manifold.cylinder(length, radius, radius, _SEGMENTS).rotate((0.0, 90.0, 0.0))
    return along.rotate((0.0, 0.0, float(np.degrees(np.arctan2(dy, dx))))).translate((x, y, z))


def vented(solid: Manifold, hollows: Sequence[Hollow], printer: PrinterFile, name: str = "the part") -> Manifold:
    """The solid with side holes from each hollow, at its lowest point, to the nearest side of the part.

    Raises:
        InputError: a hollow too low for a hole.
    """
    cutters = [cutter for hollow in hollows for cutter in _vents_of(solid, hollow, printer, name)]
    return Manifold.batch_boolean([solid, *cutters], manifold3d.OpType.Subtract) if cutters else solid


def _vents_of(solid: Manifold, hollow: Hollow, printer: PrinterFile, name: str) -> list[Manifold]:
    """Holes of the printer's width, or half the hollow's height if that is less, side by side."""
    west, south, low, east, north, high = hollow.space.bounding_box()
    diameter = min(printer.resin.drain_hole, (high - low) * 0.9)
    if diameter < printer.resin.drain_hole / 2:
        raise InputError(
            f"a hollow {high - low:.2f} mm high in {name}",
            expected=f"room for a drain hole of {printer.resin.drain_hole / 2:g} mm or more",
            cure="make it deeper, or print without vents",
        )
    # Clear of the plate by a tenth of the hole's width, so that its foot does not break through the first layers.
    z = low + diameter * (0.6 if high - low > diameter * 1.1 else 0.55)
    places = _vent_places(solid.bounding_box(), (west, south, east, north), diameter, printer.resin.drain_holes)
    return [vent(inside, outside, z, diameter) for inside, outside in places]


def _vent_places(
    outer: Sequence[float], hollow: tuple[float, float, float, float], diameter: float, holes: int
) -> list[tuple[Point, Point]]:
    """From inside a hollow to past the part's side: all to the nearest side, or one a side where they would meet."""
    west, south, east, north = hollow
    gaps = (west - outer[0], south - outer[1], outer[3] - east, outer[4] - north)
    near = sorted(range(4), key=lambda side: gaps[side])
    along = (east - west) if near[0] % 2 else (north - south)
    apart = along / (holes + 1) >= 1.5 * diameter
    sides = [(near[0], (k + 1) / (holes + 1)) for k in range(holes)] if apart else [(s, 0.5) for s in near[:holes]]
    ends = (outer[0] - _MARGIN, outer[1] - _MARGIN, outer[3] + _MARGIN, outer[4] + _MARGIN)
    places: list[tuple[Point, Point]] = []
    for side, share in sides:
        x, y = west + (east - west) * share, south + (north - south) * share
        upright = side % 2 == 1
        inside = (x, (south + north) / 2) if upright else ((west + east) / 2, y)
        places.append((inside, (x, ends[side]) if upright else (ends[side], y)))
    return places


def _span(solid: Manifold) -> tuple[float, float]:
    box = solid.bounding_box()
    return float(box[2]), float(box[5])


def _levels(solid: Manifold) -> list[float]:
    """Heights at which the solid has flat faces, the lowest first: just under each, a rim that ends there is whole."""
    mesh = solid.to_mesh64()
    z = np.asarray(mesh.vert_properties, np.float64)[:, 2][np.asarray(mesh.tri_verts)]
    flat = z[(z == z[:, :1]).all(axis=1), 0]
    low = _span(solid)[0]
    return [float(level) for level in np.unique(np.round(flat, 6)) if level > low + 2 * _HAIR]


def _shut_in(solid: Manifold, bottom: float, top: float) -> list[Manifold]:
    """The pieces of air between two heights that don't reach the open air beside the part."""
    west, south, _, east, north, _ = solid.bounding_box()
    size = (east - west + 2 * _MARGIN, north - south + 2 * _MARGIN, top - bottom)
    air = Manifold.cube(size).translate((west - _MARGIN, south - _MARGIN, bottom)) - solid
    pieces = air.decompose()
    return [p for p in pieces if p.bounding_box()[0] > west - _MARGIN / 2 and p.volume() > LEAST_MM3]


def _depth(space: Manifold) -> float:
    low, high = _span(space)
    return high - low


def _meet(a: Manifold, b: Manifold) -> bool:
    return bool((a ^ b).volume() > LEAST_MM3 / 10)
